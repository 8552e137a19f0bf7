"""Every stage by name. A new one: its class in ``portable/``, one entry here, and its two streams in the tests."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from telemetry.reading.evidence.stages import EVIDENCE
from telemetry.reading.portable import arming, constraints, fallback, label, place, stopping, taking, trust
from telemetry.reading.stage import Setting, Stage
from telemetry.sample import MISSING


def _samples(count: int) -> str:
    return f"{count} sample{'s' * (count != 1)}"


_LEG = Setting("leg", "number", 0, 0, 20, "the leg, the first is 1; 0: whichever")
_FROM_LEG = Setting("leg", "number", 0, 0, 20, "the leg it counts from, the first is 1; 0: from the begin of the run")
_STILL = Setting("still_mm_s", "mm/s", 5, 1, 100, "up to this speed the robot is standing")


def _of(leg: int) -> str:
    return f" of leg {leg}" if leg else ""


_LABEL = (
    Stage(
        "code", label.Code, "The colour that the sensor itself reports.",
        make=lambda layout, s: (),
        lost=lambda s: "the sensor reported no colour",
        needs=frozenset({"colour"}),
    ),
    Stage(
        "nearest", label.Nearest, "The palette's colour that is nearest to the raw channels.",
        make=lambda layout, s: (*layout.colours(), s["level_pct"], s["limit"]),
        lost=lambda s: f"no colour of the palette is within {s['limit']}",
        settings=(
            Setting("level_pct", "%", 5, 0, 200, "how much brightness weighs beside the shares of red, green and blue"),
            Setting("limit", "1/1000", 400, 20, 2000, "farther than this from every colour is no colour"),
        ),
        needs=frozenset({"raw"}),
    ),
)

_ARMING = (
    Stage(
        "from-distance", arming.FromDistance, "Reading begins after a distance along a leg.",
        make=lambda layout, s: (s["mm"] * 10, s["leg"]),
        lost=lambda s: f"from-distance begins at {s['mm'] / 10:g} cm{_of(s['leg'])}",
        settings=(Setting("mm", "mm", 0, 0, 100_000, "how far along the leg reading begins"), _LEG),
        needs=frozenset({"dist", "legs"}),
    ),
    Stage(
        "from-time", arming.FromTime, "Reading begins some time into the run, or into a leg.",
        make=lambda layout, s: (s["ms"], s["leg"]),
        lost=lambda s: f"from-time begins after {s['ms']} ms{_of(s['leg'])}",
        settings=(Setting("ms", "ms", 0, 0, 600_000, "how long into the run or leg reading begins"), _FROM_LEG),
    ),
    Stage(
        "from-heading", arming.FromHeading, "Reading begins once the robot has turned to a heading.",
        make=lambda layout, s: (s["deg"] * 10, s["tolerance_deg"] * 10),
        lost=lambda s: f"from-heading waits for {s['deg']} deg",
        settings=(
            Setting("deg", "deg", 90, -360, 360, "the heading to wait for"),
            Setting("tolerance_deg", "deg", 10, 1, 90, "how near counts"),
        ),
        needs=frozenset({"heading"}),
    ),
    Stage(
        "from-leg", arming.FromLeg, "Reading begins with a leg.",
        make=lambda layout, s: (s["leg"],),
        lost=lambda s: f"from-leg begins with leg {s['leg']}",
        settings=(Setting("leg", "number", 1, 1, 20, "the leg to begin with, the first is 1"),),
        needs=frozenset({"legs"}),
    ),
    Stage(
        "from-note", arming.FromNote, "Reading begins with a note of the robot's program.",
        make=lambda layout, s: (s["text"],),
        lost=lambda s: "from-note waits for its note",
        settings=(Setting("text", "note", 0, 0, 0, "the note's text"),),
        needs=frozenset({"note"}),
    ),
    Stage(
        "after-ramp", arming.AfterRamp, "Reading begins once the robot has stopped gaining speed.",
        make=lambda layout, s: (s["steady_ms"], s["least_mm_s"] * 10, s["wobble_mm_s"] * 10, s["leg"]),
        lost=lambda s: f"after-ramp waits for {s['steady_ms']} ms of steady speed",
        settings=(
            Setting("steady_ms", "ms", 150, 10, 5000, "how long the speed must have stayed the same"),
            Setting("least_mm_s", "mm/s", 50, 1, 5000, "slower than this is not driving yet"),
            Setting("wobble_mm_s", "mm/s", 40, 1, 1000, "how much a steady speed may vary"),
            _FROM_LEG,
        ),
        needs=frozenset({"speed"}),
    ),
    Stage(
        "until-done", arming.UntilDone, "Reading ends by itself when every slot the sensor passes is decided.",
        make=lambda layout, s: ([*layout.mine, -1], layout.board.board),
        lost=lambda s: "every slot was decided already",
    ),
)

_PLACE = (
    Stage(
        "windows", place.Windows, "A colour counts only in the window around a slot, and for that slot.",
        make=lambda layout, s: layout.stretches(s["margin_mm"] * 10),
        lost=lambda s: f"windows reach {s['margin_mm'] / 10:g} cm beyond a marker",
        settings=(Setting("margin_mm", "mm", 12, 0, 200, "how far a window reaches beyond its marker"),),
        needs=frozenset({"places", "dist", "legs"}),
    ),
    Stage(
        "skip", place.Skip, "A stretch of the way is ignored.",
        make=lambda layout, s: (s["from_mm"] * 10, s["to_mm"] * 10, s["leg"]),
        lost=lambda s: f"skip ignores {s['from_mm'] / 10:g} to {s['to_mm'] / 10:g} cm{_of(s['leg'])}",
        settings=(
            Setting("from_mm", "mm", 0, -10_000, 100_000, "where the stretch begins"),
            Setting("to_mm", "mm", 0, -10_000, 100_000, "where it ends"),
            _LEG,
        ),
        needs=frozenset({"dist", "legs"}),
    ),
    Stage(
        "decoys", place.Decoys, "The places where the course has decoys are ignored.",
        make=lambda layout, s: layout.decoys(s["margin_mm"] * 10),
        lost=lambda s: "a decoy stands there",
        settings=(Setting("margin_mm", "mm", 5, 0, 200, "how far beyond the decoy is ignored too"),),
        needs=frozenset({"dist", "legs"}),
    ),
    Stage(
        "on-leg", place.OnLeg, "A colour counts only on one leg.",
        make=lambda layout, s: (s["leg"],),
        lost=lambda s: f"on-leg reads only on leg {s['leg']}",
        settings=(Setting("leg", "number", 1, 1, 20, "the leg, the first is 1"),),
        needs=frozenset({"legs"}),
    ),
    Stage(
        "leg-by-leg", place.LegByLeg, "What is read on a leg is for the slots of that leg, in order.",
        make=lambda layout, s: (*layout.in_order(), layout.board.board),
        lost=lambda s: "every slot of this leg was decided already",
        needs=frozenset({"legs"}),
    ),
)

_TRUST = (
    Stage(
        "mute", trust.Mute, "Some colours are never believed.",
        make=lambda layout, s: (s["colours"],),
        lost=lambda s: "this colour is muted",
        settings=(Setting("colours", "colours", 0, 0, 0, "the colours that are not believed"),),
    ),
    Stage(
        "hold", trust.Hold, "A colour is believed once it has held for some samples, or some time.",
        make=lambda layout, s: (s["samples"], s["ms"], s["repeats"], s["period_ms"]),
        lost=lambda s: f"hold asks for {_samples(s['samples'])}" + (f" and {s['ms']} ms" if s["ms"] else ""),
        settings=(
            Setting("samples", "samples", 3, 1, 100, "how many measurements in a row must show it"),
            Setting("ms", "ms", 0, 0, 5000, "how long it must have been shown"),
            Setting("repeats", "0/1", 0, 0, 1, "1: a sample with the same raw values again is no new measurement"),
            Setting("period_ms", "ms", 0, 0, 500, "the sensor's measuring period: a sample sooner is no new measurement"),
        ),
    ),
    Stage(
        "smooth", trust.Smooth, "The most frequent of the last samples is believed.",
        make=lambda layout, s: (s["samples"],),
        lost=lambda s: f"smooth takes what most of {s['samples']} samples say",
        settings=(Setting("samples", "samples", 5, 1, 99, "of how many samples the most frequent is taken"),),
    ),
    Stage(
        "vote", trust.Vote, "The majority of a window is taken when the window is left.",
        make=lambda layout, s: (s["least"], s["share_pct"], layout.board.board),
        lost=lambda s: f"vote asks for {_samples(s['least'])} and {s['share_pct']} % of those that show a colour",
        settings=(
            Setting("least", "samples", 2, 1, 100, "how many samples must show the colour"),
            Setting("share_pct", "%", 50, 1, 100, "which share of all coloured samples they must be"),
        ),
        needs=frozenset({"places"}),
    ),
    Stage(
        "settle", trust.Settle, "After standing still for a moment the sensor is believed.",
        make=lambda layout, s: (s["ms"], s["still_mm_s"] * 10, s["moving"]),
        lost=lambda s: f"settle asks for {s['ms']} ms of standing still",
        settings=(
            Setting("ms", "ms", 150, 0, 5000, "how long the robot must have stood"),
            _STILL,
            Setting("moving", "0/1", 0, 0, 1, "1: what is seen while driving is believed too"),
        ),
        needs=frozenset({"speed", "stop"}),
    ),
)

_TAKING = (
    Stage(
        "once", taking.Once, "The first colour is taken, then none must be seen before the next.",
        make=lambda layout, s: (s["gap"],),
        lost=lambda s: f"once waits for {s['gap']} samples of none before the next colour",
        settings=(Setting("gap", "samples", 1, 1, 100, "how many samples of none in a row lie between two markers"),),
    ),
    Stage(
        "change", taking.Change, "A colour is taken when it is another than the one before.",
        make=lambda layout, s: (),
        lost=lambda s: "change waits for another colour",
    ),
    Stage(
        "run-on", taking.RunOn, "After a colour, or the none behind it, the robot runs on before it reads again.",
        make=lambda layout, s: (s["colour_mm"] * 10, s["none_mm"] * 10),
        lost=lambda s: f"run-on lets {s['colour_mm']} mm after a colour and {s['none_mm']} mm after none go by",
        settings=(
            Setting("colour_mm", "mm", 20, 0, 1000, "how far it runs on after a colour"),
            Setting("none_mm", "mm", 0, 0, 1000, "how far it runs on after the none behind a colour"),
        ),
        needs=frozenset({"dist"}),
    ),
    Stage(
        "pass-by", taking.PassBy, "A decoy is expected, passed and not kept.",
        make=lambda layout, s: (s["nth"], s["leg"], s["colour"]),
        lost=lambda s: f"pass-by does not keep {'that' if s['colour'] else 'colour'} number {s['nth']}{_of(s['leg'])}",
        settings=(
            Setting("nth", "number", 1, 1, 100, "which colour in the row is the decoy"),
            _LEG,
            Setting("colour", "colour", 0, 0, 0, "the decoy's colour, where it is known: then no other is counted"),
        ),
        needs=frozenset({"legs"}),
    ),
    Stage(
        "number", taking.Number, "A fixed number of colours is taken and no more.",
        make=lambda layout, s: (s["count"] or len(layout.mine),),
        lost=lambda s: "number had taken as many colours as it takes already",
        settings=(Setting("count", "number", 0, 0, 100, "how many; 0: as many as this sensor has slots"),),
    ),
)

_CONSTRAINTS = (
    Stage(
        "distinct", constraints.Distinct, "No colour is taken twice in a group.",
        make=lambda layout, s: (layout.board.group, layout.board.taken),
        lost=lambda s: "this group had that colour already",
    ),
    Stage(
        "open", constraints.Open, "Only colours still open at the slot count: a colour leaves when it is read.",
        make=lambda layout, s: (layout.board.board,),
        lost=lambda s: "that colour is not open any more",
    ),
    Stage(
        "eliminate", constraints.Eliminate, "A slot for which one colour is left gets it; the last need not be seen.",
        make=lambda layout, s: (s["early"], layout.board.exact, layout.board.board, layout.board.tally),
        lost=lambda s: "eliminate decided first",
        settings=(Setting("early", "0/1", 1, 0, 1, "1: as soon as it follows; 0: slots that are passed only at the end"),),
        closes=True,
    ),
    Stage(
        "assume", fallback.Assume, "A slot still missing gets a colour all the same, so that the run can go on.",
        make=lambda layout, s: (
            s["after_ms"], s["note"], s["passed"], s["colour"], s["guess"],
            [slot.leg for slot in layout.course.slots], layout.board.board,
        ),
        lost=lambda s: "assume decided first",
        settings=(
            Setting("after_ms", "ms", 0, 0, 600_000, "how long into the run; 0: at its end"),
            Setting("note", "note", 0, 0, 0, "the note of the robot's program at which it must go on"),
            Setting("passed", "0/1", 0, 0, 1, "1: the slots of a leg when that leg is over"),
            Setting("colour", "colour", 0, 0, 0, "the colour to assume where it is open"),
            Setting("guess", "0/1", 1, 0, 1, "1: else the first open colour"),
        ),
        closes=True,
    ),
)

_STOPPING = (
    Stage(
        "stop-at", stopping.StopAt, "The robot would stop at a colour and read while it stands.",
        make=lambda layout, s: (
            s["loop_ms"], s["motor_ms"], s["brake_mm_s2"], s["reach_mm"] * 10, s["still_mm_s"] * 10,
            [MISSING] * len(layout.board.board), layout.board.board,
        ),
        lost=lambda s: "stop-at reads only while standing at a colour",
        settings=(
            Setting("loop_ms", "ms", 10, 0, 1000, "the program's loop period: how late it notices"),
            Setting("motor_ms", "ms", 30, 0, 1000, "how long the motors take to obey"),
            Setting("brake_mm_s2", "mm/s2", 1500, 50, 30_000, "how hard it brakes"),
            Setting("reach_mm", "mm", 15, 0, 500, "how much farther the recorded robot may go"),
            _STILL,
        ),
        needs=frozenset({"dist"}),
        steers=True,
    ),
)

GROUPS: Final[Mapping[str, tuple[Stage, ...]]] = {
    "which colour a sample shows": _LABEL,
    "when reading begins and ends": _ARMING,
    "where a colour counts, and for which slot": _PLACE,
    "when a colour is believed": _TRUST,
    "when a believed colour is taken": _TAKING,
    "what follows from the course, and what is decided about a slot still missing": _CONSTRAINTS,
    "a robot that stops": _STOPPING,
    "reading by evidence": EVIDENCE,
}
"""What stages are for, in words -> those stages."""

STAGES: Final[Mapping[str, Stage]] = {stage.name: stage for stages in GROUPS.values() for stage in stages}
"""Name -> stage, in the order in which a strategy usually puts them."""

AUTO = "auto"
"""In a strategy: ``code`` or ``nearest``, whichever the run has; of both what channel.py finds better."""
AUTO_WHAT: Final = "The sensor's own colour, or the nearest of a measured palette: what told its captures apart better."
