"""The questions for a file or a folder, no larger than the screen: Qt's own dialogs ask for more than a small one has."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QLineEdit, QListView, QSplitter, QWidget

SHARE = 0.9
WIDE_PX, HIGH_PX, SIDE_PX = 760, 480, 130
FRAME_PX = 30
"""What the window manager puts above a dialog."""


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


def fit_to_screen(dialog: QWidget, wide_px: int, high_px: int) -> None:
    """As large as wanted, as far as the screen has room for it."""
    room = dialog.screen().availableGeometry()
    dialog.resize(min(wide_px, int(room.width() * SHARE)), min(high_px, int(room.height() * SHARE) - FRAME_PX))


def _fitted(dialog: QFileDialog) -> QFileDialog:
    """What Qt's dialog asks for at least gives way where the screen is small."""
    for part in (*dialog.findChildren(QSplitter), *dialog.findChildren(QListView)):
        part.setMinimumSize(40, 40)
    for splitter in dialog.findChildren(QSplitter):
        splitter.setSizes([SIDE_PX, WIDE_PX - SIDE_PX])
    dialog.setMinimumSize(320, 240)
    fit_to_screen(dialog, WIDE_PX, HIGH_PX)
    return dialog


def folder_dialog(parent: QWidget, title: str, start: Path, kind: type[QFileDialog] = QFileDialog) -> QFileDialog:
    """Made, not shown."""
    dialog = kind(parent, title, str(start))
    dialog.setFileMode(QFileDialog.FileMode.Directory)
    dialog.setOption(QFileDialog.Option.ShowDirsOnly)
    return _fitted(dialog)


def file_dialog(parent: QWidget, title: str, start: Path, kinds: str, *, save: bool = False) -> QFileDialog:
    """Made, not shown. ``start``: the folder, or the name that is offered. ``kinds``: 'Courses (*.toml)'."""
    dialog = QFileDialog(parent, title, str(start if start.is_dir() else start.parent), kinds)
    if save:
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix(start.suffix.lstrip("."))  # so that it asks before it writes over one that is there
    else:
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
    if not start.is_dir():
        dialog.selectFile(start.name)
    return _fitted(dialog)


def _answer(dialog: QFileDialog) -> str:
    """What was chosen; empty where nothing was."""
    try:
        if dialog.exec() and isinstance(dialog, NewFolderDialog) and dialog.named:
            return dialog.named
        return dialog.selectedFiles()[0] if dialog.result() and dialog.selectedFiles() else ""
    finally:
        dialog.deleteLater()


def ask_for_folder(parent: QWidget, title: str, start: Path, *, new: bool = False) -> str:
    """The folder chosen; empty where none was. ``new``: one that is not there yet may be named."""
    return _answer(folder_dialog(parent, title, start, NewFolderDialog if new else QFileDialog))


def ask_for_file(parent: QWidget, title: str, start: Path, kinds: str) -> str:
    """The file chosen to be opened; empty where none was."""
    return _answer(file_dialog(parent, title, start, kinds))


def ask_where_to_save(parent: QWidget, title: str, start: Path, kinds: str) -> str:
    """The file chosen to be written; empty where none was. Whether one that is there may go is asked by the dialog."""
    return _answer(file_dialog(parent, title, start, kinds, save=True))
