"""Saving the open routine, and what is asked when that is not plain."""
