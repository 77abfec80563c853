"""Before anything is poured: the sums' own difference beside what tasters could tell in published studies."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from .. import tables

FIGURES = ("abv", "sugar", "acid")


@dataclass(frozen=True, slots=True)
class Step:
    """How far two drinks differ in a figure, beside the smallest step that was told.

    Attributes
    ----------
    figure : {"abv", "sugar", "acid"}
    difference : float
        B less A. [% vol, g/L]
    low, high : float
        The least and the greatest of the published steps, at drink A. [% vol, g/L]
    told : {"below", "between", "above"}
        Where the size of the difference lies among them.
    """

    figure: str
    difference: float
    low: float
    high: float
    told: str


@functools.cache
def published() -> dict[str, tuple[tuple[float, bool], ...]]:
    """Published steps of each figure, each with whether it is a share of what was there. Half of the tasters told it.

    >>> [len(published()[figure]) for figure in FIGURES]
    [2, 3, 2]
    """
    rows = tables.read("thresholds").rows()
    found: dict[str, list[tuple[float, bool]]] = {figure: [] for figure in FIGURES}
    for row in rows:
        share = row["unit"] == "%"
        found[row["figure"]].append((float(row["step"]) / (100 if share else 1), share))
    return {figure: tuple(steps) for figure, steps in found.items()}


def steps(a: dict[str, float], b: dict[str, float]) -> tuple[Step, ...]:
    """How far B is from A, figure by figure, beside the published steps.

    None of the studies was made with mixed drinks, and none with two figures changed at once: below all of them a
    difference is not likely to be noticed, which is no proof that it is not.

    Parameters
    ----------
    a, b : dict
        "abv" [% vol], "sugar" and "acid" [g/L] of one glass as served.

    Examples
    --------
    >>> for step in steps({"abv": 15, "sugar": 80, "acid": 7}, {"abv": 15.4, "sugar": 68, "acid": 9}):
    ...     print(step.figure, f"{step.difference:+.1f} ({step.low:.1f} to {step.high:.1f})", step.told)
    abv +0.4 (1.0 to 1.3) below
    sugar -12.0 (7.4 to 26.4) between
    acid +2.0 (0.7 to 1.3) above
    """
    out = []
    for figure in FIGURES:
        sizes = [step * a[figure] if share else step for step, share in published()[figure]]
        low, high, by = min(sizes), max(sizes), b[figure] - a[figure]
        size = abs(by)
        # What was not there at all has no step by share: any amount counts as above it.
        told = "below" if size == 0 or size < low else "above" if size >= high else "between"
        out.append(Step(figure, by, low, high, told))
    return tuple(out)


def hopeless(found: tuple[Step, ...]) -> bool:
    """Whether every difference is smaller than the smallest that was told in print."""
    return all(step.told == "below" for step in found)
