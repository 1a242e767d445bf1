"""The late mirror's pictures: the right one, and never more of them than their bounds."""

import pytest

from rehearse.film.late_ring import LateRing


def test_the_picture_of_a_moment_is_the_last_one_taken_until_then():
    ring = LateRing()
    assert ring.at(5.0) is None
    for k in range(300):
        ring.add(k / 30, str(k).encode())
    ring.add(1.0, b"late")  # one that comes out of turn is left out
    for second in (0.0, 0.01, 3.999, 4.0, 9.9, 20.0):
        taken, picture = ring.at(second)
        assert int(picture) == min(299, int(second * 30 + 1e-6))
        assert 0 <= second - taken < 1 / 30 or second > 10
    assert ring.at(-0.01) is None


def test_memory_is_bounded_in_seconds_and_in_bytes():
    ring = LateRing(seconds=2.0, most=10_000)
    for k in range(3000):
        ring.add(k / 30, bytes(100))
        assert ring.size == 100 * len(ring) <= 10_000
    assert len(ring) == 61
    assert ring.oldest == pytest.approx(2999 / 30 - 2.0)
    assert len(ring._times) < 700
    ring = LateRing(seconds=100.0, most=10_000)
    for k in range(300):
        ring.add(k / 30, bytes(100))
    assert len(ring) == 100
    ring.add(11.0, bytes(50_000))  # larger than all that is allowed: nothing but it
    assert len(ring) == 1
    ring.clear()
    assert (len(ring), ring.size, ring.at(11.0)) == (0, 0, None)
