"""A course of one's own: typed in a table, put on the map, found in a recorded run; saved as the TOML that others read."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from by_hand import click, press
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication, QLineEdit

from gui.model.course_draft import NEW, CourseDraft
from gui.model.found_markers import found_markers
from gui.window import Window
from telemetry.course import load_course
from telemetry.errors import CourseError
from telemetry.recording.load import load
from telemetry.sources.synthetic.run import built_in_course


@pytest.mark.parametrize("variant", ["row", "two", "back"])
def test_a_course_that_is_opened_and_saved_is_the_same(variant: str) -> None:
    from dataclasses import replace

    course = built_in_course(variant)
    assert replace(CourseDraft(course.text).course(), text="") == replace(course, text="")


def test_a_new_course_is_one_from_the_start_and_says_what_is_wrong_with_it() -> None:
    draft = CourseDraft()
    assert not draft.problem()
    draft.set_cell("slot", 0, "leg", "yard")
    assert "yard" in draft.problem()
    with pytest.raises(CourseError, match="not a number"):
        draft.set_cell("slot", 0, "at_cm", "near")


def test_what_belongs_to_a_leg_or_group_follows_its_name() -> None:
    draft = CourseDraft(NEW)
    draft.add("slot")
    draft.set_cell("leg", 0, "name", "avenue")
    draft.set_cell("group", 0, "name", "tags")
    assert not draft.problem()
    assert {row["leg"] for row in draft.rows("slot")} == {"avenue"}
    assert {row["group"] for row in draft.rows("slot")} == {"tags"}


def test_rules_of_a_group_are_typed_as_words() -> None:
    draft = CourseDraft()
    draft.add("slot")
    draft.set_cell("group", 0, "colours", "red, leaf")
    draft.set_cell("group", 0, "rule", "so many of each")
    draft.set_cell("group", 0, "colours", "red 1, leaf 1")
    assert draft.sections["group"][0]["counts"] == {"red": 1, "leaf": 1}
    draft.set_cell("group", 0, "rule", "one of each")
    assert draft.sections["group"][0]["one_of_each"] == ["red", "leaf"]
    assert not draft.problem()


def test_slots_stay_in_the_order_in_which_they_are_passed() -> None:
    draft = CourseDraft()
    draft.add("slot", name="far", at_cm=50.0)
    draft.add("slot", name="near", at_cm=20.0)
    assert draft.names("slot") == ["marker 1", "near", "far"]
    assert draft.place(0, 60.0) == 2
    assert draft.names("slot") == ["near", "far", "marker 1"]


def test_the_markers_of_a_recorded_run_are_found_where_they_stand(ready: Path) -> None:
    """Held against the course on which the simulated robot drove (truth of the simulation)."""
    course = built_in_course("row")
    found = found_markers(load(ready / "practice 1.h5"), CourseDraft(course.text), None)
    passed = [slot for slot in course.slots if not slot.unseen]
    assert len(found) >= len(passed)
    for slot in passed:
        assert slot.at_cm is not None
        near = [one for one in found if one.leg == course.legs[slot.leg].name and abs(one.at_cm - slot.at_cm) < 1.5]
        assert near, slot.name


@pytest.fixture
def drawing(window: Window) -> Window:
    window.show_place("course")
    return window


def test_a_course_is_typed_saved_and_used(drawing: Window, qtbot: Any, tmp_path: Path) -> None:
    """By keys alone: a name, two more markers, another place for one of them."""
    place: Any = drawing.place
    place.new()
    qtbot.keyClicks(place.name_field, "Plum Lane")
    press(qtbot, drawing, Qt.Key.Key_Return)
    place.tables["slot"].setFocus()
    for _ in range(2):
        press(qtbot, drawing, Qt.Key.Key_N, Qt.KeyboardModifier.ControlModifier)
    table = place.tables["slot"]
    table.setCurrentCell(1, 2)
    qtbot.keyClicks(table, "2")
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit)
    editor.setText("25.5")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: table.item(1, 2).text() == "25.5", timeout=30_000)
    assert not place.draft.problem()
    target = tmp_path / "plum.toml"
    place.save_as(target)
    course = load_course(target)
    assert (course.name, [slot.at_cm for slot in course.slots]) == ("Plum Lane", [10.0, 25.5, 30.0])
    assert drawing.workspace.selection.course.name == "Plum Lane"


def test_a_marker_is_dragged_and_one_is_added_on_the_map_and_both_are_taken_back(drawing: Window, qtbot: Any) -> None:
    place: Any = drawing.place
    place.map.grab()
    before = place.draft.to_toml()
    area = place.map.area_of(0).center().toPoint()
    qtbot.mousePress(place.map, Qt.MouseButton.LeftButton, pos=area)
    qtbot.mouseMove(place.map, area + QPoint(8, 0))
    qtbot.mouseRelease(place.map, Qt.MouseButton.LeftButton, pos=area + QPoint(8, 0))
    assert place.draft.rows("slot")[0]["at_cm"] != 9.0
    count = len(place.draft.rows("slot"))
    place.map.wanted.emit(0, 15.0)
    assert len(place.draft.rows("slot")) == count + 1
    drawing.workspace.undo.undo()
    drawing.workspace.undo.undo()
    assert place.draft.to_toml() == before


def test_markers_found_in_a_run_become_a_course(stocked: Window, qtbot: Any) -> None:
    stocked.show_place("course")
    place: Any = stocked.place
    place.run.setCurrentIndex(place.run.findData(str(stocked.workspace.folder.path / "practice 1.h5")))
    click(qtbot, place.find_button)
    assert "markers found" in stocked.message_bar.text
    assert len(place.draft.rows("slot")) >= 7
    assert place.map.grab().width() > 0
    click(qtbot, stocked.message_bar.act_button)
    assert len(place.draft.rows("slot")) == len(stocked.workspace.selection.course.slots)


@pytest.mark.parametrize("look", ["light", "dark"])
def test_a_box_to_tick_is_seen_in_both_themes(window: Window, qtbot: Any, look: str) -> None:
    """In the dark theme the style's own box could not be told from the ground."""
    window.set_look(look)
    window.show_place("course")
    course: Any = window.place
    table = course.tables["slot"]
    column = next(at for at, one in enumerate(table.columns) if one.key == "unseen")
    table.scrollToItem(table.item(0, column))
    qtbot.wait(50)
    area = table.visualItemRect(table.item(0, column))
    image = table.viewport().grab(area).toImage()
    lights = [image.pixelColor(x, image.height() // 2).lightness() for x in range(image.width())]
    assert max(lights) - min(lights) > 90


def test_the_table_of_markers_is_whole_on_a_small_screen(window: Window, qtbot: Any) -> None:
    window.show_place("course")
    window.resize(1366, 768)
    qtbot.waitUntil(lambda: window.width() == 1366, timeout=30_000)
    course: Any = window.place
    qtbot.waitUntil(lambda: course.tables["slot"].horizontalScrollBar().maximum() == 0, timeout=30_000)


def dragged(course: Any, qtbot: Any, slot: int, right_px: int) -> QPoint:
    """Take hold of a marker off its middle and move it; where the pointer then is. The button stays down."""
    begin = course.map.area_of(slot).center().toPoint() + QPoint(5, 3)
    qtbot.mousePress(course.map, Qt.MouseButton.LeftButton, pos=begin)
    for part in (0.4, 1.0):
        move = QMouseEvent(QEvent.Type.MouseMove, QPointF(begin + QPoint(round(right_px * part), 0)),
                           course.map.mapToGlobal(QPointF(begin)), Qt.MouseButton.NoButton, Qt.MouseButton.LeftButton,
                           Qt.KeyboardModifier.NoModifier)  # fmt: skip
        QApplication.sendEvent(course.map, move)
        course.map.grab()
    return begin + QPoint(right_px, 0)


def test_a_marker_stays_under_the_pointer_while_it_is_dragged_and_when_it_is_let_go(window: Window, qtbot: Any) -> None:
    """The last marker says how long the lane is: moving it would have the map fitted anew under the pointer."""
    window.show_place("course")
    course: Any = window.place
    course.new()
    course.add_row()
    assert course.map.chosen == 1, "what was added is ringed"
    course.map.grab()
    there = dragged(course, qtbot, 1, -70)
    assert (course.map.area_of(1).center().toPoint() + QPoint(5, 3) - there).manhattanLength() <= 3
    qtbot.mouseRelease(course.map, Qt.MouseButton.LeftButton, pos=there)
    course.map.grab()
    assert (course.map.area_of(1).center().toPoint() + QPoint(5, 3) - there).manhattanLength() <= 3
    at_cm = course.draft.rows("slot")[1]["at_cm"]
    assert at_cm < 20.0
    QApplication.sendEvent(course.map, QEvent(QEvent.Type.Leave))
    course.map.grab()
    assert (course.map.area_of(1).center().toPoint() + QPoint(5, 3) - there).x() > 20, "then it fills its room again"
    click(qtbot, course.map, course.map.area_of(1).center().toPoint() + QPoint(4, 4))
    assert course.draft.rows("slot")[1]["at_cm"] == at_cm, "a click off its middle moves nothing"
