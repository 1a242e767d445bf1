"""Finding a speaker's delay from taps, and keeping it."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehearse.files.user_error import UserError
from rehearse.playback.calibrate import Delays, measure_delay

CLICKS = [10 + 0.75 * k for k in range(12)]


@given(
    delay=st.floats(0.0, 0.5),
    seed=st.integers(0, 1000),
    missed=st.integers(0, 3),
    interval=st.sampled_from([0.7, 0.75, 1.0]),
)
def test_the_delay_is_found_whatever_the_tempo_and_the_missed_taps(delay, seed, missed, interval):
    rng = np.random.default_rng(seed)
    clicks = [10 + interval * k for k in range(16)]
    kept = rng.choice(16, 16 - missed, replace=False)
    taps = [clicks[k] + delay + rng.normal(0, 0.008) for k in kept]
    found = measure_delay(clicks, taps)
    assert found.seconds == pytest.approx(delay, abs=0.015)
    assert found.spread < 0.02
    assert not found.doubtful


def test_wild_taps_are_doubtful():
    rng = np.random.default_rng(1)
    taps = [click + rng.uniform(0.0, 0.5) for click in CLICKS]
    assert measure_delay(CLICKS, taps).doubtful


def test_a_stray_tap_does_not_move_the_median():
    taps = [click + 0.18 for click in CLICKS] + [12.4]
    assert measure_delay(CLICKS, taps).seconds == pytest.approx(0.18, abs=1e-6)


def test_too_few_taps_say_what_to_do():
    with pytest.raises(UserError, match="Only 3 taps fit the clicks – tap to 8 clicks again"):
        measure_delay(CLICKS, [c + 0.1 for c in CLICKS[:3]])


def test_delays_are_kept_per_device(tmp_path):
    path = tmp_path / "settings" / "speakers.json"
    delays = Delays(path)
    assert delays.of("gym speaker") == 0.0
    delays.set("gym speaker", 0.18)
    delays.set("headphones", 0.02)
    assert Delays(path).of("gym speaker") == 0.18
    assert json.loads(path.read_text()) == {"gym speaker": 0.18, "headphones": 0.02}


@pytest.mark.parametrize("text", ["", "[]", "{", '{"a": "x"}', '{"a": null}', "\x00"])
def test_a_damaged_file_counts_as_empty_and_can_be_replaced(tmp_path, text):
    path = tmp_path / "speakers.json"
    path.write_text(text)
    delays = Delays(path)
    assert delays.of("a") == 0.0
    delays.set("a", 0.1)
    assert delays.of("a") == 0.1


def test_the_users_folder_is_the_default(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert Delays().path.name == "speakers.json"
