"""Words of exercises and of the glossary: reading age by textstat, one source, opened at first use."""

import itertools
import re
from html import unescape

import all_panels
import ipywidgets as w
import pytest
import textstat

from drinklab.teach import bank, glossary, lessons
from drinklab.workbook.parts import page_words
from drinklab.workbook.parts.page_words import PageWords

# Reading age is the school grade plus five. Grades by the automated readability index (Smith and Senter 1967) and by Coleman
# and Liau (1975), which count letters and words; textstat's measures by syllables need a word list from the network.
OLDEST, OLDEST_SENTENCE = 14, 16


def read_age(text):
    plain = re.sub(r"\d+(?:[.,]\d+)?", "9", text)  # a number is read as one short word
    plain = re.sub(r"% vol|% mass|°Brix|°C|[%±×÷]|mL|g/L|kPa", "unit", plain)
    grade = (textstat.automated_readability_index(plain) + textstat.coleman_liau_index(plain)) / 2
    return grade + 5


LESSONS = lessons.ids()


@pytest.mark.parametrize("name", list(bank.exercises()))
def test_an_exercise_is_read_at_12_to_14(name):
    one = bank.problem(name, 1)
    said = [one.text(), one.table(), *(say for say, _ in one.steps())]
    said += [one.filled(text) for wrong in one.exercise.wrong for text in (wrong.hint, wrong.smaller)]
    assert read_age(" ".join(said)) <= OLDEST
    assert read_age(one.text()) <= OLDEST_SENTENCE


def test_the_glossary_has_the_words_in_plain_sentences():
    words = glossary.words().values()
    assert len(words) >= 50
    for one in words:
        assert read_age(one.means) <= OLDEST_SENTENCE + 2, one
        assert one.means.endswith(".")


def test_a_hard_text_is_noticed():
    assert (
        read_age("Thermodynamically irreversible dissolution necessitates considerable computational sophistication.")
        > 20
    )


def test_each_form_opens_one_word():
    forms = [form.casefold() for one in glossary.words().values() for form in (one.word, *one.also)]
    assert len(forms) == len(set(forms))


@pytest.mark.parametrize("name", LESSONS)
def test_words_open_at_first_use_and_only_there(name):
    sections = lessons.lesson(name).sections()
    known, opened = glossary.first_uses(sections), []
    for part, text in sections.items():
        opened += [word.word for _, word in glossary.split(text, known[part]) if word]
    assert len(opened) == len(set(opened)) >= 5
    assert set(opened) == {word.word for _, word in glossary.split(" ".join(sections.values())) if word}


@pytest.mark.parametrize("name", LESSONS)
def test_a_half_worked_step_holds_nothing_of_what_is_asked(name):
    for number, problem in enumerate(lessons.lesson(name).half):
        steps = problem.exercise.steps
        for at in range(max(len(steps) - 1 - number, 0), len(steps)):
            assert bank.written(problem.values[steps[at].value]) not in problem.asked(at)


def test_lessons_follow_one_another():
    for before, after in itertools.pairwise(name for name in LESSONS if name < "07"):
        assert lessons.lesson(before).next == after


@pytest.mark.parametrize("name", ["strength", "ice", "wash", "jelly", "bench", "logbook"])
def test_a_panel_lists_its_words_and_what_they_mean(name, tmp_path):
    """In HTML's own element that opens: keys reach it, and it is read out as what it is."""
    page = (all_panels.PANELS | all_panels.WITHOUT_DRINK)[name](tmp_path)
    (listed,) = [part for part in all_panels.widgets(page) if isinstance(part, PageWords)]
    assert listed.value.startswith("<details")
    assert f"<summary>Words on this page ({listed.value.count('<dt>')})</summary>" in listed.value
    shown = re.findall(r"<dt><b>(.*?)</b></dt><dd>(.*?)</dd>", listed.value)
    assert len(shown) >= 3
    means = {word.word: word.means for word in glossary.words().values()}
    text = " · ".join(page_words.labels(page)).casefold()
    for word, said in shown:
        assert unescape(said) == means[unescape(word)]
        one = glossary.words()[unescape(word)]
        assert any(form.casefold() in text for form in (one.word, *one.also))


def test_words_of_a_panel_are_those_of_its_labels():
    page = w.VBox(
        [w.FloatSlider(description="Strength"), w.Dropdown(options=["agar", "gelatin"], description="Set by")]
    )
    assert set(re.findall(r"<dt><b>(.*?)</b>", page_words.words_of(" · ".join(page_words.labels(page))))) == {
        "agar", "gelatin", "strength",
    }  # fmt: skip
    assert page_words.words_of("Nothing here") == ""
    assert "<i>" not in page_words.words_of("<i>proof</i>")


def test_a_word_that_means_something_else_is_not_explained():
    """A journal's J is no heat, and the balance of energy no drink's."""
    assert (
        page_words.words_of("J. Agric. Food Chem. 58; an energy balance; liking, 7.3 ± 1.5 points").count("<dt>") == 1
    )
    assert "<b>J</b>" in page_words.words_of("Heat 419 J")
