"""The command line's examples, and its sentences that argparse writes, in the user's language."""

from __future__ import annotations

import argparse
from collections.abc import Container
from typing import NoReturn

from rehearse.words import LANGUAGE, SOURCE, _, ngettext

EXAMPLES = _(
    "examples:\n  rehearse open my-routine                      the window, "
    "with this routine; a zip of it, too\n  rehearse new song.mp3 my-routine"
    "              a routine folder with the song's beat map\n  rehearse "
    "check my-routine                     what is wrong with it, and what "
    "to do\n  rehearse dry-run my-routine --section Back --tempo 70 --passes"
    " 2 --out pictures\n  rehearse dry-run my-routine --round mandatories "
    "--hold 5-30 --out pictures\n  rehearse log my-routine --csv > "
    "passes.csv    what was drilled\n  rehearse film my-routine run.mp4"
    "              a filmed run: early or late at each hit\n  rehearse beats"
    " song.mp3                       time and place in the bar, a beat a "
    "line\n  rehearse cut my-routine --to 60               versions of its "
    "song within 60 s\n  rehearse handout my-routine --kind sheet --out .\n  "
    "rehearse keys --out keys.pdf                  every key, on paper\n"
)

#: Those that a user of this program can meet; argparse asks for them by their English text.
SENTENCES = (
    *(_("usage: "), _("options"), _("positional arguments"), _("show this help message and exit")),
    *(_("show program's version number and exit"), _("argument %(argument_name)s: %(message)s")),
    *(_("the following arguments are required: %s"), _("unrecognized arguments: %s")),
    *(_("expected one argument"), _("expected at most one argument")),
    *(_("expected at least one argument"), _("invalid %(type)s value: %(value)r")),
    *(_("invalid choice: %(value)r (choose from %(choices)s)"), _("ignored explicit argument %r")),
    *(_("not allowed with argument %s"), _("one of the arguments %s is required")),
    _("ambiguous option: %(option)s could match %(matches)s"),
)


def translate_argparse() -> None:
    """Let argparse look its sentences up here; it knows no other way to another language."""
    if LANGUAGE != SOURCE:
        argparse.__dict__.update({"_": _, "ngettext": ngettext})


class Parser(argparse.ArgumentParser):
    """Wrong options are one line that says what is wrong and where help is."""

    #: Of the commands.
    names: Container[str] = ()

    def error(self, message: str) -> NoReturn:
        """Leave with status 2."""
        message = message.removeprefix("argument ")
        self.exit(
            2, _("{prog}: {message_} – see {prog} --help.\n", prog=self.prog, message_=message)
        )
