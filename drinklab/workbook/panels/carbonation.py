"""The lesson on gas: level and pressure of a drink, the vessel it is in, and what pouring leaves. No maths here."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

import ipywidgets as w
import numpy as np

from ... import carbonation, dilution, profile, trial, whatif
from ... import recipe as recipes
from ...carbonation import VESSELS
from ...declared import gassed_cautions
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact
from ...kinds import ABV, CONCENTRATION, GAS_VOLUMES, TEMPERATURE, VOLUME
from ...liquid import Liquid, water
from ...physics.solubility import READ_TO, TEMPERATURES, grams_from_volumes, volumes_from_grams
from ...recipe import Recipe
from ...setting import Setting
from ...units import GAUGES, is_bare, to_celsius
from ..charts.carbonation import (
    bubbles_chart,
    cartridge_words,
    clock,
    level_rows,
    pressure_parts,
    pressure_words,
    time_words,
    uptake_rows,
    vessel_words,
)
from ..charts.live import LiveChart, once
from ..comms import tell
from ..parts.bars import bar
from ..parts.dials import DegreeDial, Dial, GaugeDial, volume_reach
from ..parts.html import WIDE, Html, heading, join, marked, of_milk, para, problem_words, quiet, table, tiles
from ..parts.panel import Lesson, Pictured, draw, group, is_batch, pick

MODES = {"pressure for this fizz": "pressure", "fizz from this pressure": "level"}
GASES = {"carbon dioxide (CO2)": "CO2", "nitrous oxide (N2O)": "N2O"}
METHODS = {"at rest": "rest", "shaken cold": "shaken"}
POURS = {"tilted, along the wall": "tilted", "straight down": "upright"}
# Of the table, in the units shown.
TABLE_DEGREES = {"°C": (0, 2, 4, 6, 8, 12, 20), "°F": (32, 36, 38, 40, 44, 54, 68)}
TABLE_PRESSURES = {
    "psi": (5, 10, 15, 20, 30, 40),
    "bar": (0.5, 0.75, 1, 1.5, 2, 3),
    "kPa": (50, 75, 100, 150, 200, 300),
}
LEVEL, SODA = 2.8, 3.5  # volumes; those of the mixer: common practice, no published source
POURED = (12.0, 18.0)  # °C, beside the temperature set
BASE = (60.0, 120.0)  # mL, of a drink and of a mixer
QUICK = 207.0  # kPa gauge, 30 psi: what some set to be done sooner; common practice, no published source


def panel(folder: str | Path = ".", recipe: Recipe | None = None) -> BubblesPanel:
    """Gas: the pressure for a level and the level from a pressure, safely, and what is left of it in the glass.

    Parameters
    ----------
    folder : path
        Working folder: own ingredients, saved trials and choices are read from it.
    recipe : Recipe, optional
        What to start with; the demo's drink that is to be cleared and gassed by default.
    """
    return BubblesPanel(folder, recipe)


@dataclass(frozen=True, slots=True)
class Found:
    """What the page shows: level, gauge pressure with its ends [kPa], and the drink in its vessel."""

    volumes: float
    pressure: tuple[float, float, float]
    held: carbonation.Held
    cartridges: carbonation.Cartridges | None


@dataclass(frozen=True, slots=True)
class _Drink:
    """The chosen drink as it is gassed, whole; apart from that its still part and its top, for a glass of it."""

    still: Liquid
    top: Liquid
    melt: float
    melt_pm: float
    whole: Liquid
    figures: profile.Profile
    freezes: float
    spread: float
    steps: tuple[str, ...]


class BubblesPanel(Pictured, Lesson):
    """One drink under gas. `use` puts a recipe on it; `refresh` recomputes and repaints."""

    standing = carbonation.CAUTIONS

    def __init__(self, folder: str | Path, recipe: Recipe | None = None) -> None:
        self.found: Found | None = None
        self._memo: dict[str, tuple] = {}
        super().__init__(folder, recipe)

    def _first(self) -> Recipe | Setting:
        return self._named(("demo", "Long Platform"))

    def _in_hand(self):
        """In a vessel for cartridges, also what gassing a sparkling liquid brings."""
        (name, held), *more = super()._in_hand()
        return [(name, (*held, *(gassed_cautions(self._recipe, self.shelf) if self._listed.charges else ()))), *more]

    # --- what is on the page ---------------------------------------------------------------------

    def _build(self, show: Display) -> None:
        unit = "bar" if show.temperature == "°C" else "psi"
        self.melt = w.Checkbox(value=True, description="count the melt water", indent=False, layout=WIDE)
        self.mode = pick("Find the", MODES.items())
        self.level = Dial("Fizz", LEVEL, 6, 0.1, "volumes", self.refresh)
        self.gauge = GaugeDial("Gauge pressure", 100, unit, self.refresh)
        self.temperature = DegreeDial("Drink, chilled to", 4, *TEMPERATURES, show, self.refresh)
        self.vessel = pick("Vessel", list(VESSELS), "keg, 19 L")
        self.limit = w.Text(description="Its limit", continuous_update=False, layout=WIDE)
        self.amount = Dial("Drink in it", *self._amount_reach(self._listed.fill, show), on_change=self.refresh)
        self.gas = pick("Gas", GASES.items())
        self.method = pick("Gassed", METHODS.items())
        self.pressure_unit = pick("Pressures in", list(GAUGES), unit)

        self.put_button = self._put_button("Put this gas into the drink", self.put)
        self.pour_button = self._put_button("and pour it", lambda: self.put(poured=True))
        self.headline, self.levels, self.in_vessel, self.times, self.losses, self.glass = self.answers = [
            Html() for _ in range(6)
        ]
        self._drawn = self._look(show)
        self.picture, self._shown = w.Box([LiveChart(once(bubbles_chart, *self._drawn))]), show

        self.still = Dial("Still part", *volume_reach(60, show), on_change=self.refresh)
        self.mixer = Dial("Carbonated mixer", *volume_reach(100, show), on_change=self.refresh)
        self.mixer_gas = Dial("Gas of the mixer", SODA, 6, 0.1, "volumes", self.refresh)
        self.glass_temperature = DegreeDial("Drink in the glass", 4, -5, 25, show, self.refresh)
        self.pour = pick("Poured", POURS.items())
        highball = group("dl-row", self.still, self.mixer, self.mixer_gas, self.glass_temperature, self.pour)

        self._lay_out(
            [self.choose, self.melt, self.mode, self.level, self.gauge, self.temperature,
             Html(heading("Vessel and gas")), self.vessel, self.limit, self.amount, self.gas, self.method,
             ],
            [w.HBox([self.put_button, self.pour_button]), self.picture],
            [self.in_vessel, self.levels, self.times, self.losses,
             group("dl-part", Html(heading("A highball: still drink, carbonated mixer")), highball, self.glass)],
            answer=self.headline,
        )  # fmt: skip
        self.shown_in.add(self.pressure_unit)
        self._answers_to(self.melt, self.limit, self.gas, self.method, self.pour)
        self.mode.observe(self._mode_changed, "value")
        self.vessel.observe(self._vessel_changed, "value")
        self.pressure_unit.observe(self._pressure_unit_changed, "value")
        self._show_mode()
        self._hint_limit()

    def _look(self, show: Display) -> tuple[str, str, str]:
        """What stands in the words of the picture's axes."""
        return show.temperature, self.pressure_unit.value, self.method.value

    @property
    def _listed(self) -> carbonation.Vessel:
        return VESSELS[self.vessel.value]

    def _amount_reach(self, ml: float, show: Display) -> tuple[float, float, float, str]:
        """Up to the brim, which is too full: that is then said."""
        brim = self._listed.volume
        step = {"mL": 10.0, "oz": 0.5}[show.volume] * (10 if brim > 2000 else 1)
        return ml / show.ml, brim / show.ml, step, show.volume

    def _usual_amount(self) -> float:
        """All of a batch, at most what the vessel takes; of a single drink a vesselful. [mL]"""
        with suppress(InputError):  # the refresh that follows says so
            made = self._drink().figures.volume
            if is_batch(self.setting, made):
                return min(made, self._listed.fill)
        return self._listed.fill

    def say(self, what) -> str:
        """With pressures in the unit of gauges that is chosen here."""
        return self._shown_by().say(what)

    # --- what a hand does --------------------------------------------------------------------------

    def _mode_changed(self, _) -> None:
        """The other way round, from where the page stood."""
        if self.found:
            self.level.set(self.found.volumes)
            self.gauge.stand_at(self.found.pressure[0])
        self._show_mode()
        self.refresh()

    def _show_mode(self) -> None:
        by_level = self.mode.value == "pressure"
        self.level.layout.display, self.gauge.layout.display = (None, "none") if by_level else ("none", None)

    def _vessel_changed(self, _) -> None:
        with self._silently():
            self.limit.value = ""  # it was another vessel's
            self.amount.reach(*self._amount_reach(self._usual_amount(), self.display))
            self._hint_limit()
        self.refresh()

    def _pressure_unit_changed(self, change) -> None:
        with self._silently():
            if is_bare(self.limit.value):  # a number keeps the unit in which it was typed
                self.limit.value = f"{self.limit.value.strip()} {change['old']}"
            self.gauge.show_in(self.pressure_unit.value)
            self._hint_limit()
        self.refresh()

    def _hint_limit(self) -> None:
        limit = self._listed.limit
        listed = f"as listed: {pressure_words(limit, self.pressure_unit.value)}"
        self.limit.placeholder = listed if limit else "not made for pressure"

    def _used(self) -> None:
        self._memo.clear()
        self._start_from(self.setting)
        self.amount.reach(*self._amount_reach(self._usual_amount(), self.display))
        try:
            drink = self._drink()
        except InputError:  # the refresh that follows says so
            return
        # What has no top of its own is tried as a short measure of a base.
        amounts = (drink.still.volume(), drink.top.volume()) if drink.top.mass else BASE
        for dial, ml in zip((self.still, self.mixer), amounts, strict=True):
            dial.reach(*volume_reach(ml, self.display))

    def _start_from(self, setting: Setting) -> None:
        """The gas that the drink has already."""
        self.melt.value = True
        gas, chill, pour = map(setting.step, (carbonation.Carbonate, carbonation.Chill, carbonation.Pour))
        if gas is None and chill is None:
            return
        self.temperature.stand_at((gas or chill).temperature)
        if gas is None:
            return
        self.mode.value = "pressure" if gas.pressure is None else "level"
        self._show_mode()
        if gas.pressure is None:
            self.level.set(gas.volumes)
        else:
            self.gauge.stand_at(gas.pressure)
        self.vessel.value = gas.vessel
        unit = self.pressure_unit.value
        self.limit.value = "" if gas.limit is None else f"{gas.limit / GAUGES[unit]:.4g} {unit}"
        self._hint_limit()
        if pour:
            self.pour.value = pour.pour
            self.glass_temperature.stand_at(pour.temperature)

    def show_case(self, gauge: float, temperature: float) -> None:
        """Stand at the case of a lesson's guess: plain water under so much pressure."""
        self.use(Recipe.parse("1 L water", name="Plain water", technique="none"))
        self.mode.value = "level"
        self.temperature.stand_at(temperature)
        self.gauge.stand_at(gauge)
        self.refresh()

    def gas_step(self) -> carbonation.Carbonate:
        """The gas as the page stands: a level, or a pressure."""
        by_level = self.mode.value == "pressure"
        # What whole cartridges give is what the drink then holds.
        volumes = self.found.held.volumes if self.found.cartridges else self.found.volumes
        return carbonation.Carbonate(
            volumes=volumes if by_level or self.found.cartridges else None,
            pressure=None if by_level or self.found.cartridges else self.gauge.kpa,
            temperature=self.temperature.celsius, vessel=self.vessel.value, limit=self._limit(), gas=self.gas.value,
        )  # fmt: skip

    def put(self, poured: bool = False) -> None:
        """Put chilling and gas, and pouring if that is asked for, into the drink."""
        gas = self.gas_step()
        made = self._counted().with_step(carbonation.Chill(gas.temperature)).with_step(gas)
        if poured:
            made = made.with_step(carbonation.Pour(gas.temperature, self.pour.value))
        self.put_in_hand(made, Fact(
            "gassed and poured" if poured else "gassed", at=TEMPERATURE(gas.temperature),
            volumes=self.found.held.volumes, vessel=gas.vessel,
            pressure=pressure_words(self.found.held.pressure, self.pressure_unit.value),
        ))  # fmt: skip

    def _show_in(self, show: Display) -> None:
        was = self._shown.ml
        self.amount.reach(*self._amount_reach(self.amount.value * was, show))
        for dial in (self.still, self.mixer):
            dial.reach(*volume_reach(dial.value * was, show))
        for dial in (self.temperature, self.glass_temperature):
            dial.show_in(show)
        self._shown = show

    # --- from the page to a drink ----------------------------------------------------------------

    def _kept(self, name: str, key, make):
        """What `make` gives, made anew only for another key: most sliders leave most of the page as it is."""
        if self._memo.get(name, (None,))[0] != key:
            self._memo[name] = key, make()
        return self._memo[name][1]

    def _drink(self) -> _Drink:
        return self._kept("drink", (self.melt.value,), self._made)

    def _counted(self) -> Setting:
        """The drink, without its melt water where that is not to count."""
        return self.setting if self.melt.value else replace(self.setting, melt=0.0, ice=None)

    def _made(self) -> _Drink:
        """Run up to where it is gassed: after its ice, its top and every step before that."""
        run = trial.run(self._counted().before(carbonation.Carbonate(LEVEL)), pantry=self.shelf, draws=0)
        whole, later = run.stages[-1].liquid[0], [step.name for step in run.steps]
        before, top = (part[0] for part in recipes.pour([self._recipe], self.shelf))
        still = dilution.add_melt(before, run.melt)
        if later:  # what it was topped with has gone through them
            still, top = whole, Liquid.of()
        made, point = profile.profile(whole), dilution.freezing_point(whole)
        spread = carbonation.spread(whole)
        return _Drink(still, top, run.melt, run.melt_pm, whole, made, point, spread, tuple(later))

    def _ml(self, dial: Dial, name: str) -> float:
        """Above nothing. [mL]"""
        ml = dial.value * self.display.ml
        if not ml > 0:
            shown = Told(f"{dial.value:g} {self.display.volume}") if np.isfinite(dial.value) else dial.value
            raise InputError(name, shown, f"above 0 {self.display.volume}")
        return ml

    def _limit(self) -> str | None:
        typed = self.limit.value.strip()
        return f"{typed} {self.pressure_unit.value}" if is_bare(typed) else typed or None

    # --- from a drink to the page ----------------------------------------------------------------

    def _answer(self) -> carbonation.Held:
        show, unit, method = self.display, self.pressure_unit.value, self.method.value
        drink, celsius = self._drink(), self.temperature.celsius
        if celsius < drink.freezes:
            least = f"{math.ceil(show.degrees(drink.freezes))} {show.temperature}".replace("-", "−")
            raise InputError(
                "drink, chilled to",
                Told(show.temperature_text(celsius)),
                f"at least {least}, where this drink begins to freeze",
            )
        ml = self._ml(self.amount, "drink in it")
        batch = drink.whole * (ml / drink.figures.volume)
        # What could hurt is refused before a number is given.
        found = self._find(batch, celsius, drink.spread)
        held, volumes, pressure = found.held, found.volumes, found.pressure[0]
        run = carbonation.uptake(batch, pressure, celsius, clock(method), method)
        done = carbonation.time_to(batch, volumes, pressure, celsius, method)
        rows = level_rows(batch, volumes, celsius, found.pressure, held.vessel.limit, show, unit)
        rows |= uptake_rows(run, done, method)
        headline = self._headline(drink, found)
        # Nothing failed: only now does the page change, in the order of where the eye is.
        self.found, self.headline.value = found, headline
        self._draw(rows, show)
        tell()
        parts = {
            self.in_vessel: self._vessel_words(batch, ml, found),
            self.levels: self._kept("levels", (self.melt.value, show, unit), lambda: _level_table(drink, show, unit)),
            self.times: self._time_words(batch, found, done),
            self.losses: _loss_table(batch * (1000 / ml), held, show),
            self.glass: self._kept("glass", self._glass_key(show), lambda: self._glass_words(drink)),
        }
        for place, words in parts.items():
            place.value = words
        return held

    def _samples(self, made) -> dict[str, whatif.Sample]:
        spread = None if self.mode.value == "pressure" else self._drink().spread
        return whatif.gassed_samples(self.found.volumes, self.found.pressure, made.warm, spread)

    def _shown_by(self) -> Display:
        return replace(self.display, gauge=self.pressure_unit.value)

    def _find(self, batch: Liquid, celsius: float, sure: float) -> Found:
        vessel = carbonation.vessel_of(self.vessel.value, self._limit())
        carbonation.Carbonate(LEVEL, gas=self.gas.value)  # refuses what does not carbonate
        if self.mode.value == "pressure":
            volumes = self.level.value
        else:
            volumes = carbonation.volumes_held(batch, self.gauge.kpa, celsius)
            if volumes > GAS_VOLUMES.high:
                allowed = f"at most what gives {GAS_VOLUMES.high:.0f} volumes at this temperature"
                raise InputError(
                    "gauge pressure", Told(pressure_words(self.gauge.kpa, self.pressure_unit.value)), allowed
                )
        least = carbonation.volumes_held(batch, 0.0, celsius)
        ends = [np.clip(volumes * (1 + s * sure), least, GAS_VOLUMES.high) for s in (-1, 1)]
        pressure = tuple(carbonation.pressure_for(batch, np.array([volumes, *ends]), celsius).tolist())
        if vessel.charges:
            made = carbonation.cartridges(batch, volumes, celsius, vessel)
            return Found(volumes, pressure, made.held, made)
        return Found(volumes, pressure, carbonation.in_vessel(batch, volumes, celsius, vessel), None)

    def _draw(self, rows: dict[str, list], show: Display) -> None:
        look = self._look(show)
        if look == self._drawn:
            draw(self.chart, rows)
        else:  # the units stand in the words of the axes: a new picture, filled before it is shown
            chart = LiveChart(once(bubbles_chart, *look))
            chart.put(**rows)
            self.picture.children, self._drawn = [chart], look

    # --- words and tables ----------------------------------------------------------------------------

    def _headline(self, drink: _Drink, found: Found) -> str:
        show, unit, held = self.display, self.pressure_unit.value, found.held
        (pressure, low, high), v = found.pressure, found.volumes
        # The ± stands with what was asked for.
        by_level = self.mode.value == "pressure"
        sure = None if by_level else drink.spread * v
        warm = show.temperature_text(held.warm_at)
        figures = [
            ("Gauge pressure", *pressure_parts(pressure, unit, (high - low) / 2 if by_level else None)),
            ("Fizz", f"{v:.1f}", "" if by_level else f"± {sure:.1f}", "volumes of gas"),
            ("Gas in the drink", *show.parts(CONCENTRATION, grams_from_volumes(v),
                                             None if by_level else grams_from_volumes(sure))),
            ("In the vessel, cold: up to", *pressure_parts(held.high, unit)),
            (f"Warmed to {warm}: up to", *pressure_parts(held.warm, unit)),
        ]  # fmt: skip
        if found.cartridges:
            figures.insert(3, (f"From {cartridge_words(found.cartridges.count)}", f"{held.volumes:.1f}", "", "volumes"))
        # Above its limit warm is said as loudly as above it cold.
        told = [self.say(c) for c in held.cautions if c.code == "warm vessel" and held.warm > held.vessel.limit]
        mixed, behind = map(self.say, self._mixed(drink))
        return join([*map(problem_words, told), tiles(figures, para(mixed), quiet(behind))])

    def _mixed(self, drink: _Drink) -> tuple[Fact, Fact]:
        """What is gassed, and what its figures rest on."""
        made, setting = drink.figures, self.setting
        water_in, rule = (
            Fact("gassed without ice" if self.melt.value else "gassed without melt"),
            Fact("melt as it stands"),
        )
        if drink.melt:
            water_in = Fact("gassed with melt", share=100 * drink.melt, pm=100 * drink.melt_pm)
        if setting.melt is None and setting.ice is None:
            rule = dilution.basis(self._recipe.technique, self._recipe.serve)
        mixed = Fact("mixed for gas", water=water_in, top=Fact("top goes flat") if drink.top.mass else "")
        return mixed, Fact(
            "gas by", abv=ABV(made.abv), sugar=CONCENTRATION(made.sugar), freezes=TEMPERATURE(drink.freezes),
            done=Fact("gassed once it is", steps=drink.steps) if drink.steps else Fact("gassed as mixed"),
            milk=of_milk(drink.whole, self.display), sure=100 * drink.spread,
            estimate=Fact("gas is an estimate") if made.abv > READ_TO else "",
            melt=Fact("melt water by", rule=rule) if drink.melt else "",
        )  # fmt: skip

    def _vessel_words(self, batch: Liquid, ml: float, found: Found) -> str:
        show, unit, held = self.display, self.pressure_unit.value, found.held
        vessel, warm = held.vessel, held.warm_at
        rows = [
            (f"{when} {show.temperature_text(degrees)}", likely, pressure_words(most, unit),
             pressure_words(vessel.limit, unit), f"{100 * most / vessel.limit:.0f} %")
            for when, degrees, likely, most in (
                ("chilled,", held.temperature, pressure_words(held.pressure, unit), held.high),
                ("warmed to", warm, "", held.warm),
            )
        ]  # fmt: skip
        head = ("Closed", "likely", "up to", "limit", "up to, of the limit")
        source = vessel.source if vessel.limit == self._listed.limit else Fact("your own limit")
        if found.cartridges:
            made = found.cartridges
            gas = Fact(
                "cartridges give", cartridges=cartridge_words(made.count), most=vessel.charges, volumes=made.volumes,
                wanted=found.volumes,
            )  # fmt: skip
        else:
            need = carbonation.gas_needed(batch, found.volumes, vessel.volume, held.temperature)
            gas = Fact("cylinder gives", total=need.total, dissolved=need.dissolved, head=need.head, lost=need.lost)
        most, brim = vessel_words(vessel.fill, show), vessel_words(vessel.volume, show)
        title = heading(f"In the {vessel.name}, with {vessel_words(ml, show)}")
        limit = self.say(Fact("limit and fill", source=source, most=most, brim=brim))
        return join([title, table(head, rows), para(marked(self.say(gas))), quiet(limit)])

    def _time_words(self, batch: Liquid, found: Found, done: tuple[float, float, float]) -> str:
        unit, (pressure, *_), most = self.pressure_unit.value, found.pressure, found.held.vessel.limit
        times = [(pressure, done)]
        if 1.2 * pressure < QUICK <= most:
            celsius, method = found.held.temperature, self.method.value
            times.append((QUICK, carbonation.time_to(batch, found.volumes, QUICK, celsius, method)))
        rows = [(f"under {pressure_words(kpa, unit)}", *map(time_words, ends)) for kpa, ends in times]
        more = Fact("gassing overshoots") if len(rows) > 1 else ""
        how = next(name for name, method in METHODS.items() if method == self.method.value)
        falls = Fact("pressure falls in a siphon") if found.cartridges else ""
        return join([
            heading(f"How long to {found.volumes:.1f} volumes, {how}"),
            table(("", "usual", "quick", "slow"), rows),
            para(self.say(Fact("gassing is done", more=more))),
            quiet(self.say(Fact("gassing times by", falls=falls))),
        ])  # fmt: skip

    def _glass_key(self, show: Display) -> tuple:
        dials = (self.still, self.mixer, self.mixer_gas, self.glass_temperature)
        return (self.melt.value, show, self.pour.value, *(dial.value for dial in dials))

    def _glass_words(self, drink: _Drink) -> str:
        """The highball; its own problems stay in its place."""
        show = self.display
        try:
            still = drink.still * (self._ml(self.still, "still part") / drink.still.volume())
            top = drink.top if drink.top.mass else water(100)
            mixer = top * (self._ml(self.mixer, "carbonated mixer") / top.volume())
            mixer = carbonation.with_gas(mixer, self.mixer_gas.value)
            glass = carbonation.topped(still, mixer, self.glass_temperature.celsius, self.pour.value)
        except InputError as problem:
            return problem_words(self.say(problem))
        made = profile.profile(glass.liquid)
        state = Fact(
            "it sparkles" if glass.low > 1.05 * glass.keeps
            else "it may sparkle" if glass.high > glass.keeps
            else "it is flat"
        )  # fmt: skip
        figures = [
            ("Gas left", f"{glass.volumes:.1f}", f"± {max((glass.high - glass.low) / 2, 0.1):.1f}", "volumes"),
            ("It keeps at rest", f"{glass.keeps:.1f}", "", "volumes"),
            ("In the glass", *show.parts(VOLUME, made.volume)),
            ("Strength", *show.parts(ABV, made.abv)),
        ]
        names = [p.bottle(self.shelf).name for p in self._recipe.pours if p.after and p.amount]
        names = names if drink.top.mass else ["soda water"]
        poured = [self._recipe.name, *[Fact("before its top")] * bool(drink.top.mass), *drink.steps]
        poured += [Fact("with so much melt", share=100 * drink.melt)] * bool(drink.melt)
        behind = Fact("highball by", still=tuple(poured), mixers=tuple(names))
        return tiles(figures, para(show.say(Fact("highball", state=state))), quiet(show.say(behind)))


def _level_table(drink: _Drink, show: Display, unit: str) -> str:
    degrees = [d for d in TABLE_DEGREES[show.temperature] if to_celsius(f"{d} {show.temperature}") >= drink.freezes]
    celsius = [to_celsius(f"{d} {show.temperature}") for d in degrees]
    pressures = TABLE_PRESSURES[unit]
    chart = carbonation.chart(drink.whole, celsius, [p * GAUGES[unit] for p in pressures])
    rows = [
        (f"{d} {show.temperature}", *(f"{v:.1f}" for v in line)) for d, line in zip(degrees, chart.volumes, strict=True)
    ]
    return join([
        heading("The same as a table: fizz, in volumes of gas"),
        table(("", *(f"{p:g} {unit}" for p in pressures)), rows),
        quiet(show.say(Fact("gas table by", sure=100 * chart.spread))),
    ])  # fmt: skip


def _loss_table(litre: Liquid, held: carbonation.Held, show: Display) -> str:
    litre = carbonation.with_gas(litre, held.volumes)
    degrees = np.array(sorted([held.temperature, *(d for d in POURED if abs(d - held.temperature) >= 1)]))
    lost = {how: carbonation.lost_by_pouring(litre, degrees, how) for how in carbonation.POURED_LOSS}
    spread = carbonation.POURED_SPREAD
    rows = []
    for i, celsius in enumerate(degrees):
        cells = []
        for grams in lost.values():
            left, around = held.volumes - volumes_from_grams(grams[i]), volumes_from_grams(spread * grams[i])
            words = f"{left:.1f} ± {max(around, 0.1):.1f} volumes"
            cells += [f"{grams[i]:.1f} ± {spread * grams[i]:.1f} g/L", join([bar(left, held.volumes, around), words])]
        rows.append((f"at {show.temperature_text(celsius)}", *cells))
    head = ("Poured", "tilted: lost", "left", "upright: lost", "left")
    return join([
        heading(f"What opening and pouring leave of {held.volumes:.1f} volumes"),
        table(head, rows),
        para(show.say(Fact("opening leaves", head=held.head))),
        quiet(show.say(Fact("pouring by"))),
    ])  # fmt: skip
