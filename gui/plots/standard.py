"""Which strips and lanes a run gets, from the channels that its robot sends."""

from __future__ import annotations

from collections.abc import Sequence

from gui.model.channels import PALETTE, Names, sensors_in
from gui.model.series import SPEED
from gui.plots.margins import AXIS_PX, BETWEEN_PX, FLAGS_PX
from gui.plots.ribbon import Lane
from gui.plots.stack import LANE_PX, StripStack
from gui.plots.strip import StripSpec, Trace
from gui.swatches import SwatchBook
from gui.words import tr

READABLE_STRIP_PX = 36


def readable_px(stack: StripStack) -> int:
    """The height from which on every strip has room for its name and its value."""
    lanes = len(stack.lanes) * (LANE_PX + BETWEEN_PX)
    return FLAGS_PX + AXIS_PX + lanes + len(stack.strips) * (READABLE_STRIP_PX + BETWEEN_PX)


def strips_for(channels: Sequence[str]) -> list[StripSpec]:
    """Reflectance, raw channels, heading, distance and speed, as far as they are sent."""
    there = set(channels)
    sensors = sensors_in(channels)
    specs: list[StripSpec] = []

    def full(quantity: str, sensor: str) -> str:
        return f"{quantity}.{sensor}" if sensor else quantity

    refl = [sensor for sensor in sensors if full("refl", sensor) in there]
    if refl:
        traces = tuple(Trace(full("refl", sensor), sensor, tint) for tint, sensor in zip((0, 4, 5), refl, strict=False))
        specs.append(StripSpec(tr("Reflectance"), "%", traces, (0.0, 100.0)))
    for sensor in sensors:
        raw = [(quantity, letter, tint) for quantity, letter, tint in (("red", "R", 1), ("green", "G", 2), ("blue", "B", 3))
               if full(quantity, sensor) in there]  # fmt: skip
        if raw:
            title = tr("Raw, {sensor}", sensor=sensor) if sensor else tr("Raw")
            specs.append(
                StripSpec(
                    title, "", tuple(Trace(full(name, sensor), letter, tint) for name, letter, tint in raw), weight=1.3
                )
            )
    if "heading" in there:
        specs.append(StripSpec(tr("Heading"), "°", (Trace("heading", "", 4),)))
    if "dist" in there:
        specs.append(StripSpec(tr("Odometer"), "cm", (Trace("dist", "", 5),)))
    if "speed" in there:
        specs.append(StripSpec(tr("Speed"), "cm/s", (Trace("speed", "", 0),)))
    elif "dist" in there:
        specs.append(StripSpec(tr("Speed"), "cm/s", (Trace(SPEED, "", 0),)))
    return specs or [StripSpec(tr("Reflectance"), "%", (Trace("refl", "", 0),), (0.0, 100.0))]


def lanes_for(channels: Sequence[str], names: Names, book: SwatchBook) -> list[Lane]:
    """One lane for each sensor's own colour, and one for what the palette makes of its raw channels."""
    lanes = []
    for sensor in sensors_in(channels):
        suffix = f".{sensor}" if sensor else ""
        beside = f" {sensor}" if sensor else ""
        if f"colour{suffix}" in channels:
            lanes.append(Lane(tr("sensor") + beside, f"colour{suffix}", book, names.stream))
        if f"red{suffix}" in channels:
            lanes.append(Lane(tr("palette") + beside, f"{PALETTE}{suffix}", book, names.palette))
    return lanes or [Lane(tr("sensor"), "colour", book, names.stream)]
