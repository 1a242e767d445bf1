"""The routine on paper: sheet, wallet cards, large print for the wall; PDF or pictures."""

from rehearse.handout.sheet.sheet_file import STYLES, Sheet, make_sheet, sheet_pictures

__all__ = ["STYLES", "Sheet", "make_sheet", "sheet_pictures"]
