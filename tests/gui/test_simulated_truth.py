"""The simulated robot fills in the colours of the round that was driven, however late its lines arrive, or none."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import numpy as np
import pytest

from gui.model.keeping import simulated_truth
from gui.model.watch import Watch
from telemetry.course import format_truth
from telemetry.recording.cut import cut
from telemetry.recording.journal.records import JournalWriter, journal_path
from telemetry.recording.load import load
from telemetry.recording.meta import Meta
from telemetry.sample import Note, SampleTable
from telemetry.sources.synthetic.runs import runs_in_a_row
from telemetry.stream.drives import drives

START_US = 1_700_000_000_000_000
ROUNDS = 3


@dataclass
class Captured:
    """Three rounds of the robot. ``at_us``: the robot's time when each begins, ``rows`` of each drive in ``table``."""

    watch: Watch
    table: SampleTable
    truths: list[str]
    folder: Path

    def arrival_us(self, row: int) -> int:
        return int(self.table.columns["arrival_us"][row])

    def said(self, begin_us: int, end_us: int, notes: list[Note] | None = None) -> str:
        """Of the run that is kept from ``begin_us`` to ``end_us``."""
        target = self.folder / f"run {len(list(self.folder.iterdir()))}.h5"
        cut(Path(self.watch.recording), target, begin_us, end_us, Meta())
        return simulated_truth(self.watch, load(target), self.table.notes if notes is None else notes)


def captured(folder: Path, late_s: float, lost: tuple[int, ...] = ()) -> Captured:
    """``late_s``: everything of so many seconds arrives at once. ``lost``: the announcements of these rounds do not."""
    watch = Watch(str(folder / "watch-1.h5"), "", "robot", simulated=True)
    runs = list(islice(runs_in_a_row("practice", 7, None, 2000.0, day=7), ROUNDS))
    truths = [format_truth(run.truth) for run in runs]
    names = [f"simulated robot, level practice, seed {7 + number}" for number in range(ROUNDS)]
    watch.robot_log.write_text("\n".join(f"{name}: {truth}" for name, truth in zip(names, truths, strict=True)))
    pieces: dict[int, list[bytes]] = {}
    ended_ms = 0.0
    for run in runs:
        for at_ms, line in zip(run.at_ms.tolist(), run.lines, strict=True):
            number = int((ended_ms + at_ms) / 1000.0 / late_s)
            if not any(names[one].encode() in line for one in lost):
                pieces.setdefault(number, []).append(line)
        ended_ms += float(run.at_ms[-1])
    writer = JournalWriter(journal_path(Path(watch.recording)), Meta(), made_ns=START_US * 1000)
    for number, lines in pieces.items():
        writer.received(START_US * 1000 + round((number + 1) * late_s * 1e9), b"".join(lines))
    writer.close()
    whole = folder / "whole.h5"
    cut(Path(watch.recording), whole, 0, 1 << 57, Meta())
    return Captured(watch, load(whole).table, truths, folder)


@pytest.mark.parametrize("late_s", [0.05, 4.0, 9.0])
def test_each_round_gets_its_own_colours_or_none(tmp_path: Path, late_s: float) -> None:
    """Begun where the robot was found to move, ended at rest, or so late that the next round has begun."""
    made = captured(tmp_path, late_s)
    found = drives(made.table)
    assert len(found) == ROUNDS
    for drive, truth in zip(found, made.truths, strict=True):
        begin_us, end_us = made.arrival_us(drive.first), made.arrival_us(drive.last)
        for later_s in (0.0, 1.0, 2.0, 3.0):
            said = made.said(begin_us, end_us + round(later_s * 1e6))
            assert said in ("", truth), f"{later_s} s late"
    if late_s < 1.0:
        ends = [made.said(made.arrival_us(one.first), made.arrival_us(one.last)) for one in found]
        assert ends == made.truths


def test_the_beginning_of_the_next_round_takes_no_colours_from_it(tmp_path: Path) -> None:
    """A round is announced before its recording begins; where only the next one's announcement lay in it, that was taken."""
    made = captured(tmp_path, 0.05)
    first, second, _ = drives(made.table)
    begun = int(np.searchsorted(made.table.columns["t_us"], made.table.columns["t_us"][second.first] + 1_900_000))
    assert made.said(made.arrival_us(first.first), made.arrival_us(begun)) == ""


def test_the_end_of_the_round_before_takes_none_either(tmp_path: Path) -> None:
    made = captured(tmp_path, 0.05)
    first, second, _ = drives(made.table)
    t_us = made.table.columns["t_us"]
    ending = int(np.searchsorted(t_us, t_us[first.last] - 4_000_000))
    assert made.said(made.arrival_us(ending), made.arrival_us(second.last)) == ""


def test_a_lost_announcement_is_not_replaced_by_the_one_before(tmp_path: Path) -> None:
    made = captured(tmp_path, 0.05, lost=(1,))
    said = [made.said(made.arrival_us(one.first), made.arrival_us(one.last)) for one in drives(made.table)]
    assert said == [made.truths[0], "", made.truths[2]]


def test_notes_that_have_not_been_taken_in_yet_are_no_reason_to_guess(tmp_path: Path) -> None:
    made = captured(tmp_path, 0.05)
    second = drives(made.table)[1]
    begin_us, end_us = made.arrival_us(second.first), made.arrival_us(second.last)
    early = [note for note in made.table.notes if note.t_us < made.table.columns["t_us"][second.first] - 5_000_000]
    assert made.said(begin_us, end_us, early) == ""


def test_half_a_round_is_not_taken_for_a_round(tmp_path: Path) -> None:
    made = captured(tmp_path, 0.05)
    second = drives(made.table)[1]
    middle = (second.first + second.last) // 2
    assert made.said(made.arrival_us(middle), made.arrival_us(second.last)) == ""
