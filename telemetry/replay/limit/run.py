"""A run prepared for the limit decoder: its samples leg by leg in scaled units, and every slot's tables."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from telemetry.course import EMPTY, Course, Truth
from telemetry.palette import Palette
from telemetry.reading.evidence.table import ColourTable, PlaceTable, code_chances, colour_table, place_table
from telemetry.reading.needs import run_has
from telemetry.reading.plan import make_plan
from telemetry.reading.strategies import evidence
from telemetry.replay.limit.decoder import Found, LegTable, Rules, Search, colours_of, loosened
from telemetry.replay.limit.model import (
    GRID_CM,
    LOOSE,
    OWN,
    OWN_OFF_CM,
    SPOTS_CM,
    Light,
    code_scores,
    decoy_scores,
    find_field,
    lights,
    seen_at,
    slot_scores,
)
from telemetry.replay.limit.order import colour_likelihoods, stretches
from telemetry.replay.walk import Walk
from telemetry.sample import MISSING, Table, WholeColumns, whole_columns

Floats = NDArray[np.float64]

TRUST_ALONE, TRUST_BESIDE = 0.5, 0.15
"""How much each code counts as independent evidence, without and beside raw channels."""
DECOY_PLACE = -2
NEIGHBOUR = 0.35
"""Part of the gap to its neighbour by which a slot may lie off on its own."""
ANY_COLOUR = 1.5
"""Nats that a decoy's unknown colour costs."""
REACH_CM = 7.0
REACH_PART = 0.15


@dataclass(frozen=True, slots=True)
class Slice:
    """The usable samples of one leg and sensor: ``place`` (n,) cm, ``values`` (n, 4) scaled, ``codes`` (n,), -1 missing.

    ``field`` (4,) and ``sigma``: level and variance of the empty field (raw channels only). ``full`` (n,): a channel at its
    full scale.
    """

    place: Floats
    values: Floats
    codes: NDArray[np.int64]
    field: Floats
    sigma: float
    full: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class SlotSeen:
    """One slot: ``samples`` over its marker; ``contrast``, its departure from the field in deviations of one sample;
    ``misfit``, how far that is from the colour found, in deviations (0 each with codes only); ``saturated``: share of its
    samples with a channel at full scale.
    """

    samples: float = 0.0
    contrast: float = 0.0
    misfit: float = 0.0
    saturated: float = 0.0


@dataclass(frozen=True, slots=True)
class Limit:
    """What the limit decoder makes of a run.

    ``colours``: one a slot, None where nothing is said, 'empty' where nothing stands. ``margin`` (nats) to the best answer
    with another colour there. ``slots``: what was seen over each.
    """

    colours: tuple[str | None, ...]
    found: Found
    margin: tuple[float, ...]
    slots: tuple[SlotSeen, ...]
    search: Search
    names: tuple[str, ...]
    raw: bool

    def score_of(self, colours: Truth) -> float:
        """Log-likelihood (nats) of other colours, to be compared with ``found.total``."""
        return self.search.score_of(colours_of(colours, self.names))


def limit_of(table: Table, course: Course, palette: Palette) -> Limit | None:
    """The most probable reading of a run; None where it holds no sample that says anything."""
    run = Prepared(table, course, palette)
    if not run.slices:
        return None
    search = Search(Rules.of(course, run.names, run.colours), run.leg_tables(), run.costs)
    found = search.best()
    colours: list[str | None] = []
    for slot, colour in zip(course.slots, found.colours, strict=True):
        follows = course.groups[slot.group].rule.value != "colours"
        name = run.names[colour] if colour else EMPTY
        colours.append(name if not slot.unseen or follows else None)
    margin = search.margins(found)
    return Limit(tuple(colours), found, margin, run.seen(found), search, run.names, run.raw)


class Prepared:
    """Samples and tables of one run for one course and palette."""

    def __init__(self, table: Table, course: Course, palette: Palette) -> None:
        self.course = course
        self.plan = make_plan(evidence.STRATEGY, course, palette, run_has(table), table.colours)
        self.names = self.plan.names
        self.colours = 1 + len(course.colours)
        self.rows = table.rows
        self.ranges = {name.partition(".")[0]: limits for name, limits in (*palette.ranges.items(), *table.ranges.items())}
        self.wholes = [
            whole_columns(table.columns, table.rows, one.name, table.colours, self.names) for one in course.sensors
        ]
        self.notes = self.plan.note_rows(table.notes)
        self.walk = Walk(self.plan)
        self.walk.advance(self.wholes, self.notes, 0, table.rows)
        self.tables: list[ColourTable] = []
        self.places: list[PlaceTable] = []
        for layout in self.plan.layouts:
            self.tables.append(colour_table(palette, self.names, self.colours, layout.channels))
            self.places.append(place_table(course, layout.sensor, layout.channels))
        self.raw = any(any(one.mul) for one in self.tables)
        self.chances = code_chances(palette, self.names, self.colours)
        self.slices: dict[tuple[int, int], Slice] = {}
        for sensor in range(len(self.tables)):
            for leg in range(len(course.legs)):
                part = self._slice(sensor, leg)
                if part is not None:
                    self.slices[sensor, leg] = part
        self.shades = [self._lights(sensor) for sensor in range(len(self.tables))]
        one = next((shade for shade in self.shades if shade), [])
        per_light = np.array([light.cost for light in one for _ in light.covers]) if one else np.zeros(1)
        self.costs = np.tile(per_light, len(SPOTS_CM))
        ordered = any(places.ordered for places in self.places)
        self.stretches = self._stretches() if ordered else {}

    def _lights(self, sensor: int) -> list[Light]:
        if not any(self.tables[sensor].mul):
            return []
        nothing = np.zeros(4)
        legs = range(len(self.course.legs))
        fields = [part.field if (part := self.slices.get((sensor, leg))) else nothing for leg in legs]
        return lights(self.tables[sensor], np.array(fields), self.colours)

    def _slice(self, sensor: int, leg: int) -> Slice | None:
        """A sample that only repeats the last one counts once; one that says nothing, not at all."""
        whole, mul = self.wholes[sensor], self.tables[sensor].mul
        if self.places[sensor].ordered:
            place = ((whole.t - whole.t[0]) & 0x3FFFFFFF).astype(np.float64) * 10.0
        else:
            place = np.array(self.walk.places[sensor], dtype=np.float64)
            known = place != MISSING
            if not known.any():
                return None
            place = np.interp(np.arange(len(place)), np.flatnonzero(known), place[known])
        values = scaled(whole, mul)
        raw = any(mul)
        good = (np.array(self.walk.legs[sensor]) == leg) & (np.isfinite(values).all(axis=1) if raw else whole.code >= 0)
        if raw and len(place) > 1:
            again = (np.diff(values, axis=0) == 0).all(axis=1) & (np.abs(np.diff(place)) < 1.0)
            good[1:] &= ~again
        good &= ~_crowded(place, good)
        if not good.any():
            return None
        field, sigma = find_field(values[good], float(self.tables[sensor].noise)) if raw else (np.zeros(4), 1.0)
        return Slice(place[good] / 100.0, values[good], whole.code[good], field, sigma, self._full(whole)[good])

    def _full(self, whole: WholeColumns) -> NDArray[np.bool_]:
        out = np.zeros(len(whole.t), dtype=bool)
        for name in ("red", "green", "blue"):
            top = self.ranges.get(name, (0.0, np.inf))[1]
            out |= getattr(whole, name) >= top - 0.5
        return out

    def _stretches(self) -> dict[int, tuple[float, float]]:
        """Slot -> middle and half width of its stretch (on the scale of Slice.place), where only the order is known."""
        out = {}
        for (sensor, leg), part in self.slices.items():
            places = self.places[sensor]
            first = places.begin[leg]
            slots = places.place[first : places.place.index(-1, first)]
            if not places.ordered or not slots or len(part.place) < len(slots):
                continue
            if self.shades[sensor]:
                departs = part.values - part.field
                likely = [
                    colour_likelihoods(departs, np.vstack([np.zeros(4), light.now[leg][1:]]), part.sigma, OWN)
                    - light.cost / len(departs)
                    for light in self.shades[sensor]
                ]
            else:
                likely = [np.log(self.chances[:, np.maximum(part.codes, 0)].T)]
            beyond = 0.45 * float(np.median(np.diff(part.place))) if len(part.place) > 1 else 1.0
            for slot, (begin, end) in zip(slots, stretches(likely, len(slots)), strict=True):
                if begin >= 0:
                    low, high = part.place[begin], part.place[end]
                    out[slot] = (float(low + high) / 2.0, float(high - low) / 2.0 + beyond)
        return out

    def leg_tables(self) -> list[LegTable]:
        """The scores of every slot that the robot passed."""
        out = []
        for (sensor, leg), part in self.slices.items():
            places = self.places[sensor]
            slots, scores, first, at = [], [], [], []
            decoys: list[tuple[float, float, Floats]] = []
            k = places.begin[leg]
            while places.place[k] != -1:
                slot = places.place[k]
                if places.ordered and slot in self.stretches:
                    middle, half = self.stretches[slot]
                    slots.append(slot)
                    scores.append(self._scores(sensor, leg, part, np.array([middle]), half))
                    first.append(middle)
                elif not places.ordered and slot >= 0:
                    centre, half = places.at[k] / 100.0, places.half[k] / 100.0
                    reach = REACH_CM + REACH_PART * centre
                    centres = np.arange(centre - reach, centre + reach, GRID_CM)
                    slots.append(slot)
                    scores.append(loosened(self._scores(sensor, leg, part, centres, half), _own_off_cm(places, k)))
                    first.append(float(centres[0]))
                    at.append(centre)
                elif slot == DECOY_PLACE:
                    centre, half = places.at[k] / 100.0, places.half[k] / 100.0
                    reach = REACH_CM + REACH_PART * centre
                    centres = np.arange(centre - reach, centre + reach, GRID_CM)
                    decoys.append((centre, float(centres[0]), loosened(self._decoy(sensor, part, centres, half))))
                k += 1
            where = None if places.ordered else tuple(at)
            out.append(LegTable(tuple(slots), tuple(scores), tuple(first), where, tuple(decoys)))
        return out

    def _decoy(self, sensor: int, part: Slice, centres: Floats, half: float) -> Floats:
        """(thetas, centres)."""
        if any(self.tables[sensor].mul):
            channels = sum(1 for factor in self.tables[sensor].mul if factor)
            score = decoy_scores(seen_at(part.place, part.values - part.field, centres, half), part.sigma, channels)
        else:
            said = code_scores(part.place, part.codes, centres, half, chances=self.chances, trust=TRUST_ALONE)
            score = np.maximum(said.max(axis=2) - ANY_COLOUR, 0.0)
        return np.repeat(score, len(self.costs) // len(SPOTS_CM), axis=0)

    def _scores(self, sensor: int, leg: int, part: Slice, centres: Floats, half: float) -> Floats:
        """(thetas, centres, colours); thetas run over spots, then lights and their covers."""
        shade = self.shades[sensor]
        looks = [light.now[leg] * cover for light in shade for cover in light.covers]
        total = np.zeros((len(self.costs), len(centres), self.colours))
        if looks:
            channels = sum(1 for factor in self.tables[sensor].mul if factor)
            seen = seen_at(part.place, part.values - part.field, centres, half)
            for number, now in enumerate(looks):
                for spot, score in enumerate(slot_scores(seen, now, part.sigma, channels)):
                    total[spot * len(looks) + number] = score
        coded = part.codes >= 0
        if coded.any():
            trust = TRUST_BESIDE if looks else TRUST_ALONE
            said = code_scores(part.place[coded], part.codes[coded], centres, half, chances=self.chances, trust=trust)
            total += np.repeat(said, len(self.costs) // len(SPOTS_CM), axis=0)
        return total

    def seen(self, found: Found) -> tuple[SlotSeen, ...]:
        """What was seen over each slot, under the explanation found."""
        out = [SlotSeen()] * len(self.course.slots)
        distances = iter(found.distances)
        for (sensor, leg), part in self.slices.items():
            places = self.places[sensor]
            first = places.begin[leg]
            stretch = places.place[first : places.place.index(-1, first)]
            if not any(slot >= 0 and (not places.ordered or slot in self.stretches) for slot in stretch):
                continue
            factor, start = next(distances)
            for k, slot in enumerate(stretch, start=first):
                if slot < 0 or (places.ordered and slot not in self.stretches):
                    continue
                if places.ordered:
                    centre, half = self.stretches[slot]
                else:
                    centre, half = (places.at[k] / 100.0 + start) * factor, places.half[k] / 100.0
                out[slot] = self._slot_seen(sensor, leg, part, (centre, half), (found.theta, found.colours[slot]))
        return tuple(out)

    def _slot_seen(self, sensor: int, leg: int, part: Slice, where: tuple[float, float], found: tuple[int, int]) -> SlotSeen:
        centre, half = where
        inside = np.abs(part.place - centre) <= half
        samples = float(inside.sum())
        shade = self.shades[sensor]
        if not samples or not shade:
            return SlotSeen(samples)
        looks = [light.now[leg] * cover for light in shade for cover in light.covers]
        now = looks[found[0] % len(looks)][found[1]]
        centres = np.arange(centre - OWN_OFF_CM, centre + OWN_OFF_CM + 0.01, GRID_CM)
        seen = seen_at(part.place, part.values - part.field, centres, half)
        channels = sum(1 for factor in self.tables[sensor].mul if factor)
        score = slot_scores(seen, now[None], part.sigma, channels)[:, :, 0]
        spot, best = np.unravel_index(int(np.argmax(score)), score.shape)
        away = seen.departure[spot, best]
        size = max(float(now @ now), 1e-9)
        variance = part.sigma / max(float(seen.weight[spot, best]), 1e-6) + OWN**2 * size / channels + 60.0
        along = float(away @ now)
        straight = (along - size) ** 2 / size
        beside = max(float((away - now) @ (away - now)) - straight, 0.0)
        misfit = math.sqrt((beside / variance + straight / (variance + LOOSE**2 * size)) / channels)
        return SlotSeen(samples, float(np.sqrt(away @ away / part.sigma)), misfit, float(part.full[inside].mean()))


def _own_off_cm(places: PlaceTable, k: int) -> float:
    """How far place ``k`` may lie off on its own: not so far that it takes what its neighbour shows."""
    gaps = [OWN_OFF_CM / NEIGHBOUR]
    for other in (k - 1, k + 1):
        if 0 <= other < len(places.place) and places.place[other] != -1:
            gaps.append((abs(places.at[other] - places.at[k]) - places.half[other] - places.half[k]) / 100.0)
    return float(np.clip(NEIGHBOUR * min(gaps), GRID_CM, OWN_OFF_CM))


def _crowded(place: Floats, good: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Samples beyond the first three in a row within half a millimetre: a robot that stands still learns nothing new."""
    out = np.zeros(len(place), dtype=bool)
    last, count = np.inf, 0
    for i in np.flatnonzero(good):
        if abs(place[i] - last) >= 5.0:
            last, count = place[i], 0
        count += 1
        out[i] = count > 3
    return out


def scaled(whole: WholeColumns, mul: list[int]) -> Floats:
    """Raw channels (rows, 4) in scaled units, NaN for a row with a missing value; all at zero is a drop-out."""
    out = np.zeros((len(whole.t), 4))
    for c, (column, factor) in enumerate(zip((whole.red, whole.green, whole.blue, whole.refl), mul, strict=True)):
        if factor:
            out[:, c] = np.where(column >= 0, column * factor / 256.0, np.nan)
    if mul[0]:
        out[(out[:, :3] == 0).all(axis=1)] = np.nan
    return out
