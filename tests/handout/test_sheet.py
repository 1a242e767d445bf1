"""The routine on paper, read back by outside tools: text, fonts, boxes, contrast.

Sources: 4:8 time at 120 BPM, count 0.500 s, eight 4.000 s (arithmetic of common practice);
WCAG 2.2 SC 1.4.6 (7:1) for the contrast; ISO 216 A4 210 × 297 mm, US Letter 8.5 × 11 in.
"""

from __future__ import annotations

import io
import itertools
import random
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from rehearse.files.user_error import UserError
from rehearse.handout.handout_source import load_source, make_source
from rehearse.handout.sheet import STYLES, make_sheet, sheet_pictures
from rehearse.handout.sheet import paper as paper_module
from rehearse.handout.sheet.eights import cue_eights, eights
from rehearse.handout.sheet.sheet_text import clock, place
from rehearse.music.beatmap import Accent, BeatMap, Stretch
from rehearse.music.position import Length, Seconds
from rehearse.routine.model import Placed, Routine, Section
from rehearse.routine.poses import load_catalogue

DEMO = Path(__file__).resolve().parents[2] / "demo" / "copper-lights"
WORD = re.compile(
    r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">(.*?)</word>'
)
NOTES = (
    "",
    "Breathe out, then lock the legs.",
    "Wait for the cymbal, turn the palm late and keep the chest high until the very end of it",
    "Ein_einziges_sehr_langes_Wort_ohne_eine_Stelle_an_der_es_umbrochen_werden_könnte_" * 3,
)


def many(poses, folder, seed=1, tempo=0.5, longest=99):
    """A routine of `poses` poses, every eight or nine counts, with every length of note."""
    chance = random.Random(seed)
    beats = tuple(round(1.0 + tempo * k, 6) for k in range(poses * 9 + 24))
    beatmap = BeatMap(
        "h",
        beats[-1] + 2.0,
        beats,
        tuple(k % 4 + 1 for k in range(len(beats))),
        accents=tuple(Accent(t, 0.8) for t in beats[::7]),
        quiets=(Stretch(beats[20], beats[30]),),
    )
    names = [p.name for p in load_catalogue().poses if len(p.name) <= longest]
    placed = []
    index = 8
    for k in range(poses):
        placed.append(
            Placed(
                f"{k:08x}",
                chance.choice(names),
                beatmap.counts[index],
                Length(chance.choice([3, 4, 5])),
                Length(chance.choice([1, 2, 3])),
                note=chance.choice(NOTES),
            )
        )
        index += chance.choice([8, 9])
    title = "A title that is rather long for one line of a sheet, as some are"
    parts = [*placed[::5], placed[-1]]
    sections = tuple(
        Section(f"{k:08x}", f"Part {k + 1}", one.hit, other.hit)
        for k, (one, other) in enumerate(itertools.pairwise(parts))
        if one is not other
    )
    routine = Routine(
        title, "t.ogg", show="Harbour Classic", poses=tuple(placed), sections=sections
    )
    return make_source(folder, routine, beatmap)


def words_of(pdf, tmp_path, tool):
    """For each page the boxes (x0, y0, x1, y1 in points, text) of its words."""
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf)
    shown = tool("pdftotext", "-bbox", str(path), "-")
    pages = shown.split("<page ")[1:]
    return [
        [(*map(float, m.groups()[:4]), m.group(5)) for m in WORD.finditer(page)] for page in pages
    ]


def overlaps(words):
    """Pairs of words that cover each other by more than a tenth of the smaller one."""
    found = []
    for a, b in itertools.combinations(words, 2):
        wide = min(a[2], b[2]) - max(a[0], b[0])
        high = min(a[3], b[3]) - max(a[1], b[1])
        if wide > 0.3 and high > 0:
            small = min((w[2] - w[0]) * (w[3] - w[1]) for w in (a, b))
            # Boxes are as high as the face's lines, more than its letters: lines set close
            # share a fifth of them without touching.
            if wide * high > 0.25 * small:
                found.append((a[4], b[4], round(wide, 1), round(high, 1)))
    return found


def test_the_demo_like_routine_reads_as_a_choreographer_writes_it(source, tmp_path, tool):
    sheet = make_sheet(source)
    text = " ".join(w[4] for page in words_of(sheet.pdf, tmp_path, tool) for w in page)
    for words in (
        "Test Night / Übung",
        "Harbour Classic",
        "front double biceps",
        "transition 2 counts from 1:7",
        "hold 4 counts to 2:5",
        "back, standing",
        "front, standing",
        "Breathe out, then lock the legs.",
        "Дыши спокойно",
        "7:7&amp;",
        "0:04.0",
        "Full count chart",
        "6 poses",
        "17 April 2027",
        "Opening 2:1",
        "Back 4:5",
        "120 counts a minute",
    ):
        assert words in text, words
    assert sheet.warnings == ()


@pytest.mark.parametrize("style", list(STYLES))
@pytest.mark.parametrize(("paper", "size"), [("a4", "595.276 x 841.89"), ("letter", "612 x 792")])
def test_fonts_are_embedded_and_pages_have_their_size(source, tmp_path, tool, style, paper, size):
    path = tmp_path / "sheet.pdf"
    path.write_bytes(make_sheet(source, style=style, paper=paper).pdf)
    fonts = tool("pdffonts", str(path)).splitlines()[2:]
    assert fonts
    for line in fonts:
        assert re.search(r"TrueType\s+\S+\s+yes yes yes", line), line
    info = tool("pdfinfo", str(path))
    assert size in info
    assert not re.search(r"JavaScript:\s+yes", info)
    # Vector text and figures: no picture in it.
    assert len(tool("pdfimages", "-list", str(path)).splitlines()) == 2


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_sixteen_poses_fit_two_pages(tmp_path, paper):
    for seed in range(2):
        source = many(16, tmp_path, seed=seed)
        assert len(sheet_pictures(make_sheet(source, paper=paper).pdf, 20)) == 2


@pytest.mark.parametrize(
    ("style", "paper", "poses"),
    [
        *(("pages", "a4", 200), ("pages", "letter", 60), ("wall", "letter", 24)),
        *(("wallet", "a4", 200), ("wallet", "letter", 200)),
    ],
)
def test_many_poses_neither_overflow_nor_overlap(tmp_path, tool, style, poses, paper):
    source = many(poses, tmp_path)
    pages = words_of(make_sheet(source, style=style, paper=paper).pdf, tmp_path, tool)
    width, height = (mm * 72 / 25.4 for mm in paper_module.PAPERS[paper])
    for page in pages:
        assert all(w[0] >= 10 and w[2] <= width - 10 for w in page)
        assert all(w[1] >= 10 and w[3] <= height - 10 for w in page)
        assert overlaps(page) == []
    shown = " ".join(w[4] for page in pages for w in page)
    for cue in source.sheet.cues:
        assert place(source, cue.hit).replace("&", "&amp;") in shown
    if style == "wallet":
        assert len(pages) == 1


def test_the_smallest_type_and_the_contrast_of_all_text(source):
    # Grey values by WCAG 2.2's relative luminance; text is INK or DIM on white, white on INK.
    def luminance(grey):
        return grey / 12.92 if grey <= 0.04045 else ((grey + 0.055) / 1.055) ** 2.4

    def contrast(one, other):
        low, high = sorted((luminance(one), luminance(other)))
        return (high + 0.05) / (low + 0.05)

    assert contrast(paper_module.INK, paper_module.WHITE) >= 7
    assert contrast(paper_module.DIM, paper_module.WHITE) >= 7
    assert contrast(paper_module.INK, paper_module.HOLD) >= 7
    assert contrast(paper_module.DIM, paper_module.HOLD) < 7  # so never used together


@pytest.mark.parametrize("style", list(STYLES))
def test_every_word_as_rendered_has_the_contrast_of_small_text(source, tmp_path, tool, style):
    # Darkest against lightest pixel in each word's box, at 300 dots an inch.
    def luminance(grey):
        grey = grey / 255
        return grey / 12.92 if grey <= 0.04045 else ((grey + 0.055) / 1.055) ** 2.4

    pdf = make_sheet(source, style=style).pdf
    dots = 300
    page = np.asarray(Image.open(io.BytesIO(sheet_pictures(pdf, dots, most=1)[0])))
    assert page.ndim == 2  # grey
    (words, *_) = words_of(pdf, tmp_path, tool)
    assert len(words) > 20
    for word in words:
        x0, y0, x1, y1 = (round(v * dots / 72) for v in word[:4])
        box = page[y0:y1, x0:x1]
        low, high = luminance(float(box.min())), luminance(float(box.max()))
        if word[4].strip("·|"):
            assert (high + 0.05) / (low + 0.05) >= 7, word


def test_sizes_of_type_as_printed(source, tmp_path, tool):
    for style, least, largest in (("pages", 6.5, 20), ("wall", 8.0, 50), ("wallet", 6.0, 9)):
        (first, *_) = words_of(make_sheet(source, style=style).pdf, tmp_path, tool)
        heights = [w[3] - w[1] for w in first]
        assert min(heights) >= least
        assert max(heights) >= largest


def test_the_cards_cut_no_name_and_spread_the_poses_evenly(tmp_path, tool):
    demo = load_source(DEMO)
    sheet = make_sheet(demo, style="wallet")
    (words,) = words_of(sheet.pdf, tmp_path, tool)
    shown = " ".join(w[4] for w in words)
    assert all(cue.name in shown for cue in demo.sheet.cues)
    middle = 210 * 72 / 25.4 / 2
    counts = {place(demo, cue.hit) for cue in demo.sheet.cues}
    places = [w for w in words if w[4] in counts]
    assert len(places) == 16
    assert sum(w[0] < middle for w in places) == 8
    assert max(w[3] for w in places) < 62 * 72 / 25.4  # two cards side by side


def test_the_whole_in_eights_has_poses_in_free_time_at_their_place(tmp_path, tool):
    demo = load_source(DEMO)
    path = tmp_path / "demo.pdf"
    path.write_bytes(make_sheet(demo).pdf)
    text = tool("pdftotext", "-layout", "-f", "2", str(path), "-")
    whole = text[text.index("Full count chart") :]
    assert "0:03.1, free time" in whole
    assert "0:45.3, free time" in whole
    assert all(f"#{k}" in whole for k in range(1, 17))


def test_the_file_says_what_it_is_and_nothing_else(source, tmp_path, tool):
    path = tmp_path / "sheet.pdf"
    path.write_bytes(make_sheet(source).pdf)
    told = tool("pdfinfo", str(path))
    assert re.search(r"Title:\s+Test Night / Übung", told)
    assert re.search(r"Subject:\s+Harbour Classic", told)
    assert "anonymous" not in told
    assert "unspecified" not in told


def test_an_empty_routine_and_an_unknown_sheet_are_one_sentence(source):
    empty = make_source(source.folder, Routine("t", "x.wav"), source.beatmap)
    with pytest.raises(UserError, match="no poses yet"):
        make_sheet(empty)
    with pytest.raises(UserError, match="choose from"):
        make_sheet(source, paper="a3")


def test_eights_mark_transition_hit_hold_accent_and_quiet(source):
    cue = source.sheet.cues[0]
    lines = cue_eights(source.sheet, cue)
    assert [line.number for line in lines] == [1, 2]
    marks = [cell.mark for line in lines for cell in line.cells]
    assert marks == [""] * 6 + ["transition"] * 2 + ["hit", "hold", "hold", "hold"] + [""] * 4
    assert [c.accent for c in lines[1].cells] == [True] + [False] * 7
    half = cue_eights(source.sheet, source.sheet.cues[5])
    assert "7&" in [c.label for line in half for c in line.cells if c and c.mark == "hit"]
    whole = eights(source.sheet, 1.0, 31.0, source.sheet.cues)
    quiet = [c.time for line in whole for c in line.cells if c and c.quiet]
    assert quiet == [20.0 + 0.5 * k for k in range(8)]
    hits = [c.pose for line in whole for c in line.cells if c and c.pose]
    assert hits == [1, 2, 3, 4, 5, 6]


@pytest.mark.parametrize("style", list(STYLES))
def test_every_time_is_on_the_stages_clock_in_tenths(source, tmp_path, tool, style):
    # The stage part begins at 1.0 s of the song; behind 36.0 s the map is free.
    beatmap = replace(source.beatmap, free=(Stretch(0.0, 1.0), Stretch(12.0, 20.0)))
    beats = [k for k, t in enumerate(beatmap.beats) if not 12.0 <= t < 20.0]
    beatmap = replace(
        beatmap,
        beats=tuple(beatmap.beats[k] for k in beats),
        places=tuple(beatmap.places[k] for k in beats),
    )
    one = replace(
        source.routine.poses[0],
        hit=Seconds(14.039819),
        hold=Length(1.789, False),
        transition=Length(0.8412, False),
    )
    changed = make_source(source.folder, replace(source.routine, poses=(one,)), beatmap)
    assert place(changed, 14.039819) == "0:13.0"
    (words, *_) = words_of(make_sheet(changed, style=style).pdf, tmp_path, tool)
    text = " ".join(w[4] for w in words)
    assert "0:13.0" in text
    assert "1.8 s" in text
    if style != "wallet":
        assert "transition 0.8 s from 0:12.2" in text
        assert "hold 1.8 s to 0:14.8" in text
    assert not re.search(r"\d\.\d\d", text)
    assert "14.0" not in text  # the song's clock


def test_nothing_is_told_of_the_song_before_and_behind_the_stage_music(source, tmp_path, tool):
    first = replace(source.routine.poses[0], hit=source.beatmap.counts[1])
    routine = replace(
        source.routine, poses=(first,), stage=replace(source.routine.stage, start=1.4, end=2.9)
    )
    changed = make_source(source.folder, routine, source.beatmap)
    pages = words_of(make_sheet(changed).pdf, tmp_path, tool)
    text = " ".join(w[4] for page in pages for w in page)
    assert "transition 2 counts from the start" in text
    assert "hold 4 counts to the end" in text
    (cue,) = changed.sheet.cues
    cells = [c for line in cue_eights(changed.sheet, cue) for c in line.cells if c]
    assert cells
    assert all(1.4 <= cell.time <= 2.9 for cell in cells)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("poses", [16, 20, 22, 24])
def test_up_to_twenty_four_poses_fill_two_pages(tmp_path, tool, poses, paper, monkeypatch):
    monkeypatch.setitem(globals(), "NOTES", ("", "Breathe out, then lock the legs.", NOTES[2]))
    source = many(poses, tmp_path)
    pages = words_of(make_sheet(source, paper=paper).pdf, tmp_path, tool)
    assert len(pages) == 2
    foot = paper_module.PAPERS[paper][1] * 72 / 25.4
    for page in pages:
        lowest = sorted(w[3] for w in page)
        body = [y for y in lowest if y < foot - 40]  # the page's foot stands below
        assert max(body) > 0.84 * foot


def test_notes_are_as_large_as_the_lines(source, tmp_path, tool):
    for style in ("pages", "wall"):
        (words, *_) = words_of(make_sheet(source, style=style).pdf, tmp_path, tool)
        heights = {w[4]: w[3] - w[1] for w in words}
        assert heights["Breathe"] == pytest.approx(heights["transition"], abs=0.2)
        assert heights["lock"] == pytest.approx(heights["counts"], abs=0.2)


def test_a_long_title_is_wrapped_and_never_cut(source, tmp_path, tool):
    title = "A Title That Is Rather Long For One Line Of A Sheet, As Eighty Letters Always Are"
    for style in ("pages", "wall"):
        long = make_source(source.folder, replace(source.routine, title=title), source.beatmap)
        (words, *_) = words_of(make_sheet(long, style=style).pdf, tmp_path, tool)
        large = [w for w in words if w[3] - w[1] > 20]
        shown = " ".join(w[4] for w in large)
        assert title in shown
        assert overlaps(words) == []


def test_the_wall_version_fills_its_pages(tmp_path, tool, monkeypatch):
    monkeypatch.setitem(globals(), "NOTES", ("", "Breathe out, then lock the legs."))
    for poses in (16, 22):
        # Names of one line: rows of one height share the pages alike.
        source = many(poses, tmp_path, longest=22)
        pages = words_of(make_sheet(source, style="wall").pdf, tmp_path, tool)
        assert len(pages) <= -(-poses // 4)
        counts = [sum(w[4].startswith("#") for w in page) for page in pages]
        assert max(counts) - min(counts) <= 1


def test_the_cards_have_times_and_say_nothing_twice(tmp_path, tool):
    demo = load_source(DEMO)
    (words,) = words_of(make_sheet(demo, style="wallet").pdf, tmp_path, tool)
    text = " ".join(w[4] for w in words)
    for cue in demo.sheet.cues:
        assert clock(cue.hit - demo.sheet.start) in text
    on_cards = [w[4] for w in words if w[3] < 62 * 72 / 25.4]
    assert on_cards.count("hold") == 2  # once at the head of each card
    assert on_cards.count("front") == sum("front" in c.name for c in demo.sheet.cues)
    assert "standing" not in text
    assert on_cards.count("Copper") == 1


def test_clock_rounds_to_tenths_without_sixty_seconds():
    assert [clock(s) for s in (0, 59.96, 65.25, 600)] == ["0:00.0", "1:00.0", "1:05.2", "10:00.0"]
