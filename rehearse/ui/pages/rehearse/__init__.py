"""The Rehearse page: choose a stretch, press one key, step back and pose."""
