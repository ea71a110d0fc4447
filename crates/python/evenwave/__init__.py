"""Vibrato of bowed strings, measured: the figures of the command ``evenwave measure``, for Python.

A tone whose pitch swings 5 times a second, 40 cents from its lowest to its highest point:

>>> import numpy as np
>>> import evenwave
>>> rate = 48_000
>>> time = np.arange(3 * rate) / rate
>>> cents = 20 * np.sin(2 * np.pi * 5 * time)
>>> phase = 2 * np.pi * np.cumsum(220 * 2 ** (cents / 1200)) / rate
>>> tone = sum(0.1 / k * np.sin(k * phase) for k in range(1, 9))
>>> note = evenwave.measure(tone, rate)[0]
>>> print(note["name"], round(note["vibrato"]["rate_hz"], 1), round(note["vibrato"]["width_cents"]))
A3 5.0 40
>>> frames = evenwave.frames(tone, rate)
>>> print(round(float(np.nanmedian(frames["f0_hz"]))), "Hz")
220 Hz

While it hears, other threads of Python go on.
"""

import json as _json
import os as _os

import numpy as _np

from . import _evenwave

__all__ = ["measure", "frames", "write_melody"]

_COLUMNS = ("time_s", "f0_hz", "confidence", "level_dbfs")


def _options(a4, temperament, instrument, channel, names):
    chosen = {
        "a4": a4,
        "temperament": temperament,
        "instrument": instrument,
        "channel": channel,
        "names": names,
    }
    return [f"--{name}={value}" for name, value in chosen.items() if value is not None]


def _heard(of_file, of_samples, sound, rate, options):
    if isinstance(sound, (str, _os.PathLike)):
        if rate is not None:
            raise ValueError("a file has its own rate; leave it out")
        return of_file(_os.fspath(sound), options)
    if rate is None:
        raise ValueError("samples need their rate, in samples a second")
    samples = _np.asarray(sound, dtype=_np.float32)
    if samples.ndim != 1:
        raise ValueError("samples of one channel are needed, as an array of one dimension")
    return of_samples(_np.ascontiguousarray(samples).tobytes(), int(rate), options)


def measure(
    sound, rate=None, *, a4=None, temperament=None, instrument=None, channel=None, names=None
):
    """The notes of a sound, in the order they begin: a list of dicts.

    ``sound`` is the path of a sound file (WAV, AIFF, FLAC, MP3, Ogg Vorbis, AAC) or an array of samples of
    one channel, full scale 1.0, with ``rate`` in samples a second.

    The names of the measures carry their units: ``_s`` seconds, ``_hz`` Hz, ``_cents`` cents, ``_pct``
    per cent, ``_dbfs`` dB of full scale, ``_mm`` millimetres. ``..._se_...`` is the standard error of the
    measure it is named after. What is unknown is ``None``. ``note["vibrato"]`` is ``None`` of a note without.
    Widths reach from the lowest point to the highest.

    Options are those of the command: ``a4`` in Hz, ``temperament`` ("equal", "pure-fifths"), ``instrument``
    ("cello", ...), ``channel`` counted from 1, ``names`` ("scientific", "german", ...).

    >>> import evenwave
    >>> evenwave.measure([0.0] * 48_000, 48_000)
    []
    """
    options = _options(a4, temperament, instrument, channel, names)
    record = _heard(_evenwave.notes_of_file, _evenwave.notes_of_samples, sound, rate, options)
    return _json.loads(record)["notes"]


def frames(
    sound, rate=None, *, a4=None, temperament=None, instrument=None, channel=None, names=None
):
    """The pitch of a sound, 200 times a second: a dict of arrays of the same length.

    ``time_s`` in seconds; ``f0_hz`` in Hz and ``confidence`` from 0 to 1, both NaN where there is no pitch;
    ``level_dbfs`` in dB of full scale. Sound and options are those of :func:`measure`.

    >>> import evenwave
    >>> sorted(evenwave.frames([0.0] * 48_000, 48_000))
    ['confidence', 'f0_hz', 'level_dbfs', 'time_s']
    """
    options = _options(a4, temperament, instrument, channel, names)
    columns = _heard(_evenwave.frames_of_file, _evenwave.frames_of_samples, sound, rate, options)
    return {name: _np.frombuffer(column) for name, column in zip(_COLUMNS, columns)}


def write_melody(path, frames):
    """Writes frames as a CSV file of time in s and pitch in Hz, 0 where there is none.

    ``mir_eval.io.load_time_series(path, delimiter=",")`` reads it.
    """
    rows = _np.column_stack([frames["time_s"], _np.nan_to_num(frames["f0_hz"])])
    _np.savetxt(path, rows, delimiter=",", fmt="%.6f")
