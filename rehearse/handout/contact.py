"""The contact sheet of a filmed run: each pose at its hit and at its arrival, beside its figure.

A4, in greys but for the stills; the same pages as pictures. Another take can stand beside it.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from reportlab.lib.utils import ImageReader

from rehearse.cueing.cue_state import Cue
from rehearse.files.user_error import UserError
from rehearse.film.film_text import LIMITS, head, in_ms, in_words
from rehearse.film.keep import kept_file, still_names
from rehearse.handout.handout_source import HandoutSource, load_source
from rehearse.handout.sheet.drawings import DAMAGE, draw_body
from rehearse.handout.sheet.paper import DIM, INK, LINE, PAPERS, Paper
from rehearse.handout.sheet.sheet_file import sheet_pictures
from rehearse.handout.sheet.typesetting import STRONG, fitted, shortened, wrap
from rehearse.practice.habits import habits
from rehearse.practice.takelog import TakeDone
from rehearse.routine.photos import check_picture
from rehearse.words import _, day_text, short_day_text, shown
from rehearse.work.progress import Report

#: Millimetres: the margin, the head of a page, a row, the figure's width, a still's width.
_MARGIN, _HEAD, _ROW, _FIGURE, _STILL = 12.0, 26.0, 46.0, 24.0, 50.0
#: Dots an inch of the pages as pictures.
_DOTS = 120.0
_WORDS = _("page by page")


@dataclass(frozen=True)
class Contact:
    """The sheet as a PDF, its pages as PNG files, and all pages in one of them."""

    pdf: bytes
    pages: tuple[bytes, ...]
    png: bytes


def make_contact(
    folder: Path,
    take: TakeDone,
    takes: Sequence[TakeDone],
    other: TakeDone | None,
    report: Report,
) -> Contact:
    """The contact sheet of a take.

    Args:
        folder: the routine's. takes: the newest, oldest first; what they say together is told.
        other: a take whose hits stand beside; None: the arrivals do.

    Raises:
        UserError: the routine cannot be opened.
    """
    pdf = _draw(load_source(folder), take, takes, other, report)
    report(0.8, _WORDS)
    pages = sheet_pictures(pdf, _DOTS, grey=False)
    report(0.9, _WORDS)
    return Contact(pdf, pages, _in_one(pages))


def _in_one(pages: Sequence[bytes]) -> bytes:
    """Pages one below the other, as a PNG file."""
    from PIL import Image

    pictures = [Image.open(io.BytesIO(page)).convert("RGB") for page in pages]
    width, height = pictures[0].width, sum(picture.height for picture in pictures)
    whole = Image.new("RGB", (width, height), "white")
    at = 0
    for picture in pictures:
        whole.paste(picture, (0, at))
        at += picture.height
    data = io.BytesIO()
    whole.save(data, "PNG")
    return data.getvalue()


def _draw(
    source: HandoutSource,
    take: TakeDone,
    takes: Sequence[TakeDone],
    other: TakeDone | None,
    report: Report,
) -> bytes:
    title = _(
        "{title}: filmed run of {day}",
        title=source.routine.title or _("Routine"),
        day=day_text(take.filmed),
    )
    paper = Paper(PAPERS["a4"], title, head(take))
    cues = {cue.placed.id: cue for cue in source.sheet.cues}
    said = {habit.pose: habit.sentence for habit in habits(takes)}
    rows = int((paper.height - _MARGIN - _HEAD - 14) // _ROW)
    for k, read in enumerate(take.poses):
        report(0.8 * k / len(take.poses), _WORDS)
        if k % rows == 0:
            if k:
                paper.end_page()
            _draw_head(paper, title, take, other, k // rows + 1)
        y = _HEAD + _ROW * (k % rows)
        _draw_row(paper, source, take, other, k, cues.get(read.pose), y)
        if habit := said.get(read.pose):
            _lines(paper, habit, 152.0, y + 30, 46.0, DIM)
    return paper.finish()


def _draw_head(paper: Paper, title: str, take: TakeDone, other: TakeDone | None, page: int) -> None:
    width = paper.width - 2 * _MARGIN
    size = fitted(title, 14, width, STRONG, 8)
    paper.text(_MARGIN, 12, title, size, font=STRONG)
    paper.text(_MARGIN, 18, shortened(f"{take.film}: {head(take)}", 9, width), 9, grey=DIM)
    x = _MARGIN + _FIGURE + 4
    names = [
        _("at the hit"),
        _("at its arrival") if other is None else short_day_text(other.filmed),
    ]
    for k, name in enumerate(names):
        paper.text(x + k * (_STILL + 3), 24, name, 8, grey=DIM)
    foot = paper.height - _MARGIN
    for k, line in enumerate(wrap(LIMITS, 7, width - 12)):
        paper.text(_MARGIN, foot + 3.2 * k - 3, line, 7, grey=DIM)
    paper.text(paper.width - _MARGIN, foot, str(page), 8, align="right", grey=DIM)


def _draw_row(
    paper: Paper,
    source: HandoutSource,
    take: TakeDone,
    other: TakeDone | None,
    k: int,
    cue: Cue | None,
    y: float,
) -> None:
    read = take.poses[k]
    paper.line([(_MARGIN, y), (paper.width - _MARGIN, y)], thick=0.15, grey=LINE)
    if cue is not None:
        draw_body(paper, cue, source.folder, _MARGIN, y + 2, _FIGURE, _ROW - 4)
    x = _MARGIN + _FIGURE + 4
    at_hit, arrived = still_names(k)
    _draw_still(paper, source.folder, take, at_hit, x, y)
    second = _beside(other, read.pose)
    if other is None:
        _draw_still(paper, source.folder, take, arrived, x + _STILL + 3, y)
    elif second is not None:
        _draw_still(paper, source.folder, other, still_names(second)[0], x + _STILL + 3, y)
    x = 152.0
    name = shown(read.name)
    paper.text(x, y + 7, name, fitted(name, 11, 46, STRONG, 6), font=STRONG)
    words = _("not readable") if take.refused else in_words(read)
    _lines(paper, words, x, y + 13, 46.0, INK)
    if not take.refused:
        paper.text(x, y + 25, in_ms(read), 8, grey=DIM)
    if other is not None and second is not None:
        before = other.poses[second]
        told = _("then: {in_words}", in_words=in_words(before))
        _lines(paper, told, x, y + 40, 46.0, DIM)


def _beside(other: TakeDone | None, pose: str) -> int | None:
    if other is None:
        return None
    return next((k for k, read in enumerate(other.poses) if read.pose == pose), None)


def _lines(paper: Paper, text: str, x: float, y: float, width: float, grey: float) -> None:
    for k, line in enumerate(wrap(text, 8.5, width, most=3)):
        paper.text(x, y + 4 * k, line, 8.5, grey=grey)


def _draw_still(paper: Paper, folder: Path, take: TakeDone, name: str, x: float, y: float) -> None:
    path = kept_file(folder, take.folder, name) if take.folder else None
    if path is not None:
        try:
            check_picture(path)  # anyone may have put it there
            paper.picture(ImageReader(str(path)), x, y + 2, _STILL, _ROW - 4)
            return
        except (UserError, *DAMAGE):
            pass
    paper.box(x, y + 2, _STILL, _ROW - 4, line=LINE, thick=0.15)
    paper.text(x + _STILL / 2, y + _ROW / 2, _("no picture"), 8, align="middle", grey=DIM)
