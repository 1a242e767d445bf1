"""A virtual screen of its own for a test: keys go in by xdotool, pixels are read by Xlib.

with Screen(1280, 720) as screen:
    process = subprocess.Popen([...], env={**os.environ, **screen.environment})
    screen.focus("Rehearse")
    screen.key("space")
    screen.pixel(2, 360)          # (red, green, blue), about 50 microseconds
"""

from __future__ import annotations

import ctypes
import ctypes.util
import os
import shutil
import subprocess
import time


def available() -> bool:
    """True where the virtual screen and its tools are installed."""
    return all(shutil.which(tool) for tool in ("Xvfb", "xdotool"))


class _Image(ctypes.Structure):
    _fields_ = (
        *((name, ctypes.c_int) for name in ("width", "height", "xoffset", "format")),
        ("data", ctypes.POINTER(ctypes.c_ubyte)),
    )


class Screen:
    """One Xvfb, 24 bits deep."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height

    def __enter__(self) -> Screen:
        read, write = os.pipe()
        size = f"{self.width}x{self.height}x24"
        command = ["Xvfb", "-displayfd", str(write), "-screen", "0", size, "-nolisten", "tcp"]
        self._process = subprocess.Popen(
            command, pass_fds=(write,), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        os.close(write)
        with os.fdopen(read) as stream:
            self.name = f":{stream.readline().strip()}"
        self._open()
        return self

    def __exit__(self, *_: object) -> None:
        self._x.XCloseDisplay(self._display)
        self._process.terminate()
        self._process.wait()

    @property
    def environment(self) -> dict[str, str]:
        """What a program needs to be shown here."""
        return {"DISPLAY": self.name, "QT_QPA_PLATFORM": "xcb"}

    def focus(self, title: str, timeout: float = 20.0) -> None:
        """Give the window whose title holds `title` the whole screen and the keyboard."""
        deadline = time.monotonic() + timeout
        while not (found := self._tool("search", "--onlyvisible", "--name", title)):
            if time.monotonic() > deadline:
                raise RuntimeError(f"no window {title!r} appeared")
            time.sleep(0.1)
        window = found.split()[-1]
        self._tool("windowmove", window, "0", "0")
        self._tool("windowsize", window, str(self.width), str(self.height))
        self._tool("windowfocus", window)

    def resize(self, title: str, width: int, height: int) -> None:
        """Give the window whose title holds `title` another size."""
        if found := self._tool("search", "--onlyvisible", "--name", title):
            self._tool("windowsize", found.split()[-1], str(width), str(height))

    def key(self, *names: str) -> None:
        """Press and release keys."""
        self._tool("key", *names)

    def tap(self, letter: str) -> float:
        """Press and release one letter at once; the time (`perf_counter`) just before it."""
        code = self._x.XKeysymToKeycode(self._display, ord(letter))
        before = time.perf_counter()
        for down in (1, 0):
            self._test.XTestFakeKeyEvent(self._display, code, down, 0)
        self._x.XFlush(self._display)
        return before

    def hold(self, name: str, seconds: float) -> None:
        """Hold a key down for so long; the X server repeats it meanwhile."""
        self._tool("keydown", name)
        time.sleep(seconds)
        self._tool("keyup", name)

    def pixel(self, x: int, y: int) -> tuple[int, int, int]:
        """Red, green and blue of one pixel, 0..255."""
        address = self._x.XGetImage(self._display, self._root, x, y, 1, 1, 0xFFFFFF, 2)
        data = ctypes.cast(address, ctypes.POINTER(_Image)).contents.data
        colour = (data[2], data[1], data[0])
        self._destroy(address)
        return colour

    def tool(self, *arguments: str) -> None:
        """Any other command of xdotool: keydown, mousemove, click …"""
        self._tool(*arguments)

    def _tool(self, *arguments: str) -> str:
        environment = {**os.environ, "DISPLAY": self.name}
        command = ["xdotool", *arguments]
        done = subprocess.run(
            command, env=environment, capture_output=True, text=True, check=False, timeout=20
        )
        return done.stdout.strip()

    def _open(self) -> None:
        self._x = x = ctypes.CDLL(ctypes.util.find_library("X11") or "libX11.so.6")
        x.XOpenDisplay.restype = x.XGetImage.restype = ctypes.c_void_p
        x.XOpenDisplay.argtypes = [ctypes.c_char_p]
        x.XDefaultRootWindow.argtypes = x.XCloseDisplay.argtypes = [ctypes.c_void_p]
        x.XDefaultRootWindow.restype = ctypes.c_ulong
        integers = [ctypes.c_int] * 2 + [ctypes.c_uint] * 2 + [ctypes.c_ulong, ctypes.c_int]
        x.XGetImage.argtypes = [ctypes.c_void_p, ctypes.c_ulong, *integers]
        x.XFree.argtypes = x.XFlush.argtypes = [ctypes.c_void_p]
        x.XKeysymToKeycode.argtypes = [ctypes.c_void_p, ctypes.c_ulong]
        self._test = ctypes.CDLL("libXtst.so.6")  # xdotool brings it
        self._test.XTestFakeKeyEvent.argtypes = [
            *(ctypes.c_void_p, ctypes.c_uint, ctypes.c_int, ctypes.c_ulong)
        ]
        self._display = x.XOpenDisplay(self.name.encode())
        self._root = x.XDefaultRootWindow(self._display)

    def _destroy(self, address: int) -> None:
        image = ctypes.cast(address, ctypes.POINTER(_Image)).contents
        self._x.XFree(ctypes.cast(image.data, ctypes.c_void_p))
        self._x.XFree(address)
