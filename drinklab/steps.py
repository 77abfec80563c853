"""Steps: what is done to a drink between mixing and serving, each a pure function that can be saved.

A step takes a liquid and gives an `Outcome`: the liquid after it, what was left behind, and what to say of
it. Grams in are grams out plus grams left behind, less what the step itself brings (milk, gas), which it
states as `added`. The lessons' modules define the steps; `trial.run` takes a drink through them.

>>> @savable("strain for the doctest")
... @dataclass(frozen=True, slots=True)
... class Strain:
...     kept: float = 0.98
...     name: str = "strained"
...     def act(self, liquid, draw=estimate):
...         share = np.clip(self.kept + 0.01 * draw("strainer"), 0, 1)
...         return Outcome(share * liquid, (1 - share) * liquid)
>>> again = from_dict(to_dict(Strain(0.9)))
>>> again, again.act(Liquid.of(water=100)).liquid.water
(Strain(kept=0.9, name='strained'), 90.0)
"""

from __future__ import annotations

import functools
import zlib
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from typing import Any, ClassVar, Protocol, TypeVar

import numpy as np

from . import texts
from .errors import InputError, Told, one_of, require
from .facts import Fact, say
from .kinds import TEMPERATURE, VOLUME
from .learned import Known
from .liquid import Liquid, water
from .physics import density as _density
from .physics import freezing as _freezing
from .units import number, to_celsius, to_ml

# The name of a source of chance -> standard normal deviates over the liquid's axes; 0 for the best estimate.
Draw = Callable[[str], float | np.ndarray]


@dataclass(frozen=True, init=False, repr=False, slots=True)
class Caution(Fact):
    """Something that can hurt, said where it arises. Its sentence stands in `words/cautions.toml`, by its code.

    >>> Caution("dairy").text
    'Dairy: keep at 4 °C or below until it is served, and follow your local food code.'
    >>> Caution("salt", text="Salty: of a step of one's own.").text
    "Salty: of a step of one's own."
    """


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a step makes of a liquid.

    Attributes
    ----------
    liquid : Liquid
        The drink after the step.
    left : Liquid, optional
        What is left behind: curd, foam, what stays in the tin.
    cautions : tuple of Caution
    added : Liquid, optional
        What the step itself brings: milk, gas.
    allergens : tuple of str
        What the step brings that stays declared, whatever leaves again.
    said : tuple of Fact
        What happened and how sure that is; a step of one's own may give sentences.
    temperature : float, optional
        What the drink is cooled or warmed to. [°C]
    """

    liquid: Liquid
    left: Liquid | None = None
    cautions: tuple[Caution, ...] = ()
    added: Liquid | None = None
    allergens: tuple[str, ...] = ()
    said: tuple[Fact | str, ...] = ()
    temperature: float | None = None

    @property
    def notes(self) -> tuple[str, ...]:
        """`said` in sentences, in mL and °C."""
        return tuple(map(say, self.said))


S = TypeVar("S")


@dataclass(frozen=True, slots=True)
class Brought:
    """What a step brings, to be put out before the work begins: grams, and millilitres where it is measured so."""

    name: str
    grams: float
    ml: float | None = None


class Step(Protocol):
    """Something done to a drink, with a name for its stage.

    It may also have `orders(liquid, outcome)`, what to do as facts, and `brought(liquid, outcome)`; the
    functions of these names tell what is meant without. What can hurt whatever the sums say stands in its `cautions`,
    and where the drink has alcohol in `warns(abv)`: see `warned_of`.
    """

    __dataclass_fields__: ClassVar[dict[str, Any]]

    @property
    def name(self) -> str:
        """Of its stage."""
        ...

    def act(self, liquid: Liquid, draw: Draw = ...) -> Outcome:
        """What becomes of `liquid`; what is uncertain varies by `draw`, under a name of its own."""
        ...


def warned_of(step: Step, abv: float) -> tuple[Caution, ...]:
    """Cautions that a step brings to a drink of bottles of at most this strength, told without running it. [% vol]

    >>> [caution.code for caution in warned_of(Rest(), 40)]
    []
    """
    warns = getattr(step, "warns", None)
    return warns(abv) if warns else ()


def orders(step: Step, liquid: Liquid, outcome: Outcome) -> tuple[Fact | str, ...]:
    """What to do: the step's own, or else the first that it says.

    >>> drink = Liquid.of(water=100)
    >>> print(*orders(Rest(2), drink, Rest(2).act(drink)))
    Rest it covered for 2 h at 4 °C.
    """
    own = getattr(step, "orders", None)
    return own(liquid, outcome) if own else outcome.said[:1] or (Fact("then", step=step.name),)


def brought(step: Step, liquid: Liquid, outcome: Outcome) -> tuple[Brought, ...]:
    """What a step brings, of the first of the drink's versions; nothing where it adds no mass.

    >>> drink = Liquid.of(water=100)
    >>> [(b.name, round(b.ml)) for b in brought(AddWater(), drink, AddWater().act(drink))]
    [('water', 25)]
    """
    if outcome.added is None:
        return ()
    own = getattr(step, "brought", None)
    found = own(liquid, outcome) if own else [Brought(f"what makes it {step.name}", float(first(outcome.added).mass))]
    return tuple(part for part in found if part.grams > 0)


def first(liquid: Liquid) -> Liquid:
    """The first of a drink's versions, which is the best estimate."""
    return Liquid(liquid.grams.reshape(liquid.grams.shape[0], -1)[:, 0])


def estimate(source: str) -> float:
    """The best estimate: nothing varies."""
    return 0.0


def draws(count: int, seed: int) -> Draw:
    """`count` random versions behind the estimate, shape (1 + count,); the same seed and name, the same draws."""
    return functools.partial(normal, count=count, seed=seed)


@functools.lru_cache(maxsize=256)
def normal(source: str, count: int, seed: int, again: int = 0) -> np.ndarray:
    """Standard normal deviates behind a 0, shape (1 + count,); kept, so that a moved slider pays nothing."""
    random = np.random.default_rng([seed, zlib.crc32(source.encode()), 1 + again])
    deviates = np.concatenate([[0.0], random.standard_normal(count)])
    deviates.setflags(write=False)
    return deviates


_KNOWN: dict[str, type] = {}


def savable(kind: str, basis: Fact | str = "") -> Callable[[type[S]], type[S]]:
    """Register a step, a dataclass whose fields are plain data, under the name it is saved by.

    `basis` says in a sentence what its figures rest on, for a write-up.
    """

    def register(cls: Any) -> Any:
        cls.kind, cls.basis = kind, basis
        _KNOWN[kind] = one_number_each(cls)
        return cls

    return register


def one_number_each(cls: Any) -> Any:
    """Have a dataclass refuse anything but one number, or text that is one, in its fields of numbers.

    >>> Rest([1, 2])
    Traceback (most recent call last):
    drinklab.errors.InputError: hours is 2 values; it must be one number.
    """
    made, names = cls.__init__, [f.name for f in fields(cls)]
    kinds = {f.name: str(getattr(f.type, "__name__", f.type)).split(" | ") for f in fields(cls)}
    numbers = {name: kind for name, kind in kinds.items() if {"float", "int"} & {*kind}}

    @functools.wraps(made)
    def __init__(self: Any, *args: Any, **given: Any) -> None:
        for name, value in (*zip(names, args, strict=False), *given.items()):
            if name in numbers and (isinstance(value, (list, tuple, dict)) or np.ndim(value)):
                many = Told(f"a {type(value).__name__}" if isinstance(value, dict) else f"{len(value)} values")
                raise InputError(name.replace("_", " "), many, "one number")
        made(self, *args, **given)
        for name, kind in numbers.items():
            value = getattr(self, name)
            # A word where words are allowed, and a count, are checked where they are used.
            if not (value is None or isinstance(value, int | np.integer) or (isinstance(value, str) and "str" in kind)):
                object.__setattr__(self, name, number(value, name.replace("_", " ")))
            elif isinstance(value, bool | np.bool_) or (value is None and "None" not in kind):
                raise InputError(name.replace("_", " "), value, "one number")

    cls.__init__ = __init__
    return cls


def to_dict(step: Step) -> dict[str, Any]:
    """A step as plain data for JSON.

    Raises
    ------
    InputError
        For a step that is not `savable`.
    """
    kind = getattr(step, "kind", None)
    if kind not in _KNOWN:
        raise InputError("step", step.name, f"one that can be saved: {', '.join(_KNOWN)}")
    data = asdict(step)
    return {"step": kind} | {name: data[name] for name in _saved(step)}


def from_dict(data: Mapping[str, Any]) -> Step:
    """The step that `to_dict` saved.

    Raises
    ------
    InputError
        For an unknown kind of step, or fields that it does not have.
    """
    kind = one_of("step", data["step"], _KNOWN)
    given = {k: tuple(v) if isinstance(v, list) else v for k, v in data.items() if k != "step"}
    saved = _saved(_KNOWN[kind])
    for name in given:
        if name not in saved:
            raise InputError(f"setting of the step {kind!r}", name, f"one of {', '.join(sorted(saved))}")
    if "name" in given:
        given["name"] = texts.clean(given["name"], f"name of the step {kind!r}", texts.NAME)
    return _KNOWN[kind](**given)


def _saved(step: Step | type) -> list[str]:
    return [f.name for f in fields(step) if f.metadata.get("saved", True)]


def as_measured() -> Any:
    """A step's field for what this bar has measured of it: `knowing` fills it, and it is no part of what is saved."""
    return field(default=(), repr=False, kw_only=True, metadata={"saved": False})


def knowing(step: Step, measured: Known) -> Step:
    """A step as this bar has measured it: what of its `measures` there is stands in its field `learned`.

    >>> knowing(Rest(2), {})
    Rest(hours=2.0, temperature=4.0, name='rested')
    """
    found = tuple(measured[key] for key in getattr(step, "measures", ()) if key in measured)
    return replace(step, learned=found) if found else step


# --- steps of every kitchen ---------------------------------------------------------------------------

# Cold holding of food that spoils, at 41 °F or below: FDA Food Code 2022, 3-501.16 (from memory).
_KEEP_COLD = Caution("keep cold")
_COUNTED = ("water", "ethanol", *_freezing.SOLUTES)  # for freezing
_FREEZES = Caution("freezes")


@savable("add water")
@dataclass(frozen=True, slots=True)
class AddWater:
    """Add plain water, by a share of the drink or by an amount.

    Parameters
    ----------
    share : float
        Of the volume before it. [mL/mL]
    amount : float or str, optional
        In place of the share. [mL]
    """

    share: float = 0.25
    amount: float | None = None
    name: str = "water added"

    def __post_init__(self) -> None:
        object.__setattr__(self, "share", number(self.share, "share of water"))
        require("share of water", self.share, 0, 10, "of the volume before it")
        if self.amount is not None:
            object.__setattr__(self, "amount", to_ml(self.amount, field="water"))
            require("water", self.amount, 0, 1e6, "mL")

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Pour it in."""
        ml = self.share * liquid.volume() if self.amount is None else self.amount
        added = water(np.broadcast_to(ml * _density.ethanol_water(0.0) / 1000, liquid.shape))
        said = Fact("add water", water=VOLUME(np.ravel(ml)[0]))
        return Outcome(liquid + added, added=added, said=(said,))

    def brought(self, liquid: Liquid, outcome: Outcome) -> tuple[Brought, ...]:
        """The water."""
        added = first(outcome.added or Liquid.of())
        return (Brought("water", float(added.mass), float(added.volume())),)


@savable("rest")
@dataclass(frozen=True, slots=True)
class Rest:
    """Let the drink stand, closed: nothing of it changes, but its temperature.

    Parameters
    ----------
    hours : float
        0 to 720. [h]
    temperature : float or str
        [°C]
    """

    hours: float = 12.0
    temperature: float = 4.0
    name: str = "rested"

    def __post_init__(self) -> None:
        object.__setattr__(self, "hours", number(self.hours, "hours of rest"))
        require("hours of rest", self.hours, 0, 720, "h")
        object.__setattr__(self, "temperature", to_celsius(self.temperature))
        require("temperature", self.temperature, -5, 40, "°C")

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """What spoils is to be kept cold."""
        return (_KEEP_COLD,) * (self.hours > 0)

    def act(self, liquid: Liquid, draw: Draw = estimate) -> Outcome:
        """Time alone."""
        said = Fact("rest", hours=self.hours, temperature=TEMPERATURE(self.temperature))
        icy = (_FREEZES,) * (self.temperature < 0 and self._freezes(liquid))
        return Outcome(liquid, cautions=(*self.cautions, *icy), said=(said,), temperature=self.temperature)

    def _freezes(self, liquid: Liquid) -> bool:
        counted = {name: grams for name, grams in liquid.parts().items() if name in _COUNTED}
        point = float(np.ravel(_freezing._freezing_point(counted))[0])
        return self.temperature < point + _freezing.ERROR
