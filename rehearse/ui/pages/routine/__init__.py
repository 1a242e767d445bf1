"""The Routine page: poses on the music, changed again and again."""
