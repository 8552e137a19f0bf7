"""What recordings of one robot cannot show but alterations need: how good and how bad it can be, and what is assumed.

Each is bounded by physics, so a margin can be given at both ends, and its interval covers what is not known:
- A lamp and a detector that stand aside of the spot's middle see light fall slower than with the square of the height: as
  1 / (height^2 + aside^2). The square holds from about five source sizes on (common practice in photometry), and a sensor a
  few millimetres over the field is nearer than that.
- Light that is not the sensor's own stays when the lamp grows dim. It is no more than the darkest level seen, and little
  where a sensor hangs near the field, in its own shade. It washes colours out, but where a sensor says none below some
  level, it keeps it above that; so neither end is the worse one, and an interval asks both.
- Below some level a sensor says none. Where recordings show it, it is known (code_rule.py); else it is somewhere below the
  darkest level at which the sensor was seen to say a colour.
- A sensor that integrates, or follows slowly, sees the way it drives smeared. A sensor that integrates all its period has a
  response of 1/sqrt(12) = 0.29 periods (deviation of an even distribution).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Unseen:
    """``aside``: in parts of the recorded height; ``other_light``: part of the darkest level seen; ``dark``: part of the
    darkest level with a colour, where recordings show no more; ``smear``: deviation of the response in time, in parts of
    the sensor's period.
    """

    aside: float
    other_light: float
    dark: float
    smear: float

    def falls(self, factor: float) -> float:
        """The light ``factor`` times as high, as a part of what it is."""
        return (1.0 + self.aside**2) / (factor**2 + self.aside**2)

    def falling(self, power: float) -> Unseen:
        """With light that falls with this power of the height, as a palette captured at several heights shows."""
        return replace(self, aside=math.sqrt(max(0.0, 2.0 / max(power, 0.5) - 1.0)))


GOOD = Unseen(aside=1.0, other_light=0.0, dark=0.0, smear=0.0)
BAD = Unseen(aside=0.0, other_light=0.0, dark=1.0, smear=0.29)
WASHED_OUT = replace(BAD, other_light=1.0)
LIKELY = Unseen(aside=1.0 / 3.0, other_light=0.2, dark=0.8, smear=0.1)
"""Assumed (no source): nearer to the bad end, for a margin that is too large costs a run, one too small some speed."""
