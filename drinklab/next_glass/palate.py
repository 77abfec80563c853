"""What tasters have said, as a surface of liking with its ±: a Gaussian process whose unknowns are averaged over.

Places are figures in spreads of a family of classics (`prior.Family.place`); liking is on the scale of 0 to 10.

>>> at = np.array([[-1.0], [0.0], [1.0]])
>>> told = Told.of(at, scores=[(g, t, s) for t in range(4) for g, s in enumerate((5, 7, 6))])
>>> mean, sd = fit(told).at(np.array([[0.2], [4.0]]))
>>> bool(mean[0] > mean[1]), bool(sd[0] < sd[1])
(True, True)
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

LOW, HIGH = 0.0, 10.0  # the scale of liking
# What is believed of a liking before anyone has tasted: that it lies around the middle of the scale, give or take, and
# falls by so much far from the family's middle, most of it within so many of its spreads. A judgement, no published
# source; `tests/bench_next_glass.py` shows what it is worth.
LEVEL, LEVEL_SD = 6.0, 2.0
DROP, WITHIN = 3.0, 2.0
# What is not known of the panel, and averaged over by how well each explains what was said: how far liking goes up and
# down [points], over how many spreads, the scatter of one person's rating, and how far persons' levels lie apart.
GRID = {"height": (0.8, 1.6, 3.0), "length": (1.5, 3.0, 6.0), "noise": (0.5, 1.0, 2.0), "levels": (0.3, 1.2)}
_LEAST_WEIGHT = 1e-3
_JITTER = 1e-8
_STEPS = 50

# How two places go together; of each place with itself where no second ones are given.
Kernel = Callable[[np.ndarray, np.ndarray | None, float, float], np.ndarray]
Before = Callable[[np.ndarray], np.ndarray]  # what is expected of places before anyone has tasted [points]


def smooth(a: np.ndarray, b: np.ndarray | None, height: float, length: float) -> np.ndarray:
    """Any smooth surface: the nearer two places are, the more alike."""
    if b is None:
        return np.full(len(a), height**2)
    apart = ((a[:, None, :] - b[None, :, :]) ** 2).sum(axis=-1)
    return height**2 * np.exp(-apart / (2 * length**2))


def quadratic(a: np.ndarray, b: np.ndarray | None, height: float, length: float) -> np.ndarray:
    """A bowl or a saddle: all terms of a quadratic, each with a prior of its own."""
    together = (a**2).sum(axis=-1) if b is None else a @ b.T
    return height**2 * ((1 + together / length**2) ** 2)


def hump(at: np.ndarray) -> np.ndarray:
    """What is expected before anyone tasted: less liked away from the middle of the family. [points of liking]"""
    return LEVEL + DROP * (np.exp(-(at**2).sum(axis=-1) / (2 * WITHIN**2)) - 1)


@dataclass(frozen=True, slots=True)
class Told:
    """What was said of glasses.

    Attributes
    ----------
    at : array, shape (glasses, axes)
        Where each glass stands. [spreads]
    glass, taster, score : array
        Of each rating: which glass, who, and how much it was liked, 0 to 10.
    better, worse : array
        Of each choice: the glass that was liked better, and the other.
    """

    at: np.ndarray
    glass: np.ndarray
    taster: np.ndarray
    score: np.ndarray
    better: np.ndarray
    worse: np.ndarray

    @classmethod
    def of(
        cls, at: object, scores: Iterable[tuple[int, int, float]] = (), choices: Iterable[tuple[int, int]] = ()
    ) -> Told:
        """From rows: (glass, taster, score), and (better, worse)."""
        rated = np.array(list(scores), float).reshape(-1, 3)
        chosen = np.array(list(choices), int).reshape(-1, 2)
        return cls(
            np.atleast_2d(np.asarray(at, float)), rated[:, 0].astype(int), rated[:, 1].astype(int), rated[:, 2],
            chosen[:, 0], chosen[:, 1],
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _One:
    """One set of the panel's unknowns, with what it makes of what was said."""

    height: float
    length: float
    noise: float
    levels: float
    evidence: float
    lower: np.ndarray  # of the glasses' own covariance
    mode: np.ndarray
    inverse: np.ndarray  # covariance of the whitened glasses, given what was said
    persons: np.ndarray


@dataclass(frozen=True, slots=True)
class Palate:
    """A panel's liking as far as it is known. From `fit`."""

    told: Told
    kernel: Kernel
    before: Before
    ways: tuple[_One, ...]
    weights: np.ndarray

    def joint(self, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Mean and covariance of the liking of a middling taster at these places. [points], [points²]"""
        at = np.atleast_2d(np.asarray(at, float))
        before, cov = self.before(at), np.zeros((len(at), len(at)))
        found: list[np.ndarray] = []
        for one, weight in zip(self.ways, self.weights, strict=True):
            across = _solve(one.lower, _cov(self.kernel, self.told.at, at, one.height, one.length))
            found.append(across.T @ one.mode)
            own = _cov(self.kernel, at, at, one.height, one.length)
            cov = cov + weight * (own - across.T @ across + across.T @ one.inverse @ across)
        means = np.array(found)
        mean = self.weights @ means
        off = means - mean
        return before + mean, cov + (self.weights[:, None] * off).T @ off

    def at(self, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Mean and standard deviation of the liking of a middling taster at these places. [points]"""
        at = np.atleast_2d(np.asarray(at, float))
        means, spreads = np.empty((2, len(self.ways), len(at)))
        for k, one in enumerate(self.ways):
            across = _solve(one.lower, _cov(self.kernel, self.told.at, at, one.height, one.length))
            means[k] = across.T @ one.mode
            own = LEVEL_SD**2 + self.kernel(at, None, one.height, one.length)
            spreads[k] = own - (across**2).sum(axis=0) + ((one.inverse @ across) * across).sum(axis=0)
        mean = self.weights @ means
        variance = self.weights @ (spreads + (means - mean) ** 2)
        return self.before(at) + mean, np.sqrt(np.maximum(variance, 0.0))

    @property
    def noise(self) -> float:
        """The scatter of one person's rating of one glass, as far as it is known. [points]"""
        return float(np.sqrt(self.weights @ [one.noise**2 for one in self.ways]))

    @property
    def persons(self) -> np.ndarray:
        """How much higher or lower than the middle each taster rates everything. [points]"""
        return self.weights @ np.array([one.persons for one in self.ways])


def fit(
    told: Told,
    kernel: Kernel = smooth,
    before: Before = hump,
    grid: dict[str, tuple[float, ...]] | None = None,
) -> Palate:
    """The surface of liking behind ratings and choices.

    Parameters
    ----------
    told : Told
    kernel : function
        `smooth` or `quadratic`.
    before : function
        What is expected of places before anyone has tasted. [points]
    grid : dict, optional
        In place of `GRID`.

    Returns
    -------
    Palate

    Notes
    -----
    A rating is the liking of its glass, the level of its taster and chance; a choice goes to the glass that is liked
    better by chance's normal curve (Thurstone's case V). Ratings alone make it a Gaussian process with random
    intercepts, solved by Cholesky (Rasmussen and Williams 2006, algorithm 2.1); choices are brought in by Laplace's
    method (Chu and Ghahramani 2005). The panel's unknowns are averaged over `GRID` by their evidence.
    """
    ways = []
    for height, length, noise, levels in itertools.product(*(grid or GRID).values()):
        ways.append(_way(told, kernel, before, height, length, noise, levels))
    evidence = np.array([one.evidence for one in ways])
    weights = np.exp(evidence - evidence.max())
    kept = weights > _LEAST_WEIGHT
    weights = weights[kept] / weights[kept].sum()
    return Palate(told, kernel, before, tuple(one for one, k in zip(ways, kept, strict=True) if k), weights)


def _cov(kernel: Kernel, a: np.ndarray, b: np.ndarray, height: float, length: float) -> np.ndarray:
    return LEVEL_SD**2 + kernel(a, b, height, length)


def _solve(lower: np.ndarray, right: np.ndarray) -> np.ndarray:
    from scipy.linalg import solve_triangular

    return solve_triangular(lower, right, lower=True, check_finite=False)


def _way(
    told: Told, kernel: Kernel, before: Before, height: float, length: float, noise: float, levels: float
) -> _One:  # fmt: skip
    """What one set of unknowns makes of what was said: the whitened mode, its covariance, and the evidence."""
    glasses, people = len(told.at), int(told.taster.max(initial=-1)) + 1
    own = _cov(kernel, told.at, told.at, height, length)
    lower = np.linalg.cholesky(own + _JITTER * np.diag(own).mean() * np.eye(glasses))
    # Rows: what each rating and each choice is made of, in whitened glasses and persons.
    rated = np.zeros((len(told.score), glasses + people))
    rated[:, :glasses] = lower[told.glass]
    rated[np.arange(len(told.score)), glasses + told.taster] = levels
    chosen = np.zeros((len(told.better), glasses + people))
    chosen[:, :glasses] = (lower[told.better] - lower[told.worse]) / (np.sqrt(2) * noise)
    expected = before(told.at)
    residual = (told.score - expected[told.glass]) / noise
    offset = (expected[told.better] - expected[told.worse]) / (np.sqrt(2) * noise)
    rated /= noise

    state, base = np.zeros(glasses + people), np.eye(glasses + people) + rated.T @ rated
    for _ in range(_STEPS):
        slope, weight, said = _probit(offset + chosen @ state)
        precision = base + (chosen.T * weight) @ chosen
        step = np.linalg.solve(precision, rated.T @ (residual - rated @ state) + chosen.T @ slope - state)
        state = state + step
        if not len(told.better) or np.abs(step).max() < 1e-9:
            break
    slope, weight, said = _probit(offset + chosen @ state)
    precision = base + (chosen.T * weight) @ chosen
    left = residual - rated @ state
    evidence = said.sum() - 0.5 * (left @ left + state @ state) - len(left) * np.log(noise)
    evidence -= 0.5 * np.linalg.slogdet(precision)[1]
    inverse = np.linalg.inv(precision)
    return _One(
        height, length, noise, levels, float(evidence), lower, state[:glasses], inverse[:glasses, :glasses],
        levels * state[glasses:],
    )  # fmt: skip


def _probit(lead: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Slope, curvature and log of the chance that the glass ahead by `lead` is chosen."""
    from scipy.special import log_ndtr

    said = log_ndtr(lead)
    slope = np.exp(-0.5 * lead**2 - 0.5 * np.log(2 * np.pi) - said)
    return slope, slope * (slope + lead), said
