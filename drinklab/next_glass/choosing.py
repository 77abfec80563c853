"""Which glass to pour next, out of many that could be poured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .palate import Palate

APART = 0.35  # nearer than this two glasses are the same to the tongue, and to a jigger [spreads]
FAR = 1.0  # a wild card lies at least so far from every glass that was tasted [spreads]
_NODES = 41
_DRAWS = 2000


@dataclass(frozen=True, slots=True)
class Chosen:
    """Three of the glasses that could be poured, by their place in the list; None where there is none of the kind.

    `gains` is what one tasting of each glass is expected to raise the best liking by; `chance` that each is better
    than the safe one. [points], [0 to 1]
    """

    safe: int
    teach: int | None
    wild: int | None
    mean: np.ndarray
    sd: np.ndarray
    gains: np.ndarray
    chance: np.ndarray
    covariance: np.ndarray


def choose(palate: Palate, at: np.ndarray, tasters: int = 1) -> Chosen:
    """A safe bet, one that would teach most, and a wild card.

    Safe is the highest expected liking. Teaching is by the knowledge gradient (Frazier, Powell and Dayanik 2009): by
    how much the best expected liking goes up, on average, once so many tasters have rated the glass. Wild is, of the
    glasses far from all that was tasted, the one most likely to be better than the safe one.

    Parameters
    ----------
    palate : Palate
    at : array, shape (glasses, axes)
        [spreads]
    tasters : int
        Who will rate the next glass.
    """
    from scipy.special import ndtr

    mean, cov = palate.joint(at)
    variance = np.maximum(np.diag(cov), 0.0)
    sd = np.sqrt(variance)
    safe = int(np.argmax(mean))
    noise = palate.noise**2 / max(tasters, 1)
    moves = cov / np.sqrt(variance + noise)  # column j: how far every mean goes if glass j is rated one sd off
    gains = _gains(mean, moves)
    ahead = np.sqrt(np.maximum(variance + variance[safe] - 2 * cov[:, safe], 1e-12))
    chance = ndtr((mean - mean[safe]) / ahead)
    taken = [safe]
    teach = _best(gains, at, at[taken], APART)
    taken += [] if teach is None else [teach]
    wild = _best(chance, at, np.vstack([at[taken], palate.told.at]), FAR)
    return Chosen(safe, teach, wild, mean, sd, gains, chance, cov)


def _gains(mean: np.ndarray, moves: np.ndarray) -> np.ndarray:
    """By how much the best mean goes up on average, glass by glass: over the middles of equal parts of a bell curve."""
    from scipy.special import ndtri

    nodes = ndtri((np.arange(_NODES) + 0.5) / _NODES)
    best = np.mean([np.max(mean[:, None] + moves * node, axis=0) for node in nodes], axis=0)
    return np.maximum(best - mean.max(), 0.0)


def _best(worth: np.ndarray, at: np.ndarray, taken: np.ndarray, apart: float) -> int | None:
    """The one worth most, of those far enough from what is taken."""
    far = np.sqrt(((at[:, None, :] - taken[None, :, :]) ** 2).sum(axis=-1)).min(axis=1) >= apart
    return int(np.argmax(np.where(far, worth, -np.inf))) if far.any() else None


def left_to_find(chosen: Chosen, seed: int = 1) -> float:
    """By how much the best glass beats the safe one, on average, if all were known: no tasting can bring more. [points]

    The expected value of perfect information, by random surfaces.
    """
    values, vectors = np.linalg.eigh(chosen.covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    draws = np.random.default_rng(seed).standard_normal((_DRAWS, len(values)))
    surfaces = chosen.mean + draws @ root.T
    return float(np.mean(surfaces.max(axis=1) - surfaces[:, chosen.safe]))


def by_pouring(palate: Palate, at: np.ndarray, around: np.ndarray) -> float:
    """What pouring alone makes the liking of one glass differ by: half the width that holds 19 in 20. [points]

    Parameters
    ----------
    palate : Palate
    at : array, shape (axes,)
        The glass. [spreads]
    around : array, shape (pours, axes)
        The same glass, poured by hand again and again.
    """
    mean, cov = palate.joint(np.vstack([at[None], around]))
    apart = (mean[1:] - mean[0]) ** 2 + np.maximum(np.diag(cov)[1:] + cov[0, 0] - 2 * cov[0, 1:], 0.0)
    return float(2 * np.sqrt(apart.mean()))
