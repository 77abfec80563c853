"""Photographs of what came out: copied small into the folder of trials, without where and by what they were taken."""

from __future__ import annotations

import contextlib
import functools
import hashlib
import io
import warnings
from datetime import datetime
from pathlib import Path

from .. import files
from ..errors import InputError, Told
from ..files import write_new
from . import records
from .listing import entry

PHOTOS = "photos"
MOST_UPLOADED = 40_000_000  # a large camera's JPEG has 20 MB [bytes]
MOST_SIDE = 1600  # enough for a page in print [pixels]
_MOST_PIXELS = 120_000_000  # beyond any camera; what claims more would fill the memory
_MOST_LONG = 65_535  # a side of any JPEG, ITU-T T.81, table B.2 [pixels]
# A progressive JPEG of a camera or an editor has some ten; each is drawn over the whole picture, and 40 MB hold so many
# that it takes hours.
_MOST_SCANS, _SCAN = 200, b"\xff\xda"
_KINDS = ("JPEG", "PNG", "WEBP")
_QUALITY = 85
# A page is at most 1.5 MB, of which its chart takes 1.2; two pictures of this, as text in it, take 0.25 MB. [bytes]
ON_PAGE = 90_000


def small(held: bytes, name: str = "photograph") -> bytes:
    """A photograph as a small JPEG that holds the picture and nothing else.

    Its pixels are drawn anew, the right way up, so that place, time, camera, thumbnails and whatever stands behind the
    picture in the file do not come along.

    Parameters
    ----------
    held : bytes
        JPEG, PNG or WebP.
    name : str
        Of the file, for the error.

    Raises
    ------
    InputError
        For anything else, or a picture too large.
    """
    from PIL import Image, ImageOps  # loads on first use

    allowed = "a JPEG, PNG or WebP picture"
    if len(held) > MOST_UPLOADED:
        raise InputError(
            "photograph", Told(f"{len(held) / 1e6:.0f} MB large"), f"at most {MOST_UPLOADED / 1e6:.0f} MB", name
        )
    if held.startswith(b"\xff\xd8") and (scans := held.count(_SCAN)) > _MOST_SCANS:
        raise InputError("photograph", Told(f"drawn over {scans:,} times"), "an ordinary JPEG", name)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of odd metadata, which is left behind
            picture: Image.Image = Image.open(io.BytesIO(held), formats=_KINDS)
            if picture.width * picture.height > _MOST_PIXELS or max(picture.size) > _MOST_LONG:
                raise InputError("photograph", Told(f"{picture.width} x {picture.height} pixels"), "smaller", name)
            picture.draft("RGB", (2 * MOST_SIDE, 2 * MOST_SIDE))
            picture.thumbnail((MOST_SIDE, MOST_SIDE))  # before it is turned, which takes as much memory again
            picture = ImageOps.exif_transpose(picture)
            bare = Image.new("RGB", picture.size, "white")
            seen = picture.convert("RGBA")
            bare.paste(seen, mask=seen.getchannel("A"))
    except InputError:
        raise
    except Exception:  # a decoder's errors are of many kinds, and none of them says more to a person
        raise InputError("photograph", Told("not readable"), allowed, name) from None
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue()


def within(held: bytes, most: int) -> bytes:
    """A kept photograph in at most so many bytes, smaller as need be.

    It is drawn anew, as when it was kept: what lies in the folder may be of another hand.

    >>> len(within(small(_blank()), 2000)) <= 2000
    True
    """
    from PIL import Image

    picture = Image.open(io.BytesIO(small(held)), formats=("JPEG",)).convert("RGB")
    for side in (1200, 1000, 800, 640, 480, 320, 160):
        for quality in (_QUALITY, 70):
            picture.thumbnail((side, side))
            out = io.BytesIO()
            picture.save(out, "JPEG", quality=quality, optimize=True)
            if len(out.getvalue()) <= most:
                return out.getvalue()
    raise InputError("photograph", Told(f"{len(out.getvalue())} bytes at its smallest"), f"at most {most}")


def _blank() -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (2000, 1500), "white").save(out, "PNG")
    return out.getvalue()


def add_photo(path: str | Path, held: bytes, name: str = "photograph") -> Path:
    """Keep a small copy of a photograph with a saved trial, as a new file; the trial's own stays.

    Parameters
    ----------
    path : path
        Of the trial.
    held : bytes
    name : str
        Of the photograph's file, for the error.

    Returns
    -------
    Path
        Of the copy, in `trials`/photos.

    Raises
    ------
    InputError
        For no picture, no such trial, or a folder that cannot be written to.
    """
    path = Path(path)
    saved = entry(path).time
    picture = small(held, name)
    # Its own mark: where two folders come together, none takes another's place under the name that a record has.
    mark = hashlib.sha256(picture).hexdigest()[:8]
    made = write_new(path.parent / PHOTOS, f"{datetime.now():%Y-%m-%d}_{path.stem}_{mark}", {".jpg": picture})[0]
    records.write(path, saved, photo=made.name)
    return made


def _place(path: str | Path, name: str) -> Path:
    return Path(path).parent / PHOTOS / Path(name).name


def photo(path: str | Path, name: str) -> bytes:
    """A kept photograph of the trial in `path`.

    Raises
    ------
    InputError
        If it is not there, or no picture of ours.
    """
    where = _place(path, name)
    try:
        held = files.read(where, "photograph", "a picture that Drinklab kept")
    except OSError:
        raise InputError("photograph", name, "one that is there") from None
    if not held.startswith(b"\xff\xd8\xff"):
        raise InputError("photograph", Told("no JPEG"), "as Drinklab kept it", where.name)
    return held


def shown(path: str | Path, name: str) -> bytes:
    """A kept photograph of the trial in `path`, small enough for a page (`ON_PAGE`). Errors as for `photo`."""
    with contextlib.suppress(OSError):
        seen = _place(path, name).stat()
        return _shown(Path(path), name, (seen.st_mtime_ns, seen.st_size))
    return within(photo(path, name), ON_PAGE)


@functools.lru_cache(maxsize=64)  # drawn anew it takes a fifth of a second, each time that a trial is looked at
def _shown(path: Path, name: str, stamp: tuple[int, int]) -> bytes:
    return within(photo(path, name), ON_PAGE)
