"""What is to be known of a running capture to find it again, and which window looks after it."""

from __future__ import annotations

import errno
import json
import subprocess
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from pathlib import Path

from gui.processes import end_process, is_running
from telemetry.recording.lock import try_lock

_NO_TIME_US = 1 << 57
"""Some thousand years ahead: no calendar has it."""
_LARGEST_BYTES = 1 << 16


@dataclass
class Watch:
    """A small text file beside a capture's journal.

    ``recording``: the file that the capture writes (its journal is beside it). ``begun_us``: when the user began a run
    (Unix time), 0 while none is being recorded. ``level`` and ``seed``: of the built-in robot.
    """

    recording: str
    source: str
    title: str
    simulated: bool = False
    capture_pid: int = 0
    robot_pid: int = 0
    begun_us: int = 0
    level: str = ""
    seed: int = 0

    @classmethod
    def new(cls, folder: Path, title: str, *, simulated: bool) -> Watch:
        """Of a capture that is about to begin in ``folder``, which is made."""
        folder.mkdir(parents=True, exist_ok=True)
        stamp = datetime.now().astimezone().strftime("%Y%m%d-%H%M%S-%f")
        return cls(str(folder / f"watch-{stamp}.h5"), "", title, simulated)

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
    def captures(self) -> bool:
        """The capture runs, whoever started it."""
        return is_running(self.capture_pid, self.path.stem)

    def end(self, capture: subprocess.Popen[bytes] | None, robot: subprocess.Popen[bytes] | None) -> None:
        """End both programs in order; None: one that another window started."""
        end_process(capture, self.capture_pid, self.path.stem)
        end_process(robot, self.robot_pid, " robot --level ")

    def save(self) -> None:
        self.path.write_text(json.dumps(asdict(self)), encoding="utf-8")

    def forget(self) -> None:
        """Remove the notes and what was captured but not kept."""
        recording = Path(self.recording)
        for path in recording.parent.iterdir():
            if path.name.startswith(recording.stem + "."):  # no pattern: the name may come from others, too
                path.unlink(missing_ok=True)

    @classmethod
    def load(cls, path: Path) -> Watch | None:
        """Read one back; None where the file is not what it should be.

        The folder may come from others: what the capture writes lies beside the notes, whatever they say.
        """
        try:
            if not path.is_file() or path.stat().st_size > _LARGEST_BYTES:  # a pipe would hold the window for ever
                return None
            plain = json.loads(path.read_text(encoding="utf-8"))
            watch = cls(**{**plain, "recording": str(path.with_suffix(".h5"))})
        except (OSError, ValueError, TypeError, RecursionError):
            return None
        kinds = {"str": str, "bool": bool, "int": int}
        good = all(type(getattr(watch, field.name)) is kinds[str(field.type)] for field in fields(cls))
        return watch if good and 0 <= watch.begun_us < _NO_TIME_US else None


class Hold:
    """The sign that a window looks after a capture: a lock, given back by the system itself however the window ends.

    ``taken`` False: another window that is alive has it; that one's capture must be left alone. Raises OSError.
    """

    def __init__(self, watch: Watch) -> None:
        if watch.hold.exists() and not watch.hold.is_file():
            raise OSError(errno.EINVAL, "not a file", str(watch.hold))
        self._file = watch.hold.open("ab")
        self.taken = try_lock(self._file.fileno())

    def release(self) -> None:
        """May be called twice."""
        self._file.close()
