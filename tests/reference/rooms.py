"""Widths of notes that are played in rooms: the rooms are pyroomacoustics' (image sources), the notes evenwave's own.

R. Scheibler, E. Bezzam, I. Dokmanic, "Pyroomacoustics", ICASSP 2018.
"""

import numpy as np
import pyroomacoustics
import soundfile
from scipy.signal import butter, fftconvolve, sosfilt

# Length, width and height in m, and the share of the energy that walls, floor and ceiling take up.
ROOMS = {
    "furnished": ((5.2, 3.9, 2.6), {"walls": 0.30, "floor": 0.40, "ceiling": 0.25}),
    "bare": ((4.6, 3.6, 2.7), {"walls": 0.16, "floor": 0.12, "ceiling": 0.16}),
    "large": ((8.4, 6.1, 3.3), {"walls": 0.22, "floor": 0.30, "ceiling": 0.20}),
}
DISTANCES_M = (0.4, 0.7, 1.0, 1.5)
MOST_REFLECTIONS = 17
RATE_HZ = 48_000
# Direct sound is what comes within so long of the first, and the two are compared in this band.
DIRECT_S = 0.0028
BAND_HZ = (100.0, 4000.0)
# Notes of a file, so many in each octave from C2 to B5; rates and widths are drawn. Of 24 notes in the strongest rooms three lay
# beyond two doubts, of 48 two: fewer than these say little.
OCTAVES = (36, 48, 60, 72)
ROUNDS = 6
LENGTH_S = 2.2
STEP_S = 3.4
SEED = 51


def response(size, absorption, distance, rng):
    """The room's answer to a click, from a cellist's place to a microphone so far away."""
    walls = dict.fromkeys(("east", "west", "north", "south"), absorption["walls"])
    walls |= {"floor": absorption["floor"], "ceiling": absorption["ceiling"]}
    materials = {name: pyroomacoustics.Material(share) for name, share in walls.items()}
    room = pyroomacoustics.ShoeBox(size, fs=RATE_HZ, materials=materials, max_order=MOST_REFLECTIONS)
    source = np.array([0.4 * size[0], 0.45 * size[1], 0.75]) + rng.uniform(-0.2, 0.2, 3)
    angle = rng.uniform(0, 2 * np.pi)
    towards = np.array([np.cos(angle), np.sin(angle), 0.25])
    room.add_source(source)
    room.add_microphone(source + distance * towards / np.linalg.norm(towards))
    room.compute_rir()
    return room.rir[0][0]


def ratio_db(impulse):
    """Direct sound over late sound."""
    inside = sosfilt(butter(2, BAND_HZ, "bandpass", fs=RATE_HZ, output="sos"), impulse)
    first = int(np.argmax(np.abs(impulse))) + int(DIRECT_S * RATE_HZ)
    return 10 * np.log10(np.sum(inside[:first] ** 2) / np.sum(inside[first:] ** 2))


def notes(rng):
    """Pitch in Hz, rate in Hz and width in cents of the notes of one file."""
    midis = [octave + rng.uniform(0, 12) for _ in range(ROUNDS) for octave in OCTAVES]
    return [(440 * 2 ** ((m - 69) / 12), rng.uniform(4, 7), rng.uniform(10, 80)) for m in midis]


def spec(played, seed):
    lines = "".join(
        f"(start: {0.3 + STEP_S * i:.2f}, length: {LENGTH_S}, f0: {f0:.3f}, "
        f"vibrato: Some((rate: {rate:.3f}, width: {width:.2f}))),"
        for i, (f0, rate, width) in enumerate(played)
    )
    return f"(seed: {seed}, bow: (snr_db: Some(35.0)), floor_dbfs: Some(-75.0), lines: [(notes: [{lines}])])"


def results(evenwave, measured, program, work):
    """For each note its room's ratio in dB, the width told over the true one less 1, the error in cents, and that over the
    standard error told; infinite where no vibrato was told."""
    rng = np.random.default_rng(SEED)
    found = []
    for name, (size, absorption) in ROOMS.items():
        for distance in DISTANCES_M:
            played = notes(rng)
            recipe, dry, wet = (work / f"{name}-{distance}.{end}" for end in ("ron", "wav", "room.wav"))
            recipe.write_text(spec(played, int(rng.integers(1 << 31))))
            evenwave(program, "tone", recipe, "--replace", "-o", dry)
            samples, rate = soundfile.read(dry)
            assert rate == RATE_HZ, rate
            impulse = response(size, absorption, distance, rng)
            heard = fftconvolve(samples, impulse)
            soundfile.write(wet, 0.5 * heard / np.max(np.abs(heard)), RATE_HZ, subtype="FLOAT")
            told = measured(program, wet)["notes"]
            for i, (_, _, width) in enumerate(played):
                middle = 0.3 + STEP_S * i + LENGTH_S / 2
                note = next((n for n in told if n["start_s"] < middle < n["end_s"]), None)
                vibrato = note and note["vibrato"]
                off = vibrato["width_cents"] - width if vibrato else np.inf
                error = vibrato.get("width_se_cents") if vibrato else None
                found.append((ratio_db(impulse), off / width, off, off / error if error else np.inf))
    return np.array(found)
