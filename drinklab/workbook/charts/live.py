"""A chart that stays on the page for life: the picture is sent once, then only the rows that move."""

from __future__ import annotations

import contextlib
import copy
import functools
import hashlib
import json
import math
import pickle
import re
from collections.abc import Callable, Mapping
from importlib.metadata import version
from pathlib import Path

import anywidget
import ipywidgets
import numpy as np
import traitlets

from ... import texts
from ...errors import InputError, one_of
from ..engine import data_folder, keep, vega_bundle

# The longest word or label of a row. [letters]
_LABEL = 300

_HASHED = re.compile("data-[0-9a-f]{32}")

_ESM = Path(__file__).with_name("live.js").read_text(encoding="utf-8")

# A narrow page shrinks the picture as a whole; below a readable size it scrolls instead.
STYLE = Path(__file__).with_name("live.css").read_text(encoding="utf-8")


def parted(chart) -> tuple[dict, dict[str, list[dict]]]:
    """A chart's picture and its rows, apart: with the rows among its `datasets` it is whole again.

    Parameters
    ----------
    chart : altair chart or dict
        What to draw. Rows that have a name (`alt.InlineData(values=rows, name="me")`, or
        `alt.NamedData("me")` and the chart's `datasets`) can be replaced later.

    Returns
    -------
    picture : dict
        Vega-Lite specification without named rows and without any outside address.
    rows : dict
        Named rows, checked by `plain_rows`.

    Raises
    ------
    InputError
        If `chart` is neither, Altair finds a mistake in it, or a number is not finite.

    Examples
    --------
    >>> parted({"$schema": "x", "data": {"name": "me", "values": [{"abv": 20}]}, "mark": "point"})
    ({'data': {'name': 'me'}, 'mark': 'point'}, {'me': [{'abv': 20}]})
    """
    if isinstance(chart, Mapping):
        picture = copy.deepcopy(dict(chart))
    elif hasattr(chart, "to_dict"):
        try:
            # Parts were checked when built, and the engine checks the whole; checking twice takes a second.
            picture = chart.to_dict(validate=False)
        except Exception as problem:
            reason = next((line.strip() for line in str(problem).splitlines() if line.strip()), "unreadable")
            raise InputError("chart", reason.rstrip("."), "one that Altair can write out") from problem
    else:
        raise InputError("chart", type(chart).__name__, "an Altair chart or a Vega-Lite specification")
    picture.pop("$schema", None)
    stored, rows = picture.get("datasets", {}), {}

    def walk(part) -> None:
        if isinstance(part, dict):
            data = part.get("data")
            # Altair names rows that were given without a name by their hash; they stay where they are.
            if isinstance(data, dict) and "name" in data and not _HASHED.fullmatch(data["name"]):
                name = data["name"]
                values = data.pop("values", None) or stored.pop(name, None) or []
                rows[name] = rows.get(name) or plain_rows(name, values)
            for key, inner in part.items():
                if key not in ("values", "datasets"):
                    walk(inner)
        elif isinstance(part, list):
            for inner in part:
                walk(inner)

    walk(picture)
    return picture, rows


def once(make: Callable, *arguments) -> dict:
    """The chart `make(*arguments)` written out; for the same arguments it is made once, by whoever asks first.

    Parameters
    ----------
    make : callable
        Function of a module that gives a chart, always the same one for the same arguments.
    *arguments
        Plain values, as `pickle` takes them.

    Returns
    -------
    dict
        Vega-Lite specification with its named rows among its `datasets`, for `LiveChart`; the caller's own.

    Examples
    --------
    >>> once(dict, [("mark", "point")]) == {"mark": "point", "datasets": {}}
    True
    """
    return json.loads(_written(make, pickle.dumps(arguments)))


@functools.lru_cache(maxsize=64)
def _written(make: Callable, arguments: bytes) -> str:
    """The chart as JSON, kept in Jupyter's data folder under the versions that it was made with."""
    name = hashlib.sha256(f"{make.__module__}.{make.__qualname__} ".encode() + arguments).hexdigest()[:32]
    kept = data_folder() / f"pictures-{_made_by()}" / f"{name}.json"
    with contextlib.suppress(OSError, ValueError):
        text = kept.read_text(encoding="utf-8")
        json.loads(text)
        return text
    picture, rows = parted(make(*pickle.loads(arguments)))
    text = json.dumps(picture | {"datasets": picture.get("datasets", {}) | rows}, ensure_ascii=False)
    keep(kept, text)
    return text


@functools.cache
def _made_by() -> str:
    """Stands for all that a picture depends on beside its arguments: Altair and the code of this package."""
    package = Path(__file__).parents[2]
    made = hashlib.sha256(version("altair").encode())
    for file in sorted(package.rglob("*.py")):
        made.update(file.relative_to(package).as_posix().encode() + b"\0" + file.read_bytes())
    return made.hexdigest()[:16]


def plain_rows(name: str, rows) -> list[dict]:
    """Rows as a chart takes them: plain numbers and words, nothing that is not a number.

    Parameters
    ----------
    name : str
        What the rows are called in the chart, for the error sentence.
    rows : list of dicts, one dict, or a pandas DataFrame
        `None` means "not known" and is not drawn. Words lose their control characters, and end after 300 letters.

    Returns
    -------
    list of dict

    Raises
    ------
    InputError
        If a value is not finite, or is neither a number, a word nor None.

    Examples
    --------
    >>> plain_rows("me", {"abv": np.float64(20)})
    [{'abv': 20.0}]
    >>> plain_rows("me", [{"abv": float("nan")}])
    Traceback (most recent call last):
    drinklab.errors.InputError: abv of 'me' is not a number; it must be a finite number.
    """
    if isinstance(rows, Mapping):
        rows = [rows]
    elif hasattr(rows, "to_dict"):
        rows = rows.to_dict("records")
    if not isinstance(rows, (list, tuple)) or not all(isinstance(row, Mapping) for row in rows):
        raise InputError(f"rows of {name!r}", type(rows).__name__, "a list of rows, each a dict")
    return [{str(key): _plain(name, key, value) for key, value in row.items()} for row in rows]


def _plain(name: str, key: str, value):
    if isinstance(value, np.generic) or (isinstance(value, np.ndarray) and value.ndim == 0):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        raise InputError(f"{key} of {name!r}", value, "a finite number")
    if isinstance(value, str):
        value = texts.fit(value)
        # The engine's time to lay out a label grows with the square of its length.
        return value if len(value) <= _LABEL else f"{value[: _LABEL - 1]}…"
    if value is not None and not isinstance(value, (bool, int, float)):
        raise InputError(f"{key} of {name!r}", type(value).__name__, "a number, a word or None")
    return value


class _Engine(ipywidgets.Widget):
    """Carries the drawing engine's code once to a page that asks for it: one that no workbook's server gives it."""

    code = traitlets.Unicode().tag(sync=True)
    shared: _Engine | None = None

    def __init__(self, **given) -> None:
        super().__init__(**given)
        self.on_msg(lambda *_: setattr(self, "code", vega_bundle()))

    @classmethod
    def get(cls) -> _Engine:
        # Someone may have closed all widgets.
        if cls.shared is None or cls.shared.comm is None:
            cls.shared = cls()
        return cls.shared


class LiveChart(anywidget.AnyWidget):
    """A chart that answers sliders: drawn once, then told only what moved.

    The chart's moving layers use named rows, `alt.InlineData(values=rows, name="me")` or
    `alt.NamedData("me")` with the chart's `datasets`.
    `put(me=[...])` replaces those rows in place: no flicker, no growing memory. When
    updates arrive faster than they can be drawn, only the last is drawn. It may be
    shown several times, closed and shown again, and works without the internet.
    A specification that cannot be drawn shows one sentence in its place.

    Parameters
    ----------
    chart : altair chart or dict
        Fix the axis domains, else the axes move under the reader's hand. Two habits keep
        moving layers right: a calculated field gets a new name, and a window that groups by
        a calculated field also sorts by it.

    Raises
    ------
    InputError
        If `chart` is not a chart, or holds a number that is not finite.

    Examples
    --------
    >>> spec = {"data": {"name": "me", "values": [{"abv": 20}]}, "mark": "point",
    ...         "encoding": {"x": {"field": "abv", "type": "quantitative", "scale": {"domain": [0, 40]}}}}
    >>> chart = LiveChart(spec)
    >>> chart.put(me=[{"abv": 25}])
    >>> chart.rows
    {'me': [{'abv': 25}]}
    """

    _esm = _ESM
    _css = STYLE
    spec = traitlets.Dict().tag(sync=True)
    names = traitlets.List().tag(sync=True)
    engine = traitlets.Instance(ipywidgets.Widget).tag(sync=True, **ipywidgets.widget_serialization)

    def __init__(self, chart, **layout) -> None:
        spec, rows = parted(chart)
        # A synced list for each name: an update carries what changed, a page opened later gets all.
        self.add_traits(**{_trait(name): traitlets.List().tag(sync=True) for name in rows})
        super().__init__(
            spec=spec,
            names=list(rows),
            engine=_Engine.get(),
            **{_trait(name): values for name, values in rows.items()},
            **layout,
        )

    @property
    def rows(self) -> dict[str, list[dict]]:
        """The named rows as they stand."""
        return {name: getattr(self, _trait(name)) for name in self.names}

    def put(self, **rows) -> None:
        """Replace the rows of the layers named, leaving the others as they are.

        Parameters
        ----------
        **rows : list of dicts, one dict, or a pandas DataFrame
            By the name of the data in the chart; an empty list empties the layer.

        Raises
        ------
        InputError
            If the chart has no data of that name, or a value is not finite.
        """
        ready = {one_of("name of rows", name, self.names): plain_rows(name, new) for name, new in rows.items()}
        with self.hold_sync():
            for name, new in ready.items():
                setattr(self, _trait(name), new)


def _trait(name: str) -> str:
    return f"rows_{name}"
