"""Attacks on the workbook's server: what the user's Jupyter, a stranger's folder or a broken setting can do to it."""

from __future__ import annotations

import contextlib
import json
import os
import re
import socket
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import quote

import nbformat
import pytest
from nbformat import v4
from nbformat.sign import NotebookNotary

from drinklab.workbook import launch, server

# Every way of letting people in that Jupyter's documentation of its options names, at once. Jupyter Server,
# "Config file and command line options" (jupyter-server.readthedocs.io, read from the installed version's own help).
OPEN = """
import tornado.web
from jupyter_server.auth import Authorizer, IdentityProvider, User
from jupyter_server.services.contents.largefilemanager import AsyncLargeFileManager

class Anybody(IdentityProvider):
    async def get_user(self, handler):
        return User("anybody")
    auth_enabled = False

class Elsewhere(AsyncLargeFileManager):
    pass

c = get_config()
for section in ("ServerApp", "Server", "LabApp", "Lab", "JupyterApp", "ExtensionApp"):
    here = c[section]
    here.ip, here.port, here.port_retries, here.sock = "0.0.0.0", 1, 50, ""
    here.identity_provider_class = Anybody
    here.allow_unauthenticated_access = here.disable_check_xsrf = here.allow_remote_access = True
    here.allow_origin, here.allow_credentials, here.token, here.password = "*", True, "", "argon2:x"
    here.local_hostnames = ["evil.example"]
    here.contents_manager_class = Elsewhere
    here.tornado_settings = {"headers": {"Access-Control-Allow-Origin": "*"}, "allow_unauthenticated_access": True}
    here.settings = {"disable_check_xsrf": True, "allow_unauthenticated_access": True, "allow_origin": "*"}
    here.certfile, here.keyfile, here.base_url = "/nowhere.pem", "/nowhere.key", "/else/"
    here.root_dir = here.notebook_dir = "/"
    here.jpserver_extensions = {"open_door": True}
    here.dev_mode = here.core_mode = here.watch = here.splice_source = True
    here.app_dir = here.static_dir = here.templates_dir = "/nowhere"
    here.override_static_url = "https://elsewhere.example/"
for section in ("IdentityProvider", "PasswordIdentityProvider", "LegacyIdentityProvider"):
    c[section].token, c[section].hashed_password = "", "argon2:x"
for section in ("ContentsManager", "FileContentsManager", "LargeFileManager", "AsyncLargeFileManager"):
    c[section].root_dir = "/"
    c[section].files_handler_class = tornado.web.RequestHandler
for section in ("KernelManager", "AsyncKernelManager", "ServerKernelManager", "ConnectionFileMixin"):
    c[section].ip, c[section].transport_encryption = "0.0.0.0", "disabled"
c.Session.key = b""
c.GatewayClient.url = "http://127.0.0.1:9"
c.NotebookNotary.db_file = ":memory:"
c.NotebookNotary.secret = b"known"
# Theirs, and no door:
c.ContentsManager.untitled_notebook = "Theirs"
"""
OPEN_DOOR = """
import tornado.web

class Door(tornado.web.RequestHandler):
    def get(self):
        self.finish("open")

def _jupyter_server_extension_points():
    return [{"module": "open_door"}]

def _load_jupyter_server_extension(app):
    app.web_app.add_handlers(".*$", [("/door", Door)])
"""
NAMES = ("jupyter_config", "jupyter_server_config", "jupyter_lab_config", "jupyter_server_terminals_config")


@pytest.fixture
def env(home, environment, share_pictures):
    """With a browser that only notes what it was asked to open."""
    share_pictures(home / ".local/share/jupyter")
    browser = home / "browser"
    browser.write_text(
        f'#!{sys.executable}\nimport sys\nopen({str(home / "opened")!r}, "a").write(sys.argv[1] + "\\n")\n'
    )
    browser.chmod(0o755)
    return environment(home, BROWSER=f"{browser} %s")


def _listens(address: str, port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection((address, port), timeout=2):
        return True
    return False


def _notebook(path: Path, code: str = "1 + 1") -> Path:
    book = v4.new_notebook(metadata={"drinklab": {"run_on_open": True}}, cells=[v4.new_code_cell(code, id="a")])
    nbformat.write(book, path)
    return path


def _trusted(started, name: str) -> bool:
    cells = json.loads(started.ask(f"api/contents/{quote(name)}?type=notebook").body)["content"]["cells"]
    return all(cell["metadata"]["trusted"] for cell in cells if cell["cell_type"] == "code")


# --- the user's own Jupyter --------------------------------------------------------------------


def test_no_configuration_opens_the_server(start, env, home):
    config = home / ".jupyter"
    (config / "jupyter_server_config.d").mkdir(parents=True)
    for name in NAMES:
        (config / f"{name}.py").write_text(OPEN)
    (config / "jupyter_server_config.d/door.json").write_text(
        json.dumps({"ServerApp": {"jpserver_extensions": {"open_door": True}}})
    )
    (home / "code").mkdir()
    (home / "code/open_door.py").write_text(OPEN_DOOR)
    env |= {
        "PYTHONPATH": os.pathsep.join([env["PYTHONPATH"], str(home / "code")]),
        "JUPYTER_SERVER_ALLOW_UNAUTHENTICATED_ACCESS": "true",
        "JUPYTER_GATEWAY_URL": "http://127.0.0.1:9",
        "JUPYTER_TOKEN": "known",
    }
    with start(home / "bar", "--no-browser", env=env) as started:
        assert started.page.startswith("http://127.0.0.1:"), started.ended()
        port = int(started.page.rstrip("/").rpartition(":")[2])
        assert _listens("127.0.0.1", port)
        if sys.platform == "linux":  # all of 127/8 is this computer: refused unless bound to every address
            assert not _listens("127.0.0.2", port)
        for path in ("api/contents", "api/kernels", "api/sessions", "api/terminals", "api/contents/etc"):
            assert started.ask(path, token=False).status == 403, path
            assert started.ask(path, token=False, Authorization="token known").status == 403, path
            assert started.ask(path, b"{}", token=False).status == 403, path
        for path in ("lab", "files/00_bench.ipynb", "terminals/1"):  # instead comes the page that asks for the token
            assert started.token.encode() not in started.ask(path, token=False).body, path
            assert b"Token authentication is enabled" in started.ask(path, token=False).body, path
        assert started.ask("door").status == 404
        assert started.ask("api/contents", Host="evil.example").status == 403
        # Another site in the same browser has its cookie at best.
        entered = started.ask(f"api/contents?token={started.token}", token=False)
        cookie = "; ".join(one.partition(";")[0] for one in entered.headers.get_all("Set-Cookie"))
        assert started.ask("api/contents", token=False, Cookie=cookie).status == 200
        elsewhere = started.ask("api/contents", token=False, Cookie=cookie, Origin="https://evil.example")
        assert elsewhere.status == 404
        assert elsewhere.headers["Access-Control-Allow-Origin"] is None
        assert started.ask("api/contents", b'{"type": "file"}', token=False, Cookie=cookie).status == 403
        lab = started.ask("lab")  # and what would break it (dev_mode, certfile) keeps nobody out
        assert lab.status == 200
        assert b"elsewhere.example" not in lab.body
        listed = {item["name"] for item in json.loads(started.ask("api/contents").body)["content"]}
        assert "00_bench.ipynb" in listed
        assert _trusted(started, "00_bench.ipynb")
        answer = started.ask("api/contents", b'{"type": "notebook"}')
        assert (answer.status, json.loads(answer.body)["name"]) == (201, "Theirs.ipynb")  # what is theirs counts
        # Its kernels listen here alone, and hear only who knows their key.
        kernel = json.loads(started.ask("api/kernels", b'{"name": "python3"}').body)["id"]
        connection = json.loads(next(home.rglob(f"kernel-{kernel}.json")).read_text())
        assert connection["ip"] == "127.0.0.1"
        assert len(connection["key"]) > 30


def _settings(home: Path, text: str) -> None:
    (home / ".jupyter").mkdir()
    (home / ".jupyter/jupyter_server_config.py").write_text(text)


def _pages(home: Path, text: str) -> None:
    (home / "pages/static").mkdir(parents=True)
    (home / "pages/static/index.html").write_text(text)


@pytest.mark.parametrize(
    ("broken", "prepare", "said"),
    [
        (
            {"JUPYTERLAB_DIR": "{home}/nowhere"},
            None,
            "JUPYTERLAB_DIR is '{home}/nowhere'; it must be a folder with a J",
        ),
        ({"JUPYTERLAB_DIR": "{home}/pages"}, lambda h: _pages(h, "{% bad %}"), "did not start: its page answers 500;"),
        (
            {"JUPYTER_RUNTIME_DIR": "{home}/browser/x"},
            None,
            "Jupyter's runtime folder is '{home}/browser/x'; it must be",
        ),
        ({"JUPYTER_DATA_DIR": "{home}/browser/x"}, None, "Jupyter's data folder is '{home}/browser/x'; it must be"),
        ({"HOME": "{home}/browser/x"}, None, "Jupyter's data folder is '{home}/browser/x/"),
        ({}, lambda h: _settings(h, "c.ServerApp.max_body_size = 'x'"), "trait of a Server instance expected an int"),
        ({}, lambda h: _settings(h, "import sys; sys.exit(3)"), "did not start: it gave no reason;"),
        ({}, lambda h: (h / "bar/.drinklab/server.log").mkdir(parents=True), "a file cannot be used: [Errno 21]"),
    ],
)
def test_what_keeps_it_from_starting_is_one_sentence(start, env, home, broken, prepare, said):
    if prepare:
        prepare(home)
    with start(home / "bar", env=env | {name: value.format(home=home) for name, value in broken.items()}) as started:
        code, error = started.ended()
    assert code in (1, 2)
    assert error.startswith("drinklab: ")
    assert said.format(home=home) in error
    assert error.count("\n") == 1
    assert not (home / "opened").exists()


def test_settings_that_cannot_be_read_keep_nobody_out(start, env, home):
    _settings(home, "1 / 0")
    with start(home / "bar", "--no-browser", env=env) as started:
        assert started.ask("lab").status == 200
    assert started.process.returncode == 0  # Ctrl-C, as for anybody else


def test_a_folder_with_links_in_what_we_write_is_refused(tmp_path, capsys):
    (tmp_path / "bar/.drinklab").mkdir(parents=True)
    (tmp_path / "precious").write_text("mine")
    (tmp_path / "bar/.drinklab/server.log").symlink_to(tmp_path / "precious")
    assert launch.main([str(tmp_path / "bar")]) == 2
    assert "must be one without links in its folder .drinklab (server.log is one)" in capsys.readouterr().err
    assert (tmp_path / "precious").read_text() == "mine"


# --- two starts at once ------------------------------------------------------------------------


def _both(start, environment, folders):
    """Start on each folder before any of them has answered."""
    with contextlib.ExitStack() as opened, ThreadPoolExecutor(len(folders)) as pool:
        begun = [pool.submit(start, folder, "--no-browser", env=environment) for folder in folders]
        managers = [one.result() for one in begun]
        started = list(pool.map(lambda manager: manager.__enter__(), managers))
        for manager in managers:
            opened.push(manager.__exit__)
        yield started


def test_two_starts_at_once_on_one_folder_give_one_page(start, env, home):
    with contextlib.contextmanager(_both)(start, env, [home / "bar"] * 3) as started:
        assert len({one.address for one in started}) == 1
        assert sum("already running" in one.said for one in started) == 2
        assert started[0].ask("lab").status == 200
        names = {path.name for path in (home / "bar").glob("*.ipynb")}
        assert names == {path.name for path in launch.packaged_notebooks().glob("*.ipynb")}  # none "(newer)"
        assert all(_trusted(started[0], name) for name in names)


def test_two_starts_at_once_on_two_folders_give_two_pages(start, env, home):
    with contextlib.contextmanager(_both)(start, env, [home / "bar", home / "terrace"]) as started:
        assert len({one.page for one in started}) == 2
        for one in started:
            assert one.ask("lab").status == 200
            assert _trusted(one, "00_bench.ipynb")


# --- a stranger's notebook ---------------------------------------------------------------------


def test_only_our_signatures_count_and_only_what_we_ship_gets_one(tmp_path, monkeypatch):
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(tmp_path / "data"))
    (tmp_path / "data").mkdir()
    folder = launch.working_folder(tmp_path / "bar")
    stranger = _notebook(folder / "stranger.ipynb")
    with NotebookNotary(data_dir=str(tmp_path / "data")) as plain:  # as plain JupyterLab does when it saves
        plain.sign(nbformat.read(stranger, 4))
    launch.copy_notebooks(folder)
    with server.notary() as ours, NotebookNotary(data_dir=str(tmp_path / "data")) as plain:
        assert not ours.check_signature(nbformat.read(stranger, 4))
        bench = nbformat.read(folder / "00_bench.ipynb", 4)
        assert ours.check_signature(bench)
        assert not plain.check_signature(bench)  # theirs is left as it was
        # A checkout's own folder may hold anything.
        source = tmp_path / "checkout"
        source.mkdir()
        _notebook(source / "dropped.ipynb", "2 + 2")
        launch.working_folder(source)
        launch.copy_notebooks(source, source)
        assert not ours.check_signature(nbformat.read(source / "dropped.ipynb", 4))
        assert oct((tmp_path / "data/drinklab/notebook_secret").stat().st_mode)[-3:] == "600" or os.name == "nt"


# --- a stranger's folder -----------------------------------------------------------------------


def test_what_is_started_looks_for_code_neither_in_the_folder_nor_where_it_stands(tmp_path, monkeypatch):
    code, folder = Path(launch.__file__).resolve().parents[2], tmp_path / "bar"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setattr(sys, "path", ["", str(folder), str(tmp_path), "src", str(code)])
    own = os.pathsep.join(["", ".", "src", str(folder), str(tmp_path), str(code)])
    monkeypatch.setenv("PYTHONPATH", own)
    monkeypatch.setenv("IPYTHONDIR", ".ipython")
    monkeypatch.setenv("JUPYTER_PATH", os.pathsep.join(["share/jupyter", str(tmp_path)]))
    monkeypatch.setenv("JUPYTER_CONFIG_DIR", "~/own")
    launch.keep_off(folder)
    assert sys.path == [str(tmp_path), str(code)]
    assert os.environ["PYTHONPATH"] == os.pathsep.join([str(tmp_path), str(code)])
    assert "IPYTHONDIR" not in os.environ
    assert os.environ["JUPYTER_PATH"] == str(tmp_path)
    assert os.environ["JUPYTER_CONFIG_DIR"] == os.path.expanduser("~/own")


def test_a_checkout_may_be_its_own_working_folder(monkeypatch):
    code = Path(launch.__file__).resolve().parents[2]
    monkeypatch.chdir(code)
    monkeypatch.setattr(sys, "path", ["", str(code)])
    monkeypatch.setenv("PYTHONPATH", str(code))
    launch.keep_off(code)
    assert str(code) in sys.path
    assert os.environ["PYTHONPATH"] == str(code)


def test_kernels_of_every_kind_are_started_without_the_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(tmp_path))
    for name in ("python3", "own"):
        (tmp_path / "kernels" / name).mkdir(parents=True)
        spec = {"argv": ["trap", "-m", "ipykernel_launcher"], "display_name": name, "language": "python"}
        (tmp_path / "kernels" / name / "kernel.json").write_text(json.dumps(spec))
    kernels = server.Specs()
    ours, own = kernels.get_kernel_spec("python3"), kernels.get_kernel_spec("own")
    assert ours.argv[:2] == [sys.executable, "-P"]
    assert kernels.get_all_specs()["python3"]["spec"]["argv"] == ours.argv
    assert own.argv == ["trap", "-m", "ipykernel_launcher", "--IPKernelApp.ignore_cwd=True"]
    assert own.env["PYTHONSAFEPATH"] == "1"


def test_the_help_names_notebooks_that_there_are(capsys):
    with pytest.raises(SystemExit):
        launch.main(["--help"])
    named = re.findall(r"--notebook (\d\w+)", capsys.readouterr().out)
    assert named
    assert set(named) <= {path.stem for path in launch.packaged_notebooks().glob("*.ipynb")}
