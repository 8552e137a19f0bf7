"""Reading by evidence: what it reads that others do not, where it does harm, and what it says of its own certainty."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.course import parse_course
from telemetry.palette_default import default_palette
from telemetry.reading.compiled import Compiled
from telemetry.reading.evidence.table import code_chances, colour_table, group_table, place_table
from telemetry.reading.flat import owners
from telemetry.reading.plan import make_plan
from telemetry.replay.header import palette_for
from telemetry.sample import MISSING, SampleTable, whole_columns

from .other_robot import LEVELS, course_text
from .runs import Case, Reader, bench, built_in_runs, other_runs

EVIDENCE, ENOUGH, WINDOWS = Reader("evidence"), Reader("enough"), Reader("windows")


def case(level: str = "practice", seed: int = 2, palette: str = "earth", layout: str = "row", mode: str = "both") -> Case:
    made, colours = bench(31, palette, layout)
    drive = made.drive(LEVELS[level], seed)
    return Case(level, seed, drive.table, drive.course, drive.truth, colours).only(mode)


@pytest.mark.parametrize("mode", ["both", "raw", "codes"])
@pytest.mark.parametrize("layout", ["row", "beads", "shelf"])
@pytest.mark.parametrize("palette", ["matt", "dark mat", "white table", "earth"])
def test_practice_runs_are_read_and_said_to_be_sure(palette: str, layout: str, mode: str) -> None:
    one = case(palette=palette, layout=layout, mode=mode)
    colours, sure = EVIDENCE.read(one)
    assert colours == one.truth
    assert sure >= 0.9


@pytest.mark.parametrize("mode", ["both", "raw"])
def test_a_wrong_distance_and_a_late_start_do_not_shift_the_slots(mode: str) -> None:
    runs = [one.only(mode) for one in other_runs(600, 12, ("slipping",))]
    assert sum(EVIDENCE.read(one)[0] == one.truth for one in runs) >= 11
    assert sum(WINDOWS.read(one)[0] == one.truth for one in runs) <= 9


def test_gather_and_decide_turn_wrong_into_right_and_elsewhere_do_harm() -> None:
    right = next(one for one in (case("slipping", seed) for seed in range(20)) if WINDOWS.read(one)[0] != one.truth)
    assert EVIDENCE.read(right)[0] == right.truth
    assert WINDOWS.read(right)[0] != right.truth
    # A distance wrong by a half is more than it looks for; who only counts colours in order does not care.
    counts = Reader("checklist")
    runs = (case("practice", seed, layout="shelf") for seed in range(30))
    harm = next(one for one in runs if counts.read(one)[0] == one.truth)
    harm.table.columns["dist"] = np.asarray(harm.table.columns["dist"], dtype=np.float64) * 1.9
    assert counts.read(harm)[0] == harm.truth
    assert EVIDENCE.read(harm)[0] != harm.truth


def test_without_gather_there_is_nothing_to_decide() -> None:
    one = case()
    plan = EVIDENCE.plan(one)
    decide = plan.chains[0].stages[2]
    decide.decide()
    assert all(margin < 1 or colour < 0 for margin, colour in zip(decide.margin, decide.final, strict=True))


def test_enough_commits_early_and_in_windows_only() -> None:
    one = case()
    plan = ENOUGH.plan(one)
    whole = [whole_columns(one.table.columns, one.table.rows, "", one.table.colours, plan.names)]
    events = plan.run(whole, plan.note_rows(one.table.notes), 0, one.table.rows)
    assert ENOUGH.read(one)[0] == one.truth
    # It has decided the first tag while the robot still is on the first quarter of its way.
    assert events[0][0] < one.table.rows // 4
    slipping = list(other_runs(700, 10, ("slipping",)))
    right = [sum(reader.read(one)[0] == one.truth for one in slipping) for reader in (ENOUGH, EVIDENCE)]
    assert right[0] < right[1]


def test_the_order_alone_is_enough_where_no_place_is_known() -> None:
    text = course_text("beads")
    lines = [line for line in text.splitlines() if not line.startswith("at_cm")]
    course = parse_course("\n".join(lines))
    made, colours = bench(32, "dark mat", "beads")
    for seed in range(4):
        drive = made.drive(LEVELS["practice"], seed)
        one = Case("practice", seed, drive.table, course, drive.truth, colours)
        assert EVIDENCE.read(one)[0] == one.truth
        without = {name: column for name, column in drive.table.columns.items() if name != "dist"}
        table = SampleTable(columns=without, rows=drive.table.rows, colours=drive.table.colours, notes=drive.table.notes)
        assert EVIDENCE.read(Case("practice", seed, table, drive.course, drive.truth, colours))[0] == one.truth


def test_a_slot_that_nothing_was_seen_of_is_assumed_and_said_to_be_unsure() -> None:
    one = case()
    note = one.table.notes[0].row
    dist = np.asarray(one.table.columns["dist"], dtype=np.float64)
    gone = (dist > 4.0) & (dist < 15.0)
    gone[note:] = False
    for name in ("red", "green", "blue", "refl"):
        one.table.columns[name] = np.where(gone, np.nan, one.table.columns[name])
    one.table.columns["colour"] = np.where(gone, -1, one.table.columns["colour"]).astype(np.int16)
    colours, sure = EVIDENCE.read(one)
    assert colours[1:] == one.truth[1:]
    assert sure < 0.6
    # Who would rather say nothing than guess says so.
    assert Reader("evidence:decide.timid=6000").read(one)[0] == (None, *one.truth[1:])


@pytest.mark.parametrize("measured", [True, False])
@pytest.mark.parametrize("where", ["everywhere", "later"])
def test_reflected_light_that_says_nothing_does_not_outweigh_the_codes(where: str, measured: bool) -> None:
    """It may be the same over all markers, or come in with a header in mid-run."""
    one = case().only("codes")
    refl = np.full(one.table.rows, 55.0)
    if where == "later":
        refl[: one.table.rows // 2] = np.nan
    one.table.columns["refl"] = refl
    palette = one.palette if measured else palette_for(one.table, one.course, None)
    assert EVIDENCE.read(replace(one, palette=palette))[0] == one.truth


def test_of_a_run_without_samples_nothing_is_said() -> None:
    one = case()
    for name in ("red", "green", "blue", "refl"):
        one.table.columns[name] = np.full(one.table.rows, np.nan)
    one.table.columns["colour"] = np.full(one.table.rows, -1, dtype=np.int16)
    assert set(EVIDENCE.read(one)[0]) == {None}


def test_an_empty_slot_is_said_to_be_empty() -> None:
    text = course_text("beads").replace('name = "bead 3"', 'name = "bead 3"\nempty_ok = true')
    course = parse_course(text)
    made, colours = bench(33, "matt", "beads")
    made.course = course
    drive = made.drive(LEVELS["practice"], 8)
    table = drive.table
    where = np.abs(np.asarray(table.columns["dist"], dtype=np.float64) - 25.0) < 2.5
    quiet = np.flatnonzero(np.asarray(table.columns["dist"], dtype=np.float64) < 6.0)
    for name in ("red", "green", "blue", "refl", "colour"):
        column = np.asarray(table.columns[name]).copy()
        column[where] = np.resize(column[quiet], int(where.sum()))
        table.columns[name] = column
    truth = (*drive.truth[:2], "empty", *drive.truth[3:])
    assert EVIDENCE.read(Case("practice", 8, table, course, truth, colours))[0] == truth


def test_typical_colours_still_read_a_practice_run_by_its_codes() -> None:
    one = case(mode="both")
    typical = Case(one.level, one.seed, one.table, one.course, one.truth, default_palette())
    assert EVIDENCE.read(typical)[0] == one.truth


@pytest.mark.parametrize("strategy", ["evidence", "enough"])
@pytest.mark.parametrize("mode", ["both", "codes"])
def test_compiled_it_reads_the_same(strategy: str, mode: str) -> None:
    pytest.importorskip("numba")
    one = case("venue", 4, mode=mode)
    plan = Reader(strategy).plan(one)
    whole = [whole_columns(one.table.columns, one.table.rows, "", one.table.colours, plan.names)]
    notes = plan.note_rows(one.table.notes)
    compiled = [event for _, _, event in Compiled(plan).run(whole, notes, one.table.rows)]
    plan.reset()
    stepped = [event for _, _, event in plan.run(whole, notes, 0, one.table.rows)] + [event for _, event in plan.finish()]
    assert compiled == stepped
    assert stepped


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.booleans())
def test_no_stream_whatever_brings_it_out_of_step(seed: int, ordered: bool) -> None:
    """Garbage in every column: it must end, stay in range, and decide no slot twice."""
    rng = np.random.default_rng(seed)
    rows = int(rng.integers(1, 400))
    made, colours = bench(34, "matt", "shelf")
    columns = {
        "t_us": np.cumsum(rng.integers(0, 90_000, rows)), "boot": np.zeros(rows, np.int64),
        "colour": rng.integers(-1, 7, rows).astype(np.int16),
        **{name: rng.choice([np.nan, 0.0, 5.0, 1023.0, 65535.0], rows) for name in ("red", "green", "blue")},
        "dist": np.where(rng.random(rows) < 0.1, np.nan, rng.normal(0, 3000 if ordered else 30, rows)),
    }  # fmt: skip
    table = SampleTable(columns=columns, rows=rows, colours=("none", *made.course.colours, "white"))
    plan = make_plan(EVIDENCE.strategy, made.course, colours, list(columns), table.colours)
    whole = [whole_columns(columns, rows, "", table.colours, plan.names)]
    events = [event for _, _, event in plan.run(whole, {}, 0, rows)] + [event for _, event in plan.finish()]
    slots = [(event >> 8) & 255 for event in events]
    assert len(slots) == len(set(slots)) <= len(made.course.slots)
    for owner in owners(plan.chains):
        for name, value in vars(owner).items():
            numbers = value if isinstance(value, list) else [value] if isinstance(value, int) else []
            assert all(-(1 << 30) <= number <= (1 << 30) for number in numbers), name


def test_the_built_in_robots_extreme_runs() -> None:
    runs = list(built_in_runs(900, 8, ("extreme",)))
    assert sum(EVIDENCE.read(one)[0] == one.truth for one in runs) >= 6


def test_tables_are_whole_numbers_in_range() -> None:
    made, palette = bench(35, "white table", "row")
    names = ("none", *made.course.colours)
    table = colour_table(palette, names, len(names), frozenset({"red", "green", "blue", "refl", "dist"}))
    for numbers in (table.mul, table.none, table.marks, table.white):
        assert all(type(value) is int and abs(value) < 20000 for value in numbers)
    places = place_table(made.course, 0, frozenset({"dist"}))
    assert places.place.count(-2) == 1
    assert places.place.count(-1) == len(made.course.legs)
    assert sorted(slot for slot in places.place if slot >= 0) == [0, 1, 2, 3, 4, 5, 6]
    assert place_table(made.course, 0, frozenset()).ordered
    assert MISSING in place_table(made.course, 0, frozenset()).at
    groups = group_table(made.course, names)
    assert groups.kind == [1, 1]
    chances = code_chances(palette, names, len(names))
    assert chances.sum(axis=1) == pytest.approx(1.0)
    assert (chances > 0).all()
