"""A page as plain text; Markdown and HTML are tested with the reports they carry."""

from __future__ import annotations

from drainpump.paper import blocks


def test_plain_text_is_wrapped_and_aligned() -> None:
    page = [
        blocks.Heading("The job", 1),
        blocks.Paragraph("word " * 30),
        blocks.Bullets(["a_b", "long " * 20]),
        blocks.Checklist(["floats"]),
        blocks.Numbered(["first", "second"]),
        blocks.Steps([("Area times depth.", "V = A h", "3 gal")]),
        blocks.Table(["what", "value"], [["pipe *2*", "x " * 30], ["", "1 ft"]]),
    ]
    said = blocks.to_text(page)
    assert max(map(len, said.splitlines())) <= 88
    assert said == (
        "The job\n=======\n\n"
        + ("word " * 17).strip() + "\n" + ("word " * 13).strip() + "\n\n"
        + "-   a_b\n-   " + ("long " * 17).strip() + "\n    " + ("long " * 3).strip() + "\n\n"
        "[ ] floats\n\n"
        "1.  first\n2.  second\n\n"
        "1.  Area times depth.\n    V = A h\n    3 gal\n\n"
        "what      value\n"
        "pipe *2*  " + ("x " * 20).strip() + "\n"
        "          " + ("x " * 10).strip() + "\n"
        "          1 ft\n"
    )  # fmt: skip
