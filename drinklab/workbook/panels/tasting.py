"""Blind tastings: the plan, the sheets to print, the answers and what they show."""

from __future__ import annotations

import contextlib
from dataclasses import replace
from pathlib import Path

import ipywidgets as w

from ... import files, logbook, strength, tasting, texts, trial
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact, say
from ...recipe import Recipe
from ...setting import Setting
from ...tasting import ABSENT, SCALES, Tasting
from ...units import read_row, whole_number
from ..charts.live import LiveChart, once
from ..charts.tasting import power_chart, power_rows
from ..parts.dials import Dial
from ..parts.exact import VOLUME, ExactDial
from ..parts.html import (
    WIDE,
    Html,
    bold,
    caution_words,
    done_words,
    heading,
    join,
    para,
    problem_words,
    quiet,
    table,
    tiles,
)
from ..parts.links import written
from ..parts.panel import Pictured, draw, pick, usual_country
from ..parts.tasting_words import (
    NAMES,
    PAPERS,
    RATED_HEAD,
    alcohol_words,
    choice_text,
    entry_label,
    key_html,
    left_out_words,
    plan_words,
    rated_row,
    sheets_html,
    step_words,
    stop_words,
    verdict,
)
from .balance import VersusPanel

BUTTON = {"width": "auto", "align_self": "flex-start"}
FIRST = "Slow Signal"  # of the demo


def panel(
    folder: str | Path = ".", a: Recipe | Setting | None = None, b: Recipe | Setting | None = None
) -> TastingPanel:
    """A tasting of two drinks: how many tasters, sheets and key, answers, verdict.

    Parameters
    ----------
    folder : path
        Working folder: tastings are saved in its folder `tastings`.
    a, b : Recipe or Setting, optional
        The drink in hand, and a drier Slow Signal, by default.
    """
    return TastingPanel(folder, a, b)


class TastingPanel(Pictured, VersusPanel):
    """Tasting A against B. `use` puts another A on it."""

    def __init__(self, folder: str | Path, a=None, b=None) -> None:
        self.plan: tasting.Plan | None = None
        self.portion: tasting.Portion | None = None
        self.opened: Tasting | None = None
        self._drafts: dict[str, dict] = {}  # answers given and not saved, by file
        self._sampled: dict[str, tuple] = {}
        super().__init__(folder, a, b)

    # --- what is on the page ---------------------------------------------------------------------

    def _build(self, show: Display) -> None:
        self.choose.description = "A"
        if self._wanted_b is None:
            self._wanted_b = _drier(self._demo[FIRST])
        name = self._wanted_b.recipe.name if isinstance(self._wanted_b, Setting) else self._wanted_b.name
        self._b_option = (f"Handed in: {name}", ("b", ""))
        self.other = pick("B", [self._b_option, *self.choose.options], ("b", ""))
        self.other.observe(self._compared, "value")
        self._build_plan(show)
        self._build_answers()
        asked = [self.method, self.asks, self.expected, self.scales, self.aim, self.tasters, self.who]
        told = [self.share, self.alpha, self.wanted]
        glass = [self.sip, self.swallow, self.limit, self.country]
        self._lay_out(
            [self.choose, self.other, Html(heading("The question")), *asked, Html(heading("How sure")), *told,
             Html(heading("In the glass")), *glass, Html(heading("On paper")), self.paper, self.seed],
            [self.figures, self.picture, self.words],
            [self.write_button, Html(heading("Answers")), self.saved, self.form, self.table, self.read_button,
             self.save_button, self.verdict],
        )  # fmt: skip
        self._answers_to(
            self.other, self.method, self.asks, self.expected, self.scales, self.aim, self.tasters, self.who,
            self.alpha, self.wanted, self.swallow, self.country, self.seed,
        )  # fmt: skip
        self.write_button.on_click(lambda _: self.write())
        self.read_button.on_click(lambda _: self.read())
        self.save_button.on_click(lambda _: self.save())
        self.saved.observe(self._open, "value")
        self._list()

    def _build_plan(self, show: Display) -> None:
        self.method = pick("Ask", [(NAMES[key], key) for key in tasting.WAYS])
        self.asks = w.Text("sweeter", description="Which is", continuous_update=False, layout=WIDE)
        self.expected = pick("Expected", [("A", "A"), ("B", "B")])
        self.scales = w.Text("sweet, sour, liking", description="Scales", continuous_update=False, layout=WIDE)
        self.aim = pick("To show", [("that they differ", False), ("that they are alike", True)])
        self.tasters = w.IntText(24, description="Tasters", layout=WIDE)
        self.who = w.Textarea(
            description="or who", placeholder="One a line, with what they can’t have.\nAda: eggs, almonds\nBo",
            continuous_update=False, rows=4, layout=WIDE,
        )  # fmt: skip
        self.share = Dial("Guests to notice", 100 / 3, 100, 1, "%", self.refresh, bottom=1)
        self.alpha = pick(
            "Risk",
            [("wrong 1 time in 10", 0.1), ("wrong 1 time in 20 (5 %)", 0.05), ("wrong 1 time in 100", 0.01)],
            0.05,
        )
        self.wanted = pick(
            "Wanted", [("found 7 times in 10", 0.7), ("found 8 times in 10", 0.8), ("found 9 times in 10", 0.9)], 0.8
        )
        self.sip = ExactDial("In each glass", tasting.SIP, 0, 60, VOLUME, show, self.refresh)
        self.swallow = pick("Each sip", [("is spat out", False), ("may be swallowed", True)])
        self.limit = Dial("Stop at, standard drinks", tasting.LIMIT, 3, 0.25, "", self.refresh)
        self.country = pick("Country", strength.countries(), usual_country(self.folder))
        self.paper = pick("Paper", PAPERS)
        self.seed = w.IntText(1, description="Shuffle no.", layout=WIDE)
        self.figures, self.words = self.answers = [Html(), Html()]
        self.picture = w.Box([LiveChart(once(power_chart))])
        self.write_button = w.Button(description="Write sheets and key", button_style="primary", layout=BUTTON)

    def _build_answers(self) -> None:
        narrow = {"width": "760px", "max_width": "100%"}
        self.saved = w.Dropdown(description="Tasting", layout=narrow)
        self.form = w.Box(layout={"flex_flow": "row wrap"})
        self.table = w.Dropdown(description="CSV file", layout=narrow)
        self.read_button = w.Button(description="Read the CSV file", layout=BUTTON)
        self.save_button = w.Button(description="Save the answers", button_style="primary", layout=BUTTON)
        self.verdict = Html()

    def _first(self) -> Setting:
        return self._demo[FIRST]

    def _follow(self, held) -> None:
        super()._follow(held)
        with self._silently():  # what is in hand may be tasted against what was saved, either way round
            here = self.other.value
            self.other.options = [self._b_option, *(o for o in self.choose.options if o[1][0] != "own")]
            self.other.value = here if here in [key for _, key in self.other.options] else ("b", "")

    def _show_in(self, show: Display) -> None:
        self.sip.show_in(show)

    # --- the plan --------------------------------------------------------------------------------------

    def samples(self) -> tuple[tasting.Sample, tasting.Sample]:
        """Both drinks, as far as a tasting needs to know them."""
        a, b = self.setting, self._b()
        if a == b:
            raise InputError("B", Told("the same drink as A"), "another drink, or another version of it")
        name = b.recipe.name if b.recipe.name != a.recipe.name else f"{b.recipe.name} (B)"
        return self._sample(self.choose, a, a.recipe.name), self._sample(self.other, b, name)

    def _sample(self, chosen: w.Dropdown, drink: Setting, name: str) -> tasting.Sample:
        """A slider of the plan does not run the drinks again."""
        key, found = self._sampled.get(chosen.description, (None, None))
        if key != (drink, name, self.shelf, chosen.value):
            key = drink, name, self.shelf, chosen.value
            found = tasting.sample(trial.run(drink, pantry=self.shelf), name, *self._saved_as(chosen.value, drink))
            self._sampled[chosen.description] = key, found
        return found

    def _saved_as(self, chosen: tuple[str, str], drink: Setting) -> tuple[str, str]:
        """File of the saved trial that a drink is, chosen from the list or in hand and not changed since, and its time.

        "" for none.
        """
        kind, name = chosen
        here = self._held.came_from if kind == "hand" else name if kind == "saved" else ""
        if here:
            path = self.folder / logbook.TRIALS / Path(here).name
            with contextlib.suppress(InputError):  # gone, or damaged: then it is none
                as_saved = logbook.open_saved(path, pantry=self._own_shelf).setting if kind == "hand" else drink
                if not logbook.changes(drink, as_saved):
                    return path.name, logbook.entry(path).time.isoformat(timespec="milliseconds")
        return "", ""

    def _answer(self) -> None:
        method = self.method.value
        drinks = self.samples()
        who = tasting.read_tasters(self.who.value)
        made = tasting.plan(
            who or whole_number(self.tasters.value, "tasters", 1, tasting.MOST_TASTERS), method, self.alpha.value,
            share=self.share.value / 100, wanted=self.wanted.value, similar=self.aim.value, samples=drinks,
        )  # fmt: skip
        given = tasting.portion(*drinks, method, self.sip.exact, self.country.value, self.limit.value)
        whole_number(self.seed.value, "seed", high=2**31 - 1)
        rows, apart = power_rows(made) if method != SCALES else None, tasting.steps(*(d.figures for d in drinks))
        self.plan, self.portion = made, given
        for part, shown in (
            (self.asks, method.startswith("paired")), (self.expected, method == "paired, expected"),
            (self.scales, method == SCALES), (self.picture, method != SCALES), (self.tasters, not who),
            (self.aim, method != SCALES), (self.share, method != SCALES), (self.wanted, method != SCALES),
        ):  # fmt: skip
            part.layout.display = None if shown else "none"
        if rows:
            draw(self.chart, rows)
        self.figures.value = tiles(_tiles(made, given))
        beyond = given.rounds == 0
        alcohol = [alcohol_words(given, self.display), stop_words(given) if not beyond else ""]
        self.words.value = join([
            *map(para, plan_words(made)), *map(para, step_words(apart, self.display)),
            *map(para, left_out_words(made)), para(" ".join(filter(None, alcohol))),
            caution_words([self.say(Fact("one tasting beyond the stop"))] * beyond),
            quiet(self.say(Fact("methods of tasting"))),
        ])  # fmt: skip

    # --- sheets ---------------------------------------------------------------------------------------

    def prepared(self) -> Tasting:
        """The tasting on the page, with its orders and codes drawn."""
        self._mended()
        return tasting.prepare(
            self.plan, *self.samples(), self.portion, seed=self.seed.value, asks=self.asks.value,
            expected=self.expected.value, scales=[self.scales.value], swallow=self.swallow.value,
        )  # fmt: skip

    def write(self) -> None:
        """Write sheets, key and a table for the answers into the folder, under new names."""
        with self._said():
            one, show, paper = self.prepared(), self.display, self.paper.value
            pages = {
                ".sheets.html": sheets_html(one, show, paper), ".key.html": key_html(one, show, paper),
                ".answers.csv": tasting.answers_csv(one),
            }  # fmt: skip
            made = tasting.save(one, self.folder, pages)
            self._list(made[0])
            self.said.value = written(
                f"In the folder {tasting.TASTINGS}: ", made[1:],
                self.say(Fact("tasting written")),
            )  # fmt: skip

    # --- answers ---------------------------------------------------------------------------------------

    def _list(self, show: Path | None = None) -> None:
        """What has been saved comes among the choices; `show` is opened."""
        found, problems = tasting.entries(self.folder)
        self._saved = {str(path): one for path, one in found}
        where = self.folder / tasting.TASTINGS
        try:
            tables = [path.name for path in files.listed(where, ".csv", "folder of saved tastings")]
        except InputError:
            tables = []  # `entries` has said so
        with self._silently():
            here = str(show) if show else self.saved.value
            self.saved.options = [
                ("choose a tasting …", ""),
                *((entry_label(one), path) for path, one in self._saved.items()),
            ]
            self.saved.value = here if here in self._saved else ""
            table_here = self.table.value
            self.table.options = [("choose a file …", ""), *((texts.fit(name), name) for name in tables)]
            own = next((name for name in tables if show and name.startswith(show.stem)), "")
            self.table.value = own or (table_here if table_here in tables else "")
        if show or self.opened is None:
            self._open()
        if problems:
            self.said.value = join([self.said.value, *map(problem_words, problems)])

    def _open(self, _=None) -> None:
        """Show the answers of the tasting that is chosen, and what they show."""
        if self._quiet:
            return
        one = self._saved.get(self.saved.value)
        if draft := self._drafts.get(self.saved.value):
            one = tasting.answered(one, {**one.answers, **draft})
        self.opened = one
        self._lay_out_form()
        for part in (self.form, self.table, self.read_button, self.save_button):
            part.layout.display = None if one is not None else "none"
        self._judge()

    def _lay_out_form(self) -> None:
        one, rows = self.opened, []
        for serving in one.servings if one is not None else ():
            answer = one.answers.get(serving.taster, "")
            name = Html(para(serving.taster), layout={"width": "180px", "overflow": "hidden"})
            if one.method == SCALES:
                boxes = [_ratings_box(one, code, answer) for code in serving.codes]
            else:
                options = [("", ""), *((choice_text(c, serving), c) for c in tasting.choices(serving, one.method))]
                options.append(("did not taste", ABSENT))
                boxes = [w.Dropdown(options=options, value=answer, layout={"width": "240px"})]
            for box in boxes:
                box.observe(lambda _, taster=serving.taster, boxes=boxes: self._given(taster, boxes), "value")
            rows.append(w.HBox([name, *boxes], layout={"align_items": "center", "margin": "0 24px 0 0"}))
        if one is not None and one.method == SCALES:
            rows.insert(
                0,
                Html(quiet(self.say(Fact("ratings in each box", scales=one.scales))), layout={"width": "100%"}),
            )
        self.form.children = rows

    def _given(self, taster: str, boxes: list) -> None:
        """One taster's answer, as it stands in the form."""
        with self._said():
            answer = boxes[0].value
            if self.opened.method == SCALES:
                answer = _ratings(self.opened, taster, [box.value for box in boxes])
                if answer is None:
                    return
            self.opened = tasting.answered(self.opened, {**self.opened.answers, taster: answer})
            self._drafts.setdefault(self.saved.value, {})[taster] = answer
            self.said.value = ""
            self._judge()

    def _judge(self) -> None:
        one = self.opened
        if one is None:
            self.verdict.value = quiet(self.say(Fact("choose a tasting")))
        elif one.waiting:
            n = len(one.waiting)
            self.verdict.value = para(self.say(Fact("answer to come" if n == 1 else "answers to come", n=n)))
        else:
            self.verdict.value = _verdict(one)

    def read(self) -> None:
        """Take the answers of the CSV file that is chosen."""
        with self._said():
            if self.opened is None:
                raise InputError("tasting", Told("not chosen"), "chosen first")
            if not self.table.value:
                raise InputError("CSV file", Told("not chosen"), f"one of the folder {tasting.TASTINGS}")
            self.opened = tasting.read_answers(self.opened, self.folder / tasting.TASTINGS / self.table.value)
            self._drafts[self.saved.value] = dict(self.opened.answers)
            self._lay_out_form()
            self._judge()
            self.said.value = done_words(self.say(Fact("answers read", file=self.table.value)))

    def save(self) -> None:
        """Save the answers with the tasting as a new file; the one without them stays."""
        with self._said():
            if self.opened is None or not self.opened.answers:
                raise InputError("answers", Told("none yet"), "given first")
            path = tasting.save(self.opened, self.folder)[0]
            trials = tasting.keep_with_trials(self.opened, self.folder, path.name)
            self._drafts.pop(self.saved.value, None)
            self._list(path)
            told = self.say(Fact("stands with the trial")) * bool(trials)
            self.said.value = written("Saved as ", [path], f" in the folder {tasting.TASTINGS}.{told}")


def _drier(drink: Setting) -> Setting:
    """The demo's next version: half the syrup."""
    pours = tuple(
        replace(pour, amount=0.5 * pour.amount) if "syrup" in pour.ingredient else pour for pour in drink.recipe.pours
    )
    return replace(drink, recipe=replace(drink.recipe, name=f"{drink.recipe.name}, half the syrup", pours=pours))


def _tiles(made: tasting.Plan, given: tasting.Portion) -> list[tuple]:
    n = len(made.seated)
    shown = [("Tasters", f"{n}", "", "")]
    if made.method != SCALES:
        none = made.limit > n or made.limit < 0
        count = (
            "At most right" if made.similar else "Needed",
            "none" if none else f"{made.limit}",
            "",
            "" if none else f"of {n}",
        )
        shown += [
            count,
            ("Found", f"{100 * made.power:.0f}", "", "times in 100"),
            ("For the wanted chance", f"{made.needed}" if made.needed else "over 1000", "", "tasters"),
        ]
    around = f"± {given.pm:.1f}" if given.pm is not None and given.grams > 0 else ""
    shown.append(("Alcohol for each", f"{given.grams:.1f}", around, "g", f"{given.drinks:.2f} standard drinks"))
    return shown


def _ratings_box(one: Tasting, code: str, answer) -> w.Text:
    kept = answer if answer in ("", ABSENT) else ", ".join(f"{v:g}" for v in answer[code])
    return w.Text(
        kept, description=code, placeholder=", ".join("0" for _ in one.scales), continuous_update=False,
        layout={"width": "240px"},
    )  # fmt: skip


def _ratings(one: Tasting, taster: str, typed: list[str]) -> dict | str | None:
    """What is typed for both glasses of a taster; None while one is empty."""
    if any(text.strip().casefold() == ABSENT for text in typed):
        return ABSENT
    if not all(text.strip() for text in typed):
        return None
    wanted = f"{len(one.scales)} numbers of 0 to 10, for {', '.join(one.scales)}"
    codes = one.of(taster).codes
    for code, text in zip(codes, typed, strict=True):
        if "/" in text:  # of "7/10" one would read 7, another 0.7
            raise InputError(f"ratings of {taster!r}, {code}", text, wanted)
    return {
        code: tuple(read_row(text, f"ratings of {taster!r}, {code}", wanted))
        for code, text in zip(codes, typed, strict=True)
    }


def _verdict(one: Tasting) -> str:
    try:
        found = tasting.findings(one)
    except InputError as problem:
        return problem_words(str(problem))
    first, *rest = verdict(one, found)
    rows = [table(RATED_HEAD, map(rated_row, found.rated))] if found.rated else []
    names = quiet(say(Fact("a is and b is", a=one.names[0], b=one.names[1]))) if found.rated else ""
    return join([heading("What it shows"), para(bold(first), role="status"), *rows, names, *map(para, rest)])
