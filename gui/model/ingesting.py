"""A saved or fetched text stream becomes a recording, by the very way that a capture goes."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from telemetry.errors import StreamError
from telemetry.given_file import given_file
from telemetry.recording.capture import Capture
from telemetry.recording.meta import Meta
from telemetry.recording.nothing_read import take_back
from telemetry.sources.text_file import TextFile

_one_at_a_time = threading.Lock()
"""Two texts of one name must not find the same free name."""


def ingest(text: Path, folder: Path, labels: Meta) -> Path:
    """Make the recording in ``folder``; returns its path. Raises SidelongError, also where nothing in it is a sample."""
    with given_file(text, StreamError):
        pass  # a pipe would be waited for
    with _one_at_a_time:
        return _ingest(text, folder, labels)


def _ingest(text: Path, folder: Path, labels: Meta) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    target, number = folder / f"{text.stem}.h5", 2
    while target.exists() or target.with_name(target.name + ".journal").exists():
        target = folder / f"{text.stem} ({number}).h5"
        number += 1
    made = datetime.fromtimestamp(text.stat().st_mtime, UTC)
    meta = replace(labels, name=text.stem, source=f"text {text.name}", fetched=True).begun(made)
    capture = Capture(TextFile(text), target, meta)
    capture.start()
    while capture.running:
        capture.wait(0.05)
    result = capture.close()
    if capture.error is not None:
        raise capture.error
    if result is None:
        raise StreamError("the file is empty", where=str(text), todo="Fetch the stream again.")
    if not result.summary.rows:
        raise take_back(capture.path, text)
    return capture.path
