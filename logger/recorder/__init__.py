"""A recording being made from clips, and what becomes of it: a session of the logbook."""
