"""What is tried of every command, in a folder as a team has it: two runs, a capture broken off, files of their own."""

from __future__ import annotations

import contextlib
import io
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from recording.streams import HEADER, stream
from recording.test_recording import write_journal

from telemetry.cli import main as sidelong
from telemetry.palette_default import default_palette
from telemetry.palette_file import palette_text
from telemetry.reading.load import write_toml
from telemetry.reading.strategies import STRATEGIES
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta

COURSE = '[course]\nname = "Row"\n[[slot]]\nname = "tag"\ncolours = ["rust", "leaf"]\n'
DRIVEN = Path(__file__).parents[2] / "recordings" / "practice-01.h5"
HOLD = ["--strategy", "hold"]
LIKE = ["hold", "--like", "like.h5"]


@dataclass(frozen=True)
class Tried:
    """A command's words. ``writes``: files that it is told to write. ``moves``: files that may be elsewhere after it.

    ``each``: only so many-th calls, as it is slow.
    """

    words: list[str]
    writes: tuple[str, ...] = ()
    each: int = 1
    moves: tuple[str, ...] = ()


def _of(*words: str, writes: str = "", each: int = 1, moves: str = "") -> Tried:
    return Tried(list(words), tuple(writes.split()), each, tuple(moves.split()))


COMMANDS = {
    "runs list": _of("runs", "list", "runs"),
    "runs list --json": _of("runs", "list", "runs", "--json", "out.json", writes="out.json"),
    "runs show": _of("runs", "show", "runs/a.h5", "runs/b.h5"),
    "runs verify": _of("runs", "verify", "runs"),
    "runs tag": _of("runs", "tag", "wet", "runs/a.h5", "runs/b.h5"),
    "runs rename": _of("runs", "rename", "other", "runs/a.h5"),
    "runs note": _of("runs", "note", "lamp was off", "runs/b.h5"),
    "runs truth": _of("runs", "truth", "leaf", "--course", "course.toml", "runs/a.h5"),
    "runs cut": _of("runs", "cut", "several.h5", moves="several.h5"),
    "runs remove": _of("runs", "remove", "runs/a.h5", "runs/b.h5", moves="runs/a.h5 runs/b.h5"),
    "runs restore": _of("runs", "restore", "back.h5", moves=".removed/back.h5"),
    "capture": _of("capture", "text", "-o", "runs/new.h5", "--course", "course.toml", "--strategy", "hold", "--log",
                   "log.txt", writes="runs/new.h5 log.txt"),
    "capture --journal-only": _of("capture", "text", "-o", "runs/new.h5", "--journal-only"),
    "session": _of("session", "drives", "--folder", "runs", "--course", "course.toml", "--rest", "0.3", "--keep-all"),
    "ingest": _of("ingest", "text", "-o", "runs/new.h5", writes="runs/new.h5"),
    "export": _of("export", "runs/a.h5", "-o", "a.csv", writes="a.csv a.csv.json"),
    "export parquet": _of("export", "runs/a.h5", "-o", "a.parquet", writes="a.parquet"),
    "export --back": _of("export", "--back", "kept.csv", "-o", "back.h5", writes="back.h5"),
    "export --back parquet": _of("export", "--back", "kept.parquet", "-o", "back.h5", writes="back.h5"),
    "compare": _of("compare", "runs/a.h5", "runs/b.h5", *HOLD, "--json", "out.json", "--junit", "out.xml",
                   writes="out.json out.xml"),
    "compare own": _of("compare", "runs/a.h5", "--strategy", "ours.toml", "--palette", "palette.toml", "--course",
                       "course.toml"),
    "guard --keep": _of("guard", "runs/a.h5", "--keep", "agreed.txt", *HOLD, writes="agreed.txt"),
    "guard --check": _of("guard", "--check", "held.txt"),
    "report": _of("report", "runs/a.h5", *HOLD, "-o", "page.html", writes="page.html"),
    "tune": _of("tune", "like.h5", *HOLD, "--over", "hold.samples=1..2", "--as-recorded", "-j", "1", "--json", "out.json",
                writes="out.json", each=2),
    "stress": _of("stress", "like.h5", *HOLD, "--only", "light", "--no-pairs", "--copies", "1", "-j", "1", "--json",
                  "out.json", writes="out.json", each=2),
    "next": _of("next", "like.h5", *HOLD, each=2),
    "strategies": _of("strategies", "ours.toml", "--toml"),
    "calibrate": _of("calibrate", "none=none", "rust=rust", "-o", "palette.toml", writes="palette.toml"),
    "recheck": _of("recheck", "made.toml", "none=none", "rust=rust"),
    "emitter": _of("emitter", "-o", "emitter.py", writes="emitter.py"),
    "emitter --force": _of("emitter", "-o", "robot.py", "--force", writes="robot.py"),
    "reader": _of("reader", *LIKE, "-o", "robot", writes="robot/reader.py robot/check.py"),
    "reader --force c": _of("reader", *LIKE, "-o", "held", "--language", "c", "--force",
                            writes="held/reader.h held/reader.c held/check.c"),
    "recipe": _of("recipe", *LIKE, "-o", "recipe.html", writes="recipe.html"),
    "recipe pdf": _of("recipe", *LIKE, "-o", "recipe.pdf", writes="recipe.pdf"),
    "card --force": _of("card", *LIKE, "-o", "card.html", "--force", writes="card.html", each=2),
    "robot": _of("robot", "--link", "stdout", "--speed-up", "0", "--course", "course.toml"),
    "robot --like": _of("robot", "--like", "like.h5", "--show-model", each=2),
    "demo": _of("demo", "--folder", "demo", "--runs", "1", "--speed-up", "60", each=40),
    "ports": _of("ports"),
    "doctor": _of("doctor", "--json", "out.json", writes="out.json"),
    "completion": _of("completion", "bash"),
    "window": _of("window", "--folder", "runs", "--settings", "settings.ini", "--look", "light", moves="runs/b.h5"),
    "screenshots": _of("screenshots", "-o", "pictures", "--scale", "1", "--here", each=149,
                       writes="pictures/01-start-light-100.png pictures/02-live-dark-100.png"),
}  # fmt: skip
"""A window is used by ``at_the_window``; what ``screenshots`` drives lies in a folder of its own, only pictures here."""


def prepare(place: Path) -> None:
    """Make the folder."""
    runs = place / "runs"
    runs.mkdir(parents=True)
    for name, rows in (("a", 120), ("b", 60)):
        make_recording(write_journal(runs / f"{name}.h5", stream(rows), Meta(name=name, course=COURSE, truth=("rust",))))
    several = [*stream(200), *stream(200)]  # by its clock the robot starts anew between
    make_recording(write_journal(place / "several.h5", several, Meta(name="several")))
    (place / ".removed").mkdir()
    shutil.copy(runs / "b.h5", place / ".removed" / "back.h5")
    write_journal(runs / "left.h5", stream(40), Meta(name="left"), end=False)
    shutil.copy(DRIVEN, place / "like.h5")
    (place / "course.toml").write_text(COURSE)
    (place / "palette.toml").write_text(palette_text(default_palette()))
    (place / "ours.toml").write_text(write_toml(STRATEGIES["hold"]))
    (place / "text").write_bytes(b"".join(stream(50)))
    (place / "drives").write_bytes(b"".join(stream(120)) + b"".join(_at_rest(1, 2300)) + b"".join(stream(120)))
    for name, level in (("none", 40), ("rust", 400)):
        (place / name).write_bytes(HEADER + b"".join(_still(name, level)))
    for name in ("agreed.txt", "out.json", "robot.py", "held/reader.h", "held/reader.c", "held/check.c", "card.html"):
        (place / name).parent.mkdir(exist_ok=True)
        (place / name).write_text("what was there before\n")
    for name in ("thesis.odt", "film.mp4.part", "runs/theirs.journal", "runs/photo.h5.part"):
        (place / name).write_bytes(b"of others")
    with quiet(), contextlib.chdir(place):
        for kind in ("csv", "parquet"):
            assert sidelong(["export", "runs/a.h5", "-o", f"kept.{kind}"]) == 0
        assert sidelong(["guard", "runs/a.h5", "--keep", "held.txt", *HOLD]) == 0
        assert sidelong(["calibrate", "none=none", "rust=rust", "-o", "made.toml"]) == 0


def _still(colour: str, level: int) -> Iterator[bytes]:
    for i in range(80):
        noise = i * 7919 % 13
        yield f"{i},{1000 + 10 * i},{colour},{40 + noise},{level + noise},{200 + noise},{100 + i % 7},0.0,0.0\n".encode()


def _at_rest(seconds: int, from_ms: int) -> Iterator[bytes]:
    for i in range(100 * seconds):
        yield f"{120 + i},{from_ms + 10 * i},none,40,300,200,100,0.0,14.4\n".encode()


@contextlib.contextmanager
def quiet() -> Iterator[io.StringIO]:
    """What is printed goes nowhere; what is said as an error can be asked for."""
    said = io.StringIO()
    with contextlib.redirect_stdout(io.TextIOWrapper(io.BytesIO())), contextlib.redirect_stderr(said):
        yield said
