"""``sidelong capture``: record a run live and show the readings as they are made."""

from __future__ import annotations

import argparse
import math
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from telemetry.commands.labels import course_of, label_arguments, meta_of, palette_of, target_path
from telemetry.errors import EXIT_OK, LinkError, UsageError, as_sentence
from telemetry.safe_text import over_the_line
from telemetry.sources.ble.options import PREFIX, RADIO_NOTE, ble_arguments, ble_options

if TYPE_CHECKING:
    from telemetry.commands.live import LiveView
    from telemetry.recording.capture import Capture

LOOK_S = 0.1
"""How often new lines are looked at: nobody sees a difference, and it costs a fraction of waking for every line."""


def arguments(parser: argparse.ArgumentParser) -> None:
    link_arguments(parser)
    where = parser.add_mutually_exclusive_group()
    where.add_argument("-o", "--output", type=Path, metavar="FILE", help="the recording to make (.h5)")
    where.add_argument("--folder", type=Path, default=Path("runs"), help="or the folder it goes to (default: runs)")
    parser.add_argument("--for", dest="seconds", type=float, metavar="S", help="end after S seconds (default: never)")
    parser.add_argument(
        "--strategy",
        action="append",
        metavar="NAME|FILE",
        help="whose readings to show (default with a course: windows, or checklist where it knows no places)",
    )
    parser.add_argument("--log", type=Path, metavar="FILE", help="write each reading as a line of JSON when it is made")
    parser.add_argument("-q", "--quiet", action="store_true", help="record without printing readings")
    later = "leave the journal; a later start makes the recording of it"
    parser.add_argument("--journal-only", action="store_true", help=later)
    label_arguments(parser)


def link_arguments(parser: argparse.ArgumentParser) -> None:
    """Where the robot is and how to talk to it."""
    parser.add_argument("port", metavar="PORT", help="COM3, /dev/ttyACM0, socket://host:port, ble:NAME, robot:LEVEL")
    link = parser.add_argument_group("the link")
    link.add_argument("--baud", type=int, default=115200, help="bits per second on a serial port (default: 115200)")
    link.add_argument("--dtr", choices=("on", "off"), help="set this control line (some boards restart by it)")
    link.add_argument("--rts", choices=("on", "off"), help="set this control line")
    link.add_argument(
        "--reconnect", type=float, metavar="S",
        help="when the link drops, look for the robot for S seconds and go on in the same recording (default: for ever;"
             " a robot that closes its network connection has ended, unless S is given)",
    )  # fmt: skip
    link.add_argument("--no-reconnect", dest="reconnect", action="store_const", const=0.0, help="end when the link drops")
    ble_arguments(parser)


def link_options(args: argparse.Namespace) -> dict[str, Any]:
    """What ``open_source`` is to be told. Raises UsageError."""
    if args.baud <= 0:
        raise UsageError("--baud must be more than 0")
    if args.reconnect is not None and not args.reconnect >= 0.0:
        raise UsageError("--reconnect must be 0 or more")
    lines = {name: getattr(args, name) == "on" for name in ("dtr", "rts") if getattr(args, name) is not None}
    asked = args.reconnect is not None
    seek = {"reconnect_s": args.reconnect if asked else math.inf, "end_is_drop": asked}
    return {"baud": args.baud, **seek, **lines, **ble_options(args)}


def run(args: argparse.Namespace) -> int:
    from telemetry.commands.live import LiveView, ReadingLog
    from telemetry.live.defaults import default_strategy
    from telemetry.live.reader import LiveReader
    from telemetry.live.readings import LiveReadings, check_strategies
    from telemetry.logbook import begin_log
    from telemetry.reading.load import load_strategy
    from telemetry.recording.capture import Capture
    from telemetry.recording.follow import Follower
    from telemetry.sources import open_source

    if args.seconds is not None and not args.seconds > 0:
        raise UsageError("--for must be more than 0 seconds")
    if args.log is not None and args.quiet:
        raise UsageError("--log and --quiet cannot be combined")
    options = link_options(args)
    course, palette = course_of(args), palette_of(args)
    names = args.strategy or ([default_strategy(course)] if course is not None else [])
    if names and course is None:
        raise UsageError("--strategy needs --course, which says what the slots are")
    strategies = {name: load_strategy(name) for name in names}
    meta = meta_of(args, source=args.port, course=course, palette=palette)
    path = target_path(args.output, args.folder, course, args.name)
    if not args.journal_only:
        say_recovered(path.parent)
    if course is not None:
        check_strategies(strategies, course)
    capture = Capture(open_source(args.port, **options), path, meta)
    if args.port.startswith(PREFIX):
        say(RADIO_NOTE)
    begin_log()
    with ReadingLog(args.log) if args.log is not None else nullcontext() as log:
        capture.start()
        enter = ", Enter marks a moment" if sys.stdin.isatty() else ""
        say(f"capturing from {args.port} into {path} (Ctrl-C ends it{enter})")
        mark_by_keyboard(capture)
        view = None
        with stop_signals(capture):
            if not args.quiet:
                readings = LiveReadings(course, strategies, palette) if course is not None and strategies else None
                view = LiveView(LiveReader(Follower(path, keep_samples=readings is not None), readings), say, log)
            _wait(capture, view, args.seconds, args.port)
        if view is not None:
            view.follower.close()
    return leave(capture, args.port) if args.journal_only else finish(capture, args.port)


def _wait(capture: Capture, view: LiveView | None, seconds: float | None, where: str) -> None:
    """Until the capture is over. A watcher that fails never stops it."""
    started_us = capture.now_us()
    until = math.inf if seconds is None else time.monotonic() + seconds
    while capture.running:
        capture.wait_until_over(max(0.0, min(LOOK_S, until - time.monotonic())))
        if time.monotonic() >= until:
            capture.stop("the time was up")
        if view is None:
            continue
        try:
            view.poll()
            view.step()
            view.watch_silence(capture.now_us(), started_us, where)
        except Exception as error:
            view = None
            _without(error)
    if view is not None:
        try:
            view.finish()
        except Exception as error:
            _without(error)


def _without(error: Exception) -> None:
    with suppress(OSError):
        what = str(error).rstrip(".")
        print(f"sidelong: the live readings ended: {what}. The capture goes on", file=sys.stderr, flush=True)


def finish(capture: Capture, where: str) -> int:
    """Make the recording and say what is in it; raise what ended the capture against the user's will."""
    made = capture.close(progress=Progress("making the recording"))
    if made is None:
        raise capture.error or _nothing(where)
    from telemetry.report.just_made import JustMade

    just_made = JustMade(capture.path, made.summary)
    say(just_made.line())
    if made.summary.link:
        from telemetry.report.link_words import totals_words

        say(totals_words(made.summary.link))
    for words in just_made.warnings():
        say(f"note: {words}")
    if capture.error is not None:
        raise capture.error
    return EXIT_OK


def leave(capture: Capture, where: str) -> int:
    """Leave the journal to whoever cuts runs out of it; raise what ended the capture against the user's will."""
    if not capture.leave():
        raise capture.error or _nothing(where)
    if capture.error is not None:
        raise capture.error
    say(f"{capture.path}: left as a journal")
    return EXIT_OK


def _nothing(where: str) -> LinkError:
    return LinkError("nothing arrived, so there is no recording", where=where, todo="Is the robot's program running?")


def say(text: str) -> None:
    """A line for the user; whoever closed the output has no wish to read it."""
    from telemetry.report.table import show

    with suppress(BrokenPipeError):
        show([text])
        sys.stdout.flush()


def say_recovered(folder: Path) -> None:
    """Make recordings of what an earlier capture left behind, and say so."""
    from telemetry.recording.make import recover

    for found in recover(folder, progress=Progress("recovering")):
        print(f"sidelong: {as_sentence(found)}", file=sys.stderr, flush=True)


class Progress:
    """Says how far a long job is, on a terminal and after the first second only."""

    def __init__(self, what: str) -> None:
        self._what = what
        self._next = time.monotonic() + 1.0
        self._said = False

    def __call__(self, share: float) -> None:
        if time.monotonic() < self._next:
            return
        from telemetry.report.progress import is_wanted

        if not is_wanted():
            return
        self._next = time.monotonic() + 0.5
        self._said = True
        words = f"{self._what}: {share * 100:3.0f} %"
        if sys.stderr.isatty():
            over_the_line(words, sys.stderr)
        else:
            print(words, file=sys.stderr, flush=True)


def mark_by_keyboard(capture: Capture) -> None:
    """On a terminal, Enter marks this moment, with the text typed before it."""
    import threading

    def listen() -> None:
        for line in sys.stdin:
            if capture.running:
                capture.mark(line.strip())
                say("marked")

    if sys.stdin.isatty():
        threading.Thread(target=listen, name="marks", daemon=True).start()


@contextmanager
def stop_signals(capture: Capture) -> Iterator[None]:
    """Ctrl-C and a polite kill end the capture in good order; a second Ctrl-C leaves at once (the journal is safe).

    A closing terminal sends two signals, so what comes after the first changes nothing, until the command has ended.
    """

    def note(number: int, frame: object) -> None:  # noqa: ARG001 - the system's signature
        capture.signals.append(number)

    wanted = [signal.SIGINT, signal.SIGTERM, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])]
    # What was told to be ignored, as nohup does, stays ignored.
    before = {number: signal.signal(number, note) for number in wanted if signal.getsignal(number) is not signal.SIG_IGN}
    try:
        yield
    finally:
        for number, handler in before.items():
            if number == signal.SIGINT or not capture.signals:
                signal.signal(number, handler)
