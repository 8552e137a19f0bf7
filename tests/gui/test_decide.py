"""Decide, driven by mouse and key on recorded runs of the built-in robot."""

from __future__ import annotations

import re
import threading
from pathlib import Path
from typing import Any

import pytest
from by_hand import RUNS, click, press
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QSlider, QWidget

from gui.model.answer import cause_sentence
from gui.model.matrix import VARIANT, Matrix
from gui.window import Window
from telemetry.recording.load import load
from telemetry.replay.case import Given
from telemetry.replay.evaluate import work
from telemetry.replay.judge import judge
from telemetry.replay.scoring.results import ROBOT, ranked
from telemetry.replay.scoring.score import Outcome
from telemetry.replay.sources import chosen_strategies


def names_the_best(decide: Any) -> None:
    """No strategy is called best that is one of several."""
    matrix, words = decide.matrix, decide.summary.text()
    summaries = ranked([matrix.summary(column) for column in matrix.columns if column != ROBOT])
    top = summaries[0]
    equal = [one for one in summaries if (one.correct, one.runs, one.errors) == (top.correct, top.runs, top.errors)]
    best = [one.strategy for one in equal]
    named = [column for column in best if column in words.replace(",", " ").split()]
    counted = re.search(r"and (\d+) more", words)
    assert len(named) + (int(counted[1]) if counted else 0) == len(best)


def test_the_matrix_says_what_the_comparison_says_and_opens_the_failure(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    matrix = decide.matrix
    qtbot.waitUntil(lambda: len(matrix.paths) == len(RUNS) and not matrix.busy, timeout=60_000)
    for path in matrix.paths:
        recording = load(path)
        results, robot = judge(Given().case(recording), chosen_strategies((), ()))
        for result in results:
            shown = matrix.result(path, result.strategy)
            assert shown is not None
            assert (shown.outcome, shown.taken) == (result.outcome, result.taken)
        assert robot is not None
        assert matrix.result(path, robot.strategy).taken == robot.taken
    names_the_best(decide)
    chosen = decide.view.chosen()
    assert chosen is not None
    assert chosen[1] == ranked([matrix.summary(one) for one in matrix.columns if one != ROBOT])[0].strategy
    path, column = next(
        key for key, one in matrix.results.items() if one.outcome is Outcome.WRONG and key[1] in matrix.columns[:4]
    )
    decide.view.choose(path, column)
    assert column in decide.cell_words.text()
    assert decide.cell_why.text()
    qtbot.waitUntil(lambda: path in matrix.causes, timeout=60_000)
    assert cause_sentence(matrix.causes[path]) in decide.cell_why.text()
    words, why = decide.cell_words.text(), decide.cell_why.text()
    click(qtbot, decide.again_button)
    assert words != decide.cell_words.text(), "it is being worked out"
    qtbot.waitUntil(lambda: (decide.cell_words.text(), decide.cell_why.text()) == (words, why), timeout=60_000)
    decide.view.setFocus()
    press(qtbot, stocked, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: stocked.place.name == "runs", timeout=30_000)
    view = stocked.places["runs"].view  # type: ignore[attr-defined]
    assert view.run.path == path
    assert view.strategy == column
    assert view.stack.cursor_row >= 0


def test_who_is_equal_is_named_or_counted(stocked: Window, qtbot: Any) -> None:
    easy = sorted(stocked.workspace.folder.path.glob("practice*.h5"))
    stocked.workspace.go("decide", easy)
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(easy) and not decide.matrix.busy, timeout=60_000)
    names_the_best(decide)
    assert "more, 2 of 2 right" in decide.summary.text()


def wheel_on(widget: QWidget) -> QWheelEvent:
    here, turned = QPointF(5, 5), QPoint(0, -120)
    return QWheelEvent(
        here, widget.mapToGlobal(here), turned, turned,
        Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip


def test_changing_a_setting_moves_the_matrix_at_once(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    matrix = decide.matrix
    qtbot.waitUntil(lambda: len(matrix.paths) == len(RUNS) and not matrix.busy, timeout=60_000)
    looked_at = (matrix.paths[1], "smooth")
    decide.view.choose(*looked_at)
    decide.settings.choice.setCurrentIndex(decide.settings.choice.findData("hold"))
    decide.settings._build()
    key, box = next((key, field) for key, field in decide.settings.fields.items() if key.startswith("hold."))
    box.setValue(60)  # more than any marker shows
    qtbot.waitUntil(lambda: VARIANT in matrix.columns, timeout=30_000)
    shown = decide.view.cells.shown
    assert shown[shown.index(VARIANT) - 1] == "hold"
    assert decide.view.chosen() == looked_at
    spec = f"hold:{key}={box.value()}"
    assert matrix.variant_spec == spec
    qtbot.waitUntil(lambda: all((path, VARIANT) in matrix.results for path in matrix.paths), timeout=30_000)
    recording = load(matrix.paths[0])
    results, _ = judge(Given().case(recording), chosen_strategies((spec,), ()))
    assert matrix.result(matrix.paths[0], VARIANT).taken == results[0].taken
    won, lost = matrix.change()
    for path in matrix.paths:
        was, is_now = (matrix.result(path, column).outcome is Outcome.RIGHT for column in ("hold", VARIANT))
        assert (path in won, path in lost) == (is_now and not was, was and not is_now)
    assert lost
    assert not won
    qtbot.waitUntil(lambda: "With your changes hold reads" in decide.summary.text(), timeout=30_000)
    for word, paths in (("Newly correct", won), ("Newly wrong", lost)):
        assert (f"{word}: {paths[0].stem}" if paths else "") in decide.summary.text()
    # Whoever scrolls past a number, a slider or a list changes nothing.
    for target in (box, decide.settings.choice, *decide.settings.findChildren(QSlider)):
        before = decide.settings.spec()
        target.setFocus()
        QApplication.sendEvent(target, wheel_on(target))
        assert decide.settings.spec() == before
    click(qtbot, decide.settings.back_button)
    qtbot.waitUntil(lambda: VARIANT not in matrix.columns, timeout=30_000)


def test_a_strategy_that_was_kept_is_a_column_of_its_own(
    stocked: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    matrix = decide.matrix
    qtbot.waitUntil(lambda: len(matrix.paths) == len(RUNS) and not matrix.busy, timeout=60_000)
    decide.settings.choice.setCurrentIndex(decide.settings.choice.findData("hold"))
    decide.settings._build()
    decide.settings.fields["hold.samples"].setValue(60)
    kept = tmp_path / "patient.toml"
    monkeypatch.setattr("gui.places.decide.free_file", lambda *_: kept)
    click(qtbot, decide.settings.keep_button)
    assert "patient.toml" in decide.window().message_bar.text
    workspace = stocked.workspace
    for window_matrix in (
        matrix,
        Matrix(workspace.selection, workspace.standings, workspace.messages, workspace.evaluator),
    ):  # and at the next start
        assert "patient" in window_matrix.columns
        assert [(name, own.file) for name, own in window_matrix.own.items()] == [("patient", str(kept))]
    qtbot.waitUntil(lambda: all((path, "patient") in matrix.results for path in matrix.paths), timeout=60_000)
    run = load(matrix.paths[0])
    results, _ = judge(Given().case(run), chosen_strategies((str(kept),), ()))
    assert matrix.result(matrix.paths[0], "patient").taken == results[0].taken
    decide.view.choose(matrix.paths[0], "patient")
    assert "patient" in decide.cell_words.text()
    # Another of this name in another folder has a column of its own; one that fits no course here fails alone.
    other = tmp_path / "other"
    other.mkdir()
    (other / "patient.toml").write_text('[[stage]]\nuse = "auto"\n[[stage]]\nuse = "mute"\ncolours = "mauve"\n')
    stocked.workspace.selection.keep_own_strategy(other / "patient.toml")
    decide.compare_anew()
    assert list(matrix.own) == ["patient", "patient 2"]
    settled = ("hold", "patient")
    qtbot.waitUntil(lambda: all((path, one) in matrix.results for path in matrix.paths for one in settled), timeout=60_000)
    assert not matrix.problems
    assert not any((path, "patient 2") in matrix.results for path in matrix.paths)
    # What was read once is not missed until it is asked for anew.
    kept.unlink()
    matrix.forget(matrix.paths[0])
    decide._choose_runs()
    qtbot.waitUntil(lambda: (matrix.paths[0], "patient") in matrix.results, timeout=60_000)
    decide.compare_anew()
    assert list(matrix.own) == ["patient"], "that of the other folder"


def test_the_guard_names_what_has_changed(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(RUNS) and not decide.matrix.busy, timeout=60_000)
    guard = decide.guard
    click(qtbot, guard.keep_button)
    qtbot.waitUntil(lambda: guard.file is not None and guard.check_button.isEnabled(), timeout=60_000)
    text = guard.file.read_text(encoding="utf-8")
    assert 'readings."tag 1"' in text
    line = re.search(r'readings\."tag 1" = "(\w+)"', text)
    assert line is not None
    other = "sky" if line[1] != "sky" else "rust"
    guard.file.write_text(text.replace(line[0], f'readings."tag 1" = "{other}"', 1), encoding="utf-8")
    assert "Baseline saved" in decide.window().message_bar.text
    guard.file.write_text(text, encoding="utf-8")
    press(qtbot, stocked, Qt.Key.Key_B, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: "Nothing has moved" in decide.window().message_bar.text and not guard._jobs.busy, timeout=60_000)
    assert "Nothing has moved" in guard.words.text(), "the answer stays"
    guard.file.write_text(text.replace(line[0], f'readings."tag 1" = "{other}"', 1), encoding="utf-8")
    stocked.resize(1100, 640)
    press(qtbot, stocked, Qt.Key.Key_B, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: guard.list.count() >= 1, timeout=60_000)
    assert "differ from the baseline" in decide.window().message_bar.text
    seen = decide.cards.right.viewport().rect()
    assert seen.contains(guard.words.mapTo(decide.cards.right.viewport(), QPoint(0, 0))), "it is not below the fold"
    assert other in guard.list.item(0).text()
    assert "tag 1" in guard.list.item(0).text()


def test_the_guard_answers_for_the_folder_it_was_asked_in(stocked: Window, qtbot: Any, tmp_path: Path) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(RUNS) and not decide.matrix.busy, timeout=60_000)
    guard, before = decide.guard, stocked.workspace.folder.path
    guard.keep()
    (tmp_path / "hall").mkdir()
    stocked.workspace.use_folder(tmp_path / "hall")
    qtbot.waitUntil(lambda: not guard._jobs.busy, timeout=60_000)
    assert len(list(before.glob("baseline *.txt"))) == 1
    assert "Baseline saved" not in decide.window().message_bar.text
    assert "No baseline yet" in guard.words.text()


def test_comparing_can_be_cancelled_by_key(stocked: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    began: list[Path] = []
    gate = threading.Event()
    original = work.load

    def slow(path: Path) -> Any:
        began.append(path)
        gate.wait(10)
        return original(path)

    monkeypatch.setattr(work, "load", slow)
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(began) == 1, timeout=30_000)
    press(qtbot, stocked, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: decide.matrix._job is not None and decide.matrix._job.cancelled, timeout=30_000)
    gate.set()
    qtbot.waitUntil(lambda: not decide.matrix.busy, timeout=30_000)
    assert len(began) == 1, "the runs after the cancelled one were not replayed"
