"""Cost as a wish: held beside every combination of a small case, taken forward one by one, and beside hand-worked sums."""

import functools
from itertools import product

import numpy as np
import pytest

from drinklab import pantry
from drinklab.cost import cost, example, per_ml
from drinklab.cost.prices import read_text
from drinklab.errors import InputError
from drinklab.profile import profile, served
from drinklab.reach import PerMl, reach, scales
from drinklab.recipe import Pour, Recipe
from drinklab.setting import Setting
from drinklab.workbook.panels import reach as panels

SHELF = pantry.load()
KEYS = ("rum_aged", "lemon_juice", "honey_syrup", "water")
HEAD = "ingredient,price,currency,pack,pack_unit\n"
# 700 mL of rum for 28.00 are 0.04 a mL; honey syrup 0.01; lemon juice 0.02 (by hand).
PRICES = PerMl("EUR", {"rum_aged": 0.04, "lemon_juice": 0.02, "honey_syrup": 0.01, "water": 0.0})
LEVELS = np.arange(0, 61, 5.0)


@functools.cache
def _glasses(most: float):
    """Every combination of 5 mL up to so much in all, and what each is in the glass, by the forward code."""
    rows = [row for row in product(LEVELS, repeat=4) if 60 <= sum(row) <= most and any(row[:3])]
    recipes = [
        Recipe("x", [Pour(k, ml) for k, ml in zip(KEYS, row, strict=True) if ml], "shaken") for row in rows
    ]  # fmt: skip
    return rows, profile(served(recipes, SHELF, None))


def _all(target: dict) -> np.ndarray:
    """Distance of every combination."""
    rows, found = _glasses(2 * target["volume"][1])
    money = np.array(rows) @ [PRICES.each[key] for key in KEYS]
    size = scales() | {"volume": scales()["volume"] * sum(target["volume"]) / 2, "cost": target["cost"] / 10}
    off = []
    for axis, band in target.items():
        low, high = (0.0, band) if axis == "cost" else band
        value = money if axis == "cost" else getattr(found, axis)
        off.append((value - np.clip(value, low, high)) / size[axis])
    return np.sqrt(np.mean(np.square(off), axis=0))


@pytest.mark.parametrize("most", [2.6, 1.9, 1.3])
def test_no_combination_is_nearer(most):
    target = {"abv": (17.0, 19.0), "sugar": (60.0, 90.0), "volume": (110.0, 130.0), "cost": most}
    ours = reach(target, KEYS, measure=5, technique="shaken", prices=PRICES, limits=dict.fromkeys(KEYS, (0, 60)))[0]
    assert ours.distance == pytest.approx(_all(target).min(), abs=1e-5)
    assert ours.cost == pytest.approx(sum(p.amount * PRICES.each[p.ingredient] for p in ours.recipe.pours))
    assert ours.met["cost"] == (ours.cost <= most + 1e-9)


def test_poured_freely_the_cheaper_bottle_is_taken():
    """120 mL of 20 % vol from a rum of 40 % and water: 60 mL and 60 mL, 2.40 (by hand). A gin at half the price costs
    half, and only it is under 1.80."""
    goal = {"abv": 20, "volume": 120}
    shelf = ["aged rum, 40 %", "gin, 40 %", "water"]
    prices = PerMl("EUR", {"rum_aged": 0.04, "gin": 0.02, "water": 0.0})
    alone = reach(goal | {"cost": 3}, ["aged rum, 40 %", "water"], melt=0, prices=prices)[0]
    assert alone.cost == pytest.approx(2.4, abs=0.03)
    best = reach(goal | {"cost": 1.8}, shelf, melt=0, prices=prices)[0]
    assert best.distance == 0
    assert best.cost <= 1.8
    both = reach(goal | {"cost": 1.1}, shelf, melt=0, prices=prices)[0]
    assert not both.met["cost"]
    assert both.reasons[0].endswith("as wanted: no more than 1.10 EUR may be spent.")
    least = {"aged rum, 40 %": (60, None)}
    dear = reach({"cost": 1.6}, ["aged rum, 40 %"], limits=least, melt=0, prices=prices)[0]
    assert dear.distance == pytest.approx(5, abs=1e-3)  # by hand: 2.40 - 1.60, in tenths of 1.60
    dear = reach({"cost": 1}, ["aged rum, 40 %"], limits=least, melt=0, prices=prices)[0]
    assert dear.reasons == ("Cost can't fall below 2.40 EUR: at least 60 mL of aged rum is asked for.",)


def test_free_amounts_beside_measured_ones():
    """Freely poured at least as near as by 5 mL, and never dearer than asked where that can be met."""
    target = {"abv": (17.0, 19.0), "sugar": (60.0, 90.0), "volume": (110.0, 130.0), "cost": 1.9}
    free = reach(target, KEYS, technique="shaken", prices=PRICES)[0]
    assert free.distance <= _all(target).min() + 1e-6


def test_a_missing_price_is_named():
    prices = read_text(f"{HEAD}gin,14,EUR,700,mL\n", pantry=SHELF)
    bottles = [SHELF["gin"], SHELF["lemon_juice"], SHELF["water"]]
    with pytest.raises(InputError, match=r"until these have a price: lemon juice, fresh"):
        reach({"abv": 20, "cost": 1.8}, bottles, prices=per_ml(bottles, prices))
    with pytest.raises(InputError, match="until prices are given"):
        reach({"abv": 20, "cost": 1.8}, bottles)
    for bad in (0, -1, float("nan"), "x"):
        with pytest.raises(InputError, match="wanted cost"):
            reach({"abv": 20, "cost": bad}, bottles, prices=PRICES)
    with pytest.raises(InputError, match="tolerance of cost"):
        reach({"cost": 2}, KEYS, prices=PRICES, tolerance={"cost": 1})


def test_prices_a_millilitre_are_those_of_the_cost():
    """A drink costs its amounts times these: as `cost` has it to the last digit of a float."""
    prices = example()
    keys = [key for key in ("gin", "lemon_juice", "honey_syrup") if prices.of(key)]
    each = per_ml([SHELF[key] for key in keys], prices).each
    recipe = Recipe("x", [Pour(key, 30.0) for key in keys], "shaken")
    assert float(cost(Setting(recipe), prices).serve) == pytest.approx(sum(30 * each[key] for key in keys))
    assert len(keys) >= 2


def test_the_page_asks_for_a_price_list_and_shows_the_cost(tmp_path):
    page = panels.panel(tmp_path, Recipe.parse("60 mL gin\n20 mL lemon juice\n20 mL honey syrup", technique="shaken"))
    page.most.value = "1,80"
    assert "price list is in the folder" in page.problem.value
    (tmp_path / "my_prices.csv").write_text(f"{HEAD}gin,14,EUR,700,mL\nhoney syrup,5,EUR,500,mL\n")
    page.refresh()
    assert "until these have a price: lemon juice, fresh" in page.problem.value
    (tmp_path / "my_prices.csv").write_text(
        f"{HEAD}gin,14,EUR,700,mL\nhoney syrup,5,EUR,500,mL\nlemon juice,5,EUR,500,mL\n"
    )
    page.refresh()
    assert page.problem.value == ""
    # 60 mL of 0.02 and 40 mL of 0.01: 1.60 (by hand).
    assert page.found[0].cost == pytest.approx(1.6, abs=0.05)
    assert "under €1.80" in page.best.value
    page.most.value = "1.00"
    assert "✗" in page.best.value
    assert "over by €0." in page.best.value
    page.most.value = ""
    assert "Cost of the pours" not in page.best.value
