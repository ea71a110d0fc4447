"""Passages of sampled strings, played with slips, and what `evenwave passage check` makes of them.

The bank's strings sound as in `sampled.py`, which also says when each note begins. A player drifts in tempo by up to 20 %, stretches
notes, plays 5 % of them wrong, leaves out 5 % and plays 5 % twice, stops or goes back to a bar up to twice, and vibrates up to 120 cents.
"""

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

import rooms
import sampled

PASSAGES = 30
SEED = 163
NOTES = (8, 60)
# Lengths in quarters of a beat: walking, leaping, repeated notes, semitones, mixed.
LENGTHS = ((4, 4, 8, 2, 2), (4, 8, 6, 2), (2, 2, 4, 4), (4, 8, 4, 12), (2, 4, 4, 8, 1, 1, 2, 16))
BAR = 16
SCALES = ((0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 11), (0, 2, 3, 5, 7, 9, 10))
NAMES = "C C# D D# E F F# G G# A A# B".split()
SLIP = 0.05
DRIFT, RUBATO = 0.2, 0.07
WIDEST_CENTS = 120
NEAR_S = 0.05


@dataclass
class Planned:
    """A note, or a rest: lengths in quarters of a beat."""

    midi: int | None
    length: int
    bar: int
    slur: bool = False
    vibrato: tuple | None = None


@dataclass
class Sounded:
    """A note as it was played, and which note of the plan it stands for."""

    start: float
    end: float
    midi: int
    slurred: bool
    swing: object
    note: int


def passage(rng, manner, low, high):
    scale, tonic = SCALES[rng.integers(3)], rng.integers(12)
    pitches = np.array([midi for midi in range(low, high + 1) if (midi - tonic) % 12 in scale])
    midi = int(pitches[int(len(pitches) * rng.uniform(0.25, 0.75))])
    wanted, notes, filled, slurs = rng.integers(*NOTES, endpoint=True), [], 0, 0
    while sum(note.midi is not None for note in notes) < wanted:
        bar, within = divmod(filled, BAR)
        length = min(int(rng.choice(LENGTHS[manner])), BAR - within)
        before = notes[-1].midi if notes else None
        if before is not None and rng.random() < 0.06:
            note, slurs = Planned(None, length, bar), 0
        else:
            midi = next_pitch(rng, manner, midi, pitches) if notes else midi
            note = Planned(midi, length, bar, slurs > 0 and before not in (None, midi))
            slurs = slurs - 1 if note.slur else int(rng.choice([0, 0, 1, 2, 3]))
            if rng.random() < 0.65:
                note.vibrato = rng.uniform(10, WIDEST_CENTS), rng.uniform(4.2, 6.8), rng.uniform(0.2, 0.8), *rng.uniform(0.2, 1, 2)
        notes.append(note)
        filled += length
    return notes


def next_pitch(rng, manner, midi, pitches):
    chance = rng.random()
    if chance < (0.3 if manner == 2 else 0.08):
        return midi
    if manner == 3 and chance < 0.6:
        return int(np.clip(midi + rng.choice([-1, 1]), pitches[0], pitches[-1]))
    step = rng.choice([-1, 1]) if chance < 0.75 else rng.choice([-4, -3, -2, 2, 3, 4, 5])
    return int(pitches[np.clip(np.abs(pitches - midi).argmin() + step, 0, len(pitches) - 1)])


def beats(quarters):
    whole, part = divmod(quarters, 4)
    return "+".join([str(whole)] * (whole > 0) + [f"{part}/4"] * (part > 0))


def text(notes, instrument, bpm):
    """The passage as a player would type it."""
    bars = [f"title made\ninstrument {instrument}\nbeats 4 of quarter\npace {bpm:.1f} free\nclef bass\n"]
    for number in range(notes[-1].bar + 1):
        items = []
        for note in (note for note in notes if note.bar == number):
            name = "rest" if note.midi is None else f"{NAMES[note.midi % 12]}{note.midi // 12 - 1}"
            items.append(f"{'slur ' if note.slur else ''}{name} {beats(note.length)}")
        left = BAR - sum(note.length for note in notes if note.bar == number)
        items += [f"rest {beats(left)}"] if left else []
        bars.append(f"bar {number + 1}  {', '.join(items)}\n")
    return "".join(bars)


def deeds(rng, notes):
    """What the player does, in order: (note, deed)."""
    stops = set(rng.choice(np.arange(4, len(notes)), 2, replace=False)) if len(notes) > 12 else set()
    done, at = [], 0
    while at < len(notes):
        if at in stops:
            stops.remove(at)
            bar = max(0, notes[at].bar - rng.integers(2))
            back = next(i for i, note in enumerate(notes) if note.bar >= bar and note.midi is not None)
            if back < at:
                done.append((at, "stop" if rng.random() < 0.6 else "go back"))
                at = back
                continue
        inner = 0 < at < len(notes) - 1 and notes[at].midi is not None
        slip = int(rng.random() / SLIP) if inner else 3
        done += [[(at, "wrong")], [(at, "left out")], [(at, "right"), (at, "again")]][slip] if slip < 3 else [(at, "right")]
        at += 1
    return done


def performance(rng, notes, bpm):
    beat, row, time, rubato, jumped = 60 / bpm, [], sampled.LEAD_S, 0.0, False
    total = sum(note.length for note in notes) * beat / 4
    ramp, swing, period, phase = rng.uniform(-DRIFT, DRIFT), rng.uniform(0, DRIFT / 2), rng.uniform(8, 25), rng.uniform(0, 2 * np.pi)
    done = deeds(rng, notes)
    for (at, deed), after in zip(done, [*done[1:], None]):
        if deed in ("stop", "go back"):
            time += rng.uniform(0.5, 1.6) if deed == "stop" else 0
            jumped = True
            continue
        note = notes[at]
        drift = ramp * (2 * min(time / total, 1) - 1) + swing * np.sin(2 * np.pi * time / period + phase)
        rubato = rubato / 2 + RUBATO * rng.normal()
        length = note.length / 4 * beat * (1 + np.clip(drift, -DRIFT, DRIFT)) * np.exp(rubato)
        if note.midi is None:
            time += length
            continue
        if deed == "left out":
            time += 0 if rng.random() < 0.5 else rng.uniform(0.1, 0.6) * length
            continue
        midi = note.midi + (int(rng.choice([-3, -2, -1, 1, 2, 3])) if deed == "wrong" else 0)
        before = row[-1] if row else None
        joined = before and before.note == at - 1 and abs(before.end - time) < 1e-6 and before.midi != midi
        slurred = bool(note.slur and deed != "again" and not jumped and joined)
        slurs = after and after[1] in ("right", "wrong") and notes[after[0]].slur
        gap = 0 if slurs or rng.random() < 0.5 else min(0.35 * length, rng.uniform(0, 0.09))
        delay = 0 if slurred or rng.random() < 0.5 else min(0.35 * length, rng.uniform(0, 0.3))
        row.append(Sounded(time, time + length - gap, midi, slurred, hand(rng, note.vibrato, length - gap, delay), at))
        time, jumped = time + length, False
    return row


def hand(rng, vibrato, secs, delay):
    """Cents about the note's pitch over the time within it: intonation and vibrato."""
    centre, upward = 8 * rng.normal(), rng.choice([-1, 1])
    width, rate, peak_at, start, end = vibrato if vibrato and secs > 0.2 else (0, 5, 0.5, 1, 1)
    width *= rng.uniform(0.8, 1)

    def swing(times):
        course = width * np.interp(times, [0, peak_at * secs, secs], [start, 1, end])
        since = np.clip(times - delay, 0, None)
        return centre + upward * course / 2 * np.clip(since * rate, 0, 1) * np.sin(2 * np.pi * rate * since)

    return swing


def run(notes, at):
    """The notes of one pitch around this one: which of them was left out or repeated cannot be heard."""
    first = last = at
    while first > 0 and notes[first - 1].midi == notes[at].midi:
        first -= 1
    while last + 1 < len(notes) and notes[last + 1].midi == notes[at].midi:
        last += 1
    return range(first, last + 1)


def scored(notes, row, begun, told):
    """Notes played; beginnings found and notes assigned right, any of a run of one pitch counted; the same strictly; made up."""
    found = [(n["start_s"], n["end_s"], n["note"] - 1) for n in told if n["how"] not in ("left out", "extra")]
    sums, taken = np.zeros(6, int), set()
    for note, start, after in zip(row, begun, [*begun[1:], np.inf]):
        end = min(start + note.end - note.start, after)
        shared = [min(one[1], end) - max(one[0], start) for one in found]
        best = int(np.argmax(shared)) if found else None
        over = best is not None and shared[best] > 0.5 * min(end - start, found[best][1] - found[best][0])
        taken |= {best} if best is not None and shared[best] > 0 else set()
        near = [one[2] for one in found if abs(one[0] - start) <= NEAR_S]
        any_of = run(notes, note.note)
        right = found[best][2] if over else None
        sums += np.array([1, any(i in any_of for i in near), right in any_of, note.note in near, right == note.note, 0])
    sums[5] = len(found) - len(taken)
    return sums


def results(evenwave, program, work, seed=SEED, passages=PASSAGES):
    """By place: the sums of `scored`."""
    with ThreadPoolExecutor(2) as pool:
        each = list(pool.map(lambda number: result(evenwave, program, work, seed, number), range(passages)))
    return {place: sum(sums[place] for sums in each) for place in each[0]}


def result(evenwave, program, work, seed, number):
    """The same of one passage."""
    rng = np.random.default_rng([seed, number])
    name = list(sampled.INSTRUMENTS)[number % 4]
    bank, low, high = sampled.INSTRUMENTS[name]
    manner = number % 5
    notes = passage(rng, manner, low, high)
    bpm = rng.uniform(50, 100) * (0.75 if manner == 4 else 1)
    row = performance(rng, notes, bpm)
    plan, path = work / f"passage-{number}.passage.txt", work / f"passage-{number}.wav"
    plan.write_text(text(notes, name, bpm))
    sound, begun = sampled.played([(n.start, n.end, n.midi, n.slurred, n.swing) for n in row], bank, path)
    impulse = rooms.response(*rooms.ROOMS["furnished"], 0.7, rng)
    sums = {}
    for place, room in (("dry", None), ("furnished room, 0.7 m", impulse)):
        sampled.written(sound, path, rng, room)
        delay = 0.0 if room is None else np.argmax(np.abs(room)) / sampled.RATE_HZ
        told = json.loads(evenwave(program, "passage", "check", "--json", plan, path))["notes"]
        sums[place] = scored(notes, row, np.array(begun) + delay, told)
    return sums
