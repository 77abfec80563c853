"""Every fact has its sentence and every sentence its fact, and none names a unit that was not chosen.

The facts are read out of the package's own source: each call of `Fact` and `Caution` with its code and its numbers, so
that one which no test comes by is walked as well.
"""

import ast
import functools
import re
import string
from pathlib import Path

import pytest

from drinklab import declared, facts, hazards, kinds, making
from drinklab.display import Display
from drinklab.errors import InputError, InputErrors, require
from drinklab.facts import Fact

PACKAGE = Path(facts.__file__).parent
KINDS = {name: kind for name, kind in vars(kinds).items() if isinstance(kind, kinds.Kind)}
METRIC, US, BAR = Display(), Display("oz", "°F"), Display(gauge="bar")
_NUMBER = r"\d[\d.,]* ?(?:to \d[\d.,]* )?"
OTHER = {
    METRIC: re.compile(rf"{_NUMBER}(?:°F|oz\b|psi\b|bar\b)"),
    US: re.compile(rf"{_NUMBER}(?:°C|mL\b|kPa\b|bar\b|L\b)"),
    BAR: re.compile(rf"{_NUMBER}(?:°F|oz\b|psi\b|kPa\b)"),
}
CONCENTRATION = re.compile(r"each 100 mL|g in 100 mL|to 100 mL")


def _codes(node: ast.expr) -> list[str]:
    """The code of a call, or both of "this if so else that"."""
    if isinstance(node, ast.IfExp):
        return _codes(node.body) + _codes(node.orelse)
    return [node.value] if isinstance(node, ast.Constant) and isinstance(node.value, str) else []


def _kind(node: ast.expr):
    """What a number is, as far as the source says: a kind, or None for words and plain numbers."""
    called = node.func if isinstance(node, ast.Call) else None
    name = getattr(called, "attr", getattr(called, "id", None))
    return KINDS.get(name)


@functools.cache
def _nodes(code: str) -> list[ast.AST]:
    return list(ast.walk(ast.parse(code)))


def _calls(file: Path):
    """(code, its numbers by name, whether a caution) of each fact that a file makes."""
    code = file.read_text(encoding="utf-8")
    if "Fact(" not in code and "Caution(" not in code:  # most make none
        return
    nodes = _nodes(code)
    tables = {
        target.id: node.value
        for node in nodes if isinstance(node, ast.Assign) and isinstance(node.value, ast.Dict)
        for target in node.targets if isinstance(target, ast.Name)
    }  # fmt: skip
    for node in nodes:
        if not isinstance(node, ast.Call) or getattr(node.func, "id", "") not in ("Fact", "Caution") or not node.args:
            continue
        given = {}
        for word in node.keywords:
            if word.arg is not None:
                given[word.arg] = _kind(word.value)
            elif isinstance(word.value, ast.Name) and word.value.id in tables:
                table = tables[word.value.id]
                given |= {key.value: _kind(value) for key, value in zip(table.keys, table.values, strict=True)}
        for code in _codes(node.args[0]):
            yield code, given, node.func.id == "Caution"


@functools.cache
def _made():
    return [(file.relative_to(PACKAGE), *call) for file in sorted(PACKAGE.rglob("*.py")) for call in _calls(file)]


# Made from what is read or asked, not from a code in the source: a bottle's cautions, and a range's own figures.
BY_NAME = {code.replace("_", " ") for code in declared.OF_BOTTLES} | {*making.MIX.values()} | {*hazards.CODES}


@functools.cache
def _numbers():
    """The kind of each number of each fact."""
    found = {}
    for _, code, given, _ in _made():
        known = found.setdefault(code, {})
        known.update({name: kind for name, kind in given.items() if kind or name not in known})
    return found


def _fields(code):
    return {name: spec for name, spec in facts.templates()[code] if name is not None and not facts.is_stated(name)}


def _example(code):
    """A fact with numbers that a template can write."""
    given = {}
    for name, spec in _fields(code).items():
        kind = _numbers().get(code, {}).get(name)
        if kind is not None:
            given[name] = kind(30.0)
        elif re.search(r"[dfg]$", spec) and not set(spec) & set("nv"):
            given[name] = 30.0
        else:
            given[name] = ("this", "that") if spec in ("and", "or", "commas", "lines") else "this"
    return Fact(code, **given)


def test_each_fact_has_a_template_and_each_template_its_fact():
    made = {code for _, code, _, _ in _made()} | BY_NAME
    assert made == set(facts.templates())


def test_no_code_stands_twice():
    files = [facts.read(file) for file in facts.WORDS.glob("*.toml")]
    assert len(facts.templates()) == sum(map(len, files))


def test_a_fact_brings_just_the_numbers_of_its_template():
    wrong = [(str(file), code) for file, code, given, _ in _made() if set(given) != set(_fields(code))]
    assert not wrong


def test_cautions_are_those_of_the_list():
    listed = facts.read(facts.WORDS / "cautions.toml")
    assert {code for _, code, _, caution in _made() if caution} | {
        code.replace("_", " ") for code in declared.OF_BOTTLES
    } | {*hazards.CODES} == set(listed)


@pytest.mark.parametrize("display", OTHER, ids=("metric", "US", "bar"))
def test_no_sentence_names_a_unit_that_was_not_chosen(display):
    said = {code: CONCENTRATION.sub("", display.say(_example(code))) for code in facts.templates()}
    assert all(said.values())
    assert not [text for text in said.values() if OTHER[display].search(text)]


# Where a number stands beside a unit in the source itself: what one may type, what a file or a printed table holds, and
# what a source has printed.
TYPED = re.compile(r"'[^']*'")
IN_ITS_OWN_UNIT = {
    "making.py", "recipe.py", "units.py", "writeup/linked.py", "writeup/sources.py",  # a pour as typed, ounces in eighths, schema.org
    "whatif/moves.py",  # a measure's default
    "milk/curd.py",  # sources of figures
    "cards/spec_card.py",  # the marks of a jigger
    "cost/prices.py",  # a list's own columns
}  # fmt: skip
_WRITTEN = re.compile(r"(?:\d|\}) ?(?:mL|°C|kPa|°F|psi|oz)(?![\w/])")


def _texts(code: str) -> list[str]:
    """What a module itself says: its texts, but for docstrings, each number in one as {}."""
    nodes = _nodes(code)
    apart = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    apart |= {id(part) for node in nodes if isinstance(node, ast.JoinedStr) for part in node.values}
    texts = [node.value for node in nodes
             if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in apart]  # fmt: skip
    texts += ["".join(part.value if isinstance(part, ast.Constant) else "{}" for part in node.values)
              for node in nodes if isinstance(node, ast.JoinedStr)]  # fmt: skip
    return texts


def _units_in(code: str) -> list[str]:
    """Texts of a module that have a number beside a unit."""
    return [text for text in _texts(code) if _WRITTEN.search(TYPED.sub("", text))]


# A sentence, or the end of one: three words, and a full stop behind them.
_SENTENCE = re.compile(r"\w+,? \w+,? .*[^. \d][.!?]( \{\})?$")


def test_no_module_says_a_sentence_of_its_own():
    found = {
        str(file.relative_to(PACKAGE)) for file in PACKAGE.rglob("*.py")
        if any(map(_SENTENCE.search, _texts(file.read_text(encoding="utf-8"))))
    }  # fmt: skip
    assert all(name.startswith("workbook/charts/") for name in found), found
    assert all(map(_SENTENCE.search, _texts('x = f"It holds {n} of it."\ny = "No price is known."')))
    assert not any(map(_SENTENCE.search, _texts('"""It is one."""\nx = "a number of", "a line to fill in", "bar.csv"')))


def test_no_module_below_the_workbook_writes_a_number_in_a_unit_of_its_own():
    found = {
        str(file.relative_to(PACKAGE)) for file in PACKAGE.rglob("*.py") if _units_in(file.read_text(encoding="utf-8"))
    }
    assert {name for name in found if not name.startswith("workbook/")} <= IN_ITS_OWN_UNIT
    assert _units_in('x = f"at most {most:.0f} mL"\ny = "keep at 4 °C"') == ["keep at 4 °C", "at most {} mL"]
    assert not _units_in('"""4 °C."""\nx = "such as \'45 mL\'", f"{dose:.2f} mL/g"')


def test_the_walk_notices_a_unit_that_stands_in_a_sentence(monkeypatch):
    for sentence in ("Keep it at 4 °C.", "Add 20 to 30 mL."):
        assert OTHER[US].search(sentence)
    pieces = tuple(facts.pieces("Keep {water} at {4 °C} or 39 °F."))
    monkeypatch.setitem(facts.templates(), "odd", pieces)
    assert METRIC.say(Fact("odd", water=kinds.VOLUME(30))) == "Keep 30 mL at 4 °C or 39 °F."
    assert OTHER[METRIC].search(METRIC.say(Fact("odd", water=kinds.VOLUME(30))))


# --- how a number is written ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("template", "said", "in_us"),
    [
        ("It is {t}.", "It is −3 °C.", "It is 26 °F."),
        ("It is {t:.1}.", "It is −3.2 °C.", "It is 26.2 °F."),
        ("It is {t:n} and {t:g}.", "It is −3 and -3.2 °C.", "It is 26 and 26.2 °F."),
        ("{v} or {v:.0}", "90 mL or 90 mL", "3.04 oz or 3.04 oz"),
        ("{small}", "7.3 mL", "0.25 oz"),
        ("{by}", "3 °C", "5 °F"),
        ("{sure}", "3 ± 1 °C", "37 ± 2 °F"),
        ("{p}", "583 kPa", "85 psi"),
        ("{4 °C}, {57 bar}, {8 to 10 °C}", "4 °C, 5700 kPa, 8 to 10 °C", "39 °F, 827 psi, 46 to 50 °F"),
        ("{abv:.0}, {inside}", "17 % vol, Add 90 mL of plain water.", "17 % vol, Add 3.04 oz of plain water."),
        ("{names} / {names:and} / {names:or}", "a, b, c / a, b and c / a, b or c", "a, b, c / a, b and c / a, b or c"),
        ("{batch}", "1.5 L", "51 oz"),
    ],
)  # fmt: skip
def test_numbers_in_either_way_of_measuring(template, said, in_us, monkeypatch):
    # -3.2 * 1.8 + 32 = 26.24; 90 / 29.5735 = 3.043; 583 / 6.8948 = 84.56; 5700 / 6.8948 = 826.7; 1500 / 29.5735 = 50.7
    monkeypatch.setitem(facts.templates(), "tried", tuple(facts.pieces(template)))
    fact = Fact(
        "tried", t=kinds.TEMPERATURE(-3.2), v=kinds.VOLUME(90), small=kinds.VOLUME(7.32), by=kinds.WARMER(3),
        sure=kinds.TEMPERATURE(3, 1), p=kinds.PRESSURE(583), abv=kinds.ABV(17.4), names=("a", "b", "c"),
        inside=Fact("add water", water=kinds.VOLUME(90)), batch=kinds.LITRES(1.5),
    )  # fmt: skip
    assert (METRIC.say(fact), US.say(fact)) == (said, in_us)
    assert fact.text == said


@pytest.mark.parametrize(
    ("given", "said", "in_us"),
    [
        (("volume", 30, 40, 60, "mL"), "volume is 30; it must be 40 to 60 mL.", "volume is 1.01 oz; it must be 1.35 to 2.03 oz."),
        (("volume", 30, 60, float("inf"), "mL"), "volume is 30; it must be a number of at least 60 mL.", "volume is 1.01 oz; it must be a number of at least 2.03 oz."),
        (("ice temperature", 10, -25, 0, "°C"), "ice temperature is 10; it must be -25 to 0 °C.", "ice temperature is 50 °F; it must be −13 to 32 °F."),
        (("limit", 3000, 0, 2000, "kPa gauge"), "limit is 3000; it must be 0 to 2000 kPa gauge.", "limit is 435 psi gauge; it must be 0 to 290 psi gauge."),
        (("share", 2, 0, 1, "mL to a mL of drink"), "share is 2; it must be 0 to 1 mL to a mL of drink.", None),
        (("volume", float("inf"), 0, 60, "mL"), "volume is a number without end; it must be 0 to 60 mL.", "volume is a number without end; it must be 0 to 2.03 oz."),
        (("abv", 140, 0, 100, "% vol"), "abv is 140; it must be 0 to 100 % vol.", None),
    ],
)  # fmt: skip
def test_a_refused_number_in_either_way_of_measuring(given, said, in_us):
    with pytest.raises(InputError) as caught:
        require(*given)
    assert str(caught.value) == METRIC.say(caught.value) == said
    assert US.say(caught.value) == (in_us or said)
    assert str(caught.value.at("line 2")) == f"line 2: {said}"
    several = InputErrors([caught.value.at("line 2")] * 12)
    assert US.say(several).splitlines()[-1] == "So it is with 2 more."
    assert US.say(several).splitlines()[0] == f"line 2: {in_us or said}"


def test_what_was_typed_is_never_a_template():
    assert str(InputError("name", "{4 °C} {x}", "plain {words}")) == "name is '{4 °C} {x}'; it must be plain {words}."
    assert Fact("of one's own", text="a {b}").text == "a {b}"


def test_templates_use_no_more_of_python_than_names():
    for code, template in facts.templates().items():
        for name, spec in template:
            assert name is None or facts.is_stated(name) or name.isidentifier(), code
            assert name is None or not set(spec) - set(string.ascii_lowercase + string.digits + ".+"), code


def test_facts_are_values():
    one, same = (Fact("add water", water=kinds.VOLUME(90)) for _ in range(2))
    assert one == same
    assert {one: 1}[same] == 1
    assert one != Fact("add water", water=kinds.VOLUME(91))
    assert repr(Fact("rest cold")) == "Fact('rest cold')"
