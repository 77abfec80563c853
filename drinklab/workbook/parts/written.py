"""A trial written up with its picture, as every page does it."""

from __future__ import annotations

from pathlib import Path

from ... import classics, logbook, tasting, trial, writeup
from ...errors import InputError
from ...facts import Fact, say
from ..charts import pictures
from ..charts import place as place_charts
from ..charts.live import once
from .bench_words import classic_rows, placed_among, placed_rows
from .logbook_words import changed_from
from .tasting_words import entry_label, verdict

MOST_PHOTOS = 2  # in a write-up, see `logbook.photos.ON_PAGE`


def write_up(
    now: trial.Trial, folder: str | Path = ".", *, rows: dict[str, list] | None = None, came_from: str = "", **about
) -> tuple[Path, Path]:
    """Write a trial up with its place among the classics, as a page and as plain text, under new names.

    Parameters
    ----------
    now : Trial
    folder : path
        Working folder.
    rows : dict, optional
        What the chart shows, as `place_charts.place_chart` names it; by default the drink and its nearest classics.
    came_from : str
        File of the saved trial that it may be: what tastings found of that is told, as long as nothing has changed.
    **about
        As for `writeup.html`: title, notes, baseline, display, country.
    """
    known = classics.load()
    placed = placed_among(now, known)
    picture = once(place_charts.place_chart, classic_rows(known), placed.family)
    rows = rows if rows is not None else placed_rows(now, placed, known)
    about.setdefault("tasted", tasted(now, folder, came_from))
    about.setdefault("why", why(now, folder, came_from))
    about.setdefault("photos", photographs(now, folder, came_from))
    parts = {"chart_text": picture["description"]} | pictures.on_page(picture, **rows)
    return writeup.save(now, folder, **parts, **about)


def photographs(now: trial.Trial, folder: str | Path, file: str) -> tuple[tuple[bytes, str], ...]:
    """The newest photographs of the saved trial in `file`, if this drink is still that, small, and what they show."""
    line = _still(now, folder, file)
    found = []
    for name in line.photos[-MOST_PHOTOS:] if line else ():
        try:
            held = logbook.shown(line.path, name)
        except InputError:  # gone, or damaged: the page does without
            continue
        found.append((held, f"Photograph of {now.recipe.name}, kept with the trial “{line.title}”"))
    return tuple(found)


def _still(now: trial.Trial, folder: str | Path, file: str) -> logbook.Entry | None:
    """The saved trial in `file`, if this drink is still that."""
    path = Path(folder) / logbook.TRIALS / Path(file).name
    try:
        line = logbook.entry(path) if file else None
        changed = line and logbook.changes(now.setting, logbook.open_saved(path, pantry=now.pantry).setting)
    except InputError:  # gone, or damaged: then nothing is known of it
        return None
    return None if changed else line


def tasted(now: trial.Trial, folder: str | Path, file: str) -> tuple[str, ...]:
    """What blind tastings found of the saved trial in `file`, if this drink is still that; a paragraph each."""
    line = _still(now, folder, file)
    if line is None:
        return ()
    return tuple(" ".join((f"{label}.", *said)) for label, said in tastings_of(line, folder) if said)


def why(now: trial.Trial, folder: str | Path, file: str) -> tuple[str, ...]:
    """Why this version, as far as the logbook knows: what it changed in the one before, and what that one's tasters and
    notes said; "" where it came from none."""
    path = Path(folder) / logbook.TRIALS / Path(file).name
    try:
        line = logbook.entry(path) if file else None
        still = _still(now, folder, file) is not None
        before = Path(folder) / logbook.TRIALS / line.came_from if still and line.came_from else path
        if line is None or (still and not line.came_from):
            return ()
        was, line = logbook.open_saved(before, pantry=now.pantry), logbook.entry(before)
    except InputError:  # gone, or damaged: then nothing is known of it
        return ()
    change = changed_from(now.setting, was.setting, now.pantry, now.setting.display)
    found = [say(Fact("comes from", title=line.title, day=f"{line.time:%Y-%m-%d}", change=change))]
    found += [" ".join((f"Of that one, {label}:", *said)) for label, said in tastings_of(line, folder) if said]
    return (*found, *([f"Noted of that one: {line.all_notes}"] if line.all_notes else []))


def tastings_of(line: logbook.Entry, folder: str | Path) -> list[tuple[str, tuple[str, ...]]]:
    """Each tasting that a trial was in, the last by its newest file: what it was, and the verdict in sentences."""
    found: dict[str, tuple[str, tuple[str, ...]]] = {}
    for name in line.tastings:
        path = Path(folder) / tasting.TASTINGS / Path(name).name
        try:
            one = tasting.load(path)
            found[one.id] = entry_label(one), verdict(one, tasting.findings(one))
        except InputError as problem:
            found[name] = str(problem), ()
    return list(found.values())
