"""The lesson on gels: a drink set as a jelly, what it survives, and what boiling takes away. No maths here."""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import ipywidgets as w
import numpy as np

from ... import boiling, gels, logbook, profile, strength, trial, whatif
from ...declared import of_animals, poured_bottles
from ...display import Display
from ...errors import InputError, Told, require
from ...facts import Fact, say
from ...kinds import ABV, MASS, TEMPERATURE, VOLUME
from ...liquid import Liquid
from ...recipe import Recipe
from ...setting import Setting
from ..charts.boiling import MOST_BOILED, SHARES, TOLD, boil_chart, boil_rows, left_text
from ..charts.gels import MOUTH, gel_chart, gel_rows, stands
from ..charts.live import LiveChart, once
from ..parts.dials import DegreeDial, Dial, volume_reach
from ..parts.html import (
    WIDE,
    Html,
    caution_words,
    element,
    heading,
    join,
    marked,
    of_milk,
    para,
    problem_words,
    quiet,
    table,
    tiles,
)
from ..parts.panel import Lesson, Pictured, draw, pick

HOUSE = "Amontillado and tea jelly"  # of the demo
POWDER = "powder, by its Bloom"
OWN, NONE = "own", ""  # a mould of another volume; none


def panel(folder: str | Path = ".", recipe: Recipe | None = None) -> JellyPanel:
    """Gels: how much sets a drink, in which order, how strong each piece is, and on which terrace it stays set.

    Parameters
    ----------
    folder : path
        Working folder: own ingredients and choices are read from it.
    recipe : Recipe, optional
        What to start with; the jelly of the demo by default.
    """
    return JellyPanel(folder, recipe)


class JellyPanel(Pictured, Lesson):
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
        self.volume = Dial("Jelly wanted", *volume_reach(500, show, 3000), on_change=self.refresh)
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
        self.mould_volume = Dial("Mould holds", *volume_reach(40, show, 300), on_change=self.refresh)
        self.place = DegreeDial("Room or terrace", 30, 0, 60, show, self.refresh)
        self.country = pick("Country", strength.countries(), country)

        self.answers = [Html() for _ in range(3)]
        self.headline, self.order, self.words = self.answers
        self.picture, self._shown, self._unit = w.Box([LiveChart(once(gel_chart, show))]), show, show.temperature

        self.set_button = self._put_button("Set this drink", self.put)
        self.beside_button = self._put_button("Put it beside the drink in hand", self.put_beside)
        self.boil_button = self._put_button("Boil this drink", self.put_boiled)
        self.share = Dial("Share boiled off", 10, MOST_BOILED, 1, "% of the weight", self._boil)
        self.boiled, self.boil_picture = Html(), LiveChart(once(boil_chart))
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
             self.gelatin, self.boil_in, self.as_needed, self.water, self.mould, self.mould_volume, self.place],
            [w.HBox([self.set_button, self.beside_button]), self.picture],
            [self.order, self.words, self.more],
            answer=self.headline,
        )  # fmt: skip
        self.more.add_class("dl-fold")
        self.shown_in.add(self.country)
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

    @staticmethod
    def _moulds(show: Display) -> list[tuple[str, str]]:
        known = [(f"{name}: {show.volume_text(ml)}", name) for name, ml in gels.MOULDS.items()]
        return [("none: poured, and cut", NONE), *known, ("one of my own", OWN)]

    def _show_in(self, show: Display) -> None:
        for dial, top in ((self.volume, 3000), (self.mould_volume, 300)):
            dial.reach(*volume_reach(dial.value * self._shown.ml, show, top))
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
        if boil := self.setting.step(boiling.Boil):
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
            self.volume.reach(*volume_reach(whole, self.display, max(3000, 1.5 * whole)))
        if each := self.setting.serve_volume:
            known = next((name for name, ml in gels.MOULDS.items() if ml == each), OWN)
            self.mould.value = known
            self.mould_volume.reach(*volume_reach(each, self.display, 300))

    def show_case(self, gelatin: float, bloom: float, to_bloom: float) -> None:
        """Stand at the case of a lesson's guess: one gelatin for another."""
        self.grams.set(gelatin)
        self.from_bloom.set(bloom)
        self.to_bloom.set(to_bloom)
        self._convert()
        self.more.selected_index = 1

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
            self._ran = self.setting, asked, trial.run(self._counted().before(kind()), pantry=self.shelf, draws=0)
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

    def _samples(self, made: gels.Jelly) -> dict[str, whatif.Sample]:
        agent = made.about.agent
        found = {
            "grams": whatif.sample(f"{agent} to weigh", MASS, made.grams),
            "water": whatif.sample("water to dissolve it in", VOLUME, made.water),
            "abv": whatif.sample("strength of the jelly", ABV, made.abv),
            "alcohol": whatif.sample("alcohol in all of it", MASS, made.alcohol),
        }
        if made.piece_alcohol is not None:
            found["piece"] = whatif.sample("alcohol in a piece", MASS, made.piece_alcohol)
        return found

    def _from_the_drink(self, made: gels.Jelly) -> tuple[gels.Jelly, str]:
        """With an order of work that begins with the drink, and a sentence on what of it is taken."""
        run, show = self._run(), self.display
        iced = run.melt > 0
        done = (*[Fact("with ice water", share=100 * run.melt)] * iced, *(step.name for step in run.steps))
        if not done:
            as_poured = Fact("jelly taken as poured without ice" if self.dry.value else "jelly taken as poured")
            return gels.measured(made, self._recipe, self.shelf), show.say(as_poured)
        first = Fact("measure what was made", drink=VOLUME(made.drink), name=self._recipe.name, done=done)
        taken = show.say(Fact(
            "jelly taken", done=done, often=Fact("jelly mostly without ice") if iced else "",
            milk=of_milk(run.stages[-1].liquid[0], show),
        ))  # fmt: skip
        boiled = any(isinstance(step, boiling.Boil) for step in run.steps)
        made = gels.of_bottles(made, () if boiled else poured_bottles(self._recipe, self.shelf))
        return replace(made, order=(first, *made.order[1:])), taken

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
        said = Fact("set with", agent=step.agent, firmness=step.firmness)
        self.put_in_hand(self._counted().with_step(step), said)

    def put_beside(self) -> None:
        """Put the jelly beside the drink in hand: as much as the page says, one piece a glass."""
        held, made = logbook.in_hand(self.folder, pantry=self._own_shelf), self.made
        self._step(1.0)
        if held is None:
            raise InputError("drink in hand", Told("none"), "one: put it in hand on the bench first")
        if made.pieces is None:
            raise InputError("mould", Told("none"), "one, so that each glass gets a piece")
        factor = made.drink / self.liquid().volume()
        for _ in range(4):  # what papers keep does not grow with the drink
            jelly = self._counted().scaled(factor)
            drink = trial.run(jelly.before(gels.Set()), pantry=self.shelf, draws=0).made.volume
            factor *= made.drink / drink
        jelly = replace(
            jelly.with_step(self._step(drink)), beside=(), serves=made.pieces,
            serve_volume=min(made.piece_volume, made.volume / made.pieces),
        )  # fmt: skip
        others = [other for other in held.setting.beside if other.recipe.name != jelly.recipe.name]
        self.put_in_hand(
            replace(held.setting, beside=(*others, jelly)),
            Fact("pieces go with it", name=jelly.recipe.name, pieces=made.pieces), held.setting,
            ("beside", str(len(others))),
        )  # fmt: skip

    def put_boiled(self) -> None:
        """Boil the drink down as in the open section."""
        if self.plain:
            self._step(1.0)
        require("share boiled off", self.share.value, 0, MOST_BOILED, "% of the weight")
        step = boiling.Boil(self.share.value / 100)
        self.put_in_hand(self.setting.with_step(step), Fact("boiled down", share=self.share.value))

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
            chart = LiveChart(once(gel_chart, show))
            chart.put(**rows)
            self.picture.children, self._unit = [chart], show.temperature

    def _boil(self, _=None) -> None:
        """The open section on boiling, of the drink as chosen."""
        if self.more.selected_index != 0:
            return
        try:
            share = self.share.value
            liquid = self.liquid() if self.plain else self._run(boiling.Boil).stages[-1].liquid[0]
            asked = (liquid.grams.tobytes(), share, self.display)
            if asked == self._boil_asked:  # some other control was moved, and boiling takes a while to work out
                return
            require("share boiled off", share, 0, MOST_BOILED, "% of the weight")
            found = boiling.boil(liquid, np.append(SHARES, share) / 100)
            words = _boiled(found, liquid, share, self.display)
        except InputError as problem:
            self.boiled.value, self._boil_asked = problem_words(self.say(problem)), None
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
            self.converted.value = problem_words(self.say(problem))


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
        (f"Standard drinks {whole}", f"{drinks:.2f}", "", "", made.country),
    ]
    room = Fact("at the room", at=TEMPERATURE(place), stands=stands(made.about, place)[1])
    by = Fact(
        "jelly by", volume=VOLUME(made.volume), share=share, ph=made.ph,
        by=Fact("pH as given" if given else "pH by its acids"),
    )  # fmt: skip
    return tiles(figures, para(show.say(room)), para(taken), quiet(show.say(by)))


def _order(made: gels.Jelly, show: Display) -> str:
    items = (element("li", show.say(one)) for one in made.order)
    return heading("Order of work") + element("ol", *items)


def _words(made: gels.Jelly, show: Display, animals: Sequence[str]) -> str:
    about = made.about
    agent = about.agent.capitalize()
    diet = Fact("jelly diet", agent=agent, origin=about.origin, diet=about.diet)
    if animals and about.diet == "vegan":
        diet = Fact("jelly of animals", agent=agent, origin=about.origin, animals=tuple(animals))
    notes = (para(show.say(one)) for one in made.said)
    return join([
        heading("Good to know"), *notes, para(show.say(diet)),
        quiet(show.say(Fact("gel figures from", agent=about.agent, source=about.source_class))),
        element("ul", *(element("li", part) for part in gels.sources(about)), class_="dl-quiet"),
        quiet(show.say(Fact("moulds by", mouth=TEMPERATURE(MOUTH)))),
    ])  # fmt: skip


def _boiled(found: boiling.Boiled, liquid: Liquid, share: float, show: Display) -> str:
    if liquid.ethanol <= 0:
        return para(show.say(Fact("no alcohol to boil off")))
    before = profile.profile(liquid).abv
    left, kept = left_text(found, -1)
    lines = [(f"{told} %", *left_text(found, int(np.argmin(abs(SHARES - told))))) for told in TOLD]
    caution = ""
    if before >= boiling.FLASH_RANGE.low:
        least, usual = (TEMPERATURE(at(before)) for at in (boiling.flash_least, boiling.flash_point))
        fire = Fact("fire over a pan", abv=ABV(before), usual=usual, least=least)
        caution = caution_words([show.say(fire)])
    told = para(marked(show.say(Fact("boiled off", abv=ABV(before), share=share, left=left, kept=kept))))
    head = "Boiled off, of the weight", "strength left", "alcohol kept"
    behind = quiet(show.say(Fact("boiled by")))
    return join([element("div", told, role="status"), caution, table(head, lines), behind])


def _conversion(grams: float, bloom: float, to_bloom: float) -> str:
    root, linear = (gels.convert_bloom(grams, bloom, to_bloom, rule=r) for r in ("square root", "linear"))
    rows = [("square root, used on this page", f"{root:.2f} g"), ("linear, used in some kitchens", f"{linear:.2f} g")]
    sheets = [
        (f"{grade}, about {its:.0f} Bloom, {each:g} g each", f"{gels.sheets(grams, grade, bloom=bloom):.1f}")
        for grade, (its, each) in gels.SHEETS.items()
    ]
    apart = Fact("Blooms differ", by=100 * abs(linear / root - 1)) if root and linear != root else ""
    return join([
        para(say(Fact("Blooms", grams=grams, bloom=bloom, to_bloom=to_bloom))),
        table(("Way", "grams"), rows),
        para(say(Fact("Bloom tables", apart=apart))),
        table(("Or in sheets, by the square root", "sheets"), sheets),
        quiet(say(Fact("sheets by"))),
    ])  # fmt: skip


# --- charts -----------------------------------------------------------------------------------------------
