"""A workbook that really runs: `start` starts the launcher as its command does, apart from the Jupyter of whoever tests."""

from __future__ import annotations

import contextlib
import gc
import os
import re
import signal
import subprocess
import sys
import tempfile
import threading
import urllib.request
from collections.abc import Iterator
from email.message import Message
from pathlib import Path
from typing import IO, NamedTuple
from urllib.error import HTTPError

import hypothesis
import pytest
from long_run import LONG

ROOT = Path(__file__).parents[1]

# Launchers, kernels and fresh Pythons start by the hundred: each finds the package compiled, also where a shell asks
# Python to keep nothing.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
# Two workers, two cores: threads that wait for each other over small matrices take a quarter of the time and give none.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Nothing of what is being collected can be let go: looking through it, again and again, is a tenth of the time.
gc.disable()

# A busy machine is no fault of what is tried.
hypothesis.settings.register_profile("no clock", deadline=None)
hypothesis.settings.load_profile("no clock")


class Answer(NamedTuple):
    """Of a server."""

    status: int
    body: bytes
    headers: Message


class Started(NamedTuple):
    """What a start said, and how it goes on: without an address it ended by itself."""

    address: str
    said: str
    process: subprocess.Popen
    errors: IO[str]

    def ended(self) -> tuple[int, str]:
        """Exit code and what it complained of, when it ends by itself."""
        code = self.process.wait(60)
        self.errors.seek(0)
        return code, self.errors.read()

    @property
    def page(self) -> str:
        """Beginning of all its addresses."""
        return re.match(r"https?://[^/]+/", self.address)[0]

    @property
    def token(self) -> str:
        return self.address.rpartition("token=")[2]

    def ask(self, path: str, data: bytes | None = None, token: bool = True, **headers: str) -> Answer:
        """What the server answers, with the page's token or as a stranger would ask."""
        if token:
            headers["Authorization"] = f"token {self.token}"
        request = urllib.request.Request(self.page + path, data, headers)
        try:
            with urllib.request.build_opener(urllib.request.ProxyHandler({})).open(request, timeout=30) as answer:
                return Answer(answer.status, answer.read(), answer.headers)
        except HTTPError as error:
            return Answer(error.code, error.read(), error.headers)


def environment(home: Path, **more: str) -> dict[str, str]:
    """A home of its own, and this checkout as the installed Drinklab."""
    own = {name: value for name, value in os.environ.items() if not name.startswith(("JUPYTER", "IPYTHON", "XDG_"))}
    own |= {"HOME": str(home), "USERPROFILE": str(home), "APPDATA": str(home), "PYTHONPATH": str(ROOT)}
    return own | {name: str(value) for name, value in more.items()}


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log):
    """Of `-n 2 --dist loadfile`: a file stays on one worker, all of the browser's on one, and these begin."""
    if config.getoption("dist") == "loadfile":
        from one_browser import OneBrowser

        return OneBrowser(config, log)
    return None


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what is for the night, unless DRINKLAB_LONG is set or `-m` asks for it."""
    if not LONG and not config.option.markexpr:
        night = [item for item in items if item.get_closest_marker("nightly")]
        config.hook.pytest_deselected(items=night)
        items[:] = [item for item in items if not item.get_closest_marker("nightly")]


def pytest_collection_finish() -> None:
    """Thousands of tests and all modules stay to the end: no need to look through them for what can be let go."""
    gc.collect()
    gc.freeze()
    gc.enable()
    gc.set_threshold(20_000, 20, 20)  # a panel is thousands of objects that stay


@contextlib.contextmanager
def _start(folder: Path, *arguments: str, env: dict[str, str], cwd: Path | None = None) -> Iterator[Started]:
    # -P: as for the installed command, the folder that it is started in is not on the import path.
    command = [sys.executable, "-P", "-m", "drinklab.workbook.launch", str(folder), *arguments]
    with (
        tempfile.TemporaryFile("w+", encoding="utf-8") as errors,
        subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=errors, text=True, encoding="utf-8", env=env, cwd=cwd
        ) as process,
    ):
        late = threading.Timer(300, process.kill)
        late.start()
        try:
            said = ""
            for line in process.stdout:
                said += line
                if "Ctrl-C" in line or "already running" in line:
                    break
            if "already running" in said:
                said += process.stdout.read()
            late.cancel()
            found = re.search(r"https?://\S+", said)
            yield Started(found[0] if found else "", said, process, errors)
        finally:
            late.cancel()
            process.send_signal(signal.SIGINT)
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()


@pytest.fixture(scope="session")
def start():
    """`with start(folder, "--no-browser", env=environment(home)) as started:` runs the launcher meanwhile."""
    return _start


@pytest.fixture(scope="session", name="environment")
def _environment():
    return environment


def _share_pictures(data: Path) -> None:
    from drinklab.workbook import engine
    from drinklab.workbook.charts import live

    kept = engine.data_folder() / f"pictures-{live._made_by()}"
    kept.mkdir(parents=True, exist_ok=True)
    engine.vega_bundle()
    ours = data / "drinklab"
    ours.mkdir(parents=True, exist_ok=True)
    for place in (kept, *kept.parent.glob("vega-*.js")):
        (ours / place.name).symlink_to(place)


@pytest.fixture(scope="session")
def share_pictures():
    """`share_pictures(data)`: charts as this code draws them, each drawn by whoever needs it first, in no home again."""
    return _share_pictures


@pytest.fixture
def home(tmp_path):
    """Of somebody who has nothing yet."""
    (tmp_path / "home").mkdir()
    return tmp_path / "home"


@pytest.fixture(scope="session", autouse=True)
def unsent_widgets():
    """Nobody listens here: a widget is made without the state that it would send, two thirds of what a panel costs.

    Notebooks and pages, whose kernels send it, have tests of their own.
    """
    import comm
    from ipywidgets import Widget

    def unsent(widget: Widget) -> None:
        if widget.comm is None:
            known = {} if widget._model_id is None else {"comm_id": widget._model_id}
            widget.comm = comm.create_comm(target_name="jupyter.widget", data={}, **known)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Widget, "open", unsent)
        yield


@pytest.fixture(scope="module", autouse=True)
def closed_widgets():
    """Of a file, afterwards: ipywidgets holds each one until it is closed, a gigabyte for all the panels' tests."""
    yield
    if "ipywidgets" in sys.modules:
        sys.modules["ipywidgets"].Widget.close_all()


@pytest.fixture(scope="module")
def bar(tmp_path_factory):
    """The folder of a stranger: every file of it means harm."""
    import hostile

    return hostile.folder(tmp_path_factory.mktemp("bar") / "own")


@pytest.fixture(scope="module")
def damaged(tmp_path_factory):
    """The same with each file damaged."""
    import hostile

    return hostile.damaged_folder(tmp_path_factory.mktemp("bar") / "damaged")
