"""What is to be known of a running capture to find it again, and which window looks after it."""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path

from gui.model.processes import end_process, is_running
from gui.words import tr
from telemetry.beside import open_plain, read_plain
from telemetry.errors import StorageError
from telemetry.recording.disk.lock import try_lock
from telemetry.schema import checked
from telemetry.text_in_place import write_text

WATCHING = ".watching"
"""The folder of the captures, in that of the runs."""
NO_TIME_US = 1 << 57
"""Some thousand years ahead: no calendar has it."""
_LARGEST_BYTES = 1 << 16


@dataclass
class Watch:
    """A small text file beside a capture's journal.

    ``recording``: the file that the capture writes (its journal is beside it). ``begun_us``: when the user began a run
    (Unix time), 0 while none is being recorded. ``marks``: moments of the user, (Unix us, text).
    ``level`` and ``seed``: of the built-in robot.
    """

    recording: str
    source: str
    title: str
    simulated: bool = False
    capture_pid: int = 0
    robot_pid: int = 0
    begun_us: int = 0
    marks: list[list[int | str]] = field(default_factory=list)
    level: str = ""
    seed: int = 0

    @classmethod
    def new(cls, folder: Path, title: str, *, simulated: bool) -> Watch:
        """Of a capture that is about to begin beside the runs in ``folder``, which is made."""
        place = folder.resolve() / WATCHING
        place.mkdir(parents=True, exist_ok=True)
        if place.is_symlink():
            raise StorageError(tr("this is a link to another folder"), where=str(place), todo=tr("Remove the link."))
        stamp = datetime.now().astimezone().strftime("%Y%m%d-%H%M%S-%f")
        return cls(str(place / f"watch-{stamp}.h5"), "", title, simulated)

    @property
    def path(self) -> Path:
        return Path(self.recording).with_suffix(".watch")

    @property
    def hold(self) -> Path:
        """Locked by the window that looks after the capture."""
        return Path(self.recording).with_suffix(".window")

    @property
    def log(self) -> Path:
        """What the capture said when it failed."""
        return Path(self.recording).with_suffix(".err")

    @property
    def robot_log(self) -> Path:
        """What the built-in robot said: what stands on its field."""
        return Path(self.recording).with_suffix(".robot.err")

    @property
    def journal(self) -> Path:
        """What the capture writes as long as it runs."""
        return Path(self.recording + ".journal")

    @property
    def wrote(self) -> bool:
        """Something of the capture is there."""
        return self.journal.exists() or Path(self.recording).exists()

    @property
    def by_wire(self) -> bool:
        """The stream comes through a serial port, which has a speed."""
        return not self.simulated and "://" not in self.source and not self.source.startswith("ble:")

    @property
    def named(self) -> str:
        """What its programs are known by: a copy of the folder is none of theirs."""
        return f"for:{self.recording}"

    @property
    def captures(self) -> bool:
        """The capture runs, whoever started it."""
        return is_running(self.capture_pid, self.named)

    def end(self, capture: subprocess.Popen[bytes] | None, robot: subprocess.Popen[bytes] | None) -> None:
        """End both programs in order; None: one that another window started."""
        end_process(capture, self.capture_pid, self.named)
        end_process(robot, self.robot_pid, self.named)

    def save(self) -> None:
        """Raises OSError."""
        write_text(self.path, json.dumps(asdict(self)))

    def forget(self) -> None:
        """Remove the notes and what was captured but not kept."""
        recording = Path(self.recording)
        for path in recording.parent.iterdir():
            if path.name.startswith(recording.stem + "."):  # no pattern: the name may come from others, too
                with suppress(OSError):  # a folder, say
                    path.unlink()

    @classmethod
    def load(cls, path: Path) -> Watch | None:
        """Read one back; None where the file is not what it should be.

        The folder may come from others: what the capture writes lies beside the notes, whatever they say.
        """
        try:
            plain = json.loads(read_plain(path, _LARGEST_BYTES))
            watch = checked({**plain, "recording": str(path.parent.resolve() / f"{path.stem}.h5")}, cls)
        except (OSError, ValueError, TypeError, RecursionError):
            return None
        good = all([*map(type, mark)] == [int, str] for mark in watch.marks)
        return watch if good and 0 <= watch.begun_us < NO_TIME_US else None


class WindowLock:
    """The sign that a window looks after a capture: a lock, given back by the system itself however the window ends.

    ``taken`` False: another window that is alive has it; that one's capture must be left alone. Raises OSError.
    """

    def __init__(self, watch: Watch) -> None:
        self._file = os.fdopen(open_plain(watch.hold, make=True), "r+b", buffering=0)
        self.taken = try_lock(self._file.fileno())

    def release(self) -> None:
        """May be called twice."""
        self._file.close()


def found(folder: Path, tell: Callable[[str], None]) -> Iterator[tuple[Watch, WindowLock]]:
    """The captures beside the runs in ``folder`` that no living window looks after, the newest first; each is held."""
    if (folder / WATCHING).is_symlink():
        return  # what lies elsewhere is nobody's to clear away
    for notes in sorted((folder / WATCHING).glob("*.watch"), reverse=True):
        watch = Watch.load(notes)
        if watch is None:
            journal = notes.with_suffix(".h5.journal")
            if journal.exists():  # of a newer version, or spoilt: what was captured is nobody's to remove
                tell(tr("What is noted of a capture cannot be read; what it wrote stays there: {path}.", path=journal))
            else:
                with suppress(OSError):  # a folder, say
                    notes.unlink()
            continue
        try:
            hold = WindowLock(watch)
        except OSError:
            continue  # somebody else's folder
        # Another window may have put things in order until the hold was taken.
        again = Watch.load(notes) if hold.taken else None
        if again is not None:
            yield again, hold
            continue
        if not hold.taken:
            tell(tr("Another window looks after {robot}; it is left alone.", robot=watch.title))
        hold.release()
