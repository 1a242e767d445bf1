"""Works the Routine page as somebody at it would, by keys and clicks, and counts the gestures.

One gesture is a key, a click, or a word typed.
"""

from __future__ import annotations

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from rehearse.music.position import parse_position

K, M, LEFT = Qt.Key, Qt.KeyboardModifier, Qt.MouseButton.LeftButton
#: Presses of the key of the place that lead from one to the next.
PLACES = {"centre": 1, "left": 2, "right": 3}


class Hands:
    """The gestures of a choreographer at the Routine page of a window."""

    def __init__(self, page, workspace):
        self.page, self.workspace, self.gestures = page, workspace, 0

    def press(self, key, modifier=M.NoModifier):
        self.gestures += 1
        QTest.keyClick(self.page.window().focusWidget() or self.page, key, modifier)

    def write(self, words):
        self.gestures += 1
        QTest.keyClicks(self.page.window().focusWidget() or self.page, words)

    def click(self, place):
        """On the waveform: the cursor goes there."""
        self.gestures += 1
        wave = self.page.wave
        time = self.workspace.beatmap.time_of(parse_position(place))
        there = QPoint(round(wave.scale.x(time)), wave.height() // 2)
        QTest.mouseClick(wave, LEFT, pos=there)

    def pose(self, place, words):
        self.click(place)
        self.press(K.Key_P)
        self.write(words)
        self.press(K.Key_Return)

    def moves(self, *words):
        """One after the other into the chosen pose, or onto the way off."""
        self.press(K.Key_Comma)
        for word in words[:-1]:
            self.write(word)
            self.press(K.Key_Comma)
        self.write(words[-1])
        self.press(K.Key_Return)

    def again(self, place):
        """The held pose is hit once more."""
        self.click(place)
        self.press(K.Key_Period)

    def turned(self, side):
        """The way round into the chosen pose: once to the left, twice to the right."""
        self.times(1 if side == "left" else 2, K.Key_R, M.ShiftModifier)

    def at(self, place):
        """Where the chosen pose is held."""
        self.times(PLACES[place], K.Key_W, M.ShiftModifier)

    def paste_mirrored(self, poses, place):
        """The chosen pose and those before it, `poses` in all, once more and mirrored."""
        self.times(poses - 1, K.Key_Up)
        self.times(poses - 1, K.Key_Down, M.ShiftModifier)
        self.press(K.Key_C, M.ControlModifier)
        self.press(K.Key_Escape)
        self.click(place)
        self.press(K.Key_V, M.ControlModifier | M.ShiftModifier)
        self.press(K.Key_Escape)

    def times(self, count, key, modifier=M.NoModifier):
        for _ in range(count):
            self.press(key, modifier)
