"""Panels: sliders, the numbers they move, and the words beside them. No maths here."""

from __future__ import annotations

import functools
from collections import deque
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import ipywidgets as w

from .. import balance, classics, dilution, logbook, pantry, strength, trial, writeup
from ..declared import declared, of_recipe
from ..errors import InputError, Told
from ..kinds import CONCENTRATION
from ..recipe import FAMILIES, SERVES, TECHNIQUES, Recipe
from ..units import Display, to_celsius
from . import charts
from .lesson import (
    STYLE,
    WIDE,
    Dial,
    Html,
    Panel,
    Pours,
    declaration,
    demo_recipes,
    done_words,
    draw,
    heading,
    join,
    opened,
    para,
    problem_words,
    quiet,
    sentence,
    table,
    tiles,
)
from .live import LiveChart
from .own_ingredient import Ingredients

_TRAIL = 24  # steps of the way a drink came that stay on the chart


def bench(folder: str | Path = ".", recipe: Recipe | None = None) -> Bench:
    """The bench: a recipe under sliders, its stages, its place among the classics, saving and writing up.

    Parameters
    ----------
    folder : path
        Working folder: own ingredients are read from it, trials and write-ups are saved in it.
    recipe : Recipe, optional
        What to start with; the demo's first drink by default.
    """
    return Bench(Path(folder), recipe)


def write_up(
    now: trial.Trial, folder: str | Path = ".", *, rows: dict[str, list] | None = None, **about
) -> tuple[Path, Path]:
    """Write a trial up with its place among the classics, as a page and as plain text, under new names.

    Parameters
    ----------
    now : Trial
    folder : path
        Working folder.
    rows : dict, optional
        What the chart shows, as `charts.place_chart` names it; by default the drink and its nearest classics.
    **about
        As for `writeup.html`: title, notes, baseline, display, country.
    """
    known = classics.load()
    placed = balance.place(now.served.profile, known, now.recipe.family)
    picture = charts.place_chart(_classic_rows(known), placed.family)
    rows = rows if rows is not None else _placed_rows(now, placed, known)
    parts = {"chart_text": str(picture.description)} | charts.on_page(picture, **rows)
    return writeup.save(now, folder, **parts, **about)


class Bench(Panel):
    """One drink under sliders. `use` puts a recipe on it; `refresh` recomputes and repaints."""

    def __init__(self, folder: Path, recipe: Recipe | None = None) -> None:
        self.folder = folder
        self.trial: trial.Trial | None = None
        self.pinned: trial.Trial | None = None
        self._depth, self._trouble, self._stale, self._way = 0, "", False, None
        self._trail: deque[dict] = deque(maxlen=_TRAIL)
        self.shelf, kept, problems = opened(folder)
        self._own_shelf = self.shelf
        self.known = classics.load()
        self._demo = demo_recipes(self.shelf)
        self._build(kept)
        self.use(recipe if recipe is not None else next(iter(self._demo.values())))
        self.said.value = join(problem_words(p) for p in (*problems, *self._unreadable))

    # --- what is on the page ---------------------------------------------------------------------

    def _build(self, kept: dict) -> None:
        def pick(name: str, options, key: str = "", otherwise: str = "") -> w.Dropdown:
            value = kept.get(key, otherwise)
            options = list(options)
            value = {"value": value if value in options else otherwise} if key else {}
            return w.Dropdown(options=options, description=name, layout=WIDE, **value)

        self.choose = w.Dropdown(description="Drink", layout=WIDE)
        self.typed_name = w.Text(description="Name", placeholder="what to call it", layout=WIDE)
        self.typed = w.Textarea(
            rows=7, layout=WIDE,
            placeholder="45 mL aged rum, 50 %\n20 mL lemon juice\n3/4 oz honey syrup\ntop 60 mL soda water",
        )  # fmt: skip
        self.typed_use = w.Button(description="Use this recipe", button_style="primary")
        hint = Html(
            quiet(
                "One pour a line: the amount, then the ingredient. A strength at the end is that of your bottle. Begin "
                "a line with “top” for what goes in after the ice. Bar words will do: 2 dashes, 1 barspoon, ⅞ oz, "
                "2 parts, 6 mint leaves, 1 egg white, 92 proof."
            )
        )
        typing = w.VBox([hint, self.typed_name, self.typed, self.typed_use])
        self.typing = w.Accordion([typing], titles=["Type or change the recipe"], selected_index=None)

        self.ingredients = Ingredients(self.folder, lambda: self.shelf, self._add_line, self._own_changed)
        finding = w.Accordion([self.ingredients], titles=["Find an ingredient, or write one down"], selected_index=None)

        self.pours = Pours(self.refresh)
        self.technique = pick("Technique", TECHNIQUES)
        self.serve = pick("Served", SERVES)
        self.melt = Dial("Melt water, of the volume before ice", 0, 120, 1, "%", self._melt_moved)
        self.by_rule = w.Checkbox(description="melt water by the rule for this technique", indent=False, layout=WIDE)
        self.own_ice = w.Checkbox(value=False, description="use my ice instead of the rule", indent=False, layout=WIDE)
        usual = dilution.MOTIONS["shaken"].seconds
        self.ice_mass = Dial("Ice", dilution.USUAL_ICE, 600, 5, "g", self._ice_moved)
        self.ice_temperature = Dial("Ice temperature", 0, 0, 1, "°C", self._ice_moved, bottom=-25)
        self.ice_seconds = Dial("Time on the ice", usual, 120, 1, "s", self._ice_moved)
        self.ice_size = w.Dropdown(options=list(dilution.ICE_SIZES), value="cubes", description="Ice size", layout=WIDE)
        ice = w.VBox([self.own_ice, self.ice_mass, self.ice_temperature, self.ice_seconds, self.ice_size])
        ice = w.Accordion([ice], titles=["My own ice"], selected_index=None)
        self.glass = Dial("Serve size", 100, 400, 5, "mL", self._glass_moved)
        # The steps of a saved trial. Their names are not in the label: a label reads them as formulas.
        self.later = w.Checkbox(description="then its later steps:", indent=False, layout=WIDE)
        self.later_names = Html(layout={"display": "none"})
        self.serve_all = w.Checkbox(description="serve all of it", indent=False, layout=WIDE)
        self.family = w.Dropdown(
            options=[("that of the nearest classic", ""), *((f, f) for f in FAMILIES)],
            description="Family",
            layout=WIDE,
        )
        self.pin = w.Button(description="Pin as baseline")
        self.unpin = w.Button(description="Take the pin off", disabled=True)
        self.volume_unit = pick("Volumes in", ("mL", "oz"), "volume", "mL")
        self.temperature_unit = pick("Degrees in", ("°C", "°F"), "temperature", "°C")
        self.tool = pick("Measured by", trial.TOOLS, "tool", "jigger")
        self.country = pick("Country", strength.countries(), "country", "United States")
        settings = w.VBox([self.volume_unit, self.temperature_unit, self.tool, self.country])
        settings = w.Accordion([settings], titles=["Units, measuring tool, country"], selected_index=None)

        self.problem, self.headline, self.stages, self.place, self.cautions = (Html() for _ in range(5))
        self.problem.layout.min_height = "34px"  # so that nothing below jumps when there is one
        self.chart = LiveChart(charts.place_chart(_classic_rows(self.known)))

        self.title = w.Text(description="Title", layout=WIDE)
        self.question = w.Text(description="Question", placeholder="what this trial is to find out", layout=WIDE)
        self.method = w.Textarea(description="Method", rows=3, placeholder="how it is made", layout=WIDE)
        self.note = w.Textarea(description="Notes", rows=2, placeholder="how it tasted, what to change", layout=WIDE)
        self.save_button = w.Button(description="Save the trial", button_style="primary")
        self.write_button = w.Button(description="Write it up", button_style="primary")
        self.said = Html()

        left = w.VBox(
            [self.choose, self.typing, finding, self.pours, self.technique, self.serve, self.by_rule, self.melt,
             ice, self.later, self.later_names, self.serve_all, self.glass, self.family,
             w.HBox([self.pin, self.unpin]), settings],
            layout=w.Layout(width="400px", min_width="400px", padding="0 14px 0 0"),
        )  # fmt: skip
        right = w.VBox([self.problem, self.headline, self.chart], layout=w.Layout(flex="1 1 auto", min_width="0"))
        keep = w.VBox(
            [
                self.title,
                self.question,
                self.method,
                self.note,
                w.HBox([self.save_button, self.write_button]),
                self.said,
            ],
            layout=w.Layout(max_width="760px"),
        )
        page = [
            Html(STYLE),
            w.HBox([left, right]),
            self.stages,
            self.place,
            self.cautions,
            Html(heading("Keep it")),
            keep,
        ]
        super().__init__(page)
        self.add_class("dl-bench")
        self._fill_choices()

        for control in (
            self.technique, self.serve, self.family, self.tool, self.country, self.serve_all, self.later,
            self.own_ice
        ):  # fmt: skip
            control.observe(self.refresh, "value")
        self.choose.observe(self._chosen, "value")
        self.typed_use.on_click(self._use_typed)
        self.typing.observe(self._typing_opened, "selected_index")
        self.volume_unit.observe(self._measure_changed, "value")
        self.temperature_unit.observe(self._degrees_changed, "value")
        self.by_rule.observe(self._rule_ticked, "value")
        self.ice_size.observe(self._ice_moved, "value")
        for control in (self.volume_unit, self.temperature_unit, self.tool, self.country):
            control.observe(self._keep_choices, "value")
        self.pin.on_click(lambda _: self.pin_baseline())
        self.unpin.on_click(lambda _: self.take_pin_off())
        self.save_button.on_click(lambda _: self.save())
        self.write_button.on_click(lambda _: self.write_up())

    def _fill_choices(self) -> None:
        saved, self._unreadable = logbook.entries(self.folder)
        options = [("choose a drink …", "")]
        options += [(f"Demo: {name}", ("demo", name)) for name in self._demo]
        options += [(f"Saved: {entry.label}", ("saved", str(entry.path))) for entry in saved]
        options += [(f"Classic: {name}", ("classic", name)) for name in sorted(self.known.names)]
        with self._silently():
            self.choose.options = options
            self.choose.value = ""

    # --- from the page to a recipe ---------------------------------------------------------------

    @property
    def display(self) -> Display:
        """How amounts are shown, as chosen."""
        return Display(self.volume_unit.value, self.temperature_unit.value)

    def use(self, recipe: Recipe, steps: tuple = ()) -> None:
        """Put a recipe on the bench: one slider a pour, its technique, its words, and what is done after."""
        recipe.bottles(self.shelf)  # refuses what the pantry lacks before anything has changed
        self._recipe, self._steps = recipe, steps
        with self._silently():
            self.technique.value, self.serve.value, self.family.value = (
                recipe.technique,
                recipe.serve,
                recipe.family or "",
            )
            self.by_rule.value = self.serve_all.value = True
            self.own_ice.value = False
            self.later.value, self.later_names.value = bool(steps), para(", ".join(step.name for step in steps))
            self.later.layout.display = self.later_names.layout.display = None if steps else "none"
            self.title.value, self.question.value, self.method.value = recipe.name, recipe.question, recipe.method
            self.note.value = self.said.value = ""
            self.pours.use(recipe, self.shelf, self.display)
        self.melt.reach(0.0, 120.0, 1.0, "%")
        self._reach_glass(100.0)
        self._trail.clear()
        self.refresh()

    def recipe(self) -> Recipe:
        """The recipe as the page stands."""
        return replace(
            self.pours.recipe(), technique=self.technique.value, serve=self.serve.value,
            family=self.family.value or None, question=self.question.value, method=self.method.value,
            name=self.title.value.strip() or self._recipe.name,
        )  # fmt: skip

    def _melt_moved(self, _) -> None:
        with self._silently():
            self.by_rule.value = self.own_ice.value = False
        self.refresh()

    def _ice_moved(self, _) -> None:
        with self._silently():
            self.own_ice.value = True
        self.refresh()

    def _ice(self) -> dilution.OwnIce:
        return dilution.OwnIce(
            ice=self.ice_mass.value,
            ice_temperature=to_celsius(self.display.celsius(self.ice_temperature.value), "ice temperature"),
            seconds=self.ice_seconds.value,
            size=self.ice_size.value,
        )

    def _rule_ticked(self, change) -> None:
        if change["new"]:
            with self._silently():
                self.own_ice.value = False
        self.refresh()

    def _degrees_changed(self, change) -> None:
        was = Display(temperature=change["old"])
        self._set_ice_temperature(was.celsius(self.ice_temperature.value))
        self.refresh()

    def _set_ice_temperature(self, celsius: float) -> None:
        show = self.display
        ends = show.degrees(0.0), 1.0, show.temperature, show.degrees(-25.0)
        self.ice_temperature.reach(show.degrees(celsius), *ends)

    def _measure_changed(self, change) -> None:
        with self._silently():
            self.pours.show_in(self.display)
        self._reach_glass(self.glass.value * Display(change["old"]).ml)
        self.refresh()

    def _reach_glass(self, ml: float) -> None:
        show = self.display
        self.glass.reach(ml / show.ml, 400 / show.ml, {"mL": 5.0, "oz": 0.25}[show.volume], show.volume)

    def _glass_moved(self, _) -> None:
        with self._silently():
            self.serve_all.value = False
        self.refresh()

    def _chosen(self, change) -> None:
        if self._quiet or not change["new"]:
            return
        kind, key = change["new"]
        with self._problems_shown():
            if kind == "saved":
                self._use_saved(Path(key))
            else:
                self.shelf = self._own_shelf
                self.use(self._demo[key] if kind == "demo" else self.known[key])
        with self._silently():
            self.choose.value = ""  # so that the same drink can be chosen again

    def _use_saved(self, path: Path) -> None:
        saved = logbook.load(path, self._own_shelf)
        self.shelf = saved.pantry  # with what has left the pantry since, and all that the saved ones warn of
        self.use(saved.recipe, saved.steps)
        with self._silently():
            self.by_rule.value = saved.melt_by_rule or saved.ice is not None
            self.serve_all.value = saved.serve_volume is None
            self.melt.set(100 * saved.melt)
            if saved.ice is not None:
                self.own_ice.value, self.ice_size.value = True, saved.ice.size
                self.ice_mass.set(saved.ice.ice)
                self.ice_seconds.set(saved.ice.seconds)
                self._set_ice_temperature(saved.ice.ice_temperature)
            if saved.serve_volume is not None:
                self.glass.set(saved.serve_volume / self.display.ml)
            self.tool.value = saved.tool
            self.note.value = logbook.entry(path).note
        self.refresh()

    def _typing_opened(self, change) -> None:
        if change["new"] == 0:  # begin from what is on the bench
            with self._problems_shown():
                now = self.recipe()
                self.typed.value, self.typed_name.value = now.text(self.shelf, self.display), now.name

    def _add_line(self, line: str) -> None:
        Recipe.parse(line, self.shelf)  # refuses what could not be used
        self.typing.selected_index = 0
        self.typed.value = f"{self.typed.value.rstrip()}\n{line}"

    def _own_changed(self) -> None:
        mine = pantry.load(self.folder)
        self.shelf = mine.with_items([item for key, item in self.shelf.items() if key not in mine])
        self.refresh()

    def _use_typed(self, _=None) -> None:
        with self._problems_shown():
            recipe = Recipe.parse(
                self.typed.value, self.shelf, name=self.typed_name.value.strip() or "untitled",
                technique=self.technique.value, serve=self.serve.value, family=self.family.value or None,
            )  # fmt: skip
            self.use(recipe)
            self.volume_unit.value = recipe.told_in or self.volume_unit.value  # what is typed is what is shown
            self.typing.selected_index = None

    # --- from a recipe to the page ---------------------------------------------------------------

    def refresh(self, _=None) -> None:
        """Recompute and repaint. A problem shows in one sentence and the last good result stays."""
        if self._quiet:
            return
        way = self.technique.value, self.serve.value, self.own_ice.value
        if way != self._way:  # another way of making is no step on the same trail
            self._trail.clear()
            self._way = way
        with self._problems_shown():
            self._stale = True  # until all of it has worked
            own = self.own_ice.value
            now = trial.run(
                self.recipe(), self.shelf, tool=self.tool.value, country=self.country.value,
                melt=None if self.by_rule.value or own else self.melt.value / 100, ice=self._ice() if own else None,
                steps=self._steps if self.later.value else (),
                serve_volume=None if self.serve_all.value else self.glass.value * self.display.ml,
            )  # fmt: skip
            placed = balance.place(now.served.profile, self.known, now.recipe.family)
            self.trial = now
            # In the order of where the eye is.
            self._draw(now, placed)
            self.headline.value = _headline(now, self.pinned, self.display, self.country.value)
            if self.by_rule.value or own:
                self.melt.set(100 * now.melt)
            self.stages.value = _stage_table(now, self.display)
            self.place.value = _place_words(placed)
            self.cautions.value = declaration(declared(now))
            self._stale = False

    def _draw(self, now: trial.Trial, placed: balance.Place) -> None:
        point = _point(now)
        dials = *self.pours.children, self.melt, self.glass, self.ice_mass, self.ice_temperature, self.ice_seconds
        if self._trail and any(dial.typing for dial in dials):
            self._trail.pop()  # a number may be a slip: it leaves no track, a slider does
        if not self._trail or self._trail[-1] != point:
            self._trail.append(point)
        last = len(self._trail) - 1
        rows = _placed_rows(now, placed, self.known) | {
            "trail": [{**p, "order": i, "age": 1 - i / last if last else 0.0} for i, p in enumerate(self._trail)],
            "base": [_point(self.pinned)] if self.pinned else [],
        }
        draw(self.chart, rows)

    @contextmanager
    def _problems_shown(self):
        """One sentence for a problem; figures that are of an earlier drink turn pale."""
        outermost, before = not self._depth, self._trouble
        self._depth += 1
        if outermost:
            self._trouble = ""
        try:
            yield
        except InputError as problem:
            self._trouble = self.display.told(sentence(problem))
        finally:
            self._depth -= 1
        if outermost:
            if self._trouble:
                pale = "The pale figures are of the last good drink." if self._stale else ""
                self.problem.value = problem_words(self._trouble, pale)
            elif before:
                self.problem.value = ""
            if self._stale:  # of the drink in hand, answered or not
                self.cautions.value = declaration(of_recipe(self._recipe, self.shelf))
            for part in (self.headline, self.stages, self.place):
                (part.add_class if self._stale else part.remove_class)("dl-stale")
            (self.add_class if self._stale else self.remove_class)("dl-wrong")

    # --- baseline, saving, writing up ------------------------------------------------------------

    def pin_baseline(self) -> None:
        """Hold the drink as it stands: every figure then shows its difference from it."""
        with self._said():
            self._good()
            self.pinned, self.unpin.disabled = self.trial, False
            self.refresh()

    def take_pin_off(self) -> None:
        """Forget the baseline."""
        self.pinned, self.unpin.disabled = None, True
        self.refresh()

    def _keep_choices(self, _) -> None:
        if self._quiet:
            return
        with self._said():
            logbook.save_choices(
                self.folder, volume=self.volume_unit.value, temperature=self.temperature_unit.value,
                country=self.country.value, tool=self.tool.value,
            )  # fmt: skip

    def save(self) -> None:
        """Save the trial as it stands under a new name."""
        with self._said():
            self._good()
            path = logbook.save(
                self.trial, self.folder, title=self.title.value, note=self.note.value, display=self.display
            )
            self._fill_choices()
            self.said.value = done_words(
                f"Saved as {path.relative_to(self.folder)}. Choose it under Drink to open it again."
            )

    def write_up(self) -> None:
        """Write the trial up as a page and as plain text, each under a new name."""
        with self._said():
            self._good()
            page, text = write_up(
                self.trial, self.folder, rows=self.chart.rows, title=self.title.value, notes=self.note.value,
                baseline=self.pinned, display=self.display, country=self.country.value,
            )  # fmt: skip
            self.said.value = done_words(
                f"Written: {page.relative_to(self.folder)}, for any browser, and {text.relative_to(self.folder)}."
            )

    def _good(self) -> None:
        """Refuse to keep anything while the page shows a problem: the figures would be another drink's."""
        self.refresh()
        if self._stale:
            raise InputError(
                "the drink on the bench", Told("not a drink yet"), f"mended first. {self._trouble.rstrip('.')}"
            )

    @contextmanager
    def _said(self):
        """Show what was done, or the problem, under the buttons."""
        try:
            yield
        except InputError as problem:
            self.said.value = problem_words(problem)


# --- words and tables -----------------------------------------------------------------------------


@functools.cache
def _classic_rows(known: classics.Classics) -> list[dict]:
    figures = balance.reference(known)
    return [
        {"name": r.name, "family": f, "technique": r.technique}
        | {a: round(float(getattr(figures, a)[i]), 2) for a in balance.AXES}
        for i, (r, f) in enumerate(zip(known, known.families, strict=True))
    ]


@functools.cache
def _family_rows(known: classics.Classics, family: str) -> dict[str, list]:
    return charts.family_rows(_classic_rows(known), family)


def _placed_rows(now: trial.Trial, placed: balance.Place, known: classics.Classics) -> dict[str, list]:
    near = {name: i for i, (name, _, _) in enumerate(placed.nearest)}
    named = sorted((row for row in _classic_rows(known) if row["name"] in near), key=lambda row: near[row["name"]])
    return {"me": [{**_point(now), **_reach(now)}], "near": named} | _family_rows(known, placed.family)


def _point(now: trial.Trial) -> dict:
    figures = now.served.profile
    return {"label": now.recipe.name} | {a: round(getattr(figures, a), 2) for a in balance.AXES}


def _reach(now: trial.Trial) -> dict:
    return {
        f"{axis}_{end}": round(getattr(getattr(now.served, end), axis), 2)
        for axis in balance.AXES
        for end in ("low", "high")
    }


def _text(show: Display, stage: trial.Stage, figure: str) -> str:
    return " ".join(part for part in balance.shown(stage.profile, figure, show, stage.spread(figure)) if part)


def _headline(now: trial.Trial, pinned: trial.Trial | None, show: Display, country: str) -> str:
    changes = trial.difference(now, pinned) if pinned else {}
    figures = []
    for figure, word in balance.TITLES.items():
        kind = balance.KINDS[figure]
        number, around, unit = balance.shown(now.served.profile, figure, show, now.served.spread(figure))
        change = f"{show.text(kind, changes[figure], signed=True)} from the pin" if figure in changes else "\xa0"
        figures.append((word, number, around, unit, change))
    count, size = strength.standard_drinks(now.served.profile.alcohol, country), strength.countries()[country]
    drinks = quiet(f"One serve holds {count:.1f} standard drinks ({country}, {size:g} g each).")
    return tiles(figures, drinks, above=heading(now.recipe.name))


def _stage_table(now: trial.Trial, show: Display) -> str:
    columns = [(word, [_text(show, stage, f) for stage in now.stages]) for f, word in balance.TITLES.items()]
    columns.append(("pH", [show.ph_text(stage.ph) for stage in now.stages]))
    columns.append(("Gas", [show.text(CONCENTRATION, *stage.gas) if stage.gas[0] else "" for stage in now.stages]))
    columns = [column for column in columns if any(column[1])]
    rows = zip((stage.name for stage in now.stages), *(cells for _, cells in columns), strict=True)
    notes = [show.told(note) for note in now.notes]
    if now.chill is not None:
        notes.append(f"It leaves the ice at about {show.temperature_text(now.chill.temperature)}.")
    melt = f"{100 * now.melt:.0f} % of the volume before ice"
    warm = show.temperature_text(20)
    behind = quiet(
        f"At {warm}. ± holds 19 drinks in 20: bottles, fruit, {now.tool} and melt water "
        f"({now.melt_pm_words}). Melt water: {melt} ({now.melt_basis})."
    )
    head = ["Stage", *(word for word, _ in columns)]
    return join([heading("Stage by stage"), table(head, rows), behind, *map(para, notes)])


def _place_words(placed: balance.Place) -> str:
    def named(nearest) -> str:
        return ", ".join(f"{name} ({distance:.1f})" for name, _, distance in nearest)

    words = {"abv": "stronger", "sugar": "sweeter", "acid": "more acidic"}
    ranks = (
        f"{word.capitalize()} than {placed.percentile[axis]:.0f} % of all classics, and than "
        f"{placed.percentile_in_family[axis]:.0f} % of the {placed.family} family."
        for axis, word in words.items()
    )
    return join([
        heading("Among the classics"), para(f"Nearest: {named(placed.nearest)}."),
        para(f"Nearest in the {placed.family} family: {named(placed.nearest_in_family)}."), *map(para, ranks),
        quiet("In brackets the distance over strength, sugar and acid; 1 is the usual step between two classics."),
    ])  # fmt: skip
