"""A hand that does anything: random moves on every panel end in figures or in one sentence.

`DRINKLAB_LONG=1 pytest tests/test_moves.py` is the long profile (2000 moves a panel; `DRINKLAB_MOVES` other ones, 100000
the longest), `DRINKLAB_SEED` another hand; the short one runs with all tests.
"""

import os
import random
import re
import traceback
import zlib
from datetime import date, timedelta

import ipywidgets as w
import pytest
from all_panels import PANELS, WITHOUT_DRINK, widgets, words
from long_run import some

from drinklab.workbook.parts.html import Html
from drinklab.workbook.parts.number_box import NumberBox

MOVES = int(os.environ.get("DRINKLAB_MOVES", "2000" if os.environ.get("DRINKLAB_LONG") else "60"))
SEED = int(os.environ.get("DRINKLAB_SEED", "1"))

NUMBERS = (0, -0.0, 1, -1, 0.1, 0.5, 3, 7, 20, 40, 96, 100, 250, 1000, 1e4, 1e6, 1e9, 1e18, 1e308, -1e308, 1e-9, 1e-300,
           -273.15, -40, 99.9, 33.333333333, float("inf"), float("-inf"), float("nan"))  # fmt: skip
RUBBISH = (
    "", " ", "abc", "0", "-5", "1", "12", "1,5", "1.5", "½", "3/4", "1e3", "1e400", "-1e-400", "9" * 5000, "x" * 5000,
    "٣", "🍋", "\x0b", "a\u202eb", "\ud83d", "%", "40 %", "1 000", "1.000,5", ";", ",", ", ,", "\n\n", "5 mL", "-5 mL",
    "2 oz", "1 dash", "10 bar", "200 kPa", "0 psi", "1e9 bar", "gin", "aged rum", "sugar", "no such thing", "18:00",
    "25:99", "9.30", "30, 100\n60, 160\n90, 207", "30, 100\n30, 100", "60 100\n30 50", "0, 0", "1e300, 1e300\n2e300, 2e300",
    "15, 30, 60", "20, 30, 37", "15", "0, 0, 0", "120", "45 mL gin\n20 mL lemon juice", "45 mL ginn", "top 5 mL gin",
    "45 gin", "1000 L gin\n1 mL water", "0 mL gin", "45 mL egg white\n45 mL cream", "1 g sugar\n900 g sugar syrup",
)  # fmt: skip
NOT_NUMBERS = ("nan", "NaN", "inf", "-inf", "Infinity", "None", "nan, nan", "30, nan\n60, inf", "inf mL", "nan mL gin")
# Fields for words of one's own, which the page repeats as they are.
OWN_WORDS = {"Name", "Title", "Question", "Method", "Notes"}
_BAD = re.compile(r"\b(?:nan|NaN|inf|Infinity|None|Traceback|finite number|array\(|np\.float64)\b|\binf\b|-inf|∞")


def _moved(control, rng):
    """A move on one control, as (what it is, what is done, how to do it); None where there is nothing to do."""
    name = getattr(control, "description", "") or type(control).__name__
    if getattr(control, "disabled", False):
        return None
    if isinstance(control, w.FloatSlider):
        value = rng.choice((control.min, control.max, rng.uniform(control.min, control.max)))
    elif isinstance(control, NumberBox):
        value = rng.choice(
            (rng.choice(NUMBERS), rng.uniform(-5, 200), rng.choice(("7/8", "1½", "0,5", *RUBBISH, *NOT_NUMBERS)))
        )
        if isinstance(value, str):  # as the page sends it
            return name, value, lambda: control.set_state({"value": value})
    elif isinstance(control, w.IntText):
        value = rng.choice((0, 1, 2, 3, 5, -1, 100, 10**6, 10**18, -(10**18)))
    elif isinstance(control, (w.Text, w.Textarea)):
        value = rng.choice(RUBBISH if name in OWN_WORDS else RUBBISH + NOT_NUMBERS)
    elif isinstance(control, w.Dropdown):
        value = rng.choice([value for _, value in control._options_full] or [control.value])
    elif isinstance(control, w.Checkbox):
        value = not control.value
    elif isinstance(control, w.DatePicker):
        value = rng.choice((None, date(1, 1, 1), date(9999, 12, 31), date(2027, 7, 1) + timedelta(rng.randint(-3, 9))))
    elif isinstance(control, w.Accordion):
        value = rng.choice((None, *range(len(control.children))))
        return name, value, lambda: setattr(control, "selected_index", value)
    elif isinstance(control, w.Button):
        if name == "Write up" and rng.random() > 0.03:  # its picture takes a while
            return None
        return name, "pressed", control.click
    else:
        return None
    return name, value, lambda: setattr(control, "value", value)


def _wrong(panel) -> str | None:
    """What should not be on a page: a number that is none, or pale figures without a sentence."""
    said = re.sub(r"'[^'\n]*'|\"[^\"\n]*\"", "''", words(panel))  # what was typed is repeated in quotation marks
    if bad := _BAD.search(said):
        return f"{bad[0]!r} in: {said[max(0, bad.start() - 150) : bad.end() + 60]}"
    pale = [part for part in widgets(panel) if isinstance(part, Html) and "dl-stale" in part._dom_classes]
    told = [part for part in widgets(panel) if isinstance(part, Html) and "dl-problem" in part.value]
    return "pale figures, and nothing said" if pale and not told else None


def walk(name: str, moves: int, seed: int, folder) -> list[str]:
    """What went wrong in so many moves, each with the moves before it; after each a new page is opened."""
    rng = random.Random(zlib.crc32(name.encode()) + seed)
    failed, panel, trail = {}, None, []
    for _ in range(moves):
        if panel is None or len(trail) > 200:
            panel, trail = (PANELS | WITHOUT_DRINK)[name](folder), []
        move = None
        while move is None:
            move = _moved(rng.choice([*widgets(panel)]), rng)
        control, value, act = move
        trail.append(f"{control} = {str(value)[:60]!r}")
        try:
            act()
            trouble = _wrong(panel)
            where = trouble
        except Exception as error:  # any at all is what is looked for
            trouble = "".join(traceback.format_exception(error)[-6:])
            where = traceback.extract_tb(error.__traceback__)[-1].line
        if trouble:
            failed.setdefault(where, f"{trouble}\nafter {'; '.join(trail[-12:])}")
            panel = None
    return list(failed.values())


@pytest.mark.parametrize("name", some([*PANELS, *WITHOUT_DRINK], 6))
def test_any_move_ends_in_figures_or_a_sentence(name, tmp_path):
    failed = walk(name, MOVES, SEED, tmp_path)
    assert not failed, "\n\n".join(failed)


def test_the_walk_sees_a_panel_that_breaks(tmp_path, monkeypatch):
    def broken(folder):
        box = w.Checkbox()
        place = Html("fine")
        box.observe(lambda change: setattr(place, "value", f"{float('nan')} g"), "value")
        return w.VBox([box, place])

    monkeypatch.setitem(PANELS, "broken", broken)
    assert "'nan' in" in walk("broken", 5, 1, tmp_path)[0]
