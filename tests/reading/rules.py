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
