"""Runs is home: every run with its result and a picture, by session, filtered, and colours entered for many at once."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest
from by_hand import press
from PySide6.QtCore import Qt

from gui.model.opened_run import OpenedRun
from gui.model.standings import Standings, kind_of, picture, standing_of, wrong_slots
from gui.model.verdicts import verdict_on
from gui.panels.runs_model import ROBOT_SAID, by_session
from gui.window import Window
from telemetry.recording.library import Entry
from telemetry.recording.load import load
from telemetry.replay.evaluate import Evaluator
from telemetry.replay.scoring.results import ROBOT


@pytest.fixture
def settled(stocked: Window, qtbot: Any) -> Window:
    """The results of all runs are known."""
    of = stocked.workspace.standings.of
    qtbot.waitUntil(lambda: all(of(entry) for entry in stocked.workspace.shelf.entries), timeout=30_000)
    return stocked


def test_the_result_of_a_run_is_that_of_the_strategy_in_use(settled: Window, qtbot: Any) -> None:
    workspace = settled.workspace
    entry = next(one for one in workspace.shelf.entries if "slipping" in one.path)
    run = OpenedRun(load(Path(entry.path)), None)
    for strategy in ("first-come", "evidence"):
        workspace.selection.use_strategy(strategy)
        qtbot.waitUntil(lambda: workspace.standings.of(entry) is not None, timeout=30_000)
        assert workspace.standings.of(entry) == standing_of(run, strategy, Evaluator())


def test_results_are_worked_out_anew_though_the_work_before_has_ended_unheard(
    settled: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The strategy changes after the last result was told and before it was told that this was all."""
    workspace, standings = settled.workspace, settled.workspace.standings
    entries = workspace.shelf.entries
    take, changed = standings._take, []

    def take_and_change(found: object) -> None:
        take(found)
        if not changed and all(standings.of(entry) for entry in entries):
            changed.append(True)
            while standings._jobs.busy:
                time.sleep(0.001)
            workspace.selection.use_strategy("first-come")

    monkeypatch.setattr(standings, "_take", take_and_change)
    workspace.selection.use_strategy("evidence")
    qtbot.waitUntil(lambda: bool(changed), timeout=30_000)
    qtbot.waitUntil(lambda: all(standings.of(entry) for entry in entries), timeout=30_000)


def test_a_run_that_was_cut_off_is_said_to_have_ended_early(tmp_path: Path) -> None:
    """Of a run whose last leg is missing: the sensor never came to the last marker."""
    from gui.model.ingesting import ingest
    from telemetry.recording.meta import Meta
    from telemetry.sources.synthetic.run import simulate

    run = simulate("practice", 1)
    for share, kind in ((1.0, "right"), (0.55, "early")):
        text = tmp_path / f"{share}.txt"
        text.write_bytes(run.data[: int(len(run.data) * share)])
        made = ingest(text, tmp_path, Meta(course=run.course.text, truth=run.truth, simulated=True))
        assert standing_of(OpenedRun(load(made), None), "windows", Evaluator()).kind == kind


def test_the_picture_shows_the_colours_in_the_order_in_which_they_were_passed(ready: Path) -> None:
    run = OpenedRun(load(ready / "practice 1.h5"), None)
    # Between its markers, at their edges, this sensor says pink.
    order = [colour for colour, _ in groupby(one for one in picture(run) if one not in {"none", "pink"})]
    truth = run.recording.truth
    assert truth is not None
    assert order[:3] == list(truth[:3])


def test_runs_are_filtered_by_result(settled: Window) -> None:
    runs: Any = settled.place
    of = settled.workspace.standings.of
    for kind in ("right", "wrong"):
        runs.filter.result.setCurrentIndex(runs.filter.result.findData(kind))
        runs.filter.changed.emit()
        shown = {entry.path for entry in runs.table.runs.entries}
        assert shown == {entry.path for entry in settled.workspace.shelf.entries if of(entry).kind == kind}  # type: ignore[union-attr]
        assert shown


def test_what_the_robot_itself_read_has_a_column_and_a_filter(settled: Window, qtbot: Any) -> None:
    """A run can be wrong by the robot and right by the strategy: one must see which."""
    runs: Any = settled.place
    standings, model = settled.workspace.standings, runs.table.runs
    for entry in settled.workspace.shelf.entries:
        robot = verdict_on(Evaluator(), load(Path(entry.path)), None, "windows", alone=True).by_strategy[ROBOT]
        standing = standings.of(entry)
        assert standing is not None
        assert standing.robot == kind_of(robot)
        said = model.index(model.row_of[entry.path], ROBOT_SAID).data(Qt.ItemDataRole.AccessibleTextRole)
        assert said == {"right": "✓ right", "wrong": f"✗ {wrong_slots(robot)} wrong"}[str(standing.robot)]
    runs.filter.result.setCurrentIndex(runs.filter.result.findData("robot wrong"))
    runs.filter.changed.emit()
    shown = [standings.of(entry) for entry in runs.table.runs.entries]
    assert shown
    assert all(one is not None and one.robot == "wrong" for one in shown)


def test_colours_are_entered_for_many_runs_at_once_and_taken_back_at_once(settled: Window, qtbot: Any) -> None:
    runs: Any = settled.place
    paths = [settled.workspace.folder.path / f"practice {number}.h5" for number in (1, 2)]
    before = [load(path).truth for path in paths]
    runs.table.choose(*paths)
    press(qtbot, settled, Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier)
    assert runs.picker.colours == [None] * 9, "they differ, so nothing is filled in"
    qtbot.keyClicks(runs.picker.map, "SWLOLPSWR")
    press(qtbot, settled, Qt.Key.Key_Return)
    typed = ("sky", "white", "leaf", "orange", "leaf", "pink", "sky", "white", "rust")
    assert {load(path).truth for path in paths} == {typed}
    settled.workspace.undo.undo()
    assert [load(path).truth for path in paths] == before


def test_a_long_pause_begins_another_session() -> None:
    start = datetime(2026, 5, 2, 16, 0)  # noqa: DTZ001
    made = [start, start - timedelta(minutes=5), start - timedelta(hours=4), start - timedelta(days=1)]
    entries = [Entry(f"{number}.h5", made=one.isoformat()) for number, one in enumerate(made)]
    rows = by_session(entries)
    assert [row if isinstance(row, str) else row.path for row in rows] == [
        "Saturday, 2 May 2026 · 15:55 – 16:00 · 2 runs", "0.h5", "1.h5", "Saturday, 2 May 2026 · 12:00 · 1 run", "2.h5",
        "Friday, 1 May 2026 · 16:00 · 1 run", "3.h5",
    ]  # fmt: skip


def test_coming_back_finds_the_list_as_it_was(settled: Window, qtbot: Any) -> None:
    runs: Any = settled.place
    entries = [Entry(f"/nowhere/{number}.h5", name=f"run {number}", made="2026-05-02T16:00:00") for number in range(400)]
    settled.workspace.shelf.entries = entries
    settled.workspace.shelf.changed.emit()
    runs.table.choose(Path(entries[200].path))
    at = runs.table.verticalScrollBar().value()
    assert at > 0
    settled.workspace.shelf.changed.emit()
    assert runs.table.verticalScrollBar().value() == at
    assert runs.table.chosen() == [Path(entries[200].path)]


def test_standings_are_for_the_runs_asked_for_last(stocked: Window, qtbot: Any) -> None:
    standings = Standings(stocked.workspace.selection, stocked.workspace.evaluator, stocked)
    entries = stocked.workspace.shelf.entries
    standings.want(entries[:1])
    standings.want(entries[2:3])
    qtbot.waitUntil(lambda: standings.of(entries[2]) is not None, timeout=30_000)
    standings.close()


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (960, 540)])
def test_the_list_is_whole_on_a_small_screen(stocked: Window, qtbot: Any, width: int, height: int) -> None:
    """960 by 540 is a screen of 1920 by 1080 at 200 %: rows are seen, and nothing scrolls sideways."""
    runs: Any = stocked.place
    stocked.resize(width, height)
    qtbot.waitUntil(lambda: stocked.width() == width, timeout=30_000)
    qtbot.wait(50)
    assert runs.table.horizontalScrollBar().maximum() == 0
    assert runs.table.viewport().visibleRegion().boundingRect().height() >= 3 * 34
    runs._to_truth()
    assert runs.picker.confirm_button.visibleRegion().boundingRect().height() > 20, "the colours are in view to be entered"


def test_a_list_that_is_as_it_was_is_not_filled_again(settled: Window, qtbot: Any) -> None:
    """Pages list the folder when they are entered; only what is another list costs time. Labels always do."""
    shelf, filled = settled.workspace.shelf, []
    qtbot.waitUntil(lambda: not shelf._jobs._running, timeout=30_000)
    shelf.changed.connect(lambda: filled.append(True))
    shelf.refresh()
    qtbot.waitUntil(lambda: not shelf._jobs._running, timeout=30_000)  # what was found has been told by then
    assert not filled
    path = Path(shelf.entries[0].path)
    for count, change in enumerate(({"tags": ("first",)}, {"light": "daylight"}), 1):
        assert shelf.relabel(path, "label", lambda meta, change=change: replace(meta, **change))
        qtbot.waitUntil(lambda count=count: len(filled) == count, timeout=30_000)
