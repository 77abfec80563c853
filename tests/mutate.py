"""Whether the tests see it when the package is changed: `python tests/mutate.py profile display physics/density`.

One constant, operator or comparison of a module is changed at random (by a seed), the module's own tests and doctests
run, and what they let pass is printed, with the share that was caught by module. Apart from CI; it works on a copy of
the checkout, a minute or so for each change. `--count 10 --seed 1 --tests "tests/test_a.py tests/test_b.py"`.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
# Beside those of its name: what every test uses is spoken of in all of them.
ALSO = {
    "recipe": ("test_words", "test_reading", "test_holes"),
    "liquid": ("test_properties", "test_holes"),
    "dilution/frozen": ("test_freezer",),
    "physics/refraction": ("test_prep",),
}
SWAPS = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.And: ast.Or, ast.Or: ast.And, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip


def places(tree: ast.AST) -> list[ast.AST]:
    """Where something can be changed: numbers, operators, comparisons; not in signatures of types."""
    skipped = {id(inner) for node in ast.walk(tree) for inner in _not_run(node)}
    return [node for node in ast.walk(tree) if id(node) not in skipped and _changed(node) is not None]


def _not_run(node: ast.AST):
    for name in ("annotation", "returns"):
        if getattr(node, name, None) is not None:
            yield from ast.walk(getattr(node, name))


def _changed(node: ast.AST) -> tuple[str, object] | None:
    """What of a node becomes what."""
    if isinstance(node, ast.Constant) and type(node.value) in (int, float):
        # A tenth more of a measure, one more of a count: what a slip of the pen would be.
        return "value", node.value + 1 if isinstance(node.value, int) else node.value * 1.1 or 0.1
    if isinstance(node, ast.BinOp | ast.BoolOp) and type(node.op) in SWAPS:
        left = getattr(node, "left", None)
        text = isinstance(left, ast.Constant | ast.JoinedStr) and not isinstance(getattr(left, "value", 0), int | float)
        return None if text else ("op", SWAPS[type(node.op)]())
    if isinstance(node, ast.Compare) and type(node.ops[0]) in SWAPS:
        return "ops", [SWAPS[type(node.ops[0])](), *node.ops[1:]]
    return None


def change(source: str, at: int) -> tuple[str, str]:
    """The module with its change number `at`, and what was changed."""
    tree = ast.parse(source)
    node = places(tree)[at]
    before = ast.unparse(node)
    setattr(node, *_changed(node))
    return ast.unparse(ast.fix_missing_locations(tree)), f"line {node.lineno}: {before}  ->  {ast.unparse(node)}"


def own_tests(module: str, most: int = 4) -> list[str]:
    """The files of tests named after a module or its package, then those that speak most of it."""
    names = module.split("/")
    files = sorted((ROOT / "tests").glob("test_*.py"))
    named = [file for name in reversed(names) for file in files if name in file.stem and "panel" not in file.stem]
    named += [file for file in files if file.stem in ALSO.get(module, ())]
    words = [
        f"{before}{name}{after}"
        for name in names
        for before, after in (("import ", "\n"), (".", " import "), (" ", "."), (" ", ","))
    ]
    count = {file: sum(file.read_text(encoding="utf-8").count(word) for word in words) for file in files}
    often = sorted((file for file in files if count[file] > 2), key=lambda file: -count[file])
    return [str(file.relative_to(ROOT)) for file in dict.fromkeys([*named, *often])][:most]


def caught(folder: Path, module_file: Path, tests: list[str], seconds: float) -> bool:
    command = [sys.executable, "-m", "pytest", "-x", "-q", "--assert=plain", "-p", "no:cacheprovider", *tests]
    own = os.environ | {"PYTHONPATH": str(folder), "DRINKLAB_DAY": "2026-01-01"}
    try:
        return bool(subprocess.run(
            [*command, str(module_file)], cwd=folder, env=own, capture_output=True, timeout=seconds
        ).returncode)  # fmt: skip
    except subprocess.TimeoutExpired:
        return True  # it hangs: nobody would miss that


def main() -> None:
    about = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    about.add_argument("modules", nargs="+", help="such as profile or physics/density")
    about.add_argument("--count", type=int, default=10, help="changes of each module")
    about.add_argument("--seed", type=int, default=1)
    about.add_argument("--tests", default="", help="files of tests, in place of the module's own")
    about.add_argument("--seconds", type=float, default=600, help="the longest that its tests may take")
    given = about.parse_args()
    shares = {}
    with tempfile.TemporaryDirectory() as temporary:
        copy = Path(temporary) / "copy"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".venv", ".git", ".*_cache", "__pycache__"))
        for module in given.modules:
            file = Path("drinklab") / f"{module}.py"
            source = (copy / file).read_text(encoding="utf-8")
            tests = given.tests.split() or own_tests(module)
            assert not caught(copy, file, tests, given.seconds), f"{module}: its tests fail as it is: {tests}"
            count = len(places(ast.parse(source)))
            chosen = random.Random(f"{given.seed} {module}").sample(range(count), min(given.count, count))
            seen = 0
            for at in sorted(chosen):
                text, told = change(source, at)
                (copy / file).write_text(text, encoding="utf-8")
                found = caught(copy, file, tests, given.seconds)
                seen += found
                if not found:
                    print(f"{module} {told}", flush=True)
            (copy / file).write_text(source, encoding="utf-8")
            shares[module] = f"{module}: {seen} of {len(chosen)} caught, of {count} places, by {' '.join(tests)}"
            print(shares[module], flush=True)


if __name__ == "__main__":
    main()
