"""The lesson on gels: a drink set as a jelly, what it survives, and what boiling takes away. No maths here."""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import altair as alt
import ipywidgets as w
import numpy as np

from .. import balance, gels, logbook, strength, trial
from ..declared import of_animals, poured_bottles
from ..errors import InputError, Told, require
from ..kinds import ABV, VOLUME
from ..liquid import Liquid
from ..recipe import Recipe
from ..setting import Setting
from ..units import Display
from .charts import INK, LOOK, QUIET
from .lesson import (
    WIDE,
    DegreeDial,
    Dial,
    Html,
    Lesson,
    bold,
    caution_words,
    draw,
    element,
    heading,
    join,
    of_milk,
    para,
    pick,
    problem_words,
    quiet,
    table,
    tiles,
)
from .live import LiveChart

HOUSE = "Amontillado and tea jelly"  # of the demo
POWDER = "powder, by its Bloom"
OWN, NONE = "own", ""  # a mould of another volume; none
# In the mouth: body temperature, from memory. The fridge is the one of the order of work. [°C]
FRIDGE, MOUTH = gels.FRIDGE, 37.0
MOST_BOILED = 50.0  # how far the chart of boiling goes [% of the weight]
_SHARES = np.linspace(0, MOST_BOILED, 21)
_TOLD = (5, 10, 20, 30, 50)  # lines of its table


def jelly(folder: str | Path = ".", recipe: Recipe | None = None) -> JellyPanel:
    """Gels: how much sets a drink, in which order, how strong each piece is, and on which terrace it stays set.

    Parameters
    ----------
    folder : path
        Working folder: own ingredients and choices are read from it.
    recipe : Recipe, optional
        What to start with; the jelly of the demo by default.
    """
    return JellyPanel(folder, recipe)


class JellyPanel(Lesson):
    """One drink as a jelly. `use` puts a recipe on it; `refresh` recomputes and repaints."""

    plain_name = "a plain liquid"

    def __init__(self, folder: str | Path, recipe: Recipe | None = None) -> None:
        self.made: gels.Jelly | None = None
        self._boil_asked: tuple | None = None
        self._ran: tuple | None = None
        super().__init__(folder, recipe)

    # --- what is on the page ---------------------------------------------------------------------

    def _build(self, show: Display) -> None:
        country = "United States"
        with suppress(InputError):  # the page has said it already
            country = logbook.choices(self.folder).get("country", country)

        self.strength = Dial("Strength", 12, 40, 0.5, "% vol", self.refresh)
        self.dry = w.Checkbox(description="without its ice water", indent=False, layout=WIDE)
        self.own_ph = w.Checkbox(description="I have measured the pH of the mix", indent=False, layout=WIDE)
        self.ph = Dial("pH of the mix", 3.5, 8, 0.1, "", self.refresh, 2)
        self.volume = Dial("Jelly wanted", *self._reach(500, 3000, show), on_change=self.refresh)
        self.agent = pick("Set with", [(f"{n} ({a.origin})", n) for n, a in gels.agents().items()])
        self.firmness = pick("Firmness", gels.FIRMNESS, "firm")
        self.form = pick("Gelatin", [(POWDER, POWDER), *((f"{grade} sheets", grade) for grade in gels.SHEETS)])
        self.bloom = Dial(
            "Its strength", gels.USUAL_BLOOM, gels.BLOOM.high, 5, "Bloom", self.refresh, gels.BLOOM.low
        )  # fmt: skip
        self.fish = w.Checkbox(description="it is made of fish", indent=False, layout=WIDE)
        self.gelatin = w.VBox([self.form, self.bloom, self.fish])
        self.boil_in = pick("Dissolve in", [("plain water", "water"), ("the drink itself", "drink")])
        self.as_needed = w.Checkbox(True, description="add the water that it needs", indent=False, layout=WIDE)
        self.water = Dial("Plain water, of the jelly", 0, 60, 1, "%", self._water_moved)
        self.mould = pick("Mould", self._moulds(show), "cube, 2 cm")
        self.mould_volume = Dial("Mould holds", *self._reach(40, 300, show), on_change=self.refresh)
        self.place = DegreeDial("Room or terrace", 30, 0, 60, show, self.refresh)
        self.country = pick("Country", strength.countries(), country)

        self.answers = [Html() for _ in range(3)]
        self.headline, self.order, self.words = self.answers
        self.picture, self._shown, self._unit = w.Box([LiveChart(gel_chart(show))]), show, show.temperature

        self.set_button = self._put_button("Set this drink", self.put)
        self.beside_button = self._put_button("Put it beside the drink in hand", self.put_beside)
        self.boil_button = self._put_button("Boil this drink", self.put_boiled)
        self.share = Dial("Share boiled off", 10, MOST_BOILED, 1, "% of the weight", self._boil)
        self.boiled, self.boil_picture = Html(), LiveChart(boil_chart())
        self.grams = Dial("The recipe says", 10, 50, 0.5, "g", self._convert)
        ends = gels.BLOOM.high, 5, "Bloom", self._convert, gels.BLOOM.low
        self.from_bloom, self.to_bloom = Dial("of strength", 160, *ends), Dial("At hand is", 240, *ends)
        self.converted = Html()
        self.more = w.Accordion(
            [w.VBox([self.share, self.boiled, self.boil_picture, self.boil_button]),
             w.VBox([self.grams, self.from_bloom, self.to_bloom, self.converted])],
            titles=["A drink that is boiled: how much of its alcohol stays", "Gelatin of another Bloom"],
            selected_index=None,
        )  # fmt: skip

        self._lay_out(
            [self.choose, self.strength, self.dry, self.own_ph, self.ph, self.volume, self.agent, self.firmness,
             self.gelatin, self.boil_in, self.as_needed, self.water, self.mould, self.mould_volume, self.place,
             self.country, self.volume_unit, self.temperature_unit],
            [self.headline, w.HBox([self.set_button, self.beside_button]), self.picture],
            [self.order, self.words, self.more],
        )  # fmt: skip
        self._answers_to(
            self.dry,
            self.own_ph,
            self.agent,
            self.firmness,
            self.form,
            self.fish,
            self.boil_in,
            self.as_needed,
            self.mould,
        )
        self.country.observe(self._country_chosen, "value")
        self.more.observe(lambda _: self._boil(), "selected_index")
        self._convert()

    @property
    def chart(self) -> LiveChart:
        """The chart of doses and temperatures."""
        return self.picture.children[0]

    @staticmethod
    def _reach(ml: float, top: float, show: Display) -> tuple[float, float, float, str]:
        return ml / show.ml, top / show.ml, {"mL": 5.0, "oz": 0.25}[show.volume], show.volume

    @staticmethod
    def _moulds(show: Display) -> list[tuple[str, str]]:
        known = [(f"{name}: {show.volume_text(ml)}", name) for name, ml in gels.MOULDS.items()]
        return [("none: poured, and cut", NONE), *known, ("one of my own", OWN)]

    def _show_in(self, show: Display) -> None:
        for dial, top in ((self.volume, 3000), (self.mould_volume, 300)):
            dial.reach(*self._reach(dial.value * self._shown.ml, top, show))
        chosen = self.mould.value
        self.mould.options = self._moulds(show)
        self.mould.value = chosen
        self.place.show_in(show)
        self._shown = show

    # --- from the page to a jelly ----------------------------------------------------------------

    def _used(self) -> None:
        self.dry.value = False
        if step := self.setting.step(gels.Set):
            self._start_from(step)
            return
        self.as_needed.value = True
        if boil := self.setting.step(gels.Boil):
            self.share.set(100 * boil.share)

    def _first(self) -> Recipe | Setting:
        return self._named(("demo", HOUSE))

    def _start_from(self, step: gels.Set) -> None:
        """The jelly that the drink is set as already, all of it."""
        self.agent.value, self.firmness.value, self.fish.value = step.agent, step.firmness, step.fish
        self.form.value, self.boil_in.value = POWDER, step.boil_in
        self.bloom.set(step.bloom)
        self.own_ph.value = step.ph is not None
        if step.ph is not None:
            self.ph.set(step.ph)
        self.as_needed.value = False
        with suppress(InputError):  # the refresh that follows says so
            drink = self.liquid()
            water = step.needs(drink) if step.water is None else step.water
            self.water.set(100 * water / (drink.volume() + water))
            whole = step.act(drink).liquid.volume()
            self.volume.reach(*self._reach(whole, max(3000, 1.5 * whole), self.display))
        if each := self.setting.serve_volume:
            known = next((name for name, ml in gels.MOULDS.items() if ml == each), OWN)
            self.mould.value = known
            self.mould_volume.reach(*self._reach(each, 300, self.display))

    def _chosen(self, change) -> None:
        if self.plain:
            with self._silently():
                self.as_needed.value = True
        super()._chosen(change)

    def _water_moved(self, _) -> None:
        with self._silently():
            self.as_needed.value = False
        self.refresh()

    def _country_chosen(self, _) -> None:
        self.refresh()
        with self._said():
            logbook.save_choices(self.folder, country=self.country.value)

    def liquid(self) -> Liquid:
        """What is to be set: the drink as it stands before that, its ice water, top and earlier steps in it."""
        if self.plain:
            require("strength", self.strength.value, 0, 100, "% vol")
            return strength.spirit(100.0, self.strength.value)
        return self._run().stages[-1].liquid[0]

    def _counted(self) -> Setting:
        """The drink, without its ice water where that is not wanted."""
        return replace(self.setting, melt=0.0, ice=None) if self.dry.value else self.setting

    def _run(self, kind: type = gels.Set) -> trial.Trial:
        asked = (self.dry.value, kind)
        if self._ran is None or self._ran[0] is not self.setting or self._ran[1] != asked:
            self._ran = self.setting, asked, trial.run(self._counted().before(kind()), self.shelf, draws=0)
        return self._ran[2]

    def _in_hand(self):
        """What the drink brings, set as the page says, whether it can be set so or not."""
        gelatin = self.agent.value == "gelatin"
        step = gels.Set(self.agent.value, self.firmness.value, fish=self.fish.value and gelatin)
        if self.plain:
            return [("", (*step.cautions, *step.warns(self.strength.value)))]
        return [("", self.setting.with_step(step).brings(self.shelf))]

    @property
    def _sheet(self) -> str | None:
        return self.form.value if self.agent.value == "gelatin" and self.form.value != POWDER else None

    @property
    def _bloom(self) -> float:
        if self.agent.value != "gelatin":
            return gels.USUAL_BLOOM
        return gels.SHEETS[self._sheet][0] if self._sheet else self.bloom.value

    def _share_of_water(self, ph: float) -> float:
        """Plain water in the jelly. [% of the jelly]"""
        if not self.as_needed.value:
            require("plain water", self.water.value, 0, 90, "% of the jelly")
            return self.water.value
        if self._boil_in == "drink":
            return 0.0
        agent = self.agent.value
        dose = gels.dose(agent, self.firmness.value, ph=ph, bloom=self._bloom)
        # A hundredth more, in whole percent: the mix does not have quite the volume of its parts.
        return math.ceil(1.01 * dose * gels.agents()[agent].water_ml_per_g / 10)

    @property
    def _boil_in(self) -> str:
        return "water" if self.agent.value == "gelatin" else self.boil_in.value

    # --- from a jelly to the page ----------------------------------------------------------------

    def _answer(self) -> None:
        self._show_what_counts()
        self._boil()  # neither it nor the Bloom table asks whether the drink sets
        show, agent, firmness = self.display, self.agent.value, self.firmness.value
        liquid, volume = self.liquid(), self.volume.value * show.ml
        require("jelly wanted", volume, 1, 1e5, "mL")
        ph = self.ph.value if self.plain or self.own_ph.value else None
        if ph is not None:
            require("the pH of the mix", ph, 0, 14)
        share = self._share_of_water(gels.ph_of(liquid) if ph is None else ph)
        mould = {NONE: None, OWN: self.mould_volume.value * show.ml}.get(self.mould.value, self.mould.value)
        made = gels.jelly(
            liquid, agent, firmness, volume=volume, mould=mould,
            water=liquid.volume() * share / (100 - share), ph=ph, boil_in=self._boil_in, bloom=self._bloom,
            sheet=self._sheet, fish=self.fish.value and agent == "gelatin", country=self.country.value,
        )  # fmt: skip
        taken = ""
        if not self.plain:
            made, taken = self._from_the_drink(made)
        place = self.place.celsius
        doses = {
            name: [gels.dose(name, f, ph=made.ph, bloom=self._bloom) / 10 for f in gels.FIRMNESS]
            for name in gels.agents()
        }
        rows = gel_rows(made, doses, place, show)
        # Nothing failed: only now does the page change, in the order of where the eye is.
        self.made = made
        if self.as_needed.value:
            self.water.set(share)
        self._draw(rows, show)
        self.headline.value = _headline(made, self._sheet, share, place, ph is not None, show, taken)
        self.order.value = _order(made, show)
        animals = () if self.plain else of_animals(*self.setting.brings(self.shelf))
        self.words.value = _words(made, show, animals)
        return made

    def _from_the_drink(self, made: gels.Jelly) -> tuple[gels.Jelly, str]:
        """With an order of work that begins with the drink, and a sentence on what of it is taken."""
        run, show = self._run(), self.display
        done = [f"with {100 * run.melt:.0f} % of ice water"] * (run.melt > 0)
        done += [step.name for step in run.steps]
        if not done:
            left = " without the water of its ice" if self.dry.value else ""
            return gels.measured(made, self._recipe, self.shelf), f"Taken: the drink as poured{left}."
        first = f"Measure {made.drink:.0f} mL of {self._recipe.name}, {', '.join(done)}."
        often = " A jelly is mostly made without it: say so at the left." if run.melt > 0 else ""
        taken = f"Taken: the drink as it stands, {', '.join(done)}.{often}{of_milk(run.stages[-1].liquid[0], show)}"
        boiled = any(isinstance(step, gels.Boil) for step in run.steps)
        made = gels.of_bottles(made, () if boiled else poured_bottles(self._recipe, self.shelf))
        return replace(made, steps=(first, *made.steps[1:])), taken

    # --- into the drink in hand ----------------------------------------------------------------------

    def _step(self, drink: float) -> gels.Set:
        """The step that sets so much of the drink. [mL]"""
        if self.plain:
            raise InputError("drink", Told(self.plain_name), "one with a recipe, to go on with it")
        asked_ph = self.ph.value if self.own_ph.value else None
        share = self._share_of_water(gels.ph_of(self.liquid()) if asked_ph is None else asked_ph)
        gelatin = self.agent.value == "gelatin"
        return gels.Set(
            self.agent.value, self.firmness.value, bloom=self._bloom, water=drink * share / (100 - share), ph=asked_ph,
            boil_in=self._boil_in, fish=self.fish.value and gelatin,
        )  # fmt: skip

    def put(self) -> None:
        """Set all of the drink on the page."""
        self._step(1.0)  # refuses a plain liquid
        step = self._step(self.liquid().volume())
        self.put_in_hand(self._counted().with_step(step), f"Set with {step.agent}, {step.firmness}.")

    def put_beside(self) -> None:
        """Put the jelly beside the drink in hand: as much as the page says, one piece a glass."""
        held, made = logbook.in_hand(self.folder, self._own_shelf), self.made
        self._step(1.0)
        if held is None:
            raise InputError("drink in hand", Told("none"), "one: put it in hand on the bench first")
        if made.pieces is None:
            raise InputError("mould", Told("none"), "one, so that each glass gets a piece")
        factor = made.drink / self.liquid().volume()
        for _ in range(4):  # what papers keep does not grow with the drink
            jelly = self._counted().scaled(factor)
            drink = trial.run(jelly.before(gels.Set()), self.shelf, draws=0).made.volume
            factor *= made.drink / drink
        jelly = replace(
            jelly.with_step(self._step(drink)), beside=(), serves=made.pieces,
            serve_volume=min(made.piece_volume, made.volume / made.pieces),
        )  # fmt: skip
        others = [other for other in held.setting.beside if other.recipe.name != jelly.recipe.name]
        self.put_in_hand(
            replace(held.setting, beside=(*others, jelly)),
            f"{jelly.recipe.name}, {made.pieces} pieces, goes with it: one a glass.", held.setting,
            ("beside", str(len(others))),
        )  # fmt: skip

    def put_boiled(self) -> None:
        """Boil the drink down as in the open section."""
        if self.plain:
            self._step(1.0)
        require("share boiled off", self.share.value, 0, MOST_BOILED, "% of the weight")
        step = gels.Boil(self.share.value / 100)
        self.put_in_hand(self.setting.with_step(step), f"Boiled down by {self.share.value:g} % of its weight.")

    def _show_what_counts(self) -> None:
        gelatin = self.agent.value == "gelatin"
        for part, seen in (
            (self.strength, self.plain), (self.dry, not self.plain and self._iced),
            (self.own_ph, not self.plain), (self.ph, self.plain or self.own_ph.value),
            (self.gelatin, gelatin), (self.bloom, self._sheet is None), (self.boil_in, not gelatin),
            (self.mould_volume, self.mould.value == OWN),
        ):  # fmt: skip
            part.layout.display = None if seen else "none"

    @property
    def _iced(self) -> bool:
        return self._recipe.technique != "none" or bool(self.setting.melt)

    def _draw(self, rows: dict[str, list], show: Display) -> None:
        if show.temperature == self._unit:
            draw(self.chart, rows)
        else:  # the unit stands in the words of the axis: a new picture, filled before it is shown
            chart = LiveChart(gel_chart(show))
            chart.put(**rows)
            self.picture.children, self._unit = [chart], show.temperature

    def _boil(self, _=None) -> None:
        """The open section on boiling, of the drink as chosen."""
        if self.more.selected_index != 0:
            return
        try:
            share = self.share.value
            liquid = self.liquid() if self.plain else self._run(gels.Boil).stages[-1].liquid[0]
            asked = (liquid.grams.tobytes(), share, self.display)
            if asked == self._boil_asked:  # some other control was moved, and boiling takes a while to work out
                return
            require("share boiled off", share, 0, MOST_BOILED, "% of the weight")
            found = gels.boil(liquid, np.append(_SHARES, share) / 100)
            words = _boiled(found, liquid, share, self.display)
        except InputError as problem:
            self.boiled.value, self._boil_asked = problem_words(self.told(str(problem))), None
            self.boil_picture.add_class("dl-stale")
            return
        draw(self.boil_picture, boil_rows(found, share))
        self.boiled.value, self._boil_asked = words, asked
        self.boil_picture.remove_class("dl-stale")

    def _convert(self, _=None) -> None:
        """The table of Blooms."""
        try:
            grams, blooms = self.grams.value, (self.from_bloom.value, self.to_bloom.value)
            for name, bloom in zip(("strength in the recipe", "strength at hand"), blooms, strict=True):
                require(name, bloom, gels.BLOOM.low, gels.BLOOM.high, gels.BLOOM.label)
            self.converted.value = _conversion(grams, *blooms)
        except InputError as problem:
            self.converted.value = problem_words(self.told(str(problem)))


# --- words and tables -----------------------------------------------------------------------------------


def _headline(made: gels.Jelly, sheet: str | None, share: float, place: float, given: bool, show: Display,
              taken: str) -> str:  # fmt: skip
    agent = made.about.agent
    figures = [
        (f"{agent.capitalize()} to weigh", f"{made.grams:.1f}", "", "g"),
        ("In each 100 mL", f"{made.dose / 10:.2f}", "", "g"),
    ]
    if made.sheets is not None:
        figures.append((f"Sheets, {sheet}", f"{made.sheets:.1f}", "", ""))
    figures.append((f"Water to dissolve the {agent} in", *show.parts(VOLUME, made.water)))
    if made.pieces is not None:
        figures.append(("Pieces", f"{made.pieces}", "", f"of {show.volume_text(made.piece_volume)}"))
        left = made.left_over if made.left_over >= 0.5 else 0.0
        figures.append(("Left over", *show.parts(VOLUME, left)))
    figures.append(("Strength of the jelly", *show.parts(ABV, made.abv)))
    alcohol, drinks, whole = made.piece_alcohol, made.piece_drinks, "in a piece"
    if made.pieces is None:
        alcohol, drinks, whole = made.alcohol, made.drinks, "in all of it"
    figures += [
        (f"Alcohol {whole}", f"{alcohol:.1f}", "", "g"),
        (f"Standard drinks {whole}", f"{drinks:.2f}", "", made.country),
    ]
    return tiles(
        figures,
        para(f"At {show.temperature_text(place)}, the room or terrace: {_verdict(made.about, place)[1]}"),
        para(taken),
        quiet(
            f"{show.volume_text(made.volume)} of jelly, {share:.0f} % of it plain water; pH {made.ph:.1f} "
            f"{'as given' if given else 'by its acids'}; strength by the bottles, with nothing boiled off. The dose "
            "is a starting point: brands differ, so set a spoonful first on ice water."
        ),
    )


def _verdict(about: gels.Agent, place: float) -> tuple[str, str]:
    """What a jelly does at a temperature, in a word and in a sentence."""
    if math.isnan(about.melt_low_c):
        return "stays set", f"{about.agent} stays set; it does not melt again."
    if place < about.melt_low_c:
        return "stays set", f"{about.agent} stays set."
    if place < about.melt_high_c:
        return "softens", f"{about.agent} softens and may run: keep it cold until it is eaten."
    return "melts", f"{about.agent} melts."


def _order(made: gels.Jelly, show: Display) -> str:
    items = (element("li", show.told(step)) for step in made.steps)
    return heading("Order of work") + element("ol", *items)


def _words(made: gels.Jelly, show: Display, animals: Sequence[str]) -> str:
    about = made.about
    if animals and about.diet == "vegan":
        diet = f"{about.agent.capitalize()}: {about.origin}. The whole is of animals too: {', '.join(animals)}."
    else:
        diet = f"{about.agent.capitalize()}: {about.origin}; {about.diet}. Ask the same of each bottle."
    notes = (para(show.told(note)) for note in made.notes)
    return join([
        heading("Good to know"), *notes, para(diet),
        quiet(f"Where the figures for {about.agent} come from ({about.source_class}):"),
        element("ul", *(element("li", part) for part in gels.sources(about)), class_="dl-quiet"),
        quiet(
            "Moulds: common practice, no published source; fill yours with water and weigh it. Mouth, "
            f"{show.temperature_text(MOUTH)}: from memory."
        ),
    ])  # fmt: skip


def _left(found: gels.Boiled, i: int) -> tuple[str, str]:
    """Strength left and alcohol kept, each with its band."""

    def words(mid: float, low: float, high: float, digits: int, unit: str) -> str:
        if round(mid, digits) == 0:
            return f"{max(high, 10.0**-digits):.{digits}f} {unit} or less"
        return f"{mid:.{digits}f} ({low:.{digits}f} to {high:.{digits}f}) {unit}"

    strengths, kept = (found.abv, found.abv_low, found.abv_high), (found.kept, found.kept_low, found.kept_high)
    return words(*(s[i] for s in strengths), 1, "% vol"), words(*(100 * k[i] for k in kept), 0, "%")


def _boiled(found: gels.Boiled, liquid: Liquid, share: float, show: Display) -> str:
    if liquid.ethanol <= 0:
        return para("There is no alcohol in it to boil off.")
    before = balance.profile(liquid).abv
    left, kept = _left(found, -1)
    lines = [(f"{told} %", *_left(found, int(np.argmin(abs(_SHARES - told))))) for told in _TOLD]
    caution = ""
    if before >= gels.FLASH_RANGE.low:
        least, usual = (show.temperature_text(at(before)) for at in (gels.flash_least, gels.flash_point))
        caution = caution_words(
            [f"Fire: a flame can light the vapour over {before:.0f} % vol from {usual}, and perhaps from {least}. No "
             "flame near it: use a hot plate, under a fan that draws, and follow your local fire code."]
        )  # fmt: skip
    told = para(
        f"The drink as chosen, {show.text(ABV, before)}, before any water. With ", bold(f"{share:g} % of its weight"),
        " boiled off, the pan holds ", bold(left), " and ", bold(kept), " of the alcohol.",
    )  # fmt: skip
    behind = quiet(
        "In brackets: what 19 pans in 20 come to, by judgement. Weigh the pan before and after. Vapour over an open "
        "pan, from published data on alcohol and water (van Laar, Rayleigh); sugar drives off a little more alcohol "
        "and is left out."
    )
    head = "Boiled off, of the weight", "strength left", "alcohol kept"
    return join([element("div", told, role="status"), caution, table(head, lines), behind])


def _conversion(grams: float, bloom: float, to_bloom: float) -> str:
    root, linear = (gels.convert_bloom(grams, bloom, to_bloom, rule=r) for r in ("square root", "linear"))
    rows = [("square root, used on this page", f"{root:.2f} g"), ("linear, used in some kitchens", f"{linear:.2f} g")]
    sheets = [
        (f"{grade}, about {its:.0f} Bloom, {each:g} g each", f"{gels.sheets(grams, grade, bloom=bloom):.1f}")
        for grade, (its, each) in gels.SHEETS.items()
    ]
    apart = f" They differ by {100 * abs(linear / root - 1):.0f} %." if root and linear != root else ""
    return join([
        para(f"{grams:g} g of {bloom:g} Bloom sets as firmly as, of {to_bloom:g} Bloom:"),
        table(("Rule", "grams"), rows),
        para(f"Published conversion tables follow the square root.{apart}"),
        table(("Or in sheets, by the square root", "sheets"), sheets),
        quiet(
            "Grades and weights of sheets: common practice, no published source; makers differ, so weigh ten."
        ),
    ])  # fmt: skip


# --- charts -----------------------------------------------------------------------------------------------

# Two panels side by side, with names left and words right about 740 pixels wide.
_DOSE, _DEGREES, _ROW = 196, 290, 42
_SET, _DARK, _MELT = "#136cea", "#0f57bd", "#963f0c"


def gel_chart(show: Display) -> alt.HConcatChart:
    """Doses and temperatures of what sets a drink; empty until `gel_rows` are put in."""
    low, high = show.degrees(0), show.degrees(100)
    agents = alt.Chart(alt.NamedData("agents"))
    y = alt.Y("agent:N", axis=None, scale=alt.Scale(domain=list(gels.agents())))
    pale = {"opacity": alt.expr("datum.chosen ? 1 : 0.45")}
    bold = {"fontWeight": alt.expr("datum.chosen ? 'bold' : 'normal'"), "fontSize": 12, "aria": False}

    def heading(text: str, at: float, up: float, **look) -> alt.Chart:
        one = alt.Chart(alt.InlineData(values=[{"one": 1}]))
        return one.mark_text(align="left", text=text, aria=False, **look).encode(x=alt.value(at), y=alt.value(up))

    def x(field: str) -> alt.X:
        scale = alt.Scale(nice=False, zero=True)
        return alt.X(f"{field}:Q", scale=scale, title="Dose [g in 100 mL]", axis=alt.Axis(tickCount=5))

    def room(left: float, right: float) -> alt.Chart:
        """Unseen, for the words beside a panel, whatever rows come later."""
        one = alt.Chart(alt.InlineData(values=[{"one": 1}])).mark_rect(opacity=0, aria=False, tooltip=None)
        return one.encode(x=alt.value(left), x2=alt.value(right), y=alt.value(0), y2=alt.value(10))

    frame = alt.Chart(alt.NamedData("frame")).mark_point(opacity=0, aria=False, tooltip=None).encode(x=x("top"))
    tip = alt.Tooltip("told:N", title="Dose")
    dose = [
        room(-124, _DOSE + 32),
        frame,
        agents.mark_bar(height=5, color=_SET, **pale).encode(x=x("soft"), x2="very:Q", y=y, tooltip=tip,
                                                            description=alt.Description("told:N")),
        *(agents.mark_tick(height=15, thickness=2, color=_SET, aria=False, **pale).encode(x=x(f), y=y)
          for f in ("soft", "firm", "very")),
        agents.transform_filter("datum.chosen").mark_point(
            filled=True, color=INK, size=120, opacity=1, stroke="white", strokeWidth=1.6, aria=False
        ).encode(x=x("dose"), y=y, tooltip=tip),
        agents.mark_text(align="left", dx=8, **bold).encode(x=x("very"), y=y, text="said:N"),
        agents.mark_text(align="right", **bold).encode(x=alt.value(-10), y=y, text="agent:N"),
        heading("Ticks: soft, firm, very firm.", 0, -22, color=_DARK),
        heading("Dot, figures: as firm as chosen.", 0, -8),
    ]  # fmt: skip

    def t(field: str) -> alt.X:
        scale = alt.Scale(domain=[low, high], nice=False)
        return alt.X(f"{field}:Q", scale=scale, title=f"Temperature [{show.temperature}]")

    marks = alt.Chart(alt.NamedData("marks"))
    tip = alt.Tooltip("kept:N", title="Temperatures")
    degrees = [
        room(-20, _DEGREES + 66),
        agents.mark_bar(height=11, color=_SET, **pale).encode(x=t("low"), x2="stays:Q", y=y, tooltip=tip,
                                                             description=alt.Description("kept:N")),
        agents.transform_filter("isNumber(datum.melts)").mark_bar(height=11, color=_MELT, aria=False, **pale).encode(
            x=t("stays"), x2="melts:Q", y=y, tooltip=tip),
        agents.mark_bar(height=3, yOffset=13, color=INK, aria=False, **pale).encode(
            x=t("set_low"), x2="set_high:Q", y=y, tooltip=tip),
        *(agents.mark_tick(height=9, thickness=2, yOffset=13, color=INK, aria=False, **pale).encode(x=t(f), y=y)
          for f in ("set_low", "set_high")),
        marks.mark_rule(strokeDash=[4, 3], color=QUIET, aria=False).encode(x=t("t")),
        marks.mark_text(align="center", color=QUIET, aria=False).encode(
            x=t("t"), y=alt.value(-8), text="label:N"),
        alt.Chart(alt.NamedData("place")).mark_rule(color=INK, strokeWidth=1.5, aria=False).encode(x=t("t")),
        alt.Chart(alt.NamedData("place")).mark_text(align="left", dx=-14, fontWeight="bold", aria=False).encode(
            x=t("t"), y=alt.value(-23), text="label:N"),
        agents.mark_text(align="left", **bold).encode(x=alt.value(_DEGREES + 8), y=y, text="verdict:N"),
        heading("■ stays set", 0, -40, color=_DARK, fontWeight="bold"),
        heading("■ softens, then melts", 74, -40, color=_MELT, fontWeight="bold"),
        heading("▬ sets as it cools", 212, -40, fontWeight="bold"),
    ]  # fmt: skip
    high_ = _ROW * len(gels.agents())
    chart = alt.HConcatChart(
        hconcat=[
            alt.LayerChart(layer=dose, width=_DOSE, height=high_),
            alt.LayerChart(layer=degrees, width=_DEGREES, height=high_),
        ],
        spacing=16,
        description="For each of five setting agents, left: the dose in grams for 100 mL from soft to very firm, with "
        f"a dot for the chosen jelly. Right, in {show.temperature}: where it sets as it cools, up to where it stays "
        "set, and where it melts, with lines for the fridge, the mouth and the room or terrace.",
    )
    chart.config, chart.datasets = LOOK, {name: [] for name in ("frame", "agents", "marks", "place")}
    return chart


def gel_rows(made: gels.Jelly, doses: dict[str, list[float]], place: float, show: Display) -> dict[str, list]:
    """Rows of `gel_chart`.

    Parameters
    ----------
    made : Jelly
        The chosen one.
    doses : dict
        Of each agent, in the order of `FIRMNESS`. [g in 100 mL]
    place : float
        Of the room or terrace. [°C]
    show : Display
    """

    def degrees(celsius: float) -> float | None:
        return None if math.isnan(celsius) else round(show.degrees(celsius), 1)

    rows, at = [], gels.FIRMNESS.index(made.firmness)
    for name, about in gels.agents().items():
        grams, stays = doses[name], about.melt_low_c
        ends = [show.temperature_text(c) for c in (about.set_low_c, about.set_high_c)]
        melting = "does not melt again"
        if not math.isnan(stays):
            melting = f"melts from {show.temperature_text(stays)} to {show.temperature_text(about.melt_high_c)}"
        rows.append({
            "agent": name, "chosen": name == made.about.agent,
            **{f: round(g, 3) for f, g in zip(("soft", "firm", "very"), grams, strict=True)},
            "dose": round(grams[at], 3),
            "said": f"{grams[at]:.2f} g" if made.abv <= about.abv_most else "too strong",
            "told": f"{name}, {made.firmness}: {grams[at]:.2f} g in 100 mL; "
                    f"{grams[0]:.2f} g soft to {grams[2]:.2f} g very firm",
            "low": show.degrees(0), "stays": degrees(100.0 if math.isnan(stays) else stays),
            "melts": degrees(about.melt_high_c), "set_low": degrees(about.set_low_c),
            "set_high": degrees(about.set_high_c), "verdict": _verdict(about, place)[0],
            "kept": f"{name} sets at {ends[0]} to {ends[1]}, {melting}",
        })  # fmt: skip
    most = max(row["very"] for row in rows)
    return {
        # The axis moves only for gelatin that is weak and very firm.
        "frame": [{"top": 3.5 if most <= 3.3 else 4.5 if most <= 4.3 else 7.0}],
        "agents": rows,
        "marks": [
            {"t": degrees(c), "label": f"{word} {show.temperature_text(c)}"}
            for word, c in (("fridge", FRIDGE), ("mouth", MOUTH))
        ],
        "place": [{"t": degrees(place), "label": f"room or terrace {show.temperature_text(place)}"}],
    }


def boil_chart() -> alt.HConcatChart:
    """Alcohol kept and strength left against the share boiled off; empty until `boil_rows` are put in."""
    panels = []
    for field, title in (("kept", "Alcohol kept [% of it]"), ("abv", "Strength left [% vol]")):
        curve, now = alt.Chart(alt.NamedData("curve")), alt.Chart(alt.NamedData("now"))
        x = alt.X("share:Q", scale=alt.Scale(domain=[0, MOST_BOILED]), title="Boiled off [% of the weight]")

        def y(field: str, title: str = title) -> alt.Y:
            return alt.Y(f"{field}:Q", scale=alt.Scale(nice=False), title=title, axis=alt.Axis(minExtent=26))

        frame = alt.Chart(alt.NamedData("frame")).mark_point(opacity=0, aria=False, tooltip=None)
        dot = now.mark_point(filled=True, color=INK, size=110, opacity=1, stroke="white", strokeWidth=1.6)
        told = alt.Description(f"{field}_told:N")
        layers = [
            frame.encode(y=y(field)),
            curve.mark_area(color=_SET, opacity=0.16, aria=False).encode(
                x=x, y=y(f"{field}_low"), y2=f"{field}_high:Q"),
            curve.mark_line(color=_SET, strokeWidth=2.4).encode(x=x, y=y(field)),
            now.mark_rule(color=INK, strokeWidth=1, aria=False).encode(x=x),
            dot.encode(x=x, y=y(field), tooltip=alt.Tooltip(f"{field}_told:N", title=title), description=told),
            now.mark_text(
                align=alt.expr(f"datum.share > {MOST_BOILED / 2:g} ? 'right' : 'left'"), fontWeight="bold", fontSize=12,
                aria=False,
            ).encode(x=x, y=alt.value(-9), text=f"{field}_told:N"),
        ]  # fmt: skip
        panels.append(alt.LayerChart(layer=layers, width=270, height=190))
    chart = alt.HConcatChart(
        hconcat=panels, spacing=24,
        description="Two charts against the share of the weight boiled off, 0 to 50 %. Left: alcohol kept, in percent. "
        "Right: strength of what is left in the pan. Bands hold 19 pans in 20; a dot marks the chosen share.",
    )  # fmt: skip
    chart.config, chart.datasets = LOOK, {name: [] for name in ("frame", "curve", "now")}
    return chart


def boil_rows(found: gels.Boiled, share: float) -> dict[str, list]:
    """Rows of `boil_chart`: `found` over `_SHARES` and, last, at the chosen share [% of the weight]."""
    names = ("abv", "abv_low", "abv_high", "kept", "kept_low", "kept_high")
    rows = [
        {"share": round(float(at), 2)}
        | {n: round(float(getattr(found, n)[i]) * (100 if n[0] == "k" else 1), 2) for n in names}
        for i, at in enumerate([*_SHARES, share])
    ]
    now = rows.pop()
    now["abv_told"], now["kept_told"] = _left(found, -1)
    top = max(5, 10 * math.ceil(rows[0]["abv"] / 10))
    return {"frame": [{"kept": 0, "abv": 0}, {"kept": 100, "abv": top}], "curve": rows, "now": [now]}
