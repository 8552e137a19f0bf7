"""Why a run was read wrong: one sentence for each slot that failed, from what every stage said."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import groupby

from telemetry.course import EMPTY, NONE, Course, Decoy, Slot, Truth
from telemetry.reading.catalogue import STAGES
from telemetry.replay.log import RunLog
from telemetry.replay.readings import ASSUMED, INFERRED, Reading, Taken
from telemetry.replay.scoring.score import Aligned, Match, aligned, slot_verdicts
from telemetry.sample import MISSING

REACH_CM = 4.0
"""How far beyond a marker its colour is looked for."""
NEAR_CM = 2.0
"""How far beyond a marker what was read still counts as read there: some stages decide when it has passed."""
USUAL_WIDTH_CM = 2.4


def explain(
    course: Course, truth: Truth, taken: Taken, log: RunLog | None = None,
    *, standing: str = "stands there", beside: Sequence[Aligned] | None = None,
) -> tuple[str, ...]:  # fmt: skip
    """One sentence for each slot read wrong or missed and for each colour taken beyond them, causes before consequences.

    Without a log (the robot's own readings) the sentences say what happened, not why. ``standing``: the words for what
    ``truth`` is, if it is not what stands there. ``beside``: the alignments, where they are known already.
    """
    explainer = _Explainer(course, truth, taken, log, beside or aligned(course, truth, taken))
    explainer.standing = standing
    return tuple(explainer.sentences())


class _Explainer:
    standing = ""

    def __init__(
        self, course: Course, truth: Truth, taken: Taken, log: RunLog | None, beside: Sequence[Aligned]
    ) -> None:
        self.course, self.truth, self.taken, self.log, self.aligned = course, truth, taken, log, beside
        self.verdicts = slot_verdicts(truth, taken)
        self.rows: dict[int, list[int]] = {}
        self.mine: dict[int, list[int]] = {}
        if log is not None:
            failed = [i for i, verdict in enumerate(self.verdicts) if verdict != "right" and not course.slots[i].unseen]
            self.rows = {slot: self.rows_of(slot, log) for slot in failed}
            self.mine = {slot: self.rows_showing(slot, rows, log) for slot, rows in self.rows.items()}
            # Stepping stage by stage is slow: only where the slot's own colour was seen.
            log.trace((rows[0], rows[-1] + 1) for rows in self.mine.values() if rows)

    def sentences(self) -> Iterable[str]:
        shifted: list[int] = []
        for slot, verdict in enumerate(self.verdicts):
            if verdict == "right":
                continue
            sentence = self.missing(slot) if verdict == "missing" else self.wrong(slot)
            if sentence is None:
                shifted.append(slot)
            else:
                yield f"{self.course.slots[slot].name}: {sentence}"
        for reading in self.taken.surplus:
            sentence = self.surplus(reading)
            if sentence:
                yield sentence
        got = [self.course.slots[slot].name for slot in shifted if self.verdicts[slot] == "wrong"]
        left = [self.course.slots[slot].name for slot in shifted if self.verdicts[slot] == "missing"]
        if got:
            yield f"{_listed(got)} {'' if len(got) == 1 else 'each '}got the colour of another slot because of that"
        if left:
            yield f"{_listed(left)} got nothing because of that"

    def missing(self, slot: int) -> str | None:
        """Why nothing stands for this slot; None where its colour merely counted for another one."""
        partner = self.in_sequence(slot).of_slot(slot)
        if partner is not None and partner[0] is Match.RIGHT and partner[1] is not None:
            reading = partner[1]
            if reading.slot is None:
                return f"{reading.colour} was read{_at(reading)}, but beyond the slots"
            # What was read at its own slot is none of this one's, though the sequences fit so.
            return self.unread(slot) if self.near(reading.slot, reading) else None
        if partner is not None and partner[0] is Match.WRONG and partner[1] is not None:
            return self.wrong_colour(slot, partner[1])
        return self.unread(slot)

    def wrong(self, slot: int) -> str | None:
        """Why another colour stands for this slot; None where it is another slot's and this one's counted elsewhere."""
        reading = self.taken.slots[slot]
        if self.truth[slot] == EMPTY:
            return f"{reading.colour} was read{_at(reading)}, but nothing {self.standing}{self.decoy(reading)}"
        if reading.how == INFERRED:
            return f"{reading.colour} followed from other slots that were not all right; {self.truth[slot]} {self.standing}"
        if reading.how == ASSUMED:
            return f"{reading.colour} was assumed, {self.truth[slot]} {self.standing}: {self.unread(slot)}"
        if self.near(slot, reading):
            return self.wrong_colour(slot, reading)
        mine = self.in_sequence(slot).of_reading(reading)
        kind, other = mine if mine is not None else (Match.WRONG, slot)
        if kind in {Match.EXTRA, Match.REPEATED}:
            return f"took {reading.colour}{_at(reading)}, {self.too_much(kind, reading)}"
        if other == slot:
            return self.wrong_colour(slot, reading)
        partner = self.in_sequence(slot).of_slot(slot)
        if partner is not None and partner[0] is Match.MISSED:
            beside = "" if other is None else f"; it got {reading.colour}, which is {self.course.slots[other].name}'s"
            return f"{self.unread(slot)}{beside}"
        return None

    def surplus(self, reading: Reading) -> str:
        """What was taken beyond the slots, and why it should not have been."""
        place = self.aligned[reading.sensor].of_reading(reading)
        if place is None or place[0] is Match.RIGHT:
            return ""
        kind, slot = place
        if kind is Match.WRONG and slot is not None:
            if self.verdicts[slot] == "missing":
                return ""  # said at the slot
            return f"{reading.colour} was taken{_at(reading)}, beyond the slots; {self.truth[slot]} {self.standing}"
        return f"{reading.colour} was taken{_at(reading)}, {self.too_much(kind, reading)}"

    def too_much(self, kind: Match, reading: Reading) -> str:
        decoy = self.decoy(reading)
        if decoy:
            return f"where no marker stands{decoy}"
        if kind is Match.REPEATED:
            return f"a second time{self.gap_before(reading)}"
        return f"where no such marker stands{self.held(reading)}"

    def wrong_colour(self, slot: int, reading: Reading) -> str:
        """The marker was noticed, but as another colour."""
        want, got = self.truth[slot], reading.colour or NONE
        decoy = self.decoy(reading)
        if decoy and not self.near(slot, reading):
            return f"took {got}{_at(reading)}, where no marker stands{decoy}; {want} was missed"
        head = f"read {got}{_at(reading)}, {want} {self.standing}"
        if self.log is None:
            return head
        one = self.course.slots[slot]
        counts = self.colours_seen(self.log, one.sensor, self.rows.get(slot, []))
        if counts.get(want) and not counts.get(got):
            known = one.at_cm is not None and reading.dist_cm is not None and reading.leg == one.leg
            if known and not self.near(slot, reading):
                # It did say so, but elsewhere.
                place = f"{want} {self.standing.removesuffix(' there')} at {one.at_cm:g} cm by the course"
                return f"read {got}{_at(reading)}; {place}, where the sensor said {want} for {_samples(counts[want])}"
            return f"{head}: the sensor said {want} for {_samples(counts[want])} there, never {got}"
        if counts.get(want):
            both = f"{got} for {_samples(counts.get(got, 0))} and {want} for {_samples(counts[want])}"
            return f"{head}: the sensor said {both}"
        return f"{head}: the sensor never reported {want}, it said {self.said(counts)}"

    def near(self, slot: int, reading: Reading) -> bool:
        """Whether a reading was made at a slot, as far as that is known."""
        one = self.course.slots[slot]
        if one.at_cm is None or reading.dist_cm is None or reading.leg != one.leg:
            return False
        return abs(reading.dist_cm - one.at_cm) <= (one.width_cm or USUAL_WIDTH_CM) / 2 + NEAR_CM

    def unread(self, slot: int) -> str:
        """Where on its way through the stages the slot's colour was lost."""
        want, one, log = self.truth[slot], self.course.slots[slot], self.log
        if one.unseen:
            return self.unfollowed(slot)
        if log is None:
            return f"{want} was missed"
        rows = self.rows.get(slot, [])
        if not rows:
            return f"the run has no sample at {one.at_cm:g} cm" if one.at_cm is not None else "the run has no sample there"
        mine = self.mine.get(slot, [])
        if not mine:
            return f"the sensor never reported {want} there: it said {self.said(self.colours_seen(log, one.sensor, rows))}"
        label = log.names.index(want)
        depths = {row: _depth(log.labels(one.sensor, row), label) for row in mine}
        deepest = max(depths.values())
        said = f"{want} seen for {_samples(_longest(mine))}{self.span(log, one.sensor, mine)}"
        if deepest >= len(log.stages(one.sensor)) - 2:
            return f"{said}, but it counted for another slot"
        return f"{said}, {self.loss(slot, log, deepest + 1, [row for row in mine if depths[row] == deepest])}"

    def unfollowed(self, slot: int) -> str:
        """Why the colour of an unseen slot was not found."""
        want = self.truth[slot]
        if self.log is None:
            return f"{want} was not found"
        if not any(STAGES[stage].closes for stage in self.log.stages(self.course.slots[slot].sensor) if stage in STAGES):
            return f"{want} cannot be seen there, and this strategy infers nothing ('eliminate' would)"
        group = self.course.slots[slot].group
        open_ones = [
            one.name for i, one in enumerate(self.course.slots)
            if one.group == group and i != slot and self.taken.slots[i].colour is None
        ]  # fmt: skip
        if open_ones:
            return f"{want} did not follow, because {_listed(open_ones)} stayed open"
        return f"{want} did not follow, because other slots of its group were wrong"

    def loss(self, slot: int, log: RunLog, stage: int, rows: Sequence[int]) -> str:
        """What the stage that let the colour go says about it."""
        one = self.course.slots[slot]
        name = log.stages(one.sensor)[stage]
        if name not in STAGES:
            return f"'{name}' did not take it"
        words = STAGES[name].lost(log.settings[stage])
        if name in {"open", "distinct"}:
            holders = [
                other.name for i, other in enumerate(self.course.slots)
                if other.group == one.group and i != slot and self.taken.slots[i].colour == self.truth[slot]
            ]  # fmt: skip
            return f"{words} ({holders[0]} has it)" if holders else words
        if name == "windows" and one.at_cm is not None:
            places = [log.places[one.sensor][row] for row in rows if log.places[one.sensor][row] != MISSING]
            if places:
                off = min(abs(place - one.at_cm * 100) for place in places) / 100
                return f"{off:.1f} cm off its place: {words}"
        return words

    def in_sequence(self, slot: int) -> Aligned:
        return self.aligned[self.course.slots[slot].sensor]

    def rows_of(self, slot: int, log: RunLog) -> list[int]:
        """The rows at a slot: by distance where that is known, else between the readings of its neighbours."""
        one = self.course.slots[slot]
        if one.at_cm is not None and log.has_places(one.sensor):
            return log.rows_between(one.sensor, one.leg, *self.bounds(slot))
        before, after = log.start, log.stop
        for other, reading in enumerate(self.taken.slots):
            if reading.row is None or reading.sensor != one.sensor or self.verdicts[other] != "right":
                continue
            if other < slot:
                before = max(before, reading.row + 1)
            elif other > slot:
                after = min(after, reading.row)
        return [row for row in range(before, after) if log.legs[one.sensor][row] == one.leg]

    def rows_showing(self, slot: int, rows: Sequence[int], log: RunLog) -> list[int]:
        """Those of the rows in which the sensor reported what stands at the slot."""
        want = self.truth[slot]
        if want not in log.names:
            return []
        label, seen = log.names.index(want), log.seen(self.course.slots[slot].sensor)
        return [row for row in rows if seen[row] == label]

    def bounds(self, slot: int) -> tuple[float, float]:
        """From where to where (0.1 mm) samples belong to a slot: half-way to its neighbours, at most REACH_CM beyond."""
        one = self.course.slots[slot]
        at = one.at_cm or 0.0
        reach = (one.width_cm or USUAL_WIDTH_CM) / 2 + REACH_CM
        marks: list[Slot | Decoy] = [*self.course.slots, *self.course.decoys]
        near = [other for other in marks if other is not one and (other.leg, other.sensor) == (one.leg, one.sensor)]
        others = [other.at_cm for other in near if other.at_cm is not None]
        low = max([at - reach, *((at + other) / 2 for other in others if other < at)])
        high = min([at + reach, *((at + other) / 2 for other in others if other > at)])
        return low * 100, high * 100

    def colours_seen(self, log: RunLog, sensor: int, rows: Sequence[int]) -> Counter[str]:
        """Colour -> samples that the sensor reported in these rows."""
        seen = log.seen(sensor)
        return Counter(log.names[seen[row]] if seen[row] >= 0 else "nothing" for row in rows)

    def said(self, counts: Counter[str]) -> str:
        colours = [(name, count) for name, count in counts.most_common() if name not in {NONE, "nothing"}]
        if colours:
            return " and ".join(f"{name} for {_samples(count)}" for name, count in colours[:2])
        if counts.get(NONE):
            return f"none for all {_samples(counts[NONE])}"
        return "nothing at all"

    def held(self, reading: Reading) -> str:
        """How long the sensor reported what was taken."""
        found = self.run_of(reading)
        if found is None:
            return ""
        seen, label, row = found
        if seen[row] != label:
            return ""
        first = last = row
        while first > 0 and seen[first - 1] == label:
            first -= 1
        while last + 1 < len(seen) and seen[last + 1] == label:
            last += 1
        return f": the sensor said so for {_samples(last - first + 1)}"

    def gap_before(self, reading: Reading) -> str:
        """What lay between a repetition and the reading before it."""
        found = self.run_of(reading)
        if found is None or self.log is None:
            return ""
        seen, label, row = found
        while row >= 0 and seen[row] == label:
            row -= 1
        end = row
        while row >= 0 and seen[row] != label:
            row -= 1
        if row < 0 or end < 0:
            return ""
        name, _ = self.colours_seen(self.log, reading.sensor, range(row + 1, end + 1)).most_common(1)[0]
        return f": it flickered, with {name} for {_samples(end - row)} in between"

    def run_of(self, reading: Reading) -> tuple[Sequence[int], int, int] | None:
        """What the sensor reported, the label that was taken, and the row at which it was."""
        if self.log is None or reading.row is None or reading.colour not in self.log.names:
            return None
        seen = self.log.seen(reading.sensor)
        return seen, self.log.names.index(reading.colour), min(reading.row, len(seen) - 1)

    def decoy(self, reading: Reading) -> str:
        if reading.dist_cm is None:
            return ""
        for decoy in self.course.decoys:
            if decoy.at_cm is None or decoy.sensor != reading.sensor or decoy.leg != reading.leg:
                continue
            if abs(decoy.at_cm - reading.dist_cm) <= (decoy.width_cm or USUAL_WIDTH_CM) / 2 + 1.0:
                return f" (decoy '{decoy.name}')"
        return ""

    def span(self, log: RunLog, sensor: int, rows: Sequence[int]) -> str:
        places = [log.places[sensor][row] / 100 for row in rows if log.places[sensor][row] != MISSING]
        if not places:
            return ""
        low, high = f"{min(places):.1f}", f"{max(places):.1f}"
        return f" at {low} cm" if low == high else f" at {low} to {high} cm"


def _depth(labels: Sequence[int], label: int) -> int:
    """The last stage that still passed the colour on; the track is 0, the ledger is not asked."""
    depth = 0
    for stage in range(1, len(labels) - 1):
        if labels[stage] != label:
            break
        depth = stage
    return depth


def _at(reading: Reading) -> str:
    return "" if reading.dist_cm is None else f" at {reading.dist_cm:.1f} cm"


def _samples(count: int) -> str:
    return "1 sample" if count == 1 else f"{count} samples"


def _longest(rows: Sequence[int]) -> int:
    """The longest run of neighbouring rows."""
    return max(len(list(group)) for _, group in groupby(enumerate(rows), key=lambda pair: pair[1] - pair[0]))


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
