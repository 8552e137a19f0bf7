"""What the simulated robot says stood there in a run, and the sentence that goes with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gui.words import tr
from telemetry.course import Course, Truth, parse_truth
from telemetry.errors import TruthError
from telemetry.recording.drives import drives_in
from telemetry.sources.synthetic.run import COURSES, built_in_course

if TYPE_CHECKING:
    from gui.model.follow import Follow
    from telemetry.recording.load import Recording


def said_by_the_robot(follow: Follow, recording: Recording | None, course: Course) -> tuple[Truth | None, str]:
    """The truth of a run on ``course``, None where it is not known; and why, in words."""
    said = follow.simulated_truth(recording) if recording is not None and drives_in(recording) == 1 else ""
    elsewhere = all(course.text != built_in_course(name).text for name in COURSES)
    if said:
        try:
            return parse_truth(said, course), tr("Filled in by the simulated robot. Press Return to save.")
        except TruthError:
            elsewhere = True
    if elsewhere:
        words = tr("The simulated robot drives on Orchard Row; this run was kept as one on {name}. It cannot fill them in.",
                   name=course.name)  # fmt: skip
        return None, words
    return None, tr("The simulated robot cannot fill them in: this is not one run of it.")
