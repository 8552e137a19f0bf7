"""Changes files so that what is changed gets past checksums: fields, records and values, where bytes alone would be refused.

Each takes a random generator, so that the same seed makes the same damage; ``bytes_changed`` is the plain kind.
"""

from __future__ import annotations

import io
import json
import random
import struct
import zlib
from typing import Any, Final

import h5py
import numpy as np

from telemetry.recording.hdf5.attributes import read_bytes, write_document
from telemetry.recording.hdf5.heap import check_heaps

ODD: Final[list[Any]] = [
    None, True, False, 0, -1, 1, 3, 255, 1 << 31, -(1 << 63), 1 << 63, 1 << 70, 10**400, 0.0, -0.5, 1e300, float("nan"),
    float("inf"), "", "x", "none", "\0", "\ud800", "x" * 5000, "1e9999", "../x", [], [[]], [None], [1, 2, 3], ["a", "b"], {},
    {"a": 1}, {"": []}, [[1, 2], [3]], [["t_us", "time", "int"]], [{"row": -1}],
]  # fmt: skip
_RECORD: Final = struct.Struct("<4sB3xIIq")
_HEADER_BYTES: Final = 36


def bytes_changed(data: bytes, lot: random.Random) -> bytes:
    """A few bytes or stretches replaced, doubled, zeroed or cut off."""
    out = bytearray(data)
    for _ in range(lot.choice([1, 1, 2, 5])):
        if not out:
            break
        at, size = lot.randrange(len(out)), lot.choice([1, 1, 2, 4, 8, 64, 512])
        how = lot.randrange(6)
        if how == 0:
            out[at : at + size] = lot.randbytes(min(size, len(out) - at))
        elif how == 1:
            out[at : at + size] = bytes(min(size, len(out) - at))
        elif how == 2:
            out[at] ^= 1 << lot.randrange(8)
        elif how == 3:
            other = lot.randrange(len(out))
            out[at : at + size] = out[other : other + size]
        elif how == 4:
            del out[at : at + size]
        else:
            del out[at:]
    return bytes(out)


def tree_changed(tree: Any, lot: random.Random) -> Any:
    """One value somewhere in a tree of dicts and lists replaced by an odd one, left out, or doubled."""
    places: list[tuple[Any, Any]] = []
    waiting = [tree]
    while waiting:
        node = waiting.pop()
        if isinstance(node, dict | list):
            keys = list(node) if isinstance(node, dict) else list(range(len(node)))
            places += [(node, key) for key in keys]
            waiting += [node[key] for key in keys]
    if not places or lot.random() < 0.02:
        return lot.choice(ODD)
    node, key = lot.choice(places)
    how = lot.random()
    if how < 0.7:
        node[key] = lot.choice(ODD)
    elif how < 0.85:
        del node[key]
    elif isinstance(node, list):
        node.append(node[key])
    else:
        node[f"{key}2"] = node[key]
    return tree


def journal_changed(data: bytes, lot: random.Random, stream_changed: Any = bytes_changed) -> bytes:
    """Records left out, doubled, exchanged, of another kind, number, time or payload; their checksums are right."""
    word = data[12:16]
    records: list[list[Any]] = []
    at = _HEADER_BYTES
    while at + _RECORD.size + 4 <= len(data):
        _, kind, number, length, arrival_ns = _RECORD.unpack_from(data, at)
        end = at + _RECORD.size + length
        if end + 4 > len(data):
            break
        records.append([kind, number, arrival_ns, data[at + _RECORD.size : end]])
        at = end + 4
    for _ in range(lot.choice([1, 2, 4])):
        if not records:
            break
        i = lot.randrange(len(records))
        how = lot.randrange(7)
        if how == 0:
            del records[i]
        elif how == 1:
            records.insert(lot.randrange(len(records)), list(records[i]))
        elif how == 2:
            records[i][0] = lot.choice([0, 1, 2, 3, 4, 5, 6, 7, 8, 255])
        elif how == 3:
            records[i][1] = lot.choice([0, 1, (1 << 31) - 1, 1 << 31, (1 << 32) - 1, records[i][1] + 2]) & 0xFFFFFFFF
        elif how == 4:
            records[i][2] = lot.choice([0, -1, -(1 << 63), (1 << 63) - 1, records[i][2] - 10**9, 10**18, 1 << 40])
        elif how == 5 and records[i][0] in {1, 7}:
            records[i][3] = _json_changed(records[i][3], lot)
        else:
            records[i][3] = stream_changed(records[i][3], lot)
    out = bytearray(data[:_HEADER_BYTES])
    renumber = lot.random() < 0.7
    for number, (kind, own, arrival_ns, payload) in enumerate(records):
        body = _RECORD.pack(word, kind, number if renumber else own, len(payload), arrival_ns) + payload
        out += body + struct.pack("<I", zlib.crc32(body))
    return bytes(out) + (data[at:] if lot.random() < 0.5 else b"")


def _json_changed(data: bytes, lot: random.Random) -> bytes:
    try:
        tree = json.loads(data)
    except ValueError:
        return data
    return json.dumps(tree_changed(tree, lot)).encode()


def recording_changed(data: bytes, lot: random.Random) -> bytes:
    """Attributes, datasets and the document changed through HDF5 itself, so that the file is a sound one.

    Raises all that HDF5 does where the file is not.
    """
    check_heaps(data)
    image = io.BytesIO(data)
    with h5py.File(image, "r+", libver=("v110", "v110")) as file:
        for _ in range(lot.choice([1, 1, 2, 3])):
            how = lot.random()
            if how < 0.5:
                _change_document(file, lot)
            elif how < 0.75:
                _change_attribute(file, lot)
            else:
                _change_dataset(file, lot)
        if lot.random() < 0.8:
            _put_right(file)
    return image.getvalue()


def _put_right(file: h5py.File) -> None:
    """The document's checksums are those of what lies there now, as somebody would write them who means harm."""
    packed = read_bytes(file.id, "sidelong")
    if packed is None:
        return
    document = json.loads(zlib.decompress(packed))
    checks = document.get("crc32") if isinstance(document, dict) else None
    if not isinstance(checks, dict):
        return
    for name in checks:
        try:
            if name in file.attrs:
                found = read_bytes(file.id, name)
                checks[name] = checks[name] if found is None else zlib.crc32(found)
            elif isinstance(file[name], h5py.Dataset) and file[name].size < 1 << 20:
                checks[name] = zlib.crc32(np.ascontiguousarray(file[name][()]).tobytes())
        except (KeyError, TypeError, ValueError, OSError):
            continue
    write_document(file, document)


def _change_document(file: h5py.File, lot: random.Random) -> None:
    packed = read_bytes(file.id, "sidelong")
    if packed is None:
        return
    document = tree_changed(json.loads(zlib.decompress(packed)), lot)
    try:
        write_document(file, document)
    except UnicodeEncodeError:
        return


def _change_attribute(file: h5py.File, lot: random.Random) -> None:
    names = list(file.attrs)
    if not names:
        return
    name = lot.choice([name for name in names if name in {"sidelong", "raw_xz", "reads", "events"}] or names)
    old = file.attrs[name]
    if isinstance(old, np.ndarray) and old.dtype == np.uint8 and lot.random() < 0.4:
        changed = np.frombuffer(bytes_changed(old.tobytes(), lot), np.uint8)
        if len(changed):
            file.attrs.create(name, changed)
        return
    if isinstance(old, bytes | str | np.bytes_) and lot.random() < 0.5:
        text = old if isinstance(old, bytes) else str(old).encode()
        file.attrs.create(name, np.bytes_(bytes_changed(text, lot).replace(b"\0", b"") or b"x"))
        return
    del file.attrs[name]
    new = lot.choice([
        None, 7, -1.5, "text", "", np.zeros((0,), "u1"), np.zeros((2, 2), "u1"), np.zeros(3, "<f8"), np.zeros(3, "<i8"),
        np.bytes_(b"x"), np.array([b"a", b"b"]), np.array([(1, 2.0)], "i4,f8"), h5py.Empty("f4"), file.ref, np.bool_(True),
        ["a", "bc"], np.void(b"opaque"), np.zeros(9, ">u4"),
    ])  # fmt: skip
    if new is not None:
        file.attrs[name] = new


def _change_dataset(file: h5py.File, lot: random.Random) -> None:
    names = list(file)
    if not names:
        return
    name = lot.choice(names)
    item = file[name]
    if not isinstance(item, h5py.Dataset):
        return
    shape = item.shape or (1,)
    how = lot.randrange(5)
    if how == 0 and item.chunks and item.id.get_num_chunks():
        chunk = item.id.get_chunk_info(lot.randrange(item.id.get_num_chunks()))
        _, packed = item.id.read_direct_chunk(chunk.chunk_offset)
        item.id.write_direct_chunk(chunk.chunk_offset, bytes_changed(packed, lot) or b"x")
        return
    if how == 1 and shape[0] and item.chunks:
        values = item[()]
        if values.dtype.kind in "iuf":
            values.flat[lot.randrange(values.size)] = lot.choice([0, -1, 1, 100, 127])
            item[()] = values
        return
    del file[name]
    if how == 2:
        file.create_group(name)
    elif how == 3:
        rows = lot.choice([0, 1, shape[0] + 1, max(0, shape[0] - 1), 1 << 20, 1 << 45])
        kind = lot.choice(["<i4", ">i4", "<f8", "<i8", "u1", "S3", "?", "i4,f8", h5py.string_dtype(), "<f2", "<c16"])
        file.create_dataset(name, (rows,), kind, chunks=(64,), maxshape=(None,))
    elif how == 4:
        file.create_dataset(name, data=lot.choice([1, "text", np.zeros((3, 3)), np.zeros((0, 3), "i8")]))


def text_changed(text: bytes, lot: random.Random) -> bytes:
    """One value of one line of a TOML file replaced by an odd one; or lines left out, doubled, exchanged."""
    lines = text.split(b"\n")
    i = lot.randrange(len(lines))
    how = lot.random()
    if how < 0.6 and b"=" in lines[i]:
        key, _, _ = lines[i].partition(b"=")
        lines[i] = key + b"= " + _toml(lot.choice(ODD), lot).encode("utf-8", "replace")
    elif how < 0.75:
        del lines[i]
    elif how < 0.9:
        lines.insert(lot.randrange(len(lines) + 1), lines[i])
    else:
        lines[i] = bytes_changed(lines[i], lot)
    return b"\n".join(lines)


def _toml(value: Any, lot: random.Random) -> str:
    if value is None:
        return lot.choice(["1979-05-27", "0x10", "'''x", "[", "{", "07:32:00", '"\\uD800"', "[" * 2000])
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return "[" + ", ".join(_toml(one, lot) for one in value) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f'"{key}" = {_toml(one, lot)}' for key, one in value.items()) + "}"
    if isinstance(value, int | float):
        return repr(value)
    return json.dumps(value)
