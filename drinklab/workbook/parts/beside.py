"""What goes with each glass of the drink on the bench: added, measured, removed. No maths here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import ipywidgets as w

from ... import demo, pantry
from ...display import Display
from ...errors import InputError
from ...facts import Fact, say
from ...setting import Setting
from ...trial import Trial
from .exact import VOLUME, ExactDial
from .html import Html, bold, para, problem_words
from .panel import Panel

JELLY = "Amontillado and tea jelly"  # of the demo


def demo_jelly() -> Setting:
    """The demo's jelly, of a recipe of its own: a cube of 2 cm to a glass."""
    return demo.settings(pantry.load())[JELLY]


class Beside(Panel):
    """One row a thing. `read` gives the setting behind a choice; `on_change` is called when a person changes one."""

    def __init__(self, show: Display, read: Callable[[tuple], Setting], on_change: Callable[[], None]) -> None:
        self._show, self._read, self._on_change = show, read, on_change
        self.given: list[Setting] = []
        self.dials: list[ExactDial] = []
        self.which = w.Dropdown(description="With it", layout={"width": "auto", "min_width": "0", "flex": "1 1 0"})
        self.add_button = w.Button(description="Add", disabled=True, layout={"width": "auto", "flex": "0 0 auto"})
        self.list, self.said = w.VBox(), Html()
        super().__init__([self.list, w.HBox([self.which, self.add_button]), self.said])
        self.which.observe(lambda change: setattr(self.add_button, "disabled", not change["new"]), "value")
        self.add_button.on_click(lambda _: self.add(self.which.value))

    def offer(self, options: Sequence[tuple]) -> None:
        """What can be chosen: (words, key)."""
        self.which.options = [("choose what goes with it …", ""), *options]
        self.which.value = ""

    def use(self, settings: Sequence[Setting], show: Display) -> None:
        """Rows for these."""
        self._show, self.given, self.said.value = show, list(settings), ""
        self._lay_out()

    def add(self, key) -> None:
        """Add what was chosen."""
        if not key:
            return
        self.said.value = ""
        try:
            self.given.append(replace(self._read(key), beside=()))
        except InputError as problem:
            self.said.value = problem_words(self._show.say(problem))
            return
        self._lay_out()
        self.which.value = ""
        self._on_change()

    def settings(self) -> tuple[Setting, ...]:
        """What goes with the drink."""
        return tuple(self.given)

    def show_in(self, show: Display) -> None:
        """In other units."""
        self._show = show
        for dial in self.dials:
            dial.show_in(show)

    def show(self, made: Sequence[Trial]) -> None:
        """Stand at what a run found, where an equal share was asked for."""
        for dial, setting, trial in zip(self.dials, self.given, made, strict=True):
            if setting.serve_volume is None:
                dial.stand_at(trial.served.profile.volume)

    def _lay_out(self) -> None:
        rows, self.dials = [], []
        for i, setting in enumerate(self.given):
            name = Html(para(bold(setting.recipe.name)), layout={"flex": "1 1 auto"})
            remove = w.Button(description="remove", layout={"width": "auto"})
            remove.on_click(lambda _, i=i: self._drop(i))
            ml = setting.serve_volume
            dial = ExactDial(
                "Beside each glass", 30.0 if ml is None else ml, 0, 150, VOLUME, self._show,
                lambda exact, i=i: self._measured(i, exact),
            )  # fmt: skip
            self.dials.append(dial)
            rows += [w.HBox([name, remove], layout={"align_items": "center"}), dial]
        self.list.children = rows

    def _measured(self, i: int, ml: float) -> None:
        self.said.value = ""
        try:
            self.given[i] = replace(self.given[i], serve_volume=ml)
        except InputError as problem:
            self.said.value = problem_words(self._show.say(problem), say(Fact("stays as it was")))
            return
        self._on_change()

    def _drop(self, i: int) -> None:
        del self.given[i]
        self._lay_out()
        self._on_change()
