"""Names and figures of sliders and boxes for who hears the page, and folds that a key opens; once a panel."""

from __future__ import annotations

from pathlib import Path

import anywidget

from .together import Together


class Spoken(anywidget.AnyWidget):
    """Nothing to see: ipywidgets gives its sliders no name and its accordions no role, so this does."""

    _esm = Path(__file__).with_name("spoken.js").read_text(encoding="utf-8")

    def __init__(self) -> None:
        super().__init__(layout={"display": "none"})
        Together.begin()
