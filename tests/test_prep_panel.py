"""The panel of what is made ahead without a browser: every control is moved once and its answer read."""

import re
from itertools import pairwise

import pytest

from drinklab import logbook, pantry
from drinklab import prep as module
from drinklab.declared import Declared
from drinklab.liquid import Liquid
from drinklab.prep import ACID_SOLUBILITY, LEMON_AT_THE_BAR, SUGARS_TO_WEIGH
from drinklab.workbook.charts import prep as prep_charts
from drinklab.workbook.charts.pictures import static_svg
from drinklab.workbook.panels import prep as prep_panel

SHELF = pantry.load()


@pytest.fixture
def panel(tmp_path):
    return prep_panel.panel(tmp_path)


def _text(place):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", place.value)).replace("&#39;", "'")


def _tile(section, word):
    number, unit = re.search(rf"<small>{word}</small><b>([^<]*)</b>([^<]*)</div>", section.figures.value).groups()
    return float(number), " ".join(unit.split())


def _row(section, name):
    return re.findall(
        r"<td[^>]*>([^<]*)</td>", re.search(rf'<th scope="row">{name}(.*?)</tr>', section.figures.value)[1]
    )


def _words(section):
    chart = section.chart.rows if isinstance(section, prep_panel.JuiceSection) else None
    return section.figures.value, section.notes.value, chart


def _all(panel):
    return [_words(section) for section in panel.sections]


def test_it_opens_without_a_problem_and_each_section_has_its_own_place_for_one(panel):
    assert panel.said.value == ""
    assert [section.problem.value for section in panel.sections] == [""] * 4
    assert len({id(section.problem) for section in panel.sections}) == 4


# --- juice ----------------------------------------------------------------------------------------------


def test_orange_to_lemon_shows_what_the_module_finds(panel):
    found = module.adjust("orange juice", "lemon juice")
    assert _tile(panel.juice, "Add citric acid") == (round(found.acids["citric"], 1), "g")
    assert _tile(panel.juice, "Add malic acid") == (round(found.acids["malic"], 2), "g")
    assert _tile(panel.juice, "Makes") == (round(found.volume), "mL")
    assert "1000 mL of orange juice, fresh" in _text(panel.juice.figures)
    assert found.to in _text(panel.juice.figures)  # which lemon it was: citric acid 48, malic acid 2 g/L
    assert _row(panel.juice, "titratable acidity") == ["6.1 g/L", "48 g/L", "48 g/L"]
    assert _row(panel.juice, "sugar")[2] == f"{SHELF['lemon_juice'].sugar:.0f} g/L"
    assert _row(panel.juice, "volume")[:2] == ["1000 mL", f"{found.volume:.0f} mL"]
    before, after, lemon = (float(cell.split(" ± ")[0]) for cell in _row(panel.juice, "pH"))
    assert before > after > lemon
    assert 2.0 <= lemon <= 2.6  # lemon juice in the FDA's list of the pH of foods (read)


def test_the_lemon_of_the_bar_by_hand(panel):
    """6.1 g/L to 60 in a litre that the acid swells by 0.6 mL a gram: (60 - 6.1) / (1 - 0.0006 * 60) = 55.9 g."""
    panel.juice.acids.choose.value = "citric"
    usual, _ = _tile(panel.juice, "Add citric acid")
    panel.juice.aim.value = ("lemon_juice", "bar")
    grams, _ = _tile(panel.juice, "Add citric acid")
    assert grams == pytest.approx(55.9, abs=0.5)
    assert grams > usual
    assert "citric acid 60" in _text(panel.juice.figures)
    assert "60 g/L: common practice, no published source" in _text(panel.juice.notes)
    assert len(_row(panel.juice, "sugar")) == 2  # no juice of the pantry stands beside it


@pytest.mark.parametrize(
    ("aim", "dial", "value", "asked"),
    [
        (("lemon_juice", "own"), "citric", 55.0, {"to": "lemon juice", "citric": 55}),
        (("lime_juice", "own"), "citric", 55.0, {"to": "lime juice", "citric": 55}),
        (("lime_juice", "pantry"), None, None, {"to": "lime juice"}),
        (("lemon_juice", "bar"), None, None, {"to": "lemon juice", "citric": LEMON_AT_THE_BAR}),
    ],
)
def test_other_aims(panel, aim, dial, value, asked):
    panel.juice.aim.value = aim
    assert (panel.juice.citric.layout.display is None) == (aim[1] == "own")
    if dial:
        panel.juice.citric.number.value = value
    found = module.adjust("orange juice", **asked)
    assert panel.juice.problem.value == ""
    assert found.to in _text(panel.juice.figures)
    assert _tile(panel.juice, "Add citric acid")[0] == round(found.acids["citric"], 1)


def test_acids_of_ones_own_by_dials(panel):
    panel.juice.aim.value = ("", "own")
    assert panel.juice.citric.layout.display == "none"
    found = module.adjust("orange juice", {"citric": 40, "malic": 20})
    assert _tile(panel.juice, "Add malic acid")[0] == round(found.acids["malic"], 1)
    panel.juice.wanted["tartaric"].slider.value = 10
    assert _tile(panel.juice, "Add tartaric acid")[0] > 9
    assert "crystals of cream of tartar" in _text(panel.juice.notes)


@pytest.mark.parametrize("acid", ACID_SOLUBILITY)
def test_one_acid_alone(panel, acid):
    panel.juice.acids.choose.value = acid
    found = module.adjust("orange juice", "lemon juice", acid)
    assert _tile(panel.juice, f"Add {acid} acid")[0] == round(found.acids[acid], 1)
    assert ("gloves" in panel.juice.notes.value) == (acid == "lactic")


def test_a_mix_of_acids_by_dials(panel):
    panel.juice.acids.choose.value = "mix"
    citric, malic = (_tile(panel.juice, f"Add {acid} acid")[0] for acid in ("citric", "malic"))
    assert citric == pytest.approx(2 * malic, abs=0.11)
    panel.juice.acids.parts["malic"].slider.value = 2
    citric, malic = (_tile(panel.juice, f"Add {acid} acid")[0] for acid in ("citric", "malic"))
    assert citric == malic


def test_as_a_solution_the_water_counts(panel):
    panel.juice.acids.choose.value = "citric"
    assert panel.juice.strength.layout.display == "none"
    panel.juice.dissolved.value = True
    assert panel.juice.strength.layout.display is None
    found = module.adjust("orange juice", "lemon juice", "citric", strength=20)
    assert _tile(panel.juice, "Add of the solution") == (round(found.solution.volume), "mL")
    assert _tile(panel.juice, "Makes") == (round(found.volume), "mL")
    grams = found.acids["citric"]
    assert f"weigh {grams:.1f} g of citric acid and {4 * grams:.1f} g of water" in _text(panel.juice.figures)
    panel.juice.strength.slider.value = 40
    assert _tile(panel.juice, "Makes")[0] < found.volume


def test_the_amounts_go_with_the_volume_and_small_ones_are_finer(panel):
    grams, _ = _tile(panel.juice, "Add citric acid")
    panel.juice.volume.number.value = 500
    assert _tile(panel.juice, "Add citric acid")[0] == pytest.approx(grams / 2, abs=0.1)
    panel.juice.volume.number.value = 20
    assert _tile(panel.juice, "Add citric acid")[0] == pytest.approx(grams / 50, abs=0.006)


def test_every_juice_of_the_pantry_gives_an_answer_or_one_sentence(panel):
    for name, key in panel.juice.juice.options:
        assert SHELF[key].kind == "juice"
        panel.juice.juice.value = key
        for acids in ("own", "citric"):
            panel.juice.acids.choose.value = acids
            problem = panel.juice.problem.value
            assert problem.count("it must be") == bool(problem), name
            assert bool(problem) or name in _text(panel.juice.figures)
    assert len(panel.juice.juice.options) > 10


def test_grapefruit_and_acid_come_with_their_cautions(panel):
    assert "food-grade" in panel.juice.notes.value
    assert "does not make juice keep" in panel.juice.notes.value
    assert "medicines" not in panel.juice.cautions.value
    panel.juice.juice.value = "grapefruit_juice"
    assert "medicines" in panel.juice.cautions.value


def test_the_chart_runs_through_the_juice_and_the_aim(panel):
    panel.juice.acids.choose.value = "citric"
    rows = panel.juice.chart.rows
    low, high = rows["frame"]
    (now,), (aim,), curve = rows["now"], rows["aim"], rows["curve"]
    assert now["acidity"] == aim["acidity"]
    assert curve[0]["acidity"] == pytest.approx(6.1, abs=0.05)
    (below, above) = next((a, b) for a, b in pairwise(curve) if b["g"] >= now["g"])
    share = (now["g"] - below["g"]) / (above["g"] - below["g"])
    for figure in ("acidity", "ph"):
        assert below[figure] + share * (above[figure] - below[figure]) == pytest.approx(now[figure], rel=0.003)
        assert all(low[figure] <= row[figure] <= high[figure] for row in [*curve, now])
    assert [row["ph"] for row in curve] == sorted((row["ph"] for row in curve), reverse=True)
    grams, _ = _tile(panel.juice, "Add citric acid")
    assert f"{grams} g: 48.1 g/L" in static_svg(prep_charts.acid_chart(), **rows)


def test_the_axes_stand_still_while_the_aim_moves_a_little(panel):
    panel.juice.aim.value = ("lemon_juice", "own")
    frames = []
    for citric in range(40, 47):
        panel.juice.citric.slider.value = citric
        frames.append(panel.juice.chart.rows["frame"])
    assert all(frame == frames[0] for frame in frames)


# --- acid solution, syrup, refractometer ----------------------------------------------------------------


def test_ten_percent_citric_acid_of_the_handbook(panel):
    """1.0402 g/mL (CRC Handbook, 102nd edition; read): 100 mL weigh 104.0 g, of which 10.4 are acid."""
    assert _tile(panel.stock, "Weigh citric acid") == (10.4, "g")
    assert _tile(panel.stock, "and water") == (93.6, "g")
    assert _tile(panel.stock, "Makes") == (100, "mL")
    assert _tile(panel.stock, "Acid in it") == (104, "g/L")
    assert _tile(panel.stock, "A litre weighs") == (1040, "g")
    assert "label" in panel.stock.notes.value


def test_a_solution_of_several_acids(panel):
    panel.stock.acids.choose.value = "mix"
    panel.stock.acids.parts["lactic"].slider.value = 1
    panel.stock.strength.slider.value = 20
    panel.stock.volume.slider.value = 500
    made = module.acid_solution(20, {"citric": 2, "malic": 1, "lactic": 1}, volume=500)
    for acid, grams in made.acids.items():
        assert _tile(panel.stock, f"Weigh {acid} acid") == (round(grams, 1), "g")
    assert _tile(panel.stock, "Makes") == (500, "mL")
    assert "gloves" in panel.stock.notes.value


def test_one_to_one_of_the_handbook(panel):
    """50 °Brix: 1229.5 kg/m³ (CRC Handbook; read), so 614.8 g of sugar and as much water to a litre."""
    assert _tile(panel.syrup, "Weigh white sugar") == _tile(panel.syrup, "and water")
    assert _tile(panel.syrup, "Weigh white sugar")[0] == pytest.approx(614.8, abs=0.2)
    assert _tile(panel.syrup, "Sugar in it") == (615, "g/L")
    assert _tile(panel.syrup, "A litre weighs")[0] == pytest.approx(1229.5, abs=0.6)


def test_syrup_by_weight_and_from_what_there_is(panel):
    panel.syrup.brix.number.value = 66.6
    panel.syrup.by.value = "mass"
    assert (panel.syrup.volume.layout.display, panel.syrup.grams.layout.display) == ("none", None)
    panel.syrup.grams.number.value = 500
    assert _tile(panel.syrup, "which weighs") == (500, "g")
    assert _tile(panel.syrup, "Weigh white sugar")[0] == pytest.approx(333.0)
    assert "In a fridge it may crystallise" in panel.syrup.notes.value
    panel.syrup.by.value = "from_sugar"
    assert _tile(panel.syrup, "Weigh white sugar") == (500, "g")
    assert _tile(panel.syrup, "and water")[0] == pytest.approx(500 / 0.666 - 500, abs=0.06)
    panel.syrup.brix.number.value = 60
    assert "crystallise" not in panel.syrup.notes.value


def test_honey_by_hand(panel):
    """Honey of 17.1 % water (USDA) to 60 °Brix: 1000 g hold 829 g of dry matter, so 382 g of water."""
    panel.syrup.sugar.value, panel.syrup.by.value = "honey", "from_sugar"
    panel.syrup.brix.number.value = 60
    assert _tile(panel.syrup, "Weigh honey") == (1000, "g")
    assert _tile(panel.syrup, "and water")[0] == pytest.approx(829 / 0.6 - 1000, abs=5)


def test_every_sugar_gives_a_syrup_or_one_sentence_and_says_its_allergen(panel):
    panel.syrup.brix.number.value = 15
    for name, key in panel.syrup.sugar.options:
        panel.syrup.sugar.value = key
        assert panel.syrup.problem.value == "", name
        assert f"Weigh {name}" in _text(panel.syrup.figures)
        allergens = ("milk",) if key == "lactose" else () if key in SUGARS_TO_WEIGH else SHELF[key].allergens
        assert all(allergen in panel.syrup.cautions.value for allergen in allergens)
        assert ("allergen" in panel.syrup.notes.value) == (key == "lactose")


def test_a_reading_is_corrected_for_the_alcohol(panel):
    found = module.true_sugar(27, 25)
    number, unit = _tile(panel.reading, "Sugar")
    assert (number, unit) == (round(found.sugar), f"± {2 * found.sugar_pm:.0f} g/L")
    # sugar alone: 1081.0 kg/m³ at 20 and 1127.0 at 30 °Brix (CRC Handbook; read), so 0.27 * 1113.2 = 300.6 g/L
    assert _tile(panel.reading, "If the alcohol were forgotten")[0] == pytest.approx(300, abs=3)
    panel.reading.abv.number.value = 0
    assert _tile(panel.reading, "Sugar")[0] == pytest.approx(300, abs=3)
    assert _tile(panel.reading, "Alcohol alone reads as") == (0, "°Brix")
    panel.reading.brix.slider.value = 10
    assert _tile(panel.reading, "Sugar")[0] == pytest.approx(103.8, abs=1)  # 10 % mass, 1038.1 kg/m³ (CRC; read)


# --- units and problems -----------------------------------------------------------------------------------


def test_ounces_change_what_is_shown_and_nothing_else(panel):
    before = [_tile(panel.juice, "Add citric acid"), _tile(panel.stock, "and water"), _tile(panel.syrup, "and water")]
    panel.volume_unit.value = "oz"
    assert [section.problem.value for section in panel.sections] == [""] * 4
    assert before == [
        _tile(panel.juice, "Add citric acid"), _tile(panel.stock, "and water"), _tile(panel.syrup, "and water"),
    ]  # fmt: skip
    assert panel.juice.volume.number.value == pytest.approx(1000 / 29.5735, abs=0.01)
    for section in panel.sections:
        assert not re.search(r"\d mL", _text(section.figures))
    assert _tile(panel.syrup, "Makes") == (33.81, "oz")
    panel.syrup.volume.number.value = 32
    assert _tile(panel.syrup, "and water")[0] == pytest.approx(32 * 29.5735 * 0.6148, abs=0.3)
    assert logbook.choices(panel.folder)["volume"] == "oz"
    assert prep_panel.panel(panel.folder).volume_unit.value == "oz"
    panel.volume_unit.value = "mL"
    assert panel.juice.volume.number.value == 1000


def _set(*path_and_value):
    *path, value = path_and_value

    def move(panel):
        part = panel
        for name in path[:-1]:
            part = part[name] if isinstance(part, dict) else getattr(part, name)
        setattr(part, path[-1], value)

    return move


@pytest.mark.parametrize(
    ("index", "moves", "said"),
    [
        (0, [_set("juice", "volume", "number", "value", 0)], "Juice to adjust is 0; it must be 0.1 to 1000000 mL."),
        (0, [_set("juice", "juice", "value", "lemon_juice")], "Acidity of 'lemon juice, fresh' is what is aimed at already; it must be below that"),
        (0, [_set("juice", "aim", "value", ("lime_juice", "pantry")), _set("juice", "juice", "value", "lemon_juice")],
         "Titratable acidity of 'lemon juice, fresh' is 48.1 g/L"),
        (0, [_set("juice", "juice", "value", "apple_juice")], "or name the acids to add."),
        (0, [_set("juice", "aim", "value", ("", "own")), _set("juice", "wanted", "citric", "number", "value", 900)],
         "Citric acid aimed at is 900; it must be 0 to 500 g/L."),
        (0, [_set("juice", "acids", "choose", "value", "mix"),
             _set("juice", "acids", "parts", "malic", "number", "value", -1)], "Parts of malic acid is -1; it must be"),
        (0, [_set("juice", "strength", "number", "value", 0), _set("juice", "dissolved", "value", True)],
         "Strength of the acid solution is 0; it must be 0.1 to 100 % mass."),
        (0, [_set("juice", "strength", "number", "value", 4), _set("juice", "dissolved", "value", True)],
         "Strength of the acid solution is 4 % mass (40 g/L as citric acid); it must be well above the 48 g/L"),
        (1, [_set("stock", "strength", "number", "value", 70)], "Citric acid is 70 % of the acid and its water; it"),
        (1, [_set("stock", "strength", "number", "value", 140)],
         "Strength of the acid solution is 140; it must be 0 to 100 % mass."),
        (1, [_set("stock", "volume", "number", "value", -5)], "Solution to make is -5; it must be 0.1 to 1000000 mL."),
        (2, [_set("syrup", "brix", "number", "value", 72)], "Sucrose in syrup of white sugar is 72.0 %"),
        (2, [_set("syrup", "brix", "number", "value", 120)], "°Brix is 120; it must be 0 to 100 % mass."),
        (2, [_set("syrup", "by", "value", "from_sugar"), _set("syrup", "grams", "number", "value", -1)],
         "Sugar on hand is -1; it must be"),
        (2, [_set("syrup", "by", "value", "mass"), _set("syrup", "grams", "number", "value", 0)],
         "Syrup to make is 0; it must be"),
        (3, [_set("reading", "brix", "number", "value", 4)], "Reading is 4; it must be at least 9.6 °Brix"),
        (3, [_set("reading", "abv", "number", "value", 60)], "Strength is 60; it must be 0 to 50 % vol."),
    ],
)  # fmt: skip
def test_a_problem_is_one_sentence_in_its_own_section_and_nothing_else_pales(panel, index, moves, said):
    for move in moves[:-1]:
        move(panel)
    good = _all(panel)
    moves[-1](panel)
    for i, section in enumerate(panel.sections):
        assert (said in _text(section.problem)) == (i == index)
        assert bool(section.problem.value) == (i == index)
        assert ("dl-stale" in section.figures._dom_classes) == (i == index)
    assert _all(panel) == good


def test_what_was_mended_is_no_longer_pale(panel):
    good = _all(panel)
    panel.stock.strength.number.value = 70
    panel.stock.strength.number.value = 10
    assert panel.stock.problem.value == ""
    assert "dl-stale" not in panel.stock.figures._dom_classes
    assert _all(panel) == good


def test_own_juice_and_syrup_are_offered_and_their_names_escaped(tmp_path):
    (tmp_path / pantry.OWN_FILE).write_text(
        "id,name,kind,abv_percent,sugar_g_l,citric_g_l\n"
        "mine,<b>calamondin</b>,juice,0,30,30\nsap,<i>birch</i>,syrup,0,850,0\n",
        encoding="utf-8",
    )
    panel = prep_panel.panel(tmp_path)
    panel.juice.juice.value, panel.syrup.sugar.value = "mine", "sap"
    assert panel.juice.problem.value == panel.syrup.problem.value == ""
    assert "&lt;b&gt;calamondin" in panel.juice.figures.value
    assert "&lt;i&gt;birch" in panel.syrup.figures.value
    assert "<b>cal" not in panel.juice.figures.value + panel.juice.notes.value
    assert "<i>birch" not in panel.syrup.figures.value + panel.syrup.notes.value


def test_an_own_lemon_is_said_to_be_ones_own(tmp_path):
    (tmp_path / pantry.OWN_FILE).write_text(
        "id,name,kind,abv_percent,sugar_g_l,citric_g_l\nlemon_juice,lemon juice,juice,0,20,55\n", encoding="utf-8"
    )
    panel = prep_panel.panel(tmp_path)
    assert panel.juice.aim.options[0][0] == "lemon: citric acid 55 g/L, from your pantry"
    assert "citric acid 55" in _text(panel.juice.figures)


def test_a_damaged_own_file_is_said_and_the_panel_still_opens(tmp_path):
    (tmp_path / pantry.OWN_FILE).write_text("id,name,kind,abv_percent,sugar_g_l\ngin,gin,spirit,400,0\n")
    panel = prep_panel.panel(tmp_path)
    assert "my_ingredients.csv, line 2" in panel.own_file.said.value
    assert panel.juice.figures.value


def test_a_ph_that_is_not_known_is_neither_drawn_nor_said():
    """A juice of coffee's kind: its own acids are not counted, so its pH starts unknown and is known once acid is in."""
    before = Liquid.of(water=980, sucrose=10, citric=0.3, unsure_potassium=0.6)
    after = before + Liquid.of(citric=40)
    found = module.Adjusted(
        "coffee", "lemon juice", before, after, {"citric": 40.0}, None, after.volume(), (), declared=Declared()
    )
    rows = prep_charts.acid_rows(found)
    assert "ph" not in rows["curve"][0]
    assert "ph" in rows["curve"][-1]
    assert "pH from not known to 2." in found.text()
    assert "NaN" not in static_svg(prep_charts.acid_chart(), **rows)
