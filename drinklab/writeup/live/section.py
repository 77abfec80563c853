"""The HTML of the part that a reader can try, and the files that stand once in its page."""

from __future__ import annotations

import base64
import functools
import hashlib
import json
from pathlib import Path

from markupsafe import Markup

from ... import trial
from ...display import Display
from ...setting import Setting
from ..filling import template
from .data import data
from .words import CHOICES

_HERE = Path(__file__).parent


def section(drink: trial.Trial | Setting, *, display: Display | None = None, heading: str = "Try it") -> Markup:
    """The part as HTML, with its data in it; put it once in a page that has `style` and, behind it, `script`.

    Parameters
    ----------
    drink : Trial or Setting
    display : Display, optional
        What it shows at first, if not as in the setting.
    heading : str
        Of the part.

    Returns
    -------
    Markup
        What a person wrote is escaped in it.
    """
    told = data(drink, display=display)
    chosen = told["units"]["chosen"]
    about = told["words"]["about"][f"{chosen['volume']} {chosen['temperature']}"]
    volumes, temperatures = (list(dict.fromkeys(choice)) for choice in zip(*CHOICES, strict=True))
    return Markup(
        template("try.html.j2").render(
            heading=heading, told=told, about=about, data=as_json(told), volumes=volumes, temperatures=temperatures,
            chosen=chosen,
        )
    )  # fmt: skip


def as_json(told: object) -> Markup:
    """Plain data as the text of a script element: nothing in it can end the element, or a line of a script.

    >>> print(as_json({"name": "</script> & \\u2028"}))
    {"name":"\\u003c/script\\u003e \\u0026 \\u2028"}
    """
    text = json.dumps(told, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)


@functools.cache
def script() -> Markup:
    """The script, for the end of a page's body: the sums, then what moves the page."""
    return Markup(
        "".join(
            (_HERE / name).read_text(encoding="utf-8") for name in ("sums.js", "chart.js", "measured.js", "live.js")
        )
    )


@functools.cache
def style() -> Markup:
    """The style sheet of the part. It takes the page's own colours where that names them."""
    return Markup((_HERE / "live.css").read_text(encoding="utf-8"))


def policy(text: str) -> str:
    """What a content policy names a script or a style sheet by, so that no other runs: `'sha256-...'`.

    `text` is what stands between the tags, letter by letter.
    """
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
