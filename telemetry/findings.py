"""What was found, as data: it can be counted, compared and translated. ``wording`` says it in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum

import msgspec

Value = float | int | str | None | tuple[object, ...] | Mapping[str, int]


class FindingKind(Enum):
    """The kinds of findings. What each one's numbers are called stands beside its sentence in ``wording``."""

    # why a slot has no colour, or a wrong one
    BEYOND_SLOTS = "read, but beyond the slots"
    NO_SAMPLE = "no sample at the slot"
    NEVER_REPORTED = "never reported by the sensor"
    COUNTED_ELSEWHERE = "seen, but counted for another slot"
    LOST_IN_STAGE = "seen, but not passed on by a stage"
    MISSED = "missed"
    NOT_FOLLOWED = "did not follow from the others"
    NOTHING_STANDS = "read where nothing stands"
    FOLLOWED_WRONGLY = "followed from others that were wrong"
    ASSUMED_WRONGLY = "assumed, and wrong"
    TOOK_DECOY = "a decoy was taken for it"
    TOOK_TOO_MUCH = "taken where no such marker stands"
    OUSTED = "another slot's colour stands for it"
    OTHER_COLOUR = "read as another colour"
    # what was taken beyond the slots, and what followed from it
    SURPLUS_WRONG = "taken beyond the slots, instead of what stands there"
    SURPLUS = "taken beyond the slots"
    GOT_ANOTHERS = "slots that got the colour of another one"
    GOT_NOTHING = "slots that got nothing because of that"
    # about a whole run
    LACKS = "the run lacks what the strategy needs"
    WOULD_HAVE_STOPPED = "the strategy would have stopped the robot"
    ENDED_EARLY = "the drive ended early"
    NO_ROWS = "the recording holds no sample"
    NO_COURSE = "no course is known"
    NO_TRUTH = "what really stood there is not known"
    NO_SUCH_SLOT = "the robot told a reading of a slot that the course does not have"
    RESTARTED = "the robot restarted, and its longest stretch counts"
    CHANNEL_TAKEN = "which channel the stage auto reads by"
    # a run driven with a reader of ours, beside the strategy as it is replayed
    DROVE_WITH_SAME = "the robot drove with this very reader"
    DROVE_WITH_OTHER = "the robot drove with this strategy, built otherwise"
    ROBOT_AGREES = "robot and computer read the same, sample by sample"
    ROBOT_PARTS = "the first sample at which robot and computer part"
    ROBOT_STOPS = "readings that only the robot or only the computer made"
    # what looks as if columns, units or names were mistaken
    LOST_TOO_MANY = "more lines are lost than came"
    TOO_BRIGHT = "reflected light far beyond full scale"
    ODD_PERIOD = "samples come more often or more seldom than a loop runs"
    ODD_DISTANCE = "the distance driven does not fit the course"
    HEADING_FOR_DIST = "the heading goes on as a distance does, and the distance does not"
    SEVERAL_DRIVES = "the robot stood and drove again"
    NO_COLOUR = "neither the sensor's colour nor raw channels"
    NOTE_NEVER_CAME = "the note at which a leg begins never came"
    LEG_NEVER_BEGAN = "what a leg begins by is never seen"
    NAMED_ALIKE = "a colour sent is spelt like one of the course that never comes"
    PALETTE_EXCHANGED = "in the palette two colours have each other's code"
    PALETTE_LACKS = "the palette does not know colours of the course"
    # what a misread run comes from
    READ_RIGHT_BY = "some readers read the run right"
    READ_OTHERWISE = "readers agree on something else than the truth"
    READERS_DISAGREE = "no two readers that count read the same"
    NO_READER = "no reader answers for every slot"
    NO_OWN_CODE = "the sensor has no code of its own for the colour"
    CODE_NEVER_SAID = "the sensor never gave the colour's code at the slot"
    NOTHING_BUT_NONE = "the sensor said none at the slot"
    NO_PALETTE = "colours were told without a palette"
    FEW_SAMPLES = "hardly a sample at the slot"
    FAINT = "the slot hardly departs from the field"
    FULL_SCALE = "samples at full scale at the slot"
    OTHER_LIGHT = "a channel shifted against the palette's"
    COLUMNS_EXCHANGED = "two channels fit the palette only in each other's place"
    OTHER_HEIGHT = "levels differ from the palette's by a factor"
    SHARE_LOST = "part of the lines never came"
    # a reading that is no longer as agreed
    BUILT_OTHERWISE = "a strategy has other stages or settings"
    FILE_GONE = "the recording's file is gone"
    NOT_REPLAYED = "the recording is not among those replayed"
    # the stream and its link
    LOOP_PACE = "the pace of the loop"
    LINES_LOST = "lines lost on the way"
    REPEATS = "lines that repeat a measurement"
    REPEATS_UNTOLD = "repetitions that cannot be told"
    LINK_NARROW = "the stream hardly fits the link"


MISTAKEN = frozenset({
    FindingKind.ODD_DISTANCE, FindingKind.HEADING_FOR_DIST, FindingKind.ODD_PERIOD, FindingKind.SEVERAL_DRIVES,
    FindingKind.LEG_NEVER_BEGAN, FindingKind.NAMED_ALIKE, FindingKind.PALETTE_EXCHANGED,
})  # fmt: skip
"""What a run is misread for by every logic: columns, units, names or the course are not as they were said to be."""


class Finding(msgspec.Struct, frozen=True):
    """``slot``: the name of the slot that it is about, empty where it is about more. ``cause``: the stage, need or sensor.

    ``numbers``: what is known of it, by name, units in the names. ``because``: the finding that led to it.
    """

    kind: FindingKind
    slot: str = ""
    cause: str = ""
    numbers: Mapping[str, Value] = msgspec.field(default_factory=dict)
    because: Finding | None = None

    def __hash__(self) -> int:
        return hash((self.kind, self.slot, self.cause))
