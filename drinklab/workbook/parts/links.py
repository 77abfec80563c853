"""A file of the working folder as a link that opens it from the page."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from urllib.parse import quote

from .html import done_words, element, join

_KEPT = ".drinklab"  # the launcher's own folder: where it stands is what JupyterLab serves


def link(path: str | Path, name: str = "", under: str = "files") -> str:
    """A file by its name, as a link that opens it in a tab of its own.

    JupyterLab serves what lies in its folder under `files/`, and nothing hidden. A file elsewhere, and one seen by no
    launcher of ours, is named alone.

    Parameters
    ----------
    path : path
    name : str, optional
        What to call it; its name by default.
    under : str
        Where JupyterLab has it: "files" as it is, "lab/tree" in the workbook.
    """
    path = Path(os.path.normpath(Path(path).absolute()))
    name = name or path.name
    root = next((place.resolve() for place in path.parents if (place / _KEPT).is_dir()), None)
    there = path.resolve()  # a link of the file system may lead out of the folder
    if root is None or not there.is_file() or not there.is_relative_to(root):
        return name
    inside = there.relative_to(root)
    if any(part.startswith(".") for part in inside.parts):
        return name
    base = os.environ.get("JUPYTERHUB_SERVICE_PREFIX", "/").rstrip("/")
    href = f"{base}/{under}/{quote(inside.as_posix(), safe='/')}"
    return element("a", name, href=href, target="_blank", rel="noopener")


def notebook(folder: str | Path, name: str) -> str:
    """A notebook of the working folder by its name, as a link that opens it in JupyterLab beside this page."""
    return link(Path(folder) / f"{name}.ipynb", name, "lab/tree")


def written(before: str, paths: Iterable[str | Path], after: str = "", *, folder: bool = False) -> str:
    """What was written, each file as a link (with the name of its folder), for screen readers too."""
    links = (link(path, f"{path.parent.name}/{path.name}" if folder else "") for path in map(Path, paths))
    return done_words(before, join(links, ", "), after)
