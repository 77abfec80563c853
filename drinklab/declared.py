"""What has to be said of a drink: cautions, allergens and what it may contain, of all that is in it.

>>> from drinklab.pantry import load
>>> shelf = load()
>>> said = declared(shelf["grapefruit_juice"], shelf["orgeat"])
>>> [caution.code for caution in said.cautions], said.allergens
(['grapefruit'], ('nuts (almond)',))
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from . import foods, handling, hazards, texts
from .facts import Fact
from .handling import HOT_LIQUID, SHAKEN_GAS
from .pantry import Ingredient, Pantry, name_warns
from .recipe import Pour, Recipe
from .steps import Caution

# Above UK proof spirit (57.15 % vol, Alcoholic Liquor Duties Act 1979 s. 2), as in the ingredient table. [% vol]
OVERPROOF = 57.15

# Cautions that a bottle brings.
OF_BOTTLES = {"raw_egg", "dairy", "grapefruit", "caffeine", "quinine", "overproof", "ask_first"}
# Cautions that concern who drinks; the others concern who makes the drink.
_GUESTS = ("raw egg", "grapefruit", "caffeine", "quinine", "ask first", "choking", "strong jelly", "gelatin")
OF_GUESTS = tuple(dict.fromkeys((*_GUESTS, *hazards.OF_GUESTS)))
# What is told at length to who makes a drink, in short to who drinks it.
_IN_SHORT = {
    "dry ice": Fact("heed: dry ice"),
    "flame at the glass": Fact("heed: fire"),
    "smoke at the glass": Fact("heed: smoke"),
}
CLOSED = ("shaken", "blended")  # techniques in a shut tin or jug
LABELS = Fact("check the labels").text


@dataclass(frozen=True, slots=True)
class Declared:
    """What a guest may ask, and a bartender must know, before a drink is served.

    Attributes
    ----------
    cautions : tuple of Caution
    allergens, may_contain : tuple of str
        In the words of EU Regulation 1169/2011, annex II; what it contains is not said twice.
    unstated : tuple of str
        Names of the bottles of which nobody has said what allergens they hold.
    """

    cautions: tuple[Caution, ...] = ()
    allergens: tuple[str, ...] = ()
    may_contain: tuple[str, ...] = ()
    unstated: tuple[str, ...] = ()

    def said(self) -> tuple[Fact, ...]:
        """All of it, a sentence or two each, for a page or a printout."""
        said: list[Fact] = list(self.cautions)
        if self.allergens:
            said.append(Fact("contains", allergens=self.allergens))
        if self.may_contain:
            said.append(Fact("may contain", allergens=self.may_contain))
        return (*said, *not_stated(self.unstated))


def declared(*parts: Any) -> Declared:
    """What all of these bring together, each thing once.

    Parameters
    ----------
    *parts : Ingredient, Caution, or anything with `cautions`, `allergens`, `may_contain` or `unstated`
        Bottles, and what was made of them: a trial, a jelly, an adjusted juice, a filled vessel.
    """
    cautions: list[Caution] = []
    for part in parts:
        if isinstance(part, Caution):
            cautions.append(part)
        elif isinstance(part, Ingredient):
            cautions += bottle_cautions([part])
        else:
            cautions += getattr(part, "cautions", ())
    contains = each_once(getattr(part, "allergens", ()) for part in parts)
    may = each_once(getattr(part, "may_contain", ()) for part in parts)
    unstated = each_once(getattr(part, "unstated", ()) for part in parts)
    return Declared(told_once(cautions), contains, tuple(word for word in may if word not in contains), unstated)


def heed(cautions: Iterable[Caution]) -> tuple[Fact, ...]:
    """What is told to who drinks of fire, smoke and cold that burns at the glass.

    >>> print(*heed([Caution("flame at the glass")]))
    Made with fire: do not drink while it burns, and mind the rim, which stays hot.
    """
    codes = each_once([[c.code for c in cautions if not _of_smoke(c)]])
    return tuple(_IN_SHORT[code] for code in codes if code in _IN_SHORT)


def _of_smoke(caution: Caution) -> bool:
    """Whether a fire is the smoke's alone: who drinks has nothing of it in the glass."""
    return ("of", "smoke") in caution.numbers


# Those words of annex II that are of animals.
_OF_ANIMALS = {"crustaceans", "eggs", "fish", "milk", "molluscs"}


def of_animals(*parts: Any) -> tuple[str, ...]:
    """What these are known to hold of animals: none of it goes with the word vegan.

    What a bottle was fined with is not known: its maker has to be asked.

    >>> from drinklab.pantry import load
    >>> of_animals(load()["honey_syrup"], load()["cream_heavy"])
    ('honey', 'milk')
    """
    names = (texts.as_read(part.name) for part in parts if isinstance(part, Ingredient))
    honey = any({"honey", "honeycomb"} & {*name.split()} for name in names)
    return ("honey",) * honey + tuple(word for word in declared(*parts).allergens if word in _OF_ANIMALS)


def not_stated(names: Sequence[str]) -> tuple[Fact, ...]:
    """What to say of bottles whose allergens nobody has stated, if there are any.

    >>> print(*not_stated(["house orgeat"]))
    Allergens of 'house orgeat' are not stated, nor whether caffeine, quinine or grapefruit is in it: ask who makes it.
    """
    several, bottles = len(names) > 1, tuple(map(repr, names))
    return (Fact("allergens of several not stated" if several else "allergens not stated", bottles=bottles),) * bool(
        names
    )


def of_recipe(recipe: Recipe, pantry: Pantry, *parts: Any) -> Declared:
    """What is to be said of a recipe, by the bottles that are poured, and of `parts` with it.

    >>> from drinklab.pantry import load
    >>> fizz = Recipe.parse("60 mL gin\\n30 mL lemon juice\\n30 mL egg white\\n0 mL cream")
    >>> of_recipe(fizz, load()).allergens
    ('eggs',)
    """
    return declared(*brought(recipe, pantry), *parts)


# How a garnish is cut or counted: a twist of a fruit holds what its juice does.
_CUTS = re.compile(
    r"\b(?:twist|peel|zest|wheel|half-wheel|wedge|slice|ribbon|stick|sprig|leaf|leaves|piece|coin|crown|bunch|"
    r"grated|fresh|dried|dehydrated|of|on|with|a|an|the|one|two|three|four|some|few|half|\d+)(?:s|es)?\b"
)


def garnished(recipe: Recipe, pantry: Pantry) -> tuple[Ingredient | Declared, ...]:
    """What `declared` is told of the garnish: what of it is in the pantry, and the rest as not stated.

    Beside it what the words for glass, ice and making name: a rim of hazelnuts, ice of coffee.

    >>> from drinklab.pantry import load
    >>> fizz = Recipe.parse("60 mL gin\\n30 mL lemon juice", garnish="a lemon twist and a candied walnut")
    >>> declared(*garnished(fizz, load())).unstated
    ('garnish: a candied walnut',)
    """
    glass = "" if _A_GLASS.fullmatch(texts.as_read(recipe.glass)) else recipe.glass
    found: list[Ingredient | Declared] = [_named(f"{glass} ; {recipe.glass_ice} ; {recipe.method}")]
    for part in filter(None, map(str.strip, re.split(r",|;|\+|&|\band\b|\bor\b", told_garnish(recipe)))):
        plain = " ".join(_CUTS.sub(" ", part.casefold()).split())
        item = next(filter(None, (pantry.known(name) for name in (part, plain, f"{plain} juice") if name)), None)
        if item is not None or texts.as_read(part) not in _NO_GARNISH:
            found.append(_unlisted(part) if item is None else item)
    return tuple(found)


_TOLD = re.compile(r"\bgarnish(?:ed)? with ([^.;\n]+)", re.IGNORECASE)


def told_garnish(recipe: Recipe) -> str:
    """The garnish of a recipe, else what its method says of one.

    >>> told_garnish(Recipe.parse("45 mL gin", method="Stir. Garnish with a cherry."))
    'a cherry'
    """
    return recipe.garnish or (found[1] if (found := _TOLD.search(recipe.method)) else "")


def in_bottle(recipe: Recipe) -> Recipe:
    """A recipe without what is of the glass alone.

    >>> in_bottle(Recipe.parse("45 mL gin", glass="flute", method="Stir. Garnish with a cherry.")).method
    'Stir. .'
    """
    return replace(recipe, glass="", glass_ice="", garnish="", method=_TOLD.sub("", recipe.method))


_NO_GARNISH = {"", "none", "no", "nothing", "no garnish", "without", "without garnish", "n a"}


def _unlisted(part: str) -> Declared:
    """A garnish that is in no table: what its name says, and that nobody has stated its allergens."""
    named = _named(part)
    return replace(named, unstated=(f"garnish: {part}",))


# A glass that goes by what is drunk from it.
_A_GLASS = re.compile(rf"(?:(?:red|white|large|small|tall|irish) )*(?:{foods.FOR})")


@functools.lru_cache(maxsize=256)  # the same words at each move of a slider
def _named(words: str) -> Declared:
    """What words name that a guest may have to avoid.

    >>> found = _named("Coupe with a rim of hazelnuts; strain through a coffee filter, without milk.")
    >>> found.allergens, found.cautions
    (('nuts',), ())
    """
    read = foods.in_drink(words)
    codes = name_warns(read)
    return Declared(tuple(_of_codes(codes)), foods.contained(read, codes), foods.may_contain(read))


def recipe_cautions(recipe: Recipe, pantry: Pantry) -> list[Caution]:
    """What a recipe brings that can hurt: by its bottles, and by what is closed up with them.

    >>> from drinklab.pantry import load
    >>> tin = Recipe.parse("45 mL gin\\n60 mL soda water", technique="shaken")
    >>> [caution.code for caution in recipe_cautions(tin, load())]
    ['sparkling, closed']
    """
    return [*bottle_cautions(poured_bottles(recipe, pantry)), *_way_cautions(recipe, _with_after(recipe, pantry))]


def _way_cautions(recipe: Recipe, bottles: Sequence[tuple[Ingredient, bool]]) -> list[Caution]:
    """What the way a recipe is made of bottles brings: what is hot, or sparkling in a shut tin."""
    found = []
    if "hot" in (recipe.family, recipe.serve) or any("hot" in bottle.cautions for bottle, _ in bottles):
        found.append(HOT_LIQUID)
    if recipe.technique in CLOSED and any("sparkling" in bottle.cautions and not after for bottle, after in bottles):
        found.append(SHAKEN_GAS)
    words = recipe.method, recipe.glass, recipe.glass_ice, recipe.garnish
    return [*found, *handling.of_words(*words), *hazards.named(" ; ".join(words))]


def brought(
    recipe: Recipe, pantry: Pantry, bottles: Sequence[tuple[Ingredient, bool]] | None = None
) -> tuple[Ingredient | Caution | Declared, ...]:
    """What `declared` is told of a recipe: bottles of which something is poured, what their mix brings, the garnish.

    `bottles`, each with whether it goes in after the ice, stand in place of the recipe's own.
    """
    held = _with_after(recipe, pantry) if bottles is None else bottles
    return (*(bottle for bottle, _ in held), *_way_cautions(recipe, held), *garnished(recipe, pantry))


def _with_after(recipe: Recipe, pantry: Pantry) -> list[tuple[Ingredient, bool]]:
    return [(bottle, pour.after) for bottle, pour in _poured(recipe, pantry)]


def poured_bottles(recipe: Recipe, pantry: Pantry) -> list[Ingredient]:
    """The bottles of which something is in the drink."""
    return [bottle for bottle, _ in _poured(recipe, pantry)]


def _poured(recipe: Recipe, pantry: Pantry) -> list[tuple[Ingredient, Pour]]:
    """Bottles and pours, of which there is something in the drink."""
    pairs = zip(recipe.bottles(pantry), recipe.pours, strict=True)
    return [(bottle, pour) for bottle, pour in pairs if pour.amount > 0]


def gassed_cautions(recipe: Recipe, pantry: Pantry) -> tuple[Caution, ...]:
    """What gassing all of a recipe, its top too, with cartridges brings.

    >>> from drinklab.pantry import load
    >>> spritz = Recipe.parse("45 mL gin\\ntop 90 mL tonic water", technique="built")
    >>> [caution.code for caution in gassed_cautions(spritz, load())]
    ['sparkling, closed']
    """
    sparkles = any("sparkling" in bottle.cautions for bottle, _ in _poured(recipe, pantry))
    return (SHAKEN_GAS,) if sparkles else ()


def bottle_cautions(bottles: Sequence[Ingredient]) -> list[Caution]:
    """What the bottles bring that can hurt, see `OF_BOTTLES`: raw egg, dairy, grapefruit, overproof spirit ..."""
    codes = each_once(b.cautions for b in bottles)
    if any(_strongest(b) > OVERPROOF for b in bottles) and "overproof" not in codes:
        codes += ("overproof",)
    # Whose owner says so needs none for its name; what came with it from elsewhere is told all the same.
    read = [bottle.name for bottle in bottles if bottle.cautions or not bottle.no_caution]
    return [*_of_codes(codes), *(caution for name in read for caution in hazards.named(name, True))]


def _of_codes(codes: Iterable[str]) -> list[Caution]:
    return [Caution(code.replace("_", " ")) for code in codes if code in OF_BOTTLES]


def _strongest(bottle: Ingredient) -> float:
    """Strength of a bottle, or what its label or the table says where that was measured and is more. [% vol]"""
    here = (one for one in bottle.measured if one.kind == "strength" and one.value == bottle.abv)
    return max([bottle.abv, *(figure for one in here for figure in (one.prior, one.label or 0.0))])


# What is said of each thing of its kind: of this vessel, of a jelly so strong.
OF_EACH = {"strong jelly", "gelatin", "warm vessel"}
_OF_ANY = "jelly of alcohol"  # which is needless beside one that says how strong


def told_once(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """A milk in the recipe and a milk wash say the same: the words of the first stand. Of two jellies, both do."""
    told: dict[tuple[str, str], Caution] = {}
    for caution in one_fire(cautions):
        told.setdefault((caution.code, caution.text if caution.code in OF_EACH else ""), caution)
    of_any = {key for key, c in told.items() if getattr(dict(c.numbers).get("how_strong"), "code", "") == _OF_ANY}
    one = {key[0] for key in told.keys() - of_any}
    return tuple(caution for key, caution in told.items() if key not in of_any or key[0] not in one)


def one_fire(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """A fire of the drink says what that of smoke does, and stands for it.

    >>> fire = "flame at the glass"
    >>> one_fire([Caution(fire, of="smoke"), Caution("dairy"), Caution(fire)])
    (Caution('dairy'), Caution('flame at the glass'))
    """
    told = tuple(cautions)
    burns = any(caution.code == handling.FIRE.code and not _of_smoke(caution) for caution in told)
    return tuple(caution for caution in told if not (burns and _of_smoke(caution)))


def each_once(groups: Iterable[Iterable[str]]) -> tuple[str, ...]:
    """Words of several lists, each word once."""
    return tuple(dict.fromkeys(word for group in groups for word in group))
