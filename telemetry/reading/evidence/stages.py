"""The stages of reading by evidence as the catalogue knows them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from typing import Any

from telemetry.reading.evidence.certainty import BY_CODES, BY_CODES_UNTOLD, BY_ORDER, BY_RAW, BY_TYPICAL, BY_WEIGH
from telemetry.reading.evidence.table import (
    LEAST_COMMON,
    NAT,
    ColourTable,
    PlaceTable,
    code_table,
    colour_table,
    group_table,
    place_table,
    wald_bounds,
)
from telemetry.reading.layout import Layout
from telemetry.reading.portable.evidence.assignment import Assignment
from telemetry.reading.portable.evidence.by_distance import ByDistance
from telemetry.reading.portable.evidence.by_order import ByOrder
from telemetry.reading.portable.evidence.cells import Cells
from telemetry.reading.portable.evidence.certainty import Certainty
from telemetry.reading.portable.evidence.decide import Decide
from telemetry.reading.portable.evidence.doubt import Doubt
from telemetry.reading.portable.evidence.field import Field
from telemetry.reading.portable.evidence.gather import Gather
from telemetry.reading.portable.evidence.hypotheses import Hypotheses
from telemetry.reading.portable.evidence.marker import Marker
from telemetry.reading.portable.evidence.misfit import Misfit
from telemetry.reading.portable.evidence.weigh import Weigh
from telemetry.reading.stage import Setting, Stage

ROW, SHOWN = 4, 12 * 6
"""Numbers a slot in ``seen`` and ``shown``, see portable/evidence/marker.py."""
CODES_BESIDE_RAW = 0.06
"""Weight of the sensor's own codes where raw channels say the same thing better."""
LEAST_CELLS, USUAL_CELLS, MOST_CELLS, ORDERED_CELLS = 16, 160, 800, 480
TYPICAL_OWN_PCT = 15
"""How far a surface may be from a palette that was not measured."""
GAINS = (3400, 2700, 2100, 1650, 1300, 1060, 860, 700, 560, 450, 360, 290, 230, 180, 145, 115, 90, 70)
"""1/1000 of the palette's light: from nearer than the palette was captured, down to four times its height."""
GAIN_COST = tuple(round(0.4 * NAT * abs(math.log(gain / 1000.0))) for gain in GAINS)
MODE_COST = (0, 0, 24, 24)
"""Of the modes of Hypotheses.shade."""
STILL, POSED = 8 * LEAST_COMMON, 200
"""Where captures show a common gain that wavers more than STILL, a field at another level than the palette's is seen in
another pose, not in more light: departures from it do not carry over, and modes that take them to cost up to POSED more."""
VOICE = 24
"""1/16 nat that a cell's vote by shares speaks for its colour, where poses vary."""
VOICED = 16
"""1/64 by which a margin counts less for the votes in it, which err together."""
CAP, FAR = 400, 1_000_000
"""How much the cells of one place may say that something is there; where places may be empty: all that they say."""
SHINES = 48
"""What it costs that a highlight begins; where poses vary it is rather the pose."""
WITHOUT_FIELD = (200, 200, 0, 8)
"""Costs of the modes where the palette knows no empty field."""


STEADY_TURN = 6.4
"""1/64 by which a margin counts less for each e-fold of a common gain that wavers more than LEAST_COMMON."""


def _colours(layout: Layout) -> int:
    return 1 + len(layout.course.colours)


def _code_tables(layout: Layout) -> int:
    """Where codes alone tell colours and were calibrated: what they meant then, and what they are called."""
    return 1 if any(_code_marks(layout)) or not layout.palette.measured else 2


def _code_marks(layout: Layout) -> list[int]:
    return colour_table(layout.palette, layout.names, _colours(layout), layout.channels).mul


def _shared(layout: Layout) -> tuple[list[int], list[int], list[int], list[int], list[int]]:
    slots = len(layout.course.slots)
    return (
        layout.board.table("seen", slots * ROW),
        layout.board.table("told", _code_tables(layout) * slots * _colours(layout)),
        layout.board.table("fields", 3 * len(layout.course.legs)),
        layout.board.table("shown", slots * SHOWN),
        layout.board.table("keen", slots * 3),
    )


def _odd(layout: Layout) -> list[int]:
    return layout.board.table("odd", len(layout.course.legs))


def _cells(places: PlaceTable, settings: Mapping[str, int]) -> int:
    """How many cells to keep: by the places of the longest leg, with room for a distance that is wrong."""
    if settings["cells"]:
        return max(settings["cells"], LEAST_CELLS)
    if places.ordered:
        return ORDERED_CELLS
    longest = max(places.at)
    return max(USUAL_CELLS, min(MOST_CELLS, longest * 5 // (settings["grain_mm"] * 40) + 60))


def _own_pct(layout: Layout, table: ColourTable, wanted: int) -> int:
    """By how much a surface may differ from its palette colour, per cent of its departure."""
    return max(wanted, table.own_pct if layout.palette.measured else TYPICAL_OWN_PCT)


def _loose_pct(wanted: int, table: ColourTable) -> int:
    """How much a cover may be out; the less, the more the common gain wavers: one of the two explains a wrong level."""
    return max(3, round(wanted * math.sqrt(math.sqrt(LEAST_COMMON / table.common))))


def _posed(table: ColourTable) -> int:
    return min(max(table.common - STILL, 0), POSED)


def _voice(table: ColourTable) -> int:
    return VOICE if table.common > STILL else 0


def _calm(table: ColourTable) -> int:
    return 64 + round(STEADY_TURN * math.log(table.common / LEAST_COMMON)) + (VOICED if _voice(table) else 0)


def _shares(table: ColourTable) -> list[int]:
    """Of each colour the channels' shares of its light, 1/1024."""
    lights = [max(mark + none, 1) for mark, none in zip(table.marks3, itertools.cycle(table.none3), strict=False)]
    return [one * 1024 // sum(lights[at - at % 3 : at - at % 3 + 3]) for at, one in enumerate(lights)]


def _mode_cost(table: ColourTable) -> list[int]:
    if not table.relative:
        return [*WITHOUT_FIELD]
    posed = _posed(table)
    return [MODE_COST[0] + posed, MODE_COST[1] + posed, *MODE_COST[2:]]


def _part(cls: Any, **numbers: Any) -> Any:
    """A part of a stage; its parameters by name."""
    return cls(**numbers)


def _certainty(points: tuple[tuple[int, int], ...], slots: int) -> Any:
    return _part(Certainty, sure_at=[margin for margin, _ in points], sure=[value for _, value in points], slots=slots)


def _points(raw: bool, ordered: bool, measured: bool) -> tuple[tuple[int, int], ...]:
    if not measured:
        return BY_TYPICAL if raw else BY_CODES_UNTOLD
    return BY_ORDER if ordered else BY_RAW if raw else BY_CODES


def _longest(place: list[int]) -> int:
    """How many places the leg with the most of them has."""
    ends = [k for k, value in enumerate(place) if value == -1]
    return max(end - begin for begin, end in zip([-1, *ends], ends, strict=False)) - 1


def make_gather(layout: Layout, settings: Mapping[str, int]) -> tuple[Any, ...]:
    """The arguments of Gather for one sensor."""
    colours = _colours(layout)
    table = colour_table(layout.palette, layout.names, colours, layout.channels, places=True)
    by_codes = not any(_code_marks(layout))
    weight = 1.0 if by_codes else CODES_BESIDE_RAW
    coded = []
    if "colour" in layout.channels:
        coded = code_table(layout.course, layout.palette, layout.names, colours, weight)
        if _code_tables(layout) == 2:
            coded += code_table(layout.course, layout.palette, layout.names, colours, weight, literal=True)
    places = place_table(layout.course, layout.sensor, layout.channels)
    seen, told, fields, shown, keen = _shared(layout)
    raw, light = int(any(table.mul)), int(table.light)
    place, half = places.place, places.half
    where, wide = [0] * len(place), [0] * len(place)
    cells = _part(
        Cells, mul=table.mul, room=_cells(places, settings), grain=settings["grain_mm"] * 10, split=int(by_codes)
    )
    field = _part(
        Field, cells=cells, place=place, at=places.at, half=half, noise=table.noise, raw=raw, light=light, fields=fields
    )
    empty = any(slot.empty_ok for slot in layout.course.slots)
    by_distance = _part(
        ByDistance, cells=cells, place=place, at=places.at, low=places.low, high=places.high, where=where,
        wrong=settings["wrong_pct"] * 10, off=settings["off_mm"] * 10, cap=FAR if empty else CAP, least=0 if empty else -FAR,
        odd=_odd(layout),
    )  # fmt: skip
    by_order = _part(
        ByOrder, cells=cells, field=field, place=place, where=where, wide=wide,
        most=max(_longest(place), 2) if places.ordered else 0, raw=raw,
    )  # fmt: skip
    marker = _part(
        Marker, cells=cells, field=field, place=place, half=half, less=places.less, where=where, wide=wide, raw=raw,
        light=light,
        own=_own_pct(layout, table, settings["own_pct"]), coded=coded, tables=_code_tables(layout),
        colours=colours, seen=seen, shown=shown, told=told, keen=keen,
    )  # fmt: skip
    return cells, field, by_distance, by_order, marker, places.begin, place, raw, int(places.ordered)


def make_decide(layout: Layout, settings: Mapping[str, int]) -> tuple[Any, ...]:
    """The arguments of Decide; those of all sensors share what Gather fills."""
    colours = _colours(layout)
    table = colour_table(layout.palette, layout.names, colours, layout.channels)
    groups = group_table(layout.course, layout.names)
    seen, told, fields, shown, keen = _shared(layout)
    slots = layout.course.slots
    raw = int(any(table.mul))
    ordered = place_table(layout.course, layout.sensor, layout.channels).ordered
    unseen = [int(slot.unseen) for slot in slots]
    assignment = _part(
        Assignment, group=groups.group, kind=groups.kind, pool=groups.pool, bare=[int(slot.empty_ok) for slot in slots],
        unseen=unseen, seen=seen, colours=colours,
    )  # fmt: skip
    leg, now = [slot.leg for slot in slots], [0] * (colours * 3)
    misfit = _part(
        Misfit, seen=seen, shown=shown, keen=keen, fields=fields, leg=leg, now=now, white=table.white,
        loose=_loose_pct(settings["loose_pct"], table), common=table.common, shines=SHINES + _posed(table),
    )  # fmt: skip
    hypotheses = _part(
        Hypotheses, assignment=assignment, misfit=misfit, told=told, fields=fields, marks=table.marks3, now=now,
        none=table.none3, leg=leg, raw=raw, gains=[*GAINS], gain_cost=[*GAIN_COST], mode_cost=_mode_cost(table),
    )  # fmt: skip
    doubt = _part(
        Doubt, hypotheses=hypotheses, misfit=misfit, odd=_odd(layout), calm=_calm(table), shares=_shares(table),
        voice=_voice(table),
    )  # fmt: skip
    certainty = _certainty(_points(bool(raw), ordered, layout.palette.measured), len(slots))
    ready = layout.board.table("ready", 1)
    return hypotheses, assignment, doubt, certainty, seen, unseen, ready, len(layout.course.sensors), settings["timid"]


def make_weigh(layout: Layout, settings: Mapping[str, int]) -> tuple[Any, ...]:
    """The arguments of Weigh for one sensor."""
    colours = _colours(layout)
    table = colour_table(layout.palette, layout.names, colours, layout.channels)
    coded = []
    if "colour" in layout.channels:
        coded = code_table(layout.course, layout.palette, layout.names, colours, 1.0)
    enough, _ = wald_bounds(settings["wrong_permille"] / 1000.0, settings["wrong_permille"] / 1000.0)
    return (
        table.mul, table.none, table.marks, table.noise, coded, layout.board.board, round(enough * NAT), settings["least"],
        settings["part_pct"], _certainty(BY_WEIGH, len(layout.course.slots)),
    )  # fmt: skip


EVIDENCE = (
    Stage(
        "gather", Gather, "Collects what the sensor saw over each slot, which it finds from signal and distance together.",
        make=make_gather,
        lost=lambda _: "gather found no slot there",
        settings=(
            Setting("wrong_pct", "%", 14, 0, 30, "by how much the distance may be wrong"),
            Setting("off_mm", "mm", 60, 0, 300, "how far from its mark the robot may have started"),
            Setting("own_pct", "%", 10, 1, 50, "how far a surface may be from its palette colour, part of its light"),
            Setting("cells", "cells", 0, 0, 2000, "how many cells a leg is kept in; 0: as many as the longest leg needs"),
            Setting("grain_mm", "mm", 3, 1, 50, "how wide a cell is"),
        ),
        needs=frozenset({"label", "legs"}),
    ),
    Stage(
        "decide", Decide, "Decides all slots together, under the rules of their groups and one light for the whole run.",
        make=make_decide,
        lost=lambda _: "decide found another colour more probable",
        settings=(
            Setting("loose_pct", "%", 10, 3, 50, "how much less or more of its difference may show (wear, coverage)"),
            Setting("timid", "1/10000", 0, 0, 9999, "a slot less sure than this stays open"),
        ),
        closes=True,
    ),
    Stage(
        "weigh", Weigh, "Adds up what the samples over a slot say for each colour, and takes one as soon as that is enough.",
        make=make_weigh,
        lost=lambda s: f"weigh was not sure enough (1 wrong in {1000 // s['wrong_permille']} allowed)",
        settings=(
            Setting("wrong_permille", "1/1000", 5, 1, 200, "how often a colour may be wrong; smaller takes more samples"),
            Setting("least", "1/16 nat", 24, 0, 1000, "how far ahead a colour must be when its slot is left"),
            Setting("part_pct", "%", 50, 1, 100, "what a sample counts beside the one before, which says much the same"),
        ),
        needs=frozenset({"label"}),
    ),
)  # fmt: skip
"""Gather comes right after the track, Decide right before the ledger."""
