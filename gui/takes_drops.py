"""A window onto which recordings, logs, folders and the like are dropped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtGui import QDragEnterEvent, QDragLeaveEvent, QDropEvent
from PySide6.QtWidgets import QMainWindow, QStackedWidget

from gui.model.workspace import Workspace

if TYPE_CHECKING:
    from gui.panels.drop_veil import DropVeil


class TakesDrops(QMainWindow):
    """What a drop would do is shown over ``stage``; what cannot be opened is not taken."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self.workspace = workspace
        self.stage = QStackedWidget()
        self.veil: DropVeil | None = None
        """Over the page while something is dragged onto the window."""
        self.setAcceptDrops(True)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802
        from gui.opening import drop_words
        from gui.panels.drop_veil import DropVeil

        words = drop_words(_dragged(event))
        if not words:
            return
        if self.veil is None:
            self.veil = DropVeil(self.workspace.theme, self.stage)
        self.veil.theme = self.workspace.theme
        self.veil.show_over(words)
        event.acceptProposedAction()

    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:  # noqa: N802
        self._lift_veil()
        super().dragLeaveEvent(event)

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802
        from gui.opening import open_paths

        self._lift_veil()
        open_paths(self.workspace, _dragged(event))
        event.acceptProposedAction()

    def _lift_veil(self) -> None:
        if self.veil is not None:
            self.veil.hide()


def _dragged(event: QDropEvent) -> list[str]:
    """The files and folders of this computer that are dragged."""
    return [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
