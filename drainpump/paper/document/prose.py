"""What the library's own documentation says of a keyword: its meaning, bounds and default."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from drainpump import units as u

#: where a bound stands in a sentence: ``0 < share <= 1``, ``>= 0``, ``0 to 20 ft``
_BETWEEN = re.compile(r"(-?[\d.]+) (<=?) [\w ]+? (<=?) (-?[\d.]+)")
_ABOVE = re.compile(r"(>=?) (-?[\d.]+)")
_FROM = re.compile(r"(-?[\d.]+) (<=?) \w")
_TO = re.compile(r"(?:^|[ ,])(-?[\d.]+)(?: °F)? to (-?[\d.]+)(?: (%|ft|in|°F))?(?=[ ;:,.]|$)")
_DEFAULT = re.compile(r"default (-?[\d.]+)(?: (ft|in|gpm|gal|min|%|°F)| ft/s)?(?=[\s,]|$)")
#: the suffix of a unit as prose writes it
_SUFFIX = {"ft/s": "fps", "°F": "f", "%": "", None: ""}


@dataclass(frozen=True)
class Told:
    """What is said of a keyword; bounds and default in ``unit``, "" where that is its own."""

    text: str = ""
    low: float | None = None
    high: float | None = None
    open_low: bool = False
    default: float | None = None
    unit: str = ""

    def schema(self, unit: str | None) -> dict[str, float | str]:
        """The same as JSON Schema has it, for one spelling of the keyword."""
        found: dict[str, float | str] = {"description": self.text} if self.text else {}
        low = "exclusiveMinimum" if self.open_low else "minimum"
        for name, value in ((low, self.low), ("maximum", self.high), ("default", self.default)):
            if value is not None:
                found[name] = _in(value, self.unit, unit)
        return found


def _in(value: float, told: str, asked: str | None) -> float:
    """A number in the unit asked for, whole where it is whole."""
    if told and asked and told != asked:
        value = float(f"{float(u.from_si(u.to_si(value, told), asked)):.6g}")
    return int(value) if float(value).is_integer() else value


def told_of(doc: str, section: str) -> dict[str, Told]:
    """Read a section of a numpydoc text, or of several, by each name it lists; the first counts.

    >>> told_of("Sum.\\n\\nParameters\\n----------\\nk, c : float\\n    A loss, > 0.", "Parameters")
    {'k': Told(text='A loss, > 0.', low=0.0, high=None, open_low=True, default=None, unit=''),
    'c': Told(text='A loss, > 0.', low=0.0, high=None, open_low=True, default=None, unit='')}
    """
    found: dict[str, Told] = {}
    for start in re.finditer(rf"^{section}\n-+\n", doc, re.MULTILINE):
        # up to the next heading: a line over a row of dashes
        body = re.split(r"\n\n[^\n]+\n-{3,}\n", doc[start.end() :])[0]
        for entry in re.split(r"\n(?=\S)", body):
            head, _, text = entry.partition("\n")
            if " : " not in head and not text.startswith(" "):
                continue  # a sentence beneath the list
            names, _, kind = head.partition(" : ")
            said = _told(kind, re.sub(r"`{1,2}", "", " ".join(text.split())))
            found = dict.fromkeys(re.findall(r"\w+", names.split(" (")[0]), said) | found
    return found


def about(name: str, told: Mapping[str, Told]) -> Told:
    """What is told of a name, or of the same quantity under another unit."""
    stem = name.removesuffix(f"_{u.suffix_of(name)}")
    same = [*u.spellings(name, told), *(x for x in (stem,) if x in told)]
    return told.get(name) or next((told[other] for other in same), Told())


def _told(kind: str, text: str) -> Told:
    low = high = default = None
    open_low, unit = False, ""
    where = f"{kind} {text}"
    if usual := _DEFAULT.search(kind):
        default, unit = float(usual[1]), _unit_of(usual[0])
    if both := _BETWEEN.search(where):
        low, high, open_low = float(both[1]), float(both[4]), both[2] == "<"
    elif above := _ABOVE.search(where):
        low, open_low = float(above[2].rstrip(".")), above[1] == ">"
    elif least := _FROM.search(where):
        low, open_low = float(least[1]), least[2] == "<"
    elif span := _TO.search(text):
        low, high = float(span[1].rstrip(".")), float(span[2].rstrip("."))
        unit = unit or _unit_of(span[0])
    return Told(text, low, high, open_low, default, unit)


def _unit_of(said: str) -> str:
    word = said.split()[-1]
    return _SUFFIX.get(word, word if word in u.UNITS else "")
