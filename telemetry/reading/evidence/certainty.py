"""How sure a margin is: (margin as Doubt leaves it, probability in 1/10000), from simulated runs and spliced real readings.

How often a run with such a least margin was in fact right was counted over five kinds of physics (tests/physics), palettes
made there and in other light, set-ups 10000:10025 and 10100:10125 (``python tests/bench/fit_certainty.py``); the worst kind
sets where 99 % begins. Raw (13,600 runs): at 40 or more 1 of 2,765 spectral runs was misread, 5 of 752 of spliced real
readings, 0 of 5,450 others. Codes (13,600 runs): at 285 or more 11 of 716 spectral runs, 1 of 1,047 regulated ones and 0 of
589 others, and at 400 still 3 of 301 spectral ones: what codes err in, they mostly err in at every sample of a marker, which
no margin shows. So by codes alone no run is said 99 % sure. Unanimous codes tell no more (40000:40010, 2,800 runs):
where each colour had a code of its own in 99 of 100 samples of its capture, and four samples or more over each marker said
that code and no other, 15 of 29 spectral runs were misread.
Drawn anew (40100:40108, 3,360 runs by raw channels): at 40 or more 2 of 294 spliced runs were misread, 0 of 2,010 others.
"""

BY_RAW = (
    (0, 3500), (3, 5500), (5, 6500), (8, 7300), (12, 8200), (17, 8900), (24, 9400), (32, 9650), (38, 9800), (40, 9900),
    (60, 9960), (90, 9990),
)  # fmt: skip
BY_CODES = (
    (0, 2000), (30, 6500), (55, 7800), (85, 8600), (120, 9000), (180, 9500), (240, 9700), (350, 9800),
)  # fmt: skip
BY_CODES_UNTOLD = ((0, 3500), (48, 6500), (96, 8000), (160, 9300), (256, 9700), (330, 9800))
"""Without a palette of this sensor: whether its maker's names are the course's colours is not known, so never quite sure."""
BY_TYPICAL = ((0, 1500), (64, 4000), (200, 6000))
"""Raw channels and colours that are typical, not this sensor's: a guess."""
BY_ORDER = ((0, 4500), (32, 7500), (85, 8800), (300, 9700))
"""Where only the order is known: one marker missed shifts all behind it, which no margin of colours shows."""
BY_WEIGH = ((0, 5000), (32, 7500), (85, 9000), (300, 9500))
"""For early commitments: whether the window lies on the right marker is not known then, so they are never quite sure."""
