"""Programs of their own that the window starts: a capture, and the built-in robot. They outlive a window that dies."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import asdict, dataclass
from pathlib import Path

_RUN = "import sys; from telemetry.cli import main; sys.exit(main(sys.argv[1:]))"


def start_command(words: list[str], out: Path, err: Path) -> subprocess.Popen[bytes]:
    """Start ``sidelong`` with these words, detached from the window; what it says goes into two files."""
    flags = 0
    if sys.platform == "win32":
        flags = subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.CREATE_NO_WINDOW
    with out.open("wb") as told, err.open("wb") as wrong:
        return subprocess.Popen(
            [sys.executable, "-u", "-c", _RUN, *words],
            stdin=subprocess.DEVNULL,
            stdout=told, stderr=wrong, start_new_session=sys.platform != "win32", creationflags=flags,
        )  # fmt: skip


def is_running(pid: int) -> bool:
    """Whether a process of this number exists and still runs."""
    if pid <= 0:
        return False
    if sys.platform == "win32":
        found = subprocess.run(["tasklist", "/FI", f"PID eq {pid}", "/NH"], capture_output=True, check=False)
        return str(pid).encode() in found.stdout
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def ask_to_stop(pid: int) -> None:
    """Ask a process to end in order, as Ctrl+C in its terminal would."""
    try:
        if sys.platform == "win32":
            os.kill(pid, signal.CTRL_BREAK_EVENT)
        else:
            os.kill(pid, signal.SIGINT)
    except (ProcessLookupError, PermissionError, OSError):
        return


def end_process(process: subprocess.Popen[bytes] | None, pid: int) -> None:
    """End a process in order, by force where it does not; ``process`` None: one that another window started."""
    if pid <= 0:
        return
    if process is None:
        ask_to_stop(pid)
        until = time.monotonic() + 3.0
        while is_running(pid) and time.monotonic() < until:
            time.sleep(0.02)
        return
    if process.poll() is None:
        ask_to_stop(pid)
        try:
            process.wait(3.0)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(3.0)


@dataclass
class Watch:
    """What is to be known of a running capture to find it again: kept beside its journal as a small text file.

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

    def save(self) -> None:
        self.path.write_text(json.dumps(asdict(self)), encoding="utf-8")

    def forget(self) -> None:
        """Remove the notes and what was captured but not kept."""
        recording = Path(self.recording)
        for path in recording.parent.glob(recording.stem + ".*"):
            path.unlink(missing_ok=True)

    @classmethod
    def load(cls, path: Path) -> Watch | None:
        """Read one back; None where the file is not what it should be."""
        try:
            return cls(**json.loads(path.read_text(encoding="utf-8")))
        except (OSError, ValueError, TypeError):
            return None
