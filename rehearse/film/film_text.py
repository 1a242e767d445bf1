"""What a take says: in words first, then in milliseconds with their doubt; a table, and JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from rehearse.film.extra import offer
from rehearse.film.take import Read
from rehearse.practice.takelog import PoseRead, TakeDone
from rehearse.words import _, ngettext, shown

#: Parts of a count that are told, each up to the middle between it and the next.
_PARTS = (
    (0.125, _("a little")),
    (0.375, _("about a quarter count")),
    (0.625, _("about half a count")),
    (0.875, _("about three quarters of a count")),
    (1.25, _("about a count")),
)
#: What the readings cannot tell, for the end of each list.
LIMITS = _(
    "Early or late is where the fast part of the way into the pose ends; "
    "settling and squeezing afterwards do not count. The ± holds twice the "
    "reading's doubt and 10 ms for the phone."
)


BY_CLAP = _(
    "The music was not recognised in the film: it is laid on the counts by the clap before the run."
)


def in_words(read: PoseRead) -> str:
    """How a pose was hit ("late by about a quarter count", "not readable: hardly moved")."""
    if read.said == "unread":
        return _("not readable: {why}", why=shown(read.why))
    if read.said == "slow":
        return _("slow arrival")
    if read.said == "on" or read.late is None:
        return _("on the hit")
    return _(
        "{said} by {amount}", said=shown(read.said), amount=_amount(abs(read.late), read.counted)
    )


def in_few_words(read: PoseRead) -> str:
    """The same for who stands far away ("late 120 ms")."""
    if read.said in ("late", "early") and read.late is not None:
        return _("{said} {late:.0f} ms", said=shown(read.said), late=abs(1000 * read.late))
    return {"unread": _("not readable"), "slow": _("slow arrival")}.get(read.said, "on the hit")


def _amount(seconds: float, count: float) -> str:
    if count <= 0:
        return _("{seconds:.1f} s", seconds=seconds)
    for most, words in _PARTS:
        if seconds < most * count:
            return words
    return _("{seconds:.1f} counts", seconds=seconds / count)


def in_ms(read: PoseRead) -> str:
    """The reading in milliseconds with what is told of its doubt; empty where there is none."""
    if read.late is None or read.doubt is None:
        return ""
    sign = "−" if read.late < 0 else "+"
    return _(
        "{sign}{late:.0f} ± {doubt:.0f} ms",
        sign=sign,
        late=abs(1000 * read.late),
        doubt=1000 * read.doubt,
    )


def head(take: TakeDone) -> str:
    """One line about the whole take: tempo, and how many poses were on, early, late."""
    if take.refused:
        return _("This film cannot be read: {refused}.", refused=take.refused)
    numbers = {word: sum(r.said == word for r in take.poses) for word in _HEADS}
    parts = [f"{n} {_HEADS[word]}" for word, n in numbers.items() if n]
    tempo = _(" at {tempo:.0f} %", tempo=100 * take.tempo) if take.tempo != 1 else ""
    poses = ngettext("1 pose", "{number} poses", len(take.poses), number=len(take.poses))
    return f"{poses}{tempo}: {', '.join(parts)}."


_HEADS = {
    "on": _("on the hit"), "early": "early", "late": "late", "slow": "slow",
    "unread": _("not readable"),
}  # fmt: skip


def placing(read: Read) -> str:
    """How sure the film's place in the music is."""
    reading = read.kept.reading
    found = reading.alignment
    if found.by == "hand":
        return _("Laid on the music by hand.")
    if found.by == "clap":
        return BY_CLAP
    more = _(" It has {runs} runs of the music.", runs=reading.runs) if reading.runs > 1 else ""
    clock = 1e6 * (found.rate - 1)
    return _(
        "Laid on the music by its sound: {windows} places agree, the phone's "
        "clock is {clock:.0f} millionths {value}.{more}",
        windows=found.windows,
        clock=abs(clock),
        value=_("fast") if clock < 0 else _("slow"),
        more=more,
    )


def as_table(read: Read, places: Mapping[str, str]) -> str:
    """The take as text; `places` are the hits as written, by pose id."""
    take = read.take
    lines = [f"{take.film}: {head(take)}", placing(read)]
    if not take.refused:
        lines += ["", *_rows(take, places), "", LIMITS]
        if not read.kept.reading.followed and (more := offer()):
            lines += [more]
    return "\n".join(lines) + "\n"


def _rows(take: TakeDone, places: Mapping[str, str]) -> Iterator[str]:
    width = max(len(shown(pose.name)) for pose in take.poses)
    for pose in take.poses:
        place = places.get(pose.pose, "")
        said = f"{in_words(pose):<42}{in_ms(pose)}"
        yield f"{place:<9}{shown(pose.name):<{width + 2}}{said}".rstrip()


def as_json(read: Read, places: Mapping[str, str]) -> str:
    """The take as JSON: the place in the music, and a reading for each pose."""
    take, reading = read.take, read.kept.reading
    data = {
        "film": take.film,
        "filmed": take.filmed.isoformat(timespec="seconds"),
        "kept": take.folder or None,
        "tempo": take.tempo,
        "runs": reading.runs,
        "refused": take.refused or None,
        "music_s_at_film_0": round(take.offset, 6),
        "clock_ppm": round(1e6 * (reading.alignment.rate - 1), 1),
        "windows": reading.alignment.windows,
        "points_followed": reading.followed,
        "ratio": round(reading.alignment.ratio, 2),
        "poses": [_pose(pose, places, bool(take.refused)) for pose in take.poses],
    }
    return json.dumps(data, ensure_ascii=False, indent=2) + "\n"


def _pose(pose: PoseRead, places: Mapping[str, str], refused: bool) -> dict[str, Any]:
    known = not refused and pose.late is not None and pose.doubt is not None
    return {
        "id": pose.pose,
        "pose": pose.name,
        "hit": places.get(pose.pose),
        "hit_s": round(pose.hit, 4),
        "film_s": round(pose.film, 4),
        "late_ms": round(1000 * (pose.late or 0), 1) if known else None,
        "plus_minus_ms": round(1000 * (pose.doubt or 0), 1) if known else None,
        "slow": pose.said == "slow" and not refused,
        "words": _("not readable") if refused else in_words(pose),
    }
