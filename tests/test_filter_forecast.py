"""The filter's forecast: against published curves, and against filters that its own model does not know."""

import time

import numpy as np
import pytest
import simulated_filters as simulated

from drinklab.errors import InputError
from drinklab.filtering import filter_forecast
from drinklab.physics import blocking, filtration


def half_way(kind, count, forecast, share=0.5):
    """Of so many logs of a kind, up to a share of the batch: how many ends lie in the band, and how many are made."""
    rng = np.random.default_rng([sum(map(ord, kind)), 3])
    run = simulated.KINDS[kind](rng, count)
    inside = made = 0
    for row in range(count):
        t, v, papers, end = simulated.read(rng, run, row, share)
        band = forecast(t, v, papers, run.kept_full)
        made += band is not None
        inside += band is not None and band[0] <= end <= band[1]
    return inside / made, made / count


def ours(t, v, papers, kept_full):
    found = filter_forecast(t, v, simulated.TOTAL, new_papers=papers, kept_full=kept_full)
    return (found.low, found.high) if found.made else None


def straight_line(t, v, papers, kept_full):
    """A wrong model: a cake alone and a head that stands, t/V straight (`filtration.fit`), and 15 % for drift."""
    start = max([0.0, *papers])
    begun = np.interp(start, t, v) if start else 0.0
    used = (t > start) & (v > begun)
    x, y, to = (v - begun)[used], (t - start)[used], simulated.TOTAL - begun
    if x.size < 3 or np.ptp(x) == 0:
        return None
    line = filtration.fit(x, y, (x / y) ** 2)
    low, high = line.band(to)
    wide = np.hypot((high - low) / 2, 1.96 * 0.15 * (line.time(to) - y[-1]))
    return start + line.time(to) - wide, start + line.time(to) + wide


# --- filters that the model does not know -----------------------------------------------------------------


@pytest.mark.parametrize("kind", simulated.KINDS)
def test_the_band_holds_for_every_kind_at_half_way(kind):
    """Aim: 85 % at least. Of 40 logs, 0.85 is missed by chance in 1 of 100 if the band truly holds 95 %."""
    inside, made = half_way(kind, 40, ours)
    assert inside >= 0.85
    assert made >= 0.85  # nor is it bought by refusing


@pytest.mark.parametrize("share", [0.3, 0.75])
@pytest.mark.parametrize("kind", ["cone_filled_once", "pores_clog_in_depth", "a_stall_and_fresh_paper", "it_cools"])
def test_the_band_holds_early_and_late(kind, share):
    inside, made = half_way(kind, 30, ours, share)
    assert inside >= 0.85
    assert made >= 0.8


@pytest.mark.parametrize(
    "kind", ["cone_filled_once", "straight_sides_filled_once", "pores_clog_in_depth", "cake_and_closed_pores"]
)
def test_a_wrong_model_fails_the_same_test(kind):
    inside, _ = half_way(kind, 40, straight_line)
    assert inside < 0.6


def test_the_laws_and_the_head_are_what_holds_it(monkeypatch):
    """The same sums with a cake alone and a head that stands fail too: it is not only wide."""
    cake = {name: (1.0 if name == "cake" else 1e-300, share) for name, (_, share) in blocking.USUAL_LAWS.items()}
    monkeypatch.setattr(blocking, "USUAL_LAWS", cake)
    for kind in ("cone_filled_once", "straight_sides_filled_once", "pores_clog_in_depth"):
        inside, _ = half_way(kind, 40, lambda t, v, papers, _: ours(t, v, papers, True))
        assert inside < 0.7, kind
