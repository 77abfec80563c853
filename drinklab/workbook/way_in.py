"""The way into the workbook: its address holds a token, and whoever shares the computer can read command lines (`ps`).

Where that is so the browser is not started with the address but with a page that only this user can read, and that
leads there. It lies where a browser that is shut off from part of the disk can read it too: those of snaps read neither
/tmp nor what is hidden at the top of a home folder (the interface "home" of snapd, from memory). Where the browser may
be on another computer, or no such page can be kept from others, nothing is opened: the address is printed anyway.
"""

from __future__ import annotations

import contextlib
import errno
import html
import os
import platform
import stat
import sys
import tempfile
import webbrowser
import zlib
from collections.abc import Iterator
from pathlib import Path
from string import Template
from threading import Thread

from ..facts import Fact, say

_TEMPLATE = Path(__file__).parents[1] / "templates" / "way_in.html"
_PAGE = "open.htm"  # no suffix of what a backup takes along
# What stands in BROWSER where an editor hands addresses on to the computer that one sits at; from memory.
_ELSEWHERE = ("vscode-server", "code-server", "helpers/browser")


def open_page(url: str, folder: Path, kept: Path) -> Thread | None:
    """Open an address with a token in the browser; where that would tell it to others, say so and open nothing.

    Parameters
    ----------
    url : str
    folder : Path
        The working folder.
    kept : Path
        In it, where Drinklab keeps its own.

    Returns
    -------
    Thread or None
        That waits for the browser.
    """
    place = address(url, folder, kept)
    if place is None:
        print(Fact("no browser opened"), flush=True)
        return None
    browser = Thread(target=webbrowser.open, args=(place,), daemon=True)
    browser.start()
    return browser


def address(url: str, folder: Path, kept: Path) -> str | None:
    """What to start the browser with: the address itself, or a page that leads there; None where neither will do."""
    if not _others_see():
        return url
    if not any(word in os.environ.get("BROWSER", "") for word in _ELSEWHERE):
        for place in _places(folder, kept):
            with contextlib.suppress(OSError):
                _refuse_shared(place.parent)
                _write(place, url)
                return place.as_uri()
    return None


def forget(folder: Path, kept: Path) -> None:
    """Take the page away: what it leads to is closed."""
    for place in _places(folder, kept) if _others_see() else ():
        with contextlib.suppress(OSError):
            if not place.is_symlink() and place.stat().st_uid == os.geteuid():
                place.unlink()


def _others_see() -> bool:
    """Whether others can read what a browser here is started with.

    Not where it runs on the system around this one (Windows around its Linux, a Chromebook), which cannot read our
    files; and on a Mac and on Windows the address is on no command line of ours.
    """
    if not sys.platform.startswith("linux"):
        return False
    inside = "microsoft" in platform.release().lower() or os.environ.get("WSL_DISTRO_NAME")
    return not inside and not Path("/dev/.cros_milestone").exists()


def _places(folder: Path, kept: Path) -> Iterator[Path]:
    """Where the page may lie, the best first."""
    try:
        home = Path.home().resolve()
    except RuntimeError:  # of a user whom this system does not know
        yield kept / _PAGE
        return
    seen = kept.is_relative_to(home) and kept.relative_to(home).parts[0][0] != "."
    if seen:
        yield kept / _PAGE
    yield home / f"drinklab-{zlib.crc32(os.fsencode(folder)):08x}-{_PAGE}"
    if not seen:
        yield kept / _PAGE


def _refuse_shared(folder: Path) -> None:
    """OSError where somebody else may put another page in the place of ours before the browser opens it.

    That is so where others may write in the folder or in one above it: the group too, unless a sticky bit keeps from
    them what is ours.
    """
    for at in (here := folder.resolve(), *here.parents):
        found = at.stat()
        shared = found.st_mode & 0o022 and (at == here or not found.st_mode & stat.S_ISVTX)
        if shared or found.st_uid not in (0, os.geteuid()):
            raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))


def _write(place: Path, url: str) -> None:
    """The page, for nobody else to read; OSError where the disk keeps nothing from others."""
    told = {"url": url, "title": say(Fact("way in")), "leads": say(Fact("way in: leads"))}
    page = Template(_TEMPLATE.read_text(encoding="utf-8"))  # a start waits for no engine of templates
    text = page.substitute({name: html.escape(words) for name, words in told.items()})
    with tempfile.NamedTemporaryFile("wb", dir=place.parent, suffix=".part", delete=False) as whole:
        try:
            found = os.fstat(whole.fileno())
            if stat.S_IMODE(found.st_mode) & 0o077 or found.st_uid != os.geteuid():
                raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))
            whole.write(text.encode())
            whole.flush()
            os.replace(whole.name, place)
        except BaseException:
            os.unlink(whole.name)
            raise
