"""Headings across +-180 degrees, held against the circular mean of SciPy and the unwrapping of NumPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import circmean

from telemetry.course import parse_course
from telemetry.reading.needs import run_has
from telemetry.reading.portable.arming import FromHeading
from telemetry.reading.portable.moment import Moment

from .made import Made, plan_of, wholes_of

ROUND = 3600
"""A whole turn in 0.1 deg, the unit of the portable core."""
SLOT = '[[slot]]\nname = "s"\nleg = "yard"\ncolours = ["rust"]\n'


def off_by_circular_mean(heading: int, wanted: int) -> float:
    """How far two directions are apart: twice as far as their circular mean is from one of them (scipy.stats.circmean)."""
    middle = circmean([heading % ROUND, wanted % ROUND], high=ROUND, low=0)
    half = abs(middle - wanted % ROUND)
    return 2.0 * min(half, ROUND - half)


def off_by_unwrapping(heading: int, wanted: int) -> float:
    """The same as numpy.unwrap steps from one to the other."""
    one, two = np.unwrap([wanted, heading], period=ROUND)
    return float(abs(two - one))


def arms(heading: int, wanted: int, tolerance: int) -> bool:
    moment = Moment()
    moment.h = heading
    return FromHeading(wanted, tolerance).step(5, moment) == 5


PAIRS = np.random.default_rng(17).integers(-4 * ROUND, 4 * ROUND, (400, 2)).tolist()
NEAR = [(1795 + k, wanted) for k in range(0, 12, 3) for wanted in (1800, -1800, -1799, 1799, 0)]


@pytest.mark.parametrize("reference", [off_by_circular_mean, off_by_unwrapping])
def test_a_stage_takes_the_way_round_that_is_shorter(reference) -> None:
    for heading, wanted in [*PAIRS, *NEAR]:
        off = reference(heading, wanted)
        if abs(off - ROUND / 2) < 1:  # opposite: either way round is as short, and the mean is not defined
            continue
        assert arms(heading, wanted, round(off) + 1), (heading, wanted, off)
        assert round(off) < 2 or not arms(heading, wanted, round(off) - 2), (heading, wanted, off)


@pytest.mark.parametrize("wanted", [180, -180, 179, -175, 540])
def test_a_leg_begins_at_a_heading_next_to_the_seam(wanted: int) -> None:
    """It begins with the first sample whose circular distance is within the tolerance."""
    sent = [(150 + 1.5 * k + 180) % 360 - 180 for k in range(40)]  # 150, ..., 180, -178.5, ...
    on = parse_course(
        '[course]\nname = "x"\n[[leg]]\nname = "lane"\n[[leg]]\nname = "yard"\n'
        f'starts = "heading:{wanted}"\nheading_tol_deg = 10\n{SLOT}'
    )
    made = Made()
    for heading in sent:
        made.heading = heading
        made.none(1)
    plan = plan_of(made, on, "code")
    _, _, places = plan.chains[0].trace(wholes_of(made, plan)[0], plan.note_rows(made.notes), 0, len(made.rows))
    near = [off_by_circular_mean(round(10 * heading), 10 * wanted) <= 100.0001 for heading in sent]
    assert any(near)
    assert [leg for leg, _, _ in places].index(1) == near.index(True)


@pytest.mark.parametrize(
    ("from_deg", "step_deg", "stops"), [(179.9, 0.0, 1), (179.9, 0.1, 1), (179.9, 3.0, 0), (180.5, -3.0, 0)]
)
def test_a_robot_that_stands_across_the_seam_has_not_turned(from_deg: float, step_deg: float, stops: int) -> None:
    """A gyro's noise about 180 degrees is no turn, and a turn through it is one (numpy.unwrap), whatever the numbers do."""
    made = Made().none(10)
    sent = []
    for k in range(30):
        noise = 0.4 if k % 2 else -0.4
        made.heading = (from_deg + step_deg * k + noise + 180) % 360 - 180
        sent.append(made.heading)
        made.none(1, step_mm=0.0)
    made.none(10)
    assert np.ptp(sent) > 300  # the numbers themselves jump
    assert (np.ptp(np.unwrap(sent, period=360)) <= 20.0) == bool(stops)
    assert sum(word.startswith("stop:") for word in run_has(made.table)) == stops
