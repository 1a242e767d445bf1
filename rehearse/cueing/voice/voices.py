"""The voices offered: an accent or language of the speech library, the word for "and", alphabets.

All come with the library and work offline. Digits are said in the voice's own language, so the
counts need no table of their own.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from rehearse.files.user_error import UserError
from rehearse.words import LANGUAGE, _


@dataclass(frozen=True)
class VoiceChoice:
    """One voice.

    Args:
        key: how it is called on screen and in files.
        code: the speech library's name of it.
        half: what is said on the "&" between slow counts.
        scripts: alphabets it reads, as the first word of Unicode character names.
    """

    key: str
    code: str
    half: str = "and"
    scripts: frozenset[str] = frozenset({"LATIN"})


_CYRILLIC = frozenset({"LATIN", "CYRILLIC"})
_GREEK = frozenset({"LATIN", "GREEK"})

VOICES: tuple[VoiceChoice, ...] = (
    VoiceChoice("English, British, man", "gmw/en"),
    VoiceChoice("English, British, woman", "gmw/en+f4"),
    VoiceChoice("English, American, man", "gmw/en-US"),
    VoiceChoice("English, American, woman", "gmw/en-US+f3"),
    VoiceChoice("English, Scottish, man", "gmw/en-GB-scotland"),
    VoiceChoice("German", "gmw/de", "und"),
    VoiceChoice("Dutch", "gmw/nl", "en"),
    VoiceChoice("French", "roa/fr", "et"),
    VoiceChoice("Spanish", "roa/es", "y"),
    VoiceChoice("Italian", "roa/it", "e"),
    VoiceChoice("Portuguese, Brazil", "roa/pt-BR", "e"),
    VoiceChoice("Polish", "zlw/pl", "i"),
    VoiceChoice("Russian", "zle/ru", "и", _CYRILLIC),
    VoiceChoice("Greek", "grk/el", "και", _GREEK),
)


def default_voice() -> VoiceChoice:
    """The first voice of the language of this process, else the first of all."""
    of_language = (v for v in VOICES if v.code.rpartition("/")[2].startswith(LANGUAGE))
    return next(of_language, VOICES[0])


def voice_of(key: str) -> VoiceChoice:
    """The voice called `key`.

    Raises:
        UserError: there is none.
    """
    for voice in VOICES:
        if voice.key.casefold() == key.casefold():
            return voice
    names = "; ".join(v.key for v in VOICES)
    raise UserError(
        _("there is no voice {key!r}", key=key), do=_("choose one of: {names}", names=names)
    )


def unreadable(text: str, voice: VoiceChoice) -> str:
    """Why `voice` cannot say `text`, as a clause; empty when it can."""
    spoken = [c for c in text if c.isalnum()]
    if not spoken:
        return _("has no letter to say")
    for character in spoken:
        if not character.isalpha():
            continue
        script = unicodedata.name(character, "UNKNOWN").split()[0]
        if script not in voice.scripts:
            return _("is in an alphabet the voice {key!r} cannot read", key=voice.key)
    return ""
