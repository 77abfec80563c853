"""Attacks on the workbook's server: what the user's Jupyter, a stranger's folder or a broken setting can do to it."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
import sys
from pathlib import Path
from urllib.parse import quote

import nbformat
import pytest
from nbformat import v4

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
def home(tmp_path):
    """With a browser that only notes what it was asked to open."""
    (tmp_path / "home").mkdir()
    return tmp_path / "home"


@pytest.fixture
def env(home, environment):
    browser = home / "browser"
    browser.write_text(f'#!{sys.executable}\nimport sys\nopen({str(home / "opened")!r}, "a").write(sys.argv[1] + "\\n")\n')
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
        assert b"elsewhere.example" not in started.ask("lab").body
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
