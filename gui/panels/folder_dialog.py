"""The question for a folder, no larger than the screen: Qt's own dialog asks for more than a small one has."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QLineEdit, QWidget

SHARE = 0.9
WIDE_PX, HIGH_PX = 760, 480


class NewFolderDialog(QFileDialog):
    """A folder that is not there yet may be named: its name is taken, and whoever writes into it makes it."""

    named = ""
    """The folder that is not there yet; empty where one was chosen that is."""

    def accept(self) -> None:
        field = self.findChild(QLineEdit, "fileNameEdit")  # Qt's own; none where the system shows its dialog
        typed = field.text().strip() if field is not None else ""
        if typed and not Path(self.directory().absoluteFilePath(typed)).exists():
            self.named = self.directory().absoluteFilePath(typed)
            self.done(QFileDialog.DialogCode.Accepted)
            return
        super().accept()


def folder_dialog(parent: QWidget, title: str, start: Path, kind: type[QFileDialog] = QFileDialog) -> QFileDialog:
    """Made, not shown."""
    dialog = kind(parent, title, str(start))
    dialog.setFileMode(QFileDialog.FileMode.Directory)
    dialog.setOption(QFileDialog.Option.ShowDirsOnly)
    room = parent.screen().availableGeometry()
    dialog.resize(min(WIDE_PX, int(room.width() * SHARE)), min(HIGH_PX, int(room.height() * SHARE)))
    return dialog


def ask_for_folder(parent: QWidget, title: str, start: Path, *, new: bool = False) -> str:
    """The folder chosen; empty where none was. ``new``: one that is not there yet may be named."""
    dialog = folder_dialog(parent, title, start, NewFolderDialog if new else QFileDialog)
    try:
        if dialog.exec() and isinstance(dialog, NewFolderDialog) and dialog.named:
            return dialog.named
        return dialog.selectedFiles()[0] if dialog.result() and dialog.selectedFiles() else ""
    finally:
        dialog.deleteLater()
