"""The next glass worth pouring: scored trials in, three glasses out, each with why. No maths here."""

from __future__ import annotations

from pathlib import Path

import ipywidgets as w

from ... import logbook, next_glass, profile, service, strength, tasting, texts
from ...display import Display
from ...errors import InputError, Told
from ...facts import Fact
from ...kinds import LIKING
from ...next_glass import NAMES, Next, OwnAxis, Proposal, Tasted
from ...units import number, read_row
from ..charts.live import LiveChart, once
from ..charts.next_glass import axis_words, glass_told, next_chart, next_rows
from ..parts.dials import Dial
from ..parts.exact import VOLUME, ExactDial
from ..parts.html import WIDE, Html, bold, done_words, heading, join, para, problem_words, quiet, table
from ..parts.links import notebook, written
from ..parts.panel import Lesson, busy, draw, fold, group, pick, usual_country
from ..parts.soon import WhenRested
from ..parts.tasting_words import PAPERS, key_html, sheets_html
from .milk import wrapped
from .reach import MEASURES, pour_text

BUTTON = {"width": "auto"}
EXAMPLE = "Example: First Frost"  # its scores are made up, which the page says
TYPED, SCORED = "typed", "scored"
_EACH = "a number of 0 to 10 for each glass of the table, such as 4, 6.5, 7"


def panel(folder: str | Path = ".") -> NextPanel:
    """The next glass: from scored trials to a safe bet, one to learn most from, and a wild card.

    Parameters
    ----------
    folder : path
        Working folder: trials, tastings and notes are read from it, proposals and their tastings are saved in it.
    """
    return NextPanel(folder)


class NextPanel(WhenRested, Lesson):
    """Three glasses worth pouring next. `refresh` works them out anew where something has changed."""

    def __init__(self, folder: str | Path) -> None:
        self.found: Next | None = None
        self._asked: tuple | None = None
        super().__init__(folder)

    # --- what is on the page ---------------------------------------------------------------------

    def _build(self, show: Display) -> None:
        self.own_tasted, self._trouble = self._read()
        scored = [glass for glass in self.own_tasted.glasses if glass.setting is not None]
        self.source = pick(
            "Glasses", [("my scored trials", "own"), (EXAMPLE, "example")], "own" if scored else "example"
        )
        self.glasses = w.SelectMultiple(description="Tasted", rows=6, layout=WIDE)
        self.again = w.Button(description="Read the folder again", layout=BUTTON)
        self.again.on_click(lambda button: busy(button, "Reading …", self.read_again))
        self.limit = Dial("No stronger than", 25, 60, 0.5, "% vol", self._moved, bottom=0.5)
        self.measure = pick("Amounts", MEASURES.items(), "2.5 mL")
        self.bottles = w.SelectMultiple(description="Bottles", rows=5, layout=WIDE)
        self.own = pick("Own axis", [("none", "")])
        self.own_name = w.Text("bitterness", description="It is", continuous_update=False, layout=WIDE)
        self.own_numbers = w.Text(
            placeholder="of each bottle, such as verjus 2, pisco 1", description="Numbers", continuous_update=False,
            layout=WIDE,
        )  # fmt: skip
        self.who = w.Textarea(
            description="Tasters", placeholder="One a line, with what they can’t have.\nAda: eggs, almonds\nBo",
            continuous_update=False, rows=4, layout=WIDE,
        )  # fmt: skip
        self.sip = ExactDial("In each glass", tasting.SIP, 0, 60, VOLUME, show, self._moved)
        self.stop = Dial("Stop at, standard drinks", tasting.LIMIT, 3, 0.25, "", self._moved)
        self.country = pick("Country", strength.countries(), usual_country(self.folder))
        self.across, self.up = pick("Across", [("", 1)]), pick("Up", [("", 2)])
        self.three, self.words, self.tasted = self.answers = [Html() for _ in range(3)]
        self.chart = LiveChart(once(next_chart))
        self.which = pick("Glass", [("", 0)])
        self.hand_button = self._put_button("Put it in hand", self.put)
        self.plan_button = w.Button(description="Save it and write its tasting", button_style="primary", layout=BUTTON)
        self.plan_button.on_click(lambda button: busy(button, "Writing …", self.plan))
        self._lay_out(
            [self.source, self.glasses, self.again, self._build_note(), Html(heading("Within")), self.limit,
             self.measure, self.bottles, self.own, self.own_name, self.own_numbers, Html(heading("Who tastes")),
             self.who, self.sip, self.stop, self.country],
            [self.three, self.which, w.HBox([self.hand_button, self.plan_button]), self.words],
            [group("dl-whole", Html(heading("What is known, and what is not")), self.across, self.up, self.chart,
                   self.tasted)],
        )  # fmt: skip
        self._offer_glasses()
        self._answers_to(
            self.glasses, self.measure, self.bottles, self.own, self.own_name, self.own_numbers, self.who,
            self.country, self.across, self.up,
        )  # fmt: skip
        self.source.observe(self._other_glasses, "value")

    def _build_note(self) -> w.Widget:
        """A liking without a tasting, kept as a note with its trial."""
        self.noted = pick("Of", [("no saved trial", "")])
        self.liking = w.Text(description="Liking", placeholder="Ada 7, Bo 6.5", layout=WIDE)
        self.keep_button = w.Button(description="Keep it with the trial", layout=BUTTON)
        self.keep_button.on_click(lambda _: self.keep_liking())
        return fold("Write down a liking", self.noted, self.liking, self.keep_button)

    def _show_in(self, show: Display) -> None:
        self.sip.show_in(show)

    # --- the glasses -----------------------------------------------------------------------------------

    def _read(self) -> tuple[Tasted, str]:
        self._example: Tasted | None = None  # made of the pantry as it is now, once it is asked for
        try:
            return next_glass.from_logbook(self.folder), ""
        except InputError as problem:
            return Tasted(()), str(problem)

    @property
    def all_tasted(self) -> Tasted:
        """The glasses to choose from."""
        if self.source.value == "example":
            if self._example is None:
                self._example = next_glass.example(self._own_shelf)
            return self._example
        return self.own_tasted

    def _other_glasses(self, _=None) -> None:
        if not self._quiet:
            self._offer_glasses()
            self.refresh()

    def _offer_glasses(self) -> None:
        """The glasses that were scored, those of the newest one's family chosen; their bottles."""
        here = self.all_tasted
        scored = [(i, glass) for i, glass in enumerate(here.glasses) if glass.setting is not None]
        kin = scored[-1][1].setting.recipe.family if scored else ""
        with self._silently():
            self.glasses.options = [(texts.fit(f"{glass.name}: {_rated(glass)}"), i) for i, glass in scored]
            self.glasses.value = tuple(i for i, glass in scored if glass.setting.recipe.family == kin)
            saved = [(texts.fit(glass.name), glass.file) for glass in self.own_tasted.glasses if glass.file]
            self.noted.options = saved[::-1] or [("no saved trial", "")]
            strongest = max((glass.figures[0] for _, glass in scored), default=24.0)
            self.limit.set(float(int(strongest) + 1))
            self._offer_bottles()

    def _offer_bottles(self) -> None:
        settings = [self.all_tasted.glasses[i].setting for i in self.glasses.value]
        found = next_glass.bottles_of(settings, self.all_tasted.shelf) if settings else ()
        self._bottles = {(one.id, one.abv): one for one in found}
        self.bottles.options = [(one.name, key) for key, one in self._bottles.items()]
        self.bottles.value = tuple(self._bottles)
        self.own.options = [
            ("none", ""), *((f"share of {one.name}", one.id) for one in found), ("a number of each bottle", TYPED),
            ("a number of each glass, as scored", SCORED),
        ]  # fmt: skip

    def _offer(self) -> None:
        self.own_tasted, self._trouble = self._read()
        self._offer_glasses()

    def read_again(self) -> None:
        """Take in what was saved or tasted on other pages since."""
        self._offer()
        self.refresh()

    def keep_liking(self) -> None:
        """Keep what is typed as a note of the trial, and count it."""
        with self._said():
            if not self.noted.value:
                raise InputError("trial", Told("none"), "a saved trial: the bench saves one")
            line = f"Liking: {self.liking.value}"
            if not next_glass.read_note(line):
                raise InputError("liking", Told("empty"), "a name and a number of 0 to 10, such as “Ada 7, Bo 6.5”")
            path = self.folder / logbook.TRIALS / self.noted.value
            logbook.record(path, logbook.entry(path).time, note=line)
            with self._silently():
                self.source.value, self.liking.value = "own", ""
            self.read_again()
            self.said.value = done_words(self.say(Fact("next glass noted")))

    # --- the answer -----------------------------------------------------------------------------------

    def _pairs(self) -> tuple[tuple[str, int, int], ...]:
        """Choices between two of the glasses chosen."""
        at = {i: k for k, i in enumerate(self.glasses.value)}
        return tuple((who, at[a], at[b]) for who, a, b in self.all_tasted.choices if a in at and b in at)

    def _axis(self) -> OwnAxis | None:
        key, shelf = self.own.value, self.all_tasted.shelf
        if not key:
            return None
        name = texts.line(texts.clean(self.own_name.value, "own axis", 40)) or "own axis"
        if key == SCORED:
            tasted = Tasted(
                tuple(self.all_tasted.glasses[i] for i in self.glasses.value), self._pairs(), shelf
            ).scored()
            return next_glass.scored_axis(
                name, tasted, read_row(self.own_numbers.value, f"{name} of each glass", _EACH)
            )
        if key != TYPED:
            return OwnAxis(self.shelf[key].name, {key: 1.0})
        weights = {}
        for part in filter(None, map(str.strip, self.own_numbers.value.split(","))):
            bottle, _, told = part.rpartition(" ")
            weights[shelf.find(bottle or part).id] = float(number(told, f"number of {bottle!r}"))
        return OwnAxis(name, weights)

    def _answer(self) -> tuple:
        for part in (self.own_name, self.own_numbers):
            part.layout.display = None if self.own.value in (TYPED, SCORED) else "none"
        self.own_numbers.placeholder = (
            "of each glass, in the order of the table: 4, 6.5, 7" if self.own.value == SCORED
            else "of each bottle, such as verjus 2, pisco 1"
        )  # fmt: skip
        if self._trouble and self.source.value == "own":
            raise InputError("scored trials", Told("not readable"), f"mended first: {self._trouble}")
        show = self.display
        later = show.say(Fact("next glass not counted"))
        unread = [problem_words(show.say(problem), later) for problem in self.all_tasted.unread]
        unread += map(problem_words, self.all_tasted.news[:10])
        if unread:  # said also where too few are left
            self.tasted.value = join(unread)
        found = self._worked_out()
        self._offer_axes(found)
        if self.across.value == self.up.value:
            raise InputError("axis up", Told("the one across"), "another one")
        rows = next_rows(found, self.across.value, self.up.value, show)
        three, words = _three(found, show), self._words(found)
        # Nothing failed: only now does the page change.
        self.found = found
        draw(self.chart, rows)
        self.three.value, self.words.value = three, words
        self.tasted.value = join([_tasted_table(found, show), *unread])
        with self._silently():
            here = self.which.value
            self.which.options = [(NAMES[one.kind], k) for k, one in enumerate(found.proposals)]
            self.which.value = here if here in range(len(found.proposals)) else 0
        return ()

    def _worked_out(self) -> Next:
        """The proposals; not again for what was asked last."""
        chosen, here = self.glasses.value, self.all_tasted
        pairs = self._pairs()
        asked = {
            "own": self._axis(), "strongest": self.limit.value, "measure": self.measure.value or None,
            "bottles": tuple(self._bottles[key] for key in self.bottles.value if key in self._bottles),
            "tasters": tasting.read_tasters(self.who.value), "sip": self.sip.exact, "limit": self.stop.value,
            "country": self.country.value,
        }  # fmt: skip
        if chosen and not asked["bottles"]:
            raise InputError("bottles", Told("none"), "at least one that was tasted")
        key = self.source.value, chosen, pairs, asked, here
        if self._asked is None or self._asked[0] != key:
            tasted = Tasted(tuple(here.glasses[i] for i in chosen), pairs, here.shelf)
            self._asked = key, next_glass.propose(tasted, **asked)
        return self._asked[1]

    def _offer_axes(self, found: Next) -> None:
        options = tuple((axis_words(found, k)[0], k) for k in range(len(found.family.axes)))
        if self.across.options == options:
            return
        with self._silently():
            for control, first in ((self.across, 1), (self.up, 2)):
                here = control.value if control.label else first
                control.options = options
                control.value = here if here < len(options) else first

    def _words(self, found: Next) -> str:
        axis = found.axis
        first = [Fact("next glass made up")] * (self.source.value == "example")
        if axis is not None and axis.miss > 0.05:
            first.append(Fact("next glass typed numbers", axis=axis.name, by=2 * axis.miss))
        family = found.family.name
        kin = Fact("next glass kin", family=family) if family else Fact("next glass all classics")
        return join([
            *(quiet(self.say(fact)) for fact in first),
            *(para(bold(f"{NAMES[one.kind][:1].upper()}{NAMES[one.kind][1:]}. "), self.say(one.why))
              for one in found.proposals),
            *(para(self.say(fact)) for fact in found.said()),
            quiet(self.say(Fact("next glass liking by", kin=kin))),
        ])  # fmt: skip

    def _in_hand(self):
        """What the proposals hold, and whatever their bottles bring."""
        if self.found is None:
            return [("", ())]
        return [(NAMES[one.kind], (one.made,)) for one in self.found.proposals]

    def _head_words(self) -> str:
        number_ = len(self.glasses.value)
        where = "the example" if self.source.value == "example" else "my trials"
        return para(bold(f"{number_} glasses of {where}"), " lead to the next ones")

    # --- what is done with one -----------------------------------------------------------------------------

    @property
    def proposal(self) -> Proposal:
        """The glass that is chosen."""
        return self.found.proposals[self.which.value]

    def put(self) -> None:
        """Put the chosen glass in hand, with why, as a version of the glass liked best so far."""
        one = self.proposal
        before = self.hand.now(self._own_shelf)
        said = done_words(
            self.say(Fact("next glass in hand", name=one.made.recipe.name)),
            self.hand.take(
                one.made.setting, self.found.tasted.shelf, before, title=one.made.recipe.name, note=self.why(one),
                came_from=self._best.file,
            ),
        )  # fmt: skip
        self.said.value = said

    def why(self, one: Proposal) -> str:
        """The line that says why, to keep with its trial."""
        return self.say(next_glass.record(self.found, one))

    @property
    def _best(self):
        return self.found.tasted.glasses[self.found.best]

    def plan(self) -> None:
        """Save the chosen glass as a trial, and write sheets and key of its tasting beside the glass liked best."""
        with self._said():
            self._mended()
            one, best, shelf, show = self.proposal, self._best, self.found.tasted.shelf, self.display
            name = best.name if best.name != one.made.recipe.name else f"{best.name} (before)"
            b = tasting.sample(next_glass.run(best, shelf), name, best.file)
            people = tasting.read_tasters(self.who.value) or tasting.numbered(len(self.found.tasted.tasters))
            plan = tasting.plan(people, tasting.SCALES, samples=(tasting.sample(one.made), b))
            given = tasting.with_limit(one.portion)
            path = logbook.save(
                one.made, self.folder, title=one.made.recipe.name, note=self.why(one), came_from=best.file
            )
            a = tasting.sample(one.made, file=path.name)
            made = tasting.prepare(plan, a, b, given, scales=[next_glass.LIKING])
            pages = {
                ".sheets.html": sheets_html(made, show, PAPERS[0]), ".key.html": key_html(made, show, PAPERS[0]),
                ".answers.csv": tasting.answers_csv(made),
            }  # fmt: skip
            files = tasting.save(made, self.folder, pages)
            self.said.value = written(
                show.say(Fact("next glass saved", file=path.name, folder=tasting.TASTINGS)), files[1:],
                join([show.say(Fact("next glass print")), notebook(self.folder, "08_tasting"),
                      show.say(Fact("next glass count"))]),
            )  # fmt: skip


# --- words and tables --------------------------------------------------------------------------------------


def _rated(glass) -> str:
    return f"{glass.mean:.1f} by {len(glass.scores)}" if glass.scores else "chosen beside another"


def _three(found: Next, show: Display) -> str:
    """The glasses side by side: what goes in, what they measure, how they are expected to be liked."""
    every, shelf = found.proposals, found.tasted.shelf
    pours = [{(p.ingredient, p.abv, p.after): p for p in one.made.recipe.pours} for one in every]
    rows = [
        (wrapped(shelf.bottle(*key[:2]).name + (" (after the ice)" if key[2] else ""), 16),
         *(pour_text(of[key], shelf, show) if key in of else "" for of in pours))
        for key in dict.fromkeys(key for of in pours for key in of)
    ]  # fmt: skip
    for figure in (*profile.AXES, "volume"):
        kind = profile.KINDS[figure]
        cells = (
            show.text(kind, getattr(one.made.served.profile, figure), one.made.served.spread(figure)) for one in every
        )
        rows.append((profile.TITLES[figure], *cells))
    rows.append(("Standard drinks in one", *(_drinks(one, found.country) for one in every)))
    liked = [("Expected liking", *(bold(show.text(LIKING, one.liking, one.pm)) for one in every))]
    drinks_by = Fact("next glass drinks by", country=found.country, grams=strength.countries()[found.country])
    return join([
        heading("Worth pouring next"),
        table(("", *(NAMES[one.kind] for one in every)), [*liked, *rows]),
        quiet(show.say(drinks_by)),
    ])  # fmt: skip


def _drinks(one: Proposal, country: str) -> str:
    return service.drinks_text(float(strength.standard_drinks(one.made.alcohol, country)))


def _tasted_table(found: Next, show: Display) -> str:
    """The tasted glasses by their numbers in the picture, and the tasters' own levels."""
    rows = []
    for i, glass in enumerate(found.tasted.glasses):
        figures = (
            show.text(profile.KINDS[axis], value) for axis, value in zip(profile.AXES, glass.figures, strict=True)
        )
        rows.append((wrapped(glass_told(found, i, show), 20), *figures))
    people, levels = found.tasted.tasters, found.palate.persons
    told = tuple(f"{who} {level:+.1f}".replace("-", "−") for who, level in zip(people, levels, strict=False))
    levels_said = [para(show.say(Fact("next glass levels", levels=told)))] if len(people) > 1 else []
    return join([table(("Tasted", *(profile.TITLES[axis] for axis in profile.AXES)), rows), *levels_said])
