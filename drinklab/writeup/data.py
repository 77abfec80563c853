"""The figures for other programs: stages and draws as a Data Package, and how to cite the page."""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Iterable
from typing import Any

import numpy as np

from .. import tables
from ..facts import Fact, say
from ..plain_data import zipped
from ..profile import KINDS, TITLES, profile
from ..trial import Trial

_FIGURES = tuple(TITLES)
_ENDS = ("", "_low", "_high")
_DIGITS = 6  # of a number in a table


def package(trial: Trial, facts: dict[str, Any]) -> bytes:
    """A zip of `stages.csv`, `draws.csv` (one serve of each random version) and their `datapackage.json`."""
    made = {
        "stages.csv": tables.written([["stage", *(f"{f}{end}" for f in _FIGURES for end in _ENDS)], *_stages(trial)]),
        "draws.csv": tables.written([["draw", *_FIGURES], *_draws(trial)]),
        "CITATION.cff": cff(facts),
    }
    made["datapackage.json"] = json.dumps(_described(facts), ensure_ascii=False, indent=1)
    return zipped(made, datetime.date.fromisoformat(facts["date"]))  # of the page's day: the same each time


def _stages(trial: Trial) -> Iterable[list[str]]:
    for stage in trial.stages:
        ends = [_cell(getattr(of, f)) for f in _FIGURES for of in (stage.profile, stage.low, stage.high)]
        yield [tables.no_formula(stage.name), *ends]


def _draws(trial: Trial) -> Iterable[list[str]]:
    liquid = trial.served.liquid
    if liquid.grams[0].size == 1:
        return
    found = profile(liquid[1:])
    columns = [np.broadcast_to(getattr(found, f), liquid.shape[0] - 1) for f in _FIGURES]
    for number, row in enumerate(zip(*columns, strict=True), 1):
        yield [str(number), *map(_cell, row)]


def _cell(value: float) -> str:
    """A number in few digits; blank where it has no end."""
    return f"{float(value):.{_DIGITS}g}" if np.isfinite(value) else ""


def _described(facts: dict[str, Any]) -> dict[str, Any]:
    """The Data Package standard, version 2."""

    def field(name: str, figure: str) -> dict[str, Any]:
        end = {"_low": Fact("low end"), "_high": Fact("high end")}.get(name.removeprefix(figure), "")
        told = say(Fact("column of a figure", what=TITLES[figure], end=end))
        return {"name": name, "type": "number", "unit": KINDS[figure].label, "description": told}

    ends = [field(f"{f}{end}", f) for f in _FIGURES for end in _ENDS]
    tables_of = {
        "stages": (Fact("table of stages"), [{"name": "stage", "type": "string"}, *ends]),
        "draws": (Fact("table of draws"), [{"name": "draw", "type": "integer"}, *(field(f, f) for f in _FIGURES)]),
    }
    told = {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": re.sub(r"[^a-z0-9]+", "-", facts["drink"].lower()).strip("-") or "drink",
        "title": facts["title"],
        "created": f"{facts['date']}T12:00:00Z",
        "contributors": [{"title": facts["author"], "roles": ["author"]}] if facts["author"] else None,
        "resources": [
            {"name": name, "type": "table", "path": f"{name}.csv", "description": say(what), "format": "csv",
             "mediatype": "text/csv", "encoding": "utf-8", "schema": {"fields": fields, "missingValues": [""]}}
            for name, (what, fields) in tables_of.items()
        ],
    }  # fmt: skip
    return {key: value for key, value in told.items() if value}


def cff(facts: dict[str, Any]) -> str:
    """The Citation File Format, version 1.2.0; every text is quoted as JSON is, which YAML reads too."""
    told = {
        "cff-version": "1.2.0",
        "message": say(Fact("cite it so")),
        "type": "dataset",
        "title": facts["title"],
        "authors": [{"name": facts["author"] or "author not named"}],
        "date-released": facts["date"],
    }
    return "\n".join(f"{key}: {json.dumps(value, ensure_ascii=False)}" for key, value in told.items()) + "\n"


_TEX = {"\\": r"\textbackslash{}", "{": r"\{", "}": r"\}", "~": r"\textasciitilde{}", "^": r"\textasciicircum{}"}
_TEX |= {sign: f"\\{sign}" for sign in "#$%&_"}


def bibtex(facts: dict[str, Any], stem: str) -> str:
    """An entry for BibTeX.

    >>> print(bibtex({"title": "Salt & lime", "author": "", "date": "2027-07-03"}, "salt_version_01"))
    @misc{salt_version_01,
      title = {{Salt \\& lime}},
      year = {2027},
      note = {Write-up of a drink, 2027-07-03, salt\\_version\\_01}
    }
    """
    told = {
        "author": f"{{{_tex(facts['author'])}}}" if facts["author"] else "",
        "title": f"{{{_tex(facts['title'])}}}",
        "year": facts["date"][:4],
        "note": f"Write-up of a drink, {facts['date']}, {_tex(stem)}",
    }
    lines = [f"  {key} = {{{value}}}" for key, value in told.items() if value]
    return "@misc{" + stem + ",\n" + ",\n".join(lines) + "\n}"


def _tex(text: str) -> str:
    return "".join(_TEX.get(letter, letter) for letter in text)
