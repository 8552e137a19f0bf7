"""The first place: choose what to look at — the built-in robot, a robot on a cable or Bluetooth, or a saved run."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QGridLayout, QLineEdit, QListWidget, QListWidgetItem, QWidget

from gui.model.jobs import Job, Jobs
from gui.model.workspace import Workspace
from gui.panels.banner import Banner
from gui.panels.choice import ChoiceBox
from gui.panels.continue_card import ContinueCard
from gui.panels.flow import FlowLayout
from gui.panels.parts import Card, Label, button, row, scrolled
from gui.panels.simulated_card import SimulatedCard
from gui.places.place import Place
from gui.theme import GAP_PX, Theme
from gui.words import tr

if TYPE_CHECKING:
    from gui.plots.course_map import CourseMap
    from telemetry.sources.ble.scan import BleDevice

RECENT = 6
LISTEN_S = 4.0
MAP_FROM_PX, BANNER_FROM_PX, ABOUT_PX = 700, 400, 150
"""Lower, the little map would be too small to be read."""
NARROW_PX, SLIM_PX = 960, 640
"""Narrower, three cards have no room side by side."""
CONSOLE = re.compile(r"/dev/(ttyS\d+|cu\.(Bluetooth-Incoming-Port|debug-console|wlan-debug)|ttyAMA0|console)$")
"""Ports of the computer itself: no robot is there. Whoever needs one types its name."""
BAUDS = (9600, 19200, 38400, 57600, 115200, 230400, 460800, 921600, 1000000)


def named_apart(found: Sequence[BleDevice]) -> list[tuple[str, str, bool]]:
    """(address, words, talks UART) of each: by its name, and where two robots have the same name by their addresses."""
    names = Counter(one.name for one in found)
    out = []
    for one in found:
        alone = bool(one.name) and names[one.name] == 1
        words = one.name or one.address if alone or not one.name else f"{one.name} ({one.address})"
        out.append((f"ble:{one.name if alone else one.address}", f"{words}   Bluetooth", one.talks_uart))
    return out


class StartPlace(Place):
    """Everything a newcomer needs for the first minute is on this page."""

    name = "start"

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(workspace, parent)
        self._jobs = Jobs()
        self._looked = False
        self.map: CourseMap | None = None
        inside = QWidget()
        grid = QGridLayout(inside)
        grid.setContentsMargins(0, 0, 4, 0)
        grid.setSpacing(GAP_PX)
        self.banner = Banner(workspace.theme)
        grid.addWidget(self.banner, 0, 0, 1, 3)
        self.going_on = ContinueCard(
            workspace.robots, workspace.selection, workspace.messages, lambda: workspace.follow, lambda: workspace.shelf
        )
        self.going_on.wanted.connect(workspace.go)
        self.going_on.hide()
        grid.addWidget(self.going_on, 0, 0, 1, 3)
        self.cards = [self._built_in_card(), self._robot_card(), self._saved_card()]
        self.grid = grid
        self._across = 0
        self._about_course = self._course_card()
        self._lay_out(3)
        self.column.addWidget(scrolled(inside))
        workspace.selection.course_changed.connect(self._show_course)

    def _lay_out(self, across: int) -> None:
        """The cards side by side: three of them, two where the window is narrow, or one below the other."""
        if across == self._across:
            return
        self._across = across
        for number, card in enumerate(self.cards):
            alone = number == len(self.cards) - 1 and number % across == 0
            self.grid.addWidget(card, 1 + number // across, number % across, 1, 3 if alone or across == 1 else 1)
        for column in range(3):
            self.grid.setColumnStretch(column, 1 if column < across else 0)
        self.grid.setRowStretch(1, 1)
        self.grid.addWidget(self._about_course, 1 + len(self.cards), 0, 1, 3)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self._lay_out(3 if self.width() >= NARROW_PX else 2 if self.width() >= SLIM_PX else 1)
        self._show_banner()
        if self.map is not None:
            self.map.setVisible(self.height() >= MAP_FROM_PX)

    def _show_banner(self) -> None:
        """Where there is room, and nothing to go on with, which is known once the window is on the screen."""
        going_on = self._looked and self.going_on.has_something
        self.banner.setVisible(self.height() >= BANNER_FROM_PX and not going_on)

    # -- the cards ----------------------------------------------------------------------------------------------------

    def _built_in_card(self) -> Card:
        workspace = self.workspace
        selection, choices = workspace.selection, workspace.choices
        card = SimulatedCard(
            self.start_built_in, lambda name: choices.course(lambda: selection.use_built_in_course(name)), selection.variant
        )
        self.drive_card, self.level, self.variant, self.drive_button = card, card.level, card.variant, card.drive_button
        return card

    def _robot_card(self) -> Card:
        card = Card(tr("Your robot"))
        self.ports = QListWidget()
        self.ports.setAccessibleName(tr("Ports and Bluetooth devices found"))
        self.ports.setMinimumHeight(72)
        self.ports.itemActivated.connect(lambda _item: self.connect_robot())
        self.address = QLineEdit()
        self.address.setPlaceholderText(tr("or type: a port, socket://…, ble:NAME"))
        self.address.setAccessibleName(tr("Address of the robot"))
        self.address.returnPressed.connect(self.connect_robot)
        self.look_button = button(tr("Rescan"), self.look, hint=tr("List the serial ports again"))
        self.listen_button = button(tr("Bluetooth"), self.listen, hint=tr("Listen a few seconds for Bluetooth devices"))
        self.connect_button = button(tr("Connect"), self.connect_robot, kind="chief")
        card.add(self.ports, stretch=1)
        settings = self.workspace.settings
        self.baud = ChoiceBox(tr("Baud rate of a serial port"))
        for rate in BAUDS:
            self.baud.addItem(tr("{rate} baud", rate=rate), str(rate))
        self.baud.setCurrentIndex(max(self.baud.findData(str(self.workspace.robots.baud)), 0))
        self.baud.activated.connect(lambda _index: settings.set_text("baud", self.baud.currentData()))
        self.columns = QLineEdit(settings.text("columns"))
        self.columns.setPlaceholderText(tr("Column names (if the robot sends none)"))
        self.columns.setToolTip(tr("For a robot that prints plain numbers: t/ms,colour,dist/cm"))
        self.columns.setAccessibleName(tr("Columns of a robot that sends no header"))
        self.columns.editingFinished.connect(lambda: settings.set_text("columns", self.columns.text().strip()))
        card.add(self.address, self.columns)
        card.add(FlowLayout(self.connect_button, self.baud, self.look_button, self.listen_button))
        return card

    def _saved_card(self) -> Card:
        card = Card(tr("Recorded runs"))
        self.recent = QListWidget()
        self.recent.setAccessibleName(tr("Latest runs"))
        self.recent.setMinimumHeight(72)
        for one in (self.ports, self.recent):
            one.setWordWrap(True)
            one.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
            one.setResizeMode(QListWidget.ResizeMode.Adjust)
        self.recent.itemActivated.connect(lambda item: self.workspace.go("runs", item.data(Qt.ItemDataRole.UserRole)))
        card.add(self.recent, stretch=1)
        card.add(Label(tr("Drop a recording or a robot's log anywhere on the window."), "small", wrap=True))
        open_file = button(tr("Open file…"), self._open, key="Ctrl+O")
        hint = tr("Show and keep runs elsewhere; a folder can be dropped on the window, too")
        self.folder_button = button(tr("Open folder…"), self._other_folder, kind="quiet", hint=hint)
        hint = tr("Simulated runs of every kind, copied beside your own folder")
        self.samples_button = button(tr("Sample runs"), self._show_samples, kind="quiet", hint=hint)
        self.samples_button.hide()
        hint = tr("Palettes, strategies, baselines, courses and reports in the folder of the runs")
        self.season_button = button(tr("Other files…"), self.show_season, kind="quiet", hint=hint)
        card.add(FlowLayout(open_file, self.folder_button, self.season_button, self.samples_button))
        return card

    def _course_card(self) -> Card:
        card = Card()
        self.course_name = Label("", "large")
        self.course_about = Label("", "soft", wrap=True)
        hint = tr("Orchard Row, your own, or that of recorded runs")
        self.course_button = button(tr("Change course…"), self._choose_course, hint=hint)
        edit = button(tr("Edit course"), lambda: self.workspace.go("course"), hint=tr("In tables and on the map"))
        self.course_about.setMinimumWidth(ABOUT_PX)
        line = row(self.course_name, self.course_about, spacing=14)
        line.addLayout(FlowLayout(edit, self.course_button, one_line=True), 0)
        line.setStretch(1, 1)
        card.add(line)
        return card

    def homes(self) -> list[QWidget]:
        return [self.drive_button]

    # -- what they do -------------------------------------------------------------------------------------------------

    def entered(self, what: object = None) -> None:
        del what
        self.columns.setText(self.workspace.settings.text("columns"))
        if self._looked:
            self._show_recent()
            self._show_going_on()

    def begin(self) -> None:
        """The shell is on the screen: look for ports, runs and the course now."""
        self._looked = True
        from gui.opening import samples_here
        from gui.plots.course_map import CourseMap

        self.samples_button.setVisible(bool(samples_here()))

        self.map = CourseMap(self.workspace.selection.course, self.workspace.selection.book, self.workspace.theme)
        self.map.setMinimumHeight(130)
        self.map.setVisible(self.height() >= MAP_FROM_PX)
        self.drive_card.column.insertWidget(self.drive_card.column.count() - 1, self.map, 10)
        self._show_course()
        self.workspace.follow.state_changed.connect(self._show_going_on)
        self.look()
        self._show_recent()

    def start_built_in(self) -> None:
        """It drives on the course chosen on its card, so this is the one in use, which is told where it was another."""
        level, selection, own = self.level.currentData(), self.workspace.selection, self.workspace.settings.text("course")
        name = selection.course.name
        if own:
            selection.use_built_in_course(self.variant.currentData())
        if self.workspace.messages.attempt(lambda: self.workspace.follow.start_built_in(level)):
            self.workspace.go("live")
            if selection.palette is not None and not own:
                words = tr("The simulated robot begins another day: light and height change. Re-check the colours.")
                again = lambda: self.workspace.go("colours")  # noqa: E731
                self.workspace.messages.tell(words, "warn", action=tr("Go to Colours"), does=again, cause="palette")
            if own:
                words = tr(
                    "The simulated robot drives on {name}: this course is used from now on.", name=selection.course.name
                )
                back = tr("Back to {name}", name=name)
                self.workspace.messages.tell(words, action=back, does=lambda: selection.use_course(Path(own)))

    def look(self) -> None:
        """List the serial ports on a thread: some systems take their time."""

        def work(_job: Job) -> object:
            from telemetry.sources.ports import serial_ports

            return [(port.device, f"{port.device}   {port.what}".strip()) for port in serial_ports()]

        job = Job(work, self)
        job.finished.connect(self._show_ports)
        job.failed.connect(lambda words: self.workspace.messages.tell(words, "bad"))
        self._jobs.start(job)

    def listen(self) -> None:
        self.listen_button.setEnabled(False)
        self.listen_button.setText(tr("Listening …"))

        def work(_job: Job) -> object:
            from telemetry.sources.ble.source import scan

            return named_apart(scan(LISTEN_S))

        job = Job(work, self)
        job.finished.connect(self._show_devices)
        job.failed.connect(lambda words: self.workspace.messages.tell(words, "warn"))
        job.ended.connect(self._heard)
        self._jobs.start(job)

    def _heard(self) -> None:
        self.listen_button.setEnabled(True)
        self.listen_button.setText(tr("Bluetooth"))

    def _show_ports(self, found: object) -> None:
        assert isinstance(found, list)
        self.ports.clear()
        there = {address for address, _words in found}
        found = [(address, words) for address, words in found if not CONSOLE.match(address)]
        recent = [
            address for address in self.workspace.robots.recent if address in there or "://" in address or "ble:" in address
        ]
        for address in recent:
            self._add_port(address, tr("{address}   connected before", address=address))
        found = [(address, words) for address, words in found if address not in recent]
        for address, words in found:
            self._add_port(address, words)
        if not found and not recent:
            for words in (tr("No port found."), tr("Plug the robot in, then Rescan.")):
                none = QListWidgetItem(words)
                none.setFlags(Qt.ItemFlag.NoItemFlags)
                self.ports.addItem(none)

    def _show_devices(self, found: object) -> None:
        assert isinstance(found, list)
        for address, words, talks in sorted(found, key=lambda one: not one[2]):
            self._add_port(address, words if talks else tr("{words} (no UART service)", words=words))
        if found:
            from telemetry.sources.ble.source import RADIO_NOTE

            self.workspace.messages.tell(tr(RADIO_NOTE), "warn")
        else:
            self.workspace.messages.tell(tr("No Bluetooth device was heard. Switch the robot on and go nearer."), "warn")

    def _add_port(self, address: str, words: str) -> None:
        item = QListWidgetItem(words)
        item.setData(Qt.ItemDataRole.UserRole, address)
        self.ports.addItem(item)

    def connect_robot(self) -> None:
        item: QListWidgetItem | None = self.ports.currentItem()
        address = self.address.text().strip() or (item.data(Qt.ItemDataRole.UserRole) if item is not None else "") or ""
        if not address:
            self.workspace.messages.tell(tr("Choose a port from the list, or type an address."), "warn")
            return
        if self.workspace.messages.attempt(lambda: self.workspace.follow.connect_robot(address)):
            self.workspace.go("live")

    def _show_recent(self) -> None:
        shelf = self.workspace.shelf
        shelf.changed.connect(self._fill_recent, Qt.ConnectionType.UniqueConnection)
        shelf.refresh()
        self._fill_recent()

    def _show_going_on(self) -> None:
        """The picture greets whoever is new; whoever was here before goes on from there."""
        if not self._looked or not self.isVisible():
            return
        self.going_on.refresh()
        self.going_on.setVisible(self.going_on.has_something)
        self._show_banner()

    def _fill_recent(self) -> None:
        self._show_going_on()
        self.recent.clear()
        for entry in self.workspace.shelf.latest(RECENT):
            item = QListWidgetItem(f"{entry.title}   {entry.course}")
            item.setData(Qt.ItemDataRole.UserRole, entry.path)
            self.recent.addItem(item)
        if not self.recent.count():
            none = QListWidgetItem(tr("No run yet. The first one takes a minute."))
            none.setFlags(Qt.ItemFlag.NoItemFlags)
            self.recent.addItem(none)

    def _show_course(self) -> None:
        course = self.workspace.selection.course
        if self.map is not None:
            self.map.book = self.workspace.selection.book
            self.map.set_course(course)
        self.drive_card.show_variant(self.workspace.selection.variant)
        self.course_name.say(course.name)
        self.course_about.say(
            tr("{slots} slots on {legs}, colours {colours}", slots=len(course.slots),
               legs=", ".join(leg.name or tr("one leg") for leg in course.legs), colours=", ".join(course.colours))
        )  # fmt: skip

    def _choose_course(self) -> None:
        from gui.opening import ask_course

        ask_course(self.workspace, self.course_button)

    def _open(self) -> None:
        from gui.opening import ask_and_open

        ask_and_open(self.workspace, self)

    def _show_samples(self) -> None:
        from gui.opening import show_samples

        show_samples(self.workspace)

    def show_season(self) -> None:
        """What lies beside the runs."""
        from gui.opening import use_season_file
        from gui.panels.season_dialog import SeasonDialog

        workspace = self.workspace
        dialog = SeasonDialog(workspace.season.files(workspace.folder.path), workspace.folder.path, self)
        dialog.wanted.connect(lambda one: use_season_file(workspace, one))
        dialog.exec()

    def _other_folder(self) -> None:
        from gui.opening import ask_folder

        ask_folder(self.workspace, self)

    def set_theme(self, theme: Theme) -> None:
        self.banner.set_theme(theme)
        if self.map is not None:
            self.map.set_theme(theme)

    def closing(self) -> None:
        self._jobs.close()
