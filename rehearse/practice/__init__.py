"""Drills, tempo steps, the logbook and the plan."""
