"""A notebook that runs a write-up again, beside its page."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from .. import files, texts
from .filling import Inline
from .page import for_markdown
from .reading import rerun

_CELLS = "writeup.ipynb.json"  # in templates: what each cell says, "{file}" for the page's name


def notebook(page: str | Path) -> Path:
    """Write a notebook that reruns a write-up of the same folder and holds a reader's own figures beside it.

    Parameters
    ----------
    page : path
        The write-up, as `save` wrote it.

    Returns
    -------
    Path
        A notebook of the page's name; one that is there already stays, and the new one gets a number.

    Raises
    ------
    InputError
        If it is no write-up, or the folder cannot be written to.
    """
    page = Path(page)
    # Python's own quoting keeps a name from ending its string; each is put in once, and never looked through again.
    put = {"{title}": for_markdown(Inline(texts.line(rerun(page).recipe.name))), "{file}": repr(page.name)}
    told = json.loads((Path(__file__).parents[1] / "templates" / _CELLS).read_text(encoding="utf-8"))
    cells = []
    for number, (kind, lines) in enumerate(told):
        source = re.sub(r"\{title\}|\{file\}", lambda found: put[found[0]], "\n".join(lines))
        more: dict[str, Any] = {"execution_count": None, "outputs": []} if kind == "code" else {}
        cells.append({"cell_type": kind, "id": f"cell-{number}", "metadata": {}, "source": source} | more)
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    made = {"cells": cells, "metadata": kernel, "nbformat": 4, "nbformat_minor": 5}
    return files.write_beside(page, ".ipynb", json.dumps(made, ensure_ascii=False, indent=1).encode())
