"""What every panel is made of: dials, a drink to choose, one place for problems, tables and tiles. No maths here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import ipywidgets as w

from ... import classics, demo, logbook, pantry, trial, whatif
from ...declared import declared
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact
from ...recipe import Recipe
from ...setting import Setting, as_setting
from ...steps import Caution
from ..charts.live import LiveChart
from ..comms import tell
from .alike import alike
from .hand import Hand
from .html import STYLE, WIDE, Html, bold, declaration, done_words, join, para, problem_words
from .own_file import OwnFile, with_own
from .page_words import PageWords
from .spoken import Spoken
from .watch import Watched
from .what_if import Card


def chosen(folder: Path) -> tuple[dict, list[str]]:
    """Standing choices of a working folder, and what was wrong with their file, in words."""
    try:
        return logbook.choices(folder), []
    except InputError as problem:
        return {}, [str(problem)]


def usual_country(folder: Path) -> str:
    """Whose standard drinks and money a page begins with; what is wrong with the choices the page says already."""
    return chosen(folder)[0].get("country", logbook.DEFAULTS["country"])


class Pictured:
    """What holds its chart in a box, `picture`, since another unit may draw it anew."""

    picture: w.Box

    @property
    def chart(self) -> LiveChart:
        """The one in the box."""
        return self.picture.children[0]


class Panel(w.VBox):
    """A page of controls that can be set by the program too."""

    _quiet = False

    @property
    def display(self) -> Display:
        """How amounts are shown, as chosen."""
        return Display(self.volume_unit.value, self.temperature_unit.value)

    def say(self, what) -> str:
        """The sentence of a fact or a problem, in the chosen units."""
        return self.display.say(what)

    @contextmanager
    def _said(self):
        """Show a problem with what was asked for, at the end of the page."""
        try:
            yield
        except InputError as problem:
            self.said.value = problem_words(self.say(problem))

    def _hand_said(self, said: str | InputError) -> None:
        """What became of the drink in hand, where nobody pressed a button for it."""
        self.said.value = hand_words(said)

    @contextmanager
    def _silently(self):
        """Set controls without their answering each one."""
        before, self._quiet = self._quiet, True
        try:
            yield
        finally:
            self._quiet = before


class Lesson(Panel):
    """A panel of a lesson: a drink to choose, controls that answer at once, one place for problems.

    It opens on the drink in hand of the working folder, and follows it. `setting` is the drink on the page, whole.
    A subclass makes its controls in `_build` (which ends in `_lay_out`) and its answers in `_answer`; those
    named in `self.answers` turn pale while the page shows a problem. Cautions and allergens of the drink in
    hand, and of what `_answer` returns, stand on the page by themselves, and never pale.
    """

    plain_name = ""  # what the first choice, a drink without a recipe, is called; none by default
    standing: tuple[Caution, ...] = ()  # cautions of whatever is on the page
    waits: Sequence[Html] = ()  # answers that are worked out when the hand rests, pale until then
    _inside = False  # of another place that shows problems

    def __init__(self, folder: str | Path = ".", drink: Recipe | Setting | None = None) -> None:
        self.folder = Path(folder)
        self.answers: list[Html] = []
        self.own_file = OwnFile(self.folder, type(self).__name__, self._own_changed)
        self.shelf = self._own_shelf = self.own_file.shelf
        kept, problems = chosen(self.folder)
        self.known = classics.load()
        self._demo = demo.settings(self.shelf)
        self.setting: Setting | None = None
        self.hand = Hand(self.folder, type(self).__name__, self._follow, self._hand_said)
        saved, unreadable = logbook.entries(self.folder)
        options = [(self.plain_name, _PLAIN)] if self.plain_name else []
        options += [(f"Demo: {name}", ("demo", name)) for name in self._demo]
        options += [(f"Saved: {entry.label}", ("saved", str(entry.path))) for entry in saved]
        options += [(f"Classic: {self.known.titled(name)}", ("classic", name)) for name in sorted(self.known.names)]
        self.choose = pick("Drink", options)
        self.volume_unit = pick("Volumes in", ("mL", "oz"), kept.get("volume", "mL"))
        self.temperature_unit = pick("Degrees in", ("°C", "°F"), kept.get("temperature", "°C"))
        self.what_if = Card(hold=True)
        self.head, self.problem, self.cautions, self.said = Html(), Html(), Html(), Html()
        self.glossary = PageWords()
        self.head.add_class("dl-head")
        self.problem.add_class("dl-trouble")
        self.shown_in = ShownIn(self.volume_unit, self.temperature_unit)
        self.units = Units(self.folder, type(self).__name__, self.volume_unit, self.temperature_unit)
        super().__init__()
        self._build(self.display)
        self.add_class("dl-bench")
        self.choose.observe(self._chosen, "value")
        self.volume_unit.observe(self._units_changed, "value")
        self.temperature_unit.observe(self._units_changed, "value")
        held = self.hand.read(self._own_shelf, problems) if drink is None else None
        if held is not None:
            self._follow(held)
        else:
            self.use(drink if drink is not None else self._first())
        self.glossary.look(self)
        self._tell((*problems, *unreadable))

    @property
    def _recipe(self) -> Recipe:
        return self.setting.recipe

    def _follow(self, held: logbook.Opened) -> None:
        """Show the drink that has been put in hand, here or on another page."""
        here = [(f"In hand: {held.title or held.setting.recipe.name}", _HAND)]
        here += [(f"Beside it: {b.recipe.name}", ("beside", str(i))) for i, b in enumerate(held.setting.beside)]
        self._held = held
        self._news(held.notes)
        with self._silently():
            chosen = self.choose.value
            plain = [o for o in self.choose.options if o[1] == _PLAIN]
            rest = [o for o in self.choose.options if o[1][0] not in ("hand", "beside") and o[1] != _PLAIN]
            self.choose.options = [*plain, *here, *rest]
            looked_at = self.setting is not None and chosen in [key for _, key in (*plain, *rest)]
            self.choose.value = chosen if looked_at else _HAND
        if not looked_at:
            with self._problems_shown():
                self.use(self._named(_HAND))

    def put_in_hand(self, setting: Setting, said: Fact, of: Setting | None = None, show: tuple | None = None) -> None:
        """Put the drink with what was worked out here in hand, and say so; what was in hand is kept if another.

        `of` is the drink that it was worked out for, by default the one on the page; `show` is what to show then.
        """
        with self._said():
            show = show or _HAND
            if of is None and self.choose.value[0] == "beside":  # then it stays what goes with the drink in hand
                of, show, at = self._held.setting, self.choose.value, int(self.choose.value[1])
                setting = replace(of, beside=(*of.beside[:at], setting, *of.beside[at + 1 :]))
            trial.run(setting, pantry=self.shelf, draws=0)  # refuses what cannot be made
            before = self.hand.now(self._own_shelf)
            same = before is not None and before.setting == (of or self.setting)
            words = {"title": before.title, "note": before.note, "came_from": before.came_from} if same else {}
            if not same and self.choose.value[0] == "saved":
                words["came_from"] = Path(self.choose.value[1]).name
            other = None if same else before
            kept = self.hand.take(replace(setting, display=self.display), self.shelf, other, **words)
            self._held = None
            self._follow(logbook.in_hand(self.folder, pantry=self._own_shelf))
            self.use(self._named(show), show)
            name = setting.recipe.name
            self.said.value = done_words(self.say(Fact("in hand with it", said=said, name=name, kept=kept)))

    def _put_button(self, description: str, put: Callable[[], None]) -> w.Button:
        """A button that puts what was worked out into the drink; `put` may refuse."""

        def put_in() -> None:
            with self._said():
                self._mended()
                put()

        def pressed(button: w.Button) -> None:
            busy(button, "Putting it in …", put_in)

        button = w.Button(description=description, button_style="primary", layout={"width": "auto"})
        button.on_click(pressed)
        return button

    def _mended(self) -> None:
        """Refuse to keep anything while the page shows a problem: the figures would be another drink's."""
        self.refresh()
        if self.problem.value:
            raise InputError("what is to be kept", Told("not whole yet"), "mended first, as the page says above")

    def _tell(self, problems: Iterable[str]) -> None:
        """Say what is wrong with the files of the folder, under what is said already."""
        self.said.value = join([self.said.value, *map(problem_words, problems)])

    def _build(self, show: Display) -> None:
        raise NotImplementedError

    def _answer(self):
        """Answer the page; what is returned may have cautions and allergens of its own, as a trial has."""
        raise NotImplementedError

    def _in_hand(self) -> list[tuple[str, Sequence[pantry.Ingredient | Caution]]]:
        """What each drink that the page handles brings, with its name where there are several."""
        return [("", () if self.plain else self.setting.brings(self.shelf))]

    def _used(self) -> None:
        """Bring the controls in line with a drink just chosen."""

    def _show_in(self, show: Display) -> None:
        """Bring the controls in line with other units."""

    def _offer(self) -> None:
        """Bring what can be chosen in line with the shelf."""

    def _own_changed(self, mine: pantry.Pantry) -> None:
        self._own_shelf, self.shelf = mine, with_own(self.shelf, mine)
        with self._silently():
            self._offer()
        self.refresh()

    def _first(self) -> Recipe | Setting:
        return next(iter(self._demo.values()))

    def _lay_out(
        self,
        left: Sequence[w.Widget],
        right: Sequence[w.Widget],
        below: Sequence[w.Widget] = (),
        answer: Html | None = None,
    ) -> None:
        """Controls left, answers right, the rest under both; the figures of `answer` stay in view over all of it."""
        both = sides([*left, self.shown_in], [*right, self.what_if, self.cautions])
        above = [] if answer is None else [answer]
        for part in above:
            part.add_class("dl-figures")
        first = [Html(STYLE), Spoken(), self.own_file.said, self.head, *above, self.problem]
        self.children = [*first, both, *[group("dl-below", *below)] * bool(below), self.glossary, self.said]

    def _answers_to(self, *controls: w.Widget) -> None:
        for control in controls:
            control.observe(self.refresh, "value")

    def use(self, drink: Recipe | Setting, key: tuple[str, str] | None = None) -> None:
        """Put a drink on the page; `key` is the choice that it stands for, where that is known."""
        setting = as_setting(drink)
        recipe = setting.recipe
        recipe.bottles(self.shelf)  # refuses what the pantry lacks before anything has changed
        self.setting = setting
        with self._silently():
            keys = [("demo", recipe.name), ("classic", recipe.name)]
            known = {key for _, key in self.choose.options}
            here = key or self.choose.value
            if here == _PLAIN or here[0] not in ("saved", "hand", "beside") or self._named(here) != setting:
                here = next((key for key in keys if key in known and self._named(key) == setting), None)
            if here is None:  # one that was handed in
                here, self._handed_in = ("own", recipe.name), setting
                self.choose.options = [*[o for o in self.choose.options if o[1][0] != "own"], (recipe.name, here)]
            self.choose.value = here
            self._used()
        self.refresh()

    def _named(self, key) -> Setting:
        kind, name = key
        if kind in ("saved", "hand", "beside"):
            found = logbook.open_saved(Path(name), pantry=self._own_shelf) if kind == "saved" else self._held
            # Other drinks may be on the page: theirs stay on the shelf.
            self.shelf = found.onto(self.shelf)
            return found.setting.beside[int(name)] if kind == "beside" else found.setting
        if kind == "own":
            return self._handed_in
        return self._demo[name] if kind == "demo" else as_setting(self.known[name])

    def _chosen(self, change) -> None:
        if self._quiet:
            return
        if change["new"] == _PLAIN:
            self.refresh()
        else:
            with self._problems_shown():
                self.use(self._named(change["new"]))
                self._news_of(change["new"])

    def _news(self, notes: Sequence[str]) -> None:
        """Say what is not as it was when the drink was saved, in the place of what was said of another."""
        if notes:
            self.said.value = join(map(problem_words, notes))

    def _compared(self, change) -> None:
        """A drink is chosen that the one on the page is held against."""
        if not self._quiet and change["new"]:
            with self._said():
                self._news_of(change["new"])

    def _news_of(self, key: tuple[str, str]) -> None:
        """The same of what is chosen, where it is a saved trial."""
        kind, name = key
        if kind == "saved":
            found = logbook.open_saved(Path(name), pantry=self._own_shelf)
            self._news(logbook.told_of(name, found, pantry=self._own_shelf))

    @property
    def plain(self) -> bool:
        """Whether the first choice, a drink without a recipe, is taken."""
        return self.choose.value == _PLAIN

    def _units_changed(self, _) -> None:
        if self._quiet:
            return
        with self._silently():
            self._show_in(self.display)
        self.refresh()
        with self._said():
            self.units.keep(volume=self.volume_unit.value, temperature=self.temperature_unit.value)

    def refresh(self, _=None) -> None:
        """Recompute and repaint. A problem shows in one sentence and the last good result stays."""
        if not self._quiet:
            with self._problems_shown():
                made = None
                try:
                    made = self._answer()
                    tell()
                    self._show_change(made)
                finally:  # also where there is no answer
                    self.head.value = self._head_words()
                    self._declare(made)

    def _show_change(self, made) -> None:
        """Tell what a hand has changed since the drink was opened."""
        self.what_if.begin(self.plain_name if self.plain else self._recipe.name)
        self.what_if.show(self._samples(made), self._shown_by())

    def _samples(self, made) -> dict[str, whatif.Sample]:
        """The figures of the page with what varies in them, for its what-if card; of a trial, of one glass served."""
        return whatif.samples(made) if isinstance(made, trial.Trial) else {}

    def _shown_by(self) -> Display:
        return self.display

    def _head_words(self) -> str:
        """Which drink the page shows, and all that is done to it."""
        if self.plain:
            return para(self.say(Fact("no drink on the page", name=self.plain_name)))
        where = _WHERE.get(self.choose.value[0], "On this page")
        drink = self.setting
        made = [drink.recipe.technique if drink.recipe.technique != "none" else "mixed without ice"]
        made += ["over your own ice"] * (drink.ice is not None)
        made += [step.name for step in drink.steps]
        made += [f"{drink.serves} glasses"] * (drink.serves > 1)
        made += [f"with {other.recipe.name}" for other in drink.beside]
        return para(bold(f"{where}: {drink.recipe.name}"), f" ({', '.join(made)})")

    def _declare(self, made) -> None:
        self.cautions.value = join(
            declaration(declared(made, *held, *self.standing), self.say, name, labels=bool(held))
            for name, held in self._in_hand()
        )

    @contextmanager
    def _problems_shown(self):
        """One sentence for a problem, told by the outermost; figures that are of an earlier drink turn pale."""
        if self._inside:
            yield
            return
        self._inside = True
        try:
            yield
        except InputError as problem:
            pale = Fact("pale are of the last good drink")
            self.problem.value = problem_words(self.say(problem), self.say(pale))
            change = "add_class"
        else:
            self.problem.value, change = "", "remove_class"
        finally:
            self._inside = False
        for part in self.answers:
            getattr(part, "add_class" if part in self.waits else change)("dl-stale")
        getattr(self, change)("dl-wrong")


_PLAIN, _HAND = ("plain", ""), ("hand", "")
_WHERE = {
    "hand": "In hand", "beside": "Beside the drink in hand", "demo": "Demo", "saved": "Saved", "classic": "Classic"
}  # fmt: skip
LEAST_BATCH = 400.0  # from here on a drink is taken as a batch [mL]


def is_batch(drink: Setting, ml: float) -> bool:
    """Whether a setting that makes so much is of a batch, not of one drink."""
    return bool(drink.serves > 1 or drink.serve_volume or ml >= LEAST_BATCH)


def busy(button: w.Button, doing: str, act: Callable[[], None]) -> None:
    """Do what a button is for; meanwhile it says so, and cannot be pressed again."""
    said, button.description, button.disabled = button.description, doing, True
    try:
        act()
    finally:
        button.description, button.disabled = said, False


def group(name: str, *inside: w.Widget) -> w.VBox:
    """Widgets that stand together, by the name of their kind in the design sheet."""
    box = w.VBox(inside)
    return box.add_class(name)


def in_view(answer: Html, said: Html, *acts: w.Button) -> w.VBox:
    """The bar that stays in view: a drink and its figures, what is done with it, and what became of that."""
    answer.add_class("dl-headline")
    return group("dl-bar", group("dl-bar-row", answer, group("dl-acts", *acts)), said)


def fold(title: str, *inside: w.Widget) -> w.Accordion:
    """What is seldom touched: a line that opens."""
    folded = w.Accordion([w.VBox(inside)], titles=[title], selected_index=None)
    folded.add_class("dl-fold")
    return folded


class Later(w.Accordion):
    """A line that opens on what is made only then, so that a page that comes up has less to make."""

    def __init__(self, title: str, make: Callable[[], Sequence[w.Widget]]) -> None:
        super().__init__([w.VBox()], titles=[title], selected_index=None)
        self._make = make
        self.observe(lambda _: self.fill(), "selected_index")

    @property
    def filled(self) -> bool:
        """Whether it was opened before."""
        return bool(self.children[0].children)

    def fill(self) -> None:
        """Make what is inside, if it is not there yet."""
        if not self.filled:
            self.children[0].children = tuple(self._make())


class ShownIn(w.Accordion):
    """What is chosen once for the whole workbook, as a small line; opened, the choices themselves."""

    def __init__(self, *choices: w.Dropdown) -> None:
        super().__init__([w.VBox()], selected_index=None)
        self.add_class("dl-fold")
        self.add(*choices)

    def add(self, *choices: w.Dropdown) -> None:
        """Show these too."""
        self.children[0].children += choices
        for choice in choices:
            choice.observe(self._say, "value")
        self._say()

    def _say(self, _=None) -> None:
        said = ", ".join(str(choice.label) for choice in self.children[0].children)
        self.titles = [f"Shown in {said}: change"]


class Units(Watched):
    """The units of a page follow what another page of the folder has chosen since.

    Meanwhile `keep` writes nothing: the page may be slow, and what it follows overtaken.
    """

    _following = False

    def __init__(self, folder: Path, page: str, volume: w.Dropdown, temperature: w.Dropdown) -> None:
        super().__init__(folder / logbook.CHOICES, page)
        self._pickers = {"volume": volume, "temperature": temperature}
        self._seen, self._kept = self.stamp(), chosen(folder)[0]
        self.begin()

    def keep(self, **choices: str) -> None:
        """Write down what a hand has chosen on this page."""
        if not self._following:
            logbook.save_choices(self.path.parent, **choices)

    def look(self) -> None:
        """Take over what has changed in the file."""
        if (stamp := self.stamp()) == self._seen:
            return
        self._seen = stamp
        before, self._kept = self._kept, chosen(self.path.parent)[0] or self._kept
        self._following = True
        try:
            for name, picker in self._pickers.items():
                if (new := self._kept.get(name)) not in (None, before.get(name), picker.value):
                    picker.value = new
        finally:
            self._following = False


def sides(left: Sequence[w.Widget], right: Sequence[w.Widget]) -> w.HBox:
    """Controls and their answers side by side; where there is no room (a phone), one above the other."""
    both = w.HBox([w.VBox(left), w.VBox(right)])
    for part, name in zip((both, *both.children), ("dl-sides", "dl-left", "dl-right"), strict=True):
        part.add_class(name)
    return both


def pick(name: str, options: Iterable, value=None, **more) -> w.Dropdown:
    """A choice, as wide as its column; `value` counts only if it is among the options."""
    options = list(options)
    values = [o[1] if isinstance(o, tuple) else o for o in options]
    more |= {"value": value} if value in values else {}
    return w.Dropdown(options=options, description=name, layout=WIDE, style=alike(w.Dropdown.style), **more)


def draw(chart: LiveChart, rows: dict[str, list]) -> None:
    """Send the rows that have changed."""
    drawn = chart.rows
    chart.put(**{name: new for name, new in rows.items() if new != drawn[name]})


# --- words and tables: the one place where text becomes HTML ---------------------------------------------


def hand_words(said: str | InputError) -> str:
    """What `Hand` tells a page."""
    if not isinstance(said, InputError):
        return done_words(said)
    return problem_words(str(said), Fact("not kept in hand yet").text)
