"""What the words for a drink say that can hurt: hot or sparkling in a shut tin, fire, smoke.

That a shut shaker of what is hot or sparkling bursts open: common practice, no published source (the makers of jug
blenders forbid hot liquids in them too; from memory).
"""

import pytest
from growth import grows_less

from drinklab import cards, declared, handling, logbook, pantry, service, tasting, trial
from drinklab.display import Display
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.steps import Caution
from drinklab.workbook.parts import tasting_words

SHELF = pantry.load()
HOT, GAS, FIRE, SMOKE = "hot liquid", "sparkling, closed", "flame at the glass", "smoke at the glass"


def _codes(method="", **words):
    now = trial.run(Recipe.parse("45 mL gin\n20 mL lemon juice", method=method, **words), pantry=SHELF, draws=0)
    return {caution.code for caution in now.cautions} & {HOT, GAS, FIRE, SMOKE}


@pytest.mark.parametrize(
    "method",
    [
        "Shake with hot espresso.",
        "Blend with hot coffee",
        "Shake with boiling water.",
        "shake hot milk",
        "Heat the syrup and shake it hot.",
        "Add the hot coffee and shake.",
        "Pour hot tea into the shaker and shake hard.",
        "Brew hot tea, then shake",
        "Shake the rum, lemon, honey and hot water together",
        "Dry shake; then shake with piping hot milk",
        "Shake hard with freshly brewed espresso.",
        "Shake hot espresso with cold milk.",
        "Add hot espresso and cold milk and shake.",
        "Add hot coffee to the mixing glass and shake.",
        "Strain into the blender with hot chocolate and blend.",
        "Shake with ice, add the hot broth, shake again.",
        "Add the hot coffee. Shake.",
        "Pour boiling water into the blender; then blend.",
        "Mit heißem Kaffee schütteln.",
        "Secouez avec du café chaud.",
        "Agitar con café caliente.",
        "Shakerare con caffè bollente.",
    ],
)
def test_hot_in_a_shut_tin_is_warned_of(method):
    """Only a bottle that is poured hot was: of words for the making nothing was read."""
    assert _codes(method) == {HOT}


@pytest.mark.parametrize(
    "method",
    [
        "Shake with ginger beer.",
        "Shake the gin, lemon juice, and soda water.",
        "Add tonic water and shake.",
        "Blend with sparkling wine and ice.",
        "Shake, add soda, shake again.",
        "Shake all with ice and prosecco, then strain",
        "Mit Sekt schütteln.",
        "Top with soda and shake gently.",
        "Blend: ice, rum, lime, soda.",
        "Mit Ingwerbier schütteln.",
        "Secouez avec du champagne.",
        "Shake with chilled champagne.",
        "Put the cola in the tin and shake",
    ],
)
def test_bubbles_in_a_shut_tin_are_warned_of(method):
    assert _codes(method) == {GAS}


@pytest.mark.parametrize(
    "method",
    [
        "Dry shake, top with soda.",
        "Dry shake, soda top",
        "Shake and strain, soda on top.",
        "Shake, strain into a hot glass.",
        "Stir; serve with hot towel.",
        "Shake, then top with tonic water.",
        "Shake; then soda",
        "Shake, then soda.",
        "Shake & dump; ginger beer",
        "Let the coffee cool, then shake.",
        "Brew hot coffee, let it cool, and shake.",
        "Shake with ice, strain into a mug and add hot water.",
        "Shake and strain over ice, lengthen with ginger beer.",
        "Warm the glass with hot water and shake the rest with ice.",
        "Pour hot coffee in the glass; shake the cream and float it.",
        "Never shake hot milk.",
        "Do not shake with soda.",
        "Shake everything except the soda.",
        "Shake all but the ginger beer; top.",
        "Shake without the soda water.",
        "Shake with hot sauce and hot honey.",
        "Shake with hot chilli tincture",
        "Shake with flat cola.",
        "Shake with champagne syrup.",
        "Shake with cold espresso.",
        "Shake with boiled, cooled water.",
        "Shake hard. Top with hot water.",
        "Fill a flute with champagne, shake the rest and float it.",
        "A blend of hot and cold tea is stirred in.",
        "A champagne flute; shake with ice.",
        "Shake in a cocktail shaker with ice; strain.",
        "Stir with hot water.",
        "Hot buttered rum: blend butter and sugar, add hot water and stir.",
        "Schütteln, mit Soda auffüllen.",
        "Secouer, compléter avec du soda.",
        "Agitar y completar con tónica.",
        "Agitare e colmare con soda.",
        "Shake and strain. Add hot water. Stir.",
        "Add hot water to the cup. Shake the cream and float it.",
        "Top with hot milk foam after shaking.",
        "Pour the shaken gin over the tonic.",
        "Soda water first, then the shaken mix.",
        "Shake all besides the prosecco; top.",
        "Pour all ingredients except soda into a shaker, shake, strain over ice, add a splash of soda.",
        "Steep the tea in boiling water for five minutes, strain, cool and shake with gin.",
        "Build over ice and top with tonic.",
    ],
)
def test_everyday_words_of_shaking_raise_no_alarm(method):
    assert _codes(method) == set()


@pytest.mark.parametrize(
    ("words", "codes"),
    [
        ({"method": "Spray alcohol over a candle."}, {FIRE}),
        ({"garnish": "a tea light in a lime shell"}, {FIRE}),
        ({"method": "Light a cinnamon stick."}, {FIRE}),
        ({"method": "Lighting the rum at the table."}, {FIRE}),
        ({"method": "A light, long stir; light rum first; a light sugar syrup."}, set()),
        ({"method": "Smoked with rosemary."}, {FIRE, SMOKE}),
        ({"glass": "smoked glass"}, {FIRE, SMOKE}),
        ({"garnish": "smoked rosemary sprig"}, {FIRE, SMOKE}),
        ({"method": "Smoke under a cloche."}, {FIRE, SMOKE}),
        ({"method": "Fill the cloche with oak smoke."}, {FIRE, SMOKE}),
        ({"method": "Light the wood chips and trap the smoke."}, {FIRE, SMOKE}),
        ({"method": "Use the smoking gun."}, {FIRE, SMOKE}),
        ({"method": "Smoke the glass, then flame an orange zest over it."}, {FIRE, SMOKE}),
        ({"method": "Two dashes of liquid smoke."}, set()),
        ({"garnish": "smoked salt, smoked paprika, smoked salmon"}, set()),
        ({"method": "Add smoked tea syrup; a hint of smoke."}, set()),
        ({"garnish": "candied orange"}, set()),
        ({"method": "Stir with a light hand; a long drink by candlelight."}, set()),
    ],
)
def test_fire_and_smoke_are_read_in_more_words(words, codes):
    assert _codes(**words) == codes


def _told(setting):
    now = trial.run(setting, pantry=SHELF, draws=0)
    one = service.serve(now)
    return " ".join([*cards.guest(now).notes, service.menu_line(one).text]), now


SMOKED, FLAMED = "Made with smoke", "Made with fire"


@pytest.mark.parametrize(
    ("method", "said"),
    [
        ("Smoke under a cloche.", {SMOKED}),
        ("Fill a smoking gun, light the oak chips, smoke the glass.", {SMOKED}),
        ("Smoke the glass; flame an orange zest.", {SMOKED, FLAMED}),
        ("Set it alight.", {FLAMED}),
        ("Stir.", set()),
    ],
)
def test_a_smoked_glass_is_not_told_of_as_a_burning_drink(method, said):
    """A guest read "do not drink while it burns" of a glass that had been under a cloche."""
    text, now = _told(Setting(Recipe.parse("45 mL gin\n20 mL lemon juice", method=method)))
    assert {words for words in (SMOKED, FLAMED) if words in text} == said
    kept = logbook.revive(logbook.snapshot(now))
    assert kept.cautions == now.cautions
    assert "Made with smoke" not in " ".join(c.text for c in now.cautions)


def _sheets(one, other):
    a, b = (tasting.sample(trial.run(setting, pantry=SHELF)) for setting in (one, other))
    return tasting.prepare(tasting.plan(6), a, b, tasting.portion(a, b))


def test_of_a_smoked_drink_and_one_that_burns_beside_it_both_are_told_each_once():
    smoked = Setting(Recipe.parse("45 mL gin", name="Smoked", method="Smoke the glass."), draws=0)
    burns = Setting(Recipe.parse("30 mL aged rum", name="Burns", method="Set it alight."), draws=0)
    for one, other in ((smoked, burns), (burns, smoked)):
        text, now = _told(Setting(one.recipe, beside=(other,)))
        assert SMOKED in text
        assert FLAMED in text
        assert [c.code for c in now.cautions].count(FIRE) == 1
    sheets = _sheets(smoked, burns)
    assert sorted(fact.code for fact in sheets.making) == [FIRE, SMOKE]
    told = "\n".join(tasting_words.first_words(sheets, Display()))
    assert SMOKED in told
    assert FLAMED in told
    both = declared.declared(Caution(FIRE, of="smoke"), Caution("smoke at the glass"), Caution(FIRE))
    assert sorted(fact.code for fact in declared.heed(both.cautions)) == ["heed: fire", "heed: smoke"]


def test_the_time_to_read_a_method_grows_no_faster_than_its_length():
    """Of words that begin what never ends: a pattern that tries each with each would take 100 times as long for 10 times."""

    def read(times):
        handling.of_words.cache_clear()
        handling._shut.cache_clear()
        handling.of_words("shake the hot " * times + "add soda top " * times + "smoke with the " * times)

    grows_less(40, read, 50, 500)
