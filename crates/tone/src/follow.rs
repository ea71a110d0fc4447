//! A plain tone that follows a measured pitch, as fast as it was played or slower.

use std::f64::consts::{PI, TAU};

use tuning::{Hz, Secs};

/// Amplitudes of its partials.
const PARTIALS: [f64; 4] = [1.0, 0.3, 0.15, 0.07];
/// Points further from each other than this have silence between them: frames come each 5 ms.
const GAP_SECS: f64 = 0.025;
/// How long it takes to be heard at full, and to be gone.
const FADE_SECS: f64 = 0.012;
/// Loudest, in dB below full scale.
const MOST_DB: f64 = -6.0;
/// Slowest and fastest beside what was played, and longest sound, in seconds.
const SPEED: (f64, f64) = (0.05, 4.0);
const MOST_SECS: f64 = 3_600.0;

/// One point of a measured pitch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FollowPoint {
    /// When; points are in order of time.
    pub time: Secs,
    /// The pitch there, more than 0.
    pub f0: Hz,
    /// How loud the tone is to be there, in dB below full scale; at most −6.
    pub level_db: f64,
}

/// The sound of a tone that follows `course`, at `rate_hz` samples a second. Its first sample stands for the
/// first point's time, and each further one for `speed / rate_hz` seconds more; `speed` counts as the
/// nearest within 0.05 and 4. In gaps it is silent; it never jumps in phase. One hour at most.
pub fn follow(course: &[FollowPoint], speed: f64, rate_hz: u32) -> Vec<f32> {
    let speed = if speed.is_nan() { 1.0 } else { speed }.clamp(SPEED.0, SPEED.1);
    let rate = f64::from(rate_hz);
    let points: Vec<Point> = course.iter().filter_map(Point::of).collect();
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return Vec::new();
    };
    let secs = ((last.secs - first.secs) / speed).clamp(0.0, MOST_SECS);
    let power: f64 = PARTIALS.iter().map(|a| a * a / 2.0).sum();
    let step = 1.0 / (FADE_SECS * rate);
    let (mut at, mut share, mut cycle, mut octaves, mut level_db) =
        (0, 0.0_f64, 0.0_f64, first.octaves, first.level_db);
    let mut end = end_from(&points, 0);
    let samples = (0..(secs * rate) as usize).map(|sample| {
        let now = first.secs + sample as f64 / rate * speed;
        while points.get(at + 1).is_some_and(|next| next.secs <= now) {
            at += 1;
            if points[at].secs > end {
                end = end_from(&points, at);
            }
        }
        let wanted = now <= end && end - now > FADE_SECS * speed;
        if now <= end {
            let here = points[at].towards(points.get(at + 1), now);
            (octaves, level_db) = (here.octaves, here.level_db);
        }
        share = (share + if wanted { step } else { -step }).clamp(0.0, 1.0);
        if share == 0.0 {
            return 0.0;
        }
        let f0_hz = octaves.exp2();
        let mut sum = 0.0;
        for (number, amplitude) in (1..).zip(PARTIALS) {
            let number = f64::from(number);
            if number * f0_hz < 0.4 * rate {
                sum += amplitude * (TAU * (number * cycle + 0.06 * number * number)).sin();
            }
        }
        cycle = (cycle + f0_hz / rate).fract();
        let heard = 0.5 - 0.5 * (PI * share).cos();
        (10f64.powf(level_db / 20.0) / power.sqrt() * heard * sum) as f32
    });
    samples.collect()
}

#[derive(Clone, Copy)]
struct Point {
    secs: f64,
    /// Logarithm of the pitch in Hz: in between it goes evenly in cents.
    octaves: f64,
    level_db: f64,
}

impl Point {
    fn of(point: &FollowPoint) -> Option<Self> {
        let is_sound = point.time.get().is_finite()
            && point.f0.get().is_normal()
            && point.f0.get() > 0.0
            && !point.level_db.is_nan();
        is_sound.then(|| Self {
            secs: point.time.get(),
            octaves: point.f0.get().log2(),
            level_db: point.level_db.clamp(-120.0, MOST_DB),
        })
    }

    /// On the way from here to the next point.
    fn towards(&self, next: Option<&Self>, secs: f64) -> Self {
        let Some(next) = next.filter(|next| next.secs - self.secs <= GAP_SECS) else {
            return *self;
        };
        let share = ((secs - self.secs) / (next.secs - self.secs).max(1e-9)).clamp(0.0, 1.0);
        let mix = |a: f64, b: f64| a + share * (b - a);
        Self {
            secs,
            octaves: mix(self.octaves, next.octaves),
            level_db: mix(self.level_db, next.level_db),
        }
    }
}

/// Where the sound that holds point number `from` ends.
fn end_from(points: &[Point], from: usize) -> f64 {
    let last = points[from..]
        .windows(2)
        .find(|pair| pair[1].secs - pair[0].secs > GAP_SECS || pair[1].secs < pair[0].secs)
        .map(|pair| pair[0].secs);
    last.or(points.last().map(|point| point.secs)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn course(pitch: impl Fn(f64) -> Option<f64>, secs: f64) -> Vec<FollowPoint> {
        (0..(secs / 0.005) as u32)
            .filter_map(|frame| {
                let time = 2.0 + 0.005 * f64::from(frame);
                Some(FollowPoint { time: Secs(time), f0: Hz(pitch(time - 2.0)?), level_db: -24.0 })
            })
            .collect()
    }

    #[test]
    fn it_lasts_as_long_as_its_speed_says_and_is_silent_in_gaps() {
        let pitch = |secs: f64| (!(1.0..1.5).contains(&secs)).then_some(220.0);
        let course = course(pitch, 3.0);
        for speed in [1.0, 0.5, 0.25] {
            let out = follow(&course, speed, 48_000);
            let at = |secs: f64| (secs / speed * 48_000.0) as usize;
            assert!(out.len().abs_diff(at(2.995)) < 2, "{}", out.len());
            assert!(out[at(1.01)..at(1.49)].iter().all(|s| *s == 0.0));
            assert!(out[at(0.2)..at(0.9)].iter().any(|s| s.abs() > 0.05));
            let bend = |[a, b, c]: &[f32; 3]| (a - 2.0 * b + c).abs();
            let sharpest = |part: &[f32]| part.array_windows().map(bend).fold(0.0, f32::max);
            let calm = sharpest(&out[at(0.2)..at(0.9)]);
            assert!(sharpest(&out) < 1.3 * calm, "no click at {speed}");
        }
    }

    #[test]
    fn what_is_no_pitch_does_no_harm() {
        let point = |time: f64, f0: f64, level_db: f64| FollowPoint {
            time: Secs(time),
            f0: Hz(f0),
            level_db,
        };
        let odd = [
            point(f64::NAN, 220.0, -20.0),
            point(0.0, f64::NAN, -20.0),
            point(0.0, 0.0, -20.0),
            point(0.0, -5.0, -20.0),
            point(0.5, 220.0, f64::INFINITY),
            point(0.51, 1e12, f64::NEG_INFINITY),
            point(0.2, 220.0, -20.0),
            point(0.9, 220.0, -20.0),
        ];
        for speed in [1.0, 0.0, f64::NAN, -1.0] {
            let out = follow(&odd, speed, 48_000);
            assert!(out.iter().all(|s| s.abs() <= 1.0), "{speed}");
        }
        assert!(follow(&[], 1.0, 48_000).is_empty());
    }
}
