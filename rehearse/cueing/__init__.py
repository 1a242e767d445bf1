"""What is shown and said at each moment of the music."""
