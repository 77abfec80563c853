"""Panels: sliders, the numbers they move, and the words beside them. No maths here."""

from __future__ import annotations

from collections import deque
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path

import ipywidgets as w

from ... import classics, demo, logbook, pantry, profile, strength, trial, whatif
from ...declared import declared
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact, say
from ...recipe import FAMILIES, SERVES, TECHNIQUES, Recipe, usual_way
from ...setting import Setting
from ..charts import place as place_charts
from ..charts.live import LiveChart, once
from ..comms import tell
from ..parts import bench_words
from ..parts.bench_words import (
    classic_rows,
    headline,
    near_words,
    place_words,
    placed_among,
    placed_rows,
    point,
    stage_table,
)
from ..parts.beside import JELLY, Beside, demo_jelly
from ..parts.chilling import Chilling
from ..parts.dials import Pours
from ..parts.exact import VOLUME, ExactDial, plain
from ..parts.hand import Hand
from ..parts.html import STYLE, WIDE, Html, declaration, done_words, heading, join, para, problem_words, quiet, sentence
from ..parts.links import link
from ..parts.next_steps import NextSteps
from ..parts.own_file import OwnFile, with_own
from ..parts.own_ingredient import Ingredients
from ..parts.page_to_try import PageToTry
from ..parts.page_words import PageWords
from ..parts.panel import Panel, ShownIn, Units, busy, chosen, draw, fold, in_view, pick, sides
from ..parts.published import Published
from ..parts.spoken import Spoken
from ..parts.what_if import Asked, Card
from ..parts.written import write_up

_TRAIL = 24  # steps of the way a drink came that stay on the chart
# What makes a drink another one than its recipe in the usual setting: not how it is measured, counted or shown.
_CHANGES_A_DRINK = ("melt", "ice", "steps", "beside", "serves", "serve_volume")


def panel(folder: str | Path = ".", recipe: Recipe | Setting | None = None) -> Bench:
    """The bench: a recipe under sliders, its stages, its place among the classics, saving and writing up.

    Parameters
    ----------
    folder : path
        Working folder: own ingredients are read from it, trials and write-ups are saved in it.
    recipe : Recipe or Setting, optional
        What to start with; by default the drink in hand of the folder, else the demo's first.
    """
    return Bench(Path(folder), recipe)


class Bench(Panel):
    """One drink under sliders. `use` puts a drink on it, `setting` is the drink as the page stands, whole.

    It opens on the drink in hand of the working folder; what a person changes is put in hand, and what another page
    puts in hand is shown.
    """

    def __init__(self, folder: Path, recipe: Recipe | Setting | None = None) -> None:
        self.folder = folder
        self.trial: trial.Trial | None = None
        self.pinned: trial.Trial | None = None
        self._depth, self._trouble, self._refused, self._stale, self._way = 0, "", "", False, None
        self._held: tuple | None = None  # what the page showed when it was last the drink in hand, or was opened
        self._came_from = ""  # file of the saved trial that the drink on the page is, or is a version of
        self._in_hand = False  # whether what is in hand is an earlier state of the drink on the page
        self._trail: deque[dict] = deque(maxlen=_TRAIL)
        self.own_file = OwnFile(folder, "Bench", self._own_changed)
        self.shelf = self._own_shelf = self.own_file.shelf
        kept, problems = chosen(folder)
        self._standing = logbook.DEFAULTS | kept
        self.known = classics.load()
        self._demo = demo.settings(self.shelf)
        self._build()
        self.hand = Hand(folder, "Bench", self._follow, self._hand_said)
        held = self.hand.read(self._own_shelf, problems) if recipe is None else None
        if held is not None:
            self._follow(held)
        else:
            first = self._whole(next(iter(self._demo))) if recipe is None else self._usual(recipe)
            self._put_on(first, opening=True)
        self.said.value = join([self.said.value, *map(problem_words, (*problems, *self._unreadable))])

    # --- what is on the page ---------------------------------------------------------------------

    def _build(self) -> None:
        self._build_recipe()
        self._build_ways()
        self._build_answers()
        left = [
            Html(heading("What goes in")), self.choose, self.pours, self.typing, self.finding,
            Html(heading("How it is made")), self.technique, self.serve, self.way, self.chilling,
            Html(heading("What is done next")), self.next,
            self.besides, self.glasses, self.settings,
        ]  # fmt: skip
        both = sides(left, [self.chart, self.near, self.card, self.asked, self.place, self.stages, self.cautions])
        self.try_button = PageToTry(self, self._good, self._said)
        bar = in_view(self.headline, self.said, self.pin, self.unpin, self.save_button, self.write_button)
        words = [self.title, self.question, self.method, self.note, self.try_button, self.published]
        super().__init__([
            Html(STYLE), Spoken(), self.own_file.said, bar, self.problem, both,
            Html(heading("Words to keep with it")), w.VBox(words, layout=w.Layout(max_width="760px")),
            glossary := PageWords(),
        ])  # fmt: skip
        glossary.look(self)
        self.add_class("dl-bench")
        self._fill_choices()
        self._listen()

    def _build_recipe(self) -> None:
        self.choose = w.Dropdown(description="Drink", layout=WIDE)
        self.typed_name = w.Text(description="Name", placeholder="what to call it", layout=WIDE)
        self.typed = w.Textarea(
            rows=7, layout=WIDE,
            placeholder="45 mL aged rum, 50 %\n20 mL lemon juice\n3/4 oz honey syrup\ntop 60 mL soda water",
        )  # fmt: skip
        self.typed_use = w.Button(description="Use this recipe", button_style="primary")
        hint = say(Fact("recipe: how to type it"))
        typing = w.VBox([Html(quiet(hint)), self.typed_name, self.typed, self.typed_use])
        self.typing = fold("Type or change the recipe", typing)
        self.ingredients = Ingredients(self.folder, lambda: self.shelf, self._add_line, lambda: self.own_file.look())
        self.finding = fold("Find an ingredient, or write one down", self.ingredients)
        self.pours = Pours(self.refresh)

    def _build_ways(self) -> None:
        kept = self._standing
        self.volume_unit = pick("Volumes in", ("mL", "oz"), kept["volume"])
        self.temperature_unit = pick("Degrees in", ("°C", "°F"), kept["temperature"])
        self.tool = pick("Measured by", trial.TOOLS, kept["tool"])
        self.country = pick("Country", strength.countries(), kept["country"])
        self.settings = ShownIn(self.volume_unit, self.temperature_unit, self.tool, self.country)
        self.units = Units(self.folder, "Bench", self.volume_unit, self.temperature_unit)
        show = self.display
        self.technique, self.serve = pick("Technique", TECHNIQUES), pick("Served", SERVES)
        self.way = Html()
        self.chilling = Chilling(show, self.refresh)
        self.melt, self.by_rule, self.own_ice = self.chilling.share, self.chilling.by_rule, self.chilling.own_ice
        self.next = NextSteps(show, self.refresh)
        self.beside = Beside(show, self._named, self.refresh)
        self.serves = ExactDial("Makes", 1, 1, 40, plain("glasses", 1.0), show, lambda _: self.refresh())
        self.glass = ExactDial("Serve size", 100.0, 0.0, 400.0, VOLUME, show, self._glass_moved)
        self.serve_all = w.Checkbox(description="serve all of it, in equal shares", indent=False, layout=WIDE)
        self.family = pick("Family", [("that of the nearest classic", ""), *((f, f) for f in FAMILIES)])
        self.besides = fold("What goes with it", self.beside)
        title = "How many glasses, how full, which family"
        self.glasses = fold(title, self.serves, self.serve_all, self.glass, self.family)
        self.pin = w.Button(description="Compare from here")
        self.unpin = w.Button(description="Stop comparing", disabled=True, layout={"display": "none"})

    def _build_answers(self) -> None:
        self.problem, self.headline, self.stages, self.near, self.place, self.cautions = (Html() for _ in range(6))
        self.problem.add_class("dl-trouble")
        self.chart = LiveChart(once(place_charts.place_chart, classic_rows(self.known), None, False))
        self.card, self.asked = Card(), Asked(lambda: (self.setting(), self.shelf), self.display, self._take_up)
        self.title = w.Text(description="Title", layout=WIDE)
        self.question = w.Text(description="Question", placeholder="what this trial is to find out", layout=WIDE)
        self.method = w.Textarea(description="Method", rows=3, placeholder="how it is made", layout=WIDE)
        self.note = w.Textarea(description="Notes", rows=2, placeholder="how it tasted, what to change", layout=WIDE)
        self.save_button = w.Button(description="Save")
        self.write_button = w.Button(description="Write up", button_style="primary")
        self.said = Html()
        self.published = Published(self.folder, lambda: self.display)

    def _listen(self) -> None:
        for control in (self.technique, self.family, self.tool, self.country, self.serve_all):
            control.observe(self.refresh, "value")
        self.serve.observe(self._serve_changed, "value")
        self.choose.observe(self._chosen, "value")
        self.typed_use.on_click(self._use_typed)
        self.typing.observe(self._typing_opened, "selected_index")
        for control in (self.volume_unit, self.temperature_unit):
            control.observe(self._units_changed, "value")
        for control in (self.volume_unit, self.temperature_unit, self.tool, self.country):
            control.observe(self._keep_choices, "value")
        for words in (self.title, self.question, self.method, self.note):
            words.observe(self._words_changed, "value")
        self.pin.on_click(lambda _: self.pin_baseline())
        self.unpin.on_click(lambda _: self.take_pin_off())
        self.save_button.on_click(lambda button: busy(button, "Saving …", self.save))
        self.write_button.on_click(lambda button: busy(button, "Writing …", self.write_up))

    def _fill_choices(self) -> None:
        saved, self._unreadable = logbook.entries(self.folder)
        options = [(f"Demo: {name}", ("demo", name)) for name in self._demo]
        options += [(f"Saved: {entry.label}", ("saved", str(entry.path))) for entry in saved]
        self.beside.offer([(f"Demo: {JELLY}", ("beside", JELLY)), *(o for o in options if o[1] != ("demo", JELLY))])
        options += [(f"Classic: {self.known.titled(name)}", ("classic", name)) for name in sorted(self.known.names)]
        with self._silently():
            self.choose.options = [("choose a drink …", ""), *options]
            self.choose.value = ""

    # --- from the page to a drink, and back ------------------------------------------------------

    def use(self, drink: Recipe | Setting, *, note: str = "", title: str = "") -> None:
        """Put a drink on the bench, whole. A recipe comes in the usual setting, in the person's standing choices."""
        self._put_on(self._usual(drink), note, title)

    def _usual(self, drink: Recipe | Setting) -> Setting:
        return drink if isinstance(drink, Setting) else Setting(drink, **self._choices())

    def _choices(self) -> dict:
        kept = self._standing
        return {
            "tool": kept["tool"], "country": kept["country"], "display": Display(kept["volume"], kept["temperature"])
        }  # fmt: skip

    def _put_on(
        self,
        setting: Setting,
        note: str = "",
        title: str = "",
        *,
        opening: bool = False,
        same: bool = False,
        came_from: str = "",
    ) -> None:
        """Set every control, and answer once. `opening` keeps nothing yet; `same` is the drink that is on the page."""
        for recipe in setting.all_recipes():
            recipe.bottles(self.shelf)  # refuses what the pantry lacks before anything has changed
        recipe, self._loaded, self._came_from = setting.recipe, setting, came_from
        with self._silently():
            show = setting.display
            self.volume_unit.value, self.temperature_unit.value = show.volume, show.temperature
            self.tool.value, self.country.value = setting.tool, setting.country
            self.technique.value, self.serve.value = recipe.technique, recipe.serve
            self.family.value, self.way.value = recipe.family or "", ""
            self.chilling.use(setting, show)
            self.next.use(setting.steps, show)
            self.beside.use(setting.beside, show)
            self.serves.exact, self.serve_all.value = setting.serves, setting.serve_volume is None
            self.serves.show_in(show)
            self.glass.exact = 100.0 if setting.serve_volume is None else setting.serve_volume
            self.glass.show_in(show)
            self._titled = self.title.value = title or recipe.name
            self.question.value, self.method.value = recipe.question, recipe.method
            self.note.value, self.said.value, self._refused = note, "", ""
            self.pours.use(recipe, self.shelf, show)
        self._trail.clear()
        self.card.begin(recipe.name)
        self._in_hand = same
        self._held = (setting, self.title.value, note) if opening else None
        self.refresh()
        if opening and self.trial is not None and not self._stale:
            self._held = self.trial.setting, self.title.value, note

    @property
    def _recipe(self) -> Recipe:
        return self._loaded.recipe

    def recipe(self) -> Recipe:
        """The recipe as the page stands."""
        title = self.title.value.strip()
        named = self._loaded.recipe.name if self.title.value == self._titled or not title else title
        return replace(
            self.pours.recipe(), technique=self.technique.value, serve=self.serve.value,
            family=self.family.value or None, question=self.question.value, method=self.method.value, name=named,
        )  # fmt: skip

    def setting(self) -> Setting:
        """The drink as the page stands, whole; what was loaded and has no control is kept.

        Raises
        ------
        InputError
            For a step, an amount or a number that is refused.
        """
        serves = self.serves.exact
        return replace(
            self._loaded, recipe=self.recipe(), melt=self.chilling.melt, ice=self.chilling.ice,
            steps=self.next.steps(), beside=self.beside.settings(),
            serves=int(serves) if float(serves).is_integer() else serves,
            serve_volume=None if self.serve_all.value else self.glass.exact,
            tool=self.tool.value, country=self.country.value, display=self.display,
        )  # fmt: skip

    def _units_changed(self, _) -> None:
        if self._quiet:
            return
        show = self.display
        with self._silently():
            self.pours.show_in(show)
            for part in (self.chilling, self.next, self.beside, self.glass, self.asked):
                part.show_in(show)
        self.refresh()

    def _glass_moved(self, _) -> None:
        with self._silently():
            self.serve_all.value = False
        self.refresh()

    def _show_share(self, now: trial.Trial) -> None:
        """While all of it is served, the dial of the serve size stands at the equal share, and no hand moves it."""
        if self.serve_all.value:
            self.glass.stand_at(now.served.profile.volume)
        if self.glass.slider.disabled != self.serve_all.value:
            self.glass.disable(self.serve_all.value)

    def _serve_changed(self, change) -> None:
        if self._quiet:
            return
        with self._silently():
            if change["new"] == "hot":
                self.chilling.without_ice()
                self.family.value = "hot"
            elif self.family.value == "hot":
                self.family.value = ""
        self.refresh()

    def _words_changed(self, _) -> None:
        if self._quiet or self.trial is None or self._stale:
            return
        with self._said():
            now = self.recipe()
            if now.method != self.trial.recipe.method:  # it may name nuts, or fire
                self.refresh()
                return
            said = replace(self.trial.recipe, name=now.name, question=now.question, method=now.method)
            self._keep_in_hand(replace(self.trial.setting, recipe=said))

    def _chosen(self, change) -> None:
        if self._quiet or not change["new"]:
            return
        kind, key = change["new"]
        with self._problems_shown():
            if kind == "saved":
                self._use_saved(Path(key))
            else:
                self.shelf = self._own_shelf
                self.use(self._whole(key) if kind == "demo" else self.known[key])
        with self._silently():
            self.choose.value = ""  # so that the same drink can be chosen again

    def _take_up(self, setting: Setting) -> None:
        """Put a changed version of the drink on the page in its place."""
        self._put_on(setting, self.note.value, self.title.value, same=self._in_hand, came_from=self._came_from)

    def _use_saved(self, path: Path) -> None:
        found = logbook.open_saved(path, pantry=self._own_shelf)
        self._use_opened(replace(found, notes=logbook.told_of(path, found, pantry=self._own_shelf)))

    def _use_opened(self, found: logbook.Opened, **how) -> None:
        self.shelf = found.pantry  # with what has left the pantry since, and all that the saved ones warn of
        self._put_on(found.setting, found.note, found.title, came_from=found.came_from, **how)
        self.said.value = join([self.said.value, *map(para, found.notes)])

    def _named(self, key) -> Setting:
        """What goes beside the drink, by its key; its bottles come onto the shelf."""
        kind, name = key
        if kind == "saved":
            found = logbook.open_saved(Path(name), pantry=self._own_shelf)
            self.shelf = found.onto(self.shelf)
            return found.setting
        return demo_jelly() if kind == "beside" else self._whole(name)

    def _whole(self, name: str) -> Setting:
        """A drink of the demo with its steps and what goes with it, in the person's standing choices."""
        return replace(self._demo[name], **self._choices())

    def _typing_opened(self, change) -> None:
        if change["new"] == 0:  # begin from what is on the bench
            with self._problems_shown():
                now = self.recipe()
                self.typed.value, self.typed_name.value = now.text(self.shelf, self.display), now.name

    def _add_line(self, line: str) -> None:
        Recipe.parse(line, self.shelf)  # refuses what could not be used
        self.typing.selected_index = 0
        self.typed.value = f"{self.typed.value.rstrip()}\n{line}"

    def _own_changed(self, mine: pantry.Pantry) -> None:
        self._own_shelf, self.shelf = mine, with_own(self.shelf, mine)
        self.ingredients.show()
        self.refresh()

    def _use_typed(self, _=None) -> None:
        with self._problems_shown():
            try:
                self._take_typed()
            except InputError as problem:
                self._refused = sentence(self.display.say(problem))

    def _take_typed(self) -> None:
        name = self.typed_name.value.strip() or "untitled"
        typed = Recipe.parse(self.typed.value, self.shelf, name=name)
        show = Display(typed.told_in or self.volume_unit.value, self.temperature_unit.value)  # as typed, so shown
        now, way = self.recipe(), None
        if same := bench_words.retyped(now, typed):
            setting = replace(self.setting(), display=show, recipe=same)
        else:
            way = usual_way(typed, self.shelf, name)
            setting = self._usual(replace(typed, technique=way.technique, serve=way.serve, family=way.family))
            setting = replace(setting, tool=self.tool.value, country=self.country.value, display=show)
        units_changed = show != self.display
        kept = {"note": self.note.value, "came_from": self._came_from, "same": self._in_hand} if same else {}
        self._put_on(setting, **kept)
        if way is not None:
            self.way.value = quiet(self.display.say(Fact("way of a recipe", way=way.said)))
        if units_changed:
            self._keep_choices()
        self.typing.selected_index = None

    # --- the drink in hand -----------------------------------------------------------------------

    def _follow(self, held: logbook.Opened) -> None:
        """Show the drink that has been put in hand."""
        with self._problems_shown():
            self._use_opened(held, opening=True, same=True)

    def _keep_in_hand(self, setting: Setting) -> None:
        """Put the drink on the page in hand if a person has changed it; what was in hand is kept if it is another."""
        now = setting, self.title.value, self.note.value
        if now == self._held:
            return
        with self._said():
            if not self._in_hand:
                self._set_aside()  # refused, as by a full disk: what is in hand stays, and the next change tries again
                self._in_hand = True
            self._held = now
            self.hand.put(setting, self.shelf, **self._words())

    def _words(self) -> dict[str, str]:
        return {"title": self.title.value, "note": self.note.value, "came_from": self._came_from}

    def _set_aside(self) -> None:
        self.hand.keep()
        before = self.hand.read(self._own_shelf, [])  # what cannot be read is kept beside
        if before is None or (self._of_the_house(before.setting) and not before.note):
            return
        if aside := logbook.set_aside(self.folder, before):
            self._fill_choices()
            self.said.value = done_words(say(Fact("in hand before", kept=str(aside.relative_to(self.folder)))).strip())

    def _of_the_house(self, setting: Setting) -> bool:
        """Whether it is a demo or a classic as it comes."""
        name = setting.recipe.name
        if name in self._demo:
            ours = self._whole(name)
        elif name in self.known.names:
            ours = Setting(self.known[name])
        else:
            return False
        return setting == replace(setting, **{f: getattr(ours, f) for f in ("recipe", *_CHANGES_A_DRINK)})

    # --- from a drink to the page ----------------------------------------------------------------

    def refresh(self, _=None) -> None:
        """Recompute and repaint. A problem shows in one sentence and the last good result stays."""
        if self._quiet:
            return
        way = self.technique.value, self.serve.value, self.chilling.own_ice.value
        if way != self._way:  # another way of making is no step on the same trail
            self._trail.clear()
            self._way = way
        with self._problems_shown():
            self._stale = True  # until all of it has worked
            now = trial.run(self.setting(), pantry=self.shelf)
            placed = placed_among(now, self.known)
            self.trial = now
            # In the order of where the eye is.
            self._draw(now, placed)
            self.near.value = near_words(placed)
            self.headline.value = headline(now, self.pinned, self.display)
            tell()
            self.card.show(whatif.samples(now), self.display)
            self.asked.soon()
            self.chilling.show(now)
            self.beside.show(now.beside)
            self._show_share(now)
            self.next.offer_water(trial.water_missing(now))
            self.stages.value = stage_table(now, self.display)
            self.place.value = place_words(placed)
            self.cautions.value = declaration(declared(now), self.display.say)
            self._stale = False
            tell()
            self._keep_in_hand(now.setting)

    def _draw(self, now: trial.Trial, placed: profile.Place) -> None:
        here = point(now)
        if self._trail and any(dial.typing for dial in (*self.pours.children, self.chilling, self.glass)):
            self._trail.pop()  # a number may be a slip: it leaves no track, a slider does
        if not self._trail or self._trail[-1] != here:
            self._trail.append(here)
        last = len(self._trail) - 1
        was = self.chart.rows["frame"] if last else ()  # of another drink the axes begin anew
        rows = placed_rows(now, placed, self.known, self.pinned, was) | {
            "trail": [{**p, "order": i, "age": 1 - i / last if last else 0.0} for i, p in enumerate(self._trail)]
        }
        draw(self.chart, rows)

    @contextmanager
    def _problems_shown(self):
        """One sentence for a problem; figures that are of an earlier drink turn pale.

        That a typed recipe was refused is said until another is used.
        """
        outermost, before = not self._depth, self._trouble or self._refused
        self._depth += 1
        if outermost:
            self._trouble = ""
        try:
            yield
        except InputError as problem:
            self._trouble = sentence(self.display.say(problem))
        finally:
            self._depth -= 1
        if outermost:
            told = "\n".join(filter(None, dict.fromkeys((self._refused, self._trouble))))
            if told:
                pale = say(Fact("pale are of the last good drink")) if self._stale else ""
                self.problem.value = problem_words(told, pale)
            elif before:
                self.problem.value = ""
            if self._stale:  # of the drink in hand, answered or not
                self.cautions.value = declaration(declared(*self._brings()), self.display.say)
            for part in (self.headline, self.card, self.stages, self.near, self.place):
                (part.add_class if self._stale else part.remove_class)("dl-stale")
            (self.add_class if self._stale else self.remove_class)("dl-wrong")

    def _brings(self) -> tuple:
        try:
            return self.setting().brings(self.shelf)
        except InputError:
            return self._loaded.brings(self.shelf)

    # --- baseline, saving, writing up ------------------------------------------------------------

    def pin_baseline(self) -> None:
        """Hold the drink as it stands: every figure then shows its difference from it."""
        with self._said():
            self._good()
            self._hold(self.trial)

    def take_pin_off(self) -> None:
        """Forget the baseline."""
        self._hold(None)

    def _hold(self, version: trial.Trial | None) -> None:
        self.pinned, self.unpin.disabled = version, version is None
        self.card.compare(version is not None)
        self.unpin.layout.display = "none" if version is None else None
        self.refresh()

    def _keep_choices(self, _=None) -> None:
        if self._quiet:
            return
        self._standing = {
            "volume": self.volume_unit.value, "temperature": self.temperature_unit.value,
            "country": self.country.value, "tool": self.tool.value,
        }  # fmt: skip
        with self._said():
            self.units.keep(**self._standing)

    def save(self) -> None:
        """Save the trial as it stands under a new name."""
        with self._said():
            self._good()
            path = logbook.save(self.trial, self.folder, **self._words())
            self._came_from = path.name  # what is changed now is a version of it
            with suppress(InputError):  # what keeps it from being in hand was told when it was changed
                if self._in_hand:
                    self.hand.put(self.trial.setting, self.shelf, **self._words())
            self._fill_choices()
            named = link(path, str(path.relative_to(self.folder)))
            self.said.value = done_words("Saved as ", named, say(Fact("open it under drink")))

    def write_up(self) -> None:
        """Write the trial up as a page and as plain text, each under a new name."""
        with self._said():
            self._good()
            page, text = write_up(
                self.trial, self.folder, rows=self.chart.rows, title=self.title.value, notes=self.note.value,
                baseline=self.pinned, display=self.display, country=self.country.value, came_from=self._came_from,
                **self.published.about(self.trial, self.country.value))  # fmt: skip
            self.said.value = self.published.wrote(page, text)

    def _good(self) -> None:
        """Refuse to keep anything while the page shows a problem: the figures would be another drink's."""
        self.refresh()
        if self._stale:
            told, allowed = Told("not a drink yet"), f"mended first. {self._trouble.rstrip('.')}"
            raise InputError("the drink on the bench", told, allowed)
