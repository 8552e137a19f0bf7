"""Nobody is blamed for a slot that the robot never passed; and no full drive is taken for one that ended early."""

from __future__ import annotations

import pytest

from replay.runs import GOOD, TRUTH, drive, row, table_of
from telemetry.replay.beyond import driven_cm
from telemetry.replay.case import READINGS_ONLY, Case
from telemetry.replay.judge import judge
from telemetry.replay.runner import Stretch
from telemetry.replay.scoring.results import ROBOT
from telemetry.replay.scoring.score import Outcome
from telemetry.replay.sources import chosen_strategies
from telemetry.sources.synthetic.levels import LEVELS
from telemetry.sources.synthetic.run import simulate
from telemetry.wording import sentences

EARLY = "the drive ended early, after 22 cm by its own distance: c was never passed"


def outcomes(text, truth=TRUTH, names=("hold", "windows")):
    strategies = chosen_strategies(names, ())
    results, robot = judge(Case("run", table_of(text), row, truth), strategies, READINGS_ONLY)
    return {one.strategy: one for one in (*results, *([robot] if robot else []))}


def test_a_drive_that_ended_early_judges_nobody_who_read_what_it_passed():
    results = outcomes(drive(*GOOD, to_cm=22, notes=((12, "read,a,rust"), (21.5, "read,b,leaf"))))
    assert set(results) == {"hold", "windows", ROBOT}
    for result in results.values():
        assert (result.outcome, result.why) == (Outcome.NOT_APPLICABLE, (EARLY,))
        assert sentences(result.run.remarks) == (EARLY,)


def test_who_misread_what_it_passed_is_wrong_all_the_same():
    assert outcomes(drive(GOOD[0], (19, 21, "pink"), to_cm=22))["hold"].outcome is Outcome.WRONG


def test_who_says_to_have_seen_what_it_never_passed_is_wrong():
    results = outcomes(drive(*GOOD, to_cm=22, notes=((1, "read,a,rust"), (2, "read,b,leaf"), (3, "read,c,pink"))))
    assert results[ROBOT].outcome is Outcome.WRONG
    assert results["hold"].outcome is Outcome.NOT_APPLICABLE, "what was read wrongly there does not say that it was there"


def test_a_distance_that_was_set_back_is_not_driven_backwards():
    table = table_of(drive(to_cm=30) + drive(to_cm=10, start_ms=700).partition("\n")[2])
    assert driven_cm(table, Stretch(0, table.rows)) == 40.0


def test_a_whole_drive_that_missed_the_last_is_wrong():
    assert outcomes(drive(*GOOD[:2]))["hold"].outcome is Outcome.WRONG


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (drive(*GOOD, to_cm=26), "it may have driven a seventh more than its distance says"),
        (drive(*GOOD, to_cm=22).replace("dist/cm", "speed/cm_s"), "it sends no distance"),
        (drive(*GOOD, to_cm=15) + drive(*GOOD, to_cm=15, start_ms=400).partition("\n")[2], "its distance was set back"),
        (drive(*GOOD, to_cm=15) + "400,none,36\n", "lines were lost"),
    ],
)
def test_nothing_is_said_of_what_may_have_been_passed(text, why):
    table = table_of(text)
    results, _ = judge(Case("run", table, row, TRUTH), chosen_strategies(("hold",), ()), READINGS_ONLY)
    assert not results[0].run.remarks, why


@pytest.mark.parametrize(("lines", "first"), [(420, "crate 1"), (600, "crate 4"), (800, "")])
def test_on_the_last_leg_its_own_place_tells(lines, first):
    """A run of the built-in robot cut off in the yard: at its gate, before crate 4, and behind all that is passed."""
    run = simulate("practice", 5)
    table = table_of("".join(run.data.decode().splitlines(keepends=True)[:lines]))
    strategies = chosen_strategies(("hold", "windows", "always-answer", "evidence"), ())
    results, _ = judge(Case("run", table, run.course, run.truth), strategies, READINGS_ONLY)
    for result in results:
        assert result.outcome is (Outcome.NOT_APPLICABLE if first else Outcome.RIGHT)
        assert (f": {first} and " in "".join(result.why)) == bool(first)


@pytest.mark.parametrize("level", LEVELS)
def test_whole_drives_of_the_built_in_robot_are_whole(level):
    strategies = chosen_strategies(("hold",), ())
    for seed in range(1, 9):
        run = simulate(level, seed)
        results, _ = judge(Case("run", table_of(run.data.decode()), run.course, run.truth), strategies, READINGS_ONLY)
        assert results[0].run.remarks == ()


@pytest.mark.parametrize("spoil", ["lost", "zero", "stuck", "half"])
def test_a_distance_that_is_wrong_takes_no_right_reading_away(spoil):
    """A whole drive, all of it read right; only what the robot says of its distance is spoilt."""
    run = simulate("practice", 5)
    table = table_of(run.data.decode())
    dist = table.columns["dist"].astype(float)
    half = table.rows // 2
    if spoil == "half":
        dist *= 0.5
    else:
        dist[half if spoil != "zero" else 0 :] = {"lost": float("nan"), "zero": 0.0, "stuck": dist[half]}[spoil]
    table.columns["dist"] = dist
    strategies = chosen_strategies(("hold", "checklist"), ())
    results, robot = judge(Case("run", table, run.course, run.truth), strategies, READINGS_ONLY)
    assert robot is not None
    for result in (*results, robot):
        assert result.outcome is Outcome.RIGHT
        assert result.run.remarks == ()
