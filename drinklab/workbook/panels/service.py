"""What leaves the bar: the guest card, live; spec card, labels and guest card to print; a list of drinks as a menu."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import ipywidgets as w

from ... import cards, making, service, strength, trial
from ...cards import labels
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact
from ...kinds import ABV, VOLUME
from ...recipe import Recipe
from ...setting import Setting
from ...units import is_bare
from ..charts.live import LiveChart, once
from ..charts.service import grams_chart, grams_rows
from ..parts.html import WIDE, Html, bold, heading, join, para, quiet, tiles
from ..parts.links import written
from ..parts.menu_part import BUTTON, MenuPart
from ..parts.panel import Lesson, Pictured, draw, pick, usual_country


def panel(folder: str | Path = ".", drink: Recipe | Setting | None = None) -> ServicePanel:
    """The drink in hand as it is served: its guest card, cards and labels to print, and drinks as a menu.

    Parameters
    ----------
    folder : path
        Working folder: cards are written into its folder `cards`; saved trials can go on the menu.
    drink : Recipe or Setting, optional
        In place of the drink in hand.
    """
    return ServicePanel(folder, drink)


class ServicePanel(Pictured, Lesson):
    """A drink as it leaves the bar."""

    def __init__(self, folder: str | Path = ".", drink: Recipe | Setting | None = None) -> None:
        self.one: service.Serve | None = None
        self.made: trial.Trial | None = None
        super().__init__(folder, drink)

    # --- what is on the page -----------------------------------------------------------------------

    def _build(self, show: Display) -> None:
        self.country = pick("Country", strength.countries(), usual_country(self.folder))
        self.tiles, self.card, self.line = self.answers = [Html() for _ in range(3)]
        self.picture = w.Box([LiveChart(once(grams_chart))])
        spec, label = self._build_spec(show), self._build_labels()
        self.menu = MenuPart(self)
        self._lay_out(
            [self.choose, self.country,
             Html(heading("Spec card")), *spec, Html(heading("Guest card")), self.guest_button,
             Html(heading("Labels")), *label],
            [self.tiles, self.picture, self.card, self.line],
            [self.menu],
        )  # fmt: skip
        self._answers_to(self.country)

    def _build_spec(self, show: Display) -> list[w.Widget]:
        step = "¼ oz" if show.volume == "oz" else "5 mL"
        self.step = pick("Amounts in", list(cards.STEPS), step)
        self.glass, self.ice, self.garnish = (
            w.Text(description=word, placeholder="a line to fill in", continuous_update=False, layout=WIDE)
            for word in ("Glass", "Ice", "Garnish")
        )
        for box in (self.glass, self.ice, self.garnish):
            box.observe(self.refresh, "value")
        self.keep_button = self._put_button("Keep these with the drink", self.keep)
        self.spec_button = self._button("Write the spec card", self.write_spec)
        self.guest_button = self._button("Write the guest card", self.write_guest)
        return [self.step, self.glass, self.ice, self.garnish, self.keep_button, self.spec_button]

    def _build_labels(self) -> list[w.Widget]:
        self.stock = pick("Sheet", list(cards.STOCKS))
        self.count = w.IntText(21, description="Labels", layout=WIDE)
        self.first = w.IntText(1, description="First place", layout=WIDE)
        self.bottle = w.Text("", description="Holds", placeholder="such as 750 mL",
                             continuous_update=False, layout=WIDE)  # fmt: skip
        self._bottle_in = self.display.volume
        self.day = w.DatePicker(description="Made", value=date.today(), layout=WIDE)
        self.use_by = pick("Use by", cards.USE_BY)
        self.until = w.DatePicker(description="Until", layout=WIDE)
        self.source = w.Text(
            "", description="By", placeholder="food code or study", continuous_update=False, layout=WIDE
        )
        self.coded = w.Checkbox(description="with a square code of the text, for a phone", indent=False, layout=WIDE)
        self.labels_button = self._button("Write the labels", self.write_labels)
        self.use_by.observe(self._use_by_changed, "value")
        self._use_by_changed()
        return [self.stock, self.count, self.first, self.bottle, self.day, self.use_by, self.until, self.source,
                self.coded, self.labels_button]  # fmt: skip

    def _button(self, description: str, press) -> w.Button:
        button = w.Button(description=description, button_style="primary", layout=BUTTON)
        button.on_click(lambda _: press())
        return button

    def _use_by_changed(self, _=None) -> None:
        for part in (self.until, self.source):
            part.layout.display = None if self.use_by.value == labels.TYPED else "none"

    # --- the guest card, live --------------------------------------------------------------------------

    def _used(self) -> None:
        if self.choose.value[0] in ("hand", "saved"):  # a drink of a person's own brings its country
            self.country.value = self.setting.country
        recipe = self._recipe
        told = making.told_serving(replace(recipe, glass="", glass_ice="", garnish=""))
        for box, own in ((self.glass, recipe.glass), (self.ice, recipe.glass_ice), (self.garnish, recipe.garnish)):
            box.value, box.placeholder = own, told[box.description] or "a line to fill in"

    def _served_so(self) -> Setting:
        """The drink with glass, ice and garnish as they are typed."""
        words = {"glass": self.glass.value, "glass_ice": self.ice.value, "garnish": self.garnish.value}
        return replace(self.setting, recipe=replace(self._recipe, **words))

    def keep(self) -> None:
        """Keep glass, ice and garnish with the drink in hand."""
        self.put_in_hand(self._served_so(), Fact("service is kept"))

    def _in_hand(self) -> list:
        return [("", self._served_so().brings(self.shelf))]

    def _show_in(self, show: Display) -> None:
        self.bottle.value, self._bottle_in = self._bottle(), show.volume  # a number keeps the unit it was typed in
        self.bottle.placeholder = f"such as {'25 oz' if show.volume == 'oz' else '750 mL'}"
        self.step.value = "¼ oz" if show.volume == "oz" else "5 mL"

    def _bottle(self) -> str:
        typed = self.bottle.value.strip()
        return f"{typed} {self._bottle_in}" if is_bare(typed) else typed

    def _answer(self) -> trial.Trial:
        made = trial.run(replace(self._served_so(), country=self.country.value), pantry=self.shelf)
        one = service.serve(made)
        beside = service.beside_classics(one)
        rows = grams_rows(one, beside)
        self.made, self.one = made, one
        draw(self.chart, rows)
        show = self.display
        self.tiles.value = tiles(_tiles(one, show), para(beside.words))
        facts = (*service.facts(one, show), *cards.served_with(made))
        lines = [para(bold(f"{word}: "), text) for word, text in facts]
        rest = map(quiet, service.notes(one, show))
        self.card.value = join([heading("Guest card"), para(", ".join(one.styles)), *lines, *rest])
        self.line.value = join([heading("Menu line"), para(service.menu_line(one))])
        return made

    # --- into the folder ------------------------------------------------------------------------------------

    def write_spec(self) -> None:
        """Write the spec card, to print and for a phone."""
        with self._said():
            self._mended()
            card = cards.spec(
                self.made, step=self.step.value, display=self.display
            )  # fmt: skip
            pages = {".spec.html": cards.spec_html(card), ".phone.html": cards.spec_html(card, phone=True)}
            self._wrote(cards.save(card.name, pages, self.folder), "A5")

    def write_guest(self) -> None:
        """Write the guest card."""
        with self._said():
            self._mended()
            card = cards.guest(self.made, display=self.display)
            self._wrote(cards.save(card.name, {".guest.html": cards.guest_html(card)}, self.folder), "A6")

    def write_labels(self) -> None:
        """Write sheets of labels."""
        with self._said():
            self._mended()
            if not isinstance(self.day.value, date):
                raise InputError("made", Told("empty"), "a date")
            one = cards.label(
                self.made, stock=self.stock.value, count=self.count.value, first=self.first.value,
                volume=self._bottle() or None, made=self.day.value, use_by=self.use_by.value,
                until=self.until.value, source=self.source.value, coded=self.coded.value,
                display=self.display,
            )  # fmt: skip
            paper = labels.STOCKS[one.stock].paper
            with_care = Fact("print labels with care")
            self._wrote(cards.save(one.name, {".labels.html": cards.labels_html(one)}, self.folder), paper, with_care)

    def _wrote(self, paths: list[Path], paper: str, pages: Fact | str = "") -> None:
        printed = self.say(Fact("print it from a browser", paper=paper, pages=pages))
        self.said.value = written(f"In the folder {cards.CARDS}: ", paths, printed)


def _tiles(one: service.Serve, show: Display) -> list[tuple]:
    around = lambda f, digits: "" if not f.pm else f"± {max(f.pm, 10.0**-digits):.{digits}f}"  # noqa: E731
    shown = [("In the glass", *show.parts(VOLUME, *one.volume))]
    strong = show.parts(ABV, *one.abv)
    before = f"{one.before.value:.1f} before ice" if one.before else "no ice"
    return [
        *shown,
        ("Strength", *strong, before),
        ("Alcohol", f"{one.alcohol.value:.1f}", around(one.alcohol, 1), "g"),
        ("Standard drinks", f"{one.drinks.value:.1f}", around(one.drinks, 1), "", f"{one.size:g} g each"),
        ("Energy", service.tens(one.kj.value), "", "kJ", f"{service.tens(one.kcal.value)} kcal"),
        ("Sugar", f"{one.sugar.value:.0f}", around(one.sugar, 0), "g"),
    ]
