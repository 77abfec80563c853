"""The profile of a drink: how strong, sweet and sour it is as served, and where that puts it among the classics.

>>> from drinklab.liquid import Liquid
>>> profile(Liquid.of(water=60, ethanol=20, sucrose=10, citric=1)).sugar
111.2
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, NamedTuple, get_type_hints

import numpy as np

from . import dilution
from . import recipe as _recipe
from .classics import Classics
from .display import Display
from .errors import InputError, Told, one_of
from .kinds import Grams, GramsPerLitre, KilogramsPerCubicMetre, Kind, Millilitres, Number, PercentVol, Ratio
from .liquid import COMPONENTS, Liquid
from .pantry import Pantry
from .physics import density as _density

_BLOCK = 16_384  # variants worked on at once: small enough to stay in the processor's cache


@dataclass(frozen=True, slots=True)
class Profile:
    """What a liquid measures at 20 °C. Each figure is a float, or an array over the liquid's axes.

    `sugar_to_acid` is infinite where there is sugar but no acid, and 0 where there is neither.
    """

    volume: Millilitres
    mass: Grams
    abv: PercentVol
    sugar: GramsPerLitre
    acid: GramsPerLitre
    sugar_to_acid: Ratio
    alcohol: Grams
    density: KilogramsPerCubicMetre

    def __getitem__(self, key: Any) -> Profile:
        """The same figures for some of the variants."""
        return Profile(*(getattr(self, f.name)[key] for f in fields(self)))


FIGURES = tuple(f.name for f in fields(Profile))
# The unit of each figure, read off the signature above.
KINDS: dict[str, Kind] = {
    name: next(mark for mark in hint.__metadata__ if isinstance(mark, Kind))
    for name, hint in get_type_hints(Profile, include_extras=True).items()
}
# The figures that people read, in their order, and what each is called; its unit and rounding go by its kind.
WORDS = {
    "volume": "volume", "abv": "strength", "sugar": "sugar", "acid": "acid", "sugar_to_acid": "sweet–sour ratio",
    "alcohol": "alcohol",
}  # fmt: skip
TITLES = {figure: word.capitalize() for figure, word in WORDS.items()}
LEAST_ACID = 0.5  # less than this makes no sugar-to-acid ratio worth a number [g/L]
AXES = ("abv", "sugar", "acid")


class Shown(NamedTuple):
    """A figure as a page has it."""

    number: str
    around: str
    unit: str


def shown(of: Profile, figure: str, show: Display, spread: float | None = None) -> Shown:
    """One figure of one drink as every page has it: number, "± spread" (or "") and unit.

    >>> from drinklab.display import Display
    >>> drink = profile(Liquid.of(water=60, ethanol=20, sucrose=10))
    >>> shown(drink, "abv", Display(), 0.82)
    Shown(number='28.4', around='± 0.8', unit='% vol')
    >>> shown(drink, "sugar_to_acid", Display()).number
    'no acid'
    """
    if figure == "sugar_to_acid" and of.acid < LEAST_ACID:
        return Shown("hardly any acid" if of.acid > 0 else "no acid", "", "")
    if figure == "sugar_to_acid" and spread is not None and spread >= of.sugar_to_acid:
        return Shown("not known well enough", "", "")  # its ± is as large as itself
    return Shown(*show.parts(KINDS[figure], getattr(of, figure), spread))


def profile(liquid: Liquid) -> Profile:
    """Read strength, sugar, acid and size off a liquid, at 20 °C.

    Parameters
    ----------
    liquid : Liquid
        One drink or any number of them.

    Returns
    -------
    Profile
        Figures of the liquid's shape.

    Raises
    ------
    InputError
        If a liquid holds nothing.

    Notes
    -----
    Strength is the volume of pure ethanol (789.24 kg/m³) over the volume of the drink, which comes from
    `physics.density.solution_volume`; its error for sweet spirits is below 0.1 % vol.
    Acid is grams of each acid as such, not titratable acidity.

    Examples
    --------
    >>> from drinklab.strength import spirit
    >>> profile(spirit(60, 40) + spirit(30, 0)).abv
    26.7
    """
    flat = liquid.grams.reshape(len(COMPONENTS), -1)
    out = np.empty((len(FIGURES), flat.shape[1]))
    for start in range(0, flat.shape[1], _BLOCK):
        _measure(Liquid(flat[:, start : start + _BLOCK]), out[:, start : start + _BLOCK])
    return Profile(*(row.reshape(liquid.shape) if liquid.shape else float(row[0]) for row in out))


def _measure(liquid: Liquid, out: np.ndarray) -> None:
    volume, mass, abv, sugar, acid, ratio, alcohol, density = out
    mass[:] = liquid.mass
    if not mass.min(initial=np.inf) > 0:
        raise InputError("total of the drink", float(mass.min()), "above 0 g")
    volume[:] = liquid.volume()
    alcohol[:] = liquid.ethanol
    np.divide(alcohol, volume, out=abv)
    abv *= 100_000 / _density._ethanol_water(1.0)
    np.divide(liquid.sugar, volume, out=sugar)
    sugar *= 1000
    np.divide(liquid.acid, volume, out=acid)
    acid *= 1000
    ratio[:] = np.where(sugar > 0, np.inf, 0.0)
    np.divide(sugar, acid, out=ratio, where=acid > 0)
    np.divide(mass, volume, out=density)
    density *= 1000


def served(recipes: Sequence[_recipe.Recipe], pantry: Pantry, melt: Number | None = None) -> Liquid:
    """Recipes poured, chilled by the rule of their technique and topped: one axis, the recipes.

    Parameters
    ----------
    recipes : sequence of Recipe
    pantry : Pantry
    melt : array, optional
        Melt water as a share of the volume before ice, in place of the rule. [mL/mL]
    """
    before, after = _recipe.pour(recipes, pantry)
    if melt is None:
        melt = melt_by_rule(recipes, before, after)
    return dilution.add_melt(before, np.asarray(melt)) + after


def melt_by_rule(recipes: Sequence[_recipe.Recipe], before: Liquid, after: Liquid) -> np.ndarray:
    """Melt water of each recipe by the rule of its technique, as a share of the volume before ice. [mL/mL]"""
    ways = [(r.technique, r.serve) for r in recipes]
    melt = np.empty(len(ways))
    for way in dict.fromkeys(ways):
        of = np.array([w == way for w in ways])
        melt[of] = dilution.melt_by_rule(before[of], after[of], *way)
    return melt


# --- among the classics ------------------------------------------------------------------------------


@functools.cache
def reference(classics: Classics) -> Profile:
    """The classics as served, by the same code as any recipe."""
    return profile(served(classics, classics.pantry))


@dataclass(frozen=True, slots=True)
class Place:
    """Where a drink stands among the classics.

    Attributes
    ----------
    family : str
        The family it is held against: its own, or that of the nearest classic.
    nearest, nearest_in_family : tuple of (name, family, distance)
        Nearest first; a distance of 1 is the usual difference between two classics (`scales`).
    percentile, percentile_in_family : dict
        For "abv", "sugar" and "acid": per cent of the classics that lie below, ties counted half.
    family_range : dict
        For each of these, the 10th and 90th percentile of the family.
    """

    family: str
    nearest: tuple[tuple[str, str, float], ...]
    nearest_in_family: tuple[tuple[str, str, float], ...]
    percentile: dict[str, float]
    percentile_in_family: dict[str, float]
    family_range: dict[str, tuple[float, float]]


@functools.cache
def scales(classics: Classics) -> dict[str, float]:
    """The weights of `place`: what counts as one unit of strength, sugar and acid.

    Half the width of the middle half of the classics on each axis, so that each axis has the same
    say whatever its unit, and the few extreme drinks (which would stretch a standard deviation) do not
    set the scale. No axis is held to matter more than another: no published tasting data says so.
    """
    figures = reference(classics)
    return {axis: float(np.subtract(*np.percentile(getattr(figures, axis), [75, 25])) / 2) for axis in AXES}


def distance(a: Mapping[str, Number], b: Mapping[str, Number], classics: Classics) -> Number:
    """How far drinks lie apart, 1 being the usual difference between two classics.

    The root of the mean of ((difference / scale)²) over the figures of `b`, with the scales of `scales`.

    Parameters
    ----------
    a, b : mapping
        "abv" [% vol], "sugar" and "acid" [g/L], or some of them in `b`; single numbers or arrays.
    classics : Classics

    Returns
    -------
    float or array

    Examples
    --------
    >>> from drinklab import classics
    >>> known = classics.load()
    >>> round(float(distance({"abv": 18, "sugar": 60}, {"abv": 18 + 2 * scales(known)["abv"]}, known)), 6)
    2.0
    """
    step = scales(classics)
    return np.sqrt(sum(((a[axis] - b[axis]) / step[axis]) ** 2 for axis in b) / len(b))


def place(profile: Profile, classics: Classics, family: str | None = None, count: int = 5) -> Place:
    """Nearest classics, and how each figure ranks among them.

    Parameters
    ----------
    profile : Profile
        One drink, as served.
    classics : Classics
    family : str, optional
        Hold it against this family; by default that of the nearest classic.
    count : int
        How many neighbours to name.

    Returns
    -------
    Place

    Raises
    ------
    InputError
        For an unknown family, or a profile of more than one drink.

    Notes
    -----
    Distance as `distance` has it, over strength, sugar and acid.

    Examples
    --------
    >>> from drinklab import classics
    >>> known = classics.load()
    >>> place(reference(known)[known.names.index("Daiquiri")], known).nearest[0][0]
    'Daiquiri'
    """
    if np.ndim(profile.abv):
        raise InputError("profile", Told(f"{np.size(profile.abv)} drinks"), "one drink at a time")
    if count < 1:
        raise InputError("count", count, "at least 1")
    figures = reference(classics)
    known, own = ({a: getattr(of, a) for a in AXES} for of in (figures, profile))
    far = np.asarray(distance(known, own, classics))
    order = np.argsort(far, kind="stable")
    families = np.array(classics.families)
    if family is None:
        family = str(families[order[0]])
    one_of("family", family, sorted(set(classics.families)))
    same = families == family

    def named(indices: np.ndarray) -> tuple[tuple[str, str, float], ...]:
        return tuple((classics.names[i], classics.families[i], float(far[i])) for i in indices[:count])

    def rank(mask: np.ndarray) -> dict[str, float]:
        return {a: _percentile_of(getattr(profile, a), getattr(figures, a)[mask]) for a in AXES}

    return Place(
        family=family,
        nearest=named(order),
        nearest_in_family=named(order[same[order]]),
        percentile=rank(np.ones(len(families), bool)),
        percentile_in_family=rank(same),
        family_range=_family_range(classics, family),
    )


@functools.cache
def _family_range(classics: Classics, family: str) -> dict[str, tuple[float, float]]:
    same = np.array(classics.families) == family
    return {a: tuple(np.percentile(getattr(reference(classics), a)[same], [10, 90]).tolist()) for a in AXES}


def _percentile_of(value: float, among: np.ndarray) -> float:
    return float(100 * ((among < value).sum() + 0.5 * (among == value).sum()) / among.size)
