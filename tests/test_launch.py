"""The launcher without a browser: what it copies, keeps, says and refuses."""

from __future__ import annotations

import json
import re
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

import nbformat
import pytest
from nbformat import v4
from nbformat.sign import NotebookNotary

from drinklab.errors import InputError
from drinklab.workbook import launch, server
from drinklab.workbook.parts.links import link


@pytest.fixture(autouse=True)
def own_jupyter(tmp_path, monkeypatch):
    """Signatures and notes of running servers of this test alone."""
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(tmp_path / "data"))
    monkeypatch.setenv("JUPYTER_RUNTIME_DIR", str(tmp_path / "runtime"))
    monkeypatch.setenv("JUPYTER_CONFIG_DIR", str(tmp_path / "config"))


@pytest.fixture
def source(tmp_path):
    folder = tmp_path / "packaged"
    folder.mkdir()
    _write(folder / "00_bench.ipynb", "first text")
    return folder


@pytest.fixture
def folder(tmp_path):
    return launch.working_folder(tmp_path / "bar")


def _write(path: Path, text: str) -> None:
    cells = [v4.new_markdown_cell(text, id="a"), v4.new_code_cell("1 + 1", id="b")]
    nbformat.write(v4.new_notebook(cells=cells), path)


def _text(path: Path) -> str:
    return nbformat.read(path, 4).cells[0].source


def _trusted(path: Path, tmp_path: Path) -> bool:
    with NotebookNotary(data_dir=str(tmp_path / "data/drinklab")) as ours:
        return ours.check_signature(nbformat.read(path, 4))


def _run_it(path: Path) -> None:
    """What a run and a save in JupyterLab change: outputs and counts."""
    book = nbformat.read(path, 4)
    book.cells[1].execution_count = 1
    book.cells[1].outputs = [v4.new_output("execute_result", {"text/plain": "2"}, execution_count=1)]
    nbformat.write(book, path)


def test_missing_notebook_is_copied_and_trusted(source, folder, tmp_path):
    assert launch.copy_notebooks(folder, source) == []
    copy = folder / "00_bench.ipynb"
    assert copy.read_bytes() == (source / "00_bench.ipynb").read_bytes()
    assert _trusted(copy, tmp_path)


def test_edited_notebook_stays_and_the_newer_one_comes_beside_it_once(source, folder, tmp_path):
    launch.copy_notebooks(folder, source)
    mine = folder / "00_bench.ipynb"
    _write(mine, "my text")
    assert launch.copy_notebooks(folder, source) == []  # nothing newer yet
    _write(source / "00_bench.ipynb", "second text")
    (line,) = launch.copy_notebooks(folder, source)
    assert line.text == "00_bench.ipynb is your own version and stays; the newer one is 00_bench (newer).ipynb."
    assert launch.copy_notebooks(folder, source) == []
    assert _text(mine) == "my text"
    assert not _trusted(mine, tmp_path)
    assert _text(folder / "00_bench (newer).ipynb") == "second text"
    assert _trusted(folder / "00_bench (newer).ipynb", tmp_path)
    _write(source / "00_bench.ipynb", "third text")
    launch.copy_notebooks(folder, source)
    assert _text(folder / "00_bench (newer).ipynb") == "second text"
    assert _text(folder / "00_bench (newer 2).ipynb") == "third text"


def test_notebook_only_run_is_updated_and_the_old_file_kept(source, folder, tmp_path):
    launch.copy_notebooks(folder, source)
    mine = folder / "00_bench.ipynb"
    _run_it(mine)
    before = mine.read_bytes()
    assert launch.copy_notebooks(folder, source) == []
    assert mine.read_bytes() == before
    _write(source / "00_bench.ipynb", "second text")
    assert [line.text for line in launch.copy_notebooks(folder, source)] == [
        "00_bench.ipynb is updated; the one before is in .drinklab/replaced."
    ]
    assert _text(mine) == "second text"
    assert _trusted(mine, tmp_path)
    assert [path.read_bytes() for path in (folder / ".drinklab/replaced").iterdir()] == [before]


@pytest.mark.parametrize("record", [None, "{broken", "[1]"])
def test_without_a_record_a_different_file_counts_as_the_users_own(source, folder, record):
    _write(folder / "00_bench.ipynb", "my text")
    if record:
        (folder / ".drinklab/copied.json").write_text(record)
    (line,) = launch.copy_notebooks(folder, source)
    assert "your own version and stays" in line.text
    assert _text(folder / "00_bench.ipynb") == "my text"


def test_a_file_that_is_no_notebook_any_more_is_left(source, folder):
    launch.copy_notebooks(folder, source)
    (folder / "00_bench.ipynb").write_text("half a noteb")
    _write(source / "00_bench.ipynb", "second text")
    launch.copy_notebooks(folder, source)
    assert (folder / "00_bench.ipynb").read_text() == "half a noteb"


def test_working_in_the_packaged_folder_copies_nothing(source):
    launch.working_folder(source)
    assert launch.copy_notebooks(source, source) == []
    assert sorted(path.name for path in source.iterdir()) == [".drinklab", "00_bench.ipynb"]


def test_unwritable_data_folder_is_said_and_stops_nothing(source, folder, tmp_path, monkeypatch):
    (tmp_path / "file").touch()
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(tmp_path / "file" / "data"))
    (line,) = launch.copy_notebooks(folder, source)
    assert "could not be marked as safe" in line.text
    assert (folder / "00_bench.ipynb").exists()


def test_folder_that_cannot_be_is_one_sentence(tmp_path, capsys):
    (tmp_path / "file").touch()
    assert launch.main([str(tmp_path / "file")]) == 2
    said = capsys.readouterr().err
    assert said.startswith("drinklab: folder is ")
    assert "it must be a folder that you may write in" in said
    assert said.count("\n") == 1


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["a", "--folder", "b"], "--folder is 'b'; it must be left out when 'a' is given as the folder."),
        (["--port", "eighty"], "--port is 'eighty'; it must be a whole number, 1 to 65535."),
        (["--port", "70000"], "--port is '70000'; it must be a whole number, 1 to 65535."),
    ],
)
def test_bad_arguments_are_one_sentence(arguments, said, capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    assert launch.main(arguments) == 2
    assert capsys.readouterr().err == f"drinklab: {said}\n"


def test_unknown_notebook_names_the_near_one(source, folder):
    launch.copy_notebooks(folder, source)
    assert launch._notebook(folder, "00_bench") == launch._notebook(folder, None) == "00_bench.ipynb"
    with pytest.raises(InputError, match="did you mean 00_bench"):
        launch._notebook(folder, "00_bensh")
    _write(folder.parent / "outside.ipynb", "not in the folder")
    with pytest.raises(InputError):
        launch._notebook(folder, "../outside")


def test_taken_port(monkeypatch, capsys):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = other.getsockname()[1]
        with pytest.raises(InputError, match=f"--port is {taken}; .* a free one is found"):
            launch.hold_port(str(taken))
        monkeypatch.setattr(launch, "PORT", taken)
        with launch.hold_port() as door, launch.hold_port() as next_door:
            assert taken < door.getsockname()[1] < next_door.getsockname()[1]
    assert capsys.readouterr().out.startswith(f"Port {taken} is taken by another program")


def test_second_start_opens_the_page_of_the_first(folder, tmp_path, monkeypatch, capsys):
    """A note of a running server counts only if Drinklab answers there."""
    note = {"url": "http://127.0.0.1:1/", "token": "t", "root_dir": str(folder)}
    (tmp_path / "runtime").mkdir()
    (tmp_path / "runtime/jpserver-1.json").write_text(json.dumps(note))
    (tmp_path / "runtime/jpserver-2.json").write_text("{half")
    assert launch._running(folder) is None  # nothing listens there
    opened = []
    monkeypatch.setattr(launch, "_running", lambda _: note)
    monkeypatch.setattr(launch.way_in, "_others_see", lambda: False)
    monkeypatch.setattr(launch.way_in.webbrowser, "open", opened.append)
    _write(folder / "my drink.ipynb", "x")
    assert launch.main([str(folder), "--notebook", "my drink"]) == 0
    assert opened == ["http://127.0.0.1:1/lab/tree/my%20drink.ipynb?reset&token=t"]
    assert opened[0] in capsys.readouterr().out


def test_everything_works_under_a_prefix_and_on_this_computer_alone(folder, tmp_path, start, environment):
    """As behind a JupyterHub: pages, files, kernels and our own requests all begin with it, nothing lies outside it."""
    own = {f"JUPYTER_{name}_DIR": str(tmp_path / name.lower()) for name in ("DATA", "CONFIG", "RUNTIME")}
    env = environment(tmp_path, **own, JUPYTERHUB_SERVICE_PREFIX="/user/ada/")
    with start(folder, "--no-browser", env=env) as started:
        assert started.address, started.said
        found = re.match(
            r"http://127\.0\.0\.1:(\d+)(/user/ada/)lab/tree/00_bench\.ipynb\?reset&token=(\w+)$", started.address
        )
        assert found, started.address
        port, prefix, token = int(found[1]), found[2], found[3]

        def asked(place: str, data: bytes | None = None, token: str = token) -> tuple[int, bytes]:
            headers = {"Authorization": f"token {token}"} if token else {}
            request = urllib.request.Request(f"http://127.0.0.1:{port}{place}", data, headers)
            try:
                with urllib.request.build_opener(urllib.request.ProxyHandler({})).open(request, timeout=60) as answer:
                    return answer.status, answer.read()
            except urllib.error.HTTPError as error:
                return error.code, b""

        status, page = asked(f"{prefix}lab/tree/00_bench.ipynb")
        assert status == 200
        assert b'"baseUrl": "/user/ada/"' in page
        addresses = re.findall(rb'"full[A-Z]\w*Url": "(/[^"]*)"', page)
        assert addresses
        assert all(address.startswith(b"/user/ada/") for address in addresses)
        for place in ("lab/extensions/drinklab/static/open.js", "files/00_bench.ipynb", "api/contents"):
            assert asked(f"{prefix}{place}")[0] == 200, place
            assert asked(f"/{place}")[0] == 404, f"{place} outside the prefix"
        assert asked(f"{prefix}api/contents", token="")[0] == 403
        # Two pages of one notebook: each begins its own kernel, and is given that one when it asks for it by its name.
        one, two = (f"{digit * 8}-aaaa-bbbb-cccc-{digit * 12}" for digit in "12")
        assert asked(f"{prefix}drinklab/begin/00_bench.ipynb", b'{"kernel": "../../x"}')[0] == 400
        began = []
        for kernel in (one, two):
            for _ in range(2):  # JupyterLab may load a page twice
                status, said = asked(f"{prefix}drinklab/begin/00_bench.ipynb", json.dumps({"kernel": kernel}).encode())
                assert (status, json.loads(said)["runs"]) == (200, True)
                began.append(json.loads(said)["session"])
            about = {"path": f"page {kernel}", "name": "00_bench.ipynb", "type": "notebook", "kernel": {"id": kernel}}
            status, said = asked(f"{prefix}api/sessions", json.dumps(about).encode())
            assert (status, json.loads(said)["kernel"]["id"]) == (201, kernel)
        sessions = json.loads(asked(f"{prefix}api/sessions")[1])
        assert [s["id"] for s in began] == [id for id in (sessions[0]["id"], sessions[2]["id"]) for _ in range(2)]
        book = "00_bench.ipynb"
        assert [(s["path"], s["kernel"]["id"]) for s in sessions] == [
            (book, one), (f"page {one}", one), (book, two), (f"page {two}", two),
        ]  # fmt: skip
        # All that listens is on loopback: nothing answers at another address of this computer.
        for other in {here[4][0] for here in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}:
            if not other.startswith("127."):
                with socket.socket() as stranger:
                    stranger.settimeout(2)
                    assert stranger.connect_ex((other, port)) != 0, other


@pytest.mark.parametrize("prefix", ["/user/a b/", "/../", "//x?y", "user/<b>", "/user/ada\n"])
def test_a_prefix_that_is_none_is_one_sentence(prefix):
    if prefix == "//x?y":
        assert launch.url_prefix("//x//y") == "/x/y/"
    with pytest.raises(InputError, match="names with / between them"):
        launch.url_prefix(prefix)


def test_links_begin_with_the_prefix(folder, monkeypatch):
    (folder / "a.html").write_text("x")
    monkeypatch.setenv("JUPYTERHUB_SERVICE_PREFIX", "/user/ada/")
    assert 'href="/user/ada/files/a.html"' in link(folder / "a.html")


def test_files_for_jupyterlab_are_there():
    for name in ("settings/overrides.json", "settings/page_config.json", "extensions/drinklab/package.json"):
        json.loads((server.LAB / name).read_text("utf-8"))
    package = json.loads((server.LAB / "extensions/drinklab/package.json").read_text("utf-8"))
    assert (server.LAB / "extensions/drinklab" / package["jupyterlab"]["_build"]["load"]).is_file()


def test_launcher_is_light():
    heavy = "import sys, drinklab.workbook.launch as l; print([m for m in ('pandas', 'altair', 'jupyterlab',"
    heavy += " 'IPython', 'scipy') if m in sys.modules])"
    root = Path(launch.__file__).parents[2]
    ran = subprocess.run([sys.executable, "-c", heavy], capture_output=True, text=True, cwd=root, check=True)
    assert ran.stdout.strip() == "[]"


def test_packaged_notebooks_ask_to_be_run():
    books = sorted(launch.packaged_notebooks().glob("*.ipynb"))
    for path in books:
        book = nbformat.read(path, 4)
        metadata = book.metadata
        # One with sliders runs by itself; one that is worked through cell by cell does not.
        sliders = any(cell.metadata.get("jupyter", {}).get("source_hidden") for cell in book.cells)
        assert metadata.get("drinklab", {}).get("run_on_open", False) is sliders, path.name
        assert metadata.get("kernelspec", {}).get("name") == "python3", path.name
