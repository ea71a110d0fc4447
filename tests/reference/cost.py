"""Processor time of librosa's pYIN and WORLD's harvest on one file.

usage: cost.py FILE.wav LOW_HZ HIGH_HZ FRAME_SAMPLES HOP_SAMPLES

Prints a line "name,seconds" for each. What is compiled at the first call is compiled before the clock runs.
"""

import sys
import time

import librosa
import pyworld
import soundfile


def main():
    path, low, high, frame, hop = sys.argv[1], *map(float, sys.argv[2:6])
    samples, rate = soundfile.read(path, dtype="float64")

    def pyin(x):
        librosa.pyin(
            x, fmin=low, fmax=high, sr=rate, frame_length=int(frame), hop_length=int(hop)
        )

    def harvest(x):
        f0, times = pyworld.harvest(
            x, rate, f0_floor=low, f0_ceil=high, frame_period=1000 * hop / rate
        )
        pyworld.stonemask(x, f0, times, rate)

    for name, run in [("librosa pyin", pyin), ("pyworld harvest + stonemask", harvest)]:
        run(samples[:rate])
        start = time.process_time()
        run(samples)
        print(f"{name},{time.process_time() - start:.3f}", flush=True)


if __name__ == "__main__":
    main()
