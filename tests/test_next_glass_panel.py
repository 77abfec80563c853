"""The panel of the next glass without a browser: glasses in, three out, in hand, its tasting planned, its picture."""

from dataclasses import replace

import pytest
from all_panels import htmls, words

from drinklab import logbook, next_glass, pantry, tasting, trial
from drinklab.display import Display
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.workbook.charts import next_glass as charts
from drinklab.workbook.charts import pictures
from drinklab.workbook.panels import next_glass as next_panel
from drinklab.workbook.panels import tasting as tasting_panel

SHELF = pantry.load()


@pytest.fixture(scope="module")
def example(tmp_path_factory):
    return next_panel.panel(tmp_path_factory.mktemp("bar"))


def _saved(folder, likings):
    for k, (lemon, honey, liking) in enumerate(likings):
        recipe = Recipe.parse(
            f"40 mL aged rum, 50 %\n{lemon} mL lemon juice\n{honey} mL honey syrup", SHELF, name=f"Siding {k}",
            technique="shaken", family="sour",
        )  # fmt: skip
        logbook.save(trial.run(Setting(recipe), pantry=SHELF), folder, note=f"Liking: Ada {liking}" if liking else "")


def test_it_opens_on_an_example_that_says_what_it_is(example):
    assert example.problem.value == ""
    assert example.source.value == "example"
    said = words(example)
    assert "These scores are made up" in said
    for word in ("safe bet", "to learn most", "wild card", "Expected liking", "3 tastings in all"):
        assert word in said
    shown = example.found.proposals[0]
    assert f"{shown.liking:.1f} ± {shown.pm:.1f} points" in said
    assert [row["label"] for row in example.chart.rows["glasses"]] == ["1", "2", "3", "4", "5"]


def test_the_chart_has_units_on_its_axes_and_no_word_on_another(example):
    found = example.found
    rows = charts.next_rows(found, 0, 2, Display())
    assert rows["titles"] == [{"across": "Strength [% vol]", "up": "Acid [g/L]"}]
    chart = charts.next_chart()
    chart.datasets = rows
    svg = pictures.static_svg(chart)
    assert "Expected liking [points of 10]" in svg
    assert svg.count(">wild card<") == 4  # word and halo, in both maps
    assert "plus or minus" in chart.description
    assert charts._groups(charts.np.array([[0.0, 0], [5, 5], [90, 0]])) == [[0, 1], [2]]
    # the middle of every cell has the liking of the surface itself
    cell = rows["cells"][100]
    at = found.proposals[0].at.copy()
    for axis, ends in ((0, ("x", "x2")), (2, ("y", "y2"))):
        value = sum(cell[end] for end in ends) / 2
        at[axis] = (value - found.family.middle[axis]) / found.family.spread[axis]
    mean, sd = found.palate.at(at[None])
    assert (cell["mean"], cell["pm"]) == pytest.approx((mean[0], 2 * sd[0]), abs=0.02)


def test_ounces_and_fahrenheit(example):
    example.volume_unit.value = "oz"
    assert " oz" in example.three.value
    assert "mL" not in example.words.value + example.three.value
    example.volume_unit.value = "mL"


def test_limits_are_kept_and_a_problem_leaves_the_page(example):
    before = example.three.value
    example.limit.number.value = 1.0
    assert "Strength limit is 1" in example.problem.value
    assert example.three.value == before
    example.limit.number.value = 12.0
    assert example.problem.value == ""
    assert all(one.made.served.profile.abv <= 12 for one in example.found.proposals)
    example.who.value = "Ada: eggs"
    assert "is not poured: Ada can't have it" in words(example)
    assert all("egg" not in one.made.recipe.text() for one in example.found.proposals)
    example.who.value = "Ada (eggs)"
    assert "taster is" in example.problem.value.lower()
    example.who.value = ""


def test_an_own_axis_by_a_pour_and_by_numbers(example):
    example.own.value = "verjus"
    assert example.problem.value == ""
    assert [key for _, key in example.across.options] == [0, 1, 2, 3]
    example.across.value = 3
    assert "% of the glass" in example.chart.rows["titles"][0]["across"]
    example.own.value = "typed"
    assert "number" in example.problem.value.lower() or "numbers" in example.problem.value.lower()
    example.own_numbers.value = "verjus 2, pisco 1"
    assert example.problem.value == ""
    assert example.chart.rows["titles"][0]["across"] == "Bitterness [own number]"
    example.own.value = "scored"
    assert "Bitterness of each glass is" in example.problem.value
    count = len(example.found.tasted.glasses)
    assert "in the order of the table" in example.own_numbers.placeholder
    example.own_numbers.value = ", ".join(str(3 + k % 4) for k in range(count))
    assert example.problem.value == ""
    assert "taken as what the bottles bring" in example.words.value
    example.own_numbers.value = "3, 4"
    assert f"one number for each of the {count} glasses" in example.problem.value
    example.own.value = ""
    assert len(example.across.options) == 3


def test_fewer_than_three_say_how_many_more_it_takes(tmp_path):
    _saved(tmp_path, ((20, 15, 6), (20, 20, 7), (25, 20, None)))
    panel = next_panel.panel(tmp_path)
    assert panel.source.value == "own"
    assert "1 more has to be tasted and scored" in panel.problem.value
    panel.noted.value = panel.noted.options[0][1]
    panel.liking.value = "Ada 6.5, Bo 8"
    panel.keep_liking()
    assert panel.problem.value == ""
    assert "Kept as a note" in panel.said.value
    assert len(panel.found.tasted.glasses) == 3
    noted = [entry.all_notes for entry in logbook.entries(tmp_path)[0]]
    assert "Liking: Ada 6.5, Bo 8" in noted
    panel.liking.value = "11"
    panel.keep_liking()
    assert "it must be" in panel.said.value


def test_in_hand_with_why_and_its_tasting_joins_the_next_round(tmp_path):
    _saved(tmp_path, ((20, 15, 6), (20, 20, 7), (25, 20, 5)))
    panel = next_panel.panel(tmp_path)
    panel.which.value = 1
    one = panel.proposal
    panel.put()
    held = logbook.in_hand(tmp_path)
    assert held.setting.recipe.pours == one.made.recipe.pours
    assert held.note.startswith("Why this version: the one to learn most from after 3 glasses (tasters: 1)")
    assert held.came_from == panel.found.tasted.glasses[panel.found.best].file
    panel.who.value = "Ada\nBo"
    panel.plan()
    assert "08_tasting" in panel.said.value
    ((path, made),) = tasting.entries(tmp_path)[0]
    assert made.scales == ("liking",)
    assert all(made.trials)
    assert {p.suffix for p in path.parent.iterdir()} == {".json", ".html", ".csv"}
    answers = {s.taster: {code: (8 if s.drink(code) == "A" else 5,) for code in s.codes} for s in made.servings}
    tasting.save(tasting.answered(made, answers), tmp_path)
    again = next_glass.from_logbook(tmp_path)
    poured = next(glass for glass in again.glasses if glass.file == made.trials[0])
    assert dict(poured.scores) == {"Ada": 8, "Bo": 8}
    assert len(panel.glasses.options) == 3
    panel.read_again()
    assert [label for label, _ in panel.glasses.options if "to learn most: 8.0 by 2" in label]
    assert panel.problem.value == ""
    assert tasting_panel.panel(tmp_path).problem.value == ""


def test_a_note_that_cannot_be_read_is_named_and_the_example_still_works(tmp_path):
    _saved(tmp_path, ((20, 15, 6), (20, 20, 7), (25, 20, "good")))
    panel = next_panel.panel(tmp_path)
    assert "1 more has to be tasted" in panel.problem.value  # two can be read
    assert "Liking of" in panel.tasted.value
    assert "good" in panel.tasted.value
    panel.source.value = "example"
    assert panel.problem.value == ""


def test_names_of_a_stranger_stay_text(tmp_path):
    bad = "<img src=x onerror=hit()>"
    for k, (lemon, liking) in enumerate(((20, 6), (22, 7), (25, 5))):
        recipe = Recipe.parse(f"40 mL gin\n{lemon} mL lemon juice\n20 mL honey syrup", SHELF, name=f"{bad} {k}")
        logbook.save(
            trial.run(recipe, pantry=SHELF), tmp_path, note=f"Liking: {bad.replace(' ', '')} {liking}, Bo {liking}"
        )
    panel = next_panel.panel(tmp_path)
    assert panel.problem.value == ""
    panel.put()
    panel.plan()
    shown = [part.value for part in htmls(panel)]
    assert "hit()" in " ".join(shown)
    assert not any("<img" in value for value in shown)


def test_a_refused_tasting_writes_nothing(example):
    one = example.found.proposals[0]
    beyond = replace(one, portion=replace(one.portion, rounds=0))
    kept = example.found
    before = sorted(p.name for p in example.folder.rglob("*"))
    example._asked = (example._asked[0], replace(kept, proposals=(beyond, *kept.proposals[1:])))
    example.which.value = 0
    example.plan()
    assert "stop limit" in example.said.value
    assert sorted(p.name for p in example.folder.rglob("*")) == before
