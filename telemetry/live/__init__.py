"""A run while it happens: one reader, one set of defaults; commands and the window are its views.

``reader.LiveReader`` follows a capture and keeps what reading it needs; ``readings.LiveReadings`` steps strategies over what
has come, by the very calls of a replay; ``stream.drives.RunDetector`` tells where a run begins and ends.
"""
