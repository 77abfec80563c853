"""Cautions and allergens stand on every panel that handles the drink, and in what functions return.

The words of allergens: Regulation (EU) 1169/2011, annex II. Which style holds what: the source beside each row of
datasets/ingredients.csv.
"""

import json
import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from all_panels import NO_DRINK, PANELS, charts, words
from own_drink import SIGNAL

from drinklab import gels, logbook, prep, reach, whatif, writeup
from drinklab.boiling import Boil
from drinklab.declared import LABELS, Declared, declared, of_recipe
from drinklab.errors import InputError
from drinklab.gels import Set
from drinklab.milk import MilkWash
from drinklab.pantry import Pantry, load
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.steps import Rest
from drinklab.trial import run
from drinklab.workbook.panels import balance as balance_panel
from drinklab.workbook.panels import filtering as filtering_panel
from drinklab.workbook.panels import schedule as schedule_panel

# What it brings, the bottle, and what the page must say of it.
KINDS = {
    "grapefruit": ("grapefruit juice", "Grapefruit can change how some medicines work"),
    "caffeine": ("cold black tea", "Caffeine: name it on the menu"),
    "quinine": ("tonic water", "Quinine: name it on the menu"),
    "nuts": ("orgeat", "nuts (almond)"),
    "milk": ("light cream", "milk"),
    "egg": ("egg white", "eggs"),
    "sulphites": ("fino sherry", "sulphites"),
    "overproof": ("rum_overproof_white", "Overproof spirit burns easily"),
    "traces": ("falernum", "May contain: nuts (almond)"),
}


def _drink(kind: str) -> Recipe:
    text = f"45 mL gin\n20 mL lemon juice\n15 mL sugar syrup\n30 mL {KINDS[kind][0]}"
    return Recipe.parse(text, name="one of each", technique="shaken")


@pytest.fixture(scope="module", params=[name for name in PANELS if name not in NO_DRINK])
def panel(request, tmp_path_factory):
    return PANELS[request.param](tmp_path_factory.mktemp("bar"))


@pytest.mark.parametrize("kind", KINDS)
def test_each_panel_says_what_the_drink_brings(panel, kind):
    panel.use(_drink(kind))
    own = "May contain: fish, "  # of the jelly's gelatin
    said = panel.cautions.value.replace(own, "May contain: ")
    assert KINDS[kind][1] in said
    assert LABELS in said
    assert KINDS[kind][1] in words(panel).replace(own, "May contain: ")
    assert "dl-stale" not in panel.cautions._dom_classes
    for other, (_, sentence) in KINDS.items():
        if (
            other in {"grapefruit", "quinine", "caffeine", "nuts"} - {kind}
            and kind != "traces"
            and not hasattr(panel, "other")
        ):
            assert sentence not in said, f"{other} of an earlier drink"


def test_it_is_said_also_where_there_is_no_answer(panel):
    strong = Recipe.parse("60 mL rum_overproof_white\n10 mL egg white", name="too strong", technique="shaken")
    panel.use(strong)  # the rule for melt water ends below it, on most panels
    assert "eggs" in panel.cautions.value
    assert "Overproof" in panel.cautions.value


def test_both_of_a_pair_are_told_apart(tmp_path):
    a = Recipe.parse("60 mL gin\n30 mL orgeat", name="A one")
    b = Recipe.parse("60 mL gin\n30 mL lemon juice\n30 mL egg white\n20 mL sugar syrup", name="B one")
    said = balance_panel.versus(tmp_path, a, b).cautions.value
    first, second = said.split("B, B one")
    assert "nuts (almond)" in first
    assert "nuts" not in second
    assert "eggs" in second
    assert "eggs" not in first


def test_a_bottle_on_hand_counts_for_a_target(tmp_path):
    panel = PANELS["target"](tmp_path)
    assert "hazelnut" not in panel.cautions.value
    panel.new_name.value = "hazelnut liqueur"
    panel.add_button.click()
    assert "nuts (hazelnut)" in panel.cautions.value


def test_a_pour_of_nothing_brings_nothing(tmp_path):
    panel = PANELS["drink"](tmp_path)
    panel.use(_drink("nuts"))
    panel.pours.children[3].slider.value = 0
    assert "nuts" not in panel.cautions.value
    panel.pours.children[3].number.value = 1
    assert "nuts (almond)" in panel.cautions.value


def test_what_is_made_ahead(tmp_path):
    panel = PANELS["prep"](tmp_path)
    panel.juice.juice.value = "grapefruit_juice"
    assert "Grapefruit can change" in panel.juice.cautions.value
    panel.juice.volume.number.value = 0  # no answer
    assert "Grapefruit can change" in panel.juice.cautions.value
    panel.syrup.sugar.value = "orgeat"
    assert "nuts (almond)" in panel.syrup.cautions.value
    panel.syrup.sugar.value = "lactose"
    assert "Contains: milk." in panel.syrup.cautions.value
    panel.syrup.sugar.value = "white sugar"
    assert panel.syrup.cautions.value == ""


def test_the_day_speaks_of_milk_only_where_the_drink_has_it(tmp_path):
    panel = PANELS["day"](tmp_path)
    panel.use(Setting(_drink("nuts"), steps=[Rest()]))
    assert "nuts (almond)" in panel.cautions.value
    assert "Dairy" not in panel.cautions.value
    panel.use(Setting(_drink("nuts"), steps=[MilkWash(milk="skimmed cow's milk")]))
    assert "nuts (almond), milk" in panel.cautions.value
    assert "Dairy" in panel.cautions.value


@pytest.mark.parametrize("name", ["filtering", "day"])
def test_what_goes_on_from_a_wash_says_what_is_in_it_also_where_it_is_refused(tmp_path, name):
    wash = PANELS["wash"](tmp_path)
    panel = {"filtering": filtering_panel, "day": schedule_panel}[name].panel(tmp_path, wash=wash)
    assert "milk" in panel.cautions.value
    wash.use(Recipe.parse("60 mL rum_overproof_white\n10 mL egg white\n20 mL orgeat", technique="shaken"))
    wash.share.number.value = 40
    for said in (wash, panel):
        assert wash.problem.value
        for said_of in ("eggs, nuts (almond), milk", "Overproof", "Dairy"):
            assert said_of in unescape(said.cautions.value), type(said)


def test_the_cautions_of_a_jelly_do_not_wait_for_its_sums(tmp_path):
    """Cautions of what is set or boiled: the sources beside each in gels.py."""
    too_strong = Recipe.parse("60 mL gin, 60 %\n10 mL orgeat", name="too strong", technique="none")
    setting = Setting(too_strong, steps=[Set("gelatin", "firm", fish=True)])
    with pytest.raises(InputError, match="strength of the gelatin jelly"):
        run(setting)
    told = declared(*setting.brings(load()))
    assert {"choking", "gelatin", "flame", "strong jelly", "overproof"} == {c.code for c in told.cautions}
    assert "fish" in told.allergens
    still = Setting(Recipe.parse("60 mL orange juice"), steps=[Set("agar", "soft"), Boil(0.1)])
    assert declared(*still.brings(load())).cautions == ()
    boiled = replace(setting, steps=[Boil(0.1)])
    assert "flame" in [c.code for c in declared(*boiled.brings(load())).cautions]

    panel = PANELS["jelly"](tmp_path)
    panel.agent.value = "gelatin"
    panel.use(too_strong)
    assert "Strength of the gelatin jelly" in panel.problem.value
    for told in ("Choking", "Fire", "A jelly looks harmless", "Gelatin is made of"):
        assert told in panel.cautions.value
    panel.agent.value = "agar"  # too strong as well, and of no animal
    assert panel.problem.value
    assert "Gelatin is made of" not in panel.cautions.value
    assert "Choking" in panel.cautions.value


# --- what functions return -----------------------------------------------------------------------------


def test_functions_return_it():
    shelf = load()
    nutty = _drink("nuts")
    nuts = ("nuts (almond)",)
    assert of_recipe(nutty, shelf).allergens == nuts
    assert whatif.variation(nutty, 200).declared.allergens == nuts
    assert whatif.sweep(nutty, 0, 1, (30, 60), (10, 30), points=3).declared.allergens == nuts
    found = reach.reach({"abv": 18, "sugar": 80}, ["gin", "orgeat", "lemon juice"], technique="shaken")
    assert all(("nuts (almond)" in a.declared.allergens) == ("orgeat" in str(a.recipe.pours)) for a in found)
    assert [c.code for c in prep.adjust("grapefruit juice", "lemon juice").declared.cautions] == ["grapefruit"]
    assert prep.syrup(50, "orgeat", mass=100).declared.allergens == nuts
    assert prep.syrup(15, "lactose", mass=100).declared.allergens == ("milk",)
    assert prep.syrup(50, "sugar", mass=100).declared == Declared()
    jelly = gels.measured(gels.agar("500 mL", water=150), _drink("grapefruit"), shelf)
    assert "grapefruit" in [c.code for c in jelly.cautions]
    made = gels.measured(gels.jelly("500 mL", "agar", abv=5), _drink("sulphites"), shelf)
    assert made.allergens == ("sulphites",)
    traces = gels.measured(gels.jelly("500 mL", "agar", abv=5), _drink("traces"), shelf)
    assert traces.may_contain == nuts


def test_each_thing_is_said_once():
    shelf = load()
    said = declared(shelf["orgeat"], shelf["falernum"], shelf["milk_whole"], shelf["cream_heavy"])
    assert said.allergens == ("nuts (almond)", "milk")
    assert said.may_contain == ()
    assert [c.code for c in said.cautions] == ["dairy"]


def test_gas_in_a_closed_tin_is_said_of_the_drink_that_has_it(tmp_path):
    tin = Recipe.parse("45 mL gin\n60 mL soda water", name="tin", technique="shaken")
    still = Recipe.parse("45 mL gin\n15 mL lemon juice", name="still", technique="shaken")
    first, second = balance_panel.versus(tmp_path, still, tin).cautions.value.split("B, tin")
    code = next(c for c in of_recipe(tin, load()).cautions if c.code == "sparkling, closed")
    assert code.text[:30] in second
    assert code.text[:30] not in first


# --- what nobody has stated, and what came with somebody's trial ----------------------------------------
OWN = "id,name,kind,abv_percent,sugar_g_l\nours,house orgeat,syrup,0,600\n"
NOT_STATED = "Allergens of 'house orgeat' are not stated, nor whether caffeine, quinine or grapefruit is in it: ask who makes it."
HOUSE = "45 mL gin\n20 mL lemon juice\n15 mL sugar syrup\n30 mL house orgeat"


@pytest.fixture(scope="module")
def own_folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("own")
    (folder / "my_ingredients.csv").write_text(OWN, encoding="utf-8")
    return folder


@pytest.mark.parametrize("name", [name for name in PANELS if name not in NO_DRINK])
def test_each_panel_says_whose_allergens_nobody_has_stated(name, tmp_path):
    (tmp_path / "my_ingredients.csv").write_text(OWN, encoding="utf-8")  # a folder each: the bench puts it in hand
    panel = PANELS[name](tmp_path)
    assert "not stated" not in panel.cautions.value
    panel.use(Recipe.parse(HOUSE, panel.shelf, name="house", technique="shaken"))
    assert NOT_STATED in words(panel)


def test_functions_and_write_ups_say_it_too(own_folder):
    shelf = load(own_folder)
    drink = Recipe.parse(HOUSE, shelf, name="house", technique="shaken")
    done = run(drink, pantry=shelf, draws=0)
    assert done.unstated == ("house orgeat",)
    assert declared(done).said()[-1].text == NOT_STATED
    assert whatif.variation(drink, 200, pantry=shelf).declared.unstated == ("house orgeat",)
    assert prep.syrup(40, "house orgeat", mass=100, pantry=shelf).declared.unstated == ("house orgeat",)
    assert gels.measured(gels.jelly("500 mL", "agar", abv=5), drink, shelf).unstated == ("house orgeat",)
    assert unescape(writeup.html(done)).count(NOT_STATED) == 1
    assert NOT_STATED in writeup.markdown(done)
    again = writeup.rerun(writeup.html(done))
    assert again.unstated == ("house orgeat",)
    assert "not stated" not in writeup.html(run(_drink("nuts"), draws=0))


def _saved_by_a_stranger(folder, **changed) -> str:
    """A trial with an egg white of an id of its own, without a warning; the key of the list of drinks."""
    theirs = replace(load()["egg_white"], allergens=(), may_contain=(), cautions=(), **{"id": "ew", **changed})
    text = f"45 mL gin\n20 mL lemon juice\n20 mL sugar syrup\n30 mL {theirs.name}"
    shelf = Pantry([*load().values(), theirs], own=[theirs.id]) if theirs.id not in load() else None
    shelf = shelf or load().with_items([theirs])
    drink = Recipe.parse(text, shelf, name="theirs", technique="shaken")
    drink = replace(drink, pours=(*drink.pours[:3], replace(drink.pours[3], ingredient=theirs.id)))
    return "saved", str(logbook.save(run(drink, pantry=shelf, draws=0), folder))


@pytest.mark.parametrize("name", [name for name in PANELS if name not in NO_DRINK])
def test_a_strangers_egg_white_hides_no_egg_and_takes_no_name(name, tmp_path):
    key = _saved_by_a_stranger(tmp_path)
    panel = PANELS[name](tmp_path)
    panel.use(SIGNAL)
    assert "eggs" not in panel.cautions.value
    panel.choose.value = key
    assert panel.problem.value == ""
    assert "Contains: eggs" in panel.cautions.value
    assert "Raw egg" in panel.cautions.value
    assert panel.shelf.find("egg white").id == "egg_white"
    assert panel.shelf["ew"].name.endswith("(as saved)")
    # Written out and read again it is still theirs.
    drink = panel._recipe
    assert Recipe.parse(drink.text(panel.shelf), panel.shelf).pours[3].ingredient == "ew"


@pytest.mark.parametrize("changed", [
    {"id": "cream"}, {"id": "egg white"}, {"name": "cream liqueur, 17 %"}, {"name": "whole egg", "kind": "other"},
    {"name": "Egg\u00a0 WHITE"}, {"id": "gin", "name": "gin"},
])  # fmt: skip
def test_no_saved_name_or_id_stands_for_ours(changed):
    theirs = replace(load()["vodka"], **{"id": "x", **changed})
    shelf, _ = load().with_saved([theirs])
    for word in ("cream", "egg white", "cream liqueur, 17 %", "whole egg", "gin", "egg_white", theirs.name):
        try:
            ours = load().find(word)
        except InputError:
            continue
        assert shelf.find(word) == ours


def test_what_a_colleague_knows_more_of_ours_is_shown(tmp_path):
    theirs = replace(load()["honey_syrup"], allergens=("celery",), cautions=("caffeine",))
    drink = Recipe.parse("45 mL gin\n20 mL lemon juice\n20 mL honey syrup", name="theirs", technique="shaken")
    key = "saved", str(logbook.save(run(drink, pantry=load().with_items([theirs]), draws=0), tmp_path))
    for name in ("bench", "ice", "drink"):
        panel = PANELS[name](tmp_path)
        panel.choose.value = key
        assert "Contains: celery" in panel.cautions.value
        assert "Caffeine" in panel.cautions.value
        assert panel.shelf.find("honey syrup").sugar == load()["honey_syrup"].sugar
    # On the bench it is said of that trial alone.
    bench = PANELS["bench"](tmp_path)
    bench.choose.value = key
    bench.use(drink)
    assert "celery" in bench.cautions.value
    bench.choose.value = ("demo", "First Frost")
    assert "celery" not in bench.cautions.value


def test_a_row_of_ones_own_stays_ones_own_beside_a_saved_one(tmp_path):
    (tmp_path / "my_ingredients.csv").write_text("id,name,kind,abv_percent,sugar_g_l\new,egg white,egg,0,7\n")
    theirs = replace(load()["egg_white"], sugar=1.0, solutes={"sucrose": 1.0})
    shelf, _ = load(tmp_path).with_saved([theirs])
    assert shelf.find("egg white").id == "ew"
    assert shelf["egg_white"].sugar == load()["egg_white"].sugar
    shelf, _ = load(tmp_path).with_saved([replace(theirs, id="ew", name="egg white", allergens=("milk",))])
    assert (shelf["ew"].sugar, shelf["ew"].allergens) == (7, ("eggs", "milk"))


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("allergens", ["nutz"], "did you mean nuts"),
        ("may_contain", ["none"], "may_contain of the ingredient 'egg_white' is 'none'"),
        ("allergens", ["milk; nuts"], "allergens of the ingredient 'egg_white' is 'milk; nuts'"),
        ("cautions", ["raw egg"], "did you mean raw_egg"),
        ("cautions", [7], "cautions of the ingredient 'egg_white' is 7"),
        ("kind", "eggs", "kind of the ingredient 'egg_white' is 'eggs'"),
        ("kind", None, "kind of the ingredient 'egg_white' is a NoneType"),
        ("stated", "yes", "stated of the ingredient 'egg_white' is str"),
    ],
)
def test_a_saved_warning_is_one_of_the_lists(field, value, said, tmp_path):
    _, path = _saved_by_a_stranger(tmp_path, id="egg_white")
    data = json.loads(Path(path).read_text(encoding="utf-8"))
    data["ingredients"]["egg_white"][field] = value
    Path(path).write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        logbook.load(path)
    assert said in str(caught.value)
    assert Path(path).name in str(caught.value)


def test_two_saved_bottles_of_one_id_are_not_mixed_up(tmp_path):
    keys = []
    for sugar in (300.0, 500.0):
        hay = replace(load()["honey_syrup"], id="hay", name="hay syrup", sugar=sugar, solutes={"sucrose": sugar})
        shelf = load().with_items([hay])
        drink = Recipe.parse("45 mL gin\n20 mL lemon juice\n20 mL hay syrup", shelf, name=f"{sugar}")
        keys.append(("saved", str(logbook.save(run(drink, pantry=shelf, draws=0), tmp_path))))
    panel = PANELS["ice"](tmp_path)
    for key, sugar in zip(keys, (300, 500), strict=True):
        panel.choose.value = key
        assert panel.shelf["hay"].sugar == sugar
    pair = PANELS["versus"](tmp_path)
    pair.choose.value = keys[0]
    assert pair.problem.value == ""
    pair.other.value = keys[1]
    assert "not what it is in A" in pair.problem.value
    pair.other.value = keys[0]
    assert pair.problem.value == ""


def test_a_page_says_once_to_check_the_labels_where_there_is_no_more_to_say(tmp_path):
    """With nothing to unfold, the sentence is the whole of it: it stood in the line and under it."""
    assert words(PANELS["prep"](tmp_path)).count(LABELS) == 1


@pytest.mark.parametrize("name", ["ice", "sweep", "jelly"])
def test_a_panel_speaks_of_figures_not_of_rules(name, tmp_path):
    """The word belongs to laws and codes: what is usual is a figure."""
    panel = PANELS[name](tmp_path)
    said = words(panel) + " ".join(chart.spec["description"] for chart in charts(panel))
    assert re.findall(r"\b[Rr]ules?\b(?! of)", said.replace("licensing rules", "")) == []
