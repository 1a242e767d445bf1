"""A scripted athlete and a month of sessions, through the real practice code and a real logbook.

The athlete is invented: each transition has a strength; a pass at it is clean with a probability
that falls with tempo and without cues; practice strengthens it, more when it was not practised
just before; part of a day's gain is lost overnight and all of it fades slowly. No clock but the
one handed on here.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from rehearse.music.position import Length
from rehearse.practice.guided import Guided
from rehearse.practice.passes import Pass
from rehearse.practice.plan import make_plan
from rehearse.practice.planline import Plan
from rehearse.practice.running import Running
from rehearse.practice.scope import seconds_of, spots_of


@dataclass
class Athlete:
    """Strengths by pose arrived at; 4 is sure (98 %), 0 a coin's throw, at full tempo with cues."""

    strength: dict[str, float]
    draw: random.Random
    judges: float = 0.9
    today: dict[str, float] = field(default_factory=dict)
    last: str = ""

    def chance(self, pose: str, tempo: float, cueing: str) -> float:
        value = self.strength[pose] + self.today.get(pose, 0.0)
        value += 6.0 * (1.0 - tempo) - (0.7 if cueing == "memory" else 0.0)
        return 1.0 / (1.0 + math.exp(-value))

    def perform(self, pose: str, tempo: float, cueing: str) -> bool:
        clean = self.draw.random() < self.chance(pose, tempo, cueing)
        room = max(0.0, 4.5 - self.strength[pose] - self.today.get(pose, 0.0))
        gain = 0.008 * room * (1.0 if pose != self.last else 0.6) * (0.5 + 0.5 * tempo)
        self.today[pose] = self.today.get(pose, 0.0) + gain
        self.last = pose
        return clean

    def sleep(self, practised: bool) -> None:
        for pose in self.strength:
            gain = self.today.get(pose, 0.0)
            self.strength[pose] += 0.7 * gain - (0.0 if gain else 0.03)
        self.today.clear()


@dataclass
class Month:
    """What happened: the plans by day, and every pass."""

    plans: dict[date, Plan] = field(default_factory=dict)
    passes: list[Pass] = field(default_factory=list)
    rests: int = 0


def practise(book, routine, beatmap, athlete, plan, start: datetime) -> tuple[list[Pass], datetime]:
    """One session by the plan, from the first count-in to the last rest; returns its passes."""
    spots = spots_of(routine, beatmap)
    state = Running(Guided(plan), spots)
    now, done = start, []
    while (todo := state.upcoming) is not None:
        state = state.count_in()
        now += timedelta(
            seconds=seconds_of(Length(todo.count_in), beatmap, todo.start, todo.percent)
        )
        state = state.music(now)
        now += timedelta(seconds=(todo.end - todo.start) / todo.tempo)
        state, kept = state.ended(now)
        book.record(kept)
        broke = [p for p in kept.taken if not athlete.perform(p.pose, kept.tempo, kept.cueing)]
        if state.open_question:
            state, judged = state.broke(broke[0].start + 0.1 if broke else None)
        elif athlete.draw.random() < athlete.judges:
            state, judged = state.judge("missed" if broke else "clean")
        else:
            judged = None
        if judged:
            book.judge(judged.id, judged.verdict, broke_at=judged.broke_at)
            kept = book.get(kept.id)
        done.append(kept)
        now += timedelta(seconds=seconds_of(todo.rest, beatmap, todo.end, todo.percent))
    return done, now


def month(book, routine, beatmap, athlete, first: datetime, *, days=30, minutes=30.0) -> Month:
    """A session each evening but every seventh day."""
    result = Month()
    for k in range(days):
        start = first + timedelta(days=k)
        if k % 7 != 6:
            today = start.date()
            plan = make_plan(book, routine, beatmap, minutes=minutes, today=today)
            result.plans[today] = plan
            book.begin_session(start)
            passes, end = practise(book, routine, beatmap, athlete, plan, start)
            book.end_session(end)
            result.passes.extend(passes)
        athlete.sleep(k % 7 != 6)
    return result


def strong_with_weak(spots, weak, number) -> Athlete:
    """Sure of everything (about 96 % at full tempo) but of the weak ones (about 30 %)."""
    strength = {s.pose: (-0.9 if s.pose in weak else 3.2) for s in spots}
    return Athlete(strength, random.Random(number))
