"""What the logbook's page says: a line a trial, what changed between versions, trials side by side. No maths here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ... import logbook
from ...display import Display
from ...facts import Fact, say
from ...kinds import ABV, VOLUME
from ...logbook import Change, Entry
from ...pantry import Pantry
from ...profile import AXES, KINDS, TITLES
from ...setting import Setting
from .html import bold, element, heading, join, para, quiet, table, tiles


def line(one: Entry, show: Display) -> str:
    """A trial in the list: when, what, and its figures."""
    abv, sugar, acid = (KINDS[figure](one.figures[figure]) for figure in AXES)
    return show.say(Fact("line of a trial", label=one.label, abv=abv, sugar=sugar, acid=acid))


def change_words(found: Iterable[Change], shelf: Pantry, show: Display) -> str:
    """What changed, as one sentence; "" if nothing did."""
    changes = tuple(_change(change, shelf) for change in found)
    said = show.say(Fact("changed", changes=changes)) if changes else ""
    return said[:1].upper() + said[1:]


def _change(change: Change, shelf: Pantry) -> Fact:
    code, what, was, now = change.code, change.what, change.was, change.now
    name = shelf[what].name if what in shelf else what
    told = {"now": now or Fact("not said"), "was": was or Fact("not said")}
    return {
        "poured": lambda: Fact("changed: poured", by=VOLUME(now - was), name=name),
        "added": lambda: Fact("changed: added", amount=VOLUME(now), name=name),
        "left out": lambda: Fact("changed: left out", name=name),
        "strength": lambda: Fact("changed: strength", name=name, now=_strength(now), was=_strength(was)),
        "step added": lambda: Fact("changed: step added", what=what),
        "step left out": lambda: Fact("changed: step left out", what=what),
        "step changed": lambda: Fact("changed: step changed", what=what),
        "beside added": lambda: Fact("changed: beside added", what=what),
        "beside left out": lambda: Fact("changed: beside left out", what=what),
        "beside changed": lambda: Fact("changed: beside changed", what=what),
        "technique": lambda: Fact("changed: technique", now=now, was=was),
        "glass": lambda: Fact("changed: glass", **told),
        "glass_ice": lambda: Fact("changed: ice in the glass", **told),
        "garnish": lambda: Fact("changed: garnish", **told),
        "serve": lambda: Fact("changed: serve", now=now, was=was),
        "melt": lambda: Fact("changed: usual melt") if now is None else Fact("changed: melt", share=100 * now),
        "ice": lambda: Fact("changed: own ice" if was is None else "changed: another own ice")
        if now is not None else Fact("changed: no own ice"),
        "serves": lambda: Fact("changed: serves", now=now, was=was),
        "serve_volume": lambda: Fact("changed: equal shares") if now is None
        else Fact("changed: in a glass", each=VOLUME(now)),
        "tool": lambda: Fact("changed: tool", now=now, was=was),
    }[code]()  # fmt: skip


def _strength(abv: float | None) -> Fact:
    return Fact("the usual strength") if abv is None else Fact("so strong a bottle", abv=ABV(abv))


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
    rows.append(("Changed", "", *(changed.get(one.path.name) or say(Fact("nothing changed")) for one in rest)))
    rows.append(("Saved", *(f"{one.time:%Y-%m-%d %H:%M}" for one in several)))
    behind = quiet(say(Fact("side by side", title=first.title)))
    return join([heading("Side by side"), table(head, rows), behind])


def changed_from(now: Setting, was: Setting, shelf: Pantry, show: Display) -> str:
    """What one setting changed in another, as a sentence."""
    return change_words(logbook.changes(now, was), shelf, show)
