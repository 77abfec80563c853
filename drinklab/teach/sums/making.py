"""Milk, filters, gels, gas, batches and money: solutions by the package, and what comes out by each known mistake."""

from __future__ import annotations

import math

import numpy as np

from ... import strength as _strength
from ...carbonation import dissolved_co2 as _dissolved
from ...carbonation import pressure_for as _pressure_for
from ...carbonation import volumes_held as _volumes_held
from ...carbonation import with_gas as _with_gas
from ...gels.agents import SHEETS as _GRADES
from ...gels.agents import convert_bloom as _convert_bloom
from ...gels.agents import dose as _dose
from ...gels.agents import sheets as _sheets
from ...kinds import ABV, CONCENTRATION, GAS_VOLUMES, GAUGE_PRESSURE, MASS, VOLUME, Amount, Kind
from ...liquid import Liquid
from ...physics import filtration as _filtration
from ...physics import solubility as _solubility

MINUTES = Kind("min", "minute")
PERCENT = Kind("%", "percent")
CUBES = Kind("cubes", "dimensionless")
SHEETS = Kind("sheets", "dimensionless")
BOTTLES = Kind("bottles", "dimensionless")
PRICE = Kind("€", "dimensionless")
NUMBER = Kind("", "dimensionless")
KPA = Kind("kPa", "kilopascal")
_WEIGHS = Kind("g/mL", "gram/milliliter")
BOTTLE = 700.0  # mL


# --- milk and filter ----------------------------------------------------------------------------------------


def milk_share(total: float, parts: float) -> dict[str, Amount]:
    """Milk in a mix of one part of it to so many parts of drink."""
    return {"all_parts": NUMBER(parts + 1), "milk": VOLUME(total / (parts + 1))}


def milk_of_total(total: float, parts: float) -> float:
    """One part to five taken for one part in five."""
    return total / parts


def milk_turned(total: float, parts: float) -> float:
    """The drink's share."""
    return total * parts / (parts + 1)


def filter_end(minutes: float, through: float, total: float) -> dict[str, Amount]:
    """When a filter whose cake grows will be through (the line of Ruth, the paper's own resistance left out)."""
    line = _filtration.fit(np.array([through / 2, through]), np.array([minutes / 4, minutes]))
    return {"times": NUMBER(total / through), "end": MINUTES(float(line.time(total)))}


def filter_straight(minutes: float, through: float, total: float) -> float:
    """As fast to the end as at the start."""
    return minutes * total / through


def filter_rest(minutes: float, through: float, total: float) -> float:
    """The time that is left, not the time in all."""
    return minutes * (total / through) ** 2 - minutes


def filters_side_by_side(minutes: float, filters: float, volume: float) -> dict[str, Amount]:
    """Time of several filters alike, each with its part of the liquid, from that of one."""
    line = _filtration.fit(np.array([volume / 2, volume]), np.array([minutes / 4, minutes]))
    end = MINUTES(float(line.time(volume / filters)))
    return {"part": VOLUME(volume / filters), "squared": NUMBER(filters**2), "end": end}


def filters_straight(minutes: float, filters: float) -> float:
    """So many filters, so many times as fast."""
    return minutes / filters


def filters_alike(minutes: float) -> float:
    """As long as one."""
    return minutes


def washed_strength(drink: float, strength: float, milk: float, lost: float) -> dict[str, Amount]:
    """Strength of a washed drink: what clings to the curd has the strength of the rest. Milk counts as water."""
    made = _strength.spirit(drink, strength) + _strength.spirit(milk, 0.0)
    alcohol, whole = drink * strength / 100, drink + milk
    return {
        "alcohol": VOLUME(alcohol), "whole": VOLUME(whole), "left": VOLUME(whole - lost),
        "after": ABV(100 * alcohol / float(made.volume())),
    }  # fmt: skip


def milk_forgotten(strength: float) -> float:
    """The strength before the milk."""
    return strength


def lost_as_water(drink: float, strength: float, milk: float, lost: float) -> float:
    """What is lost taken for water alone."""
    return drink * strength / (drink + milk - lost)


def washed_yield(drink: float, milk: float, lost: float) -> dict[str, Amount]:
    """What runs through as a clear drink, `lost` in % of all that was poured together."""
    whole = float((_strength.spirit(drink, 0.0) + _strength.spirit(milk, 0.0)).volume())
    kept = whole * lost / 100
    return {"whole": VOLUME(whole), "kept": VOLUME(kept), "clear": VOLUME(whole - kept)}


def yield_without_milk(drink: float, lost: float) -> float:
    """The milk is forgotten, though its whey runs through."""
    return drink * (100 - lost) / 100


def yield_lost_of_drink(drink: float, milk: float, lost: float) -> float:
    """The loss taken of the drink alone."""
    return drink + milk - drink * lost / 100


def start_early(rest: float, filters: float, chill: float) -> dict[str, Amount]:
    """Minutes from the start to the hour of serving; `chill` in hours, the rest in minutes."""
    chilled = 60 * chill
    return {"chilled": MINUTES(chilled), "begin": MINUTES(rest + filters + chilled)}


def hours_of_hundred(rest: float, filters: float, chill: float) -> float:
    """An hour taken for a hundred minutes."""
    return rest + filters + 100 * chill


def start_without_chill(rest: float, filters: float) -> float:
    """One part of the way is forgotten."""
    return rest + filters


# --- gels ------------------------------------------------------------------------------------------------------


def bloom_swap(gelatin: float, bloom: float, to_bloom: float) -> dict[str, Amount]:
    """Grams of another gelatin that set as firmly."""
    grams = float(_convert_bloom(gelatin, bloom, to_bloom))
    return {"ratio": NUMBER(bloom / to_bloom), "root": NUMBER(math.sqrt(bloom / to_bloom)), "grams": MASS(grams)}


def bloom_linear(gelatin: float, bloom: float, to_bloom: float) -> float:
    """In a straight line."""
    return gelatin * bloom / to_bloom


def bloom_turned(gelatin: float, bloom: float, to_bloom: float) -> float:
    """The root of the ratio turned round."""
    return gelatin * math.sqrt(to_bloom / bloom)


def bloom_same(gelatin: float) -> float:
    """As much of the one as of the other."""
    return gelatin


def bronze_sheets(gelatin: float) -> dict[str, Amount]:
    """Bronze sheets (140 Bloom, 3.3 g each) that set as powder of 200 Bloom does."""
    bloom, each = _GRADES["bronze"]
    grams = float(_convert_bloom(gelatin, 200.0, bloom))
    return {
        "root": NUMBER(math.sqrt(200.0 / bloom)), "grams": MASS(grams), "each": MASS(each),
        "sheets": SHEETS(float(_sheets(gelatin, "bronze", bloom=200.0))),
    }  # fmt: skip


def sheets_by_weight(gelatin: float) -> float:
    """Grams over the weight of a sheet, whatever its Bloom."""
    return gelatin / _GRADES["bronze"][1]


def sheets_linear(gelatin: float) -> float:
    """By Bloom in a straight line."""
    bloom, each = _GRADES["bronze"]
    return gelatin * 200 / bloom / each


def sheets_as_gold(gelatin: float) -> float:
    """A bronze sheet taken for a gold one."""
    return gelatin / _GRADES["gold"][1]


def agar_sour(volume: float) -> dict[str, Amount]:
    """Agar for a firm jelly of a sour drink, pH 3.4 or less."""
    usual, sour = (float(_dose("agar", "firm", ph=ph)) for ph in (7.0, 3.3))
    return {
        "usual": CONCENTRATION(usual), "times": NUMBER(sour / usual), "in_usual": MASS(volume * usual / 1000),
        "agar": MASS(volume * sour / 1000),
    }  # fmt: skip


def agar_not_sour(volume: float) -> float:
    """As for a drink that is not sour."""
    return volume * float(_dose("agar", "firm")) / 1000


def agar_of_a_litre(volume: float) -> float:
    """Of a whole litre."""
    return float(_dose("agar", "firm", ph=3.3))


def jelly_strength(spirit: float, strength: float, rest: float, water: float) -> dict[str, Amount]:
    """Strength of a jelly with the water that its agent was dissolved in."""
    made = _strength.spirit(spirit, strength) + _strength.spirit(rest + water, 0.0)
    alcohol = spirit * strength / 100
    return {
        "alcohol": VOLUME(alcohol), "whole": VOLUME(spirit + rest + water),
        "after": ABV(100 * alcohol / float(made.volume())),
    }  # fmt: skip


def jelly_without_water(spirit: float, strength: float, rest: float) -> float:
    """The agent's water is forgotten."""
    return spirit * strength / (spirit + rest)


def jelly_of_the_rest(spirit: float, strength: float, rest: float, water: float) -> float:
    """The alcohol over all that holds none."""
    return spirit * strength / (rest + water)


def piece_alcohol(volume: float, strength: float, pieces: float) -> dict[str, Amount]:
    """Grams of alcohol in one piece of a jelly."""
    grams = float(_strength.alcohol_grams(_strength.spirit(volume, strength)))
    alcohol = volume * strength / 100
    return {
        "alcohol": VOLUME(alcohol), "each": _WEIGHS(grams / alcohol), "all": MASS(grams), "one": MASS(grams / pieces),
    }  # fmt: skip


def piece_as_if_water(volume: float, strength: float, pieces: float) -> float:
    """A mL of alcohol taken for a gram."""
    return volume * strength / 100 / pieces


def pieces_together(volume: float, strength: float) -> float:
    """All pieces."""
    return piece_alcohol(volume, strength, 1.0)["all"].value


def cut_cubes(volume: float, edge: float) -> dict[str, Amount]:
    """Cubes that a jelly is cut into; an edge in cm, so that a cube is in mL."""
    return {"each": VOLUME(edge**3), "cubes": CUBES(volume / edge**3)}


def cubes_by_side(volume: float, edge: float) -> float:
    """The side of a cube taken for the cube."""
    return volume / edge**2


def cubes_three_edges(volume: float, edge: float) -> float:
    """Three edges added instead of multiplied."""
    return volume / (3 * edge)


# --- gas -------------------------------------------------------------------------------------------------------


AIR = 101.325  # kPa, at sea level


def gas_held(gauge: float, temperature: float) -> dict[str, Amount]:
    """Gas that water holds under a pressure, counted from the whole pressure."""
    held = float(_dissolved(Liquid.of(water=1000.0), gauge, temperature))
    whole = gauge + AIR
    return {
        "air": KPA(AIR), "whole": KPA(whole), "each": CONCENTRATION(100 * held / whole), "gas": CONCENTRATION(held),
        "gauge_only": GAUGE_PRESSURE(gauge),
    }  # fmt: skip


def gas_of_gauge(gauge: float, temperature: float) -> float:
    """The gauge taken for the whole pressure."""
    return gas_held(gauge, temperature)["each"].value * gauge / 100


def gas_without_air(gauge: float, temperature: float) -> float:
    """The air taken off where it is added."""
    return gas_held(gauge, temperature)["each"].value * (gauge - AIR) / 100


def gauge_needed(gas: float, temperature: float) -> dict[str, Amount]:
    """What a gauge must show for so much gas in a litre of water."""
    water = Liquid.of(water=1000.0)
    gauge = float(_pressure_for(water, float(_solubility.volumes_from_grams(gas)), temperature))
    whole = gauge + AIR
    return {
        "air": KPA(AIR),
        "each": CONCENTRATION(100 * gas / whole),
        "whole": KPA(whole),
        "gauge": GAUGE_PRESSURE(gauge),
    }


def gauge_with_air(gas: float, temperature: float) -> float:
    """The whole pressure taken for the gauge's."""
    return gauge_needed(gas, temperature)["whole"].value


def gauge_air_added(gas: float, temperature: float) -> float:
    """The air added where it is taken off."""
    return gauge_needed(gas, temperature)["whole"].value + AIR


def volumes_to_grams(volumes: float, litres: float) -> dict[str, Amount]:
    """Grams of gas in so many litres at so many volumes."""
    held = float(_solubility.grams_from_volumes(volumes))
    return {
        "asked": GAS_VOLUMES(volumes), "one": CONCENTRATION(float(_solubility.grams_from_volumes(1.0))),
        "held": CONCENTRATION(held), "grams": MASS(held * litres),
    }  # fmt: skip


def volumes_as_grams(volumes: float, litres: float) -> float:
    """A volume taken for a gram in a litre."""
    return volumes * litres


def gas_of_one_litre(volumes: float) -> float:
    """One litre alone."""
    return float(_solubility.grams_from_volumes(volumes))


def soda_top(spirit: float, soda: float, volumes: float) -> dict[str, Amount]:
    """Volumes of gas in a highball before any of it bubbles off; the spirit, at 40 % vol, brings none."""
    made = _with_gas(Liquid.of(water=soda * 0.9982), volumes) + _strength.spirit(spirit, 40.0)
    volume = float(made.volume())
    mixed = float(_solubility.volumes_from_grams(1000 * float(made.co2) / volume))
    return {"brought": VOLUME(soda * volumes), "whole": VOLUME(spirit + soda), "mixed": GAS_VOLUMES(mixed)}


def soda_as_before(volumes: float) -> float:
    """As much as the soda has alone."""
    return volumes


def soda_by_spirit(spirit: float, soda: float, volumes: float) -> float:
    """By the spirit's share."""
    return volumes * spirit / (spirit + soda)


def gas_after_pouring(volumes: float, bottling: float, pouring: float) -> dict[str, Amount]:
    """Gas that is left after two losses, each in % of what was there."""
    bottled = volumes * (100 - bottling) / 100
    return {
        "asked": GAS_VOLUMES(volumes), "first": PERCENT(100 - bottling), "second": PERCENT(100 - pouring),
        "bottled": GAS_VOLUMES(bottled), "left": GAS_VOLUMES(bottled * (100 - pouring) / 100),
    }  # fmt: skip


def losses_added(volumes: float, bottling: float, pouring: float) -> float:
    """Both losses taken of the start."""
    return volumes * (100 - bottling - pouring) / 100


def bottling_alone(volumes: float, bottling: float) -> float:
    """The second loss is forgotten."""
    return volumes * (100 - bottling) / 100


def warm_keg(gauge: float, cold: float, warm: float) -> dict[str, Amount]:
    """What a gauge must show for the same gas in water that got warmer."""
    water = Liquid.of(water=1000.0)
    needed = float(_pressure_for(water, float(_volumes_held(water, gauge, cold)), warm))
    held = float(_dissolved(water, gauge, cold))
    return {
        "air": KPA(AIR), "whole": KPA(gauge + AIR), "each_cold": CONCENTRATION(100 * held / (gauge + AIR)),
        "each_warm": CONCENTRATION(100 * held / (needed + AIR)), "held": CONCENTRATION(held),
        "need": KPA(needed + AIR), "needed": GAUGE_PRESSURE(needed),
    }  # fmt: skip


def keg_gauge_alone(gauge: float, cold: float, warm: float) -> float:
    """The gauge taken for the whole pressure, there and back."""
    found = warm_keg(gauge, cold, warm)
    return gauge * found["each_cold"].value / found["each_warm"].value


def keg_air_kept(gauge: float, cold: float, warm: float) -> float:
    """The whole pressure at the end."""
    return warm_keg(gauge, cold, warm)["need"].value


def keg_as_before(gauge: float) -> float:
    """The gauge left where it is."""
    return gauge


# --- batches and money ----------------------------------------------------------------------------------------


def bottles_to_buy(glasses: float, pour: float) -> dict[str, Amount]:
    """Bottles of 700 mL for so many glasses, whole ones."""
    need = glasses * pour
    return {
        "need": VOLUME(need), "bottle": VOLUME(BOTTLE), "exact": BOTTLES(need / BOTTLE),
        "bottles": BOTTLES(math.ceil(need / BOTTLE - 1e-9)),
    }  # fmt: skip


def bottles_down(glasses: float, pour: float) -> float:
    """Rounded down."""
    return math.floor(glasses * pour / BOTTLE)


def bottles_of_litre(glasses: float, pour: float) -> float:
    """A bottle taken for a litre."""
    return math.ceil(glasses * pour / 1000)


def pour_cost(price: float, pour: float) -> dict[str, Amount]:
    """What a pour from a bottle of 700 mL costs."""
    return {"bottle": VOLUME(BOTTLE), "each": PRICE(price / BOTTLE), "cost": PRICE(price * pour / BOTTLE)}


def pour_cost_of_litre(price: float, pour: float) -> float:
    """A bottle taken for a litre."""
    return price * pour / 1000


def pour_cost_turned(price: float, pour: float) -> float:
    """The bottle shared out over so many pours as the pour has mL."""
    return price / pour


def menu_price(cost: float, share: float) -> dict[str, Amount]:
    """The price of which the cost is so many per cent."""
    return {"price": PRICE(cost / (share / 100))}


def price_added(cost: float, share: float) -> float:
    """The share added to the cost."""
    return cost * (1 + share / 100)


def price_of_rest(cost: float, share: float) -> float:
    """The cost taken for what is left of the price."""
    return cost / (1 - share / 100)
