"""Sheets on paper: pages that print one a side, and answers named in words."""

from __future__ import annotations

import html
from collections.abc import Sequence

from drainpump.paper.blocks import Block, fragment
from drainpump.units import UNITS, suffix_of

_STYLE = (
    "@page{size:auto;margin:12mm}"
    "body{font:10pt/1.3 sans-serif;max-width:48em;margin:auto;color:#000}"
    "section{break-after:page}section:last-child{break-after:auto}"
    "h1{font-size:14pt}h2{font-size:12pt}h1,h2,p,ul,ol{margin:.3em 0}"
    "table{border-collapse:collapse;margin:.4em 0}"
    "th,td{border:1px solid #999;padding:.1em .5em;text-align:left}"
    "li,tr{break-inside:avoid}"
)


def printed(pages: Sequence[Sequence[Block]], title: str) -> str:
    """Write pages of blocks as one HTML page that prints each on a sheet of its own."""
    sides = "\n".join(f"<section>\n{fragment(page)}\n</section>" for page in pages)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f"<title>{html.escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n"
        f"<body>\n{sides}\n</body>\n</html>\n"
    )


def in_words(name: str) -> str:
    """Say a name that ends in its unit in words.

    >>> in_words("worst_starts_per_h"), in_words("verdict")
    ('worst starts (/h)', 'verdict')
    """
    unit = suffix_of(name)
    if unit is None:
        return name.replace("_", " ")
    return f"{name.removesuffix(unit)[:-1].replace('_', ' ')} ({UNITS[unit].label})"
