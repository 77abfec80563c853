"""The command `drinklab print`: a lesson on paper, written into the working folder."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path

from ..display import Display
from ..facts import Fact, say
from ..files import WORKING_FOLDER
from . import chosen, lessons, paper

UNITS = {"mL": Display(), "oz": Display("oz", "°F")}


def command(argv: Sequence[str], working_folder: Callable[[str], Path]) -> int:
    """Run the command and return its exit code.

    Parameters
    ----------
    argv : sequence of str
        What stands behind "print".
    working_folder : callable
        Makes sure of the folder.

    Raises
    ------
    InputError
        For what cannot be printed.
    """
    given = _arguments(argv)
    folder = working_folder(given.folder)
    show = UNITS[given.units] if given.units else chosen.of_folder(folder)
    lesson = lessons.lesson(lessons.find(given.lesson), show)
    learners = given.codes.split(",") if given.codes else given.learners
    learners = [code.strip() for code in learners if code.strip()] if given.codes else learners
    seed = paper.counted(given.numbers, "--numbers", 10_000)
    made = paper.save(lesson, folder, learners, given.paper, seed, show=show)
    for path, what in zip(made, ("a sheet for each learner", "the key", "the plan", "the summary card"), strict=True):
        print(f"{path}  ({what})")
    if given.pdf:
        for path in paper.as_pdf(made):
            print(path)
    print(Fact("printed", paper=given.paper))
    return 0


def _arguments(argv: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="drinklab print",
        allow_abbrev=False,
        description=say(Fact("print command")),
    )
    parser.add_argument("lesson", help=f"its number or name: {', '.join(lessons.ids())}")
    parser.add_argument("--learners", default="8", metavar="NUMBER", help="how many sheets (if not given: 8)")
    parser.add_argument("--codes", metavar="A7,B2", help="the learners' codes instead, with commas between")
    parser.add_argument("--paper", choices=paper.PAPERS, default="A4", help="if not given: A4")
    parser.add_argument(
        "--numbers", default="1", metavar="SET", help="another set of numbers: 2, 3 ... (if not given: 1)"
    )
    parser.add_argument(
        "--units", choices=list(UNITS), help="mL and °C, or oz and °F (if not given: as chosen in the workbook)"
    )
    parser.add_argument("--pdf", action="store_true", help="PDF files beside them (needs a browser such as Chromium)")
    parser.add_argument("--folder", default=WORKING_FOLDER, help="the working folder")
    return parser.parse_args(argv)
