"""Measures sound files on many machines with Dask and writes one table.

    python many_machines.py --evenwave evenwave [--scheduler tcp://HOST:8786 | --workers 4] -o notes.jsonl FOLDER

Every machine needs the program `evenwave` and the folder under the same names. Each task hands some paths to `evenwave measure --json
--files-from -`; what comes back is one JSON object a file, the same whichever machine made it. A worker that is lost loses nothing: its
tasks are given to others. Files that cannot be read are told at the end, and the exit status is 1, as that of the command is.
"""

import argparse
import json
import subprocess
import sys
from pathlib import Path

from distributed import Client, LocalCluster

ENDINGS = {".wav", ".aif", ".aiff", ".flac", ".mp3", ".ogg", ".m4a", ".aac"}
FILES_A_TASK = 10


def measure(evenwave, paths):
    """Measures some files; returns their JSON lines and what was told of those that cannot be read."""
    run = subprocess.run(
        [evenwave, "measure", "--json", "--files-from", "-"],
        input="\n".join(paths),
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    if run.returncode not in (0, 1):
        raise RuntimeError(f"evenwave ended with {run.returncode}: {run.stderr}")
    return run.stdout.splitlines(), run.stderr.splitlines()


def measure_all(client, evenwave, paths):
    """Measures all files on the workers of `client`; lines in the order of the files, and what was told."""
    tasks = [paths[at : at + FILES_A_TASK] for at in range(0, len(paths), FILES_A_TASK)]
    done = client.map(lambda some: measure(evenwave, some), tasks, pure=False)
    lines, told = [], []
    for some_lines, some_told in client.gather(done):
        lines += some_lines
        told += some_told
    return lines, told


def sound_files(folder):
    """All sound files below a folder, by name."""
    found = (path for path in Path(folder).resolve().rglob("*") if path.suffix.lower() in ENDINGS)
    return sorted(str(path) for path in found)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder")
    parser.add_argument("--evenwave", default="evenwave", help="the program")
    parser.add_argument("--scheduler", help="address of a Dask scheduler; without it, workers start on this machine")
    parser.add_argument("--workers", type=int, default=4, help="how many on this machine")
    parser.add_argument("-o", "--output", required=True, help="the table, a JSON object a line")
    wanted = parser.parse_args()
    place = wanted.scheduler or LocalCluster(n_workers=wanted.workers, threads_per_worker=1, dashboard_address=None)
    with Client(place) as client:
        lines, told = measure_all(client, wanted.evenwave, sound_files(wanted.folder))
    with open(wanted.output, "w", encoding="utf-8") as table:
        table.writelines(line + "\n" for line in lines)
    notes = sum(len(json.loads(line)["notes"]) for line in lines)
    print(f"{len(lines)} files, {notes} notes: {wanted.output}")
    for words in told:
        print(words, file=sys.stderr)
    return 1 if told else 0


if __name__ == "__main__":
    sys.exit(main())
