"""A button that writes a page on which a class can change the drink at hand, on phones."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager

import ipywidgets as w

from ... import share
from .links import written


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
        super().__init__(
            description="Page to try",
            tooltip="A page on which a class can change this drink, on phones, with no server",
        )

        def write(_) -> None:
            with telling():
                good()
                page = share.save_try_page(panel.trial, panel.folder, title=panel.title.value, display=panel.display)
                panel.said.value = written("Written: ", [page], ".")

        self.on_click(write)
