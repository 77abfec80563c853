"""How much to begin with, so that what is left at the end is what is wanted: a solver round the one way forward."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

from .. import boiling, carbonation, trial
from ..errors import InputError
from ..facts import Fact
from ..kinds import VOLUME
from ..liquid import Liquid
from ..pantry import Pantry
from ..setting import Setting, step_scaled
from ..steps import Outcome, Step, first

_CLOSE = 1e-12  # share to which two runs of the same steps agree


@dataclass(frozen=True, slots=True)
class Way:
    """A drink taken forward once: before the ice, and each step with what it met and what it left."""

    mixed: Liquid
    steps: tuple[tuple[Step, Liquid, Outcome], ...]

    @property
    def made(self) -> Liquid:
        """All that is made."""
        return self.steps[-1][2].liquid if self.steps else self.mixed

    @property
    def closed(self) -> Liquid:
        """What stands in its vessel: all that is made, before a gassed drink is poured; its gas takes no room here."""
        poured = next((before for step, before, _ in self.steps if isinstance(step, carbonation.Pour)), self.made)
        return boiling.without_gas(poured)[0]


def through(setting: Setting, shelf: Pantry) -> Way:
    """The best estimate of a drink, forward by `trial.forward`."""
    recipe, setting = setting.recipe, trial.knowing(setting, shelf)
    amounts = trial.drawn(recipe, recipe.bottles(shelf), setting.tool, 0, setting.seed, shelf.learned)
    before, top = trial.poured(recipe, *amounts)
    melts, _, _ = trial.melted(setting, before, top, known=shelf.learned)
    found, liquid = [], before
    for step, outcome in trial.forward(setting, before, top, melts):
        found.append((step, first(liquid), outcome))
        liquid = outcome.liquid
    return Way(first(before), tuple((step, held, replace(out, liquid=first(out.liquid))) for step, held, out in found))


class Times(NamedTuple):
    """A drink so many times, and what that makes."""

    setting: Setting
    way: Way


def times(setting: Setting, factor: float, shelf: Pantry, one: Way | None = None) -> Times:
    """So many times the pours, and of each step's own amount as many as it meets more drink; and what that makes.

    A paper keeps the same of a litre as of ten: after it there is more than so many times the drink, and water that
    is added then must follow, or the batch would be another drink.
    """
    one = through(setting, shelf) if one is None else one
    made = setting.scaled(factor)
    for _ in range(len(setting.steps) + 1):  # each run sets one more step right
        way = through(made, shelf)
        pairs = zip(way.steps, one.steps, strict=True)
        shares = [float(now.volume() / was.volume()) for (_, now, _), (_, was, _) in pairs]
        shares = shares[len(one.steps) - len(setting.steps) :]  # ice and top come first
        steps = tuple(step_scaled(step, share) for step, share in zip(setting.steps, shares, strict=True))
        if steps == made.steps or all(abs(share / factor - 1) < _CLOSE for share in shares):
            break
        made = replace(made, steps=steps)
    return Times(made, way)


def factor_for(wanted: float, given: Callable[[float], float], begin: float, what: str) -> float:
    """The factor at which `given(factor)` is as much as wanted, to a billionth of it. [mL]

    What a drink makes grows with the factor along a straight line, or nearly: its secant finds it in three runs.

    Raises
    ------
    InputError
        Naming `what`, where no amount gives so much.

    Examples
    --------
    >>> round(factor_for(1000, lambda factor: 110 * factor - 20, 9, "serves"), 6)
    9.272727
    """
    factor, before = begin, None
    for _ in range(60):
        found = given(factor)
        if abs(found - wanted) <= 1e-9 * wanted:
            return factor
        slope = wanted / begin if before is None else (found - before[1]) / (factor - before[0])
        step = (wanted - found) / slope if slope > 0 else factor
        before, factor = (factor, found), max(factor + step, factor / 4)
    raise InputError(what, Fact("rounded", amount=VOLUME(wanted)), "an amount that its steps leave something of")
