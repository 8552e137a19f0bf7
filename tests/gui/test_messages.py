"""Messages have a place of their own: they move nothing, go with their cause, and carry what can be done about it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from by_hand import FAST, click, press
from PySide6.QtCore import QPoint, Qt

from gui.model.messages import Messages
from gui.window import Window

PLACES = ("start", "live", "record", "colours", "runs", "decide", "course")


def test_a_message_goes_when_its_cause_goes() -> None:
    messages = Messages()
    messages.tell("The link is down.", "bad", cause="link")
    messages.drop("undo")
    assert messages.current is not None, "that was not its cause"
    messages.pass_by()
    assert messages.current is not None, "what is wrong waits"
    messages.drop("link")
    assert messages.current is None
    messages.tell("Saved.")
    messages.pass_by()
    assert messages.current is None


def test_what_is_offered_is_done_once() -> None:
    done: list[int] = []
    messages = Messages()
    messages.tell("Removed.", action="Undo", does=lambda: done.append(1))
    messages.act()
    messages.act()
    assert done == [1]


def at_rest(window: Window, qtbot: Any) -> dict[int, QPoint]:
    """Where each thing of the place in view is, once nothing moves any more."""
    found: list[dict[int, QPoint]] = [{}]

    def still() -> bool:
        things = [one for one in window.place.findChildren(object) if hasattr(one, "mapTo")]
        found.append({id(one): one.mapTo(window, QPoint(0, 0)) for one in things})
        return found[-1] == found[-2]

    qtbot.waitUntil(still, timeout=30_000)
    return found[-1]


@pytest.mark.parametrize("name", PLACES)
def test_a_message_moves_nothing(window: Window, qtbot: Any, name: str) -> None:
    window.show_place(name)
    before = at_rest(window, qtbot)
    window.workspace.messages.tell(
        "A sentence that says what is wrong, and what to do about it. " * 9, "warn", action="Do it"
    )
    after = at_rest(window, qtbot)
    assert before == after
    assert window.message_bar.text.startswith("A sentence")
    assert window.message_bar.words.toolTip() == window.message_bar.text, "cut to two lines, whole under the pointer"


def test_a_message_can_be_acted_on_and_closed_by_key(window: Window, qtbot: Any) -> None:
    done: list[int] = []
    window.workspace.messages.tell("Removed.", action="Undo", does=lambda: done.append(1))
    window.message_bar.act_button.setFocus()
    press(qtbot, window, Qt.Key.Key_Return)
    assert done == [1]
    window.workspace.messages.tell("Saved.")
    window.message_bar.close_button.setFocus()
    press(qtbot, window, Qt.Key.Key_Escape)
    assert not window.message_bar.text


def test_a_lost_robot_can_be_connected_again_from_the_message(window: Window, qtbot: Any, tmp_path: Path) -> None:
    follow = window.workspace.follow
    follow.connect_robot(str(tmp_path / "no-such-port"))
    qtbot.waitUntil(lambda: window.message_bar.action == "Try again", timeout=30_000)
    asked: list[int] = []
    follow._again = lambda: bool(asked.append(1)) or True
    click(qtbot, window.message_bar.act_button)
    assert asked == [1]


def test_a_mistyped_port_leads_back_to_the_robot_that_was_heard(window: Window, qtbot: Any, tmp_path: Path) -> None:
    follow = window.workspace.follow
    follow.start_built_in("practice", 7, speed_up=FAST)
    qtbot.waitUntil(lambda: follow.run is not None and follow.run.table.rows > 0, timeout=30_000)
    follow.connect_robot(str(tmp_path / "no-such-port"))
    qtbot.waitUntil(lambda: window.message_bar.action == "Back to simulated robot", timeout=30_000)
    assert window.workspace.robots.last == "", "nothing came from there, so it is no robot"
    window.message_bar.act_button.click()
    qtbot.waitUntil(lambda: follow.simulated and follow.run is not None and follow.run.table.rows > 0, timeout=30_000)


def test_another_folder_while_a_robot_is_connected_is_answered_until_it_is_not(
    window: Window, qtbot: Any, tmp_path: Path
) -> None:
    follow, workspace = window.workspace.follow, window.workspace
    follow.start_built_in("practice", 7, speed_up=FAST)
    qtbot.waitUntil(lambda: follow.run is not None and follow.run.table.rows > 0, timeout=30_000)
    assert not workspace.use_folder(tmp_path / "hall")
    follow.state_changed.emit()
    assert window.message_bar.action == "Disconnect, and show hall"
    follow.disconnect_robot()
    assert not window.message_bar.text


def test_no_robot_is_said_until_there_is_one(window: Window, qtbot: Any) -> None:
    window.toggle_record()
    assert "Connect a robot first" in window.message_bar.text
    window.workspace.follow.start_built_in("practice", 7, speed_up=FAST)
    qtbot.waitUntil(lambda: not window.message_bar.text, timeout=30_000)
