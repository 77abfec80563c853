"""Jellies: how much of what sets a drink, in which order, how strong each piece is, what boiling takes away.

Doses, temperatures and limits are in datasets/gels.csv, a row an agent, each with its source. Doses are
starting points: brands differ, so set a spoonful first on a plate in the freezer or on ice water.

>>> agar("100 mL", ph=3.3).grams  # firm citrus jelly, as kitchens make it
1.4
>>> convert_bloom(10, 240, 200)
10.95
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from . import balance, strength, tables
from .balance import profile
from .boiling import _FLAME, _plain, _without_gas
from .declared import of_recipe, poured_bottles
from .display import Display
from .errors import InputError, Told, one_of, require
from .kinds import Grams, Kind, Number
from .liquid import Liquid
from .liquid import water as _water
from .pantry import Ingredient, Pantry, load
from .physics import density as _density
from .physics import solubility as _solubility
from .recipe import Recipe
from .recipe import pour as _pour
from .steps import Brought, Caution, Draw, Outcome, estimate, first, savable
from .units import door, number, to_ml

FIRMNESS = ("soft", "firm", "very firm")
# Grams that a plunger needs to dent a standard gel (6.67 %, 10 °C) by 4 mm; 50 to 300 are sold.
BLOOM = Kind("Bloom", "dimensionless", 50, 300)
Bloom = Annotated[Number, BLOOM]
USUAL_BLOOM = 200.0  # the doses of datasets/gels.csv are for it
# Middle of the Bloom range and grams of one sheet: common practice, no published source (bronze
# 125-155, silver 160, gold 190-220, platinum 235-265). Makers differ: weigh ten sheets.
SHEETS = {"bronze": (140.0, 3.3), "silver": (160.0, 2.5), "gold": (200.0, 2.0), "platinum": (250.0, 1.7)}
# What a mould holds [mL]. Common practice, no published source: fill one with water and weigh it.
MOULDS = {
    "lime half shell": 15.0, "lemon half shell": 25.0, "orange half shell": 60.0, "grapefruit half shell": 120.0,
    "shot cup": 30.0, "cube, 2 cm": 8.0, "tray, 20 by 25 cm, 2 cm deep": 1000.0,
}  # fmt: skip
# What a gram of gelatin powder is made of: about 86 % protein, 12 % moisture, 2 % salts (a maker's figures;
# McGee 2004 gives 85-90, 8-15 and 1-2 %). The seaweed and fermented gums count as other solids, moisture too.
_GELATIN = Liquid.of(protein=0.86, water=0.12, solids=0.02)
_GUM = Liquid.of(solids=1.0)
_MARGIN = 5.0  # the mix is to be this much above its setting point while it is poured [°C]
ROOM, FRIDGE = 20.0, 4.0  # where a jelly sets: gelatin in the fridge, what sets warm in the room [°C]
_SIGNIFICANT = (
    1.2  # from here on EU labels of drinks state the strength (Regulation 1169/2011, article 9; from memory) [% vol]
)


@dataclass(frozen=True, slots=True)
class Agent:
    """A row of datasets/gels.csv; a figure that does not apply is NaN."""

    agent: str
    origin: str
    diet: str
    texture: str
    soft_g_l: float
    firm_g_l: float
    very_firm_g_l: float
    sour_factor: float
    water_ml_per_g: float
    dissolve_c: float
    set_low_c: float
    set_high_c: float
    melt_low_c: float
    melt_high_c: float
    ph_weak: float
    ph_heated: float
    ph_least: float
    abv_told: float
    abv_most: float
    source: str
    source_class: str


@functools.cache
def agents() -> dict[str, Agent]:
    """What sets a drink, by name.

    >>> list(agents())
    ['agar', 'gelatin', 'gellan', 'kappa carrageenan', 'iota carrageenan']
    """
    return {row["agent"]: Agent(**row) for row in tables.read("gels").rows()}


def sources(about: Agent) -> tuple[str, ...]:
    """Where each kind of figure of an agent comes from: doses, temperatures, pH, alcohol, water.

    >>> [part.split(":")[0] for part in sources(agents()["gellan"])]
    ['doses', 'temperatures', 'pH', 'alcohol', 'water per gram']
    """
    return tuple(about.source.split("; "))


@door
def convert_bloom(grams: Grams, bloom: Bloom, to_bloom: Bloom, *, rule: str = "square root") -> Grams:
    """Grams of another gelatin that set as firmly.

    Parameters
    ----------
    grams : float or array
        Of the gelatin that the recipe names. [g]
    bloom, to_bloom : float or array
        Its strength, and that of the gelatin at hand, 50 to 300. [Bloom]
    rule : {"square root", "linear"}

    Returns
    -------
    float or array
        [g]

    Raises
    ------
    InputError
        For a strength that is not sold, an unknown rule, or grams below zero.

    Notes
    -----
    The firmness of a gel goes about as the square of its gelatin, so grams go as the square root:
    m2 = m1 sqrt(B1 / B2); published conversion tables agree with it. Some kitchens use m2 = m1 B1 / B2. For
    neighbouring grades the two differ by a tenth (10 g of 240 Bloom: 10.95 or 12 g of 200 Bloom); from 240
    to 60 Bloom by a factor of two. Sheets are sold so that, by the linear rule, one sets about as much as
    another whatever its grade; by the square root a bronze sheet sets a third more than a gold one.

    Examples
    --------
    >>> convert_bloom(10, 160, 240), convert_bloom(10, 240, 200, rule="linear")
    (8.16, 12.0)
    """
    one_of("rule", rule, ("square root", "linear"))
    ratio = bloom / to_bloom
    return grams * (np.sqrt(ratio) if rule == "square root" else ratio)


@door
def sheets(grams: Grams, grade: str = "gold", *, bloom: Bloom = USUAL_BLOOM) -> float | np.ndarray:
    """Sheets of a grade that set as firmly as grams of a gelatin.

    >>> round(sheets(10, "gold", bloom=200), 2)
    5.0
    """
    its_bloom, each = SHEETS[one_of("sheet", grade, SHEETS)]
    return convert_bloom(grams, bloom, its_bloom) / each


def dose(agent: str, firmness: str = "firm", *, ph=7.0, bloom=USUAL_BLOOM):
    """Grams of an agent for a litre of drink.

    Parameters
    ----------
    agent : str
        One of `agents()`.
    firmness : {"soft", "firm", "very firm"}
    ph : float or array
        Of the drink. A sour drink needs more agar: up to 1.4 times as much, in equal steps from pH 4.3 down
        to 3.4. It sets gelatin and carrageenan softer too, for which no figure was found.
    bloom : float or array
        Of the gelatin. [Bloom]

    Returns
    -------
    float or array
        [g/L]

    Raises
    ------
    InputError
        For an unknown agent or firmness, a pH outside 0 to 14, a Bloom outside 50 to 300.

    Examples
    --------
    >>> dose("agar"), dose("agar", ph=3.3), dose("gelatin", bloom=160)
    (10.0, 14.0, 19.01)
    """
    row = agents()[one_of("agent", agent, agents())]
    one_of("firmness", firmness, FIRMNESS)
    ph, bloom = number(ph, "pH"), number(bloom, "bloom")
    require("pH", ph, 0, 14)
    require("bloom", bloom, BLOOM.low, BLOOM.high, BLOOM.label)
    grams = getattr(row, f"{firmness.replace(' ', '_')}_g_l")
    if agent == "gelatin":
        return convert_bloom(grams, USUAL_BLOOM, bloom)
    if row.sour_factor == 1:
        return grams
    sour = np.clip((row.ph_weak - ph) / (row.ph_weak - row.ph_heated), 0, 1)
    return _plain(grams * (1 + (row.sour_factor - 1) * sour))


# --- setting a drink ------------------------------------------------------------------------------


_FLAT = (
    "Warmed to {:.0f} °C and stirred open, it loses its gas but for what it keeps at rest there, at most: a jelly "
    "sparkles only if it sets closed and cold, under pressure."
)


def _mixed_at(row: Agent) -> float:
    """What the mix has when it is stirred together: above its setting point, and not below a room. [°C]"""
    return max(row.set_high_c + _MARGIN, ROOM)


_PH_UNKNOWN = (
    "Its pH is not known from its ingredients: it counts as sour as it may well be, or as 7 where nothing sour is "
    "counted. Measure it if it tastes sour."
)


def _known(drink: Liquid):
    """Whether the acids that are counted tell the pH at all."""
    return bool(np.ravel(balance.ph_known(drink))[0])


def ph_of(drink: Liquid):
    """pH by the acids; where they do not tell it, the sourest that it may well be, at most 7."""
    return balance.ph_or_sourest(drink)


@savable("set as a jelly", "Gel: doses of datasets/gels.csv, each with its source there.")
@dataclass(frozen=True, slots=True)
class Set:
    """Set the drink as a jelly.

    Parameters
    ----------
    agent, firmness : str
        As for `dose`.
    bloom : float
        Of the gelatin. [Bloom]
    water : float, optional
        Plain water poured to the drink, to dissolve the agent in; None for as much as it needs. [mL]
    ph : float, optional
        Of the drink as measured; by its acids if left out.
    boil_in : {"water", "drink"}
        What the agent is dissolved in. Acid and heat together destroy most of them; gelatin is never boiled.
    fish : bool
        The gelatin is made of fish.
    """

    agent: str = "agar"
    firmness: str = "firm"
    bloom: float = USUAL_BLOOM
    water: float | None = 0.0
    ph: float | None = None
    boil_in: str = "water"
    fish: bool = False
    name: str = "set"

    def __post_init__(self):
        dose(self.agent, self.firmness, ph=7.0 if self.ph is None else self.ph, bloom=self.bloom)
        one_of("boil_in", self.boil_in, ("water", "drink"))
        if self.water is not None:
            require("water", self.water, 0, np.inf, "mL")
        if self.fish and self.agent != "gelatin":
            raise InputError("agent", self.agent, "gelatin when fish is chosen")

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Of any jelly that it makes."""
        return _cautions(agents()[self.agent], 0.0, self)

    def warns(self, abv: float) -> tuple[Caution, ...]:
        """With alcohol in it: of bottles of at most this strength [% vol]."""
        return _alcohol_cautions(abv, "it has alcohol in it")

    @property
    def allergens(self) -> tuple[str, ...]:
        """Of its gelatin."""
        return ("fish",) if self.fish else ()

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Add water and agent; refuse what does not set."""
        row = agents()[self.agent]
        poured = _poured_water(self.poured(liquid))
        drink, gone = self._flatter(row, liquid + poured)
        ph = ph_of(drink) if self.ph is None else self.ph
        figures = profile(drink)
        grams = dose(self.agent, self.firmness, ph=ph, bloom=self.bloom) * figures.volume / 1000
        agent = grams * (_GELATIN if self.agent == "gelatin" else _GUM)
        # where many versions are asked for, the first is the estimate
        abv, sour = (float(np.ravel(figure)[0]) for figure in (figures.abv, ph))
        self._refuse(row, abv, sour)
        return Outcome(
            drink + agent,
            left=gone,
            cautions=_cautions(row, abv, self),
            added=poured + agent,
            allergens=self.allergens,
            notes=_notes(row, abv, sour, float(np.ravel(grams / figures.volume)[0]) * 1000, self)
            + (() if self.ph is not None or _known(drink) else (_PH_UNKNOWN,))
            + ((_FLAT.format(_mixed_at(row)),) if np.any(liquid.co2 > 0) else ()),
            temperature=FRIDGE if self.agent == "gelatin" else ROOM,
        )

    def needs(self, liquid: Liquid) -> float:
        """Plain water that dissolves the agent for this drink and the water itself; of many, for the first. [mL]

        >>> from .strength import spirit
        >>> step = Set("gelatin", water=None)
        >>> grams = step.act(spirit(100, 10)).added.protein / 0.86
        >>> round(step.needs(spirit(100, 10)) / grams, 2) == agents()["gelatin"].water_ml_per_g
        True
        """
        drink = liquid[0] if liquid.shape else liquid
        per_gram, volume, water = agents()[self.agent].water_ml_per_g, float(drink.volume()), 0.0
        for _ in range(4):  # the dose goes by the pH, and water moves that a little
            ph = self.ph if self.ph is not None else ph_of(drink + _poured_water(water))
            share = min(float(dose(self.agent, self.firmness, ph=ph, bloom=self.bloom)) * per_gram / 1000, 0.9)
            water = share * volume / (1 - share)
        return water

    def poured(self, liquid: Liquid) -> float:
        """Plain water that is poured to it, as set or as needed. [mL]"""
        return self.needs(liquid) if self.water is None else self.water

    def made(self, liquid: Liquid) -> Jelly:
        """The jelly that this step makes of the first of a drink's versions."""
        return jelly(
            first(liquid), self.agent, self.firmness, water=self.poured(liquid), ph=self.ph, boil_in=self.boil_in,
            bloom=self.bloom, fish=self.fish,
        )  # fmt: skip

    def orders(self, liquid: Liquid, outcome: Outcome) -> tuple[str, ...]:
        """The order of work."""
        return self.made(liquid).steps[1:]

    def brought(self, liquid: Liquid, outcome: Outcome) -> tuple[Brought, ...]:
        """Water to dissolve the agent in, and the agent."""
        ml, grams = self.poured(liquid), self.made(liquid).grams
        kind = f"gelatin{' of fish' if self.fish else ''}, {self.bloom:g} Bloom"
        agent = kind if self.agent == "gelatin" else self.agent
        return (Brought(f"water (for the {self.agent})", _poured_water(ml).mass, ml), Brought(agent, grams))

    def _flatter(self, row: Agent, drink: Liquid) -> tuple[Liquid, Liquid]:
        """Warmed and stirred open it keeps no more gas than it holds at rest under 1 atm of it."""
        flat, gas = _without_gas(drink)
        litres = flat.volume() / 1000
        abv = np.clip(profile(flat).abv, 0, _solubility.MOST_ALCOHOL)
        solids = np.clip((flat.sugar + flat.acid + flat.solids) / litres, 0, _solubility.MOST_SUGAR)
        most = _solubility.co2(min(_mixed_at(row), _solubility.WARMEST), abv=abv, sugar=solids) * litres
        kept = np.minimum(gas.co2, most)
        return flat + Liquid.of(co2=kept), Liquid.of(co2=gas.co2 - kept)

    def _refuse(self, row: Agent, abv: float, ph: float) -> None:
        if abv > row.abv_most:
            more = 100 * (abv / row.abv_most - 1)
            other = max(agents().values(), key=lambda a: a.abv_most)
            allowed = (
                f"at most {row.abv_most:g} % vol to set: add about {math.ceil(more)} mL of water or juice to each "
            )
            allowed += "100 mL"
            if abv <= other.abv_most:
                allowed += f", or take {other.agent}, which sets up to {other.abv_most:g} % vol"
            raise InputError(f"strength of the {self.agent} jelly", Told(f"{abv:.1f} % vol"), allowed)
        if self.boil_in == "drink" and ph < row.ph_heated:
            raise InputError(
                f"pH of what the {self.agent} is boiled in",
                Told(f"{ph:.1f}"),
                f"at least {row.ph_heated:g}, since heat and acid together destroy it: boil it in plain water and "
                "add the sour part off the heat",
            )


def _poured_water(ml: float) -> Liquid:
    return _water(ml * _density.ethanol_water(0.0) / 1000)


# --- a jelly to make --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Jelly:
    """A jelly to make: everything a bartender or a panel needs.

    Attributes
    ----------
    about : Agent
        Origin, texture, temperatures and limits of what sets it.
    firmness : str
    grams : float
        Agent to weigh. [g]
    dose : float
        [g/L]
    sheets : float or None
        Of gelatin, if a grade was chosen.
    liquid : Liquid
        The jelly: drink, added water and agent.
    volume : float
        Of the jelly: the drink, the added water and the agent's own 1 % or so. [mL]
    ph : float
        As measured, or by the acids.
    abv, alcohol, drinks : float
        Of the whole jelly. [% vol, g, standard drinks of `country`]
    water : float
        To dissolve the agent in: what is added, or more if it needs more. [mL]
    hold_back : float
        Of it, what must come out of the drink before spirit and acid go in, beyond the water added. [mL]
    warm_to : float
        What the rest must have at least when it meets the hot part, so that the mix does not set at once. [°C]
    drink : float
        To take of the drink. [mL]
    steps, notes, allergens, may_contain, unstated : tuple of str
        Allergens of the agent, and with `measured` of the drink's bottles too.
    cautions : tuple of Caution
    pieces : int or None
        Full moulds.
    piece_volume, piece_alcohol, piece_drinks, left_over : float or None
        Of each [mL, g, standard drinks], and what fills no mould. [mL]
    """

    about: Agent
    firmness: str
    grams: float
    dose: float
    sheets: float | None
    liquid: Liquid
    volume: float
    ph: float
    abv: float
    alcohol: float
    drinks: float
    country: str
    water: float
    hold_back: float
    warm_to: float
    drink: float
    notes: tuple[str, ...]
    cautions: tuple[Caution, ...]
    allergens: tuple[str, ...]
    may_contain: tuple[str, ...] = ()
    unstated: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    pieces: int | None = None
    piece_volume: float | None = None
    piece_alcohol: float | None = None
    piece_drinks: float | None = None
    left_over: float | None = None


def jelly(
    liquid: Liquid | float | str,
    agent: str = "agar",
    firmness: str = "firm",
    *,
    volume=None,
    mould=None,
    water=0.0,
    abv=None,
    ph=None,
    boil_in: str = "water",
    bloom: float = USUAL_BLOOM,
    sheet: str | None = None,
    fish: bool = False,
    country: str = "United States",
) -> Jelly:
    """A drink as a jelly: grams, order of work, pieces, and the strength of each.

    Parameters
    ----------
    liquid : Liquid, amount, or text
        One drink, or how much of one. [mL]
    agent, firmness, boil_in, fish
        As for `Set`.
    volume : amount, optional
        How much jelly is wanted; the drink and the added water are scaled to it. [mL]
    mould : str or amount, optional
        A key of `MOULDS`, or what yours holds. [mL]
    water : amount
        Plain water added to the drink, to dissolve the agent in; the dose counts it. [mL]
    abv : float, optional
        Of an amount without a `Liquid`, 0 if left out; a `Liquid` has its own. [% vol]
    ph : float, optional
        As measured; by the drink's acids if left out.
    bloom : float
        Of gelatin powder. [Bloom]
    sheet : str, optional
        A key of `SHEETS`, in place of powder.
    country : str
        Whose standard drinks to count in.

    Returns
    -------
    Jelly

    Raises
    ------
    InputError
        For what does not set (too strong, boiled in acid), and for amounts, moulds or names that are not usable.

    Examples
    --------
    >>> shot = jelly("300 mL", "gelatin", abv=14, mould="shot cup", country="United States")
    >>> shot.grams, shot.pieces, round(shot.piece_drinks, 2)
    (5.1, 10, 0.24)
    """
    if not isinstance(liquid, Liquid):
        liquid = strength.spirit(to_ml(liquid, field="liquid"), 0.0 if abv is None else abv)
    elif abv is not None:
        raise InputError("abv", abv, "left out for a Liquid, which has its own strength: abv is for a plain amount")
    if liquid.shape:
        raise InputError("liquid", Told(f"{math.prod(liquid.shape)} drinks"), "one drink (for many, use Set)")
    require("amount of the drink", liquid.mass, 1e-9, np.inf, "g")
    water = to_ml(water, field="water")
    if sheet is not None:
        if agent != "gelatin":
            raise InputError("agent", agent, "gelatin when sheets are chosen")
        bloom = SHEETS[one_of("sheet", sheet, SHEETS)][0]
    step = Set(agent, firmness, number(bloom, "bloom"), water, None if ph is None else number(ph, "pH"), boil_in, fish)
    if volume is not None:
        volume = to_ml(volume, field="volume")
        require("volume", volume, 1e-9, np.inf, "mL")
        scale = volume / step.act(liquid).liquid.volume()
        liquid, step = scale * liquid, replace(step, water=scale * water)
    outcome = step.act(liquid)
    row, drink = agents()[agent], liquid + _poured_water(step.water)
    ph = ph_of(drink) if step.ph is None else step.ph
    per_litre, whole = dose(agent, firmness, ph=ph, bloom=step.bloom), drink.volume()
    grams = per_litre * whole / 1000
    needed = grams * row.water_ml_per_g
    hot = min(max(needed, step.water) / whole, 0.95)
    # heat of the two parts, taken alike: the mix is to end above its setting point
    warm = (row.set_high_c + _MARGIN - hot * min(row.dissolve_c + 10, 95.0)) / (1 - hot)
    notes = outcome.notes + raw_fruit(agent)
    if warm > 50 and drink.ethanol > 0:
        notes += (f"The rest must be {warm:.0f} °C hot when it goes in: with spirit in it, agar or gelatin is safer.",)
    found = Jelly(
        about=row,
        firmness=firmness,
        grams=grams,
        dose=per_litre,
        sheets=None if sheet is None else grams / SHEETS[sheet][1],
        liquid=outcome.liquid,
        volume=outcome.liquid.volume(),
        ph=ph,
        abv=profile(outcome.liquid).abv,
        alcohol=drink.ethanol,
        drinks=strength.standard_drinks(drink.ethanol, country),
        country=country,
        water=max(needed, step.water),
        hold_back=max(needed - step.water, 0.0),
        warm_to=max(ROOM, warm),
        drink=liquid.volume(),
        notes=notes,
        cautions=outcome.cautions,
        allergens=outcome.allergens,
    )
    if mould is not None:
        found = _moulded(found, mould)
    return replace(found, steps=_steps(found, boil_in, max(needed, step.water)))


def agar(liquid_or_volume, firmness: str = "firm", **rest) -> Jelly:
    """A drink set with agar: `jelly` with its other arguments.

    >>> made = agar("1 L", ph=3.3, mould="orange half shell")
    >>> made.grams, made.pieces, made.water
    (14.0, 16, 350.0)
    """
    return jelly(liquid_or_volume, "agar", firmness, **rest)


def gelatin(liquid_or_volume, firmness: str = "firm", **rest) -> Jelly:
    """A drink set with gelatin: `jelly` with its other arguments.

    >>> made = gelatin("500 mL", sheet="gold")
    >>> made.grams, made.sheets
    (8.5, 4.25)
    """
    return jelly(liquid_or_volume, "gelatin", firmness, **rest)


def measured(made: Jelly, recipe: Recipe, pantry: Pantry) -> Jelly:
    """A jelly whose order of work begins with the pours of the drink in it, with their cautions and allergens."""
    whole = sum(_pour([recipe], pantry))[0].volume()
    show = Display()
    pours = []
    for pour in recipe.scaled(made.drink / whole).pours:
        unit, ml = pour.measure(pantry, show)
        amount = pour.amount / ml
        pours.append(f"{amount:.{int(amount < 10)}f} {unit} of {pour.bottle(pantry).name}")
    said = of_recipe(recipe, pantry, made)
    return replace(
        of_bottles(made, poured_bottles(recipe, pantry)),
        steps=(f"Measure {', '.join(pours)}.", *made.steps[1:]), cautions=said.cautions,
        allergens=said.allergens, may_contain=said.may_contain, unstated=said.unstated,
    )  # fmt: skip


def _moulded(made: Jelly, mould) -> Jelly:
    if isinstance(mould, str) and not any(c.isdigit() for c in mould):
        one_of("mould", mould, MOULDS)
    each = MOULDS[mould] if isinstance(mould, str) and mould in MOULDS else to_ml(mould, field="mould")
    require("mould", each, 0.1, np.inf, "mL")
    if each > made.volume * (1 + 1e-9):
        raise InputError("mould", Told(f"{each:g} mL"), f"at most what the jelly makes, {made.volume:.0f} mL")
    pieces = math.floor(made.volume / each + 1e-9)
    part = each / made.volume
    cautions = made.cautions
    if (mould == "shot cup" or (mould not in MOULDS and each <= 45)) and made.about.agent != "gelatin":
        cautions += (_MINI_CUP,)
    return replace(
        made, pieces=pieces, piece_volume=each, left_over=max(made.volume - pieces * each, 0.0),
        piece_alcohol=part * made.alcohol, piece_drinks=part * made.drinks, cautions=cautions,
    )  # fmt: skip


# --- words ----------------------------------------------------------------------------------------

_CHOKING = Caution(
    "choking",
    "Choking: a firm jelly swallowed whole can block the airway. Cut it small, serve it with a fork or spoon, and "
    "never to small children. Konjac may not be used in jelly sweets in the EU (Regulation 1333/2008, annex II), and "
    "konjac mini-cups are stopped at the US border (FDA Import Alert 33-15).",
)
_MINI_CUP = Caution(
    "mini-cup",
    "Jelly mini-cups: in the EU, a firm jelly in a soft cup that is squeezed into the mouth in one bite may not hold "
    "agar, carrageenan or gellan (Regulation 1333/2008, annex II). Serve it in glass or a fruit shell with a spoon.",
)


def _cautions(row: Agent, abv: float, step: Set) -> tuple[Caution, ...]:
    out = []
    if step.firmness != "soft":
        out.append(_CHOKING)
    out += _alcohol_cautions(abv, f"this one has {abv:.0f} % vol")
    if row.diet == "animal":
        kind = "fish, an allergen to declare" if step.fish else "pork or beef, some of fish, an allergen"
        text = f"Gelatin is made of {kind}: read the packet, and say on the menu that it is not vegetarian."
        out.append(Caution("gelatin", text))
    return tuple(out)


def _alcohol_cautions(abv: float, how_strong: str) -> tuple[Caution, ...]:
    """Of a jelly of at most this strength. [% vol]"""
    text = f"A jelly looks harmless and is eaten fast: {how_strong}. Label it with its strength, keep it from "
    text += "children, and serve it by your local licensing rules."
    return (_FLAME,) * (abv > 0) + (Caution("strong jelly", text),) * (abv > _SIGNIFICANT)


def _notes(row: Agent, abv: float, ph: float, grams: float, step: Set) -> tuple[str, ...]:
    out = [f"{grams:.1f} g of {row.agent} a litre for a {step.firmness} jelly: {row.texture}."]
    if abv > row.abv_told:
        out.append(
            f"At {abv:.0f} % vol the gelatin may come out as grains: published figures run from 30 to 50 %, so set a "
            "spoonful first."
        )
    elif abv > 0.75 * row.abv_most:
        out.append(
            f"{abv:.0f} % vol is near the {row.abv_most:g} % vol that {row.agent} is used to: set a spoonful first."
        )
    if ph < row.ph_least:
        out.append(f"pH {ph:.1f} is below the {row.ph_least:g} that {row.agent} is made for: it may weep or stay soft.")
    if ph < row.ph_weak:
        weak = "the dose counts that" if row.sour_factor > 1 else "if a spoonful sets too soft, take a quarter more"
        out.append(f"Acid (pH {ph:.1f}) weakens {row.agent}; {weak}.")
    if step.boil_in == "drink" and row.agent != "gelatin" and abv > 0:
        out.append("Boiling the drink itself drives alcohol off: see Boil.")
    if row.agent == "gelatin":
        out.append(f"It melts from {row.melt_low_c:g} °C: keep it cold on a warm terrace.")
    return tuple(out)


# Fruit whose raw juice splits gelatin, which is protein (McGee 2004; second hand). Heat ends it, so canned juice sets.
_SPLITS = ("pineapple", "papaya", "kiwi")
_RAW_FRUIT = "Raw pineapple, papaya and kiwi hold enzymes that keep gelatin from setting: boil such a juice first."


def raw_fruit(agent: str, bottles: Sequence[Ingredient] | None = None) -> tuple[str, ...]:
    """Whether raw fruit in it keeps a jelly from setting, as sentences; a rule to mind where its bottles are not known.

    >>> from .pantry import load
    >>> raw_fruit("gelatin", [load()["gin"]]), raw_fruit("agar")
    ((), ())
    >>> raw_fruit("gelatin", [load()["pineapple_juice"]])[0].partition(":")[0]
    'Raw pineapple juice keeps gelatin from setting'
    """
    if agent != "gelatin":
        return ()
    if bottles is None:
        return (_RAW_FRUIT,)
    out, ours = [], load()
    for bottle in bottles:
        if any(word.startswith(_SPLITS) for word in re.findall(r"[a-z]+", bottle.name.lower())):
            out.append(
                f"Raw {bottle.name} keeps gelatin from setting: its enzyme splits it. Boil it first; what is canned or "
                "pasteurised has been."
            )
        elif bottle.kind in ("juice", "other") and bottle.id not in ours:
            out.append(
                f"If {bottle.name!r} holds raw pineapple, papaya or kiwi, boil it first: else gelatin does not set."
            )
    return tuple(out)


def of_bottles(made: Jelly, bottles: Sequence[Ingredient]) -> Jelly:
    """A jelly with notes on just these bottles, which are poured into it."""
    notes = [note for note in made.notes if note != _RAW_FRUIT]
    return replace(made, notes=(*notes, *raw_fruit(made.about.agent, bottles)))


def _steps(made: Jelly, boil_in: str, poured: float) -> tuple[str, ...]:
    agent, grams, water = made.about.agent, f"{made.grams:.1f} g", f"{poured:.0f} mL"
    part = f"{water} of {'the drink, cold' if boil_in == 'drink' else 'cold water'}"
    if made.hold_back >= 0.5 and boil_in == "water":
        share = "" if made.hold_back >= made.water else f"{made.hold_back:.0f} mL of it "
        part += f" ({share}kept back from the drink, without acid and spirit)"
    warm = round(made.warm_to)
    rest = f"have the rest at {warm} °C ({warm * 1.8 + 32:.0f} °F) or more" + (
        ", warmed in warm water" if made.warm_to > 20 else ""
    )
    setting = f"it sets at {made.about.set_low_c:g} to {made.about.set_high_c:g} °C"
    if agent == "gelatin":
        soak = (
            f"Soak {made.sheets:.1f} sheets ({grams}) in plenty of cold water for 5 to 10 minutes; press them out."
            if made.sheets is not None
            else f"Strew {grams} of gelatin on {part}; leave 10 minutes to swell."
        )
        order = [
            soak,
            "Warm it to 50 to 60 °C (120 to 140 °F), with a little of the drink if it needs more, until it has melted. "
            "Never boil it.",
            "Off the heat, stir in the rest at room temperature, spirit last where it is still apart.",
        ]
        setting += ", in the fridge at 4 °C (39 °F), overnight"
    else:
        how = {
            "agar": "bring to the boil and boil gently for 2 minutes or more, until clear",
            "gellan": "heat to 90 °C (194 °F), until clear; use soft water, since hard water keeps it from dissolving",
        }.get(agent, "heat to 80 °C (176 °F), until clear")
        salt = {
            "gellan": ", with a pinch of calcium lactate unless the juice brings calcium enough",
            "kappa carrageenan": "; a little potassium (juice has it) makes it firmer",
            "iota carrageenan": "; a little calcium makes it firmer",
        }.get(agent, "")
        order = [
            f"Mix {grams} of {agent} with the sugar, if any; stir into {part}.",
            f"Stirring, {how}. No spirit in it{', no acid' if boil_in == 'water' else ''}.",
            f"Meanwhile {rest}.",
            f"Off the heat, flame out, stir in the rest at once{salt}; spirit last where it is still apart.",
        ]
        setting += ", within minutes, so pour at once"
    where = f"Pour {made.pieces} of {made.piece_volume:g} mL" if made.pieces else "Pour into the mould"
    order.insert(0, f"Measure {made.drink:.0f} mL of the drink.")
    order += [f"{where}; {setting}.", "Cut, and label it with its strength." if made.abv > 0 else "Cut and serve."]
    return tuple(order)


# --- what boiling takes away -------------------------------------------------------------------------
