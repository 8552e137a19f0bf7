"""What is noted about the next runs: light, height, battery, remarks. Kept from run to run, until it is changed."""

from __future__ import annotations

from PySide6.QtWidgets import QGridLayout, QLineEdit, QWidget

from gui.model.settings import UserSettings
from gui.panels.parts import Card, Label
from gui.words import tr


class LabelsForm(Card):
    """Writes straight into the settings, from where every new run takes its labels."""

    def __init__(self, settings: UserSettings, parent: QWidget | None = None) -> None:
        super().__init__(tr("Noted with every run"), parent=parent)
        self.settings = settings
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(6)
        self.fields: dict[str, QLineEdit] = {}
        for number, (key, words, example) in enumerate(
            (
                ("light", tr("light"), tr("hall lamps, window")),
                ("height_mm", tr("height, mm"), "12"),
                ("battery", tr("battery"), "7.9 V"),
                ("robot", tr("robot"), tr("which one")),
                ("driven_by", tr("driven by"), tr("the program that steered")),
                ("remarks", tr("remarks"), tr("anything else")),
            )
        ):
            field = QLineEdit(settings.text(key))
            field.setPlaceholderText(example)
            field.setAccessibleName(words)
            field.editingFinished.connect(lambda key=key: self._keep(key))
            self.fields[key] = field
            line, side = divmod(number, 2)
            grid.addWidget(Label(words, "small"), line * 2, side)
            grid.addWidget(field, line * 2 + 1, side)
        self.add(grid)

    def _keep(self, key: str) -> None:
        text = self.fields[key].text().strip()
        if key == "height_mm" and text:
            try:
                float(text)
            except ValueError:
                self.fields[key].setText("")
                self.fields[key].setPlaceholderText(tr("a number in mm"))
                text = ""
        self.settings.set_text(key, text)
