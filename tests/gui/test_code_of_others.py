"""Code that a file names runs only after a yes to its path: until then not a line of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from by_hand import RUNS
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QMessageBox

from gui.model.code_consent import CodeConsent
from gui.opening import open_paths
from gui.panels.ask_code import box_for
from gui.window import Window
from telemetry.errors import StrategyError
from telemetry.replay.baseline.check import present
from telemetry.replay.baseline.file import write_agreed
from telemetry.replay.compare import ComparisonRequest

CODE = """
from pathlib import Path
Path({mark!r}).write_text("ran")
class Ours:
    def step(self, label, m):
        return label
"""


@pytest.fixture
def code(stocked: Window, tmp_path: Path) -> tuple[Path, Path]:
    """The file, and what there is once it has run."""
    file, mark = stocked.workspace.folder.path / "ours.py", tmp_path / "ran"
    file.write_text(CODE.format(mark=str(mark)))
    return file, mark


def answer(window: Window, said: bool) -> list[str]:
    """From now on the window's user says this; the paths that were shown."""
    shown: list[str] = []

    def question(path: str) -> bool:
        shown.append(path)
        return said

    window.workspace.code.question = question
    return shown


def test_a_baseline_that_names_code_asks_with_its_path(stocked: Window, code: tuple[Path, Path], qtbot: Any) -> None:
    file, mark = code
    folder = stocked.workspace.folder.path
    paths = sorted(folder.glob("*.h5"))
    agreed, _, _ = present(paths, ComparisonRequest(("hold", str(file))), folder)
    (folder / "agreed.txt").write_text(write_agreed(agreed), encoding="utf-8")
    mark.unlink()
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(RUNS) and not decide.matrix.busy, timeout=60_000)
    guard = decide.guard
    assert not mark.exists()

    shown = answer(stocked, False)
    guard.check()
    qtbot.waitUntil(lambda: "Nothing has moved" in guard.words.text() and not guard._jobs.busy, timeout=60_000)
    assert shown == [str(file.resolve())]
    assert not mark.exists()
    assert str(file) in guard.list.item(0).text(), "what was left out is said"

    answer(stocked, True)
    guard.list.clear()
    guard.check()
    qtbot.waitUntil(mark.exists, timeout=60_000)
    qtbot.waitUntil(lambda: "Nothing has moved" in guard.words.text() and not guard._jobs.busy, timeout=60_000)
    assert not guard.list.count()


def test_a_file_of_code_that_is_opened_asks_and_stays_until_the_window_closes(
    stocked: Window, code: tuple[Path, Path], qtbot: Any
) -> None:
    file, mark = code
    shown = answer(stocked, False)
    open_paths(stocked.workspace, [str(file)])
    assert shown == [str(file.resolve())]
    assert not mark.exists()
    assert stocked.workspace.selection.own_strategies == []

    answer(stocked, True)
    open_paths(stocked.workspace, [str(file)])
    assert mark.exists()
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: "ours" in decide.matrix.columns and not decide.matrix.busy, timeout=60_000)
    assert "ours.py" not in stocked.workspace.settings.text("own_strategies"), "asked again at the next start"


def test_a_yes_is_of_the_file_as_it_was(tmp_path: Path) -> None:
    consent, path = CodeConsent(), tmp_path / "ours.py"
    path.write_text("class Ours: ...\n")
    assert not consent.asks(str(path)), "where nobody can be asked the answer is no"
    consent.question = lambda _path: True
    assert consent.asks(str(path))
    assert consent.in_use() == [str(path.resolve())]
    path.write_text("import os\n")
    assert consent.in_use() == []
    consent.question = lambda path: bool(Path(path).write_text("changed while the question stood there\n"))
    assert not consent.asks(str(path))
    with pytest.raises(StrategyError, match="no such file"):
        consent.asks(str(tmp_path / "gone.py"))


def test_the_box_shows_the_path_as_text_and_usually_means_no(qtbot: Any) -> None:
    box = box_for(None, "/runs/<b>ours</b>\x1b[1m.py")
    qtbot.addWidget(box)
    shows = [label for label in box.findChildren(QLabel) if "<b>ours</b>�[1m.py" in label.text()]
    assert [label.textFormat() for label in shows] == [Qt.TextFormat.PlainText]
    assert box.buttonRole(box.defaultButton()) is QMessageBox.ButtonRole.RejectRole
    assert box.buttonRole(box.escapeButton()) is QMessageBox.ButtonRole.RejectRole
