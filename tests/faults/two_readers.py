"""Our own reader of short recordings beside HDF5: what ours accepts is what HDF5 gives, or HDF5 refuses the file.

    cd tests; python -m faults.two_readers [COUNT] [SEED]

COUNT files (default 20,000) whose headers and heaps were changed with their checksums put right (``header_changes``), whose
bytes were changed anywhere, and whole ones that h5py wrote with what no recording of ours has. A checksum of our own in the
document hinders nobody who makes a file, so here every value is taken for right: links, attributes and columns are
compared with what h5py says of the very same bytes. In processes that may die, for HDF5 may.
"""

from __future__ import annotations

import os
import random
import signal
import struct
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, Final, NoReturn

import h5py
import numpy as np

from faults.header_changes import changed
from faults.spoilers import bytes_changed
from telemetry.recording.hdf5.attributes import read_bytes, read_text
from telemetry.recording.hdf5.heap import check_heaps
from telemetry.recording.hdf5.layout import Encoding
from telemetry.recording.hdf5.object_headers import ObjectHeaders
from telemetry.recording.hdf5.one_chunk import values_at
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.hdf5.root_header import read_root

AT_ONCE: Final = 200
LIMIT_S: Final = 10
ROOT: Final = Path(__file__).parents[2]
SEEDS: Final = ("practice-01", "venue-01", "venue-codes-only-23", "venue-two-sensors-22")
ANOTHER: Final = "ANOTHER VALUE"
BROKEN: Final = (OSError, RuntimeError, LookupError, ValueError, TypeError)


def seeds() -> list[tuple[bytes, list[Encoding], int]]:
    """(bytes, columns, rows) of good ones."""
    out = []
    for name in SEEDS:
        path = ROOT / "recordings" / f"{name}.h5"
        file = RecordingFile(path)
        out.append((path.read_bytes(), [Encoding(*one) for one in file.document["columns"]], file.document["rows"]))
        file.close()
    return out


def _dense(file: h5py.File) -> None:
    for k in range(40):
        file.attrs[f"a{k}"] = "x" * k


def _committed(file: h5py.File) -> None:
    file["kind"] = np.dtype("<f8")
    file.attrs.create("of a kind", 1.0, dtype=file["kind"])


def _many_links(file: h5py.File) -> None:
    for k in range(40):
        file.create_dataset(f"more {k}", data=np.arange(k))


def _circle(file: h5py.File) -> None:
    file.create_group("in")["out"] = file["/"]
    file["self"] = file["/"]


def _column_again(file: h5py.File) -> None:
    name = next(name for name in file if file[name].ndim == 1 and file[name].compression)
    whole = file[name]
    values, chunks, shuffle = whole[()], whole.chunks, whole.shuffle
    del file[name]
    made = file.create_dataset(name, data=values, chunks=chunks, shuffle=shuffle, compression=4)
    made.attrs["note"] = "written by h5py"


OTHERS: Final[dict[str, Callable[[h5py.File], Any]]] = {
    "a reference": lambda file: file.attrs.create("at", file["time"].ref, dtype=h5py.ref_dtype),
    "a region": lambda file: file.attrs.create("part", file["time"].regionref[:2], dtype=h5py.regionref_dtype),
    "a huge text": lambda file: file.attrs.create("text", "x" * 60_000, dtype=h5py.string_dtype()),
    "texts": lambda file: file.attrs.create("texts", ["a", "bc"], dtype=h5py.string_dtype()),
    "nothing": lambda file: file.attrs.create("nothing", h5py.Empty("f")),
    "a record": lambda file: file.attrs.create("record", np.zeros(2, "i4,f8")),
    "attributes apart": _dense, "a committed type": _committed, "links apart": _many_links, "a circle": _circle,
    "a soft link": lambda file: file.__setitem__("soft", h5py.SoftLink("/time")),
    "a link elsewhere": lambda file: file.__setitem__("away", h5py.ExternalLink("other.h5", "/time")),
    "a second name": lambda file: file.__setitem__("again", file["time"]),
    "a name of odd letters": lambda file: file.__setitem__("\u202e\n.", file["time"]),
    "a column of h5py's": _column_again,
}  # fmt: skip
"""What h5py can put into a recording that none of ours has."""


def other(data: bytes, how: str, folder: Path, version: str) -> bytes:
    """A recording into which h5py wrote something more."""
    path = folder / "other.h5"
    path.write_bytes(data)
    with suppress(*BROKEN), h5py.File(path, "r+", libver=(version, version)) as file:
        OTHERS[how](file)
    return path.read_bytes()


def of_hdf5(path: Path, names: list[str]) -> dict[str, bytes]:
    """What HDF5 gives for these attributes; without those it refuses. Raises where it refuses the file."""
    out = {}
    with h5py.File(path, "r", locking=False) as file:
        for name in names:
            with suppress(*BROKEN):
                try:
                    value = read_bytes(file.id, name)
                except TypeError:
                    value = read_text(file.id, name)
                if value is not None:
                    out[name] = value
    return out


def column_of_hdf5(path: Path, name: str) -> Any:
    """The values as h5py reads them; None where it refuses."""
    try:
        with h5py.File(path, "r", locking=False) as file:
            whole = file[name]
            return whole[()] if isinstance(whole, h5py.Dataset) and whole.size is not None and whole.size < 1 << 24 else None
    except BROKEN:
        return None


def outcome(data: bytes, columns: list[Encoding], rows: int, path: Path) -> str:
    """What came of one file."""
    with suppress(ValueError):
        check_heaps(data)
        root = read_root(data)
        if root is None:
            return "left to HDF5"
        path.write_bytes(data)
        headers = ObjectHeaders(data, root.links)
        own = {}
        for one in columns:
            values = values_at(data, headers.place(one.dataset, one.dtype, rows), one.dtype, rows)
            if values is not None:
                own[one.dataset] = values
        try:
            theirs = of_hdf5(path, list(root.attributes))
        except BROKEN:
            return "HDF5 refuses the file"
        for name, value in theirs.items():
            if root.attributes[name] != value:
                return f"{ANOTHER} of the attribute {name!r}"
        for name, mine in own.items():
            found = column_of_hdf5(path, name)
            if found is not None and (found.dtype != mine.dtype or found.tobytes() != mine.tobytes()):
                return f"{ANOTHER} of the column {name!r}"
        same = len(theirs) == len(root.attributes) and len(own) == len(columns)
        return "both read all of it" if same else "both read some of it, the same"
    return "refused before either"


def one(number: int, seed: int, good: list[tuple[bytes, list[Encoding], int]], folder: Path) -> str:
    """The ``number``-th file of a seed."""
    lot = random.Random(f"{seed} {number}")
    data, columns, rows = good[number % len(good)]
    share = lot.random()
    if share < 0.1:
        data = other(data, lot.choice(list(OTHERS)), folder, lot.choice(["earliest", "v108", "v110", "latest"]))
    if share < 0.2:
        return outcome(bytes_changed(data, lot) if share > 0.05 else data, columns, rows, folder / "changed.h5")
    try:
        spoilt = changed(data, lot)
    except (LookupError, ValueError, OverflowError, struct.error):  # what an earlier change left cannot be taken apart
        return "not made"
    return outcome(spoilt, columns, rows, folder / "changed.h5")


def child(numbers: range, seed: int, good: list[tuple[bytes, list[Encoding], int]], folder: Path, tell: int) -> NoReturn:
    """In the process that may die: a line a file."""
    try:
        for number in numbers:
            signal.alarm(LIMIT_S)
            said = one(number, seed, good, folder)
            os.write(tell, f"{said}{f' (number {number})' if ANOTHER in said else ''}\n".encode())
    except BaseException as error:
        os.write(tell, f"{ANOTHER}, or an error: {type(error).__name__}: {error} (number {number})\n".encode())
    os._exit(0)


def main(count: int = 20_000, seed: int = 1) -> int:
    """All of them; prints the counts. 1 where the two differ."""
    counts: Counter[str] = Counter()
    good = seeds()
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as name:
        at = 0
        while at < count:
            told, tell = os.pipe()
            process = os.fork()
            if not process:
                child(range(at, min(count, at + AT_ONCE)), seed, good, Path(name), tell)
            os.close(tell)
            with os.fdopen(told) as lines:
                done = lines.read().splitlines()
            os.waitpid(process, 0)
            if len(done) < min(AT_ONCE, count - at) and not (done and ANOTHER in done[-1]):
                done.append("HDF5 dies of it or never ends")
            counts.update(done)
            at += len(done)
    for said, times in sorted(counts.items(), key=lambda pair: -pair[1]):
        print(f"{times:>7,} {said}")
    return int(any(ANOTHER in said for said in counts))


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
