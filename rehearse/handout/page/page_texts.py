"""The texts of the coach's page, as `resources/page/` has them in English."""

from __future__ import annotations

from rehearse.words import LANGUAGE, SOURCE, _


def page_texts() -> dict[str, str]:
    """What stands for each English text; empty where the page is in English."""
    if LANGUAGE == SOURCE:
        return {}
    return {
        "Player": _("Player"),
        "Controls": _("Controls"),
        "Place in the music": _("Place in the music"),
        "Play": _("Play"),
        "Pause": _("Pause"),
        "Pose before": _("Pose before"),
        "Next pose": _("Next pose"),
        "Tempo": _("Tempo"),
        "Section": _("Section"),
        "Loop": _("Loop"),
        "Remark here": _("Remark here"),
        (
            "Space plays and stops, ← and → go to the pose before and the next,"
            " − and + change the tempo, L loops."
        ): _(
            "Space plays and stops, ← and → go to the pose before and the next,"
            " − and + change the tempo, L loops."
        ),
        "Poses": _("Poses"),
        "Remarks": _("Remarks"),
        "Your remarks": _("Your remarks"),
        "Your name": _("Your name"),
        ("No remark yet: write one at a pose, a move or a place in the music."): _(
            "No remark yet: write one at a pose, a move or a place in the music."
        ),
        "Save the remarks": _("Save the remarks"),
        "Copy as text": _("Copy as text"),
        "The remarks as text": _("The remarks as text"),
        (
            "Send the saved file or the text to the athlete, who drops it on "
            "the window of Rehearse. Mandatory poses, rules and time limits: "
            "the show's own sheet decides."
        ): _(
            "Send the saved file or the text to the athlete, who drops it on "
            "the window of Rehearse. Mandatory poses, rules and time limits: "
            "the show's own sheet decides."
        ),
        "seconds": _("seconds"),
        "count {}": _("count {}"),
        "free time": _("free time"),
        "held: {}": _("held: {}"),
        " of {}": _(" of {}"),
        "The browser does not play this sound. Try another browser.": _(
            "The browser does not play this sound. Try another browser."
        ),
        "Remark on {}": _("Remark on {}"),
        "Hit on": _("Hit on"),
        "Hold": _("Hold"),
        "as it is: {}": _("as it is: {}"),
        "Facing": _("Facing"),
        "Another pose": _("Another pose"),
        "Keep the remark": _("Keep the remark"),
        "Write a remark, or choose a change.": _("Write a remark, or choose a change."),
        "No more remarks have room: save these first.": _(
            "No more remarks have room: save these first."
        ),
        "Copied.": _("Copied."),
        "The text is marked below: copy it.": _("The text is marked below: copy it."),
        "Cancel": _("Cancel"),
        "Delete": _("Delete"),
        "Play from here": _("Play from here"),
        "Kept: {}. Save the remarks before you close the page.": _(
            "Kept: {}. Save the remarks before you close the page."
        ),
        "Delete the remark on {}": _("Delete the remark on {}"),
        "Saved as {}.": _("Saved as {}."),
        "hold {}": _("hold {}"),
        "Remark": _("Remark"),
        " before {}": _(" before {}"),
        "Remark on the move {}": _("Remark on the move {}"),
        "Play from before {}": _("Play from before {}"),
        "hit": _("hit"),
        "hold": _("hold"),
        "facing": _("facing"),
        "pose": _("pose"),
    }
