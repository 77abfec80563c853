"""A trial written up with its picture, as every page does it."""

from __future__ import annotations

from pathlib import Path

from ... import balance, classics, trial, writeup
from ..charts import pictures
from ..charts import place as place_charts
from ..charts.live import once
from .bench_words import classic_rows, placed_rows


def write_up(
    now: trial.Trial, folder: str | Path = ".", *, rows: dict[str, list] | None = None, **about
) -> tuple[Path, Path]:
    """Write a trial up with its place among the classics, as a page and as plain text, under new names.

    Parameters
    ----------
    now : Trial
    folder : path
        Working folder.
    rows : dict, optional
        What the chart shows, as `place_charts.place_chart` names it; by default the drink and its nearest classics.
    **about
        As for `writeup.html`: title, notes, baseline, display, country.
    """
    known = classics.load()
    placed = balance.place(now.served.profile, known, now.recipe.family)
    picture = once(place_charts.place_chart, classic_rows(known), placed.family)
    rows = rows if rows is not None else placed_rows(now, placed, known)
    parts = {"chart_text": picture["description"]} | pictures.on_page(picture, **rows)
    return writeup.save(now, folder, **parts, **about)
