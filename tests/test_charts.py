"""The charts: what is in them, what is held at the edge, and that nothing is fetched."""

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from long_run import dozen
from PIL import ImageFont

from drinklab import classics, demo, pantry, trial
from drinklab.errors import InputError
from drinklab.workbook import engine
from drinklab.workbook.charts import live, look, pictures
from drinklab.workbook.charts import place as place_charts
from drinklab.workbook.parts import bench_words

CLASSICS = [
    {
        "name": f"{family} {number}",
        "family": family,
        "technique": "shaken",
        "abv": 8.0 + 2.5 * place + 0.4 * number,
        "sugar": 30.0 + 7 * number,
        "acid": 1.0 + 0.8 * place + 0.1 * number,
    }
    for place, family in enumerate(look.FAMILIES)
    for number in range(9)
]
# One that no sensible axis would stretch to.
CLASSICS.append(
    {"name": "Syrup Bowl", "family": "other", "technique": "built", "abv": 12.0, "sugar": 480.0, "acid": 3.0}
)
ME = {
    "label": "Clear Line", "abv": 14.2, "sugar": 62.0, "acid": 5.1, "abv_low": 13.5, "abv_high": 14.9,
    "sugar_low": 56.0, "sugar_high": 68.0, "acid_low": 4.6, "acid_high": 5.6,
}  # fmt: skip
NEAR = [
    {"n": n} | {key: row[key] for key in ("name", "abv", "sugar", "acid")} for n, row in enumerate(CLASSICS[10:15], 1)
]
TRAIL = [{"order": n, "age": 1 - n / 5, "abv": 20.0 - n, "sugar": 40.0 + 4 * n, "acid": 5.0} for n in range(6)]
BASE = {"abv": 18.0, "sugar": 45.0, "acid": 6.0}


@pytest.fixture(scope="module")
def altair_place():
    return place_charts.place_chart(CLASSICS, "sour")


@pytest.fixture(scope="module")
def place(altair_place):
    """Written out once: Altair takes a second for it each time."""
    picture, rows = live.parted(altair_place)
    return picture | {"datasets": picture.get("datasets", {}) | rows}


@pytest.fixture(scope="module")
def place_page(place):
    """On a page, beside another whose engine it uses."""
    return pictures.interactive_html(place, engine=False, me=[ME])


@pytest.fixture(scope="module")
def full_svg(place):
    return pictures.static_svg(place, me=[ME], near=NEAR, trail=TRAIL, base=[BASE])


def texts(svg: str) -> list[str]:
    return [part.text or "" for part in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


def domains(spec) -> dict[str, set]:
    """Every axis domain that the specification states, by axis title."""
    found: dict[str, set] = {}

    def walk(part):
        if isinstance(part, dict):
            if "title" in part and isinstance(part.get("scale"), dict) and "domain" in part["scale"]:
                found.setdefault(part["title"], set()).add(tuple(map(str, part["scale"]["domain"])))
            for inner in part.values():
                walk(inner)
        elif isinstance(part, list):
            for inner in part:
                walk(inner)

    walk(spec)
    return found


def test_import_of_the_package_loads_no_chart():
    code = (
        "import sys, drinklab;"
        "late = {'altair', 'anywidget', 'vl_convert', 'drinklab.workbook.charts.live', 'drinklab.workbook.charts.place'};"
        "print(sorted(late & set(sys.modules)))"
    )
    got = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=os.environ, check=True)
    assert got.stdout.strip() == "[]"


def test_altair_accepts_the_charts(altair_place, place):
    """Written out, it is the chart that a page is given unwritten."""
    altair_place.to_dict()
    assert live.parted(place) == live.parted(altair_place)


def test_place_chart_says_what_it_shows(place, full_svg):
    shown = texts(full_svg)
    for text in ("Strength [% vol]", "Acid [g/L]", "Clear Line", "before", "sour: middle 80 % of 9 classics"):
        assert text in shown
    assert shown.count("Sugar [g/L]") == 2
    for row in NEAR:
        assert f"{row['n']}  {row['name']}" in shown
    # The key keeps the fixed order.
    key = [text for text in shown if text in look.FAMILIES]
    assert key == list(look.FAMILIES)
    assert "NaN" not in full_svg
    assert "undefined" not in full_svg


def test_place_chart_fits_the_page(full_svg):
    width, height = (float(ET.fromstring(full_svg).get(side)) for side in ("width", "height"))
    assert width <= 772
    assert 340 <= height <= 385


def test_room_is_kept_so_that_axes_do_not_shift(place, full_svg):
    """The panels stay where they are when the drink leaves them."""
    far = pictures.static_svg(
        place,
        me=[{"label": "Far", "abv": 80, "sugar": 900, "acid": 90}],
        base=[{"abv": 80, "sugar": 900, "acid": 90}],
    )
    for side in ("width", "height"):
        assert ET.fromstring(far).get(side) == ET.fromstring(full_svg).get(side)


def test_descriptions(place):
    spec, _ = live.parted(place)
    assert "73 classic drinks" in spec["description"]
    assert "sour" in spec["description"]
    svg = pictures.static_svg(place, me=[ME], near=NEAR)
    assert "Clear Line: 14.2 % vol, sugar 62 g/L, acid 5.1 g/L." in svg
    assert f"Nearest classics: {NEAR[0]['name']}" in svg


def test_axes_end_where_the_rows_say_and_not_at_an_outlier(place):
    picture, rows = live.parted(place)
    for title, found in domains(picture).items():
        if "[" in title:
            assert len(found) == 1, title
    assert rows["frame"] == [{"abv": 40, "sugar": 100, "acid": 10}]
    svg = pictures.static_svg(place, frame=[{"abv": 20, "sugar": 400, "acid": 60}], me=[ME])
    labels = {text for text in texts(svg) if re.fullmatch(r"[\d.]+", text)}
    assert {"20", "400", "60"} <= labels
    assert "35" not in labels, "strength ends at 20 % vol"
    # A mark lies where its axis says: 14.2 of 20 % vol is 178.9 of 252 pixels from the foot.
    spot = re.search(r'aria-label="Clear Line[^"]*"[^>]*transform="translate\(([\d.]+),([\d.]+)\)"', svg)
    assert (float(spot[1]), float(spot[2])) == pytest.approx((306 * 62 / 400, 252 * (1 - 14.2 / 20)), abs=0.01)


def test_axes_end_just_beyond_the_drink_and_what_stands_beside_it():
    """The least round end that holds all of it with 2 % to spare: no drink of the list is held at an edge."""
    known = classics.load()
    for recipe in known:
        now = trial.run(recipe, draws=0)
        rows = bench_words.placed_rows(now, bench_words.placed_among(now, known), known)
        (frame,) = rows["frame"]
        for axis in ("abv", "sugar", "acid"):
            seen = [row[axis] for row in (*rows["me"], *rows["near"])] + [row[f"{axis}_high"] for row in rows["family"]]
            assert max(seen) < frame[axis], (recipe.name, axis)
            least = {"abv": 10, "sugar": 40, "acid": 4}[axis]
            assert frame[axis] <= max(least, 1.7 * max(seen)), (recipe.name, axis)


def test_the_ends_of_the_axes_stay_while_a_slider_moves_to_and_fro():
    """At the border of a step a drink that goes up and down by a little moves the axis once, not at every touch."""
    row = {"abv": 12.0, "sugar": 50.0, "acid": 5.0}
    was, seen = place_charts.ends(row), []
    for sugar in (78, 79, 77, 79, 77, 75, 79, 74):
        was = place_charts.ends(row | {"sugar": sugar}, was=was)
        seen.append(was["sugar"])
    assert seen == [80, 100, 100, 100, 100, 100, 100, 100]
    assert place_charts.ends(row, was=was)["sugar"] == 60, "far below, it comes down"
    assert place_charts.ends(row | {"sugar": 5000})["sugar"] == 1000, "past the last it is held at the edge"


def test_what_lies_beyond_is_held_at_the_edge_with_its_figure(place):
    shown = texts(pictures.static_svg(place))
    assert shown.count("1 classic lies beyond the edges") == 2, "the one of 480 g/L, once a panel"
    assert "Syrup Bowl" not in pictures.static_svg(place)
    near = texts(pictures.static_svg(place, frame=[{"abv": 20, "sugar": 60, "acid": 10}]))
    beyond = sum(row["sugar"] > 60 or row["abv"] > 20 for row in CLASSICS)
    assert f"{beyond} classics lie beyond the edges" in near
    far = pictures.static_svg(place, me=[{"label": "Far", "abv": 61, "sugar": 300, "acid": 3}])
    assert len(re.findall(r"rotate\((?:45|90)\)", far)) == 2, "an arrow in each panel"
    assert "Far, sugar 300 g/L, strength 61.0 % vol" in texts(far)
    assert "Far, sugar 300 g/L" in texts(far)


def test_family_rows():
    rows = place_charts.family_rows(CLASSICS, "sour")
    assert [row["family"] for row in rows["picked"]] == ["sour"] * 9
    reach = rows["family"][0]
    sugar = [row["sugar"] for row in rows["picked"]]
    assert reach["sugar_low"] == pytest.approx(np.quantile(sugar, 0.1), abs=0.01)
    assert reach["sugar_high"] == pytest.approx(np.quantile(sugar, 0.9), abs=0.01)
    assert place_charts.family_rows(CLASSICS, None) == {"family": [], "picked": []}
    assert place_charts.family_rows(CLASSICS[:1], CLASSICS[0]["family"])["family"][0]["label"].endswith(": 1 classic")
    with pytest.raises(InputError, match="did you mean sour"):
        place_charts.family_rows(CLASSICS, "sours")


def test_no_family_and_no_drink_is_still_a_chart():
    svg = pictures.static_svg(place_charts.place_chart(CLASSICS))
    assert not any("middle 80" in text for text in texts(svg))


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"abv": float("nan")}, "abv of 'classics' is not a number; it must be a finite number."),
        ({"acid": None}, "sour 0: acid is empty; it must be a number from 0 to 200 g/L."),
        ({"abv": 140}, "sour 0: abv is 140; it must be 0 to 100 % vol."),
        ({"family": "soup"}, "sour 0: family is 'soup'; it must be one of stirred spirit-forward, sour"),
    ],
)
def test_bad_classics_get_one_sentence(change, sentence):
    row = next(row for row in CLASSICS if row["name"] == "sour 0")
    with pytest.raises(InputError) as problem:
        place_charts.place_chart([row | change])
    assert str(problem.value).startswith(sentence)


# The twin of Arial; where it is missing, letters of the width that the charts reckon with.
FONT = Path("/usr/share/fonts/truetype/liberation/LiberationSans-Regular.ttf")


def wide_of(text: str) -> float:
    """How wide a text is, in heights of its letters."""
    return ImageFont.truetype(FONT, 100).getlength(text) / 100 if FONT.exists() else len(text) * look.LETTER / 11


LETTERS = {"start": 0.0, "end": 1.0, "middle": 0.5}


def boxes(svg: str) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Each text of a picture, once, with its box (left, top, right, bottom), measured by the letters of the font."""
    found: dict = {}

    def walk(part, x, y):
        move = part.get("transform", "")
        if "rotate" in move:  # titles of the upright axes, beside the panels
            return
        if place := re.match(r"translate\(([-\d.e]+),([-\d.e]+)\)", move):
            x, y = x + float(place[1]), y + float(place[2])
        if part.tag.endswith("}text") and part.text:
            size = float(part.get("font-size", "11px").removesuffix("px"))
            wide = wide_of(part.text) * size
            left = x - LETTERS[part.get("text-anchor", "start")] * wide
            found[part.text, round(x), round(y)] = (left, y - 0.75 * size, left + wide, y + 0.2 * size)
        for inner in part:
            walk(inner, x, y)

    walk(ET.fromstring(svg), 0.0, 0.0)
    return [(text, box) for (text, *_), box in found.items()]


def covered(placed) -> list[tuple[str, str]]:
    """Texts of which one lies on another."""
    return [
        (a, b)
        for i, (a, one) in enumerate(placed)
        for b, two in placed[i + 1 :]
        if min(one[2], two[2]) - max(one[0], two[0]) > 0.5 and min(one[3], two[3]) - max(one[1], two[1]) > 0.5
    ]


LONG = [
    {
        "n": n,
        "name": f"{word} of the Long Platform on a Frosty Evening",
        "abv": 14 + 0.1 * n,
        "sugar": 60 + n,
        "acid": 5.0,
    }
    for n, word in enumerate(("Grandmother", "Conductor", "Stationmaster"), 1)
]


def test_no_label_lies_on_another(place):
    """Three long names in nearly one spot, beside a drink with a long name, and a version to compare with."""
    me = ME | {"label": "Clear Line with Its Cubes"}
    placed = boxes(pictures.static_svg(place, me=[me], near=LONG, base=[BASE]))
    assert {f"{row['n']}  {row['name']}"[:20] for row in LONG} <= {text[:20] for text, _ in placed}
    assert covered(placed) == []
    assert covered([("a", (0, 0, 9, 9)), ("b", (8, 8, 12, 12))]) == [("a", "b")]  # a check that can fail


def test_no_label_of_a_demo_drink_lies_on_another():
    """Each drink of the demo, a few a day, as the bench shows it."""
    known, shelf = classics.load(), pantry.load()
    for name, setting in dozen(demo.settings(shelf).items(), 3):
        now = trial.run(setting, pantry=shelf)
        placed = bench_words.placed_among(now, known)
        chart = live.once(place_charts.place_chart, bench_words.classic_rows(known), placed.family)
        svg = pictures.static_svg(chart, **bench_words.placed_rows(now, placed, known))
        assert covered(boxes(svg)) == [], name


def test_a_classic_is_not_its_own_neighbour():
    known = classics.load()
    now = trial.run(known["Daiquiri"])
    placed = bench_words.placed_among(now, known)
    assert "Daiquiri" not in [name for name, _, _ in (*placed.nearest, *placed.nearest_in_family)]
    assert len(placed.nearest) == len(placed.nearest_in_family) == 5


def test_wrong_names(place):
    with pytest.raises(InputError, match=r"name of rows is 'mee'.*did you mean me"):
        pictures.static_svg(place, mee=[ME])
    with pytest.raises(InputError, match="sugar of 'me' is not a number"):
        pictures.static_svg(place, me=[ME | {"sugar": np.nan}])


def test_nothing_is_fetched(place, place_page):
    spec = {"data": {"url": "https://example.org/rows.csv"}, "mark": "point", "encoding": {}}
    with pytest.raises(InputError, match="it must be one that can be drawn"):
        pictures.static_svg(spec)
    page = pictures.interactive_html(place, me=[ME])
    # The names of the SVG language are left; they are not fetched.
    assert set(re.findall(r"https?://[^/\"'\s]*", page)) <= {"http://www.w3.org"}
    assert "$schema" not in place_page
    assert not re.search(r"<(script|link|img)[^>]+(src|href)", place_page)


def test_html_holds_the_picture_and_escapes_names(place):
    part = pictures.interactive_html(place, engine=False, me=[ME | {"label": "</script><b>Tide"}])
    assert "</script><b>" not in part
    assert "<svg" in part
    first, second = (re.search(r'id="(drinklab-chart-\d+)"', pictures.interactive_html(place, engine=False))[1]
                     for _ in range(2))  # fmt: skip
    assert first != second


def test_live_chart_sends_only_what_moved(place):
    chart = live.LiveChart(place)
    assert set(chart.rows) == {"classics", "family", "picked", "me", "near", "trail", "base", "frame"}
    sent = []
    chart.comm.send = lambda data=None, **_: sent.append(data)
    chart.put(me=[ME], trail=TRAIL)
    assert len(sent) == 1
    assert set(sent[0]["state"]) == {"rows_me", "rows_trail"}
    assert chart.rows["me"] == [ME]
    assert len(chart.rows["classics"]) == len(CLASSICS)
    assert pictures.static_svg(place, **chart.rows).count("Clear Line") >= 2
    with pytest.raises(InputError, match="name of rows is 'you'"):
        chart.put(you=[])
    with pytest.raises(InputError, match="abv of 'me' is not a number"):
        chart.put(me={"abv": np.float64("nan")})
    with pytest.raises(InputError, match="rows of 'me' is 'int'"):
        chart.put(me=3)
    with pytest.raises(InputError, match="chart is 'int'; it must be an Altair chart"):
        live.LiveChart(3)


def test_engine_is_built_once_and_kept(tmp_path, monkeypatch):
    import vl_convert

    built = []
    monkeypatch.setattr(vl_convert, "javascript_bundle", lambda code: built.append(code) or "1 // </script")
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(tmp_path))
    build = engine.vega_bundle.__wrapped__
    first = build()
    assert build() == first
    assert len(built) == 1
    assert "</script" not in first
    (kept,) = (tmp_path / "drinklab").iterdir()
    # Cut short by a crash or a full disk: built anew.
    kept.write_text(first[:5])
    assert build() == first
    assert len(built) == 2
    assert kept.read_text() == first
    # A folder that cannot be made: built in memory.
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(tmp_path / "file"))
    assert build() == first
    assert len(built) == 3


def test_colours_differ_and_stand_out_on_white():
    def light(colour):
        value = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
        linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
        return linear @ [0.2126, 0.7152, 0.0722]

    marks, shapes, words = zip(*look.FAMILIES.values(), strict=True)
    assert len(set(marks)) == len(set(shapes)) == len(look.FAMILIES)
    assert all(1.05 / (light(colour) + 0.05) >= 2.95 for colour in marks)
    assert all(1.05 / (light(colour) + 0.05) >= 4.5 for colour in words)


def test_a_chart_asked_for_again_is_not_made_again(place):
    """The same picture and rows as of the chart itself; what one page puts in never shows on the next."""
    first = live.once(place_charts.place_chart, CLASSICS, "sour")
    picture, rows = live.parted(place)
    assert live.parted(first) == (picture, rows)
    made = live._written.cache_info().misses
    first["concat"].clear()
    first["datasets"]["me"].append(ME)
    again = live.once(place_charts.place_chart, CLASSICS, "sour")
    assert live.parted(again) == (picture, rows)
    assert live._written.cache_info().misses == made
    other = live.once(place_charts.place_chart, CLASSICS, "punch")
    assert other["datasets"]["family"] != again["datasets"]["family"]


def test_a_page_whose_pictures_are_kept_loads_no_altair(tmp_path):
    """The second process draws the same bench from what the first one kept."""
    code = (
        "import sys, json; from drinklab.workbook.panels import bench; p = bench.panel('.');"
        "print(json.dumps([p.chart.spec, p.chart.rows])); print('altair' in sys.modules)"
    )

    def built():
        env = os.environ | {"JUPYTER_DATA_DIR": str(tmp_path / "data")}
        run = [sys.executable, "-P", "-c", code]
        return subprocess.run(run, capture_output=True, text=True, env=env, cwd=tmp_path, check=True).stdout.split("\n")

    made, loaded, _ = built()
    assert loaded == "True"
    assert built() == [made, "False", ""]
    assert len(list((tmp_path / "data" / "drinklab").glob("pictures-*/*.json"))) == 1


def _tower() -> dict:
    """A chart that costs next to nothing, and counts how often it is made."""
    _tower.made += 1
    return {"mark": "point", "data": {"name": "me", "values": [ME]}}


def test_a_kept_picture_that_was_cut_short_is_made_again(tmp_path, monkeypatch):
    _tower.made = 0
    monkeypatch.setattr(live, "data_folder", lambda: tmp_path)
    whole = live.once(_tower)
    (kept,) = tmp_path.glob("pictures-*/*.json")
    written = kept.read_text("utf-8")
    for left, made in ((written, 1), (written[:-20], 2), ("", 3)):
        kept.write_text(left, "utf-8")
        live._written.cache_clear()
        assert live.once(_tower) == whole
        assert _tower.made == made
        assert kept.read_text("utf-8") == written


def test_kept_pictures_are_of_this_code_alone(tmp_path, monkeypatch):
    """What stands for the code changes with any file of the package and with Altair, and with nothing else."""
    package = tmp_path / "package"
    (package / "workbook/charts").mkdir(parents=True)
    (package / "a.py").write_text("1")
    monkeypatch.setattr(live, "__file__", str(package / "workbook/charts/live.py"))
    marks = []
    for change in (lambda: None, lambda: None, lambda: (package / "a.py").write_text("2"),
                   lambda: (package / "a.py").rename(package / "b.py"),
                   lambda: monkeypatch.setattr(live, "version", lambda _: "0")):  # fmt: skip
        change()
        marks.append(live._made_by.__wrapped__())
    assert marks[0] == marks[1]
    assert len(set(marks)) == 4
