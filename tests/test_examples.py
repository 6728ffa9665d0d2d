"""What runs the docstrings' examples for other tests can itself fail."""

from __future__ import annotations

import doctest

import pytest

from tests.examples import run

PARSE = doctest.DocTestParser().get_examples


def test_values_come_in_turn_and_names_stay() -> None:
    space: dict[str, object] = {}
    assert list(run(PARSE(">>> a = 2\n>>> a + 1\n3\n"), space)) == [None, 3]
    assert space["a"] == 2


def test_an_exception_the_docstring_tells_of_is_asked_for() -> None:
    told = "Traceback (most recent call last):\n...\nZeroDivisionError: division by zero\n"
    assert list(run(PARSE(f">>> 1 / 0\n{told}"), {})) == [None]
    with pytest.raises(AssertionError, match=r"^does not raise: 1 / 1\n$"):
        list(run(PARSE(f">>> 1 / 1\n{told}"), {}))


def test_any_other_exception_goes_on() -> None:
    with pytest.raises(ZeroDivisionError):
        list(run(PARSE(">>> 1 / 0\n0\n"), {}))
