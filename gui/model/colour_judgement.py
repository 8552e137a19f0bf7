"""Which colours a sensor tells apart, as a plain judgement; the figures behind it are in ``telemetry.calibrate.outlook``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gui.words import tr
from telemetry.calibrate.outlook import OFTEN, ONE, SELDOM, ColourPair, pairs
from telemetry.palette import Palette

NAMED = 3


@dataclass(frozen=True, slots=True)
class ColourJudgement:
    """``kind``: good, warn or bad. ``todo`` is empty where nothing is to be done."""

    kind: str
    words: str
    todo: str = ""


def judged(palette: Palette) -> ColourJudgement:
    """The worst that is known of these colours, in words."""
    if not palette.measured:
        return ColourJudgement("warn", tr("Typical colours, not your sensor's."),
                               tr("Capture your own: only then is known which colours it tells apart."))  # fmt: skip
    found = pairs(palette)
    if not found:
        return ColourJudgement("warn", tr("Too little is known to judge these colours."))
    one = [pair for pair in found if pair.confusion > ONE]
    often = [pair for pair in found if OFTEN < pair.confusion <= ONE]
    seldom = [pair for pair in found if SELDOM < pair.confusion <= OFTEN]
    if one:
        return ColourJudgement("bad", tr("One and the same to this sensor: {pairs}.", pairs=_names(one)),
                               tr("Take another surface for one of them, or bring the sensor nearer."))  # fmt: skip
    if often:
        return ColourJudgement("bad", tr("Hard to tell apart: {pairs}.", pairs=_names(often)),
                               tr("Several samples over each marker are needed: drive slower there."))  # fmt: skip
    if seldom:
        return ColourJudgement("warn", tr("Now and then confused: {pairs}.", pairs=_names(seldom)),
                               tr("A strategy that asks for two samples or more reads them."))  # fmt: skip
    return ColourJudgement("good", tr("This sensor tells all {n} colours apart.", n=len(palette.colours)))


def lacking(palette: Palette, colours: Sequence[str]) -> tuple[str, ...]:
    """Those of the course's colours that the palette does not know."""
    return tuple(colour for colour in colours if colour not in palette.names)


def judged_for(palette: Palette, colours: Sequence[str]) -> ColourJudgement:
    """As ``judged``; but where a palette of the user's lacks colours of the course, that comes first."""
    absent = lacking(palette, colours)
    if not palette.measured or not absent:
        return judged(palette)
    named = ", ".join(absent[:NAMED]) + (tr(" and {n} more", n=len(absent) - NAMED) if len(absent) > NAMED else "")
    return ColourJudgement("bad", tr("The palette in use lacks colours of this course: {names}.", names=named),
                           tr("They cannot be read. Capture this course's colours, or use another palette."))  # fmt: skip


def judged_so_far(palette: Palette, captured: int, steps: int) -> ColourJudgement:
    """Of a palette that is being made: what is bad is said at once, what is good when all is captured."""
    said = judged(palette)
    if captured >= steps or said.kind == "bad":
        return said
    return ColourJudgement("warn", tr("{n} of {all} captured.", n=captured, all=steps),
                           tr("Whether this sensor tells them apart is said when all are captured."))  # fmt: skip


def _names(found: Sequence[ColourPair]) -> str:
    words = [tr("{first} and {second}", first=pair.first, second=pair.second) for pair in found[:NAMED]]
    more = len(found) - len(words)
    return ", ".join(words) + (tr(" and {n} more pairs", n=more) if more else "")
