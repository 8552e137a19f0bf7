"""Work that takes longer than a blink, on a thread of its own, with a way to stop it and errors as one sentence."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable

from PySide6.QtCore import QObject, Signal

from gui.words import tr
from telemetry.errors import SidelongError

LOG = logging.getLogger(__name__)


class Job(QObject):
    """One piece of work. ``work`` gets the job: it may call ``tell`` now and then, and must end soon after ``cancelled``.

    The signals arrive in the thread of the window: ``progressed`` (done, of), ``finished`` with the result, ``failed`` with
    a sentence, and ``ended`` last of all, whatever happened.
    """

    progressed = Signal(int, int)
    piece = Signal(object)
    finished = Signal(object)
    failed = Signal(str)
    ended = Signal()

    def __init__(self, work: Callable[[Job], object], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._work = work
        self._stop = threading.Event()
        self.over = False
        self._thread = threading.Thread(target=self._run, name="sidelong-job", daemon=True)

    @property
    def cancelled(self) -> bool:
        return self._stop.is_set()

    def start(self) -> Job:
        self._thread.start()
        return self

    def cancel(self) -> None:
        """Ask it to stop; nothing of it is reported any more but ``ended``."""
        self._stop.set()

    def wait(self, seconds: float = 10.0) -> None:
        """Wait for the thread; used when the window closes."""
        if self._thread.is_alive():
            self._thread.join(seconds)

    def tell(self, done: int, of: int) -> None:
        if not self.cancelled:
            self.progressed.emit(done, of)

    def give(self, part: object) -> None:
        """A part of the result, before the whole is there."""
        if not self.cancelled:
            self.piece.emit(part)

    def _run(self) -> None:
        try:
            result = self._work(self)
        except SidelongError as error:
            self._report(str(error))
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            self._report(f"{where}{(error.strerror or str(error)).lower()}")
        except Exception as error:  # a fault of ours must be said, not lost with the thread
            from telemetry.logbook import log_path

            LOG.exception("a job failed")
            words = tr("this is a fault in Sidelong itself ({kind}: {error}); its trace is in {log}",
                       kind=type(error).__name__, error=error, log=log_path())  # fmt: skip
            self._report(words)
        else:
            if not self.cancelled:
                self.finished.emit(result)
        finally:
            self.over = True
            self.ended.emit()

    def _report(self, sentence: str) -> None:
        if not self.cancelled:
            self.failed.emit(sentence)


class Jobs:
    """The jobs of one owner, so that all can be stopped when it goes."""

    def __init__(self) -> None:
        self._running: list[Job] = []
        self._closed = False

    def start(self, job: Job) -> Job:
        """Once closed, nothing is begun any more."""
        if self._closed:
            job.over = True
            return job
        self._running.append(job)
        job.ended.connect(lambda: self._forget(job))
        return job.start()

    def _forget(self, job: Job) -> None:
        if job in self._running:
            job.wait()
            self._running.remove(job)
            job.deleteLater()

    @property
    def busy(self) -> bool:
        return any(not job.over for job in self._running)

    def close(self) -> None:
        """Stop all and wait for them; for good."""
        self._closed = True
        for job in self._running:
            job.cancel()
        for job in self._running:
            job.wait()
        self._running.clear()
