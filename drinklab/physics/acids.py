"""pH of a drink by charge balance: every step of every acid, the salts, and activity.

The charge of the hydrogen ions and of the salts' potassium equals that of the anions. Dissociation
constants are those at 25 °C in water without salt (a drink at 5 °C is up to 0.05 higher); the Davies
equation corrects for the ions that are there, and `ETHANOL_SHIFT` for alcohol. All take floats and arrays
alone; amounts are those in a litre of the drink.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np

from ..errors import one_of, require
from ..kinds import Number


class Acid(NamedTuple):
    """Molar mass [g/mol], pKa of each step (25 °C, no salt), and where they were found."""

    molar: float
    pka: tuple[float, ...]
    source: str


_NIST46 = "USGS PHREEQC database minteq.v4 (NIST 46); read"
ACIDS = {
    "citric": Acid(192.124, (3.128, 4.761, 6.396), _NIST46),
    "malic": Acid(134.087, (3.459, 5.097), "Goldberg et al., J. Phys. Chem. Ref. Data 31 (2002) 231; from memory"),
    "tartaric": Acid(150.087, (3.036, 4.366), _NIST46),
    "lactic": Acid(90.078, (3.857,), "Martin and Tartar 1937, quoted in a substance dossier; read"),
    "acetic": Acid(60.052, (4.757,), _NIST46),
    "phosphoric": Acid(97.994, (2.148, 7.198, 12.375), _NIST46),
    "carbonic": Acid(44.0095, (6.352, 10.329), _NIST46 + "; its grams are those of carbon dioxide"),
}
POTASSIUM = 39.098  # g/mol
PKW = 13.997  # water at 25 °C (NIST 46; from memory)
# Davies 1962: -log10 of the activity coefficient of an ion of charge z is z² A (√I/(1+√I) - 0.3 I). Good to
# an ionic strength I of 0.1 mol/L and used to 0.5; beyond, it is held at its value there.
DAVIES_A, DAVIES_B, MOST_IONS = 0.509, 0.3, 0.5
# Rise of every pKa with alcohol. Lactic acid and both steps of succinic acid rise by 0.16 to 0.17 from 0 to
# 12 % vol at equal ionic strength (Prenesti et al. 2012, The Scientific World Journal, 249041, table 4; read).
# Its plus or minus is a judgement: other acids, and stronger drinks. [1/% vol]
ETHANOL_SHIFT, ETHANOL_SHIFT_PM = 0.0140, 0.004
CITRIC_EQUIVALENT = ACIDS["citric"].molar / 3  # grams of anhydrous citric acid to a mole of alkali

_LN10 = float(np.log(10.0))
_LOWEST, _HIGHEST = -2.0, 17.0  # pH, wider than any solution
_CLOSE = 1e-5  # pH; the next step would be ten times smaller
_SETTLED = 1e-9  # of a logarithm of an activity coefficient
_BLOCK = 2048  # solutions worked on at once: they stay in the processor's cache
_WATER = 10.0**-PKW
_CONSTANTS = {name: [10.0**-pka for pka in acid.pka] for name, acid in ACIDS.items()}


# Given pH, the positive charge held by anything else; and the acids that are there, by name.
Held = Callable[[np.ndarray], np.ndarray]
Present = list[tuple[str, np.ndarray]]


class Solution(NamedTuple):
    """What `solve` finds: pH, and the ionic strength. [mol/L]"""

    ph: np.ndarray
    ions: np.ndarray


def ph(
    acids: Mapping[str, Number],
    *,
    potassium: Number = 0.0,
    abv: Number = 0.0,
    other: Held | None = None,
) -> float | np.ndarray:
    """pH of acids and their salts: plain acids in water at 25 °C when nothing else is given.

    Parameters
    ----------
    acids : mapping of str to float or array
        Grams of each acid in a litre, by the names of `ACIDS`. [g/L]
    potassium : float or array
        Strong cations, counted as potassium: the salt of natural juice. [g/L]
    abv : float or array
        Alcohol, which makes every acid weaker. [% vol]
    other : function, optional
        As for `solve`.

    Returns
    -------
    float or array
        What a meter reads, -log10 of the activity of hydrogen ions; `ph_error` says how surely.

    Raises
    ------
    InputError
        For an acid that is not known, or a figure out of range.

    Examples
    --------
    >>> ph({"citric": 48}), ph({"citric": 48}, potassium=1.06)  # the acid of lemon juice, then with its salt
    (1.88, 2.24)
    """
    require("strength", abv, 0, 100, "% vol")
    moles, salt = _moles(acids, potassium)
    found = solve(moles, salt, abv, other).ph
    return found if found.ndim else float(found)


def solve(
    moles: Mapping[str, Number],
    cations: Number = 0.0,
    abv: Number = 0.0,
    other: Held | None = None,
) -> Solution:
    """pH and ionic strength from moles.

    Parameters
    ----------
    moles : mapping of str to float or array
        Each acid, in all its forms, by the names of `ACIDS`. [mol/L]
    cations : float or array
        Charge of the strong cations (potassium, sodium) less that of strong anions (chloride). [mol/L]
    abv : float or array
        [% vol]
    other : function, optional
        Given pH, as an array of the shape of all the figures together, the positive charge held by anything
        else at that pH, such as hydrogen bound by milk's proteins; if it rose with pH there would be more than
        one answer. [mol/L]

    Returns
    -------
    Solution
        Of the shape of all the figures together.

    Raises
    ------
    ArithmeticError
        If no pH is found, as when `other` gives no number.

    Notes
    -----
    The logarithms of the positive and the negative charge meet at one pH, since the one falls and the other
    rises. Newton's method finds it inside a bracket that shrinks with each step, while the ionic strength is
    renewed beside it, until both stay to 1e-5.

    Examples
    --------
    >>> round(float(solve({"citric": 0.1}).ph), 2)
    2.08
    """
    shape, acids, salt, abv = _spread(moles, cations, abv)
    shift = abv * ETHANOL_SHIFT
    if not shape or other is not None:
        held_at = other and (lambda ph: np.asarray(other(ph.reshape(shape)), float).reshape(ph.shape))
        found = np.array(_solve(acids, salt, shift, held_at))
    else:
        found = np.empty((2, salt.size))
        for start in range(0, salt.size, _BLOCK):
            block = slice(start, start + _BLOCK)
            found[:, block] = _solve([(n, a[block]) for n, a in acids], salt[block], shift[block], None)
    return Solution(*found.reshape(2, *shape))


def titratable(acids: Mapping[str, Number], *, potassium: Number = 0.0, endpoint: Number = 8.2) -> float | np.ndarray:
    """Titratable acidity: the alkali that brings a drink to a pH, told as citric acid.

    Parameters
    ----------
    acids : mapping of str to float or array
        [g/L]
    potassium : float or array
        [g/L]
    endpoint : float
        8.2 by common practice (where phenolphthalein turns); some wine laboratories stop at 7. 6 to 10.

    Returns
    -------
    float or array
        Anhydrous citric acid, 64.04 g to a mole of alkali; 0 where the drink is beyond the endpoint already.
        [g/L]

    Notes
    -----
    Each acid counts as it does in the laboratory: phosphoric acid with about two of its three steps. The
    alkali's own volume is left out.

    Examples
    --------
    >>> titratable({"citric": 48}), titratable({"malic": 5}), titratable({"citric": 48}, potassium=1.06)
    (47.95, 4.78, 46.21)
    """
    require("endpoint", endpoint, 6, 10, "pH")
    found = np.maximum(alkali(*_moles(acids, potassium), ph=endpoint), 0.0) * CITRIC_EQUIVALENT
    return found if found.ndim else float(found)


def alkali(moles: Mapping[str, Number], cations: Number = 0.0, abv: Number = 0.0, *, ph: Number) -> np.ndarray:
    """Alkali that brings acids and their salts to a pH: as for `solve`, below zero where they are beyond it. [mol/L]

    >>> round(float(alkali({"acetic": 0.1}, ph=8.2)), 4)
    0.1
    """
    shape, present, salt, abv = _spread(moles, cations, abv)
    less, ph, shift, found = salt * 0.0, salt * 0.0 + ph, abv * ETHANOL_SHIFT, salt * 0.0
    for _ in range(30):
        plus, minus, _, ions = _charges(present, salt, shift, ph, less, None)
        found, before = minus - plus, less
        less = _davies(ions + np.maximum(found, 0.0) / 2)
        if np.abs(less - before).max(initial=0.0) < _SETTLED:
            break
    return found.reshape(shape)


def hydrogen_given(acid: str, ph: Number, ions: Number = 0.1) -> float | np.ndarray:
    """Hydrogen ions that a mole of an acid has given away at a pH. [mol/mol]

    What it gives between two is the difference. `ions` is the ionic strength. [mol/L]

    >>> round(hydrogen_given("citric", 4.6), 2), round(hydrogen_given("lactic", 4.6), 3)
    (1.62, 0.876)
    """
    one_of("acid", acid, ACIDS)
    require("pH", ph, 0, 14)
    require("ionic strength", ions, 0, MOST_IONS, "mol/L")
    wide = 10.0 ** _davies(np.asarray(ions, float))
    charge, _ = _anion(acid, 10.0 ** np.asarray(ph, float) * wide, wide * wide)
    return charge if np.ndim(charge) else float(charge)


def ph_error(abv: Number = 0.0, ions: Number = 0.0) -> float | np.ndarray:
    """About one standard deviation of a calculated pH whose acids and salts are known exactly.

    Constants 0.02; the Davies equation a tenth of the ionic strength; the shift of the constants in alcohol
    `ETHANOL_SHIFT_PM` a per cent. The first two are a judgement from the buffer standards (within 0.012 to an
    ionic strength of 0.1).

    >>> round(ph_error(), 2), round(ph_error(20, 0.05), 2)
    (0.02, 0.08)
    """
    require("strength", abv, 0, 100, "% vol")
    require("ionic strength", ions, 0, np.inf, "mol/L")
    alcohol, salts = ETHANOL_SHIFT_PM * np.asarray(abv, float), 0.1 * np.minimum(ions, MOST_IONS)
    found = np.sqrt(0.02**2 + salts**2 + alcohol**2)
    return found if np.ndim(found) else float(found)


def _moles(acids: Mapping[str, Number], potassium: Number) -> tuple[dict[str, np.ndarray], np.ndarray]:
    for name, grams in acids.items():
        require(f"{one_of('acid', name, ACIDS)} acid", grams, 0, np.inf, "g/L")
    require("potassium", potassium, 0, np.inf, "g/L")
    moles = {name: np.asarray(grams, float) / ACIDS[name].molar for name, grams in acids.items()}
    return moles, np.asarray(potassium, float) / POTASSIUM


def _spread(
    moles: Mapping[str, Number], cations: Number, abv: Number
) -> tuple[tuple[int, ...], Present, np.ndarray, np.ndarray]:
    """The common shape, then acids that are there, cations and alcohol, each as one row (or a scalar)."""
    held = np.broadcast_arrays(*(np.asarray(a, float) for a in (*moles.values(), cations, abv)))
    shape = held[0].shape
    *acids, cations, abv = (a.ravel() if shape else a[()] for a in held)
    return shape, [(n, a) for n, a in zip(moles, acids, strict=True) if a.any()], cations, abv


def _solve(acids: Present, salt: np.ndarray, shift: np.ndarray, other: Held | None) -> tuple[np.ndarray, np.ndarray]:
    ph, less = salt * 0.0 + 3.0, salt * 0.0
    low, high = ph + (_LOWEST - 3.0), ph + (_HIGHEST - 3.0)
    # What `other` lacks at its least goes to both sides: they stay above zero and smooth where it turns negative.
    both = 0.0 if other is None else np.maximum(-other(high), 0.0)
    for _ in range(200):
        plus, minus, slope, ions = _charges(acids, salt, shift, ph, less, other, both)
        f = np.log(plus / minus)
        low, high = np.where(f > 0, ph, low), np.where(f > 0, high, ph)
        new = ph + f / slope
        new = np.where((new >= low) & (new <= high), new, (low + high) / 2)
        renewed = _davies(ions)
        change = np.abs(renewed - less)
        if max(np.abs(new - ph).max(initial=0.0), change.max(initial=0.0)) < _CLOSE:
            return new, ions
        # each effective pKa moves by (2 z - 1) times the change, so the bracket does not lose the root
        ph, less, low, high = new, renewed, low - 6.0 * change, high + 6.0 * change
    raise ArithmeticError("pH was not found; please report the numbers you used")


def _charges(
    acids: Present,
    salt: np.ndarray,
    shift: Number,
    ph: np.ndarray,
    less: np.ndarray,
    other: Held | None,
    both: Number = 0.0,
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Positive and negative charge at a pH, the slope of -ln(plus/minus), and the ionic strength.

    `both` is added to either side.
    """
    wide = np.exp(_LN10 * less)  # 1 / activity coefficient of an ion of charge 1
    free = np.exp(_LN10 * ph)
    hydrogen, hydroxide = wide / free, _WATER * wide * free
    plus, minus, squares, falls, rises = hydrogen + salt, hydroxide, hydroxide, hydrogen, hydroxide
    if acids:
        step = free * wide * np.exp(-_LN10 * shift)
    for name, amount in acids:
        charge, square = _anion(name, step, wide * wide)
        minus, squares = minus + amount * charge, squares + amount * square
        rises = rises + amount * (square - charge * charge)
    ions = (plus + squares) / 2
    if other is not None:
        held, then = other(ph), other(ph + 1e-5)
        drop = (held - then) / (1e-5 * _LN10)
        plus, minus, falls = plus + held + both, minus + both, falls + drop
        ions = ions + np.abs(held) / 2
    return plus, minus, _LN10 * (falls / plus + rises / minus), ions


def _anion(name: str, step: Number, wider: Number) -> tuple[Number, Number]:
    """Mean charge of an acid, taken positive, and mean square of the charge.

    `step` is 1 / (activity of hydrogen x activity coefficient), `wider` 1 / the coefficient's square.
    """
    whole: Number = 1.0
    charge: Number = 0.0
    square: Number = 0.0
    term: Number = 1.0
    for z, constant in enumerate(_CONSTANTS[name], start=1):
        term = term * (constant * step)
        whole, charge, square = whole + term, charge + z * term, square + z * z * term
        step = step * wider
    return charge / whole, square / whole


def _davies(ions: Number) -> np.ndarray:
    ions = np.minimum(ions, MOST_IONS)
    root = np.sqrt(ions)
    return DAVIES_A * (root / (1.0 + root) - DAVIES_B * ions)
