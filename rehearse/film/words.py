"""What a take says: in words first, then in milliseconds with their doubt; a table, and JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from rehearse.film.take import Hit, Take

#: Parts of a count that are told, each up to the middle between it and the next.
_PARTS = (
    (0.125, "a little"),
    (0.375, "about a quarter count"),
    (0.625, "about half a count"),
    (0.875, "about three quarters of a count"),
    (1.25, "about a count"),
)
#: What the readings cannot tell, for the end of each list.
LIMITS = (
    "Early or late is where the fast part of the way into the pose ends; settling and squeezing "
    "afterwards do not count. Twice its doubt and 10 ms for the phone's own delay are told."
)


def in_words(hit: Hit) -> str:
    """How a pose was hit ("late by about a quarter count", "not readable: hardly moved")."""
    offset = hit.offset
    if offset.why is not None:
        return f"not readable: {offset.why}"
    if offset.slow:
        return "slow arrival"
    late = offset.early_or_late or 0.0
    if not (hit.is_late or hit.is_early):
        return "on the hit"
    return f"{'late' if late > 0 else 'early'} by {_amount(abs(late), hit.count)}"


def _amount(seconds: float, count: float) -> str:
    if count <= 0:
        return f"{seconds:.1f} s"
    for most, words in _PARTS:
        if seconds < most * count:
            return words
    return f"{seconds / count:.1f} counts"


def in_ms(hit: Hit) -> str:
    """The reading in milliseconds with what is told of its doubt; empty where there is none."""
    late, told = hit.offset.early_or_late, hit.told
    if late is None or told is None:
        return ""
    return f"{1000 * late:+.0f} ± {1000 * told:.0f} ms"


def head(take: Take) -> str:
    """One line about the whole take: tempo, and how many poses were on, early, late."""
    if take.refused:
        return f"This film cannot be read: {take.refused}."
    read = [hit for hit in take.hits if hit.offset.early_or_late is not None]
    late, early = sum(hit.is_late for hit in read), sum(hit.is_early for hit in read)
    parts = [f"{len(read) - late - early} on the hit"]
    parts += [f"{number} {word}" for number, word in ((early, "early"), (late, "late")) if number]
    slow = sum(hit.offset.slow for hit in take.hits)
    unread = sum(hit.offset.why is not None for hit in take.hits)
    parts += [f"{slow} slow"] if slow else []
    parts += [f"{unread} not readable"] if unread else []
    tempo = f" at {100 * take.reading.tempo:.0f} %" if take.reading.tempo != 1 else ""
    return f"{len(take.hits)} poses{tempo}: {', '.join(parts)}."


def placing(take: Take) -> str:
    """How sure the film's place in the music is."""
    found = take.reading.alignment
    if not found.windows:
        return "Laid on the music by hand."
    more = f" It has {take.reading.runs} runs." if take.reading.runs > 1 else ""
    clock = 1e6 * (found.rate - 1)
    return (
        f"Laid on the music by its sound: {found.windows} places agree, the phone's clock is "
        f"{abs(clock):.0f} millionths {'fast' if clock < 0 else 'slow'}.{more}"
    )


def as_table(take: Take) -> str:
    """The take as text."""
    lines = [f"{take.film.name}: {head(take)}", placing(take), ""]
    if not take.refused:
        lines += list(_rows(take))
        lines += ["", LIMITS]
    return "\n".join(lines) + "\n"


def _rows(take: Take) -> Iterator[str]:
    width = max(len(hit.name) for hit in take.hits)
    for hit in take.hits:
        yield f"{hit.place:<9}{hit.name:<{width + 2}}{in_words(hit):<42}{in_ms(hit)}".rstrip()


def as_json(take: Take) -> str:
    """The take as JSON: the place in the music, and a reading for each pose."""
    reading = take.reading
    data = {
        "film": take.film.name,
        "filmed": take.filmed.isoformat(timespec="seconds"),
        "tempo": reading.tempo,
        "runs": reading.runs,
        "refused": take.refused or None,
        "music_s_at_film_0": round(reading.to_music(0.0), 6),
        "clock_ppm": round(1e6 * (reading.alignment.rate - 1), 1),
        "windows": reading.alignment.windows,
        "ratio": round(reading.alignment.ratio, 2),
        "poses": [_pose(hit, bool(take.refused)) for hit in take.hits],
    }
    return json.dumps(data, ensure_ascii=False, indent=2) + "\n"


def _pose(hit: Hit, refused: bool) -> dict[str, Any]:
    offset = hit.offset
    late = None if refused else offset.early_or_late
    told = None if late is None else hit.told
    return {
        "id": hit.pose_id,
        "pose": hit.name,
        "hit": hit.place,
        "hit_s": round(hit.second, 4),
        "film_s": round(hit.film, 4),
        "late_ms": None if late is None else round(1000 * late, 1),
        "plus_minus_ms": None if told is None else round(1000 * told, 1),
        "slow": offset.slow and not refused,
        "words": "not readable" if refused else in_words(hit),
    }
