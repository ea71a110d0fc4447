"""Draws a recording: its pitch, and rate and width of each note with vibrato, with their standard errors.

    python one_recording.py lesson.wav lesson.png
"""

import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np

import evenwave


def main(sound, picture):
    # %% Listen
    notes = evenwave.measure(sound)
    frames = evenwave.frames(sound)

    # %% The pitch while a note sounds, in cents from the first note's place
    first = notes[0]["reference_hz"]
    time = frames["time_s"]
    sounds = np.any([(time >= n["start_s"]) & (time <= n["end_s"]) for n in notes], axis=0)
    cents = np.where(sounds, 1200 * np.log2(frames["f0_hz"] / first), np.nan)
    figure, (above, below) = plt.subplots(2, 1, figsize=(9, 6), layout="constrained")
    above.plot(time, cents, linewidth=0.8)
    above.set(xlabel="time (s)", ylabel=f"cents from {notes[0]['name']}", title=sound)

    # %% Rate and width of each note
    swung = [note["vibrato"] for note in notes if note["vibrato"]]
    below.errorbar(
        [vibrato["rate_hz"] for vibrato in swung],
        [vibrato["width_cents"] for vibrato in swung],
        xerr=[vibrato["rate_se_hz"] for vibrato in swung],
        yerr=[vibrato["width_se_cents"] for vibrato in swung],
        fmt="o",
    )
    below.set(xlabel="rate (Hz)", ylabel="width (cents)")
    figure.savefig(picture, dpi=120)

    # %% The melody, for other programs
    evenwave.write_melody(f"{picture}.csv", frames)


if __name__ == "__main__":
    main(*sys.argv[1:])
