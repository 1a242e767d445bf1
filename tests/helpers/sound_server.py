"""A sound server of its own for a test: private, with a silent speaker that can be recorded.

    with SoundServer() as server:
        with server.recording() as recording:
            ... play something in a process started with `server.environment` ...
        samples = recording.samples          # float32 (frames, 2) at server.rate

It is PulseAudio with a null sink in a temporary folder; the machine's own sound server is not
touched. `stop` and `start` play the server's death and return, `remove_sink` and
`add_sink` a speaker unplugged and plugged in again, `choose` the user's choice of another one.
Recording starts before `recording()` enters.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import shutil
import subprocess
import tempfile
import threading
import time
from pathlib import Path

import numpy as np


def available() -> bool:
    """True where PulseAudio and its tools are installed."""
    return all(shutil.which(tool) for tool in ("pulseaudio", "pactl", "parec"))


_BLOCK = 0.005


class Recording:
    """What leaves the speaker, frame by frame, and when each frame left it."""

    def __init__(self, server: SoundServer, speaker: str) -> None:
        self._rate = server.rate
        self._chunks: list[bytes] = []
        self._bytes = 0
        self._arrivals: list[tuple[int, float]] = []  # frames by then, perf_counter
        self._process = subprocess.Popen(
            [
                "parec",
                f"--device={speaker}.monitor",
                "--format=float32le",
                f"--rate={server.rate}",
                "--channels=2",
                f"--latency-msec={1000 * _BLOCK:.0f}",
                "--raw",
            ],
            env=server.environment,
            stdout=subprocess.PIPE,
        )
        # Room for three seconds, in case the recording process itself is stalled.
        fcntl.fcntl(self._process.stdout, fcntl.F_SETPIPE_SZ, 1 << 20)
        self._thread = threading.Thread(target=self._read, name="recording", daemon=True)
        self._thread.start()
        deadline = time.perf_counter() + 10
        while not self._bytes:
            if time.perf_counter() > deadline:
                raise RuntimeError("the recording of the silent speaker did not start")
            time.sleep(0.005)

    def _read(self) -> None:
        assert self._process.stdout is not None
        while chunk := os.read(self._process.stdout.fileno(), 1 << 16):
            self._chunks.append(chunk)
            self._bytes += len(chunk)
            self._arrivals.append((self._bytes // 8, time.perf_counter()))
        self._process.stdout.close()

    @property
    def frames(self) -> int:
        """Frames recorded up to now."""
        return self._bytes // 8

    @property
    def samples(self) -> np.ndarray:
        """Everything recorded up to now, float32 (frames, 2)."""
        raw = b"".join(list(self._chunks))
        return np.frombuffer(raw[: len(raw) // 8 * 8], np.float32).reshape(-1, 2)

    def time_of(self, frame: float) -> float:
        """When a frame left the speaker, `time.perf_counter` seconds, within about 1 ms.

        The silent speaker hands out a block of 5 ms at the moment its first frame is played; what
        arrives later than that was held up on its way, so the earliest arrivals near by count.
        """
        frames, times = np.array(self._arrivals).T
        near = np.abs(frames - frame) < 2 * self._rate
        return float(np.min(times[near] - frames[near] / self._rate)) + _BLOCK + frame / self._rate

    def stop(self) -> None:
        """End the recording; `samples` stays."""
        self._process.terminate()
        self._process.wait()
        self._thread.join()


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
        self._process: subprocess.Popen[bytes] | None = None
        self._sinks: dict[str, str] = {}  # modules by name

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
        self._hurry()
        self.add_sink()

    def _hurry(self) -> None:
        """Let the server be scheduled in real time where that is allowed, as on a desktop: what
        is tested is the program, not a starved server."""
        assert self._process is not None
        with contextlib.suppress(OSError):
            for thread in os.listdir(f"/proc/{self._process.pid}/task"):
                os.sched_setscheduler(int(thread), os.SCHED_RR, os.sched_param(5))

    def stop(self) -> None:
        """Kill the server, as a crash would."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def add_sink(self, name: str = "") -> None:
        """Plug a speaker in, by default the first one."""
        name = name or self.sink
        done = self._pactl(
            "load-module", "module-null-sink", f"sink_name={name}", f"rate={self.rate}",
            f"sink_properties=device.description={name}",
        )  # fmt: skip
        self._sinks[name] = done.stdout.strip()

    def never_without(self) -> None:
        """Have a sink that leads nowhere while there is no speaker, as desktops do."""
        self._pactl("load-module", "module-always-sink")

    def remove_sink(self) -> None:
        """Unplug the first speaker."""
        self._pactl("unload-module", self._sinks.pop(self.sink))

    def choose(self, name: str) -> None:
        """Make a speaker the default, as its user would in the system's settings."""
        self._pactl("set-default-sink", name)

    @contextlib.contextmanager
    def recording(self, speaker: str = ""):
        """Record what leaves a speaker, by default the first one."""
        recording = Recording(self, speaker or self.sink)
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
