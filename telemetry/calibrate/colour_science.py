"""How different two colours look: CIE L*a*b*, CIEDE2000 and white balance, in plain numpy, checked against colour-science.

Sources: CIE 15 (L*a*b*), IEC 61966-2-1 (sRGB and its matrix), Sharma, Wu, Dalal, 'The CIEDE2000 color-difference formula',
Color Research & Application 30(1), 2005; Bradford adaptation as ICC profiles use it (ICC.1, annex E).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

D65: Final = np.array([0.95047, 1.0, 1.08883])
"""XYZ of the white of sRGB (2 degree observer)."""
RGB_TO_XYZ: Final = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
BRADFORD: Final = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
_EPSILON: Final = 216.0 / 24389.0
_KAPPA: Final = 24389.0 / 27.0


def linear_to_srgb(linear: ArrayLike) -> Floats:
    """Linear light 0..1 (..., 3) to sRGB values 0..1."""
    value = np.clip(np.asarray(linear, dtype=np.float64), 0.0, 1.0)
    return np.asarray(np.where(value <= 0.0031308, 12.92 * value, 1.055 * value ** (1.0 / 2.4) - 0.055))


def srgb_to_linear(srgb: ArrayLike) -> Floats:
    """sRGB values 0..1 (..., 3) to linear light."""
    value = np.asarray(srgb, dtype=np.float64)
    return np.asarray(np.where(value <= 0.04045, value / 12.92, ((np.maximum(value, 0.04045) + 0.055) / 1.055) ** 2.4))


def xyz_from_linear(linear: ArrayLike) -> Floats:
    """Linear sRGB (..., 3) to XYZ, white at Y = 1."""
    return np.asarray(np.asarray(linear, dtype=np.float64) @ RGB_TO_XYZ.T)


def lab_from_xyz(xyz: ArrayLike, white: ArrayLike = D65) -> Floats:
    """XYZ (..., 3) to L*a*b* seen under ``white``."""
    ratio = np.asarray(xyz, dtype=np.float64) / np.asarray(white, dtype=np.float64)
    f = np.where(ratio > _EPSILON, np.cbrt(np.maximum(ratio, _EPSILON)), (_KAPPA * ratio + 16.0) / 116.0)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def lab_from_linear(linear: ArrayLike) -> Floats:
    """Linear sRGB (..., 3), white at 1, to L*a*b*."""
    return lab_from_xyz(xyz_from_linear(linear))


def adapt_xyz(xyz: ArrayLike, white_from: ArrayLike, white_to: ArrayLike) -> Floats:
    """What XYZ (..., 3) seen under one white corresponds to under another (Bradford)."""
    gain = (BRADFORD @ np.asarray(white_to)) / (BRADFORD @ np.asarray(white_from))
    matrix = np.linalg.inv(BRADFORD) @ np.diag(gain) @ BRADFORD
    return np.asarray(np.asarray(xyz, dtype=np.float64) @ matrix.T)


def white_balance(raw: ArrayLike, white_from: ArrayLike, white_to: ArrayLike) -> Floats:
    """Raw channels (..., 3) of one light, scaled channel by channel to those of another (von Kries)."""
    ratio = np.asarray(white_to, dtype=np.float64) / np.maximum(np.asarray(white_from, dtype=np.float64), 1e-12)
    return np.asarray(np.asarray(raw, dtype=np.float64) * ratio)


def ciede2000(first: ArrayLike, second: ArrayLike) -> Floats:
    """Colour difference of L*a*b* values (..., 3); about 1 is just seen, 10 at a glance (all weights 1)."""
    one, two = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    l1, a1, b1 = one[..., 0], one[..., 1], one[..., 2]
    l2, a2, b2 = two[..., 0], two[..., 1], two[..., 2]
    c7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2.0) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(c7 / (c7 + 25.0**7))
    c1, c2 = np.hypot(stretch * a1, b1), np.hypot(stretch * a2, b2)
    h1 = np.degrees(np.arctan2(b1, stretch * a1)) % 360.0
    h2 = np.degrees(np.arctan2(b2, stretch * a2)) % 360.0
    grey = c1 * c2 == 0.0
    turn = h2 - h1
    turn = np.where(turn > 180.0, turn - 360.0, np.where(turn < -180.0, turn + 360.0, turn))
    turn = np.where(grey, 0.0, turn)
    dl, dc = l2 - l1, c2 - c1
    dh = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(turn) / 2.0)
    lm, cm = (l1 + l2) / 2.0, (c1 + c2) / 2.0
    total = h1 + h2
    hm = np.where(
        np.abs(h1 - h2) <= 180.0, total / 2.0, np.where(total < 360.0, (total + 360.0) / 2.0, (total - 360.0) / 2.0)
    )
    hm = np.where(grey, total, hm)
    t = (
        1.0
        - 0.17 * np.cos(np.radians(hm - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * hm))
        + 0.32 * np.cos(np.radians(3.0 * hm + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * hm - 63.0))
    )
    sl = 1.0 + 0.015 * (lm - 50.0) ** 2 / np.sqrt(20.0 + (lm - 50.0) ** 2)
    sc = 1.0 + 0.045 * cm
    sh = 1.0 + 0.015 * cm * t
    rc = 2.0 * np.sqrt(cm**7 / (cm**7 + 25.0**7))
    rt = -np.sin(np.radians(60.0 * np.exp(-(((hm - 275.0) / 25.0) ** 2)))) * rc
    return np.asarray(np.sqrt((dl / sl) ** 2 + (dc / sc) ** 2 + (dh / sh) ** 2 + rt * (dc / sc) * (dh / sh)))
