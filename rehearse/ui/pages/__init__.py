"""The four pages of the window, in the order of the job."""
