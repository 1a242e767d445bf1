"""The waveform with its beat map: drawn at any zoom, smooth on the longest song."""
