"""Ways to play together, as every band knows them: who plays where in the bar.

A line of drums is one character a step: `X` loud, `x` plain, `o` soft, `.` nothing; lines are
repeated to fill the bar. Common practice, no source; what is played is filled in by chance.
"""

from __future__ import annotations

from dataclasses import dataclass

KICK, RIM, SNARE, CLAP, HAT, PEDAL, OPEN, RIDE, CRASH = 36, 37, 38, 39, 42, 44, 46, 51, 49
TOM_LOW, TOM, TOM_HIGH, TAMBOURINE, COWBELL = 45, 47, 50, 54, 56
BONGO, CONGA, SHAKER, CLAVES, TRIANGLE, BLOCK = 60, 63, 70, 75, 81, 76


@dataclass(frozen=True)
class Style:
    """One way of playing.

    Args:
        bpm: slowest and fastest usual tempo.
        bar: beats in a bar.
        steps: steps of a beat in the drum lines (3: triplets).
        drums: choices of lines, each {drum: line}.
        bass, comp: kinds of accompaniment to choose from, see `parts.py`.
        swing: range of the swing of half beats (0.5 straight).
        share: how often it is chosen.
    """

    bpm: tuple[float, float]
    bar: int
    steps: int
    drums: tuple[dict[int, str], ...]
    bass: tuple[str, ...]
    comp: tuple[str, ...]
    swing: tuple[float, float] = (0.5, 0.5)
    share: float = 1.0


_BACKBEAT = "....X.......X..."
STYLES: dict[str, Style] = {
    "eighths": Style(
        (80, 190), 4, 4,
        (
            {HAT: "x.o.", SNARE: _BACKBEAT, KICK: "X.......X......."},
            {HAT: "x.x.", SNARE: _BACKBEAT, KICK: "X.....x.X......."},
            {RIDE: "x.o.", SNARE: _BACKBEAT, KICK: "X.x.....X.x....."},
            {HAT: "x...", SNARE: _BACKBEAT, KICK: "X.......X.x....."},
            {HAT: "x.x.", SNARE: _BACKBEAT, KICK: "X.....x...x....."},
            {OPEN: "x...", SNARE: "....X.......X.x.", KICK: "X..x..x.X..x..x."},
        ),
        ("eighths", "roots", "quarters", "kick", "random"),
        ("pads", "strum", "push", "arpeggio", "backbeats", "random"), share=3,
    ),
    "sixteenths": Style(
        (70, 130), 4, 4,
        (
            {HAT: "xoxo", SNARE: "....X..o.o..X..o", KICK: "X..x..x...x....."},
            {HAT: "xxox", SNARE: "....X..o.o..X...", KICK: "X.x.......x..x.."},
            {HAT: "x.xo", SNARE: "o..oX..o.o.oX..o", KICK: "X.....x..xx....."},
            {HAT: "xoxx", OPEN: "..............x.", SNARE: _BACKBEAT, KICK: "X..X...x..X....."},
            {HAT: "x.x.", SNARE: "....X..x.x..X...", KICK: "Xxx.......x....."},
        ),
        ("random", "funk", "kick", "tresillo", "octaves"),
        ("funk", "random", "stabs", "push", "pads"), (0.5, 0.58), 3,
    ),
    "four to the floor": Style(
        (100, 180), 4, 4,
        (
            {KICK: "X...", OPEN: "..x.", CLAP: _BACKBEAT},
            {KICK: "X...", HAT: "xoxo", OPEN: "..x."},
            {KICK: "X...", HAT: "..x.", SNARE: _BACKBEAT, TAMBOURINE: "xoxo"},
            {KICK: "X...", RIDE: "..x.", CLAP: _BACKBEAT, SHAKER: "oxox"},
            {KICK: "X..."},
        ),
        ("offbeats", "octaves", "eighths", "funk", "gallop", "random"),
        ("offbeats", "pads", "arpeggio16", "stabs", "dotted", "random"), share=2.5,
    ),
    "half time": Style(
        (110, 200), 4, 4,
        (
            {HAT: "x.x.", SNARE: "........X.......", KICK: "X.....x........."},
            {HAT: "x.oo", SNARE: "........X.......", KICK: "X.........x..x.."},
            {RIDE: "x...", SNARE: "........X.......", KICK: "X..x......x....."},
        ),
        ("roots", "random", "kick", "pedal"), ("pads", "arpeggio", "push", "stabs"), share=1,
    ),
    "breakbeat": Style(
        (120, 180), 4, 4,
        (
            {HAT: "x.x.", SNARE: "....X..x.x..X...", KICK: "X.x.......xx...."},
            {HAT: "x.x.", SNARE: "....X.........X.", KICK: "X.........X....."},
            {RIDE: "x.x.", SNARE: "....X..o.o..X..o", KICK: "X.......x.x....."},
        ),
        ("random", "pedal", "roots", "funk"), ("pads", "stabs", "arpeggio16", "random"),
    ),
    "fast": Style(
        (150, 225), 4, 2,
        (
            {HAT: "xx", SNARE: "..X...X.", KICK: "X..xX..."},
            {RIDE: "x.", SNARE: ".x", KICK: "x."},
            {OPEN: "x.", SNARE: "..X...X.", KICK: "X...X..."},
            {HAT: "x.", SNARE: "..X...X.", KICK: "X.xxX.x."},
        ),
        ("eighths", "quarters", "two", "gallop"), ("strum", "pads", "push", "offbeats"), share=1.5,
    ),
    "swing": Style(
        (90, 235), 4, 3,
        (
            {RIDE: "x..x.x", PEDAL: "...x.."},
            {RIDE: "x..x.x", PEDAL: "...x..", KICK: "o..", SNARE: ".....o......"},
            {HAT: "x..x.x", SNARE: "..........o.", KICK: "x.....x....."},
            {RIDE: "x..", SNARE: "...X.....X..", PEDAL: "...x.."},
            {SNARE: "x..x.x", PEDAL: "...x.."},
        ),
        ("walk", "walk", "two", "walk3"), ("charleston", "random3", "quarters", "stabs", "pads"),
        (0.6, 0.68), 3.5,
    ),
    "shuffle": Style(
        (70, 190), 4, 3,
        (
            {HAT: "x.x", SNARE: "...X.....X..", KICK: "X.....X....."},
            {RIDE: "x.x", SNARE: "...X.....X..", KICK: "X....xX....."},
            {HAT: "x.o", SNARE: "..oX.o..oX..", KICK: "X.....x.x..."},
            {HAT: "x.x", KICK: "X.."},
        ),
        ("boogie", "walk", "roots", "shuffle", "two"),
        ("shuffle", "backbeats", "random3", "pads", "charleston"), (0.6, 0.68), 2.5,
    ),
    "half-time shuffle": Style(
        (110, 180), 4, 3,
        ({HAT: "x.x", SNARE: "..o..oX.o..o", KICK: "X....x......"},
         {HAT: "x.x", SNARE: "......X.....", KICK: "X....x......"}),
        ("roots", "shuffle"), ("pads", "random3", "stabs"), (0.62, 0.67), 0.5,
    ),
    "twelve-eight": Style(
        (45, 85), 4, 3,
        ({HAT: "xoo", SNARE: "...X.....X..", KICK: "X....xX....."},
         {RIDE: "xxx", SNARE: "...X.....X..", KICK: "X.....X..x.."}),
        ("roots", "triplets", "two"), ("arpeggio3", "pads", "triplets"), share=1.2,
    ),
    "six-eight": Style(
        (45, 130), 2, 3,
        ({HAT: "xox", SNARE: "...X..", KICK: "X....."}, {SNARE: "xooxoo", KICK: "X.."}, {}),
        ("roots", "two", "triplets"), ("arpeggio3", "oompah3", "triplets", "pads"), share=1.3,
    ),
    "waltz": Style(
        (80, 210), 3, 2,
        (
            {KICK: "X.....", HAT: "..x.x."}, {KICK: "X.....", SNARE: "..o.o."},
            {RIDE: "x.x.x.", SNARE: "..X.x.", KICK: "x....."}, {},
            {HAT: "xx", SNARE: "....X.", KICK: "X....."},
        ),
        ("roots", "walk", "roots", "random"), ("oompah", "arpeggio", "pads", "offbeats23"),
        share=2.5,
    ),
    "jazz waltz": Style(
        (110, 200), 3, 3,
        ({RIDE: "x..x.xx..", PEDAL: "...x.....", KICK: "x........"},
         {RIDE: "x..x..x.x", SNARE: ".....o...", PEDAL: "......x.."}),
        ("walk", "roots"), ("charleston", "random3", "pads"), (0.6, 0.67), 0.7,
    ),
    "slow three": Style(
        (55, 100), 3, 4,
        ({HAT: "x.x.", SNARE: "........X...", KICK: "X.......x..."}, {}),
        ("roots", "random"), ("arpeggio", "pads", "arpeggio16"), share=0.8,
    ),
    "one drop": Style(
        (62, 165), 4, 4,
        (
            {HAT: "x.x.", RIM: "........X.......", KICK: "........X......."},
            {HAT: "..x.", RIM: "....X.......X...", KICK: "X...X...X...X..."},
            {HAT: "x.xo", SNARE: "........X.......", KICK: "X.......X......."},
        ),
        ("random", "roots", "tresillo", "rests"), ("offbeats", "offbeats", "offbeats16"),
        (0.5, 0.62), 2,
    ),
    "off-beat dance": Style(
        (120, 220), 4, 2,
        ({HAT: ".x", SNARE: "..X...X.", KICK: "X...X..."}, {SNARE: ".x", KICK: "x."},
         {HAT: ".x", KICK: "x."}),
        ("walk", "two", "quarters", "eighths"), ("offbeats",), share=1.5,
    ),
    "oom-pah": Style(
        (80, 230), 4, 2,
        (
            {KICK: "X...X...", SNARE: "..x...x."}, {KICK: "X.", SNARE: ".x"},
            {SNARE: "x.xxx.xx", KICK: "X...X..."}, {}, {},
        ),
        ("two", "two", "quarters", "roots"), ("oompah", "offbeats", "backbeats"), share=2.5,
    ),
    "stride": Style(
        (70, 120), 2, 4, ({}, {}, {KICK: "X...", SNARE: "..x."}),
        ("quarters", "octaves"), ("offbeats", "ragged"), (0.5, 0.56), 2,
    ),
    "march": Style(
        (90, 150), 2, 4,
        ({SNARE: "X.xxx.x.", KICK: "X..."}, {SNARE: "x.xxX.xx", KICK: "X.......", CRASH: "x..."}),
        ("quarters", "two"), ("oompah", "offbeats", "pads"), share=1,
    ),
    "clave": Style(
        (80, 230), 4, 2,
        (
            {CLAVES: "x..x..x...x.x...", SHAKER: "xx", KICK: "X..xX..x"},
            {CLAVES: "..x.x...x..x..x.", CONGA: "o.xx", COWBELL: "x..."},
            {COWBELL: "x.x.xx.xx.x.xx.x", CONGA: "..x...xx", KICK: "...x...x"},
            {BONGO: "xoxo", CONGA: "......xx", COWBELL: "x.xx"},
        ),
        ("tumbao", "tresillo", "two"), ("montuno", "push", "random"), share=1.8,
    ),
    "bossa": Style(
        (100, 180), 4, 2,
        (
            {RIM: "x..x..x...x..x..", HAT: "xx", KICK: "X..xX..x"},
            {RIM: "x..x..x...x.x...", SHAKER: "xo", KICK: "X...X..."},
        ),
        ("tresillo", "two", "tumbao"), ("push", "random", "charleston", "arpeggio"), share=1.5,
    ),
    "samba": Style(
        (85, 130), 2, 4,
        ({SHAKER: "xoox", KICK: "X..xX..x", SNARE: "x.x.xx.x"},
         {TRIANGLE: "xoxx", KICK: "..o.X...", SNARE: "x.xx.x.x"}),
        ("tumbao", "two", "random"), ("montuno", "offbeats16", "random"), share=1,
    ),
    "every beat": Style(
        (90, 190), 4, 2,
        ({SNARE: "X.", KICK: "X...x...", TAMBOURINE: "xx"},
         {HAT: "xx", SNARE: "X.", KICK: "X..xX..."},
         {CLAP: "X.", KICK: "x."}, {TAMBOURINE: "..x."}),
        ("quarters", "random", "tresillo", "walk"), ("backbeats", "quarters", "stabs", "pads"),
    ),
    "train": Style(
        (150, 230), 4, 2,
        ({SNARE: "oxoXoxoX", KICK: "x...x..."}, {SNARE: "oooXoooX", KICK: "x."}),
        ("two", "two", "walk"), ("offbeats", "backbeats", "strum"),
    ),
    "tango": Style(
        (100, 140), 4, 2,
        ({SNARE: "x..xx.x.", KICK: "X...X..."}, {}),
        ("quarters", "tresillo", "two"), ("quarters", "stabs", "pads"), share=0.7,
    ),
    "no drums": Style(
        (45, 170), 4, 4, ({},),
        ("roots", "pedal", "quarters", "walk", "two"),
        ("arpeggio", "arpeggio16", "pads", "strum", "offbeats", "quarters"), share=3,
    ),
    "chance": Style(
        (60, 200), 4, 4, ({},),
        ("random", "kick", "funk", "eighths"), ("random", "dotted", "pads", "stabs"), share=2.5,
    ),
}  # fmt: skip
