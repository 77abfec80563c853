"""A write-up made again by somebody else: their own figures beside the author's, and whether the two agree.

>>> from drinklab.recipe import Recipe
>>> from drinklab.trial import run
>>> drink = run(Recipe.parse("60 mL gin, 40 %\\n60 mL water", technique="none"))
>>> (strength,) = repeat(drink, {"abv": (20.4, 0.5)})
>>> strength.text()
'Strength: 20.0 ± 0.7 % vol there, 20.4 ± 0.5 % vol here; difference +0.4 ± 0.9 % vol: within both ±.'
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..display import Display
from ..errors import InputError, Told, one_of, require
from ..facts import Fact
from ..kinds import ABV, CONCENTRATION, MASS, TEMPERATURE, VOLUME, Kind
from ..profile import TITLES
from ..trial import Trial

PH = Kind("", "dimensionless", 0, 14)
# What can be measured at a bar, in its own unit.
MEASURED: dict[str, tuple[str, Kind]] = {
    "mass": ("Weight", MASS), "volume": (TITLES["volume"], VOLUME), "abv": (TITLES["abv"], ABV),
    "sugar": (TITLES["sugar"], CONCENTRATION), "acid": (TITLES["acid"], CONCENTRATION), "ph": ("pH", PH),
    "temperature": ("Temperature", TEMPERATURE),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Repeated:
    """One figure of two bars: the author's, the reader's, and the paired difference.

    Attributes
    ----------
    figure : str
        A key of `MEASURED`, whose unit all of it is in.
    there, there_pm : float, float or None
        The author's figure of one serve, and the half-width that holds 19 in 20; None where it is not known.
    here, here_pm : float, float or None
        The reader's.
    """

    figure: str
    there: float
    there_pm: float | None
    here: float
    here_pm: float | None

    @property
    def difference(self) -> float:
        """The reader's figure less the author's."""
        return self.here - self.there

    @property
    def pm(self) -> float | None:
        """The ± of the difference: of two figures that know nothing of each other."""
        if self.there_pm is None or self.here_pm is None:
            return None
        return float(np.hypot(self.there_pm, self.here_pm))

    @property
    def verdict(self) -> Fact:
        """Within both ±, within that of the difference, within the one that is known, or beyond."""
        off, known = abs(self.difference), [pm for pm in (self.there_pm, self.here_pm) if pm is not None]
        if not known:
            return Fact("no ± to hold it against")
        if len(known) == 1:
            return Fact("within the one ±" if off <= known[0] else "beyond the one ±")
        if off <= min(known):
            return Fact("within both ±")
        return Fact("within the ± of the difference" if off <= (self.pm or 0.0) else "beyond both ±")

    def text(self, show: Display | None = None) -> str:
        """All of it as a sentence, in the chosen units."""
        show = show or Display()
        what, there, here, difference, _ = self.cells(show)
        return show.say(
            Fact("made again", what=what, there=there, here=here, difference=difference, verdict=self.verdict)
        )

    def cells(self, show: Display) -> tuple[str, str, str, str, str]:
        """The figure's name, the author's, the reader's, the difference and the verdict."""
        word, _ = MEASURED[self.figure]
        there, here = (self._said(show, *pair) for pair in ((self.there, self.there_pm), (self.here, self.here_pm)))
        return word, there, here, self.difference_text(show), show.say(self.verdict)

    def difference_text(self, show: Display) -> str:
        """The difference with its sign and its ±."""
        return self._said(show, self.difference, self.pm, signed=True)

    def _said(self, show: Display, value: float, pm: float | None, signed: bool = False) -> str:
        _, kind = MEASURED[self.figure]
        if kind is PH:
            around = "" if pm is None else f" ± {pm:.1f}"
            return f"{value:{'+' * signed}.1f}{around}".replace("-", "−")
        if kind is TEMPERATURE:
            scale = 1.8 if show.temperature == "°F" else 1.0
            value = value * scale if signed else show.degrees(value)
            around = "" if pm is None else f" ± {max(pm * scale, 0.1):.1f}"
            return f"{value:{'+' * signed}.1f}{around} {show.temperature}".replace("-", "−")
        return show.text(kind, value, pm, signed)


def repeat(there: Trial, measured: Mapping[str, float | tuple[float, float | None]]) -> tuple[Repeated, ...]:
    """What a reader measured in one serve, beside the author's figures of it.

    Parameters
    ----------
    there : Trial
        The write-up run again: `rerun(page)`.
    measured : mapping
        Of keys of `MEASURED`: the figure, or the figure and its ± (19 in 20), in mL, g, % vol, g/L, °C.

    Returns
    -------
    tuple of Repeated
        In the order of `MEASURED`.

    Raises
    ------
    InputError
        For a figure that cannot be measured, lies outside its range, or that the write-up does not know.
    """
    for name in measured:
        one_of("figure", name, MEASURED)
    found = []
    for name, (word, kind) in MEASURED.items():
        if name in measured:
            given = measured[name]
            here, pm = given if isinstance(given, (tuple, list)) else (given, None)
            require(word.lower() if word != "pH" else word, here, kind.low, kind.high, kind.label or "pH")
            if pm is not None:
                require(f"± of {word}", pm, 0, 1e6, kind.label or "pH")
            found.append(Repeated(name, *_there(there, name), float(here), None if pm is None else float(pm)))
    return tuple(found)


def _there(trial: Trial, name: str) -> tuple[float, float | None]:
    served = trial.served
    if name == "ph":
        if served.ph is None:
            raise InputError("pH", Told("not known in the write-up"), "left out")
        return served.ph
    if name == "temperature":
        at = float(trial.chill.temperature) if trial.chill is not None else served.temperature
        if at is None:
            raise InputError("temperature", Told("not known in the write-up"), "left out")
        return at, None
    spread = served.spread(name)
    return getattr(served.profile, name), None if np.isnan(spread) else float(spread)
