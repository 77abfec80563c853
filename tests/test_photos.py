"""Photographs of trials: small copies, the right way up, without place and camera."""

from __future__ import annotations

import base64
import io
import re
import struct
import zlib
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from drinklab import demo, logbook, pantry, trial
from drinklab.errors import InputError
from drinklab.logbook import photos
from drinklab.recipe import Recipe
from drinklab.workbook.panels import logbook as page
from drinklab.workbook.parts import written

ORIENTATION, GPS, MAKER, GPS_LATITUDE = 0x0112, 0x8825, 0x010F, 2  # tags of Exif 2.3 (JEITA CP-3451C)


def _taken(turned: int = 1, size=(400, 300), kind="JPEG", **more) -> bytes:
    """A picture whose left half is red, with a place, a maker and a comment in it."""
    picture = Image.new("RGB", size, "blue")
    picture.paste("red", (0, 0, size[0] // 2, size[1]))
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKER] = turned, "SecretCamera"
    exif.get_ifd(GPS)[GPS_LATITUDE] = (47.0, 22.0, 11.0)
    out = io.BytesIO()
    picture.save(out, kind, exif=exif, **more)
    return out.getvalue() + b"SecretBehind"


@pytest.fixture(scope="module")
def run():
    return trial.run(Recipe.parse("50 mL gin\n20 mL fino sherry", name="Night Fare"), draws=0)


@pytest.fixture
def saved(tmp_path, run):
    return logbook.save(run, tmp_path)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_nothing_but_the_picture_comes_along(kind):
    more = {"comment": b"SecretWords"} if kind == "JPEG" else {}
    if kind == "PNG":
        more["pnginfo"] = PngImagePlugin.PngInfo()
        more["pnginfo"].add_text("Author", "SecretAuthor")
    kept = photos.small(_taken(kind=kind, **more))
    assert b"Secret" not in kept
    assert b"Exif" not in kept
    with Image.open(io.BytesIO(kept)) as picture:
        assert picture.format == "JPEG"
        assert not picture.getexif()
        assert picture.size == (400, 300)


def test_it_is_the_right_way_up_and_small():
    # Orientation 6: the camera was turned, what is left in the file is on top (Exif 2.3, tag 0x0112).
    with Image.open(io.BytesIO(photos.small(_taken(turned=6, size=(4000, 3000))))) as picture:
        assert picture.size == (1200, 1600)
        assert picture.getpixel((600, 100))[0] > 200 > picture.getpixel((600, 1500))[0]
    assert len(photos.small(_taken(size=(4000, 3000)))) < 200_000


def test_what_is_no_picture_is_one_sentence(monkeypatch):
    huge = b"\x89PNG\r\n\x1a\n"
    for name, data in (
        (b"IHDR", struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)),
        (b"IDAT", b""),
        (b"IEND", b""),
    ):
        huge += struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
    for held in (b"", b"GIF89a", b"<svg onload=alert(1)>", _taken()[:300], huge):
        with pytest.raises(InputError, match="photograph"):
            photos.small(held, "mine.jpg")
    monkeypatch.setattr(photos, "MOST_UPLOADED", 100)
    with pytest.raises(InputError, match="at most 0 MB"):
        photos.small(_taken())


def test_it_stands_with_its_trial_and_travels_with_it(saved, tmp_path, tmp_path_factory):
    before = saved.read_bytes()
    kept = logbook.add_photo(saved, _taken())
    assert saved.read_bytes() == before
    assert logbook.entry(saved).photos == (kept.name,)
    there = tmp_path_factory.mktemp("there")
    logbook.restore(logbook.back_up(tmp_path), there)
    assert logbook.photo(there / "trials" / saved.name, kept.name) == kept.read_bytes()
    with pytest.raises(InputError, match="one that is there"):
        logbook.photo(saved, "../../" + kept.name + "x")
    kept.write_bytes(b"<script>")
    with pytest.raises(InputError, match="as Drinklab kept it"):
        logbook.photo(saved, kept.name)


def test_the_page_takes_and_shows_it(saved, tmp_path):
    shown = page.panel(tmp_path)
    shown.chosen.value = [str(saved)]
    shown.photo.value = ({"name": "glass.jpg", "type": "image/jpeg", "size": 3, "content": memoryview(_taken()),
                          "last_modified": datetime.now(UTC)},)  # fmt: skip
    assert "without place and camera" in shown.said.value
    assert 'src="data:image/jpeg;base64,' in shown.detail.value
    next((tmp_path / "trials" / "photos").iterdir()).unlink()
    shown.look_again.click()
    assert "dl-problem" in shown.detail.value


def test_a_photograph_goes_into_the_write_up_small_with_its_words(tmp_path):
    """A page with two full photographs of noise, which compress worst, stays under 1.5 MB; a changed drink has none."""
    noise = np.random.default_rng(1).integers(0, 255, (1500, 2000, 3), dtype=np.uint8)
    out = io.BytesIO()
    Image.fromarray(noise).save(out, "JPEG", quality=90)
    made = trial.run(next(iter(demo.settings(pantry.load()).values())), draws=50)
    path = logbook.save(made, tmp_path, title="First & <last>")
    for _ in range(3):
        logbook.add_photo(path, out.getvalue())
    page, text = written.write_up(made, tmp_path, came_from=path.name)
    html = page.read_text()
    assert len(page.read_bytes()) <= 1_500_000
    pictures = re.findall(r'<img src="data:image/jpeg;base64,([^"]+)" alt="([^"]+)"', html)
    assert len(pictures) == written.MOST_PHOTOS
    for data, alt in pictures:
        picture = Image.open(io.BytesIO(base64.b64decode(data)))
        assert picture.format == "JPEG"
        assert not picture.getexif()
        assert made.recipe.name.split(",")[0] in alt
        assert "First &amp; &lt;last&gt;" in alt
    assert "base64" not in text.read_text()
    other = replace(made.setting, recipe=made.recipe.scaled(1.2))
    again, _ = written.write_up(trial.run(other, draws=0), tmp_path, came_from=path.name)
    assert "image/jpeg" not in again.read_text()
