"""The library answers what the golden frames hold, but for what `CHANGED` names."""

from __future__ import annotations

from fnmatch import fnmatchcase
from typing import Any

import pytest

from tests.golden.cases import CASES, CHANGED
from tests.golden.plain import differences, kept


@pytest.fixture(scope="module")
def frames() -> dict[str, Any]:
    return kept()


def _excused(path: str) -> bool:
    return any(fnmatchcase(path, end) for name in CHANGED for end in (name, f"{name}/*"))


@pytest.mark.parametrize("case", CASES)
def test_answers_are_those_of_the_frame(case: str, frames: dict[str, Any]) -> None:
    found = [(p, what) for p, what in differences(frames[case], CASES[case](), case)
             if not _excused(p)]  # fmt: skip
    if found:
        path, what = found[0]
        pytest.fail(f"{path}: {what} ({len(found)} differences)", pytrace=False)


def test_every_frame_has_its_case_and_every_change_its_reason(frames: dict[str, Any]) -> None:
    assert list(frames) == list(CASES)
    for path, reason in CHANGED.items():
        assert path.partition("/")[0] in CASES, path
        assert reason, path
