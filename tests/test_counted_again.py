"""Small parts that all pages lean on, each against another way of counting: the standard library, tables, by hand."""

import statistics

import numpy as np
import pytest

from drinklab import classics, pantry, profile, trial
from drinklab.display import Display
from drinklab.liquid import Liquid
from drinklab.physics import density
from drinklab.recipe import Recipe
from drinklab.workbook.charts import place as place_charts
from drinklab.workbook.parts.bench_words import classic_rows

KNOWN = classics.load()
FIGURES = profile.reference(KNOWN)


# A jigger pours to 1 mL and 3 %, a free hand to 2 mL and 10 %, a scale to 0.5 mL, 19 times in 20; never beyond half of
# what is poured (common practice, no published source). Two standard deviations hold 95.4 %.
@pytest.mark.parametrize(
    ("tool", "amount", "half_width"),
    [("jigger", 60, 2.8), ("jigger", 10, 1.3), ("jigger", 1, 0.5), ("free pour", 60, 8.0), ("free pour", 15, 3.5),
     ("scale", 60, 0.5), ("scale", 10, 0.5), ("exact", 60, 0.0)],
)  # fmt: skip
def test_what_a_tool_pours(tool, amount, half_width):
    shelf = pantry.load()
    recipe = Recipe.parse(f"{amount} mL gin")
    amounts, _ = trial.drawn(recipe, recipe.bottles(shelf), tool, 20_000, 3)
    assert amounts[0, 0] == amount
    assert np.std(amounts[1:, 0]) == pytest.approx(half_width / 2, rel=0.02)
    if half_width:
        held = np.mean(np.abs(amounts[1:, 0] - amount) <= half_width)
        assert held == pytest.approx(0.954, abs=0.01)


def _of(axis, family=None):
    values = getattr(FIGURES, axis).tolist()
    return [v for v, of in zip(values, KNOWN.families, strict=True) if family in (None, of)]


@pytest.mark.parametrize("axis", profile.AXES)
def test_a_unit_of_distance_is_half_of_the_middle_half(axis):
    low, _, high = statistics.quantiles(_of(axis), n=4, method="inclusive")
    assert profile.scales(KNOWN)[axis] == pytest.approx((high - low) / 2, rel=1e-9)


@pytest.mark.parametrize("family", ["sour", "highball", "stirred spirit-forward"])
def test_the_band_of_a_family_holds_its_middle_four_fifths(family):
    """In words and in the picture alike."""
    drawn = place_charts.family_rows(classic_rows(KNOWN), family)["family"][0]
    told = profile.place(FIGURES[0], KNOWN, family).family_range
    for axis in profile.AXES:
        low, *_, high = statistics.quantiles(_of(axis, family), n=10, method="inclusive")
        assert told[axis] == pytest.approx((low, high), rel=1e-9)
        assert (drawn[f"{axis}_low"], drawn[f"{axis}_high"]) == pytest.approx((low, high), abs=0.011)


@pytest.mark.parametrize(("abv", "grams"), [(0, 0.0), (5, 3.94620), (40, 31.5696), (100, 78.924)])
def test_strength_of_so_many_grams(abv, grams):
    """In 100 mL; a millilitre of ethanol weighs 0.78924 g at 20 °C (OIML R 22, 1975)."""
    assert density.abv_of(grams, 100.0) == pytest.approx(abv, abs=2e-3)
    assert density.abv_of(np.array([grams, grams]), np.array([100.0, 200.0])) == pytest.approx([abv, abv / 2], abs=2e-3)


@pytest.mark.parametrize(
    ("figure", "value", "volume", "spread", "shown"),
    [
        ("abv", 12.345, "mL", 0.44, ("12.3", "± 0.4", "% vol")),
        ("abv", 12.35001, "mL", 0.01, ("12.4", "± 0.1", "% vol")),
        ("sugar", 19.94, "mL", 1.26, ("19.9", "± 1.3", "g/L")),
        ("sugar", 20.4, "mL", 1.6, ("20", "± 2", "g/L")),
        ("sugar", 84.6, "mL", 0.2, ("85", "± 1", "g/L")),
        ("volume", 9.94, "mL", None, ("9.9", "", "mL")),
        ("volume", 10.4, "mL", 3.4, ("10", "± 3", "mL")),
        ("volume", 44.36, "oz", 1.479, ("1.50", "± 0.05", "oz")),
        ("alcohol", 14.04, "mL", 0.26, ("14.0", "± 0.3", "g")),
    ],
)  # fmt: skip
def test_a_figure_is_rounded_as_a_bar_can_use_it(figure, value, volume, spread, shown):
    """By hand: tenths of what is below 20 g/L or 10 mL, whole ones above; hundredths of an ounce of 29.5735 mL."""
    drink = profile.profile(Liquid.of(water=60, ethanol=20, sucrose=10, citric=1))
    drink = type(drink)(**{name: getattr(drink, name) for name in drink.__slots__} | {figure: value})
    assert profile.shown(drink, figure, Display(volume), spread) == shown
