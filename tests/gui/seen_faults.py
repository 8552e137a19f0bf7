"""What an eye would stumble over, found by measuring: cut words, things over each other, sideways scrolling, no focus."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QPoint, QRect, QSize
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QAbstractSpinBox,
    QApplication,
    QCheckBox,
    QComboBox,
    QLabel,
    QPushButton,
    QWidget,
)

ALLOWED_PX = 2


def faults_in(window: QWidget) -> list[str]:
    """Each as a sentence that says where."""
    there = [one for one in (window, *window.findChildren(QWidget)) if one.isVisible()]
    found = [*_outside_the_screen(window)]
    for one in there:
        found += [f"{_called(one)}: {fault}" for fault in _of(one)]
    found += list(_overlaps(there))
    return list(dict.fromkeys(found))


def _outside_the_screen(window: QWidget) -> Iterator[str]:
    room = window.screen().availableGeometry()
    if not room.adjusted(-1, -1, 1, 1).contains(window.frameGeometry()):
        at = window.frameGeometry()
        yield f"{_called(window)}: {at.width()}x{at.height()} at {at.x()},{at.y()} is beyond the screen of " \
              f"{room.width()}x{room.height()}"  # fmt: skip


def _of(one: QWidget) -> Iterator[str]:
    if isinstance(one, QLabel) and one.text() and one.minimumWidth() != 20:
        if one.wordWrap():
            wanted = one.heightForWidth(one.width())
            if wanted > one.height() + ALLOWED_PX:
                yield f"'{one.text()[:40]}' needs {wanted} px of height and has {one.height()}"
        elif one.sizeHint().width() > one.width() + ALLOWED_PX or one.sizeHint().height() > one.height() + ALLOWED_PX:
            yield f"'{one.text()[:40]}' needs {_px(one.sizeHint())} and has {_px(one.size())}"
    elif isinstance(one, QPushButton | QCheckBox):
        wanted_size = one.minimumSizeHint()
        if wanted_size.width() > one.width() + ALLOWED_PX or wanted_size.height() > one.height() + ALLOWED_PX:
            yield f"'{one.text()}' needs {_px(wanted_size)} and has {_px(one.size())}"
    elif isinstance(one, QAbstractScrollArea) and (beyond := one.horizontalScrollBar().maximum()) > ALLOWED_PX:
        yield f"scrolls sideways by {beyond} px"


def _overlaps(there: list[QWidget]) -> Iterator[str]:
    """Words and things to press that have one parent and lie over each other."""
    solid = [one for one in there if isinstance(one, QLabel | QAbstractButton | QComboBox)]
    by_parent: dict[QWidget | None, list[QWidget]] = {}
    for one in solid:
        by_parent.setdefault(one.parentWidget(), []).append(one)
    for siblings in by_parent.values():
        for number, first in enumerate(siblings):
            for second in siblings[number + 1 :]:
                common = first.geometry().intersected(second.geometry())
                if common.width() > ALLOWED_PX and common.height() > ALLOWED_PX:
                    yield f"{_called(first)} lies over {_called(second)} by {_px(common.size())}"


def focus_fault() -> str:
    """Empty where the focus is on something that is seen."""
    focus = QApplication.focusWidget()
    if focus is None:
        return "nothing has the focus"
    if not focus.isVisible() or focus.visibleRegion().isEmpty():
        return f"the focus is on {_called(focus)}, which is not seen"
    if focus.accessibleName() or focus.metaObject().className() == "QLineEdit":
        return ""
    return f"the focus is on {_called(focus)}, which has no name for a screen reader"


def nameless(window: QWidget) -> list[str]:
    """What can have the focus and has no name for a screen reader."""
    out = []
    for one in window.findChildren(QWidget):
        if not one.isVisible() or not one.focusPolicy().value & 1 or one.accessibleName():
            continue
        if (isinstance(one, QAbstractButton) and one.text()) or isinstance(one.parentWidget(), QAbstractSpinBox):
            continue
        if one.parentWidget() is not None and one.parentWidget().focusProxy() is one:
            continue
        out.append(_called(one))
    return list(dict.fromkeys(out))


def _called(one: QWidget) -> str:
    name = one.accessibleName() or (one.text()[:30] if isinstance(one, QLabel | QAbstractButton) else "")
    parent = one.parentWidget()
    kind = type(one).__name__
    return f"{kind} '{name}'" if name else f"{kind} in {type(parent).__name__ if parent is not None else 'nothing'}"


def _px(size: QSize) -> str:
    return f"{size.width()}x{size.height()}"


def on_screen(widget: QWidget) -> QRect:
    """Where a widget is on the screen, in logical pixels."""
    return QRect(widget.mapToGlobal(QPoint(0, 0)), widget.size())
