"""Made ahead: acid-adjusted juice, acid solutions, syrups and refractometer readings, under dials. No maths here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import ClassVar

import ipywidgets as w

from ... import balance, whatif
from ...declared import Declared
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact
from ...kinds import CONCENTRATION, MASS, VOLUME
from ...liquid import Liquid
from ...pantry import Ingredient, Pantry
from ...prep import (
    ACID_SOLUBILITY,
    KEEPS,
    LACTOSE,
    LEMON_AT_THE_BAR,
    MOST_ABV,
    MOST_READING,
    OF_SUGARS,
    SPOILS,
    SUGARS_TO_WEIGH,
    Adjusted,
    acid_cautions,
    acid_solution,
    adjust,
    syrup,
    true_sugar,
)
from ..charts.live import LiveChart, once
from ..charts.prep import acid_chart, acid_rows, grams_text, side_by_side
from ..parts.dials import Dial, VolumeDial
from ..parts.html import (
    WIDE,
    caution_words,
    join,
    para,
    quiet,
    table,
    tiles,
)
from ..parts.own_file import offer
from ..parts.panel import draw, pick
from ..parts.sections import Section, Sections, WithVolume

PARTS = {"citric": 2.0, "malic": 1.0}  # to start a mix with: the bar's lime acid, common practice
LIME_AT_THE_BAR = {"citric": 40.0, "malic": 20.0}  # 4 and 2 %: common practice, no published source [g/L]


def panel(folder: str | Path = ".") -> PrepPanel:
    """Sour and sweet, made ahead: juice made as sour as lemon, acid solutions, syrups, refractometer readings.

    Parameters
    ----------
    folder : path
        Working folder: own ingredients and the choice of mL or oz are read from it.
    """
    return PrepPanel(Path(folder))


class PrepPanel(Sections):
    """Four sections, each with its own controls, answers and place for problems."""

    def _make(self, shelf: Pantry, show: Display) -> tuple[Section, ...]:
        self.juice, self.stock = JuiceSection(shelf, show), StockSection(show)
        self.syrup, self.reading = SyrupSection(shelf, show), ReadingSection(show)
        return self.juice, self.stock, self.syrup, self.reading


class Acids(w.VBox):
    """Acids to weigh: one of them, a mix by dials, or (if `own` says in what words) those of the aim."""

    def __init__(self, name: str, on_change: Callable, own: str = "") -> None:
        options = [(own, "own")] * bool(own) + [(f"{acid} acid", acid) for acid in ACID_SOLUBILITY]
        self.choose = pick(name, [*options, ("a mix of them, in parts by weight", "mix")])
        self.parts = {
            acid: Dial(f"Parts of {acid} acid", PARTS.get(acid, 0), 10, 0.5, "", on_change) for acid in ACID_SOLUBILITY
        }
        self._dials = w.VBox([*self.parts.values()], layout=w.Layout(display="none"))
        super().__init__([self.choose, self._dials])
        self.choose.observe(lambda _: self._chosen(on_change), "value")

    def _chosen(self, on_change: Callable) -> None:
        self._dials.layout.display = None if self.choose.value == "mix" else "none"
        on_change()

    @property
    def value(self) -> str | dict[str, float] | None:
        """As `prep.adjust` takes them."""
        mix = {acid: dial.value for acid, dial in self.parts.items()}
        return {"own": None, "mix": mix}.get(self.choose.value, self.choose.value)


# --- juice ----------------------------------------------------------------------------------------------


class JuiceSection(WithVolume):
    """Acid to add to a juice so that it is as sour as another."""

    fields: ClassVar[Mapping[str, str]] = {"strength": "strength of the acid solution"}

    def __init__(self, shelf: Pantry, show: Display) -> None:
        super().__init__()
        self.shelf = shelf
        self.juice = pick("Juice", self._juices(), "orange_juice")
        self.volume = VolumeDial("Juice to adjust", 1000, 5000, 10, show, self.refresh, least=0.1)
        lemon, lime = shelf["lemon_juice"], shelf["lime_juice"]
        citric = {item.id: item.solutes.get("citric", 0.0) for item in (lemon, lime)}
        self.aim = pick("As sour as", [
            *((f"{word}: citric acid {citric[item.id]:g} g/L, {_said_by(item)}", (item.id, "pantry"))
              for word, item in (("lemon", lemon), ("lime", lime))),
            (f"lemon: citric acid {LEMON_AT_THE_BAR:g} g/L, bar practice", (lemon.id, "bar")),
            ("lemon, of a citric acid that I set", (lemon.id, "own")),
            ("lime, of a citric acid that I set", (lime.id, "own")),
            ("acids that I set", ("", "own")),
        ])  # fmt: skip
        self.citric = Dial("Its citric acid", citric[lemon.id], 100, 1, "g/L", self.refresh)
        self.wanted = {
            acid: Dial(f"{acid.capitalize()} acid aimed at", LIME_AT_THE_BAR.get(acid, 0), 100, 1, "g/L", self.refresh)
            for acid in ACID_SOLUBILITY
        }
        self._wanted = w.VBox([*self.wanted.values()])
        self.acids = Acids("Acids", self.refresh, own="those of the aim, in its proportions")
        self.dissolved = w.Checkbox(description="add them as a solution", indent=False, layout=WIDE)
        self.strength = Dial("Strength of the solution", 20, 50, 1, "% mass", self.refresh)
        self.chart = LiveChart(once(acid_chart))
        left = [self.juice, self.volume, self.aim, self.citric, self._wanted, self.acids, self.dissolved, self.strength]
        hint = Fact("about sour juice")
        self._lay_out("Juice as sour as lemon or lime", show.say(hint), left, self.chart, show=show)
        for control in (self.juice, self.aim, self.dissolved):
            control.observe(self.refresh, "value")

    def _juices(self) -> list[tuple[str, str]]:
        return [(item.name, item.id) for item in self.shelf.values() if item.kind == "juice"]

    def offer(self, shelf: Pantry) -> None:
        """Also what has been written down since."""
        self.shelf = shelf
        offer(self.juice, self._juices())
        self.refresh()

    def _answer(self) -> Declared:
        key, how = self.aim.value
        for part, seen in (
            (self.citric, key and how == "own"), (self._wanted, not key), (self.strength, self.dissolved.value)
        ):  # fmt: skip
            part.layout.display = None if seen else "none"
        show, item = self.show, self.shelf[self.juice.value]
        aim = self.shelf[key] if key else None
        found = adjust(
            item.id, aim.id if aim else {acid: dial.value for acid, dial in self.wanted.items()}, self.acids.value,
            volume=self.volume.ml, pantry=self.shelf,
            citric={"bar": LEMON_AT_THE_BAR, "own": self.citric.value}.get(how) if aim else None,
            strength=self.strength.value if self.dissolved.value else None,
        )  # fmt: skip
        if sum(found.acids.values()) < 5e-5 * found.volume:  # 0.05 g/L
            told = Told("what is aimed at already")
            raise InputError(f"acidity of {item.name!r}", told, "below that, or no acid can be added")
        compared = {"before": found.before, "after": found.after}
        if how == "pantry":
            compared[aim.name] = Liquid(aim.composition) * found.volume
        figures = _juice_tiles(found, show) + _compared(compared, show)
        differs = tuple(f"{one.name} by ±{2 * one.acid_pm:g} g/L" for one in (item, aim) if one)
        behind = [show.say(Fact("fruit differs", fruit=differs))]
        behind += [f"{aim.name.capitalize()}: {aim.source}."] if how == "pantry" else []
        if how == "bar":
            behind.append(show.say(Fact("lemon at the bar", citric=LEMON_AT_THE_BAR)))
        cautions = [*acid_cautions(found.acids), KEEPS, *found.known]
        notes = join(map(quiet, behind)) + caution_words(map(show.say, cautions))
        self.found, rows = found, acid_rows(found)
        draw(self.chart, rows)
        self.figures.value, self.notes.value = figures, notes
        return found.declared

    def _samples(self) -> dict[str, whatif.Sample]:
        """What is weighed goes with the juice's own acid: fruit differs."""
        grams, pm = self.found.acids, 2 * self.shelf[self.juice.value].acid_pm * self.volume.ml / 1000
        whole = sum(grams.values()) or 1.0
        return {
            acid: whatif.sample(f"{acid} acid to weigh", MASS, one, pm * one / whole, "fruit")
            for acid, one in grams.items()
        }

    def _in_hand(self) -> tuple[Ingredient, ...]:
        return (self.shelf[self.juice.value],)


def _said_by(item) -> str:
    return "as published" if "published" in item.source_class else "from your pantry"


def _juice_tiles(found: Adjusted, show: Display) -> str:
    shown = [_weighed(f"Add {acid} acid", grams) for acid, grams in found.acids.items()]
    start = VOLUME(found.before.volume())
    add = Fact("stir acid into", start=start, juice=found.juice, to=found.to)
    if found.solution:
        made = found.solution
        shown = [("Add of the solution", *show.parts(VOLUME, made.volume))]
        add = Fact(
            "stir solution into", acids=_listed(made.acids), water=grams_text(made.water), start=start,
            juice=found.juice, to=found.to,
        )  # fmt: skip
    shown.append(("Makes", *show.parts(VOLUME, found.volume)))
    return tiles(shown, para(show.say(add)))


def _compared(liquids: Mapping[str, Liquid], show: Display) -> str:
    all_of = side_by_side(*liquids.values())
    volume, known = all_of.volume(), balance.ph_known(all_of)
    ph = zip(balance.ph(all_of), 2 * balance.ph_pm(all_of), strict=True)
    rows = [
        ("titratable acidity, as citric acid", *(show.text(CONCENTRATION, a) for a in balance.titratable(all_of))),
        ("pH", *(show.ph_text(found) if sure else "not known" for found, sure in zip(ph, known, strict=True))),
        ("sugar", *(show.text(CONCENTRATION, s) for s in 1000 * all_of.sugar / volume)),
        ("volume", *map(show.volume_text, volume)),
    ]
    return table(("", *liquids), rows)


# --- acid solution, syrup, refractometer ----------------------------------------------------------------


class StockSection(WithVolume):
    """An acid solution by weight."""

    fields: ClassVar[Mapping[str, str]] = {"strength": "strength of the acid solution"}

    def __init__(self, show: Display) -> None:
        super().__init__()
        self.strength = Dial("Acid in the solution", 10, 60, 1, "% mass", self.refresh)
        self.acids = Acids("Acids", self.refresh)
        self.volume = VolumeDial("Solution to make", 100, 1000, 10, show, self.refresh, least=0.1)
        hint = show.say(Fact("about acid solution"))
        self._lay_out("Acid solution", hint, [self.acids, self.strength, self.volume], show=show)

    def _answer(self) -> None:
        self.made = made = acid_solution(self.strength.value, self.acids.value, volume=self.volume.ml)
        figures = tiles([
            *(_weighed(f"Weigh {acid} acid", grams) for acid, grams in made.acids.items()),
            _weighed("and water", made.water), ("Makes", *self.show.parts(VOLUME, made.volume)),
            ("Acid in it", *self.show.parts(CONCENTRATION, made.per_litre)), _heavy(made.density),
        ])  # fmt: skip
        self.figures.value, self.notes.value = figures, caution_words(map(self.show.say, acid_cautions(made.acids)))

    def _samples(self) -> dict[str, whatif.Sample]:
        weighed = {acid: (f"{acid} acid to weigh", grams) for acid, grams in self.made.acids.items()}
        weighed["water"] = "water to weigh", self.made.water
        return {key: whatif.sample(name, MASS, grams) for key, (name, grams) in weighed.items()}


class SyrupSection(WithVolume):
    """A syrup by weight, from sugar, honey or a thicker syrup."""

    fields: ClassVar[Mapping[str, str]] = {"brix": "°Brix", "mass": "syrup to make", "from_sugar": "sugar on hand"}

    def __init__(self, shelf: Pantry, show: Display) -> None:
        super().__init__()
        self.shelf = shelf
        self.sugar = pick("Made from", self._sugars())
        self.brix = Dial("Sugar by weight", 50, 80, 0.5, "°Brix", self.refresh)
        self.by = pick("Amount", [
            ("syrup to make, by volume", "volume"), ("syrup to make, by weight", "mass"),
            ("what there is to sweeten with, by weight", "from_sugar"),
        ])  # fmt: skip
        self.volume = VolumeDial("Syrup to make", 1000, 5000, 10, show, self.refresh, least=0.1)
        self.grams = Dial("Weight", 1000, 5000, 10, "g", self.refresh)
        hint = show.say(Fact("about syrup"))
        self._lay_out("Syrup", hint, [self.sugar, self.brix, self.by, self.volume, self.grams], show=show)
        self.sugar.observe(self.refresh, "value")
        self.by.observe(self.refresh, "value")

    def _sugars(self) -> list[tuple[str, str]]:
        weighed = [(name, name) for name in SUGARS_TO_WEIGH]
        syrups = (item for item in self.shelf.values() if item.kind == "syrup" and item.name not in SUGARS_TO_WEIGH)
        return [*weighed, *((item.name, item.id) for item in syrups)]

    def offer(self, shelf: Pantry) -> None:
        """Also what has been written down since."""
        self.shelf = shelf
        offer(self.sugar, self._sugars())
        self.refresh()

    def _in_hand(self) -> tuple[Ingredient | Declared, ...]:
        sugar = self.sugar.value
        if sugar in SUGARS_TO_WEIGH:
            return (OF_SUGARS[sugar],) if sugar in OF_SUGARS else ()
        return (self.shelf[sugar],)

    def _answer(self) -> Declared:
        by = self.by.value
        self.volume.layout.display = None if by == "volume" else "none"
        self.grams.layout.display = "none" if by == "volume" else None
        amount = self.volume.ml if by == "volume" else self.grams.value
        self.made = made = syrup(self.brix.value, self.sugar.value, pantry=self.shelf, **{by: amount})
        figures = tiles([
            _weighed(f"Weigh {made.name}", made.sugar), _weighed("and water", made.water),
            ("Makes", *self.show.parts(VOLUME, made.volume)), ("which weighs", f"{made.mass:.0f}", "", "g"),
            ("Sugar in it", *self.show.parts(CONCENTRATION, made.per_litre)), _heavy(made.density),
        ])  # fmt: skip
        cautions = [*made.known, *[LACTOSE] * (made.name == "lactose"), SPOILS]
        self.figures.value, self.notes.value = figures, caution_words(map(self.show.say, cautions))
        return made.declared

    def _samples(self) -> dict[str, whatif.Sample]:
        made = self.made
        weighed = {"sugar": (f"{made.name} to weigh", made.sugar), "water": ("water to weigh", made.water)}
        return {
            **{key: whatif.sample(name, MASS, grams) for key, (name, grams) in weighed.items()},
            "per": whatif.sample("sugar in it", CONCENTRATION, made.per_litre),
        }


class ReadingSection(Section):
    """Sugar behind a refractometer reading."""

    fields: ClassVar[Mapping[str, str]] = {"brix": "reading", "abv": "strength"}

    def __init__(self, show: Display) -> None:
        super().__init__()
        self.brix = Dial("Reading", 27, MOST_READING, 0.1, "°Brix", self.refresh)
        self.abv = Dial("Strength", 25, MOST_ABV, 0.5, "% vol", self.refresh)
        hint = show.say(Fact("about a refractometer"))
        self._lay_out("Refractometer in a drink with alcohol", hint, [self.brix, self.abv], show=show)

    def _answer(self) -> None:
        self.found = found = true_sugar(self.brix.value, self.abv.value)
        taken = true_sugar(self.brix.value, 0)
        parts = self.show.parts
        self.figures.value = tiles([
            ("Sugar", *parts(CONCENTRATION, found.sugar, 2 * found.sugar_pm)),
            ("If the alcohol were forgotten", *parts(CONCENTRATION, taken.sugar, 2 * taken.sugar_pm)),
            ("Alcohol alone reads as", f"{found.alcohol_reads:.1f}", "", "°Brix"),
        ])  # fmt: skip
        self.notes.value = quiet(self.show.say(Fact("reading by")))

    def _samples(self) -> dict[str, whatif.Sample]:
        found = self.found
        return {"sugar": whatif.sample("sugar", CONCENTRATION, found.sugar, 2 * found.sugar_pm, "reading")}


# --- words ------------------------------------------------------------------------------------------------


def _weighed(word: str, grams: float) -> tuple[str, str, str, str]:
    return word, grams_text(grams), "", "g"


def _heavy(density: float) -> tuple[str, str, str, str]:
    return "A litre weighs", f"{density:.0f}", "", "g"  # kg/m³ are g/L


def _listed(acids: Mapping[str, float]) -> str:
    return ", ".join(f"{grams_text(grams)} g of {name} acid" for name, grams in acids.items())


# --- the picture ------------------------------------------------------------------------------------------
