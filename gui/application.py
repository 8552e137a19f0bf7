"""The Qt application: style, fonts, light or dark, and a clean end on Ctrl+C."""

from __future__ import annotations

import importlib
import os
import signal
import sys
import threading
from collections.abc import Sequence
from contextlib import suppress

from PySide6.QtCore import QTimer, QtMsgType, qInstallMessageHandler
from PySide6.QtGui import QFont, QGuiApplication
from PySide6.QtWidgets import QApplication

from gui.theme import BODY_PX, DARK, LIGHT, THEMES, Theme, luminance, qt_palette, style_sheet
from telemetry.errors import EXIT_MISSING

FAMILIES = ("Segoe UI", "SF Pro Text", "Helvetica Neue", "Noto Sans", "Cantarell", "Ubuntu", "DejaVu Sans")
INTERRUPT_CHECK_MS = 200
ENDINGS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
"""The signals that end a program in order; no system has all of them."""
NO_SCREEN = (
    "there is no screen that the window can be shown on. Log in on a desktop; 'sidelong doctor' says what is missing, and"
    " every other command works without."
)


def _spare_search() -> None:
    """PySide searches the source of every module that is imported for its own name, because of a feature of its own that
    nothing here uses (``__feature__``). With hundreds of modules that is a tenth of the time until plots are shown.
    """
    with suppress(ImportError):  # not a public part of it: elsewhere it may be called otherwise
        inside = vars(importlib.import_module("shibokensupport.feature"))
        if callable(inside.get("_mod_uses_pyside")):
            inside["_mod_uses_pyside"] = lambda _module: True


def make_application(arguments: Sequence[str] = ()) -> QApplication:
    """The one application of this process, in our style."""
    _spare_search()
    existing = QApplication.instance()
    app = existing if isinstance(existing, QApplication) else _begun(["sidelong", *arguments])
    app.setApplicationName("sidelong")
    app.setApplicationDisplayName("Sidelong")
    app.setStyle("Fusion")
    font = QFont([*FAMILIES, app.font().family()])  # the first of these that is there
    font.setPixelSize(BODY_PX)
    app.setFont(font)
    return app


def _begun(arguments: list[str]) -> QApplication:
    """Qt, begun. Where it cannot begin, it ends the process by abort; so its last word becomes our sentence and code."""

    def hear(kind: QtMsgType, _context: object, text: str) -> None:
        if kind is QtMsgType.QtFatalMsg:
            print(f"sidelong: {NO_SCREEN}", file=sys.stderr, flush=True)
            os._exit(EXIT_MISSING)
        elif kind is QtMsgType.QtCriticalMsg:
            print(text, file=sys.stderr)

    before = qInstallMessageHandler(hear)
    try:
        return QApplication(arguments)
    finally:
        qInstallMessageHandler(before)


def theme_wanted(setting: str) -> Theme:
    """The theme called ``setting``; for 'system' the one that the desktop asks for."""
    if setting in THEMES:
        return THEMES[setting]
    dark = luminance(QGuiApplication.palette().window().color().name()) < 0.2
    return DARK if dark else LIGHT


def apply_theme(app: QApplication, theme: Theme) -> None:
    """Give every widget the colours of ``theme``."""
    app.setPalette(qt_palette(theme))
    app.setStyleSheet(style_sheet(theme))


def quit_on_interrupt(app: QApplication) -> QTimer | None:
    """Ctrl+C in the terminal, the end of that terminal or of the session closes the window as its own button would.

    So its programs end with it. The timer lets Python run so that it hears of the signal, and is where the window closes:
    not in the midst of whatever was interrupted. Keep it.
    """
    if threading.current_thread() is not threading.main_thread():
        return None

    asked: list[int] = []

    def close() -> None:
        if not asked:
            return
        asked.clear()
        while (dialog := app.activeModalWidget()) is not None and dialog.close():
            pass  # a question that is open is not answered
        app.closeAllWindows()
        app.quit()

    for name in ENDINGS:
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), lambda number, _frame: asked.append(number))
    timer = QTimer(app)
    timer.timeout.connect(close)
    timer.start(INTERRUPT_CHECK_MS)
    return timer


def say_to_terminal(text: str) -> None:
    """One line for whoever started the window from a terminal."""
    print(text, file=sys.stderr)
