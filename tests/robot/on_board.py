# Runs on the robot's side in the tests, under MicroPython and CPython alike: a run with a clock and sensors that are known.
import sys

sys.path.insert(0, sys.argv[1])
from emitter import Emitter, whole

KEEP = int(sys.argv[2])
SAMPLES = int(sys.argv[3])


class Moment:
    pass


tick = [(1 << 30) - 1500]


def clock():
    return tick[0] % (1 << 30)


def step():
    return (tick[0] - (1 << 30) + 1500) // 20


def colour():
    return (9, 1, 2, None)[step() // 10 % 4]


def refl():
    return 54.25 + step() % 7 / 10


def rgb():
    return (812 + step() % 3, 233.5, None)


def heading():
    return -0.44 - step() * 0.5


def dist():
    return step() * 0.3333 - 1.0


def side():
    return "rust" if step() % 2 else "none"


out = Emitter(
    (
        ("colour", colour), ("refl/%", refl), ("red,green,blue", rgb), ("heading/deg", heading), ("dist/cm", dist),
        ("colour.side", side),
    ),
    keep=KEEP, clock=clock, codes={9: "none", 1: "leaf", 2: "sky"}, ranges={"red": (4, 1023), "refl": (0, 100)},
)
moment = Moment()
steps = []
for number in range(SAMPLES):
    out.sample(moment)
    made = (moment.t, moment.code, moment.refl, moment.red, moment.green, moment.h, moment.d)
    steps.append(" ".join([str(value) for value in made]))
    if number == 20:
        out.note("gate open")
        out.read("tag 1", "rust")
        out.note("ends like *4F")
        out.note("two\r\nlines")
    tick[0] += 20
out.hand_over()
if len(sys.argv) > 4:
    WHOLES = (
        (0.05, 10), (-0.05, 10), (-0.06, 10), (2.5, 1), (-2.5, 1), (1e12, 10), (-1e12, 10), (float("nan"), 1),
        (float("inf"), 1), (None, 1), (3, 100), (1 << 40, 1),
    )
    with open(sys.argv[4], "w") as file:  # noqa: PTH123 - MicroPython has no pathlib
        file.write("\n".join(steps))
        file.write("\n" + " ".join([str(whole(value, scale)) for value, scale in WHOLES]))
