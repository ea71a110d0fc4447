"""Centre, rate and width of a pitch track, by means of their own: nothing here is shared with evenwave."""

import numpy as np
from scipy.optimize import least_squares
from scipy.signal import fftconvolve, firwin, savgol_filter


def cents_above(f0, reference):
    return 1200.0 * np.log2(np.asarray(f0, dtype=float) / reference)


def et_frequency(midi, a4=440.0):
    return a4 * 2.0 ** ((midi - 69) / 12.0)


def segment(times, f0, start, end, reference, reach_cents=150.0):
    """The voiced frames from `start` to `end` s that lie near the reference: (times, cents)."""
    inside = (times >= start) & (times <= end) & (f0 > 0)
    times, cents = times[inside], cents_above(f0[inside], reference)
    near = np.abs(cents) < reach_cents
    return times[near], cents[near]


def sine_fit(times, cents, lowest=3.0, highest=9.0):
    """Least-squares sine with a straight trend: (rate in Hz, width in cents peak to peak)."""
    t = times - times.mean()

    def amplitudes(rate):
        phase = 2 * np.pi * rate * t
        design = np.column_stack([np.ones_like(t), t, np.cos(phase), np.sin(phase)])
        solution = np.linalg.lstsq(design, cents, rcond=None)[0]
        return solution, cents - design @ solution

    grid = np.arange(lowest, highest, 0.05)
    best = grid[np.argmin([np.sum(amplitudes(r)[1] ** 2) for r in grid])]
    fit = least_squares(lambda r: amplitudes(r[0])[1], [best])
    rate = float(fit.x[0])
    (_, _, a, b), _ = amplitudes(rate)
    return rate, 2.0 * float(np.hypot(a, b))


def turns(times, cents, rate, least_swing):
    """Crests and troughs in turn, as cents: the extremes between which the smoothed track swings `least_swing` or more.

    The smoothing is a cubic over a third of a cycle.
    """
    step = float(np.median(np.diff(times)))
    track = np.interp(np.arange(times[0], times[-1], step), times, cents)
    length = max(5, int(round(0.33 / rate / step)) | 1)
    smooth = savgol_filter(track, length, 3)[length // 2 : -(length // 2)]
    found, low, high, rising = [], smooth[0], smooth[0], None
    for value in smooth:
        low, high = min(low, value), max(high, value)
        if rising is not False and value <= high - least_swing:
            found.append(high)
            low, rising = value, False
        elif rising is not True and value >= low + least_swing:
            found.append(low)
            high, rising = value, True
    # What came before the first swing was complete need not be a turn.
    return found[1:]


def measures(times, cents):
    """centre (cents), rate (Hz), width and width of the best sine (cents, peak to peak) of a note with vibrato."""
    rate, sine_width = sine_fit(times, cents)
    heights = np.abs(np.diff(turns(times, cents, rate, 0.5 * sine_width)))
    width = float(np.mean(heights)) if len(heights) else sine_width
    # The mean over whole cycles only: a part of a cycle would pull it to one side.
    cycles = max(1, int((times[-1] - times[0]) * rate))
    whole = times <= times[0] + cycles / rate
    return float(np.mean(cents[whole])), rate, width, sine_width


def harmonic_widths(samples, sample_rate, f0, rate, start, end, most=20):
    """Sine widths, in cents, of the pitch of each harmonic demodulated by itself.

    In a room the strong low harmonics carry old sound and swing less than the high ones; one pitch
    for all of them hides that. A harmonic counts if a sine of the note's own rate explains most of it.
    """
    widths = []
    for k in range(1, most + 1):
        centre = k * f0
        if centre > min(8000.0, 0.4 * sample_rate):
            break
        # Half the way to the next harmonics, less what the pitch itself may swing there.
        reach = min(0.45 * f0, 12.0 * rate + 0.02 * centre)
        length = int(2 * sample_rate / reach) | 1
        low_pass = firwin(length, reach, fs=sample_rate)
        turn = np.exp(-2j * np.pi * centre * np.arange(len(samples)) / sample_rate)
        base = fftconvolve(samples * turn, low_pass, mode="same")
        first, last = int(start * sample_rate), int(end * sample_rate)
        step = max(1, int(0.002 * sample_rate))
        base = base[first:last:step]
        swing_hz = np.diff(np.unwrap(np.angle(base))) / (2 * np.pi) * sample_rate / step
        times = np.arange(len(swing_hz)) * step / sample_rate
        cents = cents_above(np.maximum(centre + swing_hz, 1.0), centre)
        if np.max(np.abs(cents)) > 150:
            continue
        phase = 2 * np.pi * rate * times
        trend = (times - times.mean())[:, None] ** np.arange(3)
        design = np.column_stack([trend, np.cos(phase), np.sin(phase)])
        solution = np.linalg.lstsq(design, cents, rcond=None)[0]
        swing = design[:, 3:] @ solution[3:]
        rest = cents - design @ solution
        if np.var(swing) > 0.5 * np.var(rest):
            widths.append(2.0 * float(np.hypot(*solution[3:])))
    return np.array(widths)
