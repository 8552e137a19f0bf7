"""The settings of a strategy, changed by hand: sliders in their units, each with what it means."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from gui.model.example_signal import through
from gui.panels.choice import ChoiceBox, NumberBox, Slide, Tick
from gui.panels.flow import FlowLayout
from gui.panels.parts import Card, Label, button
from gui.plain_text import tip
from gui.plots.strategy_picture import StrategyPicture
from gui.theme import Theme
from gui.words import tr
from telemetry.errors import SidelongError
from telemetry.reading.catalogue import AUTO, STAGES
from telemetry.reading.load import load_strategy
from telemetry.reading.stage import Setting
from telemetry.reading.strategies import STRATEGIES

SETTLE_MS = 120
"""While a slider is dragged the matrix follows at this pace."""
TICKS = {
    "hold.repeats": tr("Ignore repeated measurements"),
    "settle.moving": tr("Also believe it while driving"),
    "eliminate.early": tr("Fill in at once what follows"),
    "assume.passed": tr("Assume at the end of each leg"),
    "assume.guess": tr("Else take any colour still possible"),
}
"""What is ticked, in plain words; a setting's own words say what its numbers mean."""
UNITS = {"1/10000": tr("in 10,000")}
"""Units of settings that a person would read otherwise."""


def setting_words(key: str, setting: Setting) -> str:
    """What is set, as a coach would say it; ``key`` (``vote.least``) is its name in files and on the command line."""
    words = TICKS.get(key, setting.what)
    return words[0].upper() + words[1:]


class SettingSwitch(Tick):
    """A setting that is 0 or 1, read and set like a number."""

    def value(self) -> int:
        return int(self.isChecked())

    def setValue(self, value: int) -> None:  # noqa: N802 - as Qt's own number fields spell it
        self.setChecked(bool(value))


class SettingsPanel(Card):
    """``tried`` comes with the strategy and its changed settings as one text, empty where nothing is changed."""

    tried = Signal(str)
    kept = Signal(str)
    """Keep it as a strategy file: the same text."""

    def __init__(self, strategy: str, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(tr("Settings"), parent=parent)
        self.choice = ChoiceBox(tr("Strategy to change"))
        for name, known in STRATEGIES.items():
            self.choice.addItem(name, name)
            self.choice.setItemData(self.choice.count() - 1, tip(known.what), Qt.ItemDataRole.ToolTipRole)
        self.choice.setCurrentIndex(max(self.choice.findData(strategy), 0))
        self.choice.activated.connect(lambda _index: self._build())
        self.head.addWidget(self.choice)
        self.what = Label("", "small", wrap=True)
        self.fields: dict[str, NumberBox | SettingSwitch | QLineEdit] = {}
        self._holder = QWidget()
        self._column = QVBoxLayout(self._holder)
        self._column.setContentsMargins(0, 0, 0, 0)
        self.back_button = button(tr("Reset"), self.put_back, kind="quiet")
        self.keep_button = button(tr("Save as a strategy"), lambda: self.kept.emit(self.spec()), kind="quiet")
        self.picture = StrategyPicture(theme)
        self.picture_words = Label("", "small", wrap=True)
        self.add(self.what, self.picture, self.picture_words, self._holder, FlowLayout(self.back_button, self.keep_button))
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SETTLE_MS)
        self._timer.timeout.connect(lambda: self.tried.emit(self.spec()))
        self._defaults: dict[str, int | str] = {}
        self._build()

    @property
    def strategy(self) -> str:
        return str(self.choice.currentData())

    def spec(self) -> str:
        """``hold:hold.samples=2``, or empty."""
        changed = []
        for key, field in self.fields.items():
            value: int | str = field.text().strip() if isinstance(field, QLineEdit) else field.value()
            if value != self._defaults[key] and value != "":
                changed.append(f"{key}={value}")
        return f"{self.strategy}:{','.join(changed)}" if changed else ""

    def follow(self, strategy: str) -> None:
        """Show the settings of this strategy, unless changed ones are being tried out."""
        at = self.choice.findData(strategy)
        if at >= 0 and at != self.choice.currentIndex() and not self.spec():
            self.choice.setCurrentIndex(at)
            self._build()

    def put_back(self) -> None:
        """All settings as the strategy has them."""
        for key, field in self.fields.items():
            if isinstance(field, QLineEdit):
                field.setText(str(self._defaults[key]))
            else:
                field.setValue(int(self._defaults[key]))
        self._changed()

    def _changed(self) -> None:
        differs = bool(self.spec())
        self.back_button.setEnabled(differs)
        self.keep_button.setEnabled(differs)
        self._timer.start()
        self._show_example()

    def _show_example(self) -> None:
        """What it does to an example, as it is set now."""
        try:
            shown = through(self.spec() or self.strategy)
        except SidelongError:  # a text that is not finished yet; the matrix says what is wrong with it
            return
        self.picture.show_through(shown)
        self.picture_words.say(tr("Example: {words}", words=shown.in_words()))

    def set_theme(self, theme: Theme) -> None:
        self.picture.set_theme(theme)

    def stop(self) -> None:
        """The window closes."""
        self._timer.stop()

    def _build(self) -> None:
        strategy = load_strategy(self.strategy)
        self.what.say(strategy.what)
        old = self._column.takeAt(0)
        if old is not None and (widget := old.widget()) is not None:
            widget.deleteLater()
        self.fields, self._defaults = {}, {}
        inside = QWidget()
        grid = QGridLayout(inside)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setVerticalSpacing(4)
        for use in strategy.uses:
            stage = STAGES.get("nearest" if use.stage == AUTO else use.stage)
            if stage is None or use.stage == AUTO:
                continue
            for setting in stage.settings:
                key = f"{use.stage}.{setting.name}"
                if key not in self.fields:
                    self._add(grid, key, setting, use.settings.get(setting.name, setting.default))
        if not self.fields:
            grid.addWidget(Label(tr("This strategy has nothing to set."), "soft"), 0, 0)
        self._column.addWidget(inside)
        self._changed()

    def _add(self, grid: QGridLayout, key: str, setting: Setting, value: int | str) -> None:
        self._defaults[key] = value
        line = grid.rowCount()
        shown = setting_words(key, setting)
        said = tip(tr("{what}\nOn the command line: --set {key}=…", what=setting.what, key=key))
        if setting.unit == "0/1":
            switch = SettingSwitch(shown)
            switch.setValue(int(value))
            switch.setToolTip(said)
            switch.setAccessibleName(shown)
            switch.toggled.connect(lambda _on: self._changed())
            grid.addWidget(switch, line, 0, 1, 2)
            self.fields[key] = switch
            return
        name = Label(shown, "small", wrap=True)
        name.setToolTip(said)
        grid.addWidget(name, line, 0, 1, 2)
        if setting.is_text:
            text = QLineEdit(str(value) if isinstance(value, str) else "")
            self._defaults[key] = text.text()
            text.setToolTip(said)
            text.setAccessibleName(shown)
            text.textChanged.connect(lambda _text: self._changed())
            grid.addWidget(text, line + 1, 0, 1, 2)
            self.fields[key] = text
            return
        box = NumberBox()
        box.setRange(setting.low, setting.high)
        box.lineEdit().setTextMargins(7, 0, 0, 0)
        box.setValue(int(value))
        box.setSuffix(f" {UNITS.get(setting.unit, setting.unit)}")
        box.setAccessibleName(shown)
        box.setToolTip(said)
        slider = Slide(Qt.Orientation.Horizontal)
        # A setting may reach to a million; what is tried out lies near its default.
        slider.setRange(setting.low, min(setting.high, max(int(value) * 4, setting.low + 20)))
        slider.setValue(int(value))
        slider.setToolTip(said)
        slider.setAccessibleName(shown)
        slider.valueChanged.connect(box.setValue)
        box.valueChanged.connect(slider.setValue)
        box.valueChanged.connect(lambda _value: self._changed())
        both = QHBoxLayout()
        both.addWidget(slider, 1)
        both.addWidget(box)
        box.setFixedWidth(112)
        grid.addLayout(both, line + 1, 0, 1, 2)
        self.fields[key] = box
