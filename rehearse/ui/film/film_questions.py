"""What is asked about a film before anything is done with it."""

from __future__ import annotations

from collections.abc import Callable

from rehearse.ui.questions import Answer, Question
from rehearse.words import _

Act = Callable[[], object]


def lay_by_clap(film: str, lay: Act, by_hand: Act) -> Question:
    """Whether a film without the routine's music is its run: every routine's clap is the same."""
    sentence = _(
        "Not this routine's music, only a clap is heard in {film}: it may be another run.",
        film=film,
    )
    answers = Answer(_("Lay it by the clap"), "L", lay), Answer(_("Set by hand"), "H", by_hand)
    return Question(sentence, answers)


def delete_film(film: str, delete: Act, keep: Act) -> Question:
    """Whether what is kept of a film goes."""
    sentence = _("Delete the film and stills kept of {film}? Its readings stay.", film=film)
    return Question(sentence, (Answer(_("Delete"), "L", delete), Answer(_("Keep"), "K", keep)))
