"""The day that clearing takes."""

from __future__ import annotations

import contextlib
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import ipywidgets as w

from ... import carbonation, gels, measured, schedule, steps, texts, whatif
from ... import milk as dairy
from ...display import Display
from ...errors import InputError, require
from ...facts import Fact
from ...files import write_new
from ...filtering import Filter, Forecast, filter_forecast
from ...kinds import MINUTES
from ...measured import FilterLog, log_files, own_logs
from ...milk import MilkWash
from ...schedule import STAGES
from ..charts.live import LiveChart, once
from ..charts.schedule import day_chart, day_rows
from ..parts.dials import Dial, VolumeDial
from ..parts.html import WIDE, Html, heading, join, para, quiet, tiles
from ..parts.links import written
from ..parts.panel import Pictured, draw, pick
from ..parts.serve_day import ServeDay
from .filtering import time_tile
from .milk import PRACTICE, TYPED, AfterWash, WashPanel

DAY = "clear_day"


def panel(folder: str | Path = ".", now: datetime | None = None, wash: WashPanel | None = None) -> DayPanel:
    """The day: from the hour of serving back to the first squeeze, with a checklist.

    Parameters
    ----------
    folder : path
        Working folder: filter logs are read from it, checklists are saved in it.
    now : datetime, optional
        The clock's by default.
    wash : WashPanel, optional
        As of `filtering`.
    """
    return DayPanel(folder, now, wash)


class DayPanel(ServeDay, Pictured, AfterWash):
    """The day that clearing takes, back from the hour of serving, by the steps of the drink."""

    usual = 2

    def __init__(self, folder: str | Path, now: datetime | None = None, wash: WashPanel | None = None) -> None:
        self.plan: schedule.Plan | None = None
        folder = folder if wash is None else wash.folder
        self._now, self._files = now, log_files(folder).keys()
        self.logs, self._unreadable = own_logs(folder)
        super().__init__(folder, wash)
        self._tell(self._unreadable)

    # --- what is on the page ---------------------------------------------------------------------

    def _build(self, show: Display) -> None:
        self._build_serve_day("18:00")
        tops = {"rest": 1440, "chill": 480, "gas": 240, "set": 480}
        names = {"rest": "Rest in the fridge", "chill": "Chill", "gas": "Carbonate", "set": "Stand, jelly sets"}
        self.minutes = {
            key: Dial(names[key], STAGES[key].minutes, top, 5, "min", self.refresh) for key, top in tops.items()
        }
        self.filter = pick("Filter takes", self._filters())
        self.volume = VolumeDial("Runs through the filter", 1000, 5000, 50, show, self.refresh, least=1)
        self.papers = w.IntText(2, description="Filters", layout=WIDE)
        self.hours = Dial("Filter takes", 8, 48, 0.5, "h", self.refresh)
        self.wait = Dial("Then it waits cold", 0, 72, 1, "h", self.refresh)
        self.headline, self.checklist = self.answers = [Html() for _ in range(2)]
        self.picture = w.Box([LiveChart(once(day_chart))])
        self.save_button = w.Button(description="Save the checklist", button_style="primary")
        self._lay_out(
            [*self._asked_here(self.choose), self.date, self.time, self.filter,
             *self._asked_here(self.volume, self.papers), self.hours, self.wait,
             Html(heading("How long each takes") + quiet(show.say(Fact("stage left out at 0")))),
             *self.minutes.values()],
            [self.picture],
            [self.checklist, self.save_button],
            answer=self.headline,
        )  # fmt: skip
        self._answers_to(self.date, self.time, self.filter, self.papers)
        self.save_button.on_click(lambda _: self.save())

    def _filters(self) -> list[tuple[str, str]]:
        """Ways to know how long the filter takes."""
        logs = [(texts.fit(f"by {name}: {log.drink}"), name) for name, log in reversed(self.logs.items())]
        return [("by common practice", PRACTICE), ("hours of my own", TYPED), *logs]

    def _look_for_logs(self) -> None:
        """What the filter's panel has saved since comes among the choices."""
        if (files := log_files(self.folder).keys()) != self._files:
            self._files = files
            self.logs, _ = own_logs(self.folder)
            with self._silently():
                here, self.filter.options = self.filter.value, self._filters()
                self.filter.value = here if here in self.logs or here == TYPED else PRACTICE

    def _show_in(self, show: Display) -> None:
        self.volume.show_in(show)

    def _used(self) -> None:
        """The drink's own volume and papers, and how long it rests."""
        with contextlib.suppress(InputError):  # the plan is of whatever is typed
            self.volume.reach_to(self.to_filter())
            self.papers.value = self._papers()
        if rests := [step.hours for step in self.setting.steps if isinstance(step, steps.Rest)]:
            self.minutes["rest"].set(60 * sum(rests))

    def _keys(self) -> set[str]:
        """Stages that the drink goes through; all of them where it has no steps of its own."""
        drink = self.setting if self.wash is None else self.wash.setting
        if not drink.steps:
            return set(STAGES)
        drink = self.setting
        settings = (drink, *drink.beside)
        has = lambda *kinds: any(s.step(kind) for s in settings for kind in kinds)  # noqa: E731
        found = {"juice", "mix"}
        for keys, kinds in (
            (("milk", "rest"), (MilkWash,)), (("rest",), (steps.Rest,)), (("filter",), (Filter,)),
            (("chill",), (carbonation.Chill, carbonation.Carbonate)), (("gas", "set"), (carbonation.Carbonate,)),
            (("set",), (gels.Set,)),
        ):  # fmt: skip
            found |= set(keys) if has(*kinds) else set()
        return found

    def _in_hand(self):
        """What the drink brings; and milk, where the day has it."""
        milk = (dairy.DAIRY,) if "milk" in self._keys() else ()
        return [(name, (*held, *milk)) for name, held in super()._in_hand()]

    # --- from the page to a plan, and back ---------------------------------------------------------

    def _stages(self) -> list[schedule.Stage]:
        chosen, keys = [], self._keys()
        for key, stage in STAGES.items():
            if key not in keys:
                continue
            if key in self.minutes:
                minutes = self.minutes[key].value
                require(f"minutes to {key}", minutes, 0, 7 * 1440, "min")
                if minutes == 0:
                    continue
                stage = replace(stage, minutes=minutes)
            elif key == "filter" and self.filter.value == TYPED:
                require("hours of the filter", self.hours.value, 0.1, 168, "h")
                stage = replace(stage, minutes=60 * self.hours.value)
            chosen.append(stage)
        return chosen

    def _answer(self) -> None:
        self._look_for_logs()
        by, now = self.filter.value, self.now
        log = self.logs.get(by)
        plan = self._planned(partial(
            schedule.plan, stages=self._stages(), forecast=self._forecast(log), volume=self.volume.ml,
            filters=self.papers.value, wait={"filter": self.wait.value} if "filter" in self._keys() else {}, now=now,
        ))  # fmt: skip
        rows = day_rows(plan, now, self.display)
        self.plan = plan
        keys = self._keys()
        for key, dial in self.minutes.items():
            dial.layout.display = None if key in keys else "none"
        for part in (self.filter, self.wait):
            part.layout.display = None if "filter" in keys else "none"
        self.hours.layout.display = None if by == TYPED and "filter" in keys else "none"
        for part in (self.volume, self.papers):
            part.layout.display = None if by == PRACTICE and "filter" in keys else "none"
        draw(self.chart, rows)
        self.headline.value = _day_headline(plan, self.display)
        told = {self.display.say(fact) for fact in plan.said()}  # it stands under the figures
        lines = plan.checklist(self.display).splitlines()
        self.checklist.value = checklist_html("\n".join(line for line in lines if line not in told))

    def _forecast(self, log: FilterLog | None) -> Forecast:
        """Of a log, beside this bar's others; without one by practice, or by all of its logs."""
        if log is None:
            return filter_forecast(total_volume=self.volume.ml, filters=self.papers.value, known=self.shelf.learned)
        return log.forecast(measured.shelf(self.folder, without=self.filter.value).learned)

    def _samples(self, made) -> dict[str, whatif.Sample]:
        takes = (self.plan.serve_at - self.plan.start) / timedelta(minutes=1)
        return {"takes": whatif.sample("all of it takes", MINUTES, takes, self.plan.sooner or None, "filter")}

    def save(self) -> None:
        """Save the checklist as markdown, under a new name."""
        with self._said():
            self._mended()
            stem = f"{DAY}_{self.plan.serve_at:%Y-%m-%d}"
            path = write_new(self.folder, stem, {".md": self.plan.checklist(self.display) + "\n"})[0]
            self.said.value = written("Saved as ", [path], self.say(Fact("in your working folder")))


def _day_headline(plan: schedule.Plan, show: Display) -> str:
    figures = [
        ("Begin", f"{plan.start:%H:%M}", "", f"on {plan.start:%a} {plan.start.day} {plan.start:%b}"),
        ("Serve", f"{plan.serve_at:%H:%M}", "", f"on {plan.serve_at:%a} {plan.serve_at.day} {plan.serve_at:%b}"),
        ("Takes in all", *time_tile((plan.serve_at - plan.start) / timedelta(minutes=1))),
    ]
    return tiles(figures, *(para(show.say(fact)) for fact in plan.said()))


def checklist_html(markdown: str) -> str:
    """A checklist for the page."""
    out = []
    for line in filter(None, markdown.splitlines()):
        level = len(line) - len(line.lstrip("#"))
        text = line.lstrip("# ").removeprefix("- [ ] ")
        tick = "☐ " if line.startswith("- [ ]") else ""
        out.append(heading(text) if level else para(tick, text))
    return join(out)
