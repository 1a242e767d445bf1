"""The coach's page in a real browser: sound, flashes, loop, remarks, a phone's and a laptop's size.

Needs Playwright and a Chromium (`CHROMIUM`, else the one of the system); skipped without. The
flash is held against the page's own audio clock: within 50 ms (of ITU-R BT.1359-1: 45 ms is where
sound before picture begins to be noticed, from a copy).
"""

from __future__ import annotations

import json
import os
import shutil

import pytest

from rehearse.handout.page import make_page
from rehearse.routine.remarks import read_remarks

playwright = pytest.importorskip(
    "playwright.sync_api", reason="Playwright is not installed: pip install playwright"
)
CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium") or ""
pytestmark = [
    pytest.mark.realtime,
    pytest.mark.skipif(not CHROMIUM, reason="no Chromium: apt install chromium"),
]

#: Notes when each flash comes on, by the audio's own clock.
WATCH = """
window.seen = [];
new MutationObserver(() => {
  const on = document.getElementById("stage").classList.contains("hit");
  if (on && !window.was) window.seen.push(audio.currentTime);
  window.was = on;
}).observe(document.getElementById("stage"), { attributes: true, attributeFilter: ["class"] });
"""


def until(page, condition, seconds=30):
    """Ask until it is so (Playwright's own waiting evaluates text, which the policy forbids)."""
    for _ in range(seconds * 50):
        if page.evaluate(condition):
            return
        page.wait_for_timeout(20)
    raise AssertionError(f"never so: {condition}")


@pytest.fixture(scope="module")
def file(source, track, tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "page.html"
    path.write_bytes(make_page(source, track, "0123456789abcdef"))
    return path


@pytest.fixture(scope="module")
def browser():
    with playwright.sync_playwright() as running:
        arguments = ["--no-sandbox", "--autoplay-policy=no-user-gesture-required"]
        browser = running.chromium.launch(executable_path=CHROMIUM, args=arguments)
        yield browser
        browser.close()


@pytest.fixture(params=[(390, 844), (1366, 768)], ids=["phone", "laptop"])
def page(request, browser, file):
    width, height = request.param
    context = browser.new_context(viewport={"width": width, "height": height})
    page = context.new_page()
    page.told = []
    page.on("console", lambda message: page.told.append(message.text))
    page.on("pageerror", lambda error: page.told.append(str(error)))
    page.on("request", lambda one: page.told.append(one.url) if "http" in one.url[:5] else None)
    page.goto(file.as_uri())
    until(page, "audio.readyState >= 3")
    yield page
    assert page.told == []
    context.close()


def test_each_flash_is_at_its_hit_by_the_audio_clock(page, source):
    page.evaluate(WATCH)
    hits = [cue.hit - source.sheet.start for cue in source.sheet.cues][:2]
    beside = []
    for _ in range(3):  # another program may hold the browser up once; its own drawing would always
        page.evaluate("window.seen = []; seek(3)")
        page.keyboard.press("Space")
        until(page, "window.seen.length >= 2")
        page.keyboard.press("Space")
        assert page.evaluate("audio.paused")
        beside.append(
            max(abs(s - h) for s, h in zip(page.evaluate("window.seen"), hits, strict=False))
        )
        if beside[-1] <= 0.050:
            break
    assert min(beside) <= 0.050, beside
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_section_is_looped_slower_with_the_pitch_kept(page, source):
    page.select_option("#part", "Back")
    page.check("#loop")
    page.select_option("#speed", "70")
    section = source.sheet.sections[1]
    start, end = (t - source.sheet.start for t in (section.start, section.end))
    assert page.evaluate("audio.currentTime") == pytest.approx(start, abs=0.02)
    page.evaluate(f"seek({end} - 0.4)")
    page.keyboard.press("Escape")
    page.click("#play")
    until(page, f"audio.currentTime < {end} - 1")
    assert page.evaluate("audio.currentTime") >= start - 0.05
    assert page.evaluate("[audio.playbackRate, audio.preservesPitch, audio.paused]") == [
        *(0.7, True, False)
    ]
    page.click("#play")


def test_remarks_are_written_saved_and_read_back(page, source, tmp_path):
    routine = source.routine
    page.fill("#author", "Coach <b>Kim</b>")
    page.get_by_role("button", name="Remark on Side chest left").click()
    page.locator(".form textarea").fill("Chest higher.\n<script>alert(1)</script>")
    page.get_by_label("Hold").select_option("6 counts")
    page.get_by_label("Hit on").select_option(index=10)
    page.get_by_role("button", name="Keep the remark").click()
    page.evaluate("seek(7.25)")
    page.get_by_role("button", name="Remark here").click()
    page.locator(".form textarea").fill("Breathe here.")
    page.get_by_role("button", name="Keep the remark").click()
    assert page.locator("#written > li").count() == 2
    with page.expect_download() as coming:
        page.get_by_role("button", name="Save the remarks").click()
    saved = tmp_path / coming.value.suggested_filename
    coming.value.save_as(saved)
    assert saved.suffix == ".json"
    first, second = read_remarks(saved.read_bytes(), saved, routine.id)
    assert (first.author, first.pose) == ("Coach <b>Kim</b>", routine.poses[1].id)
    assert first.text == "Chest higher.\n<script>alert(1)</script>"
    assert first.change.hold == "6 counts"
    hit = float(first.change.hit.removesuffix(" s"))
    step = source.beatmap.interval(16)
    assert hit == pytest.approx(source.sheet.cues[1].hit + 2 * step, abs=0.01)
    assert second.time == pytest.approx(7.25 + source.sheet.start, abs=0.01)
    assert first.base == "0123456789abcdef"
    # They are still there when the page is opened again, and can be copied instead.
    page.reload()
    assert page.locator("#written > li").count() == 2
    page.get_by_role("button", name="Copy as text").click()
    assert json.loads(page.input_value("#text"))["remarks"][0]["id"] == first.id
    page.get_by_role("button", name="Delete the remark").first.click()
    assert page.locator("#written > li").count() == 1
    page.evaluate("localStorage.clear()")


def test_everything_can_be_reached_by_name_and_key(page):
    unnamed = page.evaluate(
        """[...document.querySelectorAll("button, select, input, textarea, svg")]
        .filter((e) => !(e.getAttribute("aria-label") || e.textContent.trim()
          || e.closest("label")?.textContent.trim())).map((e) => e.outerHTML.slice(0, 80))"""
    )
    assert unnamed == []
    small = page.evaluate(
        """[...document.querySelectorAll("button, select")].filter((e) => e.offsetHeight
        && e.offsetHeight < 44).map((e) => e.textContent)"""
    )
    assert small == []
    page.keyboard.press("ArrowRight")
    assert page.evaluate("audio.currentTime") > 0
    page.keyboard.press("l")
    assert page.is_checked("#loop")
    page.keyboard.press("-")
    assert page.evaluate("audio.playbackRate") == 0.95
