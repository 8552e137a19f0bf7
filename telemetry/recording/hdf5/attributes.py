"""Attributes and dimensions, as HDF5 dimension scales and the netCDF-4 format spell them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import h5py
import numpy as np
from h5py import h5a, h5ds, h5f, h5s, h5t

from telemetry.recording.document import packed_document, utf8

DOCUMENT: Final = "sidelong"
_APART: Final = h5py.vlen_dtype(np.uint8)
_NO_VARIABLE: Final = "This is a netCDF dimension but not a netCDF variable."


def write_attributes(holder: Any, texts: Mapping[str, str]) -> None:
    """Fixed-length UTF-8 texts, which every reader of HDF5 knows."""
    for name, text in texts.items():
        data = utf8(text)
        kind = h5t.TypeID.copy(h5t.C_S1)
        kind.set_size(max(1, len(data)))
        kind.set_cset(h5t.CSET_UTF8)
        kind.set_strpad(h5t.STR_NULLPAD)
        if name in holder.attrs:
            del holder.attrs[name]
        attribute = h5a.create(holder.id, name.encode(), kind, h5s.create(h5s.SCALAR))
        attribute.write(np.array(data, f"S{max(1, len(data))}"), mtype=kind)


def write_text(file: h5py.File, name: str, text: bytes, *, apart: bool = False) -> None:
    """UTF-8 of fixed length; ``apart``: of variable length, which lies in a heap of the file."""
    if apart:
        file.attrs.create(name, text.decode(), dtype=h5py.string_dtype())
    else:
        write_attributes(file, {name: text.decode()})


def write_document(file: h5py.File, document: Mapping[str, Any]) -> None:
    """Everything the fast reader needs, as JSON packed by zlib (which checks it), in one attribute of bytes."""
    if DOCUMENT in file.attrs:
        del file.attrs[DOCUMENT]
    write_bytes(file, DOCUMENT, packed_document(document))


def write_bytes(file: h5py.File, name: str, data: bytes, *, apart: bool = False) -> None:
    """Bytes as an attribute; ``apart``: as one value of variable length, which lies in a heap of the file."""
    numbers = np.frombuffer(data, np.uint8)
    if not apart:
        file.attrs.create(name, numbers)
        return
    value = np.empty((), object)
    value[()] = numbers
    file.attrs.create(name, value, shape=(), dtype=h5py.vlen_dtype(np.uint8))


def read_bytes(file: h5f.FileID, name: str) -> bytes | None:
    """What ``write_bytes`` wrote, either way; None where there is no such attribute. Raises TypeError for anything else."""
    if not h5a.exists(file, name.encode()):
        return None
    attribute = h5a.open(file, name.encode())
    kind = attribute.get_type()
    apart = isinstance(kind, h5t.TypeVlenID)
    # To have h5py find out the type of every attribute takes longer than reading one.
    if not (kind.get_super() if apart else kind).equal(h5t.STD_U8LE):
        raise TypeError(name)
    value = np.empty(attribute.shape, _APART if apart else np.uint8)
    attribute.read(value)
    numbers: Any = value[()] if apart else value
    if not isinstance(numbers, np.ndarray) or numbers.dtype != np.uint8:
        raise TypeError(name)
    return numbers.tobytes()


def read_text(file: h5f.FileID, name: str) -> bytes | None:
    """What ``write_text`` wrote, either way; None where there is no such attribute. Raises TypeError for anything else."""
    if not h5a.exists(file, name.encode()):
        return None
    attribute = h5a.open(file, name.encode())
    kind = attribute.get_type()
    if not isinstance(kind, h5t.TypeStringID) or attribute.shape != ():
        raise TypeError(name)
    if kind.is_variable_str():
        whole: Any = np.empty((), object)
        attribute.read(whole)
        return bytes(whole[()])
    out = np.empty((), f"S{kind.get_size()}")
    attribute.read(out, mtype=kind)
    return bytes(out[()])


def write_flags(dataset: h5py.Dataset, values: Iterable[int], meanings: Iterable[str]) -> None:
    """CF 3.5: the meanings of whole numbers, separated by blanks, so blanks within become underscores."""
    dataset.attrs.create("flag_values", np.array(list(values), dataset.dtype))
    write_attributes(dataset, {"flag_meanings": " ".join(word.replace(" ", "_") for word in meanings)})


def write_dimension(file: h5py.File, name: str, length: int, datasets: Sequence[h5py.Dataset]) -> None:
    """A netCDF-4 dimension without a variable, and the datasets along it, each of one dimension.

    Format: HDF5 Dimension Scale Specification 1.4, and the netCDF-4 format specification. ``H5DSattach_scale`` would
    write the list of references anew for every dataset and leave holes in the file.
    """
    scale = file.create_dataset(name, shape=(length,), dtype=">f4")
    h5ds.set_scale(scale.id, f"{_NO_VARIABLE}{length:10d}".encode())
    back = np.dtype([("dataset", h5py.ref_dtype), ("dimension", "<i4")])
    scale.attrs.create("REFERENCE_LIST", np.array([(dataset.ref, 0) for dataset in datasets], back), dtype=back)
    for dataset in datasets:
        of_first = np.empty(1, object)
        of_first[0] = np.array([scale.ref], h5py.ref_dtype)
        dataset.attrs.create("DIMENSION_LIST", of_first, dtype=h5py.vlen_dtype(h5py.ref_dtype))
