"""``python -m tests.mutation make | map | run SEED SHARE FILE``: how many mutants the tests kill.

For a scratch clone with mutmut installed, see DEVELOPERS.md. mutmut makes the mutants; they
are tried here, each in a fork that imports the tests anew, because tables that are read once
and parts that a test module builds as it is imported would otherwise stay unmutated.
"""

from __future__ import annotations

import ast
import doctest
import importlib
import json
import os
import pkgutil
import random
import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

#: the clone, also where the mutants' own tests import this
HERE = Path.cwd().parent if Path.cwd().name == "mutants" else Path.cwd()
MUTANTS = HERE / "mutants"
#: left out: they start other processes, walk signatures, or draw
SKIP = (
    "notebooks readme main threads imports api show plots_teach plot_check_up plot_duty plot_labels"
)
#: left out by name: they look at a warning's line, which the mutants' wrappers move, or are slow
NOT = "million or caller or process or any_one_value_changed or both_readings"
ARGS = ["tests", *(f"--ignore=tests/test_{name}.py" for name in SKIP.split()), "-k", f"not ({NOT})"]
QUIET = ["--rootdir=.", "-q", "--tb=no", "-p", "no:cacheprovider",
         "-W", "ignore::pytest.PytestAssertRewriteWarning"]  # fmt: skip
#: seconds of tests that a mutant must survive, the likeliest to kill it first
ENOUGH = float(os.environ.get("ENOUGH", "10"))


def docstrings() -> list[tuple[str, str]]:
    """Module and docstring of each example in the unmutated source."""
    found = []
    for path in sorted((HERE / "drainpump").rglob("[!_]*.py")):
        module = ".".join(path.relative_to(HERE).with_suffix("").parts)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Module):
                text = ast.get_docstring(node) or ""
                if ">>>" in text and ".plots." not in module:
                    found.append((module, text))
    return found


def examples_fail(module: str, text: str) -> int:
    """How many examples of a docstring fail with the module as it is now."""
    names = dict(vars(importlib.import_module(module)))
    test = doctest.DocTestParser().get_doctest(text, names, module, None, 0)
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS)
    return runner.run(test, out=lambda _: None).failed


EXAMPLES = """
import pytest
from tests.mutation import docstrings, examples_fail

@pytest.mark.parametrize(("module", "text"), docstrings())
def test_examples(module, text):
    assert examples_fail(module, text) == 0
"""
WARM = """
from hypothesis import given, strategies as st

@given(st.floats(), st.integers(), st.text())
def test_warm(a, b, c):
    assert True
"""


def make() -> None:
    """Write the mutants of physics, parts, inflow, solve, cycling and routing to ``mutants/``."""
    import mutmut.__main__ as mutmut
    from mutmut.utils.file_utils import copy_also_copy_files, copy_src_dir

    mutmut.set_mutant_under_test("mutant_generation")
    MUTANTS.mkdir(exist_ok=True)
    copy_src_dir()
    copy_also_copy_files()
    (MUTANTS / "tests" / "test_zz_examples.py").write_text(EXAMPLES, encoding="utf-8")
    (MUTANTS / "tests" / "test_zz_warm.py").write_text(WARM, encoding="utf-8")
    mutmut.create_mutants(1)
    print(sum(map(len, mutants().values())), "mutants")


def enter() -> None:
    """Work with the mutated package from here on."""
    os.chdir(MUTANTS)
    sys.path.insert(0, str(MUTANTS))
    for name in [n for n in sys.modules if n == "tests" or n.startswith("tests.")]:
        del sys.modules[name]
    import drainpump

    assert Path(drainpump.__file__).is_relative_to(MUTANTS), drainpump.__file__
    for found in pkgutil.walk_packages(drainpump.__path__, "drainpump."):
        if not found.name.endswith("__main__"):
            importlib.import_module(found.name)


def forget() -> None:
    """Empty what is kept from one call to the next."""
    for name, module in list(sys.modules.items()):
        if name.startswith("drainpump."):
            for item in vars(module).values():
                if hasattr(item, "cache_clear"):
                    item.cache_clear()


def map_tests() -> None:
    """Write which tests go through which function, and how long each takes."""
    import mutmut.mutation.trampoline as trampoline
    import pytest

    hits: set[str] = set()
    trampoline.record_trampoline_hit = lambda name, caller=None: hits.add(name)
    trampoline.set_mutant_under_test("stats")
    enter()
    tests: dict[str, set[str]] = defaultdict(set)
    spent: dict[str, float] = defaultdict(float)
    bad: set[str] = set()

    class Watch:
        def pytest_collection_finish(self) -> None:
            # what a test module works out as it is imported belongs to the reference checks
            for name in hits:
                tests[name].add("import")
            hits.clear()

        def pytest_runtest_setup(self) -> None:
            forget()

        def pytest_runtest_teardown(self, item: Any) -> None:
            for name in hits:
                tests[name].add(item.nodeid)
            hits.clear()

        def pytest_runtest_makereport(self, item: Any, call: Any) -> None:
            spent[item.nodeid] += call.duration
            if call.excinfo is not None:
                bad.add(item.nodeid)

    pytest.main([*QUIET, *ARGS], plugins=[Watch()])
    print("left out, for they fail without any mutant:", sorted(bad))
    ids = {name: sorted(found - bad) for name, found in tests.items()}
    (HERE / "mutants.json").write_text(json.dumps([ids, spent]), encoding="utf-8")


def mutants() -> dict[str, list[str]]:
    """The names of the mutants of each file."""
    found = {}
    for path in sorted(MUTANTS.glob("drainpump/*/*.py.meta")):
        names = list(json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"])
        if names:
            found["/".join(path.parts[-2:]).removesuffix(".meta")] = names
    return found


def plan(known: list[str], spent: dict[str, float], width: dict[str, int]) -> Iterator[list[str]]:
    """The tests to try: the file that is most about the function, three more, then the rest."""
    by_file: dict[str, list[str]] = defaultdict(list)
    for test in known:
        if test != "import":
            by_file[test.partition("::")[0]].append(test)
    files = sorted(by_file, key=lambda f: -len(by_file[f]) / (width[f] + 20))
    groups = [[t for f in part for t in by_file[f]] for part in (files[:1], files[1:4], files[4:])]
    if "import" in known:
        groups.append([t for t in spent if t.startswith("tests/test_reference.py")])
    used = 0.0
    for group in groups:
        chosen = []
        for test in sorted(group, key=lambda t: spent[t]):
            used += spent[test] + 0.001
            if used > ENOUGH and chosen:
                break
            chosen.append(test)
        if chosen:
            yield sorted(chosen, key=lambda t: (t.partition("::")[0], spent[t]))


def attempt(name: str, tests: list[str], seconds: float) -> int:
    """Pytest's exit code for a mutant, from a fork; negative where time ran out."""
    import resource

    import pytest

    child = os.fork()
    if child == 0:
        os.environ["MUTANT_UNDER_TEST"] = name
        sink = os.open(os.devnull, os.O_WRONLY)
        os.dup2(sink, 1)
        os.dup2(sink, 2)
        most = int(10 * seconds + time.process_time()) + 12
        resource.setrlimit(resource.RLIMIT_CPU, (most, most + 1))
        try:
            code = int(pytest.main([*QUIET, "-x", *tests]))
        except BaseException:
            code = 1
        os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def run(seed: int, share: float, out: Path) -> None:
    """Try a share of each file's mutants, at least 24, in random order; go on where it stopped."""
    import pytest

    known, spent = json.loads((HERE / "mutants.json").read_text(encoding="utf-8"))
    rng = random.Random(seed)
    picked = [
        (file, name)
        for file, names in mutants().items()
        for name in rng.sample(names, min(len(names), max(24, round(share * len(names)))))
    ]
    rng.shuffle(picked)
    done = {json.loads(line)[1] for line in out.read_text().splitlines()} if out.exists() else set()
    through: dict[str, set[str]] = defaultdict(set)
    for function, tests in known.items():
        for test in tests:
            through[test.partition("::")[0]].add(function)
    width = {file: len(functions) for file, functions in through.items()}
    enter()
    os.environ["MUTANT_UNDER_TEST"] = ""
    # hypothesis reads the whole source once: here, not in each fork
    assert pytest.main([*QUIET, "tests/test_zz_warm.py"]) == 0
    from hypothesis import HealthCheck, Phase, settings

    settings.register_profile(
        "mutants", deadline=None, database=None, derandomize=True,
        phases=(Phase.explicit, Phase.generate), suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    settings.load_profile("mutants")
    forget()
    for _, name in picked[:9]:
        # without a mutant the tests must pass, else every kill would be idle
        for tests in plan(known.get(name.partition("__mutmut_")[0], []), spent, width):
            assert attempt("none", tests, sum(spent[t] for t in tests)) == 0, name
    with out.open("a", encoding="utf-8") as report:
        for file, name in picked:
            if name in done:
                continue
            status = "no tests"
            for tests in plan(known.get(name.partition("__mutmut_")[0], []), spent, width):
                code = attempt(name, tests, sum(spent[t] for t in tests))
                status = "survived" if code == 0 else "killed" if code > 0 else "timeout"
                if code:
                    break
            report.write(json.dumps([file, name, status]) + "\n")
            report.flush()
    table(out)


def table(out: Path) -> None:
    """Print killed and tried by file and floor, weighed by how many mutants a file has."""
    every = mutants()
    tried: dict[str, list[bool]] = defaultdict(list)
    for line in out.read_text(encoding="utf-8").splitlines():
        file, _, status = json.loads(line)
        tried[file].append(status in ("killed", "timeout"))
    floors: dict[str, list[tuple[int, float, float]]] = defaultdict(list)
    for file, hit in sorted(tried.items()):
        many, n, p = len(every[file]), len(hit), sum(hit) / len(hit)
        print(f"{file:26} {many:5} mutants, {sum(hit):4} of {n:4} killed")
        spread = max(p * (1 - p), 0.25 / n) / n * (1 - n / many)
        for floor in (file.partition("/")[0], "all"):
            floors[floor].append((many, p, spread))
    for floor, rows in floors.items():
        many = sum(r[0] for r in rows)
        rate = sum(r[0] * r[1] for r in rows) / many
        half = 1.96 * sum(r[0] ** 2 * r[2] for r in rows) ** 0.5 / many
        print(f"{floor:8} {many:6} mutants: {100 * rate:.1f} % ± {100 * half:.1f}")


if __name__ == "__main__":
    what = sys.argv[1]
    if what == "run":
        run(int(sys.argv[2]), float(sys.argv[3]), Path(sys.argv[4]).resolve())
    else:
        {"make": make, "map": map_tests}[what]()
