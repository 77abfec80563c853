"""The day that clearing a drink takes: what comes when, and what may wait overnight."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from . import texts
from .display import Display
from .errors import InputError, Told, one_of, require
from .facts import Fact
from .filtering import USUAL_VOLUME, WAYS, Filter, Forecast, Way, filter_forecast, hours, ways  # noqa: F401
from .kinds import VOLUME

LEMON_YIELD = 30.0  # mL of strained juice from a lemon; common practice, no published source


@dataclass(frozen=True, slots=True)
class Stage:
    """One thing to do on the day.

    Parameters
    ----------
    minutes : float or None
        How long it takes; None for the filter: from its forecast.
    keeps : float
        Hours that its result keeps cold. Common practice, no published source. [h]
    note : str
        On keeping and safety.
    """

    key: str
    do: Fact | str
    minutes: float | None
    keeps: float
    note: Fact | str

    @property
    def overnight(self) -> bool:
        """Whether its result can wait overnight."""
        return self.keeps >= 12


# Common practice, no published source.
_COVER, _DAIRY, _HAD_MILK = Fact("cover it"), Fact("dairy kept cold"), Fact("had milk, kept cold")
STAGES = {
    s.key: s
    for s in (
        Stage("juice", Fact("day: juice", lemon=VOLUME(LEMON_YIELD)), 20, 24, _COVER),
        Stage("mix", Fact("day: mix"), 15, 24, _COVER),
        Stage("milk", Fact("day: milk"), 10, 0.5, _DAIRY),
        Stage("rest", Fact("day: rest"), 30, 12, _DAIRY),
        Stage("filter", Fact("day: filter"), None, 168, _DAIRY),
        Stage("chill", Fact("day: chill"), 60, 168, _HAD_MILK),
        Stage("gas", Fact("day: gas"), 30, 48, Fact("made for pressure")),
        Stage("set", Fact("day: set"), 120, 48, _HAD_MILK),
    )
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """A stage with its times."""

    stage: Stage
    start: datetime
    end: datetime


@dataclass(frozen=True, slots=True)
class Plan:
    """The day, from the first squeeze to serving.

    `earliest` is when it can be served if begun at once; `late` if that is after `serve_at`; `filtering` says
    what the filter's time is based on, and `sooner` by how many minutes its middle lies before its late end, by which
    it is planned.
    """

    rows: tuple[Row, ...]
    serve_at: datetime
    earliest: datetime
    late: bool
    filtering: Fact | None
    drink: str = ""
    sooner: float = 0.0

    @property
    def start(self) -> datetime:
        """When the first stage begins."""
        return self.rows[0].start

    def moved(self, serve_at: datetime) -> Plan:
        """The same work, served at another hour.

        >>> day = plan("2026-07-03 18:00", ["juice"], now=datetime(2026, 7, 3, 17, 55))
        >>> later = day.moved(datetime(2026, 7, 4, 18))
        >>> day.late, later.late, f"{later.start:%a %H:%M}"
        (True, False, 'Sat 17:40')
        """

        def there(then: datetime) -> datetime:
            return _earlier(serve_at, (_utc(self.serve_at) - _utc(then)).total_seconds() / 60)

        rows = tuple(replace(row, start=there(row.start), end=there(row.end)) for row in self.rows)
        return replace(self, rows=rows, serve_at=serve_at, late=_utc(serve_at) < _utc(self.earliest))

    def said(self) -> tuple[Fact, ...]:
        """What does not fit, and what the filter's time rests on."""
        waits = [row.stage.key for row in self.rows[:-1] if row.stage.overnight]
        last = "filter" if "filter" in waits else waits[-1] if waits else ""
        split = Fact("split over two days", after=repr(last)) if last else Fact("the day before")
        said = []
        if self.late:
            now = self.earliest - (self.serve_at - self.start)
            said.append(Fact("starts in the past", now=_when(now)))
            likely = self.start + timedelta(minutes=self.sooner)
            if likely >= now:
                said.append(Fact("late by the filter alone", start=_when(likely)))
            said.append(Fact("day too short", start=_when(self.start), earliest=_when(self.earliest), split=split))
        elif self.start.hour < 6:
            said.append(Fact("day starts at night", start=_when(self.start), split=split))
        return (*said, self.filtering) if self.filtering else tuple(said)

    def checklist(self, show: Display | None = None) -> str:
        """The plan as a list to tick, in markdown."""
        say, day = (show or Display()).say, None
        title = Fact("checklist of", drink=texts.line(self.drink), serve_at=_when(self.serve_at))
        lines = [f"# {say(title if self.drink else Fact('checklist', serve_at=_when(self.serve_at)))}"]
        lines += [f"\n{say(fact)}" for fact in self.said()]
        for row in self.rows:
            if row.start.date() != day:
                day = row.start.date()
                lines.append(f"\n## {day:%A} {day.day} {day:%B}\n")
            until = f"{row.end:%H:%M}" if row.end.date() == day else f"{row.end:%a %H:%M}"
            keeps = Fact("keeps overnight" if row.stage.overnight else "keeps", hours=hours(60 * row.stage.keeps))
            told = texts.line(say(tuple(filter(None, (row.stage.do, row.stage.note, keeps)))))
            lines.append(f"- [ ] {row.start:%H:%M} – {until} {told}")
        milk = any(row.stage.key == "milk" for row in self.rows)
        lines.append(f"\n{say(Fact('checklist rests on') if milk else Fact('checklist without milk'))}")
        return "\n".join(lines)


def _when(moment: datetime) -> str:
    return f"{moment:%H:%M} on {moment:%a} {moment.day} {moment:%b}"


_CLOCK = re.compile(r"(?P<hour>\d{1,2})(?:[:.h](?P<minute>\d{2}))?\s*(?P<half>[ap]\.?m\.?)?", re.IGNORECASE)

# With minutes: an hour alone may be of the morning or the evening, and of "18.30" ISO 8601 makes a part of a second.
_ISO = re.compile(r"\S+[T ]\d\d:?\d\d(?::?\d\d(?:\.\d+)?)?(?:Z|[+-]\d\d:?\d\d)?")


def on(day: object, hour: str) -> datetime:
    """A day and a time of day as people write it, of what is served then.

    >>> on(date(2027, 7, 3), "6 pm").isoformat()
    '2027-07-03T18:00:00'
    """
    if not isinstance(day, date):
        raise InputError("serve on", Told("empty"), "a date")
    return datetime.combine(day, clock(hour))


def clock(text: str, field: str = "time to serve") -> time:
    """A time of day as people write it, by either clock.

    Raises
    ------
    InputError
        For what is none, and for a bare number, which may be morning or evening.

    Examples
    --------
    >>> [f"{clock(text):%H:%M}" for text in ("19:00", "7 pm", "7.30pm", "12 am", "noon", "9:05")]
    ['19:00', '19:00', '19:30', '00:00', '12:00', '09:05']
    """
    allowed = "hours and minutes, such as 18:00 or 6 pm"
    said = " ".join(str(text).split()).lower()
    if said == "midnight":  # the night before to a clock, the night after to who serves
        raise InputError(field, text, "0:00, with the day that begins then, or 23:59")
    if said == "noon":
        return time(12)
    found = _CLOCK.fullmatch(said)
    if not found or not (found["minute"] or found["half"]):
        raise InputError(field, text, allowed)
    hour, minute, half = int(found["hour"]), int(found["minute"] or 0), found["half"]
    if minute > 59 or (not 1 <= hour <= 12 if half else hour > 23):
        raise InputError(field, text, allowed)
    return time(hour % 12 + 12 * (half[0] == "p") if half else hour, minute)


def moment(text: str) -> datetime:
    """A day and a time: "2026-07-03 18:00" or "2026-07-03 6 pm".

    >>> moment("2026-07-03 6 pm") == moment("2026-07-03 18:00") == moment("2026-07-03T18:00")
    True
    """
    day, _, hour = text.strip().partition(" ")
    try:
        if _ISO.fullmatch(text.strip()):
            return datetime.fromisoformat(text.strip())
        return datetime.combine(datetime.fromisoformat(day).date(), clock(hour))
    except ValueError:
        raise InputError("serve time", text, "a date and time such as '2026-07-03 18:00'") from None


def plan(
    serve_at: datetime | str,
    stages: Iterable[str | Stage] | None = None,
    *,
    forecast: Forecast | None = None,
    volume: float = USUAL_VOLUME,
    filters: int = 1,
    wait: Mapping[str, float] | None = None,
    now: datetime | None = None,
    drink: str = "",
) -> Plan:
    """From the time to serve back to the first squeeze.

    Parameters
    ----------
    serve_at : datetime or str
        As a datetime, or text such as "2026-07-03 18:00" or "2026-07-03 6 pm".
    stages : iterable, optional
        Keys of `STAGES`, or a `Stage` of your own, in order; all of them by default.
    forecast : Forecast, optional
        Of the filter, which is planned at the late end of its band; else common practice for `volume` mL
        through `filters` papers.
    wait : mapping, optional
        Hours that the result of a stage waits, such as {"filter": 14} for overnight. [h]
    now : datetime, optional
        The clock's by default.
    drink : str
        Whose day it is.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        For a time in the past, an unknown stage, a forecast that is not made, or a wait that is longer than
        the stage keeps.

    Examples
    --------
    >>> day = plan("2026-07-03 18:00", ["juice", "mix", "milk", "rest"], now=datetime(2026, 7, 3, 9))
    >>> [f"{row.start:%H:%M}" for row in day.rows]
    ['16:45', '17:05', '17:20', '17:30']
    """
    if isinstance(serve_at, str):
        serve_at = moment(serve_at)
    if not isinstance(serve_at, datetime):
        raise InputError("serve time", serve_at, "a date and time such as '2026-07-03 18:00'")
    now = datetime.now(serve_at.tzinfo) if now is None else now
    if (now.tzinfo is None) != (serve_at.tzinfo is None):
        raise InputError("serve time", Told(str(serve_at)), "with a time zone like the present time, or both without")
    if serve_at <= now:
        raise InputError("serve time", Told(_when(serve_at)), f"after the present time, {_when(now)}")
    chosen = [_stage(s) for s in (STAGES if stages is None else stages)]
    if not chosen:
        raise InputError("stages", Told("none"), f"some of {', '.join(STAGES)}")
    wait = dict(wait or {})
    for key, pause in wait.items():
        keeps = {s.key: s.keeps for s in chosen}[one_of("stage to wait after", key, [s.key for s in chosen])]
        require(f"wait after {key!r}", pause, 0, keeps, "h")
    rows, end, filtering, sooner = [], serve_at, None, 0.0
    for stage in reversed(chosen):
        end = _earlier(end, 60 * wait.get(stage.key, 0.0))
        if stage.minutes is None:
            late, filtering, less = _filter_minutes(forecast, volume, filters)
            sooner += less
            stage = replace(stage, minutes=late)
        start = _earlier(end, stage.minutes or 0.0)
        rows.append(Row(stage, start, end))
        end = start
    earliest = _earlier(now, -(_utc(serve_at) - _utc(end)).total_seconds() / 60)
    return Plan(tuple(reversed(rows)), serve_at, earliest, _utc(end) < _utc(now), filtering, drink, sooner)


def _stage(stage: str | Stage) -> Stage:
    return stage if isinstance(stage, Stage) else STAGES[one_of("stage", stage, STAGES)]


def _filter_minutes(forecast: Forecast | None, volume: float, filters: int) -> tuple[float, Fact, float]:
    """Until its late end, what is said of that, and by how much sooner the filter is through as likely as not. [min]"""
    forecast = filter_forecast(total_volume=volume, filters=filters) if forecast is None else forecast
    if forecast.end is None or forecast.high is None:
        raise InputError(
            "forecast of the filter", Fact("forecast not made", reason=forecast.reason), "made, to plan by it"
        )
    minutes = 5 * math.ceil(forecast.high / 5)
    return float(minutes), Fact("filter at its late end", forecast=forecast.said()[0]), minutes - forecast.end


def _utc(moment: datetime) -> datetime:
    return moment.astimezone(UTC) if moment.tzinfo else moment


def _earlier(moment: datetime, minutes: float) -> datetime:
    """So many minutes before, by a clock that runs on when the hour is changed."""
    before = _utc(moment) - timedelta(minutes=minutes)
    return before.astimezone(moment.tzinfo) if moment.tzinfo else before
