"""The panel of strength without a browser: every control is moved once and its answer read."""

import re

import pytest

from drinklab import logbook, pantry, strength
from drinklab.errors import InputError
from drinklab.workbook.charts import strength as strength_charts
from drinklab.workbook.charts.pictures import static_svg
from drinklab.workbook.panels import strength as strength_panel


@pytest.fixture
def panel(tmp_path):
    return strength_panel.panel(tmp_path)


@pytest.fixture
def sections(panel):
    return dict(zip(panel.topics, panel.sections, strict=True))


def _text(place):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", place.value)).replace("−", "-")


def _tile(section, word):
    number, unit = re.search(rf"<small>{word}</small><b>([^<]*)</b>([^<]*)<", section.figures.value).groups()
    return float(number.replace("−", "-")), " ".join(unit.split())


def test_it_opens_whole_and_each_section_has_its_own_place_for_a_problem(panel):
    assert [section.problem.value for section in panel.sections] == [""] * 4
    assert len({id(section.problem) for section in panel.sections}) == 4
    assert panel.said.value == ""


def test_a_page_of_some_topics(tmp_path):
    assert len(strength_panel.panel(tmp_path, ["label"]).sections) == 1
    with pytest.raises(InputError, match="did you mean glass"):
        strength_panel.panel(tmp_path, ["glas"])


# --- letting down ---------------------------------------------------------------------------------------


def test_63_to_46_as_the_standard_has_it(sections):
    """1 L of 63 to 46 % vol: 381.97 g of water, 382.66 mL (OIML R 22, from a second program: check_values.csv)."""
    section = sections["let down"]
    assert _tile(section, "Water to add") == (383, "mL")
    assert "or weigh 382 g" in section.figures.value
    assert _tile(section, "Missing") == (13.1, "mL")
    # By hand: 1000 x 63 / 46 = 1369.6 mL, so 369.6 mL of water if volumes added up.
    assert _tile(section, "Water by adding volumes") == (370, "mL")
    assert _tile(section, "Makes") == (1370, "mL")
    assert "13.1 mL too little" in _text(section.notes)


def test_what_adding_volumes_forgets_is_just_what_goes_missing(sections):
    """Makes x wanted = spirit x strength, so the water by volumes falls short by what the mix has shrunk."""
    section = sections["let down"]
    for abv, target in ((96, 40), (70, 50), (60, 25)):
        section.abv.number.value, section.target.number.value = abv, target
        found = strength.let_down(1000, abv, target)
        assert found.water - found.water_by_volumes == pytest.approx(found.shrinks, abs=1e-6)
        assert _tile(section, "Missing")[0] == pytest.approx(found.shrinks, abs=0.051)
        assert section.problem.value == ""


def test_a_weak_mix_swells_and_the_words_say_so(sections):
    """Below about 20 % vol a mix takes up more room than its parts (OIML R 22)."""
    section = sections["let down"]
    section.abv.number.value, section.target.number.value = 15, 10
    assert _tile(section, "Missing")[0] < 0
    assert "a little more room" in _text(section.notes)
    assert "too much" in _text(section.notes)
    assert "more" in section.chart.rows["now"][0]["label"]


def test_a_target_above_the_spirit_is_one_sentence_and_the_last_figures_stay(sections):
    section = sections["let down"]
    before = section.figures.value
    section.target.number.value = 70
    assert "Wanted strength is 70; it must be at most the strength at the start, 63 % vol." in _text(section.problem)
    assert section.figures.value == before
    assert "dl-stale" in section.figures._dom_classes
    section.target.number.value = 63
    assert section.problem.value == ""
    assert "no water" in _text(section.notes)


def test_flame_is_spoken_of_above_proof_spirit_also_where_there_is_no_answer(sections):
    section = sections["let down"]
    assert "keep flames" in section.cautions.value
    assert "Allergens" not in section.cautions.value  # no bottle of the pantry is in it
    section.target.number.value = 70
    assert "keep flames" in section.cautions.value
    section.abv.number.value = 57
    assert section.cautions.value == ""


@pytest.mark.parametrize("unit", ["mL", "oz"])
def test_the_picture_meets_the_wanted_strength_at_both_waters(sections, unit, panel):
    panel.volume_unit.value = unit
    section = sections["let down"]
    rows = section.chart.rows
    found, show = strength.let_down(1000, 63, 46), section.show
    by, real = rows["ends"]
    assert (by["water"], real["water"]) == pytest.approx(
        (found.water_by_volumes / show.ml, found.water / show.ml), rel=1e-3
    )
    low, high = rows["near"]
    assert all(low["water"] <= end["water"] <= high["water"] for end in (by, real))
    for of, end in (("sum", by), ("real", real)):
        line = [row for row in rows["lines"] if row["of"] == of]
        near = min(line, key=lambda row: abs(row["water"] - end["water"]))
        assert near["abv"] == pytest.approx(46, abs=0.15)
    svg = static_svg(strength_charts.let_down_chart(unit), **rows)
    assert f"Water added [{unit}]" in svg
    assert "NaN" not in svg
    assert real["label"] in svg


# --- what a label says ----------------------------------------------------------------------------------


def test_forty_in_every_way(sections):
    """33.3 % mass and 948 g/L: OIML R 22; 80 US proof is 40.07 % vol at 20 °C (27 CFR 30.11); British: 7/4 of % vol."""
    section = sections["label"]
    assert _tile(section, "By weight") == (33.3, "% mass")
    assert _tile(section, "US proof")[0] == pytest.approx(79.9, abs=0.05)
    assert _tile(section, "British proof")[0] == pytest.approx(40 * 7 / 4, abs=0.05)
    assert _tile(section, "A litre weighs") == (948, "g")
    assert _tile(section, "A litre holds") == (316, "g of alcohol")


@pytest.mark.parametrize("way", strength_panel.WAYS)
def test_another_way_of_telling_is_the_same_spirit(sections, way):
    section = sections["label"]
    section.way.value = way
    assert section.problem.value == ""
    assert _tile(section, "By volume")[0] == 40.0
    section.strength.number.value = 1e6
    assert "it must be" in section.problem.value


def test_a_warm_reading_is_put_right(sections):
    """50 read at 10 °C is 53.7 % vol (alcoholometric tables, quoted on a page of questions; read)."""
    section = sections["label"]
    section.way.value = strength_panel.READ
    section.strength.number.value, section.temperature.number.value = 50, 10
    assert _tile(section, "By volume")[0] == pytest.approx(53.7, abs=0.05)
    assert _tile(section, "Alcoholmeter reads") == (50, "% vol")
    assert "shows 50.0 % vol at 10 °C" in _text(section.notes)
    section.strength.number.value, section.temperature.number.value = 0, 30
    assert "Reading at 30 °C is 0" in _text(section.problem)


def test_off_the_scale_is_said(sections):
    section = sections["label"]
    section.strength.number.value, section.temperature.number.value = 0, 5
    assert "off its scale" in section.figures.value


# --- several bottles ------------------------------------------------------------------------------------


def test_two_rums_by_hand(sections):
    """450 mL of 40 and 150 mL of 62: 180 + 93 = 273 mL of alcohol in 600 mL, 45.5 % vol if volumes added up; 0.78924
    g/mL of alcohol (OIML R 22) makes 215.5 g. The mix shrinks a little, so it is a little stronger."""
    section = sections["bottles"]
    assert _tile(section, "By adding volumes")[0] == pytest.approx(45.5, abs=0.05)
    assert _tile(section, "Alcohol") == (215.5, "g")
    assert 45.5 < _tile(section, "Strength")[0] <= 45.7
    assert _tile(section, "Makes")[0] < 600


def test_a_bottle_brings_its_strength_and_its_allergens(sections):
    section = sections["bottles"]
    row = section.rows[2]
    assert row.volume.layout.display == "none"
    row.bottle.value = "orgeat"
    assert row.volume.layout.display is None
    row.volume.number.value = 30
    assert "nuts (almond)" in section.cautions.value
    row.bottle.value = "gin"
    assert row.abv.value == pantry.load()["gin"].abv
    row.abv.number.value = 57
    assert "57.0 % vol" in section.figures.value
    assert "nuts" not in section.cautions.value


def test_a_bottle_written_down_later_is_offered_and_what_was_typed_stays(tmp_path):
    section = strength_panel.panel(tmp_path, ["bottles"]).sections[0]
    section.rows[0].abv.number.value = 55
    row = "id,name,kind,abv_percent,sugar_g_l\nours,house rum,spirit,61,0\n"
    (tmp_path / "my_ingredients.csv").write_text(row, encoding="utf-8")
    section.offer(pantry.load(tmp_path))
    assert section.rows[0].abv.value == 55
    section.rows[2].bottle.value = "ours"
    assert section.rows[2].abv.value == 61
    section.rows[2].volume.number.value = 100
    assert "house rum" in section.figures.value
    section.offer(pantry.load())
    assert section.rows[2].bottle.value == strength_panel.NOTHING
    assert section.problem.value == ""


def test_nothing_poured_is_said(sections):
    section = sections["bottles"]
    for row in section.rows:
        row.bottle.value = strength_panel.NOTHING
    assert "Total of the bottles is 0; it must be above 0 mL." in _text(section.problem)
    assert section.cautions.value == ""


# --- the glass ------------------------------------------------------------------------------------------


def test_water_changes_the_strength_and_not_the_grams(sections):
    """50 mL of 40 % vol: 50 x 0.40 x 0.78924 = 15.8 g (OIML R 22); 14 g make a standard drink of the United States."""
    section = sections["glass"]
    assert _tile(section, "Alcohol") == (15.8, "g")
    assert _tile(section, "Standard drinks")[0] == 1.1
    weak = _tile(section, "Strength in the glass")[0]
    section.filled.number.value = 200
    assert _tile(section, "Alcohol") == (15.8, "g")
    assert _tile(section, "Strength in the glass")[0] < weak
    section.country.value = "United Kingdom"
    assert _tile(section, "Standard drinks")[0] == 2.0


def test_a_strong_serve_is_said_and_nothing_of_a_person(sections):
    section = sections["glass"]
    assert "Strong serve" not in section.cautions.value
    section.poured.number.value = 120
    assert "Strong serve: 38 g" in _text(section.cautions)
    assert "no figure here tells whether somebody may drive" in _text(section.notes)
    section.poured.number.value, section.filled.number.value = 0, 0
    assert "it must be" in section.problem.value


def test_units_are_kept_and_shown(panel, tmp_path):
    panel.volume_unit.value, panel.temperature_unit.value = "oz", "°F"
    assert logbook.choices(tmp_path)["volume"] == "oz"
    assert logbook.choices(tmp_path)["temperature"] == "°F"
    assert _tile(panel.sections[0], "Water to add")[1] == "oz"
    assert "at 68 °F" in panel.sections[1].figures.value
