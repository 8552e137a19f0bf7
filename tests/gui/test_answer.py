"""The verdict first: what your robot, or else the strategy in use, read; then the cause, the remedy, and who reads it."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from by_hand import click, press
from PySide6.QtCore import Qt

from gui.model.answer import answer, listed
from gui.model.verdicts import RunResults, verdict_on
from gui.window import Window
from telemetry.recording.load import load
from telemetry.recording.relabel import relabel
from telemetry.replay.evaluate import Evaluator
from telemetry.replay.scoring.results import ROBOT
from telemetry.replay.scoring.score import Outcome


@pytest.fixture(scope="module")
def hard(ready: Path) -> RunResults:
    """A simulated run on which strategies differ."""
    return verdict_on(Evaluator(), load(ready / "slipping 102.h5"), None)


def of(verdict: RunResults, *strategies: str) -> RunResults:
    """The same with these results alone."""
    return RunResults(verdict.path, verdict.recording, tuple(one for one in verdict.results if one.strategy in strategies))


def named(verdict: RunResults, outcome: Outcome) -> str:
    return next(one.strategy for one in verdict.results if one.outcome is outcome and one.strategy != ROBOT)


def test_the_strategy_in_use_is_judged_not_the_crowd(hard: RunResults) -> None:
    """Ten of eleven may be right: where the one in use is wrong, the headline is that it is wrong."""
    wrong, right = named(hard, Outcome.WRONG), named(hard, Outcome.RIGHT)
    both = of(hard, wrong, right)
    said = answer(both, wrong)
    assert said.kind == "bad"
    assert said.headline.startswith(wrong)
    course = hard.recording.course
    assert course is not None
    score = hard.by_strategy[wrong].score
    assert score is not None
    first = next(slot.name for slot, how in zip(course.slots, score.slots, strict=True) if how != "right")
    assert first in said.headline
    assert said.remedy
    assert "1 of 2" in said.others
    assert right in said.others
    good = answer(both, right)
    assert (good.kind, good.subject) == ("good", right)
    assert "all 9 colours" in good.headline


def test_what_the_robot_itself_read_comes_before_any_strategy(hard: RunResults) -> None:
    assert ROBOT in hard.by_strategy, "the simulated robot says what it reads"
    said = answer(hard, named(hard, Outcome.RIGHT))
    assert said.subject == ROBOT
    assert said.headline.startswith("The simulated robot")
    right = of(hard, ROBOT, named(hard, Outcome.WRONG))
    if hard.by_strategy[ROBOT].outcome is Outcome.RIGHT:
        assert answer(right, named(hard, Outcome.WRONG)).kind == "warn", "right, but the strategy in use was not"


def test_without_the_colours_nothing_is_called_right(tmp_path: Path, hard: RunResults) -> None:
    untold = tmp_path / "untold.h5"
    shutil.copyfile(hard.path, untold)
    relabel(untold, lambda meta: replace(meta, truth=None))
    said = answer(verdict_on(Evaluator(), load(untold), None), "windows")
    assert (said.kind, said.action) == ("warn", "truth")
    assert "not known yet" in said.headline


def test_names_are_counted_when_there_are_many() -> None:
    assert listed(["a"]) == "a"
    assert listed(["a", "b"]) == "a and b"
    assert listed(["a", "b", "c", "d"]) == "a, b, c and d"
    assert listed(["a", "b", "c", "d", "e"]) == "a, b, c and 2 more"


def test_the_page_of_a_run_says_the_verdict_and_return_goes_on(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    first, second = (Path(entry.path) for entry in runs.table.runs.entries[:2])
    runs.table.choose(first)
    press(qtbot, stocked, Qt.Key.Key_Return)
    assert runs.view.run.path == first
    qtbot.waitUntil(lambda: runs.view.verdict is not None, timeout=30_000)
    band = runs.view.band
    assert band.headline.text() == answer(runs.view.verdict, stocked.workspace.selection.strategy).headline
    assert band.accessibleName().startswith(band.headline.text())
    press(qtbot, stocked, Qt.Key.Key_Return)
    assert runs.view.run.path == second
    for _ in range(len(runs.table.runs.entries)):
        press(qtbot, stocked, Qt.Key.Key_Return)
    assert "last run" in stocked.message_bar.text


def test_the_remedy_of_a_run_without_colours_leads_to_entering_them(stocked: Window, qtbot: Any) -> None:
    runs: Any = stocked.place
    path = stocked.workspace.folder.path / "practice 1.h5"
    stocked.workspace.shelf.set_truth(path, None)
    runs.open(path)
    qtbot.waitUntil(lambda: runs.view.verdict is not None, timeout=30_000)
    assert runs.view.band.action.text() == "Enter colours"
    click(qtbot, runs.view.band.action)
    assert runs.view is None
    assert runs.picker.map.hasFocus()
    assert runs.table.chosen() == [path]
