"""How sure a margin is: (margin in 1/16 nat, probability in 1/10000), from simulated runs and spliced real readings.

What a sample may say is capped, and a slot weighs no more than six independent samples, so a margin is small where samples
contradict each other, fit no colour well or are few. How often a run with such a least margin was in fact right was counted
over five kinds of physics (tests/physics); the worst kind sets where 99 % begins. Raw (2,150 runs with a palette made there,
set-ups 300:325): at 76 or more 2 of 481, 1 of 416, 0 of 147 and 0 of 155 were misread of four kinds, and 2 of 301 of the
spliced real readings. Codes (3,400 runs of the same set-ups): between 256 and 290 the worst kind misread 5 of 86, from
290 on 1 of 456, and the others 0 of 631.

That was on the set-ups it was counted on. On fresh ones (tests/bench/bench_physics.py --seeds 6000:6025 --runs 4), of runs
said 99 % sure were misread: raw 5 of 755 spectral, 3 of 306 spliced, 0 of 1,451 others; raw with a palette of another light
10 of 231 spliced; codes 8 of 245 spectral, 3 of 344 regulated. Beginning 99 % later did not mend it on 8000:8025: what is
left are wrong places with a high margin, and real readings under a palette that is not theirs.
"""

BY_RAW = (
    (0, 3500), (5, 7000), (10, 8200), (16, 8700), (24, 9300), (38, 9700), (60, 9860), (76, 9905), (96, 9940), (200, 9990)
)  # fmt: skip
BY_CODES = ((0, 3500), (48, 6500), (96, 8000), (160, 9100), (220, 9400), (270, 9700), (300, 9900), (400, 9950), (500, 9970))
BY_CODES_UNTOLD = ((0, 3500), (48, 6500), (96, 8000), (160, 9300), (256, 9700), (330, 9800))
"""Without a palette of this sensor: whether its maker's names are the course's colours is not known, so never quite sure."""
BY_TYPICAL = ((0, 1500), (64, 4000), (200, 6000))
"""Raw channels and colours that are typical, not this sensor's: a guess."""
BY_ORDER = ((0, 4500), (32, 7500), (85, 8800), (300, 9700))
"""Where only the order is known: one marker missed shifts all behind it, which no margin of colours shows."""
BY_WEIGH = ((0, 5000), (32, 7500), (85, 9000), (300, 9500))
"""For early commitments: whether the window lies on the right marker is not known then, so they are never quite sure."""
