"""From a key press to a painted answer, beside a bare label. Run apart: python tests/answering_bench.py [notebook ...]

Needs Debian's chromium. Each notebook is opened in a real browser with one cell added below its panel, the yardstick: an
ipywidgets slider whose value Python writes into a label, in the same page and the same kernel. Then the first slider
of each panel that answers is moved by its keys, as is the yardstick. Ratios travel between machines; milliseconds do
not.
"""

import statistics
import sys

import nbformat
from browser_bench import MARKS, WATCH, begun
from in_browser import PRESS
from nbformat import v4

from drinklab.teach import lessons
from drinklab.workbook import server, warm

PRESSES = 40
NOTEBOOKS = ["00_bench", *lessons.ids()]
BARE = """
import ipywidgets
_dial, _said = ipywidgets.IntSlider(5), ipywidgets.Label("5")
_dial.observe(lambda change: setattr(_said, "value", f"{change['new']}"), "value")
_box = ipywidgets.VBox([_dial, _said])
_box.add_class("bare-yardstick")
_said.add_class("bare-said")
_box
"""
# Of each panel its first slider, by number of panel and of slider; one that is folded away is none.
SLIDERS = """() => [...document.querySelectorAll(".dl-bench:not(.dl-lesson)")].flatMap((panel, number) => {
  const seen = [...panel.querySelectorAll(".noUi-handle")].filter(one => one.checkVisibility());
  return seen.length && panel.querySelector(".dl-tiles, .dl-table, .drinklab-chart svg")
    ? [[number, seen[0].getAttribute("aria-label") ?? "", panel.querySelector("h2, h3")?.innerText ?? ""]] : [];
})"""


def middle_and_worst(times):
    """Median and 95th of a hundred [ms]."""
    return statistics.median(times), sorted(times)[int(0.95 * len(times))]


def with_yardstick(folder, name):
    """A copy of a notebook with the bare label below its panel, signed as ours are."""
    book = nbformat.read(folder / f"{name}.ipynb", as_version=4)
    first = next(at for at, cell in enumerate(book.cells) if cell.cell_type == "code")
    book.cells.insert(first + 1, v4.new_code_cell(BARE, metadata={"jupyter": {"source_hidden": True}}))
    copy = folder / f"measured_{name}.ipynb"
    nbformat.write(book, copy)
    server.sign(copy)
    return copy.name


def measured(page, address):
    """Prints how soon each panel of a page answers, and how soon the bare label does."""
    page.goto(address, wait_until="commit")
    page.wait_for_function("'all' in (window.came ?? {})", timeout=120_000, polling=50)
    page.wait_for_selector(".bare-yardstick .noUi-handle", state="attached", timeout=60_000)
    page.locator(".bare-yardstick").first.evaluate("e => e.scrollIntoView()")
    page.wait_for_selector(".bare-yardstick .noUi-handle >> visible=true")
    page.wait_for_timeout(3000)
    bare = page.evaluate(PRESS, [".bare-yardstick", 0, PRESSES])
    yard = middle_and_worst(bare["number"])
    print(f"  bare label: {yard[0]:.0f}/{yard[1]:.0f} ms")
    strip = page.locator(".dl-lesson .widget-toggle-buttons").first  # to the panels of a lesson, one open at a time
    doors = strip.locator("button:visible")
    for door in range(max(1, doors.count())):
        if door:
            doors.nth(door).click()
            page.wait_for_timeout(5000)
        for number, name, title in page.evaluate(SLIDERS):
            moved(page, yard[0], number, f"{title or number}, {name}")


def moved(page, yard, number, what):
    """Prints how soon a panel answers the keys of its first slider."""
    took = page.evaluate(PRESS, [".dl-bench:not(.dl-lesson)", number, PRESSES])
    for where, times in took.items():
        if not times:
            continue
        missed = sum(not one for one in times)
        told = "not moved"
        if missed < len(times):
            middle, worst = middle_and_worst([one for one in times if one])
            told = f"{middle:.0f}/{worst:.0f} ms, {middle / yard:.1f} of the bare label"
            told += f"; {missed} of {len(times)} presses changed nothing" if missed else ""
        print(f"  {what}: {where} {told}", flush=True)


def main(names):
    with begun() as (folder, _, lab, browser):
        for name in names:
            context = browser.new_context(viewport={"width": 1280, "height": 800})
            page = context.new_page()
            page.add_init_script(f"({WATCH})({MARKS})".replace("'", '"'))
            print(name, flush=True)
            page.wait_for_timeout((warm.PAUSE + 4) * 1000)
            here, _, asked = lab.address.partition("/tree/")
            measured(page, f"{here}/tree/{with_yardstick(folder, name)}?{asked.partition('?')[2]}")
            context.close()


if __name__ == "__main__":
    main([name.removesuffix(".ipynb") for name in sys.argv[1:]] or NOTEBOOKS)
