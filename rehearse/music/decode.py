"""Song file to samples, once and whole.

Conventions: the first decoded sample is time 0; the container's time stamps are never used.
"""

from __future__ import annotations

import errno
from pathlib import Path
from typing import Any

import numpy as np

from rehearse.files.atomic import user_error_of
from rehearse.files.media import SONG, Media, NoMedia, open_media, too_long
from rehearse.files.user_error import UserError
from rehearse.music import container as box
from rehearse.music import mp4_boxes
from rehearse.music.sample_collector import SampleCollector
from rehearse.music.track import Samples, Track
from rehearse.words import _
from rehearse.work.progress import Report

#: Seconds of the shortest song.
SHORTEST = 1.0
#: A song that swings less than this to either side (−80 dBFS) is silent.
SILENT = 1e-4


def load_track(path: Path | str, report: Report | None = None) -> Track:
    """Decode a song to a `Track`: two channels, its own sample rate up to 48 kHz, float32.

    Reads the containers of `files.media`: wav, aiff, flac, ogg, opus, mp3, m4a (aac, alac), webm
    and more; of a film its sound. Higher rates are brought down while it is read, nobody hears the
    difference. One channel goes to both sides, more than two are mixed down after ITU-R BS.775-4
    and turned down only when the mix would exceed full scale. Samples far beyond full scale (a
    float file with a wrong scale) are turned down too. The content hash is taken over the
    encoded sound, not over tags, cover art or file name, so it is the same on every machine.

    Args:
        path: the song.
        report: told how far it is; may raise to stop.

    Raises:
        UserError: no such file, no sound in it, empty, cut off, protected, silent, or outside 1 s
            to 30 min and 8 to 192 kHz; one sentence each.
    """
    path = Path(path)
    try:
        with open_media(path, SONG) as media:
            return _decode(media, report or (lambda fraction, text: None))
    except NoMedia as error:
        raise _no_song(path, error.number) from error
    except OSError as error:
        raise user_error_of(error, path) from error


def _decode(media: Media, report: Report) -> Track:
    path, stream, kind = media.path, media.sound, media.kind
    if stream is None:
        raise UserError(_("has no sound in it"), where=path.name, do=_("choose a sound file"))
    if "mp4" in kind and mp4_boxes.is_protected(path):
        raise UserError(
            _("is protected against copying and cannot be read"),
            where=path.name,
            do=_("use a copy bought without protection"),
        )
    stated = _stated(media.container, stream)
    slack = box.allowance(path, kind)
    if slack is not None and stated > SONG.length:
        raise too_long(path, SONG)
    collector = SampleCollector(path, stated, report)
    for packet, frames in media.decoded(stream):
        collector.digest.update(packet)
        for frame in frames:
            collector.add(frame)
    samples, rate = collector.finish()
    seconds = collector.seconds
    if slack is not None and seconds < stated - slack:
        raise _cut_off(
            path,
            _("only {seconds:.1f} s of {stated:.1f} s can be read", seconds=seconds, stated=stated),
        )
    if box.is_cut_off(path, kind):
        raise _cut_off(path, _("only {seconds:.1f} s can be read", seconds=seconds))
    _check(path, samples, seconds)
    samples.flags.writeable = False
    return Track(samples, rate, collector.content_hash(stream.codec_context.name), path.stem)


def _stated(opened: Any, stream: Any) -> float:
    """Seconds of sound that the file says it holds; 0 when it does not say."""
    if stream.duration:
        stated = float(stream.duration * stream.time_base)
    else:
        stated = float(opened.duration or 0) / 1e6
    return max(0.0, stated)  # a damaged head may state less than nothing


def _no_song(path: Path, number: int) -> UserError:
    if mp4_boxes.is_short(path):
        return _cut_off(path, _("its index is missing, nothing can be read"))
    if number == errno.EIO:
        return _cut_off(path, _("nothing can be read"))
    return UserError(_("is not a song"), where=path.name, do=_("choose a sound file"))


def _cut_off(path: Path, how: str) -> UserError:
    return UserError(
        _("is cut off: {how}", how=how), where=path.name, do=_("copy the whole file again")
    )


def _check(path: Path, samples: Samples, seconds: float) -> None:
    if seconds < SHORTEST:
        raise UserError(
            _("holds less than a second of sound"), where=path.name, do=_("choose a song")
        )
    # A constant offset makes no sound either.
    if all(float(np.ptp(channel)) < 2 * SILENT for channel in samples.T):
        raise UserError(
            _("is silent from end to end"), where=path.name, do=_("choose another song")
        )
