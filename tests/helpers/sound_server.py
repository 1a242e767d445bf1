"""A sound server of its own for a test: private, with a silent speaker that can be recorded.

    with SoundServer() as server:
        with server.recording() as recording:
            ... play something in a process started with `server.environment` ...
        samples = recording.samples          # float32 (frames, 2) at server.rate

It is PulseAudio with a null sink in a temporary folder; nothing of the machine's own sound set-up
is read or touched. `stop` and `start` play the server's death and return, `remove_sink` and
`add_sink` a speaker unplugged and plugged in again. Recording starts before `recording()` enters.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

import numpy as np


def available() -> bool:
    """True where PulseAudio and its tools are installed."""
    return all(shutil.which(tool) for tool in ("pulseaudio", "pactl", "parec"))


class Recording:
    """What left the speaker, from `first_heard` (perf_counter seconds) on."""

    def __init__(self, server: SoundServer, path: Path) -> None:
        self._server, self._path = server, path
        self._process = subprocess.Popen(
            [
                "parec",
                f"--device={server.sink}.monitor",
                "--format=float32le",
                f"--rate={server.rate}",
                "--channels=2",
                "--latency-msec=10",
                "--raw",
                str(path),
            ],
            env=server.environment,
        )
        deadline = time.perf_counter() + 10
        while not (path.exists() and path.stat().st_size):
            if time.perf_counter() > deadline:
                raise RuntimeError("the recording of the silent speaker did not start")
            time.sleep(0.005)

    @property
    def frames(self) -> int:
        """Frames recorded up to now."""
        return self._path.stat().st_size // 8

    @property
    def samples(self) -> np.ndarray:
        """Everything recorded up to now, float32 (frames, 2)."""
        raw = np.fromfile(self._path, np.float32)
        return raw[: len(raw) // 2 * 2].reshape(-1, 2)

    def stop(self) -> None:
        """End the recording; `samples` stays."""
        self._process.terminate()
        self._process.wait()


class SoundServer:
    """A private PulseAudio with one null sink."""

    sink = "speaker"

    def __init__(self, rate: int = 44_100) -> None:
        self.rate = rate
        self.folder = Path(tempfile.mkdtemp(prefix="sound-"))
        self.environment = dict(os.environ)
        for name in ("PULSE_RUNTIME_PATH", "XDG_RUNTIME_DIR", "XDG_CONFIG_HOME", "HOME"):
            path = self.folder / name.lower()
            path.mkdir(mode=0o700)
            self.environment[name] = str(path)
        self.environment["PULSE_SERVER"] = f"unix:{self.folder}/native"
        self.environment["PULSE_LATENCY_MSEC"] = ""
        del self.environment["PULSE_LATENCY_MSEC"]
        # ALSA programs reach the server through the pulse plugin, as on a desktop.
        config = self.folder / "asound.conf"
        config.write_text(
            "<confdir:alsa.conf>\n"
            "pcm.!default { type pulse }\nctl.!default { type pulse }\n"
            "pcm.pulse { type pulse }\nctl.pulse { type pulse }\n"
        )
        self._process: subprocess.Popen[bytes] | None = None
        self._sink_module = ""
        self._recordings = 0

    def __enter__(self) -> SoundServer:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    def start(self) -> None:
        """Start the server and plug its speaker in."""
        (self.folder / "native").unlink(missing_ok=True)
        self._process = subprocess.Popen(
            [
                "pulseaudio",
                "-n",
                "--daemonize=no",
                "--use-pid-file=no",
                "--exit-idle-time=-1",
                "--disable-shm=yes",
                "--log-target=stderr",
                "--log-level=error",
                f"--load=module-native-protocol-unix socket={self.folder}/native auth-anonymous=1",
            ],
            env=self.environment,
            start_new_session=True,  # as a daemon has
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        deadline = time.monotonic() + 10
        while self._pactl("info", check=False).returncode:
            if time.monotonic() > deadline:
                raise RuntimeError("the sound server did not start")
            time.sleep(0.05)
        self.add_sink()

    def stop(self) -> None:
        """Kill the server, as a crash would."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def add_sink(self) -> None:
        """Plug the speaker in."""
        name = f"sink_name={self.sink}"
        done = self._pactl("load-module", "module-null-sink", name, f"rate={self.rate}")
        self._sink_module = done.stdout.strip()

    def remove_sink(self) -> None:
        """Unplug the speaker."""
        self._pactl("unload-module", self._sink_module)

    @contextlib.contextmanager
    def recording(self):
        """Record what leaves the speaker."""
        self._recordings += 1
        recording = Recording(self, self.folder / f"recording{self._recordings}.raw")
        try:
            yield recording
        finally:
            recording.stop()

    def _pactl(self, *arguments: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["pactl", *arguments],
            env=self.environment,
            capture_output=True,
            text=True,
            check=check,
            timeout=10,
        )
