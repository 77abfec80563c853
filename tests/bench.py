"""How fast, against what the same sums cost in bare NumPy on the same machine. Run apart: python tests/bench.py

A profile of a million variants is held against a yardstick: the one matrix product, the two polynomials
(degree 11 for the spirit, degree 6 for the sugar) and the sums and divisions that any program needs for
the same figures. Ratios travel between machines; seconds do not.
"""

import subprocess
import sys
import time
import tracemalloc
from pathlib import Path

import numpy as np

from drinklab import balance, dilution, forgiving, milk, pantry, profile, reach, trial, whatif
from drinklab.liquid import ACIDS, COMPONENTS, SUGARS, Liquid
from drinklab.physics import density, freezing
from drinklab.recipe import Recipe
from drinklab.strength import spirit

VARIANTS = 1_000_000
TIMES = 9
# A sour, and enough more on the shelf to make ten.
TEN = """
40 mL dark rum, 46 %
25 mL amontillado sherry
20 mL pineapple juice
15 mL lemon juice
15 mL honey syrup
30 mL cold green tea
5 mL white rum
5 mL lime juice
5 mL sugar syrup
10 mL orange juice
"""
# Peak memory allowed for the million.
MEMORY = 1e9  # bytes


def best(function, times=TIMES):
    """Shortest of several runs [s]: the others were disturbed."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        function()
        taken.append(time.perf_counter() - start)
    return min(taken)


def peak(function):
    """Most memory held at once [bytes]; NumPy reports its arrays to tracemalloc."""
    tracemalloc.start()
    function()
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return most


def horner(coefficients, x):
    y = np.full_like(x, coefficients[-1])
    for c in coefficients[-2::-1]:
        y *= x
        y += c
    return y


ROW = {name: i for i, name in enumerate(COMPONENTS)}
SUGAR_ROWS = slice(ROW[SUGARS[0]], ROW[SUGARS[-1]] + 1)
ACID_ROWS = slice(ROW[ACIDS[0]], ROW[ACIDS[-1]] + 1)
SUGAR_WATER = np.append(density.WATER_20, density.SUCROSE[0])  # density of sugar in water, degree 6


def yardstick(amounts, composition):
    """The sums alone: no checks, no units, no objects, and no more figures than `profile` gives."""
    grams = composition.T @ amounts.T
    water, ethanol = grams[ROW["water"]], grams[ROW["ethanol"]]
    sugar, acid, mass = grams[SUGAR_ROWS].sum(axis=0), grams[ACID_ROWS].sum(axis=0), grams.sum(axis=0)
    base, syrup = water + ethanol, water + sugar
    volume = base * 1000 / horner(density.ETHANOL_WATER_20, ethanol / base)
    volume += syrup * 1000 / horner(SUGAR_WATER, sugar / syrup)
    volume -= water * (1000 / density.WATER_20)
    volume += 0.6 * (mass - base - sugar)
    abv = ethanol * (100_000 / density._ethanol_water(1.0)) / volume
    return volume, mass, abv, sugar / volume, acid / volume, sugar / acid, ethanol, mass / volume


def million():
    recipe = Recipe.parse("\n".join(line for line in TEN.splitlines() if line), name="ten")
    composition = np.array([b.composition for b in recipe.bottles(pantry.load())])
    amounts = recipe.amounts * np.random.default_rng(1).uniform(0.8, 1.2, (VARIANTS, len(recipe.pours)))
    assert composition.shape == (10, len(COMPONENTS))

    def ours():
        return profile.profile(Liquid.poured(amounts, composition))

    def bare():
        return yardstick(amounts, composition)

    def in_blocks():  # small enough to stay in the processor's cache; no pours kept
        out = np.empty((len(profile.FIGURES), VARIANTS))
        for start in range(0, VARIANTS, profile._BLOCK):
            stop = start + profile._BLOCK
            out[:, start:stop] = yardstick(amounts[start:stop], composition)

    # proof that the two do the same work
    np.testing.assert_allclose(bare()[0], ours().volume, rtol=2e-3)
    np.testing.assert_allclose(bare()[2], ours().abv, rtol=2e-3)

    # in turn, so that what disturbs one disturbs the others
    runs = [[best(f, 1) for f in (ours, bare, in_blocks)] for _ in range(TIMES)]
    mine, plain, blocked = (min(column) for column in zip(*runs, strict=True))
    liquid = Liquid.poured(amounts, composition)
    poured, measured = best(lambda: Liquid.poured(amounts, composition)), best(lambda: profile.profile(liquid))
    held = peak(ours)
    print(f"profile of {VARIANTS:,} variants of ten pours, best of {TIMES}")
    print(f"  ours                      {mine:.3f} s (the pours alone {poured:.3f} s, the profile {measured:.3f} s)")
    print(f"  yardstick                 {plain:.3f} s, ratio {mine / plain:.2f}")
    print(f"  yardstick in cache blocks {blocked:.3f} s, ratio {mine / blocked:.2f} (keeps no pours)")
    print(
        f"  peak memory               {held / 1e6:.0f} MB ours, {peak(bare) / 1e6:.0f} MB yardstick, "
        f"besides the {amounts.nbytes / 1e6:.0f} MB of amounts"
    )
    assert held + amounts.nbytes < MEMORY, "more than 1 GB"


def one_trial():
    sour = "50 mL aged rum, 50 %\n22.5 mL lemon juice\n{:.4f} mL honey syrup"
    shelf = pantry.load()
    trial.run(Recipe.parse(sour.format(20), technique="shaken"), pantry=shelf)  # bottles drawn and kept
    recipes = iter([Recipe.parse(sour.format(20 + i / 100), technique="shaken") for i in range(400)])
    moved = best(lambda: trial.run(next(recipes), pantry=shelf), 200)
    plain = best(lambda: trial.run(next(recipes), pantry=shelf, draws=0), 100)
    recipe = Recipe.parse("\n".join(line for line in TEN.splitlines() if line), technique="shaken")
    trial.run(recipe, pantry=shelf)
    ten = best(lambda: trial.run(recipe, pantry=shelf), 100)
    text = sour.format(20)
    parsed = best(lambda: Recipe.parse(text, technique="shaken"), 100)
    print(f"trial.run, {trial.DRAWS} draws")
    print(f"  three pours, an amount moved  {1000 * moved:.2f} ms ({1000 * plain:.2f} ms without draws)")
    print(f"  ten pours                     {1000 * ten:.2f} ms")
    print(f"  reading three lines of text   {1000 * parsed:.2f} ms")


def ice_balance():
    """100 000 drinks brought to rest with ice, against one look at the freezing curve for each."""
    random = np.random.default_rng(3)
    drinks = spirit(random.uniform(50, 150, 100_000), random.uniform(5, 40, 100_000))
    parts = {"water": drinks.water, "ethanol": drinks.ethanol}
    curve = best(lambda: freezing.freezing_point_of(parts))
    rest = best(lambda: dilution.balance_with_ice(drinks, 20.0, 200.0, -5.0), 5)
    print("100,000 drinks at rest with ice")
    print(f"  balance {rest:.3f} s, the freezing curve once {curve:.4f} s, ratio {rest / curve:.1f} (20 allowed)")


def what_if():
    """A grid of 40 000, 10 000 draws from five sides and a comparison, against the bare sums for as many drinks."""
    recipe = Recipe.parse("\n".join(TEN.splitlines()[1:7]), name="Clear Line", technique="shaken")
    composition = np.array([b.composition for b in recipe.bottles(pantry.load())])

    def bare(count, times):
        amounts = np.tile(recipe.amounts, (count, 1))
        return lambda: [yardstick(amounts, composition) for _ in range(times)]

    whatif.variation(recipe)  # bottles drawn and kept
    print("what if, as served")
    for label, ours, plain in (
        ("sweep, 200 x 200", lambda: whatif.sweep(recipe, "lemon juice", "honey syrup"), bare(40_000, 2)),
        ("variation, 10,000 draws", lambda: whatif.variation(recipe), bare(10_001, 5)),
        ("compare, 2 x 10,000 draws", lambda: whatif.compare(recipe, recipe.scaled(1.1)), bare(10_001, 2)),
    ):
        runs = [(best(ours, 1), best(plain, 1)) for _ in range(25)]
        mine, yard = (min(column) for column in zip(*runs, strict=True))
        print(f"  {label:26} {1000 * mine:.1f} ms, ratio {mine / yard:.1f}")


def amounts_for_a_target():
    """Ten bottles in quarter ounces, and freely; held against the profile of 100 000 drinks of the same ten."""
    names = [line.split(" mL ")[1] for line in TEN.splitlines() if line]
    composition = np.array([pantry.load().find(name).composition for name in names])
    amounts = np.random.default_rng(1).uniform(0, 20, (100_000, len(names)))
    profiles = best(lambda: profile.profile(Liquid.poured(amounts, composition)))
    random = np.random.default_rng(5)
    low, high = np.array([(8, 24), (40, 110), (3, 11), (90, 180)]).T  # in reach or not
    targets = [dict(zip(reach.FIGURES, random.uniform(low, high).tolist(), strict=True)) for _ in range(30)]
    print("amounts for a target, ten bottles, strength, sugar, acid and volume wanted, 30 targets")
    for measure in ("0.25 oz", None):
        reach.reach(targets[0], names, measure=measure, technique="shaken")  # scipy loaded, tables read
        taken = [best(lambda t=t, m=measure: reach.reach(t, names, measure=m, technique="shaken"), 3) for t in targets]
        middle = float(np.median(taken))
        print(f"  {measure or 'poured freely':13} median {1000 * middle:.0f} ms, longest {1000 * max(taken):.0f} ms, "
              f"ratio to the profiles {middle / profiles:.1f}")  # fmt: skip
        last = reach.reach(targets[0], names, measure=measure, technique="shaken")[0]
        asked = {"measure": measure, "technique": "shaken", "pantry": pantry.load()}
        steps = [best(lambda t=t: reach.nearby(last, t, names, **asked), 3) for t in targets]  # noqa: B023
        print(f"  {'':13} a step from the last answer, {float(np.median(steps)) / middle:.2f} of that")


def amounts_that_forgive():
    """The same wishes with the share of a thousand pours made as large as can be, against `reach` alone."""
    wide = {"abv": (17.5, 20), "sugar": (60, 80), "acid": (6, 8), "volume": (95, 110)}
    exact = {"abv": 18, "sugar": (70, 80), "acid": (7, 8), "volume": 120}
    four = ["aged rum, 50 %", "lemon juice", "honey syrup", "water"]
    ten = [line.split(" mL ")[1] for line in TEN.splitlines() if line]
    way, ratios = {"technique": "shaken"}, []
    print("amounts that forgive, reach included, as a ratio to reach alone (2 allowed)")
    for names in (four, ten[:6], ten):
        for measure in (None, "0.25 oz", 5, 2.5):
            for target in (wide, exact):
                plain = lambda t=target, n=names, m=measure: reach.reach(t, n, measure=m, **way)  # noqa: E731
                most = lambda t=target, n=names, m=measure: forgiving.most_pours(t, n, measure=m, **way)  # noqa: E731
                most()  # tables read, bottles drawn and kept
                # in turn, so that what disturbs one disturbs the other
                runs = [(best(most, 1), best(plain, 1)) for _ in range(5)]
                taken, alone = (min(column) for column in zip(*runs, strict=True))
                ratios.append(taken / alone)
    print(
        f"  {len(ratios)} wishes: ratio {np.median(ratios):.2f} in the middle, {min(ratios):.2f} to {max(ratios):.2f}"
    )


def sour_and_cleared():
    """pH of 10 000 drinks, and a milk wash of as many, against the profile of the same."""
    random = np.random.default_rng(7)
    grams = {name: random.uniform(0.01, 1, 10_000) for name in ACIDS}
    drinks = Liquid.of(water=80, ethanol=15, sucrose=8, potassium=random.uniform(0, 0.1, 10_000), **grams)
    plain = best(lambda: profile.profile(drinks))
    sour, washed = best(lambda: balance.ph(drinks)), best(lambda: milk.milk_wash(drinks, share=0.25), 3)
    print("10,000 drinks with six acids")
    print(f"  pH        {1000 * sour:.0f} ms, ratio to the profile {sour / plain:.0f}")
    print(f"  milk wash {1000 * washed:.0f} ms, ratio to the profile {washed / plain:.0f}")


def start_up():
    def fresh(code):
        return lambda: subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(__file__).parents[1])

    codes = {
        "nothing": "pass",
        "import numpy": "import numpy",
        "import drinklab": "import drinklab",
        "drinklab and one answer": "import drinklab as dl; dl.strength.abw_from_abv(40)",
        "drinklab and one trial": "import drinklab as dl; from drinklab import trial, recipe;"
        " trial.run(recipe.Recipe.parse('45 mL gin'))",
    }
    print("a fresh process, starting it included")
    taken = {label: best(fresh(code), 15) for label, code in codes.items()}
    for label, seconds in taken.items():
        print(f"  {label:24} {1000 * seconds:.0f} ms")
    bare = taken["nothing"]
    print(f"  import drinklab / import numpy, start taken off: "
          f"{(taken['import drinklab'] - bare) / (taken['import numpy'] - bare):.2f}")  # fmt: skip


if __name__ == "__main__":
    million()
    one_trial()
    ice_balance()
    what_if()
    amounts_for_a_target()
    amounts_that_forgive()
    sour_and_cleared()
    start_up()
