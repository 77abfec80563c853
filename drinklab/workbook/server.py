"""JupyterLab on the working folder, with the doors shut: what `launch` starts.

Of the user's own Jupyter configuration it takes what opens no door (`THEIRS`, and every class that is none of
`DOORS`); their JupyterLab settings, kernels and front-end extensions stay as they are. Three more doors are shut
here. A kernel never imports from the folder it works in, where a stranger may have put an ``altair.py``. Python
notebooks always get our kernel, whatever lies under its name. And a notebook is trusted only by signatures of our
own, which plain JupyterLab does not share; what one that is not trusted shows runs no script, and asks no other
computer for anything.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import os
import re
import signal
import socket
import time
from importlib.metadata import EntryPoint
from pathlib import Path

import nbformat
import zmq
from ipykernel.kernelspec import RESOURCES, get_kernel_dict
from jupyter_client.jsonutil import json_default
from jupyter_client.kernelspec import NATIVE_KERNEL_NAME, KernelSpec, KernelSpecManager
from jupyter_client.provisioning import KernelProvisionerFactory, LocalProvisioner
from jupyter_client.session import Session
from jupyter_core.utils import ensure_async
from jupyter_server.auth import IdentityProvider
from jupyter_server.auth.authorizer import AllowAllAuthorizer
from jupyter_server.auth.decorator import authorized
from jupyter_server.base.handlers import APIHandler, path_regex
from jupyter_server.gateway.gateway_client import GatewayClient
from jupyter_server.serverapp import ServerApp
from jupyter_server.services.contents.largefilemanager import AsyncLargeFileManager
from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager, ServerKernelManager
from jupyter_server.services.nbconvert.handlers import NbconvertRootHandler
from jupyter_server.services.sessions.sessionmanager import SessionManager
from jupyterlab.commands import get_app_dir
from jupyterlab.labapp import LabApp
from nbformat.sign import NotebookNotary
from tornado.simple_httpclient import SimpleAsyncHTTPClient
from tornado.web import HTTPError, authenticated
from traitlets.config import Config

from ..errors import InputError, Told
from . import warm
from .engine import data_folder, vega_bundle

LAB = Path(__file__).parent / "lab"

# What of theirs counts in the classes of DOORS: limits, hooks and habits, nothing that lets anybody in.
_HARMLESS = """
always_delete_dir buffer_offline_messages checkpoints_class checkpoints_kwargs copy_absolute_path cull_busy
cull_connected cull_idle_timeout cull_interval custom_css delete_to_trash hash_algorithm hide_globs
iopub_data_rate_limit iopub_msg_rate_limit kernel_info_timeout labextensions_path limit_rate max_body_size
max_buffer_size max_copy_folder_size_mb min_open_files_limit post_save_hook pre_save_hook quit_button
rate_limit_window shutdown_no_activity_timeout shutdown_wait_time terminado_settings terminals_enabled
untitled_directory untitled_file untitled_notebook use_atomic_writing user_settings_dir websocket_ping_interval
websocket_ping_timeout
"""
THEIRS = frozenset(_HARMLESS.split())


# Two policies of which each counts. The second is Jupyter's own, to whose end its handlers add what is stricter.
_POLICY = (
    "default-src 'self' 'unsafe-inline' 'unsafe-eval' data: blob:; connect-src 'self' ws: wss: data: blob:; "
    "form-action 'self'; base-uri 'self', frame-ancestors 'self'"
)


def _only_theirs(traits: Config) -> Config:
    return Config({name: value for name, value in traits.items() if name in THEIRS})


class _Ours:
    """Of each configuration that is read, keep what opens no door; what we state goes on top."""

    ours = Config()

    def update_config(self, config: Config) -> None:
        kept = Config()
        for section, value in config.items():
            kept[section] = _only_theirs(value) if section in DOORS else value
        kept.merge(_Ours.ours)
        super().update_config(kept)


class Specs(KernelSpecManager):
    """The kernels of this computer, none of which imports from the folder that it works in."""

    def find_kernel_specs(self) -> dict[str, str]:
        """Folder of each kernel; that of Python is ours."""
        return {**super().find_kernel_specs(), NATIVE_KERNEL_NAME: str(RESOURCES)}

    def get_kernel_spec(self, kernel_name: str) -> KernelSpec:
        """How one is started."""
        if kernel_name.lower() == NATIVE_KERNEL_NAME:
            spec = KernelSpec(resource_dir=str(RESOURCES), **get_kernel_dict())
            spec.argv = [spec.argv[0], "-P", *spec.argv[1:]]
            spec.metadata = {**spec.metadata, "kernel_provisioner": {"provisioner_name": warm.NAME}}
        else:
            spec = super().get_kernel_spec(kernel_name)
            spec.env = {**spec.env, "PYTHONSAFEPATH": "1"}
        if any("ipykernel" in word for word in spec.argv):  # before 9.7 IPython adds the folder all the same
            spec.argv = [*spec.argv, "--IPKernelApp.ignore_cwd=True"]
        return spec


class Server(_Ours, ServerApp):
    """A Jupyter server that reads no door from a configuration, and listens where it is told to."""

    door: socket.socket

    def load_server_extensions(self) -> None:
        """Load them; they may add settings, but change none."""
        before = dict(self.web_app.settings)
        super().load_server_extensions()
        self.web_app.settings.update(before)

    def _find_http_port(self) -> None:
        """It is held already: one that is looked for, let go and taken again may be another's by then."""

    def _bind_http_server_tcp(self) -> bool:
        self.http_server.add_socket(self.door)
        return True


class Kernels(AsyncMappingKernelManager):
    """The kernels that run, of which a page may begin one before JupyterLab asks for it."""

    def __init__(self, **options) -> None:
        super().__init__(**options)
        self._begun: dict[str, float] = {}  # kernels of pages, and since when
        self._met: set[str] = set()  # those that a page has been connected to
        self._starts: dict[str, asyncio.Future] = {}  # those that are still starting

    async def start_kernel(self, *, kernel_id: str | None = None, **given) -> str:
        """Start one; one of a name that is starting already is waited for."""
        if kernel_id is None:
            return await super().start_kernel(**given)
        if kernel_id not in self._starts:
            self._starts[kernel_id] = asyncio.ensure_future(super().start_kernel(kernel_id=kernel_id, **given))
            self._starts[kernel_id].add_done_callback(lambda _: self._starts.pop(kernel_id))
        return await self._starts[kernel_id]

    def begin(self, kernel_id: str) -> bool:
        """Note that a page will ask for it; whether it is to be started, not there from when the page loaded before."""
        new = kernel_id not in self._begun and kernel_id not in self
        if new or kernel_id in self._begun:
            self._begun[kernel_id] = time.monotonic()
            self._met.discard(kernel_id)  # a page that loads once more has yet to connect
        return new

    async def answers(self, kernel_id: str) -> None:
        """Wait until it does: it has then run what it was to run ahead."""
        if kernel_id in self._starts:
            await self._starts[kernel_id]
        if kernel_id not in self:
            return
        client = self.get_kernel(kernel_id).client()
        client.start_channels()
        try:
            with contextlib.suppress(RuntimeError):  # the page will see for itself
                await client.wait_for_ready(timeout=60)
        finally:
            client.stop_channels()

    def notify_connect(self, kernel_id: str) -> None:
        """Told by a page that connects."""
        super().notify_connect(kernel_id)
        self._met.add(kernel_id)

    def notify_disconnect(self, kernel_id: str) -> None:
        """Told by a page that goes; one that went before it was connected tells it too, and is not counted."""
        if self._kernel_connections.get(kernel_id, 0) > 0:
            super().notify_disconnect(kernel_id)

    async def clear(self) -> None:
        """End what closed and reloaded pages have left: nobody knows its widgets, and it would go on looking."""
        long_ago = time.monotonic() - 300
        for kernel_id, since in list(self._begun.items()):
            if kernel_id not in self:
                del self._begun[kernel_id]
            elif not self.kernel_model(kernel_id)["connections"] and (kernel_id in self._met or since < long_ago):
                del self._begun[kernel_id]
                await self.shutdown_kernel(kernel_id, now=True)


class Begin(APIHandler):
    """Asked by a page while it loads: its kernel is then ready, and has run the first cell of its notebook."""

    auth_resource = "sessions"

    @authenticated
    @authorized
    async def post(self, path: str) -> None:
        """Give a notebook that runs by itself the kernel that the page has named; any other stays as it is."""
        path = path.strip("/")
        kernel = _at(self.get_json_body(), "kernel")
        if not isinstance(kernel, str) or not re.fullmatch(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", kernel):
            raise HTTPError(400, "a kernel's id is wanted")
        code = await self._runs(path)
        if code is None:
            self.finish(json.dumps({"runs": False}))
            return
        await self._start(path, kernel, code)
        await self.kernel_manager.answers(kernel)
        self.finish(json.dumps({"runs": True, "session": await self._session(kernel)}, default=json_default))
        await self.kernel_manager.clear()

    async def _start(self, path: str, kernel: str, code: str) -> None:
        if self.kernel_manager.begin(kernel):
            warm.first_cells[kernel] = code
            name = path.rpartition("/")[2]
            await self.session_manager.create_session(path, name, "notebook", NATIVE_KERNEL_NAME, kernel)

    async def _session(self, kernel: str) -> dict[str, object] | None:
        """As the page takes it over, without asking for one; None where its kernel has ended."""
        sessions = await self.session_manager.list_sessions()
        return next((one for one in sessions if one["kernel"]["id"] == kernel), None)

    async def _runs(self, path: str) -> str | None:
        """The first code of a notebook as the page will find it: it asks to be run, for our kernel, and is trusted."""
        if not path.endswith(".ipynb"):
            return None
        book = (await ensure_async(self.contents_manager.get(path, type="notebook")))["content"]
        if not runs_by_itself(book):
            return None
        code = next((cell["source"] for cell in book["cells"] if cell["cell_type"] == "code"), "")
        return code if isinstance(code, str) else ""


def runs_by_itself(book: object) -> bool:
    """Whether a notebook as the server reads it runs when it opens; one that a stranger shaped otherwise does not.

    >>> runs_by_itself({"metadata": {"kernelspec": "python3", "drinklab": []}, "cells": []})
    False
    """
    about, cells = _at(book, "metadata"), _at(book, "cells")
    ours = _at(_at(about, "kernelspec"), "name") == NATIVE_KERNEL_NAME
    if not ours or _at(_at(about, "drinklab"), "run_on_open") is not True or not isinstance(cells, list):
        return False
    return all(_at(_at(cell, "metadata"), "trusted") is True for cell in cells if _at(cell, "cell_type") == "code")


def _at(data: object, key: str) -> object:
    """What stands under a key; None where what is there has no keys."""
    return data.get(key) if isinstance(data, dict) else None


class Engine(APIHandler):
    """What draws live charts, as a file that the page loads with its others."""

    auth_resource = "contents"

    @authenticated
    @authorized
    async def get(self) -> None:
        """Give its code; where it was never built, that takes two seconds."""
        code = await asyncio.to_thread(vega_bundle)
        self.set_header("Cache-Control", "no-cache")  # asked for anew by each page, and sent if it is another
        self.finish(code, set_content_type="text/javascript; charset=utf-8")


class Formats(NbconvertRootHandler):
    """Asked by each page for one menu; to find out takes half a second, so it waits until the page has come."""

    found = ""

    @authenticated
    @authorized
    async def get(self) -> None:
        """Tell which formats a notebook can be saved in."""
        if not Formats.found:
            await asyncio.sleep(warm.PAUSE)
            await super().get()
        else:
            self.finish(Formats.found)

    def finish(self, chunk: str | None = None, **given: str) -> asyncio.Future[None]:
        """Keep what is told."""
        if chunk and self.get_status() == 200:
            Formats.found = chunk
        return super().finish(chunk, **given)


class Lab(_Ours, LabApp):
    """JupyterLab with Drinklab's own settings and extension."""

    def initialize_handlers(self) -> None:
        """Add ours to JupyterLab's."""
        super().initialize_handlers()
        self.handlers += [
            (rf"/drinklab/begin{path_regex}", Begin),
            ("/drinklab/engine.js", Engine),
            ("/api/nbconvert", Formats),
        ]


def _jupyter_server_extension_points() -> list[dict]:
    return [{"module": __name__, "app": Lab}]


_CLASSES = (
    *(Server, Lab, IdentityProvider, AllowAllAuthorizer, AsyncLargeFileManager, Specs, GatewayClient),
    *(Kernels, ServerKernelManager, KernelProvisionerFactory, LocalProvisioner, Session),
    *(SessionManager, ZMQChannelsWebsocketConnection),
)
DOORS = frozenset(above.__name__ for one in _CLASSES for above in one.mro())


def ready(folder: Path, kept: Path, door: socket.socket, token: str, prefix: str = "/") -> Server:
    """JupyterLab on a folder, ready to start, on this computer alone and with a token.

    Parameters
    ----------
    folder : Path
        The working folder.
    kept : Path
        Where layouts are kept, so that the user's own JupyterLab looks as before.
    door : socket
        That listens on the port of the page.
    token : str
        What opens it.
    prefix : str
        What every address begins with, as a JupyterHub or another proxy gives it.

    Raises
    ------
    InputError
        If the JupyterLab that the environment names is none.
    """
    app = Path(get_app_dir())
    if not (app / "static" / "index.html").is_file():
        name = "JUPYTERLAB_DIR" if os.environ.get("JUPYTERLAB_DIR") else "JupyterLab's own folder"
        raise InputError(
            name, Told(repr(str(app))), "a folder with a JupyterLab in it (without JUPYTERLAB_DIR it is found)"
        )
    _Ours.ours = Config(
        {
            "ServerApp": {
                "ip": "127.0.0.1",
                "port": door.getsockname()[1],
                "port_retries": 0,
                "base_url": prefix,
                "root_dir": str(folder),
                "open_browser": False,
                "log_level": "WARN",
                "allow_unauthenticated_access": False,
                # What a page shows may be a stranger's: it asks no other computer for anything, and tells none.
                "tornado_settings": {"headers": {"Content-Security-Policy": _POLICY}},
                "identity_provider_class": IdentityProvider,  # a token, and no password beside it
                "kernel_spec_manager_class": Specs,
                "kernel_manager_class": Kernels,
                "allow_root": hasattr(os, "geteuid") and os.geteuid() == 0,  # a container; else Jupyter refuses
            },
            "IdentityProvider": {"token": token},
            "GatewayClient": {"url": ""},  # kernels run here
            "KernelProvisionerFactory": {"default_provisioner_name": "local-provisioner"},
            # Without it each notebook prints a warning about eavesdroppers.
            "KernelManager": {"transport_encryption": "auto"} if zmq.has("curve") else {},
            "LabApp": {
                "log_level": "WARN",
                "app_dir": str(app),
                "extension_manager": "readonly",
                "app_settings_dir": str(LAB / "settings"),
                "extra_labextensions_path": [str(LAB / "extensions")],
                "workspaces_dir": str(kept / "workspaces"),
            },
        }
    )
    os.chdir(LAB)  # some of Jupyter looks for templates where it stands, which may be a stranger's folder
    # Only these: an extension of the server's may add pages that ask for no token.
    server = Server.instance(jpserver_extensions={__name__: True, "jupyter_server_terminals": True})
    door.setblocking(False)
    server.door = door
    server.no_browser_open_file = True  # it holds the token, and anybody on this computer may read it
    server.initialize(argv=[], starter_extension=Lab.name, find_extensions=False)
    server.contents_manager.notary = notary(server.log)
    KernelProvisionerFactory.provisioners[warm.NAME] = EntryPoint(
        warm.NAME, f"{warm.__name__}:{warm.Warm.__name__}", KernelProvisionerFactory.GROUP_NAME
    )
    warm.spare.prepare(server.kernel_spec_manager.get_kernel_spec(NATIVE_KERNEL_NAME).argv)

    def stop(*_) -> None:
        signal.signal(signal.SIGINT, signal.SIG_DFL)  # a second Ctrl-C does not wait
        server.stop(from_signal=True)

    # Jupyter would ask "shut down (y/n)?"; nothing unsaved is on this side, so it just ends.
    for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), stop)
    return server


async def trouble(server: Server) -> str | None:
    """Ask the running server as a stranger and as the browser would; what is wrong, in words."""
    client, token = SimpleAsyncHTTPClient(force_instance=True), server.identity_provider.token

    async def asked(address: str, **headers: str) -> int:
        answer = await client.fetch(
            server.connection_url + address, headers=headers, follow_redirects=False, raise_error=False
        )
        return answer.code

    for address in ("api/contents", "api/kernels"):
        if await asked(address) != 403:
            return "it would let in anybody on this computer without its token"
    for address in ("lab", "lab/extensions/drinklab/static/open.js"):
        code = await asked(address, Authorization=f"token {token}")
        if code != 200:
            return f"its page answers {code}"
    return None


# --- which notebooks run by themselves ---------------------------------------------------------


_WIDGETS = "application/vnd.jupyter.widget-state+json"
_HELD_BACK = f"{_WIDGETS} (not trusted)"


class Notary(NotebookNotary):
    """Sign on saving only if every code cell is trusted, and show saved widgets only of a notebook that is.

    Jupyter's own takes a cell without output for trusted, so that a notebook from a stranger would pass, and run
    on opening, after its first save. And it knows nothing of widgets: JupyterLab makes all that a notebook holds as it
    opens, and one of them may be a script. Those of a stranger go to the page under a name that it does not know, and
    stay in the file as they were.
    """

    def mark_cells(self, nb, trusted: bool) -> None:
        """Say of each code cell whether it is trusted; hold back the widgets of a notebook that is not."""
        super().mark_cells(nb, trusted)
        if not trusted:
            _rename_widgets(nb, _WIDGETS, _HELD_BACK)

    def check_cells(self, nb) -> bool:
        """Whether there is code, and every cell of it was trusted when opened, or was run or written since."""
        _rename_widgets(nb, _HELD_BACK, _WIDGETS)
        code = [cell for cell in nb.cells if cell.cell_type == "code"]
        trusted = [cell.metadata.pop("trusted", False) for cell in code]  # taken off every cell
        return bool(code) and all(trusted)


def _rename_widgets(book: dict, name: str, new: str) -> None:
    held = _at(_at(book, "metadata"), "widgets")
    if isinstance(held, dict) and name in held:
        held[new] = held.pop(name)


def notary(log: logging.Logger | None = None) -> Notary:
    """The user's notary of Drinklab: secret and signatures apart from those of plain JupyterLab, which signs more.

    No configuration is read.

    Raises
    ------
    OSError
        If Jupyter's data folder, in which they are kept, cannot be written.
    """
    folder = data_folder()
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    ours = Notary(data_dir=str(folder))
    if log:
        ours.log = log
    return ours


def sign(*notebooks: Path) -> None:
    """Mark notebooks as ours, so that they may run when they are opened."""
    ours = notary()
    for path in notebooks:
        ours.sign(nbformat.read(path, as_version=4))
