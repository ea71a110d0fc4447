"""Phrases and counted rounds of sampled strings: a general MIDI bank of recorded notes (Debian's fluid-soundfont-gm), sounded
by fluidsynth. Slurs and vibrato are pitch bends, a new bow is the next note.

What is begun when is read from the sound itself, not from the note that was sent: detached notes sound on two tracks in turn, and
one begins once it is louder than what is left of the other and within 20 dB of its own level.
"""

import csv
import json
import subprocess

import mido
import numpy as np
import soundfile
from scipy.signal import fftconvolve

import rooms

BANK = "/usr/share/sounds/sf2/FluidR3_GM.sf2"
RATE_HZ = 48_000
# The bank's number of each instrument and the range that is played here.
INSTRUMENTS = {"violin": (40, 55, 88), "viola": (41, 48, 76), "cello": (42, 36, 69), "double-bass": (43, 28, 55)}
BEND_SEMITONES = 12
# A bend each so many seconds, and ticks a second.
STEP_S = 0.004
TICKS = 10_000
# Between two bows on one pitch: the bank's own release would cover the change.
SPACE_S = 0.07
LEAD_S = 0.3
FALL_S = 0.012
SEED = 63

PHRASES = 24
NOTES = 10
EARLY_S, LATE_S = 0.08, 0.15
SAME_CENTS = 70.0
BEHIND_S = (0.04, 0.3)
WRONG_CENTS = 100.0


def sounded(events, path):
    """One track's sound, dry: events are (seconds, order, message)."""
    midi = mido.MidiFile(ticks_per_beat=TICKS // 2)
    track = mido.MidiTrack()
    midi.tracks.append(track)
    now = 0
    for at, _, message in sorted(events, key=lambda event: (round(event[0] * TICKS), event[1])):
        tick = max(now, round(at * TICKS))
        track.append(message.copy(time=tick - now))
        now = tick
    midi.save(path.with_suffix(".mid"))
    line = "fluidsynth -n -i -q -g 0.8 -T wav -O float -o synth.reverb.active=0 -o synth.chorus.active=0".split()
    line += ["-r", str(RATE_HZ), "-F", str(path), BANK, str(path.with_suffix(".mid"))]
    subprocess.run(line, check=True, capture_output=True)
    samples, _ = soundfile.read(path)
    return samples[:, 0]


def head(program):
    control = [(101, 0), (100, 0), (6, BEND_SEMITONES), (38, 0), (7, 100), (10, 0), (91, 0), (93, 0)]
    start = [(0.0, 0, mido.Message("program_change", program=program))]
    return start + [(0.0, 1, mido.Message("control_change", control=c, value=v)) for c, v in control]


def bend(at, cents):
    share = np.clip(cents / (100 * BEND_SEMITONES), -1, 8191 / 8192)
    return at, 3, mido.Message("pitchwheel", pitch=int(round(8192 * share)))


def played(notes, program, path):
    """The sound of notes (start, end, midi, slurred, vibrato as (rate, width) or a function of time), and when each begins."""
    tracks = [head(program), head(program)]
    side, anchor, held = 1, None, 0.0
    sides = []
    for before, (start, end, midi, slurred, swing) in zip([None, *notes], notes):
        slurred = slurred and anchor is not None and abs(midi - anchor) <= 7
        if not slurred:
            if anchor is not None:
                early = SPACE_S if before[2] == midi else 0.0
                tracks[side].append((min(before[1], start - early), 2, mido.Message("note_off", note=anchor)))
            anchor, side = midi, 1 - side
            tracks[side].append((start, 4, mido.Message("note_on", note=anchor, velocity=90)))
        times = np.arange(0, end - start, STEP_S)
        cents = 100 * (midi - anchor) + swing(times)
        if slurred:
            falling = np.clip(times / FALL_S, 0, 1)
            cents = cents * falling + held * (1 - falling)
        held = cents[-1]
        tracks[side] += [bend(start + t, c) for t, c in zip(times, cents)]
        sides.append((side, slurred))
    last = notes[-1][1]
    tracks[side].append((last, 2, mido.Message("note_off", note=anchor)))
    quiet = (last + 1.0, 5, mido.Message("control_change", control=7, value=0))
    sounds = [sounded([*events, quiet], path.with_suffix(f".{i}.wav")) for i, events in enumerate(tracks)]
    size = max(map(len, sounds))
    sounds = [np.pad(sound, (0, size - len(sound))) for sound in sounds]
    levels = [10 * np.log10(np.convolve(s**2, np.ones(480) / 480, "same")[::48] + 1e-12) for s in sounds]
    begun = []
    for (start, end, *_), (side, slurred) in zip(notes, sides):
        own, other = (levels[side][int(1000 * start) : int(1000 * end)], levels[1 - side][int(1000 * start) : int(1000 * end)])
        there = np.flatnonzero((own > np.median(own[len(own) // 3 :]) - 20) & (own > other))
        begun.append(start if slurred or not len(there) else start + there[0] / 1000)
    return sounds[0] + sounds[1], begun


def written(sound, path, rng, impulse=None):
    if impulse is not None:
        sound = fftconvolve(sound, impulse)
    sound = 0.3 * sound / np.max(np.abs(sound)) + 1e-4 * rng.normal(size=len(sound))
    soundfile.write(path, sound, RATE_HZ, subtype="FLOAT")


def phrase(rng, low, high):
    """Seconds, leaps and repeated notes, most of them slurred, six of ten with vibrato."""
    notes, midi, start = [], int(rng.integers(low, high + 1)), LEAD_S
    for number in range(NOTES):
        kind = rng.integers(10)
        size = int(rng.integers(1, 3)) if kind < 4 else int(rng.integers(3, 8)) if kind < 8 else 0
        if number:
            midi = midi + size if rng.random() < 0.5 else midi - size
            midi = midi if low <= midi <= high else min(max(midi, low), high)
        same = bool(notes) and notes[-1][2] == midi
        rate, width, phase = rng.uniform(4.5, 6.5), rng.uniform(15, 60) * (rng.random() < 0.6), rng.uniform(0, 2 * np.pi)
        length = rng.uniform(0.3, 0.8)

        def swing(times, rate=rate, width=width, phase=phase):
            return width / 2 * np.sin(2 * np.pi * rate * times + phase)

        notes.append((start, start + length, midi, not same and rng.random() < 0.7, swing))
        start += length
    return notes


def hz(midi):
    return 440 * 2 ** ((midi - 69) / 12)


def cents(f0, reference):
    return 1200 * np.log2(f0 / reference)


def phrases(evenwave, measured, program, work):
    """By place: beginnings, found, merged, missed, invented, frames behind a change, wrong ones of them."""
    rng = np.random.default_rng(SEED)
    sums = {}
    for number in range(PHRASES):
        name = list(INSTRUMENTS)[number % 4]
        bank, low, high = INSTRUMENTS[name]
        notes = phrase(rng, low, high)
        path = work / f"phrase-{number}.wav"
        sound, begun = played(notes, bank, path)
        size, absorption = rooms.ROOMS["furnished"]
        impulse = rooms.response(size, absorption, 0.7, rng)
        for place, room in (("dry", None), ("furnished room, 0.7 m", impulse)):
            written(sound, path, rng, room)
            delay = 0.0 if room is None else np.argmax(np.abs(room)) / RATE_HZ
            told = measured(program, path)
            out = path.with_suffix(f".{len(place)}.csv")
            evenwave(program, "measure", "--frames", out, path)
            counts = scored(notes, np.array(begun) + delay, told["notes"], out)
            sums[place] = sums.get(place, 0) + np.array(counts)
    return sums


def scored(notes, begun, told, frames):
    used, used_bows = set(), set()
    bows = [(i, j) for i, note in enumerate(told) for j, _ in enumerate(note.get("rebows_s", []))]
    found = merged = missed = 0
    for (_, _, midi, *_), at in zip(notes, begun):
        near = lambda secs: -EARLY_S <= secs - at < LATE_S
        same = lambda note: abs(cents(note["f0_hz"], hz(midi))) < SAME_CENTS
        note = next((i for i, n in enumerate(told) if i not in used and near(n["start_s"]) and same(n)), None)
        bow = next((b for b in bows if b not in used_bows and near(told[b[0]]["rebows_s"][b[1]])), None)
        if note is not None:
            used.add(note)
        elif bow is not None:
            used_bows.add(bow)
        else:
            covered = any(n["start_s"] < at and n["end_s"] > at + LATE_S for n in told)
            merged, missed = merged + covered, missed + (not covered)
            continue
        found += 1
    with open(frames, newline="") as file:
        rows = [(float(r["time_s"]), float(r["f0_hz"])) for r in csv.DictReader(file) if r["f0_hz"]]
    all_frames = wrong = 0
    for (_, _, midi, *_), (_, _, before, *_), at in zip(notes[1:], notes, begun[1:]):
        if midi != before:
            off = [abs(cents(f0, hz(midi))) for secs, f0 in rows if BEHIND_S[0] <= secs - at < BEHIND_S[1]]
            all_frames, wrong = all_frames + len(off), wrong + sum(c > WRONG_CENTS for c in off)
    return len(notes), found, merged, missed, len(told) - len(used), all_frames, wrong


# Notes that the fingers of a there-and-back stand for, and their fingers. The bank's violin and viola have a vibrato of their own,
# of 5 to 6 Hz and 30 cents, so that nobody knows what was made there.
FIGURES = {"cello": ("2,3,2", (53, 54, 53)), "double-bass": ("2,4,2", (41, 42, 41))}
ROUNDS = 40
COUNT = 4


def counted(evenwave, program, work):
    """By kind of change (slurred, a new bow): notes of counted rounds, and those of which just the played count was told."""
    rng = np.random.default_rng(SEED + 1)
    sums = {"slurred": [0, 0], "new bow": [0, 0]}
    for number in range(ROUNDS):
        name = list(FIGURES)[number % 2]
        fingers, midis = FIGURES[name]
        slurred = number % 4 < 2
        rate, width = rng.choice([2.0, 3.0, 4.0, 5.0]), rng.uniform(25, 60)
        length = COUNT / rate
        notes = [
            (LEAD_S + i * length, LEAD_S + (i + 1) * length, midi, slurred, lambda times: width / 2 * np.sin(2 * np.pi * rate * times))
            for i, midi in enumerate(midis)
        ]
        path = work / f"round-{number}.wav"
        sound, _ = played(notes, INSTRUMENTS[name][0], path)
        written(np.append(sound, np.zeros(RATE_HZ)), path, rng)
        asked = ["--instrument", name, "--fingers", fingers, "--count", COUNT, "--pace", 30 * rate, "--per-beat", 2]
        told = [json.loads(line) for line in evenwave(program, "drill", "there-and-back", path, "--json", *asked).splitlines()]
        made = [turn["made"] for turn in told[0]["turns"]] if told else []
        of = sums["slurred" if slurred else "new bow"]
        of[0] += len(midis)
        of[1] += sum(m == COUNT for m in made[: len(midis)])
    return sums
