"""Why a run was read wrong: one finding for each slot that failed, from what every stage said."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np
from msgspec.structs import replace

from telemetry.course import EMPTY, NONE, Course, Truth
from telemetry.findings import Finding, FindingKind, Value
from telemetry.reading.catalogue import STAGES
from telemetry.replay.log import LABELLERS, RunLog
from telemetry.replay.reach import USUAL_WIDTH_CM, over, reach
from telemetry.replay.readings import ASSUMED, INFERRED, Reading, Taken
from telemetry.replay.scoring.score import MARKER, Aligned, Match, aligned, slot_verdicts
from telemetry.sample import MISSING, IntColumn

NEAR_CM = 2.0
"""How far beyond a marker what was read still counts as read there: some stages decide when it has passed."""
_WEIGHING = frozenset({"weigh", "decide"})
"""Stages that decide from the channels themselves: no colour is passed on to them."""
_NO_ROWS: IntColumn = np.empty(0, dtype=np.int64)


def explain(
    course: Course, truth: Truth, taken: Taken, log: RunLog | None = None,
    *, standing: str = "stands there", beside: Sequence[Aligned] | None = None,
) -> tuple[Finding, ...]:  # fmt: skip
    """One finding for each slot read wrong or missed and for each colour taken beyond them, causes before consequences.

    Without a log (the robot's own readings) they say what happened, not why. ``standing``: the words for what ``truth`` is,
    if it is not what stands there. ``beside``: the alignments, where they are known already.
    """
    explainer = _Explainer(course, truth, taken, log, beside or aligned(course, truth, taken))
    explainer.standing = standing
    return tuple(explainer.findings())


class _Explainer:
    standing = ""

    def __init__(
        self, course: Course, truth: Truth, taken: Taken, log: RunLog | None, beside: Sequence[Aligned]
    ) -> None:
        self.course, self.truth, self.taken, self.log, self.aligned = course, truth, taken, log, beside
        self.verdicts = slot_verdicts(truth, taken)
        self.rows: dict[int, IntColumn] = {}
        self.mine: dict[int, IntColumn] = {}
        if log is not None:
            failed = [i for i, verdict in enumerate(self.verdicts) if verdict != "right" and not course.slots[i].unseen]
            self.rows = {slot: self.rows_of(slot, log) for slot in failed}
            self.mine = {slot: self.rows_showing(slot, rows, log) for slot, rows in self.rows.items()}
            # Stepping stage by stage is slow: only where the slot's own colour was seen.
            log.trace((int(rows[0]), int(rows[-1]) + 1) for rows in self.mine.values() if len(rows))

    def findings(self) -> Iterable[Finding]:
        shifted: list[int] = []
        for slot, verdict in enumerate(self.verdicts):
            if verdict == "right":
                continue
            found = self.missing(slot) if verdict == "missing" else self.wrong(slot)
            if found is None:
                shifted.append(slot)
            else:
                yield found
        for reading in self.taken.surplus:
            found = self.surplus(reading)
            if found is not None:
                yield found
        for kind, verdict in ((FindingKind.GOT_ANOTHERS, "wrong"), (FindingKind.GOT_NOTHING, "missing")):
            slots = tuple(self.course.slots[slot].name for slot in shifted if self.verdicts[slot] == verdict)
            if slots:
                yield Finding(kind, numbers={"slots": slots})

    def missing(self, slot: int) -> Finding | None:
        """Why nothing stands for this slot; None where its colour merely counted for another one."""
        partner = self.in_sequence(slot).of_slot(slot)
        if partner is not None and partner[0] is Match.RIGHT and partner[1] is not None:
            reading = partner[1]
            if reading.slot is None:
                return self.of_reading(FindingKind.BEYOND_SLOTS, reading, slot)
            # What was read at its own slot is none of this one's, though the sequences fit so.
            return self.unread(slot) if self.near(reading.slot, reading) else None
        if partner is not None and partner[0] is Match.WRONG and partner[1] is not None:
            return self.wrong_colour(slot, partner[1])
        return self.unread(slot)

    def wrong(self, slot: int) -> Finding | None:
        """Why another colour stands for this slot; None where it is another slot's and this one's counted elsewhere."""
        reading = self.taken.slots[slot]
        if self.truth[slot] == EMPTY:
            found = self.of_reading(FindingKind.NOTHING_STANDS, reading, slot, decoy=self.decoy(reading))
            return replace(found, numbers={**found.numbers, "whose": self.whose(slot, reading)})
        if reading.how == INFERRED:
            group = self.course.slots[slot].group
            others = [i for i, one in enumerate(self.course.slots) if one.group == group and i != slot]
            right = all(self.verdicts[i] == "right" for i in others)
            return self.of_reading(FindingKind.FOLLOWED_WRONGLY, reading, slot, others_right=right)
        if reading.how == ASSUMED:
            return replace(self.of_reading(FindingKind.ASSUMED_WRONGLY, reading, slot), because=self.unread(slot))
        if self.near(slot, reading):
            return self.wrong_colour(slot, reading)
        mine = self.in_sequence(slot).of_reading(reading)
        kind, other = mine if mine is not None else (Match.WRONG, slot)
        if kind in {Match.EXTRA, Match.REPEATED}:
            return self.too_much(FindingKind.TOOK_TOO_MUCH, kind, reading, slot)
        if other == slot:
            return self.wrong_colour(slot, reading)
        partner = self.in_sequence(slot).of_slot(slot)
        if partner is not None and partner[0] is Match.MISSED:
            whose = "" if other is None else self.course.slots[other].name
            return replace(self.of_reading(FindingKind.OUSTED, reading, slot, whose=whose), because=self.unread(slot))
        return None

    def surplus(self, reading: Reading) -> Finding | None:
        """What was taken beyond the slots, and why it should not have been."""
        place = self.aligned[reading.sensor].of_reading(reading)
        if place is None or place[0] is Match.RIGHT:
            return None
        kind, slot = place
        if kind is Match.WRONG and slot is not None:
            if self.verdicts[slot] == "missing":
                return None  # said at the slot
            return replace(self.of_reading(FindingKind.SURPLUS_WRONG, reading, slot), slot="")
        return self.too_much(FindingKind.SURPLUS, kind, reading)

    def too_much(self, found: FindingKind, kind: Match, reading: Reading, slot: int | None = None) -> Finding:
        """A reading that should not have been made; its cause: a decoy, a repetition, or what the sensor said."""
        decoy = self.decoy(reading)
        if decoy:
            return replace(self.of_reading(found, reading, slot, decoy=decoy), cause="decoy")
        if kind is Match.REPEATED:
            more = {**self.gap_before(reading), "whose": self.whose(slot, reading)}
            return replace(self.of_reading(found, reading, slot, **more), cause="repeated")
        return replace(self.of_reading(found, reading, slot, **self.held(reading)), cause="nothing there")

    def wrong_colour(self, slot: int, reading: Reading) -> Finding:
        """The marker was noticed, but as another colour."""
        want, got = self.truth[slot], reading.colour or NONE
        decoy = self.decoy(reading)
        if decoy and not self.near(slot, reading):
            return self.of_reading(FindingKind.TOOK_DECOY, reading, slot, decoy=decoy)
        read = self.of_reading(FindingKind.OTHER_COLOUR, reading, slot)
        if self.log is None:
            return read
        one = self.course.slots[slot]
        counts = self.colours_seen(self.log, one.sensor, self.rows.get(slot, _NO_ROWS))
        known = one.at_cm is not None and reading.dist_cm is not None and reading.leg == one.leg
        if not counts.get(want):
            cause = "never reported"
        elif counts.get(got):
            cause = "both"
        else:
            # It did say so: there, or elsewhere; or the strategy weighed the channels themselves.
            weighed = _WEIGHING.intersection(self.log.stages(one.sensor))
            cause = "elsewhere" if known and not self.near(slot, reading) else "weighed" if weighed else "never said"
        more = {
            "got_samples": counts.get(got, 0), "want_samples": counts.get(want, 0), "slot_cm": one.at_cm,
            "seen": tuple(self.said(slot, self.log).most_common()),
        }  # fmt: skip
        return replace(read, cause=cause, numbers={**read.numbers, **more})

    def near(self, slot: int, reading: Reading) -> bool:
        """Whether a reading was made at a slot, as far as that is known."""
        one = self.course.slots[slot]
        if one.at_cm is None or reading.dist_cm is None or reading.leg != one.leg:
            return False
        return abs(reading.dist_cm - one.at_cm) <= (one.width_cm or USUAL_WIDTH_CM) / 2 + NEAR_CM

    def whose(self, slot: int | None, reading: Reading) -> str:
        """The other slot whose marker stands where this was read; empty where none does."""
        for other, one in enumerate(self.course.slots):
            if other != slot and one.sensor == reading.sensor and self.truth[other] != EMPTY and self.near(other, reading):
                return one.name
        return ""

    def of_reading(self, kind: FindingKind, reading: Reading, slot: int | None, **more: Value) -> Finding:
        """A finding about what was read: its colour, its place, and what stands at the slot instead."""
        name = "" if slot is None else self.course.slots[slot].name
        want = None if slot is None else self.truth[slot]
        numbers = {"got": reading.colour or NONE, "want": want, "at_cm": reading.dist_cm, "standing": self.standing}
        return Finding(kind, name, "", {**numbers, **more})

    def unread(self, slot: int) -> Finding:
        """Where on its way through the stages the slot's colour was lost."""
        want, one, log = self.truth[slot], self.course.slots[slot], self.log
        if one.unseen:
            return self.unfollowed(slot)
        if log is None:
            return Finding(FindingKind.MISSED, one.name, "", {"want": want})
        rows = self.rows.get(slot, _NO_ROWS)
        if not len(rows):
            return Finding(FindingKind.NO_SAMPLE, one.name, "", {"want": want, "at_cm": one.at_cm})
        mine = self.mine.get(slot, _NO_ROWS)
        if not len(mine):
            seen = tuple(self.said(slot, log).most_common())
            return Finding(FindingKind.NEVER_REPORTED, one.name, "sensor", {"want": want, "seen": seen})
        weighing = [stage for stage, name in enumerate(log.stages(one.sensor)) if name in _WEIGHING]
        if weighing and log.stages(one.sensor)[1] not in LABELLERS:
            return self.outweighed(slot, log, weighing[0], mine)
        label = log.names.index(want)
        depths = log.depths(one.sensor, mine, label)
        deepest = int(depths.max())
        last = deepest == len(log.stages(one.sensor)) - 1
        lost_in = "" if last else log.stages(one.sensor)[deepest + 1]
        numbers = self.shown(slot, log, mine if lost_in == "vote" else _longest(mine))
        if deepest >= len(log.stages(one.sensor)) - 2:
            return Finding(FindingKind.COUNTED_ELSEWHERE, one.name, "", numbers)
        rows = mine[depths == deepest]
        stage = deepest + 1
        numbers |= {"settings": dict(log.settings[stage]), **self.about_stage(slot, log, stage, rows)}
        return Finding(FindingKind.LOST_IN_STAGE, one.name, log.stages(one.sensor)[stage], numbers)

    def shown(self, slot: int, log: RunLog, rows: IntColumn) -> dict[str, Value]:
        """The slot's colour, in how many samples it was seen, and from where to where."""
        return {"want": self.truth[slot], "samples": len(rows), **self.span(log, self.course.slots[slot].sensor, rows)}

    def outweighed(self, slot: int, log: RunLog, stage: int, mine: IntColumn) -> Finding:
        """A slot left open by a stage that weighs the channels: out of place, its colour given elsewhere, or too little."""
        one = self.course.slots[slot]
        names = log.stages(one.sensor)
        numbers = self.shown(slot, log, _longest(mine))
        holder = self.holder(slot)
        windows = names.index("windows") if "windows" in names else None
        place = {} if windows is None else self.about_stage(slot, log, windows, mine)
        off_cm = place.get("off_cm")
        if windows is not None and isinstance(off_cm, float):
            reach_cm = (one.width_cm or USUAL_WIDTH_CM) / 2 + log.settings[windows].get("margin_mm", 0) / 10
            if off_cm > reach_cm:
                more: dict[str, Value] = {"settings": dict(log.settings[windows]), **place}
                return Finding(FindingKind.LOST_IN_STAGE, one.name, "windows", {**numbers, **more})
        if holder and "open" in names:
            return Finding(FindingKind.LOST_IN_STAGE, one.name, "open", {**numbers, "settings": {}, "holder": holder})
        settings = dict(log.settings[stage])
        return Finding(FindingKind.LOST_IN_STAGE, one.name, names[stage], {**numbers, "settings": settings})

    def holder(self, slot: int) -> str:
        """The other slot of its group that was given what stands at this one; empty where none was."""
        for other, one in enumerate(self.course.slots):
            same = one.group == self.course.slots[slot].group and other != slot
            if same and self.taken.slots[other].colour == self.truth[slot]:
                return one.name
        return ""

    def said(self, slot: int, log: RunLog) -> Counter[str]:
        """What the sensor said around a slot; where that is nothing but none, over its marker: a robot that stands nearby
        says none very often.
        """
        sensor = self.course.slots[slot].sensor
        around = self.colours_seen(log, sensor, self.rows.get(slot, _NO_ROWS))
        if around.keys() - {NONE, "nothing"}:
            return around
        return self.colours_seen(log, sensor, self.over(slot, log)) or around

    def over(self, slot: int, log: RunLog) -> IntColumn:
        """The rows over a slot's marker; none where its place is not known."""
        one = self.course.slots[slot]
        if one.at_cm is None or not log.has_places(one.sensor):
            return _NO_ROWS
        return log.rows_between(one.sensor, one.leg, *over(one))

    def unfollowed(self, slot: int) -> Finding:
        """Why the colour of an unseen slot was not found."""
        one = self.course.slots[slot]
        numbers: dict[str, Value] = {"want": self.truth[slot]}
        if self.log is None:
            return Finding(FindingKind.NOT_FOLLOWED, one.name, "unknown", numbers)
        if not any(STAGES[stage].closes for stage in self.log.stages(one.sensor) if stage in STAGES):
            return Finding(FindingKind.NOT_FOLLOWED, one.name, "no inference", numbers)
        still = tuple(
            other.name for i, other in enumerate(self.course.slots)
            if other.group == one.group and i != slot and self.taken.slots[i].colour is None
        )  # fmt: skip
        return Finding(FindingKind.NOT_FOLLOWED, one.name, "open" if still else "wrong", {**numbers, "open": still})

    def about_stage(self, slot: int, log: RunLog, stage: int, rows: IntColumn) -> dict[str, Value]:
        """What is known of the loss beside the stage's settings."""
        one = self.course.slots[slot]
        name = log.stages(one.sensor)[stage]
        if name in {"open", "distinct"}:
            holder = self.holder(slot)
            return {"holder": holder} if holder else {}
        if name == "windows" and one.at_cm is not None:
            places = log.places_at(one.sensor, rows)
            if len(places):
                return {"off_cm": float(np.abs(places - one.at_cm * 100).min()) / 100}
        return {}

    def in_sequence(self, slot: int) -> Aligned:
        return self.aligned[self.course.slots[slot].sensor]

    def rows_of(self, slot: int, log: RunLog) -> IntColumn:
        """The rows at a slot: by distance where that is known, else between the readings of its neighbours."""
        one = self.course.slots[slot]
        if one.at_cm is not None and log.has_places(one.sensor):
            return log.rows_between(one.sensor, one.leg, *reach(self.course, slot))
        before, after = log.start, log.stop
        for other, reading in enumerate(self.taken.slots):
            if reading.row is None or reading.sensor != one.sensor or self.verdicts[other] != "right":
                continue
            if other < slot:
                before = max(before, reading.row + 1)
            elif other > slot:
                after = min(after, reading.row)
        legs, _ = log.walked(one.sensor)
        return np.flatnonzero(legs[before - log.start : max(before, after) - log.start] == one.leg) + before

    def rows_showing(self, slot: int, rows: IntColumn, log: RunLog) -> IntColumn:
        """Those of the rows in which the sensor reported what stands at the slot."""
        want = self.truth[slot]
        if want not in log.names:
            return _NO_ROWS
        seen = log.seen(self.course.slots[slot].sensor)
        mine: IntColumn = rows[seen[rows] == log.names.index(want)]
        return mine

    def colours_seen(self, log: RunLog, sensor: int, rows: IntColumn) -> Counter[str]:
        """Colour -> samples that the sensor reported in these rows."""
        seen = Counter(log.seen(sensor)[rows].tolist())
        return Counter({log.names[label] if label >= 0 else "nothing": samples for label, samples in seen.items()})

    def held(self, reading: Reading) -> dict[str, Value]:
        """How long the sensor reported what was taken."""
        found = self.run_of(reading)
        if found is None:
            return {}
        seen, label, row = found
        if seen[row] != label:
            return {}
        first = last = row
        while first > 0 and seen[first - 1] == label:
            first -= 1
        while last + 1 < len(seen) and seen[last + 1] == label:
            last += 1
        return {"held_samples": last - first + 1}

    def gap_before(self, reading: Reading) -> dict[str, Value]:
        """What lay between a repetition and the reading before it; nothing where that was another marker."""
        found = self.run_of(reading)
        if found is None or self.log is None:
            return {}
        seen, label, row = found
        while row >= 0 and seen[row] == label:
            row -= 1
        end = row
        while row >= 0 and seen[row] != label:
            row -= 1
        if row < 0 or end < 0 or not self.one_marker(reading, row):
            return {}
        name, _ = self.colours_seen(self.log, reading.sensor, np.arange(row + 1, end + 1)).most_common(1)[0]
        return {"between": name, "gap_samples": end - row}

    def one_marker(self, reading: Reading, row: int) -> bool:
        """Whether what was said at an earlier row may be of the marker of this reading, as far as the places tell."""
        assert self.log is not None
        place, leg = self.log.places[reading.sensor][row], self.log.legs[reading.sensor][row]
        if reading.dist_cm is None or place == MISSING:
            return True
        return leg == reading.leg and abs(place - reading.dist_cm * 100) <= MARKER

    def run_of(self, reading: Reading) -> tuple[IntColumn, int, int] | None:
        """What the sensor reported, the label that was taken, and the row at which it was."""
        if self.log is None or reading.row is None or reading.colour not in self.log.names:
            return None
        seen = self.log.seen(reading.sensor)
        return seen, self.log.names.index(reading.colour), min(reading.row, len(seen) - 1)

    def decoy(self, reading: Reading) -> str:
        """The name of the decoy where this was read; empty where there is none."""
        if reading.dist_cm is None:
            return ""
        for decoy in self.course.decoys:
            if decoy.at_cm is None or decoy.sensor != reading.sensor or decoy.leg != reading.leg:
                continue
            if abs(decoy.at_cm - reading.dist_cm) <= (decoy.width_cm or USUAL_WIDTH_CM) / 2 + 1.0:
                return decoy.name
        return ""

    def span(self, log: RunLog, sensor: int, rows: IntColumn) -> dict[str, Value]:
        """From where to where these rows are, as far as their places are known."""
        places = log.places_at(sensor, rows)
        return {"from_cm": int(places.min()) / 100, "to_cm": int(places.max()) / 100} if len(places) else {}


def _longest(rows: IntColumn) -> IntColumn:
    """The longest run of neighbouring rows."""
    return max(np.split(rows, np.flatnonzero(np.diff(rows) != 1) + 1), key=len)
