"""What a verdict rests on, each ground by itself: how few samples, how many readers, how many slots."""

from __future__ import annotations

from dataclasses import replace

import pytest

from telemetry.course import parse_course
from telemetry.findings import FindingKind
from telemetry.replay.verdict.grounds import AGREE, ENOUGH, FEW_SAMPLES, MISTYPED, Grounds
from telemetry.replay.verdict.seen import Seen, SlotSeen
from telemetry.replay.verdict.slips import Slip, slip_of
from telemetry.replay.verdict_kind import CauseKind

from .runs import built_in_palette

COLOURS = ("rust", "orange", "leaf", "sky", "white", "pink")
SLOTS = "".join(f'[[slot]]\nname = "{i + 1}"\nat_cm = {10 * i + 10}\ncolours = {list(COLOURS)}\n' for i in range(6))
COURSE = parse_course(f'[course]\nname = "six"\n{SLOTS}')
SEEN = Seen(tuple(SlotSeen(20, contrast=30.0) for _ in COLOURS), ())


def grounds(differ: int, votes: int, sure: float, seen: Seen = SEEN, by_codes: bool = False) -> Grounds:
    """Readers who say what stands there, by raw channels; the truth says otherwise at the first ``differ`` slots."""
    truth = tuple(COLOURS[(i + 1) % 6] if i < differ else colour for i, colour in enumerate(COLOURS))
    return Grounds(COURSE, built_in_palette(), truth, COLOURS, True, votes, sure, seen, by_codes, None, 0.0)


@pytest.mark.parametrize(
    ("differ", "votes", "kind"),
    [(MISTYPED, 3, CauseKind.TRUTH), (MISTYPED + 1, 3, CauseKind.UNCLEAR), (MISTYPED + 1, 5, CauseKind.TRUTH)],
)
def test_a_truth_that_differs_in_many_slots_takes_more_readers_to_doubt(differ: int, votes: int, kind: CauseKind) -> None:
    assert grounds(differ, votes, 0.995).judged().kind is kind


def test_a_colour_that_was_never_captured_comes_before_all_else() -> None:
    one = grounds(1, 7, 0.995)
    few = replace(one.palette, measured=True, colours=tuple(c for c in one.palette.colours if c.name not in {"leaf", "sky"}))
    found = replace(one, palette=few).judged()
    assert found.kind is CauseKind.STALE
    assert found.why.startswith("the palette does not know leaf, sky")
    assert replace(one, palette=few, by_codes=True).judged().kind is not CauseKind.STALE


GROUPED = "".join(f'[[slot]]\nname = "{i + 1}"\nat_cm = {10 * i + 10}\ngroup = "all"\n' for i in range(6))
DISTINCT = parse_course(f'[course]\nname = "six"\n{GROUPED}[[group]]\nname = "all"\ndistinct = {[*COLOURS, "blue"]}\n')
EXCHANGED = (COLOURS[1], COLOURS[0], *COLOURS[2:])


@pytest.mark.parametrize(("slip", "by_codes"), ENOUGH)
def test_a_truth_is_doubted_where_evidence_is_rather_sure_of_what_one_slip_explains(slip: Slip, by_codes: bool) -> None:
    one = grounds(1, 7, ENOUGH[slip, by_codes], by_codes=by_codes)
    if slip is Slip.EXCHANGED:
        one = replace(one, course=DISTINCT, truth=EXCHANGED)
    assert slip_of(one.read, one.truth, one.course) is slip
    assert one.judged().kind is CauseKind.TRUTH
    assert replace(one, sure=one.sure - 0.01).judged().kind is not CauseKind.TRUTH


@pytest.mark.parametrize(("by_codes", "kind"), [(False, CauseKind.TRUTH), (True, CauseKind.SENSOR)])
def test_what_is_no_slip_is_doubted_by_raw_channels_alone_and_only_where_evidence_is_sure(
    by_codes: bool, kind: CauseKind
) -> None:
    one = replace(grounds(1, 7, 0.995, by_codes=by_codes), course=DISTINCT, truth=("blue", *COLOURS[1:]))
    known = one.palette.colours
    one = replace(one, palette=replace(one.palette, colours=(*known, replace(known[1], name="blue", codes={"blue": 1.0}))))
    assert slip_of(one.read, one.truth, one.course) is Slip.NONE
    assert one.judged().kind is kind
    assert replace(one, sure=0.98).judged().kind is not CauseKind.TRUTH


@pytest.mark.parametrize(("votes", "kind"), [(AGREE - 1, CauseKind.UNCLEAR), (AGREE, CauseKind.TRUTH)])
def test_readers_that_agree_will_do_where_evidence_reads_something_else(votes: int, kind: CauseKind) -> None:
    assert replace(grounds(1, votes, 0.0), by_evidence=False).judged().kind is kind
    assert grounds(1, votes, 0.0).judged().kind is CauseKind.UNCLEAR


@pytest.mark.parametrize(("samples", "kind"), [(FEW_SAMPLES - 1, CauseKind.SENSOR), (FEW_SAMPLES, CauseKind.TRUTH)])
def test_a_slot_with_hardly_a_sample_is_the_sensors_before_any_truth_is_doubted(samples: int, kind: CauseKind) -> None:
    few = replace(SEEN, slots=(SlotSeen(samples, contrast=30.0), *SEEN.slots[1:]))
    found = grounds(1, 3, 0.995, few).judged()
    assert found.kind is kind
    if kind is CauseKind.SENSOR:
        assert [(one.kind, one.slot) for one in found.findings] == [(FindingKind.FEW_SAMPLES, "1")]
