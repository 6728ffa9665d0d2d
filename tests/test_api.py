"""The public face, walked by machine: every name carries its unit and says what it is.

A parameter, attribute or column that can hold a number ends in a unit, or stands in
`UNITLESS` with the reason why it has none.
"""

from __future__ import annotations

import copy
import dataclasses
import doctest
import importlib
import inspect
import json
import pickle
import pkgutil
import re
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import drainpump as dp
from drainpump import foreign
from drainpump import units as u
from drainpump.parts.part import Part
from drainpump.results import Result
from tests.examples import run
from tests.public import public

#: why a number may stand without a unit, and the names it is true of
UNITLESS = {
    "pairs of minutes, a name that callers already hold": "outages",
    "a loss coefficient, on a velocity head": "k k_total exit_k extra_k stuck_k",
    "a constant of an empirical formula, in its own units by definition": (
        "hazen_williams_c n n_corrugated curve_number discharge_coefficient"
    ),
    "a count, of pieces, years, starts or characters": (
        "count number rank downspouts sides samples starts lag_starts cycles cycles_to_outlet "
        "years readings peak_block indent"
    ),
    "the number of a run, a place, a lesson or a form": (
        "governing_run high_point_run verdict_code point shape lesson schema_version"
    ),
    "a share, ratio or probability": (
        "ratio flow head head_loss slope runoff voids probability chance plausibility power "
        "shares reaching yearly_probability certainty efficiency rate_log best_flow_preferred "
        "range_share_max "
        "soaks_back depth_ratio head_factor misfit correlation inside above below as_high as_low "
        "unexplained weight"
    ),
    "money, in the user's own currency": (
        "price cost cost_max fitting_each pump_each pit_each outlet_each lump_sums"
    ),
    "a yes or no": (
        "keeps_up air_clears siphon_holds delivers reaches_outlet overflows shut_out paved ok"
    ),
    "a word": (
        "wall weakest pattern status share_status siphon_status verdict message name nominal "
        "schedule sdr sizes"
    ),
    "the seed of a random generator": "seed",
    "a number of sheets": "pupils",
    "work, counted in points": "points",
    "a number in the unit that stands beside it as ``unit``": "value limit size standard_error",
    "things, whole or by name": "fittings weights run job learned pump",
    "a place in a picture, in px": "at",
    "a matplotlib axes, or what is passed on to it": "ax",
}
#: endings that say share: of a hundred, of one, and of a spread by natural logarithm
SHARES = ("_pct", "_share", "_log")
#: positional though it has a unit: half of a pipe's name in its standard, like ``nominal``
POSITIONAL = {("pvc_metric", "od_mm")}
#: what an annotation that can hold a number contains
NUMERIC = re.compile(r"\b(Any|float|int|ArrayLike|FloatArray|Number|Quantity|Value|NDArray)\b")

KNOWN = {name for names in UNITLESS.values() for name in names.split()}


def named(name: str) -> bool:
    """True for a unit, a share, or a listed name; C of Hazen-Williams is no Celsius."""
    # what is printed on a pump may be typed as it stands
    printed = name in foreign.READ
    return u.suffix_of(name) is not None or name.endswith(SHARES) or name in KNOWN or printed


FUNCTIONS = {n: f for n, f in public() if inspect.isfunction(f)}
EXPORTED = {n: c for n, c in public() if inspect.isclass(c)}


def package() -> Iterator[types.ModuleType]:
    for found in pkgutil.walk_packages(dp.__path__, "drainpump."):
        if not found.name.endswith("__main__"):
            yield importlib.import_module(found.name)


def result_classes() -> dict[str, type]:
    """Every result, exported or only handed out."""
    list(package())
    found, todo = {}, [Result]
    while todo:
        for cls in todo.pop().__subclasses__():
            if cls.__module__.startswith("drainpump"):
                found[cls.__name__] = cls
                todo.append(cls)
    return found


CLASSES = {
    n: c
    for n, c in (EXPORTED | result_classes()).items()
    if not issubclass(c, BaseException) and not n.startswith("_")
}


def built_by_user(cls: type) -> bool:
    """True where the class writes its own ``__init__``; results are made by functions."""
    init = cls.__init__
    return (
        inspect.isfunction(init)
        and "__create_fn__" not in init.__qualname__
        and not (
            dataclasses.is_dataclass(cls) and cls.__dataclass_params__.init  # type: ignore[attr-defined]
        )
    )


def methods(cls: type) -> Iterator[tuple[str, Any]]:
    for name, item in inspect.getmembers_static(cls):
        function = getattr(item, "__func__", item)
        # what every part can do takes that part's own keywords
        if hasattr(Part, name) and issubclass(cls, Part):
            continue
        if not name.startswith("_") and inspect.isfunction(function):
            yield f"{cls.__name__}.{name}", function


def callables() -> dict[str, Any]:
    found = dict(FUNCTIONS)
    for name, cls in CLASSES.items():
        if built_by_user(cls):
            found[name] = cls.__init__
        found |= dict(methods(cls))
    return found


CALLABLES = callables()


def parameters(function: Any) -> list[inspect.Parameter]:
    every = inspect.signature(function).parameters.values()
    return [p for p in every if p.name not in ("self", "cls") and not p.name.startswith("_")]


def holds_a_number(annotation: object) -> bool:
    return bool(NUMERIC.search(str(annotation)))


# -- parameters


def test_the_walk_sees_the_house():
    assert {"operating_point", "cycle", "select", "pvc", "plots.duty"} <= set(FUNCTIONS)
    assert {"Run", "Pit", "PumpCurve", "OperatingPoint", "Cycle", "LineHead"} <= set(CLASSES)
    assert {"DischargeLine.head", "OperatingPoint.to_frame", "Pit"} <= set(CALLABLES)


@pytest.mark.parametrize("name", CALLABLES)
def test_parameters_carry_their_unit(name):
    bare = [
        p.name
        for p in parameters(CALLABLES[name])
        if holds_a_number(p.annotation) and not named(p.name)
    ]
    assert bare == []


@pytest.mark.parametrize("name", CALLABLES)
def test_quantities_are_keyword_only_and_come_in_pairs(name):
    given = {p.name: p for p in parameters(CALLABLES[name])}
    for p in given.values():
        suffix = u.suffix_of(p.name)
        if suffix is None or p.name in KNOWN or (name, p.name) in POSITIONAL:
            continue
        assert p.kind is inspect.Parameter.KEYWORD_ONLY, p.name
        twin = p.name.removesuffix(suffix) + u.UNITS[suffix].twin
        assert twin in given, f"{p.name} without {twin}"


@pytest.mark.parametrize("name", [n for n in CALLABLES if not n.startswith("plots.")])
def test_nothing_swallows_a_misspelt_keyword(name):
    kinds = {p.kind for p in parameters(CALLABLES[name])}
    assert inspect.Parameter.VAR_KEYWORD not in kinds
    assert inspect.Parameter.VAR_POSITIONAL not in kinds


@pytest.mark.parametrize("name", [n for n in CALLABLES if parameters(CALLABLES[n]) and n != "Live"])
def test_a_misspelt_keyword_is_answered_with_the_nearest(name):
    function = EXPORTED.get(name, CALLABLES[name])
    right = parameters(function)[-1].name
    slip = right[0] + right
    owner = [None] if "." in name and not name.startswith("plots.") else []
    with pytest.raises(TypeError, match=rf"unexpected keyword argument '{slip}'; .*'{right}'"):
        function(*owner, **{slip: None})


@pytest.mark.parametrize("name", CALLABLES)
def test_signatures_are_annotated(name):
    signature = inspect.signature(CALLABLES[name])
    assert [p.name for p in parameters(CALLABLES[name]) if p.annotation is p.empty] == []
    assert signature.return_annotation is not inspect.Signature.empty


# -- attributes


def attributes(cls: type) -> Iterator[tuple[str, str]]:
    """Public attributes with what they can hold, as text."""
    for name, item in inspect.getmembers_static(cls):
        if name.startswith("_"):
            continue
        if isinstance(item, u.View):
            yield name, "float"
        elif isinstance(item, property):
            yield name, str(inspect.signature(item.fget).return_annotation)
        elif hasattr(item, "func") and not callable(item):  # cached_property
            yield name, str(inspect.signature(item.func).return_annotation)
    if dataclasses.is_dataclass(cls):
        for field in dataclasses.fields(cls):
            if not field.name.startswith("_"):
                yield field.name, str(field.type)


@pytest.mark.parametrize("name", CLASSES)
def test_attributes_carry_their_unit(name):
    bare = [
        attribute
        for attribute, holds in attributes(CLASSES[name])
        if holds_a_number(holds) and "str" not in holds and not named(attribute)
    ]
    assert bare == []


#: words that are kept for one idea, and the public names that may hold them
WORDS = {
    "cause": {"cause"},  # what takes flow: of an explanation
    "fault": {"faults", "fault"},  # what ails pump or line: of a diagnosis and its priors
    "problem": {"problem"},  # of a worksheet, to be solved
    "sample": {"samples"},  # of a doubt
    "record": {"Record", "as_built_record", "record", "recorded_rain", "read_recorded_rain"},
    **{word: set() for word in ("case", "crest", "draw", "drawn", "site", "spill")},
}


def test_a_word_of_the_glossary_names_one_idea():
    names = {p.name for function in CALLABLES.values() for p in parameters(function)}
    names |= {attribute for cls in CLASSES.values() for attribute, _ in attributes(cls)}
    names |= {name.rpartition(".")[2] for name in (*CALLABLES, *CLASSES)}
    for word, meant in WORDS.items():
        holds = {n for n in names if re.search(rf"(^|_){word}(s|ed)?(_|$)", n, re.IGNORECASE)}
        assert holds == meant, word


@pytest.mark.parametrize("name", CLASSES)
def test_views_answer_in_both_systems(name):
    views = {view.name: view for view in u.views(CLASSES[name])}
    for view in views.values():
        if view.unit is not None:
            twin = view.name.removesuffix(view.unit) + u.UNITS[view.unit].twin
            assert twin in views, f"{view.name} without {twin}"
            assert views[twin].source == view.source


# -- columns and keys, of whatever the examples in the docstrings make


def examples() -> list[Any]:
    """Everything with a frame or a dict that the docstrings' examples make."""
    parser, made = doctest.DocTestParser(), []
    everything = list(FUNCTIONS.values()) + list(CLASSES.values())
    everything += [f for n, f in CALLABLES.items() if "." in n]
    for item in everything:
        space = dict(vars(importlib.import_module(item.__module__)))
        made += run(parser.get_examples(inspect.getdoc(item) or ""), space)
        made += list(space.values())
    return [x for x in made if hasattr(type(x), "to_frame") or hasattr(type(x), "to_dict")]


@pytest.fixture(scope="module")
def made() -> list[Any]:
    return examples()


def test_the_examples_make_the_main_results(made):
    kinds = {type(x).__name__ for x in made}
    assert {"OperatingPoint", "Cycle", "PumpCurve", "LineHead", "Selection"} <= kinds


def test_what_they_tell_is_strict_json(made):
    for x in made:
        if not hasattr(x, "to_numpy"):
            json.dumps(x.to_dict(), allow_nan=False)


def test_nothing_that_is_handed_out_can_be_changed(made):
    for x in (x for x in made if type(x).__module__.startswith("drainpump")):
        with pytest.raises(AttributeError):
            x.brand_new = 1
        for name in (n for n in dir(x) if not n.startswith("_")):
            try:
                value = getattr(x, name)
            except dp.DrainpumpError:  # not known of this one
                continue
            if isinstance(value, np.ndarray):
                assert not (value.ndim and value.flags.writeable), (type(x), name)
            # a list or a plain mapping is a copy, made anew for whoever asks
            if type(value) in (list, dict):
                assert getattr(x, name) is not value, (type(x), name)


def test_parts_stay_equal_and_keep_their_hash_in_use(made):
    parts = [x for x in made if isinstance(x, Part)]
    assert len(parts) > 50
    for part in parts:
        twins = copy.copy(part), copy.deepcopy(part), pickle.loads(pickle.dumps(part))
        key = hash(part)
        str(part), repr(part)
        assert all(twin == part and hash(twin) == key for twin in twins)
        assert hash(part) == key


@pytest.mark.parametrize("units", ["us", "metric"])
def test_columns_carry_their_unit(made, units):
    bare = set()
    for x in made:
        if not hasattr(x, "to_frame"):
            continue
        frame = x.to_frame(units)
        for column, cells in ((str(name), cells) for name, cells in frame.items()):
            suffix = u.suffix_of(column)
            if suffix is not None:
                assert u.UNITS[suffix].system in (units, "both"), (type(x).__name__, column)
            elif (
                cells.dtype.kind in "iufc"
                and not re.fullmatch(r"axis_\d+", column)
                and not named(column)
            ):
                bare.add((type(x).__name__, column))
    assert bare == set()


def test_keys_carry_their_unit(made):
    bare = set()
    for x in made:
        if not hasattr(x, "to_dict"):
            continue
        for key, value in x.to_dict().items():
            flat = np.asarray(value, dtype=object).ravel()
            numbers = any(isinstance(v, int | float) and not isinstance(v, bool) for v in flat)
            if numbers and not named(key):
                bare.add((type(x).__name__, key))
    assert bare == set()


# -- docstrings


def section(item: Any, title: str) -> str | None:
    found = re.search(
        rf"^{title}\n-+\n(.*?)(?=^\w[\w ]*\n-{{3,}}\n|\Z)", inspect.getdoc(item) or "", re.M | re.S
    )
    return found.group(1) if found else None


@pytest.mark.parametrize("name", FUNCTIONS)
def test_functions_are_documented_in_numpydoc(name):
    function = FUNCTIONS[name]
    summary = (inspect.getdoc(function) or "").split("\n")[0]
    assert summary.endswith("."), "a one-line summary"
    if parameters(function):
        said = section(function, "Parameters")
        assert said is not None
        for p in parameters(function):
            assert re.search(rf"\b{p.name}\b", said) or documented_by_stem(p.name, said), p.name
    if inspect.signature(function).return_annotation != "None":
        assert section(function, "Returns") is not None
    if any(u.suffix_of(p.name) for p in parameters(function)) and "plots." not in name:
        assert section(function, "Raises") is not None
    if "plots." not in name:
        assert ">>> " in (section(function, "Examples") or "")


def documented_by_stem(name: str, said: str) -> bool:
    """True where a twin stands for both: ``(and ``_lps``)``."""
    suffix = u.suffix_of(name)
    if suffix is None:
        return False
    twin = name.removesuffix(suffix) + u.UNITS[suffix].twin
    return bool(re.search(rf"\b{twin}\b", said)) and f"_{suffix}" in said


@pytest.mark.parametrize("name", CLASSES)
def test_classes_are_documented_in_numpydoc(name):
    cls = CLASSES[name]
    assert (cls.__doc__ or "").strip().split("\n")[0].endswith((".", ":")), "a one-line summary"
    if built_by_user(cls):
        said = section(cls, "Parameters")
        assert said is not None
        for p in parameters(cls.__init__):
            assert re.search(rf"\b{p.name}\b", said), p.name
        if name in EXPORTED:
            assert ">>> " in (section(cls, "Examples") or "")
    else:
        assert section(cls, "Attributes") is not None or section(cls, "Parameters") is not None
    for member, item in inspect.getmembers_static(cls):
        if not member.startswith("_") and (
            isinstance(item, property) or inspect.isfunction(getattr(item, "__func__", item))
        ):
            assert (getattr(cls, member).__doc__ or "").strip(), member


# -- the door


def test_all_is_sorted_complete_and_real():
    assert dp.__all__ == sorted(dp.__all__)
    assert len(set(dp.__all__)) == len(dp.__all__)
    for name in dp.__all__:
        assert hasattr(dp, name)
    rooms = {path.name for path in Path(dp.__path__[0]).iterdir() if path.is_dir()}
    rooms |= {path.stem for path in Path(dp.__path__[0]).glob("*.py")}
    extra = {
        name for name in vars(dp) if not name.startswith("_") and name not in dp.__all__
    } - rooms
    assert extra == set()


def test_every_module_says_what_it_exports():
    for module in package():
        for name in getattr(module, "__all__", []):
            assert hasattr(module, name), f"{module.__name__}.{name}"


def test_every_reason_is_needed():
    """A name that nothing uses any more leaves the list."""
    used = {p.name for f in CALLABLES.values() for p in parameters(f)}
    used |= {name for cls in CLASSES.values() for name, _ in attributes(cls)}
    columns_and_keys = {"point", "schema_version", "size", "standard_error"}
    assert KNOWN - used - columns_and_keys == set()
