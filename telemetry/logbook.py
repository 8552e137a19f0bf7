"""The log: a rotating file in which a failure leaves its trace, so that what happened in the field can be looked up at home.

Library code only asks for a logger; who starts a program begins the log. Nothing that is wrong with the log stops anything.
"""

from __future__ import annotations

import logging
import os
import sys
from logging.handlers import RotatingFileHandler
from pathlib import Path

MOST_BYTES = 500_000
OLDER_FILES = 2
LINE = "%(asctime)s %(process)d %(levelname)s %(name)s: %(message)s"


def log_path() -> Path:
    """The log's file: that named by SIDELONG_LOG, else in the system's usual place."""
    if given := os.environ.get("SIDELONG_LOG"):
        return Path(given)
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "sidelong" / "sidelong.log"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Logs" / "sidelong.log"
    return Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state") / "sidelong" / "sidelong.log"


class _Quiet(RotatingFileHandler):
    """Opens the file for each message, since several processes share it, and says nothing where that fails."""

    def emit(self, record: logging.LogRecord) -> None:
        try:
            path = Path(self.baseFilename)
            path.parent.mkdir(parents=True, exist_ok=True)
            if path.is_file() or not path.exists():  # a pipe would be waited for
                super().emit(record)
        except OSError:
            return
        finally:
            if self.stream is not None:
                self.stream.close()
                self.stream = None

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: ARG002, N802 (as logging calls it)
        return


def begin_log() -> None:
    """From now on what the programs of Sidelong log goes to ``log_path()``. May be called again."""
    handler = _Quiet(log_path(), maxBytes=MOST_BYTES, backupCount=OLDER_FILES, encoding="utf-8", delay=True)
    handler.setFormatter(logging.Formatter(LINE))
    for name in ("telemetry", "gui"):
        logger = logging.getLogger(name)
        for old in [one for one in logger.handlers if isinstance(one, _Quiet)]:
            logger.removeHandler(old)
        logger.addHandler(handler)
        logger.setLevel(logging.INFO)
        logger.propagate = False
