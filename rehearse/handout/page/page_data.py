"""What the coach's page knows of the routine, as plain values; times from the start on stage."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from typing import Any

from rehearse.cueing.cue_state import Cue, TimedMove
from rehearse.cueing.cues import CueSheet
from rehearse.files.inside import safe_name
from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.page.figures import TONES, PageFigures
from rehearse.handout.page.page_texts import page_texts
from rehearse.handout.sheet.drawings import DAMAGE, photo_jpeg
from rehearse.music.position import Length, Seconds
from rehearse.routine.model import Facing
from rehearse.routine.remarks import LONGEST, MOST
from rehearse.words import DECIMAL, _, day_field, ngettext, place_text, section_text, shown

#: The colours of the stage display, and what figures are made of.
COLOURS = {
    "light": {"ink": "#f6efe4", "shade": "#998f89", "hair": "#776a65", "accent": "#ffc45a"},
    "dark": {"ink": "#c9935f", "shade": "#65442c", "hair": "#4e3220", "accent": "#ffc45a"},
}
_GROUND = "#14100d"
#: Choices of another count: so many counts to each side; of a hold, in counts.
_AWAY, _HOLDS = 8, range(1, 17)
_PHOTO = 400  # pixels


def page_data(source: HandoutSource, figures: PageFigures, base: str) -> dict[str, Any]:
    """Everything the script reads, ready to be written as JSON.

    Args:
        base: fingerprint of the state the page shows.
    """
    routine, sheet = source.routine, source.sheet
    start = sheet.start
    inside = [k for k, t in enumerate(sheet.beatmap.beats) if start - 1 <= t <= sheet.end]
    about = (routine.show, routine.division, day_field(routine.show_date))
    return {
        "routine": routine.id,
        "base": base,
        "title": routine.title or _("Routine"),
        "about": " · ".join(words for words in about if words),
        "file": _("{title} remarks", title=safe_name(routine.title or _("routine"))) + ".json",
        "sound": "audio/mp4",
        "start": _time(start),
        "length": _time(sheet.end - start),
        "beats": [_time(sheet.beatmap.beats[k] - start) for k in inside],
        "counts": [str(sheet.beatmap.counts[k] or "") for k in inside],
        "lengths": [_time(sheet.beatmap.interval(k)) for k in inside],
        "cues": [_cue(source, cue, figures) for cue in sheet.cues],
        "exit": [_move(move, f"exit{k}", "", start) for k, move in enumerate(sheet.exit)],
        "parts": list(_parts(sheet)),
        "tones": TONES,
        "colours": COLOURS[routine.skin] | {"gap": _GROUND},
        "facings": [(str(facing), shown(facing)) for facing in Facing],
        "holds": [(str(Length(n)), place_text(Length(n))) for n in _HOLDS],
        "poses": sorted(((p.name, shown(p.name)) for p in source.catalogue.poses), key=_by_shown),
        "words": page_texts(),
        "decimal": DECIMAL,
        "longest": LONGEST,
        "most": MOST,
    }


def _time(seconds: float) -> float:
    return round(seconds, 4)


def _cue(source: HandoutSource, cue: Cue, figures: PageFigures) -> dict[str, Any]:
    sheet, placed = source.sheet, cue.placed
    start, way = sheet.start, figures.ways[cue.index]
    timed = zip(placed.moves, cue.moves, strict=False)
    return {
        "id": placed.id,
        "number": cue.index + 1,
        "name": cue.name[:1].upper() + cue.name[1:],
        "at": place_text(placed.hit),
        "start": _time(cue.start - start),
        "hit": _time(cue.hit - start),
        "end": _time(cue.end - start),
        "again": [_time(t - start) for t in cue.again],
        "hold": place_text(placed.hold),
        "facing": shown(cue.facing),
        "level": shown(cue.level),
        "place": shown(placed.place or ""),
        "note": placed.note,
        "moves": [_move(t, m.id, place_text(m.length), start) for m, t in timed],
        "steps": [(_time(t - start), text, counted) for t, text, counted in _steps(sheet, cue)],
        "still": figures.stills[cue.index],
        "way": {
            "first": way[0],
            "count": way[1],
            "start": _time(cue.way.start - start),
            "end": _time(cue.way.end - start),
        }
        if way and cue.way
        else None,
        "hits": list(_hits(source, cue)),
        "photo": _photo(source, cue),
    }


def _move(timed: TimedMove, key: str, length: str, start: float) -> dict[str, Any]:
    times = {"start": _time(timed.start - start), "end": _time(timed.end - start)}
    return {"id": key, "text": timed.text, "length": length, **times}


def _steps(sheet: CueSheet, cue: Cue) -> Iterator[tuple[float, str, bool]]:
    """When the countdown to a pose changes, to what, and whether it is in counts or in seconds."""
    beatmap, hit = sheet.beatmap, cue.hit
    first = sheet.cues[cue.index - 1].hit if cue.index else min(sheet.start, hit)
    beats = [t for t in beatmap.beats if first - 1e-9 <= t < hit - 1e-6]
    whole = [hit - k for k in range(int(hit - first), 0, -1)]
    for time in sorted({first, *beats, *whole}):
        counted = beatmap.counts_between(time, hit) is not None
        if counted and (time == first or time in beats):
            yield time, sheet.at(time).numeral, True
        elif not counted and (time == first or time in whole):
            yield time, str(max(1, round(hit - time))), False


def _hits(source: HandoutSource, cue: Cue) -> Iterator[tuple[str, str]]:
    """Where else the pose can be hit: the second of the track, and what to call it."""
    beatmap = source.beatmap
    for steps in (*range(-_AWAY, 0), *range(1, _AWAY + 1)):
        if isinstance(cue.placed.hit, Seconds):
            time, many = cue.hit + steps / 2, _("{time:g} s", time=abs(steps) / 2)
        else:
            time = beatmap.shift(cue.hit, Length(steps))
            many = ngettext("{steps} count", "{steps} counts", abs(steps), steps=abs(steps))
        if 0 <= time < beatmap.duration and abs(time - cue.hit) > 1e-3:
            label = f"{place_text(beatmap.position_at(time, 0.03))}, {_away(many, steps)}"
            yield f"{time:.3f} s", label


def _away(amount: str, steps: int) -> str:
    if steps < 0:
        return _("{amount} earlier", amount=amount)
    return _("{amount} later", amount=amount)


def _by_shown(pair: tuple[str, str]) -> str:
    return pair[1].casefold()


def _parts(sheet: CueSheet) -> Iterator[dict[str, Any]]:
    length = sheet.end - sheet.start
    yield {"name": _("whole routine"), "start": 0.0, "end": _time(length)}
    for timed in sheet.sections:
        start, end = max(0.0, timed.start - sheet.start), min(length, timed.end - sheet.start)
        if end - start > 0.5:
            yield {
                "name": section_text(timed.section.name),
                "start": _time(start),
                "end": _time(end),
            }


def _photo(source: HandoutSource, cue: Cue) -> str:
    """The athlete's own photo of the pose; empty where there is none that can be read."""
    if not cue.pose.picture:
        return ""
    try:
        data = photo_jpeg(source.folder, cue.pose.picture, _PHOTO)
    except DAMAGE:
        return ""
    return "data:image/jpeg;base64," + base64.b64encode(data).decode()
