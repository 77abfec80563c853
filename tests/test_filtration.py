"""Cake filtration against a textbook, an independent fit, and itself."""

import numpy as np
import pytest
from scipy import stats

from drinklab.physics import filtration

# Geankoplis, Transport Processes and Unit Operations, example 14.2-1: CaCO3 slurry at 338 kN/m². Readings as in
# the science notes (read).
TIMES = np.array([4.4, 9.5, 16.3, 24.6, 34.7, 46.1, 59.0, 73.6, 89.4, 107.3])  # s
VOLUMES = np.array([0.498, 1.000, 1.501, 2.000, 2.498, 3.002, 3.506, 4.004, 4.502, 5.009]) / 1000  # m³


def test_the_textbook_example():
    """The book draws its line by hand: slope 3.00e6 s/m6, intercept 6400 s/m3; least squares must lie near it."""
    line = filtration.fit(VOLUMES, TIMES)
    assert line.slope == pytest.approx(3.00e6, rel=0.05)
    assert line.intercept == pytest.approx(6400, rel=0.07)
    assert line.time(0.005) == pytest.approx(107.0, abs=1.5)  # by the book's own line
    low, high = line.band(VOLUMES[-1])
    assert low < TIMES[-1] < high


@pytest.mark.parametrize("shift", [0.0, 1e4])  # far from zero the plain sums would lose digits
def test_against_an_independent_fit(shift):
    rng = np.random.default_rng(3)
    v = shift + np.linspace(20, 600, 14)
    t = v * (0.4 + 0.002 * v + rng.normal(0, 0.02, v.size))
    line = filtration.fit(v, t)
    (slope, intercept), covariance = np.polyfit(v - v.mean(), t / v, 1, cov=True)  # NumPy's, about the mean
    assert line.slope == pytest.approx(slope, rel=1e-9)
    assert line.intercept + line.slope * v.mean() == pytest.approx(intercept, rel=1e-12)
    assert line.covariance[0, 0] == pytest.approx(covariance[0, 0], rel=1e-9)
    _, plain = np.polyfit(v, t / v, 1, cov=True)
    assert line.covariance == pytest.approx(plain, rel=1e-6 if not shift else 1e-2)
    assert line.r2 == pytest.approx(np.corrcoef(v, t / v)[0, 1] ** 2, rel=1e-9)
    # of a new reading: its own scatter beside the line's, by SciPy's Student's t
    to, left = shift + 700.0, np.polyfit(v - v.mean(), t / v, 1, full=True)[1][0]
    at = np.array([to - v.mean(), 1.0])
    wide = stats.t.ppf(0.975, 12) * np.sqrt(at @ covariance @ at + left / 12) * to
    low, high = line.band(to)
    assert (high - low) / 2 == pytest.approx(wide, rel=1e-6)


def test_weights_count_like_repeated_readings():
    v, t = np.array([1.0, 2, 3, 5]), np.array([2.0, 7, 11, 31])
    weighted = filtration.fit(v, t, [1, 3, 1, 2])
    repeated = filtration.fit(np.repeat(v, [1, 3, 1, 2]), np.repeat(t, [1, 3, 1, 2]))
    assert (weighted.slope, weighted.intercept, weighted.r2) == pytest.approx(
        (repeated.slope, repeated.intercept, repeated.r2)
    )


def test_the_band_holds_19_in_20():
    rng = np.random.default_rng(8)
    v = np.linspace(30, 300, 8)
    truth = 0.5 + 0.003 * v
    many = filtration.fit(v, v * (truth + rng.normal(0, 0.05, (4000, v.size))))
    new = 600 * (0.5 + 0.003 * 600 + rng.normal(0, 0.05, 4000))
    low, high = many.band(600.0)
    assert np.mean((new > low) & (new < high)) == pytest.approx(0.95, abs=0.012)  # 3.5 standard errors


def test_volume_undoes_time():
    line = filtration.fit(VOLUMES, TIMES)
    assert line.volume(line.time(VOLUMES)) == pytest.approx(VOLUMES, rel=1e-12)


def test_doubling_the_volume_takes_four_times_as_long_when_the_cake_rules():
    assert filtration.fit([1, 2], [1, 4]).time(8) == pytest.approx(4 * filtration.fit([1, 2], [1, 4]).time(4))


def test_a_bent_line_is_found_and_a_straight_one_is_not():
    rng = np.random.default_rng(5)
    v = np.linspace(50, 400, 9)
    noise = 1 + rng.normal(0, 0.02, (3000, v.size))
    straight = filtration.fit(v, v * (0.4 + 0.002 * v) * noise)
    assert np.mean(straight.bend_odds < 0.01) == pytest.approx(0.01, abs=0.007)
    blinding = filtration.fit(v, v * (0.4 + 0.002 * v + 4e-8 * v**3) * noise)
    assert np.mean(blinding.bend_odds < 0.01) > 0.95
    assert np.median(blinding.bend) > 0.1
    assert filtration.fit(VOLUMES, TIMES).bend_odds > 0.01  # the textbook's line is straight


def test_few_readings_promise_nothing():
    two = filtration.fit([100.0, 200], [10, 35])
    assert two.noise == np.inf
    assert (two.bend, two.bend_odds) == (0, 1)
    assert filtration.fit([100.0, 200, 300], [10, 35, 80]).bend_odds == 1


# --- laws of blocking and heads -----------------------------------------------------------------------------

V = np.linspace(0, 0.9, 400)


@pytest.mark.parametrize("name", filtration.LAWS)
def test_each_law_is_hermia_s(name):
    """Hermia, Trans. Inst. Chem. Eng. 60 (1982) 183: at a constant pressure d²t/dV² = k (dt/dV)^n, with n = 0 for a
    cake, 1 intermediate, 3/2 standard, 2 complete."""
    law = filtration.LAWS[name]
    assert law.exponent == {"cake": 0, "intermediate": 1, "standard": 1.5, "complete": 2}[name]
    t = law.passed(0.8, V)
    pace = np.gradient(t, V, edge_order=2)
    constant = np.gradient(pace, V, edge_order=2)[3:-3] / pace[3:-3] ** law.exponent
    assert constant == pytest.approx(0.8, rel=2e-3)
    assert pace[3:-3] == pytest.approx(law.resistance(0.8, V)[3:-3], rel=1e-3)


def test_each_law_has_its_own_straight_line():
    """Hermia 1982, as in textbooks: t/V against V is straight for a cake, t/V against t for standard blocking, 1/Q
    against t for intermediate and Q against V for complete blocking."""
    v = V[1:]

    def lines(name):
        law = filtration.LAWS[name]
        t, flow = law.passed(0.8, v), 1 / law.resistance(0.8, v)
        pairs = {"cake": (v, t / v), "standard": (t, t / v), "intermediate": (t, 1 / flow), "complete": (v, flow)}
        return {other: np.corrcoef(*pair)[0, 1] ** 2 for other, pair in pairs.items()}

    for name in filtration.LAWS:
        straight = lines(name)
        assert straight.pop(name) == pytest.approx(1, abs=1e-12)
        assert max(straight.values()) < 1 - 1e-5


@pytest.mark.parametrize("name", ["standard", "complete"])
def test_where_a_law_ends(name):
    law = filtration.LAWS[name]
    assert law.resistance(1.0, law.ends * (1 - 1e-9)) > 1e8


def test_a_falling_head_in_a_straight_tube():
    """The falling-head test of soil mechanics (as in ASTM D5084): time = a L / (A k) ln(h0 / h1)."""
    for left in (0.5, 0.1, 0.01):
        depth = 1 - left
        assert filtration.slowed(1.0, depth, 1.0) * depth == pytest.approx(np.log(1 / left))


@pytest.mark.parametrize(("depth", "power"), [(0.0, 1.0), (0.7, 1.0), (1.0, 1 / 3), (0.9, 1 / 3), (1.0, 2 / 3)])
def test_a_falling_head_against_plain_integration(depth, power):
    from scipy.integrate import quad

    for share in (0.2, 0.9):
        expected, _ = quad(lambda u: (1 - depth * u) ** -power, 0, share)
        assert filtration.slowed(share, depth, power) == pytest.approx(expected, rel=1e-8)


def test_the_worksheet_with_half_its_pressure_on_the_cloth():
    """Worksheet "Constant pressure filtration readings" (3 bar, 2.72 m²; read): printed slope 14714.417 s/m6,
    intercept 3506.6392 s/m3, R² 0.9943521, cake 5.215e11 m/kg, cloth 2.861e12 1/m, c 125.24655 kg/m3."""
    t = np.array([92, 160, 232, 327, 418, 472, 538.0])
    v = np.array([0.024, 0.039, 0.054, 0.071, 0.088, 0.096, 0.106])
    line = filtration.fit(v, t)
    assert (line.slope, line.intercept) == pytest.approx((14714.417, 3506.6392), rel=1e-6)
    assert line.r2 == pytest.approx(0.9943521, abs=1e-7)
