"""Weighings over ice and logs of filters: each a small file of the working folder, none ever overwritten."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any, TypeVar, cast

import numpy as np

from .. import __version__, dilution, texts
from ..errors import InputError, one_of, require
from ..facts import Fact, say
from ..files import numbered, write_new
from ..filtering import Forecast, checked_log, filter_forecast
from ..kinds import MASS, VOLUME
from ..learned import Known
from ..physics import blocking
from ..plain_data import read_json, saved_number, saved_numbers
from .entries import Entry
from .sorts import SORTS

KEPT = ICE, LOG = "my_ice", "my_filter"  # each is a new file of this name and a running number
# How ice can be weighed; a recipe knows all but "thrown".
ICED = ("stirred", "shaken", "swizzled", "thrown", "built", "blended")
LEAST_THROUGH = 25.0  # less through a paper says next to nothing of half a litre; a judgement [mL]


@dataclass(frozen=True, slots=True)
class OwnFit:
    """Own weighings of one technique, and what `dilution.fitted` made of them. [s], [g]

    `rule` is what the rule melts of the drink that was weighed, `usual` what these weighings say of it at the usual
    time of the technique [g]: both are missing in files of an earlier Drinklab. `day` is when, `ice` how cold the ice
    was by the thermometer [°C].
    """

    technique: str
    pace: float
    wetness: float
    miss: float
    seconds: tuple[float, ...]
    gained: tuple[float, ...]
    rule: float | None = None
    usual: float | None = None
    day: str = field(default="", compare=False)
    ice: float | None = field(default=None, compare=False)

    def entry(self, id: str) -> Entry | None:
        """As a measurement of the rule's melt; None where it says too little for that."""
        if not self.rule or self.usual is None or not self.day or self.technique not in dilution.RULES:
            return None
        return Entry(
            "ice", self.technique, self.usual, float(dilution.weighed_pm(self.usual, self.miss)), "scale", self.day,
            of=self.rule, times=len(self.seconds), note=f"{id}.json", id=id,
        )  # fmt: skip


def save_fit(folder: str | Path, fit: OwnFit, *, drink: str, setting: Mapping[str, Any]) -> Path:
    """Save own weighings as a new file in the working folder: my_ice_01.json, my_ice_02.json ...

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    data = {
        "drinklab": __version__, "time": datetime.now().astimezone().isoformat(timespec="seconds"), "drink": drink,
        "setting": {k: v for k, v in setting.items() if k != "technique"},
        **{name: getattr(fit, name) for name in OwnFit.__slots__ if name not in ("day", "ice")},
    }  # fmt: skip
    text = json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False)
    return write_new(Path(folder), ICE, {".json": text})[0]


def own_fits(folder: str | Path) -> tuple[dict[str, OwnFit], tuple[str, ...]]:
    """The newest own weighings of each technique, and one sentence for each file that cannot be read.

    >>> own_fits("no such folder")
    ({}, ())
    """
    every, problems = fit_files(folder)
    return {fit.technique: fit for fit in every.values()}, problems


def fit_files(folder: str | Path) -> tuple[dict[str, OwnFit], tuple[str, ...]]:
    """All own weighings by the name of their file, oldest first, and a sentence for each that cannot be read.

    >>> fit_files("no such folder")
    ({}, ())
    """
    found, problems = {}, []
    for path in numbered(folder, ICE, ".json"):
        try:
            found[path.stem] = _read(path, _read_fit)
        except InputError as problem:
            problems.append(say(Fact("weighings left out", problem=str(problem))))
    return found, tuple(problems)


def _read_fit(path: Path) -> OwnFit:
    what = "own weighings"
    data = read_json(path, what)
    try:
        one_of("technique", data["technique"], ICED, path.name)
        for name, high in (("pace", 100), ("wetness", 0.5), ("miss", 1e5)):
            require(name, saved_number(data[name], name), 0.01 if name == "pace" else 0, high)
        seconds, gained = (saved_numbers(data[name], name) for name in ("seconds", "gained"))
        known = {name: saved_number(data[name], name) for name in ("rule", "usual") if data.get(name) is not None}
        for name, value in known.items():
            require(name, value, SORTS["ice"].low, SORTS["ice"].high, MASS)
        ice = dict(data.get("setting") or {}).get("ice_temperature")
        return OwnFit(
            data["technique"], float(data["pace"]), float(data["wetness"]), float(data["miss"]), seconds, gained,
            known.get("rule"), known.get("usual"), day_of(data),
            None if ice is None else saved_number(ice, "ice temperature"),
        )  # fmt: skip
    except InputError as problem:
        raise problem.at(path.name) from None
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(what, f"damaged ({error})", "weighings as Drinklab writes them", path.name) from None


def day_of(data: Mapping[str, Any]) -> str:
    """The day on which a file was written, as ISO 8601; "" where it says none."""
    try:
        return date.fromisoformat(str(data.get("time", ""))[:10]).isoformat()
    except ValueError:
        return ""


def _read(path: Path, by: Callable[[Path], _Kept]) -> _Kept:
    """A file as it was read before, as long as it is the same: every page asks for all of them."""
    try:
        stat = path.stat()
    except OSError:  # a link to nothing or to itself, or taken away since it was listed
        return by(path)
    key = str(path), stat.st_mtime_ns, stat.st_size, stat.st_ino
    if key not in _SEEN:
        if len(_SEEN) > 2000:
            _SEEN.clear()
        _SEEN[key] = by(path)
    return cast("_Kept", _SEEN[key])


_Kept = TypeVar("_Kept")
_SEEN: dict[tuple[str, int, int, int], object] = {}


# --- filters ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FilterLog:
    """What was logged of a filter: as `filter_forecast` takes it. [min], [mL]"""

    minutes: tuple[float, ...] = ()
    volumes: tuple[float, ...] = ()
    total: float = blocking.USUAL_VOLUME
    filters: int = 1
    new_papers: tuple[float, ...] = ()
    returned: float = 0.0
    drink: str = ""
    kept_full: bool | None = None
    day: str = field(default="", compare=False)

    def forecast(self, known: Known | None = None) -> Forecast:
        """When it will be through; `known` is what this bar has measured of other filters."""
        return filter_forecast(
            self.minutes, self.volumes, self.total, filters=self.filters, new_papers=self.new_papers,
            returned=self.returned, kept_full=self.kept_full, known=known,
        )  # fmt: skip

    def entry(self, id: str) -> Entry | None:
        """As a measurement of the time for half a litre: the reading of its first paper that lies nearest to that.

        None where nothing ran through in a time that can be read, or no day is known.
        """
        t, v = np.array(self.minutes, dtype=float), np.array(self.volumes, dtype=float)
        if not self.day or not t.size:
            return None
        starts = [0.0, *sorted(self.new_papers)]
        _, through, took = blocking.by_paper(t, v, self.filters, starts, self.returned)[0]
        rule = SORTS["filter"]
        some = (took >= rule.low) & (took <= rule.high) & (through >= LEAST_THROUGH)
        if not some.any():
            return None
        off = np.where(some, np.abs(np.log(np.maximum(through, 1e-9) / blocking.USUAL_VOLUME)), np.inf)
        at = int(np.argmin(off))
        minutes, ran = float(took[at]), float(through[at])
        return Entry(
            "filter", "paper", minutes, rule.instruments[0].pm(minutes), rule.instruments[0].name, self.day, of=ran,
            times=self.filters, note=f"{id}.json", id=id,
        )  # fmt: skip


def save_log(folder: str | Path, log: FilterLog) -> Path:
    """Save a filter log as a new file in the working folder: my_filter_01.json, my_filter_02.json ...

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    data = {"drinklab": __version__, "time": datetime.now().astimezone().isoformat(timespec="seconds")} | asdict(log)
    del data["day"]  # it is in the time
    text = json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False)
    return write_new(Path(folder), LOG, {".json": text})[0]


def own_logs(folder: str | Path) -> tuple[dict[str, FilterLog], tuple[str, ...]]:
    """The filter logs of a working folder by name, oldest first, and a sentence for each that cannot be read.

    >>> own_logs("no such folder")
    ({}, ())
    """
    found, problems = {}, []
    for name, path in log_files(folder).items():
        try:
            found[name] = _read(path, _read_log_file)
        except InputError as problem:
            problems.append(say(Fact("filter log left out", problem=str(problem))))
    return found, tuple(problems)


def log_files(folder: str | Path) -> dict[str, Path]:
    """Logs of a folder, by name, oldest first."""
    return {path.stem: path for path in numbered(folder, LOG, ".json")}


def _read_log_file(path: Path) -> FilterLog:
    what = "filter log"
    data: Mapping[str, Any] = read_json(path, what)
    try:
        rows = {
            name: saved_numbers(data[name], name.replace("_", " ")) for name in ("minutes", "volumes", "new_papers")
        }
        total, returned = (saved_number(data[name], name) for name in ("total", "returned"))
        log = FilterLog(
            **rows, total=total, filters=data["filters"], returned=returned,
            drink=texts.line(texts.clean(data["drink"], "drink", texts.NAME)),
            kept_full=data.get("kept_full"),  # older logs do not say
            day=day_of(data),
        )  # fmt: skip
        require("returned", returned, 0, VOLUME.high, VOLUME)
        checked_log(log.minutes, log.volumes, log.total, log.filters, log.new_papers, log.kept_full)
    except InputError as problem:
        raise problem.at(path.name) from None
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(what, f"damaged ({error})", "a log as Drinklab writes it", path.name) from None
    return log


def kept_entries(folder: str | Path, without: str = "") -> tuple[Entry, ...]:
    """What the weighings of ice and the filter logs of a folder say, as measurements; each has its file's name as id.

    A log that was saved again as it went on counts once, the longest of it; so do weighings that were fitted anew.
    `without` leaves out a file, and all that are of the same batch.

    >>> kept_entries("no such folder")
    ()
    """
    files: dict[str, OwnFit | FilterLog] = {**fit_files(folder)[0], **own_logs(folder)[0]}
    left_out, counted = files.get(without), dict[str, OwnFit | FilterLog]()
    for name, one in files.items():
        if left_out is not None and _same(one, left_out):
            continue
        again = next((other for other in counted if _same(counted[other], one)), None)
        if again is None:
            counted[name] = one
        elif len(_readings(one)) >= len(_readings(counted[again])):
            del counted[again]
            counted[name] = one
    found = (one.entry(name) for name, one in counted.items())
    return tuple(entry for entry in found if entry is not None)


def _readings(one: OwnFit | FilterLog) -> list[tuple[float, float]]:
    pairs = (one.seconds, one.gained) if isinstance(one, OwnFit) else (one.minutes, one.volumes)
    return list(zip(*pairs, strict=False))


def _same(one: OwnFit | FilterLog, other: OwnFit | FilterLog) -> bool:
    """Whether one goes on from the other: all readings that both have are the same."""
    if isinstance(one, OwnFit) and isinstance(other, OwnFit):
        return (one.technique, _readings(one)) == (other.technique, _readings(other))
    a, b = _readings(one), _readings(other)
    both = min(len(a), len(b))
    return type(one) is type(other) and both > 0 and a[:both] == b[:both]
