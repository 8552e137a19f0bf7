"""A season's folder: what lies beside the runs is listed and named by itself, and a choice can be taken back."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from by_hand import RUNS, click, press
from PySide6.QtCore import Qt

from gui.model.season import Season, SeasonKind, free_file
from gui.opening import use_season_file
from gui.panels.season_dialog import SeasonDialog
from gui.window import Window
from telemetry.palette_default import default_palette
from telemetry.palette_file import write_palette
from telemetry.reading.load import load_strategy, write_toml
from telemetry.sources.synthetic.run import built_in_course

NOW = datetime(2026, 3, 7, 14, 5, tzinfo=UTC)


def test_names_say_what_when_and_in_which_light_and_nothing_is_overwritten(tmp_path: Path) -> None:
    first = free_file(tmp_path, SeasonKind.PALETTE, "hall lamps / window", "12 mm", now=NOW)
    assert first.name == "palette 2026-03-07 14.05 hall lamps window 12 mm.toml"
    first.write_text("x")
    assert free_file(tmp_path, SeasonKind.PALETTE, "hall lamps / window", "12 mm", now=NOW).stem.endswith("(2)")
    assert free_file(tmp_path, SeasonKind.STRATEGY, "hold", now=NOW).name == "hold 2026-03-07 14.05.toml"
    assert free_file(tmp_path, SeasonKind.BASELINE, now=NOW).name == "baseline 2026-03-07 14.05.txt"
    assert len(free_file(tmp_path, SeasonKind.REPORT, "x" * 300, now=NOW).name) < 90


def test_a_folder_is_listed_by_what_the_files_are(tmp_path: Path) -> None:
    write_palette(default_palette(), tmp_path / "hall.toml")
    (tmp_path / "ours.toml").write_text(write_toml(load_strategy("hold")), encoding="utf-8")
    (tmp_path / "lane.toml").write_text(built_in_course("row").text, encoding="utf-8")
    (tmp_path / "old.txt").write_text("# Agreed readings: ...\n", encoding="utf-8")
    (tmp_path / "page.html").write_text("<title>Sidelong: report</title>", encoding="utf-8")
    (tmp_path / "log.txt").write_text("1,2,3\n", encoding="utf-8")
    (tmp_path / "foreign.html").write_text("<title>other</title>", encoding="utf-8")
    (tmp_path / "broken.toml").write_bytes(b"\xff\x00[")
    (tmp_path / "folder.toml").mkdir()
    season = Season()
    found = {one.path.name: one.kind for one in season.files(tmp_path)}
    assert found == {
        "hall.toml": SeasonKind.PALETTE, "ours.toml": SeasonKind.STRATEGY, "lane.toml": SeasonKind.COURSE,
        "old.txt": SeasonKind.BASELINE, "page.html": SeasonKind.REPORT,
    }  # fmt: skip
    (course,) = season.files(tmp_path, SeasonKind.COURSE)
    assert course.about == "Orchard Row"
    assert season.files(tmp_path / "none") == []


def test_a_palette_of_the_folder_is_chosen_and_given_up_again(stocked: Window, qtbot: Any) -> None:
    workspace = stocked.workspace
    mine = free_file(workspace.folder.path, SeasonKind.PALETTE, "home light", now=NOW)
    write_palette(default_palette(), mine)
    stocked.show_place("colours")
    colours: Any = stocked.place
    choice = colours.in_use
    assert choice.currentText() == "typical colours"
    choice.setCurrentIndex(choice.findData(str(mine)))
    choice.activated.emit(choice.currentIndex())
    assert workspace.settings.text("palette") == str(mine)
    assert "home light" in stocked.message_bar.text
    click(qtbot, stocked.message_bar.act_button)
    assert workspace.settings.text("palette") == ""
    assert choice.currentText() == "typical colours"
    press(qtbot, stocked, Qt.Key.Key_Y, Qt.KeyboardModifier.ControlModifier)
    assert workspace.settings.text("palette") == str(mine)
    choice.setCurrentIndex(0)
    choice.activated.emit(0)
    assert workspace.selection.palette is None
    press(qtbot, stocked, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert workspace.settings.text("palette") == str(mine)


def test_baselines_are_kept_beside_each_other(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(RUNS) and not decide.matrix.busy, timeout=60_000)
    guard = decide.guard
    old = stocked.workspace.folder.path / "agreed.txt"
    old.write_text("# Agreed readings: kept by an earlier version\n", encoding="utf-8")
    guard.show_runs(guard.paths)
    assert guard.file == old
    click(qtbot, guard.keep_button)
    qtbot.waitUntil(lambda: guard.file not in (None, old) and not guard._jobs.busy, timeout=60_000)
    assert old.read_text(encoding="utf-8").endswith("earlier version\n"), "what was agreed before stays"
    assert guard.which.count() == 2
    assert guard.which.isVisible()


def test_a_report_is_named_by_itself_and_can_be_opened(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(RUNS) and not decide.matrix.busy, timeout=60_000)
    click(qtbot, decide.more.report_button)
    season, folder = stocked.workspace.season, stocked.workspace.folder.path
    qtbot.waitUntil(lambda: len(season.files(folder, SeasonKind.REPORT)) == 1, timeout=60_000)
    qtbot.waitUntil(lambda: "a report of" in stocked.message_bar.text, timeout=60_000)
    assert stocked.message_bar.act_button.text().startswith("Open it")


def test_the_files_beside_the_runs_are_used_from_one_list(stocked: Window, qtbot: Any) -> None:
    workspace = stocked.workspace
    write_palette(default_palette(), free_file(workspace.folder.path, SeasonKind.PALETTE, now=NOW))
    dialog = SeasonDialog(workspace.season.files(workspace.folder.path), workspace.folder.path, stocked)
    dialog.wanted.connect(lambda one: use_season_file(workspace, one))
    qtbot.addWidget(dialog)
    dialog.show()
    assert [dialog.table.item(0, column).text() for column in range(2)] == ["Palette", "palette 2026-03-07 14.05.toml"]  # type: ignore[union-attr]
    assert dialog.use_button.text() == "Use this palette"
    qtbot.keyClick(dialog.table, Qt.Key.Key_Return)
    assert workspace.settings.text("palette").endswith("palette 2026-03-07 14.05.toml")
    assert not dialog.isVisible()


def test_a_strategy_of_ones_own_is_used_everywhere(stocked: Window, qtbot: Any) -> None:
    """Saved under Decide, used from there: live view, list, opened run and match day go by it, under the file's name."""
    workspace = stocked.workspace
    stocked.show_place("decide")
    decide: Any = stocked.place
    qtbot.waitUntil(lambda: len(decide.matrix.paths) == len(RUNS) and not decide.matrix.busy, timeout=60_000)
    decide._keep_strategy("hold:hold.samples=2")
    qtbot.waitUntil(lambda: not decide.matrix.busy and len(decide.matrix.own) == 1, timeout=60_000)
    (name,) = decide.matrix.own
    assert name.startswith("hold ")
    decide._use(name)
    assert Path(workspace.selection.strategy).stem == name
    assert decide.view.cells.shown[1] == name, "pinned as the one in use"
    assert workspace.selection.live_strategy().name
    stocked.show_place("live")
    live: Any = stocked.place
    assert live.strategy.currentText() == name
    stocked.show_place("runs")
    runs: Any = stocked.place
    assert runs.filter.strategy.currentText() == f"with {name}"
    runs.open(workspace.folder.path / "practice 1.h5")
    qtbot.waitUntil(lambda: runs.view.verdict is not None, timeout=30_000)
    assert name in [runs.view.table.item(row, 0).text() for row in range(runs.view.table.rowCount())]
    assert "/" not in runs.view.band.accessibleName() + runs.view.band.accessibleDescription()
    Path(workspace.selection.strategy).unlink()
    assert Path(workspace.selection.strategy).suffix == "", "the file is gone: the usual one is in use again"
