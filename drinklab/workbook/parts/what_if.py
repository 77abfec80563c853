"""The what-if card: before, after, the change with its ±, one sentence; and questions. No maths here.

The two questions stand in its head in words: "same hand, same ice", which is the paired change, and "this glass against
that one", two glasses made apart.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import ipywidgets as w

from ... import whatif
from ...display import Display
from ...errors import InputError
from ...facts import Fact, say
from ...kinds import TEMPERATURE
from ...pantry import Pantry
from ...setting import Setting
from ...whatif import Change, Sample
from .bars import change
from .exact import DEGREES, ExactDial, plain
from .hand import SOON
from .html import WIDE, Html, bold, heading, join, para, problem_words, quiet, table
from .soon import Soon

SAME, APART = "same hand, same ice", "this glass against that one"
_OPENED, _HELD = "as it was opened", "held to compare"
_HEAD = ("", "before", "after", SAME, APART)


def card_words(changes: tuple[Change, ...], show: Display, title: str) -> str:
    """The card of some changes: its sentence first, then a row a figure; "" where there are none."""
    if not changes:
        return ""
    rows = [
        (
            c.name[:1].upper() + c.name[1:],
            show.amount(c.kind(c.before, c.before_pm)),
            show.amount(c.kind(c.after, c.after_pm)),
            bold(show.amount(c.by, "+")) if c.moves else "none beyond its ±",
            _apart(c, show),
        )
        for c in changes
    ]
    rows = [row for row, c in zip(rows, changes, strict=True) if c.moves or c.surer] or rows
    head = _HEAD
    if not any(c.pm == c.pm for c in changes):  # what is exact is the same in both questions
        head, rows = (*_HEAD[:3], "change"), [row[:4] for row in rows]
    return join([heading(title), para(show.say(whatif.told(changes)), role="status"), table(head, rows)])


def _apart(c: Change, show: Display) -> str:
    """The difference between two glasses, with a picture of both answers: thick the paired one, thin this."""
    if not c.moves:
        return ""
    said = f"{show.amount(c.by_apart, '+')}{'' if c.shows else ', cannot be told'}"
    if not c.apart_pm > 0:
        return said
    return join([change(c.change, c.pm, c.apart_pm, abs(c.change) + c.apart_pm), said])


class Card(w.VBox):
    """The card of a panel: `show` is told the figures each time the page answers, `begin` that another drink is on it.

    Until a hand has moved something it is not there. `compare` holds the figures as they stand, and every later
    change is told from there.
    """

    def __init__(self, *, hold: bool = False) -> None:
        self._drink, self._before, self._show = "", _OPENED, Display()
        self._was: Mapping[str, Sample] = {}
        self._now: Mapping[str, Sample] = {}
        self._first: Mapping[str, Sample] = {}
        self.words = Html()
        self.hold_button = w.Button(description="Compare from here", layout={"display": None if hold else "none"})
        self.hold_button.on_click(lambda _: self._pressed())
        super().__init__([self.words, self.hold_button], layout={"display": "none"})
        self.add_class("dl-whatif")

    def _pressed(self) -> None:
        self.compare(self._before == _OPENED)
        self.show(self._now, self._show)

    def begin(self, drink: str) -> None:
        """The next figures are those of the drink of this name; of another one than so far, as it is opened."""
        if drink != self._drink:
            self._drink, self._first = drink, {}
            self.compare(hold=False)

    def compare(self, hold: bool = True) -> None:
        """Tell every change from how the drink stands now; or, no longer held, again from how it was opened."""
        self._was, self._before = (self._now, _HELD) if hold else (self._first, _OPENED)
        self.hold_button.description = "Compare with how it was opened" if hold else "Compare from here"

    def show(self, now: Mapping[str, Sample], display: Display) -> tuple[Change, ...]:
        """The figures as they stand now; what has changed since."""
        self._now, self._show = now, display
        if not self._was.keys() & now.keys():
            self._was = self._first = now
        changed = tuple(c for c in whatif.paired(self._was, now) if c.moves or c.surer)
        self._put(card_words(changed, display, f"What changed, from the drink {self._before}"))
        return changed

    def _put(self, words: str) -> None:
        if words != self.words.value:
            self.words.value = words
        shown = None if words else "none"
        if self.layout.display != shown:
            self.layout.display = shown


class Asked(w.VBox):
    """Questions of a bar, each answered at a touch for the drink on the page; its number can be moved.

    `drink` gives the drink and its pantry, `take` puts the changed one on the page.
    """

    def __init__(
        self, drink: Callable[[], tuple[Setting, Pantry]], show: Display, take: Callable[[Setting], None]
    ) -> None:
        self._drink, self._show, self._take = drink, show, take
        options = [("choose a question …", ""), *((q.title, code) for code, q in whatif.QUESTIONS.items())]
        self.which = w.Dropdown(options=options, description="What if …", layout=WIDE)
        self.place, self.words = w.VBox(), Html()
        self.take_button = w.Button(description="Put it into the drink", layout={"display": "none"})
        self.answer: whatif.Answer | None = None
        self._value: float | str | None = None
        self._later = Soon(self.refresh, SOON)
        super().__init__([self.which, self.place, self.words, self.take_button])
        self.add_class("dl-asked")
        self.which.observe(lambda _: self._chosen(), "value")
        self.take_button.on_click(lambda _: self._taken())

    def _chosen(self) -> None:
        self._value = None
        self.place.children = ()
        if self.which.value:
            with_number = whatif.QUESTIONS[self.which.value]
            self.place.children = [self._control(with_number)]
        self.refresh()

    def _control(self, question: whatif.Question) -> w.Widget:
        if question.choices is not None:
            offered = [(name, key) for key, name in question.choices(*self._drink()).items()]
            made = w.Dropdown(options=offered, description=question.asks, layout=WIDE)
            made.observe(lambda change: self._moved(change["new"]), "value")
            return made
        of = DEGREES if question.kind is TEMPERATURE else plain(question.kind.label, question.step)
        return ExactDial(question.asks, question.usual, question.low, question.high, of, self._show, self._moved)

    def _moved(self, value: float | str) -> None:
        self._value = value
        self.refresh()

    def show_in(self, show: Display) -> None:
        """In other units."""
        self._show = show
        for control in self.place.children:
            if hasattr(control, "show_in"):
                control.show_in(show)

    def soon(self) -> None:
        """Answer again once the drink stands still: a slider is not kept waiting for it."""
        if self.which.value and not self._later.later():
            self.refresh()

    def refresh(self) -> None:
        """Answer the question chosen, for the drink as it stands."""
        self.answer, words = None, ""
        if self.which.value:
            try:
                drink, shelf = self._drink()
                self.answer = whatif.ask(self.which.value, drink, self._value, pantry=shelf)
            except InputError as problem:
                words = problem_words(self._show.say(problem))
            else:
                words = self._words(self.answer)
        if words != self.words.value:
            self.words.value = words
        here = self.answer is not None and self.answer.setting is not None
        if self.take_button.layout.display != (None if here else "none"):
            self.take_button.layout.display = None if here else "none"

    def _words(self, answer: whatif.Answer) -> str:
        what = self._show.say(answer.what)
        ice = answer.was.chill is not None and answer.was.setting.ice is not None
        behind = quiet(say(Fact("both on ice" if ice else "both by the rule")))
        brings = join(map(para, map(self._show.say, answer.brings.said())))
        return card_words(answer.changes, self._show, what[:1].upper() + what[1:]) + brings + behind

    def _taken(self) -> None:
        self.refresh()  # the drink may have changed since: what was changed by hand is not undone
        if self.answer is not None and self.answer.setting is not None:
            new = self.answer.setting
            self.which.value = ""
            self._take(new)
