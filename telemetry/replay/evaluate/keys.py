"""What a result depends on, as short texts: equal texts, equal results."""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import blake2b
from pathlib import Path

from telemetry.palette import Palette
from telemetry.reading.strategy import Strategy
from telemetry.recording.journal.records import journal_path
from telemetry.replay.case import Given

Stamp = tuple[str, int, int, int]
"""Path, time of the last change (ns), size and number of the file; the numbers are 0 where there is none."""


def stamp_of(path: Path) -> Stamp:
    """Another one whenever the recording (or its journal, while it is captured) was written to."""
    for file in (path, journal_path(path)):
        try:
            found = file.stat()
        except OSError:
            continue
        return str(file), found.st_mtime_ns, found.st_size, found.st_ino
    return str(path), 0, 0, 0


def strategy_key(strategy: Strategy) -> str:
    """Its name, words, stages and settings; of a team's own logic the source as it was loaded."""
    uses = [(use.stage, dict(use.settings)) for use in strategy.uses]
    words = repr((strategy.name, strategy.title, strategy.what, uses))
    return digest([words, strategy.own_file, strategy.own_digest])


def given_key(given: Given) -> str:
    """Course, palette and truth that stand in for the recordings' own."""
    course = (given.course.text or repr(given.course)) if given.course is not None else ""
    palette = _palette_words(given.palette) if given.palette is not None else ""
    return digest([course, palette, given.truth])


def digest(texts: Iterable[str]) -> str:
    """One short text for several."""
    found = blake2b(digest_size=16)
    for text in texts:
        data = text.encode("utf-8", "surrogatepass")
        found.update(len(data).to_bytes(8, "big") + data)
    return found.hexdigest()


def _palette_words(palette: Palette) -> str:
    """Every number to its last digit, which a palette file rounds."""
    colours = [
        (
            one.name, one.mean.tolist(), one.covariance.tolist(), one.samples, sorted(one.codes.items()),
            [(height, mean.tolist()) for height, mean in one.by_height], one.lag1,
        )
        for one in palette.colours
    ]  # fmt: skip
    return repr((palette.name, palette.measured, sorted(palette.ranges.items()), palette.rate_hz, palette.remarks, colours))
