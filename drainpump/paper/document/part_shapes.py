"""The shapes of the parts in a document, read off the functions that build them.

A part's keys are its constructor's keywords. The signature tells their units, which of
them have a default, and what kind of value they take; beside it stands here only what it
cannot tell: quantities that must be there, bounds on size, and what is nested.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Mapping
from types import NoneType
from typing import Any, Literal, get_args, get_origin

from drainpump import units as u
from drainpump.doubt.doubt import Doubt
from drainpump.foreign import READ, stem_of
from drainpump.inflow.branch.collector import Collector
from drainpump.inflow.rain.hyetograph import Hyetograph
from drainpump.inflow.rain.table import RainFit, RainTable
from drainpump.inflow.surface.catchment import Catchment
from drainpump.inflow.water import Water
from drainpump.limits.costs import Costs
from drainpump.limits.limits import SOURCES, UNSAID, Limits
from drainpump.paper.document.backup import Backup
from drainpump.paper.document.shapes import Key, Object, OneOf
from drainpump.paper.document.values import NULL, Either, Flag, Listed, Named, Number, Shape, Text
from drainpump.paper.laying import Laying
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.hand_off import GravityHandOff
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.outlet import FreeOutlet, PopUpOutlet, SubmergedOutlet
from drainpump.parts.line.pipe import Pipe, pvc, pvc_metric
from drainpump.parts.line.run import Run
from drainpump.parts.pit import Pit
from drainpump.parts.pond import BowlPond, PondStorage, SurveyedPond
from drainpump.parts.pump.bank import parallel, series
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.pump.curve_shown import ORIGINS

LONG = Text(most=10_000)
#: defaults that a schema can show
_PLAIN = (bool, int, float, str)


def shape_of(
    title: str,
    make: Callable[..., Any],
    needed: str = "",
    *,
    before: Iterable[Key] = (),
    called: str = "",
    mistaken: tuple[tuple[str, str], ...] = (),
    either: tuple[tuple[tuple[str, ...], ...], ...] = (),
    **shapes: Shape,
) -> Object:
    """Return the shape of what a function builds from its keywords.

    Parameters
    ----------
    title : str
    make : callable
        A part's class, or another function that builds it.
    needed : str
        Quantities it cannot do without: no default of their spellings tells.
    before : iterable of Key
        Keys of the document that are no keywords.
    called : str
        The key that stands for the first keyword, where it tells who builds the part.
    mistaken : tuple of (str, str)
        What a quantity may be called by mistake, and its stem here.
    either : tuple
        Alternatives, each of them sets of stems of which exactly one is given.
    **shapes : Shape
        By the stem of the keyword: what its annotation does not tell.
    """
    parameters = inspect.signature(make, eval_str=True).parameters
    kinds = {name: parameter.annotation for name, parameter in parameters.items()}
    bare = {n for n, p in parameters.items() if p.default is p.empty}
    must = {*needed.split(), *(_stem(name, kinds) for name in bare)}
    usual = {n: p.default for n, p in parameters.items() if isinstance(p.default, _PLAIN)}
    keys = keys_of(kinds, must, shapes, usual)
    renamed = {}
    if called:
        renamed[called] = next(iter(parameters))
        keys[0] = Key(called, keys[0].shape, required=True)
    # as one reads it: what it is called comes first
    keys.sort(key=lambda key: key.stem != "name")
    doc = inspect.getdoc(make) or ""
    return Object(title, (*before, *keys), mistaken, either=either, doc=doc, renamed=renamed)


def keys_of(
    kinds: dict[str, Any],
    needed: Iterable[str],
    shapes: dict[str, Shape],
    usual: Mapping[str, Any] | None = None,
) -> list[Key]:
    """Return the keys for names of known kinds, both spellings of a quantity as one.

    ``usual`` are the values, by name, of what is left out.
    """
    spelled: dict[str, list[str]] = {}
    for name in kinds:
        spelled.setdefault(_stem(name, kinds), []).append(name)
    return [
        Key(
            stem,
            shapes.get(stem) or _plain_shape(names[0], kinds[names[0]]),
            () if names == [stem] else tuple(name[len(stem) + 1 :] for name in names),
            stem in needed,
            (usual or {}).get(names[0]),
        )
        for stem, names in spelled.items()
    ]


def _stem(name: str, names: Iterable[str]) -> str:
    """A quantity's name without its unit; a C of Hazen and Williams is no temperature."""
    if name in READ:
        return stem_of(name)
    if (unit := u.suffix_of(name)) is None:
        return name
    stem, twin = name.removesuffix(f"_{unit}"), u.UNITS[unit].twin
    return stem if twin == unit or f"{stem}_{twin}" in names else name


def _plain_shape(name: str, annotation: Any) -> Shape:
    """What may stand for a keyword of this annotation."""
    if get_origin(annotation) is Literal:
        return Text(choices=get_args(annotation))
    kinds = {*(get_args(annotation) or (annotation,))} - {NoneType}
    if str in kinds:
        return Text() if kinds == {str} else Either((str,), Text(), Number())
    if bool in kinds:
        return Flag()
    if not kinds & {float, int, Any}:
        raise TypeError(f"{name}: {annotation} needs a shape of its own")
    return Number()


def _of_kind(title: str, make: Callable[..., Any], kind: str, needed: str, **shapes: Any) -> Object:
    """The shape of a part that its ``kind`` tells from others in its place."""
    mark = Key("kind", Text(choices=(kind,)), required=True, about="Which kind it is.")
    return shape_of(title, make, needed, before=[mark], **shapes)


_NUMBERS = Listed(Number(), 1, 1000)
_PRICES = Either((int, float), Number(), Named(Number(), 500))
_LIMIT_NAMES = Listed(Text(choices=tuple(SOURCES)), 0, len(SOURCES))
_SOFT_NAMES = Listed(Text(choices=(*SOURCES, *UNSAID)), 0, len(SOURCES) + len(UNSAID))

_LEARNED = Named(Listed(Number(), 2, 1024), 3)

POINTS = shape_of(
    "pump", PumpCurve, "name flow head", flow=_NUMBERS, head=_NUMBERS, power=_NUMBERS, note=LONG,
    origin=Text(choices=tuple(ORIGINS)), learned=_LEARNED,
)  # fmt: skip
BOX = shape_of(
    "pump by two figures", PumpCurve.from_box, "flow_max head_max", called="from_box", note=LONG,
    learned=_LEARNED, mistaken=(("name", "from_box"),),
)  # fmt: skip
_FILE = "A CSV file of pump curves, or a folder of them, where the job's reader allows one."
CURVES = Object("curves", (Key("curves", Text(most=4000), required=True, about=_FILE),))
PIPE = OneOf(
    (
        ("pvc", shape_of("pvc pipe", pvc, called="pvc")),
        ("pvc_metric", shape_of("metric pvc pipe", pvc_metric, called="pvc_metric")),
        ("", shape_of("pipe of one's own", Pipe, "bore")),
    )
)
FITTING = shape_of("fitting", Fitting)
RUN = shape_of(
    "run", Run, "length", pipe=PIPE, mistaken=(("lift", "rise"),),
    fittings=Named(Either((int, float), Number(), FITTING), 100),
)  # fmt: skip
_SERIES = shape_of(
    "pumps one behind the other", series, called="series",
    pumps=Listed(OneOf((("from_box", BOX), ("", POINTS))), 1, 20),
)  # fmt: skip
_BANKED = OneOf((("series", _SERIES), ("from_box", BOX), ("", POINTS)))
_PARALLEL = shape_of(
    "pumps side by side", parallel, called="parallel", pumps=Listed(_BANKED, 1, 20),
    risers=Either((list, tuple), Listed(Either((type(None),), NULL, RUN), 1, 20), RUN),
)  # fmt: skip
PUMP = OneOf((("curves", CURVES), ("parallel", _PARALLEL), *_BANKED.variants))
OUTLET = OneOf(
    tuple(
        (kind, _of_kind(f"{kind} outlet", make, kind, needed))
        for kind, make, needed in (
            ("free", FreeOutlet, ""),
            ("submerged", SubmergedOutlet, "depth"),
            ("pop_up", PopUpOutlet, "opening_head gap body"),
            ("gravity", GravityHandOff, "bore"),
        )
    ),
    kind="kind",
)  # fmt: skip
LINE = shape_of("line", DischargeLine, runs=Listed(RUN, 1, 100), outlet=OUTLET)
PIT = shape_of("pit", Pit, "depth", either=((("diameter",), ("length", "width")),))
LIMITS = shape_of(
    "limits", Limits, soft=_SOFT_NAMES, without=_LIMIT_NAMES,
    best_flow_preferred=Listed(Number(), 2, 2),
)  # fmt: skip
DOUBT = shape_of("doubt", Doubt)
COSTS = shape_of(
    "costs",
    Costs,
    "pipe_per",
    pipe_per=_PRICES,
    fitting_each=_PRICES,
    pump_each=_PRICES,
    outlet_each=_PRICES,
    lump_sums=Named(Number(), 100),
)
_ROWS = Listed(Either((list, tuple), _NUMBERS, Number()), 1, 1000)
_NAMED = Either((str,), Text(), Number())
#: the stem of return_year is no keyword of Python
_RARE: dict[str, Any] = {"return": Either((list, tuple), _NUMBERS, Number())}
_TABLE = shape_of(
    "rain table", RainTable, "duration", either=((("depth",), ("intensity",)),),
    duration=_NUMBERS, depth=_ROWS, intensity=_ROWS, **_RARE,
)  # fmt: skip
RAIN = OneOf(
    (
        ("duration_min", _TABLE),
        ("b_min", shape_of("rain formula", RainFit, "a b", length=Number())),
        ("", shape_of("one storm", Hyetograph, "depth", depth=_NUMBERS, time=_NUMBERS)),
    )
)
CATCHMENT = shape_of(
    "catchment", Catchment, "area", either=((("runoff",), ("curve_number",)),),
    runoff=_NAMED, curve_number=_NAMED,
)  # fmt: skip
_SPOTS = Listed(Number(), 3, 20_000)
POND = OneOf(
    (
        ("survey", _of_kind("surveyed pond", SurveyedPond, "survey", "x y z", x=_SPOTS, y=_SPOTS,
                            z=_SPOTS)),
        ("bowl", _of_kind("pond like a bowl", BowlPond, "bowl", "area depth")),
        ("", shape_of("pond storage", PondStorage, "depth volume", depth=_NUMBERS,
                      volume=_NUMBERS)),
    ),
    kind="kind",
)  # fmt: skip
COLLECTOR = shape_of(
    "collector", Collector, "bore", catchments=Listed(CATCHMENT, 0, 200), pond_storage=POND
)
WATER = shape_of(
    "water", Water, rain=RAIN, catchments=Listed(CATCHMENT, 0, 200),
    collectors=Listed(COLLECTOR, 0, 100),
)  # fmt: skip
BACKUP = shape_of(
    "backup", Backup, battery_pump=OneOf((("parallel", _PARALLEL), *_BANKED.variants))
)
LAYING = shape_of("laying", Laying)
