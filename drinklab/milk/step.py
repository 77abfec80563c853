"""Washing with milk as a step of a drink."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..facts import Fact
from ..kinds import VOLUME, Number
from ..learned import Learned, known
from ..liquid import Liquid
from ..steps import Brought, Caution, Draw, Outcome, as_measured, estimate, first, savable
from .curd import COLD, DAIRY, HEAT, milk_of
from .washing import Washed, milk_amount, milk_wash


@savable("milk wash", Fact("basis of a milk wash"))
@dataclass(frozen=True, slots=True)
class MilkWash:
    """Wash with milk, as a step of a trial: the settings of `milk_wash`."""

    milk: str = "whole cow's milk"
    share: float | None = None
    amount: float | None = None
    buffering: float | None = None
    hold_up: float | None = None
    measured_yield: float | None = None
    way: str = COLD
    name: str = "milk-washed"
    learned: tuple[Learned, ...] = as_measured()

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Of milk, and of what is hot."""
        return (DAIRY,) if self.way == COLD else (DAIRY, HEAT)

    @property
    def allergens(self) -> tuple[str, ...]:
        """Of its milk: they stay declared."""
        return milk_of(self.milk).allergens

    def wash(self, liquid: Liquid, draw: Draw = estimate) -> Washed:
        """`milk_wash` with these settings, by the figures that were measured where there are any."""
        found = known(self.learned)
        buffering, hold = found.get(("milk", self.milk)), found.get(("wash", self.way))
        return milk_wash(
            liquid, self.milk, way=self.way, share=self.share, amount=self.amount,
            buffering=self.buffering if buffering is None else buffering.value,
            buffering_pm=None if buffering is None else 2 * buffering.pm,
            hold_up=self.hold_up if hold is None else hold.value,
            hold_up_factor=None if hold is None else float(np.exp(1.96 * hold.pm / hold.value)),
            measured_yield=self.measured_yield, draw=draw,
        )  # fmt: skip

    def poured(self, liquid: Liquid) -> Number:
        """Milk that is poured to it. [mL]"""
        return milk_amount(liquid.volume(), self.share, self.amount)

    @property
    def measures(self) -> tuple[tuple[str, str], ...]:
        """What a bar may have measured of it, unless it is given here."""
        of_curd = self.hold_up is None and self.measured_yield is None
        return (("milk", self.milk),) * (self.buffering is None) + (("wash", self.way),) * of_curd

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Pour the drink into the milk, and leave the curd behind."""
        return self.outcome(self.wash(liquid, draw))

    def orders(self, liquid: Liquid, outcome: Outcome) -> tuple[Fact | str, ...]:
        """Into how much milk, and how it is left."""
        return outcome.said[:2]

    def brought(self, liquid: Liquid, outcome: Outcome) -> tuple[Brought, ...]:
        """The milk."""
        milk = first(outcome.added or Liquid.of())
        return (Brought(self.milk, float(milk.mass), float(milk.volume())),)

    def outcome(self, washed: Washed) -> Outcome:
        """A wash as the outcome of this step."""
        poured = {"milk": VOLUME(washed._first("amount")), "kind": self.milk}
        into = Fact("into cold milk", **poured) if self.way == COLD else Fact("into hot milk", **poured)
        stays = Fact("milk stays declared", milk=self.milk.capitalize(), allergens=washed.kind.allergens)
        said = (into, washed.way.order, *washed.said(), stays)
        return Outcome(washed.liquid, washed.curd, self.cautions, washed.milk, self.allergens, said)
