"""What the public functions below the workbook have in common, read off the functions themselves.

Each rule has its exceptions by name; a rule that finds nothing to hold is a mistake in the test.
"""

import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import pytest

import drinklab

ROOT = Path(drinklab.__file__).parent
NAMES = [found.name for found in pkgutil.walk_packages(drinklab.__path__, "drinklab.") if ".workbook" not in found.name]
MODULES = {name.removeprefix("drinklab."): importlib.import_module(name) for name in NAMES}
FUNCTIONS = {
    f"{module}.{name}": one
    for module, of in MODULES.items() for name, one in vars(of).items()
    if inspect.isfunction(one) and not name.startswith("_") and inspect.unwrap(one).__module__ == of.__name__
}  # fmt: skip
SHARED = {"Pantry": "pantry", "Classics": "classics", "Display": "display"}  # what comes with every question
# Not held yet: the newest rooms.
NOT_YET = ("measured.", "next_glass.")


def annotations(name):
    """Parameter -> its annotation as it is written; "return" too."""
    return {word: str(of) for word, of in inspect.unwrap(FUNCTIONS[name]).__annotations__.items()}


def test_there_is_something_to_hold():
    assert len(FUNCTIONS) > 400
    assert len([name for name in FUNCTIONS if set(annotations(name).values()) & {f"{k} | None" for k in SHARED}]) > 20


@pytest.mark.parametrize("kind", SHARED)
def test_what_may_be_left_out_of_these_is_a_keyword_of_one_name(kind):
    wrong = []
    for name in FUNCTIONS:
        if name.startswith(NOT_YET):
            continue
        for word, parameter in inspect.signature(FUNCTIONS[name]).parameters.items():
            if annotations(name).get(word) == f"{kind} | None" and parameter.default is None:
                right = word == SHARED[kind] and parameter.kind is parameter.KEYWORD_ONLY
                wrong += [] if right else [f"{name}({word})"]
    assert not wrong


def test_what_is_acted_on_comes_first():
    # What reads a whole pantry, or makes one, acts on it.
    of_a_pantry = {"demo.settings", "whatif.versions.shelf_of", "reach.asked.all_on_hand", "reach.asked.on_hand"}
    wrong = []
    for name in set(FUNCTIONS) - of_a_pantry:
        first = next(iter(inspect.signature(FUNCTIONS[name]).parameters.values()), None)
        if (
            first is not None
            and first.kind is first.POSITIONAL_OR_KEYWORD
            and annotations(name).get(first.name) in SHARED
        ):
            wrong.append(name)
    assert not wrong


BARE = re.compile(r"tuple\[(?!.*, \.\.\.\]( \| None)?$)")


def test_results_have_names():
    found = {name for name in FUNCTIONS if BARE.match(annotations(name).get("return", ""))}
    handed_on = {"trial.drawn", "trial.poured"}  # what one gives the other takes, as it is
    assert {name for name in found if not name.startswith(NOT_YET)} == handed_on
    assert BARE.match("tuple[Number, Number]")
    assert not BARE.match("tuple[Fact, ...]")


AMOUNT = re.compile(
    r"\b(Millilitres|Grams|Celsius|Percent\w+|\w*Proof|GramsPerLitre|GaugeKilopascals|GasVolumes|VOLUME|MASS)\b"
)


def test_each_amount_comes_through_the_door():
    inside = {"strength.standard_drinks"}  # a Liquid or grams: the grams go through a door of their own
    taking = {
        name for name in FUNCTIONS if any(AMOUNT.search(a) for w, a in annotations(name).items() if w != "return")
    }
    assert len(taking) > 30
    assert {name for name in taking if not hasattr(FUNCTIONS[name], "__wrapped__")} == inside


def test_no_argument_changes_the_unit_of_the_result():
    numbers = {"Number", "float", "int", "np.ndarray", "float | np.ndarray"}
    # Of the errors alone: `unit` is what the sentence names.
    told = {"dilution.ice.given"}
    # A reader is told what it reads; it gives that kind's own unit.
    readers = {"units.number", "units.read", "teach.checking.read", "teach.chosen.turned_back"}
    # A unit is what is acted on, and its size is the answer.
    sizes = {"teach.chosen.own_size"}
    asked = {
        name for name in FUNCTIONS
        if not name.startswith(NOT_YET) and {"unit", "units", "per", "kind"} & set(annotations(name)) and annotations(name).get("return") in numbers
    }  # fmt: skip
    assert asked == told | readers | sizes


def test_a_function_has_one_address():
    """A module has what it defines; a package speaks for its own modules alone."""
    kept = {"schedule.py"}  # the lesson on filtering and its plan are one page
    lent = {
        str(file.relative_to(ROOT)) for file in ROOT.rglob("*.py")
        if file.name != "__init__.py" and "workbook" not in file.parts and "noqa: F401" in file.read_text(encoding="utf-8")
    }  # fmt: skip
    assert lent == kept
    packages = {name: of for name, of in MODULES.items() if hasattr(of, "__path__")}
    assert len(packages) > 15
    foreign = {
        f"{name}.{word}" for name, of in packages.items() for word, one in vars(of).items()
        if inspect.isfunction(one) and not inspect.unwrap(one).__module__.startswith(of.__name__)
    }  # fmt: skip
    assert not foreign
    for name in ("profile", "place", "reach", "reference", "shown"):
        assert not hasattr(drinklab.balance, name)
