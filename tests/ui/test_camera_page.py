"""The own camera on the Rehearse page: what it films, what is looked at, and what it never does."""

import shutil
from contextlib import closing
from dataclasses import replace

import av
import pytest
from PySide6.QtCore import Qt

from rehearse.film import camera_client
from rehearse.film.camera_messages import Began, CameraPicture, Ended, Failed
from rehearse.film.camera_source import FilmCamera
from rehearse.film.recorder import jpeg_of
from rehearse.film.recording import MARK, Recording
from rehearse.practice.drill import Drill, fixed
from rehearse.practice.scope import Scope
from rehearse.ui.workspace import Workspace
from tests.helpers.films import RATE, music, write_film

from . import fits
from .made import PromptWorkers, fast_folder, kept, rehearsing, settle

PATIENCE = 60_000
#: The smallest picture that is one.
JPEG = jpeg_of(av.VideoFrame(16, 16, "rgb24"))


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """A recording of three seconds as the process leaves it: arms go up to 1.0 s."""
    place = tmp_path_factory.mktemp("recorded")
    film = write_film(place / "run.mp4", music(3)[: 3 * RATE], [(0.6, 0.4)])
    now = [0.0]
    camera = FilmCamera(film, clock=lambda: now[0], nap=lambda s: now.append(now.pop() + s))
    recording = Recording(place)
    with closing(camera.pictures()) as pictures:
        for taken, frame in pictures:
            if taken > 2.9:
                break
            recording.add(taken, frame)
    return recording.keep(None)


@pytest.fixture
def cameras(monkeypatch, recorded):
    """Every client that was made; each films at once what was recorded before."""
    made = []

    class Client:
        def __init__(self):
            self.over = self.open = self.started = self.closed = self.recording = False
            self.pid, self.number = len(made) + 1, 0
            self.part, self.zero, self.said, self.kept = None, 0.0, [], None
            made.append(self)

        def start(self, name=""):
            self.started = self.open = True

        def begin(self, routine, *, sound):
            self.recording = True
            self.number += 1
            self.part = routine / "takes" / f".camera.{len(made)}-{self.number}.part"
            shutil.copytree(recorded, self.part)
            self.zero = camera_client.time.perf_counter()
            self.said.append(Began(self.part, self.zero, self.number))

        def end(self, *, keep):
            self.kept = keep
            if not keep:
                shutil.rmtree(self.part)
            self.said.append(Ended(self.part if keep else None, self.number))
            self.part = None

        def show(self, on):
            self.shows = on

        def die(self):
            self.over = True
            self.said += [
                Failed("The camera stopped – the music goes on."),
                Ended(self.part, self.number),
            ]
            self.part = None

        def poll(self):
            said, self.said = self.said, []
            ended = [one for one in said if isinstance(one, Ended) and one.number == self.number]
            self.recording &= not ended and not any(isinstance(one, Failed) for one in said)
            return said

        def close(self):
            self.closed = True

    monkeypatch.setattr(camera_client, "CameraClient", Client)
    return made


@pytest.fixture
def window(qapp, settings, tmp_path, qtbot, cameras):
    settings.put("silent", True)
    settings.put("camera", True)
    workspace = Workspace(settings, make_workers=PromptWorkers)
    window = rehearsing(workspace, fast_folder(tmp_path / "fast"), qtbot)
    window.page.look._turn.setInterval(100)
    yield window
    window.close()
    workspace.close()


def begin(window, passes=1):
    """Drill two seconds with two hits in them."""
    workspace = window._workspace
    hit = workspace.sheet.cues[1].hit
    scope = Scope("section", workspace.routine.sections[0].id, "Short", hit - 0.2, hit + 2.0)
    window.page.begin(Drill(scope, fixed(100), passes=passes))
    return window.page


def takes(workspace):
    found = []
    workspace.logbook.ask(lambda book: book.takes(), found.append)
    settle(workspace)
    return found[0]


def test_off_at_first_and_then_nothing_is_opened(qapp, tmp_path, qtbot, cameras, settings):
    settings.put("silent", True)
    workspace = Workspace(settings, make_workers=PromptWorkers)
    window = rehearsing(workspace, fast_folder(tmp_path / "fast"), qtbot)
    page = begin(window)
    qtbot.waitUntil(lambda: page.host.view.state == "over", timeout=PATIENCE)
    assert cameras == []
    assert page.camera_sign.isHidden()
    assert not (workspace.folder / "takes").exists()
    window.close()
    workspace.close()


def test_its_key_switches_it_on_and_its_sign_says_so(window, qtbot, cameras):
    page = window.page
    assert page.camera_sign.state == "ready"
    assert not page.camera_sign.isHidden()
    assert not cameras[-1].started  # the process is there, the camera is closed
    qtbot.keyClick(page, Qt.Key.Key_6)
    assert page.camera_sign.isHidden()
    assert cameras[-1].closed
    qtbot.keyClick(page, Qt.Key.Key_6)
    assert page.camera_sign.state == "ready"


def test_the_last_pass_is_filmed_read_and_looked_at(window, qtbot, cameras):
    workspace = window._workspace
    page = begin(window, passes=2)
    states = []
    page.stage.looked.connect(lambda view: states.append((view.state, page.camera.state)))
    qtbot.waitUntil(lambda: page.look.on, timeout=PATIENCE)
    filmed = [state for state, camera in states if camera == "filming"]
    assert {"count-in", "music"} <= set(filmed)
    first_music = next(k for k, (state, _) in enumerate(states) if state == "music")
    assert states[first_music][1] == "ready"  # the first of two is not the last
    assert page._front.currentWidget() is page.look
    qtbot.waitUntil(lambda: page.look.hits[0].read is not None, timeout=PATIENCE)
    (take,) = takes(workspace)
    assert [pose.name for pose in take.poses] == [hit.name for hit in page.look.hits]
    assert take.film.startswith("camera ")
    assert (workspace.folder / take.folder / MARK).is_file()
    assert page.look.words()[0]
    qtbot.waitUntil(lambda: not page.look.image.isNull(), timeout=PATIENCE)
    assert cameras[0].closed  # its light is out: nothing follows
    fits.settle(window, (960, 600))
    assert fits.unfitting(window) == []
    qtbot.keyClick(page, Qt.Key.Key_Escape)
    assert page._front.currentWidget() is page.stage


def test_look_then_again(window, qtbot, cameras, monkeypatch):
    page = window.page
    monkeypatch.setattr(type(page.host), "closes", True)  # each of them is filmed
    begin(window, passes=2)
    seen = []
    page.look.ended.connect(lambda: seen.append(len(kept(window._workspace))))
    qtbot.waitUntil(lambda: len(seen) == 2, timeout=PATIENCE)
    assert seen == [1, 2]  # each was looked at before the next one began
    assert page.host.view.state == "over"


def test_d_stops_the_camera_and_keeps_nothing(window, qtbot, cameras):
    page = begin(window)
    qtbot.waitUntil(lambda: page.camera_sign.state == "filming", timeout=PATIENCE)
    window._workspace.stop_everything()
    assert cameras[0].closed
    assert page.camera_sign.state == "ready"
    assert list((window._workspace.folder / "takes").iterdir()) == []
    assert not page.look.on


@pytest.mark.parametrize("how", ["pause_or_resume", "stop", "slower"])
def test_a_pass_that_is_not_whole_is_not_kept(window, qtbot, cameras, how):
    page = begin(window)
    qtbot.waitUntil(lambda: page.host.view.state == "music", timeout=PATIENCE)
    page.stage.refresh()
    if how == "slower":
        page.host.set_percent(90)
        qtbot.waitUntil(lambda: page.host.view.state == "over", timeout=PATIENCE)
    else:
        getattr(page.host, how)()
    page.stage.refresh()
    qtbot.waitUntil(lambda: cameras[0].kept is not None, timeout=PATIENCE)
    assert cameras[0].kept is False
    assert list((window._workspace.folder / "takes").iterdir()) == []
    assert not page.look.on


def test_what_is_said_late_of_one_pass_does_not_end_the_film_of_the_next(window, qtbot, cameras):
    page = begin(window)
    qtbot.waitUntil(lambda: page.host.view.state == "music", timeout=PATIENCE)
    page.camera._poll.stop()  # nothing is heard of the first one's end for a while
    page.stage.refresh()
    page.host.stop()
    page.stage.refresh()
    assert cameras[0].kept is False
    begin(window)
    page.stage.refresh()
    assert cameras[0].number == 2
    page.camera.poll()
    assert page.camera_sign.state == "filming"
    assert cameras[0].recording
    assert cameras[0].number == 2


def test_a_camera_that_dies_leaves_the_music_going_and_is_read_as_far_as_it_saw(
    window, qtbot, cameras
):
    page = begin(window)
    qtbot.waitUntil(lambda: page.host.view.state == "music", timeout=PATIENCE)
    cameras[0].die()
    qtbot.waitUntil(lambda: "music goes on" in window.error.text, timeout=PATIENCE)
    assert page.host.view.state == "music"
    assert page.camera_sign.state == "ready"
    qtbot.waitUntil(lambda: len(takes(window._workspace)) == 1, timeout=PATIENCE)


def test_a_camera_that_cannot_film_holds_nothing_up(window, qtbot, cameras):
    page = begin(window)
    qtbot.waitUntil(lambda: page.camera_sign.state == "filming", timeout=PATIENCE)
    client = cameras[0]
    shutil.rmtree(client.part)
    client.part, client.said = None, [Ended(None, client.number)]  # such as on a full disk
    qtbot.waitUntil(lambda: page.host.view.state == "over", timeout=PATIENCE)
    assert client.number == 1
    assert not page.look.on
    assert not page.host.waits


def test_a_process_that_cannot_be_had_is_one_sentence(window, qtbot, monkeypatch):
    page = window.page
    page.camera.client = None

    def refuse():
        raise OSError("no more")

    monkeypatch.setattr(camera_client, "CameraClient", refuse)
    begin(window)
    qtbot.waitUntil(lambda: page.host.view.state == "over", timeout=PATIENCE)
    assert "camera could not be started" in window.error.text


def test_the_late_mirror_shows_what_was_done_so_many_counts_ago(window, qtbot, cameras):
    page, mirror = window.page, window.page.mirror.view
    qtbot.keyClick(page, Qt.Key.Key_7)
    assert page._front.currentWidget() is mirror
    assert page.camera_sign.state == "showing"
    assert cameras[-1].shows
    assert mirror.mirrored
    mirror._timer.stop()
    clock = [1000.0]
    mirror._clock = lambda: clock[0]
    count = 60 / 300  # seconds, at rest at full tempo
    for late, ago in (("8 counts", 8 * count), ("16 counts", 16 * count), ("3 s", 3.0)):
        if mirror.late != late:
            qtbot.keyClick(page, Qt.Key.Key_8)
        assert mirror.late == late
        mirror.set_on(True)
        for k in range(200):  # a picture each thirtieth, the window looks each sixtieth
            clock[0] = 1000 + k / 60
            if k % 2 == 0:
                cameras[-1].said.append(CameraPicture(clock[0], JPEG))
                page.camera.poll()
            mirror.look()
            if clock[0] - 1000 < ago:
                assert mirror.taken is None
                assert mirror.words().startswith("in ")
            else:
                assert 0 <= clock[0] - ago - mirror.taken < 1 / 30 + 1e-6
        assert mirror.words() == late.replace("counts", "counts ago").replace(" s", " s ago")
    fits.settle(window, (960, 600))
    assert fits.unfitting(window) == []
    qtbot.keyClick(page, Qt.Key.Key_7)
    assert page._front.currentWidget() is page.stage
    assert len(mirror.ring) == 0
    assert cameras[-2].closed


def test_its_counts_are_as_long_as_they_are_in_what_is_heard(window, monkeypatch, qtbot):
    page, workspace = window.page, window._workspace
    begin(window)
    qtbot.waitUntil(lambda: page.host.view.state == "music", timeout=PATIENCE)
    at = workspace.sheet.cues[1].hit
    for tempo in (1.0, 0.5):
        now = replace(workspace.player.now(), source=at, tempo=tempo)
        monkeypatch.setattr(workspace.player, "now", lambda now=now: now)
        ago = page.mirror.ago()
        assert ago == pytest.approx(8 * 0.2 / tempo, abs=1e-6)


def test_the_late_mirror_goes_with_the_stop_key_and_with_the_page(window, qtbot, cameras):
    page = window.page
    qtbot.keyClick(page, Qt.Key.Key_7)
    window._workspace.stop_everything()
    assert not page.mirror.view.on
    assert page._front.currentWidget() is page.stage
    qtbot.keyClick(page, Qt.Key.Key_7)
    assert page.mirror.view.on
    window.show_page(0)
    assert not page.mirror.view.on
    assert cameras[-2].closed
