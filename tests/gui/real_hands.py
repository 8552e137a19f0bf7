"""A user's hands on a real screen: the X server moves the pointer and presses the keys, as it does for a person.

What is done is written as generators that a timer takes forward, so that dialogs and menus with loops of their own go on.
"""

from __future__ import annotations

import subprocess
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from PySide6.QtCore import QObject, QPoint, QTimer
from PySide6.QtWidgets import QApplication, QScrollArea, QWidget

Step = Callable[[], object] | float
"""What is waited for, or so many seconds."""
Doing = Iterator[Step]
TICK_MS = 20
SETTLE_S = 0.2
PATIENCE_S = 60.0
POINT_S, CLICK_S, KEY_S, THINK_S = 1.1, 0.2, 0.28, 1.35
"""What a person takes to point, to click, to press a key, to decide: Card, Moran and Newell 1980, keystroke-level model."""


@dataclass
class Task:
    """One job of the user. ``waited_s``: for the robot and the program; ``hands_s``: what a person's hands would take."""

    name: str
    most_s: float
    actions: int = 0
    hands_s: float = 0.0
    waited_s: float = 0.0
    words: str = field(default="", init=False)

    def __str__(self) -> str:
        total = self.hands_s + self.waited_s
        good = "met" if total <= self.most_s else "NOT MET"
        return (f"{self.name}: {total:.0f} s = {self.hands_s:.0f} s of a person's hands ({self.actions} actions) + "
                f"{self.waited_s:.0f} s of waiting; wanted {self.most_s:.0f} s: {good}")  # fmt: skip


class RealHands(QObject):
    """``look(name)`` is called for each picture, with its file; ``scale``: pixels of the screen a logical pixel."""

    def __init__(self, out: Path, look: Callable[[str, Path], None]) -> None:
        super().__init__()
        self.out, self._look = out, look
        self.tasks: list[Task] = []
        self._task = Task("the rest", 1e9)
        self._count = 0
        self._work: Doing = iter(())
        self._waits: Step = 0.0
        self._since = 0.0
        self._failed: Callable[[BaseException], object] = print
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._go_on)

    # -- being taken forward ------------------------------------------------------------------------------------------

    def begin(self, work: Doing, failed: Callable[[BaseException], object]) -> None:
        """Do all of it, step by step; ``failed``: something was not as it should be."""
        self._work, self._failed = work, failed
        self._timer.start(TICK_MS)

    def _go_on(self) -> None:
        now = time.monotonic()
        waits = self._waits
        if isinstance(waits, float):
            if now - self._since < waits:
                return
        else:
            if not waits():
                if now - self._since > PATIENCE_S:
                    self._stop(AssertionError(f"after picture {self._count}: what was waited for did not happen"))
                return
            self._task.waited_s += now - self._since
        self._timer.stop()  # an event loop of a dialog may run within the next step
        try:
            self._waits = next(self._work)
        except StopIteration:
            return
        except Exception as error:
            self._stop(error)
            return
        self._since = time.monotonic()
        self._timer.start(TICK_MS)

    def _stop(self, error: BaseException) -> None:
        self._timer.stop()
        self._failed(error)

    # -- tasks and pictures -------------------------------------------------------------------------------------------

    def task(self, name: str, most_s: float) -> None:
        """From here on it is this that is done; the clock of the one before stands."""
        self._task = Task(name, most_s)
        self.tasks.append(self._task)

    def rest(self) -> None:
        """What follows belongs to no task."""
        self._task = Task("the rest", 1e9)

    def picture(self, name: str) -> Doing:
        """Of the whole screen, as it is."""
        yield SETTLE_S
        self._count += 1
        path = self.out / f"{self._count:02}-{name}.png"
        QApplication.primaryScreen().grabWindow(0).save(str(path))
        self._look(name, path)

    # -- pointer and keys ---------------------------------------------------------------------------------------------

    def click(self, widget: QWidget, at: QPoint | None = None, *, times: int = 1, held: str = "") -> Doing:
        """Where it is seen; ``held``: a key that is held down meanwhile."""
        yield from self._bring_into_view(widget, at if at is not None else widget.rect().center())
        self._acted(THINK_S + POINT_S + times * CLICK_S)
        x, y = self._on_screen(widget, at)
        if held:
            _xdotool("keydown", held)
        _xdotool("mousemove", x, y, "click", "--repeat", str(times), "--delay", "60", "1")
        if held:
            _xdotool("keyup", held)
        yield SETTLE_S

    def drag(self, widget: QWidget, begin: QPoint, end: QPoint) -> Doing:
        """Press, move in a few steps, let go."""
        self._acted(THINK_S + 2 * POINT_S + CLICK_S)
        _xdotool("mousemove", *self._on_screen(widget, begin), "mousedown", "1")
        for step in range(1, 6):
            yield 0.05
            _xdotool("mousemove", *self._on_screen(widget, begin + (end - begin) * step / 5))
        yield 0.1
        _xdotool("mouseup", "1")
        yield SETTLE_S

    def key(self, *keys: str) -> Doing:
        """One after the other, as 'ctrl+r' or 'Return'."""
        for key in keys:
            self._acted(THINK_S + KEY_S * (1 + key.count("+")))
            _xdotool("key", "--clearmodifiers", key)
            yield SETTLE_S

    def write(self, text: str) -> Doing:
        """Letters, as they come."""
        self._acted(THINK_S + KEY_S * len(text))
        _xdotool("type", "--delay", "25", text)
        yield SETTLE_S + 0.03 * len(text)

    def _acted(self, seconds: float) -> None:
        self._task.actions += 1
        self._task.hands_s += seconds

    def _on_screen(self, widget: QWidget, at: QPoint | None) -> tuple[str, str]:
        point = widget.mapToGlobal(at if at is not None else widget.rect().center())
        ratio = widget.devicePixelRatioF()
        return str(round(point.x() * ratio)), str(round(point.y() * ratio))

    def _bring_into_view(self, widget: QWidget, at: QPoint) -> Doing:
        """A person scrolls to what is not seen; what nothing scrolls to is a fault."""
        assert widget.isVisible(), f"{widget.accessibleName() or type(widget).__name__} is not there"
        assert widget.isEnabled(), f"{widget.accessibleName()} cannot be pressed"
        within = widget.parentWidget()
        while within is not None:
            inside = within.widget() if isinstance(within, QScrollArea) else None
            if isinstance(within, QScrollArea) and inside is not None and not _seen(widget, at):
                point = widget.mapTo(inside, at)
                within.ensureVisible(point.x(), point.y(), 0, 40)
                self._acted(POINT_S)
                yield SETTLE_S
            within = within.parentWidget()
        assert _seen(widget, at), f"{widget.accessibleName() or type(widget).__name__} is out of sight"


def _seen(widget: QWidget, at: QPoint) -> bool:
    return widget.visibleRegion().contains(at)


def _xdotool(*words: str) -> None:
    subprocess.run(["xdotool", *words], check=True)
