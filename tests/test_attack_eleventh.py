"""An eleventh attack: links in a folder, names in other languages, fire and cold in the words for a drink, two amounts.

What was found failed before it was mended; beside it stands what must stay as it was.
"""

import os

import pytest

from drinklab import cards, kinds, logbook, measured, pantry, tasting, trial, units
from drinklab.batch import storage
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.workbook.panels import dilution, filtering, reach, schedule
from drinklab.workbook.parts.dials import Dial

SHELF = pantry.load()

# --- what is opened ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("leads", ["", "nowhere/at all", "a" * 300], ids=["to itself", "to nothing", "too long"])
@pytest.mark.parametrize("name", ["my_ice_01.json", "my_filter_01.json"])
def test_a_link_that_leads_nowhere_closes_no_page(tmp_path, name, leads):
    """No page with ice or a filter on it opened: such a link may be listed, and cannot be looked at."""
    (tmp_path / name).symlink_to(leads or name)
    said = [*measured.own_fits(tmp_path)[1], *measured.own_logs(tmp_path)[1]]
    assert len(said) == 1
    assert name in said[0]
    for page in (dilution, filtering, schedule):
        page.panel(tmp_path)


def test_weighings_that_go_while_they_are_read_are_told_of(tmp_path, monkeypatch):
    """Another page may put a file away between its listing and its reading."""
    (tmp_path / "my_ice_01.json").write_text("{}", encoding="utf-8")
    listed = measured.kept.numbered(tmp_path, "my_ice", ".json")
    os.remove(tmp_path / "my_ice_01.json")
    monkeypatch.setattr(measured.kept, "numbered", lambda *_: listed)
    assert "my_ice_01.json" in measured.own_fits(tmp_path)[1][0]


# --- what a name says -------------------------------------------------------------------------------------------------

# As labels and menus of Europe write them, and slips of the pen; from memory.
IN_OTHER_WORDS = {
    "grapefruit": "grapfruit; grapefriut juice; toranja; pompelmoes; grapefrukt; grapefrugt; grejpfrut; greyfurt; greippi; "
    "pamplemouse; pampelmousse; Pampelmusensaft; Grapefruitlik\xf6r; pomelosaft; naranja agria; ruby red juice",
    "quinine": "agua t\xf3nica; \xe1gua t\xf4nica; tonique; tonicwater; tonik; tonnic water; bitterlemon; bitter lemons; kina; "
    "barolo chinato; Chininhaltige Limonade; quinin",
    "caffeine": "koffie; kaffe; coffe liqueur; expresso; cappuccino; mocha; flat white; coldbrew; strong tea; tea syrup; "
    "th\xe9 noir; Schwarztee; gr\xfcner Tee; t\xe9 negro; t\xe8 nero; zwarte thee; gunpowder tea; mate; kombucha; pu'er; oolong; "
    "energydrink; Koffein; cafe\xedna; Earl Gray; milk tea",
    "raw_egg": "Eiklar; rauwe eieren; eiwit; \xe6ggehvide; \xe4ggvita; eggehvite; tuorlo; yemas; albumin powder; Eischnee; Vollei; "
    "advocaat; rompope; Eierlik\xf6r; meringue foam; sabayon; eg white",
    "sparkling": "champagner; champange; prosseco; perlwein; pilsner; wheat beer; bi\xe8re; eau gazeuse; Sprudel; espumante; "
    "vin mousseux; petnat; gingerbeer; sodawater; tonicwater; t\xf3nica; effervescent; mit Kohlens\xe4ure; hard cider",
    "hot": "hot chocolate; boiling water; hot black tea; coffee, hot; hot milk; hot cider",
    "dairy": "buttermilk; yoghurt; yogurt cordial; sour cream; cr\xe8me fra\xeeche; whey; Sahne; Milch; lait; leche; panna; ice cream",
}  # fmt: skip


@pytest.mark.parametrize(("code", "name"), [(c, n) for c, names in IN_OTHER_WORDS.items() for n in names.split("; ")])
def test_a_name_of_another_language_or_with_a_slip_warns(code, name):
    assert code in pantry.name_warns(name, "other")


NOT_SO = "eggplant; vanilla bean syrup; quince liqueur; chamomile tea; rooibos tea; grape, fresh; cream of tartar; cream sherry; "
NOT_SO += "oat milk; coconut cream; hot pepper sauce; hot honey; kefir lime; the house gin; graft; ale vinegar; album; bitter orange"


@pytest.mark.parametrize("name", NOT_SO.split("; "))
def test_what_only_looks_so_does_not(name):
    assert pantry.name_warns(name, "other") == ()


def test_every_ingredient_of_ours_says_what_its_name_says():
    assert not [i.name for i in SHELF.values() if not set(pantry.name_warns(i.name, i.kind)) <= set(i.cautions)]


def _own(folder, name, kind, allergens):
    rows = f'id,name,kind,abv_percent,sugar_g_l,citric_g_l,allergens\nzz,"{name}",{kind},0,100,0,{allergens}\n'
    (folder / pantry.OWN_FILE).write_text(rows, encoding="utf-8")
    return pantry.load(folder)


def test_hot_chocolate_of_ones_own_is_shaken_in_no_closed_tin(tmp_path):
    shelf = _own(tmp_path, "hot chocolate", "mixer", "milk")
    drink = Recipe.parse("30 mL aged rum\n120 mL hot chocolate", shelf, technique="shaken")
    assert "hot liquid" in {c.code for c in trial.run(drink, pantry=shelf, draws=0).cautions}


def test_a_syrup_of_yoghurt_is_kept_cold(tmp_path):
    shelf = _own(tmp_path, "yoghurt syrup", "syrup", "milk")
    drink = Recipe.parse("45 mL gin\n30 mL yoghurt syrup", shelf)
    assert "dairy" in {c.code for c in trial.run(drink, pantry=shelf, draws=0).cautions}
    assert storage.spoils(shelf["zz"])
    assert storage.keeping(shelf["zz"], drink.pours[1], False).when == storage.GLASS


@pytest.mark.parametrize("kind", ["spirit", "liqueur"])
def test_a_spirit_washed_with_milk_is_no_milk(kind):
    assert pantry.name_warns("milk-washed gin, cream", kind) == ()


# --- what stands with a drink -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("garnish", "code"),
    [("pink grapefruit wedge", "grapefruit"), ("coffee beans", "caffeine"), ("tonic jelly", "quinine"),
     ("meringue", "raw egg"), ("a scoop of ice cream", "dairy")],
)  # fmt: skip
def test_a_garnish_that_is_in_no_table_warns_by_its_name(garnish, code):
    now = trial.run(Recipe.parse("45 mL gin\n20 mL lemon juice", garnish=garnish), draws=0)
    assert code in {c.code for c in now.cautions}
    assert any(garnish.removeprefix("a ") in name for name in now.unstated)


FIRE, COLD = "flame at the glass", "dry ice"


@pytest.mark.parametrize(
    ("words", "code"),
    [({"garnish": "flamed orange zest"}, FIRE), ({"garnish": "flaming lime shell"}, FIRE), ({"garnish": "sparkler"}, FIRE),
     ({"method": "Float the overproof rum and set it alight."}, FIRE), ({"method": "Torch the meringue."}, FIRE),
     ({"garnish": "lime zest flamb\xe9"}, FIRE), ({"glass_ice": "dry ice"}, COLD), ({"glass_ice": "dry-ice pellet"}, COLD),
     ({"method": "Chill the glass with liquid nitrogen."}, COLD), ({"garnish": "Dry Ice"}, COLD)],
)  # fmt: skip
def test_fire_and_dry_ice_in_the_words_for_a_drink_are_warned_of(words, code):
    """Dry ice is at -78.5 °C, liquid nitrogen at -196 °C (CRC Handbook of Chemistry and Physics, from memory)."""
    now = trial.run(Recipe.parse("45 mL gin\n20 mL lemon juice", **words), draws=0)
    assert [c.code for c in now.cautions if c.code in (FIRE, COLD)] == [code]
    said = next(c.text for c in now.cautions if c.code == code)
    assert any(said in line for line in cards.spec(now).cautions)
    kept = logbook.revive(logbook.snapshot(now))
    assert code in {c.code for c in kept.cautions}


def test_how_cold_it_is_stands_in_the_degrees_chosen():
    now = trial.run(Recipe.parse("45 mL gin", glass_ice="dry ice"), draws=0)
    said = next(c for c in now.cautions if c.code == COLD)
    assert "−78 °C" in Display().say(said)
    assert "°C" not in Display("oz", "°F").say(said)


@pytest.mark.parametrize(
    "words", [{"method": "Stir, strain, express an orange zest."}, {"glass_ice": "dry, cold cubes"}]
)
def test_other_words_are_no_fire(words):
    now = trial.run(Recipe.parse("45 mL gin", **words), draws=0)
    assert not {c.code for c in now.cautions} & {FIRE, COLD}


# --- who tastes -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "line",
    ["Ada can't have mango", "Ada can’t do mango", "Ada cannot eat mango", "Ada never strawberries", "Ada hates kiwi",
     "Ada avoids citrus", "Ada is 17", "Ada doesn't drink", "Ada drives home", "Ada teetotal", "Ada breastfeeding",
     "Ada on antibiotics", "Ada intolerant to mango", "Ada plant-based", "Ada senza uova", "Ada ohne Mango", "Ada under 18",
     "Ada kein Ei", "Ada tonic", "Ada eggwhite", "Ada pamplemousse", 'Ada "mango"', "Ada <mango>", "Ada {mango}", "Ada? mango",
     "Ada•mango", "Ada–mango", "Ada_mango", "Ada → mango", "Ada | mango", "Ada alergia"],
)  # fmt: skip
def test_what_somebody_does_not_take_is_no_part_of_a_name(line):
    """They were seated before it, under that name."""
    with pytest.raises(InputError, match="behind a colon"):
        tasting.read_tasters(line)


@pytest.mark.parametrize(
    "name", ["Jean-Luc O'Neill", "Mary Ann van der Berg", "J. R. Smith", "Ada 2", "Olive", "Sin", "Zoë", "李 雷"]
)
def test_a_name_is_a_name(name):
    assert tasting.read_tasters(name) == (tasting.Taster(name),)
    assert tasting.read_tasters("Ada is on: eggs")[0].name == "Ada is on"


# --- what is typed ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("amount", ["45/50 mL", "15/20 mL", "25/30 mL", "10/12 g"])
def test_two_amounts_are_no_fraction(amount):
    """“45/50 mL” was 0.9 mL."""
    with pytest.raises(InputError, match="one of two"):
        Recipe.parse(f"{amount} gin\n20 mL lemon juice")


@pytest.mark.parametrize(
    ("amount", "parts"), [("7/8", 0.875), ("15/16", 0.9375), ("1/10", 0.1), ("9/10", 0.9), ("1/100", 0.01)]
)
def test_a_fraction_of_a_measure_is_read(amount, parts):
    assert units.read(amount, kinds.VOLUME, "pour") == pytest.approx(parts)


@pytest.mark.parametrize("kind", [kinds.VOLUME, kinds.MASS])
@pytest.mark.parametrize("typed", ["1.000", "2.500"])
def test_thousands_with_a_point_are_asked_about_without_a_unit_too(typed, kind):
    """A recipe asked back for “1.000 mL”, a volume or weight alone took it for one."""
    with pytest.raises(InputError, match="can be read either way"):
        units.read(typed, kind, "amount")
    with pytest.raises(InputError, match="can be read either way"):
        units.read(f"{typed} g", kinds.MASS, "amount")


# --- a page for a target ----------------------------------------------------------------------------------------------


def test_the_page_for_a_target_says_what_the_garnish_and_the_way_bring(tmp_path):
    """It spoke of the bottles alone, and kept the garnish in the drink that it made."""
    sour = "45 mL gin\n20 mL lemon juice\n20 mL sugar syrup\n60 mL tonic water"
    drink = Recipe.parse(sour, technique="shaken", garnish="whole egg, candied walnut, flamed orange zest")
    page = reach.panel(tmp_path, drink)
    for said in ("Raw egg", "candied walnut", "Fire at a glass", "Sparkling liquid in a closed shaker"):
        assert said in page.cautions.value
    row = next(row for row in page.rows.children if row.bottle.id == "tonic_water")
    row.after.value = True
    assert "Sparkling liquid in a closed shaker" not in page.cautions.value
    page.technique.value = "built"
    row.after.value = False
    assert "Sparkling liquid in a closed shaker" not in page.cautions.value


@pytest.mark.parametrize(
    ("melt", "said"), [(-0.0001, "-0.01 %"), (-0.1, "-10 %"), (4, "400 %"), (1e-300 - 0.004, "-0.4 %")]
)
def test_a_refused_melt_is_told_as_it_was(melt, said):
    """It was told as “-0 %”, which is allowed."""
    with pytest.raises(InputError, match=rf"^melt water is {said}; it must be 0 to 300 %"):
        trial.run(Recipe.parse("45 mL gin"), melt=melt)


def test_what_is_beyond_the_stop_limit_is_told_as_more_than_it():
    """“is up to 1 standard drinks; it must be at most the stop limit, 1”."""
    neat = tasting.sample(trial.run(Recipe.parse("60 mL gin", technique="none"), draws=0), "Neat")
    just_over = tasting.portion(neat, neat, "triangle", sip=15)
    assert just_over.rounds == 0
    with pytest.raises(InputError, match=r"is up to 1\.0\d standard drinks; it must be at most the stop limit, 1:"):
        tasting.serving.with_limit(just_over)


@pytest.mark.parametrize(
    ("typed", "value"), [("1.000", None), (" 1.500 ", None), ("1.05", 1.05), ("0.250", 0.25), ("1,5", 1.5)]
)
def test_a_number_beside_a_slider_that_may_be_a_thousand_is_asked_about(typed, value):
    """One millilitre to some, a litre to others; it was taken for 1."""
    dial = Dial("In the bottle", 700.0, 20_000, 1, "mL", lambda _: None)
    dial.number.set_state({"value": typed})
    if value is None:
        assert dial.value == 700
        assert "it can be read either way" in dial.label.value
    else:
        assert dial.value == pytest.approx(value)
