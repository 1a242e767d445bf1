"""Places for the first poses of a routine where little in the music speaks for any."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length, Position, Seconds
from rehearse.routine.model import StagePart
from rehearse.words import _

#: The way in, in counts and, in free time, in seconds.
_COUNTS, _SECONDS = Length(2), Length(2.0, in_counts=False)


def beginnings(
    beatmap: BeatMap, stage: StagePart, most: int
) -> Iterator[tuple[Position, Length, str]]:
    """The 1s of eights spread over the stage part, then all of them, their 5s, and free time.

    Args:
        most: so many are wanted.

    Yields:
        The hit, the transition before it, and the reason in words.
    """
    on_stage = [
        count
        for count, time in zip(beatmap.counts, beatmap.beats, strict=True)
        if stage.start <= time < stage.end
    ]
    ones = [count for count in on_stage if count.count == 1]
    fives = [count for count in on_stage if count.count == 5]
    apart = max(1, len(ones) // max(1, most + 1))
    for hit in (*ones[apart - 1 :: apart], *ones):
        yield hit, _COUNTS, _("a new eight begins here")
    for hit in fives:
        yield hit, _COUNTS, _("the second half of an eight begins here")
    # Twice as many moments as are wanted: some lie on poses that are there already.
    step = (stage.end - stage.start) / (2 * max(most, 1) + 1)
    moments = [round(stage.start + k * step, 2) for k in range(1, 2 * max(most, 1) + 1)]
    for time in (*moments[::2], *moments[1::2]):
        if any(time in free for free in beatmap.free) or not beatmap.beats:
            yield Seconds(time), _SECONDS, _("free time: no pose is near")
