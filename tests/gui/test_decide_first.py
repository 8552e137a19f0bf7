"""Decide, best first: what to use is said in the headline; robot and strategy in use are pinned; one step to the robot."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from by_hand import RUNS

from gui.model.matrix import VARIANT
from gui.model.recommendation import recommend
from gui.window import Window
from telemetry.replay.scoring.results import ROBOT, StrategySummary, ranked
from telemetry.replay.scoring.score import Errors


def of(strategy: str, correct: int, runs: int) -> StrategySummary:
    return StrategySummary(strategy, runs, correct, None, Errors(), None, None, 0, 0, 0, ())


def test_the_better_one_is_recommended_and_the_one_in_use_named() -> None:
    said = recommend([of("evidence", 9, 10), of("windows", 4, 10)], "windows")
    assert (said.strategy, said.kind) == ("evidence", "bad")
    assert said.headline == "Use evidence: 9 of 10 runs correct. windows, in use now: 4."


def test_who_is_as_good_as_any_is_kept() -> None:
    said = recommend([of("evidence", 9, 10), of("windows", 9, 10)], "windows")
    assert (said.strategy, said.kind) == ("", "good")
    assert said.headline.startswith("Keep windows: 9 of 10 runs correct, as do evidence")


def test_without_a_judged_run_nothing_is_recommended() -> None:
    assert not recommend([of("windows", 0, 0)], "windows").strategy


@pytest.fixture
def decided(stocked: Window, qtbot: Any) -> Window:
    stocked.show_place("decide")
    matrix = stocked.place.matrix  # type: ignore[attr-defined]
    qtbot.waitUntil(lambda: len(matrix.paths) == len(RUNS) and not matrix.busy, timeout=60_000)
    return stocked


def test_robot_and_strategy_in_use_come_first_then_the_best(decided: Window) -> None:
    decide: Any = decided.place
    shown, matrix = decide.view.cells.shown, decide.matrix
    assert shown[:2] == [ROBOT, decided.workspace.selection.strategy]
    idle = matrix.idle()
    assert idle, "some strategy needs a stop, which these runs do not have"
    assert not set(idle) & set(shown)
    summaries = [matrix.summary(column) for column in shown[2:]]
    assert [one.strategy for one in ranked(summaries)] == shown[2:]
    decide.fold_button.click()
    assert set(idle) <= set(decide.view.cells.shown)


def test_what_is_recommended_can_be_used_and_given_up_again(decided: Window) -> None:
    decide: Any = decided.place
    decided.workspace.selection.use_strategy("first-come")
    decide._show_summary()
    wanted = decide.headline.shown.strategy
    assert wanted
    decide.headline.use_button.click()
    assert decided.workspace.selection.strategy == wanted
    assert decide.view.cells.shown[1] == wanted
    decided.message_bar.act_button.click()
    assert decided.workspace.selection.strategy == "first-come"


def test_the_inspector_keeps_its_height_from_cell_to_cell(decided: Window, qtbot: Any) -> None:
    decide: Any = decided.place
    heights = set()
    for column in decide.view.cells.shown[:3]:
        for path in decide.matrix.paths:
            decide.view.choose(path, column)
            qtbot.wait(10)
            heights.add(decide.cell.height())
    assert len(heights) == 1


def test_a_cell_that_a_changed_setting_changes_is_outlined(decided: Window, qtbot: Any) -> None:
    decide: Any = decided.place
    matrix, cells = decide.matrix, decide.view.cells
    matrix.try_out("hold:hold.samples=60")
    qtbot.waitUntil(lambda: all((path, VARIANT) in matrix.results for path in matrix.paths), timeout=30_000)
    won, lost = matrix.change()
    at = cells.shown.index(VARIANT)
    outlined = {path for row, path in enumerate(matrix.paths) if cells.has_changed(cells.index(row, at))}
    assert outlined == {*won, *lost}
    assert outlined


def written(decided: Window, qtbot: Any, folder: Path, strategy: str, language: str) -> str:
    """What the dialog says once it has written into a folder."""
    from gui.panels.robot_dialog import RobotDialog

    path = decided.workspace.folder.path / "practice 1.h5"
    dialog = RobotDialog([(strategy, strategy)], strategy, [path], selection=decided.workspace.selection, near=path.parent,
                         parent=decided)  # fmt: skip
    dialog.language.setCurrentIndex(dialog.language.findData(language))
    dialog.write(folder)
    qtbot.waitUntil(lambda: bool(dialog.made), timeout=60_000)
    said = dialog.words.text()
    assert [one.parent for one in dialog.made] == [folder] * len(dialog.made)
    dialog.write(folder)
    qtbot.waitUntil(lambda: "is there already" in dialog.words.text(), timeout=60_000)
    dialog.close()
    return said


def test_the_program_for_the_robot_reads_what_the_computer_reads(decided: Window, qtbot: Any, tmp_path: Path) -> None:
    """The check that is written beside it says so itself (contract: formats.md, what goes onto the robot)."""
    said = written(decided, qtbot, tmp_path / "robot", "windows", "micropython")
    assert re.search(r"reader\.py \([0-9,]+ bytes\)", said)
    assert "same as on the computer" in said
    done = subprocess.run([sys.executable, str(tmp_path / "robot" / "check.py")], stdin=subprocess.DEVNULL,
                          capture_output=True, text=True, check=False, timeout=60)  # fmt: skip
    assert done.stdout.startswith("same as on the computer")


@pytest.mark.skipif(shutil.which("cc") is None, reason="no C compiler here")
def test_the_program_in_c_is_compiled_and_checked(decided: Window, qtbot: Any, tmp_path: Path) -> None:
    said = written(decided, qtbot, tmp_path / "robot", "windows", "c")
    assert re.search(r"reader\.h \([0-9,]+ bytes\), reader\.c \([0-9,]+ bytes\)", said)
    assert "same as on the computer" in said
    assert re.search(r"A step takes [0-9.]+ us here", said)


@pytest.mark.parametrize(("strategy", "another"), [("hold", False), ("evidence", True)])
def test_the_recipe_is_a_page(decided: Window, qtbot: Any, tmp_path: Path, strategy: str, another: bool) -> None:
    (tmp_path / "sheet").mkdir()
    said = written(decided, qtbot, tmp_path / "sheet", strategy, "recipe")
    assert "recipe.html is in" in said
    assert ("cannot be built from blocks" in said) == another
    page = (tmp_path / "sheet" / "recipe.html").read_text(encoding="utf-8")
    assert "<svg" in page
    assert ("evidence" in page) == another, "where it is another strategy, the page says instead of which"


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (960, 540)])
def test_decide_is_whole_on_a_small_screen(decided: Window, qtbot: Any, width: int, height: int) -> None:
    """960 by 540 is a screen of 1920 by 1080 at 200 %. No sideways scrolling, no cut heading, the buttons on one line."""
    decide: Any = decided.place
    decided.resize(width, height)
    qtbot.waitUntil(lambda: decided.width() == width, timeout=30_000)
    decide.fold_button.click()  # every strategy
    qtbot.wait(50)
    view = decide.view
    assert view.horizontalScrollBar().maximum() == 0
    shares = [view.columnWidth(column) for column in range(len(view.cells.shown))]
    assert view.heads.upright or view.heads.level_width() <= min(shares)
    assert min(shares) >= 36, "room for a sign and a number"
    buttons = (decide.which, decide.fold_button, decide.again_button, decide.more.margins_button, decide.more.report_button)
    assert len({one.geometry().center().y() for one in buttons}) == 1
    assert decide.cards.left.horizontalScrollBar().maximum() == 0
    decide.guard.answered.emit("an answer", "good")
    assert decide.guard.visibleRegion().boundingRect().height() > 40, "the answer is in view"
    decided.resize(1360, 860)
    qtbot.waitUntil(lambda: not decide.cards.below, timeout=30_000)
    assert decide.cards.right.isVisible()


def test_without_a_run_nothing_is_said_to_be_replayed(window: Window) -> None:
    """Found by a newcomer: 'Replaying the runs ...' stood there for ever."""
    window.show_place("decide")
    decide: Any = window.place
    assert decide.headline.words.text() == "No run judges a strategy yet."
    assert decide.summary.text().startswith("No run whose colours are entered yet.")
