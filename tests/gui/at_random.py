"""Hands that do anything: keys, clicks, words and sizes at random, on a window with sound and spoilt runs.

Not part of the tests. ``python tests/gui/at_random.py SEED SECONDS`` ends with 1 and the last steps where a fault came up.
"""

from __future__ import annotations

import os
import random
import shutil
import sys
import tempfile
import threading
import time
import traceback
from collections import deque
from contextlib import suppress
from pathlib import Path
from types import TracebackType

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
sys.path.insert(0, str(Path(__file__).parents[1]))

from faults.spoilers import recording_changed
from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QComboBox, QLineEdit, QWidget

from gui import opening
from gui.application import make_application
from gui.panels import margins_dialog, robot_dialog
from gui.places import colours, course, record
from gui.shell import make_window
from gui.window import Window

RECORDINGS = Path(__file__).parents[2] / "recordings"
LETTERS = [Qt.Key(code) for code in range(Qt.Key.Key_A.value, Qt.Key.Key_Z.value + 1)]
OTHERS = [
    Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Escape, Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up,
    Qt.Key.Key_Down, Qt.Key.Key_Tab, Qt.Key.Key_Backspace, Qt.Key.Key_Delete, Qt.Key.Key_Home, Qt.Key.Key_End, Qt.Key.Key_F1,
]  # fmt: skip
WORDS = ["", "-1", "1e9", "éß\u202e<b>", "x" * 500, "8, 12", "/dev/null", "socket://127.0.0.1:1", "ble:"]
SIZES = [(700, 480), (1024, 600), (1366, 768), (1920, 1080)]


class Hands:
    """``said``: what was raised; ``steps``: the last things that were done."""

    def __init__(self, window: Window, lot: random.Random) -> None:
        self.window, self.lot = window, lot
        self.said: list[str] = []
        self.steps: deque[tuple[object, ...]] = deque(maxlen=15)

    def step(self) -> None:
        lot, window = self.lot, self.window
        there = [one for one in window.findChildren(QWidget) if one.isVisible() and one.isEnabled()]
        what = lot.choices([self._press, self._poke, self._key, self._choose, self._write, self._go], [9, 3, 5, 1, 1, 1])[0]
        what(there)

    def _press(self, there: list[QWidget]) -> None:
        one = self.lot.choice([one for one in there if isinstance(one, QAbstractButton)])
        self.steps.append(("press", one.accessibleName() or one.text()))
        QTest.mouseClick(one, Qt.MouseButton.LeftButton)

    def _poke(self, there: list[QWidget]) -> None:
        one = self.lot.choice(there)
        at = QPoint(self.lot.randrange(max(1, one.width())), self.lot.randrange(max(1, one.height())))
        self.steps.append(("poke", type(one).__name__, at.x(), at.y()))
        click = self.lot.choice([QTest.mouseClick, QTest.mouseDClick])
        click(one, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, at)

    def _key(self, _there: list[QWidget]) -> None:
        key = self.lot.choice(LETTERS + OTHERS)
        modifiers = [Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier]
        modifier = self.lot.choices(modifiers, [4, 1, 1])[0]
        if (key, modifier) != (Qt.Key.Key_Q, Qt.KeyboardModifier.ControlModifier):
            self.steps.append(("key", key.name, modifier.name))
            QTest.keyClick(QApplication.focusWidget() or self.window, key, modifier)

    def _choose(self, there: list[QWidget]) -> None:
        for one in self.lot.sample(there, len(there)):
            if isinstance(one, QComboBox) and one.count():
                index = self.lot.randrange(one.count())
                self.steps.append(("choose", one.accessibleName(), index))
                one.setCurrentIndex(index)
                one.activated.emit(index)
                return

    def _write(self, there: list[QWidget]) -> None:
        for one in self.lot.sample(there, len(there)):
            if isinstance(one, QLineEdit):
                self.steps.append(("write", one.accessibleName()))
                one.setText(self.lot.choice(WORDS))
                one.editingFinished.emit()
                return

    def _go(self, _there: list[QWidget]) -> None:
        place = self.lot.choice(["start", "live", "record", "colours", "runs", "decide", "course"])
        self.steps.append(("go", place))
        self.window.resize(*self.lot.choice(SIZES))
        self.window.show_place(place)

    def raised(self, kind: type[BaseException], error: BaseException | None, trace: TracebackType | None) -> None:
        self.said.append("".join(traceback.format_exception(kind, error, trace)))


def stock(folder: Path, lot: random.Random) -> None:
    """Some of the demo's runs, and spoilt copies."""
    folder.mkdir()
    for path in sorted(RECORDINGS.glob("*.h5"))[::3]:
        shutil.copy(path, folder)
        for number in range(8):
            with suppress(Exception):  # not every change fits every file
                (folder / f"spoilt {number} {path.name}").write_bytes(recording_changed(path.read_bytes(), lot))
    (folder / "empty.txt").write_bytes(b"")
    (folder / "noise.txt").write_bytes(lot.randbytes(5000))
    (folder / "odd.toml").write_text("[palette]\nname = 'x'\n")


def answer_dialogs(folder: Path, lot: random.Random) -> None:
    """Dialogs for files are answered at once, with anything."""
    found = [*map(str, folder.iterdir()), "", str(folder), "/nonexistent/x.h5"]
    for place in (opening, record, colours):
        place.ask_for_file = lambda *_a, **_k: lot.choice(found)
    for place in (course, margins_dialog):
        place.ask_where_to_save = lambda *_a, **_k: lot.choice([str(folder / "new.toml"), "/nonexistent/y.toml", ""])
    for place in (opening, robot_dialog):
        place.ask_for_folder = lambda *_a, **_k: lot.choice([str(folder), "", "/nonexistent"])


def close_dialogs() -> None:
    waiting = QApplication.activeModalWidget() or QApplication.activePopupWidget()
    if waiting is not None:
        waiting.close()


def main(words: list[str]) -> int:
    seed, seconds = int(words[1]), float(words[2])
    lot = random.Random(seed)
    app = make_application()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "runs"
        stock(folder, lot)
        answer_dialogs(folder, lot)
        window = make_window(Path(name) / "settings.ini", folder, "light")
        window.show()
        hands = Hands(window, lot)
        sys.excepthook = hands.raised
        threading.excepthook = lambda one: hands.raised(one.exc_type, one.exc_value, one.exc_traceback)
        closing = QTimer()
        closing.timeout.connect(close_dialogs)
        closing.start(300)
        end, count = time.monotonic() + seconds, 0
        while time.monotonic() < end and not hands.said:
            with suppress(RuntimeError):  # a widget that went with its place
                hands.step()
            app.processEvents()
            count += 1
            if count % 20 == 0:
                QTest.qWait(150)
        closing.stop()
        follow = window.workspace.follow
        if follow.recording:
            follow.stop_recording()
        window.close()
        app.processEvents()
    print(f"seed {seed}: {count} steps, {len(hands.said)} raised")
    for text in hands.said:
        print(text, *hands.steps, sep="\n")
    return 1 if hands.said else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
