"""JSON as text: read with care; names for files, and files in a zip.

>>> parse_json('{"time": 30}', "log", "a file")
{'time': 30}
"""

from __future__ import annotations

import datetime
import io
import json
import math
import os
import re
import unicodedata
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, NoReturn

from . import files, texts
from .errors import InputError, Told


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
    text = text.removeprefix("\ufeff")  # as some editors begin what they save (RFC 8259, section 8.1)
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


def saved_number(value: object, field: str) -> float:
    """A number that JSON can hold, and no text or truth."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise InputError(field, value if isinstance(value, str) else Told(type(value).__name__), "a number")
    return value


def saved_numbers(values: object, field: str) -> tuple[float, ...]:
    """A list of such numbers."""
    if not isinstance(values, list):
        raise InputError(field, Told(f"a {type(values).__name__}"), "a list of numbers")
    return tuple(saved_number(value, field) for value in values)


def reason(error: Exception) -> str:
    """What is wrong with opened data, in a few words."""
    words = " ".join(str(error).split())[:60]
    return f"without {words}" if isinstance(error, KeyError) else f"damaged ({words})"


def leads_to_ours(path: str | Path, is_ours: Callable[[str], bool]) -> bool:
    """Whether what is at a path may be written through it: any file, and of links one that leads to a text of ours.

    Who made the folder may have led a link to anything of the person's.
    """
    path = Path(path)
    if not os.path.islink(path):  # nor where nobody may look
        return True
    try:
        text = files.read_text(path, path.name)
    except InputError:
        return not path.exists()
    return is_ours(text)


def zipped(held: Mapping[str, str | bytes], day: datetime.date) -> bytes:
    """A zip of files by name, each said to be of noon of a day, so that the same files make the same zip.

    >>> zipped({"a.txt": "x"}, datetime.date(1970, 1, 1)) == zipped({"a.txt": "x"}, datetime.date(1980, 1, 1))
    True
    """
    import zipfile  # a start does without

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for name, text in held.items():
            noon = max(day.year, 1980), day.month, day.day, 12, 0, 0  # it knows no year before
            about = zipfile.ZipInfo(name, noon)
            about.compress_type = zipfile.ZIP_DEFLATED
            file.writestr(about, text)
    return out.getvalue()
