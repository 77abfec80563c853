"""Everything that people type is read by one reader: right, or refused in one sentence, never wrong.

What counts as a right reading is what the writing means in any country: where two readings are in use ("1,000" is a
thousand in English and one in most of Europe, ISO 80000-1 allows both marks, from memory), it must be refused.
"""

import importlib
import inspect
import pkgutil
import unicodedata
from fractions import Fraction
from typing import get_args, get_type_hints

import numpy as np
import pytest
from growth import grows_less
from hypothesis import given, settings
from hypothesis import strategies as st
from long_run import LONG, examples

import drinklab
from drinklab import boiling, carbonation, dilution, gels, kinds, milk, pantry, strength, trial
from drinklab.errors import InputError
from drinklab.ingredient import LABEL_TOLERANCE
from drinklab.liquid import Liquid
from drinklab.recipe import Recipe
from drinklab.units import FLUID_OUNCE, is_bare, number, read, read_row, to_celsius, to_kpa, to_ml

OZ = FLUID_OUNCE
EXAMPLES = 600 if LONG else 25  # of each argument
SHELF = pantry.load()


def refused(function, *args, **named):
    """The sentence that it ends in."""
    with pytest.raises(InputError) as problem:
        function(*args, **named)
    text = str(problem.value)
    assert "\n" not in text
    assert text.endswith(".")
    return text


# --- numbers ----------------------------------------------------------------------------------------
READ = {
    "45\u00a0mL": 45, "45\u2009mL": 45, "45\u202fmL": 45, "45\tmL": 45, " 45   mL ": 45, "45 mL.": 45, "45.": 45,
    "+5 mL": 5, "٣ mL": 3, "４５ mL": 45, "5 ㎖": 5, "−0 mL": 0, "1234,567 mL": 1234.567, "0,750 L": 750, "1.5 L": 1500,
    "1,5 cl": 15, "7/8 oz": 0.875 * OZ, "15/16 oz": 0.9375 * OZ, "3/2 oz": 1.5 * OZ, "1 1/2 oz": 1.5 * OZ,
    "1-1/2 oz": 1.5 * OZ, "1\u00a01/2\u00a0oz": 1.5 * OZ, "1½ oz": 1.5 * OZ, "1 ½ oz": 1.5 * OZ, "10 1/2 oz": 10.5 * OZ,
    "1⁄2 oz": 0.5 * OZ, "⅙ oz": OZ / 6, "½": 0.5,
}  # fmt: skip


@pytest.mark.parametrize(("text", "ml"), READ.items(), ids=map(ascii, READ))
def test_a_number_is_read_as_it_is_meant(text, ml):
    assert to_ml(text) == pytest.approx(ml, rel=1e-12)


UNREADABLE = [
    "1,000 mL", "12,345 mL", "1,000,000 mL", "1.000,5 mL", "1,000.5 mL", "1 000 mL", "1\u202f000 mL", "1'000 mL", "1_000 mL",
    "1.2.3 mL", "1..5 mL", "5.. mL", "11/2 oz", "15/2 oz", "1 3/2 oz", "1 1/2/3 oz", "1.5½ oz", "½½ oz", "1 1/0 oz",
    "1e3 mL", "1E3", "0x10", "10² mL", "nan", "inf", "5-10 mL", "5–10 mL", "~5 mL", "5±1 mL", "--5 mL", "- 5 mL",
    "9" * 5000, "9" * 40 + " mL", "0." + "1" * 5000, "5 mL gin", "5 M", "½ dozen", "", " \t",
]  # fmt: skip


@pytest.mark.parametrize("text", UNREADABLE, ids=lambda t: ascii(t)[:20])
@pytest.mark.parametrize("reader", [to_ml, to_celsius, to_kpa, number], ids=lambda f: f.__name__)
def test_what_reads_in_two_ways_or_none_is_refused(reader, text):
    said = refused(reader, text, field="pour")
    assert said.startswith("pour is ")


def test_the_sentence_says_how_to_write_it():
    assert "1000" in refused(to_ml, "1,000 g")
    assert "1 1/2" in refused(to_ml, "11/2 oz")


def test_a_negative_mixed_number_is_all_below_zero():
    assert to_celsius("-1 1/2 °C") == -1.5
    assert to_celsius("−½") == -0.5


KINDS = [
    ("0.5 %", kinds.FRACTION, 0.005), ("50 %", kinds.FRACTION, 0.5), ("1/4", kinds.FRACTION, 0.25), ("25 %", kinds.RATIO, 0.25),
    ("40 %", kinds.ABV, 40), ("40\u00a0% vol.", kinds.ABV, 40), ("40 % ABV", kinds.ABV, 40), ("40％", kinds.ABV, 40),
    ("40 %", kinds.ABW, 40), ("40 % by mass", kinds.ABW, 40), ("86 proof", kinds.PROOF, 86), ("5 g/L", kinds.CONCENTRATION, 5),
    ("0.5 kg", kinds.MASS, 500), ("200 mg", kinds.MASS, 0.2), ("998.203 kg/m³", kinds.DENSITY, 998.203),
    ("0.998 g/mL", kinds.DENSITY, 998), ("39.2 ℉", kinds.TEMPERATURE, 4), ("4 ºC", kinds.TEMPERATURE, 4),
    ("12 psi gauge", kinds.GAUGE_PRESSURE, 82.737), ("1 bar", kinds.GAUGE_PRESSURE, 100),
    ("2,5 volumes", kinds.GAS_VOLUMES, 2.5),
    ("160 Bloom", gels.BLOOM, 160), ("25 % vol", dilution.RULE_RANGE, 25),
    ("92 proof", kinds.ABV, 46), ("101 US proof", kinds.ABV, 50.5),  # 27 CFR 5.1: 48 proof is 24 % vol
]  # fmt: skip


@pytest.mark.parametrize(("text", "kind", "value"), KINDS)
def test_a_unit_belongs_to_its_kind(text, kind, value):
    assert read(text, kind, "it") == pytest.approx(value, rel=1e-4)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("40 % vol", kinds.ABW), ("40 % mass", kinds.ABV), ("80 UK proof", kinds.ABV), ("80 °proof", kinds.ABV), ("5 %", kinds.CONCENTRATION),
        ("5 %", kinds.MASS), ("2 oz", kinds.MASS), ("40 %", kinds.PROOF), ("40 % vol", kinds.FRACTION), ("4 K", kinds.TEMPERATURE),
        ("5 g", kinds.VOLUME), ("30 psia", kinds.GAUGE_PRESSURE), ("5 MPa", kinds.GAUGE_PRESSURE), ("5 g/L", kinds.GAS_VOLUMES),
        ("5 kg", kinds.CONCENTRATION),
    ],
)  # fmt: skip
def test_another_kinds_unit_is_refused(text, kind):
    assert repr(text) in refused(read, text, kind, "it")


def test_what_the_attack_reached_through_functions():
    drink = strength.spirit(100, 20)
    assert boiling.boil(drink, "0.5 %").liquid.mass == pytest.approx(0.995 * drink.mass, rel=1e-6)
    assert "% mass" in refused(strength.abv_from_abw, "40 % vol")
    assert gels.dose("agar", ph="3,5") == gels.dose("agar", ph=3.5)
    sour = drink + Liquid.of(citric=1.0)
    typed, given_ = (milk.calibrate(sour, ph, share=0.25) for ph in ("3,5", 3.5))
    assert typed == given_


@pytest.mark.parametrize("bad", [True, -1, 2.5, "200", None, 10**30])
@pytest.mark.parametrize("name", ["draws", "seed"])
def test_draws_and_seed_are_whole_numbers(name, bad):
    if (name, bad) == ("draws", 10**30):
        pytest.skip("as many as the memory holds")
    said = refused(trial.run, Recipe.parse("60 mL gin"), **{name: bad})
    assert said.startswith(f"{name} is ")


def test_minus_nothing_is_nothing():
    for zero in (to_celsius("−0 °C"), to_celsius(-0.0), read("-0", kinds.TEMPERATURE, "it"), to_celsius("32 °F")):
        assert not np.signbit(zero)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Recipe.parse("x" * 5000),
        lambda: Recipe.parse("5 mL " + "x" * 5000),
        lambda: Recipe.parse("-5 mL " + "gin " * 2000),
        lambda: Recipe.parse("5 mL gin, " + "9" * 5000 + " %"),
        lambda: Recipe.parse("9" * 5000 + " mL gin"),
        lambda: to_ml("9" * 5000),
        lambda: to_ml(10**5000),
        lambda: to_ml(1e308 * np.ones(3)),
        lambda: to_celsius(-1e308),
        lambda: strength.abw_from_abv(int("9" * 4000)),
        lambda: strength.abw_from_abv(["x" * 100] * 100),
        lambda: strength.standard_drinks(14, "x" * 5000),
        lambda: carbonation.in_vessel(strength.spirit(90, 20), 2, 4, "y" * 3000),
    ],
)
def test_an_error_repeats_at_most_sixty_letters(make):
    said = refused(make)
    for letter in "xy9":
        assert letter * 61 not in said
    assert "gin " * 20 not in said
    assert len(said) < 400


def test_a_row_of_numbers():
    def row(text):
        return read_row(text, "times", "seconds such as 15, 30")

    assert row("15, 30, 60") == row("15 30\u00a060") == row("15;30;60") == row("15,30,60") == [15, 30, 60]
    assert row("1,5; 2,5") == row("1.5, 2.5") == row("1.5 2.5") == [1.5, 2.5]
    for text in ("1,5 2", "15,30", "1,000, 2,000", "nan", "1e3", "15, x", "", ";", "15 s"):
        assert refused(row, text).startswith("times is ")


def test_a_bare_number_is_in_the_unit_beside_it():
    assert [is_bare(t) for t in ("12", "½", "1 1/2", "12 psi", "1,000", "x", "")] == [True, True, True] + [False] * 4


# --- recipes ----------------------------------------------------------------------------------------
def test_a_typed_strength_is_the_bottles_own():
    # EU label tolerance, Regulation 1169/2011, annex XII (from memory): the same ± whatever the figure
    for text in ("gin, 40 %", "gin, 40.1 %", "gin, 40\u00a0% vol", "gin 40%"):
        (pour,) = Recipe.parse(f"60 mL {text}").pours
        assert pour.bottle(SHELF).abv_pm == LABEL_TOLERANCE
    assert Recipe.parse("60 mL gin").pours[0].abv is None
    runs = [trial.run(Recipe.parse(f"60 mL gin{end}"), melt=0).served for end in ("", ", 40 %", ", 40.1 %")]
    spread = [run.high.abv - run.low.abv for run in runs]
    assert spread[1] == pytest.approx(spread[2], rel=0.02)
    assert spread[1] < 0.25 * spread[0]


@pytest.mark.parametrize("name", ["gin, 40 %", "triple sec, 40 %", "triple sec, 38 %", "lager beer, 4.4 %"])
def test_a_bottle_comes_back_from_its_text(name):
    recipe = Recipe.parse(f"60 mL {name}\n20 mL orange liqueur (triple sec), 40 %")
    again = Recipe.parse(recipe.text())
    assert again.pours == recipe.pours
    assert again.pours[1].abv is None  # the style's whole name


@pytest.mark.parametrize(
    "line",
    [
        "30 mL cream, 36%",
        "30 mL cream, 36 %",
        "30 mL lemon juice, 100 %",
        "30 mL white sugar, 5 %",
        "30 mL whole milk, 3.25 %",
    ],
)
def test_a_strength_of_what_has_none_is_asked_about(line):
    said = refused(Recipe.parse, line)
    assert "holds no alcohol" in said
    assert "fat" in said


def test_fat_in_a_name_is_no_strength():
    assert Recipe.parse("30 mL cream, 36 % fat").pours[0].abv is None
    assert Recipe.parse("30 mL tequila, 100 % agave").pours[0].abv is None


@pytest.mark.parametrize(
    "line",
    ["1,000 g white sugar", "1 000 mL gin", "11/2 oz gin", "1.000,5 mL gin", "5-10 mL gin", "1e3 mL gin", "5 mL gin, 1,000 %",
     "5 mL gin, 40 % mass", "5 mL gin, 140 %", "5 mL gin, −5 %", "5 mL gin, 1 000 %"],
)  # fmt: skip
def test_a_line_that_reads_in_two_ways_is_refused(line):
    assert refused(Recipe.parse, line).startswith("line 1: ")


STRETCHED = {
    "spaces": lambda n: "gin" + " " * n + "x",
    "ones": lambda n: "1 " * n,
    "nines": lambda n: f"gin, {'9' * n} %",
}


@pytest.mark.parametrize("sort", STRETCHED)
def test_a_name_ten_times_as_long_takes_no_more_than_ten_times_as_long(sort):
    grows_less(30, lambda n: refused(SHELF.find, STRETCHED[sort](n)), 10_000, 100_000)


@pytest.mark.parametrize("name", [None, 5, ["gin"]])
def test_what_is_no_name_is_refused(name):
    refused(SHELF.find, name)


def test_any_space_parts_a_line():
    (pour,) = Recipe.parse("top\u00a060\u2009mL\u00a0soda\u00a0water\n5\tmL\tgin").pours[:1]
    assert (pour.ingredient, pour.amount, pour.after) == ("soda_water", 60, True)


# --- own ingredients --------------------------------------------------------------------------------
HEADER = "id,name,kind,abv_percent,sugar_g_l"


@pytest.fixture
def own(tmp_path):
    def load(*rows, header=HEADER):
        (tmp_path / pantry.OWN_FILE).write_text("\n".join((header, *rows)), encoding="utf-8")
        return pantry.load(tmp_path)

    return load


def warnings(shelf, key):
    return shelf[key].allergens, shelf[key].may_contain, shelf[key].cautions


@pytest.mark.parametrize(
    ("row", "held"),
    [
        ("a,goat cream,dairy,0,0", (("milk",), (), ("dairy",))),
        ("a,quail egg,egg,0,0", (("eggs",), (), ("raw_egg",))),
        ("a,house white,wine,12,1", (("sulphites",), (), ())),
        ("milk_whole,farm milk,other,0,40", (("milk",), (), ("dairy",))),
        ("orgeat,my orgeat,syrup,0,600", (("nuts (almond)",), (), ())),
        ("mine,tonic water,mixer,0,60", ((), (), ("quinine", "sparkling"))),
        ('grapefruit_juice,"grapefruit juice, pink",juice,0,70', ((), (), ("grapefruit",))),
        ("a,house gin,spirit,45,0", ((), (), ())),
    ],
)
def test_a_row_has_the_warnings_of_its_kind_and_of_what_it_replaces(own, row, held):
    shelf = own(row)
    assert warnings(shelf, row.split(",")[0]) == held


def test_a_column_says_otherwise(own):
    header = f"{HEADER},allergens,caution"
    shelf = own("a,oat drink,dairy,0,40,cereals containing gluten (oats),none", "b,soy,dairy,0,0,none,", header=header)
    # A filled cell adds to what the kind has: what hides an allergen is worse than what names one too many.
    assert warnings(shelf, "a") == (("cereals containing gluten (oats)", "milk"), (), ())
    # "none" takes away what its kind has; what its own name says stays possible, unless that column too says none.
    assert warnings(shelf, "b") == ((), ("soybeans",), ("dairy",))


def test_a_cell_adds_to_what_the_row_replaces(own):
    header = f"{HEADER},allergens,may_contain,caution"
    shelf = own("orgeat,orgeat,syrup,0,600,soybeans,nuts (almond),", header=header)
    assert warnings(shelf, "orgeat") == (("soybeans", "nuts (almond)"), ("nuts (almond)",), ())
    shelf = own('mine,"orgeat, 2 %",syrup,2,600,,,', "x,raw,egg,0,0,none,,none", header=header)
    assert warnings(shelf, "mine") == (("nuts (almond)",), (), ())
    assert warnings(shelf, "x") == ((), (), ())


def test_allergens_that_nobody_has_stated_are_said_not_to_be(own):
    header = f"{HEADER},allergens"
    shelf = own(
        "a,house orgeat,syrup,0,600,", "b,our syrup,syrup,0,600,none", "c,goat cream,dairy,0,0,", "gin,gin,spirit,45,0,",
        header=header,
    )  # fmt: skip
    assert shelf["a"].unstated == ("house orgeat",)
    assert [shelf[key].unstated for key in ("b", "c", "gin", "honey_syrup")] == [()] * 4


@pytest.mark.parametrize("cell", ["dary", "Dairy", "dairy (goat)", "none; dairy", "raw egg", "dairy;"])
def test_a_caution_is_one_of_the_list(own, cell):
    said = refused(own, f'a,x,dairy,0,0,"{cell}"', header=f"{HEADER},caution")
    assert "line 2: caution is " in said


def test_a_name_that_says_more_never_answers_for_the_plain_word(own):
    shelf = own(
        'cask,"gin, barrel aged",spirit,45,0', "whole_milk,whole milk (oat),other,0,40", "t,black tea (mine),other,0,0"
    )
    assert [shelf.find(name).id for name in ("gin", "gin, 45 %", "whole milk", "cold black tea")] == [
        "gin", "gin", "milk_whole", "tea_black"]  # fmt: skip
    assert [shelf.find(n).id for n in ("gin, barrel aged", "cask", "whole milk (oat)")] == [
        "cask",
        "cask",
        "whole_milk",
    ]
    assert shelf.find("gin, barrel aged, 50 %").abv == 50
    other = own("milk_whole,whole milk (oat),other,0,40")
    assert "did you mean whole milk (oat)" in refused(other.find, "whole milk")


def test_a_row_by_the_very_name_of_ours_answers_as_ours_did(own):
    assert own('lemon_juice,"lemon juice, fresh",juice,0,33').find("lemon juice").sugar == 33


@pytest.mark.parametrize(
    ("one", "two"),
    [("a,our gin,spirit,45,0", "b,Our  Gin,spirit,40,0"), ("a,our gin,spirit,45,0", "b,our-gin,spirit,40,0"),
     ("our_gin,x,spirit,45,0", "b,our gin,spirit,40,0"), ("a,cr\u00e8me,dairy,0,0", "b,cre\u0300me,dairy,0,0")],
)  # fmt: skip
def test_two_rows_of_one_name_are_refused(own, one, two):
    assert "line 3: name is " in refused(own, one, two)


def test_a_name_with_another_strength_is_refused(own):
    assert "45 % vol" in refused(own, 'a,"our gin, 50 %",spirit,45,0')
    assert own('a,"our gin, 45 %",spirit,45,0').find("our gin, 45 %").id == "a"


@pytest.mark.parametrize("row", ["a,thick,spirit,99.5,300", "a,thick,spirit,100,0.5", "a,thick,liqueur,95,245"])
def test_there_is_no_room_for_sugar_in_almost_pure_spirit(own, row):
    assert "leave room" in refused(own, row)


def test_almost_pure_spirit_is_a_litre():
    for abv in (99, 99.3, 99.5, 99.9, 100):
        bottle = SHELF["vodka"].at(abv)
        assert Liquid(1000 * bottle.composition).volume() == pytest.approx(1000, abs=0.1)


SEMICOLON = HEADER.replace(",", ";")


@pytest.mark.parametrize(
    ("rows", "sugar"),
    [
        (["a;x;liqueur;20,5;1,150"], 1.15),
        (["a;x;liqueur;20.5;1.150"], 1.15),
        (["a;x;mixer;0,125;1,150"], 1.15),
        (["a;x;liqueur;20;1150"], 1150),
        (["a;x;liqueur;20,5;300"], 300),
    ],
)
def test_the_file_decides_its_decimal_mark(own, rows, sugar):
    if sugar > 1000:
        assert "dissolved" in refused(own, *rows, header=SEMICOLON)
    else:
        assert own(*rows, header=SEMICOLON)["a"].sugar == sugar


@pytest.mark.parametrize(
    ("rows", "where"),
    [
        (["a;x;liqueur;20;1,150"], "line 2: sugar_g_l is '1,150'; it must be 1,15 or 1150"),
        (["a;x;liqueur;20;1.150"], "line 2: sugar_g_l is '1.150'; it must be 1.15 or 1150"),
        (["a;x;liqueur;20;2.000"], "line 2: sugar_g_l is '2.000'; it must be 2.0 or 2000"),
        (["a;x;liqueur;20;10", "b;y;liqueur;20;1,150", "c;z;liqueur;20;1.150"], "line 3: sugar_g_l is '1,150'"),
        (["a;x;liqueur;20,5;1.150"], "line 2: sugar_g_l is '1.150'"),
        (["a;x;liqueur;20.5;1,150"], "line 2: sugar_g_l is '1,150'"),
        (["a;x;liqueur;20.5;10", "b;y;liqueur;20,5;10"], "line 2: abv_percent is '20.5'"),
        (["a;x;liqueur;20;1.234,5"], "line 2: sugar_g_l is '1.234,5'"),
    ],
)
def test_a_file_that_leaves_its_decimal_mark_open_is_refused(own, rows, where):
    assert where in refused(own, *rows, header=SEMICOLON)


# --- the door, under fire ---------------------------------------------------------------------------
DRINK = strength.spirit(90, 20) + Liquid.of(citric=1.0, sucrose=5.0)
REST = {
    "liquid": DRINK, "still": strength.spirit(50, 40), "mixer": carbonation.with_gas(strength.spirit(150, 0), 4),
    "minutes": 5.0, "volumes": 2.0, "temperature": 4.0, "pressure": 150.0, "temperatures": 4.0, "pressures": 100.0,
    "vessel_volume": 500.0, "measured_ph": 4.5, "volume": 50.0, "abv": 40.0, "abw": 40.0, "target_abv": 30.0, "proof": 80.0,
    "volume_a": 50.0, "abv_a": 40.0, "volume_b": 50.0, "abv_b": 10.0, "grams": 8.0, "bloom": 200.0, "to_bloom": 160.0,
    "liquid_or_grams": 14.0, "share": 0.3, "total_volume": 400.0, "strength": 6.0, "acids": "citric", "juice": "lemon juice",
    "to": "lime juice", "brix": 50.0, "reading": 40.0,
}  # fmt: skip


def with_kinds():
    """(label, function, argument) for every argument with a kind, of every public function of the package."""
    for module in pkgutil.walk_packages(drinklab.__path__, "drinklab."):
        if "workbook" in module.name:
            continue
        place = importlib.import_module(module.name)
        above = vars(importlib.import_module(module.name.rpartition(".")[0]))  # where a circle hides a name
        for name, function in inspect.getmembers(place, inspect.isfunction):
            if function.__module__ != place.__name__ or name.startswith("_"):
                continue
            for argument, hint in get_type_hints(function, localns=above, include_extras=True).items():
                marks = [m for part in (hint, *get_args(hint)) for m in getattr(part, "__metadata__", ())]
                if argument != "return" and any(isinstance(m, kinds.Kind) for m in marks):
                    yield f"{name}({argument})", function, argument


CASES = list(with_kinds())
pieces = st.sampled_from(
    [*"0123456789", ".", ",", "-", "−", "+", "/", " ", "\u00a0", "\t", "½", "⅓", "%", "e", "°", "mL", "oz", "g", "C", "F", "vol",
     "g/L", "psi", "bar", "kg", "proof", "٣", "５", "nan", "inf", "x", "\n", "\x00", "1,000", "11/2"]
)  # fmt: skip
typed = st.lists(pieces, max_size=7).map("".join) | st.text(max_size=12)
numbers = (
    st.floats()
    | st.lists(st.floats(0, 50), max_size=1)
    | st.integers()
    | st.sampled_from([10**400, True, None, [], [1, "x"], {}, np.nan, 1e308, 5e-324, 1j])
)


def needed_by(function) -> dict:
    names = inspect.signature(function).parameters.items()
    needed = {name: REST[name] for name, p in names if p.default is p.empty and name in REST}
    return needed | ({"temperature": -18.0} if function is dilution.weakest_liquid else {})


def refusal(function, given: dict) -> str:
    """The sentence that is said, "" where there are figures; any other error is one of ours."""
    try:
        function(**given)
    except InputError as problem:
        return str(problem)
    return ""


def test_the_fuzz_finds_every_function():
    assert len(CASES) > 60
    assert {"boil(share)", "abv_from_abw(abw)", "acid_solution(volume)", "sweetness(temperature)"} <= {
        c[0] for c in CASES
    }


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize(("label", "function", "argument"), CASES, ids=[c[0] for c in CASES])
@settings(max_examples=EXAMPLES)
@given(value=typed | numbers)
def test_whatever_is_given_ends_in_figures_or_one_sentence(label, function, argument, value):
    said = refusal(function, needed_by(function) | {argument: value})
    assert "\n" not in said
    assert len(said) < 500


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize(("label", "function", "argument"), CASES, ids=[c[0] for c in CASES])
def test_shapes_that_do_not_fit_are_one_sentence(label, function, argument):
    needed = needed_by(function)

    def several(name, shape):
        return np.full(shape, needed.get(name, REST.get(name, 0.5)), float)

    for other in [name for _, theirs, name in CASES if theirs is function and name != argument]:
        for one, two in (((2,), (3,)), ((2, 3), (2,)), ((2, 3), (3, 2))):
            said = refusal(function, needed | {argument: several(argument, one), other: several(other, two)})
            assert "\n" not in said
    if "liquid" in needed:
        pair = Liquid.of(ethanol=[30.0, 32.0], water=60.0, citric=1.0, sucrose=5.0)
        assert "\n" not in refusal(function, needed | {"liquid": pair, argument: several(argument, (3,))})


def test_shapes_are_named():
    spirits = {"volume": [1, 2], "abv": [40, 41, 42]}
    said = "shapes of what is given is volume (2), abv (3); it must be such that they go together, as NumPy broadcasts them."
    assert refusal(strength.spirit, spirits) == said
    two, three = strength.spirit(10, [40, 41]), strength.spirit(10, [40, 41, 42])
    assert "one liquid (2), the other (3)" in refusal(lambda: two + three, {})
    assert "the liquid (2), the factor (3)" in refusal(lambda: [1, 2, 3] * two, {})
    assert "water (2), ethanol (2 x 3)" in refusal(Liquid.of, {"water": [1, 2], "ethanol": [[1, 2, 3]] * 2})


@settings(max_examples=examples(500))
@given(typed)
def test_a_number_that_is_read_is_the_one_that_is_written(text):
    try:
        value = number(text, "it")
    except InputError:
        return
    # By another way: each sign spelled out, the parts as exact fractions.
    spelled = "".join(f" {unicodedata.normalize('NFKC', c)}" if unicodedata.category(c) == "No" else c for c in text)
    spelled = "".join(str(unicodedata.decimal(c, c)) for c in spelled).replace("⁄", "/").replace(",", ".").strip()
    sign = -1 if spelled[0] in "-−–" else 1
    parts = spelled.lstrip("+-−– ").removesuffix(".").replace("-", " ").split()
    assert value == pytest.approx(sign * float(sum(map(Fraction, parts))), rel=1e-12)
