"""pH against buffer standards, a geochemistry program, a solver written the other way round, and juice lists."""

import math
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from long_run import examples

from drinklab import balance, pantry
from drinklab.errors import InputError
from drinklab.liquid import ACIDS, COMPONENTS, Liquid
from drinklab.physics import acids


def ph_of(cations=0.0, **moles):
    return float(acids.solve(moles, cations).ph)


# --- published values ---------------------------------------------------------------------------------
# pH standards of the US standards bureau at 25 °C (R. Bates, Determination of pH; from memory), mol/kg of water:
# as mol/L with the density of water, 0.997.
STANDARDS = [
    (3.776, 0.012, {"citric": 0.05 * 0.993}, 0.05 * 0.993),
    (3.557, 0.012, {"tartaric": 0.0341}, 0.0341),
    (6.865, 0.015, {"phosphoric": 0.05 * 0.997}, 0.075 * 0.997),
    (7.413, 0.015, {"phosphoric": 0.03911 * 0.997}, (0.008695 + 2 * 0.03043) * 0.997),
    (10.012, 0.03, {"carbonic": 0.05 * 0.997}, 0.075 * 0.997),
]


@pytest.mark.parametrize(("published", "within", "moles", "cations"), STANDARDS, ids=lambda x: str(x)[:20])
def test_buffer_standards(published, within, moles, cations):
    assert ph_of(cations, **moles) == pytest.approx(published, abs=within)


def test_half_mole_of_citric_acid():
    """0.05 mol in 0.1 kg of water: 1.717, a run of PHREEQC with minteq.v4 (read), with its species."""
    found = acids.solve({"citric": 0.5})
    assert float(found.ph) == pytest.approx(1.717, abs=0.01)
    assert float(found.ions) == pytest.approx(0.0221, abs=0.0005)  # H2Cit- 0.0221


def test_weak_acids_in_textbooks():
    """Vinegar and acetic acid: 0.1 mol/L has pH 2.87 to 2.88; water under 1 atm of carbon dioxide 3.9 (from memory)."""
    assert ph_of(acetic=0.1) == pytest.approx(2.88, abs=0.01)
    assert acids.ph({"carbonic": 1.495}) == pytest.approx(3.91, abs=0.02)  # 1.495 g/L: Weiss 1974 at 25 °C
    assert acids.ph({}) == pytest.approx(7.0, abs=0.01)


@pytest.mark.parametrize(
    ("acid", "grams"), [("citric", 64.04), ("malic", 67.04), ("tartaric", 75.04), ("lactic", 90.08), ("acetic", 60.05)]
)
def test_titration_equivalents(acid, grams):
    """Grams to a mole of alkali: 64, 67, 75, 90, 60 (OIV and food laboratories; read). At pH 8.2 all but 1.6 % is in."""
    tenth = {acid: grams / 10}
    assert acids.titratable(tenth) == pytest.approx(6.404, rel=0.002 if acid != "citric" else 0.01)
    assert acids.titratable(tenth, endpoint=7.0) < acids.titratable(tenth)


def test_potassium_takes_its_share_of_the_titration():
    plain = acids.titratable({"citric": 48})
    assert plain - acids.titratable({"citric": 48}, potassium=3.9098) == pytest.approx(6.404, rel=0.01)  # 0.1 mol
    assert acids.titratable({}, potassium=3) == 0


@pytest.mark.parametrize(
    ("acid", "given_away"),
    [("citric", 1.62), ("malic", 1.35), ("tartaric", 1.77), ("lactic", 0.875), ("acetic", 0.47), ("phosphoric", 1.00)],
)
def test_hydrogen_given_at_the_point_where_casein_falls(acid, given_away):
    """At pH 4.6 and an ionic strength of 0.1; from a second program."""
    assert acids.hydrogen_given(acid, 4.6) == pytest.approx(given_away, abs=0.006)


def test_alcohol_raises_the_constants_as_measured():
    """Lactic acid half neutralised: pH rises as its constant does, 0.17 from 0 to 12 % vol (Prenesti 2012; read)."""
    half = {"lactic": 0.1 * acids.ACIDS["lactic"].molar}
    rise = acids.ph(half, potassium=0.05 * acids.POTASSIUM, abv=12) - acids.ph(half, potassium=0.05 * acids.POTASSIUM)
    assert rise == pytest.approx(0.17, abs=0.01)
    # alone, half of that: pH = (pKa - log c) / 2
    assert acids.ph(half, abv=12) - acids.ph(half) == pytest.approx(0.084, abs=0.005)
    assert acids.ph_error(12, 0.05) == pytest.approx(0.052, abs=0.002)


# --- another program ------------------------------------------------------------------------------------
def test_phreeqc():
    """PHREEQC (US Geological Survey) itself, given our constants: charge balance with its own Davies equation.

    It works in moles to a kilogram of water and gives uncharged acids an activity coefficient (0.1 I), which
    accounts for the 0.01 allowed.
    """
    phreeqpython = pytest.importorskip("phreeqpython")
    program = phreeqpython.PhreeqPython(database="phreeqc.dat")
    masters, species = [], []
    names = {"citric": "Cit", "malic": "Mal", "tartaric": "Tar", "lactic": "Lac", "acetic": "Ace", "phosphoric": "Pho"}
    for acid, element in names.items():
        steps = acids.ACIDS[acid].pka
        n = len(steps)
        ion = f"{element}-{n}" if n > 1 else f"{element}-"
        masters.append(f"{element} {ion} 0 100 100")
        species += [f"{ion} = {ion}", "log_k 0"]
        for bound in range(1, n + 1):
            left = n - bound
            charge = "" if left == 0 else "-" if left == 1 else f"-{left}"
            name = f"{'H' if bound == 1 else f'H{bound}'}{element}{charge}"
            species += [f"{bound}H+ + {ion} = {name}", f"log_k {sum(steps[-bound:])}"]
    rng = np.random.default_rng(3)
    text, drinks = ["SOLUTION_MASTER_SPECIES", *masters, "SOLUTION_SPECIES", *species], []
    for i in range(40):
        moles = dict(zip(names, rng.uniform(0, 0.05, len(names)) * (rng.random(len(names)) < 0.5), strict=True))
        moles["citric"] += 0.01
        salt = rng.uniform(0, 0.05)
        drinks.append((moles, salt))
        text += [f"SOLUTION {i + 1}", "units mol/kgw", "temp 25", "pH 3 charge", f"K {salt}"]
        text += [f"{names[n]} {m}" for n, m in moles.items() if m]
    program.ip.run_string("\n".join([*text, "SELECTED_OUTPUT", "-reset false", "-pH", "-ionic_strength", "END"]))
    theirs = np.array(program.ip.get_selected_output_array()[1:], float)
    assert len(theirs) == len(drinks)
    ours = [acids.solve(moles, salt) for moles, salt in drinks]
    np.testing.assert_allclose([o.ph for o in ours], theirs[:, 0], atol=0.01)
    np.testing.assert_allclose([o.ions for o in ours], theirs[:, 1], rtol=0.02)


# --- the other way round ---------------------------------------------------------------------------------
def other_way(moles, cations, abv=0.0):
    """Concentrations and protonation constants, a library's root finder, ionic strength by plain repetition."""
    from scipy.optimize import brentq

    ionic, ph = 0.0, 0.0
    for _ in range(80):
        root = math.sqrt(min(ionic, 0.5))
        log_g = -0.509 * (root / (1 + root) - 0.3 * min(ionic, 0.5))  # one charge

        def charges(log_h, log_g=log_g):
            h = 10.0**log_h
            negative, square = 10.0 ** (-13.997 - 2 * log_g) / h, 10.0 ** (-13.997 - 2 * log_g) / h
            for acid, c in moles.items():
                pka = [p + 0.014 * abv for p in acids.ACIDS[acid].pka]
                n, log_beta, terms = len(pka), 0.0, []
                for bound in range(n + 1):  # hydrogens held
                    if bound:
                        log_beta += pka[n - bound]
                    z = n - bound
                    # activity to concentration: beta' = beta g_H^bound g_A / g_HA
                    terms.append((z, 10.0 ** (log_beta + bound * log_h + (bound + n * n - z * z) * log_g)))
                total = sum(t for _, t in terms)
                negative += c * sum(z * t for z, t in terms) / total
                square += c * sum(z * z * t for z, t in terms) / total
            return h + cations - negative, (h + cations + square) / 2

        log_h = brentq(lambda x, f=charges: f(x)[0], -16, 1, xtol=1e-13)
        ionic = charges(log_h)[1]
        ph = -(log_h + log_g)
    return ph


amounts = st.fixed_dictionaries({name: st.floats(0, 0.4) | st.just(0.0) for name in acids.ACIDS})


@settings(max_examples=examples(60))
@given(moles=amounts, salt=st.floats(0, 0.4), abv=st.floats(0, 60))
def test_another_solver_finds_the_same(moles, salt, abv):
    ours = float(acids.solve(moles, salt, abv).ph)
    theirs = other_way(moles, salt, abv)
    # near an exact equivalence pH runs wild; there a change of a millionth in the salt moves it more than 1e-5
    steep = abs(float(acids.solve(moles, salt * (1 + 1e-9) + 1e-12, abv).ph) - ours)
    assert ours == pytest.approx(theirs, abs=2e-5 + 10 * steep)


@settings(max_examples=examples(60))
@given(moles=amounts, salt=st.floats(0, 0.4), more=st.floats(1e-4, 0.2), name=st.sampled_from(list(acids.ACIDS)))
def test_acid_never_raises_and_potassium_never_lowers_ph(moles, salt, more, name):
    start = ph_of(salt, **moles)
    assert ph_of(salt, **moles | {name: moles[name] + more}) <= start + 0.03  # activity may turn it by as much
    assert ph_of(salt + more, **moles) >= start - 0.03


@settings(max_examples=examples(30))
@given(moles=amounts, salt=st.floats(0, 0.4), step=st.floats(0.001, 0.2), name=st.sampled_from(list(acids.ACIDS)))
def test_the_same_for_juice_with_its_own_acid(moles, salt, step, name):
    """Where there is more acid than salt, as in every drink, the rule is strict."""
    moles = moles | {"citric": moles["citric"] + salt + 0.01}
    start = ph_of(salt, **moles)
    assert ph_of(salt, **moles | {name: moles[name] + step}) <= start + 2e-3
    assert ph_of(salt + step * 0.1, **moles) > start - 2e-3


def test_one_and_many_are_the_same():
    rng = np.random.default_rng(5)
    held = {n: rng.uniform(0, 30, (4, 700)) * (rng.random((4, 700)) < 0.6) for n in acids.ACIDS}
    salt, abv = rng.uniform(0, 3, 700), rng.uniform(0, 40, (4, 1))
    many = acids.ph(held, potassium=salt, abv=abv)
    assert many.shape == (4, 700)
    for i, j in [(0, 0), (1, 5), (3, 699), (2, 350)]:
        one = acids.ph({n: g[i, j] for n, g in held.items()}, potassium=salt[j], abv=float(abv[i, 0]))
        assert many[i, j] == pytest.approx(one, abs=1e-5)
    assert acids.titratable(held, potassium=salt).shape == (4, 700)


def test_a_cloud_of_variants_costs_far_less_than_each_alone():
    rng = np.random.default_rng(6)
    held = {n: rng.uniform(0, 20, 10_000) for n in acids.ACIDS}
    alone = {n: held[n][0] for n in acids.ACIDS}

    def cost(drink):
        start = time.process_time()
        acids.ph(drink, potassium=1.0, abv=20.0)
        return time.process_time() - start

    one = min(sum(cost({n: grams * (1 + k / 1000) for n, grams in alone.items()}) for k in range(10)) / 10
              for _ in range(5))  # fmt: skip
    assert min(cost(held) for _ in range(5)) < 10_000 * one / 10  # about 40 times one, measured


# --- what else holds charge --------------------------------------------------------------------------------
def test_a_buffer_of_someone_elses():
    """A plain ammonia-like base (pKa 9.25) given as `other` equals its own equation, solved by hand."""
    base, pk = 0.03, 9.25
    found = acids.ph({"acetic": 0.06 * 60.052}, other=lambda ph: base / (1 + 10 ** (ph - pk)))
    # acetic acid half neutralised by it: pH = pKa - Davies at I = 0.03 (science: 4.757 - 0.509*(0.1476-0.009))
    assert found == pytest.approx(4.757 - 0.509 * (math.sqrt(0.03) / (1 + math.sqrt(0.03)) - 0.009), abs=0.005)


def test_other_sees_the_shape_of_the_drinks():
    shapes = []

    def protein(ph):
        shapes.append(np.shape(ph))
        return 0.02 * (4.6 - ph)  # below zero above its neutral point

    found = acids.ph({"citric": np.array([[1.0, 5.0, 0.0]])}, potassium=np.array([[0.0], [1.5]]), other=protein)
    assert found.shape == (2, 3)
    assert set(shapes) == {(2, 3)}
    for citric, salt, at in [(1.0, 0.0, (0, 0)), (5.0, 1.5, (1, 1)), (0.0, 1.5, (1, 2))]:
        ph = found[at]
        plus = protein(ph) + salt / acids.POTASSIUM + 10.0**-ph
        held = citric / 192.124 * acids.hydrogen_given("citric", ph, float(acids.solve(
            {"citric": citric / 192.124}, salt / acids.POTASSIUM, other=protein).ions))  # fmt: skip
        assert plus == pytest.approx(held + 10.0 ** (ph - 14), abs=2e-4)
    assert isinstance(acids.ph({"citric": 5.0}, other=protein), float)


def test_other_that_gives_no_number_is_reported():
    with pytest.raises(ArithmeticError, match="pH was not found"):
        acids.ph({"citric": 1.0}, other=lambda ph: ph * math.nan)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: acids.ph({"citrc": 1}), "acid is 'citrc'; it must be one of citric, malic"),
        (lambda: acids.ph({"citric": -1}), "citric acid is -1; it must be a number of at least 0 g/L."),
        (lambda: acids.ph({"citric": 1}, potassium=math.nan), "potassium is not a number"),
        (lambda: acids.ph({"citric": 1}, abv=140), "strength is 140; it must be 0 to 100 % vol."),
        (lambda: acids.titratable({"citric": 1}, endpoint=2), "endpoint is 2; it must be 6 to 10 pH."),
        (lambda: acids.hydrogen_given("citric", 20), "pH is 20; it must be 0 to 14."),
        (lambda: acids.hydrogen_given("oxalic", 4), "acid is 'oxalic'"),
        (lambda: acids.ph_error(200), "strength is 200"),
        (lambda: balance.ph(Liquid.of()), "total of the drink is 0; it must be above 0 g."),
        (lambda: balance.sweetness(Liquid.of(water=1), 70), "temperature is 70; it must be -20 to 60 °C."),
    ],
)
def test_bad_input_gets_one_sentence(call, said):
    with pytest.raises(InputError) as caught:
        call()
    assert str(caught.value).startswith(said)
    assert str(caught.value).endswith(".")


# --- real juice -----------------------------------------------------------------------------------------------
# pH: approximate pH of foods, US Food and Drug Administration (read; tomato juice from memory). The potassium of
# those marked was set by that list, so they only show that the set figure is used.
JUICES = {
    "lemon_juice": (2.00, 2.60), "lime_juice": (2.00, 2.80), "grapefruit_juice": (3.00, 3.75),
    "orange_juice": (3.30, 4.19), "apple_juice": (3.35, 4.00), "grape_juice": (2.80, 3.82),
    "pineapple_juice": (3.30, 3.60), "pomegranate_juice": (2.93, 3.20), "tomato_juice": (4.10, 4.60),
    "cranberry_juice_unsweetened": (2.30, 2.70),  # 2.5 read (PMC8686276)
    "lemon_juice_bottled": (2.00, 2.60), "lime_juice_bottled": (2.00, 2.80),
}  # fmt: skip


@pytest.mark.parametrize("juice", JUICES)
def test_juices_have_their_published_ph(juice):
    low, high = JUICES[juice]
    liquid = Liquid(pantry.load()[juice].composition)
    assert low <= balance.ph(liquid) <= high
    without = Liquid.of(**{n: g for n, g in liquid.parts().items() if n != "potassium"})
    assert balance.ph(without) < balance.ph(liquid) - 0.15  # the salt is what brings it there


# Titratable acidity as citric acid [g/L], on paper from published figures.
@pytest.mark.parametrize(
    ("juice", "low", "high"),
    [
        ("lemon_juice", 44, 53),  # citric 48 ± 4 (Penniston 2008), with malic 2; Ciqual acids 4.8 g/100 g
        ("lime_juice", 41, 54),  # citric 46 to 47 ± 7
        ("orange_juice", 5.5, 10),  # 0.6 to 1 % (Kimball 1991, Brix/acid 13 to 18 at 11 °Brix)
        ("grapefruit_juice", 9, 15),  # acids 13.6 g/L by Ciqual, less their salts
        ("cranberry_juice_unsweetened", 16.5, 20),  # 17.7 (PMC8686276)
    ],
)
def test_juices_have_their_published_acidity(juice, low, high):
    assert low <= balance.titratable(Liquid(pantry.load()[juice].composition)) <= high


@pytest.mark.parametrize(
    ("wine", "low", "high"), [("white_wine_dry", 2.9, 3.5), ("red_wine_dry", 3.3, 3.9), ("sherry_fino", 3.0, 3.5)]
)
def test_wines_lie_where_wines_lie(wine, low, high):
    """Ranges from memory."""
    assert low <= balance.ph(Liquid(pantry.load()[wine].composition)) <= high


def test_potassium_is_in_nothing_without_counted_acids():
    """Milk, egg, coffee and honey hold potassium with acids that the table does not count: blank."""
    for item in pantry.load().values():
        assert not item.solutes.get("potassium") or item.acid > 0, item.id
        if item.acid > 0.5:
            liquid = Liquid(item.composition)
            moles = sum(getattr(liquid, n) / acids.ACIDS[n].molar * len(acids.ACIDS[n].pka) for n in ACIDS)
            assert liquid.potassium / acids.POTASSIUM < 0.8 * moles, item.id


def test_an_own_file_without_the_column_still_loads(tmp_path):
    own = tmp_path / pantry.OWN_FILE
    own.write_text("id,name,kind,abv_percent,sugar_g_l,citric_g_l\nyuzu,yuzu juice,juice,0,20,45\n", encoding="utf-8")
    item = pantry.load(tmp_path)["yuzu"]
    assert item.composition[COMPONENTS.index("potassium")] == 0
    own.write_text(
        "id,name,kind,abv_percent,sugar_g_l,citric_g_l,potassium_g_l\nyuzu,yuzu juice,juice,0,20,45,1.1\n", "utf-8"
    )
    assert pantry.load(tmp_path)["yuzu"].composition[COMPONENTS.index("potassium")] == pytest.approx(0.0011)


# --- balance ----------------------------------------------------------------------------------------------------
def test_uncertainty_says_when_ph_is_not_known():
    shelf = pantry.load()
    assert balance.ph_pm(Liquid(shelf["lemon_juice"].composition)) < 0.1
    assert balance.ph_pm(Liquid(shelf["rum_aged"].composition)) > 1
    sour = Liquid.of(water=70, ethanol=20, citric=0.6)
    assert balance.ph_pm(sour) > balance.ph_pm(Liquid.of(water=90, citric=0.6))


def test_salts_of_unknown_amount_are_no_alkali():
    """They come with a weak acid for which acetic stands: 0.1 mol/L of an acetate has pH 8.9 (textbooks; from memory),
    lye of as much potassium 13."""
    found = balance.ph(Liquid.of(water=997, unsure_potassium=0.1 * 39.098))
    assert found == pytest.approx(8.88, abs=0.15)
    assert balance.ph(Liquid.of(water=997, potassium=0.1 * 39.098)) == pytest.approx(12.9, abs=0.15)


def test_gas_makes_water_sour_but_is_not_titrated():
    soda = Liquid.of(water=996, co2=6)
    assert balance.ph(soda) == pytest.approx(3.6, abs=0.1)
    assert balance.titratable(soda) < 0.001


@pytest.mark.parametrize(("celsius", "factor"), [(5, 1.47), (18, 1.285), (40, 1.0), (60, 0.795)])
def test_fructose_by_temperature(celsius, factor):
    """Tsuzuki and Yamazaki (second hand; read): 147, 128.5, 100, 79.5 against sucrose 100."""
    one = Liquid.of(water=950, fructose=50)
    assert balance.sweetness(one, celsius) * one.volume() / 1000 == pytest.approx(50 * factor)


def test_invert_sugar_lies_in_the_published_range():
    """85 (Sale and Skinner) to 130 (Gaman and Sherrington) against sucrose 100."""
    invert, sucrose = Liquid.of(water=900, glucose=50, fructose=50), Liquid.of(water=900, sucrose=100)
    ratio = balance.sweetness(invert, 20) / balance.sweetness(sucrose, 20)
    assert 0.85 <= ratio <= 1.30
    assert (
        balance.sweetness(sucrose, 5) == balance.sweetness(sucrose, 40) == pytest.approx(sucrose.sugar / 0.9636, 2e-2)
    )


def test_taste_of_many_drinks_at_once():
    many = Liquid.of(water=90, fructose=[0, 5, 10], citric=[0, 0.5, 0.5])
    found = balance.taste(many)
    assert found.ph.shape == found.sweet_cold.shape == found.sweet_to_sour_warm.shape == (3,)
    assert np.isinf(found.sweet_to_sour_warm[0])
    assert (found.sweet_cold >= found.sweet_warm).all()
    one = balance.taste(many[1])
    assert one.sweet_to_sour_cold == pytest.approx(found.sweet_to_sour_cold[1])
    assert balance.sweetness(many, "20 °C") == pytest.approx(balance.sweetness(many, 20))
