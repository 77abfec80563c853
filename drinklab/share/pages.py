"""Which files are finished pages that may be handed on.

Only a page of ours that says of itself what it is counts; a key to a blind tasting, a notebook, a saved trial or any
other file never does, wherever it lies and whatever it is called.
"""

from __future__ import annotations

import html
import os
import re
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from ..errors import InputError

# What a page says of itself (`<meta name="drinklab-page" content="...">`), and what a list calls it.
KINDS = {"write-up": "Write-up", "bar card": "Bar card", "what-if": "What-if page", "worksheet": "Worksheet"}
INDEX = "index"  # the page that lists the others
MOST = 5_000_000  # of a page [bytes]
_HEAD = 4096  # letters in which a page says what it is
_OURS = re.compile(r'<meta name="generator" content="Drinklab [^"<>]*">')
_KIND = re.compile(r'<meta name="drinklab-page" content="([a-z -]{1,20})">')
_LINKED = re.compile(r'<script type="application/ld\+json">(.*?)</script>', re.DOTALL)
_TITLE = re.compile(r"<title>([^<]*)</title>")
_ODD = re.compile(r'[/\\:*?"<>|\x00-\x1f\x7f]')  # in a name: a way elsewhere, on one system or another
_LONGEST, _DEEPEST = 200, 8


@dataclass(frozen=True, slots=True)
class Page:
    """A finished page: its path within the folder, what it is, its title, and its text."""

    path: str
    kind: str
    title: str
    text: str


def read_page(folder: str | Path, path: str) -> Page | None:
    """The finished page at a path within a folder; None for anything else, whatever it is.

    Parameters
    ----------
    folder : path
    path : str
        Names joined by "/", as `finished` lists them: no way up, no hidden name, no link on the way.
    """
    names = path.split("/")
    if len(names) > _DEEPEST or not all(map(_plain_name, names)) or not names[-1].endswith(".html"):
        return None
    try:
        text = _read(Path(folder), names).decode("utf-8")
    except (OSError, ValueError):
        return None
    kind = kind_of(text)
    if kind is None:
        return None
    title = _TITLE.search(text[:_HEAD])
    return Page(path, kind, (html.unescape(title[1]).strip() if title else "") or names[-1], text)


def _read(root: Path, names: list[str]) -> bytes:
    """A plain file, each folder on its way opened from within the one before: no link is followed, not even a new one.

    Raises
    ------
    OSError, ValueError
        Where there is no such file.
    """
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)
    if os.open not in os.supports_dir_fd:  # Windows: looked at first, and once more when it is open
        for end in range(1, len(names) + 1):
            seen = os.lstat(root.joinpath(*names[:end]))
            if not (stat.S_ISDIR if end < len(names) else stat.S_ISREG)(seen.st_mode):
                raise ValueError("no plain file")
        where = root.joinpath(*names)
        if where.resolve() != root.resolve().joinpath(*names):
            raise ValueError("elsewhere")
        with open(os.open(where, flags), "rb") as file:
            return _whole(file)
    at = os.open(root, os.O_RDONLY | os.O_DIRECTORY)
    try:
        for name in names[:-1]:
            inner = os.open(name, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW, dir_fd=at)
            os.close(at)
            at = inner
        with open(os.open(names[-1], flags | os.O_NOFOLLOW, dir_fd=at), "rb") as file:
            return _whole(file)
    finally:
        os.close(at)


def _whole(file: BinaryIO) -> bytes:
    seen = os.fstat(file.fileno())
    if not stat.S_ISREG(seen.st_mode) or seen.st_size > MOST:
        raise ValueError("no page")
    return file.read(MOST)


def kind_of(text: str) -> str | None:
    """What a page of ours is, by its own word; None for one that is not to be handed on, or not ours.

    >>> kind_of('<meta name="generator" content="Drinklab 1"><meta name="drinklab-page" content="what-if">')
    'what-if'
    >>> kind_of('<meta name="generator" content="Drinklab 1"><title>The key</title>') is None
    True
    """
    head = text[:_HEAD]
    if not _OURS.search(head):
        return None
    told = _KIND.search(head)
    if told is None:  # a write-up of an earlier version: it holds its drink
        linked = _LINKED.search(text)
        return "write-up" if linked and '"drinklab"' in linked[1] else None
    return told[1] if told[1] in KINDS else None


def is_index(text: str) -> bool:
    """Whether a page is one of ours that lists the others."""
    told = _KIND.search(text[:_HEAD])
    return bool(_OURS.search(text[:_HEAD]) and told and told[1] == INDEX)


def finished(folder: str | Path) -> list[Page]:
    """All finished pages of a folder and of the folders in it, in the order of their paths.

    Raises
    ------
    InputError
        If it is no folder.
    """
    root = Path(folder)
    if not root.is_dir():
        raise InputError("folder", str(folder), "a folder with finished pages in it")
    found = []
    for where, inner, names in os.walk(root, followlinks=False):
        inside = Path(where).relative_to(root)
        inner[:] = [name for name in inner if _plain_name(name)] if len(inside.parts) < _DEEPEST - 1 else []
        paths = [(inside / name).as_posix() for name in names if name.endswith(".html")]
        found += [page for path in paths if (page := read_page(root, path))]
    return sorted(found, key=lambda page: page.path)


def _plain_name(name: str) -> bool:
    """Whether a file or folder goes by a name that means itself on any system, and is not hidden.

    >>> [_plain_name(name) for name in ("writeups", "..", ".git", "a\\\\b", "c:", "~", "a.html ", "")]
    [True, False, False, False, False, False, False, False]
    """
    return 0 < len(name) <= _LONGEST and name[0] not in ".~" and not _ODD.search(name) and name == name.strip(". ")
