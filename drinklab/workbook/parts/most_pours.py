"""Beside the nearest amounts, those that most pours keep inside what is wanted: both with their shares."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as w

from ... import profile, reach
from ...display import Display
from ...facts import Fact, say
from ...forgiving import Forgiving, Poured, Raise, Share, raised_most, what_raises
from ...pantry import Pantry
from ...recipe import Pour
from .html import WIDE, Html, bold, element, heading, join, para, quiet, table
from .panel import fold

Write = Callable[[Pour], str]  # an amount as the page has it


class MostPours(w.VBox):
    """Both answers side by side, a button to use the second, and what would raise its share, worked out when opened."""

    def __init__(self, use: Callable[[], None], refresh: Callable) -> None:
        self.wish = w.Checkbox(
            value=False, description="Beside it, what is inside for most pours", indent=False, layout=WIDE
        )
        self.found: Forgiving | None = None
        self.raised: tuple[Raise, ...] = ()
        self.words, self.raises = Html(), Html()
        self.button = w.Button(description="Use the amounts for most pours", layout={"width": "auto"})
        self.opened = fold("What would keep more pours inside", self.raises)
        super().__init__([self.words, self.button, self.opened])
        self.show(None, "", "", ())
        self.wish.observe(refresh, "value")
        self.opened.observe(refresh, "selected_index")
        self.button.on_click(lambda _: use())

    def read(self, found: Forgiving | None, write: Write, shelf: Pantry, show: Display) -> tuple:
        """All that `show` needs, before anything on the page changes."""
        if found is None:
            return None, "", "", ()
        raised = self.raised if found is self.found else ()
        if self.opened.selected_index == 0 and not raised:
            raised = what_raises(found)
        return found, _both_words(found, write, shelf, show), _raised_words(raised, show) if raised else "", raised

    def show(self, found: Forgiving | None, words: str, raises: str, raised: tuple[Raise, ...]) -> None:
        """Put on the page what was read."""
        self.found, self.raised = found, raised
        self.words.value, self.raises.value = words, raises
        self.layout.display = "none" if found is None else None
        self.button.layout.display = "none" if found is None or found.same else None


def _share_text(share: Share) -> str:
    return f"{100 * share.value:.0f} ± {100 * share.pm:.0f} %"


def _named(text: str) -> str:
    """What a row is of, in short lines: its figures have room on a phone."""
    return element("div", text, style="white-space:normal;max-width:16ch")


def _gain_text(one: Raise) -> str:
    """In 100 pours; 0 has no sign, and no gain is surer than to 1."""
    gain = round(100 * one.gain)
    return f"{gain:+d} ± {max(round(100 * one.gain_pm), 1)}".replace("-", "−") if gain else "0 ± 1"


def _both_words(found: Forgiving, write: Write, shelf: Pantry, show: Display) -> str:
    """The two answers, one a column."""
    both = (found.plain,) if found.same else (found.plain, found.best)
    poured = [{(p.ingredient, p.abv): p for p in one.answer.recipe.pours} for one in both]
    rows = [
        (_named(shelf.bottle(*key).name), *(write(of[key]) if key in of else "none" for of in poured))
        for key in dict.fromkeys(key for of in poured for key in of)
    ]
    for axis in reach.FIGURES:
        texts = (show.text(profile.KINDS[axis], getattr(one.answer.figures, axis)) for one in both)
        rows.append((bold(profile.TITLES[axis]), *texts))
    rows.append((bold("Pours inside"), *(_share_text(one.share) for one in both)))
    head = ("", "the nearest", "for most pours")[: 1 + len(both)]
    return join([
        element("div", heading("Inside for most pours"), role="status"),
        table(head, rows),
        para(show.say(found.said)),
        *_further_off(found.plain, found.best),
        quiet(say(Fact("pours behind a share", pours=found.best.share.pours))),
    ])  # fmt: skip


def _further_off(plain: Poured, best: Poured) -> list[str]:
    """Where the best estimate itself lies outside, though more pours are inside."""
    if best.answer.distance <= plain.answer.distance or not best.answer.distance:
        return []
    return [para(say(Fact("a little outside")))]


def _raised_words(raised: tuple[Raise, ...], show: Display) -> str:
    rows = [(_named(show.say(one.what)), _share_text(one.share), _gain_text(one)) for one in raised]
    return join([
        para(show.say(raised_most(raised))),
        table(("One thing changed", "pours inside", "in 100 more"), rows),
        quiet(say(Fact("how it is raised"))),
    ])  # fmt: skip
