"""What moved between two pictures: short forms of filters do as the library's, and moves are found.

Values are compared with those of SciPy and NumPy, which are slow on pictures as small as these.
"""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, map_coordinates, uniform_filter

from rehearse.film import movement, optical_flow


@pytest.fixture(scope="module", params=[(136, 240), (43, 27)])
def picture(request):
    noise = np.random.default_rng(4).normal(128, 300, request.param)
    return np.clip(gaussian_filter(noise, 3), 0, 255).astype(np.float32)


def test_means_and_slopes_are_those_of_the_libraries(picture):
    near = optical_flow._near(picture)
    assert near == pytest.approx(uniform_filter(picture, optical_flow._ROUND), abs=1e-3)
    down, right = np.gradient(picture)
    assert optical_flow._slope(picture) == pytest.approx(down, abs=1e-4)
    across = optical_flow._slope(picture.T).T
    assert across == pytest.approx(right, abs=1e-4)


def test_a_picture_looked_at_beside_its_points_is_even_between_them_and_ends_at_its_edges(picture):
    down, right = np.random.default_rng(5).normal(0, 4, (2, *picture.shape)).astype(np.float32)
    y, x = np.mgrid[0 : picture.shape[0], 0 : picture.shape[1]]
    wanted = map_coordinates(picture, [y + down, x + right], order=1, mode="nearest")
    assert optical_flow._at(picture, down, right) == pytest.approx(wanted, abs=0.01)


def test_half_a_picture_is_the_mean_of_four_points(picture):
    small = (picture.astype(np.uint8), picture)
    height, width = (n // 2 * 2 for n in picture.shape)
    blocks = [p[:height, :width].reshape(height // 2, 2, width // 2, 2) for p in small]
    means = [b.mean(axis=(1, 3)) for b in blocks]
    assert (movement._half(small[0]) == means[0].astype(np.uint8)).all()
    assert optical_flow._halved(small[1]) == pytest.approx(means[1], abs=1e-3)


def test_a_moved_patch_has_its_flow_and_the_room_has_none():
    rng = np.random.default_rng(6)
    room = gaussian_filter(rng.normal(128, 300, (120, 200)), 3).astype(np.float32)
    patch = gaussian_filter(rng.normal(128, 300, (60, 60)), 3).astype(np.float32)
    first, second = room.copy(), room.copy()
    first[30:90, 70:130], second[30:90, 73:133] = patch, patch
    moved = optical_flow.flow(first, second)
    assert np.median(moved[45:75, 85:115]) == pytest.approx(3.0, abs=0.2)
    assert np.median(moved[:20]) < 0.1
