"""Lessons on a page, progress in a folder, lessons on paper: as a learner meets them, mistakes made on purpose."""

import importlib
import json
import re
from datetime import datetime, timedelta
from html import unescape
from html.parser import HTMLParser

import ipywidgets as w
import pytest
from all_panels import words

from drinklab import share
from drinklab.errors import InputError
from drinklab.teach import bank, checking, lessons, paper, printing, progress, spacing
from drinklab.workbook import launch
from drinklab.workbook.panels import dilution, lesson, trainer

LESSONS = lessons.ids()


def form_of(folder, name="let_down"):
    return lesson.Form(name, folder)


def said(widget):
    return unescape(re.sub(r"<[^>]+>", " ", widget.value))


def test_what_is_judged_is_the_text_that_was_in_the_box(tmp_path):
    """The kernel's copy of the box may still be at "4": the page sends the text with the asking, and is told when it is done."""
    page = form_of(tmp_path)
    done = []
    page.answer.asked.send = done.append
    page.answer.text.value = "4"
    page.answer.asked._handle_custom_msg({"text": f"{page.problem.answer.value:.4g}"}, [])
    assert "Right:" in said(page.said)
    assert [one.typed for one in progress.open_file(tmp_path, "me").attempts] == [f"{page.problem.answer.value:.4g}"]
    assert done == [{"answered": True}]


# --- guess ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("share", "told"),
    [(1.01, "That is it"), (0.5, "50 % too low"), (3, "200 % too high"), (0.003, "far too low"), (40, "far too high")],
)
def test_a_guess_is_told_by_how_much_it_is_off(share, told):
    """By hand; no guess above 0 is 100 % too low."""
    problem = bank.exercise("let_down").drawn(1)
    found = unescape(re.sub(r"<[^>]+>", " ", lesson.guess_words(problem, problem.answer.value * share, "")))
    assert told in found


def test_the_panel_opens_with_a_guess_and_stands_against_the_answer(tmp_path):
    made = []
    page = lesson.guess("01_strength", lambda folder: made.append(folder) or w.Label("sliders"), tmp_path)
    assert not made
    assert "382" not in words(page)
    assert "383" not in words(page)
    page.answer.text.value = "300 mL"
    page.answer.button.click()
    assert made == [tmp_path]
    assert "You guessed 300 mL" in said(page.said).replace("  ", " ")
    assert "383 mL" in said(page.said)
    assert progress.open_file(tmp_path, "me").guesses == {"01_strength": 300.0}


@pytest.mark.parametrize(
    ("typed", "told"), [("", "empty"), ("lots", "written in figures"), ("3 kg", "must be"), ("1,000", "thousands")]
)
def test_what_is_no_guess_opens_nothing_and_is_told(typed, told, tmp_path):
    page = lesson.guess("01_strength", lambda: w.Label("sliders"), tmp_path)
    page.answer.text.value = typed
    page.answer.button.click()
    assert page.panel is None
    assert told in said(page.said)


def test_a_guess_can_be_skipped_and_one_given_before_is_remembered(tmp_path):
    page = lesson.guess("02_dilution", dilution.panel, tmp_path)
    page.skip.click()
    assert isinstance(page.panel, dilution.IcePanel)
    page.answer.text.value = "24"
    page.answer.button.click()
    again = lesson.guess("02_dilution", lambda: w.Label("sliders"), tmp_path)
    assert again.panel is not None
    assert "24 % vol" in said(again.said)


def test_several_panels_make_a_strip_built_one_at_a_time(tmp_path):
    made = []
    strip = {name: lambda name=name: made.append(name) or w.Label(name) for name in ("one", "two")}
    page = lesson.guess("01_strength", strip, tmp_path)
    page.show_panel()
    assert made == ["one"]
    page.panel.choose.value = "two"
    page.panel.choose.value = "one"
    assert made == ["one", "two"]


# --- worked, half worked --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", LESSONS)
def test_half_worked_can_be_done_to_its_end(name, tmp_path):
    page = lesson.half_worked(name, tmp_path)
    one = lessons.lesson(name)
    for number in range(len(one.half)):
        asked = 0
        while page.place.children:
            step = page.problem.exercise.steps[page.at]
            value = page.problem.values[step.value]
            assert (
                bank.written(value)
                not in said(page.words).partition("How")[2].rpartition(page.problem.asked(page.at))[2]
            )
            page.answer.text.value = f"{value.value * 1.3:.6g}"
            page.answer.button.click()
            assert "Too much" in said(page.said)
            page.answer.text.value = f"{value.value:.4g}"
            page.answer.button.click()
            asked += 1
        assert asked == min(number + 1, len(page.problem.exercise.steps)), "one step more each round"
        assert "Done." in said(page.said)
        page.next.click()
    assert page.next.layout.display == "none"


# --- yours: mistakes on purpose ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", list(bank.exercises()))
def test_help_goes_on_one_step_a_miss(name, tmp_path):
    form = form_of(tmp_path, name)
    one = form.problem
    answer = bank.written(one.answer)
    routes = list(one.wrong.items())
    for step, (route, value) in enumerate([*routes, routes[0], routes[0]][:3]):
        assert form.check(f"{value:.9g}").route == route
        wrong = next(x for x in form.exercise.wrong if x.route == route)
        assert one.filled(wrong.hint) in said(form.said)
        assert (one.filled(wrong.smaller) in said(form.said)) == (step == 1)
        assert ("All the steps" in said(form.said)) == (step == 2)
    assert form.check(f"{one.answer.value:.9g}").right
    assert answer in said(form.said)
    kept = progress.open_file(tmp_path, "me").attempts
    assert [x.word for x in kept] == ["mistake", "mistake", "mistake", "worked shown", "right"]
    assert spacing.standings(progress.open_file(tmp_path, "me"))[name].can is False


@pytest.mark.parametrize(
    ("typed", "told", "right"),
    [("382,7", "Right", True), ("0.3827 L", "Right", True), ("12,94 oz", "Right", True), ("382 5/8 ml", "Right", True),
     ("0,3827", "right in litres", False), ("38.27", "right in cl", False), ("383 g", "unit is not", False),
     ("", "empty", False), ("about four hundred", "in figures", False), ("1/0", "must be", False), ("383 383", "must be", False),
     ("<b>383</b>", "must be", False), ("9" * 400, "must be", False), ("\ud83d 383", "", False)],
)  # fmt: skip
def test_answers_are_read_as_everything_typed(typed, told, right, tmp_path):
    one = bank.exercise("let_down").at({"spirit": 1000, "strength": 63, "target": 46})
    found = checking.check(one, typed)
    assert found.right is right
    assert told in found.said
    form = form_of(tmp_path)
    form.check(typed)  # on a page: in words, never a traceback, never HTML of a learner's own
    assert "<b>383" not in form.said.value


def test_unread_answers_cost_no_step(tmp_path):
    form = form_of(tmp_path)
    for typed in ("", "none", "3 kg"):
        form.check(typed)
    assert form.hints == 0


def test_help_without_an_answer_gives_a_smaller_step_then_all(tmp_path):
    form = form_of(tmp_path)
    form.help.click()
    assert form.problem.filled(form.exercise.steps[0].left) in said(form.said)
    assert "All the steps" not in said(form.said)
    form.help.click()
    assert "All the steps" in said(form.said)


def test_learners_have_other_numbers_and_new_ones_each_time(tmp_path):
    page = lesson.yours("02_dilution", tmp_path)
    first = page.forms["after_ice"].problem.given
    page.who.become("B2")
    assert page.forms["after_ice"].problem.given != first
    seen = set()
    for _ in range(4):
        page.forms["after_ice"].other.click()
        seen.add(tuple(a.value for a in page.forms["after_ice"].problem.given.values()))
    assert len(seen) == 4


def test_what_is_solved_is_ticked_and_stays_open(tmp_path):
    """New choices put a page in the browser back to the first exercise, and nobody saw that the answer was right."""
    page = lesson.yours("01_strength", tmp_path)
    options, name = page.choose.options, page.lesson.yours[2]
    page.choose.value = name
    form = page.forms[name]
    form.check(f"{form.problem.answer.value:.6g}")
    assert page.choose.options == options
    assert list(page.choose.icons) == ["", "", "check", "", ""]
    assert page.choose.tooltips[2] == "solved"
    assert page.choose.value == name
    assert page.place.children == (form,)
    assert "Right" in said(form.said)
    assert list(lesson.yours("01_strength", tmp_path).choose.icons) == ["", "", "check", "", ""], "opened again too"


@pytest.mark.parametrize("name", LESSONS)
def test_a_page_shows_no_answer_before_it_is_asked(name, tmp_path):
    page = lesson.yours(name, tmp_path)
    for exercise in page.lesson.yours:
        page.choose.value = exercise
        form = page.forms[exercise]
        assert bank.written(form.problem.answer) not in words(form).replace(form.problem.text(), "")


def test_why_says_a_sentence_on_each_option(tmp_path):
    page = lesson.why("01_strength", tmp_path)
    for i, option in enumerate(page.lesson.why.options):
        page.choose.value = i
        assert option.say in said(page.said).replace("  ", " ") or option.right
    page.choose.value = next(i for i, o in enumerate(page.lesson.why.options) if o.right)
    assert progress.open_file(tmp_path, "me").done == ("01_strength",)


def test_all_parts_of_a_lesson_are_on_a_page(tmp_path):
    for name in LESSONS:
        begun = lesson.begin(name, lambda: w.Label("sliders"), tmp_path)
        assert "Goal" in words(begun)
        for part in (lesson.worked, lesson.half_worked, lesson.yours, lesson.why, lesson.summary, lesson.next_lesson):
            assert words(part(name, tmp_path))
        assert "Page to try" in words(lesson.next_lesson(name, tmp_path)), "a class on phones needs no workbook"
    assert "proof" in words(lesson.words(tmp_path))


# --- progress ------------------------------------------------------------------------------------------------------------------

DAMAGED = {
    "cut off": '{"format": "drinklab learner", "version": 1, "code": "me", "attem',
    "empty": "",
    "another kind": '{"hello": 1}',
    "a list": "[]",
    "later": '{"format": "drinklab learner", "version": 99, "code": "me", "attempts": [], "guesses": {}, "done": []}',
    "a text for a version": '{"format": "drinklab learner", "version": "x", "code": "me", "attempts": [], "guesses": {}, "done": []}',
    "no answer": '{"format": "drinklab learner", "version": 1, "code": "me", "attempts": [{"a": 1}], "guesses": {}, "done": []}',
    "deep": "[" * 100_000,
    "not text": b"\xff\xfe\x00",
}


@pytest.mark.parametrize("how", DAMAGED)
def test_a_damaged_file_is_told_and_left_as_it_is(how, tmp_path):
    file = progress.path_of(tmp_path, "me")
    file.parent.mkdir()
    held = DAMAGED[how] if isinstance(DAMAGED[how], bytes) else DAMAGED[how].encode()
    file.write_bytes(held)
    with pytest.raises(InputError, match=r"me\.json"):
        progress.read(file)
    form = form_of(tmp_path)
    form.check("1")
    assert "me.json" in said(form.said)
    assert file.read_bytes() == held
    page = trainer.panel(tmp_path)
    assert "me.json" in said(page.problems)
    goal = lesson.goal("01_strength", tmp_path)
    goal.code.value = "B2"
    form_of(tmp_path).check("1")
    assert len(progress.open_file(tmp_path, "B2").attempts) == 1


def test_nothing_in_a_file_is_lost(tmp_path):
    progress.attempted(tmp_path, "A7", "let_down", seed=1, typed="3", word="too little")
    file = progress.path_of(tmp_path, "a7")
    file.write_text(json.dumps(json.loads(file.read_text()) | {"note": "of a trainer"}))
    progress.attempted(tmp_path, "a7", "gone_exercise", seed=1, typed="\x00" * 200, word="right")
    kept = json.loads(file.read_text())
    assert kept["note"] == "of a trainer"
    assert [a["exercise"] for a in kept["attempts"]] == ["let_down", "gone_exercise"]
    assert "gone_exercise" not in spacing.standings(progress.read(file))


@pytest.mark.parametrize("code", ["", "../x", "a b", "x" * 30, "<i>", "a/b", ".."])
def test_a_code_is_a_files_name(code, tmp_path):
    goal = lesson.goal("01_strength", tmp_path)
    goal.code.value = "Z1"
    goal.code.value = code
    assert "must be letters" in said(goal.said)
    assert goal.who.code == "Z1"


def test_two_pages_lose_nothing_of_each_other(tmp_path):
    a, b = form_of(tmp_path), form_of(tmp_path, "after_ice")
    for _ in range(3):
        a.check("1")
        b.check("1")
    found = progress.open_file(tmp_path, "me")
    assert len([x for x in found.attempts if x.typed == "1"]) == 6


# --- what to practise ------------------------------------------------------------------------------------------------------------


def test_waits_double_and_a_miss_begins_again():
    """Days of Mace (1932) as told: 1, 2, 4, 8, 16; boxes of Leitner (1972)."""
    at, tries, waits = datetime(2027, 1, 1, 18), [], []
    for seed in range(7):
        tries.append(progress.Attempt("let_down", seed, at.isoformat(), "", "right"))
        due = spacing.standing(tries).due
        waits.append((due - at).days)
        at = due
    assert waits == [1, 2, 4, 8, 16, 16, 16]
    tries.append(progress.Attempt("let_down", 9, at.isoformat(), "", "mistake"))
    assert spacing.standing(tries).box == 0
    assert spacing.standing(tries).due == at
    tries.append(progress.Attempt("let_down", 10, (at + timedelta(days=1)).isoformat(), "", "right", hints=1))
    assert spacing.standing(tries).box == 0, "with help it is not yet solved"


def test_the_trainers_page_names_who_what_and_which_mistake(tmp_path):
    for code in ("A7", "B2"):
        progress.attempted(tmp_path, code, "let_down", seed=1, typed="1", word="mistake", route="forgot_contraction")
    progress.attempted(tmp_path, "B2", "after_ice", seed=1, typed="1", word="right")
    page = trainer.panel(tmp_path, datetime.now() + timedelta(days=3))
    told = said(page.standing)
    assert bank.mistakes()["forgot_contraction"] in told
    assert re.search(r"A7\s+0\s+0 of 7\s+–", told)
    assert re.search(r"B2\s+0\s+0 of 7\s+1 of 5", told)
    assert re.search(r"B2\s+2\s+Letting down a strong spirit · Strength after the ice", told)
    assert "No learner" in said(trainer.panel(tmp_path / "none").standing)


# --- paper ------------------------------------------------------------------------------------------------------------------------


class Text(HTMLParser):
    """The text of a page, section by section."""

    def __init__(self):
        super().__init__()
        self.blocks, self.skip = [""], False

    def handle_starttag(self, tag, attrs):
        self.skip = tag == "style"
        if tag in ("section", "h2"):
            self.blocks.append("")

    def handle_endtag(self, tag):
        self.skip = False

    def handle_data(self, data):
        if not self.skip:
            self.blocks[-1] += f"{data} "


def blocks_of(page):
    reader = Text()
    reader.feed(page)
    return [" ".join(block.split()) for block in reader.blocks]


@pytest.mark.parametrize("name", LESSONS)
def test_a_sheet_holds_no_answer_and_the_key_all(name):
    one = lessons.lesson(name)
    made = paper.pages(one, 8)
    assert set(made) == {".sheets.html", ".key.html", ".plan.html", ".card.html"}
    sheets, key = blocks_of(made[".sheets.html"]), " ".join(blocks_of(made[".key.html"]))
    drawn = paper.sheets(one, 8)
    assert made[".sheets.html"].count("<section>") == 8
    titles = [f"{i}. {bank.exercise(e).title}" for i, e in enumerate(one.yours, 1)]
    own = [[block for block in sheets if block.startswith(title)] for title in titles]
    half = [block for block in sheets if block.startswith("Half worked")]
    for at, sheet in enumerate(drawn):
        for problem, blocks in zip(sheet.problems, own, strict=True):
            assert problem.text() in blocks[at]
            left = blocks[at].replace(problem.text(), "").replace(problem.table(), "")
            assert not re.search(r"\d", left.partition(" ")[2].replace(problem.exercise.title, "")), (
                "no number beside the question"
            )
            assert bank.written(problem.answer) in key
        for problem, block in zip(sheet.half, half[2 * at : 2 * at + 2], strict=True):
            assert f"= {bank.written(problem.answer)}" not in block
            last = problem.steps()[-1][1]
            assert last not in block
            assert last in key
    assert bank.written(one.guess.answer) not in " ".join(sheets).replace(one.guess.text(), "")
    assert bank.written(one.guess.answer) in key
    for option in one.why.options:
        assert option.text in " ".join(sheets)
        assert option.say not in " ".join(sheets)
    numbers = [tuple(a.value for p in sheet.problems for a in p.given.values()) for sheet in drawn]
    assert len(set(numbers)) == 8, "each learner has other numbers"


def test_paper_sizes_and_the_plan():
    one = lessons.lesson("02_dilution")
    assert 'class="Letter"' in paper.pages(one, 1, "Letter")[".plan.html"]
    assert "size: letter" in paper.pages(one, 1, "Letter")[".plan.html"]
    plan = " ".join(blocks_of(paper.pages(one, 1)[".plan.html"]))
    assert "45 minutes" in plan
    assert "For their phones, press Page to try" in plan
    assert "Nobody but you opens the workbook" in plan
    with pytest.raises(InputError):
        paper.pages(one, 1, "A9")


def test_sheets_and_card_may_be_handed_on_and_neither_key_nor_plan(tmp_path):
    paper.save(lessons.lesson("01_strength"), tmp_path, 2)
    assert {page.path.split(".")[-2] for page in share.finished(tmp_path)} == {"sheets", "card"}


def test_the_command_writes_pages_and_never_over_others(tmp_path, capsys):
    for _ in range(2):
        assert launch.main(["print", "02", "--learners", "3", "--paper", "Letter", "--folder", str(tmp_path)]) == 0
    assert len(list((tmp_path / "paper").glob("02_dilution_0[12].*.html"))) == 8
    assert "Letter" in capsys.readouterr().out


@pytest.mark.parametrize(
    "given", [["99"], ["02", "--learners", "many"], ["02", "--learners", "0"], ["02", "--learners", "500"], ["02", "--codes", "a b"],
              ["02", "--numbers", "x"]],
)  # fmt: skip
def test_the_command_refuses_in_one_sentence(given, tmp_path, capsys):
    assert launch.main(["print", *given, "--folder", str(tmp_path)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert printing


def test_paper_by_mouse(tmp_path):
    page = trainer.panel(tmp_path)
    page.learners.value = "A7, B2"
    page.paper.value = "Letter"
    page.write_button.click()
    assert "01_strength_01.sheets.html" in said(page.said)
    assert "A7" in (tmp_path / "paper" / "01_strength_01.key.html").read_text(encoding="utf-8")
    for typed in ("", "none at all", "0", "2.5"):
        page.learners.value = typed
        page.write_button.click()
        assert "must be" in said(page.said), typed


def test_without_a_browser_a_pdf_is_refused_and_the_pages_stay(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(importlib.import_module("drinklab.writeup.pdf"), "browser", lambda: None)
    assert launch.main(["print", "01", "--learners", "1", "--pdf", "--folder", str(tmp_path)]) == 2
    assert "PDF" in capsys.readouterr().err
    page = trainer.panel(tmp_path)
    page.pdf.value = True
    page.write_button.click()
    assert "PDF" in said(page.said)
    assert len(list((tmp_path / "paper").glob("*.html"))) == 8


def test_a_learner_is_told_what_is_due(tmp_path):
    assert "practise again" not in said(lesson.goal("01_strength", tmp_path).said)
    progress.attempted(
        tmp_path, "me", "let_down", seed=1, typed="1", word="right", time=datetime.now() - timedelta(days=2)
    )
    progress.attempted(tmp_path, "me", "after_ice", seed=1, typed="1", word="right")
    page = lesson.goal("01_strength", tmp_path)
    page.code.value = "Z9"
    page.code.value = "me"
    assert re.search(r"To practise again today:\s+Letting down a strong spirit\.", said(page.said))
