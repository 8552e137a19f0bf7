"""The statistics behind reading by evidence, done here once and handed to the robot as small tables of whole numbers.

Scaled units: a channel's span over the palette is about 1000; a noisy channel gets less, so that distances weigh alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from telemetry.course import NONE, Course, GroupRule
from telemetry.palette import CHANNELS, Palette
from telemetry.sample import MISSING

SPAN = 1000.0
STEADY = 0.03
"""Part of a channel's span by which even a noiseless channel is taken to err."""
NOWHERE = (2000.0, -2000.0, 2000.0)
"""Where a colour lies that the palette does not know: farther and otherwise than any surface can."""
NAT = 16.0
"""Whole-number log-likelihoods count sixteenths of a nat."""
LEAST_COMMON = 10
"""Variance of the common gain, 1/4096: it wavers by a twentieth at least."""
ANY_COMMON = 1475
"""The same where only shares can be compared: levels of a palette that was not measured are no one's."""
TYPICAL_HALF_CM = 1.5
AROUND, SPOT = 25, 40
"""0.1 mm: how far beyond its edges a marker is looked for, and so near to another one the spot may see of it."""
WHOLE_SCALE = np.array([1.0, 1.0, 1.0, 10.0])
"""From the palette's units to those of the moment: refl is stepped in 0.1 %."""


@dataclass(frozen=True, slots=True)
class ColourTable:
    """Scaled whole numbers: ``mul`` (4), ``none`` (4), ``marks`` (colours * 4), ``noise``: a sample's variance.

    ``white``: the direction of white, length 1024, three channels. ``common``: variance (1/4096) of a gain that all channels
    share for a moment. ``own_pct``: how far a capture spreads besides, per cent of its level. ``relative``: whether the
    palette's field is known, so that departures from it can be compared.
    """

    mul: list[int]
    none: list[int]
    marks: list[int]
    noise: int
    relative: bool
    white: list[int]
    common: int
    own_pct: int

    @property
    def light(self) -> bool:
        """Is reflected light all there is?"""
        return bool(self.mul[3])

    @property
    def none3(self) -> list[int]:
        """``none`` in three channels: red, green, blue, or reflected light and nothing."""
        return self._three(self.none)

    @property
    def marks3(self) -> list[int]:
        """``marks`` likewise, colours * 3."""
        return [value for at in range(0, len(self.marks), 4) for value in self._three(self.marks[at : at + 4])]

    def _three(self, four: list[int]) -> list[int]:
        return [four[3], 0, 0] if self.light else four[:3]


def usable_channels(palette: Palette, channels: frozenset[str]) -> list[int]:
    """Which of CHANNELS both the palette and the run have: red, green and blue together, else refl alone, else none."""
    both = [name in palette.channels and name in channels for name in CHANNELS]
    if all(both[:3]):
        return [0, 1, 2]
    return [3] if both[3] else []


def colour_table(
    palette: Palette, names: tuple[str, ...], colours: int, channels: frozenset[str], *, places: bool = False
) -> ColourTable:
    """The palette in scaled units for ``names[:colours]``; a colour it does not know lies far from everything.

    ``places``: only where markers stand is asked, not which colour they have.
    """
    use = usable_channels(palette, channels)
    typical_beside_codes = "colour" in channels and not palette.measured and not places
    light_beside_codes = "colour" in channels and use == [3]
    if typical_beside_codes or light_beside_codes:
        # Typical surfaces say less about this sensor than its own codes do; where something stands, raw channels still show.
        # Reflected light alone shows neither: a marker as bright as the field would be nowhere.
        use = []
    marks, none, white = np.zeros((colours, 4)), np.zeros(4), np.zeros(3)
    common, own_pct = LEAST_COMMON, 0
    mul = np.zeros(4)
    noise = 1.0
    if use:
        means = np.array([colour.mean for colour in palette.colours]) * WHOLE_SCALE
        deviations = np.sqrt(np.array([np.diag(colour.covariance) for colour in palette.colours])) * WHOLE_SCALE
        span = np.maximum(means.max(axis=0) - means.min(axis=0), 1.0)
        typical = np.median(deviations, axis=0) if palette.measured else STEADY * span
        trust = STEADY * span / np.hypot(typical, STEADY * span) * math.sqrt(2.0)
        mul[use] = np.clip(np.round(256.0 * SPAN / span * np.minimum(trust, 1.0))[use], 1, 16383)
        scale = mul / 256.0
        noise = float(max(1.0, np.sum(((typical * scale)[use]) ** 2) / len(use)))
        scaled = {colour.name: mean * scale for colour, mean in zip(palette.colours, np.nan_to_num(means), strict=True)}
        none = scaled.get("none", np.zeros(4)) if palette.measured else np.zeros(4)
        direction = _white(scaled, use)
        white[: len(use)] = 1024.0 * direction / float(np.linalg.norm(direction))
        common, own_pct = _spreads(palette, scale, use) if palette.measured else (ANY_COMMON, 0)
        for index, name in enumerate(names[:colours]):
            own = scaled.get(name)
            if own is None:
                marks[index, use] = NOWHERE[: len(use)]
                continue
            marks[index] = own - none
    whole = [[round(float(value)) for value in table.ravel()] for table in (mul, none, marks, white)]
    relative = palette.measured and "none" in palette.names
    return ColourTable(whole[0], whole[1], whole[2], round(noise), relative, whole[3], common, own_pct)


def _white(scaled: dict[str, NDArray[np.float64]], use: list[int]) -> NDArray[np.float64]:
    """What white light looks like to this sensor: the white of the palette, else the most each channel ever gets."""
    best = scaled.get("white", scaled.get("grey"))
    if best is None or best[use].min() <= 0:
        best = np.max(list(scaled.values()), axis=0)
    return np.asarray(np.maximum(best[use], 1.0))


def _spreads(palette: Palette, scale: NDArray[np.float64], use: list[int]) -> tuple[int, int]:
    """The common gain's variance (1/4096), from how the captures spread along their own colour, and the spread across (%).

    A hand or a pose moves all channels alike; three times what the captures show, as a drive is less quiet than a hand.
    """
    along, across = [], []
    for colour in palette.colours:
        mean = (colour.mean * WHOLE_SCALE * scale)[use]
        covariance = (colour.covariance * np.outer(WHOLE_SCALE * scale, WHOLE_SCALE * scale))[np.ix_(use, use)]
        size = float(np.linalg.norm(mean))
        if size > 0 and np.isfinite(covariance).all():
            unit = mean / size
            own = max(float(unit @ covariance @ unit), 0.0)
            along.append(math.sqrt(own) / size)
            across.append(math.sqrt(max(float(np.trace(covariance)) - own, 0.0) / max(len(use) - 1, 1)) / size)
    if not along:
        return LEAST_COMMON, 0
    gain = min(3.0 * float(np.median(along)), 0.6)
    return max(LEAST_COMMON, round(4096 * gain**2)), min(round(100 * float(np.median(across))), 15)


def wald_bounds(alpha: float, beta: float) -> tuple[float, float]:
    """Natural logarithms of Wald's A = (1 - beta) / alpha and B = beta / (1 - alpha): accept one, accept the other.

    Source: Wald, Sequential Tests of Statistical Hypotheses, Annals of Mathematical Statistics 16(2), 1945.
    """
    return math.log((1.0 - beta) / alpha), math.log(beta / (1.0 - alpha))


def code_names(course: Course, palette: Palette) -> tuple[str, ...]:
    """The names by which a sensor may call what it sees; any other is one of 'the rest', whether a run brings it or not.

    So a reader says the same of a run with a colour that nobody knew as the computer, which sees the whole run before.
    """
    always = {"black", "white", "grey", *(decoy.colour for decoy in course.decoys)}
    usual = (one.name for one in palette.colours if palette.measured or one.name in always)
    reported = (code for one in palette.colours for code in one.codes) if palette.measured else ()
    return tuple(dict.fromkeys((NONE, *course.colours, *usual, *reported)))


def code_chances(palette: Palette, names: tuple[str, ...], colours: int, literal: bool = False) -> NDArray[np.float64]:
    """P(code | colour), shape (colours, names): what the sensor's own code says over each colour.

    Measured shares are blended with common mistakes (none at edges, any other colour now and then), so that
    what was never seen in a still capture is not impossible. ``literal``: nothing measured counts.
    """
    usual = np.full((colours, len(names)), _other(names))
    for k in range(colours):
        usual[k, 0] += 0.14
        usual[k, k] += 0.80
        usual[k] /= usual[k].sum()
    table = usual.copy()
    for k, name in enumerate(names[:colours]):
        known = palette.get(name)
        if known is not None and known.codes and palette.measured and not literal:
            measured = np.array([known.codes.get(code, 0.0) for code in names])
            if measured.sum() > 0:
                table[k] = 0.75 * measured / measured.sum() + 0.25 * usual[k]
    return table


def _other(names: tuple[str, ...]) -> float:
    return 0.06 / max(len(names) - 1, 1)


def code_table(
    course: Course, palette: Palette, names: tuple[str, ...], colours: int, weight: float, *, literal: bool = False
) -> list[int]:
    """code * colours + colour -> log-likelihood (1/16 nat, times ``weight``) of that code of the sensor over that colour.

    ``names``: of the codes, the course's first. The last row is for every code beyond them; it says nothing for any colour.
    ``literal``: codes mean what they are called, whatever a calibration saw.
    """
    known = code_names(course, palette)
    chances = code_chances(palette, known, colours, literal).T
    rest = np.full(colours, _other(known))
    rows = [chances[known.index(name)] if name in known else rest for name in names]
    return [round(float(value)) for value in (NAT * weight * np.log([*rows, rest])).ravel()]


@dataclass(frozen=True, slots=True)
class PlaceTable:
    """Places of one sensor: ``begin`` (leg -> first entry), ``place`` (slot, -2 decoy, -1 end of leg), ``at``, ``half``.

    ``low``, ``high``: between which each is looked for; ``less``: by how much less than usual its cells may
    be aside, before and after, for the next marker begins there.
    """

    begin: list[int]
    place: list[int]
    at: list[int]
    half: list[int]
    low: list[int]
    high: list[int]
    less: list[int]
    ordered: bool


def place_table(course: Course, sensor: int, channels: frozenset[str]) -> PlaceTable:
    """Where along each leg ``sensor`` passes slots and decoys, in order (0.1 mm)."""
    mine = [(i, slot) for i, slot in enumerate(course.slots) if slot.sensor == sensor and not slot.unseen]
    ordered = "dist" not in channels or any(slot.at_cm is None for _, slot in mine)
    begin: list[int] = []
    place: list[int] = []
    at: list[int] = []
    half: list[int] = []
    for leg in range(len(course.legs)):
        begin.append(len(place))
        rows = [(slot.at_cm or 0.0, i, slot.width_cm) for i, slot in mine if slot.leg == leg]
        if not ordered:
            rows += [
                (d.at_cm, -2, d.width_cm)
                for d in course.decoys
                if d.leg == leg and d.sensor == sensor and d.at_cm is not None
            ]
            rows.sort()
        for where, index, width in rows:
            place.append(index)
            at.append(MISSING if ordered else round(where * 100))
            half.append(round((width / 2 if width else TYPICAL_HALF_CM) * 100))
        place.append(-1)
        at.append(MISSING)
        half.append(0)
    free = [math.inf]  # from the edge of each place to that of the next
    for k in range(len(place) - 1):
        ends = ordered or -1 in place[k : k + 2]
        free.append(math.inf if ends else max(at[k + 1] - half[k + 1] - at[k] - half[k], 0))
    free.append(math.inf)
    beyond = [int(min(AROUND, room // 2)) for room in free]
    less = [int(max(SPOT - room, 0)) for room in free]
    return PlaceTable(
        begin, place, at, half,
        low=[max(one - wide - far, MISSING) for one, wide, far in zip(at, half, beyond, strict=False)],
        high=[one + wide + far for one, wide, far in zip(at, half, beyond[1:], strict=True)],
        less=[less[k + side] for k in range(len(place)) for side in (0, 1)],
        ordered=ordered,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class GroupTable:
    """The rules: ``group`` (slot -> group), ``kind`` (0 any, 1 pool), ``pool`` (group * 31 + item -> colour, -1 ends)."""

    group: list[int]
    kind: list[int]
    pool: list[int]


def group_table(course: Course, names: tuple[str, ...]) -> GroupTable:
    """The course's groups as pools of colours; a colour that stands twice is in the pool twice."""
    kind: list[int] = []
    pool: list[int] = []
    for group in course.groups:
        items = [names.index(colour) for colour in group.colours]
        if group.rule in {GroupRule.COUNTS, GroupRule.ONE_OF_EACH} and group.counts:
            items = [index for index, count in zip(items, group.counts, strict=True) for _ in range(count)]
        kind.append(0 if group.rule is GroupRule.ANY else 1)
        pool += (items + [-1] * 31)[:31]
    return GroupTable([slot.group for slot in course.slots], kind, pool)
