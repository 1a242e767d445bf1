"""Rehearse: a rehearsal player for free posing routines, with live cues and slow loops."""

__version__ = "0.1.0"
