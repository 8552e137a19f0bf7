"""What others wrote is plain text in every widget of every place."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtWidgets import QAbstractItemView, QLabel, QListView, QTextEdit, QWidget

from gui.plain_text import tip
from gui.window import MAKERS, Window
from telemetry.recording.relabel import relabel

MARKUP = '<img src="file:///nowhere.png"><b>bold</b>'


def texts_as_markup(window: QWidget) -> list[str]:
    """Where the markup would be taken for markup: labels, tooltips of widgets, and those of all items of all tables."""
    found = []
    for widget in [window, *window.findChildren(QWidget)]:
        name = f"{type(widget).__name__} '{widget.accessibleName()}'"
        if isinstance(widget, QLabel) and "<img" in widget.text() and widget.textFormat() != Qt.TextFormat.PlainText:
            found.append(name)
        if isinstance(widget, QTextEdit) and widget.acceptRichText() and not widget.isReadOnly():
            found.append(f"{name}: takes markup")
        if "<img" in widget.toolTip() or "<img" in widget.statusTip() or "<img" in widget.whatsThis():
            found.append(f"{name}: tooltip")
        if isinstance(widget, QAbstractItemView) and widget.model() is not None:
            found += [f"{name}: {text}" for text in tips_of(widget)]
    return found


def tips_of(view: QAbstractItemView) -> list[str]:
    model, role = view.model(), Qt.ItemDataRole.ToolTipRole
    root = QModelIndex()
    rows, columns = range(model.rowCount(root)), range(1 if isinstance(view, QListView) else model.columnCount(root))
    texts = [model.data(model.index(row, column, root), role) for row in rows for column in columns]
    texts += [model.headerData(row, Qt.Orientation.Vertical, role) for row in rows]
    texts += [model.headerData(column, Qt.Orientation.Horizontal, role) for column in columns]
    return [str(text) for text in texts if text and "<img" in str(text)]


def test_a_tip_is_shown_as_it_was_written() -> None:
    assert tip("plain") == "plain"
    assert tip(MARKUP).startswith("<qt>&lt;img")
    assert "\x1b" not in tip("a\x1b[31m")


@pytest.fixture
def evil(ready: Path, tmp_path: Path) -> None:
    for path in list(ready.glob("*.h5"))[:2]:
        copy = tmp_path / "runs" / f"<img src=x> {path.name}"
        copy.parent.mkdir(exist_ok=True)
        shutil.copy(path, copy)
        labels = dict.fromkeys(("name", "remarks", "driven_by", "robot", "light"), MARKUP)
        relabel(copy, lambda meta, labels=labels: replace(meta, tags=(MARKUP,), **labels))
    (tmp_path / "runs" / "<img src=y>.h5").write_bytes(b"\x89HDF\r\n\x1a\nno more")


def test_no_widget_takes_text_of_others_for_markup(evil: None, window: Window, qtbot: Any) -> None:
    qtbot.waitUntil(lambda: len(window.workspace.shelf.entries) == 3, timeout=30_000)
    entries = window.workspace.shelf.entries
    assert any(MARKUP in (entry.name, entry.remarks) for entry in entries)
    for place in (*MAKERS, "start", "runs"):
        window.show_place(place)
        qtbot.wait(150)
        assert texts_as_markup(window) == []
    window.workspace.go("runs")
    window.workspace.messages.tell(MARKUP, "bad")
    qtbot.wait(300)
    assert texts_as_markup(window) == []
