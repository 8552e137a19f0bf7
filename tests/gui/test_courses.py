"""More than one course: the way back to each of them, and every run is asked for, counted and named by its own."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from by_hand import RUNS, click, record_one_drive

from gui.model.courses import known_courses
from gui.model.filling_in import said_by_the_robot
from gui.model.ingesting import ingest
from gui.model.season import SeasonKind
from gui.opening import course_menu, use_course_file
from gui.panels.continue_card import today_words
from gui.places import course as place
from gui.places.runs import RunsPlace
from gui.window import Window
from telemetry.course import load_course, parse_course
from telemetry.errors import CourseError
from telemetry.palette_default import default_palette
from telemetry.palette_file import write_palette
from telemetry.recording.load import load
from telemetry.recording.meta import Meta
from telemetry.sources.synthetic.run import built_in_course, simulate

LANE = """[course]
name = "Plum Lane"
[[leg]]
name = "lane"
starts = "begin"
[[group]]
name = "tags"
distinct = ["rust", "leaf"]
[[slot]]
name = "tag 1"
leg = "lane"
group = "tags"
at_cm = 10
width_cm = 4
"""


@pytest.fixture
def lane(tmp_path: Path) -> Path:
    path = tmp_path / "elsewhere" / "lane.toml"
    path.parent.mkdir()
    path.write_text(LANE, encoding="utf-8")
    return path


def names(window: Window) -> list[str]:
    mine = window.workspace
    files = [one.path for one in mine.season.files(mine.folder.path, SeasonKind.COURSE)]
    return [one.name for one in known_courses(mine.selection, files, mine.shelf)]


def choose(window: Window, name: str) -> None:
    """In the menu, as a user does."""
    menu = course_menu(window.workspace, window)
    next(action for action in menu.actions() if action.text().startswith(name + "   ")).trigger()
    menu.close()


def test_there_is_a_way_back_to_the_built_in_course_and_to_ones_own(window: Window, lane: Path) -> None:
    selection = window.workspace.selection
    assert selection.use_course(lane)
    choose(window, "Orchard Row")
    assert selection.course == built_in_course("row")
    choose(window, "Plum Lane")
    assert selection.course == load_course(lane)
    menu = course_menu(window.workspace, window)
    assert [action.text().split("   ")[0] for action in menu.actions() if action.isChecked()] == ["Plum Lane"]
    menu.close()


def test_courses_in_the_folder_are_offered_and_palettes_are_not(stocked: Window, folder: Path) -> None:
    (folder / "lane.toml").write_text(LANE, encoding="utf-8")
    write_palette(default_palette(), folder / "palette.toml")
    assert Counter(names(stocked)) == Counter([*(built_in_course(one).name for one in ("row", "two", "back")), "Plum Lane"])
    with pytest.raises(CourseError, match="this is a palette, not a course"):
        use_course_file(stocked.workspace, folder / "palette.toml")
    assert stocked.workspace.selection.course == built_in_course("row")


@pytest.fixture
def on_the_lane(stocked: Window, folder: Path, tmp_path: Path, qtbot: Any) -> Path:
    """One run more, on a course that no file holds."""
    text = tmp_path / "lane run.txt"
    text.write_bytes(simulate("practice", 1).data)
    made = ingest(text, folder, Meta(course=LANE, simulated=True))
    stocked.workspace.shelf.refresh()
    qtbot.waitUntil(lambda: len(stocked.workspace.shelf.entries) == len(RUNS) + 1, timeout=30_000)
    return made


def test_the_course_of_a_recorded_run_can_be_used(stocked: Window, on_the_lane: Path, folder: Path) -> None:
    choose(stocked, "Plum Lane")
    assert stocked.workspace.selection.course == parse_course(LANE)
    assert [path.name for path in folder.glob("*Plum Lane*.toml")]
    assert names(stocked).count("Plum Lane") == 1, "the file and the run's are one"


def test_a_run_of_another_course_is_asked_for_on_its_own(stocked: Window, on_the_lane: Path, qtbot: Any) -> None:
    stocked.show_place("record", on_the_lane)
    record: Any = stocked.place
    assert record.picker.course == parse_course(LANE)
    assert "Plum Lane" in record.picker.words.text()
    assert not record.picker.confirm_button.isEnabled()
    record.picker.put(0, "leaf")
    click(qtbot, record.picker.confirm_button)
    assert load(on_the_lane).truth == ("leaf",)
    qtbot.waitUntil(lambda: record.verdict_card.verdict is not None, timeout=30_000)
    assert not stocked.message_bar.isVisible() or "truth" not in stocked.message_bar.text
    assert record.lot.course == built_in_course("row"), "the next run is on the course in use"
    other = next(Path(one.path) for one in stocked.workspace.shelf.entries if Path(one.path) != on_the_lane)
    stocked.show_place("live")
    stocked.show_place("record", other)
    assert record.picker.course == built_in_course("row")


def test_a_course_that_is_chosen_meanwhile_does_not_take_a_runs_own_from_it(stocked: Window, lane: Path) -> None:
    run = Path(stocked.workspace.shelf.entries[0].path)
    stocked.show_place("record", run)
    record: Any = stocked.place
    assert stocked.workspace.selection.use_course(lane)
    assert record.picker.course == built_in_course("row")
    assert record.lot.course == load_course(lane)


def test_the_simulated_robot_says_that_it_drives_elsewhere(driving: Window, qtbot: Any) -> None:
    """Its colours are those of Orchard Row: they are neither put on another course, nor is that called the run's fault."""
    run = load(record_one_drive(driving, qtbot))
    follow = driving.workspace.follow
    truth, words = said_by_the_robot(follow, run, parse_course(LANE))
    assert truth is None
    assert "Plum Lane" in words
    assert "Orchard Row" in words


def test_starting_the_simulated_robot_uses_the_course_that_it_drives_on(window: Window, lane: Path, qtbot: Any) -> None:
    selection = window.workspace.selection
    assert selection.use_course(lane)
    start: Any = window.places["start"]
    click(qtbot, start.drive_button)
    assert selection.course == built_in_course("row")
    assert "Orchard Row" in window.message_bar.text
    window.workspace.follow.disconnect_robot()


def test_the_choice_of_a_course_is_taken_back_and_only_one_is_ticked(window: Window, lane: Path) -> None:
    workspace = window.workspace
    start: Any = window.places["start"]
    start.variant.setCurrentIndex(start.variant.findData("two"))
    start.variant.activated.emit(start.variant.currentIndex())
    namesake = workspace.folder.path / "again.toml"
    namesake.parent.mkdir(parents=True, exist_ok=True)
    namesake.write_text(built_in_course("row").text, encoding="utf-8")
    workspace.choices.course(lambda: workspace.selection.use_course(namesake))
    ticked = [action.text() for action in course_menu(workspace, window).actions() if action.isChecked()]
    assert len(ticked) == 1
    assert "again.toml" in ticked[0]
    workspace.messages.act()
    assert workspace.selection.course == built_in_course("two")
    assert start.variant.currentData() == "two"
    workspace.undo.undo()
    assert workspace.selection.course == built_in_course("row")
    workspace.undo.redo()
    workspace.undo.redo()
    assert workspace.selection.course_choice[0] == str(namesake)


def test_a_course_is_saved_under_the_name_that_is_still_being_typed(
    window: Window, folder: Path, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    window.show_place("course")
    course: Any = window.place
    course.new()
    course.name_field.setFocus()
    course.name_field.selectAll()
    qtbot.keyClicks(course.name_field, "Gym floor")
    offered: list[Path] = []
    monkeypatch.setattr(place, "ask_where_to_save", lambda *words: (offered.append(words[2]), str(words[2]))[1])
    course.save()
    assert offered == [folder / "Gym floor.toml"]
    assert load_course(folder / "Gym floor.toml").name == "Gym floor"


def test_runs_are_counted_by_their_own_course() -> None:
    assert (
        today_words(Counter({"Orchard Row": 4, "Plum Lane": 1}), "Gym")
        == "Today: 4 runs on Orchard Row, 1 run on Plum Lane."
    )
    assert today_words(Counter(), "Gym") == "0 runs today on Gym."


@pytest.mark.usefixtures("long_rests")
def test_runs_fills_in_what_the_simulated_robot_said_as_record_does(driving: Window, qtbot: Any) -> None:
    path = record_one_drive(driving, qtbot)
    workspace = driving.workspace
    expected, _ = said_by_the_robot(workspace.follow, load(path), workspace.selection.course)
    assert expected is not None
    driving.show_place("runs")
    qtbot.waitUntil(lambda: str(path) in [one.path for one in workspace.shelf.entries], timeout=30_000)
    runs: Any = driving.place
    runs.labels.show_entries([one for one in workspace.shelf.entries if one.path == str(path)])
    assert tuple(runs.labels.picker.colours) == expected
    assert "simulated robot" in runs.labels.picker.words.text()
    assert load(path).truth is None, "nothing is saved before it is confirmed"


def test_an_armed_session_says_how_many_of_its_runs_lack_colours(window: Window, tmp_path: Path) -> None:
    window.show_place("record")
    record: Any = window.place
    record.session.arm(True)
    record.session.count, record.session.waiting = 5, [tmp_path / f"{n}.h5" for n in range(4)]
    record._show_session()
    assert "5 runs kept, 4 without colours" in record.session_words.text()
    assert "4 runs" in record.next_button.text()
    record.session.waiting = []
    record.session.arm(False)


def test_runs_that_were_recorded_with_the_wrong_course_are_put_right_in_one_step(
    stocked: Window, lane: Path, qtbot: Any
) -> None:
    """The colours entered for the wrong one are gone with it, and come back with it."""
    workspace, runs = stocked.workspace, stocked.place
    assert isinstance(runs, RunsPlace)
    before = {entry.path: (entry.course, entry.truth) for entry in workspace.shelf.entries}
    assert workspace.selection.use_course(lane)
    runs.table.choose(*map(Path, before))
    assert not runs.picker.isEnabled()
    assert "Plum Lane" in runs.picker.words.text()
    click(qtbot, runs.labels.course_button)
    qtbot.waitUntil(lambda: {entry.course for entry in workspace.shelf.entries} == {"Plum Lane"}, timeout=30_000)
    assert all(entry.truth is None for entry in workspace.shelf.entries)
    assert load(Path(next(iter(before)))).course == load_course(lane)
    qtbot.waitUntil(runs.picker.isEnabled, timeout=30_000)
    assert not runs.labels.course_button.isVisible()
    workspace.undo.undo()
    qtbot.waitUntil(
        lambda: {entry.path: (entry.course, entry.truth) for entry in workspace.shelf.entries} == before, timeout=30_000
    )
