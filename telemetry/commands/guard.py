"""sidelong guard: save today's readings as a baseline, and name everything that later differs."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.commands.compare import strategy_arguments
from telemetry.commands.options import no_recording, quiet_option, write_output

if TYPE_CHECKING:
    from telemetry.replay.baseline.check import RegressionCheck


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    parser.add_argument(
        "recordings", nargs="*", metavar="FILE|FOLDER", help="recordings or folders; --check: those of the baseline"
    )
    choice = parser.add_mutually_exclusive_group(required=True)
    keep = "save what the strategies read today to FILE, as the baseline"
    choice.add_argument("--keep", metavar="FILE", type=no_recording, help=keep)
    check = "compare with the baseline FILE: name every run and slot that differs"
    choice.add_argument("--check", metavar="FILE", help=check)
    strategy_arguments(parser)
    parser.add_argument("--palette", metavar="FILE", default="", help="the palette, instead of the recordings' own")
    parser.add_argument("--course", metavar="FILE", default="", help="the course, instead of the recordings' own")
    parser.epilog = (
        "FILE is text with one line a reading; keep it beside the code.\n"
        "The exit code is 1 when a reading differs; readings that are only more or less sure are named, and do not count.\n"
        "As a test for pytest, two lines in a file test_readings.py beside FILE:\n"
        "  from telemetry.cli import main\n"
        "  def test_readings(): assert main(['guard', '--check', 'FILE']) == 0"
    )
    quiet_option(parser)


def run(args: argparse.Namespace) -> int:
    """Keep or check."""
    return _keep(args) if args.keep else _check(args)


def _keep(args: argparse.Namespace) -> int:
    from telemetry.beside import set_aside
    from telemetry.commands.capture import Progress
    from telemetry.commands.one_by_one import told
    from telemetry.errors import UsageError
    from telemetry.recording.library import make_known
    from telemetry.replay.baseline.check import present
    from telemetry.replay.baseline.file import write_agreed
    from telemetry.replay.compare import ComparisonRequest
    from telemetry.replay.sources import find_recordings
    from telemetry.report.progress import WORKING, progress_line, signs_of_life
    from telemetry.wording import counted

    if not args.recordings:
        raise UsageError("there is nothing to keep", todo="Name the recordings: sidelong guard RECORDINGS --keep FILE")
    paths = find_recordings(args.recordings)
    make_known(paths, progress=Progress("reading recordings for the first time"))
    job = ComparisonRequest(tuple(args.strategy), tuple(args.settings), args.course, "", args.palette)
    target = Path(args.keep)
    with signs_of_life(WORKING):
        now, results, errors = present(paths, job, target.parent, progress_line("replayed", len(paths)))
    kept_runs = len(paths) - len(errors)
    if errors and (not kept_runs or target.exists()):
        # What is agreed already is not given up for less: a run left out would never be missed again.
        raise next(iter(errors.values()))
    text = write_agreed(now)
    before = None if _holds(target, text) else set_aside(target)
    write_output(target, text)

    readings = sum(len(kept.slots) for kept in now.runs.values())
    print(
        f"kept {counted(readings, 'reading')} as agreed: {counted(kept_runs, 'run')}, "
        f"{len(now.strategies)} {'strategy' if len(now.strategies) == 1 else 'strategies'}, "
        f"{f'palette {now.palette}' if now.palette else 'by the palette of each run'}, in {target}"
    )
    misread = sum(one.was_wrong for one in results.values())
    if misread:
        print(f"note: {counted(misread, 'result')} among them misread a run, and are kept as they are")
    if before is not None:
        print(f"What was in {target} before is kept as {before}.")
    return told(errors.values())


def _holds(target: Path, text: str) -> bool:
    """Whether just this is agreed there already."""
    from telemetry.beside import read_plain

    data = text.encode()
    return target.is_file() and target.stat().st_size == len(data) and read_plain(target, len(data)) == data


def _check(args: argparse.Namespace) -> int:
    from telemetry.commands.capture import Progress
    from telemetry.errors import EXIT_DIFFERS, EXIT_INPUT, EXIT_OK
    from telemetry.recording.journal.records import journal_path
    from telemetry.recording.library import make_known
    from telemetry.replay.baseline.check import check
    from telemetry.replay.baseline.file import read_agreed
    from telemetry.replay.baseline.specs import specs_of
    from telemetry.replay.compare import ComparisonRequest
    from telemetry.replay.sources import find_recordings
    from telemetry.report.progress import WORKING, progress_line, signs_of_life
    from telemetry.report.table import printable as shown
    from telemetry.report.table import show

    source = Path(args.check)
    agreed = read_agreed(source)
    folder = source.parent

    def there(word: str) -> str:
        return str(folder / word) if word else ""

    agreed_on = [folder / recording for recording in dict.fromkeys(recording for _, recording in agreed.runs)]
    there_now = [path for path in agreed_on if path.exists() or journal_path(path).exists()]
    paths = find_recordings(args.recordings) if args.recordings else there_now
    make_known(paths, progress=Progress("reading recordings for the first time"))
    known, code = specs_of(agreed, folder)
    specs = args.strategy or known
    unrun = {} if args.strategy else code
    for name, file in unrun.items():
        where = shown(file)
        print(
            f"sidelong: not checked: {shown(name)} is code in {where}, and code runs only where the command names it. "
            f"After reading it: sidelong guard --check {shown(args.check)} --strategy {where}", file=sys.stderr,
        )  # fmt: skip
    if not specs:
        return EXIT_INPUT
    job = ComparisonRequest(
        tuple(specs), tuple(args.settings or agreed.settings), args.course or there(agreed.course), "",
        args.palette or there(agreed.palette),
    )  # fmt: skip
    with signs_of_life(WORKING):
        found = check(agreed, paths, job, folder, progress_line("replayed", len(paths)))
    show(_lines(found, args.check))
    if found.differences:
        return EXIT_DIFFERS
    return EXIT_INPUT if unrun else EXIT_OK


def _lines(found: RegressionCheck, name: str) -> list[str]:
    from collections import Counter

    from telemetry.replay.baseline.check import DifferenceKind
    from telemetry.report.table import printable, wrap
    from telemetry.wording import counted, sentences

    lines: list[str] = []
    for sentence in sentences(found.strategies):
        lines += wrap(printable(sentence))
    heading = ""
    for one in found.differences:
        if heading != f"{one.strategy}, {one.recording}":
            heading = f"{one.strategy}, {one.recording}"
            lines += ["", printable(heading)]
        what = f"{one.slot}: " if one.slot else ""
        why = f" ({one.why})" if one.why else ""
        kind = "" if one.kind in {DifferenceKind.OTHER, DifferenceKind.GONE} else f"{one.kind.value}: "
        lines += wrap(printable(f"{kind}{what}was {one.was}, is {one.now}{why}"), "  ")
    if found.surer:
        lines += ["", "The same colour, but more or less sure:"]
        for one in found.surer:
            lines += wrap(printable(f"{one.strategy}, {one.recording}, {one.slot}: was {one.was}, is {one.now}"), "  ")
    if found.new:
        listed = ", ".join(found.new[:3]) + (f" and {len(found.new) - 3} more" if len(found.new) > 3 else "")
        lines += ["", *wrap(printable(f"not agreed on yet: {listed}; --keep takes them in"))]
    runs = {(one.strategy, one.recording) for one in found.differences}
    if found.differences:
        kinds: Counter[DifferenceKind] = Counter()
        for one in found.differences:
            kinds[one.kind] += one.readings
        slots = f"{kinds.total()} {'reading differs' if kinds.total() == 1 else 'readings differ'}"
        told = ", ".join(f"{kinds[kind]} {kind.value}" for kind in DifferenceKind if kinds[kind])
        lines += ["", f"{slots} from {name}, in {len(runs)} {'replay' if len(runs) == 1 else 'replays'}: {told}"]
    else:
        same = f"all {counted(found.readings, 'reading')} of {counted(found.runs, 'run')} are as agreed in {name}"
        lines += [*([""] if lines else []), same.replace("all no", "no").replace("all 1 reading", "the one reading")]
    return lines[1:] if lines and not lines[0] else lines
