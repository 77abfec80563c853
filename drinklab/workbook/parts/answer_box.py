"""A box for an answer, its unit and a button: what is judged is the text that stood in it when it was asked."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from pathlib import Path

import anywidget
import ipywidgets as w

from ...kinds import Kind
from .html import Html
from .lesson_words import plain


class Asked(anywidget.AnyWidget):
    """Nothing to see: sends the text of the box beside it with each Enter and each press of the button."""

    _esm = Path(__file__).with_name("answer_box.js").read_text(encoding="utf-8")

    def __init__(self, ask: Callable[[str], None]) -> None:
        super().__init__(layout={"display": "none"})
        self._ask = ask
        self.on_msg(self._asked)

    def _asked(self, _, content: dict, __) -> None:
        try:
            self._ask(str(content["text"]))
        finally:
            self.send({"answered": True})


class AnswerBox(w.HBox):
    """A box for an answer, its unit beside it, and a button; the key Enter asks too."""

    def __init__(self, kind: Kind, button: str, ask: Callable[[str], None]) -> None:
        unit = kind.label or "as a number"
        self.text = w.Text(
            description="Answer", placeholder="a number", layout={"width": "200px"}, tooltip=f"your answer, {unit}",
            style={"description_width": "initial"},
        )  # fmt: skip
        self.button = w.Button(
            description=button, button_style="primary", layout={"width": "auto", "align_self": "flex-start"}
        )
        self.asked = Asked(ask)
        super().__init__([self.text, Html(plain(unit)), self.button, self.asked])
        self.add_class("dl-ask")
        # Without that script on the page, as far as the kernel knows the box.
        with warnings.catch_warnings():  # the other way asks too when the box is only left
            warnings.simplefilter("ignore", DeprecationWarning)
            self.text.on_submit(lambda _: ask(self.text.value))
        self.button.on_click(lambda _: ask(self.text.value))
