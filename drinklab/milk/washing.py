"""The wash: what milk takes from a drink and what it leaves, and a wash of your own to go by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from .. import balance
from ..errors import InputError, Told, require
from ..facts import Fact
from ..kinds import ABV, VOLUME, Given, Millilitres, Number
from ..liquid import COMPONENTS, Liquid
from ..physics import acids as _acids
from ..physics.density import abv_of
from ..profile import Profile
from ..profile import profile as _profile
from ..steps import Draw, estimate
from ..units import door, number, plain_number
from .curd import (
    COLD,
    LEMON_CITRIC,
    LEMON_POTASSIUM,
    STRONG,
    TANNIN,
    TOO_SOUR,
    USUAL_SHARE,
    Milk,
    Washing,
    bound,
    completeness,
    milk_of,
    way_of,
)


@dataclass(frozen=True, slots=True, eq=False)
class Washed:
    """What milk makes of a drink, drained. Figures are floats, or arrays over all axes together.

    `_low` and `_high` hold 19 results in 20: of pH, by the milk's buffering, the drink's salts and the
    calculation; of volume, by what the curd holds.

    Attributes
    ----------
    kind : Milk
    way : Washing
    amount, share : float or array
        Milk [mL], and to a mL of drink.
    buffering, hold_up : float or array
        As used [mmol/L] and [mL to a gram of the curd's dry protein and fat].
    ph : float or array
        Of the mix.
    complete : float or array
        Share of the casein that curdles.
    citric_short, lemon_short : float or array
        What more brings this milk to where all of it curdles: citric acid [g] or lemon juice [mL]; 0 where there
        is enough.
    most_milk : float or array
        Milk that this drink's acid can bring there. [mL]
    mix_abv : float or array
        Strength with the milk in it. [% vol]
    liquid, curd, milk : Liquid
        What runs clear, what stays behind, what was poured in: drink + milk = liquid + curd.
    volume : float or array
        That runs off. [mL]
    lost : float or array
        Share of all that is liquid which the curd holds, and so of the spirit.
    """

    kind: Milk
    way: Washing
    amount: Number
    share: Number
    buffering: Number
    ph: Number
    ph_low: Number
    ph_high: Number
    complete: Number
    complete_low: Number
    complete_high: Number
    citric_short: Number
    lemon_short: Number
    most_milk: Number
    mix_abv: Number
    hold_up: Number
    volume: Number
    volume_low: Number
    volume_high: Number
    lost: Number
    liquid: Liquid
    curd: Liquid
    milk: Liquid

    @property
    def profile(self) -> Profile:
        """Volume, strength, sugar and acid of what runs clear."""
        return _profile(self.liquid)

    @property
    def lactose(self) -> Number:
        """Milk sugar in what runs clear: it stays. [g/L]"""
        return 1000 * self.liquid.lactose / self.volume

    def best(self) -> Washed:
        """The estimate of what was washed with `draw`, with bands of all that varies: the drink's bottles too.

        >>> from drinklab import steps
        >>> drink = Liquid.of(water=70, citric=0.9 + 0.1 * steps.normal("juice", 99, 1))
        >>> drawn = milk_wash(drink, draw=steps.draws(99, 1))
        >>> drawn.ph.shape, bool(drawn.best().ph == drawn.ph[0]), bool(drawn.best().ph_high > drawn.ph_high[0])
        ((100,), True, True)
        """
        shape = np.shape(self.ph)
        bands: dict[str, Number] = {}
        for name in ("ph", "complete", "volume"):
            ends = np.quantile(np.broadcast_to(getattr(self, name), shape)[..., 1:], [0.025, 0.975], axis=-1)
            bands |= {f"{name}_low": plain_number(ends[0]), f"{name}_high": plain_number(ends[1])}
        first: dict[str, Any] = {}
        for part in fields(self)[2:]:
            held = getattr(self, part.name)
            if isinstance(held, Liquid):
                held = held.grams.reshape(len(COMPONENTS), *(1,) * (len(shape) - len(held.shape)), *held.shape)
                first[part.name] = Liquid(np.broadcast_to(held, (len(COMPONENTS), *shape))[..., 0])
            else:
                first[part.name] = plain_number(np.broadcast_to(held, shape)[..., 0])
        return replace(self, **first | bands)

    def said(self) -> tuple[Fact, ...]:
        """What happens, of the first, or best, of the results."""
        ph, low, high = (self._first(name) for name in ("ph", "ph_low", "ph_high"))
        where, begins, curdles = Fact("pH of the mix", ph=ph, low=low, high=high), self.way.begins, self.way.curdles
        most_milk, strength, share = (self._first(name) for name in ("most_milk", "mix_abv", "share"))
        enough = Fact("at most so much milk", most=VOLUME(most_milk)) if most_milk >= 1 else Fact("no milk")
        more = Fact(
            "more acid", citric=self._first("citric_short"), lemon=VOLUME(self._first("lemon_short")), enough=enough
        )
        if ph >= begins:
            said = [Fact("does not curdle", where=where, begins=begins, more=more)]
        elif ph > curdles + 0.05:  # within 0.05 all but a little falls out: said as close, below
            said = [Fact("curdles in part", where=where, curdles=curdles, more=more)]
        else:
            said = [Fact("curdles", where=where, most=VOLUME(most_milk), amount=VOLUME(self._first("amount")))]
            if high > curdles:
                said.append(Fact("curdles just so", curdles=curdles))
        if high - low > 2 * balance.MOST_PM:
            said.append(Fact("pH hardly known"))
        if ph < TOO_SOUR:
            said.append(Fact("very sour for milk"))
        if strength > STRONG:
            said.append(Fact("too strong for milk", strength=ABV(strength), most=ABV(STRONG)))
        if not USUAL_SHARE[0] * 0.7 <= share <= USUAL_SHARE[1] * 1.4:
            said.append(Fact("unusual share of milk", share=share))
        if ph < begins:
            volume, least, most = (VOLUME(self._first(name)) for name in ("volume", "volume_low", "volume_high"))
            held = Fact("curd holds back", lost=100 * self._first("lost"), volume=volume, least=least, most=most)
            said += [held, Fact("half the whey stays" if self.way.whey else "whey stays"), TANNIN]
        return tuple(said)

    def _plain(self) -> Washed:
        """One drink's figures as plain floats."""
        held = {part.name: getattr(self, part.name) for part in fields(self)[2:]}
        numbers: dict[str, Any] = {n: plain_number(f) for n, f in held.items() if not isinstance(f, Liquid)}
        return replace(self, **numbers)

    def _first(self, figure: str) -> float:
        return float(np.ravel(getattr(self, figure))[0])


@door
def milk_wash(
    liquid: Liquid,
    milk: str = "whole cow's milk",
    *,
    way: str = COLD,
    share: Given | None = None,
    amount: Millilitres | None = None,
    buffering: Given | None = None,
    hold_up: Given | None = None,
    measured_yield: Millilitres | None = None,
    buffering_pm: float | None = None,
    hold_up_factor: float | None = None,
    draw: Draw = estimate,
) -> Washed:
    """Pour a drink into milk, let it curdle and drain it.

    Parameters
    ----------
    liquid : Liquid
        The drink, with acid in it; any axes.
    milk : str
        One of `milks()`.
    way : str
        "cold drip", or "hot": milk of 70 °C or more, drained hot, which curdles with less acid and holds less.
    share : float or array
        Milk to a mL of drink, 0.25 by default; axes of its own give pH against share at once. [mL/mL]
    amount : float or array
        Milk, in place of the share. [mL]
    buffering : float or array, optional
        Hydrogen ions that a litre of milk binds from pH 6.7 to 4.6, from `calibrate`. [mmol/L]
    hold_up : float or array, optional
        Liquid that curd holds, from an earlier wash. [mL/g of its dry protein and fat]
    measured_yield : float or array, optional
        What ran off, measured: replaces the hold-up, which is refitted to it. [mL]
    buffering_pm, hold_up_factor : float, optional
        What 19 in 20 of a given buffering [mmol/L] and of a given hold-up (a factor) lie within; none by default.
    draw : function
        Varies buffering, hold-up, salts and pH (`steps.draws`). A draw without acid does not curdle.

    Returns
    -------
    Washed

    Raises
    ------
    InputError
        Without acid, without milk, for a plant drink, or a yield that is more than there is.

    Notes
    -----
    pH is where charge balances (`physics.acids.solve`) with the hydrogen that the milk binds (`bound`).
    Milk's salts stay in the drink; they are carried as the potassium that would bind as much acid, out of
    its solids, so that the washed drink keeps its pH. The acid that curd binds is left out. What the curd
    holds has the composition of what runs off.

    Examples
    --------
    >>> drink = Liquid.of(water=70, ethanol=16, sucrose=9, citric=0.9)
    >>> milk_wash(drink, share=np.array([0.1, 0.5, 2.5])).ph.round(1)
    array([2.8, 3.8, 5.2])
    """
    kind, how = milk_of(milk), way_of(way)
    size = liquid.volume()
    ml = milk_amount(size, share, amount)
    if not np.any(np.asarray(liquid.acid) > 0):
        raise InputError("acid of the drink", Told("none"), "some: without acid milk does not curdle; add lemon juice")
    spread = (buffering_pm or 0.0) if buffering is not None else kind.buffering_pm
    buffer = number(kind.buffering if buffering is None else buffering, "buffering of the milk")
    require("buffering of the milk", buffer, 15, 200, "mmol/L")
    best = buffer
    if spread:
        buffer = np.maximum(buffer + spread / 2 * draw("milk buffering"), 5.0)

    raw = ml * kind.millilitre
    mix = liquid + raw
    litres = mix.volume() / 1000
    abv = abv_of(mix.ethanol, 1000 * litres)
    salts = draw("salts of the juices"), draw("salts that are not known")
    sour = _Sour.of(liquid, litres, abv, salts)
    found, ph, low, high = _ph_of(liquid, litres, abv, salts, ml, buffer, best, spread, draw)

    spare = sour.charge_at(how.curdles)
    needs = buffer * bound(how.curdles)
    given = _acids.hydrogen_given("citric", how.curdles - _acids.ETHANOL_SHIFT * abv)
    short = np.maximum(ml * needs / 1e6 - spare, 0.0)
    lemon = LEMON_CITRIC / _acids.ACIDS["citric"].molar * given - LEMON_POTASSIUM / _acids.POTASSIUM  # mol/L

    # What milk binds, as potassium, out of its minerals; never more than there are.
    brought = np.minimum(ml * buffer / 1e6 * np.maximum(bound(found), 0.0) * _acids.POTASSIUM, raw.solids)
    poured = _with(raw, potassium=brought, solids=-brought)
    complete = completeness(ph, way)
    protein = complete * (ml * kind.casein + how.whey * np.maximum(raw.protein - ml * kind.casein, 0.0))
    fat = complete * raw.fat
    dry = protein + fat
    serum = _with(liquid + poured, protein=-protein, fat=-fat)
    runs = serum.volume()
    hold, lost, bounds = _kept(how, dry, runs, measured_yield, hold_up, hold_up_factor, draw)
    clear = (1.0 - lost) * serum
    curd = Liquid(np.maximum((liquid + poured).grams - clear.grams, 0.0))
    early, late = (runs * (1 - (_lost(lost * np.exp(b)) if b else lost)) for b in bounds)
    figures = (
        ml, ml / size, buffer, ph, low, high, complete, completeness(high, way), completeness(low, way),
        short / given * _acids.ACIDS["citric"].molar, 1000 * short / lemon, 1e6 * np.maximum(spare, 0.0) / needs, abv,
        hold, (1.0 - lost) * runs, early, late, lost,
    )  # fmt: skip
    return Washed(kind, how, *figures, clear, curd, poured)._plain()


def _ph_of(
    liquid: Liquid,
    litres: Number,
    abv: Number,
    salts: tuple[Number, Number],
    ml: Number,
    buffer: Number,
    best: Number,
    spread: Number,
    draw: Draw,
) -> tuple[Number, Number, Number, Number]:
    """pH of drink and milk by the acids, as drawn, and the ends that hold 19 in 20: (found, ph, low, high)."""
    # The estimate, then each thing that it hangs on, a little and much: buffering, salts, salts that are not known.
    sides = [(0, 0, 0), (-1, 0, 0), (1, 0, 0), (0, -2, 0), (0, 2, 0), (0, 0, -2), (0, 0, 2)]
    if not np.any(np.asarray(liquid.unsure_potassium) > 0):
        sides = sides[:5]
    axes = np.broadcast(ml, litres, buffer, *salts).ndim
    milk, known, unsure = np.array(sides).T.reshape(3, -1, *(1,) * axes)
    varied = _Sour.of(liquid, litres, abv, (salts[0] + known, salts[1] + unsure))
    solved = varied.solve(ml * np.where(milk, np.maximum(best + milk * spread, 5.0), buffer) / 1e6)
    found, *ends = solved.ph
    error = _acids.ph_error(abv, np.minimum(solved.ions[0], _acids.MOST_IONS))
    ph = found + error * draw("calculated pH")
    low = ph - np.sqrt(sum(np.maximum(found - end, 0.0) ** 2 for end in ends[::2]) + 4 * error**2)
    high = ph + np.sqrt(sum(np.maximum(end - found, 0.0) ** 2 for end in ends[1::2]) + 4 * error**2)
    return found, ph, low, high


def _kept(
    how: Washing, dry: Number, runs: Number, measured_yield: Number | None, hold_up: Given | None,
    hold_up_factor: float | None, draw: Draw,
) -> tuple[Number, Number, np.ndarray]:  # fmt: skip
    """What curd keeps [mL/g of dry], as a share of what would run off, and the ends of the first as logarithms."""
    if measured_yield is not None:
        if np.any((measured_yield <= 0) | (measured_yield > runs)):
            raise InputError(
                "measured yield", VOLUME(np.max(measured_yield)), Fact("above 0 up to", most=VOLUME(np.min(runs)))
            )
        lost = 1.0 - measured_yield / runs
        shape = np.broadcast_shapes(np.shape(lost), np.shape(dry))
        return np.divide(lost * runs, dry, out=np.zeros(shape), where=dry > 0), lost, np.zeros(2)
    if hold_up is None:
        hold = how.hold_up * np.exp(np.log(how.hold_up_factor) / 1.96 * draw("curd hold-up"))
        return hold, _lost(hold * dry / runs), np.log(how.hold_up_factor) * np.array([1, -1])
    hold = number(hold_up, "hold-up of the curd")
    require("hold-up of the curd", hold, 0, 100, "mL/g of dry protein and fat")
    if hold_up_factor is None:
        return hold, _lost(hold * dry / runs), np.zeros(2)
    hold = hold * np.exp(np.log(hold_up_factor) / 1.96 * draw("curd hold-up"))
    return hold, _lost(hold * dry / runs), np.log(hold_up_factor) * np.array([1, -1])


def _lost(share: Number) -> Number:
    return np.minimum(share, 0.95)


def _with(liquid: Liquid, **grams: Number) -> Liquid:
    """A liquid with so many grams more, or less, of some of what it holds."""
    shape = np.broadcast_shapes(liquid.shape, *(np.shape(g) for g in grams.values()))
    out = (np.ones(shape) * liquid).grams.copy()
    for name, change in grams.items():
        out[COMPONENTS.index(name)] += change
    return Liquid(np.maximum(out, 0.0))


def milk_amount(size: Number, share: Given | None, amount: Number | None) -> Number:
    """Millilitres of milk from either way to say it."""
    if share is not None and amount is not None:
        raise InputError("share of milk", share, "left out when the amount of milk is given")
    if amount is None:
        share = number(0.25 if share is None else share, "share of milk")
        require("share of milk", share, 0, 10, "mL to a mL of drink")
        amount = share * size
    if not np.min(amount) > 0:
        raise InputError("milk", Fact("so much", amount=VOLUME(np.min(amount))), Fact("above", low=VOLUME(0)))
    return amount


@dataclass(frozen=True, slots=True, eq=False)
class _Sour:
    """The drink's acids in so many litres of mix, ready for the charge balance."""

    moles: Mapping[str, Any]
    cations: Number
    abv: Number
    litres: Number

    @classmethod
    def of(cls, liquid: Liquid, litres: Number, abv: Number, salts: tuple[Number, Number] = (0.0, 0.0)) -> _Sour:
        """With so many standard deviations more of the salts that are known, and of those that are not."""
        moles, cations = balance.charges(liquid, litres, abv).salted(*salts)
        return cls({name: m for name, m in moles.items() if name != "carbonic"}, cations, abv, litres)

    def solve(self, binding: Number) -> _acids.Solution:
        """With a milk that binds so many moles from pH 6.7 to 4.6."""
        milk, cations = np.broadcast_arrays(binding / self.litres, self.cations)
        return _acids.solve(self.moles, cations, self.abv, lambda ph: milk * bound(ph))

    def charge_at(self, ph: Number) -> Number:
        """Moles of hydrogen that something must bind to bring the drink up to this pH; below zero if beyond it."""
        return _acids.alkali(self.moles, self.cations, self.abv, ph=ph) * self.litres


@door
def calibrate(
    liquid: Liquid,
    measured_ph: Given,
    milk: str = "whole cow's milk",
    *,
    share: Given | None = None,
    amount: Millilitres | None = None,
) -> Number:
    """Your milk's buffering, from the pH that a mix of a known drink with it shows.

    A mix near pH 4.6 to 5 tells most; one with far too much acid tells next to nothing of the milk.

    Parameters
    ----------
    liquid : Liquid
        The drink, whose acids are known: lemon juice or weighed citric acid in water.
    measured_ph : float
        Of the mix, by a calibrated meter, 3 to 6.2.
    milk, share, amount
        As for `milk_wash`.

    Returns
    -------
    float
        For `milk_wash(buffering=...)`. [mmol/L]

    Raises
    ------
    InputError
        For a pH that no milk would give with this drink.

    Examples
    --------
    >>> test = Liquid.of(water=100, citric=1.0)
    >>> round(calibrate(test, milk_wash(test, amount=100, buffering=52).ph, amount=100))
    52
    """
    kind = milk_of(milk)
    found_ph = number(measured_ph, "measured pH")
    require("measured pH", found_ph, 3, 6.2)
    ml = milk_amount(liquid.volume(), share, amount)
    mix = liquid + ml * kind.millilitre
    litres = mix.volume() / 1000
    abv = abv_of(mix.ethanol, 1000 * litres)
    needed = _Sour.of(liquid, litres, abv).charge_at(found_ph)
    found = 1e6 * needed / (ml * bound(found_ph))
    if not np.all((found >= 15) & (found <= 200)):
        usual = float(np.ravel(milk_wash(liquid, milk, amount=ml).ph)[0])
        raise InputError(
            "measured pH", found_ph, f"nearer to {usual:.1f}, as usual milk gives; check the meter and the amounts"
        )
    return plain_number(found)


def as_citric(buffering: Number) -> Number:
    """What a milk binds, as the citric acid that brings it down to pH 4.6 with nothing else. [mmol/L] to [g/L]

    >>> as_citric(55)
    6.5
    """
    return buffering / 1000 / _acids.hydrogen_given("citric", 4.6) * _acids.ACIDS["citric"].molar
