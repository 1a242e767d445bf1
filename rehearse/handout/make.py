"""From a routine folder and a choice to files: the same for the command and the window."""

from __future__ import annotations

import contextlib
import functools
import glob
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeAlias

from rehearse.files.atomic import save_atomic
from rehearse.files.door import read_inside
from rehearse.files.inside import safe_name
from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import MAX_BYTES
from rehearse.handout.checklist import as_text, checklist
from rehearse.handout.coach_zip import missing_pictures, write_bundle
from rehearse.handout.cue_plan import find_section, words_of
from rehearse.handout.cue_track import write_cue_track
from rehearse.handout.cue_video import FramePainter, VideoScene, write_cue_video
from rehearse.handout.encode import Label
from rehearse.handout.formats import AudioFormat, format_of
from rehearse.handout.handout_options import KINDS, HandoutOptions, misplaced
from rehearse.handout.handout_source import HandoutSource, load_source
from rehearse.handout.naming import (
    ending_of,
    file_name,
    kept_words,
    length_words,
    target,
)
from rehearse.handout.page import make_page
from rehearse.handout.preview import speech_engine_of
from rehearse.handout.round_track import write_round_track
from rehearse.handout.sheet import STYLES, make_sheet, sheet_pictures
from rehearse.handout.sheet.sheet_text import limit_of
from rehearse.handout.stage_music import StageMusic, write_stage_music
from rehearse.routine.folder import open_folder
from rehearse.routine.model import StagePart
from rehearse.routine.remarks import fingerprint
from rehearse.routine.rounds import RoundWish
from rehearse.routine.versions import ROUTINE, keep_copied
from rehearse.routine.zip_import import ENDING
from rehearse.session.round_dry_run import background_music, round_of
from rehearse.session.round_options import alone
from rehearse.words import _, number_text
from rehearse.work.progress import Report

#: How the sentence about each kind of sheet begins.
_SAID = {
    "pages": _("The routine sheet is"),
    "wallet": _("The cards for the wallet are"),
    "wall": _("The large print for the wall is"),
}


_Maker: TypeAlias = "Callable[[HandoutSource, Path, HandoutOptions, Report | None], HandoutResult]"


@dataclass(frozen=True)
class HandoutResult:
    """What was made: the files, one sentence that says how it went, and warnings."""

    paths: tuple[Path, ...]
    sentence: str
    warnings: tuple[str, ...] = ()


def make(
    folder: Path,
    kind: str,
    out: Path,
    options: Any = None,
    report: Report | None = None,
    *,
    painter: Callable[[VideoScene], FramePainter] | None = None,
) -> HandoutResult:
    """Make one handout; arguments and faults as `rehearse.handout.make_handout`."""
    makers: dict[str, _Maker] = {
        "sheet": _sheet,
        "cue-track": _cue_track,
        "cue-video": functools.partial(_cue_video, painter),
        "stage-music": _stage_music,
        "page": _coach_page,
        "zip": _zip,
    }
    if kind not in makers:
        raise UserError(
            _("there is no handout {kind!r}", kind=kind),
            do=_("choose one of: {kinds}", kinds=", ".join(KINDS)),
        )
    if not isinstance(options, HandoutOptions) and (wrong := misplaced(options, kind)):
        raise UserError(
            _("{wrong} is for another kind than {kind}", wrong=wrong, kind=kind),
            do=_("leave it out"),
        )
    if not isinstance(options, HandoutOptions) and (wrong := alone(options)):
        raise UserError(_("{wrong} is for a comparison round", wrong=wrong), do=_("add --round"))
    chosen = HandoutOptions.of(options) if options is not None else HandoutOptions()
    if kind == "cue-track" and chosen.called is not None:
        return _round_track(Path(folder), chosen.called, out, chosen, report)
    source = load_source(Path(folder))
    return makers[kind](source, out, chosen, report)


def _sheet(
    source: HandoutSource, out: Path, options: HandoutOptions, report: Report | None
) -> HandoutResult:
    ending = options.format or ending_of(out) or "pdf"
    if ending not in ("pdf", "png"):
        raise UserError(
            _("a sheet cannot be written as {ending!r}", ending=ending), do=_("choose pdf or png")
        )
    sheet = make_sheet(source, style=options.style, paper=options.paper, report=report)
    name, said = STYLES[options.style].split(",")[0], _SAID[options.style]
    pages = (sheet.pdf,) if ending == "pdf" else sheet_pictures(sheet.pdf)
    beside = [_(" page {k}", k=k) for k in range(1, len(pages) + 1)] if len(pages) > 1 else [""]
    name = safe_name(f"{_title(source)} {name}")
    first = target(out, name, ending, beside)
    kept = kept_words(first, out, name)
    paths = [first.with_name(f"{first.stem}{more}{first.suffix}") for more in beside]
    for path, page in zip(paths, pages, strict=True):
        save_atomic(path, page)
    where = (
        paths[0].name
        if len(paths) == 1
        else _("{number} pictures, {name} and on", number=len(paths), name=paths[0].name)
    )
    return HandoutResult(
        tuple(paths),
        _("{said} in {where}.", said=said, where=where),
        (*kept, *source.doubt(), *sheet.warnings),
    )


def _sound_format(out: Path, options: HandoutOptions) -> AudioFormat:
    return format_of(options.format or ending_of(out) or "mp3")


def _cue_track(
    source: HandoutSource, out: Path, options: HandoutOptions, report: Report | None
) -> HandoutResult:
    form = _sound_format(out, options)
    sections = tuple(find_section(source, name).section.name for name in options.section)
    plan = replace(options.cue_plan, sections=sections)
    name = safe_name(_("{title} cues {words}", title=_title(source), words=words_of(plan)))
    path = target(out, name, form.key)
    kept = kept_words(path, out, name)
    speech_engine = speech_engine_of(source.folder, options)
    track = source.song()
    written = write_cue_track(source, track, path, plan, speech_engine, form=form, report=report)
    chapters = len(written.chapters) if form.extras else 0
    several = {0: _("no chapters"), 1: _("1 chapter")}.get(
        chapters, _("{chapters} chapters", chapters=chapters)
    )
    loud = number_text(written.loudness.integrated, ".1f").replace("-", "−")
    sentence = _(
        "The cue track is in {name}: {length:.0f} s, {loud} LUFS, {several}.",
        name=path.name,
        length=written.length,
        loud=loud,
        several=several,
    )
    return HandoutResult((path,), sentence, (*kept, *written.warnings))


def _round_track(
    folder: Path, wish: RoundWish, out: Path, options: HandoutOptions, report: Report | None
) -> HandoutResult:
    """A comparison round, which needs neither poses nor, without background, a song."""
    form, opened = _sound_format(out, options), open_folder(folder)
    made = round_of(opened.folder, wish)
    title = opened.routine.title or opened.folder.name
    name = safe_name(f"{title} {made.words.lower()}")
    path = target(out, name, form.key)
    kept = kept_words(path, out, name)
    music = background_music(opened.folder, options.background, options.background_song, report)
    speech_engine = speech_engine_of(opened.folder, options)
    written = write_round_track(made, title, path, speech_engine, form, music=music, report=report)
    loud = number_text(written.loudness.integrated, ".1f").replace("-", "−")
    sentence = _(
        "{words} are in {name}: {number} calls, {length:.0f} s, {loud} LUFS. "
        "Seed {seed} makes the same again.",
        words=made.words,
        name=path.name,
        number=len(made.calls),
        length=written.length,
        loud=loud,
        seed=made.seed,
    )
    return HandoutResult((path,), sentence, (*kept, *speech_engine.errors, *made.notes))


def _cue_video(
    painter: Callable[[VideoScene], FramePainter] | None,
    source: HandoutSource,
    out: Path,
    options: HandoutOptions,
    report: Report | None,
) -> HandoutResult:
    if painter is None:
        raise ValueError("a cue video needs a painter of the stage display")
    ending = options.format or ending_of(out) or "mp4"
    if ending != "mp4":
        raise UserError(
            _("a video cannot be written as {ending!r}", ending=ending), do=_("choose mp4")
        )
    sections = tuple(find_section(source, name).section.name for name in options.section)
    plan = replace(options.cue_plan, sections=sections)
    upright = _(" upright") if options.screen == "upright" else ""
    name = safe_name(
        _("{title} video {words}", title=_title(source), words=words_of(plan)) + upright
    )
    path = target(out, name, "mp4")
    kept = kept_words(path, out, name)
    written = write_cue_video(
        source,
        source.song(),
        path,
        plan,
        speech_engine_of(source.folder, options),
        painter,
        screen=options.screen,
        steady=options.steady,
        report=report,
    )
    size = _("{st_size:.1f} MB", st_size=path.stat().st_size / 1000000.0)
    sentence = _(
        "The cue video is in {name}: {length:.0f} s, {size}.",
        name=path.name,
        length=written.length,
        size=size,
    )
    return HandoutResult((path,), sentence, (*kept, *written.warnings))


def _stage_music(
    source: HandoutSource, out: Path, options: HandoutOptions, report: Report | None
) -> HandoutResult:
    form = _sound_format(out, options)
    routine, track = source.routine, source.song()
    part = routine.stage or StagePart(0.0, track.duration)
    part = replace(part, end=min(part.end, track.duration))
    values = {
        "number": options.number,
        "name": options.name,
        "division": routine.division if options.division is None else options.division,
        "length": length_words(part.length),
        "title": routine.title,
        "show": routine.show,
    }
    name = file_name(options.pattern, values, _title(source))
    path = target(out, name, form.key)
    kept = kept_words(path, out, name)
    label = Label(title=options.name or routine.title, album=routine.show)
    made = write_stage_music(
        track, part, path, form=form, silence=options.silence, label=label, report=report
    )
    limit = limit_of(source)
    items = checklist(
        length=part.length,
        limit=limit,
        ending=form.key,
        labelled=bool(options.name or options.number or values["division"]),
        silence=options.silence,
    )
    text = as_text(items, path.name)
    notes = _checklist_of(path, name, text)
    save_atomic(notes, text.encode())
    return HandoutResult((path, notes), _checked(made), (*kept, *_over(part.length, limit)))


def _coach_page(
    source: HandoutSource, out: Path, options: HandoutOptions, report: Report | None
) -> HandoutResult:
    ending = options.format or ending_of(out) or "html"
    if ending != "html":
        raise UserError(
            _("a page cannot be written as {ending!r}", ending=ending), do=_("choose html")
        )
    name = safe_name(_("{title} page", title=_title(source)))
    path = target(out, name, "html")
    kept = kept_words(path, out, name)
    track = source.song()
    # Where the folder cannot be written its earlier saves must do when remarks come back.
    with contextlib.suppress(UserError):
        keep_copied(source.folder)
    base = fingerprint(read_inside(source.folder, ROUTINE, MAX_BYTES))
    page = make_page(source, track, base, report)
    save_atomic(path, page)
    sentence = _(
        "The coach's page is in {name}: {number:.1f} MB.",
        name=path.name,
        number=len(page) / 1000000.0,
    )
    return HandoutResult((path,), sentence, kept)


def _checklist_of(path: Path, name: str, text: str) -> Path:
    """Where the checklist goes: over an earlier one that nobody has ticked, else beside it.

    The earlier one is known by its lines: its name may be in another language.
    """
    for earlier in sorted(path.parent.glob(f"{glob.escape(name)}*.txt")):
        found = earlier.read_bytes()[: 2 * len(text.encode())].decode("utf-8", "replace")
        # The first line names the music file.
        if found.partition("\n")[2] == text.partition("\n")[2]:
            return earlier
    return target(path.parent, _("{stem} checklist", stem=path.stem), "txt")


def _checked(made: StageMusic) -> str:
    words = _(
        "{name} was decoded again: {length:.3f} s, as set", name=made.path.name, length=made.length
    )
    if made.lowered > 0.005:
        words += _("; turned down by {lowered:.1f} dB so that nothing clips", lowered=made.lowered)
    return f"{words}."


def _over(length: float, limit: float | None) -> tuple[str, ...]:
    if limit is None or round(length - limit, 3) <= 0:
        return ()
    over = length - limit
    return (
        _(
            "The music is {over:.1f} s over the limit of {limit:g} s – trim it on the Music page.",
            over=over,
            limit=limit,
        ),
    )


def _zip(
    source: HandoutSource, out: Path, options: HandoutOptions, report: Report | None
) -> HandoutResult:
    name = safe_name(_title(source)) or "routine"
    path = target(out, name, "zip" if ending_of(out) else ENDING)
    kept = kept_words(path, out, name)
    write_bundle(source, path, music=options.music, log=options.log, report=report)
    song = source.routine.track
    words = (
        "" if options.music else _(", once its song, {song}, lies in its folder there", song=song)
    )
    sentence = _("{name} opens on another machine as it is{words}.", name=path.name, words=words)
    return HandoutResult((path,), sentence, (*kept, *source.doubt(), *missing_pictures(source)))


def _title(source: HandoutSource) -> str:
    return source.routine.title or source.folder.name
