"""The lesson on strength: letting down, what a label says, several bottles, and the glass. No maths here."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar

import ipywidgets as w

from ... import service, strength, trial
from ...declared import OVERPROOF, Declared, declared
from ...display import Display
from ...errors import InputError, one_of, require
from ...facts import Fact
from ...kinds import ABV, ABW, MASS, PROOF, TEMPERATURE, UK_PROOF, VOLUME
from ...liquid import Liquid
from ...pantry import Ingredient, Pantry
from ...profile import profile
from ...steps import Caution
from ..charts.live import LiveChart, once
from ..charts.strength import let_down_chart, let_down_rows
from ..parts.dials import DegreeDial, Dial, VolumeDial
from ..parts.html import join, para, quiet, table, tiles
from ..parts.own_file import offer
from ..parts.panel import Pictured, draw, pick, usual_country
from ..parts.sections import Section, Sections, WithVolume

BURNS = Caution("overproof")
TOPICS = ("let down", "label", "bottles", "glass")
NOTHING = ""
BOTTLES = (("rum_aged", 450.0), ("rum_overproof_white", 150.0), (NOTHING, 0.0), (NOTHING, 0.0))  # to start with
# Serves to stand beside one's own: common practice, no published source. [mL], [% vol]
SERVES = (("a small spirit", 25.0, 40.0), ("a large spirit", 50.0, 40.0), ("a glass of wine", 150.0, 12.5),
          ("a small beer", 330.0, 5.0), ("a large beer", 500.0, 5.0))  # fmt: skip


def panel(folder: str | Path = ".", topics: Sequence[str] = TOPICS) -> StrengthPanel:
    """Strength: a spirit let down with water, what a label says, several bottles together, and what is in the glass.

    Parameters
    ----------
    folder : path
        Working folder: own ingredients and the choice of units are read from it.
    topics : sequence of str
        Which of `TOPICS` the page shows.
    """
    return StrengthPanel(folder, topics)


class StrengthPanel(Sections):
    """Sections on strength, those that are asked for."""

    degrees = True

    def __init__(self, folder: str | Path, topics: Sequence[str] = TOPICS) -> None:
        self.topics = tuple(one_of("topic", topic, TOPICS) for topic in topics)
        super().__init__(folder)

    def show_case(self, spirit: float, strength: float, target: float) -> None:
        """Stand at the case of a lesson's guess."""
        for section in self.sections:
            if isinstance(section, LetDownSection):
                section.volume.reach_to(spirit)
                section.abv.set(strength)
                section.target.set(target)
                section.refresh()

    def _make(self, shelf: Pantry, show: Display) -> tuple[Section, ...]:
        make = {
            "let down": lambda: LetDownSection(show), "label": lambda: LabelSection(show),
            "bottles": lambda: BottlesSection(shelf, show),
            "glass": lambda: GlassSection(show, usual_country(self.folder)),
        }  # fmt: skip
        return tuple(make[topic]() for topic in self.topics)


def _burns(*abv: float) -> tuple[Caution, ...]:
    return (BURNS,) * any(one > OVERPROOF for one in abv)


# --- letting down ---------------------------------------------------------------------------------------


class LetDownSection(Pictured, WithVolume):
    """Water that brings a spirit down to a wanted strength, and the volume that goes missing."""

    fields: ClassVar = {"volume": "spirit", "abv": "its strength", "target_abv": "wanted strength"}

    def __init__(self, show: Display) -> None:
        super().__init__()
        self.volume = VolumeDial("Spirit", 1000, 5000, 10, show, self.refresh, least=1)
        self.abv = Dial("Its strength", 63, 96, 0.5, "% vol", self.refresh)
        self.target = Dial("Wanted strength", 46, 96, 0.5, "% vol", self.refresh)
        self.picture, self._unit = w.Box([LiveChart(once(let_down_chart, show.volume))]), show.volume
        hint = show.say(Fact("about letting down"))
        self._lay_out("Letting down", hint, [self.volume, self.abv, self.target], self.picture, show=show)

    def _in_hand(self) -> tuple[Caution, ...]:
        return _burns(self.abv.value)

    def _answer(self) -> None:
        volume, abv, target, show = self.volume.ml, self.abv.value, self.target.value, self.show
        found = strength.let_down(volume, abv, target)
        rows = let_down_rows(volume, abv, target, found, show)
        missing = show.parts(VOLUME, found.shrinks) if show.volume == "oz" else (f"{found.shrinks:.1f}", "", "mL")
        figures = tiles([
            ("Water to add", *show.parts(VOLUME, found.water), f"or weigh {found.water_grams:.0f} g"),
            ("Makes", *show.parts(VOLUME, found.makes), f"at {target:g} % vol"),
            ("Missing", *(part.replace("-", "−") for part in missing), "of the two added up"),
            ("Water by adding volumes", *show.parts(VOLUME, found.water_by_volumes),
             f"would give {found.abv_by_volumes:.1f} % vol"),
        ])  # fmt: skip
        told = _told(volume, found)
        if show.volume == self._unit:
            draw(self.chart, rows)
        else:  # the unit stands in the words of the axes
            chart = LiveChart(once(let_down_chart, show.volume))
            chart.put(**rows)
            self.picture.children, self._unit = [chart], show.volume
        self.figures.value = figures
        self.notes.value = join([*map(para, map(show.say, told)), quiet(show.say(Fact("let down by")))])


def _told(volume: float, found: strength.LetDown) -> list[Fact]:
    if found.water <= 0:
        return [Fact("nothing to let down")]
    poured = {"volume": VOLUME(volume), "water": VOLUME(found.water), "poured": VOLUME(volume + found.water),
              "makes": VOLUME(found.makes)}  # fmt: skip
    shrinks = found.shrinks >= 0
    off = found.water - found.water_by_volumes
    return [
        Fact("let down shrinks" if shrinks else "let down swells", off=VOLUME(abs(found.shrinks)), **poured),
        Fact("volumes too little" if off >= 0 else "volumes too much", off=VOLUME(abs(off)),
             by_volumes=VOLUME(found.water_by_volumes), abv=ABV(found.abv_by_volumes)),
    ]  # fmt: skip


# --- what a label says ----------------------------------------------------------------------------------

WAYS = {"by volume": ABV, "by weight": ABW, "in US proof": PROOF, "in British proof, until 1980": UK_PROOF,
        "read on an alcoholmeter": ABV}  # fmt: skip
READ = "read on an alcoholmeter"


class LabelSection(Section):
    """One strength, in every way that it is told."""

    fields: ClassVar = {
        "abv": "strength", "abw": "strength", "proof": "strength", "strength": "strength", "reading": "reading",
    }  # fmt: skip

    def __init__(self, show: Display) -> None:
        super().__init__()
        self.way = pick("It is told", list(WAYS))
        self.strength = Dial("Strength", 40, 100, 0.5, "% vol", self.refresh)
        self.temperature = DegreeDial("The spirit is at", 20, 0, 40, show, self.refresh)
        self._abv = 40.0
        hint = show.say(Fact("about labels"))
        self._lay_out("What a label says", hint, [self.way, self.strength, self.temperature], show=show)
        self.way.observe(self._way_changed, "value")

    def show_in(self, show: Display) -> None:
        """The same in other degrees."""
        self.temperature.show_in(show)
        super().show_in(show)

    def _way_changed(self, _) -> None:
        """The same spirit, told in another way."""
        kind = WAYS[self.way.value]
        told = {ABW: strength.abw_from_abv, PROOF: strength.us_proof, UK_PROOF: strength.uk_proof}.get(kind)
        value = self._abv if told is None else told(self._abv)
        self.strength.reach(round(value, 2), kind.high, 0.5, kind.label)
        self.refresh()

    def _read(self) -> float:
        """The strength by volume that is told."""
        told, kind = self.strength.value, WAYS[self.way.value]
        if self.way.value == READ:
            return strength.true_abv(told, self.temperature.celsius)
        turn = {ABW: strength.abv_from_abw, PROOF: strength.abv_from_us_proof, UK_PROOF: strength.abv_from_uk_proof}
        if kind in turn:
            return turn[kind](told)
        require("strength", told, kind.low, kind.high, kind)
        return told

    def _in_hand(self) -> tuple[Caution, ...]:
        return _burns(self._abv)

    def _answer(self) -> None:
        abv, celsius, show = self._read(), self.temperature.celsius, self.show
        whole = strength.spirit(1000, abv)
        try:
            reads = strength.alcoholmeter_reading(abv, celsius)
            on_it = (f"{reads:.1f}", "", "% vol", f"at {show.temperature_text(celsius)}")
        except InputError:
            on_it = ("off its scale", "", "", f"at {show.temperature_text(celsius)}")
        weight = strength.abw_from_abv(abv)
        said = [
            ("By volume", ABV, abv), ("By weight", ABW, weight), ("US proof", PROOF, strength.us_proof(abv)),
            ("British proof", UK_PROOF, strength.uk_proof(abv)),
        ]  # fmt: skip
        figures = tiles([
            *((word, f"{value:.1f}", "", kind.label if kind in (ABV, ABW) else "°") for word, kind, value in said),
            ("Alcoholmeter reads", *on_it),
            ("A litre holds", f"{whole.ethanol:.0f}", "", "g of alcohol"),
            ("A litre weighs", f"{whole.mass:.0f}", "", "g"),
        ])  # fmt: skip
        self._abv = abv
        self.figures.value = figures
        lines = [Fact("by volume and by weight", abv=ABV(abv), abw=ABW(strength.abw_from_abv(abv)))]
        if self.way.value == READ:
            lines.append(
                Fact("reading corrected", reading=ABV(self.strength.value), at=TEMPERATURE(celsius), abv=ABV(abv))
            )
        self.notes.value = join([*map(para, map(show.say, lines)), quiet(show.say(Fact("label by")))])


# --- several bottles ------------------------------------------------------------------------------------


class BottleRow(w.VBox):
    """A bottle of a mix: which, how much, how strong."""

    def __init__(self, number: int, options: list, start: tuple[str, float], shelf: Pantry, show: Display, on_change):
        self.shelf, self._on_change = shelf, on_change
        self.bottle = pick(f"Bottle {number}", options, start[0])
        self.volume = VolumeDial(f"Of bottle {number}", start[1], 2000, 10, show, on_change)
        self.abv = Dial(f"Strength of bottle {number}", 0, 100, 0.5, "% vol", on_change)
        super().__init__([self.bottle, self.volume, self.abv])
        self._bring()
        self.bottle.observe(self._changed, "value")

    def _changed(self, _) -> None:
        self._bring()
        self._on_change()

    def _bring(self) -> None:
        item = self.item
        self.abv.set(item.abv if item else 0.0)
        self.volume.layout.display = None if item else "none"
        self.abv.layout.display = None if item and item.abv else "none"

    @property
    def item(self) -> Ingredient | None:
        """As the pantry has it; None for none."""
        return self.shelf[self.bottle.value] if self.bottle.value != NOTHING else None

    @property
    def poured(self) -> Ingredient | None:
        """The bottle at hand, of its own strength.

        Raises
        ------
        InputError
            For a strength that it cannot have.
        """
        item = self.item
        return item and self.shelf.bottle(item.id, None if self.abv.value == item.abv else self.abv.value)


class BottlesSection(Section):
    """The strength of several bottles together."""

    def __init__(self, shelf: Pantry, show: Display) -> None:
        super().__init__()
        self.shelf = shelf
        self.rows = [
            BottleRow(i, self._options(), start, shelf, show, self.refresh) for i, start in enumerate(BOTTLES, 1)
        ]
        hint = show.say(Fact("about several bottles"))
        self._lay_out("Several bottles together", hint, self.rows, show=show)

    def _options(self) -> list[tuple[str, str]]:
        return [("none", NOTHING), *((item.name, item.id) for item in self.shelf.values() if item.state == "liquid")]

    def offer(self, shelf: Pantry) -> None:
        """Also what has been written down since."""
        self.shelf = shelf
        for row in self.rows:
            row.shelf, was, strong = shelf, row.bottle.value, row.abv.value
            offer(row.bottle, self._options())
            if row.bottle.value == was:
                row.abv.set(strong)  # as it was typed
        self.refresh()

    def show_in(self, show: Display) -> None:
        """The same in another measure."""
        for row in self.rows:
            row.volume.show_in(show)
        super().show_in(show)

    def _in_hand(self) -> tuple[Ingredient | Caution, ...]:
        held = [row.item for row in self.rows if row.item and row.volume.value > 0]
        strong = _burns(*(row.abv.value for row in self.rows if row.item in held and row.item))
        return *held, *strong

    def _answer(self) -> None:
        show = self.show
        poured = [(row.poured, row.volume.ml) for row in self.rows if row.item]
        poured = [(item, ml) for item, ml in poured if ml > 0]
        if not poured:
            raise InputError("total of the bottles", VOLUME(0), Fact("above", low=VOLUME(0)))
        parts = [Liquid(item.composition) * ml for item, ml in poured]
        made = strength.mixed(*parts)
        rows = [
            (item.name, show.volume_text(ml), show.text(ABV, item.abv), f"{part.ethanol:.1f} g",
             f"{100 * part.ethanol / made.alcohol:.0f} %" if made.alcohol else "")
            for (item, ml), part in zip(poured, parts, strict=True)
        ]  # fmt: skip
        figures = tiles([
            ("Makes", *show.parts(VOLUME, made.volume)), ("Strength", *show.parts(ABV, made.abv)),
            ("Alcohol", f"{made.alcohol:.1f}", "", "g"),
            ("By adding volumes", *show.parts(ABV, made.by_volumes)),
        ])  # fmt: skip
        self.figures.value = figures + table(("Bottle", "poured", "strength", "alcohol", "of all the alcohol"), rows)
        self.notes.value = join([para(show.say(Fact("bottles together"))), quiet(show.say(Fact("bottles by")))])


# --- the glass ------------------------------------------------------------------------------------------


class GlassSection(Section):
    """Strength in the bottle, strength in the glass, and grams of alcohol."""

    fields: ClassVar = {"volume": "poured", "abv": "strength in the bottle"}

    def __init__(self, show: Display, country: str) -> None:
        super().__init__()
        self.abv = Dial("Strength in the bottle", 40, 96, 0.5, "% vol", self.refresh)
        self.poured = VolumeDial("Poured", 50, 500, 5, show, self.refresh)
        self.filled = VolumeDial("Filled up with water, juice or ice melt", 100, 1000, 10, show, self.refresh)
        self.country = pick("Country", strength.countries(), country)
        hint = show.say(Fact("about the glass"))
        self._lay_out("In the glass", hint, [self.abv, self.poured, self.filled, self.country], show=show)
        self.country.observe(self.refresh, "value")

    def show_in(self, show: Display) -> None:
        """The same in another measure."""
        for dial in (self.poured, self.filled):
            dial.show_in(show)
        super().show_in(show)

    def _in_hand(self) -> tuple[Caution, ...]:
        return _burns(self.abv.value)

    def _answer(self) -> Declared:
        show, country = self.show, self.country.value
        poured, filled = strength.spirit(self.poured.ml, self.abv.value), strength.spirit(self.filled.ml, 0)
        made = strength.mixed(poured, filled)
        served = profile(poured + filled)
        count, size = strength.standard_drinks(made.alcohol, country), strength.countries()[country]
        figures = tiles([
            ("Strength in the glass", *show.parts(ABV, made.abv)),
            ("In the glass", *show.parts(VOLUME, made.volume)),
            ("Alcohol", f"{made.alcohol:.1f}", "", "g"),
            ("Standard drinks", service.drinks_text(count), "", "", f"{country}, {size:g} g each"),
        ])  # fmt: skip
        rows = [("this glass", made.volume, made.abv, made.alcohol)]
        rows += [(word, ml, abv, strength.spirit(ml, abv).ethanol) for word, ml, abv in SERVES]
        beside = table(
            ("Serve", "volume", "strength", "alcohol", "standard drinks"),
            [(word, show.volume_text(ml), show.text(ABV, abv), f"{grams:.1f} g",
              service.drinks_text(strength.standard_drinks(grams, country))) for word, ml, abv, grams in rows],
        )  # fmt: skip
        grams = Fact("in the glass", poured=VOLUME(self.poured.ml), alcohol=MASS(made.alcohol), abv=ABV(made.abv))
        self.figures.value = figures + beside
        self.notes.value = join([para(show.say(grams)), quiet(show.say(Fact("glass by")))])
        return declared(*trial.serve_cautions(served, made.alcohol, country))
