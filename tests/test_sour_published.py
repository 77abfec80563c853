"""pH, milk's acid and curd beside published figures: tests/sour_published.csv, each row with its source.

A row whose note begins with MISS is one that the model does not meet, kept to be seen; it must stay a miss, or lose
the word. No published pH, yield or loss of a washed drink with spirit was found, and no pH of a mixed drink whose
acids are stated: the panel says so, and the nearest (wines, sherry, fruit wines) are here.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from drinklab import balance, facts, filtering, gels, pantry, steps, trial
from drinklab import milk as dairy
from drinklab.liquid import COMPONENTS, Liquid
from drinklab.recipe import Recipe

ROWS = list(csv.DictReader((Path(__file__).parent / "sour_published.csv").open(encoding="utf-8", newline="")))
WHOLE = "whole cow's milk"


def _inputs(row) -> dict:
    given = dict(part.strip().split("=") for part in row["inputs"].split(";"))
    return {name: value if name in ("milk", "way", "ingredient") else float(value) for name, value in given.items()}


def _wash(milk, way, milk_ml, **grams):
    return dairy.milk_wash(Liquid.of(water=30, **grams), milk, amount=milk_ml, way=way)


def _drink(ingredient=None, unsure=0.0, **grams) -> Liquid:
    if ingredient:
        return 1000 * Liquid(pantry.load()[ingredient].composition) + Liquid.of(**grams)
    solutes = sum(grams.values())
    return Liquid.of(water=995 - 0.62 * solutes, unsure_potassium=unsure, **grams)


def _band(low, high):
    return float(low), float(high)


def _held(way):
    how = dairy.WASHINGS[way]
    return how.hold_up / how.hold_up_factor, how.hold_up * how.hold_up_factor


def _curd_mass(**given):
    washed = _wash(**given)
    whole = washed.liquid.mass + washed.curd.mass
    return [whole - v * washed.liquid.mass / washed.volume for v in (washed.volume_high, washed.volume_low)]


def _index(milk):
    kind = dairy.milks()[milk]
    ph = np.linspace(3.5, 6.6, 311)
    steepest = np.abs(np.gradient(dairy.bound(ph), ph)).max() / 1000
    return [steepest * (kind.buffering + side * kind.buffering_pm) for side in (-1, 1)]


def _peak(milk):
    ph = np.linspace(3.5, 6.6, 311)
    at = ph[np.abs(np.gradient(dairy.bound(ph), ph)).argmax()]
    return at - 0.15, at + 0.15  # the peak is flat: a judgement


def _fall(ingredient, citric):
    fall = balance.ph(_drink(ingredient)) - balance.ph(_drink(ingredient, citric=citric))
    return 0.7 * fall, 1.3 * fall  # wines differ in buffering: a judgement


def _acidity(ingredient):
    found = balance.titratable(_drink(ingredient))
    return 0.85 * found, 1.15 * found  # as `acid_pm` of apple juice has it, less than one standard deviation


# What the model allows for each: the ends that hold 19 in 20.
MODELS = {
    "held": _held,
    "curd mass": _curd_mass,
    "buffer index": _index,
    "peak": _peak,
    "wash pH": lambda **given: _band(*(getattr(_wash(**given), f"ph_{end}") for end in ("low", "high"))),
    "curdles": lambda **given: [getattr(_wash(**given), f"complete_{end}") for end in ("low", "high")],
    "ph": lambda **given: balance.ph_reading(_drink(**given))[1:],
    "fall": _fall,
    "acidity": _acidity,
}


@pytest.mark.parametrize("row", ROWS, ids=[f"{r['quantity']}: {r['inputs']}" for r in ROWS])
def test_published_rows_lie_in_the_band(row):
    low, high = MODELS[row["quantity"]](**_inputs(row))
    meets = low <= float(row["high"]) and float(row["low"]) <= high
    assert meets == (not row["note"].startswith("MISS")), f"{low:.3g} to {high:.3g}"
    assert row["source"]
    assert row["status"] in ("read", "second hand", "from memory")


# The model's own figure, to say how far it lies from the published one.
CENTRES = {
    "held": lambda way: dairy.WASHINGS[way].hold_up,
    "curd mass": lambda **given: _wash(**given).curd.mass,
    "buffer index": lambda milk: float(np.mean(_index(milk))),
    "peak": lambda milk: float(np.mean(_peak(milk))),
    "wash pH": lambda **given: _wash(**given).ph,
    "ph": lambda **given: balance.ph(_drink(**given)),
    "fall": lambda **given: float(np.mean(_fall(**given))),
    "acidity": lambda **given: float(np.mean(_acidity(**given))),
}


def _table() -> list[str]:
    """The rows of the contributor's guide: quantity, independent values, largest miss."""
    words = {
        "held": "liquid held by curd", "curd mass": "mass of wet curd", "buffer index": "largest buffer index of milk",
        "peak": "pH where milk buffers most", "wash pH": "pH of milk with acid",
        "ph": "pH of juices, wines and drinks", "fall": "fall of a wine's pH by citric acid",
        "acidity": "titratable acidity of juices",
    }  # fmt: skip
    lines = []
    for quantity, word in words.items():
        misses = []
        for row in ROWS:
            if row["quantity"] == quantity and "set by it" not in row["note"]:
                found, low, high = CENTRES[quantity](**_inputs(row)), float(row["low"]), float(row["high"])
                misses.append((found - np.clip(found, low, high), row["unit"]))
        if misses:
            most, unit = max(misses, key=lambda miss: abs(miss[0]))
            lines.append(f"| {word} | {len(misses)} | {most:+.2g} {unit} |")
        else:
            lines.append(f"| {word} | none | not known |")
    return lines


def test_the_guide_states_the_largest_misses():
    guide = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    for line in _table():
        assert line in guide, line


def test_the_rows_see_a_wrong_model(monkeypatch):
    """What was there before fails them: salts of none, curd of 7, and one curd for hot and cold."""
    fruit_wine, grape = ({"malic": 8.2, "ethanol": 79.0}, {"malic": 14.0, "tartaric": 7.0})
    assert balance.ph_reading(_drink(**fruit_wine)).high < 2.75  # against 2.75 to 3.57
    assert balance.ph_reading(_drink(**grape)).high < 2.6  # against 2.6 to 2.9
    assert not 7.0 / 2.5 < 1.3 < 7.0 * 2.5
    low, high = _curd_mass(milk=WHOLE, way="cold drip", citric=9.0, milk_ml=970.9)
    assert not low <= 133.6 <= high


# --- unknown is not zero ------------------------------------------------------------------------------------------


def _own(tmp_path, potassium):
    text = f"id,name,kind,abv_percent,sugar_g_l,citric_g_l,potassium_g_l\nsour,sour,juice,0,20,20,{potassium}\n"
    (tmp_path / pantry.OWN_FILE).write_text(text, encoding="utf-8")
    return Liquid(pantry.load(tmp_path)["sour"].composition)


def test_a_blank_is_not_a_zero(tmp_path):
    blank, none = _own(tmp_path, ""), _own(tmp_path, "0")
    assert none.unsure_potassium == 0 < blank.unsure_potassium
    low, high = balance.ph_reading(blank)[1:]
    assert low < balance.ph(none) < low + 0.1  # none at all is its lower end
    assert balance.ph_reading(none).high < low + 0.2 < high - 0.8
    most = _own(tmp_path, f"{2 * 1000 * blank.unsure_potassium}")
    assert low < balance.ph(most) < high + 0.1


def test_every_sour_ingredient_has_its_salts_stated_or_open():
    """A pH without any salt is claimed of none but acids that are weighed, and drinks of a stated 0.01 g/L."""
    for item in pantry.load().values():
        liquid = Liquid(item.composition)
        if liquid.acid > 0:
            open_or_stated = liquid.potassium + liquid.unsure_potassium > 0
            assert open_or_stated or "no salts" in item.source, item.id


def test_the_band_widens_with_the_share_of_unknown_salts():
    shelf = pantry.load()
    lemon, own = (Liquid(shelf[name].composition) for name in ("lemon_juice", "passion_fruit_syrup"))
    widths = [np.diff(balance.ph_reading((1 - share) * lemon + share * own)[1:])[0] for share in (0, 0.3, 0.6, 1)]
    assert widths == sorted(widths)
    assert widths[-1] > 3 * widths[0]


@pytest.mark.parametrize(
    "name", ["gin", "coffee_hot", "tea_black", "milk_whole", "beer_lager", "honey", "peach_liqueur"]
)
def test_no_ph_where_next_to_nothing_is_known(name):
    found = trial.run(Recipe.parse(f"100 mL {pantry.load()[name].name}"), melt=0.0, draws=50)
    assert found.served.ph is None


def test_unknown_salts_are_carried_and_lost_like_the_rest():
    drink = Liquid.of(water=70, citric=1.5, unsure_potassium=0.12)
    washed = dairy.milk_wash(drink)
    assert COMPONENTS.index("unsure_potassium")
    assert washed.liquid.unsure_potassium == pytest.approx((1 - washed.lost) * 0.12)
    sure = dairy.milk_wash(Liquid.of(water=70, citric=1.5, potassium=0.12))
    none = dairy.milk_wash(Liquid.of(water=70, citric=1.5))
    assert washed.ph_low < none.ph < sure.ph
    assert washed.ph_high - washed.ph_low > 1.2 * (sure.ph_high - sure.ph_low)
    drawn = dairy.milk_wash(drink, draw=steps.draws(4000, 3))
    ends = np.quantile(drawn.ph[1:], [0.025, 0.975])
    assert ends == pytest.approx([washed.ph_low, washed.ph_high], abs=0.06)


def test_what_is_hardly_known_is_said():
    drink = Liquid.of(water=70, citric=0.5, unsure_potassium=0.25)
    said = facts.say(dairy.milk_wash(drink, share=0.05).said())
    assert "hardly known" in said


# --- hot and cold -------------------------------------------------------------------------------------------------

SOUR = Liquid.of(water=70, ethanol=16, sucrose=9, citric=0.9)


def test_hot_and_cold_differ_and_are_saved():
    cold, hot = (dairy.MilkWash(way=way) for way in dairy.WASHINGS)
    assert steps.from_dict(steps.to_dict(hot)) == hot != cold
    old = {"step": "milk wash", "milk": WHOLE, "share": 0.3, "name": "milk-washed"}
    assert steps.from_dict(old) == dairy.MilkWash(share=0.3)
    assert hot.wash(SOUR).volume > cold.wash(SOUR).volume
    assert hot.wash(SOUR).most_milk > 1.5 * cold.wash(SOUR).most_milk
    assert {c.code for c in hot.act(SOUR).cautions} == {"dairy", "hot spirit"}
    assert {c.code for c in cold.act(SOUR).cautions} == {"dairy"}
    assert "half of the whey protein" in facts.say(hot.wash(SOUR).said())


@pytest.mark.parametrize("way", dairy.WASHINGS)
def test_most_milk_of_either_way_curdles_just_whole(way):
    most = dairy.milk_wash(SOUR, way=way).most_milk
    edge = dairy.milk_wash(SOUR, amount=most, way=way)
    assert edge.ph == pytest.approx(dairy.WASHINGS[way].curdles, abs=0.03)
    total = SOUR.grams + edge.milk.grams
    assert edge.liquid.grams + edge.curd.grams == pytest.approx(total, abs=1e-9)


# --- what ended badly ---------------------------------------------------------------------------------------------


def test_a_random_draw_without_acid_does_not_refuse_the_wash():
    recipe = Recipe.parse("40 mL gin\n20 mL peach liqueur\n80 mL cold black tea")
    found = trial.run(recipe, melt=0.0, steps=(dairy.MilkWash(), filtering.Filter()), draws=500)
    without = found.stages[0].liquid.acid <= 0
    assert without.any()
    assert not without[0]
    assert np.isfinite(found.served.low.volume)


@pytest.mark.parametrize("size", [1e-300, 1e-12, 1e-6, 1e-3])
@pytest.mark.parametrize("way", dairy.WASHINGS)
def test_a_wash_of_almost_no_drink(size, way):
    washed = dairy.milk_wash(size * SOUR, amount=100, way=way)
    assert washed.ph == pytest.approx(6.7, abs=0.1)
    assert washed.complete == 0
    assert not any("nan" in said for said in map(str, washed.said()))


def test_a_gel_counts_with_the_sour_end_where_ph_is_not_known():
    peach = 300 * Liquid(pantry.load()["peach_liqueur"].composition)
    assert not balance.ph_known(peach)
    assert gels.ph_of(peach) == pytest.approx(balance.ph_reading(peach).low)
    assert gels.ph_of(Liquid.of(water=60, ethanol=30)) == pytest.approx(7, abs=0.5)
    assert "pH is not known" in " ".join(gels.Set("gelatin").act(peach).notes)
