"""Every text the user sees passes through ``tr``, so that a translation needs no change of the code."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication


def tr(text: str, /, **values: object) -> str:
    """``text`` in the user's language, with ``{name}`` replaced by ``values`` afterwards."""
    translated = QCoreApplication.translate("sidelong", text)
    return translated.format(**values) if values else translated


def runs(count: int) -> str:
    """A number of runs in words."""
    return tr("1 run") if count == 1 else tr("{count} runs", count=count)
