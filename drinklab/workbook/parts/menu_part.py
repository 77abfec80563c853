"""Drinks as a menu, on the page of what leaves the bar: the list, its picture, a page to print, and what to buy."""

from __future__ import annotations

from pathlib import Path

import ipywidgets as w

from ... import batch, cards, logbook, menu, service, trial
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact, say
from ...files import write_new
from ...profile import AXES, KINDS
from ...units import whole_number
from ..charts.live import LiveChart, once
from ..charts.place import place_chart
from . import batch_words as words
from .bench_words import classic_rows
from .html import WIDE, Html, heading, join, para, quiet, table
from .links import written
from .panel import Pictured, draw, pick

BUTTON = {"width": "auto", "align_self": "flex-start"}
NAMED = 24  # drinks whose names have room in the picture
_SIGNS = {menu.CONTAINS: "●", menu.MAY: "○", menu.UNKNOWN: "?", menu.NONE: ""}
_USUAL = 20  # serves of each, to begin with


class MenuPart(Pictured, w.VBox):
    """Several drinks side by side. `page` is the panel that it stands on: its drink, folder, shelf and units."""

    def __init__(self, page) -> None:
        self.page = page
        self.found: menu.Menu | None = None
        self.listed = w.SelectMultiple(rows=9, layout={"width": "760px", "max_width": "100%"})
        self.button = self._button("Put them side by side", self.show)
        self.words, self.table, self.matrix, self.bought = (Html() for _ in range(4))
        self.picture = w.Box([LiveChart(once(place_chart, classic_rows(page.known)))], layout={"display": "none"})
        self.title = w.Text("", description="Title", placeholder="Drinks", continuous_update=False, layout=WIDE)
        self.paper = pick("Paper", list(cards.labels.PAPERS))
        self.print_button = self._button("Write the menu", self.write)
        self.serves = w.VBox()
        self.buy_button = self._button("Write the shopping list", self.write_list)
        self.more = w.VBox(
            [Html(heading("To print")), self.title, self.paper, self.print_button,
             Html(heading("To buy") + quiet(say(Fact("serves of each drink")))),
             self.serves, self.buy_button, self.bought],
            layout={"display": "none", "max_width": "480px"},
        )  # fmt: skip
        super().__init__([
            Html(heading("A menu") + quiet(say(Fact("choose several")))),
            self.listed, self.button, self.words, self.picture, self.table, self.matrix, self.more,
        ])  # fmt: skip
        self.offer()

    def _button(self, description: str, press) -> w.Button:
        def pressed(_) -> None:
            with self.page._said():
                press()

        button = w.Button(description=description, button_style="primary", layout=BUTTON)
        button.on_click(pressed)
        return button

    def offer(self) -> None:
        """What can go on the menu: the drink on the page, the demo, what was saved since."""
        saved, _ = logbook.entries(self.page.folder)
        options = [("the drink on this page", ("page", ""))]
        options += [(f"Saved: {entry.label}", ("saved", str(entry.path))) for entry in saved]
        options += [(f"Demo: {name}", ("demo", name)) for name in self.page._demo]
        if tuple(options) != tuple(self.listed.options):
            here = self.listed.value
            self.listed.options = options
            self.listed.value = [key for key in here if key in [value for _, value in options]]

    def _run(self, key: tuple[str, str]) -> trial.Trial:
        kind, name = key
        if kind == "page":
            self.page._mended()
            return self.page.made
        if kind == "demo":
            return trial.run(self.page._demo[name], pantry=self.page.shelf, draws=0)
        found = logbook.open_saved(Path(name), pantry=self.page._own_shelf)
        return trial.run(found.setting, pantry=found.pantry, draws=0)

    def show(self) -> None:
        """Put the chosen drinks side by side."""
        self.offer()
        runs = [self._run(key) for key in self.listed.value]
        found = menu.menu(runs, self.page.country.value)
        rows = [
            {"name": d.name, "family": d.family} | {a: round(getattr(d.profile, a), 2) for a in AXES}
            for d in found.drinks
        ]
        many = len(rows) > NAMED
        draw(self.chart, {"near": [] if many else rows, "picked": rows if many else []})
        said = (found.said() or (Fact("no double and no gap"),)) + (Fact("names need pointing"),) * many
        lines = [para(say(service.menu_line(d.serve))) for d in found.drinks]
        self.words.value = join(
            [heading("Doubles and gaps"), *(para(say(fact)) for fact in said), heading("Menu lines"), *lines]
        )
        self.table.value = _listed(found, self.page.display)
        self.matrix.value = _matrix(found)
        self._ask_serves(runs)
        self.found, self.runs = found, runs
        self.picture.layout.display = self.more.layout.display = None
        self.page.said.value = ""

    def _ask_serves(self, runs: list[trial.Trial]) -> None:
        """A number for each drink; what was typed for one stays."""
        typed = {box.drink: box.value for box in self.serves.children}
        boxes = []
        for one in runs:
            box = w.IntText(typed.get(one.recipe.name, _USUAL), description=one.recipe.name, layout=WIDE)
            box.style.description_width, box.drink = "60%", one.recipe.name
            boxes.append(box)
        self.serves.children, self.bought.value = boxes, ""

    def _shown(self) -> None:
        """Refuse to write what is no longer what is chosen."""
        if self.found is None or not self.listed.value:
            raise InputError("menu", Told("empty"), "chosen above first")
        self.show()

    def write(self) -> None:
        """Write the menu as a page to print."""
        self._shown()
        made = cards.menu_page(self.found, title=self.title.value, paper=self.paper.value)
        paths = cards.save(made.title, {".menu.html": cards.menu_html(made)}, self.page.folder)
        pages = Fact("in so many pages", pages=len(made.pages)) if len(made.pages) > 1 else ""
        printed = say(Fact("print it from a browser", paper=made.paper, pages=pages))
        self.page.said.value = written(f"In the folder {cards.CARDS}: ", paths, printed)

    def write_list(self) -> None:
        """Show what so many serves of each take, and write it."""
        self._shown()
        show = self.page.display
        made = [
            batch.scale(
                run.setting,
                serves=whole_number(box.value, f"serves of {box.drink}", 1, 10_000),
                pantry=run.pantry,
                display=show,
            )
            for run, box in zip(self.runs, self.serves.children, strict=True)
        ]  # fmt: skip
        named = say(Fact("for so many", drinks=tuple(f"{one.name} ({one.serves})" for one in made)))
        bought = words.shopping(batch.shopping_list(made, size=750.0 if show.volume == "oz" else 700.0), show, True)
        self.bought.value = join([para(named), table(*bought)])
        text = f"# Shopping list\n\n{named}\n\n{words.markdown(bought)}\n"
        paths = write_new(self.page.folder, "shopping_list", {".md": text})
        self.page.said.value = written("Saved as ", paths, say(Fact("in your working folder")))


_HEAD = ("Drink", "Volume", "Strength", "Sugar", "Acid", "Alcohol", "Standard drinks", "Energy")


def _listed(found: menu.Menu, show: Display) -> str:
    rows = [
        (d.name, *(show.text(KINDS[f], getattr(d.profile, f)) for f in ("volume", *AXES)),
         f"{d.serve.alcohol.value:.1f} g", f"{d.serve.drinks.value:.1f}", f"{service.tens(d.serve.kj.value)} kJ")
        for d in found.drinks
    ]  # fmt: skip
    return join([heading("The list"), table(_HEAD, rows)])


def _matrix(found: menu.Menu) -> str:
    used = [i for i in range(len(service.ALLERGENS)) if any(row[i] for _, row in found.matrix())]
    rest = tuple(word for i, word in enumerate(service.ALLERGENS) if i not in used)
    rows = [(name, *(_SIGNS[row[i]] for i in used)) for name, row in found.matrix()]
    none = quiet(say(Fact("allergens not known", allergens=rest))) if rest else ""
    head = ("Drink", *(service.ALLERGENS[i] for i in used))
    return join([heading("Allergens"), table(head, rows), quiet(say(Fact("key of allergens"))), none])
