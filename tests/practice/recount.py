"""The counts of the logbook worked out a second way: in plain Python, from the passes alone."""

from collections import Counter


def tally_as_recounted(history):
    """(kind, item, day, passes), sorted, counted pass by pass."""
    counts = Counter()
    for done in history:
        if done.dry_run:
            continue
        day = done.started.date().isoformat()
        for pose in done.taken:
            counts["pose", pose.pose, day] += 1
            if pose.origin is not None:
                counts["transition", f"{pose.origin}>{pose.pose}", day] += 1
        if done.complete and done.section is not None:
            counts["section", done.section, day] += 1
        if done.complete and done.kind == "run":
            counts["run", done.cueing, day] += 1
    return sorted((*key, value) for key, value in counts.items())
