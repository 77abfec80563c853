"""The lesson on ice: a drink over ice under sliders, in the glass, and from the freezer. No maths here."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import ipywidgets as w
import numpy as np

from ... import dilution, whatif
from ... import recipe as recipes
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact
from ...kinds import ABV, CONCENTRATION, TEMPERATURE, VOLUME, WARMER
from ...learned import Melting, melting
from ...liquid import Liquid
from ...measured import ICED, OwnFit, own_fits, save_fit
from ...profile import profile
from ...recipe import Recipe
from ...units import read_row
from ..charts.dilution import chill_chart, chill_rows
from ..charts.live import LiveChart, once
from ..parts.bars import bar
from ..parts.dials import DegreeDial, Dial, volume_reach
from ..parts.html import (
    WIDE,
    Html,
    caution_words,
    done_words,
    heading,
    join,
    marked,
    para,
    problem_words,
    quiet,
    table,
    tiles,
)
from ..parts.panel import Lesson, Pictured, draw, fold, group, pick
from ..parts.soon import Soon

MET = {"muddled": "built", "none": "stirred"}  # how a drink that was made so meets ice here
COMPARED = ("stirred", "shaken", "built", "blended")
# Heat capacity of what the drink is chilled in: steel 0.5 and glass 0.8 J/K for each gram. [J/K]
VESSELS = {"no tin counted": 0.0, "steel tin, 300 g": 0.5 * 300, "thin glass, 200 g": 0.8 * 200}
WETNESS = {"by its temperature": None, **{name: name for name in dilution.WETNESS}}
SIZES = {"large (about 50 mm)": "large", "cubes (about 30 mm)": "cubes", "crushed (about 10 mm)": "crushed"}
GLASSES = {"chilled to the drink": True, "at room temperature": False}
FREEZER = -18.0  # °C
MINUTES = (0, 5, 10, 20)
_POINTS = 49
_ROW = "numbers with commas between them, such as"


def panel(folder: str | Path = ".", recipe: Recipe | None = None) -> IcePanel:
    """Ice: how cold, how watery and how strong a drink comes off it, and what happens after.

    Parameters
    ----------
    folder : path
        Working folder: own ingredients, choices and weighings are read from it and saved in it.
    recipe : Recipe, optional
        What to start with; the demo's first drink by default.
    """
    return IcePanel(Path(folder), recipe)


class IcePanel(Pictured, Lesson):
    """One drink over ice. `use` puts a recipe on it; `refresh` recomputes and repaints."""

    plain_name = "a plain mixture"

    def __init__(self, folder: Path, recipe: Recipe | None = None) -> None:
        self.chill: dilution.Chill | None = None
        self.fits, unreadable = own_fits(folder)
        self._kept_pace, self._wetness = (1.0, None), WETNESS
        super().__init__(folder, recipe)
        self._tell(unreadable)

    # --- what is on the page ---------------------------------------------------------------------

    def _build(self, show: Display) -> None:
        self.strength = Dial("Strength before ice", 30, 60, 0.5, "% vol", self.refresh)
        self.volume = Dial("Volume before ice", *volume_reach(90, show), on_change=self.refresh)
        self.sugar = Dial("Sugar before ice", 50, 300, 5, "g/L", self.refresh)
        self.plain_dials = w.VBox([self.strength, self.volume, self.sugar])
        self.start = DegreeDial("Drink before ice", 20, -15, 90, show, self.refresh)

        self.technique = pick("Technique", ICED)
        usual = dilution.MOTIONS["stirred"].seconds
        self.seconds = Dial("Time on the ice", usual, 3 * usual, 1, "s", self.refresh)
        self.ice = Dial("Ice", dilution.USUAL_ICE, 600, 10, "g", self.refresh)
        self.ice_temperature = DegreeDial("Ice temperature", 0, -30, 0, show, self.refresh)
        self.wetness = w.Dropdown(options=list(WETNESS), description="Water on it", layout=WIDE)
        self.size = pick("Ice size", list(SIZES.items()), "cubes")
        self.vessel = pick("Tin or glass", list(VESSELS.items()))
        self.room = DegreeDial("Room", 22, 0, 45, show, self.refresh)
        self.own = w.Checkbox(description="use my own weighings", indent=False, layout=WIDE, disabled=True)
        self.answers, self.rest = [Html() for _ in range(5)], Soon(self._rested)
        self.headline, self.compared, self.sizes, self.glass_table, self.freezer = self.answers
        self.picture, self._shown = w.Box([LiveChart(once(chill_chart, show.temperature))]), show
        self._unit = show.temperature

        self.put_button = self._put_button("Put this ice into the drink", self.put)
        self.glass_ice = Dial("Ice in the glass", 120, 300, 10, "g", self.refresh)
        self.glass_size = pick("Its size", list(SIZES.items()), "large")
        self.glass = pick("Glass", list(GLASSES.items()))
        in_glass = group("dl-row", self.glass_ice, self.glass_size, self.glass)

        self.weighed_seconds = w.Text(description="Times [s]", placeholder="15, 30, 60", layout=WIDE)
        self.weighed_grams = w.Text(description="Gains [g]", placeholder="20, 30, 37", layout=WIDE)
        self.fit_button = w.Button(description="Fit", button_style="primary")
        weighing = w.VBox([self.weighed_seconds, self.weighed_grams, self.fit_button], layout={"max_width": "760px"})
        hint = show.say(Fact("weigh your own ice"))
        self._lay_out(
            [self.choose, self.plain_dials, self.start, self.technique, self.seconds, self.ice,
             self.ice_temperature, self.wetness, self.size, self.vessel, self.room, self.own],
            [self.put_button, self.picture],
            [
                self.compared, self.sizes, group("dl-part", Html(heading("In the glass")), in_glass, self.glass_table),
                self.freezer,
                fold("Weigh your own", Html(para(hint)), weighing),
            ],
            answer=self.headline,
        )  # fmt: skip
        self._answers_to(self.wetness, self.size, self.vessel, self.own, self.glass_size, self.glass)
        self.technique.observe(self._technique_changed, "value")
        self.fit_button.on_click(lambda _: self.fit())

    # --- from the page to a drink ----------------------------------------------------------------

    def _used(self) -> None:
        self._kept_pace = 1.0, None
        self._wetness, self.wetness.options, self.vessel.options = WETNESS, list(WETNESS), list(VESSELS.items())
        self.technique.value = MET.get(self._recipe.technique, self._recipe.technique)
        self._set_usual_time()
        if self.setting.ice is not None:
            self._start_from(self.setting.ice)

    def _start_from(self, ice: dilution.OwnIce) -> None:
        """The ice that the drink has already."""
        if ice.seconds is not None:
            self.seconds.set(ice.seconds)
        self.ice.set(ice.ice)
        for dial, celsius in (
            (self.start, ice.temperature), (self.ice_temperature, ice.ice_temperature), (self.room, ice.room)
        ):  # fmt: skip
            dial.stand_at(celsius)
        self.size.value = ice.size
        known = dict(WETNESS.items())
        if ice.wetness is not None and ice.wetness not in known.values():
            known |= {f"{100 * ice.wetness:.3g} % of it, as in the drink": ice.wetness}
        self._wetness = known
        self.wetness.options = list(known)
        self.wetness.value = next(word for word, value in known.items() if value == ice.wetness)
        if ice.vessel not in VESSELS.values():
            self.vessel.options = [*VESSELS.items(), (f"{ice.vessel:g} J/K, as in the drink", ice.vessel)]
        self.vessel.value = ice.vessel
        self._kept_pace = ice.pace, ice.miss

    def show_case(self, drink: float, strength: float, melt: float) -> None:
        """Stand at the case of a lesson's guess: a plain mixture, stirred until it has taken on so much water [%]."""
        with self._silently():
            self.choose.value = self.choose.options[0][1]
            self.technique.value = "stirred"
            self._set_usual_time()
            self.strength.set(strength)
            self.sugar.set(0.0)
            self.volume.reach(*volume_reach(drink, self.display))
            usual = dilution.MOTIONS["stirred"].seconds
            times = np.arange(1.0, 3 * usual + 1)
            chill = dilution.over_ice(self.liquid(), seconds=times, **self._setting("stirred"))
            self.seconds.set(float(times[np.argmin(np.abs(chill.dilution - melt / 100))]))
        self.refresh()

    def put(self) -> None:
        """Put this ice and time into the drink."""
        if self.plain:
            raise InputError("drink", Told(self.plain_name), "one with a recipe, to go on with it")
        technique, recipe = self.technique.value, self._recipe
        if MET.get(recipe.technique, recipe.technique) != technique:
            recipe = replace(recipe, technique=technique)
        given = self._setting(technique)
        del given["technique"]
        ice = dilution.OwnIce(seconds=float(self.seconds.value), miss=self._miss(technique), **given)
        made = replace(self.setting, recipe=recipe, ice=ice, melt=None)
        self.put_in_hand(made, Fact(
            "iced", seconds=ice.seconds, technique=technique, ice=ice.ice, at=TEMPERATURE(ice.ice_temperature),
            share=_share(self.chill, ice.miss),
        ))  # fmt: skip

    def _technique_changed(self, _) -> None:
        if not self._quiet:
            self._set_usual_time()
            self.refresh()

    def _set_usual_time(self) -> None:
        usual = dilution.MOTIONS[self.technique.value].seconds
        step = 1.0 if usual > 20 else 0.5
        self.seconds.reach(usual, 3 * usual, step, "s")

    def _show_in(self, show: Display) -> None:
        self.volume.reach(*volume_reach(self.volume.value * self._shown.ml, show))
        for dial in (self.start, self.ice_temperature, self.room):
            dial.show_in(show)
        self._shown = show

    def liquid(self) -> Liquid:
        """What meets the ice: the drink without its top, but where that stays on the ice in the glass too."""
        if not self.plain:
            before, top = (part[0] for part in recipes.pour([self._recipe], self.shelf))
            return dilution.iced(before, top if top.mass else None, self.technique.value)
        volume = self.volume.value * self.display.ml
        if volume <= 0:
            raise InputError("volume before ice", Fact("so much", amount=VOLUME(volume)), Fact("above", low=VOLUME(0)))
        return dilution.mixture(volume, self.strength.value, self.sugar.value)

    def _miss(self, technique: str) -> float | None:
        fit = self._fit_of(technique)
        return fit.miss if fit else self._kept_pace[1] if technique == self._own_technique else None

    @property
    def _own_technique(self) -> str | None:
        """What the drink's own pace is of."""
        return None if self.plain else MET.get(self._recipe.technique, self._recipe.technique)

    def _fit_of(self, technique: str) -> OwnFit | None:
        return self.fits.get(technique) if self.own.value else None

    def _setting(self, technique: str) -> dict:
        """What `dilution.over_ice` wants to know, as the page stands."""
        found = self._fit_of(technique)
        cold = self.ice_temperature.celsius
        kept = self._kept_pace[0] if technique == self._own_technique else 1.0
        wetness = self._wetness[self.wetness.value]
        if wetness is None and found and cold == 0:
            wetness = found.wetness
        return {
            "temperature": self.start.celsius, "ice": self.ice.value, "ice_temperature": cold, "wetness": wetness,
            "technique": technique, "size": self.size.value, "vessel": self.vessel.value,
            "room": self.room.celsius, "pace": found.pace if found else kept,
        }  # fmt: skip

    # --- from a drink to the page ----------------------------------------------------------------

    def _answer(self) -> None:
        self.plain_dials.layout.display = None if self.plain else "none"
        with self._silently():
            self.own.disabled = self.technique.value not in self.fits
        show, technique = self.display, self.technique.value
        liquid, setting = self.liquid(), self._setting(technique)
        usual, seconds = dilution.MOTIONS[technique].seconds, self.seconds.value
        now = dilution.over_ice(liquid, seconds=seconds, **setting)
        # The picture reaches three times the usual time, and on in usual times if more is typed.
        end = usual * max(3, -(-seconds // usual))
        curve = dilution.over_ice(liquid, seconds=np.linspace(0, end, _POINTS), **setting)
        before = profile(liquid)
        share = dilution.published(before.abv, technique) if technique in ("stirred", "shaken") else None
        slid = bool(self.sizes.value)  # a slider is not kept waiting for the tables
        self.waits = self.answers[1:] if slid and self.rest.later() else ()
        tables = () if self.waits else self._tables(now)
        # Nothing failed: only now does the page change, in the order of where the eye is.
        self.chill = now
        miss = self._miss(technique)
        rows = chill_rows(
            curve, now, None if share is None else (usual, share), show.degrees,
            show.temperature, usual, miss,
        )  # fmt: skip
        self._draw(rows, show.temperature)
        self.headline.value = _headline(now, liquid, technique, miss, show)
        for place, text in zip(self.answers[1:], tables, strict=False):
            place.value = text

    def _tables(self, now: dilution.Chill) -> tuple[str, ...]:
        """What stands under the first answer, in the order of `answers`."""
        show, liquid, setting = self.display, self.liquid(), self._setting(self.technique.value)
        return (
            _compared(liquid, profile(liquid).abv, {t: self._setting(t) for t in COMPARED}, show),
            _sizes(liquid, now, setting, show),
            self._in_glass(now, show),
            _from_freezer(liquid, show, melting("stirred", self.shelf.learned)),
        )

    def _rested(self) -> None:
        if not self.problem.value:
            with self._problems_shown():
                for place, text in zip(self.answers[1:], self._tables(self.chill), strict=True):
                    place.value = text
                self.waits = ()

    def _samples(self, made) -> dict[str, whatif.Sample]:
        return whatif.over_ice_samples(self.liquid(), self.chill, self.start.celsius, self._miss(self.technique.value))

    def _draw(self, rows: dict[str, list], unit: str) -> None:
        if unit == self._unit:
            draw(self.chart, rows)
        else:  # the unit stands in the words of the axis: a new picture, filled before it is shown
            chart = LiveChart(once(chill_chart, unit))
            chart.put(**rows)
            self.picture.children, self._unit = [chart], unit

    def _in_glass(self, now: dilution.Chill, show: Display) -> str:
        # Fine ice is counted as melted once strained, so the drink starts no colder than it freezes.
        start = max(now.temperature, dilution.freezing_point(now.liquid))
        room = self.room.celsius
        glass = start if self.glass.value else room
        up, rocks = (
            dilution.after_serving(
                now.liquid, start, np.array(MINUTES), ice=grams, size=self.glass_size.value,
                glass_temperature=glass, room=room,
            )
            for grams in (0.0, self.glass_ice.value)
        )  # fmt: skip
        rows = [
            (f"{minutes} min", show.temperature_text(up.temperature[i]), show.text(ABV, up.abv[i]),
             show.temperature_text(rocks.temperature[i]), show.text(ABV, rocks.abv[i]),
             join([bar(rocks.ice_left[i], rocks.ice_left[0]), f"{rocks.ice_left[i]:.0f} g"]))
            for i, minutes in enumerate(MINUTES)
        ]  # fmt: skip
        head = ("After", "up: temperature", "strength", "on the rocks: temperature", "strength", "ice left")
        lost = rocks.abv[0] - rocks.abv[-1]
        told = Fact(
            "glass over time", minutes=MINUTES[-1], start=TEMPERATURE(up.temperature[0]),
            end=TEMPERATURE(up.temperature[-1]), rocks=TEMPERATURE(rocks.temperature[-1]), lost=ABV(lost),
        )  # fmt: skip
        return table(head, rows) + para(show.say(told)) + quiet(show.say(Fact("glass over time by")))

    # --- own weighings ---------------------------------------------------------------------------

    def fit(self) -> None:
        """Refit the technique to the weighings typed in, save them, and chart with them."""
        with self._said():
            technique = self.technique.value
            seconds = read_row(self.weighed_seconds.value, "times", f"{_ROW} 15, 30, 60")
            gained = read_row(self.weighed_grams.value, "gains", f"{_ROW} 20, 30, 37")
            setting = self._setting(technique) | {"wetness": self._wetness[self.wetness.value]}
            del setting["pace"]
            found = dilution.fitted(self.liquid(), seconds, gained, **setting)
            own = OwnFit(
                technique, found.pace, found.wetness, found.miss, tuple(seconds), tuple(gained),
                *self._beside_the_rule(technique, setting | {"pace": found.pace, "wetness": found.wetness}),
            )  # fmt: skip
            drink = "a plain mixture" if self.plain else self._recipe.name
            path = save_fit(self.folder, own, drink=drink, setting=setting)
            self.fits[technique] = own
            with self._silently():
                self.own.disabled, self.own.value = False, True
            self.refresh()
            self.said.value = done_words(self.say(_fitted(own, path.name)))

    def _beside_the_rule(self, technique: str, setting: dict) -> tuple[float | None, float | None]:
        """What the rule melts of this drink, and the fit at the usual time; None where there is no rule. [g]"""
        liquid, usual = self.liquid(), dilution.MOTIONS[technique].seconds
        if technique not in dilution.RULES:
            return None, None
        try:
            rule = dilution.melt_by_rule(liquid, None, technique, "on ice") * liquid.volume() * dilution.WATER
        except InputError:  # stronger than the rule covers
            return None, None
        chill = dilution.over_ice(liquid, seconds=usual, **setting)
        return float(rule), float(chill.dilution * liquid.volume() * dilution.WATER)


# --- words and tables -----------------------------------------------------------------------------------


def _fitted(fit: OwnFit, file: str) -> Fact:
    pace = Fact("ice slower" if fit.pace > 1 else "ice faster", times=fit.pace)
    pace = Fact("ice as usual") if 0.95 < fit.pace < 1.05 else pace
    return Fact("ice fitted", pace=pace, technique=fit.technique, wet=100 * fit.wetness, miss=fit.miss, file=file)


def _share(now: dilution.Chill, miss: float | None = None) -> str:
    around = 100 * dilution.melt_pm(now, miss)
    return f"{100 * now.dilution:.0f} ± {max(around, 1):.0f} %".replace("-", "−")


def _headline(now: dilution.Chill, liquid: Liquid, technique: str, miss: float | None, show: Display) -> str:
    before = profile(liquid)
    water, around = now.dilution * before.volume, dilution.melt_pm(now, miss)
    weak, strong = (profile(dilution.add_melt(liquid, now.dilution + s * around)).abv for s in (1, -1))
    degree, unit = show.temperature_text(now.temperature).split(" ")
    figures = [
        ("Temperature", degree, "", unit),
        ("Dilution (of the drink before ice)", *_share(now, miss).split(" ", 1), ""),
        ("Water from the ice", *show.parts(VOLUME, water, around * before.volume)),
        ("Strength", *show.parts(ABV, now.abv, abs(strong - weak) / 2)),
        ("Ice left", f"{now.ice_left:.0f}", "", "g"),
    ]
    off = Fact("from to", low=WARMER(6.7), high=WARMER(7.8))
    by = Fact("melt by the pace", sure=100 * dilution.MELT_SPREAD, off=off)
    by = by if miss is None else Fact("melt by own weighings")
    behind = Fact(
        "iced figures", seconds=float(now.seconds), technique=technique, volume=VOLUME(before.volume),
        abv=ABV(before.abv), sugar=CONCENTRATION(before.sugar), by=by,
    )  # fmt: skip
    return tiles(figures, quiet(show.say(behind)))


def _compared(liquid: Liquid, abv: float, settings: Mapping[str, dict], show: Display) -> str:
    rows, disagree, most = [], [], 0.0
    for technique, setting in settings.items():
        now = dilution.over_ice(liquid, **setting)
        published = dilution.published(abv, technique)
        word = "no figure at this strength"
        if published is not None:
            within = dilution.agrees(now.dilution, published)
            word = f"{100 * published:.0f} %, {'agree' if within else 'disagree'}"
            if not within:
                disagree.append(technique)
        most = max(most, 1.25 * now.dilution)
        rows.append((now, technique, word))
    rows = [
        (technique, f"{now.seconds:.0f} s",
         join([bar(now.dilution, most, dilution.melt_pm(now)), _share(now)]),
         show.temperature_text(now.temperature), show.text(ABV, now.abv), word)
        for now, technique, word in rows
    ]  # fmt: skip
    head = ("Technique", "time", "dilution", "temperature", "strength", "published")
    by = 100 * dilution.MELT_SPREAD
    told = [Fact("melt figures disagree", techniques=tuple(disagree), by=by)]
    told = told if disagree else [Fact("melt figures agree", by=by)]
    told += [Fact("blended with its ice")] * ("blended" in disagree)
    return join([
        heading("This drink by four techniques, each at its usual time"),
        table(head, rows),
        para(show.say(told)),
        quiet(show.say(Fact("melt figures by"))),
    ])  # fmt: skip


def _sizes(liquid: Liquid, now: dilution.Chill, setting: dict, show: Display) -> str:
    rows, there = [], {}
    for size, over in dilution.ICE_SIZES.items():
        same_time = dilution.over_ice(liquid, seconds=now.seconds, **setting | {"size": size})
        # The way to a temperature takes about as much longer as the pieces are wider; just when, the curve says.
        longer = now.seconds * over / dilution.ICE_SIZES[setting["size"]]
        near = dilution.over_ice(liquid, seconds=longer * np.linspace(0.5, 2, 31), **setting | {"size": size})
        longer = float(np.interp(-now.temperature, -near.temperature, near.seconds))
        there[size] = same_cold = dilution.over_ice(liquid, seconds=longer, **setting | {"size": size})
        rows.append(
            (size, _share(same_time), show.temperature_text(same_time.temperature),
             f"{longer:.0f} s", show.temperature_text(same_cold.temperature), _share(same_cold))
        )  # fmt: skip
    seconds, cold = f"{now.seconds:g} s", show.temperature_text(now.temperature)
    head = ("Ice", f"in {seconds}: dilution", "temperature", f"to {cold}: takes", "temperature", "dilution")
    large, crushed = rows[0], rows[-1]
    told = Fact(
        "ice sizes apart", seconds=float(now.seconds), large=large[1], crushed=crushed[1], large_at=large[2],
        crushed_at=crushed[2],
    )  # fmt: skip
    if large[1] == crushed[1]:
        told = Fact("ice sizes alike", seconds=float(now.seconds), share=large[1])
    least, most = (f"{100 * end(chill.dilution for chill in there.values()):.0f}" for end in (min, max))
    gives = f"{least} %" if least == most else f"{least} to {most} %"
    to_one = Fact("ice sizes to one cold", cold=cold, gives=gives, large=large[3], crushed=crushed[3])
    return join([
        heading("“Bigger ice, less water”: put to the test"),
        table(head, rows),
        para(show.say((told, to_one))),
        quiet(show.say(Fact("ice sizes by"))),
    ])  # fmt: skip


@functools.lru_cache(maxsize=256)
def _weakest(sugar: int) -> str:
    """The weakest mixture that stays liquid, in words and kept: ice does not change it; "" beyond the tables."""
    if sugar > 400:
        return ""
    return f"{dilution.weakest_liquid(FREEZER, sugar):.0f} % vol"


def _from_freezer(liquid: Liquid, show: Display, own: Melting) -> str:
    """`own` is what this bar's stirred drinks have of the rule's melt."""
    title, before = heading("Ready from the freezer"), profile(liquid)
    try:
        share = own.share * dilution.melt_fraction(before.abv, "stirred")
    except InputError as problem:
        return title + problem_words(show.say(problem))
    batch = dilution.add_melt(liquid, share)
    made, point = profile(batch), dilution.freezing_point(batch)
    frozen, spread = dilution.frozen_share(batch, FREEZER), own.spread
    cold, sure = TEMPERATURE(FREEZER), WARMER(1)
    if show.volume == "mL":
        add, per = f"{1000 * share:.0f} ± {1000 * spread * share:.0f} mL", "each litre"
    else:
        add, per = f"{32 * share:.1f} ± {32 * spread * share:.1f} oz", "each quart (32 oz)"
    weakest = _weakest(round(float(made.sugar)))
    edge = Fact("freezer weakest", sugar=CONCENTRATION(made.sugar), cold=cold, weakest=weakest)
    state = Fact("freezer slush", cold=cold, share=100 * frozen) if frozen > 0 else Fact("freezer liquid", cold=cold)
    cautions = [Fact("freezer burst")] * bool(frozen > 0) + [Fact("freezer label")]
    return join([
        title,
        para(marked(show.say(Fact("freezer water", per=per, add=add, abv=ABV(made.abv))))),
        para(show.say((Fact("freezer freezes", point=TEMPERATURE(point), sure=sure), state))),
        *[para(show.say(edge))] * bool(weakest),
        caution_words(map(show.say, cautions)),
        quiet(show.say(Fact("freezer by", own=Fact("melt as measured here") if own.share != 1 else "", sure=sure))),
    ])  # fmt: skip
