"""A page of HTML as PDF, through Qt, which the window brings along."""

from __future__ import annotations

import os
import re
from pathlib import Path

from telemetry.errors import MissingPartError, StorageError
from telemetry.extras import how_to_add
from telemetry.text_in_place import write_bytes

DPI = 300
SMALLER = (0.85, 0.78, 0.72)
"""Qt knows no columns, so letters are a little smaller than on the page that a browser prints: the first of these sizes that
fits two pages, else the last.
"""
_ROOM = " h1, h2, h3 { margin-top: 6px; margin-bottom: 2px } th, td { padding-right: 10px } "


def write_pdf(html: str, path: Path) -> None:
    """Raises MissingPartError where Qt is not installed, StorageError where the file cannot be written.

    Drawings (inline SVG) become pictures; what Qt's rich text does not know of CSS is left out.
    """
    try:
        from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMarginsF, QRectF, QSizeF, QUrl
        from PySide6.QtGui import QGuiApplication, QImage, QPageLayout, QPageSize, QPainter, QPdfWriter, QTextDocument
        from PySide6.QtSvg import QSvgRenderer
    except ImportError as error:
        todo = f"{how_to_add('gui')}. Or print the HTML page from a browser."
        raise MissingPartError("a PDF needs Qt, which is not installed", todo=todo) from error
    if QGuiApplication.instance() is None:
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
        write_pdf.application = QGuiApplication([])  # type: ignore[attr-defined]
    held = QBuffer()
    held.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(held)
    writer.setResolution(DPI)
    writer.setPageLayout(QPageLayout(QPageSize(QPageSize.PageSizeId.A4), QPageLayout.Orientation.Portrait,
                                     QMarginsF(13, 13, 13, 13), QPageLayout.Unit.Millimeter))  # fmt: skip
    document = QTextDocument()
    document.documentLayout().setPaintDevice(writer)
    document.setDocumentMargin(0)
    size = writer.pageLayout().paintRectPixels(DPI).size()
    document.setPageSize(QSizeF(size))

    def picture(found: re.Match[str]) -> str:
        number = len(pictures)
        renderer = QSvgRenderer(QByteArray(found[0].encode()))
        box = renderer.viewBoxF()
        image = QImage(size.width(), round(size.width() * box.height() / box.width()), QImage.Format.Format_RGB32)
        image.fill(0xFFFFFFFF)
        painter = QPainter(image)
        renderer.render(painter, QRectF(image.rect()))
        painter.end()
        pictures.append(image)
        document.addResource(QTextDocument.ResourceType.ImageResource.value, QUrl(f"picture:{number}"), image)
        # Widths in HTML count 96 to the inch, whatever the paper's dots.
        return f'<p><img src="picture:{number}" width="{size.width() * 94 // DPI}"></p>'

    pictures: list[QImage] = []
    before, style, after = html.partition("</style>")  # no text of a page stands before its styles' end but the title
    drawn = re.sub(r"<svg.*?</svg>", picture, after, flags=re.DOTALL)
    for share in SMALLER:
        document.setHtml(f"{_sized(before, share)}{_ROOM}{style}{drawn}")
        if document.pageCount() <= 2:
            break
    document.print_(writer)
    held.close()
    try:
        write_bytes(path, bytes(held.data().data()))
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise StorageError(f"cannot be written: {reason}", where=str(path), todo="Choose another place.") from error


def _sized(styles: str, share: float) -> str:
    """All letters smaller."""
    return re.sub(r"([0-9]+\.?[0-9]*)pt", lambda found: f"{float(found[1]) * share:.2f}pt", styles)
