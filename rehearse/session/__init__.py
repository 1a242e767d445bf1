"""A rehearsal as it runs: passes, cues, sound and log tied together."""
