"""The guide in the window: every link between its pages leads where it says, and none leads out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from by_hand import click, press
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QTextDocument
from PySide6.QtWidgets import QApplication

from gui.panels.guide_reader import GUIDE, GuideReader, slug
from gui.theme import LIGHT
from gui.window import Window

LINK = re.compile(r"(?<!!)\[[^\]]*\]\(([^)\s]+)\)")
PICTURE = re.compile(r"!\[[^\]]*\]\(([^)\s]+)\)")
IMAGE = QTextDocument.ResourceType.ImageResource.value


@pytest.fixture
def reader(qapp: QApplication) -> Iterator[GuideReader]:
    made = GuideReader(LIGHT)
    made.show()
    yield made
    made.close()
    made.deleteLater()


def links() -> list[tuple[str, str]]:
    return [(page.name, link) for page in sorted(GUIDE.glob("*.md")) for link in LINK.findall(page.read_text("utf-8"))]


def test_every_link_leads_where_it_says(reader: GuideReader) -> None:
    found = links()
    assert len(found) > 10
    for page, link in found:
        reader.follow(page)
        reader.follow(link)
        name, _, heading = link.partition("#")
        if "://" in link:
            assert link in reader.said.text()
            assert reader.page == page
            continue
        assert not reader.said.isVisible(), link
        assert reader.page == (name or page)
        if heading:
            assert slug(reader.text.textCursor().block().text()) == heading
            bar = reader.text.verticalScrollBar()
            assert 0 <= reader.text.cursorRect().top() < 60 or bar.value() == bar.maximum(), "at the top"


def test_back_goes_where_one_was(reader: GuideReader) -> None:
    assert not reader.back_button.isEnabled()
    reader.text.anchorClicked.emit(QUrl("strategies.md"))
    reader.text.verticalScrollBar().setValue(120)
    reader.follow("formats.md#7-exit-codes")
    reader.back()
    assert (reader.page, reader.text.verticalScrollBar().value()) == ("strategies.md", 120)
    reader.back()
    assert reader.page == "index.md"
    assert not reader.back_button.isEnabled()
    reader.back()
    assert reader.page == "index.md"


@pytest.mark.parametrize(
    "link", ["../model/jobs.py", "/etc/passwd", "file:///etc/passwd", "https://example.org/x.md", "no.md"]
)
def test_nothing_outside_is_opened(reader: GuideReader, link: str) -> None:
    reader.follow(link)
    assert reader.page == "index.md"
    assert link in reader.said.text()


def test_the_pictures_of_the_guide_are_shown_and_no_wider_than_its_page(reader: GuideReader) -> None:
    names = [name for page in GUIDE.glob("*.md") for name in PICTURE.findall(page.read_text("utf-8"))]
    for name in names:
        picture = reader.text.loadResource(IMAGE, QUrl(name))
        assert picture is not None, name
        assert 100 < picture.deviceIndependentSize().width() <= reader.text.width()


@pytest.mark.parametrize(
    "name", ["https://example.org/x.png", "pictures/../../desktop/sidelong.svg", "/etc/hosts", "pictures/no.png"]
)
def test_no_picture_comes_from_elsewhere(reader: GuideReader, name: str) -> None:
    assert reader.text.loadResource(IMAGE, QUrl(name)) is None


def test_a_key_opens_it_and_so_does_the_sheet_of_keys(window: Window, qtbot: Any) -> None:
    press(qtbot, window, Qt.Key.Key_F1, Qt.KeyboardModifier.ShiftModifier)
    reader = window.guide
    assert reader is not None
    assert reader.isVisible()
    assert "First run" in reader.text.toPlainText()
    window.toggle_theme()
    assert reader.theme is window.workspace.theme
    window.show_guide()
    assert window.guide is reader
    click(qtbot, reader.first_button)
    reader.close()
