"""An own ingredient from a form to the file and back; what is not known is asked, and no row is ever lost in silence."""

import pytest
from all_panels import PANELS

from drinklab import balance, files, own, pantry
from drinklab.errors import InputError
from drinklab.liquid import Liquid
from drinklab.recipe import Recipe
from drinklab.workbook.panels import bench as bench_panel

# Acid by titration or chromatography and pH of juices, both printed for the same fruit. [pH, g/L]
# Lemon and lime: citric acid 48 and 45.8 g/L (Penniston et al. 2008, PMID 18290732); pH of the FDA's list, 2003:
# lemon 2.0-2.6, lime 2.0-2.8, grapefruit 3.0-3.75, pineapple 3.2-4.0. Grapefruit 14.2 and pineapple 6.3: the table's.
JUICES = [(2.3, 48), (2.3, 45.8), (3.2, 14.2), (3.5, 6.3)]


def test_a_row_is_written_and_read_back(tmp_path):
    own.write(tmp_path, own.row("Plum shrub", "syrup", "0", "400", acid="12", sort="acetic", allergens="none"))
    own.write(tmp_path, own.row("house gin", "spirit", "92 proof", "0", allergens="none"))
    shelf = pantry.load(tmp_path)
    shrub = shelf.find("plum shrub")
    assert (shrub.sugar, shrub.acid, shrub.solutes["acetic"], shrub.allergens) == (400, 12, 12, ())
    assert shelf.find("house gin").abv == 46


ASKED = [
    (("", "juice", "0", "80"), {}, "name is empty"),
    (("x", "", "0", "80"), {}, "kind is empty; it must be one of"),
    (("x", "spirit", "", "0"), {}, "strength of 'x' is empty"),
    (("x", "spirit", "40", ""), {}, "sugar of 'x' is empty"),
    (("x", "juice", "0", "80"), {}, "acid of 'x' is empty; it must be in g/L, or the pH of a juice; 0 only where you know"),
    (("x", "syrup", "0", "80"), {}, "acid of 'x' is empty"),
    (("x", "syrup", "0", "80"), {"ph": "3"}, "only of a juice a pH tells the acid"),
    (("x", "juice", "0", "80"), {"ph": "7"}, "pH is 7; it must be 1.8 to 4.6"),
    (("x", "juice", "0", "80"), {"acid": "5", "ph": "1.5"}, "what so much acid has by itself"),
    (("x", "juice", "0", "80"), {"acid": "5", "allergens": ""}, "allergens of 'x' is empty; it must be chosen; none,"),
    (("x", "juice", "0", "80"), {"acid": "5", "allergens": "none; milk"}, "none alone"),
    (("x", "juice", "0", "80"), {"acid": "5", "allergens": "mlik"}, "did you mean milk?"),
    (("x", "juice", "1,000", "80"), {"acid": "5"}, "strength of 'x' is '1,000'"),
    (("x", "spirit", "210 proof", "0"), {}, "0 to 100 % vol"),
]  # fmt: skip


@pytest.mark.parametrize(("given", "more", "said"), ASKED)
def test_what_is_missing_is_asked_and_never_taken_as_none(given, more, said):
    with pytest.raises(InputError) as problem:
        own.row(*given, **{"allergens": "none"} | more)
    assert said in str(problem.value)


@pytest.mark.parametrize(("ph", "acid"), JUICES)
def test_a_juices_acid_by_its_ph(ph, acid):
    found, pm, salts = own.acid_of_juice(ph, sugar=30)
    assert abs(found - acid) < 2 * pm < found * 1.2
    assert salts > 0


def test_the_acid_by_ph_holds_for_most_juices_of_the_table():
    """Their acids and salts are published (food tables); pH is worked out from both, and then taken alone."""
    held = []
    for item in pantry.load().values():
        ph = balance.ph(Liquid(item.composition)) if item.kind == "juice" and item.acid else 0.0
        if own.JUICE_PH[0] <= ph <= own.JUICE_PH[1]:
            found, pm, _ = own.acid_of_juice(ph, sugar=item.sugar)
            held.append(abs(found - item.acid) < 2 * pm)
    assert len(held) >= 15
    assert sum(held) >= 0.9 * len(held)


@pytest.mark.parametrize("more", [{"ph": "2.4"}, {"ph": "3.4", "acid": "9"}])
def test_the_ph_typed_is_the_ph_of_what_is_poured(tmp_path, more):
    own.write(tmp_path, own.row("sudachi juice", "juice", "0", "20", allergens="none", **more))
    juice = pantry.load(tmp_path).find("sudachi juice")
    assert balance.ph(Liquid(juice.composition)) == pytest.approx(float(more["ph"]), abs=0.06)
    assert (juice.acid_pm > 3) == ("acid" not in more)


def test_no_row_is_overwritten_in_silence(tmp_path):
    own.write(tmp_path, own.row("house gin", "spirit", "46", "0", allergens="none"))
    path = tmp_path / pantry.OWN_FILE
    before = path.read_text()
    stronger = own.row("House Gin", "spirit", "50", "0", allergens="none")
    with pytest.raises(InputError, match=r"name is 'house gin'; it must be another, since my_ingredients.csv has it"):
        own.write(tmp_path, stronger)
    assert path.read_text() == before
    own.write(tmp_path, stronger, replace=True)
    assert pantry.load(tmp_path).find("house gin").abv == 50
    assert (tmp_path / "my_ingredients_before_01.csv").read_text() == before


def test_a_sheet_of_ones_own_keeps_its_marks_and_columns(tmp_path):
    path = tmp_path / pantry.OWN_FILE
    path.write_text(
        'id;name;kind;abv_percent;sugar_g_l;note of mine\nplum;plum shrub;syrup;0,5;400,5;"batch 3; cold"\n'
    )
    own.write(tmp_path, own.row("yuzu", "juice", "0", "12,5", acid="48,5", allergens="none"))
    first, second, third = path.read_text().splitlines()
    assert first.startswith("id;name;kind;abv_percent;sugar_g_l;note of mine;allergens")
    assert second.startswith('plum;plum shrub;syrup;0,5;400,5;"batch 3; cold"')
    assert "12,5" in third
    shelf = pantry.load(tmp_path)
    assert (shelf.find("plum shrub").abv, shelf.find("yuzu").acid) == (0.5, 48.5)


def test_a_spreadsheets_byte_order_mark_stays(tmp_path):
    path = tmp_path / pantry.OWN_FILE
    path.write_text("\ufeffid,name,kind,abv_percent,sugar_g_l\nhouse_gin,house gin,spirit,46,0\n", encoding="utf-8")
    own.write(tmp_path, own.row("house rum", "spirit", "46", "0", allergens="none"))
    assert path.read_text(encoding="utf-8").startswith("\ufeffid,name")
    assert {"house_gin", "own_house_rum"} < set(pantry.load(tmp_path))


def test_a_damaged_file_is_left_alone(tmp_path):
    path = tmp_path / pantry.OWN_FILE
    path.write_text("id,name,kind,abv_percent,sugar_g_l\ngin,gin,spirit,forty,0\n")
    with pytest.raises(InputError, match=r"my_ingredients.csv, line 2: abv_percent is 'forty'"):
        own.write(tmp_path, own.row("house gin", "spirit", "46", "0", allergens="none"))
    assert "forty" in path.read_text()


def test_what_cannot_be_poured_is_not_written(tmp_path):
    with pytest.raises(InputError, match="leave room for each other"):
        own.write(tmp_path, own.row("odd", "liqueur", "60", "900", acid="0", allergens="none"))
    assert not (tmp_path / pantry.OWN_FILE).exists()


def test_it_is_written_whole_or_not_at_all(tmp_path, monkeypatch):
    own.write(tmp_path, own.row("house gin", "spirit", "46", "0", allergens="none"))
    before = (tmp_path / pantry.OWN_FILE).read_text()
    monkeypatch.setattr(files.os, "replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(InputError, match="No space left"):
        own.write(tmp_path, own.row("house rum", "spirit", "46", "0", allergens="none"))
    assert (tmp_path / pantry.OWN_FILE).read_text() == before


# --- on the bench -----------------------------------------------------------------------------------------------


@pytest.fixture
def bench(tmp_path):
    return bench_panel.panel(tmp_path)


def test_all_ingredients_can_be_searched(bench):
    page = bench.ingredients
    assert f"{len(bench.shelf)} ingredients" in page.found.value
    page.search.value = "simple"
    assert "sugar syrup, 1:1 by mass" in page.found.value
    page.search.value = "rye"
    assert page.pick.value == "rye whiskey"  # the first that was found, without another click
    page.search.value = "<b>nothing"
    assert "Nothing found. It can be written down below." in page.found.value


def test_a_found_ingredient_goes_into_the_text(bench):
    page = bench.ingredients
    page.search.value, page.pick.value = "orange bitters", "orange bitters"
    page.take.click()
    assert "it must be an amount" in page.said.value
    page.amount.value = "2 dashes"
    page.take.click()
    assert bench.typed.value.splitlines()[-1] == "2 dashes orange bitters"
    bench.typed_use.click()
    assert bench.pours.children[-1].unit.value == "dashes"


def test_the_form_asks_writes_and_pours(bench):
    page = bench.ingredients
    page.form.selected_index = 0
    page.name.value, page.kind.value, page.strength.value, page.sugar.value = "yuzu juice", "juice", "0", "12,5"
    page.allergens["none"].value = True
    page.make.click()
    assert "Caution of &#39;yuzu juice&#39; is empty" in page.said.value  # nothing ticked is not none
    page.cautions["none"].value = page.cautions["quinine"].value = True
    page.make.click()
    assert "it must be none alone, or what there is" in page.said.value
    page.cautions["quinine"].value = False
    page.make.click()
    assert "Acid of &#39;yuzu juice&#39; is empty" in page.said.value
    page.ph.value = "2,4"
    page.make.click()
    assert "Written to my_ingredients.csv" in page.said.value
    assert "from pH 2.4" in page.said.value
    bench.typed.value = "45 mL gin\n20 mL yuzu juice\n20 mL simple syrup"
    bench.typed_use.click()
    assert bench.trial.served.profile.acid > 0
    assert not bench.problem.value
    assert "yuzu juice" in page.found.value


def test_what_is_written_down_is_offered_on_pages_that_are_open(tmp_path):
    pages = {name: PANELS[name](tmp_path) for name in ("bench", "target", "prep", "bubbles")}
    own.write(tmp_path, own.row("medlar juice", "juice", "0", "110", acid="9", allergens="none"))
    own.write(tmp_path, own.row("medlar syrup", "syrup", "0", "800", acid="2", allergens="none"))
    for page in pages.values():
        page.own_file.look()
    offered = lambda choice: [option[0] if isinstance(option, tuple) else option for option in choice.options]  # noqa: E731
    bench, target, prep = pages["bench"], pages["target"], pages["prep"]
    assert "medlar juice" in offered(bench.ingredients.pick)
    assert "medlar juice" in offered(target.new_name)
    assert "medlar juice" in offered(target.swap_new)
    assert prep.juice.juice.value == "orange_juice"  # what was chosen stays
    prep.juice.juice.value = "own_medlar_juice"
    assert prep.juice.problem.value == ""
    prep.syrup.sugar.value = "own_medlar_syrup"
    assert prep.syrup.problem.value == ""
    pages["bubbles"].use(Recipe.parse("60 mL gin\n30 mL medlar juice", pages["bubbles"].shelf, name="medlar"))
    assert pages["bubbles"].problem.value == ""
    bench.typed.value = "60 mL gin\n30 mL medlar juice"
    bench.typed_use.click()
    assert bench.problem.value == ""
