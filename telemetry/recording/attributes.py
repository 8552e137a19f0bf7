"""Attributes and dimensions, as HDF5 dimension scales and the netCDF-4 format spell them."""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Mapping
from typing import Any, Final

import h5py
import numpy as np
from h5py import h5a, h5ds, h5f, h5s, h5t

DOCUMENT: Final = "sidelong"
_NO_VARIABLE: Final = "This is a netCDF dimension but not a netCDF variable."


def write_attributes(holder: Any, texts: Mapping[str, str]) -> None:
    """Fixed-length UTF-8 texts, which every reader of HDF5 knows."""
    for name, text in texts.items():
        data = text.encode()
        kind = h5t.TypeID.copy(h5t.C_S1)
        kind.set_size(max(1, len(data)))
        kind.set_cset(h5t.CSET_UTF8)
        kind.set_strpad(h5t.STR_NULLPAD)
        if name in holder.attrs:
            del holder.attrs[name]
        attribute = h5a.create(holder.id, name.encode(), kind, h5s.create(h5s.SCALAR))
        attribute.write(np.array(data, f"S{max(1, len(data))}"), mtype=kind)


def write_document(file: h5py.File, document: Mapping[str, Any], *, heap: HeapRoom | None = None) -> None:
    """Everything the fast reader needs, as JSON packed by zlib (which checks it), in one attribute of bytes."""
    text = json.dumps(document, ensure_ascii=False, separators=(",", ":")).encode()
    if DOCUMENT in file.attrs:
        del file.attrs[DOCUMENT]
    packed = zlib.compress(text, 9)
    write_bytes(file, DOCUMENT, packed, apart=heap is not None and heap.takes(len(packed)))


def write_bytes(file: h5py.File, name: str, data: bytes, *, apart: bool = False) -> None:
    """Bytes as an attribute; ``apart``: as one value of variable length, which lies in the file's heap."""
    numbers = np.frombuffer(data, np.uint8)
    if not apart:
        file.attrs.create(name, numbers)
        return
    value = np.empty((), object)
    value[()] = numbers
    file.attrs.create(name, value, shape=(), dtype=h5py.vlen_dtype(np.uint8))


def read_bytes(file: h5f.FileID, name: str) -> bytes | None:
    """What ``write_bytes`` wrote, either way; None where there is no such attribute."""
    if not h5a.exists(file, name.encode()):
        return None
    attribute = h5a.open(file, name.encode())
    value = np.empty(attribute.shape, attribute.dtype)
    attribute.read(value)
    data: bytes = (value[()] if value.dtype.hasobject else value).tobytes()
    return data


class HeapRoom:
    """Room in the file's heap. HDF5 makes it 4 kB large for the few bytes that named dimensions need: most of it is free.

    Format: HDF5 file format specification 3.0, III.E (global heap). What is said to fit and does not costs room, no more.
    """

    def __init__(self, dimensioned: int) -> None:
        self._free = 4096 - 16 - 24 * dimensioned

    def takes(self, length: int) -> bool:
        """Whether ``length`` more bytes fit; then they are reckoned as in it."""
        takes = 16 + (length + 7) // 8 * 8
        if takes > self._free:
            return False
        self._free -= takes
        return True


def write_flags(dataset: h5py.Dataset, values: Iterable[int], meanings: Iterable[str]) -> None:
    """CF 3.5: the meanings of whole numbers, separated by blanks, so blanks within become underscores."""
    dataset.attrs.create("flag_values", np.array(list(values), dataset.dtype))
    write_attributes(dataset, {"flag_meanings": " ".join(word.replace(" ", "_") for word in meanings)})


def write_dimension(file: h5py.File, name: str, length: int) -> Any:
    """A netCDF-4 dimension without a variable, as the netCDF-4 format specification writes it. Returns its scale."""
    dataset = file.create_dataset(name, shape=(length,), dtype=">f4")
    h5ds.set_scale(dataset.id, f"{_NO_VARIABLE}{length:10d}".encode())
    return dataset.id
