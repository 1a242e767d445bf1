"""The look against its standard: WCAG 2.2."""

import itertools

import pytest

from rehearse.ui import theme


def test_luminance_and_contrast_of_the_standards_own_examples():
    # WCAG 2.2, definition of contrast ratio: 21:1 for black on white, 1:1 for equal colours.
    assert theme.contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert theme.contrast("#777777", "#777777") == pytest.approx(1.0)
    # Understanding SC 1.4.3: #767676 is the lightest grey with 4.5:1 on white (from memory).
    assert theme.contrast("#767676", "#ffffff") >= 4.5 > theme.contrast("#777777", "#ffffff")


@pytest.mark.parametrize(("ink", "ground", "least"), theme.PAIRS)
def test_every_pair_of_colours_has_its_contrast(ink, ground, least):
    # WCAG 2.2 SC 1.4.6: 7:1 for text.
    assert theme.contrast(ink, ground) >= least


def test_sizes_are_four_in_one_ratio():
    sizes = (theme.SMALL, theme.BODY, theme.TITLE, theme.DISPLAY)
    for small, large in itertools.pairwise(sizes):
        assert large / small == pytest.approx(1.5, abs=0.03)
