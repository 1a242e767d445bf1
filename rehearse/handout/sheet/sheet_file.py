"""A routine to the bytes of a PDF, and a PDF to pictures of its pages."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass

from rehearse.files.user_error import UserError
from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.sheet import sheet_text
from rehearse.handout.sheet.machine import package_for
from rehearse.handout.sheet.pages import draw_pages
from rehearse.handout.sheet.paper import PAPERS, Paper
from rehearse.handout.sheet.pose_row import PAGES, WALL
from rehearse.handout.sheet.typesetting import unprintable
from rehearse.handout.sheet.wallet import draw_wallet
from rehearse.words import _
from rehearse.work.progress import Report

#: The kinds of sheet, with their words.
STYLES = {
    "pages": _("routine sheet"),
    "wallet": _("cards for the wallet, one page"),
    "wall": _("large print for the wall"),
}


@dataclass(frozen=True)
class Sheet:
    """A finished PDF and sentences about what could not be printed as wished."""

    pdf: bytes
    warnings: tuple[str, ...] = ()


def make_sheet(
    source: HandoutSource, *, style: str = "pages", paper: str = "a4", report: Report | None = None
) -> Sheet:
    """Draw the routine.

    Args:
        style: key of `STYLES`. paper: "a4" or "letter".

    Raises:
        UserError: an unknown style or paper, no poses, or more poses than wallet cards hold.
    """
    if style not in STYLES or paper not in PAPERS:
        known = f"{', '.join(STYLES)}; {', '.join(PAPERS)}"
        raise UserError(
            _("there is no sheet {style!r} on {paper!r}", style=style, paper=paper),
            do=_("choose from: {known}", known=known),
        )
    if not source.sheet.cues:
        raise UserError(
            _("the routine has no poses yet"), do=_("place one on the Routine page first")
        )
    document = Paper(
        PAPERS[paper], source.routine.title or _("Routine"), sheet_text.occasion(source)
    )
    warnings = dict.fromkeys(_lost(source))

    def told(fraction: float) -> None:
        if report:
            report(fraction, _("page by page"))

    def warn(sentence: str) -> None:
        warnings[sentence] = None

    if style == "wallet":
        draw_wallet(document, source, warn)
    else:
        rows = PAGES if style == "pages" else WALL
        draw_pages(document, source, rows, warn, told, with_chart=style == "pages")
    return Sheet(document.finish(), tuple(warnings))


def _lost(source: HandoutSource) -> Iterator[str]:
    routine = source.routine
    texts = [routine.title, routine.show, routine.division]
    texts += [p.note for p in routine.poses] + [c.name for c in source.sheet.cues]
    lost = unprintable("".join(texts))
    if lost:
        packages = " ".join(filter(None, dict.fromkeys(package_for(ord(c)) for c in lost)))
        do = (
            _("fonts are in the package {packages}", packages=packages)
            if packages
            else _("install a font that has them")
        )
        yield (
            _(
                "No font of this machine has {lost} – a question mark stands for each; {do}.",
                lost=" ".join(lost[:8]),
                do=do,
            )
        )


def sheet_pictures(
    pdf: bytes, dots_an_inch: float = 150.0, *, most: int | None = None, grey: bool = True
) -> tuple[bytes, ...]:
    """The pages of a PDF, each as a PNG, grey or not; `most` leaves out the later ones."""
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    try:
        pictures = []
        for number in range(len(document))[:most]:
            page = document[number].render(scale=dots_an_inch / 72, grayscale=grey)
            data = io.BytesIO()
            page.to_pil().save(data, "PNG")
            pictures.append(data.getvalue())
        return tuple(pictures)
    finally:
        document.close()
