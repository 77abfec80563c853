"""A figure that a bar has measured itself, joined with the table's own: what is left of its ±, and on whose word.

>>> acid = Learned("acid", "lemon_juice", 52.0, 1.5, 50.0, 7.0, instrument="titration", when="2027-03-01")
>>> f"{acid.left:.0%} of the table's ± is left"
"21% of the table's ± is left"
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .facts import Fact
from .kinds import ABV, CONCENTRATION, VOLUME, Number

# Half-widths that hold 19 pours in 20: [mL], and as a share of the pour; the wider of a few drops' worth
# never exceeds half the pour. Common practice, no published source.
TOOLS = {
    "jigger": (1.0, 0.03),
    "scale": (0.5, 0.0),
    "free pour": (2.0, 0.10),
    "exact": (0.0, 0.0),
}
# Half-width of a range that holds about 19 drinks in 20 of a melt by rule, as a share of it. Of that variance three
# quarters are the bar's own (its ice, tins, times), which weighing narrows; the rest is from drink to drink: a
# judgement.
MELT_SPREAD, OWN_OF_MELT = 0.20, 0.75
# Smaller pours are dashed or dropped, not measured: what was found of a measure does not go for them. [mL]
LEAST_MEASURED = 7.5


@dataclass(frozen=True, slots=True)
class Learned:
    """What is held of one figure now.

    Parameters
    ----------
    kind : str
        Kind of measurement, one of `KINDS_MEASURED`.
    what : str
        Id of an ingredient, a tool, a milk, a way to pour.
    value, pm : float
        The joined figure and about one standard deviation, in the figure's own unit.
    prior, prior_pm : float
        The table's alone.
    label : float, optional
        Strength on the label of the bottle that was measured. [% vol]
    instrument, when, batch : str
        Of the last reading; the day as ISO 8601.
    count : int
        How many readings stand behind it.
    """

    kind: str
    what: str
    value: float
    pm: float
    prior: float
    prior_pm: float
    label: float | None = None
    instrument: str = ""
    when: str = ""
    batch: str = ""
    count: int = 1

    @property
    def left(self) -> float:
        """What part of the table's ± is left, 0 to 1."""
        return min(self.pm / self.prior_pm, 1.0) if self.prior_pm > 0 else 1.0

    def said(self, name: str) -> Fact:
        """That a figure of a thing of this name was measured here, what it is with its ±, and the part that is left."""
        told = {"name": name, "instrument": self.instrument, "when": self.when, "left": f"{100 * self.left:.0f}"}
        half = 2 * self.pm  # of 19 in 20, as everywhere on a page
        match self.kind:
            case "strength":
                return Fact("measured strength", value=ABV(self.value, half), **told)
            case "sugar":
                return Fact("measured sugar", value=CONCENTRATION(self.value, half), **told)
            case "acid":
                return Fact("measured acid", value=CONCENTRATION(self.value, half), **told)
            case "ph":
                return Fact("measured pH", value=CONCENTRATION(self.value), half=f"{half:.1f}", **told)
            case "fruit":
                return Fact("measured fruit", value=VOLUME(self.value, half), **told)
            case "ice":
                melts = melting(self.what, {("ice", self.what): self})
                told |= {"left": f"{100 * min(melts.spread / MELT_SPREAD, 1):.0f}"}
                return Fact("measured ice", share=f"{100 * self.value:.0f} ± {100 * half:.0f}", **told)
            case "filter":
                return Fact("measured filter", share=f"{self.value / 60:.1f} ± {half / 60:.1f}", **told)
            case "paper":
                return Fact("measured paper", value=VOLUME(self.value, half), **told)
            case "pour":
                return Fact("measured pour", share=f"{100 * self.value:.1f} ± {100 * half:.1f}", **told)
            case "milk":
                return Fact("measured milk", share=f"{self.value:.0f} ± {half:.0f}", **told)
            case "wash":
                return Fact("measured wash", share=f"{self.value:.1f} ± {half:.1f}", **told)
        return Fact("measured gas", share=f"{100 * self.value:.0f} ± {100 * half:.0f}", **told)


# In the order in which figures are joined: a pH tells of the salts once the acid is known.
KINDS_MEASURED = ("strength", "sugar", "acid", "ph", "fruit", "pour", "milk", "wash", "gas", "ice", "filter", "paper")
Known = Mapping[tuple[str, str], Learned]  # by kind and what


def known(found: tuple[Learned, ...]) -> Known:
    """By kind and what."""
    return {(one.kind, one.what): one for one in found}


def label_of(measured: tuple[Learned, ...], abv: float, pm: float, otherwise: float | None) -> float | None:
    """What stands on the label of a bottle that was measured to be so strong; `otherwise` of any other. [% vol]"""
    return next(
        (one.label for one in measured if one.label is not None and (one.value, one.pm) == (abv, pm)), otherwise
    )


class Strength(NamedTuple):
    """Of a bottle, with about one standard deviation. [% vol]"""

    abv: float
    pm: float


def of_label(measured: tuple[Learned, ...], label: float) -> Strength | None:
    """Strength of the bottle of a label, and about one standard deviation, where it was measured. [% vol]"""
    return next((Strength(one.value, one.pm) for one in measured if one.label == label), None)


class Tool(NamedTuple):
    """What share of its mark a measure pours, and the half-widths of 19 pours in 20 [mL], [mL/mL]."""

    share: float
    absolute: float
    relative: float


def tool_of(tool: str, known: Known | None = None) -> Tool:
    """What share of its mark a measure pours, and the half-widths of 19 pours in 20 as in `TOOLS`.

    Half of the variance of a pour is the measure's own, which weighing narrows; the hand's stays: a judgement.

    >>> tool_of("scale")
    Tool(share=1.0, absolute=0.5, relative=0.0)
    """
    absolute, relative = TOOLS[tool]
    found = (known or {}).get(("pour", tool))
    if found is None:
        return Tool(1.0, absolute, relative)
    left = float(math.sqrt((1 + found.left**2) / 2))
    return Tool(found.value, left * absolute, left * relative)


class Melting(NamedTuple):
    """What share of the rule's melt water a bar's drinks take up, and the half-width that holds 19 in 20 of one, as a
    share of it."""

    share: float
    spread: float


def melting(technique: str, known: Known | None = None) -> Melting:
    """What share of the rule's melt a bar's drinks take up, with their ±: of the rule alone, or as weighed.

    >>> weighed = Learned("ice", "stirred", 1.2, 0.024, 1.0, 0.087)
    >>> melting("stirred"), melting("stirred", known((weighed,)))
    (Melting(share=1.0, spread=0.2), Melting(share=1.2, spread=0.108))
    """
    found = (known or {}).get(("ice", technique))
    if found is None:
        return Melting(1.0, MELT_SPREAD)
    from_drink_to_drink = MELT_SPREAD * math.sqrt(1 - OWN_OF_MELT)
    return Melting(found.value, float(math.hypot(2 * found.pm / found.value, from_drink_to_drink)))


def by_measure(amounts: Number, share: float) -> np.ndarray:
    """What a measure that pours so much of its mark makes of amounts; what is dashed or dropped stays. [mL]"""
    return np.where(np.asarray(amounts) >= LEAST_MEASURED, np.asarray(amounts) * share, amounts)
