"""The panel "Reach a target": wanted figures and bottles on hand in, amounts out; and one bottle for another."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from time import perf_counter

import ipywidgets as w

from ... import cost, dilution, logbook, profile, trial
from ...declared import brought
from ...dilution import OwnIce
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact
from ...forgiving import most_pours
from ...kinds import VOLUME
from ...pantry import Ingredient, Pantry
from ...reach import COST, FIGURES, Answer, Limit, PerMl, bands_of, called, nearby, reach, swap
from ...recipe import SERVED_WITH, SERVES, TECHNIQUES, Pour, Recipe
from ...setting import Setting
from ...units import BAR_MEASURES, number
from ..charts.live import LiveChart, once
from ..charts.reach import SIGN, target_chart, target_rows, verdict_on
from ..parts.amount_words import bar_text, pour_text
from ..parts.dials import Dial
from ..parts.html import WIDE, Html, bold, done_words, element, heading, join, para, problem_words, quiet, table
from ..parts.most_pours import MostPours
from ..parts.own_file import offer
from ..parts.panel import Lesson, chosen, draw, fold, pick, sides
from ..parts.soon import Soon
from ..parts.wanted import BottleRow, Key, Wanted
from ..parts.watch import running_loop

MEASURES = {
    "poured freely": "", "in steps of ¼ oz": "0.25 oz", "in steps of ½ oz": "0.5 oz", "in steps of 2.5 mL": "2.5 mL",
    "in steps of 5 mL (a barspoon)": "5 mL", "in steps of 10 mL": "10 mL",
}  # fmt: skip
DASHES = 3.0  # a pour of the chosen drink below this is for aroma: it is kept as it is [mL]
MAKE_UP = {"water": "water", "sugar_syrup_1to1": "sugar syrup"}  # what may be added in a swap
PROMPT = 0.1  # an answer that takes longer is worked out when a slider is let go, not on its way [s]
SUFFIX = ", to a target"


def panel(folder: str | Path = ".", recipe: Recipe | None = None) -> TargetPanel:
    """Reach a target: wanted strength, sugar, acid and volume, and the amounts that come nearest.

    Parameters
    ----------
    folder : path
        Working folder: own ingredients and choices are read from it, trials are saved in it.
    recipe : Recipe, optional
        What to start with; the demo's first drink by default.
    """
    return TargetPanel(folder, recipe)


class TargetPanel(Lesson):
    """Amounts for a target. `use` takes a drink to start from; `refresh` recomputes and repaints."""

    def __init__(self, folder: str | Path, recipe: Recipe | None = None) -> None:
        self.found: tuple[Answer, ...] = ()
        self.swapped: Answer | None = None
        self._asked: dict[str, tuple] = {}
        self._slow = self._exactly = False
        self.soon = Soon(self._exact)  # the exact answer, while the page shows a first one
        super().__init__(folder, recipe)

    # --- what is on the page ---------------------------------------------------------------------

    def _build(self, show: Display) -> None:
        self.wanted = {axis: Wanted(axis, self.refresh) for axis in FIGURES}
        self.most = w.Text(
            description="Cost under", placeholder="such as 1.80; empty: free", continuous_update=False, layout=WIDE
        )
        self.technique, self.serve = pick("Technique", TECHNIQUES), pick("Served", SERVES)
        self.before = w.Checkbox(
            description="leave the melt water out: the drink before ice", indent=False, layout=WIDE
        )
        self.measure = pick("Amounts", MEASURES.items())
        self.near = w.Checkbox(
            value=False, description="of all that meet it, the nearest to my recipe", indent=False, layout=WIDE
        )

        head = (("", 124), ("at least", 64), ("at most", 64), ("on hand", 48), ("after ice", 48))
        cells = (element("span", word, style=f"width:{wide}px") for word, wide in head)
        head = Html(element("div", *cells, style="display:flex;line-height:1.2", class_="dl-quiet"))
        self.rows = w.VBox()
        self.new_name = w.Combobox(placeholder="another bottle: its name", layout={"width": "206px"})
        self.new_strength = w.Text(placeholder="% vol", tooltip="its strength, if another", layout={"width": "70px"})
        self.add_button = w.Button(description="Add", layout={"width": "76px"})
        self.add_said = Html()
        self.tied = w.Checkbox(description="two bottles in a fixed ratio", indent=False, layout=WIDE)
        self.first, self.second = pick("Of", [("", "")]), pick("to", [("", "")])
        self.times = Dial("so many times as much", 1, 5, 0.25, "to 1", self.refresh)
        self.ratio = w.VBox([self.first, self.second, self.times], layout={"display": "none"})

        self.best, self.others, self.swap_table = self.answers = [Html() for _ in range(3)]
        self.picture = LiveChart(once(target_chart))
        self.use_button = w.Button(description="Use these amounts", button_style="primary")
        self.use_said = Html()
        self.pours = MostPours(self.save_pours, self.refresh)

        self.swap_old, self.swap_new = pick("Bottle", [("", "")]), pick("Instead", [("", "")])
        self.swap_strength = Dial("Its strength", 40, 80, 0.5, "% vol", self.refresh)
        self.make_up = {
            key: w.Checkbox(value=True, description=f"{name} may be added", indent=False, layout=WIDE)
            for key, name in MAKE_UP.items()
        }
        self.swap_button = w.Button(description="Use these amounts", button_style="primary")
        self.swap_said = Html()
        ask = [self.swap_old, self.swap_new, self.swap_strength, *self.make_up.values()]
        both = sides(ask, [self.swap_table, self.swap_button, self.swap_said])
        self.swapping = fold("One bottle for another", both)

        self._lay_out(
            [self.choose, *self.wanted.values(), self.most, self.technique, self.serve, self.before, self.measure,
             self.near, self.pours.wish, Html(heading("Bottles")), head, self.rows,
             w.HBox([self.new_name, self.new_strength, self.add_button]), self.add_said, self.tied, self.ratio],
            [self.picture, self.best, self.use_button, self.use_said, self.pours, self.others],
            [self.swapping],
        )  # fmt: skip
        self._show_in(show)
        self.answers.append(self.pours.words)
        asked = (self.most, self.technique, self.serve, self.measure, self.near, self.first, self.second, self.swap_old)
        self._answers_to(*asked, *self.make_up.values())
        self.before.observe(self._before_ticked, "value")
        self.tied.observe(self._tied_ticked, "value")
        self.swap_new.observe(lambda change: self._swap_chosen(), "value")
        self.swapping.observe(self.refresh, "selected_index")
        self.add_button.on_click(lambda _: self.add())
        self.use_button.on_click(lambda _: self.save())
        self.swap_button.on_click(lambda _: self.save_swap())

    # --- from a drink to the page ----------------------------------------------------------------

    def _used(self) -> None:
        recipe = self._recipe
        self.add_said.value = self.use_said.value = self.swap_said.value = ""
        self.technique.value, self.serve.value = recipe.technique, recipe.serve
        self._fill_target()
        poured = _poured(recipe)
        rows = []
        for (key, abv), ml in poured.items():
            late = all(p.after for p in recipe.pours if (p.ingredient, p.abv) == (key, abv))
            rows.append(BottleRow(Pour(key, ml, abv, late), self, ml if 0 < ml < DASHES else None))
        self._list(rows)
        self.swap_old.options = [(Pour(key, 0, abv).bottle(self.shelf).name, (key, abv)) for key, abv in poured]
        self._offer()
        self.swap_new.value = next(iter(poured))[0]
        self._swap_chosen()

    def _offer(self) -> None:
        self.new_name.options = tuple(item.name for item in self.shelf.values())
        offer(self.swap_new, sorted((item.name, item.id) for item in self.shelf.values()))

    def _fill_target(self) -> None:
        """Want what the chosen drink is; one too strong for the melt rule leaves the target as it was."""
        try:
            figures = self._figures(self._recipe)
        except InputError as problem:
            self.add_said.value = problem_words(
                self.say(Fact("not the target of this drink", problem=self.say(problem)))
            )
            return
        for axis, wanted in self.wanted.items():
            wanted.use(getattr(figures, axis))

    def _figures(self, recipe: Recipe) -> profile.Profile:
        """Of the drink as iced and topped, before any later step."""
        return trial.run(self._iced(recipe), pantry=self.shelf, draws=0).made

    def _iced(self, recipe: Recipe) -> Setting:
        """The drink of this recipe as iced and topped, all in one glass."""
        iced = replace(self.setting, recipe=recipe, steps=(), beside=(), serves=1, serve_volume=None)
        return replace(iced, ice=None, melt=self._melt) if self.before.value else iced

    @property
    def _later(self) -> bool:
        """Whether something is done to the drink after it is iced."""
        return bool(self.setting.steps) and not self.before.value

    @property
    def _melt(self) -> float | None:
        """Melt water: none before ice, by hand, else by the drink's own ice or by the rule. [mL/mL]"""
        return 0.0 if self.before.value else self.setting.melt

    @property
    def _ice(self) -> OwnIce | None:
        """The drink's own ice, if it meets it."""
        return None if self.before.value else self.setting.ice

    def _list(self, rows: Sequence[BottleRow]) -> None:
        """Put these bottles on the page."""
        self.rows.children = rows
        names = [(row.bottle.name, row.key) for row in rows]
        for choice, other in ((self.first, 0), (self.second, 1)):
            value = choice.value
            choice.options = names or [("", "")]
            keys = [key for _, key in choice.options]
            choice.value = value if value in keys else keys[min(other, len(keys) - 1)]

    def _show_in(self, show: Display) -> None:
        for wanted in self.wanted.values():
            wanted.show_in(show)
        for row in self.rows.children:
            row.show_in(self.shelf, show)

    # --- what a hand does --------------------------------------------------------------------------

    def _before_ticked(self, _) -> None:
        if not self._quiet:  # the wanted figures now stand for another stage of the drink
            self._fill_target()
            self.refresh()

    def _tied_ticked(self, _) -> None:
        self.ratio.layout.display = None if self.tied.value else "none"
        self.refresh()

    def _swap_chosen(self) -> None:
        if self.swap_new.value:
            self.swap_strength.reach(self.shelf[self.swap_new.value].abv, 80, 0.5, "% vol")
            self.refresh()

    def add(self) -> None:
        """Put the bottle typed in on the list."""
        with self._told(self.add_said):
            item = self.shelf.find(self.new_name.value)
            if self.new_strength.value.strip():
                item = item.labelled(self.new_strength.value)
            key = self.shelf.label(item)
            if any(row.key == key for row in self.rows.children):
                raise InputError("bottle to add", item.name, "one that is not on the list yet")
            with self._silently():
                self._list([*self.rows.children, BottleRow(Pour(key[0], 0, key[1]), self, None)])
                self.new_name.value = self.new_strength.value = ""
            self.add_said.value = done_words(self.say(Fact("is on the list", bottle=item.name)))
            self.refresh()

    def _take_off(self, row: BottleRow) -> None:
        with self._silently():
            self._list([other for other in self.rows.children if other is not row])
        self.add_said.value = done_words(self.say(Fact("is off the list", bottle=row.bottle.name)))
        self.refresh()

    @contextmanager
    def _told(self, place: Html):
        """Show a problem beside the button that was pressed, once the page is exact."""
        self.soon.now()
        try:
            yield
        except InputError as problem:
            place.value = problem_words(self.say(problem))

    # --- the answer --------------------------------------------------------------------------------

    def _once(self, what: Callable, *given, **asked):
        """`what` of these, not worked out again for what was asked last."""
        known = self._asked.get(what.__name__)
        if known is None or known[:2] != (given, asked):
            known = self._asked[what.__name__] = given, asked, what(*given, **asked)
        return known[2]

    def _target(self) -> tuple[dict[str, float], dict[str, float]]:
        """The wanted figures, and the tolerances that were set."""
        ticked = {axis: wanted.value for axis, wanted in self.wanted.items() if wanted.tick.value}
        most = {COST: number(self.most.value, "wanted cost")} if self.most.value.strip() else {}
        return {a: value for a, (value, _) in ticked.items()} | most, {a: pm for a, (_, pm) in ticked.items() if pm}

    def _prices(self, bottles: Sequence[Ingredient]) -> PerMl:
        """What the bottles on hand cost, by the person's own price list."""
        prices = cost.load(self.folder, pantry=self.shelf)
        if prices is None:
            allowed = "left out until a price list is in the folder: 09_to_the_bar has a form for it"
            raise InputError("wanted cost", self.most.value, allowed)
        return cost.per_ml(bottles, prices)

    def _answer(self) -> None:
        show = self.display
        goal, tolerance = self._target()
        on_hand = [row for row in self.rows.children if row.poured.value]
        measure = self.measure.value or None
        prices = self._prices([row.bottle for row in on_hand]) if COST in goal else None
        bottles = [row.bottle for row in on_hand]
        asked = {
            "limits": {row.bottle: limit for row in on_hand if (limit := row.limit(measure))},
            "ratios": [(self._bottle(self.first), self._bottle(self.second), self.times.value)]
            if self.tied.value and on_hand else [],
            "measure": measure, "tolerance": tolerance, "technique": self.technique.value, "serve": self.serve.value,
            "melt": self._melt, "ice": self._ice, "after": [row.bottle for row in on_hand if row.after.value],
            "near": self._mine(on_hand) if self.near.value else None,
            "name": self._recipe.name.removesuffix(SUFFIX) + SUFFIX, "tool": self.setting.tool, "prices": prices,
            "pantry": self.shelf,
        }  # fmt: skip
        start = perf_counter()
        found = self._first_found(goal, bottles, asked) or self._once(reach, goal, bottles, **asked)
        exact, forgiving = not self.soon.waiting, None
        if self.pours.wish.value and exact:
            seed = self.setting.seed
            forgiving = self._once(most_pours, goal, bottles, found=found, display=show, seed=seed, **asked)
        took, solved = perf_counter() - start, found is not self.found
        iced = self._iced(found[0].recipe)
        made = self._once(trial.run, iced, pantry=self.shelf)
        whole = self._once(_whole, self.setting, found[0].recipe, self.shelf) if self._later else None
        bands = bands_of(goal, tolerance)
        rows = target_rows(found, made.served, bands, show)
        best = self._best_words(found[0], made, whole, bands, show, prices)
        others = self._other_words(found[1:], show, prices)
        pours = self.pours.read(forgiving, lambda pour: pour_text(pour, self.shelf, show), self.shelf, show)
        swapped = self._swap(show) if self.swapping.selected_index == 0 else (None, "")
        # Nothing failed: only now does the page change.
        self.found, (self.swapped, words) = found, swapped
        draw(self.picture, rows)
        self.best.value, self.swap_table.value = (
            best if exact else join([quiet(show.say(Fact("first answer"))), best]),
            words,
        )
        if exact:
            self.others.value = others
            self.pours.show(*pours)
        for part in (self.others, self.pours):  # of the last exact answer
            (part.remove_class if exact else part.add_class)("dl-soon")
        self.swap_button.layout.display = None if self.swapped else "none"
        self._keep_pace(took if solved else None)
        return whole or made

    def _first_found(self, goal: Mapping, bottles: Sequence[Ingredient], asked: Mapping) -> tuple[Answer, ...]:
        """While a hand moves a slider of a live page, the last answer a step on; the exact one comes when it rests."""
        known = self._asked.get("reach")
        fresh = self.found and (known is None or known[:2] != ((goal, bottles), asked))
        if fresh and not self._exactly and self.soon.later():
            try:
                return (nearby(self.found[0], goal, bottles, **asked),)
            except InputError:  # the exact way says what is wrong, if anything is
                pass
        self.soon.stop()
        return ()

    def _exact(self) -> None:
        self._exactly = True
        try:
            self.refresh()
        finally:
            self._exactly = False

    def _in_hand(self):
        """Any bottle on hand may be in an answer, and all that is done to the drink and goes with it."""
        on_hand = [(row.bottle, row.after.value) for row in self.rows.children if row.poured.value]
        made = replace(self._recipe, technique=self.technique.value, serve=self.serve.value)
        bottles = [*brought(made, self.shelf, on_hand), *self.setting.steps]
        bottles += [part for other in self.setting.beside for part in other.brings(self.shelf)]
        if self.swapping.selected_index == 0 and self.swap_new.value:
            bottles += [*brought(self._recipe, self.shelf), self.shelf[self.swap_new.value]]
        return [("", bottles)]

    def _mine(self, on_hand: Sequence[BottleRow]) -> Recipe | None:
        """The drink that the page started from, as far as its bottles are on hand."""
        keys = {row.key for row in on_hand}
        pours = [p for p in self._recipe.pours if (p.ingredient, p.abv) in keys]
        return replace(self._recipe, pours=pours) if any(p.amount > 0 and not p.after for p in pours) else None

    def _bottle(self, choice: w.Dropdown) -> Ingredient:
        return self.shelf.bottle(*choice.value)

    def _keep_pace(self, took: float | None) -> None:
        """Sliders that an answer can't keep up with are heard when they are let go: new ones of another unit too."""
        if took is not None:
            self._slow = running_loop() is None and took > (0.6 * PROMPT if self._slow else PROMPT)
        for dial in (self.times, *(dial for wanted in self.wanted.values() for dial in wanted.dials)):
            dial.slider.continuous_update = not self._slow

    def _best_words(
        self, best: Answer, made: trial.Trial, whole: trial.Trial | None, bands, show: Display, prices
    ) -> str:
        recipe, stage = best.recipe, made.served
        count = f"{len(recipe.pours)} bottle{'s' if len(recipe.pours) > 1 else ''}"
        verdict = "meets the target" if best.distance == 0 else f"comes nearest: {_nearness(best.distance)}"
        pours = [(_name(p, self.shelf), pour_text(p, self.shelf, show), bar_text(p.amount)) for p in recipe.pours]
        if fits := any(bar for *_, bar in pours):
            near = Fact("near a bar measure")
        else:
            near, pours = "", [row[:2] for row in pours]
        figures = [
            (profile.TITLES[axis], _band_text(axis, bands.get(axis), show),
             show.text(profile.KINDS[axis], getattr(stage.profile, axis), stage.spread(axis)),
             *([show.text(profile.KINDS[axis], getattr(whole.served.profile, axis), whole.served.spread(axis))]
               if whole else []),
             _signed(best, axis, bands, show))
            for axis in FIGURES
        ]  # fmt: skip
        if best.cost is not None:
            most = bands[COST][1]
            told = "as wanted" if best.met[COST] else f"over by {_money(best.cost - most, prices)}"
            figures.append(
                (
                    "Cost of the pours",
                    f"under {_money(most, prices)}",
                    _money(best.cost, prices),
                    *[""] * bool(whole),
                    f"{SIGN[best.met[COST]]} {told}",
                )
            )
        stage_words = "before ice" if self.before.value else "as iced" if whole else "as served"
        done = tuple(step.name for step in self.setting.steps)
        after = [para(show.say(Fact("met as iced", done=done)))] if whole else []
        melt = ""
        if best.melt > 0:
            by = "by your own ice" if self.setting.ice else "by hand" if self.setting.melt is not None else "as usual"
            share, spread = 100 * best.melt, 100 * made.melt_pm
            melt = Fact("melt of the answer", by=by, share=share, spread=spread)
        bitter = self.measure.value and any(p.bottle(self.shelf).kind == "bitters" for p in recipe.pours)
        dashes = Fact("a dash is", dash=VOLUME(BAR_MEASURES["dash"])) if bitter else ""
        tables = (
            table(("Bottle", "amount", "bar measure")[: 2 + fits], pours),
            table(("Figure", "wanted", stage_words, *["at the end"] * bool(whole), ""), figures),
        )
        return join([
            element("div", heading(f"Best answer, {count}: {verdict}"), role="status"),
            element("div", *tables, style="display:flex;flex-wrap:wrap;gap:0 40px"),
            *after,
            *(para(show.say(fact)) for fact in best.said),
            quiet(show.say(Fact("answer by", melt=melt, near=near, dashes=dashes))),
        ])  # fmt: skip

    def _other_words(self, others: Sequence[Answer], show: Display, prices: PerMl | None) -> str:
        if not others:
            return heading("Other answers") + para(show.say(Fact("no other answer")))
        poured = [_poured(other.recipe) for other in others]
        rows = [
            (self.shelf.bottle(*key).name, *(self._cell(key, amounts, show) for amounts in poured))
            for key in dict.fromkeys(key for amounts in poured for key in amounts)
        ]
        for axis in FIGURES:
            values = [(show.text(profile.KINDS[axis], getattr(o.figures, axis)), o.met.get(axis)) for o in others]
            rows.append((bold(profile.TITLES[axis]), *(f"{text} {SIGN[met]}" for text, met in values)))
        if others[0].cost is not None:
            told = (f"{_money(o.cost, prices)} {SIGN[o.met[COST]]}" for o in others)
            rows.append((bold("Cost of the pours"), *told))
        rows.append((bold("Distance"), *(_nearness(other.distance) for other in others)))
        head = ("", *(f"{len(o.recipe.pours)} bottle{'s' if len(o.recipe.pours) > 1 else ''}" for o in others))
        behind = [Fact("answers by")]
        if self._ice is not None:
            rows.append((bold("Melt water"), *(f"{100 * other.melt:.1f} %" for other in others)))
            usual = Fact("usual spread of melt", by=100 * dilution.MELT_SPREAD) if self._ice.miss is None else ""
            behind.append(Fact("answers on own ice", share=100 * others[0].held, usual=usual))
        return heading("Other answers, fewer bottles among them") + table(head, rows) + quiet(show.say(behind))

    def _cell(self, key: Key, amounts: Mapping[Key, float], show: Display) -> str:
        if key not in amounts:
            return "none"
        in_ounces = self.measure.value.endswith("oz") and bar_text(amounts[key])
        return in_ounces or pour_text(Pour(key[0], amounts[key], key[1]), self.shelf, show)

    # --- one bottle for another --------------------------------------------------------------------

    def _swap(self, show: Display) -> tuple[Answer | None, str]:
        recipe = replace(self._recipe, technique=self.technique.value, serve=self.serve.value)
        old, new = self.shelf.bottle(*self.swap_old.value), self.shelf[self.swap_new.value]
        try:
            if self.swap_strength.value != new.abv:
                new = self.shelf.bottle(new.id, self.swap_strength.value)
            if (new.id, new.abv) == (old.id, old.abv):
                return None, para(show.say(Fact("same bottle")))
            held = {p.ingredient for p in recipe.pours} | {new.id}
            add = [self.shelf[key] for key, tick in self.make_up.items() if tick.value and key not in held]
            measure = self.measure.value or None
            dashes = {
                new if key == self.swap_old.value else self.shelf.bottle(*key): Limit(ml, ml, measure and ml)
                for key, ml in _poured(recipe).items()
                if 0 < ml < DASHES
            }
            answer = self._once(
                swap, recipe, old, new, add=add, limits=dashes, measure=measure, melt=self._melt, ice=self._ice,
                tool=self.setting.tool, pantry=self.shelf,
            )  # fmt: skip
            was = self._figures(recipe)
        except InputError as problem:
            return None, problem_words(self.say(problem))
        before, after = _poured(recipe), _poured(answer.recipe)
        rows = [
            (self.shelf.bottle(*key).name, *(self._cell(key, part, show) for part in (before, after)), "")
            for key in {self.swap_old.value: 0, **after, **before}
        ]
        bands = bands_of({axis: getattr(was, axis) for axis in FIGURES}, {})
        for axis in FIGURES:
            values = getattr(was, axis), getattr(answer.figures, axis)
            texts = (show.text(profile.KINDS[axis], value) for value in values)
            rows.append((bold(profile.TITLES[axis]), *texts, _signed(answer, axis, bands, show, "held")))
        verdict = (
            "the drink keeps its figures" if answer.distance == 0
            else f"the nearest to the drink as it was: {_nearness(answer.distance)}"
        )  # fmt: skip
        return answer, join([
            element("div", heading(f"{new.name} in place of {old.name}: {verdict}"), role="status"),
            table(("", "before", "after", ""), rows),
            *(para(show.say(fact)) for fact in answer.said),
            quiet(show.say(Fact("aroma is not held"))),
        ])  # fmt: skip

    # --- keeping it --------------------------------------------------------------------------------

    def save(self) -> None:
        """Save the best answer as a new trial, for the bench to open."""
        with self._told(self.use_said):
            bands = bands_of(*self._target())
            said = "; ".join(f"{called(axis)} {_band_text(axis, bands[axis], self.display)}" for axis in bands)
            stage = "before ice" if self.before.value else "as served"
            self._keep(self.found[:1], self.say(Fact("was wanted", stage=stage, wanted=said)), self.use_said)

    def save_pours(self) -> None:
        """Save the amounts that most pours keep inside as a new trial."""
        with self._told(self.use_said):
            found = self.pours.found
            if found is None:
                raise InputError("page", Told("without such amounts"), "asked for them first")
            self._keep([found.best.answer], self.say(found.said), self.use_said)

    def save_swap(self) -> None:
        """Save the drink with the other bottle as a new trial."""
        with self._told(self.swap_said):
            new = self.shelf.bottle(self.swap_new.value, self.swap_strength.value).name
            note = self.say(Fact("in place of", new=new, old=self._bottle(self.swap_old).name))
            self._keep([self.swapped] if self.swapped else [], note, self.swap_said, f"{self._recipe.name}, with {new}")

    def _keep(self, answers: Sequence[Answer], note: str, place: Html, title: str = "") -> None:
        if self.problem.value or not answers:
            raise InputError("page", Told("without an answer"), "put right first, as the sentence on it says")
        like, (answer,) = self._recipe, answers
        method = like.method if answer.recipe.technique == like.technique else ""
        said = {word: getattr(like, word) for word in SERVED_WITH}
        recipe = replace(answer.recipe, family=like.family, question=like.question, method=method, **said)
        kept = logbook.DEFAULTS | chosen(self.folder)[0]
        drink = replace(self.setting, recipe=recipe)
        if self.choose.value[0] not in ("hand", "beside", "saved"):  # a recipe alone: measured as usual here
            drink = replace(drink, tool=kept["tool"], country=kept["country"])
        done = trial.run(drink, pantry=self.shelf)
        path = logbook.save(done, self.folder, title=title, note=note, display=self.display)
        saved = Fact("target saved", file=f"{path.parent.name}/{path.name}", label=logbook.entry(path).label)
        place.value = done_words(self.say(saved))


# --- words ------------------------------------------------------------------------------------------------


def _whole(drink: Setting, recipe: Recipe, shelf: Pantry) -> trial.Trial:
    """The answer run through all that is done to the drink, in one glass."""
    return trial.run(replace(drink, recipe=recipe, serves=1, serve_volume=None), pantry=shelf)


def _poured(recipe: Recipe) -> dict[Key, float]:
    """How much of each bottle, however often it is poured. [mL]"""
    sums: dict[Key, float] = {}
    for pour in recipe.pours:
        sums[pour.ingredient, pour.abv] = sums.get((pour.ingredient, pour.abv), 0.0) + pour.amount
    return sums


def _name(pour: Pour, shelf: Pantry) -> str:
    return pour.bottle(shelf).name + (" (after the ice)" if pour.after else "")


def _band_text(axis: str, band: tuple[float, float] | None, show: Display) -> str:
    if band is None:
        return "free"
    if axis == COST:
        return f"under {band[1]:g}"
    (low, _, _), (high, _, unit) = (show.parts(profile.KINDS[axis], end) for end in band)
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def _signed(answer: Answer, axis: str, *more) -> str:
    return f"{SIGN[answer.met.get(axis)]} {verdict_on(answer, axis, *more)}" if axis in answer.met else ""


def _money(amount: float, prices: PerMl) -> str:
    return cost.money(Decimal(repr(amount)), prices.currency)


def _nearness(distance: float) -> str:
    """A distance of `reach` in words: 1 is the usual difference between two classics."""
    if distance == 0:
        return "as wanted"
    if distance < 0.005:
        return "all but there (0.00)"
    word = (
        "very near" if distance < 0.1 else "near" if distance < 0.3 else "some way off" if distance < 1 else "far off"
    )
    return f"{word} ({distance:.2f})"


# --- the picture -------------------------------------------------------------------------------------------
