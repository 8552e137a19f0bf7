"""Rules that are a setting of a stage, or one of the course: one stream where each saves, one where it harms."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from telemetry.course import Course

from .made import Made, course, in_order, slots
from .rules import ANY_TWO, EXACT, LEGS, ONE_IN_THE_YARD, TWO


@dataclass(frozen=True)
class Rule:
    """A run, what stands there, and how it is read with the rule and without it."""

    made: Made
    truth: tuple[str, ...]
    course: Course
    words: tuple[str, ...]
    plain: tuple[str, ...]
    plain_course: Course


def rule(made: Made, truth: str, on: str, words: str, *, plain: str = "", plain_on: str = "") -> Rule:
    """Shorthand: colours with spaces between, stages with commas; ``plain``, ``plain_on``: what differs without the rule."""
    return Rule(made, tuple(truth.split()), course(on), _stages(words), _stages(plain or words), course(plain_on or on))


def _stages(words: str) -> tuple[str, ...]:
    return tuple(word.strip() for word in words.split(","))


SAVED: dict[str, Callable[[], Rule]] = {}
HARMED: dict[str, Callable[[], Rule]] = {}
Maker = Callable[[], Rule]


def saved(name: str) -> Callable[[Maker], Maker]:
    """The stream that the rule ``name`` makes right."""
    return lambda make: SAVED.setdefault(name, make)


def harmed(name: str) -> Callable[[Maker], Maker]:
    """The stream that the rule ``name`` makes wrong."""
    return lambda make: HARMED.setdefault(name, make)


def _gate(*behind: tuple[str, int]) -> Made:
    """None, the gate, then these colours for so many samples of 10 ms and 1 mm each."""
    made = Made().none(20).note("gate open")
    for colour, samples in behind:
        made.see(colour, samples)
    return made


# --- arming on a later leg -------------------------------------------------------------------------------------------


@saved("from a time into a leg")
def _() -> Rule:
    # Behind the gate the sensor still sees the gate for a tenth of a second.
    made = _gate(("pink", 8), ("none", 5), ("rust", 5), ("none", 5))
    return rule(made, "rust", ONE_IN_THE_YARD, "code, from-time ms=100 leg=2, once", plain="code, from-time ms=100, once")


@harmed("from a time into a leg")
def _() -> Rule:
    made = _gate(("none", 3), ("rust", 5), ("none", 20))
    return rule(made, "rust", ONE_IN_THE_YARD, "code, from-time ms=100 leg=2, once", plain="code, from-time ms=100, once")


def _two_ramps(on_the_ramp: str, later: str) -> Made:
    made = Made().none(40, step_mm=3.0).note("gate open")
    for k in range(30):
        made.see(on_the_ramp if 8 <= k < 12 else "none", step_mm=0.1 * k)
    return made.none(40, step_mm=3.0).see(later, 5, step_mm=3.0).none(5, step_mm=3.0)


@saved("the end of the ramp of a leg")
def _() -> Rule:
    made = _two_ramps("pink", "rust")
    return rule(made, "rust", ONE_IN_THE_YARD, "code, after-ramp leg=2, once", plain="code, after-ramp, once")


@harmed("the end of the ramp of a leg")
def _() -> Rule:
    made = _two_ramps("rust", "none")
    return rule(made, "rust", ONE_IN_THE_YARD, "code, after-ramp leg=2, once", plain="code, after-ramp, once")


# --- trust -----------------------------------------------------------------------------------------------------------


@saved("held for a time")
def _() -> Rule:
    # Fast samples: three of them are no time at all.
    made = Made(step_ms=2).none(5).see("pink", 4).see("rust", 40).none(5)
    return rule(made, "rust", in_order(1), "code, hold samples=1 ms=20, once", plain="code, hold samples=1, once")


@harmed("held for a time")
def _() -> Rule:
    made = Made(step_ms=2).none(5).see("rust", 8).none(40)
    return rule(made, "rust", in_order(1), "code, hold samples=1 ms=20, once", plain="code, hold samples=1, once")


@saved("a repeat counts once, by raw values")
def _() -> Rule:
    # One false measurement, sent three times; the true ones differ by their noise.
    made = Made(raw=True).none(3).see("pink", 3)
    for k in range(4):
        made.see("rust", 1, red=400 + k)
    made.none(1, red=40).none(1, red=41).none(1, red=42)
    words = "nearest, hold samples=3 repeats=1, once"
    return rule(made, "rust", in_order(1), words, plain="nearest, hold samples=3, once")


@harmed("a repeat counts once, by raw values")
def _() -> Rule:
    # A sensor so quiet that true measurements are alike.
    made = Made(raw=True).none(3).see("rust", 5).none(3)
    words = "nearest, hold samples=3 repeats=1, once"
    return rule(made, "rust", in_order(1), words, plain="nearest, hold samples=3, once")


@saved("a repeat counts once, by the measuring period")
def _() -> Rule:
    # A sensor of codes only that measures every 30 ms and is asked every 10.
    made = Made().none(6).see("pink", 3).see("rust", 9).none(9)
    words = "code, hold samples=2 period_ms=30, once"
    return rule(made, "rust", in_order(1), words, plain="code, hold samples=2, once")


@harmed("a repeat counts once, by the measuring period")
def _() -> Rule:
    made = Made().none(6).see("rust", 3).none(9)
    words = "code, hold samples=2 period_ms=30, once"
    return rule(made, "rust", in_order(1), words, plain="code, hold samples=2, once")


# --- taking ----------------------------------------------------------------------------------------------------------


@saved("run on after none")
def _() -> Rule:
    # Behind the marker its shadow flickers, after some samples of none.
    made = Made().none(3).see("rust", 6).none(4).see("pink", 2).none(20).see("leaf", 4).none(3)
    words = "code, run-on colour_mm=0 none_mm=10, once"
    return rule(made, "rust leaf", TWO, words, plain="code, run-on colour_mm=0, once")


@harmed("run on after none")
def _() -> Rule:
    made = Made().none(3).see("rust", 6).none(4).see("leaf", 4).none(20)
    words = "code, run-on colour_mm=0 none_mm=10, once"
    return rule(made, "rust leaf", TWO, words, plain="code, run-on colour_mm=0, once")


@saved("a decoy of a known colour")
def _() -> Rule:
    # A marker is not seen, so the decoy is not the second colour but the first.
    made = Made().none(3).see("pink", 3).none(3).see("leaf", 3).none(3)
    words = "code, once, pass-by colour=pink"
    return rule(made, "leaf -", TWO, words, plain="code, once, pass-by nth=2")


@harmed("a decoy of a known colour")
def _() -> Rule:
    # In this light the decoy looks like another colour.
    made = Made().none(3).see("rust", 3).none(3).see("sky", 3).none(3).see("leaf", 3).none(3)
    words = "code, once, pass-by colour=pink"
    return rule(made, "rust leaf", TWO, words, plain="code, once, pass-by nth=2")


@saved("by slot instead of in order")
def _() -> Rule:
    made = Made().to(150).to(160, "leaf").to(200)
    return rule(made, "- leaf", slots(5.0, 15.5), "code, windows, once", plain="code, once, number")


@harmed("by slot instead of in order")
def _() -> Rule:
    made = Made().to(90).to(100, "rust").to(195).to(205, "leaf").to(250)
    return rule(made, "rust leaf", slots(5.0, 15.5), "code, windows, once", plain="code, once, number")


# --- what the course says --------------------------------------------------------------------------------------------

FREE = '[[slot]]\nname = "free"\ncolours = ["rust", "leaf", "sky"]\n'
BOUND = '[[slot]]\nname = "free"\ngroup = "g"\n'


def _free(first: str) -> Made:
    made = Made().none(3).see(first, 3).none(3)
    return made.see("rust", 3).none(3).see("leaf", 3).none(3)


@saved("a slot of any colour kept apart")
def _() -> Rule:
    # Its rust takes none from the group.
    words = "code, once, distinct"
    return rule(_free("rust"), "rust rust leaf", FREE + in_order(2), words, plain_on=BOUND + in_order(2))


@harmed("a slot of any colour kept apart")
def _() -> Rule:
    # It was one of the group after all, and what is read twice is one marker that flickered.
    made = Made().none(3).see("rust", 3).none(1).see("rust", 2).none(5).see("leaf", 3).none(3).see("sky", 3).none(3)
    return rule(made, "rust leaf sky", FREE + in_order(2), "code, once, distinct", plain_on=BOUND + in_order(2))


TWO_RUSTS = in_order(3, "counts = {rust = 2, leaf = 1}")


@saved("counts")
def _() -> Rule:
    # Two rusts and a leaf: a second rust is no repeat, a third is.
    made = Made()
    for colour in ("rust", "rust", "rust", "leaf"):
        made.none(3).see(colour, 3)
    return rule(made.none(3), "rust rust leaf", TWO_RUSTS, "code, once, open", plain_on=in_order(3, EXACT))


@harmed("counts")
def _() -> Rule:
    # One of each stood there, and the rust flickered.
    made = Made()
    for colour in ("rust", "rust", "leaf", "sky"):
        made.none(3).see(colour, 3)
    return rule(made.none(3), "rust leaf sky", TWO_RUSTS, "code, once, open", plain_on=in_order(3, EXACT))


@saved("an unseen slot")
def _() -> Rule:
    # What comes behind the two slots the sensor passes is none of the third.
    made = Made().see("rust", 3).none(3).see("leaf", 3).none(3).see("pink", 3)
    hidden = in_order(3, EXACT).replace('name = "s3"\n', 'name = "s3"\nunseen = true\n')
    words = "code, until-done, once, eliminate early=0"
    return rule(made, "rust leaf sky", hidden, words, plain_on=in_order(3, EXACT))


@harmed("an unseen slot")
def _() -> Rule:
    # It was passed after all, in another place than the course says, and the order is another.
    made = Made().see("rust", 3).none(3).see("pink", 3).none(3).see("sky", 3)
    hidden = in_order(3, EXACT).replace('name = "s2"\n', 'name = "s2"\nunseen = true\n')
    return rule(made, "rust pink sky", hidden, "code, once", plain_on=in_order(3, EXACT))


@saved("elimination only at the end")
def _() -> Rule:
    # The course is out of date: two alike stand there, and the third is seen before the end.
    made = Made().none(3).see("rust", 3).none(3).see("leaf", 3).none(3).see("rust", 3).none(3)
    words = "code, once, eliminate early=0"
    return rule(made, "rust leaf rust", in_order(3, EXACT), words, plain="code, once, eliminate")


@harmed("elimination only at the end")
def _() -> Rule:
    # A false colour behind the second marker, where the third had followed already.
    made = Made().none(3).see("rust", 3).none(3).see("leaf", 3).none(3).see("pink", 3).none(3)
    words = "code, once, eliminate early=0"
    return rule(made, "rust leaf sky +pink", in_order(3, EXACT), words, plain="code, once, eliminate")


# --- what is decided when the run must go on -------------------------------------------------------------------------


def _late(colour: str) -> Made:
    """Nothing in the lane, the gate, and then a colour."""
    return Made().none(30).note("gate open").none(3).see(colour, 3).none(3)


ONE_A_LEG = LEGS + ANY_TWO.replace('name = "s1"\n', 'name = "s1"\nleg = "lane"\n').replace(
    'name = "s2"\n', 'name = "s2"\nleg = "yard"\n'
)


@saved("assumed when its leg is over")
def _() -> Rule:
    # The lane's marker was not seen; by order the yard's would be taken for it.
    words = "code, once, assume colour=sky passed=1"
    return rule(_late("leaf"), "sky leaf", ONE_A_LEG, words, plain="code, once, assume colour=sky")


@harmed("assumed when its leg is over")
def _() -> Rule:
    # The note came too early: the lane's marker was still to come.
    made = Made().note("gate open").none(3).see("rust", 3).none(3).see("leaf", 3).none(3)
    words = "code, once, assume colour=sky passed=1"
    return rule(made, "rust leaf", ONE_A_LEG, words, plain="code, once, assume colour=sky")


@saved("assumed at a note")
def _() -> Rule:
    # The colour behind the gate is no marker; by then all is decided.
    words = "code, once, assume colour=sky note=gate_open"
    return rule(_late("rust"), "sky +rust", in_order(1), words, plain="code, once, assume colour=sky")


@harmed("assumed at a note")
def _() -> Rule:
    words = "code, once, assume colour=sky note=gate_open"
    return rule(_late("rust"), "rust", in_order(1), words, plain="code, once, assume colour=sky")


@saved("assumed after a time")
def _() -> Rule:
    words = "code, once, assume colour=sky after_ms=200"
    return rule(_late("rust"), "sky +rust", in_order(1), words, plain="code, once, assume colour=sky")


@harmed("assumed after a time")
def _() -> Rule:
    words = "code, once, assume colour=sky after_ms=200"
    return rule(_late("rust"), "rust", in_order(1), words, plain="code, once, assume colour=sky")


@saved("the first open colour is assumed")
def _() -> Rule:
    # The colour to assume is not open any more.
    made = Made().none(3).see("rust", 3).none(9)
    return rule(made, "rust leaf", TWO, "code, once, assume colour=rust", plain="code, once, assume colour=rust guess=0")


@harmed("the first open colour is assumed")
def _() -> Rule:
    made = Made().none(3).see("rust", 3).none(9)
    return rule(made, "rust -", TWO, "code, once, assume colour=rust", plain="code, once, assume colour=rust guess=0")


@saved("a slot that may be empty is assumed so")
def _() -> Rule:
    made = Made().none(3).see("rust", 3).none(9)
    free = TWO.replace('name = "s2"\n', 'name = "s2"\nempty_ok = true\n')
    return rule(made, "rust empty", free, "code, once, assume", plain_on=TWO)


@harmed("a slot that may be empty is assumed so")
def _() -> Rule:
    made = Made().none(3).see("rust", 3).none(9)
    free = TWO.replace('name = "s2"\n', 'name = "s2"\nempty_ok = true\n')
    return rule(made, "rust leaf", free, "code, once, assume", plain_on=TWO)
