"""Coverage-guided fuzzing of the line decoder: never an exception, any cutting gives the same, every byte is counted.

Not part of the tests; it needs ``pip install atheris`` (Linux, macOS). Run for a minute:
``python tests/faults/fuzz_decoder.py -max_total_time=60 -max_len=4096``
"""

from __future__ import annotations

import sys
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["telemetry.stream"]):
    from telemetry.stream.decoder import Decoder

sys.path.insert(0, str(Path(__file__).parents[1] / "stream"))
from stream_decoding import HEADER, assert_same, cut, decode

_NAMED = (None, "t/ms,refl/%,heading/deg", "n,t/ms,colour")


def one(data: bytes) -> None:
    """The first three bytes choose columns, cutting and whether plain samples surround the rest."""
    if len(data) < 4:
        return
    columns, size, around = _NAMED[data[0] % len(_NAMED)], 1 + data[1], data[2] & 1
    stream = data[3:]
    if around:
        plain = "".join(f"{i},{5 * i},rust,54,812,233,190,-0.4,12.3\n" for i in range(14))
        stream = f"{HEADER}\n{plain}".encode() + stream + b"\n" + plain.encode()
    decoder = Decoder(columns)
    whole = decode(stream, decoder=decoder)
    assert_same(whole, decode(cut(stream, [size, 3]), columns))
    assert decoder.tally.line_ends + sum(decoder.tally.bytes_of.values()) == len(stream)


if __name__ == "__main__":
    atheris.Setup(sys.argv, one)
    atheris.Fuzz()
