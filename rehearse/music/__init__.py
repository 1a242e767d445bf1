"""The track and its beat map: decoding, model, analysis, correction, trim."""
