"""The ``drinklab`` command: open the workbook in the browser.

It copies the notebooks that come with Drinklab into a folder of the user's, starts JupyterLab on
this computer alone (127.0.0.1, with a token) and opens the start notebook. A small JupyterLab
extension (``lab/extensions/drinklab``) then runs that notebook, so that its sliders are live
without a click. Two things guard this: the notebook must ask for it in its metadata
(``{"drinklab": {"run_on_open": true}}``) and it must carry a signature of Drinklab's own, which
notebooks get here when they are copied, or later when the user runs and saves them. One that came
by mail is shown and waits for a click. `server` shuts the other doors.
"""

from __future__ import annotations

import argparse
import contextlib
import errno
import hashlib
import importlib.metadata
import json
import os
import re
import secrets
import socket
import sys
import tempfile
import time
import traceback
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

from .. import files
from ..errors import InputError, Told, one_of
from ..facts import Fact, say
from . import way_in

START = "00_bench.ipynb"
PORT = 8790  # away from 8888, so that a JupyterLab of the user's own stays where it is
_LARGEST = 500_000_000  # of a notebook, with all that it has shown [bytes]
_PREFIX = "JUPYTERHUB_SERVICE_PREFIX"  # as a hub gives it
KEPT = ".drinklab"  # what Drinklab itself keeps in the working folder
PATHS = (  # of Python and Jupyter; a relative one would mean something else in every folder
    *("PYTHONPATH", "PYTHONSTARTUP", "PYTHONUSERBASE", "IPYTHONDIR", "JUPYTERLAB_DIR", "JUPYTERLAB_SETTINGS_DIR"),
    *("JUPYTER_PATH", "JUPYTER_CONFIG_PATH", "JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR"),
)


def main(argv: list[str] | None = None) -> int:
    """Run the command and return its exit code.

    Parameters
    ----------
    argv : list of str, optional
        Arguments instead of those of the command line.

    Returns
    -------
    int
        0 when all went well, 2 when something given cannot be used.
    """
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(errors="replace")  # a folder's name that an old console cannot print
    # Optional to Jupyter, and half of its start-up time: it builds a grammar of web addresses.
    sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]
    given = sys.argv[1:] if argv is None else argv
    try:
        if given[:1] == ["print"]:
            from ..teach import printing

            return printing.command(given[1:], working_folder)
        if given[:1] == ["share"]:
            from ..share import command

            return command.run(given[1:])
        return _run(_arguments(given))
    except InputError as error:
        print(f"drinklab: {error}", file=sys.stderr)
        return 2
    except OSError as error:
        print(f"drinklab: a file cannot be used: {error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 0


def _run(given: argparse.Namespace) -> int:
    if sys.flags.optimize > 1:  # Jupyter reads its own descriptions at its start
        raise InputError("PYTHONOPTIMIZE", sys.flags.optimize, "at most 1: JupyterLab does not start without its texts")
    folder = working_folder(given.folder)
    keep_off(folder)
    with contextlib.ExitStack() as start:
        start.enter_context(_one_at_a_time())
        running = _running(folder)
        if running:
            url = _page(running["url"], running["token"], _notebook(folder, given.notebook))
            print(Fact("workbook runs already", folder=str(folder), url=url), flush=True)
            if not given.no_browser and (browser := way_in.open_page(url, folder, folder / KEPT)):
                browser.join()
            return 0
        os.environ[_PREFIX] = prefix = url_prefix(given.prefix)  # kernels are told it too, for their links
        door = hold_port(given.port)
        for line in copy_notebooks(folder):
            print(line)
        notebook = _notebook(folder, given.notebook)

        def tell(connection: str, token: str) -> None:
            start.close()  # the next one finds this one running
            url = _page(connection, token, notebook)
            print(Fact("workbook is open", folder=str(folder), url=url), flush=True)
            if not given.no_browser:
                way_in.open_page(url, folder, folder / KEPT)

        try:
            trouble = _serve(folder, door, prefix, tell)
        finally:
            way_in.forget(folder, folder / KEPT)
    if trouble:
        print(Fact("workbook did not start", why=trouble, log=str(folder / KEPT / "server.log")), file=sys.stderr)
        return 1
    print(Fact("workbook is closed"))
    return 0


def _arguments(argv: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="drinklab",
        allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        description=say(Fact("workbook command")),
        epilog=say(Fact("workbook command, examples")),
    )
    parser.add_argument(
        "place",
        nargs="?",
        metavar="folder",
        help="where your notebooks are kept (if not given: the folder 'drinklab-bench' in your home folder)",
    )
    parser.add_argument("--folder", help="the same, by name")
    parser.add_argument(
        "--notebook",
        metavar="NAME",
        help=f"the notebook to open first (if not given: {START.removesuffix('.ipynb')})",
    )
    parser.add_argument(
        "--no-browser", action="store_true", help="only print the address of the page; you open it yourself"
    )
    parser.add_argument(
        "--port",
        metavar="NUMBER",
        help=f"the port of the page's address (if not given: {PORT}, or the next free one)",
    )
    parser.add_argument(
        "--prefix",
        metavar="PATH",
        help="what every address begins with behind a proxy, such as /user/ada/ (if not given: what a JupyterHub "
        "has given in JUPYTERHUB_SERVICE_PREFIX, or /)",
    )
    parser.add_argument("--version", action="version", version=f"drinklab {_version()}")
    given = parser.parse_args(argv)
    if given.place and given.folder:
        raise InputError("--folder", given.folder, f"left out when {given.place!r} is given as the folder")
    for name, typed in (("folder", given.place), ("--folder", given.folder)):
        if typed is not None and not typed.strip():  # as of a variable that is not set
            raise InputError(name, typed, "the name of a folder, or left out")
    given.folder = given.place or given.folder or files.WORKING_FOLDER
    return given


def _version() -> str:
    try:
        return importlib.metadata.version("drinklab")
    except importlib.metadata.PackageNotFoundError:
        return "(not installed, run from its source)"


def working_folder(name: str | Path) -> Path:
    """Make the working folder if need be, and see that it can be written.

    Parameters
    ----------
    name : str or Path
        The folder; ``~`` is the home folder.

    Returns
    -------
    Path
        Its full path.

    Raises
    ------
    InputError
        If there can be no such folder, or it cannot be written.
    """
    try:
        folder = Path(name).expanduser().resolve()
        kept = folder / KEPT
        _may_write(kept)
        held = (kept, *kept.rglob("*"))
        odd = [path for path in held if path.is_symlink() or not (path.is_file() or path.is_dir())]
    except (OSError, RuntimeError) as error:
        raise InputError("folder", str(name), f"a folder that you may write in ({_why(error)})") from None
    if odd:  # what is written there would land where somebody else chose, or wait for ever
        what = "links" if odd[0].is_symlink() else "pipes and devices"
        raise InputError("folder", str(name), f"one without {what} in its folder {KEPT} ({odd[0].name} is one)")
    return folder


def _may_write(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryFile(dir=folder):
        pass


def _why(error: BaseException) -> str:
    """What happened, as the end of a sentence."""
    said = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return said.strip().splitlines()[0].rstrip(".")


def keep_off(folder: Path) -> None:
    """Take the working folder, and the one that we stand in, off the import path, here and for all that we start.

    What lies there is data: anybody may have put a ``numpy.py`` among it. Only a folder that holds Drinklab itself
    stays. Relative paths in the environment go too, since they mean the folder that a program stands in.

    Parameters
    ----------
    folder : Path
        The working folder.
    """
    code = Path(__file__).resolve().parents[2]
    relative = [path for path in os.environ.get("PYTHONPATH", "").split(os.pathsep) if not os.path.isabs(path)]
    data = {Path(path or ".").resolve() for path in ["", folder, *relative]} - {code}
    for name in set(PATHS) & set(os.environ):
        parts = [os.path.expanduser(part) for part in os.environ[name].split(os.pathsep)]
        good = [part for part in parts if os.path.isabs(part)]
        if name == "PYTHONPATH":
            good = [part for part in good if Path(part).resolve() not in data]
        os.environ[name] = os.pathsep.join(good)
        if not good:
            del os.environ[name]
    sys.path[:] = [path for path in sys.path if Path(path or ".").resolve() not in data]


@contextlib.contextmanager
def _one_at_a_time() -> Iterator[None]:
    """Two starts at once would take one port, or copy one notebook twice: the second waits until the first listens."""
    from jupyter_core.paths import jupyter_data_dir, jupyter_runtime_dir

    for kind, folder in {"data": jupyter_data_dir(), "runtime": jupyter_runtime_dir()}.items():
        try:
            Path(folder).mkdir(parents=True, exist_ok=True, mode=0o700)  # as Jupyter makes it: nobody else looks in
            _may_write(Path(folder))
        except OSError as error:
            allowed = f"one that you may write in ({_why(error)})"
            raise InputError(f"Jupyter's {kind} folder", Told(repr(str(folder))), allowed) from None
    with open(Path(folder) / "drinklab.lock", "ab") as file:
        until = time.monotonic() + 30  # then the other is stuck; we go on
        while not _locked(file.fileno()) and time.monotonic() < until:
            time.sleep(0.05)
        yield  # closing the file unlocks it


def _locked(file: int) -> bool:
    try:
        if os.name == "nt":
            import msvcrt

            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        return error.errno not in (errno.EACCES, errno.EAGAIN, errno.EDEADLK)  # a disk without locks: go on
    return True


def url_prefix(given: str | None = None) -> str:
    """What every address of the page begins with.

    Parameters
    ----------
    given : str, optional
        As a proxy or a JupyterHub gives it; by default what stands in JUPYTERHUB_SERVICE_PREFIX, else "/".

    Returns
    -------
    str
        With a "/" at both ends.

    Raises
    ------
    InputError
        For anything but names with "/" between them.

    Examples
    --------
    >>> url_prefix("/user/ada")
    '/user/ada/'
    """
    said = os.environ.get(_PREFIX, "") if given is None else given
    parts = [part for part in said.split("/") if part]
    written = r"(?:[\w.~@-]|%[0-9a-f]{2})+"  # a browser reads %2e%2e as ".." too, and goes elsewhere
    # what a proxy on the way makes of it when it takes the %2f apart
    as_read = [piece for part in parts for piece in re.split(r"[/\\]", unquote(part))]
    odd = len(as_read) > len(parts) or any(set(piece) == {"."} or not piece.isprintable() for piece in as_read)
    if odd or not all(re.fullmatch(written, part, re.A | re.I) for part in parts):
        allowed = "names with / between them, such as /user/ada/"
        raise InputError("--prefix" if given is not None else _PREFIX, said, allowed)
    return "/".join(["", *parts, ""])


def hold_port(given: str | int | None = None) -> socket.socket:
    """Take the port for the page, from now on: nobody else can have it before the server answers there.

    Parameters
    ----------
    given : str or int, optional
        The port that the user wants, 1 to 65535. Without it, the first free one from 8790 on is
        taken, and a line says so when that is another one.

    Returns
    -------
    socket
        That listens there, on this computer alone.

    Raises
    ------
    InputError
        If the wanted port is no port or is taken.
    """
    if given is not None:
        try:
            port = int(given)
        except ValueError:
            port = 0
        if not 1 <= port <= 65535:
            raise InputError("--port", given, "a whole number, 1 to 65535")
        if (door := _listening(port)) is None:
            raise InputError(
                "--port",
                port,
                "one that no other program uses and that you may open (leave --port out, and a free one is found)",
            )
        return door
    for port in range(PORT, PORT + 100):
        if (door := _listening(port)) is not None:
            if port != PORT:
                print(Fact("another port", taken=str(PORT), port=str(port)))
            return door
    raise InputError("--port", None, f"given, because {PORT} to {PORT + 99} are all taken")


def _listening(port: int) -> socket.socket | None:
    """On a port of this computer; None where another program does, or we may not."""
    door = socket.socket()
    if os.name != "nt":  # on Windows this option would let two programs share a port
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind(("127.0.0.1", port))
        door.listen(128)  # two may be bound, one can listen
    except OSError:
        door.close()
        return None
    return door


# --- notebooks ---------------------------------------------------------------------------------


def packaged_notebooks() -> Path:
    """Folder of the notebooks that come with Drinklab: in the package, or beside it in a checkout."""
    package = Path(__file__).parents[1]
    inside, beside = package / "notebooks", package.parent / "notebooks"
    return inside if inside.is_dir() else beside


def copy_notebooks(folder: Path, source: Path | None = None) -> list[Fact]:
    """Bring the packaged notebooks into the working folder; nothing of the user's is lost.

    A missing notebook is copied. One that the user never edited is replaced by a newer one (the
    old file is kept in ``.drinklab/replaced``). Beside one that the user did edit, the newer one
    is put under a name of its own, once. "Edited" means the cells' text: outputs change whenever a
    notebook runs, and do not count.

    Parameters
    ----------
    folder : Path
        The working folder.
    source : Path, optional
        Where the packaged notebooks are.

    Returns
    -------
    list of Fact
        What there is to tell the user.

    Raises
    ------
    InputError
        If a file cannot be written.
    """
    source = packaged_notebooks() if source is None else source
    told: list[Fact] = []
    if not source.is_dir():
        return told
    notebooks = [path for path in sorted(source.rglob("*.ipynb")) if not _hidden(path, source)]
    if folder.samefile(source):
        return []  # somebody's checkout: what lies there need not be ours, so nothing is signed
    record_file = folder / KEPT / "copied.json"
    record = _read_record(record_file)
    ours = []
    try:
        for path in notebooks:
            name = path.relative_to(source).as_posix()
            target, new = folder / name, fingerprint(path)
            if target.is_symlink() and not target.exists():
                raise files.link_to_nothing(target)
            if not target.exists():
                _copy(path, target)
            elif (found := fingerprint(target)) != new:
                if found == record.get(name):
                    _set_aside(target, folder / KEPT / "replaced")
                    _copy(path, target)
                    told.append(Fact("notebook updated", name=name, kept=KEPT))
                elif record.get(name) != new:
                    target = _new_name(target)
                    _copy(path, target)
                    beside = target.relative_to(folder).as_posix()
                    told.append(Fact("notebook of your own", name=name, beside=beside))
            if _content(target) == path.read_bytes():
                ours.append(target)
            record[name] = new
        _write_record(record_file, record)
    except OSError as error:
        raise InputError("folder", str(folder), f"a folder that you may write in ({error})") from None
    return told + _signed(ours)


def fingerprint(path: Path) -> str:
    """Hash of what a person writes in a notebook: kinds and texts of the cells, not their outputs."""
    content = _content(path)
    try:
        cells = json.loads(content)["cells"]
        written = [[c["cell_type"], "".join(c["source"]), c.get("attachments")] for c in cells]
        content = json.dumps(written, sort_keys=True).encode()
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        pass  # no notebook any more: the file as it is
    return hashlib.sha256(content).hexdigest()


def _content(path: Path) -> bytes:
    """What a file of the working folder holds; of what no notebook can be (a pipe, a device) a word in its place."""
    try:
        return files.read(path, "notebook", "a notebook", _LARGEST)
    except InputError:
        return b"no notebook"


def _signed(notebooks: list[Path]) -> list[Fact]:
    from .server import sign

    try:
        sign(*notebooks)
    except OSError as error:
        return [Fact("notebooks not signed", why=str(error))]
    return []


def _hidden(path: Path, source: Path) -> bool:
    return any(part.startswith((".", "__")) for part in path.relative_to(source).parts)


def _read_record(path: Path) -> dict[str, str]:
    try:
        record = json.loads(files.read(path, "record", "as Drinklab wrote it"))
    except (OSError, ValueError, RecursionError):
        return {}
    return record if isinstance(record, dict) else {}


def _write_record(path: Path, record: dict[str, str]) -> None:
    # Renamed when complete, so that a crash leaves no half record.
    with tempfile.NamedTemporaryFile("w", encoding="utf-8", dir=path.parent, suffix=".part", delete=False) as whole:
        json.dump(record, whole, indent=1, sort_keys=True)
    os.replace(whole.name, path)


def _copy(path: Path, target: Path) -> None:
    if not files.write_named(target, path.read_bytes()):  # whole or not at all: half a notebook would stay as theirs
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), target.name)


def _set_aside(path: Path, where: Path) -> None:
    where.mkdir(exist_ok=True)
    content = hashlib.sha256(_content(path)).hexdigest()[:8]
    os.replace(path, where / f"{path.stem}-{content}{path.suffix}")


def _new_name(path: Path) -> Path:
    count = 1
    while True:
        mark = " (newer)" if count == 1 else f" (newer {count})"
        name = path.with_stem(path.stem + mark)
        if not name.exists():
            return name
        count += 1


def _notebook(folder: Path, name: str | None) -> str | None:
    """Path of the notebook to open, within the folder; None opens the folder alone."""
    if name is None:
        return START if (folder / START).exists() else None
    path = (folder / (name if name.endswith(".ipynb") else f"{name}.ipynb")).resolve()
    if path.is_file() and path.is_relative_to(folder):
        return path.relative_to(folder).as_posix()
    return one_of("--notebook", name, sorted(path.stem for path in folder.glob("*.ipynb")), where=str(folder))


# --- the server --------------------------------------------------------------------------------


def _page(url: str, token: str, notebook: str | None) -> str:
    # reset: begin with this notebook alone, not with all the tabs of last time.
    place = f"lab/tree/{quote(notebook)}" if notebook else "lab"
    return f"{url}{place}?reset&token={token}"


def _running(folder: Path) -> dict[str, Any] | None:
    """The Drinklab that already runs on this folder, from the notes that Jupyter servers leave."""
    from jupyter_core.paths import jupyter_runtime_dir

    direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    for note in Path(jupyter_runtime_dir()).glob("jpserver-*.json"):
        try:
            server = json.loads(note.read_text("utf-8"))
            if Path(server["root_dir"]) != folder:
                continue
            # A plain JupyterLab in the same folder has no such file; a dead one does not answer.
            ask = urllib.request.Request(
                server["url"] + "lab/extensions/drinklab/static/open.js",
                headers={"Authorization": f"token {server['token']}"},
            )
            with direct.open(ask, timeout=3):
                return server
        except (OSError, ValueError, KeyError, TypeError):
            continue
    return None


def _serve(folder: Path, door: socket.socket, prefix: str, tell: Callable[[str, str], None]) -> str | None:
    """Run JupyterLab until it is stopped; `tell` gets its address and token once its page is as it should be.

    What kept it from that is returned, as the end of a sentence.
    """
    log = folder / KEPT / "server.log"
    found: list[str] = []

    async def look() -> None:
        wrong = await trouble(server)
        if wrong:
            found.append(wrong)
            server.stop(from_signal=True)
        else:
            tell(server.connection_url, server.identity_provider.token)

    # Jupyter reports each page that is closed in the middle of something, at length.
    with open(log, "w", encoding="utf-8", buffering=1) as file, contextlib.redirect_stderr(file):
        try:
            from .server import ready, trouble

            server = ready(folder, folder / KEPT, door, secrets.token_hex(24), prefix)
            server.io_loop.add_callback(look)  # when it listens, not before
            server.start()
        except InputError:
            raise
        except SystemExit as ended:
            if ended.code:
                said = log.read_text("utf-8", errors="replace").strip().rpartition("\n")[2]
                return said.rpartition("] ")[2].rstrip(".") or "it gave no reason"
        except Exception as error:
            traceback.print_exc()
            return _why(error)
    return found[0] if found else None


if __name__ == "__main__":
    sys.exit(main())
