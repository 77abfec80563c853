"""What is done after the ice, one row a step: add, order, change, remove. No maths here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import ipywidgets as w

from ... import boiling, carbonation, dilution, filtering, gels, milk, steps
from ...display import Display
from ...facts import Fact, say
from ...steps import Step
from .exact import DEGREES, PERCENT, PRESSURE, VOLUME, ExactDial, Quantity, plain
from .html import WIDE, Html, bold, para, quiet
from .panel import Panel


@dataclass(frozen=True)
class Figure:
    """A field of a step that is a number: its dial, and what it stands at where a loaded step leaves it out."""

    field: str
    label: str
    low: float
    high: float
    of: Quantity
    usual: float = 0.0
    whole: bool = False
    where: Callable[[Step], bool] = lambda step: True
    # Where a tick takes the dial's place, its words: the field is then None.
    unless: str = ""


@dataclass(frozen=True)
class Choice:
    """A field of a step that is one of some words, or, without options, a tick."""

    field: str
    label: str
    options: tuple = ()
    where: Callable[[Step], bool] = lambda step: True


@dataclass(frozen=True)
class Kind:
    """A kind of step as a bar says it: how a new one begins, and its controls."""

    word: str
    new: Callable[[float], Step]
    controls: tuple[Figure | Choice, ...]


def _set(field: str) -> Callable[[Step], bool]:
    return lambda step: getattr(step, field) is not None


def _open(field: str) -> Callable[[Step], bool]:
    return lambda step: getattr(step, field) is None


_HOURS, _PAPERS, _VOLUMES = plain("h", 1.0), plain("", 1.0), plain("volumes", 0.1)
_VESSELS = tuple(name for name, vessel in carbonation.VESSELS.items() if vessel.limit > 0)


def _degrees(low: float, high: float) -> Figure:
    return Figure("temperature", "At", low, high, DEGREES, 4.0)


# In the order of a usual day. A new step takes the temperature of what comes before it.
KINDS = {
    steps.AddWater: Kind("Add water", lambda _: steps.AddWater(), (
        Figure("share", "Water, of the drink", 0, 1, PERCENT, where=_open("amount")),
        Figure("amount", "Water", 0, 500, VOLUME, where=_set("amount")),
    )),
    milk.MilkWash: Kind("Wash with milk", lambda _: milk.MilkWash(share=0.25), (
        Choice("milk", "Milk", tuple(milk.milks())),
        Figure("share", "Milk, of the drink", 0, 1, PERCENT, 0.25, where=_open("amount")),
        Figure("amount", "Milk", 0, 1000, VOLUME, where=_set("amount")),
        Choice("way", "Drained", tuple((f"by {way}" if way == milk.COLD else way, way)
                                       for way in milk.WASHINGS)),
    )),
    steps.Rest: Kind("Rest", lambda _: steps.Rest(), (
        Figure("hours", "Hours", 0, 48, _HOURS), _degrees(-5, 25),
    )),
    filtering.Filter: Kind("Filter", lambda _: filtering.Filter(), (
        Figure("papers", "Papers", 1, 12, _PAPERS, whole=True),
    )),
    carbonation.Chill: Kind("Chill, without ice", lambda _: carbonation.Chill(), (_degrees(-5, 15),)),
    carbonation.Carbonate: Kind("Carbonate", lambda at: carbonation.Carbonate(volumes=2.5, temperature=at), (
        Figure("volumes", "Gas", 0, 5, _VOLUMES, where=_set("volumes")),
        Figure("pressure", "Gauge pressure", 0, 400, PRESSURE, where=_set("pressure")),
        _degrees(-5, 20),
        Choice("vessel", "Vessel", _VESSELS),
    )),
    carbonation.Pour: Kind("Pour what is gassed", lambda at: carbonation.Pour(temperature=at), (
        _degrees(-5, 20), Choice("pour", "Poured", (("down a tilted glass", "tilted"), ("straight in", "upright"))),
    )),
    boiling.Boil: Kind("Boil some off", lambda _: boiling.Boil(), (
        Figure("share", "Boiled off, by weight", 0, 0.9, PERCENT),
    )),
    dilution.Freeze: Kind("Stand in a freezer", lambda _: dilution.Freeze(), (_degrees(-30, 0),)),
    gels.Set: Kind("Set as a jelly", lambda _: gels.Set(water=None), (
        Choice("agent", "Set with", tuple(gels.agents())),
        Choice("firmness", "Firmness", gels.FIRMNESS),
        Figure("water", "Plain water", 0, 500, VOLUME, unless="as much plain water as it needs"),
        Choice("fish", "the gelatin is made of fish", where=lambda step: step.agent == "gelatin"),
    )),
}  # fmt: skip


class Row(Panel):
    """One step: its name, its controls, and the buttons that move it. What no control shows is kept as loaded."""

    def __init__(self, step: Step, show: Display, owner: NextSteps) -> None:
        self.base, self._changes, self._owner = step, {}, owner
        self.kind = KINDS.get(type(step))
        self.name = Html()
        self.earlier, self.later, self.remove = (
            w.Button(description=word, layout={"width": "auto"}) for word in ("earlier", "later", "remove")
        )
        self.earlier.on_click(lambda _: owner.move(self, -1))
        self.later.on_click(lambda _: owner.move(self, 1))
        self.remove.on_click(lambda _: owner.drop(self))
        self.controls = {c.field: self._control(c, show) for c in (self.kind.controls if self.kind else ())}
        head = w.HBox([self.name, self.earlier, self.later, self.remove], layout={"align_items": "center"})
        self.name.layout.flex = "1 1 auto"
        super().__init__([head, *self.controls.values()], layout={"padding": "0 0 6px 0"})

    def _control(self, asked: Figure | Choice, show: Display) -> w.Widget:
        value = getattr(self.base, asked.field)
        if isinstance(asked, Figure):
            exact = asked.usual if value is None else value
            made = ExactDial(
                asked.label, exact, asked.low, asked.high, asked.of, show,
                lambda exact, a=asked: self._changed(a.field, _whole(exact) if a.whole else exact),
            )  # fmt: skip
            if asked.unless:
                return _Unless(asked.unless, value is None, made, lambda new, a=asked: self._changed(a.field, new))
        else:
            how = {"description": asked.label, "layout": WIDE, "value": value}
            options = [*asked.options, *[value] * (value not in [_value(o) for o in asked.options])]
            made = w.Dropdown(options=options, **how) if asked.options else w.Checkbox(indent=False, **how)
            made.observe(lambda change, a=asked: self._changed(a.field, change["new"]), "value")
        self._show_if(asked, made, self.base)
        return made

    @staticmethod
    def _show_if(asked, control: w.Widget, step: Step) -> None:
        control.layout.display = None if asked.where(step) else "none"

    def _changed(self, field: str, value) -> None:
        self._changes[field] = value
        if field == "agent" and value != "gelatin" and "fish" in self.controls:
            self._changes["fish"] = False
            with self._silently():
                self.controls["fish"].value = False
        if not self._quiet:
            if field == "agent":
                self.controls["fish"].layout.display = None if value == "gelatin" else "none"
            self._owner.changed()

    def step(self) -> Step:
        """The step as the row stands.

        Raises
        ------
        InputError
            For what the step refuses.
        """
        return replace(self.base, **self._changes) if self._changes else self.base

    def numbered(self, place: int, of: int) -> None:
        """Its place in the list, and which way it can go."""
        word = self.kind.word if self.kind else self.base.name
        self.name.value = para(bold(f"{place + 1}. {word}"))
        self.earlier.disabled, self.later.disabled = place == 0, place == of - 1

    def show_in(self, show: Display) -> None:
        """In other units."""
        for control in self.controls.values():
            if hasattr(control, "show_in"):
                control.show_in(show)

    @property
    def temperature(self) -> float | None:
        """What the drink has after it, if the step says so. [°C]"""
        return self._changes.get("temperature", getattr(self.base, "temperature", None))


class _Unless(w.VBox):
    """A tick, and a dial in its place where it is not ticked."""

    def __init__(self, words: str, ticked: bool, dial: ExactDial, on_change: Callable[[float | None], None]) -> None:
        self.tick = w.Checkbox(value=ticked, description=words, indent=False, layout=WIDE)
        self.dial = dial
        super().__init__([self.tick, dial])
        dial.layout.display = "none" if ticked else None

        def ticking(change):
            dial.layout.display = "none" if change["new"] else None
            on_change(None if change["new"] else dial.exact)

        self.tick.observe(ticking, "value")

    def show_in(self, show: Display) -> None:
        """In other units."""
        self.dial.show_in(show)


class NextSteps(Panel):
    """The steps after the ice, in their order; `on_change` is called when a person has changed one."""

    def __init__(self, show: Display, on_change: Callable[[], None]) -> None:
        self._show, self._on_change = show, on_change
        self.rows: list[Row] = []
        self.which = w.Dropdown(
            options=[("choose a step …", ""), *((kind.word, of) for of, kind in KINDS.items())],
            description="Next", layout={"width": "auto", "min_width": "0", "flex": "1 1 0"},
        )  # fmt: skip
        self.add_button = w.Button(description="Add", disabled=True, layout={"width": "auto", "flex": "0 0 auto"})
        self.list = w.VBox()
        self.missing = Html(layout={"display": "none"})
        self.add_water = w.Button(description="Add its water", layout={"display": "none", "width": "auto"})
        self._share = 0.0
        super().__init__([self.list, self.missing, self.add_water, w.HBox([self.which, self.add_button])])
        self.which.observe(lambda change: setattr(self.add_button, "disabled", not change["new"]), "value")
        self.add_button.on_click(lambda _: self.add(self.which.value))
        self.add_water.on_click(lambda _: self._water_added())

    def use(self, given: Sequence[Step], show: Display) -> None:
        """Rows for these steps."""
        self._show = show
        self.rows = [Row(step, show, self) for step in given]
        self._lay_out()

    def steps(self) -> tuple[Step, ...]:
        """The steps as the rows stand.

        Raises
        ------
        InputError
            For what a step refuses.
        """
        return tuple(row.step() for row in self.rows)

    def add(self, kind: type | str, at: int | None = None, step: Step | None = None) -> None:
        """Add a step of this kind, behind the others unless its place is given."""
        if not kind:
            return
        before = [row.temperature for row in self.rows if row.temperature is not None]
        step = step if step is not None else KINDS[kind].new(before[-1] if before else 4.0)
        self.rows.insert(len(self.rows) if at is None else at, Row(step, self._show, self))
        self._lay_out()
        self.which.value = ""
        self.changed()

    def move(self, row: Row, by: int) -> None:
        """Earlier or later by so many places."""
        at = self.rows.index(row)
        self.rows.insert(max(at + by, 0), self.rows.pop(at))
        self._lay_out()
        self.changed()

    def drop(self, row: Row) -> None:
        """Take a step out."""
        self.rows.remove(row)
        self._lay_out()
        self.changed()

    def changed(self) -> None:
        """Answer a change by a person."""
        self._on_change()

    def show_in(self, show: Display) -> None:
        """In other units."""
        self._show = show
        for row in self.rows:
            row.show_in(show)

    def offer_water(self, share: float | None) -> None:
        """Say that a washed drink lacks its melt water, and offer to add it; None for one that does not."""
        if share is not None:
            self._share = share
            self.missing.value = quiet(say(Fact("washed without water", share=100 * share)))
            self.add_water.description = f"Add {100 * share:.0f} % of water before the milk"
        shown = None if share is not None else "none"
        if self.missing.layout.display != shown:
            self.missing.layout.display = self.add_water.layout.display = shown

    def _water_added(self) -> None:
        at = next((i for i, row in enumerate(self.rows) if isinstance(row.base, milk.MilkWash)), None)
        if at is None:  # the wash was taken away in the same moment
            return
        self.add(steps.AddWater, at, steps.AddWater(round(self._share, 2)))

    def _lay_out(self) -> None:
        for place, row in enumerate(self.rows):
            row.numbered(place, len(self.rows))
        self.list.children = self.rows


def _whole(figure: float) -> int | float:
    return int(figure) if float(figure).is_integer() else figure


def _value(option):
    return option[1] if isinstance(option, tuple) else option
