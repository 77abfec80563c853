"""Small pictures: a bar with its ±, a change beside nothing, and shares of a whole. The figures stand beside them."""

from __future__ import annotations

from collections.abc import Mapping

from .html import element, join

_WIDE, _HIGH = 100, 12
_LEAST = 0.4  # of a strip, so that a little of something is seen


def bar(value: float, top: float, pm: float = 0.0) -> str:
    """A bar from nothing to `value` on a scale that ends at `top`, with a line over its ±; hidden from readers of text.

    >>> 'width="50.0"' in bar(5, 10), bar(5, 0)
    (True, Markup(''))
    """
    if not top > 0:
        return join([])
    at = lambda x: min(max(_WIDE * x / top, 0.0), float(_WIDE))  # noqa: E731 - a scale of one picture
    pm = pm if pm > 0 else 0.0  # also of what is not a number
    parts = [element("rect", x="0", y="2", width=f"{at(value):.1f}", height=f"{_HIGH - 4}", class_="dl-bar-of")]
    if pm:
        parts.append(_line(at(value - pm), at(value + pm), "dl-bar-pm"))
    return _picture(parts)


def change(value: float, pm: float, apart: float, reach: float) -> str:
    """A change around nothing, on a scale that reaches as far to both sides: thick its own ±, thin that of two glasses.

    >>> 'dl-bar-apart' in change(0.5, 0.1, 1.4, 2.0)
    True
    """
    if not reach > 0:
        return join([])
    at = lambda x: min(max(_WIDE * (0.5 + x / reach / 2), 0.0), float(_WIDE))  # noqa: E731 - a scale of one picture
    pm, apart = (x if x > 0 else 0.0 for x in (pm, apart))
    parts = [element("path", d=f"M50 0V{_HIGH}", class_="dl-bar-zero")]
    if apart:
        parts.append(_line(at(value - apart), at(value + apart), "dl-bar-apart"))
    parts.append(_line(at(value - pm) - 0.5, at(value + pm) + 0.5, "dl-bar-own"))
    return _picture(parts)


def shares(parts: Mapping[str, float], said: str) -> str:
    """A whole as one strip, a piece each part in the order given, by the share it has; `said` is its text for a reader.

    A piece's colour goes by its number in the order: `dl-part-0` and so on. None is so thin that it can't be seen.

    >>> 'width="75.00"' in shares({"water": 3, "alcohol": 1}, "water 75 %, alcohol 25 %")
    True
    """
    total, x, pieces = sum(parts.values()), 0.0, []
    if not total > 0:
        return join([])
    for number, part in enumerate(parts.values()):
        wide = _WIDE * part / total
        if part > 0:
            wide = max(wide, _LEAST)
            place = {"x": f"{min(x, _WIDE - wide):.2f}", "y": "0", "width": f"{wide:.2f}", "height": f"{_HIGH}"}
            pieces.append(element("rect", **place, class_=f"dl-part-{number}"))
        x += _WIDE * part / total
    box = f"0 0 {_WIDE} {_HIGH}"
    look = {"viewBox": box, "preserveAspectRatio": "none", "class_": "dl-strip", "role": "img", "aria-label": said}
    return element("svg", *pieces, **look)


def _line(start: float, end: float, name: str) -> str:
    return element("path", d=f"M{start:.1f} {_HIGH / 2:g}H{end:.1f}", class_=name)


def _picture(parts: list[str]) -> str:
    box = f"0 0 {_WIDE} {_HIGH}"
    return element("svg", *parts, viewBox=box, preserveAspectRatio="none", class_="dl-mark", **{"aria-hidden": "true"})
