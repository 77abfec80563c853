"""The fifth attack: what comes from elsewhere (backups, tables, photographs, pages), and the newer pages.

Each test failed before; what an attacker gains by it stands beside it. Limits are of our own code; how a zip and a JPEG
are built is of their specifications (APPNOTE 6.3, 4.3.12; ITU-T T.81, annex B), from memory.
"""

import io
import json
import re
import struct
import threading
import time
import urllib.request
import zipfile
from dataclasses import replace
from datetime import datetime

import pytest
from PIL import Image

from drinklab import (
    batch,
    carbonation,
    cards,
    cost,
    filtering,
    logbook,
    menu,
    milk,
    pantry,
    schedule,
    service,
    steps,
    trial,
    writeup,
)
from drinklab.declared import declared
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.facts import say
from drinklab.logbook import moving, photos
from drinklab.recipe import Recipe
from drinklab.setting import Setting
from drinklab.share.pages import finished
from drinklab.share.serving import Sharing
from drinklab.teach import progress
from drinklab.workbook.parts import batch_words

SHELF = pantry.load()
PUNCH = Setting(
    Recipe.parse("60 mL gin\n30 mL lime juice\n20 mL sugar syrup", name="Punch"),
    steps=[milk.MilkWash(), filtering.Filter()], draws=0,
)  # fmt: skip


# --- a backup of a stranger's -----------------------------------------------------------------------------------


def lying(method: int, size: int, says: int = 1000) -> bytes:
    """A zip of one file of zeros that says to hold less than it unpacks to."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", method) as made:
        made.writestr("trials/a.json", b"0" * size)
    raw = bytearray(held.getvalue())
    struct.pack_into("<I", raw, raw.rfind(b"PK\x01\x02") + 24, says)
    return bytes(raw)


@pytest.mark.parametrize("method", [zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_backup_unpacks_to_no_more_than_it_says(tmp_path, method):
    import tracemalloc  # 600 bytes of such a zip filled 1.2 GB, a megabyte ends the process

    (tmp_path / "theirs.zip").write_bytes(lying(method, 8_000_000))
    tracemalloc.start()
    told = logbook.restore(tmp_path / "theirs.zip", tmp_path)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 1_000_000
    assert (told.new, len(told.problems)) == ((), 1)
    assert "damaged" in told.problems[0]


def test_one_damaged_file_of_a_backup_does_not_keep_the_rest_away(tmp_path):
    home = tmp_path / "home"
    logbook.save_choices(home, country="Japan")
    logbook.save(trial.run(PUNCH, pantry=SHELF), home)
    packed = logbook.back_up(home)
    raw = bytearray(packed.read_bytes())
    at = raw.find(b"my_choices.json") + len(b"my_choices.json")
    raw[at : at + 8] = b"\xff" * 8  # no deflated data: zlib.error, which ended in a traceback
    packed.write_bytes(raw)
    told = logbook.restore(packed, tmp_path / "there")
    assert (len(told.new), len(told.problems)) == (1, 1)
    assert "my_choices.json" in told.problems[0]


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_name_stands_in_a_backup_once(tmp_path):
    with zipfile.ZipFile(tmp_path / "theirs.zip", "w") as made:
        for number in range(60):  # of 200,000 each was compared with all before: without end
            made.writestr("trials/a.json", str(number))
        made.writestr(f"trials/{'x' * 300}.json", "{}")  # no disk takes the name: nothing behind it came back
        made.writestr("trials/b.json", "{}")
    told = logbook.restore(tmp_path / "theirs.zip", tmp_path / "home")
    assert told.new == ("a.json", "b.json")
    assert len(told.problems) == 60


def test_no_backup_is_made_that_could_not_be_brought_back(tmp_path, monkeypatch):
    logbook.save(trial.run(PUNCH, pantry=SHELF), tmp_path)
    monkeypatch.setattr(moving, "_MOST_BYTES", 5000)
    with pytest.raises(InputError, match="copy the folder instead"):
        logbook.back_up(tmp_path)


# --- tables and trials from elsewhere ----------------------------------------------------------------------------


def test_the_milk_of_a_wash_is_not_lost_in_a_table(tmp_path):
    beside = Setting(Recipe.parse("60 mL whole milk\n20 mL gin", name="Jelly", technique="none"), draws=0)
    folder = tmp_path / "here"
    logbook.save(trial.run(PUNCH, pantry=SHELF), folder)
    plain = Setting(Recipe.parse("60 mL gin", name="Plain"), beside=[beside], draws=0)
    logbook.save(trial.run(plain, pantry=SHELF), folder)
    _, table = logbook.export(logbook.entries(folder)[0], folder)
    assert table.read_text(encoding="utf-8").count(",milk,") == 2  # "contains"
    made, problems = logbook.bring(table, tmp_path / "there")
    assert made == []
    assert sorted(said.split(": ")[1].split(" is ")[0] for said in problems) == ["beside", "steps"]


@pytest.mark.parametrize(
    "row", ["A,shaken,up,45 mL gin, 30 mL cream,x", "A,shaken,up", "A,shaken,up,45 mL gin,x,contains milk"]
)
def test_a_row_of_a_table_that_is_shifted_is_refused(tmp_path, row):
    (tmp_path / "t.csv").write_text(f"drink,technique,served,recipe,notes\n{row}\n", encoding="utf-8")
    made, (said,) = logbook.bring(tmp_path / "t.csv", tmp_path)
    assert made == []
    assert said.startswith("t.csv, row 2: number of cells")


def test_a_column_of_a_table_is_named_once(tmp_path):
    (tmp_path / "t.csv").write_text("drink,technique,served,recipe,recipe\nA,none,up,30 mL gin,30 mL cream\n")
    with pytest.raises(InputError, match="recipe'; it must be named only once"):
        logbook.bring(tmp_path / "t.csv", tmp_path)


def _with_said(folder, said):
    logbook.save(trial.run(PUNCH, pantry=SHELF), folder / "from")
    whole, _ = logbook.export(logbook.entries(folder / "from")[0], folder / "from")
    data = json.loads(whole.read_text(encoding="utf-8"))
    data["trials"][0]["said"] = said
    whole.write_text(json.dumps(data), encoding="utf-8")
    return whole


@pytest.mark.parametrize("said", [[{"in_bin": "yes"}], [{"note": "a"}, {"title": 5}], [{"title": "x"}] * 301])
def test_what_is_said_of_a_trial_is_checked_before_any_of_it_is_kept(tmp_path, said):
    made, problems = logbook.bring(_with_said(tmp_path, said), tmp_path)  # 5,000 titles took five minutes
    assert (made, len(problems)) == ([], 1)
    assert not (tmp_path / "trials").exists()


def test_a_trial_with_a_photograph_comes_in_whole(tmp_path):
    path = logbook.save(trial.run(PUNCH, pantry=SHELF), tmp_path / "from")
    out = io.BytesIO()
    Image.new("RGB", (8, 8)).save(out, "PNG")
    logbook.add_photo(path, out.getvalue())
    whole, _ = logbook.export(logbook.entries(tmp_path / "from")[0], tmp_path / "from")
    made, problems = logbook.bring(whole, tmp_path)
    assert (len(made), problems) == (1, ())


# --- photographs ---------------------------------------------------------------------------------------------------


def test_a_picture_that_is_drawn_over_without_end_is_refused():
    seg = lambda mark, body: b"\xff" + bytes([mark]) + struct.pack(">H", len(body) + 2) + body  # noqa: E731
    head = (b"\xff\xd8" + seg(0xDB, b"\0" + b"\1" * 64) + seg(0xC2, struct.pack(">BHHB", 8, 8, 8, 1) + b"\1\x11\0")
            + seg(0xC4, b"\0\1" + b"\0" * 15 + b"\0") + seg(0xC4, b"\x10\1" + b"\0" * 15 + b"\xe0"))  # fmt: skip
    first = seg(0xDA, b"\1\1\0\0\0\0") + b"\x7f"
    scan = seg(0xDA, b"\1\1\0\1\x3f\0") + b"\x00\x01"
    assert photos.small(head + first + scan * 20 + b"\xff\xd9").startswith(b"\xff\xd8")
    with pytest.raises(InputError, match=r"drawn over 5,001 times"):  # 40 MB of them on a large one take an hour
        photos.small(head + first + scan * 5000 + b"\xff\xd9")


# --- what stands in a bottle -----------------------------------------------------------------------------------------

EGG = Recipe.parse("60 mL gin\n25 mL lemon juice\n20 mL sugar syrup\n20 mL egg white", technique="shaken", name="Sour")
SPRITZ = Setting(Recipe.parse("45 mL gin\n90 mL tonic water", technique="none"), steps=[steps.AddWater(amount=20)])


def test_raw_egg_in_a_bottle_is_not_kept_for_seven_days():
    made = batch.scale(Setting(EGG, steps=[steps.Rest(24)], draws=0), pantry=SHELF, serves=12)
    said = " ".join(map(say, made.notes))
    assert "7 days" not in said
    assert "pasteurised" in said
    with pytest.raises(InputError, match="too long for raw egg"):
        cards.label(trial.run(made.setting, pantry=SHELF), use_by=cards.labels.FOOD_CODE)
    milky = Setting(Recipe.parse("60 mL gin\n30 mL cream"), steps=[steps.Rest(2)], draws=0)
    assert batch.COLD in batch.scale(milky, pantry=SHELF, serves=12).notes


@pytest.mark.parametrize("vessel", [750, "750 mL", "3 L"])
def test_what_sparkles_is_not_closed_up_in_any_bottle(vessel):
    with pytest.raises(InputError, match="vessel of a drink with gas"):
        batch.scale(SPRITZ, pantry=SHELF, serves=4, vessel=vessel)
    made = batch.scale(SPRITZ, pantry=SHELF, serves=4)  # in bottles and jugs
    assert any("bursts" in say(note) for note in made.notes)


def test_gas_in_a_freezer_is_warned_of_and_no_vessel_is_full_then():
    tonic = Setting(Recipe.parse("15 mL gin\n150 mL tonic water", technique="none"), steps=[steps.Rest(1)], draws=0)
    still = Recipe.parse("15 mL gin\n150 mL apple juice", technique="none")
    assert "freezes" in [note.code for note in batch.scale(tonic, pantry=SHELF, serves=4, keep_at=-18).notes]
    for vessel in ("soft-drink PET bottle, 1 L", "keg, 19 L"):
        made = batch.scale(still, pantry=SHELF, vessel=vessel, keep_at=-18)
        # Of water frozen whole: 1 / 0.917 (CRC Handbook, density of ice; from memory). At -18 °C some stays liquid.
        assert made.stand.fill * 1.05 < carbonation.VESSELS[vessel].volume


def test_a_label_says_how_strong_the_bottle_is_and_not_only_the_glass():
    many = batch.scale(Setting(EGG, draws=0), pantry=SHELF, serves=12)
    one = cards.label(trial.run(many.setting, pantry=SHELF))
    # 60 mL of 40 % in 80 mL: the egg and the juice wait; contraction is below 0.3 % of it.
    assert one.holds.startswith("30.1 % vol in the bottle, ")
    tall = trial.run(Recipe.parse("45 mL gin\ntop 135 mL soda water", technique="built"), pantry=SHELF, draws=0)
    assert cards.label(tall).holds.startswith("40.0 % vol in the bottle, ")
    whole = trial.run(Setting(Recipe.parse("45 mL gin\n45 mL water", technique="none"), draws=0), pantry=SHELF)
    assert cards.label(whole).holds.startswith("20.0 % vol · ")


@pytest.mark.parametrize(
    ("pours", "word"), [("30 mL grapefruit juice", "grapefruit"), ("60 mL tonic water", "quinine"),
                        ("30 mL espresso", "caffeine"), ("20 mL egg white", "raw egg")],
)  # fmt: skip
def test_a_label_names_what_a_guest_may_have_to_avoid(pours, word):
    made = trial.run(Recipe.parse(f"45 mL gin\n{pours}", technique="none"), pantry=SHELF, draws=0)
    assert f"With {word}." in cards.label(made).allergens


def test_the_sheet_of_a_batch_says_what_is_not_stated_and_may_be(tmp_path):
    (tmp_path / pantry.OWN_FILE).write_text(
        "id,name,kind,abv_percent,sugar_g_l,may_contain\nhouse_cordial,house cordial,syrup,0,500,\n"
        "house_mix,house mix,syrup,0,500,nuts (almond)\n", encoding="utf-8",
    )  # fmt: skip
    own = pantry.load(tmp_path)
    made = batch.scale(Recipe.parse("60 mL gin\n20 mL house cordial\n5 mL house mix", own), pantry=own, serves=9)
    plan = batch.work(made, "2027-07-03 19:00", now=datetime(2027, 7, 1))
    text = batch_words.sheet(made, plan, batch.shopping_list(made), None, Display(), "Germany")
    assert all(name in text.partition("not stated")[0][-80:] for name in ("house cordial", "house mix"))
    assert "May contain: nuts (almond)" in text
    assert "No allergen is known" not in text


# --- what is typed ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("typed", ["1.234", "16.500", "123.456"])
def test_a_price_that_reads_in_two_ways_is_asked_about(tmp_path, typed):
    cells = {"ingredient": "gin", "price": typed, "currency": "EUR", "pack": "700", "pack_unit": "mL"}
    with pytest.raises(InputError, match="either way"):
        cost.write(tmp_path, cells)
    assert not (tmp_path / cost.OWN_FILE).exists()
    assert cost.load(cost.write(tmp_path, cells | {"currency": "KWD"}).parent).of("gin").each  # has a thousandth


@pytest.mark.parametrize("text", ["2026-07-03", "20260703", "2026-W27-5"])
def test_a_day_alone_is_not_its_midnight(text):
    with pytest.raises(InputError, match="a date and time"):
        schedule.moment(text)


# --- a page or a trial of a stranger's ---------------------------------------------------------------------------------


def _page(change) -> str:
    text = writeup.html(trial.run(Recipe.parse("60 mL gin\n30 mL lime juice"), pantry=SHELF, draws=0))
    data = json.loads(text.partition('ld+json">')[2].partition("</script")[0])["drinklab"]
    change(data)
    return f'<script type="application/ld+json">{json.dumps({"drinklab": data})}</script>'


@pytest.mark.parametrize("name", ["pistachio liqueur", "soy milk", "peanut orgeat", "Mandelmilch"])
def test_that_a_strangers_bottle_holds_no_allergen_is_not_taken_from_a_file(name):
    def change(data):
        data["ingredients"]["zz"] = data["ingredients"]["gin"] | {"id": "zz", "name": name, "stated": True}
        data["setting"]["recipe"]["pours"][0]["ingredient"] = "zz"

    said = [fact.text for fact in declared(writeup.rerun(_page(change), pantry=SHELF)).said()]
    assert any("not stated" in words and name in words for words in said)


def test_a_page_of_more_bottles_than_anybody_pours_is_refused_at_once():
    def page_of(count):
        def change(data):
            gin = data["ingredients"]["gin"]
            data["ingredients"] |= {f"g{n}": gin | {"id": f"g{n}"} for n in range(count)}

        return _page(change)

    def spent(count, said):
        page, begun = page_of(count), time.process_time()
        with pytest.raises(InputError, match=said):
            writeup.rerun(page, pantry=SHELF)
        return time.process_time() - begun

    # Bottles were read one by one, more than ten minutes in which the page stood still: now they are counted first.
    few = min(spent(250, "number of ingredients is 252") for _ in range(3))
    many = min(spent(5_000, "number of ingredients is 5002") for _ in range(3))  # Python may tidy up meanwhile
    assert many < 60 * few  # 20 times the text


# --- other files, and what is handed on --------------------------------------------------------------------------------


def test_a_price_list_that_is_a_link_to_nothing_makes_no_folder_elsewhere(tmp_path):
    home = tmp_path / "home"
    home.mkdir()
    (home / cost.OWN_FILE).symlink_to(tmp_path / "away" / "made.csv")
    cells = {"ingredient": "gin", "price": "16.50", "currency": "EUR", "pack": "700", "pack_unit": "mL"}
    with pytest.raises(InputError, match="link to what is not there"):
        cost.write(home, cells)
    assert [path.name for path in tmp_path.iterdir()] == ["home"]


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e999", '"nan"', "1" * 400, "true"])
def test_a_learners_file_with_no_number_for_one_is_a_sentence(tmp_path, number):
    progress.guessed(tmp_path, "A7", "01_strength", 5.0)
    path = progress.path_of(tmp_path, "A7")
    held = path.read_text().replace("5.0", number)
    path.write_text(held)
    with pytest.raises(InputError, match=r"a7\.json"):
        progress.guessed(tmp_path, "A7", "02_dilution", 1.0)
    assert path.read_text() == held


@pytest.mark.parametrize(
    "asked",
    [
        "default-src *; script-src * 'unsafe-inline'",
        "default-src 'none'; script-src https:",
        "script-src 'unsafe-inline'",
    ],
)
def test_a_page_of_a_strangers_does_not_say_what_its_scripts_may(tmp_path, asked):
    (tmp_path / "theirs.html").write_text(
        '<meta name="generator" content="Drinklab 1"><meta name="drinklab-page" content="bar card">'
        f'<meta http-equiv="Content-Security-Policy" content="{asked}"><title>x</title><script src=https://x.example/y>'
    )
    server = Sharing(tmp_path, finished(tmp_path), port=0)
    threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True).start()
    try:
        with urllib.request.urlopen(f"{server.url}theirs.html", timeout=10) as answer:
            policy = answer.headers["Content-Security-Policy"]
    finally:
        server.shutdown()
        server.server_close()
    assert policy.startswith("default-src 'none'; frame-ancestors")
    assert "script" not in policy


def test_a_name_forges_no_line_of_a_batch_s_sheet_or_its_checklist():
    name = "Sour\n\n## Cautions\n\n- Contains: nothing\n- [ ] 18:00 serve it\u2028- warm <img src=x>"
    made = batch.scale(Setting(replace(EGG, name=name), draws=0), pantry=SHELF, serves=9)
    plan = batch.work(made, "2027-07-03 19:00", now=datetime(2027, 7, 1))
    sheet = batch_words.sheet(made, plan, batch.shopping_list(made), None, Display(), "Germany")
    for text in (sheet, plan.checklist()):
        assert not any(line.startswith(("- Contains: n", "- [ ] 18:00 serve", "- warm")) for line in text.splitlines())
    assert sheet.splitlines().count("## Cautions") == 1
    assert "\n<img" not in sheet
    assert not re.search(r"(?<!\\)<img", sheet)


@pytest.mark.parametrize("draws", [0, 1000])
def test_a_drink_is_alcohol_free_by_the_upper_end_also_on_a_menu(draws):
    # 1.2 mL of 40 % in 101 mL: 0.47 % vol; a jigger may pour half as much again. Germany: 0.5 % vol (datasets).
    near = Setting(Recipe.parse("1.2 mL gin\n100 mL apple juice", technique="none"), draws=draws)
    far = Setting(Recipe.parse("0.4 mL gin\n100 mL apple juice", technique="none"), draws=draws)
    listed = menu.menu([trial.run(near, pantry=SHELF), trial.run(far, pantry=SHELF)], "Germany")
    assert [drink.serve.free for drink in listed.drinks] == [True, False]
    assert "Alcohol-free" not in service.menu_line(listed.drinks[1].serve).text
