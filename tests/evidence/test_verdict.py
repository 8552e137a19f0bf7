"""The verdict on misread runs: logic, truth, palette, codes or sensor."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from telemetry.cli import main
from telemetry.course import parse_course
from telemetry.palette import Palette
from telemetry.reading.strategies import STRATEGIES
from telemetry.replay.case import Ask, Case
from telemetry.replay.judge import judge
from telemetry.replay.verdict.grounds import MISTYPED
from telemetry.replay.verdict_kind import CauseKind, Verdict

from .other_robot import LEVELS, NAMES, Bench, Drive, course_text, stream_text
from .runs import bench

MADE, PALETTE = bench(21, "earth", "row")


def drive(level: str = "practice", seed: int = 3) -> Drive:
    return MADE.drive(LEVELS[level], seed)


def swapped(truth: tuple[str, ...]) -> tuple[str, ...]:
    """The truth with two crates changed about, as people mistype it."""
    out = list(truth)
    out[3], out[4] = out[4], out[3]
    return tuple(out)


def mixed_up(palette: Palette) -> Palette:
    """A palette from another sensor: every colour half way to the next."""
    names = [name for name in palette.names if name != "none"]
    following = dict(zip(names, names[1:] + names[:1], strict=True))
    by_name = {colour.name: colour for colour in palette.colours}
    return replace(
        palette,
        colours=tuple(
            c if c.name == "none" else replace(c, mean=0.5 * c.mean + 0.5 * by_name[following[c.name]].mean)
            for c in palette.colours
        ),
    )


def tinted(palette: Palette) -> Palette:
    """A palette from another light: far more red, hardly any blue, and light that adds to everything."""
    gain, more = np.array([2.2, 0.9, 0.25, 1.0]), np.array([0.0, 300.0, 0.0, 0.0])
    return replace(
        palette, colours=tuple(replace(c, mean=c.mean * gain + more * (c.name != "none")) for c in palette.colours)
    )


def cause(
    run: Drive, truth: tuple[str, ...], palette: Palette | None = PALETTE, names: tuple[str, ...] = ("first-come",),
) -> Verdict:  # fmt: skip
    """The verdict of a comparison of ``names``."""
    case = Case("run", run.table, run.course, truth, palette)
    results, _ = judge(case, {name: STRATEGIES[name] for name in names}, Ask(verdict=True))
    found = next((result.verdict for result in results if result.verdict is not None), None)
    assert found is not None, "nothing was misread"
    return found


@pytest.mark.parametrize("level", ["practice", "venue", "slipping"])
def test_where_a_strategy_reads_it_right_it_is_the_logic(level: str) -> None:
    run = drive(level)
    found = cause(run, run.truth)
    assert found.kind is CauseKind.LOGIC
    assert "reads this recording right" in found.why
    assert found.read == run.truth
    # The same where that strategy was among those compared.
    assert cause(run, run.truth, names=("first-come", "evidence")).kind is CauseKind.LOGIC


def test_a_truth_that_any_strategy_reads_is_not_doubted() -> None:
    for seed in range(20):
        run = drive("extreme", seed)
        result = judge(
            Case("run", run.table, run.course, run.truth, PALETTE), {"always-answer": STRATEGIES["always-answer"]}
        )
        read = tuple(reading.colour or "" for reading in result[0][0].taken.slots)
        if "" not in read and read != run.truth:
            break
    else:
        pytest.fail("it reads every run right: take harder ones")
    found = cause(run, read)
    assert found.kind is CauseKind.LOGIC
    assert "reads this recording right" in found.why


def test_a_mistyped_truth_is_doubted_and_the_slots_are_named() -> None:
    run = drive()
    found = cause(run, swapped(run.truth))
    assert found.kind is CauseKind.TRUTH
    assert "crate 1" in found.why
    assert "crate 2" in found.why
    assert found.read == run.truth


def test_the_truth_of_another_run_is_doubted_too() -> None:
    run, another = drive(), drive(seed=9)
    assert sum(a != b for a, b in zip(run.truth, another.truth, strict=True)) > MISTYPED
    assert cause(run, another.truth).kind is CauseKind.TRUTH


def test_without_a_palette_that_is_said_and_no_truth_is_doubted() -> None:
    run = drive()
    del run.table.columns["colour"]
    found = cause(run, swapped(run.truth), palette=None)
    assert found.kind is CauseKind.NO_PALETTE
    assert "typical" in found.why


def test_two_colours_with_one_code_are_named() -> None:
    run = drive()
    codes = np.asarray(run.table.columns["colour"]).copy()
    crate, other = (NAMES.index(run.truth[i]) + 1 for i in (3, 4))
    codes[codes == crate] = other
    run.table.columns["colour"] = codes
    for name in ("red", "green", "blue", "refl"):
        del run.table.columns[name]
    merged = tuple(
        replace(colour, codes={NAMES[other - 1]: 1.0}) if colour.name == run.truth[3] else colour
        for colour in PALETTE.colours
    )
    found = cause(run, run.truth, replace(PALETTE, colours=merged))
    assert found.kind is CauseKind.NO_CODE
    assert run.truth[3] in found.why


def test_samples_that_never_came_are_the_sensors_fault() -> None:
    run = drive()
    truth = run.truth
    keep = np.ones(run.table.rows, dtype=bool)
    note = run.table.notes[0].row
    dist = np.asarray(run.table.columns["dist"], dtype=np.float64)
    near = np.abs(dist - dist[note] - 22.0) < 5.0
    keep[note:] &= ~near[note:]
    far = np.abs(dist - dist[note] - 46.0) < 5.0
    keep[note:] &= ~far[note:]
    run.table.columns = {name: column[keep] for name, column in run.table.columns.items()}
    run.table.rows = int(keep.sum())
    run.table.notes = [replace(run.table.notes[0], row=int(keep[:note].sum()))]
    found = cause(run, truth)
    assert found.kind is CauseKind.SENSOR
    assert "sample" in found.why
    assert "crate 2" in found.why


def test_a_palette_that_fits_nothing_is_stale() -> None:
    run = drive()
    del run.table.columns["colour"]
    found = cause(run, run.truth, tinted(mixed_up(PALETTE)))
    assert found.kind is CauseKind.STALE
    assert "another light" in found.why


def test_codes_that_say_nothing_leave_it_to_the_sensor_or_unclear() -> None:
    run = drive()
    for name in ("red", "green", "blue", "refl"):
        del run.table.columns[name]
    codes = np.asarray(run.table.columns["colour"]).copy()
    codes[codes > 0] = 0
    run.table.columns["colour"] = codes
    found = cause(run, run.truth)
    assert found.kind is CauseKind.SENSOR
    assert "nothing but none" in found.why


def test_it_stands_in_the_output_of_compare(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = Bench(22, "earth", "row")
    (tmp_path / "course.toml").write_text(course_text("row"), encoding="utf-8")
    words = []
    for name in ("none", *NAMES):
        (tmp_path / f"{name}.txt").write_text(stream_text(made.still(name)), encoding="utf-8")
        words.append(f"{name}={tmp_path / name}.txt")
    assert main(["calibrate", *words, "-o", str(tmp_path / "palette.toml")]) == 0
    for name, change in (("good", tuple), ("mistyped", swapped)):
        run = made.drive(LEVELS["practice"], 4)
        (tmp_path / f"{name}.txt").write_text(stream_text(run.table), encoding="utf-8")
        told = ["--course", str(tmp_path / "course.toml"), "--truth", ",".join(change(run.truth))]
        assert main(["ingest", str(tmp_path / f"{name}.txt"), "-o", str(tmp_path / f"{name}.h5"), *told]) == 0
    files = [str(tmp_path / "good.h5"), str(tmp_path / "mistyped.h5")]
    out = tmp_path / "out.json"
    assert main(["compare", *files, "--palette", str(tmp_path / "palette.toml"), "--json", str(out)]) == 0
    runs = json.loads(out.read_text(encoding="utf-8"))["runs"]
    by_evidence = {Path(run["recording"]).stem: run for run in runs if run["strategy"] == "evidence"}
    assert by_evidence["good"]["correct"]
    assert all(reading["confidence"] >= 0.99 for reading in by_evidence["good"]["readings"])
    assert not by_evidence["mistyped"]["correct"]
    assert by_evidence["mistyped"]["verdict"]["kind"] == "is the truth right?"
    assert "is the truth right?" in capsys.readouterr().out


def test_an_empty_slot_is_no_reason_to_doubt_the_truth() -> None:
    text = course_text("beads").replace('name = "bead 3"', 'name = "bead 3"\nempty_ok = true')
    made, palette = bench(33, "matt", "beads")
    made.course = parse_course(text)
    run = made.drive(LEVELS["practice"], 8)
    where = np.abs(np.asarray(run.table.columns["dist"], dtype=np.float64) - 25.0) < 2.5
    quiet = np.flatnonzero(np.asarray(run.table.columns["dist"], dtype=np.float64) < 6.0)
    for name in ("red", "green", "blue", "refl", "colour"):
        column = np.asarray(run.table.columns[name]).copy()
        column[where] = np.resize(column[quiet], int(where.sum()))
        run.table.columns[name] = column
    truth = (*run.truth[:2], "empty", *run.truth[3:])
    run.course = made.course
    found = cause(run, truth, palette, names=("first-come", "evidence"))
    assert found.kind is CauseKind.LOGIC
    assert "'evidence'" in found.why
