"""Small streams for the tests of this room."""

from __future__ import annotations

HEADER = b"#n,t/ms,colour,refl/%,red,green,blue,heading/deg,dist/cm\n"
COLOURS = ("none", "none", "rust", "rust", "none", "leaf", "leaf", "none")


def line(i: int) -> bytes:
    """Sample ``i`` of a made-up drive."""
    colour = COLOURS[i // 25 % len(COLOURS)]
    wobble = i * 7919 % 13
    refl, red, green, blue = 40 + wobble, 300 + 3 * wobble, 200 + 5 * (i * 31 % 11), 100 + i % 17
    return f"{i},{1000 + 10 * i},{colour},{refl},{red},{green},{blue},{i % 7 / 10 - 0.3:.1f},{i * 0.12:.1f}\n".encode()


def stream(rows: int, *, note_at: int = 50) -> list[bytes]:
    """Header, samples and one note, each as the bytes of one read."""
    out = [HEADER]
    for i in range(rows):
        if i == note_at:
            out.append(b"!%d,gate open\n" % (1000 + 10 * i))
        if i and i % 100 == 0:
            out.append(HEADER)
        out.append(line(i))
    return out
