"""Where a recording of the own camera lies in the music: by the clock that played the music, and by
the room's sound where a microphone listened.

The clock says it within some hundredths of a second, so that only the stretch that was played is
looked for in the sound: a song that repeats itself cannot be mistaken for another place of itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from rehearse.files.user_error import UserError
from rehearse.film.align import Alignment, find_runs
from rehearse.film.sound import film_sound, music_sound
from rehearse.music.track import Track
from rehearse.playback.stretch import stretch
from rehearse.work.progress import Report

#: Seconds by which clock and sound may disagree: a wireless speaker nobody has calibrated.
NEAR = 0.4
#: Seconds by which pictures of such a camera may be off with a microphone beside it, and by the
#: clock alone, which knows neither the microphone's way nor the speaker's (common practice, no
#: source).
WITH_SOUND, CLOCK_ALONE = 0.040, 0.060
#: Seconds of music compared on either side of the stretch.
_AROUND = 1.0


@dataclass(frozen=True)
class KnownPlace:
    """What the clock knows of a recording.

    Args:
        start, end: seconds of the track that were played, at `tempo` of its own.
        at: second of the film at which `start` was heard.
        sound: what the microphone heard, its first sample at second 0 of the film; None: nothing.
    """

    start: float
    end: float
    tempo: float
    at: float
    sound: Path | None = None

    @property
    def alignment(self) -> Alignment:
        """Where the film lies by the clock alone, in the music of `tempo`."""
        length = (self.end - self.start) / self.tempo
        offset = self.start / self.tempo - self.at
        return Alignment(offset, 1.0, 0, 0.0, self.at, self.at + length, "clock")

    def to_film(self, second: float) -> float:
        """The film second at which this second of the track was heard, by the clock."""
        return self.at + (second - self.start) / self.tempo


def place_by_clock(known: KnownPlace, track: Track, report: Report) -> Alignment:
    """Where the film lies: by its sound where that agrees with the clock, else by the clock."""
    by_clock = known.alignment
    if known.sound is None:
        return by_clock
    first = max(0.0, known.start - _AROUND)
    last = min(track.duration, known.end + _AROUND)
    rate = track.sample_rate
    samples = track.samples[round(first * rate) : round(last * rate)]
    if known.tempo != 1.0:
        samples = stretch(samples, rate, known.tempo)
    try:
        heard, begins = film_sound(known.sound, report)
    except UserError:  # too short, or damaged: the clock knows it, too
        return by_clock
    for run in find_runs(heard, begins, music_sound(samples, rate), report):
        found = replace(run, offset=run.offset + first / known.tempo)
        if abs(found.to_music(by_clock.start) - by_clock.to_music(by_clock.start)) <= NEAR:
            return replace(found, start=by_clock.start, end=by_clock.end)
    return by_clock
