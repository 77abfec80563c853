"""The parts of a lesson, one call a cell: goal, guess, worked, half worked, yours, why, summary, next. No maths here.

Each call takes the name of a lesson ("02_dilution") and the working folder; nothing of an answer stands in a notebook.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path

import ipywidgets as w

from ... import logbook
from ...errors import InputError
from ...facts import Fact
from ...files import is_there
from ...teach import bank, checking, chosen, glossary, lessons, progress, spacing
from ...teach.bank import Problem
from ...teach.checking import Verdict
from ..parts.answer_box import AnswerBox
from ..parts.html import Html, bold, element, heading, join, marked, para, problem_words, quiet
from ..parts.learner import who
from ..parts.lesson_words import (
    LESSON_STYLE,
    blank_line,
    bullets,
    explained,
    hint_words,
    question_words,
    right_words,
    say,
    sum_line,
    worked_lines,
)
from ..parts.spoken import Spoken

WIDTH = {"width": "auto", "align_self": "flex-start"}
Panels = Callable | Mapping[str, Callable]


class Part(w.VBox):
    """A part of a lesson on a page."""

    def __init__(self, name: str, part: str, folder: str | Path) -> None:
        super().__init__()
        self.folder = Path(folder)
        self.who = who(folder)
        self.name = name
        self.known = glossary.first_uses(self.lesson.sections())[part]
        self.add_class("dl-bench")
        self.add_class("dl-lesson")

    @property
    def lesson(self) -> lessons.Lesson:
        """The lesson, its numbers round in the units chosen."""
        return lessons.lesson(self.name, self.who.show)

    def _lay_out(self, *parts: w.Widget) -> None:
        self.children = [Html(LESSON_STYLE), Spoken(), *parts]
        self.who.observe(lambda _: self._in_other_units(), "show")

    def _in_other_units(self) -> None:
        """Say it in the units that were chosen since."""

    def _keep(self, write: Callable, *args, **more) -> str:
        """Write down what was done; "" or why it could not be."""
        self.who.keep(write, *args, **more)
        return problem_words(self.who.problem, Fact("go on all the same").text) if self.who.problem else ""


# --- goal -------------------------------------------------------------------------------------------------------


def goal(name: str, folder: str | Path = ".") -> Goal:
    """What the lesson is for, how long it takes, what to know before, and under which code answers are kept."""
    return Goal(name, folder)


class Goal(Part):
    """The goal of a lesson."""

    def __init__(self, name: str, folder: str | Path) -> None:
        super().__init__(name, "goal", folder)
        one = self.lesson
        self.code = w.Text(
            self.who.code, description="Your code", continuous_update=False, layout={"width": "240px"},
            tooltip=Fact("code of a learner").text,
        )  # fmt: skip
        self.said = Html(self._kept_words())
        self.code.observe(self._changed, "value")
        needs = element("div", bold("To know before: "), explained(one.needs, self.known), class_="dl-say")
        self._lay_out(
            Html(join([heading(f"Goal · {one.minutes} minutes"), bullets(one.goal, self.known), needs])),
            self.code, self.said,
        )  # fmt: skip

    def _kept_words(self) -> str:
        if self.who.problem:
            return problem_words(self.who.problem)
        tried = len(self.who.now.attempts)
        held = Fact("answers held", count=tried) if tried else ""
        file = f"{progress.FOLDER}/{self.who.code.casefold()}.json"
        return self._due_words() + quiet(Fact("answers are kept", file=file, held=held).text)

    def _due_words(self) -> str:
        due = [bank.exercise(name).title for name in spacing.due(self.who.now, datetime.now())]
        return para(bold("To practise again today: "), f"{', '.join(due[:3])}.") if due else join([])

    def _changed(self, _) -> None:
        try:
            self.who.become(self.code.value)
        except InputError as problem:
            self.said.value = problem_words(str(problem))
        else:
            self.said.value = self._kept_words()


# --- guess ------------------------------------------------------------------------------------------------------


def guess(name: str, panel: Panels | None = None, folder: str | Path = ".") -> Guess:
    """A question to guess at; the panel opens when a guess is given, and the guess stands against the answer.

    Parameters
    ----------
    name : str
        Of the lesson.
    panel : callable or mapping, optional
        What makes the panel, called with the working folder if it takes anything; or several, each by its title, of
        which one is open at a time.
    folder : path
    """
    return Guess(name, panel, folder)


class Guess(Part):
    """The guess of a lesson. `show_panel` opens the panel without one."""

    def __init__(self, name: str, panel: Panels | None, folder: str | Path) -> None:
        super().__init__(name, "guess", folder)
        self.panel: w.Widget | None = None
        self._build = panel
        self.words = Html()
        self.skip = w.Button(description="Skip the guess", layout=WIDTH)
        self.skip.on_click(lambda _: self._show_case())
        self.said = Html()
        self.place = w.VBox()
        self.asked = w.VBox()
        self._ask()
        self._lay_out(self.words, self.asked, self.said, self.place)
        if name in self.who.now.guesses:
            self._show(self.who.now.guesses[name])

    def _ask(self) -> None:
        one = self.lesson.guess
        self.words.value = join([heading("Guess"), say(one.text(), self.known)])
        self.answer = AnswerBox(one.unit, "This is my guess", self._guessed)
        self.asked.children = [self.answer, self.skip]

    def _in_other_units(self) -> None:
        guessed = self.who.now.guesses.get(self.lesson.id)
        self._ask()
        if guessed is not None:
            self.said.value = guess_words(self.lesson.guess, guessed, self.lesson.after_guess, self.known)
            self.asked.children = []
        elif self.panel is not None:
            self.asked.children = [self.answer]

    def _guessed(self, text: str) -> None:
        try:
            value = checking.read(text, self.lesson.guess.answer.kind, "your guess", self.who.show)
        except InputError as problem:
            self.said.value = problem_words(str(problem))
            return
        kept = self._keep(progress.guessed, self.lesson.id, value)
        self._show(value)
        self._show_case()
        if kept:
            self.said.value = join([self.said.value, kept])

    def _show(self, value: float) -> None:
        self.said.value = guess_words(self.lesson.guess, value, self.lesson.after_guess, self.known)
        self.asked.children = []
        self.show_panel()

    def show_panel(self) -> w.Widget | None:
        """Open the panel, whether anything was guessed or not."""
        if self.panel is None and self._build is not None:
            self.place.children = [Html(quiet("The panel opens here …"))]
            self.panel = (
                Strip(self._build, self.folder) if isinstance(self._build, Mapping) else built(self._build, self.folder)
            )
            self.place.children = [self.panel]
        if self.asked.children:
            self.asked.children = [self.answer]
        return self.panel

    def _show_case(self) -> None:
        """Put the panel at the case of the guess, where it can; a drink that somebody has in hand stays where it is."""
        panel = shown = self.show_panel()
        if isinstance(panel, Strip):
            panel.choose.value = self.lesson.opens or panel.choose.value
            shown = panel.place.children[0]
        if hasattr(shown, "show_case") and not is_there(self.folder / logbook.IN_HAND):
            shown.show_case(**{name: one.value for name, one in self.lesson.guess.given.items()})


def built(build: Callable, folder: Path) -> w.Widget:
    """A panel by what makes it, which is given the folder if it asks for one."""
    asked = inspect.signature(build).parameters.values()
    wants = any(
        one.name == "folder" or (one.default is one.empty and one.kind <= one.POSITIONAL_OR_KEYWORD) for one in asked
    )
    return build(folder) if wants else build()


class Strip(w.VBox):
    """Several panels, one open at a time, each made when it is first chosen."""

    def __init__(self, panels: Mapping[str, Callable], folder: Path) -> None:
        self._panels, self._folder, self._made = panels, folder, {}
        self.choose = w.ToggleButtons(options=list(panels), style={"button_width": "auto"})
        self.place = w.VBox()
        super().__init__([self.choose, self.place])
        self.choose.observe(self._chosen, "value")
        self._chosen()

    def _chosen(self, _=None) -> None:
        name = self.choose.value
        if name not in self._made:
            self._made[name] = built(self._panels[name], self._folder)
        self.place.children = [self._made[name]]


def guess_words(problem: Problem, value: float, after: str, known=()) -> str:
    """A guess beside the answer."""
    answer = problem.answer
    off = value / answer.value - 1
    if abs(off) <= 0.02:
        word = Fact("guess is it")
    elif not -0.9 <= off <= 9.99:  # ten times too little or too much: a per cent says less
        word = Fact("guess far too high" if off > 0 else "guess far too low")
    else:
        word = Fact("guess too high" if off > 0 else "guess too low", by=abs(100 * off))
    told = Fact("guessed", guess=problem.says(value, as_given=True), answer=problem.says(answer.value), word=word)
    return join([
        element("div", marked(told.text), class_="dl-say dl-right-answer", role="status"),
        say(problem.told(after), known),
    ])  # fmt: skip


# --- worked and half worked ---------------------------------------------------------------------------------------


def worked(name: str, folder: str | Path = ".") -> Worked:
    """An example with all its steps."""
    return Worked(name, folder)


class Worked(Part):
    """The worked example of a lesson."""

    def __init__(self, name: str, folder: str | Path) -> None:
        super().__init__(name, "worked", folder)
        self.words = Html()
        self._in_other_units()
        self._lay_out(self.words)

    def _in_other_units(self) -> None:
        one = self.lesson.worked
        self.words.value = join([question_words("Worked example", one, self.known), worked_lines(one, self.known)])


def half_worked(name: str, folder: str | Path = ".") -> HalfWorked:
    """The same at other numbers: the last step left out, then the last two, and so on."""
    return HalfWorked(name, folder)


class HalfWorked(Part):
    """The half worked example of a lesson. `round` counts from 0; `at` is the step that is asked for."""

    def __init__(self, name: str, folder: str | Path) -> None:
        super().__init__(name, "half", folder)
        self.round = 0
        self.words, self.said = Html(), Html()
        self.place = w.VBox()
        self.next = w.Button(
            description="Next: one step more left out",
            layout=WIDTH | {"display": "none"},
        )
        self.next.on_click(lambda _: self._start(self.round + 1))
        self._lay_out(self.words, self.place, self.said, self.next)
        self._start(0)

    @property
    def problem(self) -> Problem:
        """The example of this round."""
        return self.lesson.half[self.round]

    def _in_other_units(self) -> None:
        self._start(self.round)

    def _start(self, number: int) -> None:
        self.round = number
        self.at = max(len(self.problem.way) - 1 - number, 0)
        self.next.layout.display = "none"
        self.said.value = ""
        self._ask()

    def _ask(self) -> None:
        """Show what is worked, and ask for the next step."""
        one, steps = self.problem, self.problem.steps()
        self._missed = 0
        lines = [element("li", words, sum_line(done)) for words, done in steps[: self.at]]
        done = self.at == len(steps)
        if not done:
            lines.append(element("li", one.asked(self.at)))
        head = f"Half worked · {self.round + 1} of {len(self.lesson.half)}"
        self.words.value = join([question_words(head, one, self.known), element("ol", *lines)])
        if done:
            self.place.children = []
            more = self.round + 1 < len(self.lesson.half)
            self.next.layout.display = None if more else "none"
            self.said.value = right_words(Fact("one step more is left out" if more else "now your own").text)
            return
        value, show = self.problem.step_value(self.at)
        self.answer = AnswerBox(chosen.kind_in(value.kind, show), "Check", self._checked)
        self.place.children = [self.answer]

    def _checked(self, text: str) -> None:
        value, show = self.problem.step_value(self.at)
        found = checking.check_value(value, text, show=show)
        if found.right:
            self.said.value = right_words("Right.")
            self.at += 1
            self._ask()
            return
        step = self.problem.way[self.at]
        if found.word in ("unread", "other unit"):
            self.said.value = problem_words(found.said)
            return
        self._missed += 1
        more = [blank_line(self.problem.filled(step.left))]
        if self._missed > 1:
            more = [sum_line(self.problem.filled(step.sum)), Fact("type it in").text]
        self.said.value = hint_words(found.said, *more)


# --- yours --------------------------------------------------------------------------------------------------------


def yours(name: str, folder: str | Path = ".") -> Yours:
    """Exercises with a learner's own numbers."""
    return Yours(name, folder)


class Yours(Part):
    """The exercises of a lesson, one open at a time."""

    def __init__(self, name: str, folder: str | Path) -> None:
        super().__init__(name, "yours", folder)
        self.forms: dict[str, Form] = {}
        titles = [(f"{i}. {bank.exercise(one).title}", one) for i, one in enumerate(self.lesson.yours, 1)]
        self.choose = w.ToggleButtons(options=titles, style={"button_width": "auto"})
        self._mark()
        self.place = w.VBox()
        self._lay_out(
            Html(join([heading("Your turn"), quiet(Fact("numbers of your own").text)])),
            self.choose, self.place,
        )  # fmt: skip
        self.choose.observe(self._chosen, "value")
        self.who.observe(lambda _: self._renew(), ["code", "show"])
        self._chosen()

    def _renew(self) -> None:
        self.forms = {}
        self._mark()
        self._chosen()

    def _mark(self) -> None:
        """Tick what is solved. The choices themselves stay: new ones would put the page back to the first."""
        done = [self.who.now.solved(name) for name in self.lesson.yours]
        self.choose.icons = ["check" if one else "" for one in done]
        self.choose.tooltips = ["solved" if one else "not solved yet" for one in done]

    def _chosen(self, _=None) -> None:
        name = self.choose.value
        if name is None:
            return
        if name not in self.forms:
            self.forms[name] = Form(name, self.folder, self.known, self._mark)
        self.place.children = [self.forms[name]]


def exercise(name: str, folder: str | Path = ".") -> Form:
    """One exercise of the bank, by its own name."""
    form = Form(name, folder)
    form.children = [Html(LESSON_STYLE), Spoken(), *form.children]
    return form


class Form(w.VBox):
    """An exercise: a question, a box, and help that goes one step further with each miss.

    First the mistake is named, then there is a smaller step, then the worked solution.
    """

    def __init__(self, name: str, folder: str | Path, known=(), solved: Callable[[], None] | None = None) -> None:
        self.exercise, self.who, self._solved = bank.exercise(name), who(folder), solved
        self._known = known
        self.words, self.said = Html(), Html()
        self.place = w.VBox()
        self.help = w.Button(description="Help", layout=WIDTH)
        self.other = w.Button(description="Other numbers", layout=WIDTH)
        self.help.on_click(lambda _: self._help())
        self.other.on_click(lambda _: self.start())
        self._more = 0
        super().__init__([self.words, self.place, self.said, w.HBox([self.help, self.other])])
        self.add_class("dl-bench")
        self.add_class("dl-lesson")
        self.start()

    def start(self) -> None:
        """New numbers."""
        self.seed = bank.seed_of(self.who.code, self.exercise.id, len({a.seed for a in self._tries()}) + self._more)
        self._more += not any(a.seed == self.seed for a in self._tries())
        self.problem = self.exercise.drawn(self.seed, self.who.show)
        self.hints, self._verdict = 0, None
        self.words.value = question_words(self.exercise.title, self.problem, self._known)
        self.answer = AnswerBox(self.problem.unit, "Check", self.check)
        self.place.children = [self.answer]
        self.said.value = ""
        self.help.disabled = False

    def _tries(self):
        return self.who.now.tries(self.exercise.id)

    def check(self, text: str) -> Verdict:
        """Judge an answer, keep it, and say what it is worth."""
        found = checking.check(self.problem, text)
        self._note(text, found)
        if found.right:
            self._say(right_words(self._right_words()))
            self.help.disabled = True
            if self._solved:
                self._solved()
        elif found.word in ("unread", "other unit"):
            self._say(problem_words(found.said))
        else:
            self._verdict = found
            self._help()
        return found

    def _right_words(self) -> str:
        exact = self.problem.says(self.problem.answer.value)
        return Fact("right with help" if self.hints else "right alone", exact=exact).text

    def _note(self, text: str, found: Verdict) -> None:
        self.who.keep(
            progress.attempted, self.exercise.id, seed=self.seed, typed=text, word=found.word, route=found.route,
            hints=self.hints,
        )  # fmt: skip

    def _help(self) -> None:
        """One step further: what was wrong, a smaller step, the worked solution."""
        found = self._verdict
        first = self.problem.way[0]
        if found is None and self.hints == 0:
            self.hints = 1  # nothing was typed, so nothing can be named
        self.hints += 1
        told = found.said if found else ""
        if self.hints == 1:
            self._say(hint_words(told))
        elif self.hints == 2:
            smaller = (
                found and found.smaller
            ) or f"{self.problem.filled(first.say)} {self.problem.filled(first.left)} = ?"
            self._say(hint_words(told, smaller))
        else:
            if self.hints == 3:
                self._note("", Verdict("worked shown", ""))
            self._say(join([
                hint_words(told), para(bold("All the steps:")), worked_lines(self.problem, self._known),
                quiet(Fact("now without help").text),
            ]))  # fmt: skip

    def _say(self, words: str) -> None:
        kept = problem_words(self.who.problem, Fact("go on all the same").text) if self.who.problem else ""
        self.said.value = join([words, kept])


# --- why, summary, next -------------------------------------------------------------------------------------------


def why(name: str, folder: str | Path = ".") -> WhyPart:
    """Which principle was it? A question with options and a sentence on each."""
    return WhyPart(name, folder)


class WhyPart(Part):
    """The last question of a lesson."""

    def __init__(self, name: str, folder: str | Path) -> None:
        super().__init__(name, "why", folder)
        asked = self.lesson.why
        self.choose = w.RadioButtons(
            options=[(option.text, i) for i, option in enumerate(asked.options)], value=None, layout={"width": "auto"}
        )
        self.said = Html()
        self.choose.observe(self._chosen, "value")
        self._lay_out(Html(join([heading("Why?"), say(asked.ask, self.known)])), self.choose, self.said)

    def _chosen(self, change) -> None:
        if change["new"] is None:
            return
        option = self.lesson.why.options[change["new"]]
        kept = self._keep(progress.finished, self.lesson.id) if option.right else ""
        said = explained(option.say, self.known)
        self.said.value = join([(right_words if option.right else hint_words)(said), kept])


def summary(name: str, folder: str | Path = ".") -> Part:
    """What the lesson comes to, on one card."""
    part = Part(name, "summary", folder)
    lines = bullets(part.lesson.summary, part.known)
    part._lay_out(Html(element("div", heading(f"{part.lesson.title}: summary"), lines, class_="dl-card")))
    return part


def next_lesson(name: str, folder: str | Path = ".") -> Part:
    """Where to go from here."""
    part = Part(name, "next", folder)
    one = part.lesson
    open_it = para("Press ", bold("All notebooks"), " at the top, and open ", bold(one.next), ".") if one.next else ""
    phones = quiet(Fact("class on phones").text)
    part._lay_out(Html(join([heading("Next"), say(one.next_say, part.known), open_it, phones])))
    return part


def begin(name: str, panel: Panels | None = None, folder: str | Path = ".") -> w.VBox:
    """Goal and guess in one cell, the first of a notebook: it is run and drawn before the rest."""
    return w.VBox([goal(name, folder), guess(name, panel, folder)])


def words(folder: str | Path = ".") -> w.VBox:
    """All words of the lessons and what they mean."""
    rows = sorted(glossary.words().values(), key=lambda word: word.word.casefold())
    listed = element("dl", *(element("dt", bold(one.word)) + element("dd", one.means) for one in rows))
    page = w.VBox([Html(LESSON_STYLE), Html(join([heading("Words"), listed]))])
    page.add_class("dl-bench")
    page.add_class("dl-lesson")
    return page
