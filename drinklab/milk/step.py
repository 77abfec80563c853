"""Washing with milk as a step of a drink."""

from __future__ import annotations

from dataclasses import dataclass

from ..liquid import Liquid
from ..steps import Brought, Caution, Draw, Outcome, estimate, first, savable
from ..units import FLUID_OUNCE
from .curd import COLD, DAIRY, HEAT, milk_of
from .washing import Washed, milk_wash


@savable(
    "milk wash",
    "Milk wash: pH by charge balance of the drink's acids against the milk's buffering (working values, from memory); "
    "what the curd holds, worked out from published curds: about 4 mL to a gram dripped cold, 1.3 drained hot.",
)
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

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Of milk, and of what is hot."""
        return (DAIRY,) if self.way == COLD else (DAIRY, HEAT)

    @property
    def allergens(self) -> tuple[str, ...]:
        """Of its milk: they stay declared."""
        return milk_of(self.milk).allergens

    def wash(self, liquid: Liquid, draw: Draw = estimate) -> Washed:
        """`milk_wash` with these settings."""
        return milk_wash(
            liquid, self.milk, way=self.way, share=self.share, amount=self.amount, buffering=self.buffering,
            hold_up=self.hold_up, measured_yield=self.measured_yield, draw=draw,
        )  # fmt: skip

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Pour the drink into the milk, and leave the curd behind."""
        return self.outcome(self.wash(liquid, draw))

    def orders(self, liquid: Liquid, outcome: Outcome) -> tuple[str, ...]:
        """Into how much milk, and how it is left."""
        return outcome.notes[:2]

    def brought(self, liquid: Liquid, outcome: Outcome) -> tuple[Brought, ...]:
        """The milk."""
        milk = first(outcome.added)
        return (Brought(self.milk, milk.mass, milk.volume()),)

    def outcome(self, washed: Washed) -> Outcome:
        """A wash as the outcome of this step."""
        ml = washed._first("amount")
        heat = "cold" if self.way == COLD else "hot"
        into = (
            f"Pour the drink into {ml:.0f} mL ({ml / FLUID_OUNCE:.1f} oz) of {heat} {self.milk}, not the milk into it."
        )
        stays = f"{self.milk.capitalize()} stays declared after it is filtered out: {', '.join(washed.kind.allergens)}."
        return Outcome(
            washed.liquid,
            washed.curd,
            self.cautions,
            washed.milk,
            self.allergens,
            (into, washed.way.order, *washed.words(), stays),
        )
