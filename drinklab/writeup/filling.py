"""The templates of our pages and texts, and how they are filled."""

from __future__ import annotations

import functools
from collections.abc import Callable

import jinja2


class Inline(str):
    """Text that does not begin a line of Markdown."""


@functools.cache
def template(name: str, finalize: Callable[[object], object] | None = None) -> jinja2.Template:
    """A template of ours; a page of HTML is escaped. `finalize` has the last word on each text put in."""
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("drinklab"),
        autoescape=name.endswith(".html.j2"),
        finalize=finalize,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["inline"] = Inline
    return environment.get_template(name)
