"""What the window keeps from one start to the next: its place on the screen, the look, the last robot, the folder."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings


class UserSettings:
    """A small file of texts. ``path``: where it is (tests give their own); default: where the system keeps such files."""

    def __init__(self, path: Path | None = None) -> None:
        if path is None:
            self._store = QSettings(QSettings.Format.IniFormat, QSettings.Scope.UserScope, "sidelong", "window")
        else:
            self._store = QSettings(str(path), QSettings.Format.IniFormat)

    def text(self, key: str, default: str = "") -> str:
        value = self._store.value(key, default)
        return value if isinstance(value, str) else default

    def flag(self, key: str, default: bool = False) -> bool:
        return self.text(key, "yes" if default else "no") == "yes"

    def set_text(self, key: str, value: str) -> None:
        self._store.setValue(key, value)

    def set_flag(self, key: str, value: bool) -> None:
        self._store.setValue(key, "yes" if value else "no")

    def blob(self, key: str) -> QByteArray | None:
        """Bytes that Qt made (a window's geometry), or None."""
        value = self._store.value(key)
        return value if isinstance(value, QByteArray) else None

    def set_blob(self, key: str, value: QByteArray) -> None:
        self._store.setValue(key, value)

    def save(self) -> None:
        """Write at once what has changed."""
        self._store.sync()
