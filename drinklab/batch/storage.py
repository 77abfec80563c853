"""What may wait in a bottle, and what is kept out of it until the day or the glass.

Rules of a bar: common practice, no published source, but where a food code is named. Local codes decide.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from .. import texts
from ..declared import bottle_cautions
from ..facts import Fact
from ..pantry import Ingredient, Pantry
from ..recipe import Pour
from ..setting import Setting

BATCH, DAY, GLASS, STEP = "batch", "day", "glass", "step"  # when something goes in

# Seven days at 5 °C (41 °F) or below, the day it is made counted as the first: Minnesota Rules 4626.0400 (read), which
# take over 3-501.17 of the FDA Food Code; of food that needs the cold to be safe. Other places have other codes.
COLD, FRESH = Fact("batch kept cold"), Fact("batch with juice")
# Pasteurised egg in place of raw in what is not cooked: FDA Food Code 3-302.13 (from memory).
EGG, SPARKLES = Fact("batch with egg"), Fact("batch with a sparkling bottle")
# Shellfish, fish and meat that nothing cooks are advised against by FDA Food Code 3-603.11; no days are published for
# them in a drink, nor for what goes on fermenting.
RAW, LIVE = Fact("batch with raw animal food"), Fact("batch that ferments")
# Of these the seven days of the Food Code are too long, or say nothing: by the code of their caution.
NO_SEVEN_DAYS = {"raw egg": "raw egg", "raw animal food": "raw animal food", "ferments": "what goes on fermenting"}

_CITRUS = re.compile(r"\b(lemon|lime|orange|grapefruit|mandarin|tangerine|clementine|yuzu|citrus|calamansi)s?\b")
_KEPT = re.compile(r"\b(bottled|canned|from concentrate|pasteurised|pasteurized)\b")
_HERBS = re.compile(r"\b(mint|basil|coriander|cilantro|sage|thyme|rosemary|dill|parsley|shiso|herbs?)\b")
_FRESH = re.compile(r"\b(fresh|raw|grated|cut)\b")
# So much of one of these keeps what is no juice, milk or egg (common practice, no published source). [% vol, g/L]
_KEEPS_BY_ALCOHOL, _KEEPS_BY_ACID, _KEEPS_BY_SALT = 15.0, 20.0, 100.0
_STABLE = {"orange_flower_water", "worcestershire_sauce", "hot_pepper_sauce"}  # sold to stand on a shelf
_BEANS = re.compile(r"\baquafaba\b")


@dataclass(frozen=True, slots=True)
class Keeping:
    """When an ingredient goes in, and why; `why` is "" where it may wait in the bottle."""

    when: str
    why: Fact | str = ""


def is_citrus(item: Ingredient) -> bool:
    """Whether it is juice of fresh citrus.

    >>> from drinklab.pantry import load
    >>> [is_citrus(load()[key]) for key in ("lime_juice", "lime_juice_bottled", "apple_juice")]
    [True, False, False]
    """
    return item.kind == "juice" and _says(item, _CITRUS) and not _says(item, _KEPT)


def _says(item: Ingredient, words: re.Pattern[str]) -> bool:
    return bool(words.search(texts.as_read(item.name)))


def keeping(item: Ingredient, pour: Pour, finished: bool) -> Keeping:
    """When a pour goes in.

    Parameters
    ----------
    item : Ingredient
    pour : Pour
    finished : bool
        Whether the drink is made whole (washed, gassed, boiled, set) before it is kept: then all of it is in.

    >>> from drinklab.pantry import load
    >>> keeping(load()["egg_white"], Pour("egg_white", 20), False).when
    'glass'
    """
    if finished:
        return Keeping(BATCH)
    if pour.after:
        return Keeping(GLASS, Fact("why: top"))
    if is_egg(item):
        return Keeping(GLASS, Fact("why: egg"))
    if "raw animal food" in _codes(item):
        return Keeping(GLASS, Fact("why: raw animal food"))
    if item.kind == "dairy" or "dairy" in item.cautions:
        return Keeping(GLASS, Fact("why: dairy"))
    if "hot" in item.cautions:
        return Keeping(GLASS, Fact("why: hot"))
    if "sparkling" in item.cautions:
        return Keeping(GLASS, Fact("why: gas"))
    if _says(item, _HERBS) and item.kind == "other" and item.state == "solid":
        return Keeping(GLASS, Fact("why: herbs"))
    if _says(item, _BEANS):
        return Keeping(GLASS, Fact("why: beans"))
    if is_citrus(item):
        return Keeping(DAY, Fact("why: citrus"))
    return Keeping(BATCH)


def waiting(setting: Setting, shelf: Pantry) -> list[tuple[Ingredient, float]]:
    """What stands in the bottle of a drink, with its amounts. [mL]

    >>> from drinklab.pantry import load
    >>> from drinklab.recipe import Recipe
    >>> sour = Setting(Recipe.parse("60 mL gin\\n25 mL lemon juice\\n20 mL egg white"))
    >>> [(item.id, ml) for item, ml in waiting(sour, load())]
    [('gin', 60.0)]
    """
    pairs = zip(setting.recipe.bottles(shelf), setting.recipe.pours, strict=True)
    return [
        (item, pour.amount) for item, pour in pairs
        if pour.amount > 0 and keeping(item, pour, bool(setting.steps)).when == BATCH
    ]  # fmt: skip


def kept_cold(setting: Setting, shelf: Pantry) -> bool:
    """Whether something in the bottle of a drink spoils; juice of the day is in it, what goes into the glass is not.

    >>> from drinklab.pantry import load
    >>> from drinklab.recipe import Recipe
    >>> [kept_cold(Setting(Recipe.parse(f"60 mL gin\\n20 mL {more}")), load()) for more in ("lime juice", "egg white")]
    [True, False]
    """
    pairs = zip(setting.recipe.bottles(shelf), setting.recipe.pours, strict=True)
    return any(
        spoils(item) and keeping(item, pour, bool(setting.steps)).when != GLASS
        for item, pour in pairs if pour.amount > 0
    )  # fmt: skip


def is_egg(item: Ingredient) -> bool:
    """Whether it is raw egg, or holds some."""
    return item.kind == "egg" or "raw_egg" in item.cautions


def _codes(*items: Ingredient) -> set[str]:
    return {caution.code for caution in bottle_cautions(items)}


def how_long(wait: Sequence[Ingredient], washed: bool) -> tuple[Fact, ...]:
    """How long what waits in a bottle keeps: by what of it spoils first, and what goes on fermenting.

    >>> from drinklab.pantry import load
    >>> how_long([load()["gin"], load()["lime_juice"]], False)
    (Fact('batch with juice'),)
    """
    codes, cold = _codes(*wait), washed or any(map(needs_cold, wait))
    said = [RAW] * ("raw animal food" in codes) + [LIVE] * ("ferments" in codes)
    if any(map(is_egg, wait)):
        return (EGG, *said)
    if said:
        return tuple(said)
    return (COLD,) if cold else (FRESH,) * any(map(spoils, wait))


def no_seven_days(codes: Iterable[str]) -> tuple[str, ...]:
    """What of some cautions the seven days of the Food Code are no rule for.

    >>> no_seven_days(["dairy", "raw egg"])
    ('raw egg',)
    """
    held = set(codes)
    return tuple(word for code, word in NO_SEVEN_DAYS.items() if code in held)


def spoils(item: Ingredient) -> bool:
    """Whether a bottle with it in is to be kept cold and used soon: juice, tea, milk, egg, a plant drink, herbs.

    >>> from drinklab.pantry import load
    >>> [spoils(load()[key]) for key in ("aquafaba", "mint", "coconut_cream_sweet", "saline_20", "vinegar_cider")]
    [True, True, True, False, False]
    """
    if item.kind in ("juice", "dairy", "egg") or is_egg(item) or needs_cold(item):
        return True
    if _codes(item) & {"raw animal food", "ferments", "infused oil"}:
        return True
    if item.kind == "mixer":
        return item.id not in ("water", "soda_water")
    if item.kind != "other" or item.id in _STABLE:
        return False
    if item.state == "solid":
        return _says(item, _FRESH) or _says(item, _HERBS)
    salt = sum(item.solutes.get(name, 0.0) for name in ("solids", "potassium"))
    return item.abv < _KEEPS_BY_ALCOHOL and item.acid < _KEEPS_BY_ACID and salt < _KEEPS_BY_SALT


def sparkles(setting: Setting, shelf: Pantry) -> bool:
    """Whether something sparkling stands in the bottle: as a rule it goes into the glass."""
    return any("sparkling" in item.cautions for item, _ in waiting(setting, shelf))


def needs_cold(item: Ingredient) -> bool:
    """Whether it is kept in the fridge whatever it stands in."""
    return item.kind == "dairy" or "dairy" in item.cautions
