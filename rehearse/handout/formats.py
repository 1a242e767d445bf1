"""The formats sound is written in: mp3, m4a, flac and wav."""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.files.user_error import UserError
from rehearse.words import _


@dataclass(frozen=True)
class AudioFormat:
    """One way to write sound.

    Args:
        key: what the user calls it; also the file's ending.
        container, codec, sample_format: FFmpeg's names.
        bit_rate: bits a second for a lossy one, else 0.
        rates: sample rates it can carry.
        extras: whether players find chapters and a cover in it.
        muxer: the container's options.
        thorough, quick: the encoder's options for the best sound, and for more speed.
    """

    key: str
    container: str
    codec: str
    sample_format: str
    bit_rate: int = 0
    rates: tuple[int, ...] = ()
    extras: bool = True
    muxer: tuple[tuple[str, str], ...] = ()
    thorough: tuple[tuple[str, str], ...] = ()
    quick: tuple[tuple[str, str], ...] = ()

    @property
    def lossy(self) -> bool:
        """Whether decoding gives other samples than were put in."""
        return self.bit_rate > 0


_MPEG = (32000, 44100, 48000)
FORMATS: dict[str, AudioFormat] = {
    f.key: f
    for f in (
        AudioFormat(
            *("mp3", "mp3", "libmp3lame", "fltp", 320_000, _MPEG),
            # The encoder's own choice; "2" takes twice as long for the same error at 320 kbit/s.
            thorough=(("compression_level", "5"),),
            quick=(("compression_level", "7"),),
        ),
        AudioFormat(
            *("m4a", "mp4", "aac", "fltp", 256_000, _MPEG),
            muxer=(("brand", "M4A "),),
            quick=(("aac_coder", "fast"),),
        ),
        AudioFormat("flac", "flac", "flac", "s16"),
        AudioFormat("wav", "wav", "pcm_s16le", "s16", extras=False),
    )
}


def format_of(key: str) -> AudioFormat:
    """The format called `key`; "aac" is an m4a.

    Raises:
        UserError: there is none.
    """
    found = FORMATS.get({"aac": "m4a"}.get(key.lstrip(".").lower(), key.lstrip(".").lower()))
    if found is None:
        raise UserError(
            _("there is no sound format {key!r}", key=key),
            do=_("choose one of: {formats}", formats=", ".join(FORMATS)),
        )
    return found


def carried_rate(form: AudioFormat, sample_rate: int) -> int:
    """`sample_rate` when `form` can carry it, else 44.1 kHz."""
    return sample_rate if not form.rates or sample_rate in form.rates else 44100
