"""Learning what each colour looks like to a sensor, and saying what that is good for."""
