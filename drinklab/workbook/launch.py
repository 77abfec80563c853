"""The ``drinklab`` command: open the workbook in the browser.

It copies the notebooks that come with Drinklab into a folder of the user's, starts JupyterLab on
this computer alone (127.0.0.1, with a token) and opens the start notebook. A small JupyterLab
extension (``lab/extensions/drinklab``) then runs that notebook, so that its sliders are live
without a click. Two things guard this: the notebook must ask for it in its metadata
(``{"drinklab": {"run_on_open": true}}``) and it must carry a signature made on this computer, which
notebooks get here when they are copied, or later when the user runs and saves them. One that came
by mail is shown and waits for a click.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import importlib.metadata
import json
import os
import secrets
import signal
import socket
import sys
import threading
import urllib.request
import webbrowser
from pathlib import Path
from typing import Any
from urllib.parse import quote

from drinklab.errors import InputError, one_of

START = "00_bench.ipynb"
PORT = 8790  # away from 8888, so that a JupyterLab of the user's own stays where it is
LAB = Path(__file__).parent / "lab"
KEPT = ".drinklab"  # what Drinklab itself keeps in the working folder


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
    try:
        return _run(_arguments(argv))
    except InputError as error:
        print(f"drinklab: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 0


def _run(given: argparse.Namespace) -> int:
    folder = working_folder(given.folder)
    running = _running(folder)
    if running:
        url = _page(running["url"], running["token"], _notebook(folder, given.notebook))
        print(f"Drinklab is already running for {folder}; its page is\n\n    {url}\n", flush=True)
        if not given.no_browser:
            webbrowser.open(url)
        return 0
    port = choose_port(given.port)
    for line in copy_notebooks(folder):
        print(line)
    notebook = _notebook(folder, given.notebook)
    log = folder / KEPT / "server.log"

    def tell() -> None:
        url = _page(server.connection_url, server.identity_provider.token, notebook)
        print(f"Drinklab is open at\n\n    {url}\n")
        print(f"Your notebooks are in {folder}")
        print("Keep this window open while you work. To stop, save, then press Ctrl-C here.", flush=True)
        if not given.no_browser:
            threading.Thread(target=webbrowser.open, args=(url,), daemon=True).start()

    try:
        # Jupyter reports each page that is closed in the middle of something, at length.
        with open(log, "w", encoding="utf-8", buffering=1) as file, contextlib.redirect_stderr(file):
            server = _server(folder, port)
            server.io_loop.add_callback(tell)  # when it listens, not before
            server.start()
    except SystemExit as ended:
        if ended.code:
            print(f"drinklab: JupyterLab did not start; what it said is in {log}", file=sys.stderr)
            return 1
    print("\nDrinklab is closed.")
    return 0


def _arguments(argv: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="drinklab",
        allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        description="Open the Drinklab workbook in your web browser.\n\n"
        "The first time, it makes a folder for you and puts the notebooks in it. What you change and\n"
        "save there is yours: a later version never overwrites it. All runs on this computer; no\n"
        "internet is needed.",
        epilog="Examples:\n"
        "  drinklab                         open the workbook\n"
        "  drinklab terrace                 keep this work in the folder 'terrace' instead\n"
        "  drinklab --notebook 01_strength  open at another notebook\n\n"
        "To stop: save, then press Ctrl-C in the window where you started it (or choose\n"
        "File, Shut Down in the workbook).",
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
    parser.add_argument("--version", action="version", version=f"drinklab {_version()}")
    given = parser.parse_args(argv)
    if given.place and given.folder:
        raise InputError("--folder", given.folder, f"left out when {given.place!r} is given as the folder")
    given.folder = given.place or given.folder or "~/drinklab-bench"
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
        kept.mkdir(parents=True, exist_ok=True)
        trial = kept / f"can-write-{os.getpid()}"
        trial.touch()
        trial.unlink()
    except (OSError, RuntimeError) as error:
        why = getattr(error, "strerror", None) or error
        raise InputError("folder", str(name), f"a folder that you may write in ({why})") from None
    return folder


def choose_port(given: str | int | None = None) -> int:
    """Find the port for the page.

    Parameters
    ----------
    given : str or int, optional
        The port that the user wants, 1 to 65535. Without it, the first free one from 8790 on is
        taken, and a line says so when that is another one.

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
        if not _free(port):
            raise InputError(
                "--port",
                port,
                "one that no other program uses and that you may open (leave --port out, and a free one is found)",
            )
        return port
    for port in range(PORT, PORT + 100):
        if _free(port):
            if port != PORT:
                print(f"Port {PORT} is taken by another program, so this page is on port {port}.")
            return port
    raise InputError("--port", None, f"given, because {PORT} to {PORT + 99} are all taken")


def _free(port: int) -> bool:
    with socket.socket() as trial:
        if os.name != "nt":  # on Windows this option would let two programs share a port
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind(("127.0.0.1", port))
        except OSError:
            return False
    return True


# --- notebooks ---------------------------------------------------------------------------------


def packaged_notebooks() -> Path:
    """Folder of the notebooks that come with Drinklab: in the package, or beside it in a checkout."""
    package = Path(__file__).parents[1]
    inside, beside = package / "notebooks", package.parent / "notebooks"
    return inside if inside.is_dir() else beside


def copy_notebooks(folder: Path, source: Path | None = None) -> list[str]:
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
    list of str
        What there is to tell the user, one line each.

    Raises
    ------
    InputError
        If a file cannot be written.
    """
    source = packaged_notebooks() if source is None else source
    lines: list[str] = []
    if not source.is_dir():
        return lines
    files = [path for path in sorted(source.rglob("*.ipynb")) if not _hidden(path, source)]
    if folder.samefile(source):
        return _signed(files)
    record_file = folder / KEPT / "copied.json"
    record = _read_record(record_file)
    ours = []
    try:
        for path in files:
            name = path.relative_to(source).as_posix()
            target, new = folder / name, fingerprint(path)
            if not target.exists():
                _copy(path, target)
            elif (found := fingerprint(target)) != new:
                if found == record.get(name):
                    _set_aside(target, folder / KEPT / "replaced")
                    _copy(path, target)
                    lines.append(f"{name} is updated; the one before is in {KEPT}/replaced.")
                elif record.get(name) != new:
                    target = _new_name(target)
                    _copy(path, target)
                    beside = target.relative_to(folder).as_posix()
                    lines.append(f"{name} is your own version and stays; the newer one is {beside}.")
            if target.read_bytes() == path.read_bytes():
                ours.append(target)
            record[name] = new
        _write_record(record_file, record)
    except OSError as error:
        raise InputError("folder", str(folder), f"a folder that you may write in ({error})") from None
    return lines + _signed(ours)


def fingerprint(path: Path) -> str:
    """Hash of what a person writes in a notebook: kinds and texts of the cells, not their outputs."""
    content = path.read_bytes()
    try:
        cells = json.loads(content)["cells"]
        written = [[c["cell_type"], "".join(c["source"]), c.get("attachments")] for c in cells]
        content = json.dumps(written, sort_keys=True).encode()
    except (ValueError, KeyError, TypeError):
        pass  # no notebook any more: the file as it is
    return hashlib.sha256(content).hexdigest()


def sign(*notebooks: Path) -> None:
    """Mark notebooks as trusted on this computer, as ``jupyter trust`` does.

    Raises
    ------
    OSError
        If Jupyter's data folder, where the signatures are, cannot be written.
    """
    import nbformat
    from jupyter_core.paths import jupyter_data_dir
    from nbformat.sign import NotebookNotary

    data = Path(jupyter_data_dir())
    data.mkdir(parents=True, exist_ok=True)  # the notary does not make it
    notary = NotebookNotary(data_dir=str(data))
    for path in notebooks:
        notary.sign(nbformat.read(path, as_version=4))


def _signed(notebooks: list[Path]) -> list[str]:
    try:
        sign(*notebooks)
    except OSError as error:
        return [f"The notebooks could not be marked as safe ({error}), so each waits for 'Run it'."]
    return []


def _hidden(path: Path, source: Path) -> bool:
    return any(part.startswith((".", "__")) for part in path.relative_to(source).parts)


def _read_record(path: Path) -> dict[str, str]:
    try:
        record = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return record if isinstance(record, dict) else {}


def _write_record(path: Path, record: dict[str, str]) -> None:
    whole = path.with_suffix(".part")  # renamed when complete, so that a crash leaves no half record
    whole.write_text(json.dumps(record, indent=1, sort_keys=True), "utf-8")
    os.replace(whole, path)


def _copy(path: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    with open(target, "xb") as file:  # x: fails rather than overwrites
        file.write(path.read_bytes())


def _set_aside(path: Path, where: Path) -> None:
    where.mkdir(exist_ok=True)
    content = hashlib.sha256(path.read_bytes()).hexdigest()[:8]
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


def _server(folder: Path, port: int):
    """JupyterLab on this folder, ready to start."""
    import zmq
    from jupyterlab.labapp import LabApp
    from nbformat.sign import NotebookNotary

    class Notary(NotebookNotary):
        """Sign on saving only if every code cell is trusted.

        Jupyter's own takes a cell without output for trusted, so that a notebook from a stranger
        would pass, and run on opening, after its first save.
        """

        def check_cells(self, nb) -> bool:
            code = [cell for cell in nb.cells if cell.cell_type == "code"]
            trusted = [cell.metadata.pop("trusted", False) for cell in code]  # taken off every cell
            return all(trusted)

    # All stated here, so that a configuration of the user's own cannot open the page to others.
    arguments = [
        "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        f"--IdentityProvider.token={secrets.token_hex(24)}",
        f"--ServerApp.root_dir={folder}",
        f"--ServerApp.preferred_dir={folder}",
        "--ServerApp.open_browser=False",
        "--ServerApp.log_level=WARN",
        "--LabApp.log_level=WARN",
        "--LabApp.extension_manager=readonly",
        "--LanguageServerManager.autodetect=False",  # it would run npm to look for them
        f"--LabApp.app_settings_dir={LAB / 'settings'}",
        f"--LabApp.extra_labextensions_path={LAB / 'extensions'}",
        # Layouts are kept here, so that the user's own JupyterLab looks as before.
        f"--LabApp.workspaces_dir={folder / KEPT / 'workspaces'}",
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        arguments.append("--ServerApp.allow_root=True")  # a container; else Jupyter refuses
    if zmq.has("curve"):  # else each notebook prints a warning about eavesdroppers
        arguments.append("--KernelManager.transport_encryption=auto")
    server = LabApp.initialize_server(argv=arguments)
    contents = server.contents_manager
    contents.notary = Notary(parent=contents)

    def stop(*_) -> None:
        signal.signal(signal.SIGINT, signal.SIG_DFL)  # a second Ctrl-C does not wait
        server.stop(from_signal=True)

    # Jupyter would ask "shut down (y/n)?"; nothing unsaved is on this side, so it just ends.
    for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), stop)
    return server


if __name__ == "__main__":
    sys.exit(main())
