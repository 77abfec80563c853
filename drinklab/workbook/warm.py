"""A kernel that is ready before a page asks for it: its process has imported what a page needs, and waits.

One process waits at a time. It is told once, by a line of JSON on its standard input, which kernel it is: the words of
its command, the folder to stand in, its environment, and the code of the cell to run `ahead`. Until then it stands
where the server does, so that it imports nothing from a working folder, and goes by the same rules of Python's path as
any kernel (`server.Specs`). A process that is not there costs only time: then one is started.

This file is also what that process runs.
"""

from __future__ import annotations

import asyncio
import contextlib
import importlib
import json
import os
import pkgutil
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from typing import Any

from jupyter_client.launcher import launch_kernel
from jupyter_client.provisioning import LocalProvisioner

NAME = "drinklab-warm"  # as a kernel's description asks for it
KERNEL = "ipykernel_launcher"  # the module of a Python kernel
# A page is busy while it loads; the next kernel is made ready when it has settled. [s]
PAUSE = 10.0


def _before_module(command: list[str]) -> list[str] | None:
    """Python and its switches, of a command that runs the module of a Python kernel."""
    at = command.index("-m") if "-m" in command else -1
    return command[:at] if at > 0 and command[at + 1 : at + 2] == [KERNEL] else None


class Spare:
    """The process that waits, for kernels of one Python and of one environment at its start."""

    def __init__(self) -> None:
        self._process: subprocess.Popen | None = None
        self._python: list[str] = []

    def prepare(self, command: list[str]) -> None:
        """Start one for kernels of this command, if none waits."""
        python = _before_module(command)
        if python is None or (self._process is not None and self._process.poll() is None):
            return
        self._drop()
        order = [*python, "-m", __name__]
        with contextlib.suppress(OSError):
            self._process, self._python = launch_kernel(order, stdin=subprocess.PIPE), python

    def take(self, command: list[str], env: dict[str, str], cwd: str | None = None, first: str = "", **more: Any):
        """The process, now the kernel of that command; None if none waits or the kernel is of another kind.

        `first` is the code of a cell that it runs before anybody asks.
        """
        process = self._process
        if process is None or more or self._python != _before_module(command):
            return None
        if process.poll() is not None:
            self._drop()
            return None
        where = os.fspath(cwd or os.getcwd())
        order = {"argv": command[command.index("-m") + 1 :], "env": env, "cwd": where, "first": first}
        try:
            process.stdin.write(json.dumps(order).encode() + b"\n")
            process.stdin.close()
        except OSError:
            self._drop()
            return None
        self._process = None
        return process

    def stop(self) -> None:
        """End it, if there is one."""
        self._drop()

    def _drop(self) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()
            with contextlib.suppress(OSError):
                process.stdin.close()


spare = Spare()
first_cells: dict[str, str] = {}  # code that a kernel runs ahead when it starts, by the kernel's id


class Warm(LocalProvisioner):
    """Kernels on this computer, of which the first step, their start, may be done already."""

    async def launch_kernel(self, cmd: list[str], **kwargs: Any) -> dict[str, Any]:
        """Take the process that waits, or start one."""
        spare.prepare(cmd)
        process = spare.take(cmd, first=first_cells.pop(self.kernel_id, ""), **self._scrub_kwargs(kwargs))
        asyncio.get_running_loop().call_later(PAUSE, spare.prepare, cmd)
        if process is None:
            return await super().launch_kernel(cmd, **kwargs)
        self.process, self.pid = process, process.pid
        self.pgid = os.getpgid(process.pid) if hasattr(os, "getpgid") else None
        self.cwd = kwargs.get("cwd", Path.cwd())
        return self.connection_info


# --- in the process that waits -------------------------------------------------------------------


def _warm_up(wanted: threading.Event) -> None:
    """Import what pages are made of, and build the one that is opened most, until a page asks."""
    panels = importlib.import_module("drinklab.workbook.panels")
    for module in pkgutil.iter_modules(panels.__path__, f"{panels.__name__}."):
        if wanted.is_set():
            return
        importlib.import_module(module.name)
    with tempfile.TemporaryDirectory() as folder:
        sys.modules[f"{panels.__name__}.bench"].panel(folder)
    sys.modules["ipywidgets"].Widget.close_all()  # the page knows none of them


def wait() -> None:
    """Be warm, wait for the order, then be that kernel."""
    said: list[bytes] = []
    wanted = threading.Event()

    def read() -> None:
        said.append(sys.stdin.buffer.readline())
        wanted.set()

    threading.Thread(target=read, daemon=True).start()
    with contextlib.suppress(Exception):  # the page will show what is wrong
        _warm_up(wanted)
    os.environ["PYDEVD_DISABLE_FILE_VALIDATION"] = "1"  # else the debugger prints a warning where it is imported
    from ipykernel import debugger, kernelapp  # noqa: F401 (each kernel imports it when it starts)
    from jupyter_client import localinterfaces

    from .ahead import Kernel

    localinterfaces.local_ips()  # asked by each kernel, and kept
    wanted.wait()
    if not said[0].endswith(b"\n"):
        return  # the server has ended
    order = json.loads(said[0])
    own = {name: value for name, value in os.environ.items() if name.startswith(("JPY_PARENT", "JPY_INTERRUPT"))}
    own |= {name: os.environ[name] for name in ("IPY_INTERRUPT_EVENT",) if name in os.environ}
    os.environ.clear()
    os.environ.update(order["env"] | own)
    os.chdir(order["cwd"])
    sys.argv = order["argv"]
    Kernel.first = order["first"]
    kernel = kernelapp.IPKernelApp.instance(kernel_class=Kernel)
    kernel.initialize()
    if "ipywidgets" in sys.modules:  # it was imported when there was no kernel to tell
        sys.modules["ipywidgets"].register_comm_target()
    kernel.start()


if __name__ == "__main__":
    wait()
