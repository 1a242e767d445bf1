"""A small picture of a sheet's first page, to look at before it is made."""

from __future__ import annotations

from rehearse.handout.material import Material
from rehearse.handout.report import Report
from rehearse.handout.sheet import make_sheet, sheet_pictures


def preview(
    material: Material, style: str, paper: str, dots_an_inch: float, report: Report | None = None
) -> bytes:
    """The first page as PNG.

    Raises:
        Fault: as `make_sheet`.
    """
    sheet = make_sheet(material, style=style, paper=paper, report=report)
    return sheet_pictures(sheet.pdf, dots_an_inch, most=1)[0]
