"""Where each second goes between an address and live sliders. Run apart: python tests/browser_bench.py [notebook ...]

Needs Debian's chromium. It starts a workbook on a folder of its own and opens its notebooks in a real browser, each in
a page without memory. Right before each comes the yardstick, a bare notebook (a title, one line of code, nothing run) in
plain JupyterLab on the same machine, and each opening is measured by its own: a machine's pace changes within a run.
Ratios travel between machines; seconds do not.
"""

import contextlib
import re
import statistics
import sys
import tempfile
import time
from pathlib import Path

import nbformat
import pytest
from conftest import _start, environment
from in_browser import FLAGS, chromium, plain_jupyterlab
from nbformat import v4
from playwright.sync_api import sync_playwright

from drinklab.teach import lessons, progress
from drinklab.workbook import warm

TIMES = 3
RESTED = warm.PAUSE + 8  # until the next kernel waits: nobody opens one page after the other without a look [s]
NOTEBOOKS = [
    "00_bench",
    "01_strength",
    "02_dilution",
    "03_balance",
    "04_clarification",
    "05_carbonation",
    "06_gels",
    "08_tasting",
]
# What is on the page, in the order of its coming: the yardstick ends at "notebook".
MARKS = {
    "shell": "#jp-main-dock-panel",
    "notebook": ".jp-Notebook .jp-Cell .jp-RenderedHTMLCommon, .jp-Notebook .jp-CodeCell .cm-line",
    "sliders": ".dl-bench .noUi-handle, .dl-bench input",
    "chart": ".drinklab-chart[data-drawn] svg",
}
# Notes on the page when each came, and each word of code that stood there before the sliders. Once a frame: at each
# change of the page, looking took a tenth of a second of the building of a panel, and none of a bare notebook's.
WATCH = """(marks) => {
  window.came = {}; window.code = 0;
  const look = () => {
    for (const [name, place] of Object.entries(marks)) {
      const found = [...document.querySelectorAll(place)].some(e => e.offsetParent || e.closest("svg"));
      if (!(name in came) && found) came[name] = performance.now();
    }
    if (!("sliders" in came)) for (const line of document.querySelectorAll(".jp-CodeCell .cm-content"))
      if (line.checkVisibility({visibilityProperty: true, opacityProperty: true})) code = performance.now();
    if ("sliders" in came && !document.querySelector(".drinklab-note")) came.all ??= performance.now();
    if (!("all" in came && "chart" in came)) requestAnimationFrame(look); // what is measured next is undisturbed
  };
  requestAnimationFrame(look);
}"""


def opened(browser, address, end):
    """Seconds from the address to each mark, of a page that nothing was kept for."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.add_init_script(f"({WATCH})({MARKS})".replace("'", '"'))
    sent, start = {}, time.perf_counter()

    def note(name):
        sent.setdefault(name, time.perf_counter() - start)

    def frame(told):
        text = told if isinstance(told, str) else told.decode("utf-8", "replace")
        if "execute_request" in text:
            note("first cell sent")

    page.on("request", lambda r: note("session asked for") if r.method == "POST" and "/api/sessions" in r.url else None)
    page.on("websocket", lambda s: s.on("framesent", frame))
    page.goto(address, wait_until="commit")
    page.wait_for_function(f"'{end}' in (window.came ?? {{}})", timeout=120_000, polling=50)
    page.wait_for_timeout(300)
    came, code = page.evaluate("[window.came, window.code]")
    loaded = page.evaluate(
        "(list => [list.length, list.reduce((sum, r) => sum + r.decodedBodySize, 0) / 1e6])(performance.getEntriesByType('resource'))"
    )
    context.close()
    found = {name: at / 1000 for name, at in came.items()} | sent
    return found | {"code last seen": code / 1000, "files": loaded[0], "MB": loaded[1]}


def _beside(shares):
    return f"  ({statistics.median(shares):.2f} of the bare notebook, {min(shares):.2f} to {max(shares):.2f})"


def told(name, runs, bare=()):
    """The middle of several runs, stage by stage; each run beside the bare notebook [s] that was opened before it."""
    stages = sorted(
        {key for run in runs for key in run} - {"files", "MB"},
        key=lambda k: statistics.median(r.get(k, 99) for r in runs),
    )
    middle = {key: statistics.median(run.get(key, float("nan")) for run in runs) for key in [*stages, "files", "MB"]}
    print(f"{name} ({len(runs)} runs)")
    for key in stages:
        if key != "code last seen" or middle[key]:
            shares = [run[key] / yard for run, yard in zip(runs, bare, strict=False) if key in run]
            print(
                f"  {middle[key]:6.2f} s  {key}" + (_beside(shares) if shares and key in ("sliders", "chart") else "")
            )
    print(f"  {middle['files']:.0f} files, {middle['MB']:.1f} MB", flush=True)


@contextlib.contextmanager
def begun():
    """A workbook and a browser with nothing kept from before; this process signs as the workbook does.

    Gives the working folder, the environment, the launcher and the browser.
    """
    with contextlib.ExitStack() as stack:
        home = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        patch = stack.enter_context(pytest.MonkeyPatch.context())
        own = {f"JUPYTER_{name}_DIR": str(home / name.lower()) for name in ("DATA", "CONFIG", "RUNTIME")}
        for name, value in own.items():
            patch.setenv(name, value)
        env = environment(home, **own)
        start = time.perf_counter()
        lab = stack.enter_context(_start(home / "bar", "--no-browser", env=env))
        print(f"the launcher gives its address after {time.perf_counter() - start:.2f} s")
        for name in lessons.ids():  # its panel opens at once
            progress.guessed(home / "bar", progress.USUAL, name, 1.0)
        play = stack.enter_context(sync_playwright())
        browser = play.chromium.launch(executable_path=chromium(), args=FLAGS)
        yield home / "bar", env, lab, browser
        browser.close()


def main(names):
    with contextlib.ExitStack() as stack:
        folder, env, lab, browser = stack.enter_context(begun())
        plain_folder = folder.parent / "plain"
        plain_folder.mkdir()
        for place in (folder, plain_folder):
            cells = [v4.new_markdown_cell("# A title"), v4.new_code_cell("60 / 2")]
            spec = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
            nbformat.write(v4.new_notebook(metadata=spec, cells=cells), place / "bare.ipynb")
        plain = stack.enter_context(plain_jupyterlab(plain_folder, env))
        plain_bare = f"{plain}lab/tree/bare.ipynb?reset&token=plain"
        books = {name: re.sub(r"/tree/[^?]*", f"/tree/{name}.ipynb", lab.address) for name in names}
        ours = re.sub(r"/tree/[^?]*", "/tree/bare.ipynb", lab.address)
        yards, runs = {name: [] for name in books}, {name: [] for name in books}
        first = next(iter(books))
        at_first = opened(browser, books[first], "all")
        bare_of_ours = opened(browser, ours, "notebook")
        for _ in range(TIMES):
            for name, address in books.items():
                time.sleep(RESTED)
                yards[name].append(opened(browser, plain_bare, "notebook"))
                runs[name].append(opened(browser, address, "all"))
        yard = [run for taken in yards.values() for run in taken]
        told("a bare notebook in plain JupyterLab", yard)
        told("a bare notebook in the workbook", [bare_of_ours])
        told(f"{first}, the very first time", [at_first], [statistics.median(run["notebook"] for run in yard)])
        for name, taken in runs.items():
            told(name, taken, [run["notebook"] for run in yards[name]])


if __name__ == "__main__":
    main([name.removesuffix(".ipynb") for name in sys.argv[1:]] or NOTEBOOKS)
