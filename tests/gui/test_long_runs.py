"""A run of hours in the window: opened on a thread, drawn from levels that were made beforehand, the same as a short one."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from gui.model import opened_run, series
from gui.model.beginning import beginning_of as first_of
from gui.model.opened_run import OpenedRun
from gui.model.series import SPEED, TIME, WAY, Series
from gui.panels.first_look import FirstLook
from gui.panels.run_view import RunView
from gui.places import runs as places
from gui.window import Window
from telemetry.recording.hdf5 import reader
from telemetry.recording.load import load
from telemetry.replay import looks


@pytest.fixture(scope="module", autouse=True)
def read_before() -> None:
    """The process that reads files of others stays, and with it the thread that talks to it: not left over by one test."""
    load(recordings()[0])


@pytest.fixture
def long(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every run counts as one of hours."""
    monkeypatch.setattr(reader, "LONG_ROWS", 10)
    monkeypatch.setattr(looks, "LONG_ROWS", 10)
    monkeypatch.setattr(places, "LONG_ROWS", 10)
    monkeypatch.setattr(opened_run, "LONG_ROWS", 10)


def recordings() -> list[Path]:
    return sorted((Path(__file__).parents[2] / "recordings").glob("*.h5"))


def test_a_long_runs_series_is_that_of_a_short_one(long: None, monkeypatch: pytest.MonkeyPatch) -> None:
    path = recordings()[0]
    later = load(path).table
    monkeypatch.setattr(reader, "LONG_ROWS", 1 << 40)
    whole = Series.whole(load(path).table)
    plain = series.pieces
    monkeypatch.setattr(series, "pieces", lambda rows, *_piece, start=0: plain(rows, 64, start=start))
    one = Series.whole(later)
    assert one.channels == whole.channels
    np.testing.assert_array_equal(one.time_s, whole.time_s)
    np.testing.assert_allclose(one.way_cm, whole.way_cm, atol=1e-9)
    for mine, other in zip(one.path_cm, whole.path_cm, strict=True):
        np.testing.assert_allclose(mine, other, atol=1e-3)
    assert one.gaps == whole.gaps
    for name in (*one.channels, SPEED):
        np.testing.assert_allclose(np.asarray(one.channel(name)), np.asarray(whole.channel(name)), atol=1e-4)
        for axis in (TIME, WAY):
            end = float(whole.axis(axis)[-1])
            mine, other = one.level(name, axis, end * 0.2, end * 0.7, 8), whole.level(name, axis, end * 0.2, end * 0.7, 8)
            assert mine is not None
            assert other is not None
            inside = (other.x >= end * 0.2) & (other.x <= end * 0.7)
            np.testing.assert_allclose(mine.low[np.isin(mine.x, other.x[inside])], other.low[inside], rtol=1e-6)


def test_a_long_run_is_read_where_it_is_prepared_and_then_as_any_other(long: None, monkeypatch: pytest.MonkeyPatch) -> None:
    path = recordings()[0]
    run = OpenedRun(load(path), None)
    assert run.is_long
    assert run.log("checklist") is None, "no thread of the window steps a run of hours"
    run.prepare("checklist")
    log = run.log("checklist")
    monkeypatch.setattr(reader, "LONG_ROWS", 1 << 40)
    monkeypatch.setattr(opened_run, "LONG_ROWS", 1 << 40)
    short = OpenedRun(load(path), None)
    other = short.log("checklist")
    assert log is not None
    assert other is not None
    assert log.taken == other.taken
    assert run.flags("checklist") == short.flags("checklist")
    assert [log.at(row) for row in (0, 200, 500)] == [other.at(row) for row in (0, 200, 500)]


def test_the_window_opens_it_on_a_thread(long: None, stocked: Window, qtbot: Any) -> None:
    place: Any = stocked.place
    path = Path(stocked.workspace.shelf.entries[0].path)
    place.open(path)
    assert place.view is None, "not yet"
    qtbot.waitUntil(lambda: isinstance(place.view, RunView), timeout=30_000)
    view = place.view
    qtbot.waitUntil(lambda: view.verdict is not None, timeout=30_000)
    assert next(one.strategy for one in view.verdict.results) == stocked.workspace.selection.strategy
    assert len(view.verdict.results) <= 2, "the one in use, and the robot itself"
    view.look_at("hold")
    qtbot.waitUntil(lambda: view.run.log("hold") is not None, timeout=30_000)


def test_two_of_them_are_opened_on_a_thread_and_stand_on_scales_from_their_levels(
    long: None, stocked: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    place: Any = stocked.place
    paths = [Path(entry.path) for entry in stocked.workspace.shelf.entries[:2]]
    monkeypatch.setattr(place.table, "chosen", lambda: paths)
    place.open_pair()
    assert place.view is None, "not yet"
    qtbot.waitUntil(lambda: place.view is not None, timeout=30_000)
    for run, path in zip(place.view.runs, paths, strict=True):
        assert run.path == path
        for name in ("refl", "dist"):
            values = np.asarray(load(path).table.columns[name][:], dtype=np.float64)
            least, greatest = run.series.extent(name)
            assert least == pytest.approx(np.nanmin(values), rel=1e-6)
            assert greatest == pytest.approx(np.nanmax(values), rel=1e-6)


def _held(stocked: Window, monkeypatch: pytest.MonkeyPatch) -> threading.Event:
    """Opening goes no further than the beginning, until the event is set."""
    go_on, whole = threading.Event(), places.OpenedRun

    def waits(*given: Any) -> OpenedRun:
        assert go_on.wait(60)
        return whole(*given)

    monkeypatch.setattr(places, "OpenedRun", waits)
    return go_on


def test_the_beginning_is_shown_while_the_rest_is_read_and_says_so(
    long: None, qtbot: Any, stocked: Window, monkeypatch: pytest.MonkeyPatch
) -> None:
    go_on = _held(stocked, monkeypatch)
    place = stocked.places["runs"]
    monkeypatch.setattr(places, "beginning_of", lambda recording: first_of(recording, 100))
    entry = stocked.workspace.shelf.entries[0]
    place.open(Path(entry.path))
    qtbot.waitUntil(lambda: isinstance(place.view, FirstLook), timeout=30_000)
    assert f"100 of {entry.rows:,} samples" in place.view.words.text()
    assert place.view.stack.series.rows == 100
    go_on.set()
    qtbot.waitUntil(lambda: isinstance(place.view, RunView), timeout=30_000)
    assert place.view.run.series.rows == entry.rows
    qtbot.waitUntil(lambda: place.view.verdict is not None, timeout=30_000)


def test_who_goes_back_from_the_beginning_stays_in_the_list(
    long: None, qtbot: Any, stocked: Window, monkeypatch: pytest.MonkeyPatch
) -> None:
    go_on = _held(stocked, monkeypatch)
    place = stocked.places["runs"]
    place.open(Path(stocked.workspace.shelf.entries[0].path))
    qtbot.waitUntil(lambda: isinstance(place.view, FirstLook), timeout=30_000)
    opening = place._opening
    place.view.closed.emit()
    go_on.set()
    qtbot.waitUntil(lambda: opening.over, timeout=30_000)
    qtbot.wait(20)
    assert place.view is None
