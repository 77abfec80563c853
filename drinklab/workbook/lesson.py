"""What every panel is made of: dials, a drink to choose, one place for problems, tables and tiles. No maths here."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from time import monotonic

import ipywidgets as w
import traitlets
from markupsafe import Markup, escape

from .. import classics, demo, logbook, pantry, trial
from ..declared import LABELS, Declared, declared
from ..errors import InputError, Told, require
from ..kinds import CONCENTRATION
from ..liquid import Liquid
from ..recipe import Pour, Recipe
from ..setting import Setting, as_setting
from ..steps import Caution
from ..units import Display, fraction_text
from .hand import Hand
from .live import LiveChart
from .number_box import NumberBox

_FARTHEST = sys.float_info.max
WIDE = {"width": "calc(100% - 4px)"}  # a dict: each widget makes a layout of its own

STYLE = Markup("""<style>
.dl-bench { max-width: 1180px; --jp-widgets-inline-label-width: 90px; }
.dl-bench .widget-html-content { line-height: 1.4; font-size: 13px; }
.dl-tiles { display: flex; flex-wrap: wrap; gap: 4px 22px; }
.dl-tile small, .dl-tile i { display: block; font-size: 12px; font-style: normal; white-space: nowrap; }
.dl-tile small { opacity: .8; }
.dl-tile b { font-size: 18px; font-weight: 600; white-space: nowrap; }
.dl-problem { border-left: 4px solid #b3400c; padding: 5px 12px; background: rgba(179, 64, 12, .09); }
.dl-caution { border-left: 4px solid #c9a227; padding: 2px 12px; margin: 4px 0; max-width: 90ch; }
.dl-table { border-collapse: collapse; }
.dl-table th, .dl-table td { padding: 3px 16px 3px 0; text-align: right; white-space: nowrap; font-weight: normal;
  border-bottom: 1px solid rgba(128, 128, 128, .3); }
.dl-table th:first-child { text-align: left; }
.dl-bench h4 { margin: 12px 0 3px; font-size: 14px; font-weight: 600; }
.dl-bench p { margin: 2px 0; max-width: 90ch; }
.dl-stale, .dl-wrong .drinklab-chart { opacity: .4; }
.dl-quiet { opacity: .8; font-size: 12px; }
</style>""")


class Html(w.HTML):
    """A piece of a page. Only what `element` and its kin made is taken as HTML; any other text shows as it is."""

    @traitlets.validate("value")
    def _escaped(self, proposal) -> Markup:
        return escape(proposal["value"])


def opened(folder: Path) -> tuple[pantry.Pantry, dict, list[str]]:
    """Pantry and standing choices of a working folder, and what was wrong with its files, in words."""
    problems = []
    try:
        shelf = pantry.load(folder)
    except InputError as problem:
        shelf = pantry.load()
        problems.append(f"Your own ingredients are left out until this is mended: {problem}")
    try:
        kept = logbook.choices(folder)
    except InputError as problem:
        kept = {}
        problems.append(str(problem))
    return shelf, kept, problems


# Measures that a bar divides into halves, thirds, quarters and eighths, and the steps of their sliders.
_FRACTIONS = {"oz": 0.125, "tsp": 0.25, "tbsp": 0.25, "barspoons": 0.25, "dashes": 0.5, "parts": 0.25, "": 0.5}


class Dial(w.HBox):
    """A slider and a typed number for one value, with its name and unit beside them.

    `value` is exact; the slider stands at the nearest of its steps. `on_change` is called with a new
    value when a person sets one, and not when the program does; `typing` tells whether it came from the box. What is
    no number is refused beside the box, and the value stays.
    """

    typing, _disabled = False, False

    def __init__(
        self, name: str, value: float, top: float, step: float, unit: str, on_change, bottom: float = 0.0
    ) -> None:
        self._on_change, self._quiet = on_change, False
        self._name = element("div", name, style="line-height:1.2")
        self.label = Html(self._name)
        self.label.layout = w.Layout(width="138px", margin="2px 4px 2px 0")
        self.unit = w.Label(layout={"flex": "0 0 auto"})
        super().__init__(layout=w.Layout(align_items="center"))
        self.reach(value, top, step, unit, bottom)

    def reach(self, value: float, top: float, step: float, unit: str, bottom: float = 0.0) -> None:
        """Another unit, and with it other steps.

        With new widgets: a page that is told of a new end first would send its old value back, cut to it.
        """
        # What overflows in the other unit stays as far out of range as a number can be, and is refused as that.
        value = min(max(value, -_FARTHEST), _FARTHEST)
        self.step, self.unit.value, self.value = step, unit, value
        self._told: dict[float, float] = {}  # steps lately set by the program, and when
        self.label.value, self._fractions = self._name, unit in _FRACTIONS
        self.number = NumberBox(self._rounded(value), self._fractions, layout=w.Layout(width="74px"))
        self.number.observe(lambda change: self._typed(change["new"]), "value")
        self._new_slider(bottom, max(round(top / step) * step, value if value < 10 * top else 0))

    def _new_slider(self, bottom: float, top: float) -> None:
        self.slider = w.FloatSlider(
            value=self._nearest_step(self.value), min=bottom, max=top, step=self.step, readout=False,
            layout=w.Layout(width="134px", margin="0"),
        )  # fmt: skip
        # A slider that was replaced may still be heard for a moment: it no longer counts.
        self.slider.observe(lambda change: change["owner"] is self.slider and self._slid(change["new"]), "value")
        self.children = [self.label, self.slider, self.number, self.unit]
        self.disable(self._disabled)

    def disable(self, disabled: bool) -> None:
        """Stand still for a hand, or move again."""
        self._disabled = disabled
        for part in (self.slider, self.number):
            part.disabled = disabled

    def set(self, value: float) -> None:
        """Stand at `value`, by the program's hand."""
        now = monotonic()
        self._told = {step: at for step, at in self._told.items() if now - at < 1.0}
        self._told[self._nearest_step(value)] = now
        self.value = value
        self._show_slider()
        self._show_number()

    def _show_slider(self) -> None:
        self._quiet = True
        if self.slider.max < self.value < 10 * self.slider.max:
            self._new_slider(self.slider.min, self.value)
        self.slider.value = self._nearest_step(self.value)
        self._quiet = False

    def _show_number(self) -> None:
        self._quiet = True
        self.number.value = self._rounded(self.value)
        self._quiet = False

    def _nearest_step(self, value: float) -> float:
        steps = value / self.step
        return round(round(steps) * self.step, 4) if abs(steps) < 1e15 else value

    def _rounded(self, value: float) -> float:
        if self._fractions and fraction_text(value):
            return value
        return round(value, 2 if self.step < 1 else 1)

    def _slid(self, new: float) -> None:
        # The page echoes what the program has set, late and rounded to a step: nobody moved that.
        new = self._nearest_step(new)
        echo = monotonic() - self._told.get(new, -1.0) < 1.0
        if self._quiet or echo or new == self._nearest_step(self.value):
            return
        self._told.clear()
        self.value = new
        self._on_change(new)
        # The slider itself is left alone: by now the hand may have moved it on.
        self._show_number()

    def _typed(self, new: float | str) -> None:
        if self._quiet:
            return
        self.label.value = self._name
        if isinstance(new, str):
            problem = InputError("it", new, "a number such as 1.5, 1,25 or 7/8")
            self.label.value = join([self._name, problem_words(problem, "The number is as it was.")])
            self._show_number()
        elif new != self._rounded(self.value):
            self._told.clear()
            self.value = new
            self._show_slider()
            self._told[self.slider.value] = monotonic()
            self.typing = True
            try:
                self._on_change(new)
            finally:
                self.typing = False


class DegreeDial(Dial):
    """A dial for a temperature, in the degrees shown."""

    def __init__(self, name: str, celsius: float, low: float, high: float, show: Display, on_change) -> None:
        self.name, self._ends, self._show = name, (low, high), show
        value, bottom, top = map(show.degrees, (celsius, low, high))
        super().__init__(name, value, top, 1.0, show.temperature, on_change, bottom)

    def stand_at(self, celsius: float) -> None:
        """Stand at this temperature, by the program's hand. [°C]"""
        self.set(self._show.degrees(celsius))

    def show_in(self, show: Display) -> None:
        """The same temperature in other degrees."""
        value, bottom, top = map(show.degrees, (self._celsius, *self._ends))
        self._show = show
        self.reach(value, top, 1.0, show.temperature, bottom)

    @property
    def _celsius(self) -> float:
        return self._show.celsius(self.value)  # also of what is out of range

    @property
    def celsius(self) -> float:
        """[°C]

        Raises
        ------
        InputError
            Beyond the ends of the slider.
        """
        low, high = (self._show.degrees(end) for end in self._ends)
        require(self.name, self.value, low, high, self._show.temperature)
        return self._celsius


class Pours(w.VBox):
    """One dial a pour. `on_change` is called when a hand moves one."""

    def __init__(self, on_change: Callable[[], None]) -> None:
        self._on_change = on_change
        super().__init__()

    def use(self, recipe: Recipe, shelf: pantry.Pantry, show: Display) -> None:
        """Dials for this recipe."""
        self._recipe, self._amounts, self._shelf = recipe, recipe.amounts.tolist(), shelf
        self.show_in(show)

    def show_in(self, show: Display) -> None:
        """The same amounts in another measure."""
        self._show = show
        self.children = [
            Dial(
                ("top: " if pour.after else "") + pour.bottle(self._shelf).name,
                *self._reach_of(pour, amount),
                on_change=lambda _, i=i: self._moved(i),
            )
            for i, (pour, amount) in enumerate(zip(self._recipe.pours, self._amounts, strict=True))
        ]

    def _reach_of(self, pour: Pour, amount: float) -> tuple[float, float, float, str]:
        """Value, top, step and unit of a pour's dial."""
        unit, ml = pour.measure(self._shelf, self._show)
        usual = amount if 0 <= amount < 1e6 else 0.0  # what is typed may be no number at all: refused elsewhere
        fine, value = usual < 8, amount / ml
        if unit in ("mL", "g", "oz"):
            step = _FRACTIONS[unit] / (4 if fine else 1) if unit in _FRACTIONS else 0.1 if fine else 0.5
            return value, max(2.2 * usual, 10 if fine else 60) / ml, step, unit
        step = _FRACTIONS.get(unit, 1.0 if value >= 1 and value == round(value) else 0.05)
        return value, max(2.2 * usual / ml, 6 * step), step, unit

    def _moved(self, index: int) -> None:
        _, ml = self._recipe.pours[index].measure(self._shelf, self._show)
        self._amounts[index] = self.children[index].value * ml
        self._on_change()

    def recipe(self) -> Recipe:
        """The recipe as the dials stand."""
        return self._recipe.with_amounts(self._amounts)


class Panel(w.VBox):
    """A page of controls that can be set by the program too."""

    _quiet = False

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
    _inside = False  # of another place that shows problems

    def __init__(self, folder: str | Path = ".", drink: Recipe | Setting | None = None) -> None:
        self.folder = Path(folder)
        self.answers: list[Html] = []
        self.shelf, kept, problems = opened(self.folder)
        self._own_shelf = self.shelf
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
        self.head, self.problem, self.cautions, self.said = Html(), Html(), Html(), Html()
        self.problem.layout.min_height = "34px"  # so that nothing below jumps when there is one
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
        self._tell((*problems, *unreadable))

    @property
    def _recipe(self) -> Recipe:
        return self.setting.recipe

    def _follow(self, held: logbook.Opened) -> None:
        """Show the drink that has been put in hand, here or on another page."""
        here = [(f"In hand: {held.title or held.setting.recipe.name}", _HAND)]
        here += [(f"Beside it: {b.recipe.name}", ("beside", str(i))) for i, b in enumerate(held.setting.beside)]
        self._held = held
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

    def put_in_hand(self, setting: Setting, said: str, of: Setting | None = None, show: tuple | None = None) -> None:
        """Put the drink with what was worked out here in hand, and say so; what was in hand is kept if another.

        `of` is the drink that it was worked out for, by default the one on the page; `show` is what to show then.
        """
        with self._said():
            show = show or _HAND
            if of is None and self.choose.value[0] == "beside":  # then it stays what goes with the drink in hand
                of, show, at = self._held.setting, self.choose.value, int(self.choose.value[1])
                setting = replace(of, beside=(*of.beside[:at], setting, *of.beside[at + 1 :]))
            trial.run(setting, self.shelf, draws=0)  # refuses what cannot be made
            try:
                before = logbook.in_hand(self.folder, self._own_shelf)
            except InputError:
                before = None  # what cannot be read is kept beside
            same = before is not None and before.setting == (of or self.setting)
            aside = logbook.set_aside(self.folder, before) if before and not same else None
            words = {"title": before.title, "note": before.note} if same else {}
            self.hand.put(replace(setting, display=self.display), self.shelf, **words)
            self.hand.keep(by_hand=True)
            self._held = None
            self._follow(logbook.in_hand(self.folder, self._own_shelf))
            self.use(self._named(show), show)
            kept = f" What was in hand is kept as {aside.relative_to(self.folder)}." if aside else ""
            self.said.value = done_words(
                f"{said} “{setting.recipe.name}” is in hand with it: the bench shows it.{kept}"
            )

    def _hand_said(self, said: str | InputError) -> None:
        """What became of the drink in hand, where nobody pressed a button for it."""
        self.said.value = hand_words(said)

    def _put_button(self, description: str, put: Callable[[], None]) -> w.Button:
        """A button that puts what was worked out into the drink; `put` may refuse."""

        def pressed(_) -> None:
            with self._said():
                self._mended()
                put()

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

    def _first(self) -> Recipe | Setting:
        return next(iter(self._demo.values()))

    def _lay_out(self, left: Sequence[w.Widget], right: Sequence[w.Widget], below: Sequence[w.Widget] = ()) -> None:
        """Controls left, answers right, the rest under both."""
        left = w.VBox(left, layout=w.Layout(width="400px", min_width="400px", padding="0 14px 0 0"))
        right = w.VBox([self.problem, *right, self.cautions], layout=w.Layout(flex="1 1 auto", min_width="0"))
        self.children = [Html(STYLE), self.head, w.HBox([left, right]), *below, self.said]

    def _answers_to(self, *controls: w.Widget) -> None:
        for control in controls:
            control.observe(self.refresh, "value")

    @property
    def display(self) -> Display:
        """How amounts are shown, as chosen."""
        return Display(self.volume_unit.value, self.temperature_unit.value)

    def told(self, sentence: str) -> str:
        """A finished sentence in the chosen units."""
        return self.display.told(sentence)

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
            found = logbook.open_saved(Path(name), self._own_shelf) if kind == "saved" else self._held
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
            logbook.save_choices(self.folder, volume=self.volume_unit.value, temperature=self.temperature_unit.value)

    def refresh(self, _=None) -> None:
        """Recompute and repaint. A problem shows in one sentence and the last good result stays."""
        if not self._quiet:
            with self._problems_shown():
                made = None
                try:
                    made = self._answer()
                finally:  # also where there is no answer
                    self.head.value = self._head_words()
                    self._declare(made)

    def _head_words(self) -> Markup:
        """Which drink the page shows, and all that is done to it."""
        if self.plain:
            return para(f"On this page: {self.plain_name}. No drink is in it.")
        where = {"hand": "In hand", "beside": "Beside the drink in hand"}.get(self.choose.value[0], "Not in hand")
        drink = self.setting
        made = [drink.recipe.technique if drink.recipe.technique != "none" else "mixed without ice"]
        made += ["over your own ice"] * (drink.ice is not None)
        made += [step.name for step in drink.steps]
        made += [f"{drink.serves} glasses"] * (drink.serves > 1)
        made += [f"with {other.recipe.name}" for other in drink.beside]
        return para(bold(f"{where}: {drink.recipe.name}"), f" ({', '.join(made)})")

    def _declare(self, made) -> None:
        self.cautions.value = join(
            declaration(declared(made, *held, *self.standing), self.told, name, labels=bool(held))
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
            self.problem.value = problem_words(self.told(str(problem)), "The pale figures are of the last good drink.")
            change = "add_class"
        else:
            self.problem.value, change = "", "remove_class"
        finally:
            self._inside = False
        for part in self.answers:
            getattr(part, change)("dl-stale")
        getattr(self, change)("dl-wrong")

    @contextmanager
    def _said(self):
        """Show a problem with what was asked for by a button, at the end of the page."""
        try:
            yield
        except InputError as problem:
            self.said.value = problem_words(self.told(str(problem)))


_PLAIN, _HAND = ("plain", ""), ("hand", "")
LEAST_BATCH = 400.0  # from here on a drink is taken as a batch [mL]


def is_batch(drink: Setting, ml: float) -> bool:
    """Whether a setting that makes so much is of a batch, not of one drink."""
    return bool(drink.serves > 1 or drink.serve_volume or ml >= LEAST_BATCH)


def pick(name: str, options: Iterable, value=None, **more) -> w.Dropdown:
    """A choice, as wide as its column; `value` counts only if it is among the options."""
    options = list(options)
    values = [o[1] if isinstance(o, tuple) else o for o in options]
    more |= {"value": value} if value in values else {}
    return w.Dropdown(options=options, description=name, layout=WIDE, **more)


def draw(chart: LiveChart, rows: dict[str, list]) -> None:
    """Send the rows that have changed."""
    drawn = chart.rows
    chart.put(**{name: new for name, new in rows.items() if new != drawn[name]})


# --- words and tables: the one place where text becomes HTML ---------------------------------------------


def element(name: str, *inside: str, **attributes: str) -> Markup:
    """An element of a page. Text in it is escaped; elements stay what they are.

    Examples
    --------
    >>> element("p", "acid < 1 ", element("b", "g/L"), class_="dl-quiet")
    Markup('<p class="dl-quiet">acid &lt; 1 <b>g/L</b></p>')
    """
    marks = "".join(f' {key.rstrip("_")}="{escape(value)}"' for key, value in attributes.items())
    return Markup(f"<{name}{marks}>{join(inside)}</{name}>")


def join(parts: Iterable[str], between: str = "") -> Markup:
    """Text and elements, one after another."""
    return escape(between).join(parts)


def para(*inside: str, **attributes: str) -> Markup:
    """A paragraph."""
    return element("p", *inside, **attributes)


def quiet(*inside: str) -> Markup:
    """A paragraph of what stands behind the figures."""
    return para(*inside, class_="dl-quiet")


def heading(*inside: str) -> Markup:
    """The heading of a part of a panel."""
    return element("h4", *inside)


def bold(*inside: str) -> Markup:
    """What counts most in a sentence."""
    return element("b", *inside)


def sentence(problem) -> str:
    """A problem with a capital at its head."""
    text = str(problem)
    return text if text.startswith("pH") else text[:1].upper() + text[1:]


def problem_words(problem, more: str = "") -> Markup:
    """A problem as a paragraph, several a line each, and a quieter sentence behind."""
    behind = [" ", element("span", more, class_="dl-quiet")] if more else []
    *before, last = (sentence(line) for line in str(problem).splitlines() or [""])
    return para(
        *(element("span", line, style="display:block") for line in before),
        last,
        *behind,
        class_="dl-problem",
        role="alert",
    )


def hand_words(said: str | InputError) -> Markup:
    """What `Hand` tells a page."""
    if not isinstance(said, InputError):
        return done_words(said)
    return problem_words(said, "The drink in hand is not kept yet: the page keeps it and tries again.")


def caution_words(texts: Iterable[str]) -> Markup:
    """Cautions, one paragraph each."""
    return join(para(text, class_="dl-caution") for text in texts)


def declaration(said: Declared, told: Callable[[str], str], drink: str = "", labels: bool = True) -> Markup:
    """Cautions and allergens of a drink, the same on every panel, by `told` in the chosen units.

    With a word on labels where bottles are in it.
    """
    words = (*map(told, said.words()), *[LABELS] * labels)
    return heading(f"Cautions: {drink}" if drink else "Cautions") + caution_words(words) if words else Markup()


def of_milk(liquid: Liquid, show: Display) -> str:
    """What stays in a drink of the milk that is or was in it, as a sentence; "" if there was none."""
    if not liquid.lactose > 0:
        return ""
    lactose, protein = (
        show.text(CONCENTRATION, 1000 * part / liquid.volume()) for part in (liquid.lactose, liquid.protein)
    )
    return f" Of milk it holds {lactose} of lactose and {protein} of protein."


def done_words(text: str) -> Markup:
    """What was done, for screen readers too."""
    return para(text, class_="dl-done", role="status")


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> Markup:
    """A table whose first column names its rows."""
    top = element("tr", *(element("th", word, scope="col") for word in head))
    body = (
        element("tr", element("th", first, scope="row"), *(element("td", cell) for cell in rest))
        for first, *rest in rows
    )
    return element("table", element("thead", top), element("tbody", *body), class_="dl-table")


def tiles(figures: Iterable[Sequence[str]], *below: str, above: str = "") -> Markup:
    """Figures in large print: (word, number, "± spread" or "", unit) each, and a line under it if there is a fifth."""
    cells = (
        element("div", element("small", word), bold(number), f" {around} {unit}", *(element("i", m) for m in more),
                class_="dl-tile")
        for word, number, around, unit, *more in figures
    )  # fmt: skip
    return element("div", above, element("div", *cells, class_="dl-tiles"), *below, role="status")
