"""Ice: solutions by `drinklab.dilution`, and what comes out by each known mistake."""

from __future__ import annotations

from ... import dilution as _dilution
from ... import strength as _strength
from ...kinds import ABV, MASS, TEMPERATURE, VOLUME, WARMER, Amount, Kind
from ...liquid import Liquid

GLASSES = Kind("glasses", "dimensionless")
PERCENT = Kind("%", "percent")
HEAT = Kind("J", "joule")
PER_GRAM = Kind("J/g", "joule/gram")
MELTING, WARMING = 333.0, 4.19  # J/g of ice; J/g of water for each degree (rounded, as a bar would use them)


# --- strength after ice ----------------------------------------------------------------------


def after_ice(drink: float, strength: float, melt: float) -> dict[str, Amount]:
    """Strength of a drink with its melt water, `melt` in % of its volume; and the volume as a learner adds it up."""
    made = _dilution.add_melt(_strength.spirit(drink, strength), melt / 100)
    water, alcohol = drink * melt / 100, drink * strength / 100
    return {
        "alcohol": VOLUME(alcohol), "water": VOLUME(water), "volume": VOLUME(drink + water),
        "after": ABV(100 * alcohol / float(made.volume())),
    }  # fmt: skip


def melt_forgotten(strength: float) -> float:
    """The strength before ice."""
    return strength


def melt_as_points(strength: float, melt: float) -> float:
    """Per cent of melt taken off as points."""
    return strength - melt


def melt_of_the_end(strength: float, melt: float) -> float:
    """The melt taken for a share of the whole at the end."""
    return strength * (1 - melt / 100)


# --- a batch for the freezer ----------------------------------------------------------------------


def freezer_batch(glasses: float, drink: float, melt: float) -> dict[str, Amount]:
    """Water for a batch that is poured as if stirred."""
    before = _strength.spirit(glasses * drink, 0.0)
    water = float(_dilution.add_melt(before, melt / 100).volume() - before.volume())
    return {"before": VOLUME(glasses * drink), "water": VOLUME(water), "each": VOLUME(drink * melt / 100)}


def water_for_one(drink: float, melt: float) -> float:
    """One glass alone."""
    return drink * melt / 100


def water_of_the_end(glasses: float, drink: float, melt: float) -> float:
    """The melt taken for a share of the whole at the end."""
    return glasses * drink * (1 / (1 - melt / 100) - 1)


# --- does it fit the glass ----------------------------------------------------------------------


def in_the_glass(drink: float, melt: float, left: float) -> dict[str, Amount]:
    """Volume that comes off the ice, less what stays on it."""
    made = _dilution.add_melt(_strength.spirit(drink, 0.0), melt / 100)
    whole = float(made.volume())
    return {"water": VOLUME(drink * melt / 100), "whole": VOLUME(whole), "volume": VOLUME(whole - left)}


def glass_before_ice(drink: float) -> float:
    """What was poured."""
    return drink


def glass_of_the_end(drink: float, melt: float, left: float) -> float:
    """The melt taken for a share of the whole at the end."""
    return drink / (1 - melt / 100) - left


def glass_nothing_left(drink: float, melt: float) -> float:
    """What stays on the ice is forgotten."""
    return drink * (1 + melt / 100)


# --- ice that chills water ----------------------------------------------------------------------


def ice_to_chill(water: float, warm: float) -> dict[str, Amount]:
    """Ice at 0 °C that melts to chill water to 0 °C."""
    melt, _, _ = _dilution.balance_with_ice(Liquid.of(water=water), warm, 2 * water, 0.0)
    return {
        "degrees": WARMER(warm), "warming": PER_GRAM(WARMING), "melting": PER_GRAM(MELTING),
        "heat": HEAT(water * warm * WARMING), "melt": MASS(float(melt)), "cold": TEMPERATURE(0.0),
    }  # fmt: skip


def ice_joules_by_calories(water: float, warm: float) -> float:
    """Joules divided by the calories that melt a gram of ice."""
    return water * warm * WARMING / 80


def ice_by_degrees(water: float, warm: float) -> float:
    """A joule taken for what warms a gram by a degree."""
    return water * warm / MELTING


# --- two lots of the same ----------------------------------------------------------------------


def melt_share(before: float, after: float) -> dict[str, Amount]:
    """Water from the ice, as a share of the drink before it, weighed before and after."""
    return {"water": MASS(after - before), "share": PERCENT(100 * (after - before) / before)}


def share_of_after(before: float, after: float) -> float:
    """As a share of the drink at the end."""
    return 100 * (after - before) / after


def end_as_share(before: float, after: float) -> float:
    """The whole at the end, as a share of the start."""
    return 100 * after / before
