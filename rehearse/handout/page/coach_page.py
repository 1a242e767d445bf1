"""One HTML file that needs nothing else: its script, style, figures and music are in it.

Nothing of the routine can run in it: names and notes are values of a JSON text in which no `<`
stands, its script puts them in as text, and the policy in its head names the one script and the
one style that may work by their SHA-256 (Content Security Policy Level 3) and forbids the network.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from dataclasses import replace

from rehearse.files.locations import resource
from rehearse.files.user_error import UserError
from rehearse.handout.encode import encode
from rehearse.handout.formats import carried_rate, format_of
from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.page.figures import figures_of
from rehearse.handout.page.page_data import page_data
from rehearse.handout.stage_music import stage_sound
from rehearse.music.track import Track
from rehearse.routine.model import StagePart
from rehearse.words import LANGUAGE, _
from rehearse.work.progress import Report, between

#: Bytes of the whole page at most; of its music and its figures before they are written as text.
LONGEST_PAGE = 6_000_000
_MUSIC, _FIGURES = 2_300_000, 1_800_000
#: Bits a second of the music.
_BEST, _LEAST = 128_000, 48_000


def make_page(
    source: HandoutSource, track: Track, base: str, report: Report | None = None
) -> bytes:
    """The page.

    Args:
        base: fingerprint of the routine's state, which its remarks will name.
        report: told how far it is; may raise to stop.

    Raises:
        UserError: it would be larger than 6 MB.
    """
    told = report or (lambda fraction, words: None)
    told(0.0, _("drawing the figures"))
    figures = figures_of(source.sheet, _FIGURES)
    music = _music(source, track, between(told, 0.5, 0.9))
    told(0.9, _("putting the page together"))
    page = _page(
        language=LANGUAGE,
        title=html.escape(source.routine.title or _("Routine")),
        routine=_json(page_data(source, figures, base)),
        figures=base64.b64encode(figures.data).decode(),
        music=base64.b64encode(music).decode(),
    ).encode()
    if len(page) > LONGEST_PAGE:
        size = _(
            "{number:.1f} MB, and {longest_page:.0f} are the most",
            number=len(page) / 1000000.0,
            longest_page=LONGEST_PAGE / 1000000.0,
        )
        raise UserError(
            _("the page would have {size}", size=size), do=_("make the stage part shorter")
        )
    told(1.0, _("putting the page together"))
    return page


def _music(source: HandoutSource, track: Track, report: Report) -> bytes:
    sheet, form = source.sheet, format_of("m4a")
    stage = source.routine.stage or StagePart(sheet.start, sheet.end)
    rate = carried_rate(form, track.sample_rate)
    sound = stage_sound(track, replace(stage, start=sheet.start, end=sheet.end), 0.0, rate)
    bits = int(min(_BEST, max(_LEAST, 8 * _MUSIC / max(1.0, len(sound) / rate))))
    return encode(sound, rate, form, bit_rate=bits, quick=True, report=report)


def _json(values: object) -> str:
    """JSON that can stand in a script element: no markup begins in it."""
    text = json.dumps(values, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for letter in "<>&\u2028\u2029":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text.encode("utf-8", "replace").decode()


def _page(**parts: str) -> str:
    style, script = (
        resource(f"page/page.{kind}").read_text(encoding="utf-8") for kind in ("css", "js")
    )
    policy = (
        f"default-src 'none'; script-src '{_digest(script)}'; style-src '{_digest(style)}'; "
        "media-src blob:; img-src data:; base-uri 'none'; form-action 'none'"
    )
    values = parts | {"style": style, "script": script, "policy": policy}
    template = resource("page/page.html").read_text(encoding="utf-8")
    # In one go, so that nothing that is put in is looked at again.
    return re.sub(r"\{\{(\w+)\}\}", lambda found: values[found[1]], template)


def _digest(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
