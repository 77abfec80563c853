"""A figure that a bar has measured itself, joined with the table's own: what is left of its ±, and on whose word.

>>> acid = Learned("acid", "lemon_juice", 52.0, 1.5, 50.0, 7.0, instrument="titration", when="2027-03-01")
>>> f"{acid.left:.0%} of the table's ± is left"
"21% of the table's ± is left"
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Learned:
    """What is held of one figure now.

    Parameters
    ----------
    kind : str
        Kind of measurement, a key of `measured.KINDS`.
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


Known = Mapping[tuple[str, str], Learned]  # by kind and what


def known(found: tuple[Learned, ...]) -> Known:
    """By kind and what."""
    return {(one.kind, one.what): one for one in found}


def label_of(measured: tuple[Learned, ...], abv: float, pm: float, otherwise: float | None) -> float | None:
    """What stands on the label of a bottle that was measured to be so strong; `otherwise` of any other. [% vol]"""
    return next(
        (one.label for one in measured if one.label is not None and (one.value, one.pm) == (abv, pm)), otherwise
    )
