"""What a newcomer meets: sliders without a click, no code, no dialog; and no stranger's code run."""

from __future__ import annotations

import itertools
import re
import urllib.request

import nbformat
import pytest
from nbformat import v4

from drinklab.workbook import server

PANEL = """# the panel
from pathlib import Path
import ipywidgets as widgets
with open("ran.txt", "a") as log:
    log.write("x")
slider = widgets.IntSlider(description="Rum", value=50)
label = widgets.Label()
def show(change=None):
    label.value = f"half is {slider.value / 2:.1f} mL"
slider.observe(show, "value")
show()
widgets.VBox([slider, label])"""


@pytest.fixture
def write(lab):
    """Put a small notebook into the working folder, signed as the launcher signs its own or not."""
    (lab.folder / "ran.txt").unlink(missing_ok=True)

    def _write(name: str, signed: bool = True, run_on_open: bool = True, panel: str = PANEL) -> str:
        book = v4.new_notebook(
            metadata={
                "drinklab": {"run_on_open": run_on_open},
                "kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"},
            }
        )
        book.cells = [
            v4.new_markdown_cell("# Bench\nMove the slider."),
            v4.new_code_cell(panel, metadata={"jupyter": {"source_hidden": True}}),
            v4.new_code_cell("# try another number\n60 / 2"),
        ]
        nbformat.write(book, lab.folder / name)
        if signed:
            server.sign(lab.folder / name)
        return lab.address(name)

    return _write


def _runs(lab) -> int:
    log = lab.folder / "ran.txt"
    return len(log.read_text()) if log.exists() else 0


def _open(page, url):
    page.goto(url)
    page.wait_for_selector(".jp-Notebook h1")


def _wait_for_end(page):
    page.wait_for_selector(".drinklab-note", state="detached")


def _save(page):
    with page.expect_response(
        lambda answer: "/api/contents/" in answer.url and answer.request.method == "PUT"
    ) as saved:
        page.keyboard.press("Control+s")
    assert saved.value.ok


def test_sliders_are_live_without_a_click_and_nothing_distracts(lab, page, write):
    url = write("bench.ipynb")
    as_written = (lab.folder / "bench.ipynb").read_bytes()
    asked = []
    page.on("request", lambda request: asked.append(f"{request.method} {request.url}"))
    _open(page, url)
    handle = page.wait_for_selector(".noUi-handle")
    _wait_for_end(page)
    # JupyterLab keeps its layout half a second after it stands, and would read the notebook only then.
    before = itertools.takewhile(lambda one: "contents/bench.ipynb" not in one, asked)
    assert not [one for one in before if one.startswith("PUT")]
    handle.focus()
    page.keyboard.press("ArrowRight")
    page.get_by_text("half is 25.5 mL").wait_for()
    for unwanted in (
        ".jp-Dialog",
        ".jp-toast-content",
        ".Toastify__toast",
        ".jp-InputPlaceholder",
        ".jp-SideBar",
        "#jp-main-statusbar",
        ".jp-cell-toolbar",
        ".jp-FileBrowser",
    ):
        assert page.locator(f"{unwanted}:visible").count() == 0, unwanted
    assert page.locator(".jp-CodeCell .jp-InputArea-editor:visible").count() == 1  # the one to try
    assert page.locator(".jp-Notebook h1").bounding_box()["y"] < 200
    page.reload()
    page.wait_for_selector(".noUi-handle")
    _wait_for_end(page)
    assert _runs(lab) == 2
    # Nobody wrote anything: the page closes without a question, and the file is as it was.
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.message), dialog.accept()))
    page.close(run_before_unload=True)
    assert not asked
    assert (lab.folder / "bench.ipynb").read_bytes() == as_written


def test_two_pages_of_one_notebook_work_each_on_its_own(lab, page, write):
    url = write("bench.ipynb")
    _open(page, url)
    page.wait_for_selector(".noUi-handle")
    _wait_for_end(page)
    second = page.context.new_page()  # another tab of the same browser
    _open(second, url)
    second.wait_for_selector(".noUi-handle", timeout=90_000)  # its kernel was not made ready before
    _wait_for_end(second)
    assert _runs(lab) == 2

    def answers(one, half):
        one.locator(".noUi-handle").focus()
        one.keyboard.press("ArrowRight")
        one.get_by_text(f"half is {half} mL").wait_for()

    for half in ("25.5", "26.0"):  # each from where it stood, whatever the other has done
        answers(page, half)
        answers(second, half)
    assert not any(one.locator(".drinklab-note").count() for one in (page, second))
    assert len(_kernels(page)) == 2
    # A page that was closed leaves nothing running once the notebook is opened again; the one still open goes on.
    second.close()
    page.wait_for_function("async () => (await (await fetch('/api/sessions')).json()).some(s => !s.kernel.connections)")
    third = page.context.new_page()
    _open(third, url)
    third.wait_for_selector(".noUi-handle", timeout=90_000)
    _wait_for_end(third)
    assert len(_kernels(page)) == 2
    answers(page, "26.5")
    # A kernel that ends under a page is told of there, and the page can begin again.
    third.close()
    base, token = re.match(r"(http://[^/]+/)lab.*token=(\w+)", lab.url).groups()
    ends = urllib.request.Request(
        f"{base}api/kernels/{_kernels(page)[0]}", method="DELETE", headers={"Authorization": f"token {token}"}
    )
    urllib.request.urlopen(ends).close()
    page.get_by_text("no longer answer").wait_for()
    page.get_by_role("button", name="Go on here").click()
    page.get_by_text("no longer answer").wait_for(state="detached")
    _wait_for_end(page)
    answers(page, "25.5")


def _kernels(page) -> list[str]:
    """Of the notebook that these tests write, in the order of their pages."""
    sessions = page.evaluate("async () => (await fetch('/api/sessions')).json()")
    return [session["kernel"]["id"] for session in sessions if session["path"] == "bench.ipynb"]


def test_code_comes_when_asked_for_and_what_its_owner_changed_still_runs_on_open(lab, page, write):
    url = write("mine.ipynb")
    _open(page, url)
    page.wait_for_selector(".noUi-handle")
    _wait_for_end(page)
    # stray letters do no harm
    page.locator(".jp-Notebook h1").click()
    page.keyboard.press("x")
    page.locator(".jp-Notebook h1").dblclick()
    assert page.locator(".jp-Cell:visible").count() == 3
    assert page.locator(".jp-MarkdownCell .cm-content:visible").count() == 0
    page.get_by_role("button", name="Show code").click()
    page.locator(".jp-CodeCell .cm-content", has_text="widgets.IntSlider").wait_for()
    page.get_by_role("button", name="Hide code").click()
    page.locator(".jp-CodeCell .cm-content", has_text="widgets.IntSlider").wait_for(state="hidden")
    assert page.locator(".noUi-handle:visible").count() == 1
    # one more line in a cell, and a cell of one's own that is not run
    page.locator(".jp-CodeCell .cm-content", has_text="try another").click()
    page.keyboard.press("Control+End")
    page.keyboard.type(" + 7")
    page.get_by_role("button", name="Show code").click()
    page.locator(".jp-NotebookPanel-toolbar [data-jp-item-name=insert]").click()
    page.locator(".jp-CodeCell .cm-content").last.click()
    page.keyboard.type("own = 1")
    _save(page)
    saved = nbformat.read(lab.folder / "mine.ipynb", 4).cells
    assert [cell.source for cell in saved[2:]] == ["# try another number\n60 / 2 + 7", "own = 1"]
    assert saved[1].metadata.jupyter.source_hidden  # looking at the code did not unfold it for good
    before = _runs(lab)
    _open(page, url)
    page.wait_for_selector(".noUi-handle")
    page.get_by_text("37.0").wait_for()
    assert _runs(lab) == before + 1
    assert page.get_by_role("button", name="Show code").count() == 1
    page.get_by_role("button", name="All notebooks").click()
    page.locator(".jp-DirListing-item", has_text="mine.ipynb").wait_for()


def test_a_notebook_from_elsewhere_waits_for_a_click_even_after_it_was_saved(lab, page, write):
    url = write("mail.ipynb", signed=False)
    for _ in range(2):
        _open(page, url)
        page.get_by_role("button", name="Run it").wait_for()
        # What it would run is there to be read.
        page.locator(".jp-CodeCell .cm-content", has_text="widgets.IntSlider").wait_for()
        page.wait_for_timeout(3000)
        assert _runs(lab) == 0
        assert page.locator(".noUi-handle").count() == 0
        page.locator(".jp-CodeCell .cm-content", has_text="try another").click()
        page.keyboard.type("#")
        _save(page)
    page.get_by_role("button", name="Run it").click()
    page.wait_for_selector(".noUi-handle")
    _wait_for_end(page)
    assert _runs(lab) == 1
    _save(page)
    _open(page, url)  # run and saved by the person: theirs from now on
    page.wait_for_selector(".noUi-handle")
    assert _runs(lab) == 2


def test_a_notebook_that_does_not_ask_is_left_alone(lab, page, write):
    """Nor does it count as changed, since nobody has changed it, and closing it asks nothing."""
    _open(page, write("plain.ipynb", run_on_open=False))
    page.wait_for_selector(".jp-Notebook-ExecutionIndicator[data-status=idle]")
    page.wait_for_timeout(3000)
    assert _runs(lab) == 0
    assert page.get_by_role("button", name="Show code").count() == 0
    changed = page.locator(".lm-TabBar-tab.jp-mod-dirty")
    assert changed.count() == 0
    page.locator(".jp-CodeCell .cm-content").last.click()
    page.keyboard.type("1 + ")
    changed.wait_for()


def test_a_notebook_that_fails_says_what_to_do(lab, page, write):
    _open(page, write("fails.ipynb", panel="1 / 0"))
    page.get_by_text("The notebook stopped before its end").wait_for()
    assert page.get_by_text("ZeroDivisionError").first.is_visible()
