"""``sidelong session``: records each run of a practice session by itself, and asks what stood there."""

from __future__ import annotations

import argparse
import sys
import time
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.commands.capture import Progress, link_arguments, link_options, say, say_recovered, stop_signals
from telemetry.commands.labels import course_of, label_arguments, meta_of, palette_of, target_path
from telemetry.commands.options import old_name
from telemetry.errors import EXIT_OK, SidelongError, UsageError
from telemetry.safe_text import as_typed
from telemetry.stream.drives import LEAD_S, SHORTEST_S, STILL_S

if TYPE_CHECKING:
    from telemetry.course import Course
    from telemetry.recording.capture import Capture
    from telemetry.recording.meta import Meta
    from telemetry.stream.drives import RunDetector, RunFound

SESSION_TAG = "session"


def arguments(parser: argparse.ArgumentParser) -> None:
    link_arguments(parser)
    parser.add_argument("--folder", type=Path, default=Path("runs"), help="where the runs go (default: runs)")
    rest = f"end a run after S seconds at rest (default: {STILL_S:g})"
    lead = f"begin a run S seconds before the robot moves off (default: {LEAD_S:g})"
    parser.add_argument("--rest", type=float, default=STILL_S, metavar="S", help=rest)
    old_name(parser, "--still", "--rest", type=float, metavar="S")
    parser.add_argument("--lead", type=float, default=LEAD_S, metavar="S", help=lead)
    parser.add_argument("--start-note", default="", metavar="TEXT", help="a run begins at this note of the robot's program")
    parser.add_argument("--stop-note", default="", metavar="TEXT", help="a run ends at this note of the robot's program")
    parser.add_argument("--no-ask", action="store_true", help="do not ask for the truth after each run")
    parser.add_argument("--keep-all", action="store_true", help="keep the whole session as one recording too")
    label_arguments(parser, truth=False)


def run(args: argparse.Namespace) -> int:
    from telemetry.logbook import begin_log
    from telemetry.recording.capture import Capture
    from telemetry.sources import open_source
    from telemetry.stream.drives import RunDetector

    if args.rest <= 0 or args.lead < 0:
        raise UsageError("--rest must be more than 0 seconds, --lead 0 or more")
    options = link_options(args)
    course, palette = course_of(args), palette_of(args)
    meta = meta_of(args, source=args.port, course=course, palette=palette)
    path = target_path(None, args.folder, course, "session")
    say_recovered(args.folder)
    whole = replace(meta, tags=(*meta.tags, SESSION_TAG), name=meta.name or "session")
    capture = Capture(open_source(args.port, **options), path, whole)
    begin_log()
    say_short_rest(args, course)
    capture.start()
    say(f"waiting for runs on {args.port}: every run goes to {args.folder} by itself (Ctrl-C ends the session)")
    if course is not None and not args.no_ask and not sys.stdin.isatty():
        say("note: no terminal is there to ask on: enter the colours later with 'sidelong runs truth COLOURS FILE'")
    detector = RunDetector(args.rest, args.lead, start_note=args.start_note, stop_note=args.stop_note)
    session = SessionDialogue(args, capture, detector, course, meta)
    with stop_signals(capture):
        while capture.running:
            capture.wait(0.1)
            session.step()
    return session.finish()


def say_short_rest(args: argparse.Namespace, course: Course | None) -> None:
    """A rest shorter than the usual one may be one of the robot's own stops, which are where a course's legs begin."""
    later = [leg.name for leg in course.legs[1:]] if course is not None else []
    if args.rest < STILL_S and not args.stop_note and later:
        say(f"note: a stop of {args.rest:g} s before leg '{later[0]}' ends the run too; --rest must be longer than it lasts")


class SessionDialogue:
    """Watches the stream, keeps each run as it ends, and asks what stood there."""

    def __init__(
        self, args: argparse.Namespace, capture: Capture, detector: RunDetector, course: Course | None, meta: Meta
    ) -> None:
        from telemetry.live.reader import LiveReader
        from telemetry.recording.follow import Follower

        self._args, self._capture, self._detector = args, capture, detector
        self._reader = LiveReader(Follower(capture.path), detector=detector)
        self._course, self._meta = course, meta
        self._asks = Questions(course) if course is not None and not args.no_ask and sys.stdin.isatty() else None
        self._in_run = False
        self._too_short = 0
        self._kept: list[Path] = []
        self._keep_whole: bool = args.keep_all
        self._said: set[str] = set()

    def step(self) -> None:
        """Take in what is new."""
        self._take_in()
        found = self._reader.detect()
        last_us = self._reader.follower.summary.last_us
        if self._detector.in_run and self._capture.now_us() - last_us > self._args.rest * 1e6:
            found += self._detector.finish(self._reader.table, "nothing arrives any more")
        for one in found:
            self._keep(one)
        if self._detector.too_short > self._too_short:
            self._too_short = self._detector.too_short
            longer = "" if self._args.stop_note else "; if the robot only stopped on its way, --rest must be longer"
            say(f"it moved for less than {SHORTEST_S:g} s: not kept as a run{longer}")
        if self._detector.in_run and not self._in_run:
            say(f"run {len(self._kept) + 1} begins")
        self._in_run = self._detector.in_run
        self._reader.forget()
        if self._asks is not None:
            self._asks.step()

    def finish(self) -> int:
        """Keep the last run, close, and only then wait for answers: whoever leaves at a question leaves nothing behind."""
        from telemetry.recording.removed import move, place_of_removed
        from telemetry.report.just_made import JustMade

        self._take_in()
        for one in self._detector.finish(self._reader.table):
            self._keep(one)
        self._reader.close()
        made = self._capture.close(progress=Progress("closing the session"))
        count = len(self._kept)
        say(f"{count} run{'s' * (count != 1)} kept in {self._args.folder}")
        if made is not None and (self._keep_whole or not self._kept):
            say(f"the whole session: {JustMade(self._capture.path, made.summary).line()}")
        elif made is not None and self._too_short:
            place = place_of_removed(self._capture.path)
            move(self._capture.path, place)
            say(f"What moved and was no run is in the whole session, {place}; to list it: sidelong runs restore "
                f"{as_typed(self._capture.path)}")  # fmt: skip
        elif made is not None:
            self._capture.path.unlink(missing_ok=True)
        if self._asks is not None:
            self._asks.finish()
        if self._kept and self._course is not None:
            say(f"next: sidelong compare {self._args.folder}")
        if self._capture.error is not None:
            raise self._capture.error
        return EXIT_OK

    def _take_in(self) -> None:
        while self._reader.poll():
            pass

    def _keep(self, found: RunFound) -> None:
        from telemetry.recording.cut import cut
        from telemetry.recording.disk.replacing import free_name
        from telemetry.report.just_made import JustMade

        begin_us, end_us = found.begin_us, found.end_us
        made = datetime.fromtimestamp(begin_us / 1e6, UTC)
        meta = replace(self._meta, simulated=self._reader.follower.meta.simulated)
        name = self._args.name and f"{self._args.name} {len(self._kept) + 1}"
        free = target_path(None, self._args.folder, self._course, self._args.name or "")
        try:
            labels, trail = replace(meta, name=name).begun(made), self._reader.follower.trail
            with free_name(free.parent, free.stem) as target:
                result = cut(self._capture.path, target, begin_us, end_us, labels, trail=trail)
        except SidelongError as error:
            self._keep_whole = True
            print(f"sidelong: this run could not be kept by itself, the whole session will be: {error}", file=sys.stderr)
            return
        self._kept.append(target)
        just_made = JustMade(target, result.summary)
        say(f"run {len(self._kept)} ({found.why}): {just_made.line()}")
        for words in just_made.warnings():
            if words not in self._said:
                self._said.add(words)
                say(f"note: {words}")
        if self._asks is not None:
            self._asks.ask(target)


class Questions:
    """Asks for the truth on the terminal, in a thread of its own: while the coach thinks, the next run is captured."""

    def __init__(self, course: Course) -> None:
        import queue
        import threading

        self._course = course
        self._open: list[Path] = []
        self._answers: queue.Queue[str] = queue.Queue()
        self._thread = threading.Thread(target=self._listen, name="truth", daemon=True)
        self._thread.start()

    def ask(self, path: Path) -> None:
        """What stood there in this run? Empty: not known."""
        self._open.append(path)
        if len(self._open) == 1:
            self._prompt()
        else:
            say(f"{path.name} is asked about after {self._open[0].name}")

    def step(self) -> None:
        """Take in an answer, if there is one."""
        while not self._answers.empty():
            self._answer(self._answers.get())

    def finish(self) -> None:
        """The last questions may be answered after the session, or left open with Ctrl-C."""
        from telemetry.wording import counted

        if self._open:
            say(f"all is kept; {counted(len(self._open), 'run')} still without a truth (Ctrl-C: later)")
            self._prompt()
        until = time.monotonic() + 600
        with suppress(KeyboardInterrupt):
            while self._open and time.monotonic() < until and self._thread.is_alive():
                time.sleep(0.05)
                self.step()
        for path in self._open:
            say(f"later: sidelong runs truth COLOUR,COLOUR,... {path}")

    def _listen(self) -> None:
        for line in sys.stdin:
            self._answers.put(line.strip())

    def _prompt(self) -> None:
        slots = ", ".join(slot.name for slot in self._course.slots)
        say(f"What stood there in {self._open[0].name}? {slots} (Enter: not known)")

    def _answer(self, text: str) -> None:
        from telemetry.course import parse_truth
        from telemetry.recording.relabel import set_truth

        if not self._open:
            return
        if text:
            try:
                set_truth(self._open[0], parse_truth(text, self._course, "truth"))
            except SidelongError as error:
                say(str(error))
                self._prompt()
                return
            say(f"{self._open[0].name}: {text}")
        self._open.pop(0)
        if self._open:
            self._prompt()
