"""Tastings as files of the working folder."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from .. import __version__, files, logbook, plain_data, strength, texts
from ..errors import InputError, Told, one_of, require
from ..facts import from_data, say, to_data
from ..steps import Caution
from ..units import whole_number
from . import counts, serving
from .record import Tasting, answered, scales_of
from .serving import SCALES, WAYS, Portion, Serving

FORMAT, TASTINGS = 3, "tastings"  # 1 kept cautions as sentences, 2 of a trial the name alone
_SAID = ("cautions", "making")


def to_dict(tasting: Tasting) -> dict[str, Any]:
    """A tasting as plain data for JSON."""
    said = {name: [to_data(one) for one in getattr(tasting, name)] for name in _SAID}
    kept = asdict(replace(tasting, cautions=(), making=())) | said
    return {"format": FORMAT, "drinklab": __version__, "id": tasting.id, "tasting": kept}


def from_dict(data: Mapping[str, Any], where: str = "") -> Tasting:
    """The tasting in plain data, all of it checked.

    Raises
    ------
    InputError
        Naming the file: if it is of a newer Drinklab, damaged, or its key does not fit.
    """
    what = "saved tasting"
    try:
        if whole_number(data["format"], "format", 1) > FORMAT:
            raise InputError("format", data["format"], f"at most {FORMAT}; a newer Drinklab wrote it", where)
        kept = dict(data["tasting"])
        answers = kept.pop("answers")
        tasting = _built(kept)
        if data["id"] != tasting.id:
            raise InputError("key", Told("another than the sheets'"), "as Drinklab wrote it; it does not fit", where)
        return answered(tasting, {texts.clean(k, "taster", 60): v for k, v in dict(answers).items()})
    except InputError as error:
        raise error.at(where) from None
    except (LookupError, TypeError, AttributeError, ValueError) as error:
        told = Told(f"damaged ({type(error).__name__})")
        raise InputError(what, told, "a tasting as Drinklab wrote it", where) from None


def _built(kept: dict[str, Any]) -> Tasting:
    """The key's own rules: every code once, every order one that is asked in this way."""
    method = one_of("method", kept["method"], WAYS)
    for listed in ("scales", "allergens", "may_contain", "unstated", "left_out", "names"):
        kept[listed] = tuple(texts.clean(word, listed, 1000) for word in kept[listed])
    for listed in _SAID:
        found = map(from_data, kept[listed])
        kept[listed] = tuple(one if isinstance(one, str) else Caution(one.code, **dict(one.numbers)) for one in found)
        for one in kept[listed]:
            texts.clean(say(one), listed, 1000)
    kept["trials"] = tuple(texts.clean(name, "file of a trial", texts.NAME) for name in kept.get("trials", ("", "")))
    kept["trials_saved"] = tuple(_moment(time) for time in kept.get("trials_saved", ("", "")))
    for pair in ("names", "trials", "trials_saved"):
        if len(kept[pair]) != 2:
            raise InputError(pair, Told(f"{len(kept[pair])} of them"), "two, of A and B")
    if method == SCALES:
        kept["scales"] = scales_of(kept["scales"])
    given = Portion(**kept["portion"])
    for name, value, high in (("sip", given.sip, serving.MOST_SIP), ("alcohol", given.grams, 1e4),
                              ("volume", given.volume, 1e4), ("limit", given.limit, serving.MOST_LIMIT),
                              ("drinks", given.drinks, 1e4), ("pm", given.pm or 0, 1e4)):  # fmt: skip
        require(name, plain_data.saved_number(value, name), 0, high)
    for both in (given.beside, given.shares):
        if len(both) != 2:
            raise InputError("what goes beside it", Told(f"{len(both)} of them"), "two, of A and B")
    for name, share in zip(given.beside, given.shares, strict=True):
        texts.clean(name, "what goes beside it", texts.NAME)
        require("share of what goes beside it", plain_data.saved_number(share, "share of what goes beside it"), 0, 100)
    one_of("country", given.country, strength.countries())
    whole_number(given.glasses, "glasses", 1, serving.MOST_SIP)
    if given.rounds is not None:
        whole_number(given.rounds, "tastings until the limit", 0)
    for name in ("similar", "swallow"):  # "no" would count as yes
        if type(kept[name]) is not bool:
            raise InputError(name, kept[name], "true or false")
    made = tuple(
        Serving(texts.clean(s["taster"], "taster", 60), s["order"], tuple(str(code) for code in s["codes"]))
        for s in kept["servings"]
    )
    require("tasters", len(made), 1, counts.MOST_TASTERS)
    seen: dict[str, str] = {}
    for one in made:
        one_of(f"order of {one.taster!r}", one.order, serving.orders_of(method))
        if len(one.codes) != len(one.order):
            raise InputError(f"codes of {one.taster!r}", Told(f"{len(one.codes)}"), f"{len(one.order)}, one a glass")
        for code in one.codes:
            if code == serving.REFERENCE:
                continue
            if code in seen:
                raise InputError(
                    f"code {code}", Told(f"on the sheets of {seen[code]!r} and {one.taster!r}"), "on one only"
                )
            if not (len(code) == 3 and code.isdecimal() and code.isascii()):
                raise InputError(f"code of {one.taster!r}", code, "three digits")
            seen[code] = one.taster
    if len({one.taster for one in made}) != len(made):
        raise InputError("tasters", Told("of one name"), "each of another name")
    require("alpha", plain_data.saved_number(kept["alpha"], "alpha"), 0.0001, 0.5)
    require("share", plain_data.saved_number(kept["share"], "share"), 1e-6, 1)
    if datetime.fromisoformat(kept["time"]).isoformat(timespec="milliseconds") != kept["time"]:
        raise InputError("time", kept["time"], "as Drinklab writes it")  # its first ten letters are in a file's name
    one_of("expected drink", kept["expected"], "AB")
    texts.clean(kept["asks"], "what is compared", 60)
    whole_number(plain_data.saved_number(kept["seed"], "seed"), "seed")
    return Tasting(
        **{
            **kept,
            "portion": given,
            "servings": made,
        }
    )


def _moment(time: object) -> str:
    told = texts.clean(time, "time of a trial", 60)
    return datetime.fromisoformat(told).isoformat() if told else ""


def stem(tasting: Tasting) -> str:
    """How its files are called: the day, the first drink and the tasting's own letters."""
    return f"{tasting.time[:10]}_{plain_data.slug(tasting.names[0])}_{tasting.id}"


def save(tasting: Tasting, folder: str | Path, pages: Mapping[str, str] | None = None) -> list[Path]:
    """Save a tasting, with the answers it has, as a new file under `folder`/tastings; what is there stays.

    Parameters
    ----------
    tasting : Tasting
    folder : path
    pages : dict, optional
        What goes to print with it, by its suffix (".key.html"): all files of one number, or none.

    Returns
    -------
    list of Path
        The tasting's own first.

    Raises
    ------
    InputError
        If the folder cannot be written to.
    """
    text = json.dumps(to_dict(tasting), ensure_ascii=False, indent=1, allow_nan=False)
    return files.write_new(Path(folder) / TASTINGS, stem(tasting), {".json": text, **(pages or {})})


def keep_with_trials(tasting: Tasting, folder: str | Path, file: str) -> tuple[str, ...]:
    """Say of each saved trial that was tasted where the tasting is, once all answers are in: see `logbook.record`.

    Parameters
    ----------
    tasting : Tasting
    folder : path
        Working folder.
    file : str
        Of the saved tasting.

    Returns
    -------
    tuple of str
        Files of the trials of which it is said now.
    """
    if tasting.waiting:
        return ()
    said = []
    among = logbook.entries(folder, in_bin=None).entries
    for name, saved in dict.fromkeys(zip(tasting.trials, tasting.trials_saved, strict=True)):
        if one := trial_of(among, name, saved):
            logbook.record(one.path, one.time, tasting=file)
            said.append(one.path.name)
    return tuple(said)


def trial_of(among: Sequence[logbook.Entry], name: str, saved: str) -> logbook.Entry | None:
    """The saved trial that a tasting means by a file's name and the time of saving; None where it is gone.

    By the name alone, as an earlier Drinklab kept it, where just one has it.
    """
    first = files.first_name(name)
    if not first:
        return None
    there = [one for one in among if files.first_name(one.path.name) == first]
    if saved:
        then = datetime.fromisoformat(saved)
        at_once = [one for one in among if one.time == then]  # renamed by hand
        there = [one for one in there if one.time == then] or (at_once if len(at_once) == 1 else [])
        return there[0] if there else None
    return there[0] if len(there) == 1 else None


def load(path: str | Path) -> Tasting:
    """A saved tasting, checked. Errors as for `from_dict`."""
    return from_dict(plain_data.read_json(path, "saved tasting"), Path(path).name)


class Listed(NamedTuple):
    """Saved tastings by their files, newest first, and what could not be read."""

    tastings: tuple[tuple[Path, Tasting], ...]
    problems: tuple[str, ...]


def entries(folder: str | Path) -> Listed:
    """The saved tastings of a folder, newest first, and a sentence for each file that cannot be read."""
    found, problems = [], []
    try:
        paths = files.listed(Path(folder) / TASTINGS, ".json", "folder of saved tastings")
    except InputError as error:
        return Listed((), (str(error),))
    for path in paths:
        try:
            found.append((path, load(path)))
        except InputError as error:
            problems.append(str(error))
    return Listed(tuple(sorted(found, key=lambda pair: (pair[1].time, pair[0].name), reverse=True)), tuple(problems))
