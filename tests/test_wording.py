"""Findings are data; their sentences are made in one place, and are right for one, for none and for many."""

from __future__ import annotations

import pickle

import pytest
from replay.runs import GOOD, TRUTH, drive, row, table_of

from telemetry.findings import Finding, FindingKind
from telemetry.reading.load import load_strategy
from telemetry.replay.case import Case
from telemetry.replay.judge import judge
from telemetry.wording import WORDS, counted, listed, plus_minus, sentence


def test_every_kind_has_its_words() -> None:
    assert set(WORDS) == set(FindingKind)


@pytest.mark.parametrize(("count", "words"), [(0, "no sample"), (1, "1 sample"), (2, "2 samples"), (2.5, "2.5 samples")])
def test_counted(count: float, words: str) -> None:
    assert counted(count, "sample") == words


def test_what_rounds_to_nothing_has_no_sign() -> None:
    assert [plus_minus(value) for value in (0.04, -0.04, 0.0, 0.06, -1.25)] == ["0.0", "0.0", "0.0", "+0.1", "-1.2"]
    assert listed(["a", "b", "c"]) == "a, b and c"


def test_a_misread_slot_is_data_first() -> None:
    seen = (GOOD[0], (20.0, 20.0, "leaf"))
    (result,), _ = judge(Case("x", table_of(drive(*seen)), row, TRUTH), {"hold": load_strategy("hold")})
    found = result.findings[0]
    assert (found.kind, found.slot, found.cause) == (FindingKind.LOST_IN_STAGE, "b", "hold")
    assert (found.numbers["want"], found.numbers["samples"], found.numbers["from_cm"]) == ("leaf", 1, 20.0)
    assert result.why[0] == "b: leaf seen for 1 sample at 20.0 cm, hold asks for 3 samples"
    assert pickle.loads(pickle.dumps(found)) == found
    assert len({found, Finding(FindingKind.MISSED, "b")}) == 2


def test_one_and_none_read_well() -> None:
    none = Finding(FindingKind.NEVER_REPORTED, "a", "sensor", {"want": "rust", "seen": (("none", 1),)})
    assert sentence(none) == "a: the sensor never reported rust there: it said none for all 1 sample"
    nothing = Finding(FindingKind.NEVER_REPORTED, "a", "sensor", {"want": "rust", "seen": ()})
    assert sentence(nothing).endswith("it said nothing at all")
    early = Finding(FindingKind.ENDED_EARLY, numbers={"driven_cm": 12.3, "slots": ("c",)})
    assert sentence(early) == "the drive ended early, after 12 cm by its own distance: c was never passed"
