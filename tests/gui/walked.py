"""The steps of the walk: what a new user does from the first start to match day."""

from __future__ import annotations

import time
from typing import Any

from PySide6.QtCore import QPoint, QPointF
from PySide6.QtWidgets import QApplication, QComboBox, QFileDialog, QWidget
from real_hands import Doing, RealHands

from gui.window import Window

MARGINS_S = 40.0
"""Longer they are not waited for: of many runs they take minutes on a busy machine."""


class Walk:
    """Goes through every page; each step is a picture."""

    def __init__(self, window: Window, hands: RealHands) -> None:
        self.window, self.hands = window, hands

    @property
    def place(self) -> Any:
        return self.window.place

    def go(self, name: str) -> Doing:
        yield from self.hands.click(self.window.rail.buttons[name])
        yield lambda: self.place.name == name

    def choose(self, box: QComboBox, at: int) -> Doing:
        """From a list that opens."""
        yield from self.hands.click(box)
        yield lambda: box.view().isVisible()
        view = box.view()
        yield from self.hands.click(view.viewport(), view.visualRect(box.model().index(at, 0)).center())

    # -- by mouse -----------------------------------------------------------------------------------------------------

    def by_mouse(self) -> Doing:
        yield lambda: self.window.workspace.shelf.listed
        yield 1.0
        yield from self.first_verdict()
        yield from self.failing_sample()
        yield from self.deciding()
        yield from self.colours()
        yield from self.own_course()
        yield from self.match_day()
        yield from self.dialogs()

    def first_verdict(self) -> Doing:
        hands, window = self.hands, self.window
        yield from hands.picture("start")
        hands.task("first verdict", 60)
        start: Any = self.place
        yield from hands.click(start.drive_button)
        yield lambda: self.place.name == "live"
        follow, live = window.workspace.follow, self.place
        yield lambda: follow.run is not None and follow.run.moving
        yield from hands.click(window.record_button)
        yield lambda: live.swatches[0].colour not in (None, "none")
        yield from hands.picture("live-recording")
        yield lambda: not follow.run.moving
        yield from hands.picture("live-run-over")
        yield from hands.click(window.record_button)
        yield lambda: self.place.name == "record" and self.place.asked is not None
        record: Any = self.place
        yield from hands.picture("actual-colours")
        yield from hands.click(record.picker.confirm_button)
        yield lambda: record.verdict_card.verdict is not None
        hands.rest()
        yield from hands.picture("verdict")
        yield from self.go("record")
        yield from hands.picture("record")

    def failing_sample(self) -> Doing:
        hands = self.hands
        yield from self.go("runs")
        runs: Any = self.place
        hands.rest()
        yield lambda: runs.table.runs.entries
        yield lambda: all(self.window.workspace.standings.of(one) for one in runs.table.in_view())
        yield from hands.picture("runs")
        hands.task("failing sample of a misread run", 30)
        yield from self.choose(runs.filter.result, runs.filter.result.findData("wrong"))
        yield lambda: 0 < len(runs.table.runs.entries) < len(self.window.workspace.shelf.entries)
        row = runs.table.runs.row_of[runs.table.runs.entries[0].path]
        yield from hands.click(runs.table.viewport(), runs.table.visualRect(runs.table.runs.index(row, 0)).center(), times=2)
        yield lambda: runs.view is not None and runs.view.verdict is not None
        yield from hands.picture("misread-run")
        yield from hands.key("F3")
        yield lambda: runs.view.stack.cursor_row >= 0
        hands.rest()
        yield from hands.picture("failing-sample")
        yield from hands.click(runs.view.axis_button)
        yield from hands.picture("by-distance")
        yield from hands.key("Escape", "Escape", "Escape")
        yield lambda: runs.view is None
        yield from self.choose(runs.filter.result, 0)
        table = runs.table
        both = [table.visualRect(table.runs.index(at, 0)).center() for at in (table.runs.row_of[one.path]
                for one in table.runs.entries[:2])]  # fmt: skip
        yield from hands.click(table.viewport(), both[0])
        yield from hands.click(table.viewport(), both[1], held="ctrl")
        yield from hands.picture("two-chosen")
        yield from hands.click(runs.pair_button)
        yield lambda: runs.view is not None
        yield from hands.picture("two-runs")
        yield from hands.key("Escape")
        yield from hands.key("ctrl+e")
        yield from hands.picture("enter-colours")

    def deciding(self) -> Doing:
        hands = self.hands
        yield from self.go("decide")
        decide: Any = self.place
        yield lambda: decide.matrix.paths and not decide.matrix.busy
        yield from hands.picture("decide")
        yield from hands.key("Down", "Right", "Right")
        yield from hands.picture("decide-cell")
        slider = next(iter(decide.settings.findChildren(QWidget, "value")), None) or decide.settings
        decide.cards.show_in_view(slider)
        yield from hands.picture("decide-settings")
        decide.cards.show_in_view(decide.guard)
        yield from hands.picture("decide-baseline")
        if decide.headline.use_button.isVisible():
            yield from hands.click(decide.headline.use_button)
            yield lambda: not decide.matrix.busy
            yield from hands.picture("decide-in-use")
        yield from hands.click(decide.more.margins_button)
        yield self.dialog_is_open
        dialog: Any = QApplication.activeModalWidget()
        yield from hands.click(dialog.margins_button)
        yield 1.0
        yield from hands.picture("margins-being-found")
        until = time.monotonic() + MARGINS_S
        yield lambda: dialog.page is not None or time.monotonic() > until
        if dialog.page is None:
            yield from hands.click(dialog.cancel_button)
        yield from hands.picture("margins")
        yield from self.put_away()
        yield from hands.click(decide.headline.robot_button)
        yield self.dialog_is_open
        yield from hands.picture("put-on-the-robot")
        dialog = QApplication.activeModalWidget()
        yield from hands.click(dialog.write_button)
        yield self.file_dialog_is_open
        yield from hands.picture("folder-dialog")
        yield from hands.write("program")
        yield from hands.key("Return")
        yield lambda: dialog.made
        yield from hands.picture("program-written")
        yield from self.put_away()
        yield from hands.click(decide.more.report_button)
        yield lambda: "report" in self.window.message_bar.text
        yield from hands.picture("report-written")

    def colours(self) -> Doing:
        hands = self.hands
        yield from self.go("colours")
        colours: Any = self.place
        calibration = colours.calibration
        yield from hands.picture("colours")
        for number in range(len(calibration.steps)):
            yield from hands.key("space")
            yield lambda number=number: not calibration.taking and calibration.captured > number
            if number == 1:
                yield from hands.picture("colours-two")
        yield from hands.picture("colours-all")
        yield from hands.click(colours.keep_button)
        yield from hands.picture("palette-saved")
        hands.task("has anything moved?", 60)
        yield from hands.click(colours.check_button)
        for number in range(3):
            yield from hands.key("space")
            yield lambda number=number: not calibration.taking and calibration.captured > number
        hands.rest()
        yield from hands.picture("re-checked")

    def own_course(self) -> Doing:
        hands = self.hands
        yield from self.go("course")
        course: Any = self.place
        yield from hands.picture("course")
        hands.task("a course of their own, 3 markers on 2 legs", 180)
        yield from hands.key("ctrl+shift+n")
        yield from hands.write("Gym floor")
        yield from hands.click(course.map, self.on_leg(course, 0, 13.5), times=2)
        yield lambda: len(course.draft.rows("slot")) == 2
        yield from hands.picture("course-two-markers")
        begin = course.map.area_of(1).center().toPoint()
        yield from hands.drag(course.map, begin, begin + QPoint(40, 0))
        yield from hands.picture("course-dragged")
        bar = course.tabs.tabBar()
        yield from hands.click(bar, bar.tabRect(1).center())
        yield from hands.key("ctrl+n")
        yield lambda: len(course.draft.rows("leg")) == 2
        yield from hands.picture("course-legs")
        yield from hands.click(bar, bar.tabRect(0).center())
        yield from hands.key("ctrl+n")
        yield lambda: len(course.draft.rows("slot")) == 3
        leg = course.tables["slot"]
        yield from hands.click(leg.viewport(), leg.visualRect(leg.model().index(2, 1)).center(), times=2)
        yield from hands.picture("course-choosing-a-leg")
        yield from hands.key("Down", "Return")
        yield from hands.picture("course-three-markers")
        yield from hands.key("ctrl+s")
        yield self.file_dialog_is_open
        yield from hands.picture("save-the-course")
        yield from hands.key("Return")
        yield lambda: self.window.workspace.selection.course.name == "Gym floor"
        hands.rest()
        yield from hands.picture("course-saved")
        yield from hands.click(course.open_button)
        yield from hands.picture("choose-a-course")
        yield from hands.key("Escape")
        yield from self.go("colours")
        yield from hands.picture("palette-lacks-colours")

    def match_day(self) -> Doing:
        hands = self.hands
        yield from self.go("match")
        match: Any = self.place
        yield lambda: match.verdict is not None
        yield from hands.picture("match-day")
        yield from hands.key("ctrl+k")
        yield from hands.picture("match-day-re-check")
        yield from hands.key("Escape")
        yield lambda: self.place.name == "runs"

    def dialogs(self) -> Doing:
        hands, window = self.hands, self.window
        yield from hands.key("F1")
        yield self.dialog_is_open
        yield from hands.picture("keys")
        yield from self.put_away()
        yield from hands.key("shift+F1")
        yield lambda: window.guide is not None and window.guide.isVisible()
        yield from hands.picture("guide")
        yield from hands.key("Escape")
        yield from hands.key("ctrl+o")
        yield self.file_dialog_is_open
        yield from hands.picture("open-a-file")
        yield from self.put_away()
        yield from self.go("live")
        yield from hands.click(self.place.arrives_button)
        yield 0.6
        yield from hands.picture("what-arrives")
        yield from hands.key("Escape")
        yield from hands.picture("live-following")
        yield from self.go("start")
        yield from hands.picture("start-connected")
        start: Any = self.place
        yield from hands.click(start.season_button)
        yield self.dialog_is_open
        yield from hands.picture("other-files")
        yield from self.put_away()
        yield from hands.click(start.course_button)
        yield from hands.picture("change-course")
        yield from hands.key("Escape")
        window.workspace.follow.disconnect_robot()
        yield from hands.picture("start-again")
        yield from self.go("live")
        yield from hands.picture("live-disconnected")

    # -- by keys alone ------------------------------------------------------------------------------------------------

    def by_keys(self) -> Doing:
        """The whole job without a pointer: every key goes to what has the focus."""
        hands, window = self.hands, self.window
        workspace = window.workspace
        yield lambda: workspace.shelf.listed
        yield 1.0
        yield from hands.picture("start")
        hands.task("first verdict, by keys", 60)
        yield from self.tab_to(self.place.drive_button)
        yield from hands.picture("start-focus")
        yield from hands.key("Return")
        yield lambda: self.place.name == "live"
        yield lambda: workspace.follow.run is not None and workspace.follow.run.moving
        yield from hands.key("ctrl+r")
        yield lambda: not workspace.follow.run.moving
        yield from hands.key("ctrl+r")
        yield lambda: self.place.name == "record" and self.place.asked is not None
        record: Any = self.place
        yield from hands.picture("actual-colours")
        yield from hands.key("Return")
        yield lambda: record.verdict_card.verdict is not None
        hands.rest()
        yield from hands.picture("verdict")
        yield from hands.key("ctrl+5")
        runs: Any = self.place
        yield lambda: all(workspace.standings.of(one) for one in runs.table.in_view())
        hands.task("failing sample of a misread run, by keys", 30)
        yield from hands.key("ctrl+f")
        yield from hands.write("slipping")
        yield from hands.key("Return", "Down", "Return")
        yield lambda: runs.view is not None and runs.view.verdict is not None
        yield from hands.key("F3")
        yield lambda: runs.view.stack.cursor_row >= 0
        hands.rest()
        yield from hands.picture("failing-sample")
        yield from hands.key("Escape", "Escape", "Escape", "ctrl+6")
        decide: Any = self.place
        yield lambda: decide.matrix.paths and not decide.matrix.busy
        yield from hands.picture("decide")
        yield from self.tab_to(decide.headline.robot_button)
        yield from hands.picture("decide-focus")
        yield from hands.key("ctrl+4")
        colours: Any = self.place
        calibration = colours.calibration
        for number in range(len(calibration.steps)):
            yield from hands.key("space")
            yield lambda number=number: not calibration.taking and calibration.captured > number
        yield from self.tab_to(colours.keep_button)
        yield from hands.picture("colours-focus")
        yield from hands.key("Return")
        yield lambda: workspace.selection.palette is not None
        hands.task("has anything moved?, by keys", 60)
        yield from self.tab_to(colours.check_button)
        yield from hands.key("Return")
        for number in range(3):
            yield from hands.key("space")
            yield lambda number=number: not calibration.taking and calibration.captured > number
        hands.rest()
        yield from hands.picture("re-checked")
        yield from hands.key("ctrl+7")
        course: Any = self.place
        hands.task("a course of their own, by keys", 180)
        yield from hands.key("ctrl+shift+n")
        yield from hands.write("Gym floor")
        yield from self.tab_to(course.tables["slot"])
        yield from hands.key("ctrl+n", "ctrl+n")
        yield lambda: len(course.draft.rows("slot")) == 3
        yield from hands.picture("course-focus")
        yield from hands.key("ctrl+s")
        yield self.file_dialog_is_open
        yield from hands.key("Return")
        yield lambda: workspace.selection.course.name == "Gym floor"
        hands.rest()
        yield from hands.picture("course-saved")
        yield from hands.key("ctrl+8")
        yield lambda: self.place.name == "match"
        yield from hands.picture("match-day")
        yield from hands.key("Escape", "F1")
        yield self.dialog_is_open
        yield from hands.key("Escape")
        yield from self.every_stop_of_tab()

    def every_stop_of_tab(self) -> Doing:
        """On every page once around: each stop is seen and has a name, which the pictures' checks would say."""
        for number, name in enumerate(self.window.titles, 1):
            if name == "match":
                continue
            yield from self.hands.key(f"ctrl+{number}")
            first, seen = QApplication.focusWidget(), 0
            while seen < 60:
                yield from self.hands.key("Tab")
                now = QApplication.focusWidget()
                seen += 1
                if now is None or now.visibleRegion().isEmpty():
                    print(f"{name}: Tab {seen} goes to {now and (now.accessibleName() or type(now).__name__)}, out of sight")
                if now is first:
                    break
            else:
                print(f"{name}: Tab does not come around")
            print(f"{name}: {seen} stops of Tab")

    def tab_to(self, widget: QWidget) -> Doing:
        """As often as it takes."""
        for _ in range(60):
            if QApplication.focusWidget() is widget:
                return
            yield from self.hands.key("Tab")
        raise AssertionError(f"Tab never comes to {widget.accessibleName()}")

    # -- small things -------------------------------------------------------------------------------------------------

    @staticmethod
    def dialog_is_open() -> bool:
        return QApplication.activeModalWidget() is not None

    @staticmethod
    def file_dialog_is_open() -> bool:
        return isinstance(QApplication.activeModalWidget(), QFileDialog)

    def put_away(self) -> Doing:
        """Escape, and the window is asked again."""
        yield from self.hands.key("Escape")
        yield lambda: QApplication.activeModalWidget() is None

    @staticmethod
    def on_leg(course: Any, leg: int, along_cm: float) -> QPoint:
        """A point of the map on the middle line of a leg."""
        left, top, scale, x0, y0 = course.map._shown_at
        x, y = course.map.layout_cm.legs[leg].at(along_cm)
        return QPointF(left + (x - x0) * scale, top - (y - y0) * scale).toPoint()
