"""Our figures against published ones: one table, one test that walks it, and proof that it can fail.

`check_values.csv` holds a check a row. Its `status` says how far a row can be trusted:

* read: printed in the source
* computed by library: another library's model
* computed by another rule: a rule of the field that is not ours
* computed from the published formula: by a second program, so it catches typing errors, not a wrong formula
* own model: a guard against change, not a measurement
* from memory: says only that the formula is the remembered one

Adding a check is adding a row; a new quantity also needs a function in `QUANTITIES`.
"""

import csv
from collections import Counter, defaultdict
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from drinklab import dilution, prep, strength
from drinklab.physics import acids, density

HERE = Path(__file__).parent
# What can prove a formula wrong, and what cannot.
INDEPENDENT = {"read", "computed by library", "computed by another rule"}
STATUSES = INDEPENDENT | {"computed from the published formula", "own model", "from memory"}

# For weights in air, as trade weighs: air and brass weights at 60 °F [kg/m³].
AIR, BRASS = 1.222, 8400.0
POUND, GALLON = 0.45359237, 3.785411784  # kg and L, exact (NIST Handbook 44, appendix C)
F60, F51 = (60 - 32) / 1.8, (51 - 32) / 1.8


def in_air(kg, rho):
    """What a true mass shows on scales."""
    return kg * (1 - AIR / rho) / (1 - AIR / BRASS)


def solve(f, low, high):
    """Where rising `f` meets zero."""
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if f(middle) < 0 else (low, middle)
    return (low + high) / 2


# --- quantities: the names in the table -----------------------------------------------------------
def abw_of_proof(proof):
    """Mass fraction."""
    return strength.abw_from_abv(strength.abv_from_us_proof(proof)) / 100


def gallons_per_pound(proof):
    rho = density.ethanol_water(abw_of_proof(proof), F60)
    return POUND / in_air(rho / 1000, rho) / GALLON


def water_to_lower_proof(pounds, proof, target):
    have, want = abw_of_proof(proof), abw_of_proof(target)
    rho, rho_water = density.ethanol_water(have, F60), density.ethanol_water(0.0, F60)
    true_mass = pounds / in_air(1, rho)
    return in_air(true_mass * (have / want - 1), rho_water)


def pound_of_water():
    return gallons_per_pound(0)


def uk_proof_spirit():
    wanted = 12 / 13 * density.ethanol_water(0.0, F51)
    return strength.abv_from_abw(100 * solve(lambda p: wanted - density.ethanol_water(p, F51), 0.3, 0.7))


def sweetened(abv, sucrose, temperature=20.0):
    """Grams in one litre at `temperature`; sucrose in g/L."""
    ethanol = abv / 100 * density.ethanol(temperature)

    def grams(water):
        return {"water": water, "ethanol": ethanol, "sucrose": sucrose}

    return grams(solve(lambda w: density.solution_volume(grams(w), temperature) - 1000, 0.0, 1000.0))


def sweetened_density(abv, sucrose):
    return density.solution(sweetened(abv, sucrose))


def alcoholmeter(abv, sucrose, temperature=20.0):
    """Strength that an instrument made for ethanol and water alone shows in a sweetened spirit. [% vol]"""
    shown = density.solution(sweetened(abv, sucrose, temperature), temperature)
    p = solve(lambda p: shown - density.ethanol_water(p, temperature), 0.0, 1.0)
    return 100 * density.abv_fraction(p, temperature)


def obscuration(proof, temperature):
    return proof - 2 * alcoholmeter(proof / 2, 1.0, temperature)


def sucrose_sg(brix):
    return density.sucrose_water(brix / 100) / density.sucrose_water(0.0)


def brix_by_nbs_fit(brix):
    return np.polyval([182.46007, -775.68212, 1262.7794, -669.56218], sucrose_sg(brix))


def mixture_volume(volume_a, abv_a, volume_b, abv_b):
    return volume_a + volume_b - strength.contraction(volume_a, abv_a, volume_b, abv_b)


def mixture_strength(volume_a, abv_a, volume_b, abv_b):
    mixed = strength.spirit(volume_a, abv_a) + strength.spirit(volume_b, abv_b)
    return strength.abv_from_abw(100 * mixed.ethanol / mixed.mass)


ETHANOL_ML = np.linspace(0, 100, 1001)


def contractions():
    return strength.contraction(ETHANOL_ML, 100, 100 - ETHANOL_ML, 0)


DENSEST = np.linspace(3.9, 4.1, 20001)

QUANTITIES = {
    "ethanol-water density": density.ethanol_water,
    "temperature of densest water": lambda: DENSEST[np.argmax(density.ethanol_water(0.0, DENSEST))],
    "% mass from % vol": strength.abw_from_abv,
    "% vol from % mass": strength.abv_from_abw,
    "volume of a mixture": mixture_volume,
    "strength of a mixture": mixture_strength,
    "greatest contraction of ethanol and water": lambda: contractions().max(),
    "water to reach a strength": strength.water_to_reach,
    "volume of a 40 % vol spirit against 20 degC": lambda temperature: (
        density.ethanol_water(strength.abw_from_abv(40) / 100)
        / density.ethanol_water(strength.abw_from_abv(40) / 100, temperature)
    ),
    "alcohol in a serve": lambda volume, abv: strength.alcohol_grams(strength.spirit(volume, abv)),
    "standard drinks in 100 g of alcohol": lambda country: strength.standard_drinks(100, country),
    "US proof to gallons per pound": gallons_per_pound,
    "wine gallons in a weight": lambda proof, pounds: pounds * gallons_per_pound(proof),
    "proof gallons in a weight": lambda proof, pounds: pounds * gallons_per_pound(proof) * proof / 100,
    "water to lower proof": water_to_lower_proof,
    "water in air at 60 degF": lambda: 1 / pound_of_water(),
    "volume of a pound of water in air at 60 degF": pound_of_water,
    "ethanol against water at 60/60 degF": lambda: density.ethanol(F60) / density.ethanol_water(0.0, F60),
    "UK proof spirit": uk_proof_spirit,
    "% mass from US proof": lambda proof: 100 * abw_of_proof(proof),
    "US proof from % vol at 20 degC": strength.us_proof,
    "US proof behind a hydrometer reading": lambda reading, fahrenheit: (
        2 * strength.true_abv(reading / 2, (fahrenheit - 32) / 1.8, F60)
    ),
    "reading of an alcoholmeter made for 60 degF": lambda abv, fahrenheit: strength.alcoholmeter_reading(
        abv, (fahrenheit - 32) / 1.8, F60
    ),
    "UK proof from % vol at 20 degC": strength.uk_proof,
    "sucrose density": lambda brix, temperature: density.sucrose_water(brix / 100, temperature),
    "sucrose specific gravity 20/20": sucrose_sg,
    "Brix by the NBS fit to our specific gravity": brix_by_nbs_fit,
    "sucrose solubility": lambda temperature: 100 * density.sucrose_solubility(temperature),
    "apparent volume of sucrose": lambda brix: density.sucrose_volume(brix / 100),
    "sugar in a syrup": lambda brix: brix / 100 * density.sucrose_water(brix / 100),
    "density of a sweetened spirit": sweetened_density,
    "obscuration by 100 mg of sugar in 100 mL": obscuration,
    "what an alcoholmeter reads in a sweetened spirit": alcoholmeter,
    "pH of acids": lambda potassium=0.0, **moles: acids.solve(moles, potassium).ph,
    "hydrogen given by an acid": acids.hydrogen_given,
    "density of a citric acid solution": lambda mass: prep.acid_solution(mass).density,
    "melt water, stirred": dilution.stirred,
    "melt water, shaken": dilution.shaken,
}


# --- the table -------------------------------------------------------------------------------------
def read_table(name):
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def inputs(row):
    out = {}
    for part in filter(None, row["inputs"].split("; ")):
        name, _, text = part.partition("=")
        try:
            out[name] = float(text)
        except ValueError:
            out[name] = text
    return out


def deviation(row):
    return float(QUANTITIES[row["quantity"]](**inputs(row))) - float(row["value"])


def passes(row):
    return abs(deviation(row)) <= float(row["tolerance"])


ROWS = read_table("check_values.csv")


@pytest.fixture(scope="module")
def families(request):
    """Collects (deviation, row) by quantity and status, and prints the worst of each at the end."""
    found = defaultdict(list)
    yield found
    terminal = request.config.pluginmanager.getplugin("terminalreporter")
    if terminal is None or not found:  # a worker of a parallel run has no terminal
        return
    with request.config.pluginmanager.getplugin("capturemanager").global_and_fixture_disabled():
        terminal.write_line("")
        terminal.write_line("Largest deviation from published values (rows, deviation, tolerance, where)")
        for (quantity, status), members in sorted(found.items()):
            off, row = max(members, key=lambda m: abs(m[0]))
            terminal.write_line(
                f"  {quantity} [{status}]: {len(members)}, {off:+.2g} {row['unit']}, ± {row['tolerance']}"
                + (f", {row['inputs']}" if row["inputs"] else "")
            )


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['quantity']}: {row['inputs']} [{row['status']}]")
def test_published_value(row, families):
    off = deviation(row)
    families[row["quantity"], row["status"]].append((off, row))
    assert abs(off) <= float(row["tolerance"]), f"off by {off:.3g} {row['unit']}; source: {row['source']}"


def test_every_row_says_where_it_comes_from():
    for line, row in enumerate(ROWS, start=2):
        assert row["source"].strip(), f"line {line}: no source"
        assert row["status"] in STATUSES, f"line {line}: {row['status']!r}"
        assert row["unit"].strip(), f"line {line}: no unit"
        assert float(row["tolerance"]) > 0, f"line {line}"


def test_formulas_computed_again_are_few():
    """They only show that a formula was typed right; two of each, and two for the coefficients, are enough."""
    again = Counter(r["quantity"] for r in ROWS if r["status"] not in INDEPENDENT | {"from memory"})
    assert max(again.values()) <= 3
    assert sum(r["status"] in INDEPENDENT for r in ROWS) > 2 * sum(again.values())


def misses():
    """The guide's table: for each quantity its independent rows and the largest miss of them."""
    lines = []
    for quantity in QUANTITIES:
        rows = [r for r in ROWS if r["quantity"] == quantity and r["status"] in INDEPENDENT]
        if rows:
            off = max((deviation(r) for r in rows), key=abs)
            lines.append(f"| {quantity} | {len(rows)} | {off:+.2g} {rows[0]['unit']} |".replace("+-", "-"))
        else:
            lines.append(f"| {quantity} | none | not known |")
    return lines


def test_the_guide_states_the_largest_miss_of_each_quantity():
    guide = (HERE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    missing = [line for line in misses() if line not in guide]
    assert not missing, "bring the table in DEVELOPERS.md up to date:\n" + "\n".join(misses())


def test_every_quantity_is_checked():
    assert {row["quantity"] for row in ROWS} == set(QUANTITIES)


def test_no_quantity_rests_on_memory_or_on_ourselves_alone():
    weak = {"from memory", "own model"}
    alone = {q for q in QUANTITIES if {r["status"] for r in ROWS if r["quantity"] == q} <= weak}
    # No measured data were found for dilution; the alcoholmeter rests on the obscuration rows.
    assert alone == {
        "melt water, stirred", "melt water, shaken", "what an alcoholmeter reads in a sweetened spirit",
    }  # fmt: skip


# --- coefficients, digit by digit --------------------------------------------------------------------
COEFFICIENTS = read_table("oiml_coefficients.csv")


def test_oiml_coefficients_are_those_of_the_standard():
    ours = {"A": {}, "B": {}, "C": {}}
    for k, a in enumerate(density.A):
        ours["A"][0, k] = a
    for i, b in enumerate(density.B, start=1):
        ours["B"][i, 0] = b
    for i, row in enumerate(density.C, start=1):
        for k, c in enumerate(row, start=1):
            ours["C"][i, k] = c
    theirs = {"A": {}, "B": {}, "C": {}}
    for r in COEFFICIENTS:
        place = int(r["i_power_of_t_minus_20"]), int(r["power_of_p"])
        theirs[r["group"]][place] = float(r["value_kg_per_m3_per_C^i"])
    assert ours == theirs


@pytest.mark.parametrize("temperature", [-20, -11, 0, 7.5, 20, 31, 40])
def test_oiml_formula_against_exact_fractions(temperature):
    """Off 20 °C and between the ends of p, where a wrong C shows; arrays and single numbers alike."""
    p = np.linspace(0.3 if temperature < 0 else 0.0, 1.0, 29)
    exact = [
        float(
            sum(
                Fraction(r["value_kg_per_m3_per_C^i"])
                * Fraction(float(x)) ** int(r["power_of_p"])
                * Fraction(temperature - 20) ** int(r["i_power_of_t_minus_20"])
                for r in COEFFICIENTS
            )
        )
        for x in p
    ]
    np.testing.assert_allclose(density.ethanol_water(p, temperature), exact, atol=1e-8)
    np.testing.assert_allclose(density.ethanol_water(p, np.full_like(p, temperature)), exact, atol=1e-8)
    np.testing.assert_allclose([density.ethanol_water(float(x), temperature) for x in p], exact, atol=1e-8)


# --- the checks can fail -----------------------------------------------------------------------------
NUDGE = 1.001  # the error, 1 in 1000, that the table must notice


def nudged(array, k=None):
    out = np.array(array, float)
    out[slice(None) if k is None else k] *= NUDGE
    return out


def mutants():
    """(name, attribute, value with one row, or one coefficient, off by 1 in 1000)"""
    for name in ("A", "B", "WATER_NUMERATOR"):
        array = getattr(density, name)
        for k in range(len(array)):
            yield f"{name}[{k}]", name, nudged(array, k)
    for name in ("C", "SUCROSE"):
        rows = getattr(density, name)
        for i, row in enumerate(rows):
            for k in (None, *range(len(row))):
                label = f"{name} row {i + 1}" if k is None else f"{name}[{i}][{k}]"
                yield label, name, (*rows[:i], nudged(row, k), *rows[i + 1 :])
    yield "WATER_DENOMINATOR", "WATER_DENOMINATOR", density.WATER_DENOMINATOR * NUDGE


@pytest.mark.parametrize(("attribute", "value"), [pytest.param(a, v, id=n) for n, a, v in mutants()])
def test_a_coefficient_off_by_a_thousandth_is_noticed(attribute, value, monkeypatch):
    monkeypatch.setattr(density, attribute, value)
    assert not all(map(passes, DENSITY_ROWS))


DENSITY_ROWS = [r for r in ROWS if r["quantity"] in ("ethanol-water density", "sucrose density")]


@pytest.mark.parametrize(
    ("module", "name"),
    [
        (density, "ethanol_water"), (density, "sucrose_water"), (density, "sucrose_volume"),
        (density, "sucrose_solubility"), (density, "solution_volume"), (density, "solution"),
        (density, "abw_fraction"), (density, "abv_fraction"),
        (strength, "abw_from_abv"), (strength, "abv_from_abw"), (strength, "us_proof"),
        (strength, "abv_from_us_proof"), (strength, "water_to_reach"), (strength, "contraction"),
        (strength, "spirit"), (strength, "alcohol_grams"), (strength, "standard_drinks"),
        (strength, "true_abv"), (strength, "alcoholmeter_reading"), (strength, "uk_proof"),
    ],
    ids=lambda x: x if isinstance(x, str) else x.__name__,
)  # fmt: skip
def test_a_function_off_by_a_thousandth_is_noticed(module, name, monkeypatch):
    """Covers what stands inside an expression, too."""
    honest = getattr(module, name)
    monkeypatch.setattr(module, name, lambda *a, **k: NUDGE * honest(*a, **k))
    # Names that the table holds directly were bound before the patch: look them up anew.
    for quantity, function in QUANTITIES.items():
        if function is honest:
            monkeypatch.setitem(QUANTITIES, quantity, getattr(module, name))
    assert not all(map(passes, ROWS))
