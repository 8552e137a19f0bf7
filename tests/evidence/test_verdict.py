"""The verdict on misread runs: logic, sensor, palette or truth."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from telemetry.cli import main
from telemetry.course import parse_course
from telemetry.palette import Palette
from telemetry.replay.limit.verdict import Kind, verdict

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


@pytest.mark.parametrize("level", ["practice", "venue", "slipping"])
def test_where_the_information_is_there_it_is_the_logic(level: str) -> None:
    run = drive(level)
    found = verdict(run.table, run.course, PALETTE, run.truth, right=["evidence"])
    assert found.kind is Kind.LOGIC
    assert "'evidence' reads it right" in found.why
    assert found.truth_probability is not None
    assert found.truth_probability > 0.9


def test_a_lucky_hit_is_not_taken_for_information() -> None:
    run = drive()
    found = verdict(run.table, run.course, PALETTE, swapped(run.truth), right=["first-come"])
    assert found.kind is Kind.TRUTH
    assert found.truth_probability is not None
    assert found.truth_probability < 0.01


def test_a_mistyped_truth_is_doubted_and_the_slots_are_named() -> None:
    run = drive()
    found = verdict(run.table, run.course, PALETTE, swapped(run.truth))
    assert found.kind is Kind.TRUTH
    assert "crate 1" in found.why
    assert "crate 2" in found.why
    assert found.limit == run.truth


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
    found = verdict(run.table, run.course, PALETTE, truth)
    assert found.kind is Kind.SENSOR
    assert "sample" in found.why
    assert "crate 2" in found.why


def test_a_palette_that_fits_nothing_is_stale() -> None:
    run = drive()
    assert verdict(run.table, run.course, mixed_up(PALETTE), run.truth).kind is Kind.STALE


def test_codes_that_say_nothing_leave_it_to_the_sensor_or_unclear() -> None:
    run = drive()
    for name in ("red", "green", "blue", "refl"):
        del run.table.columns[name]
    codes = np.asarray(run.table.columns["colour"]).copy()
    codes[codes > 0] = 0
    run.table.columns["colour"] = codes
    found = verdict(run.table, run.course, PALETTE, run.truth)
    assert found.kind in {Kind.SENSOR, Kind.UNCLEAR}


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
    found = verdict(run.table, made.course, palette, truth, right=["evidence"])
    assert found.limit == truth
    assert found.kind is Kind.LOGIC
