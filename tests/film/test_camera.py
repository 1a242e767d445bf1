"""The own camera up to the kept film: device, stand-in, recorder, full disk, death, N days."""

import errno
import os
import queue
import shutil
import signal
import subprocess
import sys
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import av
import av.device
import numpy as np
import pytest
import soundfile

from rehearse.files import camera_door
from rehearse.files.user_error import UserError
from rehearse.film import recording as recording_module
from rehearse.film.camera_client import CameraClient
from rehearse.film.camera_messages import (
    Began,
    Begin,
    CameraPicture,
    End,
    Ended,
    Failed,
    Opened,
    Show,
    Told,
)
from rehearse.film.camera_source import LAG, STAND_IN, DeviceCamera, FilmCamera, TakenClock
from rehearse.film.keep import PROXY, SOUND, kept_file
from rehearse.film.proxy import FilmFrames
from rehearse.film.recorder import Recorder
from rehearse.film.recording import MARK, Recording, delete_old, finish
from tests.helpers.films import music, write_film

NOW = datetime(2027, 5, 1, 20, 15, tzinfo=UTC)
PATIENCE = 60.0


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    return write_film(tmp_path_factory.mktemp("camera") / "run.mp4", music(2), [(0.8, 0.4)])


@pytest.fixture
def device(monkeypatch):
    """A device of FFmpeg's in a camera's place: it makes pictures, in real time."""
    one = SimpleNamespace(name="testsrc", description="Made", is_default=True, media_types=[])
    monkeypatch.setattr(camera_door.sys, "platform", "linux")
    monkeypatch.setattr(av.device, "enumerate_input_devices", lambda _form: [one])
    packed = {"input_format": "mjpeg"}
    monkeypatch.setitem(camera_door._KINDS, "linux", ("lavfi", "{name}=r=30:s=64x48", packed))


class Clock:
    """A clock that naps move on."""

    def __init__(self):
        self.now = 100.0

    def __call__(self):
        return self.now

    def nap(self, seconds):
        self.now += seconds


@pytest.mark.parametrize("kind", ["device", "film"])
def test_device_and_stand_in_give_the_same_kind_of_pictures(kind, film, request):
    clock = Clock()
    if kind == "device":
        request.getfixturevalue("device")
        camera = DeviceCamera()
    else:
        camera = FilmCamera(film, clock=clock, nap=clock.nap)
    taken, sizes = [], set()
    with closing(camera.pictures()) as pictures:
        for second, frame in pictures:
            taken.append(second)
            sizes.add((frame.width, frame.height, frame.rotation))
            if len(taken) == 10:
                camera.restart()
            if len(taken) == 20:
                break
    if kind == "film":  # it begins anew; a camera goes on
        assert taken[:10] == pytest.approx([100 + k / 25 for k in range(10)])
        assert taken[10:] == pytest.approx([taken[9] + k / 25 for k in range(10)], abs=1e-6)
        assert all(second <= clock.now + 1e-6 for second in taken)
    else:
        assert np.all(np.diff(taken) > 0)
        assert abs(taken[-1] - time.perf_counter()) < 5
    assert len(sizes) == 1


def test_a_film_that_is_over_shows_its_last_picture_on(film):
    clock = Clock()
    camera = FilmCamera(film, clock=clock, nap=clock.nap)
    with closing(camera.pictures()) as pictures:
        taken = [next(pictures)[0] for _ in range(60)]  # it has fifty
    assert taken[-1] == pytest.approx(100 + 49 / 25 + 10 / 30)


def test_a_picture_that_nobody_took_in_time_is_missed(film):
    clock = Clock()
    camera = FilmCamera(film, clock=clock, nap=clock.nap)
    with closing(camera.pictures()) as pictures:
        assert next(pictures)[0] == 100
        clock.now += 1.0  # the encoder was held up
        assert next(pictures)[0] == pytest.approx(100.88, abs=0.021)


def test_a_time_stamp_of_another_clock_is_laid_on_this_one_by_when_it_arrives():
    clock = TakenClock()
    own = [clock.taken(50.0 + k / 30, 50.04 + k / 30) for k in range(5)]
    assert own == pytest.approx([50.0 + k / 30 for k in range(5)])
    clock = TakenClock()
    late = [0.004, 0.0, 0.09, 0.002, 0.003, 0.001]  # one was held up
    told = [clock.taken(k / 30, 50.0 + k / 30 + wait) for k, wait in enumerate(late)]
    assert told[-1] == pytest.approx(50 + 5 / 30 - LAG, abs=0.004)
    assert np.all(np.diff(told) > 0)


def test_nothing_opens_but_a_listed_camera(device, film):
    for name in (str(film), "/dev/null", "testsrc2", "http://localhost/", "testsrc:x"):
        with pytest.raises(UserError, match="chosen camera is not there"):
            next(DeviceCamera(name).pictures())


def test_a_listed_name_that_parts_into_two_devices_is_left_out(device, monkeypatch):
    one = SimpleNamespace(name="a:audio=b", description="", is_default=True, media_types=["video"])
    monkeypatch.setattr(av.device, "enumerate_input_devices", lambda _form: [one])
    assert camera_door.camera_devices() == ()


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (None, "No camera is found – connect one"),
        (errno.EBUSY, "is in use – close the program"),
        (errno.EACCES, "may not use the camera – allow it"),
        (errno.EIO, "cannot be opened – close other programs"),
    ],
)
def test_a_camera_that_cannot_be_opened_is_one_sentence(device, monkeypatch, number, said):
    if number is None:
        monkeypatch.setattr(av.device, "enumerate_input_devices", lambda _form: [])
    else:

        def refuse(*_unused, **_named):
            raise av.error.FFmpegError(number, os.strerror(number))

        monkeypatch.setattr(av, "open", refuse)
    with pytest.raises(UserError, match=said) as raised:
        next(DeviceCamera().pictures())
    assert raised.value.sentence.count(".") == 1


def recorder_on(film, wishes, clock=None):
    """What a recorder says that finds `wishes` – each after so many pictures –, then closes."""
    clock = clock or Clock()
    said, put = [], queue.SimpleQueue()

    class Camera(FilmCamera):
        def pictures(self):
            with closing(super().pictures()) as pictures:
                for k, one in enumerate(pictures):
                    for wish in wishes.get(k, ()):
                        if wish is None:
                            return
                        put.put(wish)
                    yield one

    camera = Camera(film, clock=clock, nap=clock.nap)
    Recorder(said.append, camera, put).run()
    return said


@pytest.fixture
def real_clock(monkeypatch):
    """The recorder's clock is the stand-in's."""
    clock = Clock()
    monkeypatch.setattr(time, "perf_counter", clock)
    return clock


def test_a_recording_becomes_a_kept_film_whose_pictures_have_their_times(
    film, tmp_path, real_clock
):
    wishes = {5: [Begin(tmp_path, sound=True), Show(True)], 50: [End(True)], 52: [None]}
    said = recorder_on(film, wishes, real_clock)
    kinds = [type(one) for one in said if not isinstance(one, CameraPicture)]
    assert kinds == [Opened, Began, Ended]
    began, ended = said[1], next(one for one in said if isinstance(one, Ended))
    assert began.part == ended.part
    assert sum(isinstance(one, CameraPicture) for one in said) >= 40
    assert next(one for one in said if isinstance(one, CameraPicture)).jpeg[:2] == b"\xff\xd8"
    folder = finish(ended.part, NOW)
    assert not ended.part.exists()
    frames = FilmFrames(kept_file(tmp_path, folder, PROXY))
    original = FilmFrames(film)
    for second in (0.1, 0.9, 1.0, 1.4):
        own, picture = frames.at(second)
        meant, same = original.at(second)
        assert own == pytest.approx(meant, abs=1e-4)
        assert np.abs(picture.astype(int) - same).mean() < 6
    frames.close()
    original.close()
    sound, rate = soundfile.read(kept_file(tmp_path, folder, SOUND))
    assert len(sound) / rate == pytest.approx(1.8, abs=0.2)


def test_what_is_not_to_be_kept_leaves_nothing(film, tmp_path, real_clock):
    wishes = {0: [Begin(tmp_path)], 5: [End(False)], 6: [None]}
    assert recorder_on(film, wishes, real_clock)[-1] == Ended(None)
    assert list((tmp_path / "takes").iterdir()) == []


def test_a_disk_that_is_too_full_is_said_and_films_nothing(film, tmp_path, real_clock, monkeypatch):
    usage = SimpleNamespace(free=10)
    monkeypatch.setattr(recording_module.shutil, "disk_usage", lambda _folder: usage)
    said = recorder_on(film, {0: [Begin(tmp_path)], 3: [None]}, real_clock)
    assert [type(one) for one in said] == [Opened, Told, Ended]
    assert said[1].sentence.startswith("The disk is too full for a film – free")
    assert said[2].part is None


def test_a_disk_that_fills_up_keeps_what_was_filmed(film, tmp_path, real_clock, monkeypatch):
    monkeypatch.setattr(recording_module, "_LOOK", 20)
    left = [1e12, 10]
    monkeypatch.setattr(
        recording_module.shutil,
        "disk_usage",
        lambda _folder: SimpleNamespace(free=left.pop(0) if left else 10),
    )
    said = recorder_on(film, {0: [Begin(tmp_path)], 40: [None]}, real_clock)
    assert [type(one) for one in said] == [Opened, Began, Told, Ended]
    folder = finish(said[-1].part, NOW)
    frames = FilmFrames(kept_file(tmp_path, folder, PROXY))
    assert frames.at(0.7)[0] == pytest.approx(0.7, abs=0.05)
    frames.close()


def test_a_write_that_fails_is_one_sentence(film, tmp_path, monkeypatch):
    recording = Recording(tmp_path)

    def full(*_unused, **_named):
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(recording._writer, "add", full)
    with pytest.raises(UserError, match="the disk is full"):
        recording.add(1.0, None)
    recording.drop()
    assert list((tmp_path / "takes").iterdir()) == []


def until(client, kind, *, seconds=PATIENCE):
    """Wait for a message of this kind; all that were said until then."""
    said, end = [], time.monotonic() + seconds
    while time.monotonic() < end:
        said += client.poll()
        if any(isinstance(one, kind) for one in said):
            return said
        time.sleep(0.01)
    raise AssertionError(f"no {kind.__name__} among {said}")


@pytest.fixture
def client(film, monkeypatch):
    monkeypatch.setenv(STAND_IN, str(film))
    client = CameraClient()
    client.start()
    yield client
    client.close()


@pytest.mark.skipif(not hasattr(os, "getpriority"), reason="no such priorities here")
def test_a_recorder_that_dies_leaves_a_film_of_what_it_saw(client, tmp_path):
    until(client, Opened)
    nice = os.getpriority(os.PRIO_PROCESS, client.pid) - os.getpriority(os.PRIO_PROCESS, 0)
    assert nice >= 10 or os.getpriority(os.PRIO_PROCESS, client.pid) == 19
    client.begin(tmp_path, sound=False)
    until(client, Began)
    part = client.part
    pieces = part / "pieces.mp4"
    end = time.monotonic() + PATIENCE
    while pieces.stat().st_size < 20_000 and time.monotonic() < end:
        time.sleep(0.02)
    os.kill(client.pid, signal.SIGKILL)
    said = until(client, Failed)
    assert "the music goes on" in next(s for s in said if isinstance(s, Failed)).sentence
    assert said[-1] == Ended(part, client.number)
    assert client.over
    folder = finish(part, NOW)
    frames = FilmFrames(kept_file(tmp_path, folder, PROXY))
    assert frames.at(0.2)[0] == pytest.approx(0.2, abs=0.05)
    frames.close()


def test_a_recorder_that_hangs_is_ended(client, tmp_path, monkeypatch):
    until(client, Opened)
    client.begin(tmp_path, sound=False)
    until(client, Began)
    os.kill(client.pid, signal.SIGSTOP)
    client.end(keep=True)
    client._until = 0.0
    said = until(client, Failed)
    assert isinstance(said[-1], Ended)


def test_films_of_the_camera_are_deleted_after_their_days_and_no_others(tmp_path):
    takes = tmp_path / "takes"
    for name, age in (("old", 15), ("new", 13), ("dropped", None), ("odd", "never")):
        (takes / name).mkdir(parents=True)
        (takes / name / PROXY).write_bytes(b"film")
        if age is not None:
            text = age if isinstance(age, str) else (NOW - timedelta(days=age)).isoformat()
            (takes / name / MARK).write_text(text + "\n")
    outside = tmp_path / "elsewhere"
    shutil.copytree(takes / "old", outside)
    (takes / "linked").symlink_to(outside)
    left = takes / ".camera.77-x.part"
    left.mkdir()
    os.utime(left, (0, 0))
    assert delete_old(tmp_path, 14, NOW) == 1
    assert {each.name for each in takes.iterdir()} == {"new", "dropped", "odd", "linked"}
    assert (outside / PROXY).is_file()
    assert delete_old(Path(tmp_path / "nowhere"), 14, NOW) == 0


def test_a_recording_without_a_picture_is_nothing(tmp_path):
    part = Recording(tmp_path).keep(None)
    with pytest.raises(UserError):
        finish(part, NOW)
    assert not part.exists()


def test_listing_cameras_loads_no_library_of_films():
    """The set-up form did, and the music's passes went by unseen for seconds."""
    scene = "import sys, rehearse.film.camera_source; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", scene], capture_output=True, text=True, check=True)
    assert not {"scipy", "rehearse.film.movement"} & set(done.stdout.split())
