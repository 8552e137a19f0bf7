"""The question before the window closes while a run is being recorded."""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QWidget

from gui.words import tr

if TYPE_CHECKING:
    from gui.model.follow import Follow


class Leaving(Enum):
    """What becomes of the run. STAY: the window stays open."""

    KEEP = "keep"
    GO_ON = "go on"
    STAY = "stay"


def box_for(parent: QWidget | None, robot: str) -> tuple[QMessageBox, dict[object, Leaving]]:
    """The box, and what its buttons mean; Return keeps the run, Escape stays."""
    box = QMessageBox(parent)
    box.setTextFormat(Qt.TextFormat.PlainText)
    box.setIcon(QMessageBox.Icon.Question)
    box.setWindowTitle(tr("A run is being recorded"))
    box.setText(tr("A run of {robot} is being recorded.", robot=robot))
    box.setInformativeText(tr("It can also be recorded without the window, which finds it again when it is opened."))
    keep = box.addButton(tr("Stop and keep"), QMessageBox.ButtonRole.AcceptRole)
    go_on = box.addButton(tr("Go on recording"), QMessageBox.ButtonRole.DestructiveRole)
    stay = box.addButton(tr("Do not close"), QMessageBox.ButtonRole.RejectRole)
    box.setDefaultButton(keep)
    box.setEscapeButton(stay)
    return box, {keep: Leaving.KEEP, go_on: Leaving.GO_ON, stay: Leaving.STAY}


def ask_leaving(parent: QWidget | None, robot: str) -> Leaving:
    box, meaning = box_for(parent, robot)
    box.exec()
    return meaning.get(box.clickedButton(), Leaving.STAY)


def may_close(parent: QWidget, follow: Follow) -> bool:
    """While a run is recorded the user says what becomes of it: nobody would know that it goes on."""
    if not follow.recording or follow.watch is None:
        return True
    answer = ask_leaving(parent, follow.watch.title)
    if answer is Leaving.KEEP:
        follow.stop_recording()
        return not follow.recording  # where it could not be kept, that is told
    return answer is Leaving.GO_ON
