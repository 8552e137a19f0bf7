"""The two programs behind a connection: the capture, and, where it is ours, the simulated robot."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

from gui.model.processes import last_words, said_in, start_command
from gui.model.watch import Watch
from gui.words import tr
from telemetry.errors import LinkError


class Programs:
    """``capture``, ``robot``: those this window started; None: there is none, or another window started it."""

    def __init__(self) -> None:
        self.capture: subprocess.Popen[bytes] | None = None
        self.robot: subprocess.Popen[bytes] | None = None

    def start_robot(self, watch: Watch, words: list[str]) -> Callable[[], str]:
        """Start the simulated robot; what comes back gives the port it serves, empty until then. Raises LinkError."""
        said = Path(watch.recording).with_suffix(".robot.out")
        self.robot = robot = start_command(words, watch.named, said, watch.robot_log)
        watch.robot_pid = robot.pid

        def port() -> str:
            line, newline, _ = said_in(said).partition("\n")
            if not newline and robot.poll() is not None:
                raise LinkError(last_words(watch.robot_log) or tr("the simulated robot could not be started"))
            return line.strip() if newline else ""

        return port

    def start_capture(self, watch: Watch, words: list[str]) -> None:
        """Start the capture into the watch's recording."""
        out = Path(watch.recording).with_suffix(".out")
        self.capture = start_command(["capture", watch.source, "-o", watch.recording, *words], watch.named, out, watch.log)
        watch.capture_pid = self.capture.pid

    @property
    def capture_has_ended(self) -> bool:
        """Whether the capture that was started here has ended by itself."""
        return self.capture is not None and self.capture.poll() is not None

    def end(self, watch: Watch) -> None:
        """End both in order, those of another window too."""
        watch.end(self.capture, self.robot)
        self.capture = self.robot = None

    def leave(self) -> None:
        """They go on without this window: they are waited for by whoever finds them."""
        for process in (self.capture, self.robot):
            if process is not None:
                process.returncode = 0
