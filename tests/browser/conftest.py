"""A workbook in a real browser: `lab` starts the launcher, `page` is an empty browser page.

Both skip, with the reason, where Playwright or Chromium is missing. `page` fails its test if
anything was asked of another computer.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import statistics
from pathlib import Path
from typing import NamedTuple

import pytest
from in_browser import FLAGS, PRESS, chromium

from drinklab.teach import lessons, progress


def pytest_collection_modifyitems(items):
    """A busy machine can keep a browser waiting: what fails here is tried once more, and the report counts it."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.flaky(reruns=1))


class Lab(NamedTuple):
    """A running workbook: the address of its start page, and its working folder."""

    url: str
    folder: Path

    def address(self, notebook: str) -> str:
        """Address that opens another notebook of the folder, as on a fresh start."""
        return re.sub(r"/lab(/tree/[^?]*)?\?", f"/lab/tree/{notebook}?", self.url)

    def guess(self) -> None:
        """Give the guess of each lesson, so that its panel opens at once."""
        for name in lessons.ids():
            progress.guessed(self.folder, progress.USUAL, name, 1.0)

    def open_bench(self, page, height: int = 800) -> None:
        """The bench on this page, drawn and ready for a hand."""
        page.set_viewport_size({"width": 1280, "height": height})
        page.goto(self.address("00_bench.ipynb"))
        page.wait_for_selector(".dl-bench .noUi-handle", timeout=120_000)
        page.wait_for_selector(".drinklab-chart[data-drawn] svg", timeout=60_000)
        page.wait_for_selector(".drinklab-note", state="detached", timeout=60_000)

    def again(self, page) -> None:
        """The first panel of this page run again: as on opening it, without a new page and a new kernel."""
        page.set_viewport_size({"width": 1280, "height": 800})
        old = page.wait_for_selector(".dl-bench")
        page.locator(".jp-WindowedPanel-outer").first.evaluate("e => { e.scrollTop = 0; }")
        corner = page.locator(".jp-CodeCell").first.bounding_box()
        page.mouse.click(corner["x"] + 6, corner["y"] + 10)  # beside what is in the cell: it is the chosen one
        page.keyboard.press("Control+Enter")
        page.wait_for_function("old => !old.isConnected", arg=old)
        page.wait_for_selector(".dl-bench .noUi-handle >> visible=true")
        page.wait_for_selector(".drinklab-chart[data-drawn] svg")


def _missing(reason: str):
    """Skip; in CI, where nothing may be missing, fail."""
    (pytest.fail if os.environ.get("DRINKLAB_BROWSER") == "required" else pytest.skip)(reason)


@pytest.fixture(scope="package")
def browser():
    try:
        from playwright import sync_api as api
    except ImportError:
        _missing("playwright is not installed")
    if not chromium():
        _missing("no chromium on this computer")
    with api.sync_playwright() as play:
        started = play.chromium.launch(executable_path=chromium(), args=FLAGS)
        yield started
        started.close()


@pytest.fixture(scope="package")
def lab(browser, start, environment, share_pictures, tmp_path_factory):
    """The launcher, running on a new working folder, apart from the Jupyter of whoever runs the tests."""
    home = tmp_path_factory.mktemp("home")
    share_pictures(home / "data")
    folder = home / "my bar"
    own = {f"JUPYTER_{name}_DIR": str(home / name.lower()) for name in ("DATA", "CONFIG", "RUNTIME")}
    with pytest.MonkeyPatch.context() as patch:
        for name, value in own.items():
            patch.setenv(name, value)  # for this process too, so that a test can sign notebooks
        with start(folder, "--no-browser", env=environment(home, **own)) as started:
            assert started.address, f"the launcher gave no address: {started.said!r}"
            ready = Lab(started.address, folder)
            ready.guess()
            yield ready


@pytest.fixture(autouse=True)
def empty_folder(request):
    """Each test begins with the demo, whatever the one before has put in hand, chosen, saved and written up."""
    if "lab" in request.fixturenames:
        folder = request.getfixturevalue("lab").folder
        for kept in ("in_hand.json", "choices.json"):
            (folder / kept).unlink(missing_ok=True)
        for kept in ("trials", "writeups"):
            shutil.rmtree(folder / kept, ignore_errors=True)


@contextlib.contextmanager
def _context(browser):
    """A memory for pages of 1280 x 800; nothing in it may ask another computer for anything."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    elsewhere = []

    def note(address: str) -> None:
        if not re.match(r"(https?|ws)://127\.0\.0\.1[:/]|data:|blob:|about:", address):
            elsewhere.append(address)

    def stopped(request) -> None:
        if request.failure == "csp" and request.url in elsewhere:  # by the page's own policy, before it was asked
            elsewhere.remove(request.url)

    context.on("request", lambda request: note(request.url))
    context.on("requestfailed", stopped)
    context.on("page", lambda page: page.on("websocket", lambda socket: note(socket.url)))
    context.set_default_timeout(40_000)
    yield context, elsewhere
    context.close()


@pytest.fixture(scope="package")
def memory(browser):
    """Of all tests' pages: JupyterLab's scripts are read and compiled once."""
    with _context(browser) as shared:
        yield shared


@pytest.fixture
def page(memory):
    """A page of its own."""
    context, elsewhere = memory
    yield context.new_page()
    for one in context.pages:
        one.close()
    context.set_offline(False)
    asked, elsewhere[:] = list(elsewhere), []
    assert not asked, f"asked of other computers: {asked}"


@pytest.fixture(scope="module")
def lasting_page(browser):
    """One page for all tests of a file: each begins with `lab.again`."""
    with _context(browser) as (context, elsewhere):
        yield context.new_page()
    assert not elsewhere, f"asked of other computers: {elsewhere}"


@pytest.fixture
def press():
    """`press(page, "Time on the ice")` moves that dial by its keys, and prints how soon number and chart answer."""

    def pressed(page, label: str, times: int = 12, panel: int = 0) -> None:
        took = page.evaluate(PRESS, [".dl-bench:not(.dl-lesson)", panel, times, label])
        assert all(all(answers) for answers in took.values()), f"a press on {label!r} was not answered within 2 s"
        for name, answers in took.items():
            if answers:
                p95 = sorted(answers)[int(0.95 * len(answers))]
                print(f"{label}: key to changed {name}: median {statistics.median(answers):.0f} ms, p95 {p95:.0f} ms")

    return pressed
