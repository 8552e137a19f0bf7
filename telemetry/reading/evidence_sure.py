"""How sure a margin is: (margin in 1/16 nat, probability in 1/10000), fitted on runs kept apart from those it is checked on.

Successive samples are not independent and no model of a sensor is right, so a margin is not taken at its word: these points
say how often a slot with such a margin was in fact right. See tests/bench/bench_evidence.py, which checks them.
"""

BY_RAW = ((0, 5000), (16, 7300), (32, 8800), (48, 9500), (64, 9820), (96, 9975), (160, 9999))
BY_CODES = ((0, 5000), (16, 7300), (32, 8800), (48, 9500), (64, 9820), (96, 9975), (160, 9999))
BY_WEIGH = ((0, 5000), (32, 7500), (85, 9000), (300, 9500))
"""For early commitments: whether the window lies on the right marker is not known then, so they are never quite sure."""
BY_ORDER = ((0, 5000), (32, 7500), (85, 8800), (300, 9700))
"""Where only the order is known: one marker missed shifts all behind it, which no margin of colours shows."""
