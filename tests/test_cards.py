"""Spec card, labels and guest card: what stands on them, that they fit, and that nothing typed becomes HTML."""

import functools
import re
from dataclasses import replace
from datetime import date

import hypothesis.strategies as st
import pytest
import settings as drawn
from hypothesis import given
from hypothesis import settings as rules
from long_run import examples

from drinklab import cards, demo, menu, pantry, service, trial
from drinklab.cards import code, guest_card, labels, lengths, spec_card
from drinklab.display import Display
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.units import FLUID_OUNCE

SHELF = pantry.load()
DEMO = demo.settings(SHELF)
DAY = date(2027, 4, 1)


def made(text, draws=0, **more):
    steps = more.pop("steps", ())
    return trial.run(Recipe.parse(text, **more), draws=draws, steps=steps)


SOUR = made("43 mL gin\n22 mL lemon juice\n17 mL sugar syrup\n2 dashes orange bitters", technique="shaken", draws=200)


# --- paper ------------------------------------------------------------------------------------------------------


def test_paper_is_that_of_the_standard():
    """ISO 216: A4 is 210 x 297 mm, each size half of the one before, rounded down: A5 148 x 210, A6 105 x 148 mm."""
    assert labels.PAPERS["A4"] == (210, 297)
    assert (297 // 2, 210) == spec_card.A5 == (148, 210)
    assert guest_card.A6 == (210 // 2, 148)
    assert labels.PAPERS["Letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))


@pytest.mark.parametrize(
    ("name", "count", "left", "top"),
    [
        # Printed layouts of 21 on A4: 7.2 mm at the side, 15.15 mm at the top, 2.5 mm between columns. The others from
        # memory of the stationery trade: 14 on A4 4.65 and 15.15 mm; of Letter 5/32 and 5/6 in, 5/32 and 1/2 in.
        ("63.5 × 38.1 mm, 21 on A4", 21, 7.2, 15.15), ("99.1 × 38.1 mm, 14 on A4", 14, 4.65, 15.15),
        ("4 × 1⅓ in, 14 on Letter", 14, 25.4 * 5 / 32, 25.4 * 5 / 6), ("4 × 2 in, 10 on Letter", 10, 25.4 * 5 / 32, 12.7),
    ],
)  # fmt: skip
def test_labels_add_up_on_the_sheet(name, count, left, top):
    stock = labels.STOCKS[name]
    assert stock.count == len(stock.places()) == count
    assert stock.left == pytest.approx(left, abs=0.1)
    assert stock.top == pytest.approx(top, abs=0.1)
    wide, high = stock.sheet
    assert 2 * stock.left + stock.across * stock.wide + (stock.across - 1) * stock.gap == pytest.approx(wide, abs=0.01)
    assert 2 * stock.top + stock.down * stock.high == pytest.approx(high, abs=0.01)
    columns, rows = ({p[i] for p in stock.places()} for i in (0, 1))
    assert min(b - a for a, b in zip(sorted(columns), sorted(columns)[1:], strict=False)) >= stock.wide
    assert min(b - a for a, b in zip(sorted(rows), sorted(rows)[1:], strict=False)) >= stock.high - 0.01


def test_no_letter_is_smaller_than_the_law_has_it():
    """Regulation (EU) No 1169/2011, article 13: x of 1.2 mm; 0.9 mm where the largest side is under 80 cm². The x of Arial
    is 0.519 of the size of the letters."""
    x = 0.519 * 25.4 / 72
    assert min(spec_card._SIZES) * x >= 1.2
    assert min(labels._SIZES) * x >= 0.9
    assert all(stock.wide * stock.high < 8000 for stock in labels.STOCKS.values())


# --- the rule of lengths -----------------------------------------------------------------------------------------


def test_the_rule_of_lengths():
    assert lengths.width("", 10) == 0
    assert lengths.width("é", 10) == lengths.width("e", 10)
    assert lengths.width("e", 10) < lengths.width("e\u0301", 10) < 1.2 * lengths.width("e", 10)
    assert lengths.width("晩", 10) > lengths.width("W", 10)
    assert lengths.width("gin", 10, bold=True) > lengths.width("gin", 10)
    assert lengths.lines("a b", 10, 1.9) == 2
    assert lengths.lines("gin " * 50, 10, 60) == pytest.approx(lengths.width("gin " * 50, 10) / 60, abs=1)


@given(st.text(max_size=300), st.floats(6, 12), st.floats(5, 190))
def test_more_room_never_takes_more_lines(text, size, room):
    few, many = lengths.lines(text, size, 2 * room), lengths.lines(text, size, room)
    assert 1 <= few <= many


# --- the spec card -------------------------------------------------------------------------------------------------


def test_amounts_in_what_a_jigger_is_marked_in():
    """43 mL is nearest to 45 mL and to 1½ oz (44.4); 22 mL to 20 mL and ¾ oz (22.2); dashes stay dashes."""
    metric = cards.spec(SOUR, step="5 mL")
    assert [r.amount for r in metric.rows] == ["45 mL", "20 mL", "15 mL", "2 dashes"]
    ounces = cards.spec(SOUR, step="¼ oz", display=Display("oz"))
    assert [r.amount for r in ounces.rows] == ["1½ oz", "¾ oz", "½ oz", "2 dashes"]
    assert pytest.approx(44.36, abs=0.01) == 1.5 * FLUID_OUNCE
    exact = cards.spec(SOUR, step="as designed")
    assert [r.amount for r in exact.rows][:2] == ["43 mL", "22 mL"]
    assert exact.rounding == ""


def test_what_rounding_does_is_said_and_is_what_a_run_gives():
    card = cards.spec(SOUR, step="5 mL")
    again = made("45 mL gin\n20 mL lemon juice\n15 mL sugar syrup\n2 dashes orange bitters", technique="shaken")
    figures = again.served.profile
    assert f"strength {SOUR.served.profile.abv:.1f} becomes {figures.abv:.1f} % vol" in card.rounding
    assert f"sugar {SOUR.served.profile.sugar:.0f} becomes {figures.sugar:.0f} g/L" in card.rounding
    assert f"{figures.abv:.1f} ± " in dict(card.figures)["Target"]
    weighs = dict(card.figures)["Check"]
    assert f"one serve weighs {figures.mass:.0f} ± " in weighs


def test_a_small_pour_is_not_rounded_away():
    card = cards.spec(made("50 mL gin\n20 mL lemon juice\n7.5 mL maple syrup\n2 mL orgeat"), step="5 mL")
    assert [r.amount for r in card.rows] == ["50 mL", "20 mL", "7.5 mL", "2 mL"]
    assert "maple syrup" in card.rounding
    assert "orgeat" in card.rounding


def test_a_shift_beyond_the_spread_is_told():
    sure = trial.run(Recipe.parse("40 mL vodka, 40 %\n17.4 mL water", technique="none"), tool="exact")
    card = cards.spec(sure, step="5 mL")
    assert "more than the ± of" in card.rounding


def test_a_batch_says_for_all_and_in_one():
    card = cards.spec(trial.run(DEMO["Clear Line"], pantry=SHELF, draws=0))
    assert card.columns == ("for 20", "in one")
    assert card.rows[0] == spec_card.Row("800 mL", "gin, 45 %", "38 mL")
    assert any("milk" in row.name for row in card.rows)
    assert dict(card.serving)["Ice"] == "one large cube"
    assert "3 °C" in dict(card.figures)["Check"]
    assert dict(card.figures)["Contains"] == "milk, sulphites"


def test_a_batch_without_serves_is_called_all_of_it():
    card = cards.spec(made("2 L gin\n1 L dry vermouth"))
    assert card.head.startswith("All of it (no number of serves is set).")
    assert "one serve" not in " ".join(text for _, text in card.figures)


@pytest.mark.parametrize(
    ("method", "glass", "garnish"),
    [
        ("Stir on ice for 30 seconds; strain into a chilled stem glass.", "chilled stem glass", "____________"),
        ("Build over ice in a tall glass; garnish with a sprig of mint.", "tall glass", "a sprig of mint"),
        ("Mix.", "____________", "____________"),
    ],
)
def test_glass_and_garnish_as_the_method_tells_them(method, glass, garnish):
    found = dict(cards.spec(made("45 mL gin", method=method)).serving)
    assert (found["Glass"], found["Garnish"]) == (glass, garnish)
    own = dict(cards.spec(made("45 mL gin", method=method), glass="mug", ice="two cubes", garnish="none").serving)
    assert own == {"Glass": "mug", "Ice": "two cubes", "Garnish": "none"}


@pytest.mark.parametrize("name", DEMO)
@pytest.mark.parametrize("show", [Display(), Display("oz", "°F")], ids=["mL", "oz"])
def test_every_demo_fits_its_cards(name, show):
    done = trial.run(DEMO[name], pantry=SHELF, draws=0)
    card = cards.spec(done, display=show)
    assert card.size >= 7
    assert cards.guest(done, display=show).size >= 7
    assert all(cards.label(done, stock=stock).size >= 6 for stock in cards.STOCKS)
    used = [text for row in card.rows for text in (row.amount, row.name)]
    assert not any(re.search(r"\bnan\b|\bNone\b", text) for text in used)


LONG = "The Extraordinarily Long Name of a Drink That Somebody Thought Up Late One Night"
TWELVE = "\n".join(f"{5 * n} mL {name}" for n, name in enumerate(
    ["gin", "aged rum", "lime juice", "lemon juice", "pineapple juice", "sugar syrup", "orgeat", "falernum",
     "dry vermouth", "sweet red vermouth", "maraschino liqueur", "soda water"], 1) if SHELF.names(name))  # fmt: skip


def test_long_names_many_pours_and_other_scripts_fit():
    assert len(LONG) == 80
    assert cards.label(made("45 mL gin", name=LONG)).size >= 6
    many = made(TWELVE, name=LONG, technique="shaken")
    assert len(many.recipe.pours) >= 11
    assert cards.spec(many).size >= 7
    assert cards.guest(many).size >= 7
    for name in ("قطار الليل الأخير", "הרכבת האחרונה", "終電", "Поздний поезд"):
        card = cards.spec(made("45 mL gin", name=name))
        assert f'<h1 dir="auto">{name}</h1>' in cards.spec_html(card)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"method": "Stir it once more.\n" * 300}, "method"), ({"method": "word " * 3000}, "method"),
        ({"pours": 60}, "list of pours"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_refused_by_name(changes, field):
    recipe = Recipe.parse("45 mL gin\n20 mL lemon juice")
    changes = {"pours": recipe.pours * (changes["pours"] // 2)} if "pours" in changes else changes
    with pytest.raises(InputError, match=rf"^{field} on a spec card of one A5 page is \d+ mm high"):
        cards.spec(trial.run(replace(recipe, **changes), draws=0))


def test_a_name_that_fits_no_label_is_refused_by_name():
    with pytest.raises(InputError, match=r"^name of the drink on a label of 63\.5 × 38\.1 mm is"):
        cards.label(made("45 mL gin", name="W" * 299))


@rules(max_examples=examples(30))
@given(drink=drawn.drawn_settings(), step=st.sampled_from(list(cards.STEPS)))
def test_any_drink_has_a_card_or_a_sentence(drink, step):
    done = drawn.made(drink)
    if done is None:
        return
    try:
        card = cards.spec(done, step=step)
    except InputError:
        return
    total = sum(block.height(card.size, 130) for block in card.blocks())
    assert total <= 192
    assert not re.search(r"\bnan\b|\bNone\b", cards.spec_html(card))


# --- labels ---------------------------------------------------------------------------------------------------------


def test_dates_and_use_by():
    """Food prepared on 1 April is used by 7 April: the Southern Nevada Health District's example of the seven days of FDA
    Food Code 3-501.17, the day of preparation counted as the first."""
    sour = made("45 mL gin\n20 mL lemon juice")
    assert cards.label(sour, made=DAY).dates == ("Made 2027-04-01", "Use by: your code decides")
    by_code = cards.label(sour, made=DAY, use_by=labels.FOOD_CODE)
    assert by_code.dates[1].startswith("Use by 2027-04-07 at 5 °C or below")
    own = cards.label(sour, made=DAY, use_by=labels.TYPED, until=date(2027, 4, 3), source="our food code, 12.3")
    assert own.dates[1] == "Use by 2027-04-03 (our food code, 12.3)"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"use_by": "a date of my own", "until": DAY}, "source of the date is empty"),
        ({"use_by": "a date of my own", "source": "x"}, "use by is empty"),
        ({"use_by": "a date of my own", "source": "x", "until": date(2027, 3, 1)}, "from the day made on"),
        ({"made": date.max, "use_by": labels.FOOD_CODE}, "a date of the years 2000 to 2199"),
        ({"use_by": "for ever"}, "use by is 'for ever'"), ({"count": 0}, "labels is 0"), ({"count": 5000}, "labels is 5000"),
        ({"first": 22}, "first place on the sheet is 22"), ({"stock": "round"}, "label stock is 'round'"),
        ({"volume": "0 mL"}, "volume of the bottle"), ({"volume": "much"}, "volume of the bottle"),
        ({"volume": [1, 2]}, "volume of the bottle"), ({"volume": "1e9 L"}, "volume of the bottle"),
    ],
)  # fmt: skip
def test_what_no_label_takes(given, said):
    with pytest.raises(InputError, match=re.escape(said)):
        cards.label(made("45 mL gin"), **{"made": DAY, **given})


def test_what_holds_gas_says_so():
    assert "Under pressure" in cards.label(trial.run(DEMO["Long Platform"], pantry=SHELF, draws=0)).warning
    assert "Under pressure" in cards.label(made("45 mL gin\ntop 90 mL tonic water", technique="built")).warning
    assert cards.label(trial.run(DEMO["Slow Signal"], pantry=SHELF, draws=0)).warning == ""


def test_a_bottle_declares_what_is_in_it_and_no_jelly_beside():
    line = DEMO["Clear Line"]
    egg = replace(DEMO["First Frost"], beside=())
    one = cards.label(trial.run(replace(line, beside=(egg,)), pantry=SHELF, draws=0), volume="750 mL")
    assert one.allergens == ("Contains: milk.", "With caffeine.")  # of its tea: what a guest may have to avoid
    done = trial.run(line, pantry=SHELF, draws=0)
    assert one.holds == f"{done.made.abv:.1f} % vol · 750 mL"


def test_sheets_begin_where_one_was_left():
    page = cards.labels_html(cards.label(SOUR, count=3, first=20))
    assert page.count("<section") == 2
    left, top = labels.STOCKS["63.5 × 38.1 mm, 21 on A4"].places()[19]
    assert f"left: {left}mm; top: {top}mm" in page


# --- pages -----------------------------------------------------------------------------------------------------------

NASTY = '"><img src=x onerror=alert(1)><script>alert(2)</script>{{ 7 * 7 }}'


def test_nothing_typed_becomes_html(tmp_path):
    """In every field that somebody types, on every page: autoescape, and no template in a text."""
    (tmp_path / pantry.OWN_FILE).write_text(
        'id,name,kind,abv_percent,sugar_g_l\nown,"<img src=x> {{ 7 * 7 }}",syrup,0,300\n', encoding="utf-8"
    )
    shelf = pantry.load(tmp_path)
    recipe = Recipe.parse("45 mL gin\n20 mL <img src=x> {{ 7 * 7 }}", shelf, name=NASTY, method=NASTY, question=NASTY)
    done = trial.run(recipe, pantry=shelf, draws=0)
    short = NASTY[:60]
    pages = [cards.spec_html(cards.spec(done, glass=short, ice=short, garnish=short), phone) for phone in (False, True)]
    pages.append(cards.guest_html(cards.guest(done)))
    pages.append(cards.labels_html(
        cards.label(done, stock="4 × 2 in, 10 on Letter", use_by=labels.TYPED, until=date(2099, 1, 1), source=short)
    ))  # fmt: skip
    for page in pages:
        assert "<img" not in page
        assert "<script" not in page
        assert "49" not in re.sub(r"[\d.-]*49[\d.-]+|[\d.-]+49", "", page)
        assert "&lt;img src=x onerror=alert(1)" in page
        assert not re.search(r"https?:", page)
        assert "default-src 'none'" in page


def test_pages_are_new_files(tmp_path):
    page = cards.spec_html(cards.spec(SOUR))
    first = cards.save("Late / Stove", {".spec.html": page, ".phone.html": page}, tmp_path, DAY)
    second = cards.save("Late / Stove", {".spec.html": page}, tmp_path, DAY)
    assert [p.name for p in first] == ["2027-04-01_late-stove_01.spec.html", "2027-04-01_late-stove_01.phone.html"]
    assert second[0].name.endswith("_02.spec.html")
    assert first[0].parent == tmp_path / "cards"


# --- the square code ----------------------------------------------------------------------------------------------

# ISO/IEC 18004:2015, tables 1, 7, 9 and annex E, of level M (from memory; the codes that segno makes agree in size):
# by version, data codewords of each block, and where the middles of the small squares are.
_BLOCKS = {1: [16], 2: [28], 3: [44], 4: [32] * 2, 5: [43] * 2, 6: [27] * 4, 7: [31] * 4, 8: [38] * 2 + [39] * 2,
           9: [36] * 3 + [37] * 2, 10: [43] * 4 + [44]}  # fmt: skip
_SQUARES = {1: [], 2: [6, 18], 3: [6, 22], 4: [6, 26], 5: [6, 30], 6: [6, 34], 7: [6, 22, 38], 8: [6, 24, 42],
            9: [6, 26, 46], 10: [6, 28, 50]}  # fmt: skip
_MASKS = (
    lambda i, j: (i + j) % 2, lambda i, j: i % 2, lambda i, j: j % 3, lambda i, j: (i + j) % 3,
    lambda i, j: (i // 2 + j // 3) % 2, lambda i, j: i * j % 2 + i * j % 3,
    lambda i, j: (i * j % 2 + i * j % 3) % 2, lambda i, j: ((i + j) % 2 + i * j % 3) % 2,
)  # fmt: skip


def _read(rows) -> str:
    """The text of a code of level M, read by the standard's own steps; no damage is mended."""
    size = len(rows)
    version = (size - 17) // 4
    word = int("".join(str(rows[8][x]) for x in (0, 1, 2, 3, 4)), 2) ^ 0b10101
    level, mask = word >> 3, word & 7
    assert level == 0b00, "level M"
    taken = [[False] * size for _ in range(size)]
    for top, left, high, wide in (
        (0, 0, 9, 9),
        (0, size - 8, 9, 8),
        (size - 8, 0, 8, 9),
        (6, 0, 1, size),
        (0, 6, size, 1),
    ):
        for y in range(top, top + high):
            taken[y][left : left + wide] = [True] * wide
    middles = _SQUARES[version]
    corners = {(6, 6), (6, middles[-1]), (middles[-1], 6)} if middles else set()
    for y in middles:
        for x in middles:
            if (y, x) not in corners:
                for near in range(y - 2, y + 3):
                    taken[near][x - 2 : x + 3] = [True] * 5
    if version >= 7:
        for y in range(6):
            for x in range(size - 11, size - 8):
                taken[y][x] = taken[x][y] = True
    bits, up, x = [], True, size - 1
    while x > 0:
        x -= x == 6
        for y in range(size - 1, -1, -1) if up else range(size):
            bits += [rows[y][c] ^ (_MASKS[mask](y, c) == 0) for c in (x, x - 1) if not taken[y][c]]
        up, x = not up, x - 2
    words = iter(int("".join(map(str, map(int, bits[i : i + 8]))), 2) for i in range(0, len(bits) - 7, 8))
    blocks = [[] for _ in _BLOCKS[version]]
    for i in range(max(_BLOCKS[version])):
        for block, most in zip(blocks, _BLOCKS[version], strict=True):
            if i < most:
                block.append(next(words))
    held = "".join(f"{word:08b}" for block in blocks for word in block)
    assert held[:4] == "0100", "bytes"
    wide = 8 if version < 10 else 16
    count = int(held[4 : 4 + wide], 2)
    start = 4 + wide
    return bytes(int(held[start + 8 * i : start + 8 * i + 8], 2) for i in range(count)).decode()


@pytest.mark.parametrize("name", list(DEMO))
def test_a_label_says_the_same_to_a_phone(name):
    """Read by another path than the one that wrote it, also drawn anew from the path of the picture."""
    one = cards.label(
        trial.run(DEMO[name], pantry=SHELF, draws=0), stock="4 × 2 in, 10 on Letter", made=DAY, coded=True
    )
    assert _read(one.code.rows) == one.code.text
    for part in (one.name, "2027-04-01", "% vol" if "% vol" in one.holds else "no alcohol", *one.allergens):
        assert part in one.code.text
    assert "://" not in one.code.text
    drawn_rows = [bytearray(one.code.whole) for _ in range(one.code.whole)]
    for x, y, wide in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\3z", one.code.path):
        drawn_rows[int(y)][int(x) : int(x) + int(wide)] = b"\1" * int(wide)
    margin, end = code.MARGIN, one.code.whole - code.MARGIN
    assert tuple(bytes(row[margin:end]) for row in drawn_rows[margin:end]) == one.code.rows
    assert sum(map(sum, drawn_rows)) == sum(map(sum, one.code.rows))  # nothing in the margin


def test_codes_of_all_lengths_and_letters_are_read_again():
    for text in ("a", "Ü ½ – 東京 ☕", *("Milk & eggs. " * n for n in range(2, 15))):
        assert _read(code.code(text).rows) == text


def test_a_code_fits_its_label_or_is_refused_by_name():
    one = cards.label(SOUR, made=DAY, coded=True)
    stock = labels.STOCKS[one.stock]
    assert one.wide + one.code.side < stock.wide - 2 * labels._PAD + 1e-9
    assert one.code.side <= stock.high - 2 * labels._PAD
    assert one.size == lengths.fitted(one.blocks(), one.wide, stock.high - 5, labels._SIZES, "")
    assert cards.labels_html(one).count('href="#code"') == one.count
    long = made("43 mL gin\n22 mL lemon juice", name="W" * 200)
    with pytest.raises(InputError, match=r"a label of 63\.5"):
        cards.label(long, made=DAY, coded=True)
    for address in ("see https://example.org", "www.example.org", "MAILTO:a@b"):
        with pytest.raises(InputError, match="no address"):
            code.code(address)


# --- the menu ---------------------------------------------------------------------------------------------------------


@functools.cache
def _drinks():
    return [trial.run(drink, pantry=SHELF, draws=0) for drink in DEMO.values()]


@functools.cache
def _many(count):
    return menu.menu((_drinks() * 20)[:count])


def test_the_key_numbers_the_allergens_as_annex_ii_does():
    """Regulation (EU) No 1169/2011, annex II: 1 cereals, 3 eggs, 7 milk, 8 nuts, 12 sulphites, 14 molluscs."""
    assert [service.ALLERGENS[i - 1] for i in (1, 3, 7, 8, 12, 14)] == [
        "cereals containing gluten", "eggs", "milk", "nuts", "sulphites", "molluscs"
    ]  # fmt: skip
    fizz = made("45 mL gin\n20 mL lemon juice\n20 mL egg white\n20 mL orgeat", name="Fizz", technique="shaken")
    page = cards.menu_page(menu.menu([fizz, SOUR]))
    marks = {item.name: item.marks.split(", ") for item in page.pages[0]}
    assert {"3", "8"} <= set(marks["Fizz"])
    assert "3 eggs" in page.key
    assert "8 nuts" in page.key
    assert "7 milk" not in page.key


def test_what_nobody_stated_is_a_question_mark(tmp_path):
    (tmp_path / pantry.OWN_FILE).write_text("id,name,kind,abv_percent,sugar_g_l\nown,house cordial,syrup,0,300\n")
    own = pantry.load(tmp_path)
    one = trial.run(Recipe.parse("45 mL gin\n20 mL house cordial", own), pantry=own, draws=0)
    page = cards.menu_page(menu.menu([one]))
    assert page.pages[0][0].marks.endswith("?")
    assert "not stated" in page.key


@pytest.mark.parametrize("paper", labels.PAPERS)
@pytest.mark.parametrize("count", [1, 6, 20, 60])
def test_a_menu_fits_its_pages(paper, count):
    page = cards.menu_page(_many(count), paper=paper)
    wide, high = (side - 30 for side in labels.PAPERS[paper])
    assert sum(map(len, page.pages)) == count
    for items in page.pages:
        blocks = [*page.head(), *(b for item in items for b in item.blocks()), *page.end()]
        assert sum(b.height(page.size, wide) for b in blocks) <= high
    assert len(page.pages) == 1 or count > 6
    assert cards.menu_html(page).count("<section") == len(page.pages)


def test_what_fits_no_page_of_a_menu_is_named():
    with pytest.raises(InputError, match="title of the menu"):
        cards.menu_page(_many(2), title="x" * 500)
    with pytest.raises(InputError, match="paper"):
        cards.menu_page(_many(2), paper="A3")
