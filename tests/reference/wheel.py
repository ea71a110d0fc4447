"""The Python package beside the command: the same figures to the last digit, of files and of samples.

    wheel.py --evenwave PROGRAM FOLDER

FOLDER is written to. Ends with status 1 where anything differs.
"""

import argparse
import csv
import doctest
import json
import subprocess
import sys
import threading
from pathlib import Path

import evenwave
import mir_eval
import numpy as np
import soundfile

RECORDINGS = Path(__file__).parent.parent / "recordings"
# While a recording is measured, another thread gets at least so many turns.
LEAST_TURNS = 20

missed = []


def check(holds, what, seen=""):
    print(f"  {'ok  ' if holds else 'MISS'} {what:<58} {seen}")
    if not holds:
        missed.append(what)


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--evenwave", required=True)
    arguments.add_argument("folder", type=Path)
    arguments = arguments.parse_args()

    tried = doctest.testmod(evenwave)
    check(tried.failed == 0 and tried.attempted >= 10, "the examples in its words", str(tried))

    files = sorted(RECORDINGS.glob("*.wav"))
    of_files = of_samples = of_frames = 0
    for path in files:
        said = subprocess.run(
            [arguments.evenwave, "measure", "--json", path], capture_output=True, check=True
        )
        by_command = json.loads(said.stdout)["notes"]
        of_files += evenwave.measure(path) == by_command
        samples, rate = soundfile.read(path, dtype="float32")
        of_samples += evenwave.measure(samples, rate) == by_command
        table = arguments.folder / f"{path.stem}.csv"
        subprocess.run(
            [arguments.evenwave, "measure", "--frames", table, path], capture_output=True, check=True
        )
        of_frames += same_frames(table, evenwave.frames(path))
    for count, what in [(of_files, "files"), (of_samples, "samples"), (of_frames, "frames")]:
        check(count == len(files) == 10, f"{what}: equal to the last digit", f"{count} of {len(files)}")

    options = {"a4": 442, "instrument": "viola", "names": "german"}
    line = [f"--{name}={value}" for name, value in options.items()]
    said = subprocess.run(
        [arguments.evenwave, "measure", "--json", *line, files[6]], capture_output=True, check=True
    )
    by_command = json.loads(said.stdout)["notes"]
    check(evenwave.measure(files[6], **options) == by_command, "options are those of the command")
    for wrong, words in [
        (lambda: evenwave.measure("no-such.wav"), "no-such.wav"),
        (lambda: evenwave.measure(files[0], a4=1000), "466"),
        (lambda: evenwave.measure([0.0]), "rate"),
    ]:
        try:
            wrong()
            said = "nothing"
        except ValueError as error:
            said = str(error)
        check(words in said, "what is wrong is told", said.splitlines()[0][:60])

    check(turns_meanwhile(files[0]) >= LEAST_TURNS, "other threads go on meanwhile")
    melody = arguments.folder / "melody.csv"
    frames = evenwave.frames(files[0])
    evenwave.write_melody(melody, frames)
    times, pitches = mir_eval.io.load_time_series(str(melody), delimiter=",")
    same = np.allclose(times, frames["time_s"]) and np.allclose(pitches, np.nan_to_num(frames["f0_hz"]))
    check(same and len(times) > 100, "mir_eval reads a melody", f"{len(times)} frames")
    print(f"\nwheel: {len(missed)} missed")
    sys.exit(bool(missed))


def same_frames(table, frames):
    """Whether a table holds what the package says, number by number."""
    with open(table, newline="") as file:
        rows = list(csv.DictReader(file))
    numbers = {
        name: np.array([float(row[name]) if row[name] else np.nan for row in rows]) for name in frames
    }
    return len(rows) > 100 and all(
        np.array_equal(frames[name], numbers[name], equal_nan=True) for name in frames
    )


def turns_meanwhile(path):
    """How often another thread had its turn while a file was measured."""
    samples, rate = soundfile.read(path, dtype="float32")
    samples = np.tile(samples, 5)
    heard = threading.Thread(target=evenwave.measure, args=(samples, rate))
    heard.start()
    turns = 0
    while heard.is_alive():
        heard.join(0.005)
        turns += 1
    return turns


if __name__ == "__main__":
    main()
