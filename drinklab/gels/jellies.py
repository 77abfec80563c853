"""A drink set as a jelly: the step, and the jelly to make with its pieces."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from .. import balance, strength
from ..boiling import without_gas
from ..declared import of_recipe, poured_bottles
from ..display import Display
from ..errors import InputError, Told, one_of, require
from ..facts import Fact, say
from ..kinds import ABV, TEMPERATURE, VOLUME, Given, Number
from ..liquid import Liquid
from ..liquid import water as _water
from ..pantry import Ingredient, Pantry
from ..physics import density as _density
from ..physics import solubility as _solubility
from ..profile import profile
from ..recipe import Recipe
from ..recipe import pour as _pour
from ..steps import Brought, Caution, Draw, Outcome, estimate, first, savable
from ..units import number, to_ml
from .agents import SHEETS, USUAL_BLOOM, Agent, agents, dose
from .words import MINI_CUP, RAW_FRUIT, alcohol_cautions, cautions_of, notes_of, order_of_work, raw_fruit

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
_WATER = float(_density.ethanol_water(0.0)) / 1000  # at 20 °C [g/mL]
ROOM, FRIDGE = 20.0, 4.0  # where a jelly sets: gelatin in the fridge, what sets warm in the room [°C]


def _mixed_at(row: Agent) -> float:
    """What the mix has when it is stirred together: above its setting point, and not below a room. [°C]"""
    return max(row.set_high_c + _MARGIN, ROOM)


def ph_of(drink: Liquid) -> Number:
    """pH by the acids; where they do not tell it, the sourest that it may well be, at most 7."""
    return balance.ph_reading(drink).or_sourest


class _Mix(NamedTuple):
    """Drink and water as they meet the agent, the gas that is lost, and what the dose goes by."""

    drink: Liquid
    gone: Liquid
    ph: Number
    known: bool
    grams: Number


@savable("set as a jelly", Fact("basis of a jelly"))
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

    def __post_init__(self) -> None:
        dose(self.agent, self.firmness, ph=7.0 if self.ph is None else self.ph, bloom=self.bloom)
        one_of("boil_in", self.boil_in, ("water", "drink"))
        if self.water is not None:
            require("water", self.water, 0, 1_000_000, "mL")
        if self.fish and self.agent != "gelatin":
            raise InputError("agent", self.agent, "gelatin when fish is chosen")

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Of any jelly that it makes."""
        return cautions_of(agents()[self.agent], 0.0, self)

    def warns(self, abv: float) -> tuple[Caution, ...]:
        """With alcohol in it: of bottles of at most this strength [% vol]."""
        return alcohol_cautions(abv, Fact("jelly of alcohol"))

    @property
    def allergens(self) -> tuple[str, ...]:
        """Of its gelatin."""
        return ("fish",) if self.fish else ()

    @property
    def may_contain(self) -> tuple[str, ...]:
        """Of a gelatin of which nobody has said what it is made of: some is of fish."""
        return ("fish",) if self.agent == "gelatin" and not self.fish else ()

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Add water and agent; refuse what does not set."""
        poured = _poured_water(self.poured(liquid))
        return self._set(liquid, poured, self._mix(liquid + poured))

    def _mix(self, drink: Liquid) -> _Mix:
        drink, gone = self._flatter(agents()[self.agent], drink)
        ph: Number
        if self.ph is None:
            reading = balance.ph_reading(drink)
            ph, known = reading.or_sourest, bool(np.ravel(reading.known)[0])
        else:
            ph, known = self.ph, True
        grams = dose(self.agent, self.firmness, ph=ph, bloom=self.bloom) * drink.volume() / 1000
        return _Mix(drink, gone, ph, known, grams)

    def _set(self, liquid: Liquid, poured: Liquid, mix: _Mix) -> Outcome:
        row = agents()[self.agent]
        figures, grams = profile(mix.drink), mix.grams
        agent = grams * (_GELATIN if self.agent == "gelatin" else _GUM)
        # where many versions are asked for, the first is the estimate
        abv, sour = (float(np.ravel(figure)[0]) for figure in (figures.abv, mix.ph))
        self._refuse(row, abv, sour)
        return Outcome(
            mix.drink + agent,
            left=mix.gone,
            cautions=cautions_of(row, abv, self),
            added=poured + agent,
            allergens=self.allergens,
            said=notes_of(row, abv, sour, float(np.ravel(grams / figures.volume)[0]) * 1000, self)
            + (() if mix.known else (Fact("pH of a jelly unknown"),))
            + ((Fact("jelly goes flat", at=TEMPERATURE(_mixed_at(row))),) if np.any(liquid.co2 > 0) else ()),
            temperature=FRIDGE if self.agent == "gelatin" else ROOM,
        )

    def needs(self, liquid: Liquid) -> float:
        """Plain water that dissolves the agent for this drink and the water itself; of many, for the first. [mL]

        >>> from ..strength import spirit
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

    def orders(self, liquid: Liquid, outcome: Outcome) -> tuple[Fact, ...]:
        """The order of work."""
        return self.made(liquid).order[1:]

    def brought(self, liquid: Liquid, outcome: Outcome) -> tuple[Brought, ...]:
        """Water to dissolve the agent in, and the agent."""
        added = first(outcome.added or Liquid.of())
        grams = float(added.protein / _GELATIN.protein if self.agent == "gelatin" else added.solids)
        ml = float(added.mass - grams) / _WATER if self.water is None else self.water
        kind = f"gelatin{' of fish' if self.fish else ''}, {self.bloom:g} Bloom"
        agent = kind if self.agent == "gelatin" else self.agent
        return (Brought(f"water (for the {self.agent})", float(_poured_water(ml).mass), ml), Brought(agent, grams))

    def _flatter(self, row: Agent, drink: Liquid) -> tuple[Liquid, Liquid]:
        """Warmed and stirred open it keeps no more gas than it holds at rest under 1 atm of it."""
        flat, gas = without_gas(drink)
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
            allowed = Fact("weak enough to set", most=ABV(row.abv_most), more=math.ceil(more))
            if abv <= other.abv_most:
                instead = {"instead": other.agent, "up_to": ABV(other.abv_most)}
                allowed = Fact("weak enough, or another agent", weaker=allowed, **instead)
            raise InputError(f"strength of the {self.agent} jelly", Told(f"{abv:.1f} % vol"), allowed)
        if self.boil_in == "drink" and ph < row.ph_heated:
            raise InputError(
                f"pH of what the {self.agent} is boiled in",
                Told(f"{ph:.1f}"),
                f"at least {row.ph_heated:g}, since heat and acid together destroy it: boil it in plain water and "
                "add the sour part off the heat",
            )


def _poured_water(ml: float) -> Liquid:
    return _water(ml * _WATER)


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
    order, said : tuple of Fact
        What to do, and what to know; `steps` and `notes` are their sentences in mL and °C.
    allergens, may_contain, unstated : tuple of str
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
    said: tuple[Fact | str, ...]
    cautions: tuple[Caution, ...]
    allergens: tuple[str, ...]
    may_contain: tuple[str, ...] = ()
    unstated: tuple[str, ...] = ()
    order: tuple[Fact, ...] = ()
    pieces: int | None = None
    piece_volume: float | None = None
    piece_alcohol: float | None = None
    piece_drinks: float | None = None
    left_over: float | None = None

    @property
    def steps(self) -> tuple[str, ...]:
        """The order of work in sentences."""
        return tuple(map(say, self.order))

    @property
    def notes(self) -> tuple[str, ...]:
        """What to know, in sentences."""
        return tuple(map(say, self.said))


def jelly(
    liquid: Liquid | Given,
    agent: str = "agar",
    firmness: str = "firm",
    *,
    volume: Given | None = None,
    mould: Given | None = None,
    water: Given = 0.0,
    abv: Given | None = None,
    ph: Given | None = None,
    boil_in: str = "water",
    bloom: Given = USUAL_BLOOM,
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
    poured = float(to_ml(water, field="water"))
    if sheet is not None:
        if agent != "gelatin":
            raise InputError("agent", agent, "gelatin when sheets are chosen")
        bloom = SHEETS[one_of("sheet", sheet, SHEETS)][0]
    measured_ph = None if ph is None else float(number(ph, "pH"))
    step = Set(agent, firmness, float(number(bloom, "bloom")), poured, measured_ph, boil_in, fish)
    if volume is not None:
        wanted = float(to_ml(volume, field="volume"))
        require("volume", wanted, 1e-9, np.inf, "mL")
        scale = wanted / float(step.act(liquid).liquid.volume())
        poured *= scale
        liquid, step = scale * liquid, replace(step, water=poured)
    row, added = agents()[agent], _poured_water(poured)
    mix = step._mix(liquid + added)
    outcome = step._set(liquid, added, mix)
    drink, grams, whole = mix.drink, float(mix.grams), float(mix.drink.volume())
    needed = grams * row.water_ml_per_g
    hot = min(max(needed, poured) / whole, 0.95)
    # heat of the two parts, taken alike: the mix is to end above its setting point
    warm = (row.set_high_c + _MARGIN - hot * min(row.dissolve_c + 10, 95.0)) / (1 - hot)
    said = outcome.said + raw_fruit(agent)
    if warm > 50 and drink.ethanol > 0:
        said += (Fact("hot rest", at=TEMPERATURE(warm)),)
    found = Jelly(
        about=row,
        firmness=firmness,
        grams=grams,
        dose=1000 * grams / whole,
        sheets=None if sheet is None else grams / SHEETS[sheet][1],
        liquid=outcome.liquid,
        volume=float(outcome.liquid.volume()),
        ph=float(mix.ph),
        abv=float(profile(outcome.liquid).abv),
        alcohol=float(drink.ethanol),
        drinks=float(strength.standard_drinks(drink.ethanol, country)),
        country=country,
        water=max(needed, poured),
        hold_back=max(needed - poured, 0.0),
        warm_to=max(ROOM, warm),
        drink=float(liquid.volume()),
        said=said,
        cautions=outcome.cautions,
        allergens=outcome.allergens,
        may_contain=step.may_contain,
    )
    if mould is not None:
        found = _moulded(found, mould)
    return replace(found, order=order_of_work(found, boil_in, max(needed, poured)))


def agar(liquid_or_volume: Liquid | Given, firmness: str = "firm", **rest: Any) -> Jelly:
    """A drink set with agar: `jelly` with its other arguments.

    >>> made = agar("1 L", ph=3.3, mould="orange half shell")
    >>> made.grams, made.pieces, made.water
    (14.0, 16, 350.0)
    """
    return jelly(liquid_or_volume, "agar", firmness, **rest)


def gelatin(liquid_or_volume: Liquid | Given, firmness: str = "firm", **rest: Any) -> Jelly:
    """A drink set with gelatin: `jelly` with its other arguments.

    >>> made = gelatin("500 mL", sheet="gold")
    >>> made.grams, made.sheets
    (8.5, 4.25)
    """
    return jelly(liquid_or_volume, "gelatin", firmness, **rest)


def measured(made: Jelly, recipe: Recipe, pantry: Pantry) -> Jelly:
    """A jelly whose order of work begins with the pours of the drink in it, with their cautions and allergens."""
    before, after = _pour([recipe], pantry)
    whole = float((before + after)[0].volume())
    pours = []
    for pour in recipe.scaled(made.drink / whole).pours:
        unit, ml = pour.measure(pantry, Display())
        amount = pour.amount / ml
        counted = VOLUME(pour.amount) if ml == 1 else f"{amount:.{int(amount < 10)}f} {unit}"
        pours.append(Fact("so much of", amount=counted, bottle=pour.bottle(pantry).name))
    said = of_recipe(recipe, pantry, made)
    return replace(
        of_bottles(made, poured_bottles(recipe, pantry)),
        order=(Fact("measure", pours=tuple(pours)), *made.order[1:]), cautions=said.cautions,
        allergens=said.allergens, may_contain=said.may_contain, unstated=said.unstated,
    )  # fmt: skip


def _moulded(made: Jelly, mould: Given) -> Jelly:
    if isinstance(mould, str) and not any(c.isdigit() for c in mould):
        one_of("mould", mould, MOULDS)
    each = MOULDS[mould] if isinstance(mould, str) and mould in MOULDS else float(to_ml(mould, field="mould"))
    require("mould", each, 0.1, np.inf, "mL")
    if each > made.volume * (1 + 1e-9):
        raise InputError(
            "mould", Fact("so much", amount=VOLUME(each)), Fact("up to the jelly", most=VOLUME(made.volume))
        )
    pieces = math.floor(made.volume / each + 1e-9)
    part = each / made.volume
    cautions = made.cautions
    if (mould == "shot cup" or (mould not in MOULDS and each <= 45)) and made.about.agent != "gelatin":
        cautions += (MINI_CUP,)
    return replace(
        made, pieces=pieces, piece_volume=each, left_over=max(made.volume - pieces * each, 0.0),
        piece_alcohol=part * made.alcohol, piece_drinks=part * made.drinks, cautions=cautions,
    )  # fmt: skip


def of_bottles(made: Jelly, bottles: Sequence[Ingredient]) -> Jelly:
    """A jelly with notes on just these bottles, which are poured into it."""
    said = [fact for fact in made.said if fact != RAW_FRUIT]
    return replace(made, said=(*said, *raw_fruit(made.about.agent, bottles)))
