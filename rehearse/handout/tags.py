"""Chapters and cover in the way each format has them, written after the sound.

mp3: ID3v2 chapter frames (CHAP, CTOC; "ID3v2 Chapter Frame Addendum" 1.0) and APIC; m4a: cover
atom, chapters already written by the muxer; flac: picture block and CHAPTERxxx comments; wav:
title only.
"""

from __future__ import annotations

import io

from rehearse.handout.encode import AudioFormat, Label


def add(file: io.BytesIO, form: AudioFormat, label: Label) -> None:
    """Add to the finished file what its muxer could not."""
    if not label.chapters and not label.cover:
        return
    file.seek(0)
    if form.key == "mp3":
        _mp3(file, label)
    elif form.key == "m4a" and label.cover:
        _m4a(file, label)
    elif form.key == "flac":
        _flac(file, label)


def _mp3(file: io.BytesIO, label: Label) -> None:
    from mutagen import id3

    tags = id3.ID3(file)
    names = [f"chp{k}" for k in range(len(label.chapters))]
    for name, chapter in zip(names, label.chapters, strict=True):
        tags.add(
            id3.CHAP(
                element_id=name,
                start_time=round(chapter.start * 1000),
                end_time=round(chapter.end * 1000),
                start_offset=0xFFFFFFFF,
                end_offset=0xFFFFFFFF,
                sub_frames=[id3.TIT2(encoding=3, text=chapter.title)],
            )
        )
    if names:
        top = id3.CTOCFlags.TOP_LEVEL | id3.CTOCFlags.ORDERED
        tags.add(id3.CTOC(element_id="toc", flags=top, child_element_ids=names, sub_frames=[]))
    if label.cover:
        tags.add(id3.APIC(encoding=3, mime="image/png", type=3, desc="", data=label.cover))
    file.seek(0)
    tags.save(file, v2_version=3)


def _m4a(file: io.BytesIO, label: Label) -> None:
    from mutagen import mp4

    sound = mp4.MP4(file)
    sound["covr"] = [mp4.MP4Cover(label.cover, imageformat=mp4.MP4Cover.FORMAT_PNG)]
    file.seek(0)
    sound.save(file)


def _flac(file: io.BytesIO, label: Label) -> None:
    from mutagen import flac

    sound = flac.FLAC(file)
    for k, chapter in enumerate(label.chapters, 1):
        minutes, seconds = divmod(chapter.start, 60)
        hours, minutes = divmod(int(minutes), 60)
        sound[f"CHAPTER{k:03d}"] = f"{hours:02d}:{minutes:02d}:{seconds:06.3f}"
        sound[f"CHAPTER{k:03d}NAME"] = chapter.title
    if label.cover:
        picture = flac.Picture()
        picture.type, picture.mime, picture.data = 3, "image/png", label.cover
        sound.add_picture(picture)
    file.seek(0)
    sound.save(file)
