"""Where glasses stand among a family of classics, and how far tasters are of one mind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from .. import classics as _classics
from ..errors import InputError, Told, one_of
from ..profile import AXES, reference, scales

LEAST = 5  # drinks of a family whose spread says something; of fewer all classics are taken
OWN = "own"
_NARROWEST = 0.5  # of the usual step between two classics: a family without acid has no spread in it
_ALPHA = 0.05


@dataclass(frozen=True, slots=True)
class OwnAxis:
    """An axis of one's own: one pour, or a person's number for several bottles; of whole glasses see `scored_axis`.

    Parameters
    ----------
    name : str
        "bitterness", or the bottle's name.
    weights : mapping
        By ingredient id, what a glass of it alone would have; 1 for a pour, whose axis is its share of the glass.
    miss : float
        By how much the numbers of whole glasses are missed by their bottles', root mean square. [points]
    """

    name: str
    weights: Mapping[str, float]
    miss: float = 0.0

    MOST: ClassVar[float] = 100.0

    def __post_init__(self) -> None:
        if not self.weights or not all(np.isfinite(v) and 0 <= v <= self.MOST for v in self.weights.values()):
            told = Told(", ".join(f"{k} {v:g}" for k, v in self.weights.items()) or "nothing")
            raise InputError(f"numbers of {self.name!r}", told, "0 to 100 for each bottle that has some of it")
        if not any(self.weights.values()):
            raise InputError(f"numbers of {self.name!r}", Told("all 0"), "above 0 for one bottle")

    @property
    def share(self) -> bool:
        """Whether it is the share of one pour. [% of the glass]"""
        return list(self.weights.values()) == [1.0]

    def of(self, ids: Sequence[str], amounts: np.ndarray, volume: np.ndarray) -> np.ndarray:
        """Its value in glasses of which so much is poured, last axis the pours. [% of the glass, or the own number]"""
        each = np.array([self.weights.get(key, 0.0) for key in ids])
        return (100.0 if self.share else 1.0) * (amounts @ each) / volume


@dataclass(frozen=True, slots=True)
class Family:
    """The middle and the spread of a family of classics, and of the own axis, in which glasses are placed.

    `name` is "" where all classics stand in for a family that is none, or has fewer than five.
    """

    name: str
    axes: tuple[str, ...]
    middle: np.ndarray
    spread: np.ndarray

    def place(self, figures: np.ndarray) -> np.ndarray:
        """Figures, last axis the axes, in spreads from the middle."""
        return (np.asarray(figures, float) - self.middle) / self.spread

    def before(self, at: np.ndarray) -> np.ndarray:
        """What is expected before anyone tasted: the classics say nothing about an own axis."""
        from .palate import hump

        return hump(np.asarray(at)[..., : len(AXES)])


def family(name: str = "", own: np.ndarray | None = None) -> Family:
    """The prior that the classics of a family give: strength, sugar and acid as served.

    Parameters
    ----------
    name : str
        One of the classics' families; "" or one of fewer than five drinks takes all classics.
    own : array, optional
        Values of the own axis in the glasses tasted: their middle, and half their range, place it.

    Examples
    --------
    >>> sour = family("sour")
    >>> sour.axes, sour.middle.round(1).tolist()
    (('abv', 'sugar', 'acid'), [16.3, 79.4, 7.3])
    """
    known = _classics.load()
    if name:
        one_of("family", name, sorted(set(known.families)))
    same = np.array(known.families) == name
    here = same if name != "other" and same.sum() >= LEAST else np.ones(len(known), bool)
    table = np.array([getattr(reference(known), axis)[here] for axis in AXES])
    step = np.array([scales(known)[axis] for axis in AXES])
    middle, spread = table.mean(axis=1), np.maximum(table.std(axis=1, ddof=1), _NARROWEST * step)
    axes: tuple[str, ...] = AXES
    if own is not None:
        half = float(np.ptp(own)) / 2
        axes = (*AXES, OWN)
        middle = np.append(middle, (own.max() + own.min()) / 2)
        spread = np.append(spread, half if half > 0 else max(float(own.max()), 1.0) / 2)
    return Family(name if same.sum() == here.sum() else "", axes, middle, spread)


@dataclass(frozen=True, slots=True)
class Split:
    """Whether tasters differ in how they like more of something: their slopes, and how easily chance would do it.

    Attributes
    ----------
    axis : int
    slopes : array
        Of each taster: points of liking for a spread more; not a number where theirs can't be told.
    f, p : float
        Of the F test of one slope for all against one for each (Fisher; Snedecor and Cochran, chapter on covariance).
    p_all : float
        As it counts among so many axes (Holm 1979).
    """

    axis: int
    slopes: np.ndarray
    f: float
    p: float
    p_all: float

    @property
    def shown(self) -> bool:
        """Whether they are shown to differ, at 5 %."""
        return self.p_all <= _ALPHA


def splits(at: np.ndarray, glass: np.ndarray, taster: np.ndarray, score: np.ndarray) -> tuple[Split, ...]:
    """On which axes tasters are not of one mind, the clearest first; empty where there are too few ratings to tell.

    Each glass and each taster has a level of its own; the question is whether a slope for each taster explains more
    than chance would.

    Parameters
    ----------
    at : array, shape (glasses, axes)
        [spreads]
    glass, taster, score : array
        Of each rating.
    """
    from scipy.stats import f as of_f

    people, glasses = int(taster.max(initial=-1)) + 1, len(at)
    found = []
    if people < 2:
        return ()
    levels = np.hstack([np.eye(glasses)[glass], np.eye(people)[taster]])
    for axis in range(at.shape[1]):
        x = at[glass, axis]
        each = np.eye(people)[taster] * x[:, None]
        left, rank = _left(levels, score)
        left_each, rank_each = _left(np.hstack([levels, each]), score)
        more, free = rank_each - rank, len(score) - rank_each
        if more < 1 or free < 1:
            continue
        f = ((left - left_each) / more) / max(left_each / free, 1e-12)
        found.append(Split(axis, _slopes(x, taster, score, people), float(f), float(of_f.sf(f, more, free)), 1.0))
    found.sort(key=lambda one: one.p)
    out, worst = [], 0.0
    for rank, one in enumerate(found):
        worst = max(worst, min(1.0, (len(found) - rank) * one.p))
        out.append(Split(one.axis, one.slopes, one.f, one.p, worst))
    return tuple(out)


def _left(columns: np.ndarray, y: np.ndarray) -> tuple[float, int]:
    """Squares that a fit leaves over, and how many columns count."""
    solved, _, rank, _ = np.linalg.lstsq(columns, y, rcond=None)
    return float(((y - columns @ solved) ** 2).sum()), int(rank)


def _slopes(x: np.ndarray, taster: np.ndarray, y: np.ndarray, people: int) -> np.ndarray:
    out = np.full(people, np.nan)
    for person in range(people):
        mine = taster == person
        if mine.any() and np.ptp(x[mine]) > 0:
            out[person] = np.polyfit(x[mine], y[mine], 1)[0]
    return out
