"""The kernel that is ready before a page asks: as new, behind the same doors, and for no notebook that will not run."""

from __future__ import annotations

import json
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import nbformat
import pytest

from drinklab.workbook import server, warm
from drinklab.workbook.engine import vega_bundle

if TYPE_CHECKING:
    from conftest import Started


# What no kernel may import.
TRAPS = ("altair", "scipy", "ipykernel", "json", "ipywidgets")


class Running(NamedTuple):
    """A workbook on a folder that is full of traps."""

    started: Started
    env: dict[str, str]
    folder: Path
    runtime: Path


@pytest.fixture(scope="module")
def running(start, environment, share_pictures, tmp_path_factory):
    home = tmp_path_factory.mktemp("home")
    share_pictures(home / "data")
    env = environment(home, JUPYTER_DATA_DIR=home / "data", JUPYTER_RUNTIME_DIR=home / "runtime")
    folder = home / "bar"
    folder.mkdir()
    for name in TRAPS:
        (folder / f"{name}.py").write_text("raise SystemExit('a stranger in the folder')")
    with start(folder, "--no-browser", env=env) as started:
        yield Running(started, env, folder, home / "runtime")


IN_KERNEL = """
import importlib.util, json, os, sys, comm
print(json.dumps([
    sorted(set(sys.argv[2:])), os.getcwd(), importlib.util.find_spec("altair").origin, "drinklab.workbook.warm" in sys.orig_argv,
    "jupyter.widget" in comm.get_comm_manager().targets, os.environ["JPY_SESSION_NAME"],
    [p for p in sys.path if os.path.realpath(p or ".") == os.path.realpath(os.getcwd())],
    len(__import__("ipywidgets").Widget.widgets),
]))
"""


def _asked(runtime, number, code):
    """The kinds of what the page is told when it runs code, and what of it is shown."""
    from jupyter_client.blocking import BlockingKernelClient

    client = BlockingKernelClient(connection_file=str(runtime / f"kernel-{number}.json"))
    client.load_connection_file()
    client.start_channels(hb=False)  # a kernel that is only starting has no heart yet
    told = []
    try:
        client.wait_for_ready(timeout=60)
        client.execute_interactive(code, timeout=60, output_hook=lambda m: told.append((m["msg_type"], m["content"])))
    finally:
        client.stop_channels()
    return told


def _ask_kernel(runtime, number, code):
    """What code prints in a kernel of a running server, asked by its own connection file."""
    said = [what.get("text") or str(what) for _, what in _asked(runtime, number, code)]
    return "".join(text for text in said if text.startswith(("[", "Trace")))


def _sign(env, path):
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("JUPYTER_DATA_DIR", env["JUPYTER_DATA_DIR"])
        server.sign(path)


# Kernels that pages name.
FIRST, SECOND, MOVING, NONE, *OF_CELLS = (f"{digit * 8}-aaaa-bbbb-cccc-{digit * 12}" for digit in "12345678")


def _begin(started, name: str, kernel: str, **how):
    return started.ask(f"drinklab/begin/{name}", json.dumps({"kernel": kernel}).encode(), **how)


def _began(started, name: str, kernel: str) -> None:
    """The kernel that the page has named runs, in a session that the page can take over."""
    said = json.loads(_begin(started, name, kernel).body)
    assert said["runs"] is True
    assert (said["session"]["path"], said["session"]["kernel"]["id"]) == (name, kernel)


def test_a_kernel_that_was_warm_before_keeps_to_the_same_doors(running):
    """It stands in the notebook's folder, imports nothing from it, and is as new for each page."""
    started, _, folder, runtime = running
    assert _begin(started, "00_bench.ipynb", FIRST, token=False).status == 403
    _began(started, "00_bench.ipynb", FIRST)
    _ask_kernel(runtime, FIRST, "_before = 1")
    arguments, cwd, module, warm, told, session, own, widgets = json.loads(_ask_kernel(runtime, FIRST, IN_KERNEL))
    assert any(str(runtime) in word for word in arguments)
    assert "--IPKernelApp.ignore_cwd=True" in arguments
    assert Path(cwd) == folder.resolve()
    assert not Path(module).is_relative_to(folder)
    assert warm, "the kernel was not taken from the process that waits"
    assert told
    assert session.endswith("00_bench.ipynb")
    assert own == []
    assert widgets == 0
    # Another page of it has a kernel that knows nothing of the page before.
    _began(started, "00_bench.ipynb", SECOND)
    assert _ask_kernel(runtime, SECOND, "print(['_before' in globals()])").strip() == "[False]"


def test_its_example_holds():
    """Apart, since what it imports makes a kernel of the process."""
    code = "import doctest, drinklab.workbook.ahead as a; n = doctest.testmod(a); raise SystemExit(n.failed or not n.attempted)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


AS_IPYWIDGETS_TELLS = """
import json
from drinklab.workbook import ahead

kernel = ahead.Kernel.instance()
kernel.first = "import ipywidgets as w\\nw.VBox([w.FloatSlider(3), w.Image(value=b'abc'), w.Label('a', layout={'width': '2em'})])"
kernel.run_ahead()
from ipywidgets import Widget

class Line:
    def on_msg(self, answer): self.answer = answer
    def send(self, data, metadata=None, buffers=()): self.told = data, [bytes(one) for one in buffers]

ours, theirs = Line(), Line()
ahead._asked(ours, {"metadata": {"version": "1.0.0"}})
Widget.handle_control_comm_opened(theirs, {"metadata": {"version": "1.0.0"}})
for line in (ours, theirs):
    line.answer({"content": {"data": {"method": "request_states"}}})
for one in theirs.told[0]["states"].values():  # an open layout is all None
    if one["model_name"] == "LayoutModel":
        one["state"] = {name: value for name, value in one["state"].items() if value is not None}
assert len(ours.told[0]["states"]) == 10, "the box, what is in it, four layouts, two styles"
assert ours.told[1] == [b"abc"]
assert json.dumps(ours.told[0], sort_keys=True) == json.dumps(theirs.told[0], sort_keys=True)
assert ours.told[1] == theirs.told[1]
"""


def test_a_page_is_told_of_all_widgets_as_ipywidgets_tells():
    """Though they were made in silence. Beside ipywidgets' own answer; apart, since it makes a kernel of the process."""
    ran = subprocess.run([sys.executable, "-c", AS_IPYWIDGETS_TELLS], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr


def test_a_page_is_given_what_draws_and_waits_for_nothing_that_it_does_not_need(running):
    """The engine only by the token; no look for a build, which takes a second; formats for a menu are found once."""
    started = running.started
    with ThreadPoolExecutor(1) as beside:
        formats = beside.submit(started.ask, "api/nbconvert")
        assert started.ask("drinklab/engine.js", token=False).status == 403
        assert started.ask("api/nbconvert", token=False).status == 403
        engine = started.ask("drinklab/engine.js")
        assert engine.status == 200
        assert engine.headers["Content-Type"].startswith("text/javascript")
        assert engine.body.decode() == vega_bundle()
        again = started.ask("drinklab/engine.js", **{"If-None-Match": engine.headers["Etag"]})
        assert again.status == 304
        assert b'"buildCheck": false' in started.ask("lab").body
        first = formats.result()
        assert json.loads(first.body)["html"] == {"output_mimetype": "text/html"}
        assert started.ask("api/nbconvert").body == first.body


WIDGETS = "import ipywidgets as w\nbox = w.VBox([w.FloatSlider(), w.Label('a')])\n"
FIRST_CELLS = {  # name: code, and what the page gets to see of it
    "ahead": (WIDGETS + "box", ["execute_result"]),
    "prints": (WIDGETS + "print('seen')\nbox", ["stream", "execute_result"]),
    "fails": (WIDGETS + "1 / 0", ["error"]),
    "silent": (WIDGETS + "box.children = ()", []),
}


def test_the_first_cell_has_run_before_the_page_asks_for_it(running):
    """Its widgets are there, in silence, and its value is given as it would be; what prints or fails runs anew."""
    started, env, folder, runtime = running
    count = "import ipywidgets, json\nprint(json.dumps([len(ipywidgets.Widget.widgets), len(In), sorted(Out)]))"
    book = nbformat.read(folder / "00_bench.ipynb", 4)
    for kernel, (name, (code, kinds)) in zip(OF_CELLS, FIRST_CELLS.items(), strict=True):
        book.cells = [nbformat.v4.new_code_cell(code)]
        nbformat.write(book, folder / f"{name}.ipynb")
        _sign(env, folder / f"{name}.ipynb")
        _began(started, f"{name}.ipynb", kernel)
        told = _asked(runtime, kernel, code)
        shown = [
            (kind, what) for kind, what in told if kind not in ("status", "execute_input", "comm_open", "comm_msg")
        ]
        assert [kind for kind, _ in shown] == kinds, name
        opened = sum(kind == "comm_open" for kind, _ in told)
        assert (opened == 0) == (name == "ahead"), (name, opened)
        counted = next(what["text"] for kind, what in _asked(runtime, kernel, count) if kind == "stream")
        if name != "fails":
            widgets, entered, out = json.loads(counted)
            assert widgets == 8, "box, slider and label, their layouts, and the styles of two"
            assert entered == 3, "as if the page had run it: In[1], and this one"
            assert out == [1] * ("execute_result" in kinds)


def _kernels(started) -> set[str]:
    return {kernel["id"] for kernel in json.loads(started.ask("api/kernels").body)}


def test_a_page_begins_no_kernel_for_what_will_not_run(running):
    """What a stranger sent, what does not ask, what is for another kernel, what is not there."""
    started, env, folder, _ = running
    before = _kernels(started)
    book = nbformat.read(folder / "00_bench.ipynb", 4)
    changes = {
        "stranger": lambda b: b.cells.append(nbformat.v4.new_code_cell("1")),
        "quiet": lambda b: b.metadata.drinklab.update(run_on_open=False),
        "foreign": lambda b: b.metadata.kernelspec.update(name="other"),
    }
    for name, change in changes.items():
        other = nbformat.from_dict(json.loads(json.dumps(book)))
        change(other)
        nbformat.write(other, folder / f"{name}.ipynb")
        if name != "stranger":
            _sign(env, folder / f"{name}.ipynb")
        assert json.loads(_begin(started, f"{name}.ipynb", NONE).body) == {"runs": False}, name
    assert _begin(started, "nowhere.ipynb", NONE).status == 404
    assert json.loads(_begin(started, "my_notes.txt", NONE).body) == {"runs": False}
    assert _kernels(started) == before


def _command(code: str = warm.KERNEL) -> list[str]:
    return [sys.executable, "-P", "-m", code, "-f", "nowhere.json"]


def test_what_waits_is_taken_once_and_only_by_its_own_kind():
    """Another program, other switches of Python, another place for its words: such a kernel is started as usual."""
    spare = warm.Spare()
    try:
        spare.prepare(["julia", "kernel.jl"])
        assert spare.take(_command(), {}) is None
        spare.prepare(_command())
        waits = spare._process
        spare.prepare(_command())
        assert spare._process is waits, "one at a time"
        assert spare.take(_command("other_kernel"), {}) is None
        assert spare.take([sys.executable, "-I", *_command()[2:]], {}) is None
        assert spare.take(_command(), {}, stdout=3) is None
        assert spare.take(_command(), {}) is waits
        assert spare.take(_command(), {}) is None
        waits.kill()
        waits.wait()
        spare.prepare(_command())
        spare._process.kill()
        spare._process.wait()
        assert spare.take(_command(), {}) is None, "it has ended"
    finally:
        spare.stop()


def test_what_waits_ends_with_the_server():
    spare = warm.Spare()
    spare.prepare(_command())
    waits = spare._process
    waits.stdin.close()
    assert waits.wait(60) == 0


MOVED = """
import ipywidgets as w
from drinklab.workbook.comms import tell
from drinklab.workbook.parts.together import Together
Together.begin()
slider, first, second = w.IntSlider(), w.Label(), w.Label()
def answer(change):
    first.value = f"{change['new']}"
    first.value = f"{change['new']} mL"
    if change["new"] > 5:
        tell()
    second.value = f"{2 * change['new']} mL"
slider.observe(answer, "value")
w.VBox([slider, first, second])
"""


def _heard(runtime, number, moves):
    """What the page is told of each move of a widget (its id, what it is now): (whom, method, content)."""
    from jupyter_client.blocking import BlockingKernelClient

    client = BlockingKernelClient(connection_file=str(runtime / f"kernel-{number}.json"))
    client.load_connection_file()
    client.start_channels(hb=False)
    told = []
    try:
        client.wait_for_ready(timeout=60)
        for comm, state in moves:
            asked = client.session.msg("comm_msg", {"comm_id": comm, "data": {"method": "update", "state": state}})
            client.shell_channel.send(asked)
            told.append([])
            while True:
                heard = client.get_iopub_msg(timeout=60)
                if heard["parent_header"].get("msg_id") != asked["header"]["msg_id"]:
                    continue
                if heard["msg_type"] == "comm_msg":
                    data = heard["content"]["data"]
                    told[-1].append(
                        (heard["content"]["comm_id"], data["method"], data.get("content", data.get("state")))
                    )
                elif heard["content"].get("execution_state") == "idle":
                    break
    finally:
        client.stop_channels()
    return told


def test_what_one_move_changes_is_told_in_one_message(running):
    """Once the page says that it can take it so; in the order in which it changed, and what is told first goes first."""
    started, env, folder, runtime = running
    book = nbformat.read(folder / "00_bench.ipynb", 4)
    book.cells = [nbformat.v4.new_code_cell(MOVED)]
    nbformat.write(book, folder / "moved.ipynb")
    _sign(env, folder / "moved.ipynb")
    _began(started, "moved.ipynb", MOVING)
    ids = "import json\nprint(json.dumps([x.model_id for x in (slider, first, second, Together._shared)]))"
    _asked(runtime, MOVING, MOVED)
    slider, first, second, carrier = json.loads(_ask_kernel(runtime, MOVING, ids))
    move = [(slider, {"value": n}) for n in (1, 2, 9)]
    before, _, once, twice = _heard(runtime, MOVING, [move[0], (carrier, {"ready": True}), *move[1:]])
    assert [whom for whom, method, _ in before if method == "update"] == [first, first, second]
    assert once == [
        (carrier, "custom", [[first, {"value": "2"}], [first, {"value": "2 mL"}], [second, {"value": "4 mL"}]])
    ]
    assert [what for _, _, what in twice] == [
    [[first, {"value": "9"}], [first, {"value": "9 mL"}]], [[second, {"value": "18 mL"}]],
    ]  # fmt: skip


def test_a_page_that_goes_before_it_was_connected_is_not_counted():
    """Else a kernel with one page counts none, and ends under it, or one without any counts less, and stays."""
    kernels = server.Kernels()
    kernels._kernel_connections["one"] = 0  # as when it starts
    kernels.notify_disconnect("one")
    kernels.notify_connect("one")
    assert kernels._kernel_connections["one"] == 1
    kernels.notify_disconnect("one")
    kernels.notify_disconnect("ended")
    assert kernels._kernel_connections == {"one": 0}


def test_a_page_that_loads_once_more_has_yet_to_connect():
    """Its kernel was met by the load before, and would be taken for one that a closed page has left."""
    kernels = server.Kernels()
    assert kernels.begin("one")
    kernels._kernel_connections["one"] = 0
    kernels.notify_connect("one")
    kernels.notify_disconnect("one")
    assert "one" in kernels._met
    assert not kernels.begin("one")
    assert "one" not in kernels._met
