"""Streams, courses and truths as anyone could write them from the format document alone, through the real commands.

Nothing here is made by the built-in robot, and the colours, codes, units and names are not those of the built-in scenario.
"""

import json
import subprocess
import sys
from functools import reduce

import pytest
from replay.documented import check_document


def sidelong(*words, cwd):
    command = [sys.executable, "-m", "telemetry.cli", *map(str, words)]
    return subprocess.run(command, cwd=cwd, capture_output=True, text=True, timeout=60, check=False)


def ok(*words, cwd):
    done = sidelong(*words, cwd=cwd)
    assert done.returncode == 0, done.stderr + done.stdout
    return done


def checksum(line):
    """The XOR of every byte before the star, as two hex digits (NMEA 0183)."""
    return f"{line}*{reduce(lambda sum_, byte: sum_ ^ byte, line.encode()):02X}"


def compared(folder, *strategies, words=()):
    named = [part for strategy in strategies for part in ("--strategy", strategy)]
    ok("compare", "run.h5", *named, "--json", "out.json", *words, cwd=folder)
    document = check_document((folder / "out.json").read_text(encoding="utf-8"))
    assert [one["strategy"] for one in document["strategies"]] == list(strategies)
    return {run["strategy"]: run for run in document["runs"]}


def colours_of(run):
    return [reading["colour"] for reading in run["readings"]]


BUS = """
[course]
name = "Bus stops"

[[sensor]]
name = "nose"
ahead_cm = 3.0

[[leg]]
name = "street"

[[leg]]
name = "depot"
starts = "note:turned round"
heading_deg = 180
heading_tol_deg = 15

[[slot]]
name = "stop A"
leg = "street"
sensor = "nose"
at_cm = 12.0
width_cm = 3.0
group = "stops"

[[slot]]
name = "stop B"
leg = "street"
sensor = "nose"
at_cm = 24.0
width_cm = 3.0
group = "stops"

[[slot]]
name = "bay 1"
leg = "depot"
at_cm = 10.0
width_cm = 4.0
group = "bays"

[[slot]]
name = "bay 2"
leg = "depot"
at_cm = 22.0
width_cm = 4.0
group = "bays"

[[slot]]
name = "bay 3"
leg = "depot"
group = "bays"
unseen = true

[[group]]
name = "stops"
distinct = ["red", "yellow", "green", "blue"]

[[group]]
name = "bays"
one_of_each = ["red", "green", "blue"]

[[decoy]]
name = "manhole"
leg = "street"
at_cm = 18.0
width_cm = 1.0

[score]
right = 4
wrong = -2
missing = -1
"""
CODES = {"none": 0, "red": 5, "yellow": 7, "green": 3, "blue": 2}


def bus_stream():
    """Codes instead of names, microseconds, millimetres, radians, checksums, gaps, CRLF, headers again, a banner, a note."""
    lines = ["board v1.2 ready", ">>> run()"]
    header = "#n,t/us,colour,refl/1,heading/rad,dist/mm,gyro raw/1"
    lines += [header, "#codes," + ",".join(f"{code}={name}" for name, code in CODES.items()), "#range,refl=0..1"]
    n = 0

    def leg(marks, heading, begin_us, begin_mm):
        nonlocal n
        for i in range(120):
            cm = i * 0.3 + 3.0
            colour = next((name for low, high, name in marks if low <= cm <= high), "none")
            fields = [str(n), str(begin_us + i * 12_000), str(CODES[colour]), "0.54", heading, f"{begin_mm + i * 3}", "17"]
            if i % 17 == 5:
                fields[3] = ""
            if i % 23 == 9:
                fields[4] = ""
            line = ",".join(fields)
            lines.append(checksum(line) if i % 3 else line)
            if i % 40 == 39:
                lines.append(header)
            n += 1

    leg([(10.5, 13.5, "yellow"), (17.6, 18.4, "red"), (22.5, 25.5, "blue")], "0.00", 1_000_000, 0)
    lines.append(checksum("!2440,turned round"))
    leg([(8.0, 12.0, "green"), (20.0, 24.0, "red")], "3.14", 2_450_000, 360)
    lines += ["!3900,read,stop A,yellow", "!3901,read,stop B,blue", "!3902,read,bay 1,green", "!3903,read,bay 2,red"]
    lines += ["!3904,read,bay 3,green"]
    return "".join(f"{line}\r\n" for line in lines)


def test_codes_microseconds_millimetres_and_an_unseen_slot(tmp_path):
    (tmp_path / "run.txt").write_bytes(bus_stream().encode())
    (tmp_path / "bus.toml").write_text(BUS)
    truth = "yellow,blue,green,red,blue"
    ok("ingest", "run.txt", "-o", "run.h5", "--course", "bus.toml", "--truth", truth, cwd=tmp_path)
    runs = compared(tmp_path, "map-and-list", "checklist:hold.samples=4", "first-come")
    for strategy in ("map-and-list", "checklist:hold.samples=4"):
        run = runs[strategy]
        assert run["recording"] == "run.h5"
        assert run["outcome"] == "right", run["why"]
        assert colours_of(run) == truth.split(",")
        assert [reading["how"] for reading in run["readings"]] == ["read"] * 4 + ["inferred"]
        assert run["errors"] == {"missed": 0, "wrong": 0, "repeated": 0, "extra": 0}
    stop = runs["checklist:hold.samples=4"]["readings"][0]
    assert 10.5 <= stop["dist_cm"] <= 13.5  # where the sensor was, 3 cm ahead of the measured point
    assert 1250 <= stop["t_ms"] <= 1430
    assert runs["first-come"]["outcome"] == "wrong"  # the manhole
    assert runs["first-come"]["errors"]["extra"] >= 1
    assert runs["first-come"]["why"]
    document = json.loads((tmp_path / "out.json").read_text())
    assert document["robot"]["summary"]["correct"] == 0  # its own program took bay 3 for green
    assert document["robot"]["runs"][0]["errors"]["wrong"] == 1


def test_the_truth_by_name_and_a_wrong_truth(tmp_path):
    (tmp_path / "run.txt").write_bytes(bus_stream().encode())
    (tmp_path / "bus.toml").write_text(BUS)
    named = "bay 3=blue,stop A=yellow,stop B=blue,bay 1=green,bay 2=red"
    ok("ingest", "run.txt", "-o", "run.h5", "--course", "bus.toml", "--truth", named, cwd=tmp_path)
    assert compared(tmp_path, "map-and-list")["map-and-list"]["outcome"] == "right"
    other = compared(tmp_path, "map-and-list", words=["--truth", "yellow,red,green,red,blue"])["map-and-list"]
    assert (other["outcome"], other["errors"]["wrong"]) == ("wrong", 1)
    assert other["why"].startswith("stop B: read blue")
    wrong = "red,red,green,red,blue"
    done = sidelong("ingest", "run.txt", "-o", "b.h5", "--course", "bus.toml", "--truth", wrong, cwd=tmp_path)
    assert done.returncode == 3
    assert "red stands in 'stop A' and 'stop B'" in done.stderr
    assert not (tmp_path / "b.h5").exists()


SHELF = """
[course]
name = "Shelf"
[[slot]]
name = "left"
at_cm = 20
width_cm = 6
colours = ["red", "green", "blue"]
empty_ok = true
[[slot]]
name = "middle"
at_cm = 40
width_cm = 6
colours = ["red", "green", "blue"]
[[slot]]
name = "right"
at_cm = 60
width_cm = 6
colours = ["red", "green", "blue"]
"""
LOOKS = {"red": (150, 20, 20), "green": (25, 95, 35), "blue": (16, 38, 125), "none": (34, 34, 34)}


@pytest.mark.parametrize("mark", [",", "\t", " "])
def test_plain_numbers_without_header_named_by_the_user(tmp_path, mark):
    """Raw channels up to 255, seconds and metres; values are typical surfaces (common practice, no source)."""
    lines = ["hello from the robot"]
    for i in range(160):
        cm = i * 0.5
        colour = "green" if 37 <= cm <= 43 else "red" if 57 <= cm <= 63 else "none"
        red, green, blue = (value + i % 3 for value in LOOKS[colour])
        lines.append(mark.join([f"{i * 0.02:.2f}", f"{red}", f"{green}", f"{blue}", f"{cm / 100:.4f}"]))
    (tmp_path / "run.txt").write_text("\n".join(lines) + "\n")
    (tmp_path / "shelf.toml").write_text(SHELF)
    columns = "t/s,red,green,blue,dist/m"
    words = ["--columns", columns, "--course", "shelf.toml", "--truth", "empty,green,red"]
    ok("ingest", "run.txt", "-o", "run.h5", *words, cwd=tmp_path)
    runs = compared(tmp_path, "windows", "hold")
    assert colours_of(runs["windows"]) == ["empty", "green", "red"], runs["windows"]["why"]
    assert runs["windows"]["outcome"] == "right"
    # read in order, the first colour is taken for the slot that is empty
    assert colours_of(runs["hold"])[:2] == ["green", "red"]
    assert runs["hold"]["outcome"] == "wrong"


TWO = """
[course]
name = "Two sides"
[[sensor]]
name = "port"
[[sensor]]
name = "star"
ahead_cm = -2.0
[[slot]]
name = "p1"
sensor = "port"
at_cm = 10
width_cm = 3
group = "all"
[[slot]]
name = "s1"
sensor = "star"
at_cm = 10
width_cm = 3
group = "all"
[[slot]]
name = "p2"
sensor = "port"
at_cm = 30
width_cm = 3
group = "all"
[[group]]
name = "all"
counts = {black = 2, white = 1}
"""


def test_two_sensors_with_suffixes_and_counts(tmp_path):
    lines = ["#t/ms,colour.port,colour.star,dist/cm,battery/mV"]
    for i in range(100):
        cm = i * 0.4
        port = "black" if 8.5 <= cm <= 11.5 or 28.5 <= cm <= 31.5 else "none"
        star = "white" if 10.5 <= cm <= 13.5 else "none"
        lines.append(f"{i * 10},{port},{star},{cm:.1f},7400")
    (tmp_path / "run.txt").write_text("\n".join(lines) + "\n")
    (tmp_path / "two.toml").write_text(TWO)
    ok("ingest", "run.txt", "-o", "run.h5", "--course", "two.toml", "--truth", "black,white,black", cwd=tmp_path)
    for run in compared(tmp_path, "hold", "windows", "checklist", "map-and-list").values():
        assert run["outcome"] == "right", (run["strategy"], run["why"])


LEGS = """
[course]
name = "There and back"
[[leg]]
name = "out"
[[leg]]
name = "across"
starts = "heading:90"
heading_deg = 90
[[leg]]
name = "along"
starts = "reset"
[[leg]]
name = "back"
starts = "reverse"
"""


def test_legs_that_start_by_heading_reset_and_reverse(tmp_path):
    slots = "".join(
        f'[[slot]]\nname = "{leg} slot"\nleg = "{leg}"\nat_cm = 10\nwidth_cm = 4\ncolours = ["red", "blue"]\n'
        for leg in ("out", "across", "along", "back")
    )
    (tmp_path / "legs.toml").write_text(LEGS + slots)
    rows = [(0.0, i * 0.5, "red" if 8 <= i * 0.5 <= 12 else "none") for i in range(41)]
    rows += [(90.0, 20 + i * 0.5, "blue" if 8 <= i * 0.5 <= 12 else "none") for i in range(41)]
    rows += [(90.0, i * 0.5, "red" if 8 <= i * 0.5 <= 12 else "none") for i in range(41)]
    rows += [(90.0, 20 - i * 0.5, "blue" if 8 <= i * 0.5 <= 12 else "none") for i in range(41)]
    lines = ["#t/ms,heading/deg,dist/cm,colour", *(f"{i * 10},{h},{d},{c}" for i, (h, d, c) in enumerate(rows))]
    (tmp_path / "run.txt").write_text("\n".join(lines) + "\n")
    ok("ingest", "run.txt", "-o", "run.h5", "--course", "legs.toml", "--truth", "red,blue,red,blue", cwd=tmp_path)
    run = compared(tmp_path, "windows")["windows"]
    assert run["outcome"] == "right", run["why"]
    assert [reading["dist_cm"] is not None for reading in run["readings"]][:3] == [True] * 3


def test_only_the_order_is_known(tmp_path):
    """A course without distances, a stream without distances."""
    course = '[course]\nname = "Order"\n[[group]]\nname = "g"\ndistinct = ["red", "green", "blue"]\n'
    course += "".join(f'[[slot]]\nname = "{name}"\ngroup = "g"\n' for name in ("one", "two"))
    (tmp_path / "order.toml").write_text(course)
    seen = ["none"] * 5 + ["blue"] * 6 + ["none"] * 5 + ["green"] * 6 + ["none"] * 5
    lines = ["#t/ms,colour", *(f"{i * 20},{colour}" for i, colour in enumerate(seen))]
    (tmp_path / "run.txt").write_text("\n".join(lines) + "\n")
    ok("ingest", "run.txt", "-o", "run.h5", "--course", "order.toml", "--truth", "blue,green", cwd=tmp_path)
    runs = compared(tmp_path, "hold", "windows")
    assert runs["hold"]["outcome"] == "right"
    assert runs["hold"]["readings"][0]["dist_cm"] is None
    assert runs["windows"]["outcome"] == "not applicable"
    document = json.loads((tmp_path / "out.json").read_text())
    assert document["strategies"][1]["rate"] is None
    assert document["strategies"][1]["wilson95"] is None


TEAM = """
class Team:
    'Takes a colour seen twice.'

    def __init__(self):
        self.last = 0
        self.ready = True

    def step(self, label, m):
        twice = label if label == self.last and self.ready else -1
        self.ready = label == 0 or (self.ready and twice <= 0)
        self.last = label
        return twice
"""


def test_a_strategy_file_and_own_logic(tmp_path):
    test_only_the_order_is_known(tmp_path)
    (tmp_path / "ours.toml").write_text('name = "ours"\n[[stage]]\nuse = "auto"\n[[stage]]\nuse = "once"\n')
    (tmp_path / "team.py").write_text(TEAM)
    ok("compare", "run.h5", "--strategy", "ours.toml", "--strategy", "team.py", "--json", "out.json", cwd=tmp_path)
    document = check_document((tmp_path / "out.json").read_text(encoding="utf-8"))
    assert {run["strategy"]: run["outcome"] for run in document["runs"]} == {"ours": "right", "team": "right"}
