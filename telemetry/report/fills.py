"""A colour to paint for a marker's name. A name or a letter always stands beside it: colour never carries meaning alone."""

from __future__ import annotations

from colorsys import hls_to_rgb
from zlib import crc32

FILLS = {
    "rust": "#b7410e",
    "orange": "#f28c28",
    "leaf": "#4c9a2a",
    "sky": "#6bb7e8",
    "white": "#fafaf5",
    "pink": "#f29bb2",
    "red": "#d2232a",
    "yellow": "#f6d32d",
    "green": "#2f9e44",
    "blue": "#1f5fbf",
    "black": "#1c1c1c",
    "grey": "#8a8a8a",
    "gray": "#8a8a8a",
    "brown": "#6b4423",
    "violet": "#7b4fb5",
    "purple": "#7b4fb5",
    "cyan": "#22b8cf",
    "magenta": "#c2258a",
    "plum": "#6d2e6d",
    "moss": "#5b6b2f",
    "straw": "#e2c878",
    "slate": "#56677a",
    "lime": "#a3d130",
    "teal": "#128277",
}
NONE_FILL = "#c9c4b6"


def fill_of(name: str) -> str:
    """``#rrggbb`` for a colour's name; an unknown name always gets the same one, made from its letters."""
    if name in FILLS:
        return FILLS[name]
    hue = crc32(name.encode("utf-8", "replace")) % 360 / 360
    red, green, blue = (round(255 * part) for part in hls_to_rgb(hue, 0.55, 0.47))
    return f"#{red:02x}{green:02x}{blue:02x}"
