"""How sure a margin is: (margin in 1/16 nat, probability in 1/10000), fitted on simulated runs kept apart from all others.

Successive samples are not independent and no model of a sensor is right, so a margin is not taken at its word: these points
say how often a whole run with such a least margin was in fact right, with some room (1,280 simulated runs with raw channels
and as many with codes, two robots, four levels). tests/bench/bench_evidence.py checks them on others.
"""

BY_RAW = ((0, 4000), (12, 6500), (40, 7600), (80, 9200), (160, 9700), (260, 9920), (500, 9980), (1000, 9995))
BY_CODES = ((0, 4800), (8, 6800), (40, 8800), (90, 9500), (200, 9800), (270, 9920), (400, 9980))
BY_ORDER = ((0, 4500), (32, 7500), (85, 8800), (300, 9700))
"""Where only the order is known: one marker missed shifts all behind it, which no margin of colours shows."""
BY_WEIGH = ((0, 5000), (32, 7500), (85, 9000), (300, 9500))
"""For early commitments: whether the window lies on the right marker is not known then, so they are never quite sure."""
