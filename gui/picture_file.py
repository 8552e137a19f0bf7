"""Keeps a picture of a widget as a file, in place: never half of one, never through a link."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice
from PySide6.QtGui import QPixmap

from telemetry.text_in_place import write_bytes


def save_picture(picture: QPixmap, path: Path) -> None:
    """As PNG. Raises OSError; Qt itself would leave half a picture on a full disk, and not say why."""
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    picture.save(buffer, "PNG")  # into memory
    write_bytes(path, bytes(data.data()))
