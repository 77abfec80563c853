"""The drawing engine of live charts: its code, built once and kept; it imports nothing that a server does without."""

from __future__ import annotations

import contextlib
import functools
import hashlib
import os
import re
import tempfile
from importlib.metadata import version
from pathlib import Path

from jupyter_core.paths import jupyter_data_dir

# The drawing engine answers to this one name of ours, so it cannot clash with another chart's engine.
_ENGINE = "globalThis.drinklabVega = vegaEmbed;"


@functools.cache
def vega_bundle() -> str:
    """JavaScript of the drawing engine, whole: no page that holds it needs the internet.

    It defines `globalThis.drinklabVega`, the function `vegaEmbed`. Building takes
    about 2 s, so the text is kept in Jupyter's data folder under the version it
    was built with; where that folder cannot be written, it is built anew in each process.

    Returns
    -------
    str
        About 0.9 million characters, safe inside a `<script>` element.
    """
    made_by = f"{version('vl-convert-python')}-{hashlib.sha256(_ENGINE.encode()).hexdigest()[:8]}"
    end = f"/* drinklab {made_by} */\n"
    kept = data_folder() / f"vega-{made_by}.js"
    try:
        text = kept.read_text(encoding="utf-8")
        if text.endswith(end):
            return text
    except (OSError, UnicodeDecodeError):
        pass

    import vl_convert

    text = vl_convert.javascript_bundle(_ENGINE)
    # Addresses of help pages, never opened by us: taken out so that a page can be shown to hold none.
    # (The w3.org names stay: they are the names of the SVG language, not places to fetch from.)
    text = re.sub(r"https?://(?!www\.w3\.org/)[^\s\"'`)<>]*", "", text)
    text = text.replace("</script", r"<\/script") + "\n" + end
    keep(kept, text)
    return text


def data_folder() -> Path:
    """Where what takes long to build, and what marks a notebook as ours, is kept."""
    return Path(jupyter_data_dir()) / "drinklab"


def keep(path: Path, text: str) -> None:
    """Write it whole or not at all; where that cannot be, it is made anew in each process."""
    with contextlib.suppress(OSError, UnicodeEncodeError):
        path.parent.mkdir(parents=True, exist_ok=True)
        part, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
        try:
            with os.fdopen(part, "w", encoding="utf-8") as file:
                file.write(text)
            os.replace(name, path)
        except OSError:
            Path(name).unlink(missing_ok=True)
