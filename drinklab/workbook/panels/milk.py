"""The lesson on clearing: a drink washed with milk, the filter's forecast, and the day. No maths here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import ipywidgets as w
import numpy as np

from ... import logbook, steps, strength, trial
from ... import milk as dairy
from ...display import Display
from ...errors import InputError, require
from ...facts import Fact
from ...filtering import Filter
from ...kinds import ABV, CONCENTRATION, VOLUME
from ...liquid import Liquid
from ...milk import MilkWash, Washed, milk_wash
from ...physics import blocking
from ...recipe import Pour, Recipe
from ...setting import Setting
from ...stage import Stage
from ..charts.live import LiveChart, once
from ..charts.milk import wash_chart, wash_rows
from ..comms import tell
from ..parts.dials import Dial, VolumeDial
from ..parts.hand import SOON
from ..parts.html import WIDE, Html, bold, done_words, element, heading, join, para, problem_words, quiet, table, tiles
from ..parts.panel import Lesson, Pictured, draw, is_batch, pick
from ..parts.soon import Soon

SHARES = (0.05, 1.0)  # of the dial and the chart [mL/mL]
PAPERS = (1, 2, 3, 4, 6, 8, 12)
PRACTICE, TYPED = "common practice", "typed"
_DRAWS, _CURVE_DRAWS = 200, 100
# As few as a smooth curve needs: each costs a hundred washes.
_CURVE = np.array([0.05, 0.1, 0.16, 0.24, 0.34, 0.45, 0.58, 0.72, 0.86, 1.0])
_HEAD = ("Stage", "Volume", "Strength", "Sugar", "Acid", "pH", "Stays behind")


def panel(folder: str | Path = ".", recipe: Recipe | None = None) -> WashPanel:
    """Milk wash: whether the milk curdles, what runs clear and what stays behind.

    Parameters
    ----------
    folder : path
        Working folder: own ingredients, saved trials and choices are read from it; trials are saved in it.
    recipe : Recipe, optional
        What to start with; the demo's drink that is to be cleared by default.
    """
    return WashPanel(folder, recipe)


# --- milk -----------------------------------------------------------------------------------------------


class _Seen:
    """A milk wash in a trial that keeps what it found, for the page."""

    def __init__(self, step: MilkWash) -> None:
        self.step, self.name = step, step.name

    def act(self, liquid: Liquid, draw: steps.Draw = steps.estimate) -> steps.Outcome:
        self.washed = self.step.wash(liquid, draw)
        return self.step.outcome(self.washed)


class WashPanel(Pictured, Lesson):
    """A drink washed with milk. `use` puts a recipe on it; `refresh` recomputes and repaints."""

    def __init__(self, folder: str | Path, recipe: Recipe | None = None) -> None:
        self.washed: Washed | None = None
        self.measured: dict[str, float] = {}  # buffering of your own milks [mmol/L]
        self._curve: tuple = (None, None)
        self._kept, self._paper = MilkWash(), Filter()  # what the drink has of these
        self._found = self._began = 0.0
        self._told_others: list[Callable[[], None]] = []
        super().__init__(folder, recipe)

    def _first(self) -> Recipe | Setting:
        return self._named(("demo", "Clear Line"))

    def _in_hand(self):
        """The drink, and the milk that it is washed with here, whatever else of the page is refused."""
        wash = replace(self._kept, milk=self.milk.value, way=self.way.value)
        return [("", self.setting.with_step(wash).brings(self.shelf))]

    def refresh(self, _=None) -> None:
        """Recompute and repaint, and tell the panels that go on from here, a problem too."""
        super().refresh()
        if not self._quiet:
            for follow in self._told_others:
                follow()

    # --- what is on the page ---------------------------------------------------------------------

    def _build(self, show: Display) -> None:
        changed = self.refresh
        self.batch = VolumeDial("Drink to be washed", 1000, 5000, 50, show, changed, least=10)
        self.share = Dial("Milk, to 1 of drink", 0.25, SHARES[1], 0.01, "parts", changed, SHARES[0])
        self.ratio = Html()
        self.milk = pick("Milk", list(dairy.milks()))
        self.way = pick("Way", list(dairy.WASHINGS))
        self.lemon = VolumeDial("More lemon juice", 0, 200, 5, show, changed)
        self.citric = Dial("Citric acid", 0, 15, 0.5, "g", changed)
        self.water = VolumeDial("Water", 0, 1000, 10, show, changed)
        self.own = w.Checkbox(description="use my own milk's figure", indent=False, layout=WIDE, disabled=True)
        self.was_measured = w.Checkbox(description="I have measured what ran off", indent=False, layout=WIDE)
        self.measured_yield = VolumeDial("Clear drink collected", 1000, 5000, 10, show, changed)
        self.measured_yield.layout.display = "none"
        self.papers = pick("Papers", PAPERS)
        self.serve = VolumeDial("One serve", 150, 300, 5, show, changed, least=1)
        self.answers = [Html() for _ in range(3)]
        self.headline, self.words, self.stages = self.answers
        self.picture, self._shown = w.Box([LiveChart(once(wash_chart, show))]), show
        self.put_button = self._put_button("Put this wash into the drink", self.put)
        self.ice_water = w.Button(description="Add the water that ice would bring", layout={"width": "auto"})
        self.save_button = w.Button(description="Save the trial")

        self.test_acid = Dial("Citric acid", 5, 20, 0.1, "g", self._hint_test)
        self.test_water = VolumeDial("in water", 250, 1000, 10, show, self._hint_test, least=1)
        self.test_milk = VolumeDial("and milk", 750, 2000, 10, show, self._hint_test, least=1)
        self.test_ph = Dial("pH by the meter", 4.7, 6.2, 0.01, "", self._hint_test, 3.0)
        self.calibrate_button, self.calibrated = w.Button(description="Work it out"), Html()
        hint = Html(para(show.say(Fact("calibrate a milk"))))
        form = [hint, self.test_acid, self.test_water, self.test_milk, self.test_ph, self.calibrate_button,
                self.calibrated]  # fmt: skip
        self.more = w.Accordion(
            [w.VBox(form), Html(_tannin_table())],
            titles=["Your own milk, by a pH meter", "What is known of tannin"],
            selected_index=None,
        )
        self.more.add_class("dl-fold")
        self._lay_out(
            [self.choose, self.batch, self.share, self.ratio, self.milk, self.way, self.own,
             Html(heading("Added to the drink")), self.lemon, self.citric, self.water,
             Html(heading("Afterwards")), self.was_measured, self.measured_yield, self.papers, self.serve,],
            [w.HBox([self.put_button, self.save_button]), self.picture],
            [w.VBox([self.words, self.ice_water]), self.stages, self.more],
            answer=self.headline,
        )  # fmt: skip
        self.was_measured.observe(self._measured_ticked, "value")
        self.milk.observe(self._milk_changed, "value")
        self._answers_to(self.own, self.papers, self.way)
        self.save_button.on_click(lambda _: self.save())
        self.ice_water.on_click(lambda _: self._add_ice_water())
        self.calibrate_button.on_click(lambda _: self.calibrate())

    def _show_in(self, show: Display) -> None:
        volumes = (self.batch, self.lemon, self.water, self.measured_yield, self.serve, self.test_water, self.test_milk)
        for dial in volumes:
            dial.show_in(show)

    def _milk_changed(self, _) -> None:
        with self._silently():
            self.own.disabled = self.milk.value not in self.measured
        self.refresh()

    def _measured_ticked(self, change) -> None:
        self.measured_yield.layout.display = None if change["new"] else "none"
        if change["new"] and self.washed:  # from where the estimate stood
            self.measured_yield.stand_at(self.washed.volume)
        self.refresh()

    # --- from a drink to the page, and back --------------------------------------------------------

    def _used(self) -> None:
        """The volume of a batch, and the wash and filter that the drink has already."""
        drink = self.setting
        self._kept, self._paper = drink.step(MilkWash) or MilkWash(), drink.step(Filter) or Filter()
        for dial in (self.lemon, self.citric, self.water):
            dial.set(0)
        try:
            self._found = self._volume_of(drink.before(self._kept))
        except InputError:  # the refresh that follows says so
            self._found = 0.0
            return
        batch = drink.step(MilkWash) or is_batch(drink, self._found)
        self._began = self._found if batch else 1000.0
        self.batch.reach_to(self._began)
        self._start_from(drink)

    def _start_from(self, drink: Setting) -> None:
        wash = self._kept
        if drink.step(MilkWash):
            self.milk.value, self.way.value = wash.milk, wash.way
            share = wash.share if wash.amount is None else wash.amount / self._found
            self.share.set(dairy.USUAL_SHARE[0] if share is None else share)
            if wash.buffering is not None:
                self.measured[wash.milk] = wash.buffering
            self.own.value = wash.buffering is not None
            self.was_measured.value = wash.measured_yield is not None
            if wash.measured_yield is not None:
                self.measured_yield.reach_to(wash.measured_yield)
        self.own.disabled = self.milk.value not in self.measured
        self.measured_yield.layout.display = None if self.was_measured.value else "none"
        if self._paper.papers not in PAPERS:
            self.papers.options = sorted({*PAPERS, self._paper.papers})
        self.papers.value = self._paper.papers
        each = drink.serve_volume
        if each is None and drink.serves > 1:
            each = trial.run(drink, pantry=self.shelf, draws=0).served.profile.volume
        elif each is None and drink.step(MilkWash):  # one drink, washed whole, may not fill a usual glass
            cleared = drink.with_step(self._paper)
            last = max(i for i, step in enumerate(cleared.steps) if isinstance(step, (MilkWash, Filter)))
            each = min(self._volume_of(replace(cleared, steps=cleared.steps[: last + 1], beside=())), 150.0)
        self.serve.stand_at(each or 150.0)
        self._each = self.serve.value

    def _volume_of(self, drink: Setting) -> float:
        """What is made of it. [mL]"""
        return trial.run(drink, pantry=self.shelf, draws=0).made.volume

    def whole(self) -> Setting:
        """The drink as the page stands: its volume, what is added, milk and filter, and all that comes after."""
        ml, drink = self.batch.ml, self.setting
        if self._found and abs(ml / self._found - 1) > 1e-9:
            drink = drink.scaled(ml / self._found)
        require("citric acid", self.citric.value, 0, 1000, "g")
        iced = drink.recipe.technique != "none"  # the ice is not to meet what is added after it
        added = [Pour("lemon_juice", self.lemon.ml, after=iced), Pour("water", self.water.ml, after=iced)]
        _, a_gram = Pour("citric_acid", 0).measure(self.shelf, self.display)
        added.append(Pour("citric_acid", self.citric.value * a_gram, after=iced))
        pours = (*drink.recipe.pours, *(p for p in added if p.amount > 0))
        drink = replace(drink, recipe=replace(drink.recipe, pours=pours))
        return drink.with_step(self.step()).with_step(replace(self._paper, papers=self.papers.value))

    def step(self) -> MilkWash:
        """The wash as the page stands."""
        require("milk, to 1 of drink", self.share.value, *SHARES, "parts")
        measured = self.measured_yield.ml if self.was_measured.value else None
        return replace(
            self._kept, milk=self.milk.value, way=self.way.value, share=self.share.value, amount=None,
            buffering=self._buffering, measured_yield=measured, hold_up=None if measured else self._kept.hold_up,
        )  # fmt: skip

    @property
    def _buffering(self) -> float | None:
        return self.measured.get(self.milk.value) if self.own.value else None

    def _glasses(self, clear: float) -> dict:
        """Glasses and what is in each, of so much clear drink: as they were, or as the page says. [mL]"""
        untouched = self.serve.value == self._each and self.batch.ml == self._began
        if untouched and (self.setting.serves > 1 or self.setting.serve_volume):
            return {}
        return {"serves": max(int(clear / self.serve.ml), 1), "serve_volume": self.serve.ml}

    # --- from a drink to the page ----------------------------------------------------------------

    def _answer(self) -> trial.Trial:
        show, whole, step = self.display, self.whole(), self.step()
        seen, filtered = _Seen(step), 1 + max(i for i, s in enumerate(whole.steps) if isinstance(s, (MilkWash, Filter)))
        done = tuple(seen if s == step else s for s in whole.steps[:filtered])
        now = trial.run(
            replace(whole, steps=done, beside=(), serves=1, serve_volume=self.serve.ml), pantry=self.shelf,
            draws=whole.draws or _DRAWS,
        )  # fmt: skip
        washed = seen.washed.best()
        mixed = now.stages[len(now.stages) - 2 - len(done) + done.index(seen)]
        missing = self._missing_water(now, mixed)
        # Nothing failed: only now does the page change, in the order of where the eye is.
        self.washed, self.made, self._missing = washed, now, missing
        self.headline.value = _wash_headline(now, mixed, washed, show)
        last = self._curve[1]
        if last is not None:  # on the last curve, until this drink's own is worked out
            self._draw(wash_rows(last, washed, mixed.profile.volume, show), show)
        tell()
        curve = self._over_shares(whole.before(step), mixed.liquid, washed)
        if curve is not last:
            self._draw(wash_rows(curve, washed, mixed.profile.volume, show), show)
            tell()
        share = self.share.value
        self.ratio.value = quiet(show.say(Fact("milk to drink", parts=1 / share, amount=VOLUME(washed.amount))))
        self.words.value = self._told(washed, missing)
        self.ice_water.layout.display = None if missing else "none"
        self.stages.value = _stage_table(now, seen, washed, show)
        return now

    def _missing_water(self, now: trial.Trial, mixed: Stage) -> float:
        """What stirring on ice would have brought, where the drink has met neither ice nor water. [mL]"""
        wash = next(step for step in now.steps if isinstance(step, _Seen))
        return (trial.water_missing(now, wash) or 0.0) * mixed.profile.volume

    def _add_ice_water(self) -> None:
        self.water.stand_at(self._missing)
        self.refresh()

    def _over_shares(self, drink: Setting, mixed: Liquid, washed: Washed) -> Washed:
        """The wash over the milk of the axis; worked out again only when something else than the milk has moved."""
        hold_up = washed.hold_up if self.was_measured.value else None
        key = drink, self.milk.value, self.way.value, self._buffering, hold_up
        if self._curve[0] != key:
            found = milk_wash(
                mixed[: _CURVE_DRAWS + 1], self.milk.value, way=self.way.value, share=_CURVE[:, None],
                buffering=self._buffering, hold_up=hold_up, draw=steps.draws(_CURVE_DRAWS, 1),
            ).best()  # fmt: skip
            self._curve = key, found
        return self._curve[1]

    def _draw(self, rows: dict[str, list], show: Display) -> None:
        if show.volume == self._shown.volume:
            draw(self.chart, rows)
        else:  # the unit stands in the words of the axis: a new picture, filled before it is shown
            chart = LiveChart(once(wash_chart, show))
            chart.put(**rows)
            self.picture.children, self._shown = [chart], show

    def _told(self, washed: Washed, missing: float) -> str:
        top = [p.bottle(self.shelf).name for p in self._recipe.pours if p.after]
        practice = (dairy.PRACTICE[0], washed.way.order, dairy.PRACTICE[2])
        said = [*washed.said(), *practice, Fact("milk stays")]
        if top:
            said.insert(0, Fact("top is washed", top=tuple(top)))
        if missing:
            said.insert(0, Fact("ice water is missing", water=VOLUME(missing)))
        by = (
            Fact("milk of your own binds", binds=_bound(washed.buffering)) if self._buffering
            else _bound(washed.buffering, washed.kind.buffering_pm)
        )  # fmt: skip
        way = washed.way
        behind = Fact("wash by", by=by, holds=way.hold_up, factor=way.hold_up_factor, source=way.source)
        return join([heading("What happens"), *(para(self.say(one)) for one in said), quiet(self.say(behind))])

    # --- what a hand asks for ----------------------------------------------------------------------

    def _hint_test(self, _=None) -> None:
        self.calibrated.value = ""

    def calibrate(self) -> None:
        """Work out this milk's own buffering, and use it."""
        milk = self.milk.value
        try:
            require("citric acid of the test", self.test_acid.value, 0.1, 1000, "g")
            known = strength.spirit(self.test_water.ml, 0) + Liquid.of(citric=self.test_acid.value)
            found = dairy.calibrate(known, self.test_ph.value, milk, amount=self.test_milk.ml)
        except InputError as problem:
            self.calibrated.value = problem_words(self.say(problem))
            return
        usual = dairy.milks()[milk]
        self.measured[milk] = found
        with self._silently():
            self.own.disabled, self.own.value = False, True
        self.refresh()
        binds = _bound(usual.buffering, usual.buffering_pm)
        self.calibrated.value = done_words(self.say(Fact("milk calibrated", milk=milk, own=_bound(found), usual=binds)))

    def to_keep(self) -> Setting:
        """The drink as the page stands, shared out into glasses."""
        return replace(self.whole(), **self._glasses(self.made.stages[-2].profile.volume))

    def put(self) -> None:
        """Put milk, filter and what is added into the drink, at this volume."""
        made = self.to_keep()
        self.put_in_hand(made, Fact(
            "washed with", milk=VOLUME(self.washed.amount), kind=self.milk.value, papers=papers(self.papers.value),
            drink=VOLUME(self.batch.ml), glasses=_glasses(made.serves),
        ))  # fmt: skip

    def save(self) -> None:
        """Save the trial as it stands, under a new name."""
        with self._said():
            self._mended()
            path = logbook.save(trial.run(self.to_keep(), pantry=self.shelf), self.folder, display=self.display)
            file = str(path.relative_to(self.folder))
            self.said.value = done_words(self.say(Fact("wash saved", file=file)))


class AfterWash(Lesson):
    """A panel that goes on from a milk wash: drink, volume, papers and units are its, and asked there alone."""

    def __init__(self, folder: str | Path, wash: WashPanel | None) -> None:
        self.wash, self._later = wash, Soon(self._go_on, SOON)
        super().__init__(folder if wash is None else wash.folder, None if wash is None else wash.setting)
        if wash is not None:
            self.shown_in.layout.display = "none"
            wash._told_others.append(self._soon)
            self._go_on()

    def _follow(self, held) -> None:
        if self.wash is None:
            super()._follow(held)

    def _in_hand(self):
        return super()._in_hand() if self.wash is None else self.wash._in_hand()

    def _soon(self) -> None:
        """A moment later where the page is live: the slider is not kept waiting."""
        if not (self._later.waiting or self._later.later()):
            self._go_on()

    def _go_on(self) -> None:
        if self.wash.problem.value or self.wash.washed is None:
            self._declare(None)  # what is in the drink does not wait until it is mended
            return
        with self._silently():
            self.volume_unit.value, self.temperature_unit.value = (
                self.wash.volume_unit.value, self.wash.temperature_unit.value
            )  # fmt: skip
            self._show_in(self.display)
        self.shelf = self.wash.shelf
        self.use(self.wash.whole())

    def put_in_hand(self, setting: Setting, said: Fact, of=None, show=None) -> None:
        """By the wash, if there is one: its page then shows the drink, and this one goes on from it."""
        if self.wash is None:
            super().put_in_hand(setting, said, of, show)
        else:
            self.wash.put_in_hand(setting, said)
            self.said.value = self.wash.said.value

    def _asked_here(self, *controls: w.Widget) -> list[w.Widget]:
        """Those controls, unless the wash has them."""
        return [] if self.wash is not None else list(controls)

    def to_filter(self) -> float:
        """What is to be filtered: what the wash gives, or the drink as it is before its filter. [mL]"""
        if self.wash is not None and self.wash.washed is not None:
            return self.wash.washed.volume
        drink = self.setting.before(Filter())
        made = trial.run(drink, pantry=self.shelf, draws=0).made.volume
        return made if is_batch(self.setting, made) else blocking.USUAL_VOLUME * self.usual

    def _papers(self) -> int:
        if self.wash is not None:
            return self.wash.papers.value
        paper = self.setting.step(Filter)
        return paper.papers if paper else self.usual

    def _head_words(self):
        if self.wash is None:
            return super()._head_words()
        rest = Fact("to be filtered", volume=VOLUME(self.to_filter()), papers=papers(self._papers()))
        return para(bold(f"As washed above: {self._recipe.name}"), self.say(rest))


def _curdles(washed: Washed) -> str:
    if washed.complete >= 0.995:
        return "whole" if washed.ph_high <= washed.way.curdles else "whole, but close"
    return f"in part, {100 * washed.complete:.0f} %" if washed.complete > 0.005 else "not at all"


def _range_tile(word: str, low: float, middle: float, high: float, show: Display) -> tuple[str, str, str, str]:
    number, _, unit = show.parts(VOLUME, middle)
    return word, number, "", f"{unit} ({show.parts(VOLUME, low)[0]} to {show.parts(VOLUME, high)[0]})"


def _glasses(count: int) -> Fact:
    return Fact("a glass") if count == 1 else Fact("glasses", count=count)


def papers(count: int) -> Fact:
    """So many papers of a filter."""
    return Fact("papers", count=count) if count > 1 else Fact("a paper")


def _wash_headline(now: trial.Trial, mixed: Stage, washed: Washed, show: Display) -> str:
    clear = now.stages[-2]
    out = washed.volume_low, washed.volume, washed.volume_high
    whole = washed.complete >= 0.995
    figures = [
        ("pH with the milk in", f"{washed.ph:.1f}", f"({washed.ph_low:.1f} to {washed.ph_high:.1f})", ""),
        ("Curdles", _curdles(washed), "", ""),
        _range_tile("Clear drink collected" if whole else "Runs off, milky", *out, show),
        ("After the paper", *show.parts(VOLUME, clear.profile.volume)),
        *((word, *show.parts(kind, getattr(clear.profile, figure), clear.spread(figure)))
          for word, kind, figure in (("Strength", ABV, "abv"), ("Sugar, with lactose", CONCENTRATION, "sugar"),
                                     ("Acid", CONCENTRATION, "acid"))),
        ("Lactose", *show.parts(CONCENTRATION, washed.lactose)),
    ]  # fmt: skip
    mixed = mixed.profile
    before = Fact(
        "washed figures", volume=VOLUME(mixed.volume), abv=ABV(mixed.abv), sugar=CONCENTRATION(mixed.sugar),
        acid=CONCENTRATION(mixed.acid),
    )  # fmt: skip
    return tiles(figures, quiet(show.say(before)))


def _stage_table(now: trial.Trial, seen: _Seen, washed: Washed, show: Display) -> str:
    first = len(now.stages) - 1 - len(now.steps)
    span, rows, after = f"{washed.ph:.1f} ({washed.ph_low:.1f} to {washed.ph_high:.1f})", [], False
    for i, stage in enumerate(now.stages):
        step, behind = now.steps[i - first] if first <= i < len(now.stages) - 1 else None, ""
        if step is seen:
            behind = f"curd, {washed.curd.mass:.0f} g, with {100 * washed.lost:.0f} % of the liquid"
        elif isinstance(step, Filter):
            paper = round(step.act(now.stages[i - 1].liquid[0]).left.volume(), 6)
            behind = f"about {show.volume_text(paper)} in the paper"
        after |= step is seen
        figures = (VOLUME, "volume"), (ABV, "abv"), (CONCENTRATION, "sugar"), (CONCENTRATION, "acid")
        rows.append((
            stage.name,
            *(show.text(kind, getattr(stage.profile, name), stage.spread(name)) for kind, name in figures),
            span if after else show.ph_text(stage.ph), behind,
        ))  # fmt: skip
    behind = show.say(Fact("wash stages by", tool=now.tool))
    return heading("Stage by stage") + table(_HEAD, rows) + quiet(behind)


def _tannin_table() -> str:
    rows = [
        (wrapped(what), f"{100 * low:.0f} %" if low == high else f"{100 * low:.0f} to {100 * high:.0f} %",
         wrapped(source))
        for what, low, high, source in dairy.POLYPHENOLS
    ]  # fmt: skip
    shown = table(("Measured", "taken by protein", "source"), rows)
    return para(dairy.TANNIN.text) + shown + quiet(Fact("not of drinks").text)


def wrapped(text: str, letters: int = 46) -> str:
    """Words of a table cell, in lines of so many letters."""
    return element("div", text, style=f"white-space:normal;max-width:{letters}ch;text-align:left")


# --- logs as text and as files --------------------------------------------------------------------------


def _bound(mmol: float, pm: float | None = None) -> Fact:
    """What a litre of milk binds, as a weight that a bar can think of, with the count behind it."""
    grams = dairy.as_citric(mmol)
    if pm is None:
        return Fact("milk binds", grams=grams, mmol=mmol)
    return Fact("milk binds about", grams=grams, pm=dairy.as_citric(pm), mmol=mmol, mmol_pm=pm)
