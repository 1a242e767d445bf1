"""The Music page: the song, its beat map and how to put it right, the part used on stage."""
