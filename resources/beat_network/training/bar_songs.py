"""Songs for learning where bars begin: as the network's, and at times with half a bar missing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from rehearse.music.analysis.features import RATE
from training import room
from training.arrange import arrange
from training.compose import compose
from training.examples import Take, play_piece
from training.piece import Piece, Rng
from training.render import Fonts
from training.scores import Score

#: Seconds of a song; shares of scores among them, of songs with an odd bar, of late starts.
SHORTEST, LONGEST = 45.0, 90.0
_SCORES, _ODD, _LATE = 0.38, 0.12, 0.5


def bar_song(rng: Rng, scores: Sequence[Score], fonts: Fonts) -> Take:
    """A recorded song; half of them begin somewhere within their first bars."""
    seconds = float(rng.uniform(SHORTEST, LONGEST))
    piece = None
    if scores and rng.random() < _SCORES:
        piece = arrange(rng, scores[int(rng.integers(len(scores)))], seconds)
    if piece is None:
        piece = compose(rng, seconds)
    if rng.random() < _ODD:
        piece = with_odd_bar(rng, piece)
    sound = play_piece(rng, piece, fonts)
    take = Take(sound, piece.beats[:-1], np.array(piece.places))
    start = float(rng.uniform(0, 4)) if rng.random() < _LATE else 0.0
    take = take.part(start, take.seconds)
    return replace(take, sound=room.record(take.sound, RATE, rng))


def with_odd_bar(rng: Rng, piece: Piece) -> Piece:
    """The piece with the first beats of one bar left out: two of four, one or two of three."""
    bar = max(piece.places)
    firsts = [k for k, place in enumerate(piece.places) if place == 1][4:-4]
    if bar == 2 or not firsts:
        return piece
    at = int(rng.choice(firsts))
    lost = 2 if bar == 4 else int(rng.integers(1, 3))
    notes = []
    for note in piece.notes:
        if note.at < at:
            notes.append(replace(note, length=min(note.length, max(0.05, at - note.at))))
        elif note.at >= at + lost:
            notes.append(replace(note, at=note.at - lost))
    places = piece.places[:at] + piece.places[at + lost :]
    return replace(piece, notes=notes, places=places, beats=piece.beats[: len(places) + 1])
