"""There and back: emitter on a pseudo-terminal, capture, recording, reader on a pseudo-terminal, its notes, compare."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.course import parse_course
from telemetry.recording.journal.records import SUFFIX
from telemetry.recording.load import load
from telemetry.replay.readings import Reading
from telemetry.replay.round_trip import parting
from telemetry.sample import Note
from telemetry.stream.decoder import Decoder
from telemetry.wording import sentence

from .reading import MICROPYTHON, made, needs_micropython

there_and_back = [needs_micropython, pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminal here")]

ROBOT = '''
import sys
sys.path.insert(0, sys.argv[1])
from emitter import Emitter
if len(sys.argv) > 2:
    from reader import Reader
tick = [5000]
MARKERS = ((9.0, 1), (21.5, 2), (30.0, 5))
CRATES = ((14.0, 3), (24.0, 4), (34.0, 6), (46.0, 1))

def clock():
    return tick[0]

where = [0.0, 0]

def colour():
    for at, code in (CRATES if where[1] else MARKERS):
        if abs(at - 4.5 - where[0]) < 1.2:
            return code
    return 0

def dist():
    return where[0]

def red():
    return 100 + 10 * colour()

CODES = {{0: "none", 1: "rust", 2: "leaf", 3: "orange", 4: "sky", 5: "white", 6: "pink"}}
out = Emitter((("colour", colour), ("dist/cm", dist), ("battery/V", red)), clock=clock, codes=CODES)
reader = Reader(out.read) if len(sys.argv) > 2 else None
for leg in range(2):
    where[0] = 0.0
    where[1] = leg
    if leg:
        out.note("gate open")
    while where[0] < 62:
        out.sample(reader)
        if reader is not None:
            reader.step()
        where[0] += 0.35
        tick[0] += 10
if reader is not None:
    reader.finish()
'''
COURSE = """[course]
name = "Orchard Row"
[[leg]]
name = "lane"
[[leg]]
name = "yard"
starts = "note:gate open"
[[slot]]
name = "tag 1"
leg = "lane"
group = "tags"
[[slot]]
name = "tag 2"
leg = "lane"
group = "tags"
[[slot]]
name = "tag 3"
leg = "lane"
group = "tags"
[[slot]]
name = "crate 1"
leg = "yard"
group = "crates"
[[slot]]
name = "crate 2"
leg = "yard"
group = "crates"
[[slot]]
name = "crate 3"
leg = "yard"
group = "crates"
[[slot]]
name = "crate 4"
leg = "yard"
group = "crates"
[[slot]]
name = "crate 5"
leg = "yard"
group = "crates"
unseen = true
[[group]]
name = "tags"
distinct = ["rust", "orange", "leaf", "sky", "white"]
[[group]]
name = "crates"
one_of_each = ["rust", "orange", "leaf", "sky", "pink"]
"""
TRUTH = "rust,leaf,white,orange,sky,pink,rust,leaf"


def captured(tmp_path: Path, name: str, *words: str) -> Path:
    """What a robot's program prints onto a pseudo-terminal, recorded by ``sidelong capture``."""
    import pty
    import tty

    program = tmp_path / "robot.py"
    program.write_text(ROBOT.replace("{{", "{").replace("}}", "}"))
    ours, theirs = pty.openpty()
    tty.setraw(theirs)
    done = subprocess.run([str(MICROPYTHON), str(program), *words], capture_output=True, timeout=60, check=True)
    port = os.ttyname(theirs)

    def send() -> None:
        # A pseudo-terminal holds only a few thousand bytes: whoever writes waits for whoever reads.
        left = done.stdout
        while left:
            left = left[os.write(ours, left[:1000]) :]

    writer = threading.Thread(target=send)
    path = tmp_path / f"{name}.h5"
    command = [
        sys.executable, "-m", "telemetry.cli", "capture", port, "--course", str(tmp_path / "course.toml"), "--truth", TRUTH,
        "-o", str(path), "--columns", "t/ms,colour",
    ]  # fmt: skip
    capture = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    writer.start()
    # A reading is shown once Ctrl-C is heard.
    assert capture.stdout is not None
    said = b""
    while b"tag 1" not in said:
        line = capture.stdout.readline()
        assert line, said
        said += line
    # All that was sent is in the journal before the capture is ended.
    deadline = time.monotonic() + 60
    journal = path.with_name(path.name + SUFFIX)
    while not journal.exists() or journal.stat().st_size < len(done.stdout):
        assert time.monotonic() < deadline
        time.sleep(0.05)
    writer.join(10)
    capture.send_signal(signal.SIGTERM)
    said += capture.communicate(timeout=60)[0]
    os.close(ours)
    os.close(theirs)
    assert path.exists(), said.decode()
    return path


@there_and_back[0]
@there_and_back[1]
def test_what_was_tuned_is_what_drives(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "course.toml").write_text(COURSE)
    robot = tmp_path / "robot"
    robot.mkdir()
    assert main(["emitter", "-o", str(robot / "emitter.py")]) == 0
    first = captured(tmp_path, "first", str(robot))
    assert load(first).table.rows == 356
    made(tmp_path / "made", "checklist", "--like", str(first))
    (robot / "reader.py").write_text((tmp_path / "made" / "reader.py").read_text())
    second = captured(tmp_path, "second", str(robot), "with the reader")
    capsys.readouterr()
    assert main(["compare", str(second), "--strategy", "checklist", "--json", str(tmp_path / "out.json")]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert "robot and computer agree in all 8 readings, sample by sample" in page
    out = json.loads((tmp_path / "out.json").read_text())
    assert out["runs"][0]["outcome"] == "right"
    told = out["robot"]["runs"][0]
    assert [one["colour"] for one in told["readings"]] == TRUTH.split(",")
    # Replayed with another setting, the page says that this is not what drove, and not before.
    assert main(["compare", str(second), "--strategy", "checklist", "--set", "hold.samples=3"]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert "another than 'checklist:hold.samples=3' replayed here" in page


def test_the_first_sample_where_they_part_is_named() -> None:
    course = parse_course(COURSE)
    computer = [
        Reading(0, "rust", "read", row=30), Reading(1, "leaf", "read", row=60), Reading(2, "white", "read", row=90),
    ]  # fmt: skip

    def said(*readings: tuple[int, str, str]) -> str:
        notes = [Note(row, 0, 0, f"read,{slot},{colour}") for row, slot, colour in readings]
        return sentence(parting(course, notes, computer, 100))

    assert said((31, "tag 1", "rust"), (61, "tag 2", "leaf"), (91, "tag 3", "white")).startswith("robot and computer agree")
    assert "part at sample 61 of 100: robot tag 2 sky" in said((31, "tag 1", "rust"), (61, "tag 2", "sky"))
    assert "part at sample 45 of 100" in said((31, "tag 1", "rust"), (45, "tag 2", "leaf"), (91, "tag 3", "white"))
    assert "part at sample 91 of 100: only the computer reads tag 3" in said((31, "tag 1", "rust"), (61, "tag 2", "leaf"))


def test_which_reader_drives_is_said_while_it_is_captured() -> None:
    decoder = Decoder("t/ms,colour")
    chunks = decoder.feed(b"!1,reader,hold,0a1b2c3d\n!2,reader\n1,none\n", 0)
    remarks = [remark for chunk in chunks for remark in chunk.remarks]
    assert "The robot drives with reader 0a1b2c3d of 'hold'." in remarks
    assert len([remark for remark in remarks if "drives" in remark]) == 1
