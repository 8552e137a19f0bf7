"""Thin traces as pixels, made with numpy: a column of the picture is one vertical span with soft ends.

Measured here against a drawn polyline: a live trace changes only its last columns, so that a frame costs a copy of the
picture instead of a new drawing of every line.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPoint, QRect
from PySide6.QtGui import QImage, QPainter

Pixels = NDArray[np.uint32]
"""Shape (height, width), each 0xffRRGGBB."""
FloatArray = NDArray[np.float64]
SPARSE = 20
"""Of so many pixels less than one to be painted: naming these is faster than looking at every one."""


def rgb32(colour: str) -> int:
    """``#rrggbb`` as a pixel."""
    return 0xFF000000 | int(colour[1:], 16)


def image_of(pixels: Pixels) -> QImage:
    """A picture that shares the memory of ``pixels``; keep ``pixels`` as long as the picture."""
    height, width = pixels.shape
    return QImage(pixels.data, width, height, pixels.strides[0], QImage.Format.Format_RGB32)


def _blend(pixels: Pixels, rows: NDArray[np.int64], columns: NDArray[np.int64], colour: int, cover: FloatArray) -> None:
    """Mix ``colour`` into single pixels, ``cover`` 0 to 1."""
    old = pixels[rows, columns].astype(np.int64)
    weight = (cover * 256.0).astype(np.int64)
    mixed = np.full(len(rows), 0xFF000000, dtype=np.int64)
    for shift in (0, 8, 16):
        was = (old >> shift) & 255
        mixed |= (was + ((((colour >> shift) & 255) - was) * weight >> 8)) << shift
    pixels[rows, columns] = mixed.astype(np.uint32)


def shade_columns(pixels: Pixels, columns: NDArray[np.int64], colour: int) -> Pixels:
    """Mix an eighth of ``colour`` into whole columns; returns what they were, to be put back."""
    before = pixels[:, columns]
    pixels[:, columns] = before - ((before >> 3) & 0x1F1F1F) + np.uint32((colour >> 3) & 0x1F1F1F)
    return before


def paint_spans(pixels: Pixels, columns: NDArray[np.int64], top: FloatArray, bottom: FloatArray, colour: int) -> None:
    """Paint one span a column from ``top`` to ``bottom`` (in rows, fractions soften the ends); NaN paints nothing.

    ``columns`` are distinct indices into the picture; what lies outside the picture is cut off.
    """
    height = pixels.shape[0]
    seen = np.isfinite(top) & (bottom > 0) & (top < height)
    if not seen.any():
        return
    columns = columns[seen]
    top = np.maximum(top[seen], 0.0)
    bottom = np.minimum(bottom[seen], float(height))
    first_full = np.ceil(top).astype(np.int64)
    last_full = np.floor(bottom).astype(np.int64)
    inside_one = last_full < first_full  # the span begins and ends within one row
    length = np.maximum(last_full - first_full, 0)
    painted = int(length.sum())
    if painted * SPARSE > pixels.size:
        begins, lengths = np.zeros((2, pixels.shape[1]), dtype=np.uint16)
        begins[columns], lengths[columns] = first_full, length
        # One comparison for both ends: above a span the difference wraps round to something large.
        inside = np.arange(height, dtype=np.uint16)[:, None] - begins < lengths
        np.copyto(pixels, np.uint32(colour), where=inside)
    else:
        offset = np.repeat(np.cumsum(length) - length, length)
        run = np.arange(painted) - offset + np.repeat(first_full, length)
        pixels[run, np.repeat(columns, length)] = np.uint32(colour)
    # The soft ends: above the first full row, below the last, and all of what lies within one row. No pixel comes twice.
    upper = (first_full > top) & ~inside_one
    lower = (bottom > last_full) & (last_full < height)
    rows = np.concatenate((first_full[upper] - 1, last_full[lower]))
    cover = np.where(inside_one, bottom - top, bottom - last_full)
    covers = np.concatenate(((first_full - top)[upper], cover[lower]))
    _blend(pixels, rows, np.concatenate((columns[upper], columns[lower])), colour, covers)


def blit_ring(painter: QPainter, rect: QRect, image: QImage, first: int, width: int) -> None:
    """Paint a ring of ``width`` columns that begins with column ``first``."""
    slot = first % width
    painter.drawImage(rect.topLeft(), image, QRect(slot, 0, width - slot, rect.height()))
    if slot:
        painter.drawImage(QPoint(rect.left() + width - slot, rect.top()), image, QRect(0, 0, slot, rect.height()))
