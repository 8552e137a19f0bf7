"""For every stage: a stream where it alone turns wrong into right, and one where it does harm."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from telemetry.course import Course

from .made import Made, course, in_order, slots


@dataclass(frozen=True)
class Case:
    """A run and what stands there; ``words``: the strategy, the stage in question among them."""

    made: Made
    course: Course
    truth: tuple[str, ...]
    words: tuple[str, ...]
    instead: str = ""
    """What stands in for the stage when it is taken out (a label cannot be left out)."""


RIGHT: dict[str, Callable[[], Case]] = {}
HARM: dict[str, Callable[[], Case]] = {}
Maker = Callable[[], Case]


def right(name: str) -> Callable[[Maker], Maker]:
    """The case where the stage ``name`` makes it right."""
    return lambda make: RIGHT.setdefault(name, make)


def harm(name: str) -> Callable[[Maker], Maker]:
    """The case where the stage ``name`` makes it wrong."""
    return lambda make: HARM.setdefault(name, make)


def case(made: Made, on: str, truth: str, *words: str, instead: str = "") -> Case:
    """Shorthand; ``truth``: colours with spaces between."""
    return Case(made, course(on), tuple(truth.split()), words, instead)


TWO = in_order(2)
ANY_TWO = "".join(f'[[slot]]\nname = "s{k}"\ncolours = ["rust", "leaf", "sky"]\n' for k in (1, 2))
LEGS = """[[leg]]
name = "lane"
[[leg]]
name = "yard"
starts = "note:gate open"
"""
TWO_LEGS = LEGS + """[[slot]]
name = "s1"
leg = "lane"
group = "g"
[[slot]]
name = "s2"
leg = "yard"
group = "h"
[[group]]
name = "g"
distinct = ["rust", "leaf", "sky"]
[[group]]
name = "h"
distinct = ["rust", "leaf", "sky"]
"""
ONE_IN_THE_YARD = LEGS + """[[slot]]
name = "s1"
leg = "yard"
colours = ["rust", "leaf", "sky"]
"""
EXACT = 'one_of_each = ["rust", "leaf", "sky"]'


# --- the label -------------------------------------------------------------------------------------------------------


@right("code")
def _() -> Case:
    # The sensor knows better than a palette made in another light.
    made = Made(raw=True).none(3).see("rust", 3, red=80, green=300, blue=60).none(3)
    return case(made, in_order(1), "rust", "code", "once", instead="nearest")


@harm("code")
def _() -> Case:
    # At edges and in some light the sensor's own code is a false one.
    made = Made(raw=True).none(3).see("leaf", 3, colour=3).none(3)
    return case(made, in_order(1), "leaf", "code", "once", instead="nearest")


@right("nearest")
def _() -> Case:
    made = Made(raw=True).none(3).see("leaf", 3, colour=3).none(3)
    return case(made, in_order(1), "leaf", "nearest", "once", instead="code")


@harm("nearest")
def _() -> Case:
    made = Made(raw=True).none(3).see("rust", 3, red=80, green=300, blue=60).none(3)
    return case(made, in_order(1), "rust", "nearest", "once", instead="code")


# --- arming ----------------------------------------------------------------------------------------------------------


@right("from-distance")
def _() -> Case:
    made = Made().see("pink", 5).none(20).see("rust", 5).none(5)
    return case(made, in_order(1), "rust", "code", "from-distance mm=15", "once")


@harm("from-distance")
def _() -> Case:
    made = Made().none(5).see("rust", 5).none(20)
    return case(made, in_order(1), "rust", "code", "from-distance mm=15", "once")


@right("from-time")
def _() -> Case:
    made = Made().see("pink", 5).none(20).see("rust", 5).none(5)
    return case(made, in_order(1), "rust", "code", "from-time ms=100", "once")


@harm("from-time")
def _() -> Case:
    made = Made().none(3).see("rust", 5).none(20)
    return case(made, in_order(1), "rust", "code", "from-time ms=100", "once")


def _turned(first: str, then: str) -> Made:
    made = Made().none(3).see(first, 4).none(3)
    made.heading = 90.0
    return made.none(3).see(then, 4).none(3)


@right("from-heading")
def _() -> Case:
    return case(_turned("pink", "rust"), in_order(1), "rust", "code", "from-heading deg=90", "once")


@harm("from-heading")
def _() -> Case:
    return case(_turned("rust", "none"), in_order(1), "rust", "code", "from-heading deg=90", "once")


def _gate(first: str, then: str) -> Made:
    return Made().none(3).see(first, 4).none(3).note("gate open").none(3).see(then, 4).none(3)


@right("from-leg")
def _() -> Case:
    return case(_gate("sky", "rust"), ONE_IN_THE_YARD, "rust", "code", "from-leg leg=2", "once")


@harm("from-leg")
def _() -> Case:
    return case(_gate("leaf", "rust"), TWO_LEGS, "leaf rust", "code", "from-leg leg=2", "once")


@right("from-note")
def _() -> Case:
    return case(_gate("pink", "rust"), in_order(1), "rust", "code", "from-note text=gate_open", "once")


@harm("from-note")
def _() -> Case:
    return case(_gate("rust", "none"), in_order(1), "rust", "code", "from-note text=gate_open", "once")


def _ramp(at_the_start: str, later: str) -> Made:
    made = Made()
    for k in range(30):
        made.see(at_the_start if 8 <= k < 12 else "none", step_mm=0.1 * k)
    return made.none(30, step_mm=3.0).see(later, 5, step_mm=3.0).none(5, step_mm=3.0)


@right("after-ramp")
def _() -> Case:
    return case(_ramp("pink", "rust"), in_order(1), "rust", "code", "after-ramp", "once")


@harm("after-ramp")
def _() -> Case:
    return case(_ramp("rust", "none"), in_order(1), "rust", "code", "after-ramp", "once")


@right("until-done")
def _() -> Case:
    made = Made().see("rust", 3).none(3).see("leaf", 3).none(3).see("pink", 3)
    return case(made, TWO, "rust leaf", "code", "until-done", "once")


@harm("until-done")
def _() -> Case:
    # A decoy was taken for the marker; the surplus that would have told so is gone.
    made = Made().see("rust", 3).none(3).see("leaf", 3).none(3)
    return case(made, in_order(1), "rust +leaf", "code", "until-done", "once")


# --- place -----------------------------------------------------------------------------------------------------------


@right("windows")
def _() -> Case:
    # The first marker is not seen: by order alone the second would be taken for it.
    made = Made().to(150).to(160, "leaf").to(200)
    return case(made, slots(5.0, 15.5), "- leaf", "code", "windows", "once")


@harm("windows")
def _() -> Case:
    # Wheels have slipped, and every marker comes 4 cm late.
    made = Made().to(90).to(100, "rust").to(195).to(205, "leaf").to(250)
    return case(made, slots(5.0, 15.5), "rust leaf", "code", "windows", "once")


@right("skip")
def _() -> Case:
    made = Made().to(20).to(30, "pink").to(60).to(70, "rust").to(90)
    return case(made, in_order(1), "rust", "code", "skip from_mm=15 to_mm=40", "once")


@harm("skip")
def _() -> Case:
    made = Made().to(20).to(30, "rust").to(90)
    return case(made, in_order(1), "rust", "code", "skip from_mm=15 to_mm=40", "once")


DECOY = '[[decoy]]\nname = "hose"\nat_cm = 5.0\nwidth_cm = 1.5\n'


@right("decoys")
def _() -> Case:
    made = Made().to(45).to(55, "pink").to(150).to(160, "leaf").to(200)
    return case(made, slots(15.5) + DECOY, "leaf", "code", "decoys", "once")


@harm("decoys")
def _() -> Case:
    # The marker comes so early that it lies where the decoy should.
    made = Made().to(47).to(54, "leaf").to(100)
    return case(made, slots(8.0) + DECOY, "leaf", "code", "decoys", "once")


@right("on-leg")
def _() -> Case:
    return case(_gate("sky", "rust"), ONE_IN_THE_YARD, "rust", "code", "on-leg leg=2", "once")


@harm("on-leg")
def _() -> Case:
    return case(_gate("leaf", "rust"), TWO_LEGS, "leaf rust", "code", "on-leg leg=2", "once")


@right("leg-by-leg")
def _() -> Case:
    # Nothing is seen in the lane; what is seen in the yard must not slip into its place.
    return case(_gate("none", "rust"), TWO_LEGS, "- rust", "code", "leg-by-leg", "once")


@harm("leg-by-leg")
def _() -> Case:
    # The note comes late, when the yard's marker is already seen.
    made = Made().none(3).see("leaf", 4).none(3).see("rust", 4).none(3).note("gate open").none(3)
    return case(made, TWO_LEGS, "leaf rust", "code", "leg-by-leg", "once")


# --- trust -----------------------------------------------------------------------------------------------------------


@right("mute")
def _() -> Case:
    made = Made().none(3).see("pink", 2).see("rust", 5).none(3)
    return case(made, in_order(1), "rust", "code", "mute colours=pink", "once")


@harm("mute")
def _() -> Case:
    made = Made().none(3).see("pink", 5).none(3)
    return case(made, in_order(1), "pink", "code", "mute colours=pink", "once")


@right("hold")
def _() -> Case:
    # Edges fake other colours for a sample.
    made = Made().none(3).see("pink", 1).see("rust", 5).see("leaf", 1).none(3)
    return case(made, in_order(1), "rust", "code", "hold samples=3", "once")


@harm("hold")
def _() -> Case:
    # Fast: two samples is all there is of a marker.
    made = Made().none(3).see("rust", 2).none(3)
    return case(made, in_order(1), "rust", "code", "hold samples=3", "once")


@right("smooth")
def _() -> Case:
    # Too high: the marker flickers between its colour and none.
    made = Made().none(5)
    for _ in range(3):
        made.see("rust", 2).none(1)
    made.none(8)
    return case(made, TWO, "rust -", "code", "smooth samples=5", "once")


@harm("smooth")
def _() -> Case:
    made = Made().none(5).see("rust", 2).none(8)
    return case(made, in_order(1), "rust", "code", "smooth samples=5", "once")


@right("vote")
def _() -> Case:
    made = Made().to(42).to(44, "pink").to(56, "rust").to(58, "pink").to(100)
    return case(made, slots(5.0), "rust", "code", "windows", "vote")


@harm("vote")
def _() -> Case:
    # The window is wide, and most of what is seen in it is a decoy behind the marker.
    made = Made().to(45).to(49, "rust").to(52).to(62, "pink").to(100)
    return case(made, slots(5.0), "rust", "code", "windows", "open", "vote")


def _stops(before: str, after: str) -> Made:
    made = Made().none(10).see("none", 1).see(before, 5, step_mm=0.0)
    made.see(after, 40, step_mm=0.0)
    return made.none(20)


@right("settle")
def _() -> Case:
    # A sensor that has just stopped still reports what it saw before.
    return case(_stops("pink", "rust"), in_order(1), "rust", "code", "settle ms=100", "once")


@harm("settle")
def _() -> Case:
    # It does not stand long enough.
    made = Made().none(10).see("rust", 6, step_mm=0.0).none(20)
    return case(made, in_order(1), "rust", "code", "settle ms=100", "once")


# --- taking ----------------------------------------------------------------------------------------------------------


@right("once")
def _() -> Case:
    made = Made().none(3).see("rust", 4).none(3).see("leaf", 4).none(3)
    return case(made, TWO, "rust leaf", "code", "once")


@harm("once")
def _() -> Case:
    # Markers stand so close that no none is seen between them.
    made = Made().none(3).see("rust", 1).see("leaf", 1).none(3)
    return case(made, TWO, "rust leaf", "code", "once")


@right("change")
def _() -> Case:
    made = Made().none(3).see("rust", 4).see("leaf", 4).none(3)
    return case(made, TWO, "rust leaf", "code", "change")


@harm("change")
def _() -> Case:
    # Two alike in a row are two.
    made = Made().none(3).see("rust", 1).none(3).see("rust", 1).none(3)
    return case(made, ANY_TWO, "rust rust", "code", "change")


@right("run-on")
def _() -> Case:
    # One marker, seen twice because it flickers.
    made = Made().none(3).see("rust", 3).none(2).see("rust", 3).none(30).see("leaf", 3).none(3)
    return case(made, TWO, "rust leaf", "code", "run-on colour_mm=20", "once")


@harm("run-on")
def _() -> Case:
    # The next marker is nearer than that.
    made = Made().none(3).see("rust", 3).none(5).see("leaf", 3).none(30)
    return case(made, TWO, "rust leaf", "code", "run-on colour_mm=20", "once")


@right("pass-by")
def _() -> Case:
    made = Made().none(3).see("rust", 3).none(3).see("pink", 3).none(3).see("leaf", 3).none(3)
    return case(made, TWO, "rust leaf", "code", "once", "pass-by nth=2")


@harm("pass-by")
def _() -> Case:
    # The decoy is not seen this time, and a marker is passed by in its place.
    made = Made().none(3).see("rust", 3).none(3).see("leaf", 3).none(3)
    return case(made, TWO, "rust leaf", "code", "once", "pass-by nth=2")


@right("number")
def _() -> Case:
    made = Made().see("rust", 3).none(3).see("leaf", 3).none(3).see("pink", 3)
    return case(made, TWO, "rust leaf", "code", "once", "number")


@harm("number")
def _() -> Case:
    # One colour too few is asked for.
    made = Made().see("rust", 3).none(3).see("leaf", 3).none(3)
    return case(made, TWO, "rust leaf", "code", "once", "number count=1")


# --- constraints and what follows from them ---------------------------------------------------------------------------


@right("distinct")
def _() -> Case:
    # The same marker read twice.
    made = Made().none(3).see("rust", 3).none(2).see("rust", 3).none(9).see("leaf", 3).none(3)
    return case(made, TWO, "rust leaf", "code", "once", "distinct")


@harm("distinct")
def _() -> Case:
    # A false rust at first; then the true rust may not be read any more.
    made = Made().none(3).see("rust", 1).none(9).see("rust", 3).none(3)
    return case(made, TWO, "rust rust", "code", "once", "distinct")


@right("open")
def _() -> Case:
    made = Made().none(3).see("rust", 3).none(1).see("rust", 2).see("leaf", 3).none(3)
    return case(made, TWO, "rust leaf", "code", "open")


@harm("open")
def _() -> Case:
    # The course is out of date: a colour stands there that it does not list.
    made = Made().none(3).see("pink", 3).none(9)
    return case(made, in_order(1, 'distinct = ["rust", "leaf", "sky"]'), "pink", "code", "once", "open")


@right("eliminate")
def _() -> Case:
    made = Made().none(3).see("rust", 3).none(3).see("sky", 3).none(9)
    return case(made, in_order(3, EXACT), "rust sky leaf", "code", "once", "eliminate")


@harm("eliminate")
def _() -> Case:
    # The course is out of date: two alike stand there, and the third is decided before it is seen.
    made = Made().none(3).see("rust", 3).none(3).see("leaf", 3).none(3).see("rust", 3).none(3)
    return case(made, in_order(3, EXACT), "rust leaf rust", "code", "once", "eliminate")


@right("assume")
def _() -> Case:
    made = Made().none(3).see("rust", 3).none(9)
    return case(made, TWO, "rust leaf", "code", "once", "assume colour=leaf")


@harm("assume")
def _() -> Case:
    # Missing would have cost nothing; a wrong guess does.
    made = Made().none(3).see("rust", 3).none(9)
    return case(made, TWO, "rust -", "code", "once", "assume colour=leaf")


# --- stopping --------------------------------------------------------------------------------------------------------


@right("stop-at")
def _() -> Case:
    # At speed an edge fakes a colour; standing, the sensor sees the true one.
    made = Made().none(10).see("pink", 3).see("rust", 1).see("rust", 30, step_mm=0.0).none(20)
    return case(made, in_order(1), "rust", "code", "stop-at", "once")


@harm("stop-at")
def _() -> Case:
    # The recorded robot drove on: what it saw later says nothing about one that would have stopped.
    made = Made().none(10).see("rust", 5).none(60)
    return case(made, in_order(1), "rust", "code", "stop-at", "once")
