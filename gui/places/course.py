"""Course: legs, markers, groups and decoys in tables and on the map, from scratch or from a recorded run."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from PySide6.QtGui import QResizeEvent, QUndoCommand
from PySide6.QtWidgets import QBoxLayout, QLineEdit, QTabWidget, QVBoxLayout, QWidget

from gui.model.course_draft import RULES, CourseDraft
from gui.model.found_markers import found_markers
from gui.model.workspace import Workspace
from gui.panels.choice import ChoiceBox
from gui.panels.course_sketch import CourseSketch
from gui.panels.file_dialogs import ask_where_to_save
from gui.panels.flow import FlowLayout
from gui.panels.key_host import Key
from gui.panels.parts import Card, Label, button, row, scrolled, set_kind
from gui.panels.rows_table import EditColumn, RowsTable
from gui.places.place import Place
from gui.plots.course_map import SlotState
from gui.theme import GAP_PX, Theme
from gui.words import tr
from telemetry.errors import CourseError
from telemetry.text_in_place import write_text

STARTS = ("begin", "reset", "reverse", "heading:90", "note:")
RECENT_RUNS = 12
NARROW_PX, LEAST_TABLE_PX = 1100, 190


class _Edit(QUndoCommand):
    """One change of the draft, taken back by what it was before."""

    def __init__(self, place: CoursePlace, text: str, before: dict[str, Any], after: dict[str, Any]) -> None:
        super().__init__(text)
        self._place, self._before, self._after = place, before, after

    def redo(self) -> None:
        self._place.put(self._after)

    def undo(self) -> None:
        self._place.put(self._before)


class CoursePlace(Place):
    """``draft`` is what is drawn; it becomes the course in use when it is saved."""

    name = "course"

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(workspace, parent)
        self.draft = CourseDraft(workspace.selection.course.text)
        self.tables = {table.kind: table for table in self._tables()}
        holder = QWidget()
        self._line = QBoxLayout(QBoxLayout.Direction.LeftToRight, holder)
        self._line.setContentsMargins(0, 0, 0, 0)
        self._line.setSpacing(GAP_PX)
        self._line.addWidget(self._left(), 3)
        self._line.addWidget(self._right(), 4)
        self.column.addWidget(scrolled(holder), 1)
        self.set_keys(
            Key("Ctrl+S", tr("save, and use from now on"), self.save),
            Key("Ctrl+Shift+N", tr("a new course"), self.new),
            Key("Ctrl+N", tr("add a row to the table in view"), self.add_row),
            Key("Delete", tr("remove the chosen row"), self.remove_row),
            Key("Shift+← →", tr("move the chosen marker on the map by half a centimetre")),
        )
        workspace.selection.course_changed.connect(self._course_changed)
        workspace.shelf.changed.connect(self._list_runs)
        self._list_runs()
        self._show()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Where the tables have no room for all their columns beside the map, they stand below it."""
        super().resizeEvent(event)
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._line.setDirection(down if self.width() < NARROW_PX else across)

    # -- building -----------------------------------------------------------------------------------------------------

    def _tables(self) -> list[RowsTable]:
        legs, groups = lambda: self.draft.names("leg"), lambda: self.draft.names("group")
        tables = [
            RowsTable("slot", tr("Markers"), [
                EditColumn("name", tr("Marker")), EditColumn("leg", tr("Leg"), choices=legs),
                EditColumn("at_cm", tr("At, cm"), tr("Centre, from the start of the leg; empty: only the order is known")),
                EditColumn("width_cm", tr("Width, cm")),
                EditColumn("group", tr("Group"), tr("A group's name, or colours with commas between them"),
                           groups),
                EditColumn("unseen", tr("Unseen"), tr("The robot never passes it: its colour follows from the others")),
                EditColumn("empty_ok", tr("Empty"), tr("It may be that nothing stands there")),
            ]),
            RowsTable("leg", tr("Legs"), [
                EditColumn("name", tr("Leg")),
                EditColumn("starts", tr("Begins with"),
                           tr("begin, reset (distance to 0), reverse, heading:DEGREES, note:TEXT"),
                           lambda: list(STARTS)),
                EditColumn("heading_deg", tr("Heading, °"), tr("Empty: straight on")),
            ]),
            RowsTable("group", tr("Groups"), [
                EditColumn("name", tr("Group")), EditColumn("rule", tr("Rule"), choices=lambda: list(RULES.values())),
                EditColumn("colours", tr("Colours"), tr("With commas between them; for 'so many of each': rust 2, leaf 1")),
            ]),
            RowsTable("decoy", tr("Decoys"), [
                EditColumn("name", tr("Decoy"), tr("Something coloured on the way that is not a marker")),
                EditColumn("leg", tr("Leg"), choices=legs), EditColumn("at_cm", tr("At, cm")),
                EditColumn("width_cm", tr("Width, cm")),
            ]),
        ]  # fmt: skip
        for table in tables:
            table.edited.connect(lambda number, key, text, kind=table.kind: self._typed(kind, number, key, text))
        tables[0].row_chosen.connect(self._chose)
        return tables

    def _left(self) -> QWidget:
        card = Card()
        self.name_field = QLineEdit()
        self.name_field.setAccessibleName(tr("Name of the course"))
        self.name_field.editingFinished.connect(self._rename)
        self.state = Label("", "chip")
        head = row(self.name_field, self.state)
        head.setStretch(0, 1)
        self.map = CourseSketch(
            self.workspace.selection.course, self.workspace.selection.book, self.workspace.theme, choosing=True
        )
        self.map.setMinimumHeight(220)
        self.map.slot_tapped.connect(self._tapped)
        self.map.stepped.connect(lambda: self._tapped(self.map.chosen))
        self.map.dropped.connect(self._dropped)
        self.map.wanted.connect(self._wanted)
        hint = Label(tr("Drag a marker along its leg. Double-click a leg to add one."), "small", wrap=True)
        self.problem = Label("", wrap=True)
        self.problem_card = Card(kind="warn")
        self.problem_card.add(self.problem)
        self.problem.setMinimumHeight(2 * self.problem.fontMetrics().lineSpacing() + 4)
        self.save_button = button(tr("Save and use"), self.save, kind="chief", key="Ctrl+S")
        about = tr("Begin with one leg and one marker; this can be undone (Ctrl+Shift+N)")
        new = button(tr("New course"), self.new, hint=about)
        self.open_button = button(tr("Open…"), self._open, kind="quiet")
        card.add(head, self.map)
        card.column.setStretchFactor(self.map, 1)
        card.add(hint, self.problem_card, FlowLayout(self.save_button, new, self.open_button))
        return card

    def _right(self) -> QWidget:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP_PX)
        card = Card()
        self.tabs = QTabWidget()
        self.tabs.setDocumentMode(True)
        self.tabs.setMinimumHeight(LEAST_TABLE_PX)
        self.tabs.tabBar().setDrawBase(False)
        self.tabs.setAccessibleName(tr("Parts of the course"))
        self.tabs.tabBar().setAccessibleName(tr("Parts of the course"))
        for table in self.tables.values():
            self.tabs.addTab(table, table.accessibleName())
        add = button(tr("Add"), self.add_row, key="Ctrl+N")
        remove = button(tr("Remove"), self.remove_row, kind="quiet", key="Delete")
        card.add(self.tabs, stretch=1)
        card.add(row(add, remove, None))
        column.addWidget(card, 1)
        found = Card(tr("From a recorded run"))
        found.add(Label(tr("Drive past the markers once; where a colour was seen, a marker is offered."), "soft", wrap=True))
        self.run = ChoiceBox(tr("Run"))
        self.find_button = button(
            tr("Find markers"), self.find_markers, hint=tr("In place of the markers there are; can be undone")
        )
        found.add(row(self.run, self.find_button, None))
        column.addWidget(found)
        return inside

    def homes(self) -> list[QWidget]:
        return [self.tables["slot"], self.map]

    # -- showing ------------------------------------------------------------------------------------------------------

    def _show(self) -> None:
        for table in self.tables.values():
            table.show_draft(self.draft)
        if not self.name_field.hasFocus():
            self.name_field.setText(self.draft.name)
        problem = self.draft.problem()
        changed = self.draft.to_toml() != CourseDraft(self.workspace.selection.course.text).to_toml()
        self.state.say(tr("not saved") if changed else tr("in use"))
        count = len(self.draft.rows("slot"))
        markers = tr("1 marker") if count == 1 else tr("{n} markers", n=count)
        self.problem.say(problem or tr("✓ This is a course: {markers}.", markers=markers))
        set_kind(self.problem_card, "warn" if problem else "good")
        self.save_button.setEnabled(not problem and changed)
        drawn = self.draft.drawn()
        if drawn is not None:
            chosen = self.map.chosen
            self.map.set_course(drawn)
            self.map.set_states([SlotState() for _ in self.draft.rows("slot")])
            self.map.choose(min(chosen, len(self.draft.rows("slot")) - 1))

    def _list_runs(self) -> None:
        chosen = self.run.currentData()
        self.run.clear()
        for entry in self.workspace.shelf.latest(RECENT_RUNS):
            self.run.addItem(entry.title, entry.path)
        self.run.setCurrentIndex(max(self.run.findData(chosen), 0))
        self.find_button.setEnabled(self.run.count() > 0)

    def _course_changed(self) -> None:
        self.map.book = self.workspace.selection.book
        self.draft = CourseDraft(self.workspace.selection.course.text)
        self._show()

    # -- changing -----------------------------------------------------------------------------------------------------

    def put(self, sections: dict[str, Any]) -> None:
        """For undo and redo."""
        self.draft.restore(sections)
        self._show()

    def _change(self, text: str, before: dict[str, Any]) -> None:
        after = self.draft.snapshot()
        if after != before:
            self.workspace.undo.push(_Edit(self, text, before, after))
        else:
            self._show()

    def _typed(self, kind: str, number: int, key: str, text: str) -> None:
        before = self.draft.snapshot()
        try:
            self.draft.set_cell(kind, number, key, text)
        except CourseError as error:
            self.draft.restore(before)
            self.workspace.messages.tell(str(error), "warn", cause="course")
        self._change(tr("change of {kind}", kind=self.tables[kind].accessibleName().lower()), before)

    def _rename(self) -> None:
        before = self.draft.snapshot()
        self.draft.set_name(self.name_field.text().strip())
        self._change(tr("name of the course"), before)

    def add_row(self) -> None:
        table = self._table()
        before = self.draft.snapshot()
        number = self.draft.add(table.kind)
        self._change(tr("new row"), before)
        table.choose(number)
        if table.kind == "slot":
            self.map.choose(number)
        table.setFocus()

    def remove_row(self) -> None:
        table = self._table()
        number = table.currentRow()
        if 0 <= number < table.rowCount():
            before = self.draft.snapshot()
            self.draft.remove(table.kind, number)
            self._change(tr("removal"), before)
            table.choose(min(number, table.rowCount() - 1))

    def _table(self) -> RowsTable:
        shown = self.tabs.currentWidget()
        assert isinstance(shown, RowsTable)
        return shown

    def _chose(self, number: int) -> None:
        if number >= 0:
            self.map.choose(number)

    def _tapped(self, slot: int) -> None:
        self.tabs.setCurrentWidget(self.tables["slot"])
        self.tables["slot"].choose(slot)

    def _dropped(self, slot: int, at_cm: float) -> None:
        if abs(float(self.draft.rows("slot")[slot].get("at_cm", -1.0)) - at_cm) < 0.05:
            return
        before = self.draft.snapshot()
        number = self.draft.place(slot, at_cm)
        self._change(tr("move"), before)
        self.map.choose(number)
        self.tables["slot"].choose(number)

    def _wanted(self, leg: int, at_cm: float) -> None:
        before = self.draft.snapshot()
        number = self.draft.add("slot", leg=self.draft.names("leg")[leg], at_cm=at_cm)
        self._change(tr("new marker"), before)
        self._tapped(number)
        self.map.choose(number)

    def find_markers(self) -> None:
        """The markers seen in a recorded run become those of the draft; legs and groups stay."""
        path = Path(str(self.run.currentData()))
        workspace = self.workspace
        found = workspace.messages.attempt(
            lambda: found_markers(workspace.shelf.load(path), self.draft, workspace.selection.palette)
        )
        if found is None:
            return
        if not found:
            workspace.messages.tell(tr("No colour was seen on any leg of this run."), "warn", cause="course")
            return
        before = self.draft.snapshot()
        self.draft.sections["slot"] = []
        colours = list(dict.fromkeys(one.colour for one in found))
        for one in found:
            self.draft.add("slot", leg=one.leg, at_cm=one.at_cm, width_cm=one.width_cm)
        self._change(tr("markers found"), before)
        words = tr("{n} markers found ({colours}). Check their groups and widths.", n=len(found), colours=", ".join(colours))
        workspace.messages.tell(words, action=tr("Undo"), does=workspace.undo.undo, cause="undo")

    def new(self) -> None:
        before = self.draft.snapshot()
        self.draft = CourseDraft()
        self._change(tr("new course"), before)
        self.name_field.setFocus()
        self.name_field.selectAll()

    def _open(self) -> None:
        from gui.opening import ask_course

        ask_course(self.workspace, self.open_button)

    # -- saving -------------------------------------------------------------------------------------------------------

    def save(self) -> None:
        """Where the user says; in the folder of the runs, named after the course, unless he says otherwise."""
        self._rename()  # a name that is still being typed counts
        if self.draft.problem():
            self.workspace.messages.tell(self.draft.problem(), "warn", cause="course")
            return
        in_use = self.workspace.settings.text("course")
        name = re.sub(r"[^\w .-]+", "", self.draft.name).strip(" .") or tr("course")
        same = in_use and Path(in_use).stem == name
        usual = Path(in_use) if same else self._free(name)
        chosen = ask_where_to_save(self, tr("Save the course"), usual, tr("Courses") + " (*.toml)")
        if chosen:
            self.save_as(Path(chosen).with_suffix(".toml"))

    def _free(self, name: str) -> Path:
        """A file of this name in the folder, with a number where there is one already."""
        path, number = self.workspace.folder.path / f"{name}.toml", 2
        while path.exists():
            path, number = path.with_name(f"{name} {number}.toml"), number + 1
        return path

    def save_as(self, path: Path) -> None:
        text = self.draft.to_toml()

        def write() -> bool:
            path.parent.mkdir(parents=True, exist_ok=True)
            write_text(path, text)
            return True

        if self.workspace.messages.attempt(write) and self.workspace.selection.use_course(path):
            self.workspace.messages.tell(tr("The course is saved as {path} and used from now on.", path=path))

    def set_theme(self, theme: Theme) -> None:
        self.map.set_theme(theme)
