"""Cost by hand to the last cent; a price list read right or refused by row and column."""

from decimal import Decimal

import pytest

from drinklab import batch, cost, demo, own, pantry, stage, strength, trial
from drinklab.errors import InputError
from drinklab.recipe import Recipe
from drinklab.setting import Setting

SHELF = pantry.load()
HEAD = "ingredient,price,currency,pack,pack_unit,yield_percent,deposit,tax_percent\n"
LIST = HEAD + "gin,14.00,EUR,700,mL,,,25\nlemon juice,0.30,EUR,1,piece,,,\nsugar syrup,2.46,EUR,1,kg,,,\n"
SOUR = Recipe.parse("60 mL gin\n24 mL lemon juice\n20 mL sugar syrup", technique="shaken")


def read(text, **more):
    return cost.read_text(text, "prices.csv", pantry=SHELF, **more)


# --- money ------------------------------------------------------------------------------------------------------------


def test_exponents_of_iso_4217_beside_another_list():
    """ISO 4217, list one: JPY 0, KWD 3, CLF 4. CLDR (in Babel) has the same digits, but for what people there no longer
    count in coins (CLDR's own choice, not ISO's): those are named."""
    from babel.core import get_global

    assert (cost.digits("JPY"), cost.digits("KWD"), cost.digits("EUR"), cost.digits("CLF")) == (0, 3, 2, 4)
    fractions = get_global("currency_fractions")
    other = {code for code in cost.currencies() if fractions.get(code, (2,))[0] != cost.digits(code)}
    unused_coins = {"AFN", "ALL", "IQD", "IRR", "KPW", "LAK", "LBP", "MGA", "MMK", "RSD", "SLE", "SOS", "SYP", "TZS", "UYW", "YER", "MRU", "COP", "IDR", "PKR", "HUF", "TWD", "AMD", "CRC", "GYD", "MNT", "MUR", "NOK", "SEK", "CZK", "UZS", "STN", "ZMK"}  # fmt: skip
    assert other <= unused_coins
    assert not {"JPY", "KWD", "KRW", "CLP", "TND", "BHD", "EUR", "USD", "GBP", "CHF"} & other


def test_money_is_written_as_the_country_writes_it():
    """CLDR by Babel: comma or point, sign before or behind, no yen behind a point."""
    amount = Decimal("1234.5")
    assert cost.money(amount, "EUR", "Germany") == "1.234,50\xa0€"
    assert cost.money(amount, "EUR", "Ireland") == "€1,234.50"
    assert cost.money(amount, "USD") == "$1,234.50"
    assert cost.money(Decimal("1234.5"), "JPY") in ("￥1,234", "¥1,234")  # half to the even one
    assert "1,234.500" in cost.money(amount, "KWD")
    assert cost.money(Decimal("-2"), "GBP") == "−£2.00"
    for country in strength.countries():
        assert "1" in cost.money(amount, "EUR", country)


# --- by hand --------------------------------------------------------------------------------------------------------------


def test_a_sour_by_hand_to_the_last_cent():
    """Gin: 14.00 and 25 % are 17.50 for 700 mL: 60 mL are 1.50. A lemon of 48 g (USDA SR28 09152) at 1.029 g/mL is
    46.65 mL for 0.30: 24 mL are 0.1543. Syrup of 50 % mass is 1.230 g/mL (ICUMSA SPS-4): 20 mL are 24.6 g of 2.46 a
    kilogram: 0.0605. Together 1.7148, so 1.71."""
    found = cost.cost(SOUR, read(LIST), pantry=SHELF)
    gin, lemon, syrup = (float(line.amount) for line in found.lines)
    assert gin == pytest.approx(1.5, abs=1e-9)
    assert lemon == pytest.approx(0.30 * 24 / (48 / SHELF["lemon_juice"].density), abs=1e-9)
    assert lemon == pytest.approx(0.1543, abs=0.0001)
    assert syrup == pytest.approx(0.0605, abs=0.0003)
    assert cost.rounded(found.serve, "EUR") == Decimal("1.71")
    assert sum(line.share for line in found.lines) == pytest.approx(1)
    assert not found.partial


def test_decimal_all_the_way():
    """A third of a bottle of 10.00, three times, is 10.00 and not 9.999."""
    prices = read(HEAD + "gin,10.00,EUR,90,mL,,,\n")
    found = cost.cost(Recipe.parse("30 mL gin", technique="none"), prices, pantry=SHELF)
    assert cost.rounded(found.serve * 3, "EUR") == Decimal("10.00")
    assert isinstance(found.serve, Decimal)


def test_yield_tax_and_deposit_by_hand():
    """10.00 and 20 % are 12.00 for 1 L, of which 80 % is used: 100 mL are 1.50. The deposit counts at the till alone."""
    prices = read(HEAD + "gin,10.00,EUR,1,L,80,0.25,20\n")
    drink = Recipe.parse("100 mL gin", technique="none")
    assert cost.cost(drink, prices, pantry=SHELF).serve == Decimal("1.5")
    bought = batch.shopping_list(batch.scale(drink, pantry=SHELF, serves=9))
    assert cost.spent(bought, prices) == (Decimal("24.0"), Decimal("0.50"), ())  # 900 mL of 800 usable each: two


def test_a_batch_of_sixty_by_hand():
    """Long Platform: what is lost counts. 60 serves of 145 mL, and 150 mL stay in the keg: 8850/8700 of the plain cost."""
    drink = demo.settings(SHELF)["Long Platform"]
    prices = cost.example(pantry=SHELF)
    plain = cost.cost(batch.scale(drink, pantry=SHELF, serves=60, tool="exact"), prices)
    stays = cost.cost(batch.scale(drink, pantry=SHELF, serves=60, vessel="keg, 9.5 L", stays=150, tool="exact"), prices)
    assert float(stays.serve / plain.serve) == pytest.approx(8850 / 8700, abs=2e-4)


def test_the_spread_is_the_pours():
    """Jigger: 1 mL and 3 % (setting.TOOLS): 2.8 of 60 mL of a bottle that costs 2.50 a 100 mL: 0.07."""
    drink = Setting(Recipe.parse("60 mL gin", technique="none"))
    found = cost.cost(drink, read(HEAD + "gin,17.50,EUR,700,mL,,,\n"), pantry=SHELF)
    assert found.serve == Decimal("1.5")
    assert float(found.pm) == pytest.approx(0.07, abs=1e-6)
    drawn, _ = trial.drawn(drink.recipe, drink.recipe.bottles(SHELF), "jigger", 4000, 1)
    low, high = stage.ends(drawn[None, 1:, 0] * 0.025)
    assert float(found.pm) == pytest.approx(float(high[0] - low[0]) / 2, rel=0.05)
    assert found.said("Germany").text == "1,50 ± 0,07 € a serve"


def test_a_price_for_a_wanted_pour_cost():
    """1.50 is 20 % of 7.50; with 19 % on top 8.925, so 8.93."""
    found = cost.cost(
        Recipe.parse("60 mL gin", technique="none"), read(HEAD + "gin,17.50,EUR,700,mL,,,\n"), pantry=SHELF
    )
    assert found.price_for(20) == Decimal("7.50")
    assert found.price_for(20, 19) == Decimal("8.93")
    for wrong in (0, -1, 101, "half", None, float("nan")):
        with pytest.raises(InputError, match="pour cost"):
            found.price_for(wrong)


def test_a_swap():
    prices = read(HEAD + "gin,17.50,EUR,700,mL,,,\npisco,21.00,EUR,700,mL,,,\n")
    other = cost.swap(Recipe.parse("60 mL gin", technique="none"), "gin", "pisco", prices, pantry=SHELF)
    assert other.saved == Decimal("-0.3")
    assert other.change["abv"] == pytest.approx(1, abs=0.02)  # 40 % and 41 % vol
    with pytest.raises(InputError, match="bottle to swap"):
        cost.swap(SOUR, "pisco", "gin", prices, pantry=SHELF)
    short = cost.swap(Recipe.parse("60 mL gin", technique="none"), "gin", "vodka", prices, pantry=SHELF)
    with pytest.raises(InputError, match="vodka"):
        _ = short.saved


# --- what is missing is named ------------------------------------------------------------------------------------------------


def test_a_missing_price_is_named_and_the_sum_is_partial():
    prices = read(LIST.replace("2.46", "").replace("lemon juice,0.30,EUR,1,piece,,,\n", ""))
    found = cost.cost(SOUR, prices, pantry=SHELF)
    assert found.partial
    assert found.missing == ("lemon juice, fresh", "sugar syrup, 1:1 by mass")
    assert found.serve == Decimal("1.5")
    assert found.said().text.startswith("at least ")
    assert "without lemon juice, fresh, sugar syrup" in found.said().text
    with pytest.raises(InputError, match="sugar syrup"):
        found.price_for(20)


def test_water_is_free_and_a_price_of_nothing_is_a_price():
    prices = read(HEAD + "gin,0,EUR,700,mL,,,\n")
    found = cost.cost(Recipe.parse("60 mL gin\n40 mL water", technique="none"), prices, pantry=SHELF)
    assert (found.serve, found.missing) == (0, ())


@pytest.mark.parametrize("name", ["First Frost", "Slow Signal", "Clear Line", "Long Platform", "Late Stove"])
def test_the_example_list_prices_the_demo(name):
    assert not cost.cost(demo.settings(SHELF)[name], cost.example(pantry=SHELF), pantry=SHELF).partial


# --- a price list as people have it --------------------------------------------------------------------------------------------


def test_decimal_commas_and_a_byte_order_mark_read_right(tmp_path):
    path = tmp_path / "my_prices.csv"
    comma = "ingredient;price;currency;pack;pack_unit;deposit\ngin;16,50;EUR;0,7;L;0,25\n"
    path.write_bytes(b"\xef\xbb\xbf" + comma.encode())
    found = cost.load(tmp_path, pantry=SHELF).of("gin")
    assert (found.each, found.pack, found.deposit) == (Decimal("16.5"), 700, Decimal("0.25"))
    assert cost.read_text("\ufeff" + comma, pantry=SHELF).of("gin") == found.__class__(
        **{f: getattr(found, f) for f in found.__slots__}
    )
    assert cost.load(tmp_path / "nowhere") is None


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("gin,-3,EUR,700,mL,,,", "line 2: price is -3"),
        ("gin,3,EUR,0,mL,,,", "line 2: pack is 0"),
        ("gin,3,EUR,,mL,,,", "line 2: pack is empty"),
        ("gin,3,EUR,-700,mL,,,", "line 2: pack is -700"),
        ("gin,3,XXX,700,mL,,,", "line 2: currency is 'XXX'"),
        ("gin,3,DEM,700,mL,,,", "line 2: currency is 'DEM'"),
        ("gin,3,eur,700,mL,,,", "line 2: currency is 'eur'"),
        ("gin,3,,700,mL,,,", "line 2: currency"),
        ("gin,3 €,EUR,700,mL,,,", "line 2: price is '3 €'"),
        ("gin,nan,EUR,700,mL,,,", "line 2: price is 'nan'"),
        ("gin,1e999,EUR,700,mL,,,", "line 2: price"),
        ("gin,3,EUR,700,hogshead,,,", "line 2: pack_unit"),
        ("gin,3,EUR,1,piece,,,", "line 2: pack_unit is 'piece'"),
        ("gin,3,EUR,700,mL,0,,", "line 2: yield_percent"),
        ("gin,3,EUR,700,mL,,-1,", "line 2: deposit"),
        ("no such thing,3,EUR,700,mL,,,", "line 2: ingredient is 'no such thing'"),
        ("gin,3,EUR,700,mL,,,\npisco,3,USD,700,mL,,,", "line 3: currency is 'USD'; it must be EUR in every line"),
        ("gin,3,EUR,700,mL,,,\ngin,4,EUR,700,mL,,,", "line 3: ingredient is 'gin'"),
        ("gin,3,EUR,700,mL,,,\nGin,4,EUR,700,mL,,,", "line 3: ingredient is 'Gin'"),
        ("gin,3,EUR,700,mL,,,\n,4,EUR,700,mL,,,", "line 3: ingredient is empty"),
        ('"gin","16,50",EUR,700,mL,,,', "line 2: price is '16,50'"),
        ("", "without a line"),
    ],
)
def test_a_bad_price_list_is_refused_by_row_and_column(line, words):
    with pytest.raises(InputError) as refused:
        read(HEAD + line + "\n")
    assert words in str(refused.value)
    assert "prices.csv" in str(refused.value)


# --- the form -----------------------------------------------------------------------------------------------------------------


GIN = {"ingredient": "gin", "price": "16.50", "currency": "EUR", "pack": "700", "pack_unit": "mL"}


def test_the_form_keeps_what_is_there(tmp_path):
    path = tmp_path / cost.OWN_FILE
    path.write_text(
        "\ufeffingredient;price;currency;pack;pack_unit;note\npisco;19,90;EUR;0,7;L;from the cellar\n", "utf-8"
    )
    cost.write(tmp_path, GIN, pantry=SHELF)
    cost.write(tmp_path, GIN | {"ingredient": "pisco", "price": "21"}, pantry=SHELF)
    assert path.read_text("utf-8") == (
        "\ufeffingredient;price;currency;pack;pack_unit;note\npisco;21;EUR;700;mL;from the cellar\ngin;16,5;EUR;700;mL;\n"
    )
    assert cost.load(tmp_path, pantry=SHELF).of("pisco").each == 21


@pytest.mark.parametrize(
    "wrong",
    [
        {"price": "-1"}, {"price": "lots"}, {"currency": "USD"}, {"currency": "euro"}, {"pack": "0"}, {"ingredient": "ginn"},
        {"ingredient": ""}, {"pack_unit": "barrel"}, {"colour": "blue"}, {"price": "inf"},
    ],
)  # fmt: skip
def test_the_form_refuses_and_writes_nothing(tmp_path, wrong):
    cost.write(tmp_path, GIN | {"ingredient": "pisco"}, pantry=SHELF)
    cost.write(tmp_path, GIN, pantry=SHELF)
    before = (tmp_path / cost.OWN_FILE).read_bytes()
    with pytest.raises(InputError):
        cost.write(tmp_path, GIN | wrong, pantry=SHELF)
    assert (tmp_path / cost.OWN_FILE).read_bytes() == before


def test_a_list_with_a_mistake_is_not_written_over(tmp_path):
    (tmp_path / cost.OWN_FILE).write_text(HEAD + "gin,x,EUR,700,mL,,,\n")
    with pytest.raises(InputError, match="line 2: price"):
        cost.write(tmp_path, GIN, pantry=SHELF)
    assert "gin,x" in (tmp_path / cost.OWN_FILE).read_text()


def test_a_fruit_whose_name_begins_as_water_does_is_bought(tmp_path):
    own.write(tmp_path, own.row("watermelon juice", "juice", "0", "80", acid="1", allergens="none"))
    shelf = pantry.load(tmp_path)
    drink = Recipe.parse("50 mL gin\n50 mL watermelon juice\n20 mL water", shelf, technique="none")
    found = cost.cost(drink, cost.example(pantry=shelf), pantry=shelf)
    assert found.missing == ("watermelon juice",)
    bought = [line.name for line in batch.shopping_list(batch.scale(drink, pantry=shelf, serves=10))]
    assert "watermelon juice" in bought
    assert "water" not in bought
