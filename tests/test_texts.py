"""What is typed or opened goes on without control characters, and never too long or without end."""

import os
import unicodedata
import xml.etree.ElementTree as ET

import pytest
from growth import grows_less

from drinklab import files, pantry, tables, texts
from drinklab.errors import InputError
from drinklab.recipe import Pour, Recipe

# Characters that XML 1.0 (fifth edition, section 2.2, Char) leaves out, and thus any SVG picture; from memory.
NOT_XML = [chr(n) for n in range(0x20) if chr(n) not in "\t\n\r"] + ["\ud800", "\udfff", "\ufffe", "\uffff"]
HEADER = "id,name,kind,abv_percent,sugar_g_l\n"


def allowed_in_xml(sign):
    try:
        ET.fromstring(f"<a>{sign}</a>".encode())
    except (ET.ParseError, UnicodeEncodeError):
        return False
    return True


def test_what_is_fit_is_what_xml_allows_and_no_more_is_taken():
    # An XML reader is the judge, over all of Unicode's first plane.
    for number in range(0x10000):
        sign = chr(number)
        if sign in "<&":
            continue
        kept = texts.fit(sign) == sign
        if kept:
            assert allowed_in_xml(sign), hex(number)
        elif allowed_in_xml(sign):
            # Beyond XML: C1 controls, and what is not seen: formats, and blanks that pass for letters (Unicode 15,
            # DerivedCoreProperties, default ignorable code points; the Braille blank is none of them).
            formats = unicodedata.category(sign) == "Cf" or number in {0x34F, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x2065}
            assert sign == "\r" or 0x7F <= number <= 0x9F or formats or number in {0x2800, 0x3164, 0xFFA0}
    assert all(texts.fit(sign) == " " for sign in NOT_XML)
    assert texts.fit("a\tb\nc") == "a\tb\nc"
    assert texts.fit("l'été \u200d日本語 👩‍🍳 \u0301") == "l'été \u200d日本語 👩‍🍳 \u0301"


@pytest.mark.parametrize("sign", NOT_XML, ids=ascii)
def test_a_recipe_holds_no_control_character(sign):
    dirty, pours = f"Late{sign}Stove\n", (Pour("gin", 40),)
    recipe = Recipe(dirty, pours, question=dirty, method=dirty)
    assert recipe.name == recipe.question == recipe.method == "Late Stove\n"


@pytest.mark.parametrize(("field", "most"), [("name", 300), ("question", 100_000), ("method", 100_000)])
def test_how_long_a_text_may_be_is_said(field, most):
    words = {"name": "long"}
    Recipe(**words | {field: "x" * most}, pours=(Pour("gin", 40),))
    with pytest.raises(InputError, match=f"letters long; it must be at most {most:,} letters"):
        Recipe(**words | {field: "x" * (most + 1)}, pours=(Pour("gin", 40),))
    with pytest.raises(InputError, match="a int; it must be text"):
        Recipe(**words | {field: 5}, pours=(Pour("gin", 40),))


def test_own_ingredients_hold_no_control_character(tmp_path):
    (tmp_path / pantry.OWN_FILE).write_text(HEADER + "hay,hay\x0b\x00syrup\uffff,syrup,0,500\n", encoding="utf-8")
    assert pantry.load(tmp_path)["hay"].name == "hay syrup"


def test_a_cell_without_end_is_named(tmp_path):
    (tmp_path / "own.csv").write_text(HEADER + f"hay,{'x' * 200_000},syrup,0,500\n")
    with pytest.raises(InputError, match=r"own\.csv, line 2: cell is more than 131,072 letters long"):
        tables.read_file(tmp_path / "own.csv")


@pytest.mark.parametrize("sort", ["pipe", "folder", "device", "large"])
def test_what_is_no_file_is_refused_and_never_waited_for(tmp_path, sort):
    path = tmp_path / pantry.OWN_FILE
    if sort == "pipe":
        os.mkfifo(path)
    elif sort == "folder":
        path.mkdir()
    elif sort == "device":
        path.symlink_to("/dev/zero")
    else:
        with path.open("wb") as file:
            file.truncate(files.MOST + 1)
    with pytest.raises(InputError, match=r"not a file|at most 20 MB"):
        pantry.load(tmp_path)


def test_time_to_load_grows_no_faster_than_the_rows(tmp_path):
    # Each row was held against all before it; the bound is wide, for a busy machine.
    found = {}

    def load(count: int) -> None:
        rows = "".join(f"own_{i},own thing {i},liqueur,{20 + i % 10},{100 + i % 50}\n" for i in range(count))
        (tmp_path / pantry.OWN_FILE).write_text(HEADER + rows)
        found[count] = len(pantry.load(tmp_path))

    grows_less(8, load, 2_500, 10_000)
    assert found[10_000] == 10_000 + len(pantry.load())


def test_the_first_row_that_cannot_be_is_still_named_by_its_line(tmp_path):
    path = tmp_path / pantry.OWN_FILE
    for bad, words in (
        ("b,b,syrup,0,1200", "sucrose of 'b' is .* to stay dissolved"),
        ("b,b,liqueur,90,900", "alcohol and sugar of 'b' is '90 % vol with 900 g/L'; .* leave room"),
    ):
        path.write_text(HEADER + f"a,a,spirit,40,0\n{bad}\nc,c,syrup,0,1300\n")
        with pytest.raises(InputError, match=rf"{pantry.OWN_FILE}, line 3: {words}"):
            pantry.load(tmp_path)
    path.write_text(HEADER + "a,a,spirit,99.9,0\n")
    assert pantry.load(tmp_path)["a"].abv == 99.9
