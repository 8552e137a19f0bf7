"""Start knows its state: what was connected before, the runs of today, and no ports of the computer itself."""

from __future__ import annotations

from typing import Any

from by_hand import FAST, click

from gui.window import Window


def test_whoever_is_new_is_greeted_and_whoever_was_here_goes_on(window: Window, qtbot: Any) -> None:
    start: Any = window.places["start"]
    assert start.banner.isVisible()
    assert not start.going_on.isVisible()
    window.workspace.robots.note("socket://cart.local:4000")
    window.show_place("live")
    window.show_place("start")
    assert start.going_on.isVisible()
    assert not start.banner.isVisible()
    assert "socket://cart.local:4000" in start.going_on.go_button.text()


def test_the_connected_robot_stands_on_the_page_and_one_goes_on_from_there(window: Window, qtbot: Any) -> None:
    start: Any = window.places["start"]
    window.workspace.follow.start_built_in("practice", 7, speed_up=FAST)
    qtbot.waitUntil(lambda: start.going_on.isVisible() and "lines/s" in start.going_on.big.text(), timeout=30_000)
    click(qtbot, start.going_on.go_button)
    assert window.place.name == "record"
    window.show_place("start")
    click(qtbot, start.going_on.end_button)
    assert not window.workspace.follow.connected


def test_recent_robots_come_first_and_ports_of_the_computer_itself_do_not_come(window: Window) -> None:
    start: Any = window.places["start"]
    for address in ("/dev/ttyUSB7", "ble:cart", "/dev/ttyUSB0"):
        window.workspace.robots.note(address)
    start._show_ports([("/dev/ttyS0", "/dev/ttyS0"), ("/dev/ttyACM3", "/dev/ttyACM3   board"), ("/dev/ttyUSB0", "usb")])
    shown = [start.ports.item(row).text().split()[0] for row in range(start.ports.count())]
    assert shown == ["/dev/ttyUSB0", "ble:cart", "/dev/ttyACM3"]
