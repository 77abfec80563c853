"""Every panel of the workbook, to be walked by tests: how it is opened, and what stands on its page."""

from datetime import datetime
from html import unescape
from html.parser import HTMLParser

import ipywidgets as w

from drinklab.workbook import bubbles, clear, ice, jelly, live, panels, prep, target, tuning
from drinklab.workbook.lesson import Html

NOW = datetime(2027, 7, 1, 9)
PANELS = {
    "bench": panels.bench, "ice": ice.ice, "bubbles": bubbles.bubbles, "jelly": jelly.jelly, "wash": clear.wash,
    "filtering": clear.filtering, "day": lambda folder: clear.day(folder, NOW), "prep": prep.prep,
    "target": target.target, "drink": tuning.drink, "sweep": tuning.sweep, "versus": tuning.versus,
    "families": tuning.families,
}  # fmt: skip


def widgets(widget):
    """A widget and all in it."""
    yield widget
    for inner in getattr(widget, "children", ()):
        yield from widgets(inner)


def htmls(panel) -> list[Html]:
    return [widget for widget in widgets(panel) if isinstance(widget, w.HTML)]


def charts(panel) -> list[live.LiveChart]:
    return [widget for widget in widgets(panel) if isinstance(widget, live.LiveChart)]


class _Text(HTMLParser):
    def __init__(self):
        super().__init__()
        self.text, self._style = [], False

    def handle_starttag(self, tag, attrs):
        self._style = tag == "style"

    def handle_endtag(self, tag):
        self._style = False

    def handle_data(self, data):
        if not self._style:
            self.text.append(data)


def words(panel) -> str:
    """What a person reads on the page: HTML, labels, and the rows of the charts."""
    reader = _Text()
    for widget in htmls(panel):
        reader.feed(f"{widget.value}\n")
    said = [unescape(" ".join(reader.text))]
    said += [widget.value for widget in widgets(panel) if isinstance(widget, w.Label)]
    said += [str(value) for chart in charts(panel) for rows in chart.rows.values() for row in rows
             for value in row.values() if isinstance(value, str)]  # fmt: skip
    return "\n".join(said)
