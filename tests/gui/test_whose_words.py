"""Each statement says whose reading it is, and goes when the run, the strategy or who is looked at changes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from by_hand import RUNS, press
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QLineEdit

from gui.model.course_draft import CourseDraft
from gui.model.recommendation import recommend
from gui.panels.file_dialogs import NewFolderDialog, ask_for_folder
from gui.panels.robot_dialog import next_step
from gui.panels.runs_model import RESULT
from gui.window import Window
from telemetry.replay.scoring.results import ROBOT, StrategySummary
from telemetry.replay.scoring.score import Errors, Outcome


@pytest.fixture
def opened(stocked: Window, qtbot: Any) -> Any:
    """A run that some strategy misread, with its verdict."""
    runs: Any = stocked.place
    runs.open(stocked.workspace.folder.path / "venue 103.h5")
    qtbot.waitUntil(lambda: runs.view.verdict is not None, timeout=30_000)
    return runs


def strategy_that(view: Any, outcome: Outcome) -> str:
    return next(str(one.strategy) for one in view.verdict.results if one.outcome is outcome and one.strategy != ROBOT)


def test_who_went_wrong_is_not_told_under_another_run(opened: Any, stocked: Window, qtbot: Any) -> None:
    view = opened.view
    view.look_at(strategy_that(view, Outcome.RIGHT))
    view.show_failure()
    assert "went wrong" in stocked.message_bar.text
    opened.open(stocked.workspace.folder.path / "practice 1.h5")
    assert not stocked.message_bar.text


def test_who_went_wrong_is_not_told_once_another_is_looked_at(opened: Any, stocked: Window) -> None:
    view, right = opened.view, strategy_that(opened.view, Outcome.RIGHT)
    view.look_at(right)
    view.show_failure()
    assert "went wrong" in stocked.message_bar.text
    view.look_at(right)
    assert not stocked.message_bar.text


def test_the_verdict_on_an_open_run_follows_the_strategy_in_use(opened: Any, stocked: Window) -> None:
    view, selection = opened.view, stocked.workspace.selection
    wrong, right = strategy_that(view, Outcome.WRONG), strategy_that(view, Outcome.RIGHT)

    def said() -> str:
        return str(view.band.accessibleName())

    selection.use_strategy(wrong)
    assert f"{wrong}, the strategy in use, misread it" in said() or said().startswith(wrong)
    selection.use_strategy(right)
    assert f"{wrong}, the strategy in use" not in said()
    assert not said().startswith(wrong)
    opened.show_list()
    selection.use_strategy(wrong)  # nobody listens any more


def test_the_list_says_with_which_strategy_its_results_are(stocked: Window) -> None:
    runs: Any = stocked.place
    head = lambda: runs.table.runs.headerData(RESULT, Qt.Orientation.Horizontal)  # noqa: E731
    selection = stocked.workspace.selection
    assert head() == f"With {selection.strategy}"
    selection.use_strategy("first-come")
    assert head() == "With first-come"
    choice = runs.filter.strategy
    assert choice.fontMetrics().horizontalAdvance(choice.currentText()) < choice.sizeHint().width()


def of(strategy: str, correct: int, decided_ms: int | None) -> StrategySummary:
    return StrategySummary(strategy, 10, correct, None, Errors(), None, decided_ms, 0, 0, 0, ())


def test_a_recommendation_says_how_late_the_readings_are_there() -> None:
    said = recommend([of("evidence", 9, 8520), of("windows", 4, 4900)], "windows")
    assert said.when == "From the start to the last reading: evidence 8.5 s, windows 4.9 s (median)."
    assert recommend([of("windows", 9, 4900)], "windows").when.endswith("windows 4.9 s (median).")
    assert not recommend([of("windows", 9, None)], "windows").when


@pytest.fixture
def decide(stocked: Window, qtbot: Any) -> Any:
    stocked.show_place("decide")
    place: Any = stocked.place
    qtbot.waitUntil(lambda: len(place.matrix.paths) == len(RUNS) and not place.matrix.busy, timeout=60_000)
    return place


def test_making_a_report_moves_no_button(decide: Any, qtbot: Any) -> None:
    buttons = (decide.more.margins_button, decide.more.report_button)
    qtbot.wait(20)
    before = [one.pos() for one in buttons]
    assert decide.fold_button.isVisible()
    decide._progress(1, 4)
    qtbot.wait(20)
    assert [one.pos() for one in buttons] == before
    decide._progress(4, 4)
    qtbot.wait(20)
    assert [one.pos() for one in buttons] == before
    assert decide.fold_button.isVisible(), "what does not apply can be shown again"


def test_settings_follow_the_strategy_in_use_unless_one_is_tried_out(decide: Any, stocked: Window) -> None:
    selection = stocked.workspace.selection
    selection.use_strategy("hold")
    assert decide.settings.strategy == "hold"
    decide.settings.fields["hold.samples"].setValue(7)
    selection.use_strategy("windows")
    assert decide.settings.strategy == "hold", "what is tried out is kept"


@pytest.mark.parametrize("there", [False, True])
def test_a_new_folder_can_be_named(stocked: Window, tmp_path: Path, there: bool) -> None:
    """Where the dialog is Qt's own. Nothing is made before something is written."""
    wanted = tmp_path / "on robot"
    if there:
        wanted.mkdir()

    def answer() -> None:
        dialog = next(one for one in stocked.findChildren(NewFolderDialog))
        field = dialog.findChild(QLineEdit, "fileNameEdit")
        assert field is not None
        field.setText("on robot")
        dialog.accept()

    QTimer.singleShot(0, stocked, answer)
    assert Path(ask_for_folder(stocked, "A folder", tmp_path, new=True)) == wanted
    assert wanted.exists() == there


@pytest.mark.parametrize(("language", "file"), [("micropython", "reader.py"), ("c", "reader.c")])
def test_what_to_do_with_the_files_is_said(language: str, file: str) -> None:
    assert next_step(language).startswith("Next: ")
    assert file in next_step(language)


def test_the_second_leg_is_leg_2(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("course")
    place: Any = stocked.place
    press(qtbot, stocked, Qt.Key.Key_N, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    assert place.problem.text() == "✓ This is a course: 1 marker."
    draft: CourseDraft = place.draft
    draft.add("leg")
    draft.add("leg")
    assert draft.names("leg") == ["lane", "leg 2", "leg 3"]
