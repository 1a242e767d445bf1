"""The cover of a cue track: title and the first pose, as a square PNG."""

from __future__ import annotations

from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.sheet.drawings import draw_figure
from rehearse.handout.sheet.paper import DIM, Paper
from rehearse.handout.sheet.sheet_file import sheet_pictures
from rehearse.handout.sheet.typesetting import STRONG, fitted, shortened, wrap
from rehearse.words import _

_SIDE = 100.0  # mm of the drawn square
_DOTS = 152.3  # an inch: 600 pixels


def cover_art(source: HandoutSource, words: str) -> bytes:
    """Draw the cover; `words` says what the track holds ("whole routine", "Opening, 60 %")."""
    paper = Paper((_SIDE, _SIDE), source.routine.title)
    title = source.routine.title or _("Routine")
    size = fitted(title, 30, 2 * (_SIDE - 14), STRONG, 20)
    y = 6.0
    for line in wrap(title, size, _SIDE - 14, STRONG, most=2):
        y += size * 0.40
        paper.text(7, y, line, size, font=STRONG)
    paper.text(7, y + 8, shortened(words, 16, _SIDE - 14), 16, grey=DIM)
    if source.sheet.cues:
        first = source.sheet.cues[0]
        top = y + 11
        figure = first.pose.seen(first.facing, first.level)
        draw_figure(paper, figure, first.pose.look, 7, top, _SIDE - 14, _SIDE - top - 3)
    paper.end_page()
    return sheet_pictures(paper.finish(), _DOTS)[0]
