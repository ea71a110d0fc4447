"""Holds the table of many workers to that of one machine, a killed worker included.

500 made files, five of them no sound at all, are measured by one `evenwave measure`, and then by 1, 2 and 4 workers of a Dask
cluster; while the four are at it, one is killed. Every line must be the same, to the last digit.
"""

import argparse
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np
import soundfile
from distributed import Client, LocalCluster

from many_machines import measure_all, sound_files

FILES = 500
BAD_EACH = 100
RATE_HZ = 16_000


def make(folder):
    """Short tones with a vibrato of their own each; every hundredth file is no sound."""
    seconds = np.arange(int(1.2 * RATE_HZ)) / RATE_HZ
    for n in range(FILES):
        path = folder / f"{n % 7}" / f"take {n:03}.wav"
        path.parent.mkdir(exist_ok=True)
        if n % BAD_EACH == BAD_EACH - 1:
            path.write_bytes(b"no sound at all")
            continue
        cents = (10 + n % 40) * np.sin(2 * np.pi * (4.5 + n % 5 * 0.4) * seconds)
        f0_hz = 110 * 2 ** ((n % 24) / 12) * 2 ** (cents / 1200)
        turns = np.cumsum(f0_hz) / RATE_HZ
        tone = sum(np.sin(2 * np.pi * h * turns) / h for h in range(1, 7))
        soundfile.write(path, 0.2 * tone, RATE_HZ)


def kill_one(client, after_secs):
    """Kills a worker once the work has begun; returns the thread that does."""
    pids = list(client.run(os.getpid).values())

    def kill():
        time.sleep(after_secs)
        os.kill(pids[0], signal.SIGKILL)

    thread = threading.Thread(target=kill)
    thread.start()
    return thread


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--evenwave", required=True)
    evenwave = str(Path(parser.parse_args().evenwave).resolve())
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make(folder)
        files = sound_files(folder)
        begun = time.monotonic()
        alone = subprocess.run(
            [evenwave, "measure", "--json", *files], capture_output=True, encoding="utf-8", check=False
        )
        alone_secs = time.monotonic() - begun
        due = alone.stdout.splitlines()
        assert alone.returncode == 1 and len(due) == FILES - FILES // BAD_EACH, alone.stderr
        print(f"one machine, all its cores: {len(due)} files in {alone_secs:.1f} s")
        took = alone_secs
        for workers in (1, 2, 4):
            cluster = LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None)
            with cluster, Client(cluster) as client:
                killer = kill_one(client, 0.3 * took) if workers == 4 else None
                begun = time.monotonic()
                lines, told = measure_all(client, evenwave, files)
                took = time.monotonic() - begun
                if killer:
                    killer.join()
            lost = "; one of them killed on the way" if killer else ""
            print(f"workers: {workers}, {took:.1f} s{lost}")
            assert lines == due, f"{workers} workers: the table is another one"
            assert len(told) >= FILES // BAD_EACH, told
    print("every line is the same, whoever made it")


if __name__ == "__main__":
    sys.exit(main())
