"""Each rule alone turns wrong into right on one stream, and right into wrong on another; taking it out shows."""

from __future__ import annotations

import pytest

from telemetry.reading.catalogue import STAGES

from . import rules_evidence, rules_reading
from .made import read
from .rules import HARM, RIGHT, Case
from .rules_settings import HARMED, SAVED

assert rules_evidence
assert rules_reading  # their cases are in the tables now


def _with(case: Case) -> list[str]:
    return read(case.made, case.course, *case.words)


def _without(case: Case, name: str) -> list[str]:
    left = [word for word in case.words if word.split(" ")[0] != name]
    assert len(left) == len(case.words) - 1, "the stage must stand in the strategy once"
    if case.instead:
        left.insert(0, case.instead)
    return read(case.made, case.course, *left)


def test_every_stage_has_both_cases() -> None:
    assert set(RIGHT) == set(HARM) == set(STAGES)


@pytest.mark.parametrize("name", RIGHT)
def test_it_alone_turns_wrong_into_right(name: str) -> None:
    case = RIGHT[name]()
    assert _with(case) == list(case.truth)
    assert _without(case, name) != list(case.truth)


@pytest.mark.parametrize("name", HARM)
def test_elsewhere_it_does_harm(name: str) -> None:
    case = HARM[name]()
    assert _without(case, name) == list(case.truth)
    assert _with(case) != list(case.truth)


def test_every_rule_of_a_setting_has_both_streams() -> None:
    assert set(SAVED) == set(HARMED)


@pytest.mark.parametrize("name", SAVED)
def test_a_rule_alone_turns_wrong_into_right(name: str) -> None:
    one = SAVED[name]()
    assert read(one.made, one.course, *one.words) == list(one.truth)
    assert read(one.made, one.plain_course, *one.plain) != list(one.truth)


@pytest.mark.parametrize("name", HARMED)
def test_a_rule_does_harm_elsewhere(name: str) -> None:
    one = HARMED[name]()
    assert read(one.made, one.plain_course, *one.plain) == list(one.truth)
    assert read(one.made, one.course, *one.words) != list(one.truth)
