"""Every panel of the workbook, to be walked by tests: how it is opened, and what stands on its page."""

from datetime import datetime
from html import unescape
from html.parser import HTMLParser

import ipywidgets as w

from drinklab.workbook.charts import live
from drinklab.workbook.panels import balance as balance_panel
from drinklab.workbook.panels import batch as batch_panel
from drinklab.workbook.panels import bench as bench_panel
from drinklab.workbook.panels import carbonation as carbonation_panel
from drinklab.workbook.panels import dilution as dilution_panel
from drinklab.workbook.panels import filtering as filtering_panel
from drinklab.workbook.panels import gels as gels_panel
from drinklab.workbook.panels import logbook as logbook_panel
from drinklab.workbook.panels import measured as measured_panel
from drinklab.workbook.panels import milk as milk_panel
from drinklab.workbook.panels import next_glass as next_glass_panel
from drinklab.workbook.panels import prep as prep_panel
from drinklab.workbook.panels import reach as reach_panel
from drinklab.workbook.panels import schedule as schedule_panel
from drinklab.workbook.panels import service as service_panel
from drinklab.workbook.panels import strength as strength_panel
from drinklab.workbook.panels import tasting as tasting_panel
from drinklab.workbook.parts.html import Html
from drinklab.workbook.parts.panel import Later

NOW = datetime(2027, 7, 1, 9)
PANELS = {
    "bench": bench_panel.panel, "ice": dilution_panel.panel, "bubbles": carbonation_panel.panel, "jelly": gels_panel.panel, "wash": milk_panel.panel,
    "filtering": filtering_panel.panel, "day": lambda folder: schedule_panel.panel(folder, NOW), "prep": prep_panel.panel,
    "target": reach_panel.panel, "drink": balance_panel.panel, "sweep": balance_panel.sweep, "versus": balance_panel.versus,
    "tasting": tasting_panel.panel, "batch": lambda folder: batch_panel.panel(folder, now=NOW),
    "service": service_panel.panel, "strength": strength_panel.panel, "measured": measured_panel.panel,
    "next glass": next_glass_panel.panel,
}  # fmt: skip
NO_DRINK = {"prep", "strength", "next glass"}  # they take bottles, and no whole drink
WITHOUT_DRINK = {"logbook": logbook_panel.panel}  # no drink is chosen on it


def widgets(widget):
    """A widget and all in it, also what is made only when it is opened."""
    if isinstance(widget, Later):
        widget.selected_index = 0
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
