"""The picture of what a strategy does is made by the strategy itself, on one signal that is hard to read."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from PySide6.QtWidgets import QApplication

from gui.model.example_signal import TRUTH, example, seen, through
from gui.panels.settings_panel import TICKS, SettingsPanel, setting_words
from gui.plots.strategy_picture import SWATCH_PX, StrategyPicture, _apart
from gui.theme import DARK, LIGHT
from telemetry.reading.catalogue import STAGES
from telemetry.reading.load import load_strategy
from telemetry.reading.strategies import STRATEGIES
from telemetry.replay.case import Case
from telemetry.replay.header import palette_for
from telemetry.replay.judge import judge


def test_the_signal_is_hard_and_the_strategies_differ() -> None:
    """Each of them makes something else of it, so that the pictures say something."""
    pictures = {name: through(name) for name in STRATEGIES}
    assert pictures["first-come"].right == 1, "a flicker moves everything on"
    assert pictures["windows"].right == pictures["evidence"].right == len(TRUTH)
    assert pictures["stop-at-colour"].stops_at is not None
    assert len({(one.stages, one.takes, one.stops_at) for one in pictures.values()}) == len(STRATEGIES)
    assert all(len(said) == len(seen()) for one in pictures.values() for _, said in one.stages)


@pytest.mark.parametrize("name", ["first-come", "hold", "windows", "evidence"])
def test_what_is_shown_as_taken_is_what_the_evaluation_takes(name: str) -> None:
    course, table = example()
    case = Case("example", table, course, TRUTH, palette_for(table, course, None))
    (result,), _ = judge(case, {name: load_strategy(name)})
    taken: dict[int, str] = {take.slot: take.colour for take in through(name).takes if take.slot is not None}
    assert result.score is not None
    right = {slot for slot, said in enumerate(result.score.slots) if said == "right"}
    assert right == {slot for slot, colour in taken.items() if colour == TRUTH[slot]}


def test_a_setting_is_seen_in_the_picture(qapp: QApplication, qtbot: Any) -> None:
    panel = SettingsPanel("first-come", LIGHT)
    qtbot.addWidget(panel)
    before = panel.picture.shown
    panel.choice.setCurrentIndex(panel.choice.findData("windows"))
    panel.choice.activated.emit(0)
    whole = panel.picture.shown
    assert whole != before
    panel.fields["vote.least"].setValue(20)  # type: ignore[union-attr]
    assert panel.picture.shown != whole
    assert panel.picture_words.text().startswith("Example: ")
    panel.stop()


def test_every_picture_paints_in_both_themes_and_says_itself_in_words(qapp: QApplication, qtbot: Any) -> None:
    for theme in (LIGHT, DARK):
        for name in STRATEGIES:
            picture = StrategyPicture(theme)
            qtbot.addWidget(picture)
            picture.show_through(through(name))
            picture.resize(picture.sizeHint())
            colours = {picture.grab().toImage().pixelColor(x, 12).name() for x in range(0, picture.width(), 2)}
            assert len(colours) > 4
            assert picture.accessibleDescription() == through(name).in_words()


def test_boxes_stand_apart_and_inside() -> None:
    placed = _apart([10.0, 12.0, 300.0, 300.0, 300.0], 300.0)
    assert all(after - before >= SWATCH_PX for before, after in pairwise(placed))
    assert placed[-1] + SWATCH_PX / 2 <= 300.0


def test_every_setting_is_said_in_plain_words() -> None:
    """Not 'vote: least'; what is ticked says what a tick does."""
    for stage in STAGES.values():
        for setting in stage.settings:
            key = f"{stage.name}.{setting.name}"
            words = setting_words(key, setting)
            assert words[0].isupper()
            assert len(words.split()) > 1, key
            assert setting.unit != "0/1" or key in TICKS, key
            assert not words.startswith(("1:", "0:")), key
