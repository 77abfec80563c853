"""Cake filtration against a textbook, an independent fit, and itself."""

import numpy as np
import pytest

from drinklab.physics import filtration

# Geankoplis, Transport Processes and Unit Operations, example 14.2-1: CaCO3 slurry at 338 kN/m². Readings as in
# the science notes (read); area and solids from memory.
TIMES = np.array([4.4, 9.5, 16.3, 24.6, 34.7, 46.1, 59.0, 73.6, 89.4, 107.3])  # s
VOLUMES = np.array([0.498, 1.000, 1.501, 2.000, 2.498, 3.002, 3.506, 4.004, 4.502, 5.009]) / 1000  # m³
RIG = {"viscosity": 8.937e-4, "solids": 23.47, "area": 0.0439, "pressure": 338e3}


def test_the_textbook_example():
    """The book draws its line by hand: slope 3.00e6 s/m6, intercept 6400 s/m3; least squares must lie near it."""
    line = filtration.fit(VOLUMES, TIMES)
    assert line.slope == pytest.approx(3.00e6, rel=0.05)
    assert line.intercept == pytest.approx(6400, rel=0.07)
    assert line.time(0.005) == pytest.approx(107.0, abs=1.5)  # by the book's own line
    low, high = line.band(VOLUMES[-1])
    assert low < TIMES[-1] < high


def test_resistances_of_the_textbook_line():
    """Book: cake 1.863e11 m/kg, medium 10.63e10 1/m, from its own slope and intercept."""
    cake, paper = filtration.resistances(3.00e6, 6400, **RIG)
    assert cake == pytest.approx(1.863e11, rel=0.002)
    assert paper == pytest.approx(10.63e10, rel=0.002)


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
