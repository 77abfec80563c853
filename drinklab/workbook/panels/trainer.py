"""A trainer's page: who can do what, which mistake is common, what to practise next, and lessons on paper. No maths."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

import ipywidgets as w

from ...errors import InputError
from ...facts import Fact, say
from ...teach import bank, chosen, lessons, paper, progress, spacing
from ...teach.progress import Learner
from ..parts.html import Html, done_words, heading, join, para, problem_words, quiet, table
from ..parts.lesson_words import LESSON_STYLE

WIDE = {"width": "calc(100% - 4px)", "max_width": "420px"}
BUTTON = {"width": "auto", "align_self": "flex-start"}
TOPICS = {  # as the table names them
    "strength": "strength", "dilution": "ice", "balance": "balance", "prep": "prep", "milk": "milk",
    "filtering": "filters", "carbonation": "gas", "gels": "gels", "batch": "batch", "cost": "cost",
}  # fmt: skip


def panel(folder: str | Path = ".", now: datetime | None = None) -> Trainer:
    """How the learners of a folder stand, and lessons on paper for them.

    Parameters
    ----------
    folder : path
        Working folder: learners' files lie in its folder `learners`, and pages to print go into `paper`.
    now : datetime, optional
        By which it is told what is due; the computer's clock by default.
    """
    return Trainer(Path(folder), now)


class Trainer(w.VBox):
    """The trainer's page. `refresh` reads the folder again."""

    def __init__(self, folder: Path, now: datetime | None) -> None:
        self.folder, self._now = folder, now
        self.standing, self.problems, self.said = Html(), Html(), Html()
        self.again = w.Button(description="Read the folder again", layout=BUTTON)
        self.again.on_click(lambda _: self.refresh())
        self.lesson = w.Dropdown(
            options=[(f"{name[:2]} {lessons.lesson(name).title}", name) for name in lessons.ids()],
            description="Lesson", layout=WIDE,
        )  # fmt: skip
        self.learners = w.Text("8", description="Learners", layout=WIDE, placeholder="8, or codes: A7, B2")
        self.paper = w.Dropdown(options=list(paper.PAPERS), description="Paper", layout=WIDE)
        self.numbers = w.Text("1", description="Numbers", layout=WIDE, tooltip="Another set of numbers: 2, 3 ...")
        self.pdf = w.Checkbox(description="PDF files beside them", indent=False, layout=WIDE)
        self.write_button = w.Button(
            description="Write sheets, key, plan and card", button_style="primary", layout=BUTTON
        )
        self.write_button.on_click(lambda _: self.write())
        super().__init__()
        self.add_class("dl-bench")
        self.children = [
            Html(LESSON_STYLE), self.problems, self.standing, self.again,
            Html(join([
                heading("On paper"),
                quiet(say(Fact("lesson on paper"))),
            ])),
            self.lesson, self.learners, self.paper, self.numbers, self.pdf, self.write_button, self.said,
        ]  # fmt: skip
        self.refresh()

    def refresh(self) -> None:
        """Read the learners' files again."""
        try:
            learners, problems = progress.everyone(self.folder)
        except InputError as problem:
            learners, problems = [], [str(problem)]
        self.problems.value = join(problem_words(one, say(Fact("others are read"))) for one in problems)
        self.standing.value = standing_words(learners, self._now or datetime.now())

    def write(self) -> None:
        """Write a lesson on paper into the folder."""
        try:
            typed = self.learners.value.strip()
            only_digits = typed.isdigit()
            who = typed if only_digits or not typed else [one.strip() for one in typed.split(",") if one.strip()]
            seed = paper.counted(self.numbers.value, "Numbers", 10_000)
            show = chosen.of_folder(self.folder)
            one = lessons.lesson(self.lesson.value, show)
            made = paper.save(one, self.folder, who, self.paper.value, seed, show=show)
            if self.pdf.value:
                made += paper.as_pdf(made)
        except InputError as problem:
            self.said.value = problem_words(str(problem))
            return
        names = ", ".join(path.name for path in made)
        self.said.value = done_words(say(Fact("lesson written", folder=paper.FOLDER, files=names)))


def standing_words(learners: Sequence[Learner], now: datetime) -> str:
    """All tables of a trainer's page."""
    if not learners:
        return join([
            heading("Learners"),
            para(say(Fact("no learner yet", folder=progress.FOLDER))),
        ])  # fmt: skip
    return join([
        heading("Who can do what"), can_words(learners),
        heading("Mistakes, the most common first"), mistake_words(learners),
        heading("What to practise next"), next_words(learners, now),
    ])  # fmt: skip


def can_words(learners: Sequence[Learner]) -> str:
    """Learners and topics: how many exercises each can do of those of the topic."""
    topics = bank.by_topic()
    rows = []
    for one in learners:
        stands = spacing.standings(one)
        cells = []
        for exercises in topics.values():
            tried = [stands[e.id] for e in exercises if e.id in stands]
            cells.append(f"{sum(s.can for s in tried)} of {len(exercises)}" if tried else "–")
        rows.append((one.code, str(len(one.done)), *cells))
    head = ("Learner", "lessons done", *(TOPICS.get(topic, topic) for topic in topics))
    return join([
        table(head, rows),
        quiet(say(Fact("can do"))),
    ])  # fmt: skip


def mistake_words(learners: Sequence[Learner]) -> str:
    """Which mistakes were made, by how many and where."""
    found = spacing.common_mistakes(learners)
    if not found:
        return para(say(Fact("no mistake with a name")))
    names = bank.mistakes()
    rows = [
        (names[route], str(who), str(times), ", ".join(bank.exercise(name).title for name in where))
        for route, who, times, where in found[:12]
    ]
    return table(("Mistake", "learners", "times", "in"), rows)


def next_words(learners: Sequence[Learner], now: datetime) -> str:
    """What each learner had best take next."""
    rows = []
    for one in learners:
        stands = spacing.standings(one)
        due = sum(s.due <= now for s in stands.values())
        coming = [bank.exercise(name).title for name in spacing.next_to_practise(one, now)]
        rows.append((one.code, str(due), " · ".join(coming)))
    days = ", ".join(map(str, spacing.DAYS[1:]))
    return join([
        table(("Learner", "due now", "next"), rows),
        quiet(say(Fact("due again", days=days))),
    ])  # fmt: skip
