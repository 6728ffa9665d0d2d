"""The house's floors: imports point down; importing the library is light and changes nothing."""

from __future__ import annotations

import ast
import importlib
import inspect
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

import drainpump
from drainpump.doors import offered

ROOT = Path(drainpump.__file__).parent
#: the rooms in the order of the work; a room imports only from rooms above it
ROOMS = (
    "physics", "parts", "inflow", "solve", "cycling", "routing", "doubt", "limits", "why",
    "choose", "field", "plots", "paper", "teach",
)  # fmt: skip
FLOORS = {room: floor for floor, room in enumerate(ROOMS, 1)}
GROUND = {
    "data_files.py",
    "doors.py",
    "units.py",
    "foreign.py",
    "work_budget.py",
    "errors.py",
    "states.py",
    "results.py",
    "findings.py",
}
#: the rooms whose names are reached by their own door
NAMED = ("inflow", "field", "choose.size", "teach")
#: the door and the roof may import everything; nothing imports the roof
EXEMPT = {"__init__.py", "__main__.py"}
# mpl_toolkits is part of matplotlib
PACKAGES = {"numpy", "scipy", "pandas", "matplotlib", "mpl_toolkits"}
LAZY = {"pandas", "matplotlib", "mpl_toolkits"}
#: files of one room, doors aside: about a dozen
MOST_FILES = 14
#: rooms that hold more, and why
FULL_ROOMS = {"plots": "one file a picture; to be split into a frame and its pictures"}
MOST_LINES = 400
#: files that are longer, and why
LONG_FILES = {
    "units.py": "how a quantity comes in, is kept and goes out is told in one place",
}

MODULES = sorted(ROOT.rglob("*.py"))


def name_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def floor_of(parts: tuple[str, ...]) -> int | None:
    """Floor of ``drainpump.a.b``, given as ("a", "b"); None for the door and the roof."""
    if not parts:
        return None
    if parts[0] in FLOORS:
        return FLOORS[parts[0]]
    return 0 if f"{parts[0]}.py" in GROUND else None


def imports(tree: ast.AST) -> Iterator[tuple[str, ...]]:
    """Every imported module as its parts; ``from drainpump import units`` names units."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield tuple(alias.name.split("."))
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written out in full"
            base = tuple((node.module or "").split("."))
            for alias in node.names:
                yield (*base, alias.name) if base[0] == "drainpump" else base


def outermost(tree: ast.Module) -> Iterator[ast.AST]:
    """Statements that run when the module is imported: no functions, no TYPE_CHECKING."""
    todo: list[ast.stmt] = list(tree.body)
    while todo:
        node = todo.pop()
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            continue
        yield node
        todo += [child for child in ast.iter_child_nodes(node) if isinstance(child, ast.stmt)]


def test_every_module_has_a_floor():
    for path in MODULES:
        if path.parent == ROOT:
            assert path.name in GROUND | EXEMPT, name_of(path)
        else:
            assert path.relative_to(ROOT).parts[0] in FLOORS, name_of(path)


@pytest.mark.parametrize("path", [p for p in MODULES if name_of(p) not in EXEMPT], ids=name_of)
def test_imports_point_down(path):
    own = floor_of(Path(name_of(path)).with_suffix("").parts)
    up = []
    for target in imports(ast.parse(path.read_text(encoding="utf-8"))):
        if target[0] != "drainpump":
            continue
        floor = floor_of(target[1:])
        # `import drainpump` itself would lead back through the door
        if floor is None or floor > own:
            up.append(".".join(target))
    assert up == []


def graph() -> dict[str, set[str]]:
    """Which file imports which, doors and the roof aside: at any depth, types only included."""
    files = {
        name_of(path).removesuffix(".py").replace("/", "."): path
        for path in MODULES
        if path.name not in EXEMPT
    }
    found: dict[str, set[str]] = {}
    for name, path in files.items():
        targets = (t[1:] for t in imports(ast.parse(path.read_text(encoding="utf-8"))))
        # the last part is a file, or a name in it
        near = {".".join(part) for t in targets for part in (t, t[:-1])}
        found[name] = near & set(files)
    return found


def circles(arrows: dict[str, set[str]]) -> set[frozenset[str]]:
    """The sets of nodes that reach each other."""

    def reached(start: str) -> set[str]:
        seen: set[str] = set()
        todo = [start]
        while todo:
            new = arrows[todo.pop()] - seen
            seen |= new
            todo += new
        return seen

    ways = {node: reached(node) for node in arrows}
    return {frozenset(b for b in ways[a] if a in ways[b]) for a in ways if a in ways[a]}


def test_circles_are_found():
    arrows = {"a": {"b"}, "b": {"c"}, "c": {"b", "d"}, "d": {"d"}, "e": {"a"}}
    assert circles(arrows) == {frozenset("bc"), frozenset("d")}


def test_no_file_imports_itself_by_way_of_others():
    arrows = graph()
    # the graph sees names, modules, functions' own imports and those for types only
    assert "units" in arrows["solve.crossing"]
    assert "parts.line.line" in arrows["paper.as_built_record"]
    assert circles(arrows) == set()


def test_what_is_private_is_private_to_a_room():
    """``thing._x`` of a thing made elsewhere; a file's own things, and a room's, are its own."""
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in MODULES}
    # of results and parts every room makes its own
    shared = names_made(trees[ROOT / "results.py"]) | names_made(trees[ROOT / "parts/part.py"])
    rooms: dict[str, set[str]] = {}
    for path, tree in trees.items():
        room = path.relative_to(ROOT).parts[0]
        rooms[room] = rooms.get(room, shared) | names_made(tree)
    foreign = [
        f"{name_of(path)}:{node.lineno} {ast.unparse(node)}"
        for path, tree in trees.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute)
        and node.attr.startswith("_")
        and not node.attr.endswith("__")
        and ast.unparse(node.value) not in ("self", "cls", "super()")
        and node.attr not in rooms[path.relative_to(ROOT).parts[0]]
    ]
    # of the standard library: a named tuple's, and the frame of a call
    assert [x for x in foreign if not x.endswith(("._replace", "sys._getframe"))] == []


def names_made(tree: ast.AST) -> set[str]:
    """Names that a file gives to functions, fields and attributes."""
    made = {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}
    targets = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Name | ast.Attribute) and isinstance(node.ctx, ast.Store)
    ]
    return made | {x.id if isinstance(x, ast.Name) else x.attr for x in targets}


def test_rooms_and_files_are_small_enough_to_be_seen_whole():
    rooms = Counter(path.parent.relative_to(ROOT).as_posix() for path in MODULES)
    doors = Counter(
        path.parent.relative_to(ROOT).as_posix() for path in MODULES if path.name in EXEMPT
    )
    assert {room for room, n in (rooms - doors).items() if n > MOST_FILES} == set(FULL_ROOMS)
    long = {
        name_of(path)
        for path in MODULES
        if len(path.read_text(encoding="utf-8").splitlines()) > MOST_LINES
    }
    # a file that got shorter leaves the list
    assert long == set(LONG_FILES)


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_only_the_declared_packages_are_imported(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    outside = {
        target[0]
        for target in imports(tree)
        if target[0] not in sys.stdlib_module_names | {"drainpump", "__future__"}
    }
    assert outside <= PACKAGES
    if "matplotlib" in outside:
        # a picture of a curve is read with what matplotlib brings
        reads = path.relative_to(ROOT).as_posix() == "parts/pump/picture.py"
        assert reads or path.relative_to(ROOT).parts[0] in ("plots", "__main__.py")


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_pandas_and_matplotlib_wait_until_they_are_needed(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    eager = {
        target[0]
        for node in outermost(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for target in imports(node)
    }
    assert not eager & LAZY


def run(code: str) -> str:
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout


def test_importing_brings_in_neither_pandas_nor_matplotlib():
    code = (
        "import sys, drainpump as dp\n"
        "pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)\n"
        "line = dp.straight_line(pipe=dp.pvc('2'), length_ft=150, lift_ft=6)\n"
        "pump = dp.PumpCurve(flow_gpm=[0, 50], head_ft=[20, 0])\n"
        "dp.cycle(pump, line, pit, inflow_gpm=10).require()\n"
        "print(sorted({'pandas', 'matplotlib'} & set(sys.modules)))\n"
    )
    assert run(code).strip() == "[]"


def test_importing_and_drawing_change_no_option():
    code = (
        "import os; os.environ['MPLBACKEND'] = 'Agg'\n"
        "import warnings, numpy as np, pandas as pd, matplotlib as mpl, matplotlib.pyplot\n"
        "import scipy.interpolate, scipy.optimize  # scipy itself adds a warning filter\n"
        "from matplotlib import units as mu\n"
        "def state():\n"
        "    return (np.get_printoptions(), np.geterr(), list(warnings.filters),\n"
        "            pd.describe_option(_print_desc=False), dict(mpl.rcParams),\n"
        "            dict(mu.registry))\n"
        "before = state()\n"
        "import drainpump as dp\n"
        "line = dp.straight_line(pipe=dp.pvc('2'), length_ft=150, lift_ft=6)\n"
        "pump = dp.PumpCurve(flow_gpm=[0, 50], head_ft=[20, 0])\n"
        "dp.operating_point(pump, line).to_frame()\n"
        "dp.plots.duty(pump, line)\n"
        "print([a == b for a, b in zip(before, state())])\n"
    )
    assert run(code).strip() == str([True] * 6)


def test_the_roof_runs_and_nothing_imports_it():
    for path in MODULES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        assert ("drainpump", "__main__") not in {t[:2] for t in imports(tree)}, name_of(path)


@pytest.mark.parametrize("door", ["drainpump", *(f"drainpump.{r}" for r in NAMED)])
def test_what_tools_see_is_what_the_program_loads(door: str) -> None:
    room = importlib.import_module(door)
    seen = offered(f"{room.__file__}i")
    assert sorted(seen) == room.__all__
    for name, (module, origin) in seen.items():
        home = importlib.import_module(module)
        wanted = getattr(home, origin, None) or importlib.import_module(f"{module}.{origin}")
        # a function is asked by way of the door
        assert inspect.unwrap(getattr(room, name)) is inspect.unwrap(wanted), name
        # a module of the same name would hide it
        assert not inspect.ismodule(wanted) or door == "drainpump", name


@pytest.mark.parametrize("room", ["inflow", "field", "size", "teach"])
def test_a_name_that_moved_says_where_it_lives(room: str) -> None:
    import drainpump as dp

    for name in sorted(set(getattr(dp, room).__all__) - set(dp.__all__)):
        with pytest.raises(AttributeError) as err:
            getattr(dp, name)
        assert str(err.value) == (f"drainpump.{name} has moved: it is drainpump.{room}.{name} now")


def test_a_name_that_is_not_there_says_so() -> None:
    import drainpump as dp

    with pytest.raises(AttributeError) as err:
        _ = dp.pmup_curve
    assert str(err.value) == "module 'drainpump' has no attribute 'pmup_curve'"
    assert set(dp.__all__) <= set(dir(dp))
