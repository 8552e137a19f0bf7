"""What the root of a recording holds, read out of the very header that HDF5 reads it from: its links and its attributes.

To open a file costs HDF5 more than all that a short recording holds. The header of its root is compared byte by byte with
one as we write them; where anything else stands in it, HDF5 is asked. Its own checksum is not looked at: only what has a
CRC-32 of ours is taken from here. Format: HDF5 file format specification 3.0, II.A (superblock 2 and 3), III.E (global
heap), IV.A.1.b (object header version 2), IV.A.2 (messages: c link info, g link, k group info, m attribute, q continuation,
v attribute info).
"""

from __future__ import annotations

import struct
from typing import Final, NamedTuple

_MAGIC: Final = b"\x89HDF\r\n\x1a\n"
_BYTE: Final = b"\x10\0\0\0" + struct.pack("<IHH", 1, 0, 8)
_ONE_DIMENSION: Final = b"\x02\x01\x01\x01"
_NUMBERS: Final = b"\x19\0\0\0"
_TEXT: Final = b"\x19\x01\x01\0"
_NIL, _LINK_INFO, _LINK, _GROUP_INFO, _ATTRIBUTE, _CONTINUED, _ATTRIBUTE_INFO = 0, 2, 6, 10, 12, 16, 21
_COUNTER: Final = {_LINK_INFO: 8, _ATTRIBUTE_INFO: 2}
"""Bytes of the greatest number so far, before the heap's address, where it is kept."""
_CONSTANT_OR_UNSHARED: Final = 0b101
"""The only flags of a message that change nothing."""
_MOST_CHUNKS: Final = 16


class Root(NamedTuple):
    """``links``: name -> where the header of that object begins. ``attributes``: name -> its bytes, of all that has some."""

    links: dict[bytes, int]
    attributes: dict[str, bytes]


def word_of(data: bytes) -> int:
    """Bytes of an address and of a length in this file; 0 where it does not begin with a superblock as we write them."""
    word = data[9] if len(data) > 48 and data[9] == data[10] and data[9] in {4, 8} else 0
    begins_with_it = data[8:9] in {b"\x02", b"\x03"} and not any(data[12 : 12 + word])
    return word if data.startswith(_MAGIC) and begins_with_it else 0


def read_root(data: bytes) -> Root | None:
    """The root of the file whose bytes these all are; None where only HDF5 can tell."""
    word = word_of(data)
    if not word or data[11]:  # it is marked as open for writing
        return None
    extension, end, root = (int.from_bytes(data[12 + k * word : 12 + (k + 1) * word], "little") for k in (1, 2, 3))
    if extension != _undefined(word) or end != len(data):
        return None
    try:
        return _Header(data, word).read(root)
    except (ValueError, IndexError, struct.error):
        return None


def _undefined(word: int) -> int:
    return (1 << 8 * word) - 1


class _Header:
    """Raises ValueError where something else stands than is written by us."""

    def __init__(self, data: bytes, word: int) -> None:
        self._data, self._word = data, word
        self._root = Root({}, {})
        self._none = b"\xff" * word

    def read(self, at: int) -> Root:
        data = self._data
        flags = data[at + 5]
        if data[at : at + 5] != b"OHDR\x02" or flags & ~0b10011:
            raise ValueError("header")
        begin = at + 6 + (4 if flags & 0b10000 else 0)
        width = 1 << (flags & 3)
        chunks = [(begin + width, int.from_bytes(data[begin : begin + width], "little"))]
        for start, size in chunks:
            chunks += self._chunk(start, start + size)
            if len(chunks) > _MOST_CHUNKS:
                raise ValueError("chunks")
        return self._root

    def _chunk(self, at: int, end: int) -> list[tuple[int, int]]:
        """Take in its messages; where it is continued."""
        data, more = self._data, []
        if end > len(data):
            raise ValueError("chunk")
        while at + 4 <= end:
            kind, size, flags = data[at], data[at + 1] | data[at + 2] << 8, data[at + 3]
            begin = at + 4
            at = begin + size
            if kind == _NIL:
                continue
            if at > end or flags & ~_CONSTANT_OR_UNSHARED:
                raise ValueError("message")
            if kind == _LINK:
                self._link(data[begin:at])
            elif kind == _ATTRIBUTE:
                self._attribute(data[begin:at])
            elif kind == _CONTINUED:
                start, length = (int.from_bytes(data[begin + k * self._word :][: self._word], "little") for k in (0, 1))
                if data[start : start + 4] != b"OCHK":
                    raise ValueError("continuation")
                more.append((start + 4, length - 8))
            elif kind in {_LINK_INFO, _ATTRIBUTE_INFO}:
                heap = begin + 2 + (_COUNTER[kind] if data[begin + 1] & 1 else 0)
                if data[heap : heap + self._word] != self._none:  # those in a heap are HDF5's business
                    raise ValueError("heap")
            elif kind != _GROUP_INFO:
                raise ValueError("kind")
        return more

    def _link(self, body: bytes) -> None:
        flags, at = body[1], 2
        if body[0] != 1 or flags & ~0b11111:
            raise ValueError("link")
        if flags & 0b1000:
            if body[at]:
                raise ValueError("no hard link")
            at += 1
        at += (8 if flags & 0b100 else 0) + (1 if flags & 0b10000 else 0)
        width = 1 << (flags & 3)
        begin = at + width
        end = begin + int.from_bytes(body[at:begin], "little")
        name = body[begin:end]
        if len(body) != end + self._word or name in self._root.links:
            raise ValueError("link")
        self._root.links[name] = int.from_bytes(body[end:], "little")

    def _attribute(self, body: bytes) -> None:
        version, flags, name_size, kind_size, space_size, _ = struct.unpack_from("<BBHHHB", body)
        kind_at = 9 + name_size
        space_at = kind_at + kind_size
        value_at = space_at + space_size
        name, kind, space = body[9 : kind_at - 1].decode(), body[kind_at:space_at], body[space_at:value_at]
        if version != 3 or flags or body[kind_at - 1] or "\0" in name or name in self._root.attributes:
            raise ValueError("attribute")
        self._root.attributes[name] = self._value(kind, space, body[value_at:])

    def _value(self, kind: bytes, space: bytes, value: bytes) -> bytes:
        word = self._word
        if space[:4] == _ONE_DIMENSION:
            length = int.from_bytes(space[4 : 4 + word], "little")
            if kind != _BYTE or space[4 + word :] != space[4 : 4 + word] or length != len(value):
                raise ValueError("array")
            return value
        if space != b"\x02\0\0\0":
            raise ValueError("space")
        if kind[:2] == b"\x13\x11" and len(kind) == 8:  # UTF-8 of fixed length, filled up with zeros
            if struct.unpack_from("<I", kind, 4)[0] != len(value):
                raise ValueError("text")
            return value.rstrip(b"\0")
        if kind[:4] not in {_NUMBERS, _TEXT} or kind[4:] != struct.pack("<I", 8 + word) + _BYTE or len(value) != 8 + word:
            raise ValueError("kind of value")
        length, number = struct.unpack_from("<I", value)[0], struct.unpack_from("<I", value, 4 + word)[0]
        found = self._in_heap(int.from_bytes(value[4 : 4 + word], "little"), number, length)
        if kind[:4] == _TEXT and b"\0" in found:  # where HDF5 takes a text to end
            raise ValueError("text")
        return found

    def _in_heap(self, heap: int, number: int, length: int) -> bytes:
        """Value ``number`` of a heap whose lengths ``check_heaps`` has found to be sound."""
        data, head = self._data, 8 + (self._word + 7) // 8 * 8
        if data[heap : heap + 8] != b"GCOL\x01\0\0\0":
            raise ValueError("heap")
        end = heap + int.from_bytes(data[heap + 8 : heap + 8 + self._word], "little")
        at, found = heap + head, []
        while at + head <= end:
            here, size = data[at] | data[at + 1] << 8, int.from_bytes(data[at + 8 : at + 8 + self._word], "little")
            if not here:
                break
            if here == number:
                found.append(data[at + head : at + head + size])
            at += head + (size + 7) // 8 * 8
        if len(found) != 1 or len(found[0]) != length:  # of two with one number HDF5 takes the last
            raise ValueError("value")
        return found[0]
