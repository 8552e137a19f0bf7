"""``sidelong runs``: list, search, cut, rename, tag and remove recordings, and set what really stood there."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.commands import put_away
from telemetry.commands.capture import Progress, say, say_recovered
from telemetry.commands.one_by_one import one_by_one
from telemetry.commands.options import STANDARD_OUTPUT, json_option, old_name, write_json
from telemetry.errors import EXIT_DIFFERS, EXIT_OK, NotThereError, UsageError
from telemetry.safe_text import for_json

if TYPE_CHECKING:
    from telemetry.recording.library import Entry
    from telemetry.recording.meta import Meta


def arguments(parser: argparse.ArgumentParser) -> None:
    actions = parser.add_subparsers(dest="action", metavar="ACTION")
    listing = actions.add_parser("list", help="the recordings of a folder (this is also what 'sidelong runs' alone does)")
    listing.add_argument("folder", type=Path, nargs="?", default=Path("runs"), metavar="FOLDER", help="default: runs")
    listing.add_argument("--on", default="", metavar="NAME", help="only on this course (a part of its name will do)")
    old_name(listing, "--course", "--on", metavar="NAME")
    listing.add_argument("--tag", default="", metavar="WORD", help="only with this tag")
    listing.add_argument("--since", default="", metavar="DATE", help="only from this day on: 2026-05, 2026-05-17")
    listing.add_argument("--until", default="", metavar="DATE", help="only up to this day")
    listing.add_argument("--entered", choices=("yes", "no"), help="only runs whose actual colours are entered, or not")
    old_name(listing, "--truth", "--entered", choices=("known", "unknown"))
    listing.add_argument("--text", default="", metavar="WORDS", help="only with this in name, remarks or driving logic")
    json_option(listing, "the list")
    verify = actions.add_parser("verify", help="read every bit of recordings and say which are damaged (exit code 1)")
    verify.add_argument("places", type=Path, nargs="+", metavar="FILE|FOLDER")
    show = actions.add_parser("show", help="everything that is known about recordings")
    show.add_argument("--raw", action="store_true", help="the robot's text, byte for byte, and nothing else")
    tag = actions.add_parser("tag", help="add tags, or take them away")
    tag.add_argument("words", metavar="WORDS", help="tags, separated by commas")
    tag.add_argument("--remove", action="store_true", help="take them away")
    name = actions.add_parser("rename", help="change a run's name (the file name stays)")
    name.add_argument("name")
    truth = actions.add_parser("truth", help="set what really stood there")
    truth.add_argument("colours", metavar="COLOURS", help="rust,leaf,... or 'tag 1=rust,...'; 'unknown' takes it away")
    truth.add_argument("--course", type=Path, metavar="FILE", help="set this course first")
    note = actions.add_parser("note", help="replace the remarks")
    note.add_argument("text", metavar="TEXT")
    cut = actions.add_parser("cut", help="make each drive of a recording a run of its own; the whole goes to .removed")
    remove = actions.add_parser("remove", help="take recordings out of their folder (into .removed in it)")
    restore = actions.add_parser("restore", help="bring back what was removed under this name")
    for choice in actions._choices_actions:
        said = choice.help or ""
        actions.choices[choice.dest].description = f"{said[:1].upper()}{said[1:]}."
    for action in (show, tag, name, truth, note, cut, remove, restore):
        action.add_argument("files", type=Path, nargs="+", metavar="FILE")


def run(args: argparse.Namespace) -> int:
    if args.action is None:
        args.folder, args.json, args.entered = Path("runs"), None, None
        args.on = args.tag = args.since = args.until = args.text = ""
        return _list(args)
    actions: dict[str, Callable[[argparse.Namespace], int]] = {
        "list": _list, "show": _show, "verify": _verify,
        "cut": put_away.cut, "remove": put_away.remove, "restore": put_away.restore,
    }  # fmt: skip
    return actions.get(args.action, _change)(args)


def _list(args: argparse.Namespace) -> int:
    from telemetry.recording.library import entries, search
    from telemetry.wording import counted

    for date in (args.since, args.until):
        if date and not date.replace("-", "").isdigit():
            raise UsageError(f"'{date}' is not a date", todo="Write it as 2026, 2026-05 or 2026-05-17")
    if args.json is not None and Path(args.json).is_dir():  # the folder was meant, as in 'runs list --json runs'
        args.folder, args.json = Path(args.json), STANDARD_OUTPUT
    say_recovered(args.folder)
    known = None if args.entered is None else args.entered in {"yes", "known"}
    everything = entries(args.folder, progress=Progress("reading recordings for the first time"))
    found = search(
        everything, course=args.on, tag=args.tag, since=args.since, until=args.until, truth_known=known, text=args.text
    )
    if args.json:
        write_json(for_json([asdict(entry) for entry in found]), args.json)
        return EXIT_OK
    if found:
        _print_table(found)
    hidden = len(everything) - len(found)
    others = f" ({counted(hidden, 'other')} left out)" if hidden else ""
    say(f"{counted(len(found), 'recording')} in {args.folder}{others}")
    damaged = sum(entry.state == "damaged" for entry in found)
    if damaged:
        say(f"{damaged} of them damaged: see 'sidelong runs show FILE'")
    return EXIT_OK


def _verify(args: argparse.Namespace) -> int:
    from itertools import chain

    from telemetry.recording.verify import verify, verify_folder
    from telemetry.wording import counted

    progress = Progress("reading every bit")
    found = chain.from_iterable(
        verify_folder(place, progress) if place.is_dir() else [verify(place)] for place in args.places
    )
    count = damaged = earlier = 0
    for one in found:
        count += 1
        earlier += one.by != "CRC-32" and not one.problem
        if one.problem:
            damaged += 1
            say(f"{one.path}: damaged: {one.problem}")
    say(f"{counted(count, 'file')} read to the last bit: {count - damaged} whole, {damaged} damaged")
    if earlier:
        say(f"{earlier} of them, of an earlier layout without CRC-32, were held against their raw bytes")
    return EXIT_DIFFERS if damaged else EXIT_OK


def _print_table(found: list[Entry]) -> None:
    from telemetry.report.table import TableColumn, printable, show, table

    columns = [
        TableColumn("file", fixed=True),
        TableColumn("made", fixed=True),
        *(TableColumn(name) for name in ("course", "truth", "tags", "driven by")),
    ]
    columns[2:2] = [TableColumn("samples", right=True), TableColumn("s", right=True)]
    columns.append(TableColumn("state"))
    rows = [
        [
            printable(_called(entry)),
            printable(entry.made[:16].replace("T", " ")),
            str(entry.rows),
            f"{entry.seconds:.1f}" if entry.seconds else "-",
            printable(entry.course) or "-",
            "known" if entry.truth is not None else "-",
            printable(" ".join(entry.tags)) or "-",
            printable(entry.driven_by) or "-",
            printable(_state(entry)),
        ]
        for entry in found
    ]
    show(table(columns, rows))


def _called(entry: Entry) -> str:
    """The file's name, and the run's where it is another one."""
    path = Path(entry.path)
    return path.name if entry.title == path.stem else f"{path.name} ({entry.title})"


def _state(entry: Entry) -> str:
    parts: list[str] = [entry.state] if entry.state != "whole" else []
    parts += ["simulated"] if entry.simulated else []
    parts += [
        f"{count} {what}"
        for count, what in ((entry.gaps, "gaps"), (entry.rejected, "rejected"), (entry.lost, "lost"))
        if count
    ]
    return ", ".join(parts) or "-"


def _show(args: argparse.Namespace) -> int:
    import sys

    from telemetry.recording.load import load

    damaged: list[Path] = []

    def one(path: Path) -> None:
        recording = load(path)
        if args.raw:
            for _, data in recording.raw():
                if sys.stdout.isatty():
                    sys.stdout.write(data.decode("utf-8", "replace"))
                else:
                    sys.stdout.buffer.write(data)
            return
        from telemetry.report.recording_text import describe

        for line in describe(recording):
            say(line)
        if recording.damage:
            damaged.append(path)

    return one_by_one(args.files, one) or (EXIT_DIFFERS if damaged else EXIT_OK)


def _change(args: argparse.Namespace) -> int:
    if args.action == "truth" and Path(args.colours).is_file():
        raise UsageError(f"{args.colours} is a file, and the colours come first", todo="sidelong runs truth COLOURS FILE")
    first = {"tag": "words", "rename": "name", "note": "text"}.get(args.action, "")
    if first and Path(getattr(args, first)).is_file() and not any(path.exists() for path in args.files):
        given = getattr(args, first)
        todo = f"sidelong runs {args.action} {first.upper()} FILE"
        raise UsageError(f"{given} is a file, and the {first} come{'s' * (first != 'words')} first", todo=todo)
    if args.action == "truth" and args.colours.endswith(","):
        todo = "Put no blank after a comma, or the whole list in quotation marks."
        raise UsageError(f"'{args.colours} {args.files[0]}' is not one word", todo=todo)
    if args.action == "truth" and "," not in args.colours and any(not path.exists() for path in args.files):
        missing = next(path for path in args.files if not path.exists())
        todo = "The colours of a truth have commas between and no blanks: rust,leaf,white FILE."
        raise NotThereError("there is no such file", where=str(missing), todo=todo)
    return one_by_one(args.files, lambda path: say(f"{path}: {_changed(args, path)}"))


def _changed(args: argparse.Namespace, path: Path) -> str:
    from telemetry.recording import relabel

    if args.action == "tag":
        words = tuple(word.strip() for word in args.words.split(",") if word.strip())
        return "tags " + (" ".join(relabel.add_tags(path, words, remove=args.remove).tags) or "none")
    if args.action == "rename":
        return f"is called {relabel.rename(path, args.name).name}"
    if args.action == "note":
        return f"remarks {relabel.remark(path, args.text).remarks}"
    return f"truth {_set_truth(args, path)}"


def _set_truth(args: argparse.Namespace, path: Path) -> str:
    from dataclasses import replace

    from telemetry.course import format_truth, load_course, parse_course, parse_truth
    from telemetry.errors import TruthError
    from telemetry.recording.relabel import relabel

    given = load_course(args.course) if args.course is not None else None

    def change(meta: Meta) -> Meta:
        course = given or (parse_course(meta.course) if meta.course else None)
        if args.colours == "unknown":
            return replace(meta, truth=None)
        if course is None:
            raise TruthError(
                "this recording has no course, so its slots are not known", where=str(path), todo="Give --course FILE"
            )
        return replace(meta, course=course.text, truth=parse_truth(args.colours, course, "truth"))

    truth = relabel(path, change).truth
    return "unknown" if truth is None else format_truth(truth)
