"""Today's plan: what to practise in the minutes there are, and why.

Rules and what they rest on:
- The first session teaches: the whole is watched once and walked marked, then come the parts
  (common practice, no source).
- Every later one opens with a run from memory, which shows what has stayed. That recalling
  strengthens more than repeating was shown for prose (Roediger & Karpicke 2006, Psychological
  Science 17, 249–255; from memory), not for movement.
- Something new: about three sound passes in a row (common practice, no source), then rotated with
  the rest: random order kept better than blocked after 10 minutes and 10 days (Shea & Morgan 1979,
  Journal of Experimental Psychology: Human Learning and Memory 5, 179–187).
- What was missed last time comes back the next day: a night between sessions helps accuracy
  (Simmons 2012, Journal of Research in Music Education 59(4), 357–368).
- Every part is drilled with the way into and out of it (Fontana et al. 2009, Perceptual and Motor
  Skills 109, 517–530).
- Nothing is left without a drill for more than five days; the session ends with the whole at full
  tempo; nothing new on the last two days (common practice, no source).
The same log, day, routine and minutes give the same plan.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from rehearse.music.beatmap import BeatMap
from rehearse.practice import plan_reasons
from rehearse.practice.history import before_show
from rehearse.practice.logbook import Logbook
from rehearse.practice.plan_blocks import LAST_DAYS, Today, owed_seconds, parts_of, rotation
from rehearse.practice.planline import Plan, PlanLine
from rehearse.practice.scope import section_scope, spots_of, transition_scope, whole_scope
from rehearse.practice.transition_evidence import Evidence, gather
from rehearse.routine.model import Routine

#: Share of the session that new transitions may take.
NEW_SHARE = 0.4
#: From this strength on nothing is called weak.
SOUND_STRENGTH = 0.85
#: Seconds of drilling between two runs.
BETWEEN_RUNS = 540.0


def make_plan(
    book: Logbook,
    routine: Routine,
    beatmap: BeatMap,
    *,
    minutes: float,
    today: date,
    rounds: float = 0.0,
) -> Plan:
    """The plan for a session of `minutes` on `today`.

    Args:
        rounds: seconds of it that comparison rounds take (`stamina.plan_rounds`).

    Raises:
        ValueError: less than five minutes. KeyError: the map lacks a count of the routine.
    """
    if minutes < 5:
        raise ValueError("a session needs at least five minutes")
    if not routine.poses:
        return Plan(today, minutes)
    seen = _look(book, routine, beatmap, today)
    if seen.first and not seen.is_last_days:
        opening = plan_reasons.first_look(seen.whole)
    else:
        opening = plan_reasons.opening(seen.whole, seen.show, marked=seen.is_last_days)
    closing = plan_reasons.closing(seen.whole, seen.last_close, marked=seen.is_last_days)
    left = minutes * 60 - rounds - opening.seconds - closing.seconds
    if seen.show.days == 0:
        return Plan(today, minutes, (opening, closing))
    middle = _middle(seen, max(0.0, left))
    return Plan(today, minutes, (opening, *middle, closing))


def _look(book: Logbook, routine: Routine, beatmap: BeatMap, today: date) -> Today:
    spots = spots_of(routine, beatmap)
    count, judged = book.db.execute(
        "SELECT coalesce(sum(passes), 0), coalesce(sum(judged), 0) FROM tally WHERE kind = 'pose'"
    ).fetchone()
    (before,) = book.db.execute(
        "SELECT EXISTS (SELECT 1 FROM passes WHERE day < ? AND NOT dry_run)", (today.isoformat(),)
    ).fetchone()
    close = book.db.execute(
        "SELECT cueing FROM passes WHERE day < ? AND kind = 'run' AND NOT dry_run"
        " ORDER BY day DESC, started DESC LIMIT 1",
        (today.isoformat(),),
    ).fetchone()
    return Today(
        evidence=gather(book, spots, today),
        sections=tuple(section_scope(routine, beatmap, s.id) for s in routine.sections),
        whole=whole_scope(routine, beatmap),
        ways={s.pose: transition_scope(routine, beatmap, s.pose) for s in spots},
        show=before_show(book, routine.show_date, today),
        last_close=close[0] if close else "",
        unjudged=count > 20 and judged == 0,
        first=not before,
    )


def _middle(seen: Today, left: float) -> list[PlanLine]:
    runs = _runs(seen, left)
    left -= sum(x.seconds for x in runs)
    parts = sorted(parts_of(seen), key=lambda part: (-part.waited, part.scope.start))
    owed = owed_seconds(parts)
    new = [] if seen.is_last_days else _new(seen, (left - owed) * NEW_SHARE)
    left -= sum(x.seconds for x in new)
    weak = _weak(seen, left - owed)
    found = list(new)
    for number, block in enumerate(rotation(seen, weak, parts, left, len(runs) + 1)):
        found += block + runs[number : number + 1]
    return found


def _runs(seen: Today, left: float) -> list[PlanLine]:
    """Runs in the middle: one about every nine minutes, every six as the show comes near."""
    days = seen.show.days
    near = days is not None and LAST_DAYS < days <= 14
    line = plan_reasons.between(seen.whole, seen.show)
    number = int(left / (BETWEEN_RUNS * (0.66 if near else 1.0) + line.seconds))
    return [replace(line, id=f"run {k + 1}") for k in range(min(number, 6))]


def _new(seen: Today, left: float) -> list[PlanLine]:
    fresh = [e for e in seen.evidence if e.is_new]
    # What broke in a run comes first, the rest in the order of the routine.
    fresh.sort(key=lambda e: not e.missed_lately)
    found = []
    for evidence in fresh:
        line = plan_reasons.new(evidence, seen.ways[evidence.spot.pose], seen.unjudged)
        if line.seconds > left:
            break
        left -= line.seconds
        found.append(line)
    return found


def _weak(seen: Today, left: float) -> list[Evidence]:
    known = [e for e in seen.evidence if e.passes and e.strength < SOUND_STRENGTH]
    known += [e for e in seen.evidence if e.missed_lately and e not in known]
    known += [e for e in seen.evidence if e.filmed and e.passes and e not in known]
    known.sort(key=lambda e: (-e.need, e.spot.hit))
    return known[: max(3, min(8, int(left / 160)))]
