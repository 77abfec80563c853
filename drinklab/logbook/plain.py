"""JSON as text: read with care, and names for files."""

from __future__ import annotations

import json
import math
import re
import unicodedata
from pathlib import Path
from typing import Any, NoReturn

from .. import files, texts
from ..errors import InputError
from .saved import reason


def slug(name: str) -> str:
    """A name as a piece of a file name: small plain letters, figures and hyphens.

    >>> slug("First Frost: à la  <milk>!")
    'first-frost-a-la-milk'
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[:48].strip("-") or "drink"


def read_json(path: str | Path, what: str) -> dict[str, Any]:
    """The object in a JSON file, its texts fit to be shown.

    Raises
    ------
    InputError
        In one sentence that names the file and what is wrong with it.
    """
    return parse_json(files.read_text(path, what), what, Path(path).name)


def parse_json(text: str, what: str, where: str) -> dict[str, Any]:
    """The object that a JSON text holds.

    Raises
    ------
    InputError
        Naming `what` and `where`, for anything else; what is no finite number is refused too.
    """
    try:
        data = texts.fit_all(json.loads(text, parse_constant=_refuse, parse_int=_whole, parse_float=_finite))
    except json.JSONDecodeError as error:
        lines = text.splitlines() or [""]
        line = lines[min(error.lineno, len(lines)) - 1].strip()[:60]
        raise InputError(f"line {error.lineno} of the {what}", line, "JSON as Drinklab writes it", where) from None
    except (ValueError, RecursionError) as error:
        raise InputError(what, reason(error), "JSON as Drinklab writes it", where) from None
    if not isinstance(data, dict):
        raise InputError(what, f"a {type(data).__name__}", "a JSON object as Drinklab writes it", where)
    return data


def _refuse(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")


def _whole(digits: str) -> float:
    return int(digits) if len(digits) < 19 else _finite(digits)  # as a float where an array has no room for it


def _finite(digits: str) -> float:
    if math.isfinite(number := float(digits)):
        return number
    _refuse(digits if len(digits) < 30 else f"what has {len(digits):,} digits")
