"""Changes the headers of short recordings, with their checksums put right, and their heaps, which have none.

What is changed is whole messages: their sizes, order, number and bytes, and where a header is continued. So what comes out
is often a file that HDF5 reads without complaint, though nobody would write it so.
"""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from typing import Final, NamedTuple

from recording.lookup3 import lookup3

_HEAD: Final = struct.Struct("<BHB")
_CONTINUED: Final = 16
_LINK: Final = 6
_MOST_SIZE: Final = 60_000


class Message(NamedTuple):
    """One message of a header. ``size``: what its head says."""

    kind: int
    size: int
    flags: int
    body: bytes

    def packed(self) -> bytes:
        """As it lies in the file."""
        return _HEAD.pack(self.kind, self.size, self.flags) + self.body


class Short:
    """A short recording's bytes, with its headers taken apart. Superblock 2 or 3, addresses of ``word`` bytes."""

    def __init__(self, data: bytes) -> None:
        self.data = bytearray(data)
        self.word = data[9]
        self.root = self.number(12 + 3 * self.word)

    def number(self, at: int) -> int:
        """The address or length there."""
        return int.from_bytes(self.data[at : at + self.word], "little")

    def chunks(self, header: int) -> list[tuple[int, int, int]]:
        """(start of all that its checksum covers, first message, end) of each chunk of the header."""
        flags = self.data[header + 5]
        begin = header + 6 + (4 if flags & 0x10 else 0)
        width = 1 << (flags & 3)
        first = begin + width
        out = [(header, first, first + int.from_bytes(self.data[begin:first], "little"))]
        for _, at, end in out:
            for one in self.messages(at, end):
                if one.kind == _CONTINUED and len(out) < 16:
                    start, length = (int.from_bytes(one.body[k * self.word :][: self.word], "little") for k in (0, 1))
                    out.append((start, start + 4, start + length - 4))
        return out

    def messages(self, at: int, end: int) -> list[Message]:
        """Those of one chunk; the last may be what is left over."""
        found = []
        while at + _HEAD.size <= end:
            kind, size, flags = _HEAD.unpack_from(self.data, at)
            found.append(Message(kind, size, flags, bytes(self.data[at + 4 : min(end, at + 4 + size)])))
            at += 4 + size
        return found

    def links(self) -> dict[bytes, tuple[int, tuple[int, int, int]]]:
        """Name -> (where the address of its header stands, the chunk it stands in)."""
        found = {}
        for chunk in self.chunks(self.root):
            at = chunk[1]
            for one in self.messages(*chunk[1:]):
                if one.kind == _LINK and len(one.body) > 4:
                    name = one.body[2 + (8 if one.body[1] & 4 else 0) + 1 : -self.word]
                    found[name] = at + 4 + len(one.body) - self.word, chunk
                at += 4 + one.size
        return found

    def put_right(self, chunk: tuple[int, int, int]) -> None:
        """The checksum of a chunk."""
        start, _, end = chunk
        self.data[end : end + 4] = struct.pack("<I", lookup3(bytes(self.data[start:end])))

    def rewrite(self, header: int, chunk: tuple[int, int, int], messages: list[Message]) -> None:
        """A chunk with other messages; where they take other room, at the end of the file."""
        body = b"".join(one.packed() for one in messages)
        start, first, end = chunk
        if len(body) <= end - first:
            self.data[first : first + len(body)] = body
            self.data[first + len(body) : end] = bytes(end - first - len(body))
            self.put_right(chunk)
        elif start == header:
            self._moved(header, first, body)

    def _moved(self, header: int, first: int, body: bytes) -> None:
        at = len(self.data)
        head = bytearray(self.data[header:first])
        width = 1 << (head[5] & 3)
        head[-width:] = len(body).to_bytes(4, "little")
        head[5] = head[5] & ~3 | 2
        whole = bytes(head) + body
        self.data += whole + struct.pack("<I", lookup3(whole))
        self.pointed(header, at)

    def pointed(self, header: int, at: int) -> None:
        """Whatever names the object at ``header`` names that at ``at``; the file ends where it ends."""
        place = at.to_bytes(self.word, "little")
        if header == self.root:
            self.data[12 + 3 * self.word : 12 + 4 * self.word] = place
            self.root = at
        for where, chunk in self.links().values():
            if self.number(where) == header:
                self.data[where : where + self.word] = place
                self.put_right(chunk)
        self.ended()

    def ended(self) -> None:
        """The superblock says how long the file is."""
        self.data[12 + 2 * self.word : 12 + 3 * self.word] = len(self.data).to_bytes(self.word, "little")
        end = 12 + 4 * self.word
        self.data[end : end + 4] = struct.pack("<I", lookup3(bytes(self.data[:end])))


Change = Callable[[list[Message], random.Random], list[Message]]


def _other_byte(messages: list[Message], lot: random.Random) -> list[Message]:
    """Bytes of one message."""
    k = lot.randrange(len(messages))
    body = bytearray(messages[k].body or b"\0")
    for _ in range(lot.choice([1, 1, 2])):
        body[lot.randrange(min(len(body), 64))] = lot.choice([0, 1, 2, 4, 0x10, 0x7F, 0xFF, lot.randrange(256)])
    return [*messages[:k], messages[k]._replace(body=bytes(body)), *messages[k + 1 :]]


def _other_head(messages: list[Message], lot: random.Random) -> list[Message]:
    """Kind, flags or size of one message."""
    k, how = lot.randrange(len(messages)), lot.randrange(3)
    one = messages[k]
    changed = (
        one._replace(kind=lot.choice([0, 1, 3, 5, 6, 8, 11, 12, 16, 21, 24])),
        one._replace(flags=lot.choice([0, 1, 2, 4, 5, 8, 0x10, 0x80])),
        one._replace(size=max(0, one.size + lot.choice([-8, -4, -1, 1, 4, 8, 30]))),
    )[how]
    return [*messages[:k], changed, *messages[k + 1 :]]


def _twice(messages: list[Message], lot: random.Random) -> list[Message]:
    """One message once more, changed or not, before or behind."""
    again = lot.choice(messages)
    k = lot.randrange(len(messages) + 1)
    out = [*messages[:k], again, *messages[k:]]
    return _other_byte(out, lot) if lot.random() < 0.5 else out


def _less(messages: list[Message], lot: random.Random) -> list[Message]:
    k = lot.randrange(len(messages))
    return messages[:k] + messages[k + 1 :]


def _moved(messages: list[Message], lot: random.Random) -> list[Message]:
    out = list(messages)
    out.insert(lot.randrange(len(out)), out.pop(lot.randrange(len(out))))
    return out


def _swallowed(messages: list[Message], lot: random.Random) -> list[Message]:
    """One message takes in those behind it; they stand once more behind it, one of them changed."""
    k = lot.randrange(min(8, len(messages)))
    until = lot.randrange(k + 1, len(messages) + 1)
    taken = b"".join(one.packed() for one in messages[k + 1 : until])
    body = messages[k].body + taken
    if len(body) > _MOST_SIZE or k + 1 == len(messages):
        return _twice(messages, lot)
    rest = _other_byte(messages[k + 1 :], lot)
    return [*messages[:k], Message(messages[k].kind, len(body), messages[k].flags, body), *rest]


def _stuffed(messages: list[Message], lot: random.Random) -> list[Message]:
    """Bytes behind what a message says."""
    k = lot.randrange(len(messages))
    body = messages[k].body + lot.choice([bytes(1), bytes(8), lot.randbytes(3), b"\xff" * 4])
    return [*messages[:k], messages[k]._replace(size=len(body), body=body), *messages[k + 1 :]]


_CHANGES: Final[tuple[Change, ...]] = (_other_byte, _other_byte, _other_head, _twice, _less, _moved, _swallowed, _stuffed)


def header_changed(short: Short, lot: random.Random) -> None:
    """Messages of the root's header or of a column's."""
    headers = [short.root, *(short.number(where) for where, _ in short.links().values())]
    header = lot.choice([short.root, lot.choice(headers)])
    chunk = lot.choice(short.chunks(header))
    messages = short.messages(*chunk[1:])
    if messages:
        short.rewrite(header, chunk, lot.choice(_CHANGES)(messages, lot))


def link_changed(short: Short, lot: random.Random) -> None:
    """A column's name leads to the header of another, or anywhere."""
    links = list(short.links().values())
    where, chunk = lot.choice(links)
    at = short.number(lot.choice(links)[0]) if lot.random() < 0.7 else lot.randrange(len(short.data))
    short.data[where : where + short.word] = at.to_bytes(short.word, "little")
    short.put_right(chunk)


def heap_changed(short: Short, lot: random.Random) -> None:
    """A value of the heap gets another number or length, or zeros among its bytes; heaps have no checksum."""
    at = short.data.find(b"GCOL\x01\0\0\0")
    if at < 0:
        header_changed(short, lot)
        return
    head = 8 + (short.word + 7) // 8 * 8
    end, places = at + int.from_bytes(short.data[at + 8 : at + 8 + short.word], "little"), []
    at += head
    while at + head <= end:
        places.append(at)
        size = int.from_bytes(short.data[at + 8 : at + 8 + short.word], "little")
        at += head + (size + 7) // 8 * 8 if short.data[at] or short.data[at + 1] else max(size, head)
    at = lot.choice(places)
    if lot.random() < 0.6:
        other = lot.choice(places)
        short.data[at : at + 2] = short.data[other : other + 2]
    elif lot.random() < 0.5:
        size = int.from_bytes(short.data[at + 8 : at + 8 + short.word], "little") + lot.choice([-8, -1, 1, 8])
        short.data[at + 8 : at + 8 + short.word] = max(0, size).to_bytes(short.word, "little")
    else:
        short.data[at + head + lot.randrange(16)] = lot.choice([0, 0, 0xFF])


def changed(data: bytes, lot: random.Random) -> bytes:
    """One to three changes of any kind."""
    short = Short(data)
    for _ in range(lot.choice([1, 1, 2, 3])):
        lot.choice([header_changed, header_changed, header_changed, link_changed, heap_changed])(short, lot)
    return bytes(short.data)
