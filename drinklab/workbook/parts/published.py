"""What stands under "Write it up": more words for the page, what is made of it, and a write-up repeated."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import ipywidgets as w

from ... import cards, cost, files, trial, units, writeup
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact, say
from ...kinds import WARMER
from ...writeup.page import WRITEUPS
from .html import WIDE, Html, done_words, para, problem_words, quiet, sentence, table
from .links import link
from .panel import Later

_BESIDE = {
    "PDF": writeup.pdf,
    "PDF with all that is folded": lambda page: writeup.pdf(page, whole=True),
    "Notebook": writeup.notebook,
}


class Published(w.VBox):
    """What is made of a write-up by a button each, and another's write-up held beside one's own figures.

    Parameters
    ----------
    folder : path
        Working folder.
    display : callable
        Gives the `Display` that is chosen.
    """

    def __init__(self, folder: str | Path, display: Callable[[], Display]) -> None:
        self.folder, self.display = Path(folder), display
        self._first: Path | None = None  # the write-up to begin with
        self.more = Later("Author, finding, licence and cost in the write-up", self._more)
        self.made = Later("Open a write-up: PDF, notebook, bar card, and making it again", self._made_of)
        self.made.observe(lambda _: self.look(), "selected_index")
        super().__init__([self.more, self.made])

    def _more(self) -> tuple[w.Widget, ...]:
        self.author = w.Text(description="Author", placeholder="a name, or the bar's", layout=WIDE)
        self.found = w.Text(description="Finding", placeholder="what you found, in one sentence", layout=WIDE)
        self.licence = w.Text(description="Licence", placeholder="only if others may use it: its name", layout=WIDE)
        self.costs = w.Checkbox(description="say what a serve costs, by your own price list", indent=False)
        return self.author, self.found, self.licence, self.costs

    def _made_of(self) -> tuple[w.Widget, ...]:
        self.page = w.Dropdown(description="Write-up", layout=WIDE)
        self.said = Html()
        self.buttons = {name: w.Button(description=name, layout={"width": "auto"}) for name in (*_BESIDE, "Bar card")}
        for name, button in self.buttons.items():
            button.on_click(lambda _, name=name: self._make(name))
        row = w.HBox(list(self.buttons.values()), layout={"flex_flow": "row wrap"})
        self.again = Later("Repeat this: your own figures beside the author's", self._again)
        return self.page, row, self.said, self.again

    def _again(self) -> tuple[w.Widget, ...]:
        self.typed = {name: (w.Text(layout={"width": "8em"}), w.Text(layout={"width": "6em"})) for name in _names()}
        self._units = tuple(_names(self.display()).values())
        self.compare = w.Button(description="Hold mine beside it", layout={"width": "auto"})
        self.compare.on_click(lambda _: self._repeat())
        self.rows, self.compared = w.VBox(), Html()
        self._name_rows()
        return Html(para(say(Fact("measure one serve")))), self.rows, self.compare, self.compared

    def about(self, made: trial.Trial, country: str) -> dict[str, object]:
        """What `writeup.save` takes of it; the cost of a trial only where it is wished for."""
        if not self.more.filled:
            return {}
        said = {"author": self.author.value, "finding": self.found.value, "licence": self.licence.value}
        return said | ({"cost": (self._cost(made, country),)} if self.costs.value else {})

    def _cost(self, made: trial.Trial, country: str) -> str:
        prices = cost.load(self.folder, pantry=made.pantry)
        if prices is None:
            allowed = "made first, in 09_to_the_bar, if the write-up is to say the cost"
            raise InputError("price list", Told("not there yet"), allowed)
        said = say(cost.cost(made.setting, prices, pantry=made.pantry).said(country))
        return say(Fact("cost in a write-up", cost=sentence(said)))

    def wrote(self, page: Path, text: Path) -> str:
        """What was written, as links, once the page is the one to go on with."""
        self.look(page)
        page, text = (link(path, f"{path.parent.name}/{path.name}") for path in (page, text))
        return done_words("Written: ", page, ", for any browser, and ", text, ".")

    def look(self, page: Path | None = None) -> None:
        """Offer the write-ups that are there, the newest first, and this one at first."""
        self._first = page or self._first
        if not self.made.filled:
            return
        found = []
        try:
            found = files.newest(self.folder / WRITEUPS, ".html", "folder of write-ups")
        except InputError as problem:
            self.said.value = problem_words(self.display().say(problem))
        keep, self._first = self._first or self.page.value, None
        self.page.options = [(path.name, path) for path in found]
        if keep in found:
            self.page.value = keep
        if self.again.filled:
            self._name_rows()

    def _name_rows(self) -> None:
        """What can be measured, each in the unit that is chosen now."""
        show = self.display()
        for name, ((_, was), (_, now)) in zip(
            self.typed, zip(self._units, _names(show).values(), strict=True), strict=True
        ):
            for box in self.typed[name] if was != now else ():
                if units.is_bare(box.value):  # a number keeps the unit that it was typed in
                    box.value = f"{box.value.strip()} {was}"
        self._units = tuple(_names(show).values())
        self.rows.children = [
            w.HBox([Html(para(f"{word} [{unit}]" if unit else word), layout={"width": "11em"}), value, Html("±"), pm])
            for (word, unit), (value, pm) in zip(_names(show).values(), self.typed.values(), strict=True)
        ]

    def _make(self, name: str) -> None:
        """What a button makes, as a link."""
        try:
            page = self._chosen()
            if name == "Bar card":
                card = cards.spec(writeup.rerun(page), display=self.display())
                (path,) = cards.save(card.name, {".spec.html": cards.spec_html(card)}, self.folder)
            else:
                path = _BESIDE[name](page)
            self.said.value = done_words("Made: ", link(path, str(path.relative_to(self.folder))), ".")
        except InputError as problem:
            self.said.value = problem_words(self.display().say(problem))

    def _chosen(self) -> Path:
        if self.page.value is None:
            raise InputError("write-up", None, "one that is there: write the drink up first")
        return self.page.value

    def _repeat(self) -> None:
        """What was typed beside the author's figures."""
        show = self.display()
        try:
            measured = {name: found for name, boxes in self.typed.items() if (found := _read(name, *boxes, show))}
            if not measured:
                raise InputError("your figures", None, "one of them at least")
            compared = writeup.repeat(writeup.rerun(self._chosen()), measured)
            head = ("Figure of one serve", "author's", "yours", "difference", "")
            behind = quiet(show.say(Fact("held beside a write-up")))
            self.compared.value = table(head, (one.cells(show) for one in compared)) + behind
        except InputError as problem:
            self.compared.value = problem_words(show.say(problem))


def _names(show: Display | None = None) -> dict[str, tuple[str, str]]:
    """What can be measured: its name and the chosen unit."""
    show = show or Display()
    own = {"volume": show.volume, "temperature": show.temperature}
    return {name: (word, own.get(name, kind.label)) for name, (word, kind) in writeup.MEASURED.items()}


def _read(name: str, value: w.Text, pm: w.Text, show: Display) -> tuple[float, float | None] | None:
    """A figure that was typed and its ±, in the figure's own unit; None where nothing was."""
    if not value.value.strip():
        return None
    word, kind = writeup.MEASURED[name]
    scale = show.ml if name == "volume" else 1 / 1.8 if name == "temperature" and show.temperature == "°F" else 1.0
    if not any(sign.isnumeric() for sign in value.value):
        raise InputError(word, value.value, "a number")
    given = float(units.read(value.value, kind, word))
    if units.is_bare(value.value):
        given = show.celsius(given) if name == "temperature" else given * scale
    if not pm.value.strip():
        return given, None
    around = float(units.read(pm.value, WARMER if name == "temperature" else kind, f"± of {word}"))
    return given, around * scale if units.is_bare(pm.value) else around
