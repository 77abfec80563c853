"""Bar words: what a bar writes is read as it means it, kept as it was told, or refused in words that help.

A dash, a barspoon and a part have no standard: common practice, no published source. Proof is twice the % vol
(27 CFR 5.1). The US fluid ounce is 29.5735 mL (NIST Handbook 44, appendix C). One large egg's white 33 g, yolk 17 g,
egg 50 g (USDA SR28 01124, 01125, 01123).
"""

import pytest

from drinklab import logbook, making, names, pantry, tables, trial
from drinklab.display import Display
from drinklab.errors import InputError, InputErrors
from drinklab.recipe import PART, Measure, Pour, Recipe
from drinklab.units import FLUID_OUNCE, fraction_text, ounces_text

SHELF = pantry.load()
OZ = Display("oz")


def pour(line: str) -> Pour:
    return Recipe.parse(line).pours[0]


# --- names --------------------------------------------------------------------------------------------------

NAMES = {
    "simple syrup": "sugar_syrup_1to1", "2:1 syrup": "sugar_syrup_2to1", "rich syrup": "sugar_syrup_2to1",
    "rye": "whiskey_rye", "bourbon": "whiskey_bourbon", "Scotch": "whisky_scotch_blended",
    "blanco tequila": "tequila", "hot water": "water_hot", "club soda": "soda_water", "sweet vermouth": "vermouth_sweet_red",
}  # fmt: skip


@pytest.mark.parametrize(("word", "key"), NAMES.items())
def test_a_bar_word_is_read_as_a_bar_means_it(word, key):
    assert pour(f"20 mL {word}").ingredient == key


@pytest.mark.parametrize("row", list(tables.read("synonyms").rows()), ids=lambda row: row["word"])
def test_every_word_of_the_trade_says_one_thing(row):
    """It names an ingredient that there is and that no own name hides, or says what to write instead."""
    if row["ingredient_id"]:
        assert not row["instead"]
        assert SHELF.find(row["word"]).id == row["ingredient_id"]
        assert names.plain(row["word"]) not in SHELF._names, "the name says so already"
    else:
        with pytest.raises(InputError, match="ingredient is") as problem:
            Recipe.parse(f"20 mL {row['word']}")
        assert row["instead"] in str(problem.value)


def test_sugar_of_the_two_syrups_by_weight():
    # 1:1 and 2:1 by weight are 50 and 66.7 % sugar; g/L by ICUMSA SPS-4: 615 and 883
    assert SHELF.find("simple syrup").sugar == pytest.approx(615, abs=3)
    assert SHELF.find("2:1 syrup").sugar == pytest.approx(883, abs=8)


@pytest.mark.parametrize("written", ["rye, 92 proof", "92 proof rye", "92-proof rye", "rye, 92 US proof", "rye, 46 %"])
def test_proof_is_twice_the_strength(written):
    assert pour(f"2 oz {written}").abv == 46


def test_what_is_no_strength_is_not_taken_for_one():
    assert pour("2 oz 100 % agave tequila").abv is None
    for line in ("2 oz rye, 210 proof", "2 oz rye, 92 UK proof"):
        with pytest.raises(InputError):
            Recipe.parse(line)


def test_hot_water_comes_with_its_caution():
    hot = Recipe.parse("45 mL bourbon\n90 mL hot water", technique="built")
    assert any(c.code.startswith("hot") for c in trial.run(hot, draws=0).cautions)


def test_own_names_win_over_words_of_the_trade(tmp_path):
    (tmp_path / pantry.OWN_FILE).write_text("id,name,kind,abv_percent,sugar_g_l\nhouse_rye,rye,spirit,51,0\n")
    assert pantry.load(tmp_path).find("rye").abv == 51


# --- amounts ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "ml"),
    [
        ("⅞ oz gin", 0.875 * FLUID_OUNCE), ("7/8 oz gin", 0.875 * FLUID_OUNCE), ("2 dashes gin", 1.8),
        ("1 egg white", 33 / SHELF["egg_white"].density), ("2 egg yolks", 34 / SHELF["egg_yolk"].density),
        ("1 egg", 50 / SHELF["egg_whole"].density), ("6 mint leaves", 0.3 / SHELF["mint"].density),
        ("6 leaves of mint", 0.3 / SHELF["mint"].density), ("1 sugar cube", 3.5 / SHELF["sugar_white"].density),
        ("2 parts gin", 2 * PART), ("1½ oz (45 mL) gin", 45),
    ],
)  # fmt: skip
def test_an_amount_is_read(line, ml):
    assert pour(line).amount == pytest.approx(ml, rel=1e-9)


REFUSED = {
    "7/8 gin": "with its unit",
    "ice": "“My own ice”",
    "1 scoop ice": "“My own ice”",
    "8 oz crushed ice": "“My own ice”",
    "3 ice cubes": "“My own ice”",
    "2-3 dashes orange bitters": "one amount: choose one of the two",
    "2 to 3 oz gin": "one amount: choose one of the two",
    "6 leaves gin": "with its unit",
    "1¾ oz (45 mL) gin": "what is in brackets is another",
    "2 dashes bitters": "aromatic bitters",
    "2 oz rum": "white, gold, aged or dark rum",
    "1 part = 20\n2 parts gin": "1 part = 30 mL",
    "1 part = 20 mL\n1 part = 30 mL\n2 parts gin": "given only once",
    "2 parts gin\n20 mL lemon juice": "'1 part = 30 mL'",
    "2 parts gin\n1 dash orange bitters": "'1 part = 30 mL'",
}


@pytest.mark.parametrize(("text", "said"), REFUSED.items())
def test_what_could_be_read_wrongly_is_refused_with_help(text, said):
    with pytest.raises(InputError) as problem:
        Recipe.parse(text)
    assert str(problem.value).startswith("line ")
    assert said in str(problem.value)


def test_all_errors_of_a_text_are_told_at_once_by_line():
    with pytest.raises(InputErrors) as problem:
        Recipe.parse("45 mL ginn\n20 mL lemon juice\nice\n\n2 parsecs rye")
    assert [line.partition(":")[0] for line in str(problem.value).splitlines()] == ["line 1", "line 3", "line 5"]
    assert len(problem.value.errors) == 3
    with pytest.raises(InputErrors) as problem:
        Recipe.parse("ice\n" * 30)
    assert str(problem.value).splitlines()[-1] == "So it is with 20 more."


# --- what was told is kept -------------------------------------------------------------------------------------

TOLD = """2 oz rye, 92 proof
⅞ oz simple syrup
2 dashes aromatic bitters
1 barspoon maraschino
6 mint leaves
1 egg white"""
SAME = """2 oz rye whiskey, 46 %
⅞ oz sugar syrup, 1:1 by mass
2 dashes aromatic bitters, 44.7 %
1 barspoon maraschino cherry liqueur, 32 %
6 leaves mint, fresh
1 egg white, raw"""


def test_a_recipe_is_shown_as_it_was_told():
    recipe = Recipe.parse(TOLD)
    assert recipe.text(display=OZ) == SAME
    assert recipe.told_in == "oz"
    assert Recipe.parse(SAME).amounts.tolist() == recipe.amounts.tolist()


def test_what_was_told_survives_saving_and_opening(tmp_path):
    path = logbook.save(trial.run(Recipe.parse(TOLD, technique="shaken"), draws=0), tmp_path)
    assert logbook.load(path).recipe.text(display=OZ) == SAME
    data = Recipe.parse("45 mL gin").to_dict()
    del data["pours"][0]["typed"]  # as version 0.1.0 saved it
    assert Recipe.from_dict(data).text() == "45 mL gin"
    assert "typed" not in Recipe("x", (Pour("gin", 45),)).to_dict()["pours"][0]


@pytest.mark.parametrize("typed", [{"unit": "furlong", "ml": 1}, {"unit": "dash", "ml": 0}, {"unit": "dash", "ml": "1"},
                                   {"unit": "dash", "ml": float("nan")}, {"unit": "dash"}, "dash", 5, [1]])  # fmt: skip
def test_a_damaged_measure_is_one_sentence(typed):
    data = Recipe.parse("2 dashes gin").to_dict()
    data["pours"][0]["typed"] = typed
    with pytest.raises(InputError):
        Recipe.from_dict(data)


def test_scaling_keeps_the_measure_until_nobody_would_count():
    parts = Recipe.parse("2 parts gin\n1 part lemon juice\n1 part 2:1 syrup")
    assert parts.scaled(2).text().splitlines()[:2] == ["1 part = 30 mL", "4 parts gin"]
    assert Recipe.parse(parts.scaled(2).text()).volume == pytest.approx(2 * parts.volume)
    dashes = Recipe.parse("45 mL gin\n2 dashes orange bitters")
    assert dashes.scaled(3).pours[1].amount_text(SHELF, Display()) == "6 dashes"
    assert dashes.scaled(40).pours[1].amount_text(SHELF, Display()) == "72 mL"


def test_parts_of_two_recipes_are_not_mixed_up():
    small, large = Recipe.parse("1 part = 20 mL\n2 parts gin"), Recipe.parse("1 part = 50 mL\n1 part lemon juice")
    both = Recipe("both", (*small.pours, *large.pours))
    assert Recipe.parse(both.text()).amounts.tolist() == [40, 50]


def test_the_measure_is_no_part_of_what_a_pour_is():
    assert pour("30 mL gin") == Pour("gin", 30.0) == pour("3 cl gin")
    assert pour("3 cl gin").typed == Measure("centiliter", 10.0)


@pytest.mark.parametrize("text", ["45 mL gin", "4 cl gin", "0.9 mL gin", "5 mL gin", "2 oz gin", "1.52 oz gin", "0.03 oz gin"])  # fmt: skip
@pytest.mark.parametrize("show", [Display(), OZ])
def test_text_reads_back_exactly_in_either_measure(text, show):
    told = Recipe.parse(text).text(display=show)
    assert Recipe.parse(told).amounts == pytest.approx(Recipe.parse(text).amounts, rel=1e-4)
    assert not any(part in told for part in ("0.06", "1.52"))  # eighths, with what they stand for


def test_eighths_of_an_ounce_say_what_rounding_does():
    assert ounces_text(45) == "1½ oz (−1 %)"  # 44.36 for 45
    assert ounces_text(2 * FLUID_OUNCE) == "2 oz"
    assert ounces_text(1.8) == "under ⅛ oz"
    assert [fraction_text(n / 8) for n in range(1, 9)] == ["⅛", "¼", "⅜", "½", "⅝", "¾", "⅞", "1"]
    assert fraction_text(5 / 3) == "1⅔"
    assert fraction_text(0.3) == ""


def test_a_write_up_names_what_was_told_and_eighths_with_what_they_cost():
    recipe = Recipe.parse("45 mL gin\n⅞ oz lemon juice\n2 dashes orange bitters\n1 egg white", technique="shaken")
    gin, lemon, bitters, white = making.table(trial.run(recipe, draws=0), Display())
    assert gin["oz"] == "1½ (−1 %)"
    assert lemon["oz"] == "⅞"
    assert bitters["name"] == "orange bitters (2 dashes)"
    assert bitters["text"] == "2 dashes orange bitters"
    assert (bitters["oz"], white["name"]) == ("under ⅛", "egg white, raw (1)")
    parts = Recipe.parse("3 parts gin\n1½ parts lemon juice\n1 part 2:1 syrup")
    assert [row["parts"] for row in making.table(trial.run(parts, draws=0), Display())] == ["3", "1½", "1"]
