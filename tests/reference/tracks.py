"""Pitch tracks of recorded sound by two independent libraries.

Both functions return (times, f0): seconds of the frames' centres, and Hz, 0 where there is no pitch.
"""

import librosa
import numpy as np
import pyworld
import soundfile

HOP_SECS = 0.005

# pYIN's frame in periods of the lowest pitch: a longer one flattens vibrato.
PYIN_FRAME_PERIODS = 3.0
# Below this pYIN reads steady tones of known pitch 2 to 6 cents sharp from 780 Hz up (seen by trying them).
PYIN_FRAME_LEAST_SECS = 0.010
# Semitones from one of pYIN's candidate pitches to the next.
PYIN_STEP_SEMITONES = 0.02


def read(path):
    """Samples of a file as one channel of floats, and its rate in Hz."""
    samples, rate = soundfile.read(path, dtype="float64", always_2d=True)
    return samples.mean(axis=1), rate


def pyin(samples, rate, low, high):
    """librosa's pYIN between `low` and `high` Hz.

    Source: M. Mauch and S. Dixon, "pYIN", ICASSP 2014, as librosa implements it.
    """
    hop = int(round(rate * HOP_SECS))
    f0, voiced, _ = librosa.pyin(
        samples,
        fmin=low,
        fmax=high,
        sr=rate,
        frame_length=int(rate * max(PYIN_FRAME_PERIODS / low, PYIN_FRAME_LEAST_SECS)),
        hop_length=hop,
        resolution=PYIN_STEP_SEMITONES,
        max_transition_rate=60.0,
        fill_na=0.0,
    )
    # Its frames stand a whole hop apart, which is not exactly 5 ms at every rate.
    return librosa.times_like(f0, sr=rate, hop_length=hop), np.where(voiced, f0, 0.0)


def harvest(samples, rate, low, high):
    """WORLD's harvest between `low` and `high` Hz, refined by stonemask.

    Source: M. Morise, "Harvest", Interspeech 2017; stonemask is part of the same author's WORLD.
    """
    f0, times = pyworld.harvest(
        samples, rate, f0_floor=low, f0_ceil=high, frame_period=1000 * HOP_SECS
    )
    return times, pyworld.stonemask(samples, f0, times, rate)
