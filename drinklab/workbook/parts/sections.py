"""A page of several small things to work out, each with its own controls, answers and place for problems."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import ClassVar

import ipywidgets as w

from ... import logbook, whatif
from ...declared import Declared, declared
from ...display import Display
from ...errors import InputError
from ...facts import Fact, say
from ...pantry import Ingredient, Pantry
from ...steps import Caution
from .dials import VolumeDial
from .html import STYLE, Html, declaration, heading, join, para, problem_words
from .own_file import OwnFile
from .page_words import PageWords
from .panel import ShownIn, chosen, pick, sides
from .spoken import Spoken
from .what_if import Card


class Section(w.VBox):
    """One thing to work out: controls left; a place for its problems and its answers right.

    A subclass lays itself out by `_lay_out` and answers in `_answer`.
    """

    fields: ClassVar[Mapping[str, str]] = {}  # what the module calls a value -> its name on the page

    def _lay_out(self, title: str, hint: str, left: Sequence[w.Widget], *right: w.Widget, show: Display) -> None:
        self.show, self.what_if = show, Card(hold=True)
        self.problem, self.figures, self.notes, self.cautions = Html(), Html(), Html(), Html()
        self.problem.layout.min_height = "34px"  # so that nothing below jumps when there is one
        both = sides(left, [self.problem, self.figures, *right, self.what_if, self.notes, self.cautions])
        self.children = [Html(heading(title) + para(hint)), both]

    def _answer(self) -> Declared | None:
        raise NotImplementedError

    def _samples(self) -> dict[str, whatif.Sample]:
        """The figures of the section with what varies in them, for its what-if card; asked once there is an answer."""
        return {}

    def _in_hand(self) -> tuple[Ingredient | Declared | Caution, ...]:
        """What it is made of, as `declared` takes it; told also where there is no answer."""
        return ()

    def offer(self, shelf: Pantry) -> None:
        """Also what has been written down since."""

    def refresh(self, _=None) -> None:
        """Recompute and repaint. A problem shows in one sentence; the last good figures stay, pale."""
        made = None
        try:
            made = self._answer()
        except InputError as problem:
            problem = problem.at(field=self.fields.get(problem.field, ""))
            pale = say(Fact("pale are the last good"))
            self.problem.value, change = problem_words(self.show.say(problem), pale), "add_class"
        else:
            self.problem.value, change = "", "remove_class"
            self.what_if.show(self._samples(), self.show)
        for part in (self.figures, self.notes):
            getattr(part, change)("dl-stale")
        held = self._in_hand()
        labels = any(not isinstance(part, Caution) for part in held)
        self.cautions.value = declaration(declared(*held, made), self.show.say, labels=labels)

    def show_in(self, show: Display) -> None:
        """The same in other units."""
        self.show = show
        self.refresh()


class WithVolume(Section):
    """A section whose dial `volume` is in the measure chosen."""

    volume: VolumeDial

    def show_in(self, show: Display) -> None:
        """The same in another measure."""
        self.volume.show_in(show)
        super().show_in(show)


class Sections(w.VBox):
    """A page of sections, made by `_make`; the units are chosen once for all, and kept in the working folder."""

    degrees = False  # whether they can be chosen here

    def __init__(self, folder: str | Path) -> None:
        self.folder = Path(folder)
        self.own_file = OwnFile(self.folder, type(self).__name__, self._own_changed)
        kept, problems = chosen(self.folder)
        self.volume_unit = pick("Volumes in", ("mL", "oz"), kept.get("volume", "mL"))
        self._degrees = kept.get("temperature", "°C")  # as chosen elsewhere
        units = [self.volume_unit]
        if self.degrees:
            self.temperature_unit = pick("Degrees in", ("°C", "°F"), self._degrees)
            units.append(self.temperature_unit)
        self.sections = self._make(self.own_file.shelf, self.display)
        self.said = Html(join(map(problem_words, problems)))
        self.glossary = PageWords()
        last = (ShownIn(*units), self.glossary, self.said)
        super().__init__([Html(STYLE), Spoken(), self.own_file.said, *self.sections, *last])
        self.add_class("dl-bench")
        for choice in units:
            choice.observe(self._unit_changed, "value")
        self.refresh()
        self.glossary.look(self)

    def _make(self, shelf: Pantry, show: Display) -> tuple[Section, ...]:
        raise NotImplementedError

    @property
    def display(self) -> Display:
        """How amounts are shown, as chosen."""
        return Display(self.volume_unit.value, self.temperature_unit.value if self.degrees else self._degrees)

    def refresh(self) -> None:
        """Recompute and repaint every section."""
        for section in self.sections:
            section.refresh()

    def _own_changed(self, mine: Pantry) -> None:
        for section in self.sections:
            section.offer(mine)

    def _unit_changed(self, _) -> None:
        show = self.display
        for section in self.sections:
            section.show_in(show)
        try:
            logbook.save_choices(
                self.folder, volume=show.volume, temperature=show.temperature if self.degrees else None
            )
        except InputError as problem:
            self.said.value = problem_words(show.say(problem))
