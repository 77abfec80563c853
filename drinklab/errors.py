"""The one error that people see: it names the field, the value and what is allowed."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from .facts import Fact, kind_of, plain
from .kinds import Amount, Kind

MOST_REPEATED = 60


class InputError(ValueError):
    """Something a person gave cannot be used: a fact, whose sentence `str` gives in own units and `Display.say` in any.

    Parameters
    ----------
    field : str or Fact
        What was given, in the user's words ("abv of 'gin'").
    value : object
        What was given for it: an amount has its kind, and stands without the unit that `allowed` names.
    allowed : str or Fact
        What is allowed, as the end of the sentence "it must be ...".
    where : str
        File, row or line, when there is one.

    Examples
    --------
    >>> print(InputError("abv of 'gin'", 140, "0 to 100 % vol"))
    abv of 'gin' is 140; it must be 0 to 100 % vol.
    """

    def __init__(self, field: str | Fact, value: object, allowed: str | Fact, where: str = "") -> None:
        if isinstance(field, str):
            field = _QUOTED.sub(lambda m: f"{m[0][0]}{shortened(m[0][1:-1])}{m[0][0]}", field)
        said = {"field": field, "value": _shown(value), "allowed": allowed}
        self.fact = Fact("refused at", where=where, **said) if where else Fact("refused", **said)
        self.value, self.where = value.value if isinstance(value, Amount) else value, where
        self._given = field, value, allowed
        super().__init__(field, value, allowed, where)

    def __str__(self) -> str:
        return self.fact.text

    @property
    def field(self) -> str:
        """What was given, in words."""
        return str(self._given[0])

    @property
    def allowed(self) -> str:
        """What is allowed, in words."""
        return str(self._given[2])

    def at(self, where: str = "", field: str = "") -> InputError:
        """The same, with the place where it was found, or under the name that a page has for it.

        >>> print(InputError("volume", 0, "above 0").at("line 3"))
        line 3: volume is 0; it must be above 0.
        """
        was, value, allowed = self._given
        return InputError(field or was, value, allowed, where)


class InputErrors(InputError):
    """Several at once, such as those of a recipe: each a sentence on a line of its own.

    Parameters
    ----------
    errors : sequence of InputError
        `field`, `value`, `allowed` and `where` are the first one's.

    Examples
    --------
    >>> print(InputErrors([InputError("pour", "gin", "an amount", "line 1"), InputError("pour", "rum", "an amount")]))
    line 1: pour is 'gin'; it must be an amount.
    pour is 'rum'; it must be an amount.
    """

    MOST = 10

    def __init__(self, errors: Sequence[InputError]) -> None:
        first = errors[0]
        field, value, allowed = first._given
        super().__init__(field, value, allowed, first.where)
        self.errors = tuple(errors)
        told, more = [error.fact for error in errors[: self.MOST]], len(errors) - self.MOST
        if more > 0:
            told.append(Fact("refused more", more=more))
        self.fact = Fact("all refused", all=tuple(told))


# What was typed, where the name of a field quotes it ("amount of 'gin'").
_QUOTED = re.compile(r"""'(?:[^'\\]|\\.){61,}'|"(?:[^"\\]|\\.){61,}["]""")


def shortened(text: str) -> str:
    """What was typed, as far as a sentence repeats it: 60 letters, its beginning and its end.

    >>> len(shortened("so " * 1000))
    60
    """
    return text if len(text) <= MOST_REPEATED else f"{text[:30]}…{text[-29:]}"


class Told(str):
    """A value in words, shown in the sentence without quotation marks ("300 g in 20 g of water")."""

    __slots__ = ()


def _shown(value: object) -> str | Amount | Fact:
    if isinstance(value, (Amount, Fact)):
        return value
    if isinstance(value, Told):
        return str(value)
    if value is None or (isinstance(value, str) and not value.strip()):
        return "empty"
    if isinstance(value, str):
        return repr(shortened(value))
    if isinstance(value, (bool, np.bool_)):
        return str(value)
    if isinstance(value, (int, float, np.integer, np.floating)):
        return plain(value)  # type: ignore[arg-type]  # an int may be larger than any float
    try:
        return shortened(" ".join(str(value).split()))
    except Exception:  # the text of somebody's own object, which may fail in any way
        return f"a {type(value).__name__}"


def require(field: str | Fact, value: object, low: float, high: float, unit: str | Kind = "", where: str = "") -> None:
    """Raise `InputError` unless every number in `value` is finite and within [low, high].

    Examples
    --------
    >>> require("temperature", 55, -20, 40, "°C")
    Traceback (most recent call last):
    drinklab.errors.InputError: temperature is 55; it must be -20 to 40 °C.
    """
    try:
        numbers = np.asarray(value, dtype=float)
    except (TypeError, ValueError, OverflowError):
        raise InputError(field, value, _range(low, high, unit), where) from None
    if numbers.size == 0:
        return
    least, most = numbers.min(), numbers.max()
    if least >= low and most <= high and np.isfinite(least) and np.isfinite(most):  # NaN fails each of these
        return
    bad = numbers[~((numbers >= low) & (numbers <= high) & np.isfinite(numbers))].flat[0]
    # Where the upper end only keeps out what no one means, the lower one says it all.
    allowed = _range(low, np.inf if high >= 1e9 and not bad > high else high, unit)
    raise InputError(field, kind_of(unit)(bad), allowed, where)


def _range(low: float, high: float, unit: str | Kind) -> Fact:
    kind = kind_of(unit)
    if np.isinf(high):
        return Fact("allowed from", low=kind(low))
    return Fact("allowed from to", low=kind(low), high=kind(high))


def unfitting(error: ValueError, given: Mapping[str, object]) -> ValueError:
    """What NumPy says of arrays whose axes do not go together, as one sentence on what was given; else the same error.

    Examples
    --------
    >>> import numpy as np
    >>> given = {"volume": np.ones(2), "abv": np.ones(3)}
    >>> try:
    ...     given["volume"] * given["abv"]
    ... except ValueError as error:
    ...     print(unfitting(error, given))
    shapes of what is given is volume (2), abv (3); it must be such that they go together, as NumPy broadcasts them.
    """
    if isinstance(error, InputError) or "broadcast" not in str(error):
        return error
    shapes = {name: getattr(value, "shape", ()) for name, value in given.items()}
    told = ", ".join(f"{name} ({' x '.join(map(str, shape))})" for name, shape in shapes.items() if shape)
    return InputError("shapes of what is given", Told(told), "such that they go together, as NumPy broadcasts them")


def one_of(field: str, value: object, choices: Iterable[str], where: str = "") -> str:
    """Return `value` if it is among `choices`, else raise and suggest the near ones.

    Examples
    --------
    >>> one_of("technique", "stired", ["stirred", "shaken"])
    Traceback (most recent call last):
    drinklab.errors.InputError: technique is 'stired'; it must be one of stirred, shaken (did you mean stirred?).
    """
    choices = list(choices)
    if isinstance(value, str) and value in choices:
        return str(value)
    near = difflib.get_close_matches(str(value)[:MOST_REPEATED], choices, n=3, cutoff=0.5)
    hint = f" (did you mean {' or '.join(near)}?)" if near else ""
    listed = ", ".join(choices) if len(choices) <= 20 else f"the {len(choices)} known"
    raise InputError(field, value, f"one of {listed}{hint}", where)
