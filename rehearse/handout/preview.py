"""A small picture of a sheet's first page, to look at before it is made."""

from __future__ import annotations

from rehearse.handout.loudness import Report
from rehearse.handout.material import Material
from rehearse.handout.sheet import make_sheet, sheet_pictures


def preview(
    material: Material, style: str, paper: str, dots_an_inch: float, report: Report | None = None
) -> tuple[bytes, int]:
    """The first page as PNG, and how many pages there are.

    Raises:
        Fault: as `make_sheet`.
    """
    pictures = sheet_pictures(
        make_sheet(material, style=style, paper=paper, report=report).pdf, dots_an_inch
    )
    return pictures[0], len(pictures)
