"""The flow that shows filmed runs: the film on the counts, and its contact sheet."""
