"""Made ahead: acid-adjusted juice, acid solutions, syrups, and what a refractometer reads in a drink with alcohol.

>>> print(syrup(50, volume="1 L").text())
Weigh 615 g of white sugar and 615 g of water: 1000 mL of 50 °Brix, 615 g/L of sugar. Put name...
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

import numpy as np

from . import balance, kinds
from . import pantry as _pantry
from .declared import Declared, declared
from .errors import InputError, Told, one_of, require
from .facts import Fact, say
from .kinds import (
    TEMPERATURE,
    VOLUME,
    Grams,
    GramsPerLitre,
    KilogramsPerCubicMetre,
    Millilitres,
    PercentMass,
    PercentVol,
)
from .liquid import ACIDS, Liquid
from .physics import acids as _acids
from .physics import density as _density
from .physics import refraction as _optics
from .steps import Caution
from .units import door, number

# --- acids -------------------------------------------------------------------------------------------
# Acids that are weighed at a bar, and the most that dissolves at 20 °C [% mass], from memory. Lactic acid is
# sold as a solution and mixes with water in any amount: count its own water in.
ACID_SOLUBILITY = {"citric": 59.0, "malic": 55.0, "tartaric": 58.0, "lactic": 100.0}
# What bars reckon lemon juice with: 6 % acid, common practice, no published source. Read was 48 g/L of citric acid
# (Penniston et al. 2008, fresh, SD 4), which is what the pantry holds. [g/L]
LEMON_AT_THE_BAR = 60.0
CAUTION, LACTIC, KEEPS = Caution("acid"), Caution("lactic acid"), Caution("juice spoils")
SPOILS, LACTOSE = Caution("syrup spoils"), Caution("lactose")
# Cream of tartar can crystallise in a fridge where potassium times tartaric acid is above this: about 3 g/L
# dissolve at 5 °C (from memory). [(mol/L)²]
CREAM_OF_TARTAR = 3e-4
_FRIDGE = 4.0  # [°C]


@dataclass(frozen=True, slots=True)
class AcidSolution:
    """An acid solution to weigh out: grams of dry acid by name, grams of water, and what that makes at 20 °C."""

    acids: dict[str, float]
    water: Grams
    volume: Millilitres
    per_litre: GramsPerLitre
    density: KilogramsPerCubicMetre

    def said(self) -> tuple[Fact, ...]:
        """The recipe in one sentence, and its cautions."""
        acids, volume = _listed(self.acids), VOLUME(self.volume)
        weigh = Fact("weigh acid", acids=acids, water=self.water, volume=volume, per_litre=self.per_litre)
        return weigh, *acid_cautions(self.acids)

    def text(self) -> str:
        """`said`, in mL."""
        return say(self.said())


@door
def acid_solution(
    strength: Annotated[float, kinds.ABW, kinds.SINGLE],
    acids: str | Mapping[str, float] = "citric",
    *,
    volume: Annotated[float, kinds.VOLUME, kinds.SINGLE] = 100.0,
) -> AcidSolution:
    """An acid solution by weight: 10 % is 10 g of dry acid to 90 g of water.

    Parameters
    ----------
    strength : float
        Acid in the solution, above 0 and at most what dissolves at 20 °C. [% mass]
    acids : str, list or mapping
        "citric", or several: ["citric", "malic"] in equal parts, {"citric": 2, "malic": 1} two to one by weight.
    volume : amount
        Of solution to make. [mL]

    Returns
    -------
    AcidSolution

    Raises
    ------
    InputError
        For an acid that is not weighed at a bar, or more than dissolves.

    Examples
    --------
    >>> print(acid_solution(10).text())
    Weigh 10.4 g of citric acid and 93.6 g of water: 100 mL, 104 g/L of acid. Use food-grade acid...
    """
    require("volume", volume, 1e-3, 1e9, "mL")
    parts = _parts(acids)
    made = _solution(strength, parts, 1.0)
    return _solution(strength, parts, volume / float(made.volume))


def _solution(strength: float, parts: dict[str, float], acid: float) -> AcidSolution:
    """So many grams of acid, as a solution."""
    require("strength", strength, 0.1, 100, "% mass")
    water = acid * (100 / strength - 1)
    for name, part in parts.items():
        most, share = ACID_SOLUBILITY[name], 100 * part * acid / (part * acid + water)
        if share > most + 1e-9:  # what dissolves is itself allowed
            held = Told(f"{share:.0f} % of the acid and its water")
            raise InputError(f"{name} acid", held, Fact("share that dissolves", most=most))
    grams = {name: part * acid for name, part in parts.items()}
    liquid = Liquid.of(**grams, water=water)
    volume = float(liquid.volume())
    return AcidSolution(grams, float(water), volume, 1000 * acid / volume, float(liquid.density()))


def _parts(acids: str | Mapping[str, float]) -> dict[str, float]:
    """Shares by mass that add up to one."""
    if not isinstance(acids, Mapping):
        acids = dict.fromkeys([acids] if isinstance(acids, str) else acids, 1.0)
    parts = {one_of("acid to weigh", n, ACID_SOLUBILITY): number(v, f"parts of {n} acid") for n, v in acids.items()}
    for name, part in parts.items():
        require(f"parts of {name} acid", part, 0, np.inf)
    total = sum(parts.values())
    if not total > 0:
        raise InputError("acids to weigh", Told("none"), f"one or more of {', '.join(ACID_SOLUBILITY)}")
    return {name: float(part / total) for name, part in parts.items() if part}


def acid_cautions(acids: Iterable[str]) -> tuple[Caution, ...]:
    """Of acids that are weighed."""
    return (CAUTION, *[LACTIC] * ("lactic" in acids))


def _listed(acids: Mapping[str, float]) -> tuple[Fact, ...]:
    return tuple(Fact("so much acid", grams=grams, acid=name) for name, grams in acids.items())


@dataclass(frozen=True, slots=True)
class Adjusted:
    """A juice made as sour as another.

    Attributes
    ----------
    juice, to : str
        Names, `to` with the acidity that is aimed at.
    before, after : Liquid
        The juice that was taken, and what it becomes.
    acids : dict of str to float
        Dry acid to add. [g]
    solution : AcidSolution or None
        The same acid as a solution, if a strength was given.
    volume : float
        Of `after`. [mL]
    known : tuple of Fact
        What else is to be known.
    declared : Declared
        Cautions and allergens of the juice.
    """

    juice: str
    to: str
    before: Liquid
    after: Liquid
    acids: dict[str, float]
    solution: AcidSolution | None
    volume: Millilitres
    known: tuple[Fact, ...]
    declared: Declared = field(kw_only=True)

    def text(self) -> str:
        """`said` in plain sentences, in mL."""
        return say(self.said())

    def said(self) -> tuple[Fact, ...]:
        """What to add, what it becomes, and the cautions."""
        start, was, now = self.before.volume(), balance.titratable(self.before), balance.titratable(self.after)
        added = {"juice": self.juice, "to": self.to, "acids": _listed(self.acids)}
        sugar_was, sugar = (1000 * liquid.sugar / liquid.volume() for liquid in (self.before, self.after))
        ph_was, ph = (_ph_words(liquid) for liquid in (self.before, self.after))
        made = VOLUME(self.volume)
        if self.solution:
            dissolved = VOLUME(self.solution.volume)
            add = Fact("add acid as a solution", start=VOLUME(start), made=made, solution=dissolved, **added)
        else:
            add = Fact("add acid", start=VOLUME(start), made=made, **added)
        so = Fact("juice turns sour", was=was, now=now, ph_was=ph_was, ph=ph, sugar_was=sugar_was, sugar=sugar)
        return (add, so, *self.known, *acid_cautions(self.acids), KEEPS)


def _ph_words(liquid: Liquid) -> str:
    return f"{balance.ph(liquid):.1f}" if balance.ph_known(liquid) else "not known"


@door
def adjust(
    juice: str,
    to: str | Mapping[str, float] = "lemon juice",
    acids: str | Mapping[str, float] | None = None,
    *,
    volume: Annotated[float, kinds.VOLUME, kinds.SINGLE] = 1000.0,
    citric: Annotated[float, kinds.CONCENTRATION, kinds.SINGLE] | None = None,
    strength: Annotated[float, kinds.ABW, kinds.SINGLE] | None = None,
    pantry: _pantry.Pantry | None = None,
) -> Adjusted:
    """Acid to add to a juice so that it is as sour as lemon or lime juice, by titratable acidity.

    Parameters
    ----------
    juice : str
        What is adjusted, by its name in the pantry ("orange juice").
    to : str or mapping
        A juice of the pantry, or grams per litre of each acid ({"citric": 40, "malic": 20}).
    acids : str, list or mapping, optional
        Acids to add, as for `acid_solution`. By default those that leave the acids of `to` in its own
        proportions.
    volume : amount
        Of juice to adjust. [mL]
    citric : float, optional
        Citric acid of `to`, in place of the pantry's: lemon has 48 there, as read; bars reckon with
        `LEMON_AT_THE_BAR`. [g/L]
    strength : float, optional
        Add the acids as a solution of this strength, whose water counts. [% mass]
    pantry : Pantry, optional

    Returns
    -------
    Adjusted

    Raises
    ------
    InputError
        If the juice is too sour already, or holds more of one acid than the proportions allow, or the solution
        is too weak to get there.

    Notes
    -----
    Titratable acidity is `balance.titratable`: it counts the salts of both juices.

    Examples
    --------
    >>> adjust("orange juice", "lemon juice", "citric").acids
    {'citric': 43.3}
    >>> adjust("orange juice", {"citric": 40, "malic": 20}).acids
    {'citric': 35.7, 'malic': 20.2}
    """
    shelf = pantry or _pantry.load()
    item = shelf.find(juice)
    require("volume", volume, 1e-3, 1e9, "mL")
    before = volume * Liquid(item.composition)
    aim, salt, name, said = _aim(to, citric, shelf)
    target, have = float(_acids.titratable(aim, potassium=salt)), float(balance.titratable(before))
    if abs(have - target) <= 1e-6 * target:  # of lemon to lemon, a rounding apart, there is nothing to weigh
        raise InputError(
            f"acidity of {item.name!r}", Told("what is aimed at already"), "below that, or no acid can be added"
        )
    if have >= target:
        raise InputError(
            f"titratable acidity of {item.name!r}", Told(f"{have:.1f} g/L as citric acid"),
            f"below the {target:.1f} g/L of {name}, or no acid can be added",
        )  # fmt: skip
    if strength is not None:
        weak = _solution(strength, _parts(acids or aim), 1.0)
        most = balance.titratable(Liquid.of(**weak.acids, water=weak.water))
        if most < 1.05 * target:
            raise InputError(
                "strength of the acid solution", Told(f"{strength:g} % mass ({most:.0f} g/L as citric acid)"),
                f"well above the {target:.0f} g/L of {name} that is aimed at",
            )  # fmt: skip
    added = _in_parts(before, _parts(acids), target, strength) if acids else _in_proportion(
        before, aim, target, strength, item.name, name
    )  # fmt: skip
    total = sum(added.values())
    solution = None if strength is None else _solution(strength, {n: g / total for n, g in added.items()}, total)
    after = _with(before, added, strength)
    return Adjusted(
        item.name, f"{name} ({said})", before, after, added, solution, after.volume(),
        _warnings(after, added), declared=declared(item),
    )  # fmt: skip


def _aim(
    to: str | Mapping[str, float], citric: float | None, shelf: _pantry.Pantry
) -> tuple[dict[str, float], float, str, str]:
    """Acids and potassium that are aimed at [g/L], what they are called, and the acids in words."""
    if isinstance(to, str):
        item = shelf.find(to)
        acids = {n: item.solutes[n] for n in ACIDS if n in item.solutes}
        salt, name = item.solutes.get("potassium", 0.0), item.name
    else:
        acids = {one_of("acid aimed at", n, ACIDS): float(number(g, f"{n} acid aimed at")) for n, g in to.items()}
        salt, name = 0.0, "the acids that you gave"
    if citric is not None:
        acids["citric"] = citric
    for acid, grams in acids.items():
        require(f"{acid} acid aimed at", grams, 0, 500, "g/L")
    acids = {n: g for n, g in acids.items() if g}
    return acids, salt, name, f"{', '.join(f'{n} acid {g:.3g}' for n, g in acids.items())} g/L"


def _with(juice: Liquid, added: Mapping[str, float], strength: float | None) -> Liquid:
    water = 0.0 if strength is None else sum(added.values()) * (100 / strength - 1)
    return juice + Liquid.of(**added, water=water)


def _until(
    juice: Liquid, target: float, strength: float | None, acids: Callable[[float], dict[str, float]], start: float
) -> dict[str, float]:
    """Grams of acids, `acids(k)`, that bring a juice to a titratable acidity, from k = 0 up."""

    def added(k: float) -> dict[str, float]:
        return {acid: max(float(grams), 0.0) for acid, grams in acids(k).items()}

    def short(k: float) -> float:
        mixed = _with(juice, added(k), strength)
        return float((balance.titratable(mixed) - target) * mixed.volume() / 1000)

    from scipy.optimize import brentq

    end = start
    while short(end) < 0:
        end *= 2
        if end > 1e6 * start:
            raise ArithmeticError("the amount of acid was not found; please report the numbers you used")
    return acids(brentq(short, 0.0, end, xtol=1e-9 * start, rtol=1e-12))


def _in_parts(juice: Liquid, parts: Mapping[str, float], target: float, strength: float | None) -> dict[str, float]:
    """Grams of acids in fixed parts."""
    return _until(
        juice, target, strength, lambda k: {n: p * k for n, p in parts.items()}, target * float(juice.volume()) / 1000
    )


def _in_proportion(
    juice: Liquid, aim: dict[str, Any], target: float, strength: float | None, name: str, of: str
) -> dict[str, float]:
    """Grams of each acid that leave the juice with the acids of `aim`, in its proportions."""
    for acid in aim:
        one_of("acid to weigh", acid, ACID_SOLUBILITY)
    had = {acid: getattr(juice, acid) for acid in aim}
    litres = float(juice.volume()) / 1000
    added = _until(juice, target, strength, lambda k: {n: k * g - had[n] for n, g in aim.items()}, litres)
    for acid, grams in added.items():
        if grams < 0:
            raise InputError(
                f"{acid} acid of {name!r}", Told(f"{had[acid] / litres:.2f} g/L"),
                f"at most {(had[acid] + grams) / litres:.2f} g/L to end in the proportions of {of}; or name the acids "
                "to add",
            )  # fmt: skip
    return {acid: float(grams) for acid, grams in added.items()}


def _warnings(after: Liquid, added: Mapping[str, float]) -> tuple[Fact, ...]:
    litres = after.volume() / 1000
    potassium, tartaric = after.potassium / litres / _acids.POTASSIUM, after.tartaric / litres
    if "tartaric" in added and potassium * tartaric / _acids.ACIDS["tartaric"].molar > CREAM_OF_TARTAR:
        return (Fact("cream of tartar"),)
    return ()


# --- syrups ------------------------------------------------------------------------------------------
# A gram of each pure sugar. Dextrose as it is sold is glucose with 9.1 % of crystal water (18.02 / 198.17).
SUGARS_TO_WEIGH = {
    "white sugar": {"sucrose": 1.0},
    "glucose": {"glucose": 1.0},
    "dextrose": {"glucose": 0.9091, "water": 0.0909},
    "fructose": {"fructose": 1.0},
    "lactose": {"lactose": 1.0},
}
OF_SUGARS = {"lactose": Declared(allergens=("milk",))}  # what is to be declared of them
_ALIASES = {"sugar": "white sugar", "sucrose": "white sugar", "cane sugar": "white sugar", "table sugar": "white sugar"}
# Most that dissolves at 20 °C [% mass]: sucrose by `physics.density.sucrose_solubility`; the others from memory,
# glucose and lactose by 2 either way. Several sugars together hold more: a honey's share of sugar.
SUGAR_SOLUBILITY = {
    "sucrose": 100 * _density.sucrose_solubility(20.0), "glucose": 47.0, "fructose": 79.0, "lactose": 16.0,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Syrup:
    """A syrup to weigh out.

    Attributes
    ----------
    name : str
        Of the sugar, honey or syrup that is weighed.
    brix : float
        Dissolved dry matter. [% mass]
    sugar : float
        To weigh, with the water that it holds itself. [g]
    water : float
        To add. [g]
    liquid : Liquid
        What it makes.
    volume, mass, per_litre, density : float
        Of it at 20 °C; `per_litre` is its sugars. [mL, g, g/L, kg/m³]
    declared : Declared
        Cautions and allergens of what is weighed.
    """

    name: str
    brix: PercentMass
    sugar: Grams
    water: Grams
    liquid: Liquid
    volume: Millilitres
    mass: Grams
    per_litre: GramsPerLitre
    density: KilogramsPerCubicMetre
    declared: Declared = field(kw_only=True)

    def said(self) -> tuple[Fact, ...]:
        """The recipe in one sentence, another where the syrup will not keep, and the cautions."""
        weigh = Fact(
            "weigh syrup", sugar=_grams(float(self.sugar)), name=self.name, water=_grams(float(self.water)),
            volume=VOLUME(self.volume), brix=self.brix, per_litre=self.per_litre,
        )  # fmt: skip
        return (weigh, *self.known, *[LACTOSE] * (self.name == "lactose"), SPOILS)

    @property
    def known(self) -> tuple[Fact, ...]:
        """That it may crystallise in a fridge."""
        cold = 100 * _density.sucrose_solubility(_FRIDGE)
        share = 100 * self.liquid.sucrose / (self.liquid.sucrose + self.liquid.water)
        return (Fact("syrup crystallises", cold=cold, at=TEMPERATURE(_FRIDGE)),) * bool(share > cold)

    def text(self) -> str:
        """`said` in sentences, in mL."""
        return say(self.said())


def _grams(grams: float) -> str:
    return f"{grams:.0f} g" if grams >= 100 else f"{grams:.1f} g"


@door
def syrup(
    brix: Annotated[float, kinds.ABW, kinds.SINGLE],
    sugar: str = "white sugar",
    *,
    volume: Annotated[float, kinds.VOLUME, kinds.SINGLE] | None = None,
    mass: Annotated[float, kinds.MASS, kinds.SINGLE] | None = None,
    from_sugar: Annotated[float, kinds.MASS, kinds.SINGLE] | None = None,
    pantry: _pantry.Pantry | None = None,
) -> Syrup:
    """A syrup by weight, for any °Brix, from any sugar, honey or thicker syrup.

    Parameters
    ----------
    brix : float
        Dry matter in the syrup: 50 is one part of sugar to one of water by weight, 66.7 two to one. [% mass]
    sugar : str
        One of `SUGARS_TO_WEIGH`, or a syrup of the pantry ("honey", "maple syrup").
    volume, mass, from_sugar : amount, optional
        One of them: how many millilitres or grams to make, or how much sugar there is to use up. [mL, g, g]
    pantry : Pantry, optional

    Returns
    -------
    Syrup

    Raises
    ------
    InputError
        If it would not stay dissolved at 20 °C, is thicker than what it is made from, or not exactly one amount
        is given.

    Examples
    --------
    >>> syrup(66.7, volume="750 mL").sugar
    663.9
    >>> syrup(50, "honey", from_sugar=200).water
    131.6
    """
    given = {"volume": volume, "mass": mass, "from_sugar": from_sugar}
    amounts = {name: amount for name, amount in given.items() if amount is not None}
    if len(amounts) != 1:
        told = Told(", ".join(amounts) or "none")
        raise InputError("amount of syrup", told, "exactly one of volume, mass and from_sugar")
    ((asked, amount),) = amounts.items()
    require(asked, amount, 1e-3, 1e9, "mL" if asked == "volume" else "g")
    require("brix", brix, 0.1, 100, "°Brix")
    name, one, said = _one_gram(sugar, pantry)
    dry = 100 * (1 - one.water / one.mass)
    if brix > dry + 1e-9:
        digits = next(n for n in range(1, 18) if round(float(dry), n) < brix)  # as many as keep the two apart
        raise InputError("brix", brix, f"at most {dry:.{digits}f} °Brix, which {name} holds itself")
    water = dry / brix - 1  # to a gram
    made = one + Liquid.of(water=water)
    _stays_dissolved(made, name)
    factor = amount / {"volume": made.volume(), "mass": made.mass, "from_sugar": 1.0}[asked]
    whole = made * factor
    return Syrup(
        name, float(brix), float(factor), float(water * factor), whole, whole.volume(), whole.mass,
        1000 * whole.sugar / whole.volume(), float(whole.density()), declared=said,
    )  # fmt: skip


def _one_gram(sugar: str, pantry: _pantry.Pantry | None) -> tuple[str, Liquid, Declared]:
    key = " ".join(str(sugar).split()).casefold()
    key = _ALIASES.get(key, key)
    if key in SUGARS_TO_WEIGH:
        return key, Liquid.of(**SUGARS_TO_WEIGH[key]), OF_SUGARS.get(key, Declared())
    item = (pantry or _pantry.load()).find(sugar)
    liquid = Liquid(item.composition)
    if liquid.ethanol or liquid.sugar < 0.5 * (liquid.mass - liquid.water) or not liquid.sugar:
        raise InputError("sugar", item.name, f"a sugar or syrup without alcohol, such as {', '.join(SUGARS_TO_WEIGH)}")
    return item.name, liquid * (1 / liquid.mass), declared(item)


def _stays_dissolved(made: Liquid, name: str) -> None:
    limits = [(n, getattr(made, n), SUGAR_SOLUBILITY[n]) for n in SUGAR_SOLUBILITY]
    limits.append(("sugar", made.sugar, 100 * _pantry.MOST_SUGAR))
    for what, grams, most in limits:
        share = 100 * grams / (grams + made.water)
        if share > most + 0.05:  # 2:1 is at the edge
            raise InputError(
                f"{what} in syrup of {name}", Told(f"{share:.1f} % of its {what} and water"),
                Fact("share that stays dissolved", most=f"{most:.1f}"),
            )  # fmt: skip


# --- refractometer -----------------------------------------------------------------------------------
MOST_ABV, MOST_READING = 50.0, 65.0  # % vol, °Brix


@dataclass(frozen=True, slots=True)
class TrueSugar:
    """Sugar behind a refractometer reading: g/L with about one standard deviation, and what the alcohol reads as."""

    sugar: GramsPerLitre
    sugar_pm: GramsPerLitre
    alcohol_reads: PercentMass


@door
def true_sugar(brix: PercentMass, abv: PercentVol) -> TrueSugar:
    """Sugar of a drink from what a refractometer shows and its strength.

    Alcohol bends light too: each % vol reads as 0.33 to 0.39 °Brix.

    Parameters
    ----------
    brix : float or array
        Reading, corrected to 20 °C as most instruments do, at most 65. [°Brix]
    abv : float or array
        Strength, at most 50. [% vol]

    Returns
    -------
    TrueSugar
        As sucrose; acid counts with about 0.9 of its weight, and so do glycerol and other extract.

    Raises
    ------
    InputError
        Beyond these, or where the alcohol alone would read higher; within 0.2 °Brix of it, as an instrument may be
        off, the sugar is 0.

    Notes
    -----
    What alcohol adds to the refractive index of water, and what sugar adds, are each read from the published
    table (% vol; g/L) and summed. No table of both together was found. Adding up specific refraction (Lorentz
    and Lorenz) or specific index (Gladstone and Dale) with densities from `physics.density` gives readings
    within 0.1 °Brix at 25 % vol with 200 g/L and 0.6 at 40 % vol with 250 g/L; `sugar_pm` is as wide, with
    0.2 °Brix for the instrument.

    Examples
    --------
    >>> found = true_sugar(27, 25)
    >>> f"{found.sugar:.0f} ± {found.sugar_pm:.0f} g/L; the alcohol reads as {found.alcohol_reads:.1f} °Brix"
    '201 ± 5 g/L; the alcohol reads as 9.6 °Brix'
    """
    require("brix", brix, 0, MOST_READING, "°Brix")
    require("abv", abv, 0, MOST_ABV, "% vol")
    index = np.interp(abv, _optics.ETHANOL_ABV, _optics.ETHANOL_INDEX)
    alone = np.interp(index, _optics.SUCROSE_INDEX, _optics.SUCROSE_AT)
    short = np.asarray(brix) < alone - 0.2
    if np.any(short):
        low, strong, reads = (float(a[short].flat[0]) for a in np.broadcast_arrays(brix, abv, alone))
        raise InputError("brix", low, f"at least {reads:.1f} °Brix, which {strong:g} % vol of alcohol alone reads as")
    beyond = np.maximum(np.interp(brix, _optics.SUCROSE_AT, _optics.SUCROSE_INDEX) - index, 0.0)
    sugar = np.interp(1.3330 + beyond, _optics.SUCROSE_INDEX, _optics.SUCROSE_PER_LITRE)
    at = _optics.SUCROSE_AT
    per_brix = np.interp(brix, at[:-1], np.diff(_optics.SUCROSE_PER_LITRE) / np.diff(at))
    spread = per_brix * (0.2 + 4e-5 * np.asarray(abv) * sugar)
    return TrueSugar(*(a if np.ndim(a) else float(a) for a in (sugar, spread, alone)))
