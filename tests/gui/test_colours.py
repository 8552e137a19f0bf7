"""Colours, driven by key on the built-in robot."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from by_hand import click, press
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication

from gui.model.calibration import Calibration
from gui.model.colour_judgement import judged, judged_for
from gui.model.messages import Messages
from gui.model.selection import Selection
from gui.window import Window
from telemetry.calibrate.guided import steps_for
from telemetry.calibrate.recheck import recheck
from telemetry.palette import Palette, PaletteColour
from telemetry.palette_file import write_palette
from telemetry.sources.synthetic.run import built_in_course


def test_colours_are_learnt_step_by_step_and_re_checked(
    driving: Window, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gui.model.calibration.TAKE_S", 0.6)
    driving.show_place("colours")
    colours: Any = driving.place
    calibration = colours.calibration
    steps = len(calibration.steps)
    assert calibration.steps[0].colour == "none"
    for number in range(steps):
        if 1 < number < steps:
            assert colours.judged_words.text() == f"! {number} of {steps} captured."
        press(qtbot, driving, Qt.Key.Key_Space)
        qtbot.waitUntil(lambda: calibration.taking, timeout=30_000)
        qtbot.waitUntil(lambda: not calibration.taking, timeout=30_000)
        assert len(calibration.captures) == number + 1
    assert calibration.step is None
    assert colours.risk.rowCount() >= 5
    words = colours.plane.accessibleDescription()
    for colour in driving.workspace.selection.course.colours:
        assert colour in words
    target = driving.workspace.folder.path / "mine.toml"
    colours.keep_as(target)
    assert target.exists()
    assert driving.workspace.selection.palette is not None
    assert driving.workspace.selection.palette.measured
    assert colours.palette_name.text() == "mine"
    assert not colours.keep_button.isEnabled()
    click(qtbot, colours.check_button)
    while calibration.step is not None:
        done = len(calibration.captures)
        assert colours.answer_head.text() == f"{done} of 3 captured", "no answer before all of them are there"
        press(qtbot, driving, Qt.Key.Key_Space)
        qtbot.waitUntil(lambda: calibration.taking, timeout=30_000)
        qtbot.waitUntil(lambda: not calibration.taking, timeout=30_000)
    assert "as before" in colours.answer_head.text()
    driving.show_place("match")
    assert driving.place.colours.big.text() == "as before", "what was found under Colours is known here"
    assert "Checked at" in driving.place.colours.more.text()
    later = Selection(driving.workspace.settings, Messages(), driving.workspace.code, list)
    assert later.last_recheck == driving.workspace.selection.last_recheck, "it is known at the next start, too"
    assert later.last_recheck is not None
    gym = driving.workspace.folder.path / "gym.toml"
    gym.write_text(GYM, encoding="utf-8")
    today = list(colours.plane.today)
    driving.workspace.selection.use_course(gym)
    assert "lacks colours" in driving.place.colours.big.text()
    assert "The others, checked at" in driving.place.colours.more.text()
    assert "as before" in driving.place.colours.more.text()
    assert today == ["none", *built_in_course().colours[:2]], "today's colours lie beside the palette's"


def with_means(*named: tuple[str, tuple[float, float, float]], measured: bool = True) -> Palette:
    """Colours of these levels, each with a standard deviation of ten."""
    colours = tuple(
        PaletteColour(name, np.array([*mean, np.nan]), np.diag([100.0, 100.0, 100.0, np.nan]), 100) for name, mean in named
    )
    return Palette("mine", colours, measured)


def test_colours_are_judged_in_words_before_any_figure(window: Window) -> None:
    far = with_means(("none", (100, 100, 100)), ("rust", (900, 200, 100)), ("leaf", (200, 900, 150)))
    near = with_means(("none", (100, 100, 100)), ("rust", (900, 200, 100)), ("orange", (905, 203, 100)))
    assert judged(far).kind == "good"
    assert judged(far).words == "This sensor tells all 3 colours apart."
    assert judged(near).kind == "bad"
    assert "rust and orange" in judged(near).words
    assert judged(replace(far, measured=False)).kind == "warn"
    window.show_place("colours")
    colours: Any = window.place
    assert colours.judged_words.text().startswith("! Typical colours")
    colours.risk.show_palette(near)
    assert colours.risk.item(0, 1).text().startswith("✗ ")
    assert all(colours.risk.isColumnHidden(column) for column in (2, 3, 4)), "figures are shown on demand"
    colours.figures.setChecked(True)
    assert not any(colours.risk.isColumnHidden(column) for column in (2, 3, 4))


def test_a_palette_that_lacks_colours_of_the_course_says_so(window: Window, tmp_path: Path) -> None:
    path = tmp_path / "old.toml"
    write_palette(with_means(("none", (100, 100, 100)), ("rust", (900, 200, 100)), ("leaf", (200, 900, 150))), path)
    window.workspace.selection.use_palette(path)
    window.show_place("colours")
    colours: Any = window.place
    assert colours.judged_words.text().startswith("✗ The palette in use lacks colours of this course: ")
    assert "sky" in colours.judged_words.text()
    assert "rust" not in colours.judged_words.text()
    window.show_place("match")
    match: Any = window.place
    assert "lacks colours" in match.colours.big.text()
    assert judged_for(with_means(("none", (1, 1, 1)), ("rust", (900, 2, 2))), ["rust"]).kind == "good"


def test_a_re_check_asks_first_for_what_lies_on_this_field(window: Window, tmp_path: Path) -> None:
    path = tmp_path / "both.toml"
    elsewhere = [("black", (90, 50, 50)), ("blue", (90, 90, 900)), ("lime", (90, 900, 90))]
    here = [("rust", (900, 200, 100)), ("leaf", (200, 900, 150))]
    write_palette(with_means(("none", (100, 100, 100)), *elsewhere, *here), path)
    window.workspace.selection.use_palette(path)
    window.show_place("colours")
    colours: Any = window.place
    colours.begin_recheck()
    assert [step.colour for step in colours.calibration.steps] == ["none", "rust", "leaf"]


@pytest.mark.parametrize("level", ["practice", "venue", "extreme"])
def test_the_simulated_robot_passes_its_own_re_check(window: Window, level: str) -> None:
    """Found by a newcomer (venue, seed 913): nothing was moved, and the answer was 'shifted: re-calibrate x0.82'."""
    follow: Any = SimpleNamespace(simulated=True, connected=True, run=None, watch=None)
    selection = window.workspace.selection
    calibration = Calibration(selection, follow, window.workspace.messages)
    for seed in (913, 1397, 2, 55):
        follow.watch = SimpleNamespace(simulated=True, level=level, seed=seed)
        calibration.begin(selection.course.colours)
        calibration._simulated_takes = 0
        for step in calibration.steps:
            calibration.captures[step] = calibration._captured(step)
        palette = calibration.palette()
        assert palette is not None
        for _ in range(4):
            answer = recheck(palette, [calibration._captured(step) for step in steps_for(palette.names[:3])])
            assert answer.same, (seed, answer.why)


GYM = """
[course]
name = "Gym floor"
[[sensor]]
name = "side"
[[leg]]
name = "lane"
starts = "begin"
[[group]]
name = "all"
distinct = ["black", "lime", "leaf"]
[[slot]]
name = "marker 1"
leg = "lane"
sensor = "side"
at_cm = 20.0
group = "all"
"""


def test_the_wheel_over_the_diagram_is_the_pages(window: Window) -> None:
    """Found by a newcomer: it zoomed the colours out of sight, and nothing brought them back."""
    window.show_place("colours")
    colours: Any = window.place
    view = colours.plane.plot.viewport()
    shown = colours.plane.plot.viewRange()
    middle = QPointF(view.rect().center())
    wheel = QWheelEvent(
        middle, view.mapToGlobal(middle), QPoint(), QPoint(0, -240), Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(view, wheel)
    assert colours.plane.plot.viewRange() == shown
    assert not wheel.isAccepted()


def test_letters_are_the_same_on_every_page_after_another_course_is_chosen(window: Window, tmp_path: Path) -> None:
    """Found by a newcomer: black was A under Colours and L under Record, and leaf another letter in an opened run."""
    window.show_place("colours")
    colours: Any = window.place
    path = tmp_path / "gym.toml"
    path.write_text(GYM, encoding="utf-8")
    selection = window.workspace.selection
    assert selection.use_course(path)
    for holder in (colours.steps, colours.plane, colours.swatch):
        letters = [holder.book.of(name).letter for name in ("black", "lime", "leaf", "rust")]
        assert letters == ["B", "L", "E", "R"]
    assert selection.book.of("leaf").letter == "E"
    assert colours.calibration.steps == steps_for(["none", "black", "lime", "leaf"])


def test_another_course_takes_no_focus_to_a_page_that_is_not_seen(window: Window) -> None:
    """Found by pressing every key: the choice of the course under Start lost the focus to a hidden button of Colours."""
    window.show_place("colours")
    window.show_place("start")
    start: Any = window.place
    start.variant.setFocus()
    start.variant.setCurrentIndex(1)
    start.variant.activated.emit(1)
    assert QApplication.focusWidget() is start.variant
