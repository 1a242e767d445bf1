"""The bundled face."""

from PySide6.QtGui import QFontInfo, QFontMetricsF

from rehearse.files.locations import resource
from rehearse.ui.fonts import FAMILY, cap_ratio, face, face_with_cap


def test_the_face_is_ours_and_not_a_replacement(qapp):
    for strong in (False, True):
        info = QFontInfo(face(40, strong=strong))
        assert info.family() == FAMILY
        assert info.exactMatch()


def test_figures_have_one_width(qapp):
    metrics = QFontMetricsF(face(100, strong=True))
    assert len({round(metrics.horizontalAdvance(figure), 2) for figure in "0123456789"}) == 1


def test_capitals_are_as_high_as_asked(qapp):
    metrics = QFontMetricsF(face_with_cap(120))
    assert abs(metrics.capHeight() - 120) < 1
    assert 0.6 < cap_ratio() < 0.8


def test_the_licence_travels_with_the_face():
    assert "SIL OPEN FONT LICENSE Version 1.1" in resource("fonts/OFL.txt").read_text()
