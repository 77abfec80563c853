"""A liquid is the grams of what it holds. Volume and strength are read off, never stored.

One drink, a hundred classics and a million variants are the same object: the grams of each component
carry any number of axes, and every function broadcasts over them.

>>> spirit = Liquid.of(ethanol=30, water=60)
>>> (spirit + Liquid.of(water=10)).mass
100.0
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .errors import InputError, require, unfitting
from .kinds import Number
from .physics import density as _density

COMPONENTS = (
    "water", "ethanol", "sucrose", "glucose", "fructose", "lactose", "citric", "malic", "tartaric", "lactic",
    "acetic", "phosphoric", "potassium", "unsure_potassium", "protein", "fat", "solids", "co2",
)  # fmt: skip
# `unsure_potassium` stands for salts whose amount no source states: anything from none to twice as much. It is
# mixed, lost and kept like the rest, so that a pH widens with its share.
SUGARS = ("sucrose", "glucose", "fructose", "lactose")
ACIDS = ("citric", "malic", "tartaric", "lactic", "acetic", "phosphoric")
_INDEX = {name: i for i, name in enumerate(COMPONENTS)}


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Liquid:
    """Grams of each component, immutable.

    Parameters
    ----------
    grams : array, shape (len(COMPONENTS), *axes)
        Components first, so that each one is contiguous in memory. [g]

    Notes
    -----
    `a + b` pours together, `2 * a` is twice as much, `a[0]` picks along the first axis, and `a.water`
    is the grams of water. Grams are conserved by all of them.
    """

    grams: np.ndarray
    _volume: Number | None = field(default=None, init=False)  # at 20 °C, once it has been asked for

    # Let `array * liquid` come to Liquid.__rmul__ instead of making an array of objects.
    __array_ufunc__ = None

    @classmethod
    def of(cls, **grams: Any) -> Liquid:
        """A liquid from named grams; what is not named is zero.

        Raises
        ------
        InputError
            For an unknown component, or grams that are negative or no number.

        >>> Liquid.of(water=[50, 60], sucrose=50).shape
        (2,)
        """
        for name in grams:
            if name not in _INDEX:
                raise InputError("component", name, f"one of {', '.join(COMPONENTS)}")
            require(f"grams of {name}", grams[name], 0, np.inf, "g")
        given = {name: np.asarray(value, float) for name, value in grams.items()}
        try:
            parts = np.broadcast_arrays(*given.values()) if given else [np.zeros(())]
        except ValueError as error:
            raise unfitting(error, given) from None
        out = np.zeros((len(COMPONENTS), *parts[0].shape))
        for name, part in zip(grams, parts, strict=False):
            out[_INDEX[name]] = part
        return cls(out)

    @classmethod
    def poured(cls, amounts: np.ndarray, composition: np.ndarray) -> Liquid:
        """Pours mixed in one glass: amounts times compositions, a matrix product.

        Parameters
        ----------
        amounts : array, shape (*axes, pours)
            [mL]
        composition : array, shape (pours, components) or (*axes, pours, components)
            What a millilitre of each ingredient holds; with axes when it varies too. [g/mL]
        """
        amounts = np.asarray(amounts, float)
        if composition.ndim == 2:
            # one matrix product whatever the axes; the transposes cost nothing
            flat = composition.T @ amounts.reshape(-1, amounts.shape[-1]).T
            return cls(flat.reshape(composition.shape[1], *amounts.shape[:-1]))
        return cls(np.einsum("...p,...pc->c...", amounts, composition, optimize=False))

    @property
    def shape(self) -> tuple[int, ...]:
        """The axes: () for one drink."""
        return self.grams.shape[1:]

    def __getattr__(self, name: str) -> Number:
        try:
            part = self.grams[_INDEX[name]]
        except KeyError:
            raise AttributeError(f"a Liquid has no {name!r}; it holds {', '.join(COMPONENTS)}") from None
        return part if part.ndim else float(part)

    def _sum(self, names: Sequence[str]) -> Number:
        total = self.grams[_INDEX[names[0]]].copy()
        for name in names[1:]:
            total += self.grams[_INDEX[name]]
        return total if total.ndim else float(total)

    @property
    def mass(self) -> Number:
        """Everything together. [g]"""
        total = self.grams.sum(axis=0)
        return total if total.ndim else float(total)

    @property
    def sugar(self) -> Number:
        """Sucrose, glucose, fructose and lactose together. [g]"""
        return self._sum(SUGARS)

    @property
    def acid(self) -> Number:
        """Citric, malic, tartaric, lactic, acetic and phosphoric acid, each as such. [g]"""
        return self._sum(ACIDS)

    def parts(self) -> dict[str, np.ndarray]:
        """Grams by name: water and ethanol, and of the other components those that are there at all. [g]"""
        return {n: self.grams[i] for n, i in _INDEX.items() if i < 2 or self.grams[i].any()}

    def volume(self, temperature: Number = 20.0) -> Number:
        """Volume, from the masses and the density: ethanol and water shrink when they mix. [mL]

        >>> round(Liquid.of(ethanol=39.46, water=49.91).volume(), 1)  # 50 mL and 50 mL
        96.5
        """
        usual = isinstance(temperature, float) and temperature == 20.0
        if usual and self._volume is not None:
            return self._volume
        one = not self.shape  # plain numbers are quicker than arrays of one
        held = dict(zip(COMPONENTS, self.grams.tolist(), strict=True)) if one else self.parts()
        found = _density.solution_volume(held, temperature)
        v = found if np.ndim(found) else float(found)
        if usual:
            if isinstance(v, np.ndarray):
                v.flags.writeable = False  # it is everybody's
            object.__setattr__(self, "_volume", v)
        return v

    def density(self, temperature: Number = 20.0) -> Number:
        """[kg/m³]"""
        return 1000.0 * self.mass / self.volume(temperature)

    def is_so_many(self, other: Liquid) -> bool:
        """Whether it is so many times another, version by version: what hangs on concentrations is alike then.

        >>> drink = Liquid.of(water=60, ethanol=30)
        >>> (3 * drink).is_so_many(drink), (drink + Liquid.of(water=1)).is_so_many(drink)
        (True, False)
        """
        now, was = (part.grams.reshape(len(COMPONENTS), -1) for part in (self, other))
        return all(  # of most, the first version tells that it is another drink
            np.allclose(a * b.sum(axis=0), b * a.sum(axis=0), rtol=1e-12, atol=0.0)
            for a, b in ((now[:, :1], was[:, :1]), (now, was))
        )

    def __add__(self, other: Liquid) -> Liquid:
        if not isinstance(other, Liquid):
            return NotImplemented
        a, b = self.grams, other.grams
        # align the axes behind the components as NumPy would
        n = max(a.ndim, b.ndim) - 1
        try:
            return Liquid(_widen(a, n) + _widen(b, n))
        except ValueError as error:
            raise unfitting(error, {"one liquid": self, "the other": other}) from None

    def __radd__(self, other: object) -> Liquid:
        return self if other == 0 else NotImplemented  # so that sum() works

    def __mul__(self, factor: Number) -> Liquid:
        factor = np.asarray(factor, float)
        require("factor", factor, 0, np.inf)
        try:
            return Liquid(_widen(self.grams, factor.ndim) * factor)
        except ValueError as error:
            raise unfitting(error, {"the liquid": self, "the factor": factor}) from None

    __rmul__ = __mul__

    def __getitem__(self, key: Any) -> Liquid:
        key = key if isinstance(key, tuple) else (key,)
        return Liquid(self.grams[(slice(None), *key)])

    def __repr__(self) -> str:
        if self.shape:
            return f"<Liquid, {' x '.join(map(str, self.shape))} variants>"
        held = ", ".join(f"{n} {g:.4g} g" for n, g in self.parts().items() if g)
        return f"<Liquid: {held or 'empty'}>"


def _widen(grams: np.ndarray, axes: int) -> np.ndarray:
    """Insert axes of length one behind the components until there are `axes` of them."""
    missing = axes - (grams.ndim - 1)
    return grams.reshape(grams.shape[0], *(1,) * missing, *grams.shape[1:]) if missing > 0 else grams


def water(grams: Number) -> Liquid:
    """Plain water. [g]"""
    return Liquid.of(water=grams)
