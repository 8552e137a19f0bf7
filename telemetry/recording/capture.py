"""Captures one stream into one journal, and makes the recording when it is over.

Three threads: one only reads, one only writes, one makes what was written safe and watches the disk. Who wants to see the
run follows the journal (``follow.Follower``), in this process or in another; no watcher can hold up the capture.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
import signal
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Final

from telemetry.errors import LinkError, RecordingError, SidelongError, StorageError
from telemetry.recording.assemble import Assembler
from telemetry.recording.disk.errors import storage_error
from telemetry.recording.disk.storage import Disk, SystemDisk
from telemetry.recording.document import utf8
from telemetry.recording.journal.backlog import LIMIT_BYTES, Backlog
from telemetry.recording.journal.clock import ArrivalClock, Clock, SystemClock
from telemetry.recording.journal.records import JournalWriter, RecordKind, journal_path
from telemetry.recording.make import Progress, make_recording
from telemetry.recording.meta import Meta
from telemetry.sources.link_change import LinkChange
from telemetry.sources.link_health import TellsHealth
from telemetry.sources.source import EndOfStream, Source

LOG = logging.getLogger(__name__)
LOG.addHandler(logging.NullHandler())
READ_S: Final = 0.1
SYNC_S: Final = 0.25
LEAST_FREE: Final = 64 << 20
"""Bytes that must be free before a capture starts."""
RESERVE: Final = 16 << 20
"""Bytes that stay free, or as many as the journal has, so that the recording can be made of it."""
LINK_NS: Final = 1_000_000_000
"""How often the link's health is noted, where the source knows it."""
LOOK_NS: Final = 500_000_000
"""How often the journal is looked for under its name."""
STOOD_NS: Final = 3_000_000_000
"""A read that takes so much longer than it was given: the computer, or the program, stood still."""
SLOW_DISK_S: Final = 1.0
THE_END: Final = "the stream ended"


class Capture:
    """One run from ``source`` into the recording at ``path``.

    ``start()`` opens the source and the journal and raises what stands in the way; then everything goes by itself until the
    stream ends, the link is lost for good, the disk gives up or ``stop()`` is called. ``close()`` makes the recording.
    ``error`` is what ended the capture against the user's will.
    """

    def __init__(
        self,
        source: Source,
        path: Path,
        meta: Meta,
        *,
        clock: Clock | None = None,
        disk: Disk | None = None,
        limit_bytes: int = LIMIT_BYTES,
        least_free: int = LEAST_FREE,
        sync_s: float = SYNC_S,
    ) -> None:
        self.path = path
        self.error: SidelongError | None = None
        self.reason = ""
        self.received = 0
        self.signals: list[int] = []
        """Numbers of the signals that asked for the end. A handler adds to it and does nothing else: it may have broken into
        any line of the main thread, where a lock is held."""
        self._source = source
        self._meta = meta
        self._disk = disk or SystemDisk()
        self._clock = ArrivalClock(clock or SystemClock())
        self._backlog = Backlog(limit_bytes)
        self._least_free = least_free
        self._sync_s = sync_s
        self._stopping = threading.Event()
        self._over = threading.Event()
        self._written = threading.Condition()
        self._news = 0
        self._seen = 0
        self._dirty = False
        self._link_told_ns = 0
        self._journal: JournalWriter | None = None
        self._threads: list[threading.Thread] = []

    # -- from outside

    def start(self) -> None:
        """Raises LinkError, StreamError (a file) or StorageError; then there is no trace of the attempt."""
        if os.path.exists(self.path):  # noqa: PTH110 (pathlib's raises where a name is too long)
            raise StorageError(
                "this file is there already",
                where=str(self.path),
                todo="Choose another name, or take that one away with 'sidelong runs remove FILE': none is ever overwritten",
            )
        self._look_at_disk()
        self._source.open()
        try:
            made_ns = self._clock.now_ns()
            self._journal = JournalWriter(journal_path(self.path), self._meta.begun(), made_ns=made_ns, disk=self._disk)
        except BaseException:
            self._source.close()
            raise
        for work in (self._read, self._write, self._secure):
            thread = threading.Thread(target=self._guarded, args=(work,), name=f"capture{work.__name__}", daemon=True)
            self._threads.append(thread)
        for thread in self._threads:
            thread.start()

    @property
    def running(self) -> bool:
        """Whether anything may still come into the journal."""
        return not self._over.is_set()

    @property
    def interrupted(self) -> bool:
        """Whether it was stopped before the stream ended by itself."""
        return self._stopping.is_set()

    @property
    def waiting_bytes(self) -> int:
        """Bytes that were read and are not in the journal yet: above a few thousand the disk is slow."""
        return self._backlog.size

    def wait(self, timeout_s: float) -> bool:
        """Return True as soon as something new is in the journal (since the last call), False when time is up.

        Raises KeyboardInterrupt at a second Ctrl-C in ``signals``, as ``wait_until_over`` does.
        """
        self._heed()
        with self._written:
            self._written.wait_for(lambda: self._news != self._seen, timeout_s)
            new = self._news != self._seen
            self._seen = self._news
            return new

    def wait_until_over(self, timeout_s: float) -> bool:
        """Return True when nothing more comes, False when time is up: for those who do not watch."""
        self._heed()
        return self._over.wait(timeout_s)

    def now_us(self) -> int:
        """Unix us on the clock that the arrivals are taken from."""
        return self._clock.now_ns() // 1000

    def mark(self, text: str = "") -> None:
        """Mark this moment."""
        self._backlog.put(RecordKind.MARK, self._clock.now_ns(), utf8(text))

    def relabel(self, meta: Meta) -> None:
        """Labels that became known while capturing."""
        self._backlog.put(RecordKind.META, self._clock.now_ns(), meta.to_json().encode())

    def stop(self, reason: str = "stopped by the user") -> None:
        """End the capture; returns at once. May be called more than once, but by no signal handler, see ``signals``."""
        self.reason = self.reason or reason
        self._stopping.set()

    def close(self, *, progress: Progress | None = None) -> Assembler | None:
        """Stop, write everything out and make the recording. None where nothing had arrived: then there is no recording.

        ``path`` may have changed where another file took the name in the meantime. Raises StorageError where the recording
        cannot be made now; the journal stays then, and the next start makes it.
        """
        journal = self._ended()
        if journal is None:
            return None
        try:
            self.path, made = make_recording(journal.path, disk=self._disk, progress=progress, release=journal.close)
        except OSError as error:
            journal.close()
            raise storage_error(error, journal.path, capturing=True) from error
        except (StorageError, RecordingError) as error:
            journal.close()
            if self.error is not None:
                raise self.error from error
            raise
        return made

    def leave(self) -> bool:
        """Stop, write everything out and leave the journal as it is. False where nothing had arrived: then there is none.

        Raises StorageError.
        """
        journal = self._ended()
        if journal is not None:
            journal.close()
        return journal is not None

    def _heed(self) -> None:
        if self.signals:
            if self.signals.count(signal.SIGINT) > 1:
                raise KeyboardInterrupt
            self.stop()

    def _ended(self) -> JournalWriter | None:
        """The journal, whole and written out, its lock still held; None, and no file, where nothing had arrived."""
        self.stop()
        for thread in self._threads:
            thread.join()
        self._source.close()
        journal, self._journal = self._journal, None
        if journal is None:
            return None
        try:
            if not self.received:
                journal.close()
                self._disk.remove(journal.path)
                return None
            journal.keep_name()
            journal.sync()
        except OSError as error:
            journal.close()
            raise storage_error(error, journal.path, capturing=True) from error
        except StorageError as error:
            journal.close()
            if self.error is not None:
                raise self.error from error
            raise
        return journal

    # -- the three threads

    def _guarded(self, work: Callable[[], None]) -> None:
        try:
            work()
        except SidelongError as error:
            self._fail(error)
        except Exception as error:  # no thread may die in silence: the capture ends and says why
            LOG.exception("%s: the capture broke off", self.path)
            self._fail(LinkError(f"the capture broke off: {type(error).__name__}: {error}", where=self._source.where))
        finally:
            if work == self._read:
                self._backlog.close()
            elif work == self._write:
                self._backlog.give_up()
                self._over.set()
                self._tell()

    def _fail(self, error: SidelongError) -> None:
        LOG.error("%s: %s", self.path, error, exc_info=error.__cause__ or error)
        if self.error is None:
            self.error = error
            self.reason = self.reason or error.what
        self._stopping.set()
        self._tell()

    def _tell(self) -> None:
        with self._written:
            self._news += 1
            self._written.notify_all()

    def _read(self) -> None:
        try:
            while not self._stopping.is_set():
                if self.signals:
                    self.stop()
                    break
                self._read_once()
                if self._clock.now_ns() - self._link_told_ns >= LINK_NS:
                    self._tell_link()
        except EndOfStream:
            self.reason = self.reason or THE_END
        except SidelongError as error:
            self._fail(error)
        self._tell_link()
        self._backlog.put(RecordKind.END, self._clock.now_ns(), utf8(self.reason or THE_END))

    def _tell_link(self) -> None:
        self._link_told_ns = self._clock.now_ns()
        health = self._source.health() if isinstance(self._source, TellsHealth) else None
        if health is not None:
            self._backlog.put(RecordKind.LINK, self._link_told_ns, json.dumps(health.to_dict()).encode())

    def _read_once(self) -> None:
        before_ns = self._clock.now_ns()
        try:
            data = self._source.read(READ_S)
        except LinkChange as change:
            kind = RecordKind.GAP if change.kind == "dropped" else RecordKind.RESUMED
            self._backlog.put(kind, self._clock.now_ns(), utf8(change.what))
            return
        slept_ns = self._clock.slept_ns()
        stood_ns = self._clock.now_ns() - before_ns - slept_ns
        if slept_ns:
            self._interrupted(before_ns, f"the computer slept for {slept_ns / 1e9:.0f} s")
        if data:
            self.received += len(data)
            self._keep(self._clock.now_ns(), data)
        if data and stood_ns > READ_S * 1e9 + STOOD_NS:
            # What the system had room for joins what came before; what came when it was full is missing after it.
            words = f"the computer stood still for {stood_ns / 1e9:.0f} s: what the robot sent meanwhile may be missing"
            self._interrupted(self._clock.now_ns(), words)

    def _interrupted(self, since_ns: int, words: str) -> None:
        LOG.warning("%s: interrupted: %s", self.path, words)
        self._backlog.put(RecordKind.GAP, since_ns, words.encode())
        self._backlog.put(RecordKind.RESUMED, self._clock.now_ns(), b"")

    def _keep(self, arrival_ns: int, data: bytes) -> None:
        if self._backlog.put(RecordKind.BYTES, arrival_ns, data):
            return
        while not self._backlog.put(RecordKind.BYTES, arrival_ns, data):
            if self.error is not None:
                return
            self._backlog.wait_for_room(0.1)
        waited_s = (self._clock.now_ns() - arrival_ns) / 1e9
        if waited_s > SLOW_DISK_S:
            words = f"the disk did not keep up for {waited_s:.1f} s: what the robot sent meanwhile may be missing"
            self._interrupted(arrival_ns, words)

    def _write(self) -> None:
        assert self._journal is not None
        looked_ns = 0
        while not self._backlog.finished:
            items = self._backlog.take(0.5)
            now_ns = self._clock.now_ns()
            if now_ns - looked_ns >= LOOK_NS:
                looked_ns = now_ns
                self._journal.keep_name()
            if items:
                self._journal.many(items)
                self._dirty = True
                self._tell()

    def _secure(self) -> None:
        """What was written would survive a power cut half a second later; and the disk never fills up unseen."""
        assert self._journal is not None
        rounds = 0
        while not self._backlog.finished and self.error is None:
            self._stopping.wait(self._sync_s)
            if self._stopping.is_set():
                break
            if self._dirty:
                self._dirty = False
                self._journal.sync()
            rounds += 1
            if rounds % 4 == 0:
                # For drives without locks: somebody is still at it, although nothing arrives.
                with contextlib.suppress(OSError):
                    os.utime(self._journal.path)
                self._watch_disk(self._journal.length)

    def _look_at_disk(self) -> None:
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            free = self._disk.free_bytes(self.path.parent)
        except OSError as error:
            raise storage_error(error, self.path.parent) from error
        if free < self._least_free:
            raise StorageError(
                f"only {free >> 20} MB are free on this disk, a capture wants {self._least_free >> 20}",
                where=str(self.path.parent),
                todo="Make room or choose another folder",
            )

    def _watch_disk(self, length: int) -> None:
        try:
            free = self._disk.free_bytes(self.path.parent)
        except OSError as error:
            raise storage_error(error, self.path.parent) from error
        if free < min(self._least_free, max(RESERVE, length)):
            raise StorageError(
                f"the disk is nearly full ({free >> 20} MB left), so the capture was ended; what was captured is kept",
                where=str(self.path.parent),
                todo="Make room and start again",
            )
