"""The labels of a run on the command line: the same words for ``capture``, ``session`` and ``ingest``."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.errors import CourseError, UsageError

if TYPE_CHECKING:
    from telemetry.course import Course
    from telemetry.palette import Palette
    from telemetry.recording.meta import Meta


def label_arguments(parser: argparse.ArgumentParser, *, truth: bool = True) -> None:
    """Everything that describes a run."""
    group = parser.add_argument_group("labels (sidelong runs sets name, tags, remarks, truth and its course later, too)")
    group.add_argument("--course", type=Path, metavar="FILE", help="what stands on the field (TOML)")
    if truth:
        group.add_argument("--truth", metavar="COLOURS", help="what really stands there: rust,leaf,... or 'tag 1=rust,...'")
    group.add_argument("--palette", type=Path, metavar="FILE", help="what the colours look like to this sensor")
    group.add_argument("--name", default="", help="what to call the run")
    group.add_argument("--tag", action="append", default=[], metavar="WORD", help="may be given more than once")
    group.add_argument("--driven-by", default="", metavar="LOGIC", help="which logic steered the robot in this run")
    group.add_argument("--robot", default="", help="which robot")
    group.add_argument("--sensor-mode", default="", metavar="MODE", help="colour, raw, reflected light...")
    group.add_argument("--light", default="", help="hall lamps, window, ...")
    group.add_argument("--height", type=float, metavar="MM", help="of the sensor above the field, in mm")
    group.add_argument("--battery", default="", help="free text: 7.9 V, 80 %%, fresh")
    group.add_argument("--remarks", default="", metavar="TEXT", help="anything else")
    stream = parser.add_argument_group("the stream")
    stream.add_argument(
        "--columns", default="", metavar="NAMES", help='for a robot without header: "t/ms,colour,dist/cm"'
    )


def course_of(args: argparse.Namespace) -> Course | None:
    """The course that was named. Raises CourseError."""
    from telemetry.course import load_course

    return None if args.course is None else load_course(args.course)


def palette_of(args: argparse.Namespace) -> Palette | None:
    """The palette that was named. Raises PaletteError."""
    from telemetry.palette_file import read_palette

    return None if args.palette is None else read_palette(args.palette)


def meta_of(args: argparse.Namespace, *, source: str, course: Course | None, palette: Palette | None) -> Meta:
    """The labels, each checked. Raises CourseError, TruthError, StreamError or UsageError."""
    from telemetry.course import parse_truth
    from telemetry.palette_file import palette_text
    from telemetry.recording.meta import Meta
    from telemetry.stream.decoder import Decoder

    truth = getattr(args, "truth", None)
    if truth is not None and course is None:
        raise UsageError("--truth needs --course, which says what the slots are")
    if args.columns:
        Decoder(args.columns)
    return Meta(
        name=args.name,
        course=course.text if course is not None else "",
        truth=parse_truth(truth, course, "--truth") if truth is not None and course is not None else None,
        tags=tuple(dict.fromkeys(args.tag)),
        driven_by=args.driven_by,
        robot=args.robot,
        sensor_mode=args.sensor_mode,
        light=args.light,
        height_mm=args.height,
        battery=args.battery,
        remarks=args.remarks,
        source=source,
        baud=getattr(args, "baud", None),
        columns=args.columns,
        palette=palette_text(palette) if palette is not None else "",
        strategy=",".join(getattr(args, "strategy", None) or ()),
        simulated=source.startswith("robot:"),
    )


def target_path(output: Path | None, folder: Path, course: Course | None, name: str) -> Path:
    """Where the recording goes: the file asked for, or a new name in ``folder`` made of the time and what it is about.

    Raises UsageError where the file asked for is called like something else.
    """
    from telemetry.recording.names import recording_called

    if output is not None:
        if output.is_dir():
            raise UsageError("is a folder", where=str(output), todo="Name the file in it, or say --folder")
        return recording_called(output)
    about = _slug(name or (course.name if course is not None else "run"))
    stem = f"{datetime.now().astimezone():%Y-%m-%d_%H-%M-%S}_{about}"
    path, number = folder / f"{stem}.h5", 2
    while path.exists() or path.with_name(path.name + ".journal").exists():
        path, number = folder / f"{stem}-{number}.h5", number + 1
    return path


def slots_of(course: Course | None) -> tuple[str, ...]:
    """The names of the course's slots. Raises CourseError where there is no course."""
    if course is None:
        raise CourseError("no course is known", todo="Give one with --course")
    return tuple(slot.name for slot in course.slots)


def _slug(text: str) -> str:
    words = "".join(one if one.isalnum() else " " for one in text.lower()).split()
    return "-".join(words)[:40] or "run"
