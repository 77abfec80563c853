"""Filtering: a forecast from what has run through, and ways to filter."""

from __future__ import annotations

import contextlib
import re
from dataclasses import replace
from pathlib import Path

import ipywidgets as w
import numpy as np

from ... import filtering, measured, texts, whatif
from ... import milk as dairy
from ...display import Display
from ...errors import InputError
from ...facts import Fact
from ...filtering import Filter, Forecast, hours
from ...kinds import MINUTES, VOLUME
from ...learned import Known
from ...measured import FilterLog, own_logs, save_log
from ...units import read_row
from ..charts.filtering import clock_of, filter_chart, filter_rows
from ..charts.live import LiveChart, once
from ..parts.dials import VolumeDial
from ..parts.html import WIDE, Html, done_words, heading, join, para, quiet, table, tiles
from ..parts.panel import Pictured, draw, pick
from .milk import AfterWash, WashPanel, papers, wrapped

# What the panel asks of the funnel, as `filter_forecast` takes it.
FUNNELS = {"kept full": True, "filled once": False, "in between, or not known": None}

# Each law of `Forecast.laws` in plain words (Hermia 1982).
LAWS = {
    "cake": "a cake grows on the paper and slows it evenly",
    "intermediate": "specks close pores, and lie on specks before them",
    "standard": "fine specks narrow the pores from within",
    "complete": "each speck closes a pore of its own",
}


def panel(folder: str | Path = ".", wash: WashPanel | None = None) -> FilterPanel:
    """The filter: a log of minutes and millilitres, and when it will be through.

    Parameters
    ----------
    folder : path
        Working folder: logs are saved in it and opened from it.
    wash : WashPanel, optional
        The milk wash whose drink, volume, papers and units these are; they are then not asked again.
    """
    return FilterPanel(folder, wash)


class FilterPanel(Pictured, AfterWash):
    """A filter's log and its forecast."""

    standing = (dairy.DAIRY,)
    usual = 1

    def __init__(self, folder: str | Path, wash: WashPanel | None = None) -> None:
        self.forecast: Forecast | None = None
        self.logs, self._unreadable = own_logs(folder if wash is None else wash.folder)
        super().__init__(folder, wash)
        self._tell(self._unreadable)

    # --- what is on the page ---------------------------------------------------------------------

    def _build(self, show: Display) -> None:
        self.reopen = pick("Open", self._log_options())
        self.total = VolumeDial("To be filtered, in all", 500, 5000, 50, show, self.refresh, least=1)
        self.filters = w.IntText(1, description="Filters", layout=WIDE)
        self.funnel = pick("Funnel", FUNNELS, "in between, or not known")
        self.log_head = Html()
        self.reading = w.Text(description="Next reading", placeholder="90, 207", continuous_update=False, layout=WIDE)
        self.text = w.Textarea(description="Log", rows=9, continuous_update=False, layout=WIDE)
        self.new_papers = w.Text(description="New paper", placeholder="minutes, if any: 120", continuous_update=False,
                                 layout=WIDE)  # fmt: skip
        self.returned = VolumeDial("First runnings poured back", 0, 500, 10, show, self.refresh)
        self.answers = [Html() for _ in range(2)]
        self.headline, self.words = self.answers
        self._look = show.volume, "h"
        self.picture, self._shown = w.Box([LiveChart(once(filter_chart, show, "h"))]), show
        self.save_button = w.Button(description="Save the log")
        self.put_button = self._put_button("Put this filter into the drink", self.put)
        self._lay_out(
            [*self._asked_here(self.choose), self.reopen, *self._asked_here(self.total, self.filters), self.funnel,
             self.log_head, self.reading, self.text, self.new_papers, self.returned,
             w.HBox([self.save_button, self.put_button])],
            [self.picture, self.words],
            [Html(_ways_table(show))],
            answer=self.headline,
        )  # fmt: skip
        self._answers_to(self.filters, self.funnel, self.text, self.new_papers)
        self.reading.observe(self._logged, "value")
        self.reopen.observe(self._opened, "value")
        self.save_button.on_click(lambda _: self.save())
        self._head(show)

    def _log_options(self) -> list[tuple[str, str]]:
        told = [
            (texts.fit(f"{name}: {log.drink}, {len(log.minutes)} readings"), name) for name, log in self.logs.items()
        ]
        return [("a new log", ""), *reversed(told)]

    def _head(self, show: Display) -> None:
        self.log_head.value = para(show.say(Fact("log head", unit=show.volume)))

    def _show_in(self, show: Display) -> None:
        was, self._shown = self._shown, show
        for dial in (self.total, self.returned):
            dial.show_in(show)
        try:
            minutes, amounts = read_log(self.text.value)
            self.text.value = _log_text(minutes, [a * was.ml for a in amounts], show)
        except InputError:  # stays as it was typed; the refresh says what is wrong with it
            pass
        self._head(show)

    def _used(self) -> None:
        """The drink's own volume and papers, unless a log is open."""
        if not self.reopen.value:
            with contextlib.suppress(InputError):  # the forecast is of whatever is typed
                self.total.reach_to(self.to_filter())
                self.filters.value = self._papers()

    # --- what a hand does --------------------------------------------------------------------------

    def _logged(self, change) -> None:
        """One reading more, with Enter."""
        line = change["new"].strip()
        if self._quiet or not line:
            return
        with self._silently():
            self.text.value = f"{self.text.value.rstrip()}\n{line}".lstrip()
            self.reading.value = ""
        self.refresh()

    def _opened(self, change) -> None:
        if self._quiet:
            return
        log, show = self.logs.get(change["new"], FilterLog()), self.display
        with self._silently():
            self.total.stand_at(log.total)
            self.returned.stand_at(log.returned)
            self.filters.value = log.filters
            self.funnel.value = next(word for word, full in FUNNELS.items() if full is log.kept_full)
            self.new_papers.value = ", ".join(f"{m:g}" for m in log.new_papers)
            self.text.value = _log_text(log.minutes, log.volumes, show)
        self.refresh()

    def show_case(self, minutes: float, through: float, total: float) -> None:
        """Stand at the case of a lesson's guess: a filter that slows as curd builds up, read six times until then."""
        if self.wash is None:
            self.total.reach_to(total)
        elif self.wash.washed is not None:  # as much as gives so much to be filtered
            self.wash.batch.reach_to(self.wash.batch.ml * total / self.wash.washed.volume)
            self.wash.papers.value = 1
            self.wash.refresh()
        shares = np.arange(1, 7) / 6
        with self._silently():
            self.funnel.value = next(word for word, full in FUNNELS.items() if full)
            self.text.value = _log_text(minutes * shares, np.round(through * np.sqrt(shares)), self.display)
        self.refresh()

    def save(self) -> None:
        """Save the log as it stands, under a new name."""
        with self._said():
            self._mended()
            path = self._save()
            self.said.value = done_words(self.say(Fact("log saved", file=path.name)))

    def _save(self) -> Path:
        log = self.logged()
        path = save_log(self.folder, log)
        self.logs[path.stem] = log
        with self._silently():
            self.reopen.options = self._log_options()
            self.reopen.value = path.stem
        return path

    def put(self) -> None:
        """Put the filter into the drink, and save the log if there is one."""
        log = self.logged()
        saved = Fact("log saved too", file=self._save().name) if log.minutes else ""
        drink = self.setting if self.wash is None else self.wash.to_keep()
        step = replace(drink.step(Filter) or Filter(), papers=log.filters)
        self.put_in_hand(drink.with_step(step), Fact("filtered through", papers=papers(log.filters), saved=saved))

    # --- from the page to a forecast, and back -----------------------------------------------------

    def logged(self) -> FilterLog:
        """The log as the page stands."""
        minutes, amounts = read_log(self.text.value)
        papers = _numbers("new paper", self.new_papers.value, "the minutes of readings, such as 120, 300")
        size = self.display.ml
        return FilterLog(
            tuple(minutes), tuple(a * size for a in amounts), self.total.ml, self.filters.value, tuple(papers),
            self.returned.ml, self._recipe.name, FUNNELS[self.funnel.value],
        )  # fmt: skip

    def _answer(self) -> None:
        show, log = self.display, self.logged()
        forecast = log.forecast(known := self._known())
        clock = clock_of(forecast)
        rows = filter_rows(forecast, log.new_papers, show, clock)
        self.forecast = forecast
        if self._look == (show.volume, clock):
            draw(self.chart, rows)
        else:  # its axes say something else: a new picture, filled before it is shown
            chart = LiveChart(once(filter_chart, show, clock))
            chart.put(**rows)
            self.picture.children, self._look = [chart], (show.volume, clock)
        self.headline.value = _filter_headline(forecast, show)
        said = [*forecast.said(), _law_words(forecast), _line_words(forecast), dairy.PRACTICE[2]]
        behind = quiet(show.say(Fact("filter band by")))
        own = known.get(("filter", "paper"))
        said += [own.said("paper")] if own is not None else []
        if head := _log_heading(self.text.value):
            line = texts.line(self.text.value.splitlines()[head - 1])[:60]
            said.append(Fact("log: line not read", number=head, line=line))
        self.words.value = join([*(para(self.say(one)) for one in filter(None, said)), behind])

    def _known(self) -> Known:
        """What this bar has measured, without the log that is open: it would count twice."""
        open_now = self.reopen.value
        return measured.shelf(self.folder, without=open_now).learned if open_now else self.shelf.learned

    def _samples(self, made) -> dict[str, whatif.Sample]:
        one = self.forecast
        if not one.made:
            return {}
        if None in (one.low, one.high):
            return {"end": whatif.sample("through after", MINUTES, one.end)}
        return {"end": whatif.skewed("through after", MINUTES, one.end, one.low, one.high, "filter")}


def _law_words(forecast: Forecast) -> tuple[Fact, ...]:
    """Which law the log follows, and what the funnel's head leaves open."""
    if len(forecast.minutes) and not forecast.laws:  # through, or standing still
        return ()
    if len(forecast.minutes) < 3:
        return (Fact("log for a law"),)
    likely = sorted(forecast.laws, key=forecast.laws.get, reverse=True)[:2]
    names = [forecast.law] if forecast.law else likely
    laws = [Fact("law and chance", law=LAWS[name], chance=_in_ten(forecast.laws[name])) for name in names]
    said = Fact("law found", law=laws[0]) if forecast.law else Fact("law not told", laws=tuple(laws))
    return said, *[Fact("say if kept full")] * (forecast.kept_full is None)


def _in_ten(chance: float) -> str:
    return "9 in 10 or more" if chance > 0.945 else f"{10 * chance:.0f} in 10"


def _filter_headline(forecast: Forecast, show: Display) -> str:
    done = forecast.volumes[-1] if len(forecast.volumes) else 0.0
    figures = [
        ("Through after", *time_tile(forecast.end, forecast.low, forecast.high)) if forecast.made
        else ("Through after", "no forecast", "", ""),
        ("Run through", show.parts(VOLUME, done)[0], "", f"of {show.volume_text(forecast.total)}"),
    ]  # fmt: skip
    if forecast.new_paper is not None:
        figures.append(("With new paper now, after", *time_tile(forecast.new_paper)))
    return tiles(figures)


def time_tile(minutes: float, low: float | None = None, high: float | None = None) -> tuple[str, str, str]:
    """A time for `tiles`: figure, ±, unit with its ends. [min]"""
    number, unit = hours(minutes).split(" ")
    around = "" if low is None or low == high else f" ({hours(low)} to {hours(high)})"
    return number, "", unit + around


def _line_words(forecast: Forecast) -> tuple[Fact, ...]:
    line = forecast.line
    if line is None:
        return (Fact("log for a line"),)
    if line.points == 2:
        return (Fact("two readings"),)
    said = Fact("readings on a line", points=line.points, r2=line.r2)
    if line.points < 4 or not forecast.made:
        return (said,)
    if line.bend_odds >= 0.05:
        return said, Fact("no bend")
    return said, Fact("bends up" if line.bend > 0 else "bends down", by=100 * abs(line.bend))


def _ways_table(show: Display) -> str:
    rows = [
        (way.name, _span(way.minutes), f"{100 * way.lost[0]:.0f} to {100 * way.lost[1]:.0f} %",
         wrapped(show.say(way.told)), wrapped(way.source, 30))
        for way in filtering.ways()
    ]  # fmt: skip
    head = ("Way", "half a litre takes", "and loses", "what to know", "source")
    return heading("Other ways to clear it") + table(head, rows)


def _span(minutes: tuple[float, float]) -> str:
    return " to ".join(map(hours, minutes))


def read_log(text: str) -> tuple[list[float], list[float]]:
    """Minutes and amounts, a reading a line; a first line without figures is a heading, which the page tells.

    Raises
    ------
    InputError
        By line, for what is not two numbers.

    Examples
    --------
    >>> read_log("10, 60\\n20 110\\n30,5; 150")
    ([10.0, 20.0, 30.5], [60.0, 110.0, 150.0])
    """
    found, head = [], _log_heading(text)
    for number, line in enumerate(text.splitlines(), start=1):
        line = line.strip()
        if not line or number == head:
            continue
        field, allowed = f"line {number} of the log", "minutes and what has run through, such as '90, 207'"
        if re.fullmatch(r"[^\s,;]+,[^\s,;]+", line):  # two numbers are wanted: the comma stands between them
            line = line.replace(",", ";")
        row = read_row(line, field, allowed)
        if len(row) != 2:
            raise InputError(field, line, allowed)
        minutes, amount = row
        found.append((minutes, amount))
    return [m for m, _ in found], [a for _, a in found]


def _log_heading(text: str) -> int:
    """Number of the first line where it holds no figure; 0 where it does."""
    first = next(((number, line) for number, line in enumerate(text.splitlines(), start=1) if line.strip()), (0, "0"))
    return 0 if re.search(r"\d", first[1]) else first[0]


def _log_text(minutes, volumes, show: Display) -> str:
    return "\n".join(f"{m:g}, {v / show.ml:.5g}" for m, v in zip(minutes, volumes, strict=True))


def _numbers(field: str, text: str, allowed: str) -> list[float]:
    return read_row(text, field, allowed) if text.strip() else []
