"""How many right answers show a difference, or that there is hardly one: exact binomial sums."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..errors import InputError, Told, one_of, require
from ..kinds import Ends, Given, Number
from ..units import number, whole_number

MOST_TASTERS = 1000


@dataclass(frozen=True, slots=True)
class Method:
    """One way to ask.

    Attributes
    ----------
    chance : float
        Share of right answers of those who only guess.
    sides : int
        2 where either drink may come out ahead, and counts are told for the drink named more often; 1 where an answer
        is right or wrong.
    pairs : tuple
        Servings of drinks A and B, each beside its mirror image; all are served equally often. The first glass of
        duo–trio is the named reference.
    source : str
    """

    chance: float
    sides: int
    pairs: tuple[tuple[str, str], ...]
    source: str


_TWO = (("AB", "BA"),)
METHODS = {
    "triangle": Method(1 / 3, 1, (("AAB", "BBA"), ("ABA", "BAB"), ("BAA", "ABB")), "ISO 4120"),
    "duo-trio": Method(1 / 2, 1, (("AAB", "BBA"), ("ABA", "BAB")), "ISO 10399, balanced reference"),
    "tetrad": Method(
        1 / 3, 1, (("AABB", "BBAA"), ("ABAB", "BABA"), ("ABBA", "BAAB")), "ASTM E3009; Ennis and Jesionka 2011"
    ),
    "paired": Method(1 / 2, 2, _TWO, "ISO 5495, two-sided"),
    "paired, expected": Method(1 / 2, 1, _TWO, "ISO 5495, one-sided"),
    "preference": Method(1 / 2, 2, _TWO, "ISO 5495, two-sided"),
}


@dataclass(frozen=True, slots=True)
class Result:
    """What the answers show. Fields are numbers or arrays as broadcast.

    Attributes
    ----------
    n, correct : int
        Who tasted; who was right, or named the drink A where there are two sides.
    critical : int
        Answers needed to show a difference; n + 1 where no count would do.
    p_value : float
        Chance of so many, or more, if all only guessed; of both sides where there are two.
    shown : bool
        Whether a difference is shown at `alpha`.
    share, low, high : float
        Share of people who tell the drinks apart (0 to 1), with its Clopper–Pearson interval; of two sides the share
        that names A less the share that names B (-1 to 1).
    level : float
        How sure the interval is: 1 - 2 alpha of a one-sided question, 1 - alpha of a two-sided one, so that it leaves
        out no difference exactly where `shown` says so.
    """

    method: str
    alpha: float
    n: np.ndarray | int
    correct: np.ndarray | int
    critical: np.ndarray | int
    p_value: np.ndarray | float
    shown: np.ndarray | bool
    share: np.ndarray | float
    low: np.ndarray | float
    high: np.ndarray | float
    level: float


Counts = int | Sequence[int] | np.ndarray  # of tasters, or of answers


def _binom() -> Any:
    from scipy.stats import binom

    return binom


def _method(name: str) -> Method:
    return METHODS[one_of("method", name, METHODS)]


def _risk(field: str, value: float) -> float:
    risk = number(value, field)
    if not isinstance(risk, float):
        raise InputError(field, Told(f"{np.size(risk)} numbers"), "one number")
    require(field, risk, 0.0001, 0.5)
    return risk


def _whole(field: str, value: Counts, low: int, high: int, where: str = "") -> np.ndarray:
    counts = np.asarray(value)
    if counts.dtype.kind not in "iu":
        if np.ndim(value) == 0 or counts.dtype.kind != "f" or np.any(counts != np.floor(counts)):
            if np.ndim(value) == 0:
                whole_number(value, field, low, high)
            raise InputError(field, Told("not of whole numbers"), f"whole numbers, {low} to {high}")
        counts = counts.astype(int)
    require(field, counts, low, high, where)
    return counts


def _tasters(n: Counts) -> np.ndarray:
    return _whole("tasters", n, 1, MOST_TASTERS)


def _share(field: str, value: Given, low: float = 0.0) -> np.ndarray | float:
    share = number(value, field)
    require(field, share, low, 1)
    return share


def right(share: Given, method: str = "triangle") -> Number:
    """Share of right answers where so large a share tells the drinks apart and the others guess.

    Parameters
    ----------
    share : float or array
        0 to 1.
    method : str
        A key of `METHODS`.

    Returns
    -------
    float or array
        0 to 1.

    Notes
    -----
    Abbott (1925): p_c = p_d + (1 - p_d) / 3; likewise with 1/2. ISO 4120 is said to have the same (not read).

    Examples
    --------
    >>> right(0.25), right(0.25, "duo-trio")
    (0.5, 0.625)
    """
    chance = _method(method).chance
    return chance + (1 - chance) * _share("share", share)


def critical_count(n: Counts, method: str = "triangle", alpha: float = 0.05) -> Any:
    """The fewest right answers that show a difference.

    Parameters
    ----------
    n : int or array
        Tasters, 1 to 1000.
    method : str
        A key of `METHODS`. Of two-sided ones it is the count of the drink named more often.
    alpha : float
        Risk to find a difference where there is none, 0.0001 to 0.5.

    Returns
    -------
    int or array
        n + 1 where not even all of them would do.

    Raises
    ------
    InputError
        For no tasters, or an unknown method.

    Notes
    -----
    Exact binomial sums; they equal every count of ISO 10399:2004, table A.1, and of FAO's triangle table.

    Examples
    --------
    >>> critical_count(24), critical_count([24, 48, 96]), critical_count(4, "duo-trio")
    (13, array([13, 22, 41]), 5)
    """
    way, alpha, n = _method(method), _risk("alpha", alpha), _tasters(n)
    binom = _binom()
    tail = alpha / way.sides
    least = binom.isf(tail, n, way.chance).astype(int)  # P(X > least) <= tail
    # Rounding in the quantile may be one off: settle it by the sums themselves.
    fewer = np.maximum(least, 0)
    count = np.where(binom.sf(fewer - 1, n, way.chance) <= tail, fewer, fewer + 1)
    return _plain(np.minimum(count, n + 1))


def similar_count(n: Counts, method: str = "triangle", share: float = 0.3, beta: float = 0.05) -> Any:
    """The most right answers that still show that fewer than `share` tell the drinks apart.

    Parameters
    ----------
    n : int or array
    method : str
    share : float
        Share of people that would matter, above 0 to 1.
    beta : float
        Risk to call drinks alike that so many tell apart.

    Returns
    -------
    int or array
        -1 where no count would do. Of two sides it is the count of the drink named more often (each side is tested:
        two one-sided tests).

    Examples
    --------
    >>> similar_count(25, share=0.2), similar_count(100, "duo-trio", 1 / 3), similar_count(3)
    (7, 58, -1)
    """
    way, beta, n = _method(method), _risk("beta", beta), _tasters(n)
    p = right(_share("share", share, 1e-6), method)
    binom = _binom()
    most = binom.ppf(beta, n, p).astype(int)  # P(X <= most) >= beta
    most = np.where(binom.cdf(most, n, p) <= beta, most, most - 1)
    if way.sides == 2:
        most = np.where(2 * most >= n, most, -1)  # the larger of two counts is never below the half
    return _plain(np.where(most < 0, -1, most))


def difference_test(n: Counts, correct: Counts, method: str = "triangle", alpha: float = 0.05) -> Result:
    """Whether so many right answers show a difference.

    Parameters
    ----------
    n : int or array
        Tasters.
    correct : int or array
        Right answers; of two-sided methods those for drink A. 0 to n.
    method : str
        A key of `METHODS`.
    alpha : float

    Returns
    -------
    Result

    Raises
    ------
    InputError
        For more right answers than tasters, no tasters, or an unknown method.

    Examples
    --------
    >>> found = difference_test(24, 11)
    >>> found.shown, found.critical, round(found.p_value, 3), round(found.share, 2)
    (False, 13, 0.14, 0.19)
    """
    way, alpha, tasters = _method(method), _risk("alpha", alpha), _tasters(n)
    x = _whole("right answers", correct, 0, MOST_TASTERS)
    of, x = np.broadcast_arrays(tasters, x)
    if np.any(x > of):
        worst = np.argmax((x - of).ravel())
        raise InputError("right answers", int(x.ravel()[worst]), f"0 to {int(of.ravel()[worst])}, who tasted")
    upper = _binom().sf(x - 1, of, way.chance)
    if way.sides == 2:
        p_value = np.minimum(2 * np.minimum(upper, _binom().cdf(x, of, way.chance)), 1.0)
        level = 1 - alpha
    else:
        p_value, level = upper, 1 - 2 * alpha
    low, high = clopper_pearson(of, x, level)
    shares = [(p - way.chance) / (1 - way.chance) for p in (x / of, low, high)]
    if way.sides == 1:
        shares = [np.maximum(s, 0.0) for s in shares]
    critical = critical_count(of, method, alpha)
    ahead = np.maximum(x, of - x) if way.sides == 2 else x
    share, least, most = map(_plain, shares)
    many, right_ones, critical, p_value, shown = map(_plain, (of, x, np.asarray(critical), p_value, ahead >= critical))
    return Result(method, alpha, many, right_ones, critical, p_value, shown, share, least, most, level)


def clopper_pearson(n: Counts, x: Counts, level: float = 0.95) -> Ends[Any]:
    """Exact limits of a share of which `x` of `n` were found.

    Notes
    -----
    Clopper and Pearson, Biometrika 26 (1934), p. 404, by quantiles of the beta distribution.

    Examples
    --------
    >>> clopper_pearson(10, 0).high, clopper_pearson(10, 5).low
    (0.3085, 0.1871)
    """
    from scipy.stats import beta

    n, x, tail = np.asarray(n), np.asarray(x), (1 - level) / 2
    if tail <= 0 or tail >= 0.5:  # alpha of one half: the estimate alone
        return Ends(x / n, x / n)
    with np.errstate(invalid="ignore"):
        low = np.where(x == 0, 0.0, beta.ppf(tail, np.maximum(x, 1), n - x + 1))
        high = np.where(x == n, 1.0, beta.isf(tail, x + 1, np.maximum(n - x, 1)))
    return Ends(_plain(low), _plain(high))


def power(n: Counts, share: Given, method: str = "triangle", alpha: float = 0.05) -> Any:
    """Chance that a tasting shows a difference, where so large a share of guests tells the drinks apart.

    Parameters
    ----------
    n : int or array
    share : float or array
        0 to 1; of two-sided methods the share that names one drink less the share that names the other.
    method : str
    alpha : float

    Returns
    -------
    float or array
        0 to 1.

    Examples
    --------
    >>> power(20, 0.5, "duo-trio"), power(24, 1 / 3)
    (0.617, 0.636)
    """
    way, n = _method(method), _tasters(n)
    critical, p = critical_count(n, method, alpha), right(share, method)
    found = _binom().sf(np.asarray(critical) - 1, n, p)
    if way.sides == 2:
        found = found + _binom().cdf(n - critical, n, p)
    return _plain(found)


def similar_power(n: Counts, share: float, method: str = "triangle", beta: float = 0.05, true: float = 0.0) -> Any:
    """Chance that a tasting shows that fewer than `share` tell the drinks apart, where in truth `true` do.

    >>> similar_power(100, 0.2, "triangle", true=0.1), similar_power(100, 1 / 3, "duo-trio")
    (0.3068, 0.956)
    """
    way, n = _method(method), _tasters(n)
    most, p = similar_count(n, method, share, beta), right(true, method)
    if way.sides == 2:
        return _plain(np.where(most < 0, 0.0, _binom().cdf(most, n, p) - _binom().cdf(n - most - 1, n, p)))
    return _plain(_binom().cdf(most, n, p))


def size(
    share: float, method: str = "triangle", alpha: float = 0.05, wanted: float = 0.8, *, similar: bool = False
) -> int | None:
    """Tasters from which on the chance to show what is there is never again below `wanted`.

    More tasters do not always help: one more may raise the count that is needed. So the last dip counts, as in Ennis
    and Jesionka (2011).

    Parameters
    ----------
    share : float
        Share who tell the drinks apart, or, for `similar`, that would matter. Above 0 to 1.
    method : str
    alpha : float
        Risk of a wrong finding.
    wanted : float
        0.5 to 0.999.
    similar : bool
        Whether it is to be shown that hardly anyone tells them apart, where in truth nobody does.

    Returns
    -------
    int or None
        None where 1000 would not do.

    Examples
    --------
    >>> size(0.5, "duo-trio"), size(0.02)
    (28, None)
    """
    share = float(_share("share", share, 1e-6))
    wanted = float(number(wanted, "wanted power"))
    require("wanted power", wanted, 0.5, 0.999)
    every = np.arange(1, MOST_TASTERS + 1)
    found = similar_power(every, share, method, alpha) if similar else power(every, share, method, alpha)
    short = np.flatnonzero(found < wanted)
    last = int(every[short[-1]]) if short.size else 0
    return last + 1 if last < MOST_TASTERS else None


def _plain(value: Number) -> Any:
    """A number where there are no axes."""
    value = np.asarray(value)
    return value.item() if value.ndim == 0 else value
