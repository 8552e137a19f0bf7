"""Files that somebody made to do harm: bombs, links to other files, virtual and external data, endless heaps, odd types.

``make(folder)`` writes them all, a dozen good runs between them, and says which names are the good ones.
"""

from __future__ import annotations

import json
import os
import shutil
import struct
import zlib
from pathlib import Path

import h5py
import numpy as np
from recording.streams import stream

from telemetry.beside import part_beside
from telemetry.recording.hdf5.attributes import write_document
from telemetry.recording.hdf5.columns import compress

ROOT = Path(__file__).parents[2]
GOOD = ROOT / "recordings" / "venue-01.h5"
DOCUMENT = {
    "layout": 3, "rows": 0, "events": 0, "bytes": 0, "first_us": 0, "columns": [], "meta": {"name": "hostile"},
    "summary": {"colours": ["none"]},
}  # fmt: skip


def document(rows: int, columns: list[list[str]], **more: object) -> dict[str, object]:
    return DOCUMENT | {"rows": rows, "columns": columns} | more


def bomb(path: Path, rows: int = 30_000_000, columns: int = 10) -> None:
    """A few kB that claim gigabytes: chunks of zeros, each packed as far as deflate goes."""
    with h5py.File(path, "w", libver=("v110", "v110")) as file:
        names = [["t_us", "robot_time", "int"], ["arrival_us", "time", "int"]]
        names += [[f"c{i}", f"c{i}", "float"] for i in range(columns)]
        for _, name, kind in names:
            file.create_dataset(name, (rows,), "<i8" if kind == "int" else "<f8", chunks=(1_000_000,), compression=9)
        zeros = compress(np.zeros(1_000_000), False, 9)
        file["c0"].id.write_direct_chunk((0,), zeros)
        write_document(file, document(rows, names))


def packed_twice(path: Path) -> None:
    """Deflate upon deflate: a million to one."""
    from h5py import h5d, h5p, h5s, h5t

    with h5py.File(path, "w", libver=("v110", "v110")) as file:
        made = h5p.create(h5p.DATASET_CREATE)
        made.set_chunk((8_000_000,))
        made.set_deflate(9)
        made.set_deflate(9)
        for name in (b"robot_time", b"time"):
            dataset = h5d.create(file.id, name, h5t.STD_I64LE, h5s.create_simple((8_000_000,)), made)
            dataset.write_direct_chunk((0,), zlib.compress(zlib.compress(bytes(64_000_000), 9), 9))
        write_document(file, document(8_000_000, [["t_us", "robot_time", "int"], ["arrival_us", "time", "int"]]))


def reads_others(path: Path, secret: Path, how: str) -> None:
    """A column that lies in another file."""
    with h5py.File(path, "w", libver=("v110", "v110")) as file:
        if how == "external storage":
            file.create_dataset("time", (4,), "<i8", external=[(str(secret), 0, 32)])
        elif how == "external link":
            file["time"] = h5py.ExternalLink(str(GOOD), "/time")
        elif how == "soft link":
            file["real"] = np.zeros(4, "<i8")
            file["time"] = h5py.SoftLink("/real")
        else:
            virtual = h5py.VirtualLayout((4,), "<i8")
            with h5py.File(GOOD) as good:
                rows = good["time"].shape
            virtual[:] = h5py.VirtualSource(str(GOOD), "time", rows)[:4]
            file.create_virtual_dataset("time", virtual)
        file["robot_time"] = np.zeros(4, "<i8")
        write_document(file, document(4, [["t_us", "robot_time", "int"], ["arrival_us", "time", "int"]]))


def odd_types(path: Path, dtype: object) -> None:
    with h5py.File(path, "w", libver=("v110", "v110")) as file:
        file.create_dataset("time", (4,), dtype)
        file["robot_time"] = np.zeros(4, "<i8")
        write_document(file, document(4, [["t_us", "robot_time", "int"], ["arrival_us", "time", "int"]]))


def journal_of_sync_words(path: Path, size: int = 1 << 20) -> None:
    """A journal in which every four bytes might begin a record."""
    word = b"\x01\x02\x03\x04"
    head = struct.pack("<8sI4sqQ", b"\x89SLJ\r\n\x1a\n", 1, word, 0, 0)
    record = struct.pack("<4sB3xIIq", word, 2, 0, 900_000, 0)
    path.write_bytes(head + struct.pack("<I", zlib.crc32(head)) + record * (size // len(record)))


def many_headers(path: Path, count: int = 2000) -> None:
    """A robot's text whose every line is a header with other columns."""
    path.write_text("".join(f"#t/ms,c{i}/m,d{i}/m\n{i},1,2\n" for i in range(count)))


def truncated_superblock(path: Path) -> None:
    """A file of HDF5 whose structures point anywhere: every byte behind the signature is changed."""
    data = bytearray(GOOD.read_bytes())
    for at in range(12, len(data), 7):
        data[at] ^= 0x5A
    path.write_bytes(data)


def make(folder: Path, copies: int = 1) -> set[str]:
    """Everything above in ``folder``, ``copies`` times; the names of the good runs between them."""
    folder.mkdir(parents=True, exist_ok=True)
    secret = folder.parent / "secret.bin"
    secret.write_bytes(bytes(range(64)))
    good: set[str] = set()
    for number, name in enumerate(["good", "a\x1b[31mred\x07", "<img src=x>", "=cmd()"]):
        path = folder / f"{name} 0-{number}.h5"
        shutil.copy(GOOD, path)
        good.add(path.name)
    bomb(folder / "bomb 0.h5")
    packed_twice(folder / "twice 0.h5")
    for how in ("external storage", "external link", "soft link", "virtual"):
        reads_others(folder / f"{how} 0.h5", secret, how)
    for number, dtype in enumerate(["S1000000", h5py.string_dtype(), h5py.vlen_dtype(np.int64), "<f2", "V8"]):
        odd_types(folder / f"type 0-{number}.h5", dtype)
    truncated_superblock(folder / "anywhere 0.h5")
    (folder / "empty 0.h5").write_bytes(b"")
    (folder / "text 0.h5").write_bytes(b"no recording at all\n")
    journal_of_sync_words(folder / "words 0.h5.journal", 1 << 18)
    names = [path.name for path in folder.iterdir()]
    for copy in range(1, copies):
        for name in names:
            shutil.copy(folder / name, folder / name.replace(" 0", f" {copy}", 1))
    good |= {name.replace(" 0", f" {copy}", 1) for copy in range(1, copies) for name in good}
    if hasattr(os, "mkfifo"):
        os.mkfifo(folder / "pipe.h5")
        os.mkfifo(folder / "pipe2.h5.journal")
        (folder / "device.h5").symlink_to("/dev/zero")
        (folder / "nowhere.h5").symlink_to(folder.parent / "written through a link")
        (folder / "loop.h5").symlink_to(folder / "loop.h5")
        part_beside(folder / "x").symlink_to(folder.parent / "written through a link")
        (folder / "good link.h5").symlink_to(GOOD)
        good.add("good link.h5")
    (folder / "folder.h5").mkdir()
    (folder / ".sidelong-index.json").write_text(
        json.dumps({"version": 2, "entries": {"bomb 0.h5": [[1, 2, 3, 4], {"path": "bomb 0.h5", "rows": "many"}], "x": 7}})
    )
    return good


assert stream  # the robot's text of other tests is not needed, its folder must be importable
