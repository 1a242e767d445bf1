"""The door for songs, voices and films: what it opens and refuses, and that it calls nobody."""

from __future__ import annotations

import contextlib
import os
import re
import socket
import struct
import subprocess
import sys
import threading
import time
import zlib
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile

from rehearse.cueing.voice.recordings import load_recording
from rehearse.files import media as door
from rehearse.files.media import CONTAINERS, FILM, SONG, VOICE, Limits, NoMedia, open_media
from rehearse.files.user_error import UserError
from rehearse.music.decode import load_track


def ffmpeg(*arguments):
    command = ["ffmpeg", "-v", "error", "-y", *map(str, arguments)]
    subprocess.run(command, check=True, capture_output=True)


@pytest.fixture
def film(tmp_path):
    path = tmp_path / "film.mp4"
    sources = ["-f", "lavfi", "-i", "testsrc=s=64x48:r=10:d=3", "-f", "lavfi", "-i", "sine=440:d=2"]
    ffmpeg(*sources, "-c:v", "mpeg4", path)
    return path


def test_a_film_gives_pictures_and_sound_through_the_same_door(film):
    with open_media(film, FILM) as media:
        pictures = samples = 0
        for packet, frames in media.decoded(media.picture, media.sound):
            if packet.stream.type == "video":
                assert all((f.width, f.height) == (64, 48) for f in frames)
                pictures += len(frames)
            else:
                samples += sum(f.samples for f in frames)
    assert pictures == 30
    assert samples == pytest.approx(2 * 44100, abs=3000)


def test_a_cover_is_no_film(tmp_path):
    cover, song = tmp_path / "cover.png", tmp_path / "song.mp3"
    ffmpeg("-f", "lavfi", "-i", "color=red:s=64x64", "-frames:v", "1", cover)
    art = ["-map", "0", "-map", "1", "-c:v", "png", "-disposition:v", "attached_pic"]
    ffmpeg("-f", "lavfi", "-i", "sine=440:d=2", "-i", cover, *art, song)
    with open_media(song, SONG) as media:
        assert media.picture is None
        assert media.sound is not None


def test_only_containers_that_lead_nowhere_are_named():
    # FFmpeg's own list of what it can open, as the installed build tells it.
    known = {name for each in av.format.formats_available for name in each.split(",")}
    assert set(CONTAINERS) <= known
    leading = "concat hls dash sdp rtsp rtp imf image2 webm_dash_manifest tee fifo lavfi sap"
    assert not set(CONTAINERS) & set(leading.split())


LISTS = {
    "hls": "#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\nhttp://127.0.0.1:{port}/a.ts\n",
    "hls below a mark": "\ufeff#EXTM3U\n#EXTINF:5,\nhttp://127.0.0.1:{port}/a.ts\n",
    "m3u": "#EXTM3U\n/etc/passwd\nsong.wav\n",
    "plain m3u": "song.wav\nother.wav\n",
    "pls": "[playlist]\nFile1=http://127.0.0.1:{port}/a.mp3\nNumberOfEntries=1\n",
    "concat": "ffconcat version 1.0\nfile 'http://127.0.0.1:{port}/a.mp3'\n",
    "concat of a file": "ffconcat version 1.0\nfile 'song.wav'\n",
    "sdp": "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 239.255.12.1/1\nt=0 0\n"
    "m=audio {port} RTP/AVP 0\na=rtpmap:0 PCMU/8000\n",
    "sdp in another order": "o=- 0 0 IN IP4 127.0.0.1\nv=0\ns=x\nc=IN IP4 239.255.12.1/1\n"
    "t=0 0\nm=audio {port} RTP/AVP 0\n",
    "dash": '<?xml version="1.0"?>\n<MPD xmlns="urn:mpeg:dash:schema:mpd:2011" type="static">'
    "<BaseURL>http://127.0.0.1:{port}/</BaseURL></MPD>\n",
    "smil": '<smil><body><audio src="http://127.0.0.1:{port}/a.mp3"/></body></smil>\n',
    "asx": '<asx version="3.0"><entry><ref href="http://127.0.0.1:{port}/a"/></entry></asx>\n',
    "rtsp": "[Reference]\nRef1=rtsp://127.0.0.1:{port}/a\n",
    "address": "http://127.0.0.1:{port}/song.mp3\n",
}


@pytest.fixture
def listener():
    """A server on this machine that counts who calls."""
    server, calls, done = socket.create_server(("127.0.0.1", 0)), [], threading.Event()
    server.settimeout(0.05)

    def serve():
        while not done.is_set():
            with contextlib.suppress(TimeoutError):
                connection, _ = server.accept()
                calls.append(1)
                connection.close()

    thread = threading.Thread(target=serve)
    thread.start()
    yield server.getsockname()[1], calls
    done.set()
    thread.join()
    server.close()


@pytest.mark.parametrize("ending", ["wav", "m3u8"])
@pytest.mark.parametrize("kind", LISTS)
def test_a_list_or_a_stream_opens_no_socket_and_no_other_file(kind, ending, tmp_path, listener):
    port, calls = listener
    soundfile.write(tmp_path / "song.wav", np.ones(8000), 8000)
    path = tmp_path / f"5.{ending}"
    path.write_text(LISTS[kind].format(port=port))
    with sockets_seen() as seen:
        began = time.monotonic()
        for read in (load_track, lambda path: load_recording(path, "5"), _film):
            with pytest.raises(UserError) as caught:
                read(path)
            assert re.search(r"is a list|is not a song|is no recording|nothing", str(caught.value))
        assert time.monotonic() - began < 2.0
    assert not seen
    assert not calls


def _film(path):
    with open_media(path, FILM):
        pass


@contextlib.contextmanager
def sockets_seen():
    """Sockets of this process that come up meanwhile; the library opens them in C, not Python."""
    before, seen, done = _sockets(), set(), threading.Event()

    def look():
        while not done.wait(0.001):
            seen.update(_sockets() - before)

    thread = threading.Thread(target=look)
    thread.start()
    try:
        yield seen
    finally:
        done.set()
        thread.join()


def _sockets():
    found = set()
    for entry in Path("/proc/self/fd").iterdir():
        with contextlib.suppress(OSError):
            if (name := os.readlink(entry)).startswith("socket:"):
                found.add(name)
    return found


@pytest.mark.parametrize("limits", [SONG, VOICE, FILM])
def test_a_pipe_a_device_a_folder_and_nothing_are_refused_at_once(limits, tmp_path):
    os.mkfifo(tmp_path / "pipe.wav")
    (tmp_path / "endless.wav").symlink_to("/dev/zero")
    (tmp_path / "empty.wav").touch()
    (tmp_path / "folder.wav").mkdir()
    for name in ("pipe.wav", "endless.wav", "empty.wav", "folder.wav", "gone.wav"):
        with pytest.raises(UserError), open_media(tmp_path / name, limits):
            pass


@pytest.mark.parametrize(
    ("limits", "sentence"),
    [
        (Limits(size=1000, length=9, work=9), "is larger than"),
        (Limits(size=10**7, length=1.0, work=9), "is longer than 1 s"),
        (Limits(size=10**7, length=9, work=9, channels=1), "has 2 channels; 1 at most"),
        (Limits(size=10**7, length=9, work=9, rates=(1, 22050)), "has 44100 samples a second"),
    ],
)
def test_every_limit_has_its_sentence(limits, sentence, tmp_path):
    soundfile.write(tmp_path / "song.wav", np.ones((2 * 44100, 2)) * 0.1, 44100)
    with pytest.raises(UserError, match=sentence):
        _all_of(tmp_path / "song.wav", limits)


def test_a_wav_of_one_sample_a_second_comes_in_packets_of_usual_size(tmp_path):
    """FFmpeg's own choice were a packet for every few bytes: two seconds of work to open this."""
    data = bytes(400_000)
    head = struct.pack("<4sI8sIHHIIHH4sI", b"RIFF", 36 + len(data), b"WAVEfmt ", 16, 1, 1, 1, 1, 1,
                       1, b"data", len(data))  # fmt: skip
    path = tmp_path / "slow.wav"
    path.write_bytes(head + data)
    with open_media(path, SONG) as media:
        assert 0 < sum(1 for _ in media.container.demux()) < 200


def test_reading_that_takes_too_long_ends(tmp_path, monkeypatch):
    soundfile.write(tmp_path / "song.wav", np.ones((2 * 44100, 2)) * 0.1, 44100)
    now = [0.0]
    monkeypatch.setattr(door.time, "monotonic", lambda: now.append(now[-1] + 1.0) or now[-1])
    with pytest.raises(UserError, match="takes too long"):
        _all_of(tmp_path / "song.wav", Limits(size=10**7, length=9, work=5.0))


def test_a_cover_of_225_million_pixels_is_not_painted(tmp_path):
    cover, song = tmp_path / "cover.png", tmp_path / "song.mp3"
    cover.write_bytes(_grey_png(15000, 15000))
    art = ["-map", "0", "-map", "1", "-c:v", "copy", "-disposition:v", "attached_pic"]
    ffmpeg("-f", "lavfi", "-i", "sine=440:d=2", "-i", cover, *art, song)
    code = (
        "import re, sys; from pathlib import Path; from rehearse.music.decode import load_track; "
        "print(load_track(Path(sys.argv[1])).duration, "
        "re.search(r'VmHWM:\\s*(\\d+)', Path('/proc/self/status').read_text())[1])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, song], check=True, capture_output=True, text=True
    )
    seconds, kilobytes = map(float, done.stdout.split())
    assert seconds == pytest.approx(2.0, abs=0.06)
    assert kilobytes < 150_000


def _grey_png(width, height):
    """A black picture, after ISO/IEC 15948: signature, header, data, end."""

    def chunk(kind, data):
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    pack, row = zlib.compressobj(1), bytes(1 + width)
    data = b"".join(pack.compress(row) for _ in range(height)) + pack.flush()
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def test_nothing_that_plays_is_a_fault_of_its_own(tmp_path):
    (tmp_path / "letter.mp3").write_text("Dear coach, here is my song.")
    with pytest.raises(NoMedia), open_media(tmp_path / "letter.mp3", SONG):
        pass


def _all_of(path, limits):
    with open_media(path, limits) as media:
        return [frame for _, frames in media.decoded(media.sound) for frame in frames]


@pytest.mark.parametrize("head", [b"", b"RIFF\xff\xff\xff\x7fWAVEfmt "])
def test_a_file_that_was_only_begun_is_told_at_once(tmp_path, head):
    path = tmp_path / "song.wav"
    path.write_bytes(head)
    with path.open("r+b") as stream:
        stream.truncate(3_000_000_000)
    with pytest.raises(UserError, match="is not all there: most of it was never written"):
        load_media(path)


def load_media(path):
    with open_media(path, SONG):
        pass
