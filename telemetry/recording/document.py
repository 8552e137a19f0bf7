"""The document of a recording, checked before anything relies on it: a file is data, whoever wrote it."""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping
from typing import Any, Final

from telemetry.recording.channels import is_int

KINDS: Final = frozenset({"int", "milli", "whole", "float"})
LARGEST_BYTES: Final = 1 << 24
"""Of a document unpacked: a hundred times the longest course."""
MOST_PACKED: Final = 1032
"""Bytes that deflate packs into one, at the best: more than that cannot be in a file of a given size."""
LATEST_US: Final = 253_402_300_799_000_000
"""The end of the year 9999, beyond which nobody's calendar goes."""
MOST_MOMENTS: Final = 100_000
"""Gaps or marks: one a second for more than a day. Further ones are not kept."""
MOST_SENTENCES: Final = 1000
"""Remarks, or what a link tells of itself."""
LONGEST_SENTENCE: Final = 10_000
MOST_COLOURS: Final = 1 << 15
"""Names of colours that a column of theirs can tell apart."""
DEEPEST: Final = 50
_CRC_BYTES: Final = 4
_COUNTS: Final = ("rows", "events", "bytes")
_SUMMARY_COUNTS: Final = ("rows", "bytes", "lost", "rejected", "console", "notes")
_SUMMARY_TIMES: Final = ("first_us", "last_us")
_SUMMARY_TEXTS: Final = ("damage", "remarks", "colours")


def json_bytes(plain: object) -> bytes:
    """JSON in UTF-8; half characters, as from a file name that is no UTF-8, as escapes, so that they come back."""
    text = json.dumps(plain, ensure_ascii=False, separators=(",", ":"))
    try:
        return text.encode()
    except UnicodeEncodeError:
        return json.dumps(plain, separators=(",", ":")).encode()


def utf8(text: str) -> bytes:
    """Text from anywhere; what UTF-8 cannot hold (file names may) as escapes."""
    return text.encode("utf-8", "backslashreplace")


def packed_document(document: Mapping[str, Any]) -> bytes:
    """The document as it lies in the file: packed by zlib, then the CRC-32 of that; zlib's own sum misses single bits."""
    packed = zlib.compress(json_bytes(document), 9)
    return packed + zlib.crc32(packed).to_bytes(_CRC_BYTES, "little")


def unpacked_document(packed: bytes) -> dict[str, Any]:
    """What ``packed_document`` was given. Raises ValueError or zlib.error."""
    unpacking = zlib.decompressobj()
    text = unpacking.decompress(packed, LARGEST_BYTES)
    if not unpacking.eof:
        raise ValueError("the document breaks off, or never ends")
    check = unpacking.unused_data
    if check and check != zlib.crc32(packed[:-_CRC_BYTES]).to_bytes(_CRC_BYTES, "little"):
        raise ValueError("the document is not as it was written")
    document = json.loads(text)
    if not isinstance(document, dict) or not _whole(document.get("layout")):
        raise ValueError("no document")
    if "crc32" in document and not check:
        raise ValueError("the document's checksum is gone")
    return document


def check_document(document: Mapping[str, Any], file_bytes: int) -> None:
    """Raise ValueError where a part that the reader relies on is not of its kind.

    ``file_bytes``: size of the file.
    """
    for key in _COUNTS:
        _demand(_whole(document.get(key)), key)
    _demand(document["rows"] <= MOST_PACKED * file_bytes, "rows")
    _demand(_time(document.get("first_us")), "first_us")
    columns = document.get("columns")
    _demand(isinstance(columns, list) and all(map(_column, columns)), "columns")
    if "crc32" in document:
        crc32 = document["crc32"]
        _demand(isinstance(crc32, dict) and all(map(_whole, crc32.values())), "crc32")
        _demand(all(column[1] in crc32 for column in document["columns"]), "crc32")
    chunks = document.get("chunks_crc32", {})
    _demand(isinstance(chunks, dict) and all(isinstance(one, list) for one in chunks.values()), "chunks_crc32")
    # Each column takes 8 bytes a sample in memory.
    _demand(document["rows"] * len(document["columns"]) * 8 <= (64 << 20) + 64 * file_bytes, "rows")
    channels = {column[0] for column in document["columns"]}
    _demand(len(channels) == len(document["columns"]), "columns")
    _demand(not document["rows"] or channels >= {"t_us", "arrival_us"}, "columns")
    check_summary(document.get("summary", {}))


def check_summary(summary: Any) -> None:
    """The same for its summary alone."""
    _demand(isinstance(summary, dict), "summary")
    for key in _SUMMARY_COUNTS:
        _demand(_whole(summary.get(key, 0)), key)
    for key in _SUMMARY_TIMES:
        _demand(_time(summary.get(key, 0)), key)
    for key in _SUMMARY_TEXTS:
        _demand(_texts(summary.get(key, [])), key)
    _demand(len(summary.get("remarks", [])) <= MOST_SENTENCES, "remarks")
    _demand(summary.get("colours", ["none"])[:1] == ["none"] and len(summary.get("colours", [])) <= MOST_COLOURS, "colours")
    ranges, units = summary.get("ranges", {}), summary.get("units", {})
    _demand(isinstance(ranges, dict) and all(map(_range, ranges.values())), "ranges")
    _demand(isinstance(units, dict) and _texts(list(units.values())), "units")
    link = summary.get("link", {})
    _demand(isinstance(link, dict) and len(link) <= MOST_SENTENCES and not is_deep(link), "link")
    _demand(isinstance(summary.get("end", ""), str), "end")
    gaps, marks = summary.get("gaps", []), summary.get("marks", [])
    _demand(isinstance(gaps, list) and isinstance(marks, list) and max(len(gaps), len(marks)) <= MOST_MOMENTS, "gaps")
    _demand(all(map(_gap, gaps)), "gaps")
    _demand(all(map(_mark, marks)), "marks")


def is_deep(plain: Any) -> bool:
    """Whether there are lists and tables in one another without end, on which what walks through them would fail."""
    level = [plain]
    for _ in range(DEEPEST):
        level = [
            one
            for node in level
            if isinstance(node, dict | list)
            for one in (node.values() if isinstance(node, dict) else node)
        ]
        if not level:
            return False
    return True

def _demand(fits: bool, what: str) -> None:
    if not fits:
        raise ValueError(what)


def _whole(value: Any) -> bool:
    return type(value) is int and 0 <= value < 1 << 62


def _time(value: Any) -> bool:
    """Unix us; a wrong clock may lie before 1970."""
    return type(value) is int and -LATEST_US <= value <= LATEST_US


def _texts(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(item, str) for item in value)


def _range(value: Any) -> bool:
    return isinstance(value, list) and len(value) == 2 and all(type(item) in {int, float} for item in value)


def _column(value: Any) -> bool:
    if not _texts(value) or len(value) != 3:
        return False
    channel, dataset, kind = value
    return kind in KINDS and is_int(channel) == (kind in {"int", "milli"}) and bool(dataset) and "\0" not in dataset


def _gap(value: Any) -> bool:
    return (
        isinstance(value, dict)
        and value.keys() == {"row", "byte", "from_us", "until_us", "reason"}
        and _whole(value["row"])
        and _whole(value["byte"])
        and _time(value["from_us"])
        and (value["until_us"] is None or _time(value["until_us"]))
        and isinstance(value["reason"], str)
    )


def _mark(value: Any) -> bool:
    return (
        isinstance(value, dict)
        and value.keys() == {"row", "arrival_us", "text"}
        and _whole(value["row"])
        and _time(value["arrival_us"])
        and isinstance(value["text"], str)
    )
