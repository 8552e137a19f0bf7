"""The guide in a window of its own: its pages are files of this program, and no link leads out of them."""

from __future__ import annotations

import re
from pathlib import Path

from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QImage,
    QKeySequence,
    QShortcut,
    QTextBlock,
    QTextCharFormat,
    QTextCursor,
    QTextDocument,
    QTextFormat,
    QTextTable,
)
from PySide6.QtWidgets import QDialog, QTextBrowser, QVBoxLayout, QWidget

import gui
from gui.panels.file_dialogs import fit_to_screen
from gui.panels.parts import Label, button, row
from gui.theme import Theme
from gui.words import tr

GUIDE = Path(gui.__file__).parent / "guide"
FIRST, PICTURES = "index.md", "pictures"
WIDE_PX, HIGH_PX, PICTURE_PX = 860, 700, 760
BESIDE_PX = 44
"""The margins of the page and its scroll bar."""


class _Pages(QTextBrowser):
    """Loads nothing but the pictures of the guide."""

    def loadResource(self, kind: int, name: QUrl | str) -> QImage | None:  # noqa: N802
        """A picture, as wide as the page has room for; no style, no page by itself, nothing from elsewhere."""
        folder, _, file = (name.toString() if isinstance(name, QUrl) else name).partition("/")
        path = GUIDE / folder / file
        ours = folder == PICTURES and file == Path(file).name and path.is_file()
        if kind != QTextDocument.ResourceType.ImageResource.value or not ours:
            return None
        picture = QImage(str(path))
        picture.setDevicePixelRatio(max(1.0, picture.width() / self._room_px()))
        return picture


    def _room_px(self) -> int:
        """So wide may a picture be."""
        return max(240, min(PICTURE_PX, self.viewport().width() - BESIDE_PX))


class GuideReader(QDialog):
    """``page`` is the file shown, ``heading`` the name of the place in it that a link led to."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self.page = ""
        self._before: list[tuple[str, int]] = []
        self.setWindowTitle(tr("Guide"))
        fit_to_screen(self, WIDE_PX, HIGH_PX)
        self.text = _Pages()
        self.text.setOpenLinks(False)
        self.text.setAccessibleName(tr("Guide"))
        self.text.document().setDocumentMargin(18)
        self.text.anchorClicked.connect(lambda url: self.follow(url.toString()))
        self.said = Label("", "soft", wrap=True)
        self.back_button = button(tr("Back"), self.back, key="Alt+Left")
        self.first_button = button(tr("Contents"), lambda: self.follow(FIRST))
        for key in (QKeySequence("Alt+Left"), QKeySequence(Qt.Key.Key_Back)):
            QShortcut(key, self).activated.connect(self.back)
        column = QVBoxLayout(self)
        column.addLayout(row(self.back_button, self.first_button, None, button(tr("Close"), self.close)))
        column.addWidget(self.text, 1)
        column.addWidget(self.said)
        self.said.hide()
        self._load(FIRST)
        self.text.setFocus()

    def follow(self, link: str) -> None:
        """A page of the guide, a heading, or both. An address elsewhere is said, not opened."""
        name, _, heading = link.partition("#")
        inside = name == "" or (name == Path(name).name and name.endswith(".md") and (GUIDE / name).is_file())
        self.said.setVisible(not inside)
        if not inside:
            self.said.say(tr("This is not a page of the guide: {link}", link=link))
            return
        self._before.append((self.page, self.text.verticalScrollBar().value()))
        if name and name != self.page:
            self._load(name)
        self._go_to(heading)
        self.back_button.setEnabled(True)

    def back(self) -> None:
        """To the page, and the place on it, that the last link was on."""
        if not self._before:
            return
        name, at = self._before.pop()
        if name != self.page:
            self._load(name)
        self.said.hide()
        self.text.verticalScrollBar().setValue(at)
        self.back_button.setEnabled(bool(self._before))

    def _load(self, name: str) -> None:
        self.page = name
        words = (GUIDE / name).read_text(encoding="utf-8")
        # Of markup of its own a page has none: what looks like it is text, as in <name>.
        features = QTextDocument.MarkdownFeature.MarkdownDialectGitHub | QTextDocument.MarkdownFeature.MarkdownNoHTML
        self.text.document().setMarkdown(words, features)
        self._set_apart()
        self._paint()
        self.text.moveCursor(QTextCursor.MoveOperation.Start)
        self.back_button.setEnabled(bool(self._before))

    def _set_apart(self) -> None:
        """Room between paragraphs, and the first cell of a table as the others: Qt's reader of Markdown gives neither."""
        document = self.text.document()
        for table in document.rootFrame().childFrames():
            if isinstance(table, QTextTable):
                cursor = table.cellAt(0, 0).firstCursorPosition()
                if not cursor.block().text() and cursor.block() != table.cellAt(0, 0).lastCursorPosition().block():
                    cursor.deleteChar()
                cursor.movePosition(QTextCursor.MoveOperation.EndOfBlock, QTextCursor.MoveMode.KeepAnchor)
                bold = QTextCharFormat()
                bold.setFontWeight(QFont.Weight.Bold)
                cursor.mergeCharFormat(bold)
        block = document.begin()
        while block.isValid():
            cursor = QTextCursor(block)
            format_ = block.blockFormat()
            code = format_.hasProperty(QTextFormat.Property.BlockCodeFence)
            goes_on = code and block.next().blockFormat().hasProperty(QTextFormat.Property.BlockCodeFence)
            if format_.headingLevel():
                format_.setTopMargin(18)
                format_.setBottomMargin(6)
            elif cursor.currentTable() is None and block.textList() is None and not goes_on:
                format_.setBottomMargin(10)
            format_.setNonBreakableLines(False)  # a long command goes on in the next line
            cursor.setBlockFormat(format_)
            block = block.next()

    def _paint(self) -> None:
        """Links in the colour that the theme has for what may be pressed."""
        document = self.text.document()
        cursor = QTextCursor(document)
        block = document.begin()
        while block.isValid():
            for piece in _pieces(block):
                if piece[2]:
                    cursor.setPosition(piece[0])
                    cursor.setPosition(piece[1], QTextCursor.MoveMode.KeepAnchor)
                    format_ = cursor.charFormat()
                    format_.setForeground(QBrush(QColor(self.theme.leaf)))
                    cursor.setCharFormat(format_)
            block = block.next()

    def set_theme(self, theme: Theme) -> None:
        self.theme = theme
        self._paint()

    def _go_to(self, heading: str) -> None:
        block = self.text.document().begin()
        while block.isValid():
            if not heading or (block.blockFormat().headingLevel() and slug(block.text()) == heading):
                cursor = QTextCursor(block)
                self.text.setTextCursor(cursor)
                top = self.text.document().documentLayout().blockBoundingRect(block).top()
                self.text.verticalScrollBar().setValue(round(top) if heading else 0)
                return
            block = block.next()


def _pieces(block: QTextBlock) -> list[tuple[int, int, bool]]:
    """(begin, end, whether it is a link) of the runs of one look in a paragraph."""
    found = []
    at = block.begin()
    while not at.atEnd():
        fragment = at.fragment()
        found.append((fragment.position(), fragment.position() + fragment.length(), fragment.charFormat().isAnchor()))
        at += 1
    return found


def slug(heading: str) -> str:
    """What a heading is called in a link: as common Markdown readers name it (common practice, no source)."""
    return re.sub(r"\s", "-", re.sub(r"[^\w\s-]", "", heading.strip().lower()))
