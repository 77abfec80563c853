"""The page as a PDF, with its fonts in it, printed by a browser that is on this computer already; nothing is fetched.

Why a browser and not a library: it prints the very page that a reader sees, scripts such as Arabic and Chinese with the
fonts that are there, and nothing more has to be installed. Where there is none, the page says how to print itself.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from .. import files
from ..errors import InputError, Told

# Where a browser of the Chromium family is: on the path, or in the places where Windows and macOS put programs.
_ON_PATH = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "microsoft-edge", "msedge")
_ELSEWHERE = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
)
_FLAGS = (
    "--headless=new", "--disable-gpu", "--no-first-run", "--disable-sync", "--disable-extensions",
    "--disable-background-networking", "--disable-component-update", "--no-pdf-header-footer",
    "--host-resolver-rules=MAP * ~NOTFOUND",  # no name is looked up: nothing can be asked of another computer
)  # fmt: skip
_LONGEST = 90.0  # [s]


def browser() -> str | None:
    """The program that can print the page, if there is one."""
    found = next((path for name in _ON_PATH if (path := shutil.which(name))), None)
    return found or next((path for path in _ELSEWHERE if Path(path).is_file()), None)


def pdf(page: str | Path, *, whole: bool = False) -> Path:
    """Print a write-up beside itself, under its own name; a PDF that is there already gets a number.

    Parameters
    ----------
    page : path
        The write-up, as `save` wrote it.
    whole : bool
        Whether what is folded is printed too.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        If there is no page, no browser that can print it, or it does not print.
    """
    page = Path(page)
    text = _alone(files.read_text(page, "write-up"), page.name)
    program = browser()
    if program is None:
        raise InputError("PDF", Told("without a browser to print it"), _HOW)
    try:
        held = _printed(text.replace("<details", "<details open") if whole else text, program)
    except (OSError, subprocess.TimeoutExpired):
        held = b""
    if not (held.startswith(b"%PDF") and held.rstrip().endswith(b"%%EOF")):  # a full disk cuts it off
        raise InputError("PDF", Told("not printed by the browser"), _HOW)
    return files.write_beside(page, ".pdf", held)


def _printed(text: str, program: str) -> bytes:
    """What the browser makes of a page, in a folder that is gone afterwards."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        source, made = Path(folder) / "page.html", Path(folder) / "page.pdf"
        # Its mark of UTF-8 counts for more than what the page says of its own letters.
        source.write_text(text, encoding="utf-8-sig")
        # A browser that runs as root has no sandbox: see `_alone`.
        root = ("--no-sandbox",) if sys.platform != "win32" and os.geteuid() == 0 else ()
        order = [program, *_FLAGS, *root, f"--user-data-dir={folder}/profile", f"--print-to-pdf={made}"]
        subprocess.run([*order, source.as_uri()], capture_output=True, timeout=_LONGEST, check=False)
        return made.read_bytes()


# Printed from disk, a page could read any file that its person may: whoever wrote it, nothing loads, no script runs.
_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
_DOCTYPE = re.compile(r"\s*<!doctype html>", re.IGNORECASE)
_META = re.compile(r"<meta\b", re.IGNORECASE)
_OUR_META = re.compile(
    r'<meta (?:charset="utf-8"|(?:name="[^"]*"|http-equiv="Content-Security-Policy") content="[^"]*")>'
)


def _alone(text: str, name: str) -> str:
    """A page as it may be printed: it loads nothing, runs nothing and leads nowhere else.

    Raises
    ------
    InputError
        For what is no page of ours, or would go on to another by itself, which no policy forbids.
    """
    begins = _DOCTYPE.match(text)
    if begins is None or len(_META.findall(text)) != len(_OUR_META.findall(text)):
        raise InputError("page to print", Told("another's, or damaged"), "one as Drinklab writes it", name)
    rest = text[begins.end() :]
    return f'<!doctype html><meta http-equiv="Content-Security-Policy" content="{_POLICY}">{rest}'


_HOW = "made where Chromium, Chrome or Edge is installed; or open the page and print it to a PDF"
