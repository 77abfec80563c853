"""Exercises in ounces, °F and psi: round numbers, keys by another path, sums that add up, mistakes told apart."""

import re

import numpy as np
import pytest
import test_teach_bank as by_hand
from all_panels import words
from test_teach_panels import blocks_of

from drinklab import kinds, logbook
from drinklab.display import Display
from drinklab.teach import bank, checking, chosen, lessons, paper
from drinklab.workbook import launch
from drinklab.workbook.panels import lesson
from drinklab.workbook.parts import learner

OZ = Display("oz", "°F")
EXERCISES = list(bank.exercises())
# An ounce of the United States is 29.5735295625 mL, and psi 6.894757 kPa (NIST Special Publication 811, appendix B.8).
OUNCE, PSI = 29.5735295625, 6.894757293168
TURNED = [name for name in EXERCISES if bank.problem(name, 0, OZ).in_sums != bank.problem(name, 0, OZ)._all]


class Curve(dict):
    """Gas in water between the whole degrees of the printed table."""

    def __getitem__(self, celsius):
        return float(np.interp(celsius, sorted(self), [dict.get(self, key) for key in sorted(self)]))


@pytest.fixture
def between_degrees(monkeypatch):
    """The hand's keys at degrees that are whole in °F, not in °C."""
    table = by_hand.CO2_AT | {1: 3.213, 9: 2.403, 10: 2.318, 11: 2.239, 21: 1.64, 22: 1.59}
    monkeypatch.setattr(by_hand, "CO2_AT", Curve(table))
    monkeypatch.setattr(by_hand, "round", lambda x: x if x < 30 else round(x), raising=False)


def test_an_ounce_and_a_psi():
    assert chosen.turned(kinds.VOLUME(OUNCE), OZ).value == pytest.approx(1)
    assert chosen.turned(kinds.GAUGE_PRESSURE(10 * PSI), OZ).value == pytest.approx(10)
    assert chosen.turned(kinds.TEMPERATURE(20), OZ).value == pytest.approx(68)


def test_numbers_are_round_in_the_units_chosen():
    for name in EXERCISES:
        seen = set()
        for seed in range(40):
            problem = bank.problem(name, seed, OZ)
            seen.add(tuple(one.value for one in problem.given.values()))
            for one in problem.given.values():
                shown = chosen.turned(one, OZ)
                if shown.kind is one.kind:
                    continue
                by = 1 if shown.kind is not chosen.OUNCES or shown.value >= 5 else 0.25 if shown.value >= 0.5 else 0.05
                assert shown.value / by == pytest.approx(round(shown.value / by), abs=1e-6), (name, shown)
                given = problem.exercise.given[next(n for n, x in problem.given.items() if x is one)]
                assert given.low - 1e-6 <= one.value <= given.high + 1e-6
        assert len(seen) >= 10, f"{name}: learners have other numbers"


@pytest.mark.parametrize("name", TURNED)
def test_the_key_by_another_path_and_each_mistake_told_apart(name, between_degrees):
    for seed in range(20):
        problem = bank.problem(name, seed, OZ)
        key = by_hand.KEYS[name](**by_hand.numbers(problem))
        assert abs(key - problem.answer.value) <= problem.near, by_hand.numbers(problem)
        shown = chosen.turned(problem.answer, OZ).value
        assert checking.check(problem, f"{shown:.9g}").right
        assert checking.check(problem, problem.says(problem.answer.value)).right
        assert checking.check(problem, f"{shown:.9g} {problem.unit.label.removesuffix(' gauge')}").right
        for route, value in problem.wrong.items():
            assert abs(value - problem.answer.value) >= 2 * problem.near
            typed = chosen.turned(problem.answer.kind(value), OZ).value
            assert checking.check(problem, f"{typed:.9g}").route == route
        if problem.unit is chosen.OUNCES:
            found = checking.check(problem, f"{problem.answer.value:.6g}")
            assert found.word == "other unit" or found.route
            assert "in mL" in found.said or found.route


def shown_sum(left):
    """The least and the most that a printed sum comes to; brackets of °F as they stand."""
    if left.startswith("("):
        return (float(re.match(r"\((\d+(?:\.\d+)?)", left)[1]) - 32) / 1.8 - 0.05, (
            float(left[1:].split()[0]) - 32
        ) / 1.8 + 0.05
    return by_hand.worked_out(left)


@pytest.mark.parametrize("name", TURNED)
def test_sums_add_up_as_printed_and_speak_of_what_was_asked(name):
    for seed in range(8):
        problem = bank.problem(name, seed, OZ)
        for _, printed in problem.steps():
            left, _, right = printed.rpartition(" = ")
            low, high = shown_sum(left)
            a, b = by_hand.ends(by_hand.NUMBER.search(right)[0])
            slack = 0.002 * abs(b) if "÷" in left or "×" in left else 1e-9
            assert low - slack <= b, printed
            assert a <= high + slack, printed
        last = problem.steps()[-1][1].rpartition(" = ")[2]
        assert float(by_hand.NUMBER.search(last)[0]) == pytest.approx(
            chosen.turned(problem.answer, OZ).value, rel=problem.exercise.tolerance, abs=0.05
        )
        assert not re.search(r"\d(?:\.\d+)? mL", problem.text().replace("750 mL", "").replace("700 mL", "")), (
            problem.text()
        )
        assert not re.search(r"\d °C|\d kPa", problem.text())


def test_what_is_said_after_a_guess_is_in_the_units_of_its_question():
    one = lessons.lesson("05_carbonation", OZ)
    assert "up to 29 psi" in one.guess.text()
    assert "So 29 psi on the gauge" in one.guess.told(one.after_guess)


def test_what_mixes_grams_and_ounces_is_turned_first():
    problem = bank.exercise("let_down").at({"spirit": 1000, "strength": 63, "target": 46}, OZ)
    assert problem.text() == (
        "The cask rum comes at 63 % vol. You have 34 oz of it and want 46 % vol for the well. "
        "How many oz of water do you add?"
    )
    first, *_, last = problem.steps()
    assert first == ("Turn oz into mL: 1 oz is 29.57 mL.", "34 oz × 29.57 = 1006 mL")
    assert last[1] == "385 mL ÷ 29.57 = 13.01 oz"
    assert not bank.problem("after_ice", 1, OZ).by_ml, "shares of a volume go in any unit"


# --- on the page and on paper ----------------------------------------------------------------------------------


@pytest.fixture(autouse=True)
def nobody():
    """No learner of an earlier test is remembered."""
    learner._of.cache_clear()
    yield
    learner._of.cache_clear()


def test_a_lesson_follows_the_units_of_its_folder(tmp_path):
    parts = {
        name: getattr(lesson, name)("01_strength", folder=tmp_path)
        for name in ("guess", "worked", "half_worked", "yours")
    }
    form = parts["yours"].forms["alcohol_grams"]
    assert "mL" in form.problem.text()
    logbook.save_choices(tmp_path, volume="oz", temperature="°F")
    parts["guess"].who._units.look()
    assert "34 oz" in words(parts["guess"])
    assert "Answer" in parts["guess"].answer.text.description
    assert " oz × 29.57 = " in words(parts["worked"])
    assert " oz " in words(parts["half_worked"])
    form = parts["yours"].forms["alcohol_grams"]
    assert " oz of gin" in form.problem.text()
    guess = parts["guess"]
    guess.answer.text.value = "10"
    guess.answer.button.click()
    assert "You guessed 10 oz" in re.sub(r"<[^>]+>", "", guess.said.value)
    assert guess.who.now.guesses["01_strength"] == pytest.approx(10 * OUNCE)
    logbook.save_choices(tmp_path, volume="mL")
    guess.who._units.look()
    assert "You guessed 295.735 mL" in re.sub(r"<[^>]+>", "", guess.said.value), "a guess is kept as what it meant"


@pytest.mark.parametrize("name", lessons.ids())
def test_half_worked_can_be_done_in_ounces(name, tmp_path):
    logbook.save_choices(tmp_path, volume="oz", temperature="°F")
    page = lesson.half_worked(name, tmp_path)
    for _ in page.lesson.half:
        while page.place.children:
            value, show = page.problem.step_value(page.at)
            page.answer.text.value = f"{chosen.turned(value, show).value:.5g}"
            page.answer.button.click()
        assert "Done." in page.said.value
        page.next.click()


def test_paper_in_ounces_by_command_and_by_choice(tmp_path, capsys):
    assert launch.main(["print", "02", "--learners", "2", "--units", "oz", "--folder", str(tmp_path)]) == 0
    logbook.save_choices(tmp_path, volume="oz", temperature="°F")
    assert launch.main(["print", "02", "--learners", "2", "--folder", str(tmp_path)]) == 0
    one, two = (" ".join(blocks_of((tmp_path / "paper" / f"02_dilution_0{i}.sheets.html").read_text())) for i in (1, 2))
    assert one == two
    assert " oz at " in one
    assert not re.search(r"\d mL", one)
    assert launch.main(["print", "02", "--units", "mL", "--folder", str(tmp_path)]) == 0
    with pytest.raises(SystemExit):
        launch.main(["print", "02", "--units", "cups", "--folder", str(tmp_path)])


@pytest.mark.parametrize("name", lessons.ids())
def test_a_sheet_in_ounces_holds_no_answer_and_the_key_all(name):
    one = lessons.lesson(name, OZ)
    made = paper.pages(one, 3, show=OZ)
    sheets, key = (" ".join(blocks_of(made[f".{kind}.html"])) for kind in ("sheets", "key"))
    for sheet in paper.sheets(one, 3, show=OZ):
        for problem in sheet.problems:
            answer = problem.says(problem.answer.value)
            assert answer in key
            assert f"= {answer}" not in sheets
            assert problem.text() in sheets


@pytest.mark.parametrize(
    ("typed", "told", "right"),
    [("13", "Right", True), ("13,0 oz", "Right", True), ("385 mL", "Right", True), ("0.385 L", "Right", True),
     ("385", "right in mL", False), ("38.5", "right in cl", False), ("", "a number of oz", False),
     ("thirteen", "in figures, such as 12.5 oz", False), ("13 g", "The question asks for oz", False), ("13 13", "must be", False)],
)  # fmt: skip
def test_answers_in_ounces(typed, told, right):
    problem = bank.exercise("let_down").at({"spirit": 1000, "strength": 63, "target": 46}, OZ)
    found = checking.check(problem, typed)
    assert found.right is right
    assert told in found.said
