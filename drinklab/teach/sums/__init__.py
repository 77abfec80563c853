"""Functions that exercises and guesses name: solutions by the package, and the naive sums of known mistakes.

A solution takes the numbers of an exercise by name and returns the answer and what stands between, each an amount of
its kind. A mistake takes the same numbers and returns what comes out if it is made. Data names them
("strength.let_down"), and nothing that stands in a file is ever run as code.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Mapping
from typing import Any

from ...errors import InputError
from ...kinds import Amount

Solution = Callable[..., dict[str, Amount]]
Mistake = Callable[..., float]


def solve(name: str, given: Mapping[str, Amount]) -> dict[str, Amount]:
    """The values of a solution, by the numbers of an exercise.

    >>> from drinklab.kinds import ABV, VOLUME
    >>> found = solve("strength.pure_alcohol", {"pour": VOLUME(50), "strength": ABV(40)})
    >>> found["alcohol"].value
    20.0
    """
    return _call(function(name), given)


def mistaken(name: str, given: Mapping[str, Amount]) -> float:
    """What comes out by a mistake, in the answer's own unit.

    >>> from drinklab.kinds import ABV, VOLUME
    >>> mistaken("strength.grams_as_if_water", {"pour": VOLUME(50), "strength": ABV(40)})
    20.0
    """
    return float(_call(function(name), given))


def function(name: str) -> Callable[..., Any]:
    """The function of a name, "topic.function".

    >>> function("strength.nothing")
    Traceback (most recent call last):
    drinklab.errors.InputError: sum of an exercise is 'strength.nothing'; it must be a function of drinklab.teach.sums.
    """
    topic, _, own = name.partition(".")
    if topic in topics():
        found = getattr(importlib.import_module(f"{__name__}.{topic}"), own, None)
        if inspect.isfunction(found) and not own.startswith("_") and found.__module__ == f"{__name__}.{topic}":
            return found
    raise InputError("sum of an exercise", name, "a function of drinklab.teach.sums")


def topics() -> tuple[str, ...]:
    """The topics that have sums.

    >>> "strength" in topics()
    True
    """
    return tuple(module.name for module in pkgutil.iter_modules(__path__))


def _call(one: Callable[..., Any], given: Mapping[str, Amount]) -> Any:
    wanted = inspect.signature(one).parameters
    return one(**{name: amount.value for name, amount in given.items() if name in wanted})
