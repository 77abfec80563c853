"""The lesson on balance: what moves a drink, a plane of two amounts, A against B. No maths here."""

from __future__ import annotations

import contextlib
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import ipywidgets as w
import numpy as np

from ... import balance, dilution, profile, trial, whatif
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact
from ...kinds import CONCENTRATION, RATIO, Kind
from ...profile import AXES, KINDS
from ...recipe import SERVES, TECHNIQUES, Recipe
from ...setting import Setting, as_setting
from ...stage import Stage
from ..charts.balance import (
    MOST,
    effect_rows,
    effect_words,
    effects_chart,
    nice_top,
    plane_chart,
    plane_rows,
)
from ..charts.live import LiveChart, once
from ..comms import tell
from ..parts.dials import Pours
from ..parts.html import WIDE, Html, bold, element, heading, join, marked, para, quiet, table, tiles
from ..parts.links import notebook
from ..parts.panel import Lesson, draw, pick

SHOWN = ("abv", "sugar", "acid", "sugar_to_acid", "volume")
MEASURES = {
    "¼ oz (7.4 mL)": "0.25 oz", "½ oz (14.8 mL)": "0.5 oz", "5 mL (a barspoon)": "1 barspoon", "10 mL": "10 mL",
    "a dash (0.9 mL)": "1 dash",
}  # fmt: skip
ALL = "all the classics"
POINTS = 61  # of the plane, on each axis
_TASTED = 100  # random drinks that sweetness and sourness are worked out for


def panel(folder: str | Path = ".", recipe: Recipe | None = None) -> DrinkPanel:
    """What moves a drink most, how sour and sweet it is, and what chance does to it.

    Parameters
    ----------
    folder : path
        Working folder: own ingredients and choices are read from it.
    recipe : Recipe, optional
        What to start with; the demo's first drink by default.
    """
    return DrinkPanel(folder, recipe)


def sweep(folder: str | Path = ".", recipe: Recipe | None = None) -> SweepPanel:
    """Two amounts of a drink at once: one figure as lines over the plane of both. Arguments as of `drink`."""
    return SweepPanel(folder, recipe)


def versus(folder: str | Path = ".", a: Recipe | None = None, b: Recipe | None = None) -> VersusPanel:
    """A against B, figure by figure, and which differences outlast pouring error. Arguments as of `drink`."""
    return VersusPanel(folder, a, b)


class _Tuned(Lesson):
    """A drink under dials: one a pour, its technique and its serve."""

    def _build_drink(self, show: Display) -> list[w.Widget]:
        self.pours = Pours(self.refresh)
        self.technique, self.serve = pick("Technique", TECHNIQUES), pick("Served", SERVES)
        self._answers_to(self.technique, self.serve)
        return [self.choose, self.pours, self.technique, self.serve]

    def _build_band(self) -> w.Dropdown:
        # A family of a few drinks has no band.
        counts = Counter(self.known.families)
        listed = [f for f, n in counts.items() if n >= whatif.LEAST_FAMILY and f != whatif.NO_FAMILY]
        self.band = pick("Band", [ALL, *listed])
        self._answers_to(self.band)
        return self.band

    def _used(self) -> None:
        self.pours.use(self._recipe, self.shelf, self.display)
        self.technique.value, self.serve.value = self._recipe.technique, self._recipe.serve
        if hasattr(self, "tool"):
            self.tool.value = self.setting.tool
        if hasattr(self, "band"):
            self.band.value = self._recipe.family if self._recipe.family in self.band.options else ALL

    def _show_in(self, show: Display) -> None:
        self.pours.show_in(show)

    def recipe(self) -> Recipe:
        """The drink as the page stands."""
        return replace(self.pours.recipe(), technique=self.technique.value, serve=self.serve.value)

    def drink(self) -> Setting:
        """That, with its ice, its later steps and what goes with it."""
        tool = self.tool.value if hasattr(self, "tool") else self.setting.tool
        return replace(self.setting, recipe=self.recipe(), tool=tool)

    def _in_hand(self):
        try:
            return [("", self.drink().brings(self.shelf))]
        except InputError:  # the dials say nothing that can be poured: the drink as it was chosen
            return super()._in_hand()

    def limits(self) -> dict[str, tuple[float, float]]:
        """The band that is chosen."""
        return whatif.band(None if self.band.value == ALL else self.band.value, classics=self.known)

    def _band(self, limits: Mapping, show: Display) -> Fact:
        ends = (f"{profile.WORDS[f]} {_between(KINDS[f], *pair, show)}" for f, pair in limits.items())
        return Fact("band", band=self.band.value, ends=tuple(ends))


# --- one drink -------------------------------------------------------------------------------------------


class DrinkPanel(_Tuned):
    """One drink: what moves it, its taste, chance. `use` puts a recipe on it; `refresh` recomputes and repaints."""

    def _build(self, show: Display) -> None:
        controls = self._build_drink(show)
        self.measure = pick("One step", list(MEASURES))
        self.tool = pick("Measured by", trial.TOOLS)
        self.chance = w.Checkbox(value=True, description="show what chance does", indent=False, layout=WIDE)
        self.answers = [Html() for _ in range(4)]
        self.figures, self.moves, self.moved, self.made = self.answers
        self.chart = LiveChart(once(effects_chart))
        self._lay_out(
            [*controls, self.measure, self.tool, self._build_band(), self.chance],
            [self.moves, self.chart, self.moved],
            [self.made],
            answer=self.figures,
        )  # fmt: skip
        self._answers_to(self.measure, self.tool, self.chance)

    def show_case(self, syrup: float, before: float, melt: float) -> None:
        """Stand at the case of a lesson's guess: a sour with so much syrup and melt water [%]."""
        lemon = 1.5 * syrup
        pours = f"{before - syrup - lemon:g} mL gin\n{lemon:g} mL lemon juice\n{syrup:g} mL simple syrup"
        sour = Recipe.parse(pours, name="The sour of the guess", technique="shaken")
        self.use(Setting(sour, melt=melt / 100))

    def _answer(self) -> None:
        drink, show = self.drink(), self.display
        run = trial.run(drink, pantry=self.shelf)
        effects = whatif.sensitivity(drink, MEASURES[self.measure.value], pantry=self.shelf, classics=self.known)
        figures, limits = self._figures(run, show), self.limits()
        # Nothing failed: only now does the page change, first what is looked at.
        draw(self.chart, effect_rows(effects, show))
        self.figures.value, self.moves.value = figures, _moves_words(self.measure.value)
        self.moved.value = _moved_words(effects, show)
        tell()
        self.made.value = "" if not self.chance.value else self._chance(
            whatif.variation(drink, trial.DRAWS, pantry=self.shelf, limits=limits), show
        )  # fmt: skip
        return run

    def _figures(self, run: trial.Trial, show: Display) -> str:
        stage, tasted = run.served, run.served.liquid[: _TASTED + 1]
        ph = show.ph_text(stage.ph).partition(" ")
        sour = [("pH", ph[0] or "not known", ph[2], "")]

        def about(word: str, found: np.ndarray, own: float = 0.0) -> None:
            # Half-width that holds 19 in 20: the random drinks' and the calculation's own; not known of none drawn.
            around = float(np.hypot(2 * found[1:].std(), 2 * own)) if found.size > 1 else np.nan
            sour.append((word, *show.parts(CONCENTRATION, found[0], around)))

        about("Sourness: titratable, as citric", balance.titratable(tasted))
        for degrees in (balance.COLD, balance.WARM):
            own = balance.sweetness_pm(tasted[0], degrees)
            word = f"Sweetness at {show.temperature_text(degrees)}, as sucrose"
            about(word, balance.sweetness(tasted, degrees), own)
        sure = Fact("taste is sure" if tasted[1:].mass.size else "taste drawn of none")
        return join([
            tiles(figure_tiles(stage, show)),
            heading("Sour and sweet, side by side: estimates"),
            tiles(sour, quiet(show.say(Fact("taste by", sure=sure)))),
        ])  # fmt: skip

    def _chance(self, made: whatif.Variation, show: Display) -> str:
        rows = []
        for figure in whatif.MOVED:
            kind = KINDS[figure]
            between = _between(kind, getattr(made.low, figure), getattr(made.high, figure), show)
            inside = f"{100 * made.inside[figure]:.0f} %" if figure in made.inside else ""
            parts = made.shares[figure]
            shares = [f"{100 * parts[s]:.0f} %" if any(parts.values()) else "" for s in parts]
            rows.append((profile.TITLES[figure], between, inside, *shares))
        head = (
            "Figure",
            "19 drinks in 20 lie between",
            "inside the band",
            *(f"due to {s}" for s in made.shares["abv"]),
        )
        inside = Fact("inside the band", share=100 * made.all_inside, band=self.band.value)
        behind = Fact(
            "chance by", band=self._band(made.band, show), draws=f"{made.draws:,}", tool=made.tool,
            sure=100 * dilution.MELT_SPREAD,
        )  # fmt: skip
        shown = table(head, rows), para(marked(show.say(inside))), quiet(show.say(behind))
        return join([heading("What chance does"), *shown])


def figure_tiles(stage: Stage, show: Display) -> list[tuple[str, str, str, str]]:
    """The figures of a stage, for `lesson.tiles`."""
    return [(profile.TITLES[f], *profile.shown(stage.profile, f, show, stage.spread(f))) for f in SHOWN]


def _plain(kind: Kind, value: float, show: Display, signed: bool = False) -> str:
    """A figure with its unit; a ratio stands by itself."""
    number, _, unit = show.parts(kind, value, signed=signed)
    return number if kind is RATIO else f"{number} {unit}"


def _between(kind: Kind, low: float, high: float, show: Display, signed: bool = False) -> str:
    return f"{show.parts(kind, low, signed=signed)[0]} to {_plain(kind, high, show, signed)}"


def _moves_words(measure: str) -> str:
    return heading("What moves it most") + para(Fact("moves by", measure=measure).text)


def _moved_words(effects: tuple[whatif.Effect, ...], show: Display) -> str:
    said = []
    if rest := effects[MOST:]:
        name, how = effect_words(rest[0], show)
        said.append(Fact("move it less", count=len(rest), most=rest[0].distance, name=name, how=how))
    for effect in effects[:MOST]:
        said += effect.notes
    return element("div", *(para(show.say(one)) for one in said), class_="dl-quiet") if said else ""


# --- two amounts at once ------------------------------------------------------------------------------------


class SweepPanel(_Tuned):
    """The plane of two amounts. `use` puts a recipe on it; `refresh` recomputes and repaints."""

    def _build(self, show: Display) -> None:
        self.grid: whatif.Sweep | None = None
        controls = self._build_drink(show)
        self.across, self.up = pick("Across", [("", 0)]), pick("Up", [("", 1)])
        self.figure = pick("Lines show", [(profile.WORDS[a], a) for a in AXES], "sugar")
        self.answers = [Html() for _ in range(2)]
        self.figures, self.where = self.answers
        self.chart = LiveChart(once(plane_chart))
        self._lay_out(
            [*controls, self.across, self.up, self.figure, self._build_band()],
            [self.chart, self.where],
            answer=self.figures,
        )
        self._answers_to(self.across, self.up, self.figure)

    def _used(self) -> None:
        super()._used()
        bottles = self._recipe.bottles(self.shelf)
        options = [(f"{k + 1}. {b.name}", k) for k, b in enumerate(bottles)]
        self.across.options = self.up.options = options
        # At first what sours against what sweetens, by how much of it each brings.
        acid, sugar = (
            [p.amount * getattr(b, f) for p, b in zip(self._recipe.pours, bottles, strict=True)]
            for f in ("acid", "sugar")
        )
        up = int(np.argmax(sugar))
        others = [k for k in range(len(bottles)) if k != up]
        self.up.value, self.across.value = up, max(others, key=acid.__getitem__, default=up)

    def _answer(self) -> None:
        recipe, show, figure = self.recipe(), self.display, self.figure.value
        pair, limits = (self.across.value, self.up.value), self.limits()
        now, chosen = ([r.pours[k].amount for k in pair] for r in (recipe, self._recipe))
        measures = [recipe.pours[k].measure(self.shelf, show) for k in pair]
        alone = all(p.after or p.amount == 0 or k in pair for k, p in enumerate(recipe.pours))
        ranges = [
            # The axes stand still under the hand until it is past their end.
            (0.05 * top if alone else 0.0, top)
            for top in (nice_top(max(2 * a, b) / ml) * ml for a, b, (_, ml) in zip(chosen, now, measures, strict=True))
        ]
        drink = self.drink()
        run = trial.run(drink, pantry=self.shelf)
        grid = whatif.sweep(drink, *pair, *ranges, pantry=self.shelf, points=POINTS, limits=limits)
        now_served = run.served.profile
        rows = plane_rows(grid, figure, measures, now, chosen, getattr(now_served, figure), self.band.value, show)
        self.grid = grid
        draw(self.chart, rows)
        self.figures.value = tiles(figure_tiles(run.served, show))
        self.where.value = self._where_words(now_served, show)
        return run

    def _where_words(self, figures: profile.Profile, show: Display) -> str:
        limits = self.grid.band
        out = [profile.WORDS[f] for f, (low, high) in limits.items() if not low <= getattr(figures, f) <= high]
        where = Fact("dot outside", figures=tuple(out)) if out else Fact("dot inside")
        grey = "" if self.grid.dissolved.all() else Fact("grey does not dissolve")
        dot, behind = Fact("where the dot is", where=where, grey=grey), Fact("plane by", band=self._band(limits, show))
        return para(show.say(dot)) + quiet(show.say(behind))


# --- A against B ----------------------------------------------------------------------------------------------


class VersusPanel(Lesson):
    """A against B. `use` puts another A on it."""

    def __init__(self, folder: str | Path, a: Recipe | None = None, b: Recipe | None = None) -> None:
        self.found: tuple[whatif.Difference, ...] = ()
        self._wanted_b = b
        super().__init__(folder, a)

    def _build(self, show: Display) -> None:
        self.choose.description = "A"
        options = list(self.choose.options)
        if self._wanted_b is not None:
            options.append((self._wanted_b.name, ("b", "")))
        first = list(self._demo)
        self.other = pick("B", options, options[-1][1] if self._wanted_b else ("demo", first[min(1, len(first) - 1)]))
        self.tool = pick("Measured by", trial.TOOLS)
        self.answers = [self.differences] = [Html()]
        self._lay_out([self.choose, self.other, self.tool], [self.differences])
        self._answers_to(self.other, self.tool)
        self.other.observe(self._compared, "value")

    def _answer(self) -> None:
        a, b, show = self.setting, self._b(), self.display
        found = whatif.compare(a, b, pantry=self.shelf, tool=self.tool.value)
        if any(d.figure == "acid" and min(d.a, d.b) < profile.LEAST_ACID for d in found):
            found = tuple(d for d in found if d.figure != "sugar_to_acid")  # a ratio to hardly any acid
        rows = []
        for d in found:
            kind = KINDS[d.figure]
            verdict = bold(d.verdict) if d.verdict == whatif.DIFFERS else d.verdict
            between = _between(kind, d.low, d.high, show, signed=True)
            figures = _plain(kind, d.a, show), _plain(kind, d.b, show), _plain(kind, d.difference, show, signed=True)
            rows.append((profile.TITLES[d.figure], *figures, between, verdict))
        head = ("As served", "A", "B", "A less B", "range in 19 of 20 rounds", "verdict")
        sure = tuple(profile.WORDS[d.figure] for d in found if d.verdict == whatif.DIFFERS)
        told = Fact("differences are sure", figures=sure) if sure else Fact("no difference is sure")
        by, tasted = Fact("versus by", tool=self.tool.value), Fact("versus tasted")
        self.found = found
        self.differences.value = join([
            heading(f"A: {a.recipe.name}, against B: {b.recipe.name}"),
            table(head, rows),
            para(show.say(told), role="status"),
            quiet(show.say(by), notebook(self.folder, "08_tasting"), show.say(tasted)),
        ])  # fmt: skip

    def _in_hand(self):
        held = [("A", self.setting)]
        with contextlib.suppress(InputError):  # then the page says why there is no B
            held.append(("B", self._b()))
        return [(f"{word}, {drink.recipe.name}", drink.brings(self.shelf)) for word, drink in held]

    def _b(self) -> Setting:
        if self.other.value[0] == "b":
            return as_setting(self._wanted_b)
        before = self.shelf
        b = self._named(self.other.value)
        for ours, theirs in zip(self._recipe.bottles(before), self._recipe.bottles(self.shelf), strict=True):
            warned = [(item.allergens, item.may_contain, item.cautions) for item in (ours, theirs)]
            if not np.array_equal(ours.composition, theirs.composition) or warned[0] != warned[1]:
                self.shelf = before
                raise InputError(f"{ours.name!r} in B", Told("not what it is in A"), "the same in both saved trials")
        return b
