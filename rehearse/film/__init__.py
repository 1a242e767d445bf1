"""A filmed run: laid on the music by its sound, read for when each pose was struck."""
