"""Every published value in ``tests/reference``, gathered into one test."""

from __future__ import annotations

from collections import Counter

import pytest

from tests.reference.check import Check
from tests.reference.gather import checks

CHECKS: list[Check] = [check for some in checks().values() for check in some]


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.what)
def test_reproduces_the_published_value(check: Check) -> None:
    ours = check.ours()
    assert abs(ours - check.published) <= check.tolerance, (
        f"{check.what}: ours {ours} {check.unit}, published {check.published} "
        f"± {check.tolerance} ({check.source})"
    )


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.what)
def test_states_its_source_and_explains_its_tolerance(check: Check) -> None:
    assert check.source.strip()
    assert check.why.strip()
    assert check.tolerance > 0


def test_no_check_is_listed_twice() -> None:
    twice = [what for what, count in Counter(c.what for c in CHECKS).items() if count > 1]
    assert twice == []


def test_there_are_as_many_as_promised() -> None:
    assert len(CHECKS) >= 150
