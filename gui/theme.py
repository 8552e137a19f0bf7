"""The look: two sets of colours (paper by day, moss by night), type sizes, and the style made from them.

Everything painted asks here, so that light, dark and contrast are decided in one place. Pure values up to ``qt_palette``:
the contrast tests need no window.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PySide6.QtGui import QPalette

GAP_PX = 12
"""Distance between cards and between the things on them, in logical pixels."""
RADIUS_PX = 10

BODY_PX = 15
SMALL_PX = 13
TITLE_PX = 26
LARGE_PX = 19


@dataclass(frozen=True, slots=True)
class Theme:
    """One set of colours, each ``#rrggbb``.

    ``ground`` lies under everything, ``card`` carries content, ``rail`` is the strip of places. ``leaf`` is for what is
    chosen or may be pressed, ``rust`` for recording. The pairs ``*_ground`` / ``*_ink`` are for messages.
    """

    name: str
    ground: str
    card: str
    rail: str
    line: str
    ink: str
    soft: str
    leaf: str
    on_leaf: str
    leaf_wash: str
    rust: str
    on_rust: str
    good_ground: str
    good_ink: str
    warn_ground: str
    warn_ink: str
    bad_ground: str
    bad_ink: str
    plot: str
    grid: str
    traces: tuple[str, ...]

    def text_pairs(self) -> list[tuple[str, str, str]]:
        """Every (use, text colour, colour behind it) that occurs in the window."""
        pairs = [
            (f"ink on {where}", self.ink, getattr(self, where)) for where in ("ground", "card", "rail", "leaf_wash", "plot")
        ]
        pairs += [
            (f"soft on {where}", self.soft, getattr(self, where))
            for where in ("ground", "card", "rail", "leaf_wash", "plot")
        ]
        pairs += [
            ("leaf as text on " + where, self.leaf, getattr(self, where))
            for where in ("ground", "card", "rail", "leaf_wash")
        ]
        pairs += [("rust as text on " + where, self.rust, getattr(self, where)) for where in ("ground", "card")]
        pairs += [
            ("on leaf", self.on_leaf, self.leaf),
            ("on rust", self.on_rust, self.rust),
            ("good", self.good_ink, self.good_ground),
            ("warn", self.warn_ink, self.warn_ground),
            ("bad", self.bad_ink, self.bad_ground),
        ]
        return pairs + [(f"trace {number}", trace, self.plot) for number, trace in enumerate(self.traces)]


LIGHT = Theme(
    name="light",
    ground="#f3efe4",
    card="#fffdf8",
    rail="#e8e2d2",
    line="#d3cab6",
    ink="#22291f",
    soft="#535d4c",
    leaf="#2c683b",
    on_leaf="#ffffff",
    leaf_wash="#dfe9d6",
    rust="#a03c1b",
    on_rust="#ffffff",
    good_ground="#dcebd2",
    good_ink="#1d4722",
    warn_ground="#fae6bd",
    warn_ink="#573a00",
    bad_ground="#f7d8cd",
    bad_ink="#6d1e0b",
    plot="#fbf8f0",
    grid="#e6dfce",
    traces=("#2c4a6e", "#a8321f", "#2c683b", "#1d5fa8", "#7a3f8f", "#6b5200"),
)
DARK = Theme(
    name="dark",
    ground="#151a15",
    card="#1f2620",
    rail="#10140f",
    line="#3b453b",
    ink="#eef0e2",
    soft="#b5bda9",
    leaf="#93cf94",
    on_leaf="#0d1f0e",
    leaf_wash="#2b3a2b",
    rust="#f09570",
    on_rust="#2a0d03",
    good_ground="#22402a",
    good_ink="#cdebc6",
    warn_ground="#4a3710",
    warn_ink="#fbe3af",
    bad_ground="#52241a",
    bad_ink="#fbd3c6",
    plot="#191f1a",
    grid="#2b342c",
    traces=("#a9c6ee", "#f58d78", "#93cf94", "#7fb6f5", "#d7a6e8", "#e0c15e"),
)
THEMES = {"light": LIGHT, "dark": DARK}


def channels_of(colour: str) -> tuple[int, int, int]:
    """Red, green and blue, 0 to 255, of ``#rrggbb``."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def luminance(colour: str) -> float:
    """Relative luminance, 0 to 1 (WCAG 2.2, definition 'relative luminance')."""

    def linear(channel: int) -> float:
        part = channel / 255
        return part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)

    red, green, blue = map(linear, channels_of(colour))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(first: str, second: str) -> float:
    """Contrast ratio, 1 to 21 (WCAG 2.2, definition 'contrast ratio')."""
    brighter, darker = sorted((luminance(first), luminance(second)), reverse=True)
    return (brighter + 0.05) / (darker + 0.05)


def ink_on(colour: str) -> str:
    """Near-black or white, whichever is easier to read on ``colour``; never below 4.5 to 1."""
    return "#000000" if contrast("#000000", colour) >= contrast("#ffffff", colour) else "#ffffff"


def qt_palette(theme: Theme) -> QPalette:
    """The same colours for the widgets that Qt paints itself."""
    from PySide6.QtGui import QColor, QPalette

    palette = QPalette()
    role = QPalette.ColorRole
    for where, colour in (
        (role.Window, theme.ground),
        (role.WindowText, theme.ink),
        (role.Base, theme.card),
        (role.AlternateBase, theme.plot),
        (role.Text, theme.ink),
        (role.Button, theme.card),
        (role.ButtonText, theme.ink),
        (role.ToolTipBase, theme.card),
        (role.ToolTipText, theme.ink),
        (role.Highlight, theme.leaf),
        (role.HighlightedText, theme.on_leaf),
        (role.PlaceholderText, theme.soft),
        (role.Link, theme.leaf),
        (role.LinkVisited, theme.leaf),
        (role.BrightText, theme.rust),
        (role.Light, theme.card),
        (role.Midlight, theme.grid),
        (role.Mid, theme.line),
        (role.Dark, theme.soft),
        (role.Shadow, theme.ink),
    ):
        palette.setColor(where, QColor(colour))
    for where in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, where, QColor(theme.soft))
    return palette


def style_sheet(theme: Theme) -> str:
    """The style of all widgets; kinds of a widget are told apart by their dynamic property ``kind``."""
    return f"""
* {{ font-size: {BODY_PX}px; }}
QToolTip {{ background: {theme.card}; color: {theme.ink}; border: 1px solid {theme.line}; padding: 6px; }}
QLabel {{ background: transparent; }}
QLabel[kind="title"] {{ font-size: {TITLE_PX}px; font-weight: 600; }}
QLabel[kind="large"] {{ font-size: {LARGE_PX}px; font-weight: 600; }}
QLabel[kind="soft"] {{ color: {theme.soft}; }}
QLabel[kind="small"] {{ color: {theme.soft}; font-size: {SMALL_PX}px; }}
QLabel[kind="verdict"] {{ font-size: 23px; font-weight: 600; }}
QLabel[kind="huge"] {{ font-size: 34px; font-weight: 600; }}
QLabel[kind="big"] {{ font-size: 18px; }}
QLabel[kind="eyebrow"] {{ font-size: {SMALL_PX}px; font-weight: 600; }}
QLabel[kind="figure"] {{ font-size: {TITLE_PX}px; font-weight: 600; }}
QLabel[kind="chip"] {{ background: {theme.leaf_wash}; color: {theme.ink}; border-radius: 9px; padding: 2px 9px;
  font-size: {SMALL_PX}px; }}
QLabel[kind="key"] {{ color: {theme.soft}; font-size: {SMALL_PX}px; border: 1px solid {theme.line}; border-radius: 5px;
  padding: 1px 6px; }}
QFrame[kind="card"] {{ background: {theme.card}; border: 1px solid {theme.line}; border-radius: {RADIUS_PX}px; }}
QFrame[kind="good"] {{ background: {theme.good_ground}; border-radius: {RADIUS_PX}px; }}
QFrame[kind="warn"] {{ background: {theme.warn_ground}; border-radius: {RADIUS_PX}px; }}
QFrame[kind="bad"] {{ background: {theme.bad_ground}; border-radius: {RADIUS_PX}px; }}
QFrame[kind="good"] QLabel {{ color: {theme.good_ink}; }}
QFrame[kind="warn"] QLabel {{ color: {theme.warn_ink}; }}
QFrame[kind="bad"] QLabel {{ color: {theme.bad_ink}; }}
QFrame[kind="good-line"] {{ background: {theme.good_ground}; border: 0; }}
QFrame[kind="warn-line"] {{ background: {theme.warn_ground}; border: 0; }}
QFrame[kind="bad-line"] {{ background: {theme.bad_ground}; border: 0; }}
QFrame[kind="idle-line"] {{ background: {theme.ground}; border: 0; border-top: 1px solid {theme.line}; }}
QFrame[kind="good-line"] QLabel {{ color: {theme.good_ink}; }}
QFrame[kind="warn-line"] QLabel {{ color: {theme.warn_ink}; }}
QFrame[kind="bad-line"] QLabel {{ color: {theme.bad_ink}; }}
QFrame[kind="idle-line"] QLabel {{ color: {theme.soft}; font-size: {SMALL_PX}px; }}
QFrame[kind="bar"] {{ background: {theme.card}; border: 0; border-bottom: 1px solid {theme.line}; }}
QFrame[kind="rail"] {{ background: {theme.rail}; border: 0; }}
QPushButton, QToolButton, QComboBox, QLineEdit, QSpinBox, QDoubleSpinBox, QPlainTextEdit {{
  background: {theme.card}; color: {theme.ink}; border: 1px solid {theme.soft}; border-radius: 7px; padding: 6px 12px; }}
QLineEdit, QSpinBox, QDoubleSpinBox, QPlainTextEdit {{ padding: 6px 8px; selection-background-color: {theme.leaf};
  selection-color: {theme.on_leaf}; placeholder-text-color: {theme.soft}; }}
QAbstractSpinBox QLineEdit {{ border: 0; padding: 0 0 0 6px; background: transparent; }}
QSpinBox::up-button, QSpinBox::down-button {{ width: 0; border: 0; }}
QComboBox {{ padding-right: 30px; combobox-popup: 0; }}
QComboBox::drop-down {{ border: 0; width: 24px; }}
QComboBox QAbstractItemView, QComboBox QAbstractItemView:focus {{ background: {theme.card}; color: {theme.ink};
  border: 1px solid {theme.soft}; padding: 0; outline: 0;
  selection-background-color: {theme.leaf_wash}; selection-color: {theme.ink}; }}
QComboBox QAbstractItemView::item {{ min-height: 28px; padding: 0 8px; }}
QPushButton:hover, QToolButton:hover, QComboBox:hover {{ background: {theme.leaf_wash}; }}
QPushButton:focus, QToolButton:focus, QComboBox:focus, QLineEdit:focus, QSpinBox:focus, QDoubleSpinBox:focus,
QPlainTextEdit:focus, QTableView:focus, QListView:focus {{ border: 2px solid {theme.leaf}; }}
QPushButton:focus, QToolButton:focus, QComboBox:focus {{ padding: 5px 11px; }}
QLineEdit:focus, QSpinBox:focus, QDoubleSpinBox:focus, QPlainTextEdit:focus {{ padding: 5px 7px; }}
QPushButton:disabled, QToolButton:disabled, QComboBox:disabled {{ color: {theme.soft}; border: 1px dashed {theme.line}; }}
QPushButton[kind="chief"] {{ background: {theme.leaf}; color: {theme.on_leaf}; border: 1px solid {theme.leaf};
  font-weight: 600; }}
QPushButton[kind="chief"]:focus {{ border: 2px solid {theme.ink}; }}
QPushButton[kind="chief"]:disabled {{ background: {theme.ground}; color: {theme.soft}; border: 1px dashed {theme.line}; }}
QPushButton[kind="record"] {{ background: {theme.rust}; color: {theme.on_rust}; border: 1px solid {theme.rust};
  font-weight: 600; }}
QPushButton[kind="record"]:focus {{ border: 2px solid {theme.ink}; }}
QPushButton[kind="record"]:disabled {{ background: {theme.ground}; color: {theme.soft}; border: 1px dashed {theme.line}; }}
QPushButton[kind="quiet"] {{ background: transparent; border: 1px solid transparent; color: {theme.leaf}; }}
QPushButton[kind="quiet"]:disabled {{ color: {theme.soft}; border: 1px dashed {theme.line}; }}
QPushButton[kind="quiet"]:hover {{ background: {theme.leaf_wash}; }}
QPushButton[kind="quiet"]:focus {{ border: 2px solid {theme.leaf}; }}
QPushButton:checked, QToolButton:checked {{ background: {theme.leaf_wash}; border: 2px solid {theme.leaf};
  padding: 5px 11px; }}
QCheckBox {{ spacing: 8px; background: transparent; padding: 3px; }}
QCheckBox::indicator {{ width: 18px; height: 18px; border: 0; background: transparent; }}
QTableView, QListView, QTreeView {{ background: {theme.card}; alternate-background-color: {theme.plot}; color: {theme.ink};
  border: 1px solid {theme.line}; border-radius: {RADIUS_PX}px; gridline-color: {theme.grid}; outline: 0;
  selection-background-color: {theme.leaf_wash}; selection-color: {theme.ink}; }}
QTableView::item, QListView::item {{ padding: 4px 8px; }}
QHeaderView {{ background: transparent; }}
QHeaderView::section {{ background: {theme.card}; color: {theme.soft}; border: 0; border-bottom: 1px solid {theme.line};
  padding: 6px 8px; font-size: {SMALL_PX}px; font-weight: 600; }}
QTableView[kind="matrix"] QHeaderView::section {{ font-size: 12px; padding: 5px 3px; }}
QTableCornerButton::section {{ background: {theme.card}; border: 0; }}
QScrollArea {{ border: 0; background: transparent; }}
QScrollArea:focus {{ border: 2px solid {theme.leaf}; border-radius: 7px; }}
QScrollArea > QWidget > QWidget {{ background: transparent; }}
QScrollBar:vertical {{ background: transparent; width: 10px; margin: 0; }}
QScrollBar:horizontal {{ background: transparent; height: 10px; margin: 0; }}
QScrollBar::handle {{ background: {theme.line}; border-radius: 3px; margin: 2px; min-height: 28px; min-width: 28px; }}
QScrollBar::handle:hover {{ background: {theme.soft}; }}
QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
QProgressBar {{ background: {theme.plot}; border: 1px solid {theme.line}; border-radius: 6px; text-align: center;
  color: {theme.ink}; }}
QProgressBar::chunk {{ background: {theme.leaf_wash}; border-radius: 5px; }}
QSlider::groove:horizontal {{ background: {theme.line}; height: 4px; border-radius: 2px; }}
QSlider::handle:horizontal {{ background: {theme.leaf}; width: 16px; height: 16px; margin: -6px 0; border-radius: 8px; }}
QSlider:focus {{ border: 1px solid {theme.leaf}; border-radius: 6px; }}
QMenu {{ background: {theme.card}; color: {theme.ink}; border: 1px solid {theme.line}; padding: 6px; }}
QMenu::item {{ padding: 6px 22px; border-radius: 5px; }}
QMenu::item:selected {{ background: {theme.leaf_wash}; }}
QMenu::item:disabled {{ color: {theme.soft}; }}
QTabWidget::pane {{ border: 0; }}
QTabBar::tab {{ background: transparent; color: {theme.ink}; border: 2px solid transparent; border-radius: 7px;
  padding: 6px 14px; margin-right: 4px; }}
QTabBar::tab:selected {{ background: {theme.leaf_wash}; font-weight: 600; }}
QTabBar::tab:hover {{ background: {theme.ground}; }}
QTabBar::tab:selected:focus {{ border: 2px solid {theme.leaf}; }}
QTableView QComboBox, QTableView QLineEdit {{ border-radius: 0; padding: 0 4px; border: 2px solid {theme.leaf}; }}
QSplitter::handle {{ background: transparent; }}
QSplitter::handle:hover {{ background: {theme.leaf_wash}; }}
QDialog {{ background: {theme.ground}; }}
"""
