"""The Logbook page: what was practised, what went cold, and what to do today."""
