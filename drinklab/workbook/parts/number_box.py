"""A box for a number, read as everything typed is: "7/8", "1½" and "0,875" as well as 0.875."""

from __future__ import annotations

import ipywidgets as w
import traitlets

from ... import units
from ...errors import InputError
from .alike import alike


def _shown(value: float | str, box: NumberBox) -> str:
    """The text on the page."""
    if isinstance(value, str):
        return value
    fraction = units.fraction_text(value) if box.fractions else ""
    return fraction or f"{value:.15g}"


def _read(text: object, box: NumberBox) -> float | str:
    """The number that was typed; what is none, or may be two, stays text, for whoever watches to refuse."""
    if units.THOUSANDS.fullmatch(str(text).strip()):
        return str(text)
    try:
        return units.number(text, "number")
    except InputError:
        return str(text)


class NumberBox(w.Text):
    """`value` is a number, or the text that was typed where it can't be read as one.

    Parameters
    ----------
    value : float
    fractions : bool
        Whether eighths and thirds are shown as a bar writes them.

    Examples
    --------
    >>> box = NumberBox(value=0.5)
    >>> box.set_state({"value": "7/8"}), box.value
    (None, 0.875)
    >>> NumberBox(value=1.5, fractions=True).get_state("value"), NumberBox(value=1.5).get_state("value")
    ({'value': '1½'}, {'value': '1.5'})
    """

    value = traitlets.Union([traitlets.Float(), traitlets.Unicode()]).tag(sync=True, to_json=_shown, from_json=_read)
    fractions = traitlets.Bool(False)

    def __init__(self, value: float = 0.0, fractions: bool = False, **more) -> None:
        self.set_trait("fractions", fractions)  # before the value is first sent
        super().__init__(value=float(value), continuous_update=False, style=alike(w.Text.style), **more)
        self.add_class("dl-number")
