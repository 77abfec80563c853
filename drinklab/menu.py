"""One set of drinks as a menu: the list by strength, sugar and acid, its doubles and gaps, who can have what.

>>> from drinklab import demo, pantry
>>> from drinklab.trial import run
>>> shelf = pantry.load()
>>> listed = menu([run(drink, pantry=shelf, draws=0) for drink in list(demo.settings(shelf).values())[:3]])
>>> [drink.name for drink in listed.drinks], listed.doubles
(['Long Platform, first glass', 'First Frost', 'Slow Signal'], ())
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from . import classics as _classics
from . import service
from .errors import InputError, Told
from .facts import Fact
from .profile import AXES, Profile, distance, reference
from .service import ALLERGENS, Serve, serve
from .trial import Trial
from .whatif import LEAST_FAMILY, NO_FAMILY

MOST = 60
# A distance of 1 is the usual difference between two classics (`profile.scales`); of their pairs 4 in 100 are nearer to
# each other than half of it. A judgement, no published source.
DOUBLE = 0.5
CONTAINS, MAY, UNKNOWN, NONE = "contains", "may contain", "not stated", ""


@dataclass(frozen=True, slots=True)
class Listed:
    """A drink of a menu: what one serve holds, how it measures, and its classics' family."""

    serve: Serve
    profile: Profile
    family: str

    @property
    def name(self) -> str:
        """Of the drink."""
        return self.serve.name


@dataclass(frozen=True, slots=True)
class Gap:
    """A family of classics that no drink of the list comes near to: its middle, and the nearest drink."""

    family: str
    middle: dict[str, float]
    nearest: str
    distance: float


@dataclass(frozen=True, slots=True)
class Menu:
    """A list of drinks.

    Attributes
    ----------
    drinks : tuple of Listed
        Weakest first.
    doubles : tuple of (name, name, distance)
        Drinks that measure alike, nearest first.
    gaps : tuple of Gap
        Furthest first.
    without : tuple of Fact
        What the list has nothing of: a drink without alcohol, one without any of the fourteen allergens.
    """

    drinks: tuple[Listed, ...]
    doubles: tuple[tuple[str, str, float], ...]
    gaps: tuple[Gap, ...]
    without: tuple[Fact, ...]

    def matrix(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Allergens by drink: of each of the fourteen `CONTAINS`, `MAY`, `UNKNOWN` or `NONE`."""
        return tuple((drink.name, tuple(held(drink.serve, word) for word in ALLERGENS)) for drink in self.drinks)

    def said(self) -> tuple[Fact, ...]:
        """Doubles and gaps, with the rule they are told by, and `without`."""
        said = [Fact("double", one=a, other=b, distance=d, under=DOUBLE) for a, b, d in self.doubles]
        said += [
            Fact("gap", family=gap.family, abv=gap.middle["abv"], sugar=gap.middle["sugar"], acid=gap.middle["acid"],
                 nearest=gap.nearest, distance=gap.distance)
            for gap in self.gaps
        ]  # fmt: skip
        return (*said, *self.without)


def held(one: Serve, word: str) -> str:
    """Whether a serve holds one of the fourteen.

    A bottle of which nobody has stated the allergens leaves open what nothing else tells.
    """
    if any(service.listed(found) == word for found in one.allergens):
        return CONTAINS
    if any(service.listed(found) == word for found in one.may_contain):
        return MAY
    return UNKNOWN if one.said.unstated else NONE


def menu(trials: Sequence[Trial], country: str | None = None) -> Menu:
    """A list of drinks put side by side.

    Parameters
    ----------
    trials : sequence of Trial
        1 to 60; a name that comes twice is numbered.
    country : str, optional
        Whose standard drinks count; by default each setting's.

    Returns
    -------
    Menu

    Raises
    ------
    InputError
        For no drink, or too many, or an unknown country.

    Notes
    -----
    Distance as in `profile.distance`, over strength, sugar and acid. A gap is a family of five or more classics no
    nearer than 1 to any drink of the list, by the median of the family's figures.
    """
    if not trials:
        raise InputError("menu", Told("empty"), "at least one drink")
    if len(trials) > MOST:
        raise InputError("menu", Told(f"{len(trials)} drinks long"), f"at most {MOST}")
    known = _classics.load()
    drinks = [
        Listed(serve(t, country), t.served.profile, t.recipe.family or _nearest_family(t.served.profile))
        for t in trials
    ]
    drinks = sorted(_numbered(drinks), key=lambda drink: drink.profile.abv)
    at = [_figures(drink.profile) for drink in drinks]
    doubles = [
        (drinks[i].name, drinks[j].name, d)
        for i, j in combinations(range(len(drinks)), 2)
        if (d := float(distance(at[i], at[j], known))) < DOUBLE
    ]
    gaps = []
    for family in dict.fromkeys(known.families):
        if family == NO_FAMILY or known.families.count(family) < LEAST_FAMILY:
            continue
        middle = _middle(family)
        distances = [float(distance(one, middle, known)) for one in at]
        nearest = int(np.argmin(distances))
        if distances[nearest] >= 1:
            gaps.append(Gap(family, middle, drinks[nearest].name, distances[nearest]))
    return Menu(
        tuple(drinks), tuple(sorted(doubles, key=lambda d: d[2])), tuple(sorted(gaps, key=lambda g: -g.distance)),
        _without(drinks),
    )  # fmt: skip


def _numbered(drinks: Sequence[Listed]) -> list[Listed]:
    """Each of another name."""
    seen: dict[str, int] = {}
    out = []
    for drink in drinks:
        count = seen[drink.name] = seen.get(drink.name, 0) + 1
        out.append(drink if count == 1 else replace(drink, serve=replace(drink.serve, name=f"{drink.name} ({count})")))
    return out


def _figures(profile: Profile) -> dict[str, float]:
    return {axis: getattr(profile, axis) for axis in AXES}


def _middle(family: str) -> dict[str, float]:
    known = _classics.load()
    same = np.array(known.families) == family
    return {axis: float(np.median(getattr(reference(known), axis)[same])) for axis in AXES}


def _nearest_family(profile: Profile) -> str:
    known = _classics.load()
    families = dict.fromkeys(known.families)
    return min(families, key=lambda f: distance(_figures(profile), _middle(f), known))


def _without(drinks: Sequence[Listed]) -> tuple[Fact, ...]:
    said = []
    if not any((drink.serve.alcohol.value == 0 and not drink.serve.named) or drink.serve.free for drink in drinks):
        said.append(Fact("no drink without alcohol"))
    if all(any(held(drink.serve, word) for word in ALLERGENS) for drink in drinks):
        said.append(Fact("no drink without allergens"))
    return tuple(said)
