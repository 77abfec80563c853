"""All ingredients to search, and a form that writes one of your own. No maths here."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import ipywidgets as w

from ... import own, tables
from ...errors import InputError
from ...facts import Fact, say
from ...liquid import ACIDS
from ...pantry import OWN_FILE, Ingredient, Pantry
from .html import WIDE, Html, bold, done_words, join, para, problem_words, quiet
from .links import notebook
from .panel import Later

_MOST = 12  # found ingredients on the page


def _held(item: Ingredient) -> str:
    """What is in it, in a line."""
    allergens = f"; contains {', '.join(item.allergens)}" if item.allergens else ""
    if item.may_contain:
        allergens += f"; may contain {', '.join(item.may_contain)}"
    if item.cautions:
        allergens += f"; told of it: {', '.join(word.replace('_', ' ') for word in item.cautions)}"
    figures = f"{item.abv:g} % vol, sugar {item.sugar:.0f} g/L, acid {item.acid:.0f} g/L"
    return f"{item.kind}, {figures}{allergens}"


class Ingredients(w.VBox):
    """A search over the whole pantry, and the form for an own ingredient.

    Parameters
    ----------
    folder : path
        Working folder, where `my_ingredients.csv` is.
    shelf : function
        Gives the pantry as it stands.
    add : function
        Called with a line of a recipe to take over.
    written : function
        Called when the file has changed.
    """

    def __init__(
        self, folder: Path, shelf: Callable[[], Pantry], add: Callable[[str], None], written: Callable[[], None]
    ) -> None:
        self._folder, self._shelf, self._add, self._written = folder, shelf, add, written
        self.search = w.Text(description="Search", placeholder="smoky, syrup, juice …", layout=WIDE)
        self.found, self.said = Html(), Html()
        self.pick = w.Dropdown(description="Found", layout=WIDE)
        self.amount = w.Text(
            description="Amount", placeholder="45 mL, ¾ oz, 2 dashes", continuous_update=False, layout=WIDE
        )
        self.take = w.Button(description="Add to the recipe’s text", layout={"width": "auto"})
        self.form = Later("Write down one of your own", self._form)
        super().__init__([self.search, self.pick, self.amount, self.take, self.found, self.form, self.said])
        self.search.observe(lambda _: self.show(), "value")
        self.take.on_click(lambda _: self._taken())
        self.show()

    def _form(self) -> tuple[w.Widget, ...]:
        def box(name: str, hint: str) -> w.Text:
            return w.Text(description=name, placeholder=hint, continuous_update=False, layout=WIDE)

        fields = tables.fields("ingredients")
        kinds = fields["kind"]["constraints"]["enum"]
        self.name = box("Name", "plum shrub")
        self.kind = w.Dropdown(
            options=[("choose its kind …", ""), *((k, k) for k in kinds)], description="Kind", layout=WIDE
        )
        self.strength = box("Strength", "% vol, or proof: 40, 80 proof; 0")
        self.sugar = box("Sugar", "g/L; 0 for none")
        self.acid = box("Acid", "g/L; 0 only if it holds none")
        self.sort = w.Dropdown(options=list(ACIDS), value="citric", description="Counted as", layout=WIDE)
        self.ph = box("pH", "of a juice, in place of its acid")
        words = [word for word in fields["allergens"]["itemEnum"] if word != "none"]
        self.allergens = {
            word: w.Checkbox(description=word, indent=False, layout={"width": "auto"}) for word in ("none", *words)
        }
        # Of a strong spirit its strength tells it.
        told = [word for word in fields["caution"]["itemEnum"] if word not in ("none", "overproof")]
        named = {"none": "none of these"} | {word: word.replace("_", " ") for word in told}
        self.cautions = {
            word: w.Checkbox(description=name, indent=False, layout={"width": "auto"}) for word, name in named.items()
        }
        ticks, more = (
            w.GridBox(list(boxes.values()), layout={"grid_template_columns": "1fr 1fr"})
            for boxes in (self.allergens, self.cautions)
        )
        self.asked = w.Checkbox(description="none, I asked the maker", indent=False, layout=WIDE)
        self.instead = w.Checkbox(description="in place of the one there", indent=False, layout=WIDE)
        self.make = w.Button(description="Write it down", button_style="primary")
        self.make.on_click(lambda _: self.write())
        return (
            Html(quiet(say(Fact("own: how", file=OWN_FILE)))),
            Html(quiet(say(Fact("own: measured")), notebook(self._folder, "12_the_lab_learns"), ".")),
            self.name, self.kind, self.strength, self.sugar, self.acid, self.sort, self.ph,
            Html(quiet(say(Fact("own: allergens")))), ticks,
            Html(quiet(say(Fact("own: may contain")))), self.asked,
            Html(quiet(say(Fact("own: cautions")))), more,
            self.instead, self.make,
        )  # fmt: skip

    def show(self) -> None:
        """The ingredients that hold the words searched for."""
        found = self._shelf().search(self.search.value)
        self.pick.options = [(item.name, item.name) for item in found]
        self.pick.index = 0 if found else None
        self.take.disabled = not found
        if not self.search.value.strip():
            self.found.value = quiet(say(Fact("own: so many", count=len(found))))
            return
        rows = [para(bold(item.name), f": {_held(item)}.") for item in found[:_MOST]]
        if len(found) > _MOST:
            rows.append(quiet(say(Fact("own: so many more", more=len(found) - _MOST))))
        self.found.value = join(rows) if found else quiet(say(Fact("own: none found")))

    def _taken(self) -> None:
        self.said.value = ""
        try:
            self._add(f"{self.amount.value.strip()} {self.pick.value}".strip())
        except InputError as problem:
            self.said.value = problem_words(str(problem))

    def write(self) -> None:
        """Write the form's ingredient into the person's own file."""
        try:
            cells = own.row(
                self.name.value, self.kind.value, self.strength.value, self.sugar.value, acid=self.acid.value,
                ph=self.ph.value, sort=self.sort.value,
                allergens="; ".join(word for word, tick in self.allergens.items() if tick.value),
                cautions=[word for word, tick in self.cautions.items() if tick.value],
                may_contain=["none"] if self.asked.value else (),
            )  # fmt: skip
            path = own.write(self._folder, cells, replace=self.instead.value)
            self._written()
        except InputError as problem:
            self.said.value = problem_words(str(problem))
            return
        self.instead.value = self.asked.value = False  # said of this one alone
        self.search.value = cells["name"]
        self.show()
        item = self._shelf().find(cells["name"])
        told = {"name": item.name, "held": _held(item), "source": cells["source"]}
        self.said.value = done_words(say(Fact("own: written", file=path.name, **told)))
