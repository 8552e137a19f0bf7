"""Labels, settings and runs that change while the matrix is being worked out, or while something is being filled in."""

from __future__ import annotations

import threading
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from by_hand import RUNS, click

from gui.model.matrix import VARIANT, Matrix
from gui.window import Window
from telemetry.course import parse_truth
from telemetry.errors import SidelongError
from telemetry.recording.load import load
from telemetry.recording.relabel import relabel
from telemetry.replay.evaluate import work
from telemetry.replay.scoring.score import Outcome


def another_truth(path: Path) -> tuple[str, ...]:
    """Two slots changed about, as the course allows it."""
    recording = load(path)
    assert recording.truth is not None
    assert recording.course is not None
    for one, other in combinations(range(len(recording.truth)), 2):
        truth = list(recording.truth)
        truth[one], truth[other] = truth[other], truth[one]
        try:
            if tuple(truth) != recording.truth and parse_truth(", ".join(truth), recording.course):
                return tuple(truth)
        except SidelongError:
            continue
    raise AssertionError("no other truth is possible")


def settled(decide: Any, qtbot: Any) -> None:
    def all_there() -> bool:
        matrix = decide.matrix
        return matrix._job is None and all((p, c) in matrix.results for p in matrix.paths for c in matrix.columns[:4])

    qtbot.waitUntil(all_there, timeout=90_000)


class Gate:
    """Holds a function at the ``at``-th call until it is opened."""

    def __init__(self, work: Any, at: int = 1) -> None:
        self._work, self._left = work, at
        self.reached, self.open = threading.Event(), threading.Event()

    def __call__(self, *given: Any, **more: Any) -> Any:
        result = self._work(*given, **more)
        self._left -= 1
        if self._left == 0:
            self.reached.set()
            self.open.wait(20)
        return result


@pytest.mark.parametrize("when", ["judged", "loaded"])
def test_a_truth_corrected_while_that_run_is_worked_out(
    stocked: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch, when: str
) -> None:
    gate = Gate(work.load if when == "loaded" else work.read_case)
    monkeypatch.setattr(work, "load" if when == "loaded" else "read_case", gate)
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(gate.reached.is_set, timeout=30_000)
    path = decide.matrix.paths[0]
    strategy = "windows"
    stocked.show_place("runs")
    truth = another_truth(path)
    assert stocked.workspace.shelf.set_truth(path, truth)
    gate.open.set()
    stocked.show_place("decide")
    settled(decide, qtbot)
    assert decide.matrix.result(path, strategy).outcome is Outcome.WRONG
    assert load(path).truth == truth


def test_compare_anew_sees_a_truth_set_by_another_program(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(RUNS), timeout=30_000)
    settled(decide, qtbot)
    path = stocked.workspace.folder.path / "practice 1.h5"
    assert decide.matrix.result(path, "windows").outcome is Outcome.RIGHT
    truth = another_truth(path)
    relabel(path, lambda meta: replace(meta, truth=truth))
    click(qtbot, decide.again_button)
    settled(decide, qtbot)
    assert decide.matrix.result(path, "windows").outcome is Outcome.WRONG


def test_a_setting_tried_while_comparing_leaves_no_cell_empty(
    stocked: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate = Gate(work.load, at=2)
    monkeypatch.setattr(work, "load", gate)
    stocked.show_place("decide")
    decide: Any = stocked.place
    matrix: Matrix = decide.matrix
    qtbot.waitUntil(gate.reached.is_set, timeout=30_000)
    settings = decide.settings
    settings.choice.setCurrentIndex(settings.choice.findData("hold"))
    settings._build()
    box = next(field for key, field in settings.fields.items() if key.startswith("hold."))
    box.setValue(box.value() + 3)
    qtbot.waitUntil(lambda: VARIANT in matrix.columns, timeout=30_000)
    gate.open.set()
    settled(decide, qtbot)
    wanted = [(path, column) for path in matrix.paths for column in (VARIANT, "windows", "hold")]
    assert not [cell for cell in wanted if cell not in matrix.results]


def test_a_truth_goes_to_the_run_it_was_filled_in_for(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("runs")
    runs: Any = stocked.place
    shelf = stocked.workspace.shelf
    path = stocked.workspace.folder.path / "practice 1.h5"
    before = {entry.path: entry.truth for entry in shelf.entries}
    runs.table.choose(path)
    runs.picker.map.setFocus()
    for slot, colour in enumerate(another_truth(path)):
        runs.picker.put(slot, colour)
    shelf.move([path], away=True)
    qtbot.waitUntil(lambda: len(shelf.entries) == len(RUNS) - 1, timeout=30_000)
    runs.picker.confirm()
    shelf.refresh()
    qtbot.waitUntil(lambda: not shelf._jobs.busy, timeout=30_000)
    assert all(before[entry.path] == load(Path(entry.path)).truth for entry in shelf.entries)


def test_removed_brought_back_and_removed_again(stocked: Window) -> None:
    shelf, undo = stocked.workspace.shelf, stocked.workspace.undo
    path = stocked.workspace.folder.path / "practice 1.h5"
    kept = path.read_bytes()
    shelf.remove([path])
    path.write_bytes(b"another of the same name")
    shelf.remove([path])
    undo.undo()
    assert path.read_bytes() == b"another of the same name"
    path.unlink()
    undo.undo()
    assert path.read_bytes() == kept


def test_taking_back_a_truth_leaves_what_others_wrote_meanwhile(stocked: Window) -> None:
    shelf, undo = stocked.workspace.shelf, stocked.workspace.undo
    path = stocked.workspace.folder.path / "practice 1.h5"
    truth = load(path).truth
    assert truth is not None
    shelf.set_truth(path, None)
    relabel(path, lambda meta: replace(meta, remarks="by another program"))
    undo.undo()
    assert load(path).truth == truth
    assert load(path).meta.remarks == "by another program"
    undo.redo()
    assert load(path).truth is None
    assert load(path).meta.remarks == "by another program"
