"""From what readers and samples say to a verdict: each kind asked in turn, the surest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from telemetry.course import EMPTY, NONE, Course, Truth
from telemetry.findings import Finding, FindingKind, Value
from telemetry.palette import Palette
from telemetry.replay.verdict.codes import meanings, without_code
from telemetry.replay.verdict.fit import Fit
from telemetry.replay.verdict.seen import Seen
from telemetry.replay.verdict.slips import Colours, Slip, slip_of
from telemetry.replay.verdict_kind import CauseKind, Verdict

SURE = 0.99
ENOUGH = {(Slip.EXCHANGED, False): 0.5, (Slip.ONE, False): 0.8, (Slip.EXCHANGED, True): 0.6, (Slip.ONE, True): 0.9}
"""(how the truth differs, by codes alone) -> how sure evidence must be of the slots where it does. What is no such slip,
people hardly type and readers easily misread. One truth in ten mistyped, set-ups 40000:40006 and 40010:40016, simulated and
spliced: of 840 mistyped ones 761 are found by raw channels under a palette of other light, 4 of 840 right ones are doubted.
By codes alone 566 are found and 3 doubted; there, in a fifth of the runs no reader is within a slip of the truth.
"""
AGREE = 3
"""So many readers that agree will do where evidence reads something else that is no slip away."""
MISTYPED, ALL_AGREE = 2, 5
"""A truth that differs in more slots than two was not mistyped; if so many readers agree and evidence is sure, it is another
run's."""
FEW_SAMPLES = 2
FAINT = 1.5
SATURATED = 0.3
LOST = 0.05


@dataclass(frozen=True, slots=True)
class Grounds:
    """What the verdict rests on.

    ``read``: what evidence (``by_evidence``) or, where that tells less, most readers say; ``votes``: how many say exactly
    that; ``sure``: the least of evidence's confidences where that differs from the truth. ``by_codes``: only the sensor's
    codes tell colours, because no raw channels or no palette were there.
    """

    course: Course
    palette: Palette
    truth: Truth
    read: Colours
    by_evidence: bool
    votes: int
    sure: float
    seen: Seen
    by_codes: bool
    fit: Fit | None
    lost: float

    def judged(self) -> Verdict:
        kind, findings = self._judged()
        figures = {"readers_alike": float(self.votes), "sure": round(self.sure, 4)}
        samples = [slot.samples for slot in self.seen.slots if slot is not None]
        if samples:
            figures["fewest_samples_over_a_marker"] = float(min(samples))
        if self.fit is not None:
            figures |= {"shift_between_channels": round(self.fit.shift, 3), "level_to_palette": round(self.fit.level, 3)}
        return Verdict(kind, findings, self.read, figures)

    def _judged(self) -> tuple[CauseKind, tuple[Finding, ...]]:
        bare = not self.by_codes and not self.palette.measured
        absent = self._not_in_palette()
        if absent:
            told = Finding(FindingKind.PALETTE_LACKS, numbers={"colours": absent, "alike": ()})
            return CauseKind.STALE, (told,)
        if self.fit is not None and self.fit.exchanged:
            return CauseKind.COLUMNS, self.fit.findings
        lacking = self._lacking(self._other())
        if not lacking and not bare and self._doubtful():
            sure = self.sure if self.sure >= SURE else None
            numbers = {"readers": self.votes, "sure": sure, **self._instead(self._other())}
            return CauseKind.TRUTH, (Finding(FindingKind.READ_OTHERWISE, numbers=numbers),)
        if self.by_codes:
            missing = self._without_code()
            if missing:
                return CauseKind.NO_CODE, missing
        if not self.palette.measured:
            never = self._never_said() if self.by_codes else ()
            told = Finding(FindingKind.NO_PALETTE, "", "codes" if self.by_codes else "typical values")
            return CauseKind.NO_PALETTE, (*never, told)
        if lacking:
            return CauseKind.SENSOR, lacking
        if self.fit is not None and self.fit.stale:
            return CauseKind.STALE, self.fit.findings
        faint = self._faint(self._other()) or (self._never_said() if self.by_codes else ())
        if faint:
            return CauseKind.SENSOR, faint
        other = self._other()[:4]
        if not other:
            return CauseKind.UNCLEAR, (Finding(FindingKind.NO_READER),)
        return CauseKind.UNCLEAR, (Finding(FindingKind.READERS_DISAGREE, numbers=self._instead(other)),)

    def _not_in_palette(self) -> tuple[str, ...]:
        """Colours that stood there, are told by raw channels and have never been captured."""
        if self.by_codes or not self.palette.measured:
            return ()
        stood = dict.fromkeys(colour for colour in self.truth if colour not in {EMPTY, NONE})
        return tuple(colour for colour in stood if self.palette.get(colour) is None)

    def _instead(self, slots: Sequence[int]) -> dict[str, Value]:
        """What was read at these slots instead of the truth."""
        return {
            "slots": tuple(self._name(i) for i in slots), "read": tuple(self.read[i] for i in slots),
            "truth": tuple(self.truth[i] for i in slots),
        }  # fmt: skip

    def _name(self, i: int) -> str:
        return self.course.slots[i].name

    def _other(self) -> list[int]:
        """Slots where the truth is another than what was read."""
        return [i for i, (a, b) in enumerate(zip(self.read, self.truth, strict=True)) if a != b and a is not None]

    def _doubtful(self) -> bool:
        """Whether the readings speak against the truth."""
        other, slip = self._other(), slip_of(self.read, self.truth, self.course)
        if len(other) > MISTYPED:
            return self.votes >= ALL_AGREE and self.sure >= SURE
        if slip is Slip.NONE:
            return bool(other) and not self.by_codes and self.sure >= SURE
        return self.sure >= ENOUGH[slip, self.by_codes] or (not self.by_evidence and self.votes >= AGREE)

    def _without_code(self) -> tuple[Finding, ...]:
        """Which colours the sensor has no code for, by the calibration; empty where it has one for each."""
        parts = []
        meaning = meanings(self.palette, self.course.colours)
        told = {code for slot in self.seen.slots if slot is not None for code in slot.codes}
        for i in self._other():
            twin = without_code(self.truth[i], self.palette)
            if twin is not None and self.truth[i] not in told | {meaning.get(code) for code in told}:
                parts.append(self._at(FindingKind.NO_OWN_CODE, i, want=self.truth[i], code=twin))
        return tuple(parts)

    def _never_said(self) -> tuple[Finding, ...]:
        """Over which slots the sensor never gave the code of what stands there."""
        parts = []
        meaning = meanings(self.palette, self.course.colours)
        for i in self._other():
            slot = self.seen.slots[i]
            if slot is None or not slot.codes or any(meaning.get(code) == self.truth[i] for code in slot.codes):
                continue
            code, count = slot.codes.most_common(1)[0]
            parts.append(self._at(FindingKind.CODE_NEVER_SAID, i, code=code, samples=count, want=self.truth[i]))
        return tuple(parts[:4])

    def _lacking(self, slots: Sequence[int]) -> tuple[Finding, ...]:
        """Which of the slots have hardly a sample; empty where one of them has enough."""
        parts = []
        for i in slots:
            slot = self.seen.slots[i]
            if self.course.slots[i].unseen or slot is None:
                continue
            if slot.samples >= FEW_SAMPLES:
                return ()
            parts.append(self._at(FindingKind.FEW_SAMPLES, i, samples=slot.samples))
        if parts and self.lost > LOST:
            parts.append(Finding(FindingKind.SHARE_LOST, numbers={"share": self.lost}))
        return tuple(parts[:4])

    def _faint(self, slots: Sequence[int]) -> tuple[Finding, ...]:
        """What is weak about the samples of these slots, of all where none is given."""
        parts = []
        for i in slots or range(len(self.truth)):
            slot = self.seen.slots[i]
            if slot is None or self.course.slots[i].unseen:
                continue
            if slot.samples < FEW_SAMPLES:
                parts.append(self._at(FindingKind.FEW_SAMPLES, i, samples=slot.samples))
            elif not self.by_codes and slot.contrast < FAINT:
                parts.append(self._at(FindingKind.FAINT, i, deviations=slot.contrast))
            elif slot.saturated > SATURATED:
                parts.append(self._at(FindingKind.FULL_SCALE, i, share=slot.saturated))
            elif self.by_codes and not slot.codes.total() - slot.codes["none"]:
                parts.append(self._at(FindingKind.NOTHING_BUT_NONE, i))
        if self.lost > LOST:
            parts.append(Finding(FindingKind.SHARE_LOST, numbers={"share": self.lost}))
        return tuple(parts[:4])

    def _at(self, kind: FindingKind, i: int, **numbers: Value) -> Finding:
        return Finding(kind, self._name(i), "", numbers)
