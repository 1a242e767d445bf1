"""Taking along: choosing, seeing and making handouts in the window."""
