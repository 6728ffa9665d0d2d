"""A page of headings, paragraphs, lists and tables: as Markdown or HTML, all text escaped, or
as plain text for a terminal.
"""

from __future__ import annotations

import base64
import html
import re
import textwrap
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import ClassVar

from drainpump.data_files import read
from drainpump.units import together

_STYLE = read("paper", "page.css")

#: what would begin a list, a rule or a heading at the start of a line
_START = re.compile(r"^(?:[-+=]|(\d+)(?=[.)]))")


@dataclass(frozen=True)
class Heading:
    """A heading; level 1 is the page's title."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Paragraph:
    """Running text."""

    text: str


@dataclass(frozen=True)
class Bullets:
    """A list of points."""

    items: Sequence[str]

    #: what stands around them and before each, in HTML, Markdown and text
    tag: ClassVar[str] = "<ul>"
    marks: ClassVar[tuple[str, str, str]] = ("", "- ", "-   ")


class Checklist(Bullets):
    """Points to be ticked off."""

    tag = '<ul class="check">'
    marks = ("☐ ", "- [ ] ", "[ ] ")


class Numbered(Bullets):
    """A list of points with their numbers."""

    tag = "<ol>"
    marks = ("", "{}. ", "{}.  ")


@dataclass(frozen=True)
class Steps:
    """A calculation: numbered steps, each of words, a formula and its result."""

    items: Sequence[tuple[str, str, str]]


@dataclass(frozen=True)
class Table:
    """Rows under their heads."""

    heads: Sequence[str]
    rows: Sequence[Sequence[str]]


@dataclass(frozen=True)
class Figure:
    """A picture: embedded in HTML, linked by its name in Markdown, named in text."""

    name: str
    #: draws it, when it is asked for
    png: Callable[[], bytes]
    alt: str


@dataclass(frozen=True)
class Columns:
    """Blocks that stand beside each other where the page is wide enough."""

    parts: Sequence[Sequence[Block]]


@dataclass(frozen=True)
class NewPage:
    """What follows begins on a page of its own when printed."""


Block = Heading | Paragraph | Bullets | Steps | Table | Figure | Columns | NewPage


def figures(blocks: Sequence[Block]) -> Iterator[Figure]:
    """Every picture among blocks, in order."""
    for block in blocks:
        if isinstance(block, Figure):
            yield block
        elif isinstance(block, Columns):
            for part in block.parts:
                yield from figures(part)


#: plain text: columns of a line, and of a table's cell
_LINE, _CELL = 88, 40


def to_markdown(blocks: Sequence[Block]) -> str:
    """Write blocks as Markdown that shows each text as it is.

    >>> print(to_markdown([Heading("A_b"), Bullets(["<i>x</i> [y](z)"])]))
    ## A\\_b
    <BLANKLINE>
    - &lt;i&gt;x&lt;/i&gt; \\[y\\](z)
    <BLANKLINE>
    """
    return "\n\n".join(_markdown(block) for block in blocks) + "\n"


def _markdown(block: Block) -> str:
    if isinstance(block, NewPage):
        return "---"
    if isinstance(block, Columns):
        return "\n\n".join(_markdown(one) for part in block.parts for one in part)
    if isinstance(block, Figure):
        return f"![{_inert(block.alt)}]({block.name})"
    if isinstance(block, Heading):
        return "#" * block.level + " " + _plain(block.text)
    if isinstance(block, Paragraph):
        return _plain(block.text)
    if isinstance(block, Bullets):
        mark = block.marks[1]
        return "\n".join(f"{mark.format(i)}{_plain(x)}" for i, x in enumerate(block.items, 1))
    if isinstance(block, Steps):
        return "\n".join(
            f"{i}. {_inert(words)}  \n   `{formula}`  \n   {_inert(result)}"
            for i, (words, formula, result) in enumerate(block.items, 1)
        )
    lines = [block.heads, ["---"] * len(block.heads), *block.rows]
    rule = 1
    cells = [[c if i == rule else _inert(c) for c in row] for i, row in enumerate(lines)]
    return "\n".join(f"| {' | '.join(row)} |" for row in cells)


def _inert(text: str) -> str:
    """Escape text within a line: no markup, no HTML, no link of its own."""
    line = html.escape(" ".join(text.split()), quote=False)
    line = re.sub(r"([\\`*_\[\]|~#$])", r"\\\1", line)
    line = re.sub(r"(?i)(?<=www)\.", "&#46;", line).replace("://", "&#58;//")
    return re.sub(r"(?<=\w)@(?=\w)", "&#64;", line)


def _plain(text: str) -> str:
    """Escape a line of text: inert, and no list, rule or heading by its first characters."""
    line = _inert(text)
    found = _START.match(line)
    if not found:
        return line
    end = found.end(1) if found.group(1) else 0
    return f"{line[:end]}\\{line[end:]}"


def to_html(blocks: Sequence[Block], *, title: str = "", whole: bool = True) -> str:
    """Write blocks as HTML: a whole page that needs nothing else, or a fragment."""
    body = fragment(blocks)
    if not whole:
        return f"<div>\n{body}\n</div>"
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width">\n'
        f"<title>{html.escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n"
        f"<body>\n{body}\n</body>\n</html>\n"
    )


def fragment(blocks: Sequence[Block]) -> str:
    """Write blocks as HTML without anything around them."""
    return "\n".join(_html(block) for block in blocks)


def _html(block: Block) -> str:
    if isinstance(block, NewPage):
        return '<div class="page"></div>'
    if isinstance(block, Columns):
        parts = "\n".join(f"<div>\n{fragment(part)}\n</div>" for part in block.parts)
        return f'<div class="columns">\n{parts}\n</div>'
    if isinstance(block, Figure):
        data = base64.b64encode(block.png()).decode("ascii")
        return f'<img alt="{html.escape(block.alt)}" src="data:image/png;base64,{data}">'
    if isinstance(block, Heading):
        return f"<h{block.level}>{html.escape(block.text)}</h{block.level}>"
    if isinstance(block, Paragraph):
        return f"<p>{html.escape(block.text)}</p>"
    if isinstance(block, Bullets):
        items = "".join(f"<li>{block.marks[0]}{html.escape(item)}</li>" for item in block.items)
        return f"{block.tag}{items}</{block.tag[1:3]}>"
    if isinstance(block, Steps):
        steps = ([html.escape(part) for part in step] for step in block.items)
        rows = "".join(f"<li>{w}<br><code>{f}</code><br>{r}</li>" for w, f, r in steps)
        return f"<ol>{rows}</ol>"
    head = "".join(f"<th>{html.escape(cell)}</th>" for cell in block.heads)
    rows = "\n".join(
        "<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in row) + "</tr>"
        for row in block.rows
    )
    return f"<table>\n<tr>{head}</tr>\n{rows}\n</table>"


def to_text(blocks: Sequence[Block]) -> str:
    """Write blocks as plain text for a terminal, tables aligned.

    >>> print(to_text([Heading("A_b"), Table(["pipe", "flow, gpm"], [["2 in", "41"]])]), end="")
    A_b
    ---
    <BLANKLINE>
    pipe  flow, gpm
    2 in  41
    """
    return "\n\n".join(_text(block) for block in blocks) + "\n"


def _text(block: Block) -> str:
    if isinstance(block, NewPage):
        return "-" * _LINE
    if isinstance(block, Columns):
        return "\n\n".join(_text(one) for part in block.parts for one in part)
    if isinstance(block, Figure):
        return "\n".join(folded(f"[picture {block.name}: {block.alt}]", _LINE))
    if isinstance(block, Heading):
        line = " ".join(block.text.split())
        return f"{line}\n{('=' if block.level == 1 else '-') * len(line)}"
    if isinstance(block, Paragraph):
        return "\n".join(folded(block.text, _LINE))
    if isinstance(block, Table):
        return _text_table([block.heads, *block.rows])
    if isinstance(block, Steps):
        lines = ["\n    ".join(step) for step in block.items]
        return "\n".join(f"{i}.  {line}" for i, line in enumerate(lines, 1))
    return "\n".join(
        line
        for i, item in enumerate(block.items, 1)
        for line in folded(item, _LINE, block.marks[2].format(i), "    ")
    )


def folded(text: str, width: int, first: str = "", later: str = "") -> list[str]:
    """Fold a text into lines, a number and its unit on one.

    >>> folded("a riser of 12 ft", 13)
    ['a riser of', '12 ft']
    """
    lines = textwrap.wrap(
        together(text), width, initial_indent=first, subsequent_indent=later,
        break_on_hyphens=False,
    )  # fmt: skip
    return [line.replace("\xa0", " ") for line in lines]


def _text_table(rows: Sequence[Sequence[str]]) -> str:
    """Align rows in columns; a cell too long for its column goes on below."""
    wrapped = [[folded(cell, _CELL) or [""] for cell in row] for row in rows]
    widths = [
        max(len(line) for cell in column for line in cell) for column in zip(*wrapped, strict=True)
    ]
    lines = []
    for row in wrapped:
        for i in range(max(len(cell) for cell in row)):
            cells = (cell[i] if i < len(cell) else "" for cell in row)
            padded = (cell.ljust(width) for cell, width in zip(cells, widths, strict=True))
            lines.append("  ".join(padded).rstrip())
    return "\n".join(lines)
