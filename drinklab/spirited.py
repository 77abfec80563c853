"""What the words for a drink name that holds alcohol nobody has counted: a rinse, a soaked fruit, ice of wine.

>>> from drinklab.pantry import load
>>> cup = Recipe.parse("90 mL apple juice", garnish="a brandied cherry", method="Rinse the glass with absinthe.")
>>> uncounted(cup, load())
('brandied', 'absinthe')
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable

from . import foods, hazards, texts
from .facts import Fact
from .pantry import Pantry
from .recipe import Recipe

# What is drunk for its alcohol, or sold in it, as `texts.as_read` has it; from memory. Live drinks make some (BC Centre
# for Disease Control, A study of alcohol levels in kombucha, March 2020; its contents read). Vinegar, and the beers
# and ales of ginger and roots, hold next to none; a brandy snifter is a glass.
_NO_VINEGAR = r"(?! (?:vinegar|glass(?:es)?|snifters?|tumblers?|stones?|levels?)\b)"
_WORDS = re.compile(
    r"\b(?:(?:gins?|vodkas?|rums?|rhums?|tequilas?|mezcals?|piscos?|grappas?|cognacs?|armagnacs?|brand(?:y|ies|ied)|"
    r"calvados|applejacks?|whiske?ys?|whisk(?:e?y|ie)s|bourbons?|scotch(?! bonnets?)|absinthe?s?|pastis|ouzo|raki|arak|"
    r"(?<!the )sake|soju|shochu|baijiu|kirsch\w*|slivovi\w+|aquavits?|akvavits?|genever|jenever|cachacas?|schnapps?|"
    r"schnaps|aguardiente|acquavite|eaux? de vie|moonshine|overproof|navy strength|spirits?|alcohol\w*|alcool|"
    r"liqueurs?|likore?|licor(?:es)?|liquor[ei]?|curacao|triple sec|limoncello|amaretto|amar[oi]|fernet|bitters|"
    r"vermouths?|vermut|wermut|aperitivo|port|sherr(?:y|ies)|jerez|madeira|marsala|wines?|prosecco|champagnes?|"
    r"champagner|cava|cremant|sekt|spumante|sangria|gluhwein|(?:rot|weiss|schaum|port)?wein|(?<!da )(?<!\ba )"
    r"(?<!copa de )vin[ois]?|(?<!ginger )(?<!root )(?:beers?|ales?)|lagers?|stouts?(?! (?:\w+ )?glass)|porters?|"
    r"pils(?:e?ner)?|bier|bieres?|cervezas?|birra|(?:hard|dry) ciders?|cidre|sidra|mead|ron|boozy|"
    r"kombucha|tepache|kvass|pulque|chicha|water kefir|tibicos|(?:still )?fermenting|ginger bug)" + _NO_VINEGAR + r")\b"
)
# What says itself that it holds none; of a bottle's name it stands for the whole.
_NONE = re.compile(
    r"\b(?:(?:alcohol|spirit) free|free of alcohol|(?:non|de) ?alcoholi\w+|no alcohol|without alcohol|zero proof|"
    r"alkoholfrei\w*|sans alcool|sin alcohol|senza alcol|analcolic\w+)\b"
)
# More than any country on the list of `datasets/alcohol_free.csv` lets be called alcohol-free. [% vol]
MOST_FREE = 1.2
# Words that say of what is poured what its name, or its kind, says otherwise: "top with champagne", of sparkling wine.
_SAME = tuple(map(frozenset, (
    ("wine", "wines", "wein", "vin", "vino", "vinos", "vins"),
    ("sparkling", "prosecco", "champagne", "champagner", "cava", "cremant", "sekt", "spumante", "schaumwein"),
    ("whisky", "whiskey", "whiskie", "bourbon", "rye", "scotch"), ("rum", "rhum", "ron"),
    ("brandy", "cognac", "armagnac", "calvados", "applejack"), ("liqueur", "liquor", "likor", "licor"),
    ("curacao", "triple", "triple sec"), ("vermouth", "vermut", "wermut"), ("bitters", "bitter"),
    ("beer", "ale", "lager", "stout", "porter", "bier", "biere", "cerveza", "birra", "pils", "pilsner"),
    ("sherry", "sherries", "jerez"), ("aguardiente", "cachaca"), ("amaro", "amari"),
)))  # fmt: skip
FERMENTS = "what ferments"  # which makes alcohol, see `hazards`
_CLAUSES = re.compile(r"[.;:\n]")
_A_GLASS = re.compile(rf"(?:\w+ )*(?:{foods.FOR})")  # one that goes by what is drunk from it


def uncounted(recipe: Recipe, pantry: Pantry) -> tuple[str, ...]:
    """Words that name alcohol, of which nothing is poured: of garnish, ice, glass and method, and of bottles without.

    >>> from drinklab.pantry import load
    >>> spritz = Recipe.parse("45 mL gin\\n90 mL soda water", method="Build the gin in a wine glass, without bitters.")
    >>> uncounted(spritz, load())
    ()
    """
    poured = [pour.bottle(pantry) for pour in recipe.pours if pour.amount > 0]
    strong = [bottle for bottle in poured if bottle.abv > 0]
    counted = {word for bottle in strong for word in texts.as_read(bottle.name).split()}
    counted |= {bottle.kind for bottle in strong}
    counted |= {word for same in _SAME if same & counted for word in same}
    glass = "" if _A_GLASS.fullmatch(texts.as_read(recipe.glass)) else recipe.glass
    said = _CLAUSES.split(f"{recipe.garnish};{recipe.glass_ice};{glass};{recipe.method}")
    # What an owner says needs no caution makes none.
    said += [bottle.name for bottle in poured if bottle.abv == 0 and (bottle.cautions or not bottle.no_caution)]
    if strong:
        counted |= {"alcohol", "spirit", "spirits"}
    return tuple(word for word in _named(tuple(said)) if not {word, word.removesuffix("s")} & counted)


@functools.lru_cache(maxsize=256)  # the same words at each move of a slider
def _named(said: tuple[str, ...]) -> tuple[str, ...]:
    """What names alcohol in clauses and names of bottles, each word once."""
    found = dict.fromkeys(match[0] for words in said for match in _WORDS.finditer(_read(words)))
    if not found and any(caution.code == "ferments" for words in said for caution in hazards.named(words)):
        return (FERMENTS,)
    return tuple(found)


def of_all(drinks: Iterable[tuple[Recipe, Pantry]]) -> tuple[str, ...]:
    """`uncounted` of a drink and what goes beside it, each word once.

    >>> from drinklab.pantry import load
    >>> of_all([(Recipe.parse("90 mL apple juice", glass_ice="ice of cider"), load())])
    ()
    """
    return tuple(dict.fromkeys(word for recipe, pantry in drinks for word in uncounted(recipe, pantry)))


def told(named: tuple[str, ...], abv: float) -> tuple[Fact, ...]:
    """What to say of alcohol that only words name, in a drink so strong by what is poured. [% vol]

    >>> print(*told(("absinthe",), 25.0))
    Its words name absinthe, of which nothing is poured here: what that adds is in no figure.
    """
    if not named:
        return ()
    if abv > MOST_FREE:
        return (Fact("alcohol of words alone", named=named),)
    return (Fact("alcohol not counted", named=named),)


def _read(words: str) -> str:
    return "" if _NONE.search(texts.as_read(words)) else foods.in_drink(words)
