"""What is judged: one run's samples with all that is needed to read and to score them."""

from __future__ import annotations

from dataclasses import dataclass

from telemetry.course import Course, Truth, parse_truth
from telemetry.palette import Palette
from telemetry.recording.load import Recording
from telemetry.sample import SampleTable


@dataclass(frozen=True, slots=True)
class Case:
    """One run. ``course`` None: colours are listed as they were read. ``truth`` None: nothing is scored.

    ``palette`` stands in for ``palette_text``, the one written in the recording; without both the built-in one is used.
    """

    name: str
    table: SampleTable
    course: Course | None = None
    truth: Truth | None = None
    palette: Palette | None = None
    palette_text: str = ""
    simulated: bool = False


@dataclass(frozen=True, slots=True)
class Given:
    """What stands in for what recordings say about themselves. ``truth``: colours as a user types them, for all alike."""

    course: Course | None = None
    palette: Palette | None = None
    truth: str = ""

    def case(self, recording: Recording, name: str = "") -> Case:
        """A recording as it is to be judged. Raises TruthError where the truth does not fit the course."""
        course, truth = self._course_and_truth(recording)
        return Case(
            name or recording.path.as_posix(), recording.table, course, truth, self.palette,
            recording.meta.palette, recording.meta.simulated,
        )  # fmt: skip

    def _course_and_truth(self, recording: Recording) -> tuple[Course | None, Truth | None]:
        course = self.course or recording.course
        if course is None:
            return None, None
        if self.truth:
            return course, parse_truth(self.truth, course, "--truth")
        if self.course is None or recording.meta.truth is None:
            return course, recording.truth
        return course, parse_truth(",".join(recording.meta.truth), course, f"{recording.path}, truth")


@dataclass(frozen=True, slots=True)
class Ask:
    """What is worked out beyond readings and scores, of runs that were read wrong.

    ``why``: a sentence for each slot, which takes a second, slower pass. ``verdict``: whether sensor or logic failed, for
    which some ten more readers are asked.
    """

    why: bool = False
    verdict: bool = False


READINGS_ONLY = Ask()
EVERYTHING = Ask(why=True, verdict=True)
