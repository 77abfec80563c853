"""What the logbook's page says: a line a trial, what changed between versions, trials side by side. No maths here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ... import logbook
from ...display import Display
from ...kinds import ABV, VOLUME
from ...logbook import Change, Entry
from ...pantry import Pantry
from ...profile import KINDS, TITLES
from ...setting import Setting
from .html import bold, element, heading, join, para, quiet, table, tiles

_LISTED = ("abv", "sugar", "acid")  # the figures that stand in a line of the list
_STEPS = {"added": "{}", "left out": "not {}", "changed": "{} in another way"}
_BESIDE = {"added": "with {} beside it", "left out": "without {} beside it", "changed": "another {} beside it"}


def line(one: Entry, show: Display) -> str:
    """A trial in the list: when, what, and its figures."""
    figures = ", ".join(show.text(KINDS[f], one.figures[f]) + ("" if f == "abv" else f" {f}") for f in _LISTED)
    return f"{one.label}: {figures}"


def change_words(found: Iterable[Change], shelf: Pantry, show: Display) -> str:
    """What changed, as one sentence; "" if nothing did."""
    said = ", ".join(_change(change, shelf, show) for change in found)
    return f"{said[:1].upper()}{said[1:]}." if said else ""


def _change(change: Change, shelf: Pantry, show: Display) -> str:
    code, was, now = change.code, change.was, change.now
    if code in ("poured", "added", "left out", "strength"):
        name = shelf[change.what].name
        return {
            "poured": lambda: f"{show.text(VOLUME, now - was, signed=True)} {name}",
            "added": lambda: f"with {show.text(VOLUME, now)} {name}",
            "left out": lambda: f"without {name}",
            "strength": lambda: f"{name} of {_strength(now, show)} in place of {_strength(was, show)}",
        }[code]()
    kind, _, how = code.partition(" ")
    if how:
        return (_STEPS if kind == "step" else _BESIDE)[how].format(change.what)
    return {
        "technique": lambda: f"{now}, was {was}",
        **{
            field: lambda word=word: f"{word}: {now or 'not said'}, was {was or 'not said'}"
            for field, word in (("glass", "glass"), ("glass_ice", "ice in the glass"), ("garnish", "garnish"))
        },
        "serve": lambda: f"served {now}, was {was}",
        "melt": lambda: "the usual melt water" if now is None else f"melt water set to {100 * now:.0f} %",
        "ice": lambda: "no ice of your own" if now is None else f"{'an' if was is None else 'another'} ice of your own",
        "serves": lambda: f"makes {now}, was {was}",
        "serve_volume": lambda: "all of it in equal shares" if now is None else f"{show.text(VOLUME, now)} in a glass",
        "tool": lambda: f"measured by {now}, was {was}",
    }[code]()


def _strength(abv: float | None, show: Display) -> str:
    return "the usual strength" if abv is None else show.text(ABV, abv)


def figure_tiles(one: Entry, show: Display) -> str:
    """The figures of one glass as they were saved."""
    rows = []
    for figure, word in TITLES.items():
        if figure in one.figures:
            rows.append((word, *show.parts(KINDS[figure], one.figures[figure], _spread(one, figure))))
    return tiles(rows)


def _spread(one: Entry, figure: str) -> float | None:
    """Half the width that holds 19 drinks in 20; None where the file does not say."""
    if figure not in one.low or figure not in one.high:
        return None
    return (one.high[figure] - one.low[figure]) / 2


def notes_words(one: Entry) -> str:
    """All notes, each with its day."""
    said = (
        para(element("span", f"{time:%Y-%m-%d %H:%M}  ", class_="dl-quiet"), text, style="white-space: pre-line")
        for time, text in one.notes
    )
    return join([heading("Notes"), *said]) if one.notes else ""


def tree(versions: Sequence[tuple[int, Entry]], here: Entry, changed: Mapping[str, str]) -> str:
    """Which version came from which, with what each changed; the one looked at in bold."""
    if len(versions) < 2:
        return ""
    rows = []
    for depth, one in versions:
        told = f"{one.time:%Y-%m-%d %H:%M}  {one.title}"
        name = bold(told) if one.path == here.path else told
        what = changed.get(one.path.name, "")
        rows.append(para(name, f"  {what}" if what else "", style=f"margin: 2px 0 2px {min(depth, 12) * 18}px"))
    return join([heading("Where it came from, and what came from it"), *rows])


def side_by_side(several: Sequence[Entry], changed: Mapping[str, str], show: Display) -> str:
    """Figures of several trials, and how far each lies from the first."""
    first, *rest = several
    head = ["", first.title, *(one.title for one in rest)]
    rows = []
    for figure, word in TITLES.items():
        if figure not in first.figures:
            continue
        kind = KINDS[figure]
        cells = [show.text(kind, first.figures[figure], _spread(first, figure))]
        for one in rest:
            by = show.text(kind, one.figures[figure] - first.figures[figure], signed=True)
            cells.append(f"{show.text(kind, one.figures[figure], _spread(one, figure))} ({by})")
        rows.append((word, *cells))
    rows.append(("Changed", "", *(changed.get(one.path.name) or "nothing in how it is made" for one in rest)))
    rows.append(("Saved", *(f"{one.time:%Y-%m-%d %H:%M}" for one in several)))
    behind = quiet(
        f"As saved, one glass as served. In brackets the difference from “{first.title}”. ± holds 19 drinks in 20 of "
        "each by itself; what two versions by the same hand and fruit differ in is told closer under A against B, in "
        "03_balance."
    )
    return join([heading("Side by side"), table(head, rows), behind])


def changed_from(now: Setting, was: Setting, shelf: Pantry, show: Display) -> str:
    """What one setting changed in another, as a sentence."""
    return change_words(logbook.changes(now, was), shelf, show)
