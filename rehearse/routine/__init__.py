"""Poses and the routine: model, edits, checks against the rules, files and versions."""
