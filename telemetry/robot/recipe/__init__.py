"""The recipe sheet: a strategy in structured English, for teams that put their program together from blocks."""
