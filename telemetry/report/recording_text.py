"""Everything that is known about a recording, in lines for people."""

from __future__ import annotations

from datetime import UTC, datetime

from telemetry.course import format_truth
from telemetry.recording.duration import duration_s
from telemetry.recording.load import Recording
from telemetry.report.timing_text import timing_words


def describe(recording: Recording) -> list[str]:
    """One line a fact; what is not known is left out, except the truth."""
    meta, summary, table = recording.meta, recording.summary, recording.table
    facts = {
        "name": meta.name,
        "made": meta.made,
        "by": "the built-in robot (simulated)" if meta.simulated else "",
        "source": meta.source + (f", {meta.baud} baud" if meta.baud else ""),
        "robot": meta.robot,
        "driven by": meta.driven_by,
        "course": recording.course.name if recording.course is not None else "",
        "truth": format_truth(recording.truth) if recording.truth is not None else "not known",
        "tags": " ".join(meta.tags),
        "sensor mode": meta.sensor_mode,
        "light": meta.light,
        "height": f"{meta.height_mm:g} mm" if meta.height_mm is not None else "",
        "battery": meta.battery,
        "remarks": meta.remarks,
        "versions": ", ".join(f"{what} {version}" for what, version in meta.versions.items()),
        "samples": f"{table.rows} in {duration_s(summary, table.columns):.1f} s",
        "channels": ", ".join(name for name in table.columns if name not in {"t_us", "arrival_us", "boot"}),
        "bytes": str(summary.bytes),
        "notes": str(len(table.notes)),
        "rejected": _counted(len(table.rejected), "lines"),
        "lost": _counted(table.lost, "lines"),
        "ended": summary.end or "broken off",
    }
    lines = [str(recording.path)]
    lines += [f"  {what + ':':<13}{_one_line(text)}" for what, text in facts.items() if text]
    lines += [f"  note at {note.t_us / 1e6:.3f} s: {_one_line(note.text)}" for note in table.notes[:50]]
    lines += [f"  robot: {_one_line(line.raw.decode('utf-8', 'replace'))}" for line in table.console[:50]]
    lines += [
        f"  gap at {_clock(gap.from_us)}{_until(gap.from_us, gap.until_us)}: {_one_line(gap.reason)}"
        for gap in recording.gaps
    ]
    lines += [f"  marked at {_clock(mark.arrival_us)}: {_one_line(mark.text) or 'this moment'}" for mark in recording.marks]
    lines += [f"  {_one_line(remark)}" for remark in table.remarks]
    lines += [f"  {words}" for words in timing_words(recording)]
    return lines + [f"  damaged: {_one_line(what)}" for what in recording.damage]


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count else ""


def _clock(us: int) -> str:
    try:
        return f"{datetime.fromtimestamp(us / 1e6, UTC).astimezone():%H:%M:%S}"
    except (ValueError, OverflowError, OSError):
        return "a time that no calendar has"


def _until(from_us: int, until_us: int | None) -> str:
    return ", to the end" if until_us is None else f", {(until_us - from_us) / 1e6:.1f} s"


def _one_line(text: str) -> str:
    """Text from a file is data: no control characters reach the terminal."""
    return "".join(one if one.isprintable() else "�" for one in text)
