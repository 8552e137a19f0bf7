"""The first connection: what arrives is shown, its columns are guessed and named, and nothing is changed before that."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from typing import Any

import pytest
from by_hand import click

from gui.model.arriving import preview
from gui.model.column_guess import guess_columns, named, rows_of
from gui.panels.arriving_dialog import ArrivingDialog
from gui.window import Window
from telemetry.sources.synthetic.run import simulate


def plain_lines(level: str = "practice", seed: int = 7) -> tuple[list[str], list[str]]:
    """(columns as the robot names them, its samples without header, notes and checksum)."""
    lines = simulate(level, seed).data.decode().splitlines()
    header = next(line for line in lines if line.startswith(("#n,", "#t")))
    return header[1:].split("*")[0].split(","), [line.split("*")[0] for line in lines if line[0] not in "#!"]


@pytest.mark.parametrize("level", ["practice", "venue", "slipping", "extreme"])
def test_a_guess_is_right_or_silent(level: str) -> None:
    """On streams of the built-in robot with their header taken away (simulated), at every stretch of them."""
    said = right = 0
    for seed in range(2):
        columns, lines = plain_lines(level, seed)
        for begin in range(0, len(lines) - 200, 200):
            part = lines[begin : begin + 300]
            clock = columns.index("t/ms")
            times = [float(line.split(",")[clock]) for line in (part[0], part[-1])]
            for truth, guess in zip(columns, guess_columns(part, (times[1] - times[0]) / 1000), strict=True):
                assert guess.name in (truth, ""), f"{truth} taken for {guess.name}"
                said += 1
                right += guess.name == truth
    assert right >= 0.85 * said


def test_separators_text_and_odd_lines_are_no_trouble() -> None:
    lines = ["boot 1.2", "10 5 1.0", "20 6 1.5", "", "30 5 2.0", "40 7 2.5", "a note: hello", "50 5 3.0", "60 6 3.5"]
    assert rows_of(lines)[0] == ["10", "5", "1.0"]
    names = [one.name for one in guess_columns(lines, 0.06)]
    assert (names[0], names[2]) == ("t/ms", "dist/cm")
    assert rows_of(["hello", "", "#t/ms,colour"]) == []
    assert guess_columns([], 0) == []


def test_the_preview_is_what_a_recording_would_hold() -> None:
    columns, lines = plain_lines()
    seen = preview(",".join(columns), lines[:200])
    assert seen.understood == seen.lines == 200
    values = dict(seen.latest)
    assert values["dist"] == f"{float(lines[199].split(',')[columns.index('dist/cm')]):g}"
    assert "no t among the columns" in preview("colour,refl/%", ["1,2"]).problem
    assert named(["t/ms", "", "refl/%"]) == "t/ms,column 2,refl/%"


@pytest.fixture
def plain_robot() -> Iterator[str]:
    """Prints numbers without a header into a socket, to whoever connects, again and again."""
    server = socket.create_server(("127.0.0.1", 0))
    server.settimeout(0.1)
    over = threading.Event()
    _, lines = plain_lines()

    def serve() -> None:
        at = 0
        while not over.is_set():
            try:
                link, _ = server.accept()
            except TimeoutError:
                continue
            with link:
                try:
                    while not over.is_set():
                        link.sendall(f"{lines[at % len(lines)]}\n".encode())
                        at += 1
                        time.sleep(0.002)
                except OSError:
                    continue

    thread = threading.Thread(target=serve)
    thread.start()
    yield f"socket://127.0.0.1:{server.getsockname()[1]}"
    over.set()
    thread.join()
    server.close()


def test_a_robot_of_plain_numbers_is_led_to_names(window: Window, qtbot: Any, plain_robot: str) -> None:
    """By hand: connect, see what arrives, take the guess, and samples come."""
    window.show_place("start")
    start: Any = window.place
    start.address.setText(plain_robot)
    click(qtbot, start.connect_button)
    live: Any = window.place
    assert live.name == "live"
    qtbot.waitUntil(lambda: live.arriving is not None and live.arriving.isVisible(), timeout=30_000)
    dialog: ArrivingDialog = live.arriving
    qtbot.waitUntil(lambda: len(dialog.choices) == 9 and dialog.use_button.isEnabled(), timeout=30_000)
    assert "without names" in dialog.words.text()
    assert dialog.text.toPlainText().count(",") > 8
    assert window.workspace.settings.text("columns") == "", "nothing is changed before it is confirmed"
    qtbot.waitUntil(lambda: dialog.columns.startswith("n,t/ms,colour"), timeout=30_000)
    dialog.choices[8].setCurrentIndex(dialog.choices[8].findData("dist/cm"))
    dialog.choices[8].activated.emit(0)
    assert "Understood" in dialog.preview_words.text()
    assert "dist" in dialog.preview_words.text()
    click(qtbot, dialog.use_button)
    follow = window.workspace.follow
    qtbot.waitUntil(lambda: follow.run is not None and follow.run.table.rows > 50, timeout=30_000)
    assert follow.run is not None
    assert {"t_us", "n", "colour", "red", "dist"} <= follow.run.table.columns.keys()
    follow.disconnect_robot()


def test_a_robot_that_names_its_columns_needs_nothing(driving: Window, qtbot: Any) -> None:
    driving.show_place("live")
    live: Any = driving.place
    qtbot.waitUntil(live.arrives_button.isEnabled, timeout=30_000)
    click(qtbot, live.arrives_button)
    dialog: ArrivingDialog = live.arriving
    qtbot.waitUntil(lambda: "names its columns itself" in dialog.words.text(), timeout=30_000)
    assert not dialog.use_button.isVisible()
    assert "Understood" in dialog.preview_words.text()
    driving.workspace.follow.disconnect_robot()
    assert not dialog.isVisible(), "nothing holds the journal of a capture that is over"
