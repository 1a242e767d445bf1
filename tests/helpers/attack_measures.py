"""What slow music is measured by around its attacks, on made sound and on any song.

Conventions: `source` and `slow` are (frames, channels); `attacks` are frames of the source; frame
`n` of the source is at `n / tempo` of the slow one. Levels in dB. Each measure compares with what
the source has at the same place, played at its own speed or at the tempo.
"""

from itertools import pairwise

import numpy as np

#: Hertz, and seconds of the raised cosine its envelope is smoothed with.
BANDS = {"low": (60, 250, 0.020), "mid": (250, 2500, 0.008), "high": (3000, 18000, 0.003)}


def envelope(audio, rate, band):
    """Smoothed power of a band over all channels."""
    low, high, over = BANDS[band]
    window = np.hanning(max(3, int(over * rate) | 1))
    power = (band_pass(audio, rate, low, high) ** 2).sum(axis=1)
    return np.convolve(power, window / window.sum(), "same")


def band_pass(audio, rate, low, high):
    """Zero-phase, edges a third of an octave wide."""
    size = 1 << int(np.ceil(np.log2(len(audio) + rate // 5)))
    f = np.fft.rfftfreq(size, 1 / rate)
    edge = 2 ** (1 / 6)
    up = np.clip((f - low / edge) / (low * edge - low / edge), 0, 1)
    down = np.clip((high * edge - f) / (high * edge - high / edge), 0, 1)
    spectrum = np.fft.rfft(np.asarray(audio, np.float64), size, axis=0)
    return np.fft.irfft(spectrum * (up * down)[:, None], size, axis=0)[: len(audio)]


def _db(ratio):
    return 10 * np.log10(ratio)


def around(source, slow, attacks, rate, tempo, band):
    """Each attack of one band.

    Returns:
        dict of arrays over those attacks that rise by 6 dB or more in the band: `peak` against
        the source's; `rise` (peak against the 30 ms before) against the source's; `before`, how
        far anything 80..6 ms before passes all the source has there; `hole`, the deepest place
        5..80 ms after against the lower of source 1:1 and source at the tempo; `after`, the
        highest place there against the higher.
    """
    x, y = envelope(source, rate, band), envelope(slow, rate, band)
    floor = 1e-6 * x.mean() + 1e-12
    x, y = x + floor, y + floor
    told = {key: [] for key in ("peak", "rise", "before", "hole", "after")}
    gaps = np.diff(attacks, append=len(source)) / tempo
    back = np.diff(attacks, prepend=0) / tempo
    ms = rate / 1000
    for t, gap, room in zip(attacks, gaps, back, strict=True):
        place = round(t / tempo)
        if t < 60 * ms or t > len(source) - 130 * ms:
            continue
        peak_x = x[t : int(t + 20 * ms)].max()
        prior_x = x[int(t - 30 * ms) : int(t - 4 * ms)].mean()
        if peak_x < 4 * prior_x:
            continue
        peak_y = y[place : int(place + 20 * ms)].max()
        prior_y = y[int(place - 30 * ms) : int(place - 4 * ms)].mean()
        told["peak"].append(_db(peak_y / peak_x))
        told["rise"].append(_db(peak_y / prior_y) - _db(peak_x / prior_x))
        n = np.arange(int(max(-80 * ms, 70 * ms - room)), int(-6 * ms))
        if len(n):
            most = np.maximum(_near(x, t + n, ms, np.max), _near(x, t + n * tempo, ms, np.max))
            told["before"].append(_db((y[place + n] / most).max()))
        n = np.arange(int(5 * ms), int(min(80 * ms, gap * 0.9 - 10 * ms)))
        if len(n):
            one, other = x[t + n], x[(t + n * tempo).astype(int)]
            told["hole"].append(_db((y[place + n] / np.minimum(one, other)).min()))
            told["after"].append(_db((y[place + n] / np.maximum(one, other)).max()))
    return {key: np.array(values) for key, values in told.items()}


def doubled(source, slow, attacks, rate, tempo):
    """How many attacks are heard twice: a place 8 ms and more after one that is 3 dB above all the
    source has near there, at its own speed or at the tempo, and within 15 dB of the attack."""
    x, y = envelope(source, rate, "high"), envelope(slow, rate, "high")
    ms, count = rate / 1000, 0
    gaps = np.diff(attacks, append=len(source)) / tempo
    for t, gap in zip(attacks, gaps, strict=True):
        place, n = round(t / tempo), np.arange(int(8 * ms), int(min(90 * ms, gap * 0.9 - 8 * ms)))
        if len(n) and t + n[-1] < len(x) and place + n[-1] < len(y):
            most = np.maximum(_near(x, t + n, ms, np.max), _near(x, t + n * tempo, ms, np.max))
            loud = y[place + n] > y[place : place + int(8 * ms)].max() * 10**-1.5
            count += bool((loud & (y[place + n] > 2 * most)).any())
    return count


def _near(values, index, ms, function):
    index = np.clip(index.astype(int)[:, None] + (np.array([-4, -2, 0, 2, 4]) * ms).astype(int), 0,
                    len(values) - 1)  # fmt: skip
    return function(values[index], axis=1)


def held(source, slow, attacks, rate, tempo):
    """Partials that sound on through an attack: how far they dip and swell there.

    A partial is a peak of the source's spectrum (93 ms before the attack) between 100 and
    3000 Hz, within 26 dB of the strongest, that is as loud (within 1.5 dB) 60 to 150 ms after.

    Returns: for each the lowest and the highest level (60 ms) within -30..+60 ms of the attack in
        the slow music, against the lowest and the highest the source has there.
    """
    ms = rate / 1000
    size = int(93 * ms)
    window, dips, swells = np.hanning(size), [], []
    mono, other = (np.asarray(a, np.float64).mean(axis=1) for a in (source, slow))
    f = np.arange(4 * size // 2 + 1) * rate / (4 * size)
    for t in attacks:
        place = round(t / tempo)
        if t < 200 * ms or t > len(mono) - 300 * ms or place > len(other) - 300 * ms:
            continue
        s = np.abs(np.fft.rfft(mono[t - size - int(3 * ms) : t - int(3 * ms)] * window, 4 * size))
        inside = np.flatnonzero((f > 100) & (f < 3000))
        peaks = inside[(s[inside] > s[inside - 1]) & (s[inside] >= s[inside + 1])]
        peaks = peaks[s[peaks] > s[inside].max() * 10 ** (-26 / 20)]
        for k in peaks[np.argsort(-s[peaks])][:6]:
            level = _demodulated(mono, t, f[k], rate, 1.0)
            after = _demodulated(mono, t + int(105 * ms), f[k], rate, 1.0)
            if abs(after[0] - level[0]) > 1.5 or np.ptp(level) > 8:
                continue
            mine = _demodulated(other, place, f[k], rate, 1 / tempo)
            dips.append(mine.min() - level.min())
            swells.append(mine.max() - level.max())
    return np.array(dips), np.array(swells)


def _demodulated(mono, t, frequency, rate, slower):
    """Level (dB) of one frequency over 60 ms at places around frame t."""
    ms = rate / 1000
    size = int(60 * ms)
    window = np.hanning(size) * np.exp(-2j * np.pi * frequency * np.arange(size) / rate)
    levels = []
    for off in (-60, -30, -15, 0, 15, 30, 45, 60):
        a = int(t + off * ms * (slower if off < -30 else 1)) - size // 2
        levels.append(20 * np.log10(np.abs((mono[a : a + size] * window).sum()) / size + 1e-9))
    return np.array(levels)


def soft_rise(source, slow, places, rate, tempo):
    """How much of each soft attack's rise is kept (dB, 0: all, negative: smeared).

    The rise is that of the three third-octave bands that rise most in the source, from 40..8 ms
    before a place to 4..36 ms after it: the steepest there is within 30 ms of the place given.
    """
    ms = rate / 1000
    size = int(32 * ms)
    window = np.hanning(size)
    f = np.arange(size // 2 + 1) * rate / size
    edges = 90 * 2 ** (np.arange(0, 20) / 3)
    into = [(f >= a) & (f < b) for a, b in pairwise(edges) if ((f >= a) & (f < b)).any()]

    def powers(audio, start):
        part = np.asarray(audio[start : start + size], np.float64)
        s = (np.abs(np.fft.rfft(part * window[:, None], axis=0)) ** 2).sum(axis=1)
        return np.array([s[band].sum() for band in into]) + 1e-10

    def rises(audio, middle, reach):
        offsets = np.arange(-reach, reach + 1, 5)
        before = np.array([powers(audio, int(middle + (o - 40) * ms)) for o in offsets])
        after = np.array([powers(audio, int(middle + (o + 4) * ms)) for o in offsets])
        return _db(after / before), after

    kept = []
    for t in places:
        place = round(t / tempo)
        if t < 150 * ms or t > len(source) - 150 * ms or place > len(slow) - 150 * ms:
            continue
        rise, after = rises(source, t, 30)
        rise = rise * (after > after.max() * 0.01)
        three = np.sort(rise, axis=1)[:, -3:].mean(axis=1)
        best = int(np.argmax(three))
        if three[best] > 3:
            bands = np.argsort(-rise[best])[:3]
            kept.append(rises(slow, place, 60)[0][:, bands].mean(axis=1).max() - three[best])
    return np.array(kept)


def peak_over(source, slow):
    """The slow music's highest sample against the source's (dB)."""
    return 20 * np.log10((np.abs(slow).max() + 1e-12) / (np.abs(source).max() + 1e-12))


def wrap_dip(loop, source_at_wrap, rate, tempo):
    """Level within 10 ms of a loop's wrap against within 100 ms (dB), less the same of the source
    played on at the place it wraps to, over times shorter by the tempo."""
    near = int(0.11 * rate)
    joined = np.concatenate([loop[-near:], loop[:near]])
    own = _dip(joined, rate, 1.0)
    return own, own - _dip(source_at_wrap, rate, tempo)


def _dip(joined, rate, scale):
    middle = len(joined) // 2

    def power(ms):
        half = max(1, int(ms * rate * scale / 1000))
        return (np.asarray(joined[middle - half : middle + half], np.float64) ** 2).mean() + 1e-12

    return _db(power(10) / power(100))


def levels(audio, rate, over=0.05):
    """Level of each 50 ms (dB)."""
    n = int(over * rate)
    blocks = np.asarray(audio[: len(audio) // n * n], np.float64).reshape(-1, n * audio.shape[1])
    return _db((blocks**2).mean(axis=1) + 1e-7)
