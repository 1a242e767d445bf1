"""The network in NumPy does what torch did when it was trained."""

from pathlib import Path

import numpy as np
import pytest

from rehearse.music.analysis.features import BANDS, FPS, RATE, band_energies
from rehearse.music.analysis.network import INTERVALS, OUTPUTS, activation_of, forward, load_weights

CHECK = Path(__file__).parents[1] / "data" / "beat_network_check.npz"


def test_output_is_torchs():
    """The stored output is torch's, in float32, for the weights before they were rounded."""
    with np.load(CHECK) as check:
        energies, wanted, start = check["energies"], check["result"], int(check["start"])
    out = forward(energies.astype(np.float32), load_weights())[start : start + len(wanted)]
    assert wanted.shape == (300, OUTPUTS)
    assert float(np.abs(wanted).max()) > 3.0
    assert float(np.abs(out - wanted).max()) < 0.05
    assert float(np.abs(out - wanted).mean()) < 0.01


def test_network_is_small():
    count = sum(w.size for w in load_weights().values())
    assert 30_000 < count < 150_000


def test_tempo_is_a_distribution():
    rng = np.random.default_rng(0)
    activation = activation_of(rng.uniform(0, 5, (200, BANDS)).astype(np.float32))
    assert np.allclose(np.exp(activation.tempo).sum(axis=1), 1.0, atol=1e-4)
    assert activation.tempo.shape == (200, len(INTERVALS))


def test_frames_stand_where_they_should():
    """A click at 2 s is loudest in the frame of 2 s, at any sample rate."""
    for rate in (8000, 22050, 44100, 48000, 96000, 192000):
        sound = np.zeros((4 * rate, 2), np.float32)
        sound[2 * rate : 2 * rate + rate // 500] = 0.5
        energies = band_energies(sound, rate)
        assert len(energies) == pytest.approx(4 * FPS, abs=2)
        assert int(energies[:, :30].sum(axis=1).argmax()) == pytest.approx(2 * FPS, abs=1)


def test_a_lone_tone_lies_in_its_band():
    """1 kHz: mel 999.99 by O'Shaughnessy's formula, so band 16 of 48 between 30 Hz and 10 kHz."""
    t = np.arange(2 * RATE) / RATE
    energies = band_energies((0.3 * np.sin(2 * np.pi * 1000 * t)).astype(np.float32), RATE)
    mel = np.linspace(2595 * np.log10(1 + 30 / 700), 2595 * np.log10(1 + 10000 / 700), 50)[1:-1]
    assert int(energies[50, :48].argmax()) == int(np.abs(mel - 999.99).argmin())


def test_level_does_not_matter():
    rng = np.random.default_rng(1)
    sound = rng.normal(0, 0.1, (RATE * 3, 2)).astype(np.float32)
    loud, quiet = band_energies(sound, RATE), band_energies(sound * 0.01, RATE)
    assert np.allclose(loud, quiet, atol=0.01)


def test_opposite_channels_do_not_cancel():
    rng = np.random.default_rng(2)
    one = rng.normal(0, 0.1, RATE * 2).astype(np.float32)
    energies = band_energies(np.column_stack([one, -one]), RATE)
    assert np.allclose(energies, band_energies(one, RATE), atol=0.01)
