"""What is taken along: sheet, cue track, stage music, zip for the coach."""
