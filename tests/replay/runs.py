"""Runs written by hand, as a robot would send them."""

from pathlib import Path

from telemetry.course import parse_course
from telemetry.recording.journal.records import Record, RecordKind
from telemetry.recording.make import write_recording
from telemetry.recording.meta import Meta
from telemetry.sample import SampleTable
from telemetry.stream.decoder import Decoder

ROW = """
[course]
name = "Row"

[[slot]]
name = "a"
at_cm = 10
width_cm = 2
group = "g"

[[slot]]
name = "b"
at_cm = 20
width_cm = 2
group = "g"

[[slot]]
name = "c"
at_cm = 30
width_cm = 2
group = "g"

[[decoy]]
name = "hose"
at_cm = 25
width_cm = 1

[[group]]
name = "g"
distinct = ["rust", "leaf", "sky", "pink"]
"""
row = parse_course(ROW)
TRUTH = ("rust", "leaf", "sky")


def drive(*marks, to_cm=36.0, step_cm=0.5, ms=10, start_ms=0, header="#t/ms,colour,dist/cm", notes=()):
    """A robot that drives ``step_cm`` in ``ms``; ``marks`` are (from cm, to cm, colour); elsewhere it sees none.

    ``notes``: (cm, text), sent before the first sample at or beyond that place.
    """
    lines = [header]
    left = list(notes)
    for i in range(int(to_cm / step_cm) + 1):
        cm = i * step_cm
        while left and left[0][0] <= cm:
            lines.append(f"!{start_ms + i * ms},{left.pop(0)[1]}")
        colour = next((name for low, high, name in marks if low <= cm <= high), "none")
        lines.append(f"{start_ms + i * ms},{colour},{cm:g}")
    return "".join(f"{line}\n" for line in lines)


GOOD = ((9.0, 11.0, "rust"), (19.0, 21.0, "leaf"), (29.0, 31.0, "sky"))


def table_of(text, columns=None, cut=1 << 20):
    """The table that a stream decodes to, fed in pieces of ``cut`` bytes."""
    table = SampleTable()
    for piece in pieces(text, cut, columns):
        table.append(piece)
    return table


def pieces(text, cut=1 << 20, columns=None):
    """The chunks of a stream, as a live view gets them."""
    data = text.encode()
    decoder = Decoder(columns)
    for start in range(0, len(data), cut):
        yield from decoder.feed(data[start : start + cut], 1_700_000_000_000_000)
    yield from decoder.finish()


def record(path: Path, text, course=ROW, truth=TRUTH, **labels):
    """A recording of a stream in ``path``."""
    meta = Meta(name=path.stem, course=course, truth=truth, **labels)
    records = [
        Record(RecordKind.META, 0, meta.to_json().encode()),
        Record(RecordKind.BYTES, 1_700_000_000_000_000_000, text.encode()),
    ]
    path.unlink(missing_ok=True)  # a recording never replaces another
    write_recording(iter(records), path)
    return path
