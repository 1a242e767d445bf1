"""Measures handouts on the demo: speed of cue tracks, words against their beats, the sheet.

    python tests/bench/handout.py

Onsets are measured by the mel-band spectral flux of librosa, loudness by pyloudnorm: neither is
used by the product.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import librosa
import numpy as np
import pyloudnorm

from rehearse.cueing.cue_options import CueVolumes, VolumeStep
from rehearse.cueing.speech import SpeechChoice, plan_speech
from rehearse.cueing.voice import VOICES, SpeechEngine, VoiceSetting
from rehearse.handout.cue_plan import CuePlan, plan_stretches
from rehearse.handout.cue_track import write_cue_track
from rehearse.handout.formats import FORMATS
from rehearse.handout.handout_source import load_source
from rehearse.handout.loudness import measure
from rehearse.handout.sheet import make_sheet
from rehearse.music.decode import load_track
from rehearse.music.track import Track
from rehearse.playback.offline_render import render
from rehearse.session.segment_builder import segment

DEMO = Path(__file__).resolve().parents[2] / "demo" / "copper-lights"
# Counts before a hit and seconds before one in free time must be told apart: 5 to 8, and 3 to 1.
SPOKEN = SpeechChoice(
    levels=CueVolumes(VolumeStep.LOUD, VolumeStep.LOUD, VolumeStep.OFF), counting="in"
)


def onset(sound, rate, expected, reach=0.1):
    """Seconds of the strongest rise of spectral flux near `expected`."""
    hop = rate // 1000
    first = int((expected - 0.4) * rate)
    piece = np.pad(sound[max(0, first) : int((expected + 0.3) * rate)], (max(0, -first), 0)).astype(
        np.float32
    )
    power = librosa.feature.melspectrogram(
        y=piece, sr=rate, n_fft=1024, hop_length=hop, n_mels=40, fmin=300, fmax=3000
    )
    flux = librosa.onset.onset_strength(S=librosa.power_to_db(power, top_db=40), sr=rate, lag=5)
    times = (np.arange(len(flux)) - 2.5) * hop / rate - 0.4
    near = np.abs(times) <= reach
    return expected + float(times[near][np.argmax(flux[near])])


def located(mix, clip, rate, expected):
    """Seconds by which the clip lies beside `expected` in the mix, by cross-correlation."""
    reach = int(0.05 * rate)
    first = round(expected * rate)
    window = mix[max(0, first - reach) : first + len(clip) + reach]
    match = np.correlate(window, clip, "valid")
    return (int(np.argmax(match)) - min(first, reach)) / rate


def words_on_beats(source, track):
    print("words against beats, demo, whole routine (ms); free time: seconds counted 3, 2, 1")
    print("placed: of the words in the mix, by correlation; mix: of its flux within 10 ms, percent")
    print(
        f"{'voice':24} {'tempo':>5} {'speed':>5} {'counts':>6} {'stem max':>9} {'stem p95':>9} "
        f"{'placed':>7} {'mix':>4} {'free time':>9}"
    )
    for voice in [v.key for v in VOICES if v.key.startswith("English")]:
        for tempo, speed in ((1.0, 230), (0.7, 150), (0.5, 300)):
            speech_engine = SpeechEngine(VoiceSetting(voice, count_speed=speed))
            (stretch,) = plan_stretches(source, CuePlan(tempos=(tempo,), choice=SPOKEN))
            one = segment(stretch, source.sheet, track.sample_rate, speech_engine)
            silent = Track(np.zeros_like(track.samples), track.sample_rate, "silent")
            stem, mix = render(silent, [one]), render(track, [one])
            rate, start = track.sample_rate, stem.starts[0]
            speech = plan_speech(
                source.sheet,
                stretch.start,
                stretch.end,
                speech_engine.measure,
                tempo=tempo,
                choice=SPOKEN,
            )
            counts = [line for line in speech.lines if line.kind == "count"]
            beats = [c for c in counts if c.text in ("5", "6", "7", "8", "and")]
            sound, mixed = stem.samples.mean(axis=1), mix.samples.mean(axis=1)

            def beside(lines, sound, rate=rate, start=start):
                found = [onset(sound, rate, start + c.onset) - start - c.onset for c in lines]
                return 1e3 * np.abs(found)

            clips = {c.text: speech_engine.samples(c.text, "count", rate) for c in counts}
            within = np.array([located(mixed, clips[c.text], rate, start + c.at) for c in counts])
            on, off = beside(beats, sound), beside([c for c in counts if c not in beats], sound)
            heard = 100 * np.mean(beside(beats, mixed) <= 10)
            print(
                f"{voice:24} {tempo:5.2f} {speed:5d} {len(beats):6d} {on.max():9.1f} "
                f"{np.percentile(on, 95):9.1f} {1e3 * np.abs(within).max():7.1f} {heard:4.0f} "
                f"{off.max(initial=0.0):9.1f}"
            )


def cue_tracks(source, track, folder):
    print("\ncue track, demo")
    print(
        f"{'format':6} {'passes':>6} {'length s':>8} {'wall s':>7} {'x real':>7} {'x cpu':>6} "
        f"{'LUFS':>6} {'dBTP':>6}"
    )
    for key, form in FORMATS.items():
        for tempos in ((1.0,), (0.6, 0.8, 1.0)):
            path = folder / f"cues.{key}"
            speech_engine = SpeechEngine(kept=folder / "voice")
            begin, work = time.perf_counter(), time.process_time()
            made = write_cue_track(
                source, track, path, CuePlan(tempos=tempos), speech_engine, form=form
            )
            wall, work = time.perf_counter() - begin, time.process_time() - work
            again = load_track(path)
            level = pyloudnorm.Meter(again.sample_rate).integrated_loudness(
                again.samples.astype(np.float64)
            )
            peak = measure(again.samples, again.sample_rate).true_peak
            print(
                f"{key:6} {len(tempos):6d} {made.length:8.1f} {wall:7.2f} "
                f"{made.length / wall:7.1f} {made.length / work:6.1f} {level:6.2f} {peak:6.2f}"
            )


def names_in_time(source):
    speech_engine = SpeechEngine()
    print("\nnames, demo, every tempo: end before the transition (s)")
    for tempo in (1.0, 0.8, 0.6, 0.5):
        sheet = source.sheet
        speech = plan_speech(sheet, sheet.start, sheet.end, speech_engine.measure, tempo=tempo)
        names = [line for line in speech.lines if line.kind == "name"]
        begins = np.array([(c.start - sheet.start) / tempo for c in sheet.cues])
        margins = [begins[begins > n.at][0] - n.end for n in names if (begins > n.at).any()]
        print(
            f"  {tempo:4.2f}: {len(names)} of {len(sheet.cues)} said, least {min(margins):.3f}, "
            f"short forms {sum(n.text not in {c.name for c in sheet.cues} for n in names)}"
        )


def voice_speed():
    SpeechEngine().say("warm up")
    names = [f"front double biceps {k}" for k in range(50)]
    speech_engine = SpeechEngine()
    begin = time.perf_counter()
    for name in names:
        speech_engine.say(name)
    print(f"\nvoice: {1e3 * (time.perf_counter() - begin) / len(names):.2f} ms a name")


def sheets(source):
    begin = time.perf_counter()
    sheet = make_sheet(source)
    wall = time.perf_counter() - begin
    print(f"sheet, {len(source.sheet.cues)} poses: {wall:.2f} s, {len(sheet.pdf) / 1e3:.0f} kB")


def main():
    source, track = load_source(DEMO), load_track(DEMO / "track.ogg")
    words_on_beats(source, track)
    names_in_time(source)
    voice_speed()
    sheets(source)
    with tempfile.TemporaryDirectory() as folder:
        cue_tracks(source, track, Path(folder))


if __name__ == "__main__":
    main()
