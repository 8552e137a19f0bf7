"""How sure a margin is: (margin as Doubt leaves it, probability in 1/10000), from simulated runs and spliced real readings.

How often a run with such a least margin was in fact right was counted over five kinds of physics (tests/physics); the
worst kind sets where 99 % begins. Raw (9,800 runs with palettes made there and in other light, set-ups 10000:10025): at 40
or more 1 of 1,883 spectral runs was misread, 4 of 640 of spliced real readings, 0 of 4,096 others. Codes (6,800 runs): at
285 or more 1 of about 290 spectral runs, 0 of about 820 others. More codes hardly make it surer: what codes err in, they
mostly err in at every sample of a marker, and of spectral runs whose codes all but agree about one in forty is such a run.
``python tests/bench/fit_certainty.py`` counts it again.
"""

BY_RAW = (
    (0, 3500), (3, 5500), (5, 6500), (8, 7300), (12, 8200), (17, 8900), (24, 9400), (32, 9650), (38, 9800), (40, 9900),
    (60, 9960), (90, 9990),
)  # fmt: skip
BY_CODES = (
    (0, 2500), (30, 7000), (55, 7800), (85, 8700), (120, 9000), (180, 9300), (240, 9600), (280, 9800), (285, 9900),
    (350, 9960), (400, 9980),
)  # fmt: skip
BY_CODES_UNTOLD = ((0, 3500), (48, 6500), (96, 8000), (160, 9300), (256, 9700), (330, 9800))
"""Without a palette of this sensor: whether its maker's names are the course's colours is not known, so never quite sure."""
BY_TYPICAL = ((0, 1500), (64, 4000), (200, 6000))
"""Raw channels and colours that are typical, not this sensor's: a guess."""
BY_ORDER = ((0, 4500), (32, 7500), (85, 8800), (300, 9700))
"""Where only the order is known: one marker missed shifts all behind it, which no margin of colours shows."""
BY_WEIGH = ((0, 5000), (32, 7500), (85, 9000), (300, 9500))
"""For early commitments: whether the window lies on the right marker is not known then, so they are never quite sure."""
