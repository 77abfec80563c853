"""What the bar has measured itself: written down, asked about, joined with the tables, and what to measure next."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date
from pathlib import Path

import ipywidgets as w

from ... import dilution, measured, milk, trial
from ...carbonation import POURED_LOSS
from ...display import Display
from ...errors import InputError
from ...facts import Fact
from ...kinds import ABV, CONCENTRATION, MINUTES, VOLUME
from ...measured import Entry, Reviewed
from ...pantry import Ingredient
from ...recipe import Recipe
from ...setting import Setting
from ...units import is_bare
from ..parts.html import WIDE, Html, bold, done_words, heading, join, para, problem_words, quiet, table
from ..parts.links import written
from ..parts.panel import Lesson, busy, fold, group, pick

_MOST = 60  # entries on the page; all of them are in the file
# Of what each kind is asked, beside bottles and juices.
_TOOLS = ("jigger", "free pour")
# Figures that readings tell of: their kinds, what they are a share of, their units.
_KINDS = {"strength": ABV, "sugar": CONCENTRATION, "acid": CONCENTRATION, "fruit": VOLUME, "paper": VOLUME}
_SHARES = {"pour": "of its mark", "gas": "of the rule", "ice": "of the rule"}
_UNITS = {"ph": "g/L of salts", "milk": "mmol/L", "wash": "mL/g of curd", "filter": "min for half a litre"}
_STATES = {
    "counts": "counts",
    "confirmed": "you said it is right",
    "to confirm": "asked",
    "taken back": "taken back",
    "older": "newer readings count instead",
}


def panel(folder: str | Path = ".", drink: Recipe | Setting | None = None) -> MeasuredPanel:
    """Own measurements: write one down, answer what is asked of it, and see what to measure next for the drink in hand.

    Parameters
    ----------
    folder : path
        Working folder: measurements are kept there in `my_measurements.csv`.
    drink : Recipe or Setting, optional
        In place of the drink in hand.
    """
    return MeasuredPanel(folder, drink)


class MeasuredPanel(Lesson):
    """The bar's own measurements. `write` keeps what the form holds; `answer` says that an entry is right or not."""

    def __init__(self, folder: str | Path = ".", drink: Recipe | Setting | None = None) -> None:
        self.joint = measured.Joint(None, ())
        super().__init__(folder, drink)

    # --- what is on the page -----------------------------------------------------------------------

    def _build(self, show: Display) -> None:
        form = self._build_form()
        self.asked, self.asked_of = Html(), w.Dropdown(description="Asked of you", layout=WIDE)
        self.right = self._button("It is right: let it count", lambda: self.answer(self.asked_of.value, right=True))
        self.wrong = self._button("Take it back", lambda: self.answer(self.asked_of.value, right=False))
        self.any_of = w.Dropdown(description="Entry", layout=WIDE)
        self.back = self._button("Take this entry back", lambda: self.answer(self.any_of.value, right=False))
        self.export_button = self._button("Export all as a table with its description", self.export)
        self.question = w.VBox([self.asked, self.asked_of, self.right, self.wrong])
        self.next, self.held, self.beside, self.list = self.answers = [Html() for _ in range(4)]
        self.also = Html()
        self._lay_out(
            [self.choose, Html(heading("Write a measurement down")), *form],
            [self.question, Html(heading("What to measure next, for this drink")), self.next],
            [group("dl-whole", Html(heading("Figures that stand on your measurements")), self.held, self.beside,
                   fold("All entries, as you wrote them", self.list, self.any_of, self.back), self.export_button,
                   self.also)],
        )  # fmt: skip

    def _build_form(self) -> list[w.Widget]:
        def box(name: str, hint: str) -> w.Text:
            return w.Text(description=name, placeholder=hint, continuous_update=False, layout=WIDE)

        self.kind = pick("Measured", [(sort.name, kind) for kind, sort in measured.SORTS.items()], "acid")
        self.what = w.Combobox(description="Of what", ensure_option=False, continuous_update=False, layout=WIDE)
        self.value, self.of = box("Reading", ""), box("Of", "")
        self.with_milk, self._typed_in = box("Milk in it", "75 mL"), self.display.volume
        self.times = w.IntText(value=1, description="Times read", layout=WIDE)
        self.instrument = w.Combobox(description="Instrument", ensure_option=False, layout=WIDE)
        self.pm = box("±, 19 in 20", "")
        self.when = w.DatePicker(description="Day", value=date.today(), layout=WIDE)
        self.batch, self.note = box("Lot", "lot, crate or supplier"), box("Note", "whatever you like")
        self.write_button = self._button("Write it down", self.write, primary=True)
        self.hint = Html()
        self.kind.observe(self._other_kind, "value")
        self.instrument.observe(self._instrument_changed, "value")
        return [self.kind, self.what, self.value, self.of, self.with_milk, self.times, self.instrument, self.pm,
                self.when, self.batch, self.note, self.hint, self.write_button]  # fmt: skip

    def _button(self, description: str, act: Callable[[], None], primary: bool = False) -> w.Button:
        def done() -> None:
            with self._said():
                act()

        button = w.Button(description=description, layout={"width": "auto"}, button_style="primary" if primary else "")
        button.on_click(lambda button: busy(button, "One moment …", done))
        return button

    # --- the form ------------------------------------------------------------------------------------

    def _used(self) -> None:
        self._kind_changed()

    def _offer(self) -> None:
        self._kind_changed()

    def _other_kind(self, _) -> None:
        """A reading and its ± are of one kind of measurement, in its unit."""
        self.value.value = self.of.value = self.with_milk.value = self.pm.value = ""
        self._kind_changed()

    def _kind_changed(self) -> None:
        """Bring the form in line with what is measured."""
        sort = measured.SORTS[self.kind.value]
        self.what.options = self._things()
        self.value.placeholder = {"g/L": "53 g/L", "% vol": "41.6 % vol", "°Brix": "48.4 °Brix", "pH": "pH 2.3",
                                  "mmol/L": "60 mmol/L", "g": "34 g" if self.kind.value == "ice" else "0.8 g",
                                  "min": "420 min"}.get(sort.unit.label, "28.9 mL")  # fmt: skip
        self.of.layout.display = None if sort.of else "none"
        self.of.placeholder = {"gas": "1 g", "ice": "36 g", "filter": "500 mL"}.get(self.kind.value, "30 mL")
        self.with_milk.layout.display = None if sort.milk else "none"
        self.instrument.options = [one.name for one in sort.instruments]
        self.instrument.value = sort.instruments[0].name
        self.hint.value = quiet(
            f"{sort.asks[0].upper()}{sort.asks[1:]}{'; of ' if sort.of else ''}{sort.of}.{self._rule_here()}"
        )
        self._instrument_changed()

    def _rule_here(self) -> str:
        """What the rule melts of the drink in hand, where melt water is weighed."""
        if self.kind.value != "ice" or self.setting is None:
            return ""
        table = self.shelf.with_items([])
        table.learned = {}
        try:
            now = trial.run(self.setting, pantry=table, draws=0, melt=None, ice=None)
        except InputError:
            return ""
        grams = now.melt * now.stages[0].profile.volume * dilution.WATER
        recipe = self.setting.recipe
        rule = Fact("rule melts here", name=recipe.name, technique=recipe.technique, grams=grams)
        return self.say(rule) if grams > 0 else ""

    def _instrument_changed(self, _=None) -> None:
        usual = measured.SORTS[self.kind.value].instrument(self.instrument.value)
        if usual is None:
            self.pm.placeholder = "how far it may be off, with its unit"
        else:
            share = f" or {100 * usual.relative:g} %" * bool(usual.relative)
            unit = measured.SORTS[self.kind.value].unit.label
            self.pm.placeholder = f"usually {usual.absolute:g} {unit}{share}"

    def _things(self) -> list[str]:
        """What the kind can be of: of the drink first, then all that the shelf has."""
        kind = self.kind.value
        if kind == "pour":
            return list(_TOOLS)
        if kind in ("milk", "wash"):
            return list(milk.milks()) + [f"{name}, hot" for name in milk.milks()] * (kind == "wash")
        if kind == "gas":
            return list(POURED_LOSS)
        if kind == "ice":
            return [name for name in dilution.RULES if name != "none"]
        if kind in ("filter", "paper"):
            return ["paper"]
        here = [] if self.setting is None else [pour.bottle(self.shelf) for pour in self.setting.recipe.pours]
        all_of = [item for item in (*here, *self._own_shelf.values()) if _fits(kind, item)]
        return list(dict.fromkeys(item.name for item in all_of))

    def show_case(self, table: float, wide: float, reading: float, narrow: float) -> None:
        """Fill the form with the reading of a lesson's guess, to be written down or not. [g/L of acid]"""
        self.kind.value, self.what.value = "acid", "verjus"
        self.value.value, self.pm.value = f"{reading:g} g/L", f"{narrow:g} g/L"

    def write(self) -> None:
        """Keep what the form holds, and say what became of it."""
        given = {"of": self._with_unit(self.of), "milk": self._with_unit(self.with_milk), "pm": self.pm.value}
        entry = measured.checked(
            self.kind.value, self.what.value, self.value.value, times=self.times.value, batch=self.batch.value,
            instrument=self.instrument.value, when=self.when.value, note=self.note.value, **given,
        )  # fmt: skip
        kept = measured.add(self.folder, entry)
        self._read_again()
        what, reading = entry.what, self._reading(entry)
        if kept.asks is not None:
            said = Fact("measurement asked", what=what, reading=reading)
        else:
            said = Fact("measurement written", what=what, reading=reading, left=100 * kept.learned.left)
            self.value.value = ""
        self.said.value = done_words(self.say(said))

    def _with_unit(self, box: w.Text) -> str:
        """A volume typed without a unit is in the one that the page showed then."""
        text = box.value.strip()
        if not text or self.kind.value in ("gas", "ice") or not is_bare(text):
            return text
        return f"{text} {self._typed_in}"

    def _show_in(self, show: Display) -> None:
        for box in (self.of, self.with_milk):
            box.value = self._with_unit(box)
        self._typed_in = show.volume

    def answer(self, id: str | None, *, right: bool) -> None:
        """Say of an entry that it is right, or take it back; it stays in the file."""
        if id is None:
            raise InputError("entry", "", "chosen from the list")
        entry = measured.answer(self.folder, id, right=right)
        self._read_again()
        done = Fact(
            "measurement counts" if right else "measurement taken back", what=entry.what, reading=self._reading(entry)
        )
        self.said.value = done_words(self.say(done))

    def _read_again(self) -> None:
        if not self.own_file.look():  # which answers anew itself
            self.refresh()

    def export(self) -> None:
        """Write all of them as a table with its description."""
        self.said.value = written("Written: ", [measured.export(self.joint, self.folder)])

    # --- the answers ------------------------------------------------------------------------------------

    def _answer(self):
        self.joint = measured.of_folder(self.folder)
        found = measured.next_to_measure(self.setting, self.shelf)
        self._ask()
        self.next.value = join(
            para(self.say((one.said(), Fact("would be less", by=100 * one.narrows)))) for one in found[:5]
        ) or quiet(self.say(Fact("nothing narrows")))
        self.held.value, self.beside.value = self._standing_here(), self._side_by_side()
        entries = measured.newest_first([one.entry for one in self.joint.entries])
        reviewed = {one.entry.id: one for one in self.joint.entries}
        head = ["Day", "Measured", "Of", "Reading", "By", "Lot", "State"]
        rows = [self._row(entry, reviewed[entry.id]) for entry in entries[:_MOST]]
        more = Fact("more measurements", count=len(entries) - _MOST, file=measured.OWN_FILE)
        shown = [table(head, rows), *[quiet(self.say(more))] * (len(entries) > _MOST)]
        self.list.value = join(shown) if rows else quiet(self.say(Fact("nothing measured")))
        chosen = self.any_of.value
        self.any_of.options = [
            (f"{entry.when} {entry.what}: {self._reading(entry)}", entry.id)
            for entry in entries if entry.state != measured.TAKEN_BACK
        ]  # fmt: skip
        if chosen in [id for _, id in self.any_of.options]:
            self.any_of.value = chosen
        self.also.value = self._kept_elsewhere()

    def _ask(self) -> None:
        asked = self.joint.asked
        self.question.layout.display = None if asked else "none"
        self.asked.value = join(
            problem_words(f"{one.entry.what}, {self._reading(one.entry)}: {self.say(one.asks)}") for one in asked
        )
        self.asked_of.options = [(f"{one.entry.what}: {self._reading(one.entry)}", one.entry.id) for one in asked]
        self.asked_of.index = 0 if asked else None

    def _standing_here(self) -> str:
        learned = self.joint.learned
        if not learned:
            return quiet(self.say(Fact("no figure yet")))
        names = {one.what: self._own_shelf[one.what].name for one in learned if one.what in self._own_shelf}
        said = [one.said(_named(names.get(one.what, one.what), one.label)) for one in learned]
        return join(para(self.say(fact)) for fact in said)

    def _side_by_side(self) -> str:
        """Suppliers and lots of one thing, each as it was read and drawn to the others."""
        counted = [one.entry for one in self.joint.entries if one.counts]
        found = measured.side_by_side(counted, self.joint.table)
        if not found:
            return ""
        head = ("Lot or supplier", "readings", "as read", "drawn to the others")
        tables = []
        for one in found:
            rows = [
                (lot.lot, str(lot.readings), self._figure(one.kind, lot.value, 2 * lot.pm),
                 bold(self._figure(one.kind, lot.best, 2 * lot.best_pm)))
                for lot in one.lots
            ]  # fmt: skip
            own = ", by the weight of its own acids" * (one.kind == "acid")
            tables += [para(f"{one.name}: {measured.SORTS[one.kind].name}{own}"), table(head, rows)]
        return join([
            heading("Suppliers and lots side by side"),
            *tables,
            quiet(self.say(Fact("lots by"))),
        ])  # fmt: skip

    def _figure(self, kind: str, value: float, half: float) -> str:
        """A figure with what holds 19 in 20, as its kind has it."""
        if kind in _KINDS:
            return self.display.text(_KINDS[kind], value, half)
        if kind in _SHARES:
            return f"{100 * value:.0f} ± {max(100 * half, 1):.0f} % {_SHARES[kind]}"
        digits = 1 if half < 10 else 0
        return f"{value:.{digits}f} ± {half:.{digits}f} {_UNITS[kind]}"

    def _row(self, entry: Entry, of: Reviewed) -> list[str]:
        asked = "asked" if of.asks is not None else _STATES["older" if of.older else entry.state]
        sort = measured.SORTS[entry.kind].name
        return [entry.when, sort, entry.what, self._reading(entry), entry.instrument, entry.batch, asked]

    def _reading(self, entry: Entry) -> str:
        """A reading with its ± and its unit, and what it is of."""
        unit = measured.SORTS[entry.kind].unit
        if unit is MINUTES:
            return f"{entry.value:.0f} ± {entry.pm:.0f} min for {self.display.volume_text(entry.of)}"
        if unit is VOLUME:
            text = self.display.volume_text(entry.value, entry.pm)
            return f"{text} of {self.display.volume_text(entry.of)}" if entry.of else text
        digits = 1 - math.floor(math.log10(entry.pm))  # two figures of the ±, and the reading to the same
        value, pm = (measured.number_text(round(x, digits)) for x in (entry.value, entry.pm))
        text = f"{value} ± {pm} {unit.label}"
        return f"{text} of {measured.number_text(round(entry.of, digits))} {unit.label}" if entry.of else text

    def _kept_elsewhere(self) -> str:
        """Weighings of ice, the newest of each technique with what was fitted; files that do not count."""
        fits, unread = measured.fit_files(self.folder)
        logs, unread_logs = measured.own_logs(self.folder)
        newest = {one.technique: one for one in fits.values()}
        show = self.display
        rows = [
            (one.technique, "" if one.ice is None else show.temperature_text(one.ice), f"{one.pace:.2f}",
             f"{100 * one.wetness:.0f} %", f"{one.miss:.1f} g", str(len(one.seconds)))
            for one in newest.values()
        ]  # fmt: skip
        head = ("Own ice", "by the thermometer", "times as long as usual", "water on it", "misses by", "weighings")
        alone = tuple(name for name, one in {**fits, **logs}.items() if one.entry(name) is None)
        said = [Fact("measured elsewhere"), *[Fact("not joined", files=alone)] * bool(alone)]
        problems = map(problem_words, (*unread, *unread_logs))
        return join([table(head, rows) if rows else "", *(quiet(self.say(one)) for one in said), *problems])

    def _in_hand(self):
        return [("", self.setting.brings(self.shelf))]


def _named(name: str, label: float | None) -> str:
    return name if label is None else f"{name}, {label:g} %"


def _fits(kind: str, item: Ingredient) -> bool:
    """Whether this kind can be measured of it."""
    if kind == "strength":
        return item.abv > 0
    if kind == "fruit":
        return item.kind == "juice"
    return item.acid > 0 if kind in ("acid", "ph") else item.state == "liquid"
