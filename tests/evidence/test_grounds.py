"""What a verdict rests on, each ground by itself: how few samples, how many readers, how many slots."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from telemetry.course import parse_course
from telemetry.findings import FindingKind
from telemetry.replay.verdict.grounds import BY_CODES, FEW_SAMPLES, MISTYPED, RATHER, Grounds
from telemetry.replay.verdict.seen import Seen, SlotSeen
from telemetry.replay.verdict_kind import CauseKind

from .runs import built_in_palette

COLOURS = ("rust", "orange", "leaf", "sky", "white", "pink")
SLOTS = "".join(f'[[slot]]\nname = "{i + 1}"\nat_cm = {10 * i + 10}\ncolours = {list(COLOURS)}\n' for i in range(6))
COURSE = parse_course(f'[course]\nname = "six"\n{SLOTS}')
SEEN = Seen(tuple(SlotSeen(20, contrast=30.0) for _ in COLOURS), ())


def grounds(differ: int, votes: int, sure: float, seen: Seen = SEEN, by_codes: bool = False) -> Grounds:
    """Readers who say what stands there, by raw channels; the truth says otherwise at the first ``differ`` slots."""
    truth = tuple(COLOURS[(i + 1) % 6] if i < differ else colour for i, colour in enumerate(COLOURS))
    return Grounds(COURSE, built_in_palette(), truth, COLOURS, votes, sure, seen, by_codes, None, 0.0)


@pytest.mark.parametrize(
    ("differ", "votes", "kind"),
    [(MISTYPED, 3, CauseKind.TRUTH), (MISTYPED + 1, 3, CauseKind.UNCLEAR), (MISTYPED + 1, 5, CauseKind.TRUTH)],
)
def test_a_truth_that_differs_in_many_slots_takes_more_readers_to_doubt(differ: int, votes: int, kind: CauseKind) -> None:
    assert grounds(differ, votes, 0.995).judged().kind is kind


CODES = Seen(tuple(SlotSeen(20, contrast=30.0, codes=Counter({name: 20})) for name in COLOURS), ())
BUT_ONE = replace(CODES, slots=(CODES.slots[0], SlotSeen(20, codes=Counter({"rust": 20})), *CODES.slots[2:]))


@pytest.mark.parametrize(
    ("differ", "seen", "by_codes", "votes", "sure"),
    [
        (1, SEEN, False, 1, RATHER), (1, CODES, True, 1, BY_CODES), (1, BUT_ONE, True, 1, RATHER),
        (2, BUT_ONE, True, 1, BY_CODES),
    ],
    ids=["raw", "its code is seen elsewhere", "its code is seen nowhere", "two slots"],
)  # fmt: skip
def test_a_truth_is_doubted_where_evidence_is_rather_sure_and_not_for_the_number_of_simple_readers(
    differ: int, seen: Seen, by_codes: bool, votes: int, sure: float
) -> None:
    assert grounds(differ, votes, sure, seen, by_codes).judged().kind is CauseKind.TRUTH
    assert grounds(differ, 7, sure - 0.01, seen, by_codes).judged().kind is not CauseKind.TRUTH


@pytest.mark.parametrize(
    ("samples", "kind"), [(FEW_SAMPLES - 1, CauseKind.SENSOR), (FEW_SAMPLES, CauseKind.TRUTH)]
)
def test_a_slot_with_hardly_a_sample_is_the_sensors_before_any_truth_is_doubted(samples: int, kind: CauseKind) -> None:
    few = replace(SEEN, slots=(SlotSeen(samples, contrast=30.0), *SEEN.slots[1:]))
    found = grounds(1, 3, 0.995, few).judged()
    assert found.kind is kind
    if kind is CauseKind.SENSOR:
        assert [(one.kind, one.slot) for one in found.findings] == [(FindingKind.FEW_SAMPLES, "1")]
