"""The cases of trust, taking, constraints and stopping; for the others, and how a case is written, see rules.py."""

from __future__ import annotations

from .made import Made, in_order, slots
from .rules import ANY_TWO, EXACT, TWO, Case, case, harm, right

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
