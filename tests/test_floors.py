"""The plan of the house: who may import whom, what loads when, and what lies at the top of the repository."""

import ast
import functools
import graphlib
import subprocess
import sys
from pathlib import Path

import pytest
from long_run import dozen

import drinklab

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "drinklab"

# From the ground up. A module may import from its own floor (without a circle) and from those below.
# A folder stands for everything in it.
FLOORS = (
    {"errors", "facts", "kinds", "units", "display", "tables", "texts", "files", "plain_data", "physics"},
    {
        "liquid",
        "steps",
        "names",
        "foods",
        "spirited",
        "hazards",
        "learned",
        "ingredient",
        "pantry",
        "recipe",
        "handling",
        "declared",
        "classics",
    },
    {
        "strength",
        "dilution",
        "profile",
        "balance",
        "reach",
        "prep",
        "own",
        "milk",
        "filtering",
        "schedule",
        "carbonation",
        "boiling",
        "gels",
    },
    {
        "setting",
        "stage",
        "measured",
        "demo",
        "forgiving",
        "trial",
        "whatif",
        "logbook",
        "making",
        "service",
        "cards",
        "menu",
        "writeup",
        "tasting",
        "batch",
        "cost",
        "share",
        "teach",
        "next_glass",
    },
    {"workbook", *(f"workbook.{name}" for name in ("launch", "way_in", "server", "warm", "ahead", "comms", "engine"))},
    {"workbook.charts"},
    {"workbook.parts"},
    {"workbook.panels"},
)
FLOOR_OF = {room: number for number, rooms in enumerate(FLOORS) for room in rooms}
SLOW_TO_LOAD = {"altair", "babel", "PIL", "ipywidgets", "anywidget", "scipy", "pandas", "pint", "segno", "jinja2"}


def modules():
    """Dotted name inside the package -> file."""
    found = {}
    for file in sorted(PACKAGE.rglob("*.py")):
        parts = file.relative_to(PACKAGE).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = file
    return found


MODULES = modules()


def absolute(name, file, node):
    """Full dotted names that an import statement may load."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if node.level == 0:
        base = node.module
    else:
        here = ["drinklab", *filter(None, name.split("."))]
        if file.name != "__init__.py":
            here = here[:-1]
        here = here[: len(here) - (node.level - 1)]
        base = ".".join([*here, *filter(None, [node.module])])
    return [f"{base}.{alias.name}" for alias in node.names]


def for_types(found):
    """Import statements, of these nodes, that only a type checker follows."""
    for node in found:
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            yield from node.body


@functools.cache
def nodes(code):
    return list(ast.walk(ast.parse(code)))


@functools.cache
def import_statements(code, types):
    """Of a module's text, also inside functions; without those that only a type checker follows, if so asked."""
    left = () if types else set(for_types(nodes(code)))
    return [node for node in nodes(code) if node not in left and isinstance(node, (ast.Import, ast.ImportFrom))]


def imports(name, types=True):
    """Everything that a module imports, also inside functions, as (our module or None, full name)."""
    file = MODULES[name]
    for node in import_statements(file.read_text(encoding="utf-8"), types):
        for full in absolute(name, file, node):
            if full == "drinklab" or full.startswith("drinklab."):
                inner = full.removeprefix("drinklab").lstrip(".")
                while inner and inner not in MODULES:  # a name in a module, not a module
                    inner = inner.rpartition(".")[0]
                yield inner, full
            else:
                yield None, full


def floor(module):
    return FLOOR_OF[room(module)]


def room(module):
    """`gels`, `workbook.charts`: rooms of the workbook have floors of their own."""
    parts = module.split(".")
    return ".".join(parts[: 2 if parts[0] == "workbook" else 1])


def test_every_module_has_a_floor_and_every_room_exists():
    rooms = {room(name) for name in MODULES if name}
    assert rooms == set(FLOOR_OF)
    assert sum(map(len, FLOORS)) == len(FLOOR_OF), "a room is on one floor only"


@pytest.mark.parametrize("name", [n for n in MODULES if n])
def test_imports_point_down(name):
    for ours, full in imports(name):
        # `import drinklab` itself is for people; inside, name the module.
        assert ours != "" or full == "drinklab.__version__", f"{name} imports {full}; name the module it needs"
        if ours:
            assert floor(ours) <= floor(name), f"{name} (floor {floor(name)}) imports {full} (floor {floor(ours)})"


def test_no_circles():
    graph = {
        name: {
            ours for ours, _ in imports(name, types=False) if ours and ours != name and not name.startswith(f"{ours}.")
        }
        for name in MODULES
        if name
    }
    list(graphlib.TopologicalSorter(graph).static_order())  # raises CycleError and names the circle


MOST_LINES, MOST_OF_A_FUNCTION = 600, 80  # of a file; of a function without its docstring


@functools.cache
def functions(code):
    """Every function in a module's text and its lines, a docstring not counted."""
    found = []
    for node in nodes(code):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            said = node.body[0] if ast.get_docstring(node, clean=False) is not None else None
            lines = node.end_lineno - node.lineno + 1
            found.append((node.name, lines - (said.end_lineno - said.lineno + 1 if said else 0)))
    return found


def test_files_and_functions_are_short():
    code = {name: file.read_text(encoding="utf-8") for name, file in MODULES.items()}
    long = [name for name, text in code.items() if len(text.splitlines()) > MOST_LINES]
    long += [f"{name}.{f}" for name, text in code.items() for f, lines in functions(text) if lines > MOST_OF_A_FUNCTION]
    assert not long, "take out what is a thing of its own"


def test_no_private_name_is_imported():
    """What another module uses is public, with a docstring."""
    for name in MODULES:
        for ours, full in imports(name):
            last = full.rpartition(".")[2]
            assert ours is None or last.startswith("__") or not last.startswith("_"), f"{name} imports {full}"


def test_physics_is_plain_numbers():
    for name in MODULES:
        if name.split(".")[0] == "physics":
            for ours, full in imports(name):
                assert full.split(".")[0] != "pint", f"{name} imports {full}"
                assert ours is None or ours.split(".")[0] in ("physics", "errors", "facts", "kinds"), (
                    f"{name} imports {full}"
                )


def test_only_the_top_floor_draws():
    for name in MODULES:
        if not name.startswith(("workbook", "writeup")):
            for _, full in imports(name):
                assert full.split(".")[0] not in {"altair", "ipywidgets", "anywidget", "IPython"}, f"{name}: {full}"


def test_the_package_imports_nothing_of_its_own_at_once():
    top = ast.parse(MODULES[""].read_text(encoding="utf-8"))
    found = [n for n in top.body if isinstance(n, (ast.Import, ast.ImportFrom))]
    assert not [n for n in found if isinstance(n, ast.ImportFrom) and n.level], "modules load when first used"


def test_every_module_opens_by_its_name():
    """`dl.errors`, `dl.reach`: in a fresh Python, whichever of the day's dozen is asked for first."""
    rooms = sorted({name.partition(".")[0] for name in MODULES if name} - {"workbook"})
    assert sorted(drinklab.__all__) == rooms
    forget = "for m in [m for m in sys.modules if m[:9] == 'drinklab.']: del sys.modules[m]; vars(dl).pop(m[9:], None)"
    loaded_after("\n".join(["import drinklab as dl", *(f"dl.{room}\n{forget}" for room in dozen(rooms))]))


def loaded_after(code):
    run = subprocess.run(
        [sys.executable, "-c", f"import sys\n{code}\nprint(*sys.modules)"],
        capture_output=True, text=True, cwd=ROOT, check=True,
    )  # fmt: skip
    return {module.partition(".")[0] for module in run.stdout.split()}


def test_import_is_light():
    loaded = loaded_after("import drinklab")
    assert "drinklab" in loaded
    assert not loaded & SLOW_TO_LOAD


def test_altair_is_loaded_by_its_one_door():
    """`charts.alt` loads it late and without a grammar that takes seconds: an import of its own did so in each kernel."""
    assert [name for name in MODULES for _, full in imports(name) if full.partition(".")[0] == "altair"] == []


def test_a_lesson_needs_no_charts_nor_unit_library():
    loaded = loaded_after("import drinklab as dl; dl.strength.water_to_reach('1 L', 63, 46); dl.dilution.stirred(25)")
    assert "numpy" in loaded
    assert not loaded & SLOW_TO_LOAD


# --- the top of the repository ---------------------------------------------------------------------------
AT_THE_TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "notebooks", "drinklab", "datasets", "tests"}


def test_the_top_of_the_repository():
    if not (ROOT / ".git").exists():
        pytest.skip("not a checkout: nothing to list")
    run = subprocess.run(
        ["git", "-c", f"safe.directory={ROOT}", "ls-files", "--cached", "--others", "--exclude-standard"],
        capture_output=True, text=True, cwd=ROOT, check=True,
    )  # fmt: skip
    top = {line.strip('"').partition("/")[0] for line in run.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= AT_THE_TOP
    assert {"drinklab", "datasets", "tests", "pyproject.toml"} <= top


# --- the rules above can be broken --------------------------------------------------------------------------
def read_as(name, code, monkeypatch, tmp_path):
    file = tmp_path / f"{name.rpartition('.')[2]}.py"
    file.write_text(code, encoding="utf-8")
    monkeypatch.setitem(MODULES, name, file)


@pytest.mark.parametrize(
    ("name", "code", "broken"),
    [
        ("physics.density", "from ..units import to_ml", test_physics_is_plain_numbers),
        ("physics.density", "def f():\n    import pint", test_physics_is_plain_numbers),
        ("liquid", "from . import strength", lambda: test_imports_point_down("liquid")),
        ("liquid", "def f():\n    from .balance import profile", lambda: test_imports_point_down("liquid")),
        ("physics.density", "from ..liquid import Liquid", lambda: test_imports_point_down("physics.density")),
        ("balance", "import drinklab.trial", lambda: test_imports_point_down("balance")),
        ("balance", "import drinklab", lambda: test_imports_point_down("balance")),
        ("recipe", "from . import classics", test_no_circles),
        ("strength", "import altair", test_only_the_top_floor_draws),
        ("strength", "x = 1\n" * 601, test_files_and_functions_are_short),
        ("strength", "def f():\n" + "    x = 1\n" * 80, test_files_and_functions_are_short),
        ("strength", "from .liquid import _x", test_no_private_name_is_imported),
        ("cellar", "", test_every_module_has_a_floor_and_every_room_exists),
    ],
)
def test_a_broken_rule_is_noticed(name, code, broken, monkeypatch, tmp_path):
    read_as(name, code, monkeypatch, tmp_path)
    with pytest.raises((AssertionError, graphlib.CycleError)):
        broken()
