"""Playing: stretched music, loops, the clock and the output device."""
