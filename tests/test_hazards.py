"""What words name that can hurt: each row by its source, and nothing of a usual bar."""

import re

import pytest

from drinklab import classics, facts, hazards, pantry
from drinklab.demo import settings
from drinklab.facts import WORDS

# By whose word each can hurt stands in its row of `hazards.HAZARDS`; other languages from memory.
HURTS = [
    ("caustic soda", "corrosive"), ("food-grade hydrogen peroxide 35 %", "corrosive"), ("Natronlauge", "corrosive"),
    ("potassium hydroxide", "corrosive"), ("pickling lime", "corrosive"), ("glacial acetic acid", "corrosive"),
    ("monkshood", "ask first"), ("Angel's trumpet", "ask first"), ("rhododendron petals", "ask first"),
    ("mad honey", "ask first"), ("poppy pods", "ask first"), ("opium tincture", "ask first"),
    ("rubbing alcohol", "ask first"), ("antifreeze", "ask first"), ("fly agaric", "ask first"),
    ("Maigl\u00f6ckchen", "ask first"), ("autumn crocus", "ask first"), ("calla lily", "ask first"),
    ("cinchona bark", "quinine by weight"), ("quinine sulphate", "quinine by weight"),
    ("house tonic", "quinine by weight"), ("caffeine powder", "pure caffeine"), ("anhydrous caffeine", "pure caffeine"),
    ("nutmeg, ground", "nutmeg"), ("Muskatnuss", "nutmeg"), ("oyster shooter", "raw animal food"),
    ("raw beef broth", "raw animal food"), ("edible glitter", "glitter"), ("lustre dust", "glitter"),
    ("disco dust", "glitter"), ("garlic oil", "infused oil"), ("basil-infused oil", "infused oil"),
    ("garlic in olive oil", "infused oil"), ("garlic honey", "infused oil"), ("chilli oil", "infused oil"),
    ("tepache", "ferments"), ("ginger bug", "ferments"), ("home-made ginger beer", "ferments"),
    ("lacto-fermented plum juice", "ferments"), ("house kombucha", "ferments"), ("N2O", "nitrous oxide"),
    ("nitrous oxide", "nitrous oxide"), ("dry ice", "dry ice"), ("liquid nitrogen", "dry ice"),
]  # fmt: skip
# What is said of the way, the glass or the ice.
MADE = [
    ("copper mug", "copper"), ("Kupferbecher", "copper"), ("Serve in an unlined copper cup.", "copper"),
    ("Cook the gin sous vide at 60 \u00b0C for 2 h.", "heated closed"),
    ("Infuse in a sealed jar in a water bath.", "heated closed"), ("Pressure-cook the vodka.", "heated closed"),
    ("Simmer the wine with spices.", "flame"), ("Warm the brandy over a candle.", "flame"),
    ("Caramelise the sugar, deglaze with dark rum.", "flame"), ("Warm it in a closed bottle.", "heated closed"), ("Microwave the dark rum.", "heated closed"),
    ("Charge with two cream chargers.", "nitrous oxide"), ("Rapid-infuse in a whipper.", "nitrous oxide"),
    ("Leave for a second fermentation.", "ferments"), ("Float a spoon of garlic confit oil.", "infused oil"),
    ("Dust the rim with edible glitter.", "glitter"), ("Garnish with a foxglove and a larkspur.", "ask first"),
]  # fmt: skip
USUAL = [
    "dry shake, top with soda", "Shake hard with ice, double strain into a coupe.", "grate a little nutmeg on top",
    "express the oils of a lemon twist", "Express lemon oil over the glass, discard.", "ginger honey syrup",
    "honey-ginger syrup", "lime juice, fresh", "soda water", "Carbonate in a keg at 2 bar.", "tonic water",
    "ginger beer, alcohol-free", "cider vinegar", "kosher salt", "sugar cane juice, fresh", "caffeine-free cola",
    "Stir with a bar spoon of sugar.", "copper-coloured amber rum", "Keep in a closed bottle in the fridge.",
    "citric acid solution", "Boil the syrup, let it cool, bottle it.", "bitter orange peel", "elderflower cordial",
    "rose petals", "violets", "borage flower", "mint sprig", "sealed with wax", "olive oil washed gin",
    "coconut oil fat-wash", "sesame oil", "peppercorn", "yeast extract", "hot water", "smoked salt", "sweet pea puree",
    "orange zest", "cherry", "made without glitter", "espresso", "butter-washed bourbon", "vanilla pod", "warm the glass", "Heat the milk, let it cool, add it to the gin.",
    "Pour boiling water over the tea.", "reduce the juice by half", "a warm glass",
]  # fmt: skip


def _codes(words: str, poured: bool) -> list[str]:
    return [caution.code for caution in hazards.named(words, poured)]


@pytest.mark.parametrize(("name", "code"), HURTS)
def test_a_bottle_that_can_hurt_is_known_by_its_name(name, code):
    assert code in _codes(name, True)


@pytest.mark.parametrize(("words", "code"), MADE)
def test_so_is_what_the_words_for_making_say(words, code):
    assert code in _codes(words, False)


@pytest.mark.parametrize("words", USUAL)
def test_what_every_bar_says_is_no_hazard(words):
    assert _codes(words, False) == []
    if "nutmeg" not in words:
        assert _codes(words, True) == []


def test_nor_is_anything_of_ours():
    assert {item.name: _codes(item.name, True) for item in pantry.load().values() if _codes(item.name, True)} == {}
    drinks = [*(setting.recipe for setting in settings(pantry.load()).values()), *(classics.load()[name] for name in classics.load().names)]  # fmt: skip
    said = {
        drink.name: _codes(";".join((drink.method, drink.glass, drink.glass_ice, drink.garnish)), False)
        for drink in drinks
    }
    assert {name: codes for name, codes in said.items() if codes} == {}


def test_each_row_has_a_source_and_a_sentence_that_defers_to_the_code():
    listed = facts.read(WORDS / "cautions.toml")
    for hazard in hazards.HAZARDS:
        assert re.search(
            r"\((?:[^()]*; )?(?:read|from memory)|; read\)|no published source|cautions\.toml", hazard.source
        )
        assert re.search(r"local (?:food |fire )?codes?", listed[hazard.code]), hazard.code


def test_the_figures_are_those_of_the_sources():
    """21 CFR 172.575: 83 parts per million. Penn State: 10 days. US FDA: 28 cups. From 5 g: see the rows."""
    told = facts.read(WORDS / "cautions.toml")
    for code, figure in (
        ("quinine by weight", "83 mg in a kilogram"), ("infused oil", "10 days"), ("pure caffeine", "28 cups"),
        ("nutmeg", "about 5 g"), ("copper", "below pH 6"),
    ):  # fmt: skip
        assert figure in told[code]
