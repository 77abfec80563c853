"""The bench without a browser: every control is moved once and its answer read."""

import re
from pathlib import Path

import pytest
from long_run import dozen
from own_drink import SIGNAL

from drinklab import filtering, logbook, milk, trial, writeup
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.liquid import Liquid
from drinklab.profile import KINDS, TITLES, profile, shown
from drinklab.recipe import Pour, Recipe
from drinklab.workbook.panels import bench as bench_panel
from drinklab.workbook.panels import dilution as dilution_panel


@pytest.fixture
def bench(tmp_path):
    return bench_panel.panel(tmp_path, SIGNAL)


def _dial(bench, name):
    return next(d for d in bench.pours.children if name in d.label.value)


def _figure(bench, word):
    return re.search(rf"<small>{word}</small><b>([^<]*)</b>", bench.headline.value)[1]


def test_it_opens_on_the_demo_drink(tmp_path):
    bench = bench_panel.panel(tmp_path)
    assert bench.trial.recipe.name == "First Frost"
    assert [d.value for d in bench.pours.children] == [55, 30, 20, 15]
    assert _figure(bench, "Strength") == f"{bench.trial.served.profile.abv:.1f}"
    assert bench.problem.value == ""


def test_a_slider_moves_numbers_table_place_and_chart(bench):
    before = bench.headline.value, bench.stages.value, bench.place.value, bench.chart.rows["me"]
    _dial(bench, "rum").slider.value = 60
    after = bench.headline.value, bench.stages.value, bench.place.value, bench.chart.rows["me"]
    assert all(a != b for a, b in zip(before, after, strict=True))
    expected = trial.run(bench.trial.recipe.with_amounts([60, 15, 15, 15, 15, 10]))
    assert bench.trial.served.profile == expected.served.profile
    assert bench.chart.rows["me"][0]["abv"] == pytest.approx(expected.served.profile.abv, abs=0.006)
    assert len(bench.chart.rows["trail"]) == 2


def test_the_glass_is_a_strip_of_its_parts_which_add_up_to_its_weight(bench):
    """Widths are shares of the weight, and the grams are those of the liquid itself; the strip has a text."""
    liquid = bench.trial.served.liquid[0]
    held = bench.trial.served.holds
    assert sum(grams for grams, _ in held.values()) == pytest.approx(liquid.mass, rel=1e-9)
    assert held["alcohol"] == pytest.approx(
        (bench.trial.served.profile.alcohol, bench.trial.served.spread("alcohol")), rel=1e-9
    )
    page = bench.stages.value
    widths = {int(n): float(w) for w, n in re.findall(r'width="([\d.]+)" height="12" class="dl-part-(\d)"', page)}
    for number, word in enumerate(("water", "alcohol", "sugar")):
        assert widths[number] == pytest.approx(100 * held[word][0] / liquid.mass, abs=0.01)
    assert f"Water <b>{held['water'][0]:.0f} ± {held['water'][1]:.0f} g</b>" in page
    said = re.search(r'role="img" aria-label="Shares of the weight: ([^"]*)"', page)[1]
    assert f"water {100 * held['water'][0] / liquid.mass:.0f} %" in said
    assert "gas" not in said, "what is not in it is not named"
    bench.use(Recipe.parse("60 mL water", name="Nothing"))
    assert "Shares of the weight: water 100 %." in bench.stages.value


def test_space_of_the_lessons_is_that_of_the_design_sheet():
    """Gaps and margins of five pixels and more go by the names at the sheet's top."""
    sheet = (Path(bench_panel.__file__).parents[1] / "parts" / "lesson.css").read_text(encoding="utf-8")
    assert re.findall(r"(?:gap|margin|padding)[\w-]*: [^;]*\b(?:[5-9]|\d\d)px", sheet) == []


def test_a_number_can_be_typed(bench):
    _dial(bench, "rum").number.value = 61.25
    assert bench.trial.recipe.pours[0].amount == 61.25


def test_an_echo_from_the_page_moves_nothing(bench):
    """The page rounds a value that the program has set to a step of the slider, and sends that back."""
    bench.use(Recipe.parse("22.2 mL gin\n40 mL tonic water"))
    _dial(bench, "gin").slider.value = 22.0
    assert bench.trial.recipe.pours[0].amount == 22.2
    bench.melt.slider.value = bench.melt.slider.value  # nothing
    assert bench.by_rule.value


def test_melt_water_by_hand_and_back_to_the_rule(bench):
    rule = bench.trial.melt
    bench.melt.slider.value = 80
    assert (bench.by_rule.value, bench.trial.melt) == (False, 0.8)
    assert "set by hand" in bench.stages.value
    bench.by_rule.value = True
    assert bench.trial.melt == pytest.approx(rule)
    assert bench.melt.value == pytest.approx(100 * rule)


@pytest.mark.parametrize(("control", "value"), [("technique", "stirred"), ("serve", "long"), ("tool", "free pour")])
def test_other_controls_answer(bench, control, value):
    if control == "serve":
        bench.technique.value = "built"
    before = bench.stages.value
    getattr(bench, control).value = value
    assert bench.stages.value != before


def test_the_country_changes_the_count_of_drinks_and_nothing_else(bench):
    before = bench.trial.served.profile
    bench.country.value = "United Kingdom"
    assert f"{before.alcohol / 8:.1f} standard drinks (United Kingdom, 8 g each)" in bench.headline.value
    assert bench.trial.served.profile == before


def test_family_redraws_the_range(bench):
    bench.family.value = "highball"
    assert bench.chart.rows["family"][0]["family"] == "highball"
    assert all(row["family"] == "highball" for row in bench.chart.rows["picked"])
    assert "highball family" in bench.place.value


def test_units_change_what_is_shown_and_nothing_else(bench):
    before = bench.trial
    bench.volume_unit.value = "oz"
    assert _dial(bench, "rum").number.value == 1.52
    assert "oz" in bench.headline.value
    assert bench.trial.served == before.served
    bench.temperature_unit.value = "°F"
    assert "68 °F" in bench.stages.value
    bench.volume_unit.value = "mL"
    assert bench.trial.recipe == before.recipe
    assert logbook.choices(bench.folder)["temperature"] == "°F"
    assert bench_panel.panel(bench.folder).temperature_unit.value == "°F"


def test_pin_shows_signed_differences(bench):
    bench.pin_baseline()
    _dial(bench, "lemon").slider.value = 30
    changes = trial.difference(bench.trial, bench.pinned)
    assert changes["acid"] > 0 > changes["abv"]
    assert f"<i>+{changes['acid']:.1f} g/L</i>" in bench.headline.value
    assert f"<i>−{-changes['abv']:.1f} % vol</i>" in bench.headline.value
    assert len(bench.chart.rows["base"]) == 1
    bench.take_pin_off()
    assert "Compared with" not in bench.headline.value
    assert bench.chart.rows["base"] == []


def test_problems_are_one_sentence_and_the_last_result_stays(bench):
    bench.serve_all.value = False
    good = bench.headline.value
    bench.glass.number.value = 390
    assert "Serve size is 390 mL; it must be above 0 and at most" in bench.problem.value
    assert bench.headline.value == good
    bench.glass.number.value = 100
    assert bench.problem.value == ""
    for dial in bench.pours.children:
        dial.slider.value = 0
    assert "Total of the pours is 0; it must be above 0 mL." in bench.problem.value


def test_a_typed_recipe_is_used_or_explained(bench):
    bench.typed.value, bench.typed_name.value = "45 mL ginn", "new"
    bench.typed_use.click()
    assert "did you mean gin?" in bench.problem.value
    assert bench.trial.recipe.name == SIGNAL.name
    bench.typed.value = "45 mL gin, 47 %\ntop 90 mL tonic water"
    bench.typed_use.click()
    assert bench.problem.value == ""
    assert [d.value for d in bench.pours.children] == [45, 90]
    assert "Quinine" in bench.cautions.value


def test_typing_starts_from_what_is_on_the_bench(bench):
    _dial(bench, "rum").slider.value = 50
    bench.typing.selected_index = 0
    assert bench.typed.value.startswith("50 mL aged rum, 50 %")


def test_a_classic_is_not_its_own_neighbour(bench):
    bench.choose.value = ("classic", "Daiquiri")
    assert "Daiquiri, 0.0" not in bench.near.value
    assert bench.near.value.count("<li>") == len(bench.chart.rows["near"]) == 5
    assert [d.unit.value for d in bench.pours.children] == ["mL", "mL", "g"]


def test_every_classic_can_be_put_on_the_bench(bench):
    for recipe in dozen(bench.known):
        bench.use(recipe)
        assert bench.problem.value == "", recipe.name
        assert bench.trial.recipe.amounts == pytest.approx(recipe.amounts)


def test_save_reopen_and_write_up(bench):
    _dial(bench, "rum").slider.value = 52
    bench.title.value = "Sour <b>two</b>"
    bench.note.value = "rounder"
    bench.save_button.click()
    assert "Saved as trials" in bench.said.value
    label, key = next(o for o in bench.choose.options if o[1] and o[1][0] == "saved")
    assert "Sour <b>two</b>" in label
    bench.choose.value = ("demo", "Long Platform, first glass")
    bench.choose.value = key
    assert bench.trial.recipe.pours[0].amount == 52
    assert bench.title.value == "Sour <b>two</b>"
    bench.write_button.click()
    assert "Written:" in bench.said.value
    (page,) = (bench.folder / "writeups").glob("*.html")
    assert writeup.read(page).pours == bench.trial.recipe.pours
    assert "<b>two</b>" not in page.read_text(encoding="utf-8")
    bench.try_button.click()
    (page,) = (bench.folder / "pages").glob("*_what-if_*.html")
    assert str(page.relative_to(bench.folder)) in bench.said.value
    assert "<b>two</b>" not in page.read_text(encoding="utf-8")


def test_a_saved_trial_keeps_what_was_done_after_the_ice(bench):
    steps = [milk.MilkWash(share=0.25), filtering.Filter()]
    batch = bench._demo["Clear Line"].recipe.scaled(4)
    washed = trial.run(batch, pantry=bench.shelf, melt=0, steps=steps, serve_volume=150)
    bench._use_saved(logbook.save(washed, bench.folder))
    assert bench.problem.value == ""
    assert bench.trial.stages == washed.stages
    assert [row.base for row in bench.next.rows] == steps
    assert "milk-washed" in bench.stages.value
    assert "milk" in bench.cautions.value
    bench.save()
    again = logbook.entries(bench.folder)[0][0]
    assert logbook.load(again.path).stages == washed.stages
    for row in tuple(bench.next.rows):
        row.remove.click()
    assert [s.name for s in bench.trial.stages] == ["mixed", "served"]
    bench.choose.value = ("demo", "Long Platform, first glass")
    assert bench.next.rows == []


def test_what_people_type_is_escaped_on_the_page(bench):
    bench.typed.value = "45 mL <script>alert(1)</script>"
    bench.typed_use.click()
    assert "<script>" not in bench.problem.value


def test_a_damaged_own_file_is_said_and_the_bench_still_opens(tmp_path):
    (tmp_path / "my_ingredients.csv").write_text("id,name,kind,abv_percent,sugar_g_l\ngin,gin,spirit,400,0\n")
    bench = bench_panel.panel(tmp_path)
    assert "my_ingredients.csv, line 2" in bench.own_file.said.value
    assert bench.trial is not None


def test_figures_on_the_page_are_those_of_the_profile(bench):
    for figure in ("abv", "sugar", "acid", "volume", "alcohol"):
        word = TITLES[figure]
        value = getattr(bench.trial.served.profile, figure)
        shown = float(_figure(bench, word))
        assert shown == pytest.approx(value, abs=0.51 if KINDS[figure].label in ("mL", "g/L") else 0.051)


def test_a_ratio_as_uncertain_as_itself_is_not_shown():
    drink = profile(Liquid.of(water=60, ethanol=20, sucrose=10, citric=1))
    ratio = drink.sugar_to_acid
    assert shown(drink, "sugar_to_acid", Display(), 0.9 * ratio)[0] == f"{ratio:.1f}"
    assert shown(drink, "sugar_to_acid", Display(), ratio) == ("not known well enough", "", "")


def test_own_ice_replaces_the_rule_and_both_are_shown(bench):
    rule = bench.trial.melt
    bench.chilling.dials["ice"].slider.value = 60
    assert bench.own_ice.value
    assert bench.trial.ice.ice == 60
    assert bench.trial.melt < rule
    assert f"usual for this method: {100 * rule:.0f} %" in bench.stages.value
    assert "It leaves the ice at about" in bench.stages.value
    bench.chilling.dials["ice_temperature"].slider.value = -18
    assert bench.trial.ice.ice_temperature == -18
    bench.temperature_unit.value = "°F"
    assert bench.chilling.dials["ice_temperature"].value == pytest.approx(-0.4)
    assert bench.trial.ice.ice_temperature == pytest.approx(-18)
    bench.chilling.dials["ice_temperature"].number.value = 40
    assert "Ice_temperature is 40 °F; it must be −76 to 32 °F" in bench.problem.value
    bench.chilling.dials["ice_temperature"].number.value = 32
    bench.chilling.dials["seconds"].slider.value = 20
    bench.chilling.size.value = "crushed"
    saved = bench.trial
    bench.save()
    key = next(value for label, value in bench.choose.options if value and value[0] == "saved")
    bench.choose.value = ("demo", "Long Platform, first glass")
    assert not bench.own_ice.value
    bench.choose.value = key
    assert bench.trial.ice == saved.ice
    bench.own_ice.value = False
    assert bench.trial.melt == pytest.approx(rule)
    bench.own_ice.value = True
    bench.by_rule.value = False
    bench.by_rule.value = True
    assert not bench.own_ice.value


@pytest.mark.parametrize(
    "text", ["100 mL water\n400 g white sugar", "60 mL overproof white rum", "45 mL gin, 99.9 %\n400 g white sugar"]
)
def test_a_new_drink_that_cannot_be_made_is_said_and_not_kept(bench, text):
    """The figures on the page are then another drink's: pale, and never saved under the new name."""
    bench.technique.value = "shaken"
    bench.typed.value, bench.typed_name.value = text, "shot"
    bench.typed_use.click()
    assert "The pale figures are of the last good drink" in bench.problem.value
    assert "dl-stale" in bench.headline._dom_classes
    for act in (bench.save, bench.write_up, bench.pin_baseline):
        act()
        assert "mended first" in bench.said.value
    assert not list(bench.folder.rglob("*.json"))  # nor put in hand
    assert not list(bench.folder.rglob("*.html"))
    assert bench.pinned is None
    bench.choose.value = ("classic", "Daiquiri")
    assert bench.problem.value == ""
    assert "dl-stale" not in bench.headline._dom_classes


def test_the_same_drink_can_be_chosen_again(bench):
    for _ in range(2):
        bench.choose.value = ("classic", "Negroni")
        assert [d.value for d in bench.pours.children] == [30, 30, 30]
        bench.pours.children[0].slider.value = 50


def test_a_saved_trial_outlives_its_ingredient(bench):
    own = bench.folder / "my_ingredients.csv"
    own.write_text("id,name,kind,abv_percent,sugar_g_l\nshrub,plum shrub,syrup,0,400\n", encoding="utf-8")
    first = bench_panel.panel(bench.folder)
    first.typed.value, first.typed_name.value = "45 mL gin\n20 mL plum shrub\n10 mL lemon juice", "Plum"
    first.typed_use.click()
    first.note.value = "too sweet"
    first.save()
    own.unlink()
    later = bench_panel.panel(bench.folder)
    later.choose.value = next(value for _, value in later.choose.options if value and value[0] == "saved")
    assert later.problem.value == ""
    assert later.trial.served == first.trial.served
    assert later.note.value == "too sweet"
    later.pours.children[2].slider.value = 20
    assert later.trial.recipe.amounts.tolist() == [45, 20, 20]
    later.choose.value = ("demo", "Long Platform, first glass")
    assert later.note.value == ""


def test_a_refused_recipe_leaves_the_bench_whole(bench):
    with pytest.raises(InputError, match="ingredient"):
        bench.use(Recipe("odd", (Pour("no_such_thing", 30.0), Pour("gin", 30.0))))
    assert len(bench.pours.children) == len(bench.trial.recipe.pours) == 6
    bench.pours.children[5].slider.value = 20
    assert bench.trial.recipe.pours[5].amount == 20


def test_moving_the_serve_size_takes_it_up(bench):
    bench.glass.slider.value = 120
    assert not bench.serve_all.value
    assert bench.trial.served.profile.volume == pytest.approx(120)


def test_a_number_below_zero_is_said_and_not_cut(bench):
    _dial(bench, "rum").number.value = -3
    assert "is -3; it must be" in bench.problem.value
    _dial(bench, "rum").number.value = 45
    assert bench.problem.value == ""
    bench.melt.number.value = 1000
    assert "Melt water is 1000 %; it must be 0 to 300 % of the drink before ice" in bench.problem.value


def test_a_button_says_what_it_does_and_ends_in_a_link(bench, tmp_path):
    seen = []
    bench.save_button.observe(lambda change: seen.append(change["new"]), "description")
    bench.save_button.click()
    assert seen == ["Saving …", "Save"]
    assert not bench.save_button.disabled
    assert "Saved as " in bench.said.value
    (tmp_path / ".drinklab").mkdir()  # as the launcher leaves it: then JupyterLab serves the folder
    bench.save_button.click()
    assert '<a href="/files/trials/' in bench.said.value


def test_units_are_chosen_once_for_all_pages_of_a_folder(bench):
    """Another page takes over what was chosen here, says it in its line, and asks for nothing again."""
    other = dilution_panel.panel(bench.folder)
    assert other.shown_in.titles == ("Shown in mL, °C: change",)
    bench.volume_unit.value = "oz"
    other.units.look()
    assert other.display.volume == "oz"
    assert other.shown_in.titles == ("Shown in oz, °C: change",)
    other.temperature_unit.value = "°F"
    bench.units.look()
    assert bench.display == Display("oz", "°F")
    assert bench.settings.titles == ("Shown in oz, °F, jigger, United States: change",)


def test_a_page_that_follows_writes_nothing(bench, monkeypatch):
    """A slow page would else bring back what a hand has changed since, and its own country and tool with it."""
    other = dilution_panel.panel(bench.folder)
    logbook.save_choices(bench.folder, temperature="°F", volume="oz", country="Canada")
    monkeypatch.setattr(logbook, "save_choices", lambda *_, **more: pytest.fail(f"written: {more}"))
    for page in (bench, other):
        page.units.look()
        assert page.display == Display("oz", "°F")
    assert logbook.choices(bench.folder)["country"] == "Canada"
