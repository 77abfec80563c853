"""Filters that the forecast's own model does not know, from the physics of each, stepped through in small volumes.

Every kind is a function (random generator, how many) -> `Run`: volume against time of many filters at once, 500 mL
each. What they rest on stands in each; sizes are drawn wide about common practice (half a litre in 3 to 21 h).
"""

from typing import NamedTuple

import numpy as np

TOTAL = 500.0
STEPS = 600
V = np.linspace(0.0, TOTAL, STEPS + 1)  # mL
DV = TOTAL / STEPS


class Run(NamedTuple):
    """Minutes at each of `V`, shape (filters, steps + 1); what the log says; volume of a told new paper."""

    minutes: np.ndarray
    kept_full: bool
    new_paper: np.ndarray | None = None


def _usual(rng, n):
    """Time for all of it, spread as common practice says."""
    return 480 * np.exp(0.33 * np.clip(rng.standard_normal(n), -3, 3))


def _scaled(rng, minutes):
    """Each filter at its own usual time: for laws that have no clock of their own."""
    return minutes / minutes[:, -1:] * _usual(rng, len(minutes))[:, None]


def _from_pace(pace):
    """Minutes from minutes per mL at the middle of each step, shape (filters, steps)."""
    return np.concatenate([np.zeros((len(pace), 1)), np.cumsum(pace * DV, axis=1)], axis=1)


def _middles():
    return (V[1:] + V[:-1]) / 2 / TOTAL


def cone_filled_once(rng, n):
    """A paper cone that lets through at its wall, a ring at a time: each ring has the head above it, and a cake of
    its own from what passed there. What stays in curd and paper leaves some head at the end."""
    rings = 14
    z = (np.arange(rings) + 0.5) / rings  # height, of the full funnel
    area = z / z.sum()
    paper, stays = rng.uniform(0.03, 0.4, n)[:, None], rng.uniform(0.03, 0.15, n)
    local = np.zeros((n, rings))
    pace = np.empty((n, STEPS))
    for i, share in enumerate(_middles()):
        left = 1 - share * (1 - stays)
        height = np.cbrt(left)[:, None]
        flow = area * np.maximum(height - z, 0) / (paper + local)
        whole = flow.sum(axis=1)
        pace[:, i] = 1 / whole
        local += (flow / whole[:, None]) / area * (1 - stays[:, None]) / STEPS * 2
    return Run(_scaled(rng, _from_pace(pace)), False)


def straight_sides_filled_once(rng, n):
    """A beaker-shaped funnel: the head falls in proportion, to what stands in the curd at the end; a cake grows."""
    paper, stays = rng.uniform(0.03, 0.5, n)[:, None], rng.uniform(0.03, 0.4, n)[:, None]
    m = _middles()
    return Run(_scaled(rng, _from_pace((paper + (1 - paper) * 2 * m) / (1 - (1 - stays) * m))), False)


def compressible_cake(rng, n):
    """Specific resistance rises with the cake's share of the pressure, to the power 0.5 to 0.9, and casein curd is at
    the high end; the whole cake also packs as it thickens (skin effect, to the power 0.2)."""
    paper, power = rng.uniform(0.05, 0.6, n)[:, None], rng.uniform(0.5, 0.9, n)[:, None]
    m = _middles()
    cake = 2 * m * (1 - paper) * np.ones((n, 1))
    total = paper + cake
    for _ in range(60):  # the share of the pressure that lies across the cake decides its resistance
        across = 1 - paper / total
        total = 0.5 * total + 0.5 * (paper + cake * (across**power) * (1 + m) ** 0.2)
    return Run(_scaled(rng, _from_pace(total)), True)


def pores_clog_in_depth(rng, n):
    """A thick paper in ten layers: each keeps a share of the specks that reach it, less as it fills, and its resistance
    rises as (1 - filled)^-3 (Kozeny's dependence on the free space). At the end it lets through 3 to 8 times less."""
    keeps, load = rng.uniform(0.1, 0.4, n), rng.uniform(0.45, 0.65, n)
    filled = np.zeros((n, 10))
    pace = np.empty((n, STEPS))
    kept_in_all = 1 - (1 - keeps) ** 10
    for i in range(STEPS):
        pace[:, i] = ((1 - filled) ** -3.0).mean(axis=1)
        carried = np.ones(n)
        for layer in range(10):
            kept = carried * keeps * (1 - filled[:, layer])
            filled[:, layer] += kept / STEPS * 10 * load / kept_in_all
            carried = carried - kept
    return Run(_scaled(rng, _from_pace(pace)), True)


def pores_of_many_sizes(rng, n):
    """Straight pores side by side, three to one in width, each narrowed by what it carries (flow as the fourth power of
    the width: Poiseuille); the widest carry, and suffer, most."""
    width = np.exp(rng.uniform(0.15, 0.5, (n, 1)) * np.linspace(-1.5, 1.5, 25)) * np.ones((n, 1))
    number = np.exp(-(np.linspace(-1.5, 1.5, 25) ** 2) / 2)
    load = rng.uniform(0.35, 0.6, n)
    room = (number * width**2).sum(axis=1)
    pace = np.empty((n, STEPS))
    for i in range(STEPS):
        flow = width**4
        whole = (number * flow).sum(axis=1)
        pace[:, i] = 1 / whole
        width = np.sqrt(np.maximum(width**2 - (load * room / STEPS / whole)[:, None] * flow, 1e-4))
    return Run(_scaled(rng, _from_pace(pace)), True)


def cake_and_closed_pores(rng, n):
    """A cake, and pores that close, at once: the cake-complete law of Bolton, LaCasse and Kuriyel, J. Membrane Sci. 277
    (2006) 75, V = J0/Kb (1 - exp(-Kb/(Kc J0²) (√(1 + 2 Kc J0² t) - 1))), solved for t."""
    close, cake = rng.uniform(0.4, 0.9, n)[:, None], rng.uniform(0.5, 8, n)[:, None]  # Kb/J0 and Kc J0, of the batch
    root = 1 - cake / close * np.log(1 - close * V / TOTAL)
    return Run(_scaled(rng, (root**2 - 1) / (2 * cake)), True)


def pores_then_cake(rng, n):
    """Open pores are sealed one after another, and a cake grows on the sealed ones (Ho and Zydney, J. Colloid
    Interface Sci. 232 (2000) 389, in plain form)."""
    seals, grows, seal = rng.uniform(2, 8, n), rng.uniform(2, 20, n), rng.uniform(0.5, 3, n)
    open_share, cake = np.ones(n), np.zeros(n)
    pace = np.empty((n, STEPS))
    for i in range(STEPS):
        flow = open_share + (1 - open_share) / (1 + seal + cake)
        pace[:, i] = 1 / flow
        cake += grows * (1 / (1 + seal + cake)) / flow / STEPS * (1 - open_share)
        open_share = open_share * np.exp(-seals * open_share / flow / STEPS)
    return Run(_scaled(rng, _from_pace(pace)), True)


def _stepped(rng, n, slower):
    """A cake filter whose resistance changes with time too: `slower(minutes, whole)` at each step."""
    paper, whole = rng.uniform(0.05, 0.5, n), _usual(rng, n)
    t = np.zeros((n, STEPS + 1))
    for i, m in enumerate(_middles()):
        t[:, i + 1] = t[:, i] + whole / STEPS * (paper + (1 - paper) * 2 * m) * slower(t[:, i], whole)
    return t


def resistance_creeps(rng, n):
    """Curd goes on settling in the cake: all resistance grows by 30 to 100 % with the root of time."""
    more = rng.uniform(0.3, 1.0, n)
    return Run(_stepped(rng, n, lambda t, whole: (1 + more * np.sqrt(t / whole)) / (1 + 0.6 * more)), True)


def it_cools(rng, n):
    """Put into the fridge at room temperature: viscosity rises 1.6 to 2.4 times from 22 to 4 °C (water 1.64 times,
    CRC Handbook; with 20 % spirit and sugar more), over 1 to 4 hours."""
    thicker, hours = rng.uniform(1.6, 2.4, n), rng.uniform(60, 240, n)
    return Run(_stepped(rng, n, lambda t, whole: 1 + (thicker - 1) * (1 - np.exp(-t / hours))), True)


def a_stall_and_fresh_paper(rng, n):
    """Nothing to speak of for 8 to 40 minutes after a fifth to two fifths; then a new paper, its own resistance
    30 % up or down. The log tells of it."""
    at = np.round(rng.uniform(0.2, 0.4, n) * STEPS).astype(int)
    paper, whole = rng.uniform(0.05, 0.5, n)[:, None], _usual(rng, n)[:, None]
    step = np.arange(STEPS)[None, :]
    fresh = step >= at[:, None]
    x = (np.where(fresh, step - at[:, None], step) + 0.5) / STEPS
    pace = whole / TOTAL * (paper + (1 - paper) * 2 * x) * np.where(fresh, np.exp(0.3 * rng.standard_normal((n, 1))), 1)
    stall = rng.uniform(8, 40, n)
    pace[np.arange(n), at - 1] += stall / DV
    return Run(_from_pace(pace), True, V[at])


def stirred(rng, n):
    """Somebody stirs at a quarter to two fifths and again after half: 30 to 60 % of the cake is loose again, and
    comes back over the next tenth. The log does not tell."""
    paper, whole = rng.uniform(0.05, 0.5, n), _usual(rng, n)
    when = np.stack([rng.uniform(0.2, 0.42, n), rng.uniform(0.55, 0.8, n)])
    loosened = rng.uniform(0.3, 0.6, n)
    cake, loose = np.zeros(n), np.zeros(n)
    pace = np.empty((n, STEPS))
    for i, m in enumerate(_middles()):
        now = (np.abs(m - when) < 0.5 / STEPS).any(axis=0)
        freed = np.where(now, loosened * cake, 0)
        back = loose * 10 / STEPS
        cake, loose = cake - freed + back + 1 / STEPS, loose + freed - back
        pace[:, i] = whole / TOTAL * (paper + (1 - paper) * 2 * cake)
    return Run(_from_pace(pace), True)


def curd_settles_out(rng, n):
    """Half to nine tenths of the curd lies on the paper from the first minutes; the rest comes evenly ("settling makes
    the end flat": American Filtration Society, One minute education)."""
    paper, early = rng.uniform(0.05, 0.3, n)[:, None], rng.uniform(0.3, 0.8, n)[:, None]
    soon = rng.uniform(0.1, 0.4, n)[:, None]
    m = _middles()
    cake = early * (1 - np.exp(-m / soon)) + (1 - early) * m
    return Run(_scaled(rng, _from_pace(paper + (1 - paper) * 2 * cake)), True)


KINDS = {
    f.__name__: f
    for f in (
        cone_filled_once, straight_sides_filled_once, compressible_cake, pores_clog_in_depth, pores_of_many_sizes,
        cake_and_closed_pores, pores_then_cake, resistance_creeps, it_cools, a_stall_and_fresh_paper, stirred, curd_settles_out,
    )
}  # fmt: skip


# --- how people read them ---------------------------------------------------------------------------------


def read(rng, run, row, share=0.5):
    """A log of one filter up to this share of the batch: minutes, volumes, new papers, and the true end.

    Readings at uneven times, 4 to 12; read in one of five ways: a few mL off, rounded to 10 mL and 5 min, 4 % off in
    the time, one reading far off, or all low or high by the same (a jug that is marked wrong).
    """
    curve = run.minutes[row]
    count = rng.integers(4, 13)
    at = np.sort(rng.uniform(0.05, share, count))
    at[-1] = share
    paper = () if run.new_paper is None else (run.new_paper[row],)
    v = np.unique(np.concatenate([at * TOTAL, paper]))
    t = np.interp(v, V, curve)
    told = tuple(t[np.isin(v, paper)])
    way = rng.integers(5)
    if way == 0:
        v = v + rng.normal(0, 4, v.size)
    elif way == 1:
        keep = np.isin(t, told)
        v, t = np.round(v, -1), np.where(keep, t, 5 * np.round(t / 5))
    elif way == 2:
        t = np.where(np.isin(t, told), t, t * (1 + rng.normal(0, 0.04, t.size)))
    elif way == 3:
        v = v + rng.normal(0, 2, v.size)
        v[rng.integers(v.size - 1)] *= rng.choice([0.8, 1.25])
    else:
        v = v * (1 + rng.normal(0, 0.03)) + rng.normal(0, 2, v.size)
    v, order = np.maximum.accumulate(np.clip(v, 1, TOTAL - 1)), np.argsort(t)
    t = t[order]
    keep = np.concatenate([[True], np.diff(t) > 0]) & (t > 0)
    return t[keep], v[keep], told, curve[-1]
