"""What can be heard in a track, found by calculation: runs in a worker process."""
