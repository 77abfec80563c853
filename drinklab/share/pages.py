"""Which files are finished pages that may be handed on, and what they are about.

Only a page of ours that says of itself what it is counts; a key to a blind tasting, a notebook, a saved trial or any
other file never does, wherever it lies.
"""

from __future__ import annotations

import html
import os
import re
import stat
from dataclasses import dataclass
from pathlib import Path

from .. import files
from ..errors import InputError

# What a page says of itself (`<meta name="drinklab-page" content="...">`), and what a list calls it.
KINDS = {"write-up": "Write-up", "bar card": "Bar card", "what-if": "What-if page", "worksheet": "Worksheet"}
INDEX = "index"  # the page that a site is entered by, which is handed on with what it lists
MOST = 5_000_000  # of a page [bytes]
_HEAD = 4096  # letters in which a page says what it is
_OURS = re.compile(r'<meta name="generator" content="Drinklab [^"<>]*">')
_KIND = re.compile(r'<meta name="drinklab-page" content="([a-z -]{1,20})">')
_LINKED = re.compile(r'<script type="application/ld\+json">(.*?)</script>', re.DOTALL)
_TITLE = re.compile(r"<title>([^<]*)</title>")
_NAME = re.compile(r"(?![.~])[^/\\:*?\"<>|\x00-\x1f]{1,200}\.html")


@dataclass(frozen=True, slots=True)
class Page:
    """A finished page: its path within the folder, what it is, its title, and its text."""

    path: str
    kind: str
    title: str
    text: str


def read_page(folder: str | Path, path: str, *, index: bool = False) -> Page | None:
    """The finished page at a path within a folder; None for anything else, whatever it is.

    Parameters
    ----------
    folder : path
    path : str
        Names joined by "/", as `finished` lists them: no way up, no hidden name, no link on the way.
    index : bool
        Whether the page that lists the others counts too.
    """
    names = path.split("/")
    if not names or not _NAME.fullmatch(names[-1]) or any(not _plain_name(name) for name in names):
        return None
    root = Path(folder)
    for end in range(1, len(names) + 1):
        try:
            found = os.lstat(root.joinpath(*names[:end]))
        except (OSError, ValueError):
            return None
        if not (stat.S_ISDIR if end < len(names) else stat.S_ISREG)(found.st_mode):
            return None  # a link, a pipe, a device
    try:
        text = files.read(root.joinpath(*names), "page", "a finished page", MOST).decode("utf-8")
    except (InputError, OSError, UnicodeDecodeError):
        return None
    kind = kind_of(text)
    if kind is None and not (index and _told(text) == INDEX):
        return None
    title = _TITLE.search(text[:_HEAD])
    return Page(path, kind or INDEX, html.unescape(title[1]).strip() if title else names[-1], text)


def kind_of(text: str) -> str | None:
    """What a page of ours is, by its own word; None for one that is not to be handed on, or not ours.

    >>> kind_of('<meta name="generator" content="Drinklab 1"><meta name="drinklab-page" content="what-if">')
    'what-if'
    >>> kind_of('<meta name="generator" content="Drinklab 1"><title>The key</title>') is None
    True
    """
    told = _told(text)
    if told is None and _OURS.search(text[:_HEAD]):
        # A write-up of an earlier version: it holds its drink.
        linked = _LINKED.search(text)
        return "write-up" if linked and '"drinklab"' in linked[1] else None
    return told if told in KINDS else None


def _told(text: str) -> str | None:
    if not _OURS.search(text[:_HEAD]):
        return None
    found = _KIND.search(text[:_HEAD])
    return found[1] if found else None


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
        inner[:] = sorted(name for name in inner if _plain_name(name))
        for name in sorted(names):
            path = (Path(where) / name).relative_to(root).as_posix()
            if name.endswith(".html") and (page := read_page(root, path)):
                found.append(page)
    return sorted(found, key=lambda page: page.path)


def _plain_name(name: str) -> bool:
    """Whether a file or folder goes by a name that means itself on any system, and is not hidden.

    >>> [_plain_name(name) for name in ("writeups", "..", ".git", "a\\\\b", "c:", "~")]
    [True, False, False, False, False, False]
    """
    return (
        bool(name)
        and name[0] not in ".~"
        and not re.search(r'[/\\:*?"<>|\x00-\x1f]', name)
        and name == name.strip(". ")
    )
