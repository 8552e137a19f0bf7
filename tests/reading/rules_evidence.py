"""The cases of reading by evidence; for the others, and how a case is written, see rules.py."""

from __future__ import annotations

from .made import Made, slots
from .rules import Case, case, harm, right


def _slipping() -> Made:
    """Markers at 10, 20 and 30 cm, of which the wheels count 12 % too much."""
    return Made().to(102).to(122, "sky").to(214).to(234, "rust").to(326).to(346, "leaf").to(420)


@right("gather")
def _() -> Case:
    # Without what was gathered there is nothing to decide on.
    return case(_slipping(), slots(10.0, 20.0, 30.0), "sky rust leaf", "gather", "decide")


@harm("gather")
def _() -> Case:
    # Distances twice as long as they are: places tell it nothing true, while the order alone would do.
    made = Made().to(190).to(230, "sky").to(390).to(430, "rust").to(590).to(630, "leaf").to(700)
    return case(made, slots(10.0, 20.0, 30.0), "sky rust leaf", "code", "once", "gather", "decide")


@right("decide")
def _() -> Case:
    # Two slots look like rust; only one of them can be, and the other was pink for longer.
    made = Made().to(92).to(110, "rust").to(192).to(197, "rust").to(208, "pink").to(260)
    return case(made, slots(10.0, 20.0), "rust pink", "gather", "decide")


@harm("decide")
def _() -> Case:
    # Where the readings stand already, it says at the end once more what is known, and guesses at a slot never reached.
    made = Made().to(92).to(110, "rust").to(150)
    return case(made, slots(10.0, 20.0), "rust -", "gather", "code", "once", "decide")


@right("weigh")
def _() -> Case:
    # The edge fakes another colour before the marker's own is seen.
    made = Made().to(42).to(43, "pink").to(58, "rust").to(100)
    return case(made, slots(5.0), "rust", "code", "windows", "weigh", "open")


@harm("weigh")
def _() -> Case:
    # Fast: one sample of the marker, one of its edge. Neither is far enough ahead of the other; the first would be right.
    made = Made(step_mm=8.0).to(40).see("rust", 1).see("pink", 1).none(6)
    return case(made, slots(4.0), "rust", "code", "windows", "weigh", "open")
