"""A person's own ingredients: a row made from what is known of a bottle, written behind those that are there.

>>> import tempfile
>>> from drinklab import pantry
>>> folder = tempfile.mkdtemp()
>>> path = write(folder, row("plum shrub", "syrup", "0", "400", acid="12", allergens="none"))
>>> pantry.load(folder).find("plum shrub").acid
12.0
"""

from __future__ import annotations

import functools
import itertools
import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from . import balance, files, tables, texts
from . import pantry as _pantry
from .errors import InputError, one_of, require
from .kinds import ABV, CONCENTRATION, Kind
from .liquid import ACIDS, Liquid
from .names import plain
from .units import number, read

# Of these a strength is enough; of all others the acid is asked for.
NO_ACID = ("spirit", "bitters")
# pH that a juice can have, with 0.2 for a meter below: lime juice 2.00 to 2.35 (FDA, Approximate pH of foods and food
# products, October 2003, read in a copy), tomatoes 4.0 to 4.6 (American Home Economics Association, Handbook of Food
# Preparation, 9th edition, 1993, as the University of Idaho quotes it).
JUICE_PH = (1.8, 4.6)
_MOST_ACID = 120.0  # g/L; no fruit holds more
MOST_SALTS = 30.0  # g/L, as potassium; no juice holds as much


def row(
    name: str,
    kind: str,
    strength: object,
    sugar: object,
    *,
    acid: object = "",
    ph: object = "",
    sort: str = "citric",
    allergens: str = "",
    cautions: Iterable[str] | None = None,
    may_contain: Iterable[str] = (),
) -> dict[str, str]:
    """A row of `my_ingredients.csv` from what is known of a bottle; what is not known is asked for.

    Parameters
    ----------
    name : str
    kind : str
        One of the kinds of `datasets/ingredients.csv`: spirit, liqueur, juice, syrup ...
    strength : str or float
        0 for none. [% vol]
    sugar : str or float
        [g/L]
    acid : str or float
        All acids by weight. 0 for none; needed unless the kind is one of `NO_ACID`, or a juice's `ph` is given. [g/L]
    ph : str or float
        Of a juice alone it tells the acid, roughly (`acid_of_juice`); beside `acid` it tells the salts.
    sort : str
        Which acid it is counted as, one of `liquid.ACIDS`.
    allergens : str
        In the words of EU Regulation 1169/2011, annex II, joined by "; "; "none" for none.
    cautions : iterable of str, optional
        What else it brings that can hurt: grapefruit, caffeine, quinine, raw_egg ...; ["none"] for nothing else. What
        its kind and its name say is told all the same.
    may_contain : iterable of str
        Allergens that may be in it; ["none"] where its maker was asked and says that there are none: then what its kind
        and its name let fear is not told. Nothing where nobody was asked.

    Returns
    -------
    dict
        Column -> cell. The source says what was typed and what was worked out.

    Raises
    ------
    InputError
        For what is missing, out of range, or cannot be true together.
    """
    name = texts.line(texts.clean(name, "name", texts.NAME))
    if not re.search(r"\w", name):
        raise InputError("name", name, "what you call it, such as 'plum shrub'")
    if unicodedata.normalize("NFKC", name)[0] in "=+-@":
        raise InputError("name", name, "begun with another sign: a spreadsheet takes one that begins so for a sum")
    one_of("kind", kind, tables.fields("ingredients")["kind"]["constraints"]["enum"])
    one_of("acid counted as", sort, ACIDS)
    cells = {"id": _id(name), "name": name, "kind": kind, "allergens": _allergens(name, allergens)}
    if told := _cautions(name, cautions):
        cells["caution"] = "; ".join(told)
    if may := list(dict.fromkeys(may_contain)):
        field = f"may contain of {name!r}"
        _stated(field, may, "its maker says so")
        cells["may_contain"] = "; ".join(
            word if word == "none" else tables.checked("ingredients", "may_contain", word, field) for word in may
        )
    abv = _figure(strength, ABV, f"strength of {name!r}", "in % vol, such as 40 or '80 proof'; 0 for none")
    sweet = _figure(sugar, CONCENTRATION, f"sugar of {name!r}", "in g/L; 0 for none")
    require(f"strength of {name!r}", abv, ABV.low, ABV.high, "% vol")
    cells |= {"abv_percent": _cell(abv), "sugar_g_l": _cell(sweet)}
    words = ["own figures"]
    measured = None if _blank(ph) else float(number(ph, f"pH of {name!r}"))
    if not _blank(acid):
        sour = _figure(acid, CONCENTRATION, f"acid of {name!r}", "in g/L; 0 for none")
        cells[f"{sort}_g_l"] = _cell(sour)
        if measured is not None:
            require(f"pH of {name!r}", measured, 1, 9)
            cells["potassium_g_l"] = _cell(_salts(name, measured, sour, sort, abv, sweet))
            words.append(f"salts from pH {measured:g}")
    elif measured is not None:
        if kind != "juice":
            allowed = "left out, or with the acid in g/L beside it: only of a juice a pH tells the acid"
            raise InputError(f"pH of {name!r}", measured, allowed)
        found, pm, salts = acid_of_juice(measured, sort, sweet)
        cells |= {f"{sort}_g_l": _cell(found), "acid_pm": _cell(pm), "potassium_g_l": _cell(salts)}
        words.append(f"acid {found:.0f} ± {2 * pm:.0f} g/L from pH {measured:g} and the salts that juices have")
    elif kind not in NO_ACID:
        asked = "in g/L, or the pH of a juice; 0 only where you know that it holds none"
        raise InputError(f"acid of {name!r}", "", asked)
    return cells | {"source": "; ".join(words), "source_class": "own measurement"}


def _blank(value: object) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())


def _figure(value: object, kind: Kind, field: str, allowed: str) -> float:
    if _blank(value):
        raise InputError(field, "", allowed)
    found = read(value, kind, field)
    require(field, found, 0, 1650 if kind is CONCENTRATION else 100, kind.label)
    return float(found)


def _cell(value: float) -> str:
    return np.format_float_positional(value, precision=6, fractional=False, trim="-")


def _id(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return f"own_{re.sub('[^a-z0-9]+', '_', plain).strip('_')[:60]}".rstrip("_")


def _allergens(name: str, typed: str) -> str:
    field = f"allergens of {name!r}"
    words = [word.strip() for word in re.split("[;,]", typed) if word.strip()]
    for word in words:
        one_of(field, word.partition("(")[0].strip(), tables.fields("ingredients")["allergens"]["itemEnum"])
    return "; ".join(_stated(field, words, "its label names none"))


def _cautions(name: str, told: Iterable[str] | None) -> list[str]:
    if told is None:
        return []
    field = f"caution of {name!r}"
    words = _stated(field, told, "it holds none of these")
    return [tables.checked("ingredients", "caution", word, field) for word in words if word != "none"]


def _stated(field: str, words: Iterable[str], none: str) -> list[str]:
    """Each once; that there is none is said in so many words, and alone."""
    once = list(dict.fromkeys(words))
    if not once:
        raise InputError(field, "", f"chosen; none, in so many words, if {none}")
    if "none" in once and len(once) > 1:
        raise InputError(field, "; ".join(once), "none alone, or what there is")
    return once


# --- what a pH tells -----------------------------------------------------------------------------------------


def _ph(acid: float, sort: str, salts: float, abv: float, sugar: float) -> float:
    """pH of about a litre of it."""
    held = {"water": 1000 - 0.62 * sugar - 10 * abv, "ethanol": 7.89 * abv, "sucrose": sugar, "potassium": salts}
    return float(balance.ph(Liquid.of(**held, **{sort: acid})))


def _solved(target: float, of: Callable[[float], float], low: float, high: float) -> float:
    """Where the monotonic `of` takes the value `target`, by halving."""
    rises = of(high) > of(low)
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if (of(middle) < target) == rises else (low, middle)
    return (low + high) / 2


@functools.cache
def _juice_salts() -> tuple[float, float, float]:
    """Salts of the juices in the table, as potassium: the middle, and about one standard deviation below and above."""
    held = [
        sum(item.solutes.get(name, 0.0) for name in ("potassium", "unsure_potassium"))
        for item in _pantry.load().values()
        if item.kind == "juice" and item.acid > 0
    ]
    logs = np.log([grams for grams in held if grams > 0])
    middle, sd = np.median(logs), logs.std()
    usual, low, high = (float(np.exp(middle + z * sd)) for z in (0, -1, 1))
    return usual, low, high


class JuiceAcid(NamedTuple):
    """Acid, one standard deviation of it, and salts as potassium. [g/L]"""

    acid: float
    pm: float
    salts: float


def acid_of_juice(ph: float, sort: str = "citric", sugar: float = 0.0) -> JuiceAcid:
    """The acid of a juice by its pH and the salts that juices have.

    Salts hold a juice's pH up, and they differ less between fruits than acids do; so the pH tells the acid, roughly.

    Parameters
    ----------
    ph : float
        `JUICE_PH`.
    sort : str
        The acid that most of it is.
    sugar : float
        [g/L]

    Returns
    -------
    (acid, pm, salts) : floats
        Acid and about one standard deviation of it [g/L]; salts, as potassium [g/L], with which the pH comes out.

    Raises
    ------
    InputError
        For a pH that no juice has.

    Examples
    --------
    >>> acid, pm, _ = acid_of_juice(2.3)  # lemon juice: 48 g/L
    >>> acid - 2 * pm < 48 < acid + 2 * pm
    True
    """
    require("pH", ph, *JUICE_PH)

    def acid_with(salts: float) -> float:
        return _solved(ph, lambda acid: _ph(acid, sort, salts, 0.0, sugar), 0.01, _MOST_ACID)

    middle, low, high = map(acid_with, _juice_salts())
    return JuiceAcid(middle, max((high - low) / 2, 0.1 * middle), _salts("juice", ph, middle, sort, 0.0, sugar))


def _salts(name: str, ph: float, acid: float, sort: str, abv: float, sugar: float) -> float:
    """Salts, as potassium, that bring so much acid to a pH. [g/L]"""
    alone, most = _ph(acid, sort, 0.0, abv, sugar), MOST_SALTS
    if ph <= alone or acid <= 0:
        if acid > 0 and ph > alone - 0.15:  # a meter's and the sum's own error
            return 0.0
        allowed = (
            f"at least {alone:.1f}, what so much acid has by itself" if acid > 0 else "left out where there is no acid"
        )
        raise InputError(f"pH of {name!r}", ph, allowed)
    if ph > _ph(acid, sort, most, abv, sugar):
        raise InputError(f"pH of {name!r}", ph, f"what {acid:g} g/L of acid can have; check both")
    return _solved(ph, lambda salts: _ph(acid, sort, salts, abv, sugar), 0.0, most)


# --- the file --------------------------------------------------------------------------------------------------


def write(folder: str | Path, cells: Mapping[str, str], *, replace: bool = False) -> Path:
    """Put a row into `my_ingredients.csv` of a working folder; all other rows stay as they are.

    Parameters
    ----------
    folder : path
        Made if missing.
    cells : mapping
        From `row`.
    replace : bool
        Whether it takes the place of a row of the same name, with that row's id, cautions, what it may contain and
        notes; the file as it was is then kept beside it, as my_ingredients_before_01.csv.

    Returns
    -------
    Path
        Of the file; where that is a link, what it leads to is written.

    Raises
    ------
    InputError
        If the name is taken and `replace` is not set, if the file there has a mistake, or cannot be written to.
    """
    path = Path(folder) / _pantry.OWN_FILE
    with files.alone(path):  # from reading to writing: a row of another page's, put in between, would be lost
        files.write_over(path, _with_row(path, cells, replace))
    return path


def _with_row(path: Path, cells: Mapping[str, str], replace: bool) -> str:
    """The text of the file with this row; what it replaces is kept beside."""
    old = files.read_text(path, "file") if files.is_there(path) else ""
    if old.removeprefix("\ufeff").strip():
        _pantry.check_own(old.removeprefix("\ufeff"), path.name)  # what has a mistake stays as it is, and is told of
    sheet = tables.Sheet.of(old, path.name, columns=cells)
    same = [i for i, row in enumerate(sheet.rows) if plain(cells["name"]) in _names(row)]
    if same and not replace:
        taken = sheet.rows[same[0]]["name"]
        allowed = (
            f"another, since {path.name} has it already; tick “in place of the one there” to put this in its place"
        )
        raise InputError("name", taken, allowed)
    for i, row in enumerate(sheet.rows):
        if i not in same and _bare(row["name"]) == _bare(cells["name"]):
            allowed = f"another: {row['name']!r} is there, and a mark at the end is soon left out"
            raise InputError("name", cells["name"], allowed)
    others = {name for i, row in enumerate(sheet.rows) if i not in same for name in _names(row)}
    new = {**cells, **_kept([sheet.rows[i] for i in same], cells, sheet.header)}
    new["id"] = next(key for key in _ids(new["id"]) if plain(key) not in others)
    sheet.put(new, same[0] if same else None)
    for i in reversed(same[1:]):
        del sheet.rows[i]
    text = sheet.text()
    # Refuses what could not be read again, before anything is written; all other rows were checked above.
    _pantry.check_own(text.removeprefix("\ufeff"), path.name, only=new["id"])
    if same:
        files.write_new(path.parent, f"{path.stem}_before", {path.suffix: old})
    return text


def _kept(replaced: list[dict[str, Any]], cells: Mapping[str, str], header: list[str]) -> dict[str, str]:
    """What a row takes over from those in whose place it comes: what trials know it by, its warnings and its notes."""
    kept = {"id": replaced[0]["id"]} if replaced else {}
    for column in header:
        was = [row[column] for row in replaced if row.get(column)]
        if column == "may_contain" and cells.get(column) == "none":
            continue  # somebody has asked since
        if column in ("caution", "may_contain") and was:
            words = [word.strip() for cell in (*was, cells.get(column, "")) for word in cell.split(";") if word.strip()]
            kept[column] = "; ".join(dict.fromkeys(word for word in words if word != "none")) or "none"
        elif column.startswith("note") and was:
            kept[column] = was[0]
    return kept


def _ids(first: str) -> Iterator[str]:
    """An id and, where it is taken (two names in letters that ids do not have), the next ones."""
    return itertools.chain([first], (f"{first}_{n}" for n in itertools.count(2)))


def _bare(name: str) -> str:
    """A name without marks at its end, which nobody hears."""
    return re.sub(r"[\s.,;:!?…]+$", "", plain(name))


def _names(cells: Mapping[str, str]) -> set[str]:
    return {plain(cells["id"]), plain(cells["name"])}
