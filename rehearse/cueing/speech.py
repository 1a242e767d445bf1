"""What is said when: pure rules from a cue sheet to lines in the seconds of the output.

Conventions: times are seconds of output, 0 where the music of the pass begins, negative in the
count-in. Speech keeps its speed at every tempo, so its room is measured in the output.

The rules, in the order in which they win:
1. Nothing is ever said over another line, nor over a hit but a name on its own hit.
2. The name of the next pose ends at least 0.3 s before the transition to it begins; it follows
   the hit before it. Where it has no room its short form is taken, then that read faster, then
   it is said on the hit itself. A name that has no room there either is told as unsaid.
3. Counts lead to the hit, each with its stressed onset on its beat. Where they share the room
   with a name, the name comes as late as it can before them; counts it would cover are left out.
4. The first pose of a pass is named before the count-in when the music leaves no room for it.
5. A count is clicked, too; without a voice the clicks stay.
6. A move is said as it begins, its stressed onset there, where no name and no hit is in the way,
   and not into the last two counts before a hit; counts before those that it would cover are left
   out. A name never gives way to a move.
7. Where a pose is hit again it is clicked as the last count before a hit is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol

from rehearse.cueing.count_in import Counting, count_in, lead_in
from rehearse.cueing.cue_options import Cueing, CueVolumes, Said, VolumeStep
from rehearse.cueing.cue_state import Cue, TimedMove
from rehearse.cueing.cues import CueSheet
from rehearse.cueing.texts import short_form, turns_of
from rehearse.cueing.voice import Sounding

LineKind = Literal["name", "move", "count", "click"]

#: How much faster than wished a name may be read where it has no room otherwise.
FASTER = (1.25, 1.5)
BEFORE_TRANSITION = 0.3  # s a name has ended before its transition begins
AFTER_HIT = 0.25  # s a hit is left alone before a name begins
_AFTER_HIT_COUNT = 0.1  # the same before a count, which is expected
_GAP = 0.12  # s between a name and the count after it
_BREATH = 0.02  # s between two counts
_BEFORE_MUSIC = 0.1  # s before the music at which the count-in has been said
_SHORTEST = 0.16  # s of a count that can still be understood; closer counts are left out
_FOREVER = float("inf")


class Measure(Protocol):
    """Tells how long a text sounds; None where it cannot be said. `pace` 1.25: read faster."""

    def __call__(
        self, text: str, kind: Literal["name", "count"], pace: float = 1.0
    ) -> Sounding | None:
        """The sounding of `text`."""


@dataclass(frozen=True)
class SpeechChoice:
    """What is wanted of the speech.

    Args:
        cueing: all cues, names on the hit, counts only, or from memory (nothing).
        levels: loudness of names, counts and clicks.
        turns: also say the facing and level where they change.
        counting: see `leadin.Counting`.
        counts: how many counts are counted in, 0–8.
        said: whose names: of poses, of moves, or both.
    """

    cueing: Cueing = "all"
    levels: CueVolumes = field(default_factory=CueVolumes)
    turns: bool = False
    counting: Counting = "eights"
    counts: int = 4
    said: Said = "both"


@dataclass(frozen=True)
class SpokenLine:
    """One sound: it starts `at`, its stressed onset is at `onset`, it is over by `end`.

    A name tells how much faster than wished it is read (`pace`) and for which pose (`cue`, an
    index of the cue sheet); so does a click on a hit once more. A click is `strong`
    on the last count before the hit or the start, and on a hit once more.
    """

    at: float
    onset: float
    end: float
    kind: LineKind
    text: str
    pace: float = 1.0
    cue: int = -1
    strong: bool = False


@dataclass(frozen=True)
class Speech:
    """The lines of one pass, in order, and the seconds needed before its music.

    Args:
        unsaid: the poses whose names were wished and found no room anywhere.
    """

    lead: float
    lines: tuple[SpokenLine, ...]
    unsaid: tuple[Cue, ...] = ()


@dataclass(frozen=True)
class _Pass:
    sheet: CueSheet
    start: float
    end: float
    tempo: float
    choice: SpeechChoice
    measure: Measure

    def out(self, time: float) -> float:
        return (time - self.start) / self.tempo


def plan_speech(
    sheet: CueSheet,
    start: float,
    end: float,
    measure: Measure,
    *,
    tempo: float = 1.0,
    choice: SpeechChoice | None = None,
) -> Speech:
    """The speech of a pass over [start, end) seconds of the track at `tempo`.

    A hit on the very end is spoken of only where the routine's music ends there too.

    Args:
        measure: how long a text sounds; None where it cannot be said.
        tempo: 0.4–1.05.
    """
    this = _Pass(sheet, start, end, tempo, choice or SpeechChoice(), measure)
    cues = [c for c in sheet.cues if start - 1e-6 <= c.hit < sheet.closes(end)]
    counted_in = count_in(sheet.beatmap, start, tempo, this.choice.counts)
    length = -counted_in[0].at if counted_in else 0.0
    lines: list[SpokenLine] = []
    unsaid: list[Cue] = []
    if this.choice.cueing != "memory":
        heard = [(c.at, c.label.replace("&", "and")) for c in counted_in]
        opening = _counts(this, heard, -_FOREVER, -_BEFORE_MUSIC)
        lines = [*opening]
        until = -_FOREVER
        for index, cue in enumerate(cues):
            before = cues[index - 1] if index else None
            following = cues[index + 1] if index + 1 < len(cues) else None
            name, counts = _cue(this, cue, before, following, opening if not index else [], until)
            lines += [*counts, *([name] if name else [])]
            until = name.end if name and name.end > this.out(cue.hit) else -_FOREVER
            if name is None and _names_wished(this.choice) and _sayable(this, cue):
                unsaid.append(cue)
        if this.choice.cueing in ("all", "names"):
            lines = _with_moves(this, lines)
        lines += _again_clicks(this)
    lines.sort(key=lambda line: line.at)
    early = -lines[0].at + 0.1 if lines and lines[0].at < -length + 1e-9 else 0.0
    return Speech(max(length, early), tuple(lines), tuple(unsaid))


def _names_wished(choice: SpeechChoice) -> bool:
    wished = choice.cueing in ("all", "names") and choice.said != "moves"
    return wished and choice.levels.names is not VolumeStep.OFF


def _with_moves(this: _Pass, lines: list[SpokenLine]) -> list[SpokenLine]:
    """`lines` with the moves that have room, less the counts they cover."""
    if this.choice.said == "poses" or this.choice.levels.names is VolumeStep.OFF:
        return lines
    sheet = this.sheet
    hits = [this.out(time) for cue in sheet.cues for time in (cue.hit, *cue.again)]
    for cue in (*sheet.cues, None):
        moves = sheet.exit if cue is None else cue.moves
        kept = [*_last_counts(lines, this.out(cue.hit))] if cue else []
        for move in moves:
            if this.start - 1e-6 <= move.start < this.end:
                said = _move(this, move, lines, kept, hits)
                if said is not None:
                    lines = [
                        ln for ln in lines if ln.kind != "count" or not _meets(ln, said, _BREATH)
                    ]
                    lines.append(said)
    return lines


def _last_counts(lines: Sequence[SpokenLine], hit: float) -> list[SpokenLine]:
    """The last two counts before a hit, which nothing covers."""
    counts = [ln for ln in lines if ln.kind == "count" and ln.text != "and" and ln.onset < hit]
    return [ln for ln in sorted(counts, key=lambda ln: ln.onset)[-2:] if ln.onset > hit - 4.0]


def _move(
    this: _Pass,
    move: TimedMove,
    lines: Sequence[SpokenLine],
    counts: Sequence[SpokenLine],
    hits: Sequence[float],
) -> SpokenLine | None:
    """A move with its stressed onset where it begins, the first form of it that has room."""
    onset = this.out(move.start)
    last = this.out(this.end)
    for text, pace in _paced([text for text in (move.text, move.short) if text]):
        sound = this.measure(text, "name", pace)
        if sound is None:
            continue
        line = SpokenLine(onset - sound.before, onset, onset + sound.after, "move", text, pace)
        free = all(ln.kind not in ("name", "move") or not _meets(ln, line, _GAP) for ln in lines)
        free = free and not any(_meets(count, line, _BREATH) for count in counts)
        if free and line.end <= last and not any(line.at - AFTER_HIT < h < line.end for h in hits):
            return line
    return None


def _meets(one: SpokenLine, other: SpokenLine, gap: float) -> bool:
    return one.at < other.end + gap and other.at < one.end + gap


def _again_clicks(this: _Pass) -> list[SpokenLine]:
    """A click on each hit once more, as loud as on the last count before a hit."""
    if this.choice.levels.clicks is VolumeStep.OFF:
        return []
    times = [
        (cue.index, this.out(time))
        for cue in this.sheet.cues
        for time in cue.again
        if this.start - 1e-6 <= time < this.end
    ]
    return [SpokenLine(t, t, t + 0.045, "click", "again", cue=k, strong=True) for k, t in times]


def _sayable(this: _Pass, cue: Cue) -> bool:
    """Whether the voice has a form of the name; where it has none, it tells so itself."""
    return any(this.measure(text, "name") for text in _texts(this, cue, None))


def _cue(
    this: _Pass,
    cue: Cue,
    before: Cue | None,
    following: Cue | None,
    opening: list[SpokenLine],
    until: float,
) -> tuple[SpokenLine | None, list[SpokenLine]]:
    """The name of a pose, and the counts to its hit; `until` the hit before is still named."""
    if this.choice.cueing == "names":
        plain = [text for text in (cue.name, short_form(cue)) if text]
        return _name_on_hit(this, cue, following, _paced(plain)), []
    free_from = this.out(before.hit) + AFTER_HIT if before else 0.0
    after = this.out(before.hit) + _AFTER_HIT_COUNT if before else _ends(opening) + _BREATH
    counts = _lead_in(this, cue, before, max(after, until + _BREATH), this.out(cue.hit))
    if not _names_wished(this.choice):
        return None, counts
    limit = this.out(cue.start) - BEFORE_TRANSITION
    texts = _texts(this, cue, before)
    said = [(text, 1.0) for text in texts] if before is None else _paced(texts)
    name = _name(this, cue, said, max(free_from, until + _GAP), limit, counts)
    if name is None and before is None:
        early = min(limit, -BEFORE_TRANSITION)
        name = _name(this, cue, said, -_FOREVER, early, opening)
    if name is None:
        name = _name_on_hit(this, cue, following, _paced(texts[-1:]), until + _GAP)
        if name is not None:
            return name, _lead_in(this, cue, before, max(after, until + _BREATH), name.at - _BREATH)
        return None, counts
    return name, _beside(name, counts)


def _lead_in(
    this: _Pass, cue: Cue, before: Cue | None, earliest: float, until: float
) -> list[SpokenLine]:
    counted = lead_in(
        this.sheet.beatmap,
        cue.hit,
        before.hit if before else this.start - 1e-5,
        this.tempo,
        this.choice.counting,
    )
    return _counts(this, [(this.out(c.time), c.label) for c in counted], earliest, until)


def _paced(texts: Sequence[str]) -> list[tuple[str, float]]:
    """Each text as it is wished, then the last of them, the shortest, faster and faster."""
    return [(text, 1.0) for text in texts] + [(texts[-1], pace) for pace in FASTER]


def _beside(name: SpokenLine, counts: Sequence[SpokenLine]) -> list[SpokenLine]:
    """The counts that `name` leaves room for; they never begin with an "and"."""
    kept = [c for c in counts if c.at >= name.end + _GAP / 2 or c.end < name.at]
    while kept and kept[0].text == "and":
        del kept[0]
    return kept


def _ends(lines: Sequence[SpokenLine]) -> float:
    return max((line.end for line in lines), default=-_BEFORE_MUSIC)


def _texts(this: _Pass, cue: Cue, before: Cue | None) -> list[str]:
    """What could be said for a pose, the fullest first."""
    texts = [text for text in (cue.name, short_form(cue)) if text]
    turns = turns_of(cue, before) if this.choice.turns else []
    return [", ".join([cue.name, *turns]), *texts] if turns else texts


def _name(
    this: _Pass,
    cue: Cue,
    texts: Sequence[tuple[str, float]],
    earliest: float,
    limit: float,
    counts: Sequence[SpokenLine],
) -> SpokenLine | None:
    """The first of `texts` (each with its pace) that has room from `earliest` to `limit`."""
    spoken = [c for c in counts if c.kind == "count"] or counts
    for text, pace in texts:
        sound = this.measure(text, "name", pace)
        if sound is None:
            continue
        ends = [min(limit, spoken[0].at - _GAP)] if spoken else [limit]
        if earliest > -_FOREVER:
            ends.append(earliest + sound.length)
        for end in ends:
            start = end - sound.length
            if start >= earliest - 1e-9 and end <= limit + 1e-9:
                return SpokenLine(start, start + sound.before, end, "name", text, pace, cue.index)
    return None


def _name_on_hit(
    this: _Pass,
    cue: Cue,
    following: Cue | None,
    texts: Sequence[tuple[str, float]],
    earliest: float = -_FOREVER,
) -> SpokenLine | None:
    """The name with its stressed onset on the hit, over before the next pose's hit.

    Rather read faster than in the way of the next pose's own name.
    """
    if this.choice.levels.names is VolumeStep.OFF:
        return None
    hit = this.out(cue.hit)
    last = this.out(following.hit) - AFTER_HIT if following else _FOREVER
    for limit in (min(last, _leaving_room(this, following)), last):
        for text, pace in texts:
            sound = this.measure(text, "name", pace)
            if sound and hit - sound.before >= earliest and hit + sound.after <= limit:
                begin, end = hit - sound.before, hit + sound.after
                return SpokenLine(begin, hit, end, "name", text, pace, cue.index)
    return None


def _leaving_room(this: _Pass, following: Cue | None) -> float:
    """When a name on the hit must be over for the next pose's name to be said in time."""
    if following is None or this.choice.cueing == "names":
        return _FOREVER
    text = short_form(following) or following.name
    sound = this.measure(text, "name", FASTER[-1])
    return this.out(following.start) - BEFORE_TRANSITION - _GAP - (sound.length if sound else 0.0)


def _counts(
    this: _Pass, counted: Sequence[tuple[float, str]], earliest: float, hit: float
) -> list[SpokenLine]:
    """Counts and their clicks, the last ones first chosen: they are the ones that help."""
    lines: list[SpokenLine] = []
    until = hit
    voiceless = False
    for onset, label in reversed(counted):
        sound = this.measure(label, "count")
        voiceless = voiceless or sound is None
        wanted = sound is not None and this.choice.levels.counts is not VolumeStep.OFF
        if sound is not None and wanted and until - onset >= min(_SHORTEST, sound.after):
            line = SpokenLine(
                onset - sound.before, onset, min(onset + sound.after, until), "count", label
            )
            if line.at >= earliest:
                lines.append(line)
                until = line.at - _BREATH
    if this.choice.levels.clicks is not VolumeStep.OFF or voiceless:
        last = max((at for at, label in counted if label != "and"), default=None)
        lines += [
            SpokenLine(at, at, at + 0.045, "click", label, strong=at == last)
            for at, label in counted
            if at >= earliest
        ]
    return sorted(lines, key=lambda line: line.at)
