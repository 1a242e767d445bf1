"""The bundled face."""

import os
import subprocess
import sys

from PySide6.QtGui import QFont, QFontInfo, QFontMetricsF

from rehearse.files.locations import resource
from rehearse.ui.fonts import FAMILY, cap_ratio, face, face_with_cap


def test_the_face_is_ours_and_not_a_replacement(qapp):
    for strong in (False, True):
        info = QFontInfo(face(40, strong=strong))
        assert info.family() == FAMILY
        assert info.pixelSize() == 40
        assert info.weight() == (QFont.Weight.DemiBold if strong else QFont.Weight.Medium)


def test_figures_have_one_width(qapp):
    metrics = QFontMetricsF(face(100, strong=True))
    assert len({round(metrics.horizontalAdvance(figure), 2) for figure in "0123456789"}) == 1


def test_capitals_are_as_high_as_asked(qapp):
    metrics = QFontMetricsF(face_with_cap(120))
    assert abs(metrics.capHeight() - 120) < 1
    assert 0.6 < cap_ratio() < 0.8


def test_the_licence_travels_with_the_face():
    assert "SIL OPEN FONT LICENSE Version 1.1" in resource("fonts/OFL.txt").read_text()


_SIGNS = """
from PySide6.QtGui import QColor, QImage, QPainter
from rehearse.app import make_application
from rehearse.ui.fonts import face
application = make_application(["rehearse"])
def drawn(sign):
    image = QImage(40, 40, QImage.Format.Format_Grayscale8)
    image.fill(QColor("black"))
    painter = QPainter(image)
    painter.setFont(face(30))
    painter.setPen(QColor("white"))
    painter.drawText(5, 32, sign)
    painter.end()
    return bytes(image.constBits())
missing = drawn(chr(0xE123))
pictures = [drawn(sign) for sign in "▲△·✓✕○←→↑↓−…"]
assert missing not in pictures
assert len(set(pictures)) == len(pictures)
"""


def test_every_sign_is_drawn_where_the_system_has_no_font_at_all(tmp_path):
    """Fontconfig (fonts-conf(5)) is given a configuration without any folder of fonts."""
    config = tmp_path / "fonts.conf"
    config.write_text(f"<fontconfig><cachedir>{tmp_path}</cachedir></fontconfig>")
    done = subprocess.run(
        [sys.executable, "-c", _SIGNS],
        env={**os.environ, "FONTCONFIG_FILE": str(config)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
