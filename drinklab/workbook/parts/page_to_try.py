"""A button that writes a page on which a class can change the drink at hand, on phones."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager

import ipywidgets as w

from ... import share
from .html import done_words
from .links import link


class PageToTry(w.Button):
    """Writes the what-if page of a panel's trial under a new name, and says so where the panel says what it did.

    Parameters
    ----------
    panel
        With `trial`, `folder`, `title`, `display` and `said`.
    good : function
        Refuses while the panel shows a problem.
    telling : function
        Gives the context in which a problem is told and not raised.
    """

    def __init__(self, panel, good: Callable[[], None], telling: Callable[[], AbstractContextManager]) -> None:
        tip = "A page on which a class can change this drink, on phones, with no server"
        super().__init__(description="Page to try", tooltip=tip)

        def write(_) -> None:
            with telling():
                good()
                page = share.save_try_page(panel.trial, panel.folder, title=panel.title.value, display=panel.display)
                panel.said.value = done_words("Written: ", link(page, str(page.relative_to(panel.folder))), ".")

        self.on_click(write)
