"""Strength: solutions by `drinklab.strength`, and what comes out by each known mistake."""

from __future__ import annotations

from ... import strength as _strength
from ...kinds import ABV, ABW, MASS, PROOF, VOLUME, Amount, Kind
from ...physics.density import ethanol_water as _density

WEIGHS = Kind("g/mL", "gram/milliliter")
DRINKS = Kind("standard drinks", "dimensionless")
ETHANOL = 0.7893  # g/mL at 20 °C (OIML R 22, table I)


def _weighs(abv: float) -> float:
    """A millilitre of a spirit. [g]"""
    return float(_density(_strength.abw_from_abv(abv) / 100)) / 1000


# --- pure alcohol ----------------------------------------------------------------------


def pure_alcohol(pour: float, strength: float) -> dict[str, Amount]:
    """Alcohol in a pour, by volume and by weight."""
    grams = _strength.alcohol_grams(_strength.spirit(pour, strength))
    return {"alcohol": VOLUME(pour * strength / 100), "grams": MASS(float(grams)), "each": WEIGHS(ETHANOL)}


def grams_as_if_water(pour: float, strength: float) -> float:
    """A millilitre of alcohol taken for a gram."""
    return pour * strength / 100


def grams_of_the_whole(pour: float) -> float:
    """The whole pour taken for alcohol."""
    return pour * ETHANOL


def grams_by_mass(pour: float, strength: float) -> float:
    """% vol taken for % of the weight."""
    return pour * _weighs(strength) * strength / 100


# --- proof ----------------------------------------------------------------------


def proof_alcohol(pour: float, proof: float) -> dict[str, Amount]:
    """Pure alcohol in a pour of a spirit labelled in US proof."""
    abv = float(_strength.abv_from_us_proof(proof))
    return {"strength": ABV(abv), "alcohol": VOLUME(pour * abv / 100)}


def proof_as_percent(pour: float, proof: float) -> float:
    """Proof taken for % vol."""
    return pour * proof / 100


def proof_halved_twice(pour: float, proof: float) -> float:
    """Proof halved, and halved again."""
    return pour * proof / 400


# --- letting down ----------------------------------------------------------------------


def let_down(spirit: float, strength: float, target: float) -> dict[str, Amount]:
    """Water that brings a spirit down, by weight since volumes shrink."""
    have, want = (float(_strength.abw_from_abv(s)) for s in (strength, target))
    mass = spirit * _weighs(strength)
    alcohol = mass * have / 100
    return {
        "weighs": WEIGHS(_weighs(strength)), "have": ABW(have), "want": ABW(want), "mass": MASS(mass),
        "alcohol": MASS(alcohol), "whole": MASS(alcohol / want * 100), "grams": MASS(alcohol / want * 100 - mass),
        "of_water": WEIGHS(_weighs(0)), "water": VOLUME(float(_strength.water_to_reach(spirit, strength, target))),
    }  # fmt: skip


def water_by_volume(spirit: float, strength: float, target: float) -> float:
    """Volumes taken to add up: what is missing to the volume of the weaker spirit."""
    return spirit * (strength / target - 1)


def water_by_points(spirit: float, strength: float, target: float) -> float:
    """So many points fewer, so many parts of water."""
    return spirit * (strength - target) / 100


def water_by_share(spirit: float, strength: float, target: float) -> float:
    """The share that has to go, taken of the bottle at the start."""
    return spirit * (strength - target) / strength


# --- shrinking ----------------------------------------------------------------------


def poured_together(spirit: float, strength: float, water: float) -> dict[str, Amount]:
    """What a spirit and water measure when mixed."""
    mass, grams = spirit * _weighs(strength), water * _weighs(0)
    made = _strength.spirit(spirit, strength) + _strength.spirit(water, 0.0)
    volume = float(made.volume())
    return {
        "weighs": WEIGHS(_weighs(strength)), "of_water": WEIGHS(_weighs(0)), "mass": MASS(mass), "grams": MASS(grams),
        "whole": MASS(mass + grams), "of_mix": WEIGHS(float(made.mass / volume)), "volume": VOLUME(volume),
        "lost": VOLUME(spirit + water - volume),
    }  # fmt: skip


def volumes_added(spirit: float, water: float) -> float:
    """Volumes taken to add up."""
    return spirit + water


def weight_as_volume(spirit: float, strength: float, water: float) -> float:
    """Grams of the mix taken for its millilitres."""
    return spirit * _weighs(strength) + water * _weighs(0)


# --- weight ----------------------------------------------------------------------


def bottle_weight(bottle: float, strength: float) -> dict[str, Amount]:
    """What a bottle's spirit weighs."""
    return {"weighs": WEIGHS(_weighs(strength)), "mass": MASS(bottle * _weighs(strength))}


def weight_as_if_water(bottle: float) -> float:
    """A millilitre taken for a gram."""
    return bottle


def weight_as_if_alcohol(bottle: float) -> float:
    """The whole taken for pure alcohol."""
    return bottle * ETHANOL


# --- several bottles ----------------------------------------------------------------------


def two_bottles(a: float, strong: float, b: float, weak: float) -> dict[str, Amount]:
    """Strength of two bottles poured together."""
    made = _strength.spirit(a, strong) + _strength.spirit(b, weak)
    volume, alcohol = float(made.volume()), (a * strong + b * weak) / 100
    return {
        "from_a": VOLUME(a * strong / 100), "from_b": VOLUME(b * weak / 100), "alcohol": VOLUME(alcohol),
        "volume": VOLUME(volume), "mix": ABV(100 * alcohol / volume),
    }  # fmt: skip


def plain_average(strong: float, weak: float) -> float:
    """The mean of the labels, whatever was poured of each."""
    return (strong + weak) / 2


def average_turned_round(a: float, strong: float, b: float, weak: float) -> float:
    """The amounts put to the wrong bottles."""
    return (b * strong + a * weak) / (a + b)


def only_the_strong(a: float, strong: float, b: float) -> float:
    """The weaker bottle taken to have no alcohol."""
    return a * strong / (a + b)


# --- standard drinks ----------------------------------------------------------------------

US_DRINK = 14.0  # g (CDC), as datasets/standard_drinks.csv has it


def us_drinks(pour: float, strength: float) -> dict[str, Amount]:
    """A pour in standard drinks of the United States."""
    found = pure_alcohol(pour, strength)
    drinks = _strength.standard_drinks(found["grams"].value, "United States")
    size = _strength.countries()["United States"]
    return found | {"size": MASS(size), "drinks": DRINKS(float(drinks))}


def drinks_of_millilitres(pour: float, strength: float) -> float:
    """Millilitres of alcohol divided by grams."""
    return pour * strength / 100 / US_DRINK


def drinks_by_mass(pour: float, strength: float) -> float:
    """% vol taken for % of the weight."""
    return grams_by_mass(pour, strength) / US_DRINK


def drinks_of_the_whole(pour: float) -> float:
    """The whole pour taken for alcohol."""
    return grams_of_the_whole(pour) / US_DRINK


def label_proof(proof: float) -> dict[str, Amount]:
    """A label's US proof as % vol."""
    return {"proof": PROOF(proof), "strength": ABV(float(_strength.abv_from_us_proof(proof)))}
