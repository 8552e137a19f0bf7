"""Programs that are written out beside the reader; none of them is imported here."""
