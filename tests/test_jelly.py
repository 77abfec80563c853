"""The lesson on gels without a browser: every control is moved once and its answer read."""

import re

import pytest
from long_run import dozen

from drinklab import demo, gels, logbook
from drinklab.liquid import Liquid
from drinklab.pantry import load
from drinklab.recipe import Recipe
from drinklab.trial import run
from drinklab.workbook.charts import boiling as boiling_charts
from drinklab.workbook.charts import gels as gels_charts
from drinklab.workbook.charts import pictures
from drinklab.workbook.panels import gels as gels_panel

PLACES = ("headline", "order", "words")


@pytest.fixture
def panel(tmp_path):
    """The demo's jelly, set with agar in a larger mould."""
    made = gels_panel.panel(tmp_path)
    made.agent.value, made.mould.value = "agar", "grapefruit half shell"
    return made


@pytest.fixture
def plain(panel):
    panel.choose.value = ("plain", "")
    return panel


def _words(panel):
    return {name: getattr(panel, name).value for name in PLACES} | {"chart": panel.chart.rows}


def _text(place):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", place.value))


def _tile(panel, word):
    """Number and unit of a tile."""
    found = re.search(rf"<small>{word}</small><b>([^<]*)</b>([^<]*)<", panel.headline.value)
    return float(found[1]), found[2].strip()


def _row(place, name):
    return re.findall(r"<td[^>]*>([^<]*)</td>", re.search(rf'<th scope="row">{name}</th>(.*?)</tr>', place.value)[1])


def _agent(panel, name):
    return next(row for row in panel.chart.rows["agents"] if row["agent"] == name)


def test_it_opens_on_the_jelly_of_the_demo(tmp_path):
    panel = gels_panel.panel(tmp_path)
    house = run(demo.settings(load())[gels_panel.HOUSE], draws=0)
    assert panel.problem.value == panel.said.value == ""
    assert panel.made.about.agent == house.steps[0].agent == "gelatin"
    assert panel.made.volume == pytest.approx(house.made.volume, rel=0.01)
    assert panel.made.abv == pytest.approx(house.made.abv, rel=0.01)
    # 15 to 20 g/L for a sliceable jelly of 200 Bloom: common practice, datasets/gels.csv
    assert 1.5 <= _tile(panel, "In each 100 mL")[0] <= 2.0
    assert panel.order.value.count("<li>") == len(panel.made.steps)


@pytest.mark.parametrize(
    ("control", "value"),
    [("agent", "gelatin"), ("firmness", "soft"), ("mould", "cube, 2 cm"), ("mould", "own"), ("mould", ""),
     ("as_needed", True), ("own_ph", True), ("country", "United Kingdom"),
     ("choose", ("demo", "First Frost")), ("choose", ("plain", ""))],
)  # fmt: skip
def test_choices_answer(panel, control, value):
    before = panel.headline.value
    getattr(panel, control).value = value
    assert panel.headline.value != before
    assert panel.problem.value == ""


@pytest.mark.parametrize(("control", "value"), [("volume", 1000.0), ("water", 45.0), ("place", 50.0)])
def test_sliders_answer(panel, control, value):
    before = panel.headline.value
    getattr(panel, control).slider.value = value
    assert panel.headline.value != before
    assert panel.problem.value == ""


def test_plain_liquid_by_strength_and_ph(plain):
    plain.strength.number.value, plain.ph.number.value = 20, 3.0
    assert plain.made.ph == 3.0
    sour = plain.made.dose
    plain.ph.number.value = 6
    assert sour == pytest.approx(1.4 * plain.made.dose)  # datasets/gels.csv: 9 g/kg plain, 13 sour
    assert plain.strength.layout.display is None
    # alcohol is kept: what the water thins is less strong by as much
    assert plain.made.abv == pytest.approx(20 * (1 - plain.water.value / 100), abs=0.4)


def test_the_controls_that_count_are_shown(panel):
    def shown(name):
        return getattr(panel, name).layout.display is None

    assert (shown("strength"), shown("ph"), shown("gelatin"), shown("boil_in")) == (False, False, False, True)
    panel.own_ph.value, panel.agent.value, panel.mould.value = True, "gelatin", "own"
    assert (shown("ph"), shown("gelatin"), shown("boil_in"), shown("mould_volume")) == (True, True, False, True)
    panel.form.value = "gold"
    assert not shown("bloom")


def test_the_water_an_agent_needs_is_added_unless_a_hand_sets_it(plain):
    for abv in (0, 10, 18):
        plain.strength.number.value = abv
        for plain.agent.value in gels.agents():
            for plain.firmness.value in gels.FIRMNESS:
                assert plain.problem.value == ""
                assert plain.made.hold_back == 0
                added = plain.water.value * plain.made.volume / 100
                assert plain.made.water <= added * 1.005 < plain.made.water + 0.025 * plain.made.volume
    plain.water.slider.value = 5
    assert not plain.as_needed.value
    assert plain.made.hold_back > 0
    assert "kept back from the drink" in plain.order.value
    plain.as_needed.value = True
    assert plain.made.hold_back == 0


def test_the_house_recipe_keeps_its_water_and_a_plain_liquid_takes_what_it_needs(panel):
    assert not panel.as_needed.value
    panel.choose.value = ("plain", "")
    assert panel.as_needed.value
    panel.choose.value = ("demo", gels_panel.HOUSE)
    assert not panel.as_needed.value
    # the dial is a share of the drink with its water; the jelly has 1.7 % of gelatin in it besides
    step = demo.settings(load())[gels_panel.HOUSE].steps[0]
    assert panel.made.volume * panel.water.value / 100 == pytest.approx(step.water, rel=0.02)


def test_gelatin_by_bloom_and_by_sheet(panel):
    panel.agent.value = "gelatin"
    usual = panel.made.grams
    panel.bloom.slider.value = 100
    # square root: 200 to 100 Bloom is 1.41 times as much (published conversion table)
    assert panel.made.grams / usual == pytest.approx(1.41, abs=0.005)
    assert "Sheets" not in panel.headline.value
    panel.form.value = "gold"
    assert _tile(panel, "Sheets, gold")[0] == pytest.approx(panel.made.grams / 2, abs=0.06)  # 2 g a sheet
    assert "Soak" in panel.order.value
    panel.fish.value = True
    assert "fish" in _text(panel.cautions).partition("Contains:")[2]
    assert "an allergen to declare" in panel.cautions.value
    panel.agent.value = "agar"  # what was set for gelatin does not count
    assert panel.problem.value == ""
    assert "red seaweed; vegan" in panel.words.value


def test_moulds_known_and_own(panel):
    panel.volume.number.value = 600
    for name, ml in gels.MOULDS.items():
        panel.mould.value = name
        if ml > 600:
            assert "it must be at most what the jelly makes, 600 mL" in panel.problem.value
            continue
        assert _tile(panel, "Pieces")[0] == 600 // ml
        assert _tile(panel, "Left over")[0] == pytest.approx(600 % ml, abs=0.5)
    panel.mould.value = "own"
    panel.mould_volume.number.value = 70
    assert _tile(panel, "Pieces") == (8, "of 70 mL")
    panel.mould.value = ""
    assert "Pieces" not in panel.headline.value
    assert _tile(panel, "Alcohol in all of it")[0] == pytest.approx(panel.made.alcohol, abs=0.06)


def test_the_chart_shows_the_dose_and_what_survives_the_terrace(panel):
    row = _agent(panel, "agar")
    assert [row["agent"] for row in panel.chart.rows["agents"] if row["chosen"]] == ["agar"]
    assert (row["dose"], row["said"]) == (1.379, "1.38 g")
    assert row["soft"] < row["firm"] < row["very"] <= panel.chart.rows["frame"][0]["top"]
    # USP 29: agar congeals at 32 to 39 °C and does not melt below 85; hydrocolloid tables: gelatin melts at 25 to 40
    said = {}
    for celsius in (4, 20, 30, 45, 60):
        panel.place.number.value = celsius
        said[celsius] = {row["agent"]: row["verdict"] for row in panel.chart.rows["agents"]}
        assert panel.chart.rows["place"][0]["t"] == celsius
    assert [words["gelatin"] for words in said.values()] == ["stays set", "stays set", "softens", "melts", "melts"]
    assert {words["agar"] for words in said.values()} == {words["gellan"] for words in said.values()} == {"stays set"}
    assert said[60]["kappa carrageenan"] == "softens"
    panel.agent.value = "gelatin"
    assert "At 60 °C, the room or terrace: gelatin melts." in panel.headline.value


def test_the_chart_marks_an_agent_that_is_too_weak_for_the_drink(plain):
    plain.agent.value, plain.strength.number.value = "gelatin", 30
    assert plain.made.abv > 20
    assert {row["agent"] for row in plain.chart.rows["agents"] if row["said"] == "too strong"} == {
        name for name, about in gels.agents().items() if about.abv_most == 20
    }


def test_the_axis_of_doses_stands_still_but_for_weak_gelatin(plain):
    frames = set()
    for agent in gels.agents():
        for firmness in gels.FIRMNESS:
            plain.agent.value, plain.firmness.value = agent, firmness
            frames.add(plain.chart.rows["frame"][0]["top"])
    assert frames == {3.5}
    plain.agent.value = "gelatin"
    plain.bloom.number.value = 50
    assert plain.chart.rows["frame"][0]["top"] >= _agent(plain, "gelatin")["very"] == 6.0


def test_charts_can_be_drawn(panel):
    panel.more.selected_index = 0
    for chart, rows in ((gels_charts.gel_chart(panel.display), panel.chart.rows),
                        (boiling_charts.boil_chart(), panel.boil_picture.rows)):  # fmt: skip
        svg = pictures.static_svg(chart, **rows)
        assert float(re.search(r'width="([\d.]+)"', svg)[1]) <= 760
        assert "NaN" not in svg
    assert ">1.38 g<" in pictures.static_svg(gels_charts.gel_chart(panel.display), **panel.chart.rows)


def test_cautions_stand_where_they_arise(panel):
    words = _text(panel.cautions)
    assert "Choking" in words
    assert "flame" in words
    assert "Label it with its strength" in words
    panel.mould.value = "shot cup"
    assert "Jelly mini-cups" in panel.cautions.value
    panel.choose.value = ("plain", "")
    panel.strength.number.value, panel.firmness.value, panel.mould.value = 0, "soft", ""
    assert "dl-caution" not in panel.cautions.value


def test_allergens_of_the_bottles_are_declared(panel):
    panel.choose.value = ("demo", "First Frost")  # fino sherry
    assert "sulphites" in panel.cautions.value


# --- what is refused ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("control", "value", "said"),
    [
        ("volume", 0, "Jelly wanted is 0; it must be 1 to 100000 mL."),
        ("volume", -5, "Jelly wanted is -5; it must be 1 to 100000 mL."),
        ("water", 95, "Plain water is 95; it must be 0 to 90 % of the jelly."),
        ("place", 80, "Room or terrace is 80; it must be 0 to 60 °C."),
    ],
)
def test_problems_are_one_sentence_and_the_last_result_stays(panel, control, value, said):
    good = _words(panel)
    dial = getattr(panel, control)
    usual = dial.number.value
    dial.number.value = value
    assert said in panel.problem.value
    assert _words(panel) == good
    dial.number.value = usual
    assert panel.problem.value == ""


@pytest.mark.parametrize(
    ("setting", "said"),
    [
        ({"strength": 120}, "Strength is 120; it must be 0 to 100 % vol."),
        ({"strength": 45}, "it must be at most 20 % vol to set: add about"),
        ({"ph": 19}, "The pH of the mix is 19; it must be 0 to 14."),
        ({"agent": "gelatin", "bloom": 400}, "Bloom is 400; it must be 50 to 300 Bloom."),
        ({"mould": "own", "mould_volume": 0}, "Mould is 0; it must be a number of at least 0.1 mL."),
        ({"boil_in": "drink", "ph": 3.0}, "pH of what the agar is boiled in is 3.0; it must be at least 3.4"),
    ],
)
def test_what_does_not_set_is_said_in_words(plain, setting, said):
    for name, value in setting.items():
        control = getattr(plain, name)
        getattr(control, "number", control).value = value
    assert said.lower() in plain.problem.value.lower()
    assert "dl-stale" in plain.headline._dom_classes
    plain.choose.value = ("demo", "Long Platform, first glass")
    plain.own_ph.value = False
    if not {"bloom", "mould_volume", "boil_in"} & set(setting):
        assert plain.problem.value == ""
        assert "dl-stale" not in plain.headline._dom_classes


def test_every_drink_answers(panel):
    panel.more.selected_index = 0
    for _, key in dozen(panel.choose.options):
        panel.choose.value = key
        assert panel.problem.value == "" or "% vol to set" in panel.problem.value, key
        assert "dl-problem" not in panel.boiled.value, key


def test_a_recipe_handed_in_is_used(tmp_path):
    panel = gels_panel.panel(tmp_path, Recipe.parse("100 mL dry vermouth", name="Vermouth jelly"))
    assert panel.choose.value == ("own", "Vermouth jelly")
    assert panel.as_needed.value
    assert panel.problem.value == ""


# --- units ----------------------------------------------------------------------------------------------


def test_units_change_what_is_shown_and_nothing_else(panel):
    panel.mould.value = "own"
    before = panel.made
    panel.volume_unit.value, panel.temperature_unit.value = "oz", "°F"
    assert panel.made.grams == pytest.approx(before.grams)
    assert panel.made.piece_volume == pytest.approx(before.piece_volume)
    assert panel.made.steps == before.steps
    shown = _text(panel.headline) + _text(panel.order) + _text(panel.words).split("Where the figures")[0]
    assert "°C" not in shown
    # (that a dose is "g in 100 mL" stays: the table of doses is metric, and so are scales)
    assert "mL" not in shown.replace("In each 100 mL", "")
    assert re.search(r"\d\.\d\d oz of cold water", panel.order.value)
    assert "sets at 90 to 113 °F" in panel.order.value  # 32 to 45 °C
    assert panel.chart.rows["place"][0]["t"] == 86
    assert dict(panel.mould.options[1:3]) == {
        "lime half shell: 0.51 oz": "lime half shell", "lemon half shell: 0.85 oz": "lemon half shell",
    }  # fmt: skip
    assert panel.mould.value == "own"
    panel.volume_unit.value, panel.temperature_unit.value = "mL", "°C"
    assert panel.volume.value == pytest.approx(before.volume)
    assert panel.chart.rows["place"][0]["t"] == 30


def test_choices_are_remembered(panel):
    panel.temperature_unit.value, panel.country.value = "°F", "United Kingdom"
    assert logbook.choices(panel.folder)["country"] == "United Kingdom"
    again = gels_panel.panel(panel.folder)
    assert (again.country.value, again.temperature_unit.value) == ("United Kingdom", "°F")
    # 8 g to a UK unit (10 mL of alcohol), 14 g to a US standard drink
    assert again.made.piece_drinks == pytest.approx(again.made.piece_alcohol / 8, rel=0.02)


# --- boiling, and Bloom -----------------------------------------------------------------------------------


def test_boiling_is_worked_out_only_when_it_is_looked_at(panel):
    assert panel.boiled.value == ""
    panel.more.selected_index = 0
    assert "pan holds" in panel.boiled.value


def test_boiled_off_against_the_module_and_what_is_known(plain):
    plain.strength.number.value, plain.more.selected_index = 12, 0
    plain.share.slider.value = 5
    (now,) = plain.boil_picture.rows["now"]
    assert (round(now["abv"], 1), round(now["kept"])) == (9.5, 75)  # docstring of boiling.boil
    assert "<b>9.5 (" in plain.boiled.value
    curve = plain.boil_picture.rows["curve"]
    assert curve[0]["abv"] == pytest.approx(12, abs=0.01)
    assert curve[0]["kept"] == 100
    for name in ("abv", "kept"):
        values = [row[name] for row in curve]
        assert values == sorted(values, reverse=True)
        assert all(row[f"{name}_low"] <= row[name] <= row[f"{name}_high"] for row in curve)
        assert max(values) <= plain.boil_picture.rows["frame"][1][name]
    # by hand: what is kept is strength times weight, and the weight is known (density left out: within 1 %)
    ten = curve[4]
    assert ten["kept"] == pytest.approx(90 * ten["abv"] / 12, rel=0.01)
    assert _row(plain.boiled, "10 %")[1].startswith(f"{ten['kept']:.0f} (")
    assert _row(plain.boiled, "50 %") == ["0.2 % vol or less", "1 % or less"]


def test_the_flash_point_of_the_drink_is_told(plain):
    plain.more.selected_index = 0
    plain.strength.number.value = 40
    # an engineering data page: 26 °C at 40 % and 29 °C at 30 % by mass; 40 % vol is 33.3 % by mass
    assert "over 40 % vol from 28 °C" in plain.boiled.value
    assert "local fire code" in plain.boiled.value
    plain.temperature_unit.value = "°F"
    assert "over 40 % vol from 82 °F" in plain.boiled.value
    plain.strength.number.value = 0
    assert plain.boiled.value == "<p>There is no alcohol in it to boil off.</p>"


def test_boiling_does_not_ask_whether_it_sets(plain):
    plain.more.selected_index = 0
    plain.strength.number.value = 60
    assert "to set" in plain.problem.value
    assert "60.0 % vol, before any water" in plain.boiled.value
    plain.share.number.value = 70
    assert "Share boiled off is 70; it must be 0 to 50 % of the weight." in plain.boiled.value
    assert "dl-stale" in plain.boil_picture._dom_classes
    plain.share.number.value = 20
    assert "pan holds" in plain.boiled.value
    assert "dl-stale" not in plain.boil_picture._dom_classes


def test_bloom_by_both_rules(panel):
    # 10 g of 160 Bloom as 240: square root by a published conversion table, linear by hand
    assert _row(panel.converted, "square root, used on this page") == ["8.16 g"]
    assert _row(panel.converted, "linear, used in some kitchens") == ["6.67 g"]
    assert _row(panel.converted, "silver, about 160 Bloom, 2.5 g each") == ["4.0"]
    panel.from_bloom.slider.value, panel.to_bloom.slider.value = 240, 200
    # a seller's chart of the linear rule: 12 g for 10
    assert _row(panel.converted, "linear, used in some kitchens") == ["12.00 g"]
    panel.grams.number.value = 0
    assert _row(panel.converted, "square root, used on this page") == ["0.00 g"]


@pytest.mark.parametrize(
    ("control", "value", "said"),
    [
        ("from_bloom", 20, "Strength in the recipe is 20; it must be 50 to 300 Bloom."),
        ("to_bloom", 500, "Strength at hand is 500; it must be 50 to 300 Bloom."),
        ("grams", -1, "Grams is -1; it must be a number of at least 0 g."),
    ],
)
def test_bad_blooms_are_one_sentence(panel, control, value, said):
    before = _words(panel)
    getattr(panel, control).number.value = value
    assert said in panel.converted.value
    assert _words(panel) == before


def test_raw_fruit_only_where_the_recipe_has_it(tmp_path):
    """The demo's jelly is of sherry, tea and sugar."""
    panel = gels_panel.panel(tmp_path)
    assert panel.agent.value == "gelatin"
    assert "ineapple" not in panel.words.value
    panel.use(Recipe.parse("60 mL gin\n60 mL pineapple juice", name="tropical", technique="none"))
    assert "Raw pineapple juice keeps gelatin from setting" in panel.words.value
    panel.choose.value = ("plain", "")
    assert "boil such a juice first" in panel.words.value  # nobody says what it is of


@pytest.mark.parametrize("ml", [50, 1000])
def test_the_dose_that_is_said_is_of_the_litre_that_it_sets(ml):
    """Grams over litres: the agar of 1 L of water is its dose (by hand)."""
    made = gels.Set("agar", ph=7.0, water=0).act(Liquid.of(water=ml * 0.9982))
    assert dict(made.said[0].numbers)["grams"] == pytest.approx(1000 * made.added.solids / ml, rel=1e-4)
    jelly = gels.jelly(ml, ph=7.0, water=0)
    assert jelly.dose == pytest.approx(1000 * jelly.grams / ml, rel=1e-4)
