//! The coarse search: which period repeats, told as early as the period itself allows.
//!
//! For every lag `L` the similarity of the sound with itself, `L` samples earlier, over a window
//! as long as that lag asks for, ending at the newest sample. Short periods are therefore known
//! sooner than long ones, and each estimate says for which instant it holds.

use crate::front::{COARSE_HOP, COARSE_RATE, Stretch, dot};
use std::f64::consts::PI;

/// Length of the product window in lags.
const WINDOW_LAGS: f64 = 1.25;
/// Shortest product window, in coarse samples: 8 ms.
const SHORTEST_WINDOW: usize = 128;
/// Peaks below this, or below this share of the highest, are no candidates.
const LEAST_PEAK: f32 = 0.3;
const LEAST_SHARE: f64 = 0.8;
/// Aperiodicity at which two peaks count as equally good.
const APERIODICITY_FLOOR: f64 = 0.01;
/// Preference for the shorter of two equally good lags, per octave: up to an octave above the most
/// similar, and beyond.
const PREFERENCE: f64 = 0.8;
const PREFERENCE_BEYOND: f64 = 0.35;
/// Most candidates carried from hop to hop.
const CANDIDATES: usize = 8;
/// How much of the past the choice remembers, and the price of a leap: least, most, per octave.
const MEMORY: f64 = 0.85;
const LEAP_PRICE: (f64, f64, f64) = (1.0, 2.5, 3.0);
/// Largest step, in octaves, that is no leap.
const STEP_OCTAVES: f64 = 0.04;
/// A pitch counts as a note's once it was the best for so many hops: 40 ms. Its mean runs with this share.
const SETTLED_HOPS: usize = 8;
const MEAN_RATE: f64 = 0.05;
/// While the note before may ring on, only one that lasted so long takes its place, 0.12 s: a slip does not.
const REPLACES_HOPS: usize = 24;
/// What a note leaves in the room is looked for so many hops after its end: 0.35 s.
const TAIL_HOPS: usize = 70;
/// Without the note before, at least this much of the newest power must be left; else nothing new has begun.
const LEAST_LEFT: f64 = 0.1;
/// And the newest sound must hold this share of the power before it: a bow that leaves begins no note.
const LEAST_LEVEL: f64 = 0.25;
/// And it must repeat this well, against the whole sound.
const LEAST_LIKE: f64 = 0.9;
/// While the note before may ring on, a peak may be this much smaller than the highest, and so much aperiodicity is
/// no sign against it until the note before is taken out.
const TAIL_ALLOWED: f64 = 0.5;
/// Blocks of one hop that a product window can hold.
const BLOCKS: usize = 16;

/// What a candidate so many octaves above the most similar one is given.
fn preference(octaves: f64) -> f64 {
    PREFERENCE * octaves.min(1.0) + PREFERENCE_BEYOND * (octaves - 1.0).max(0.0)
}

/// Where the top of the parabola through three neighbouring values lies, in steps from the middle one, and how high it is.
fn top([before, here, after]: [f64; 3]) -> (f64, f64) {
    let bend = before - 2.0 * here + after;
    let slope = before - after;
    let shift = if bend < -1e-9 { (0.5 * slope / bend).clamp(-0.5, 0.5) } else { 0.0 };
    (shift, here - 0.25 * slope * shift)
}

/// One candidate period.
#[derive(Clone, Copy, Default)]
struct Candidate {
    log2_hz: f64,
    lag: f64,
    similarity: f64,
    score: f64,
}

/// What the search found at one hop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Found {
    /// The instant the estimate holds for, in seconds of the coarse copy.
    pub secs: f64,
    /// The pitch, in Hz.
    pub hz: f64,
    /// Similarity of neighbouring periods at its best lag, up to 1.
    pub similarity: f64,
    /// How many times less aperiodic the sound is at each of [`MULTIPLES`] of the period; 0 where
    /// that is beyond the range.
    pub gain: [f64; MULTIPLES.len()],
    /// The pitch of the note before, in Hz, while the room may still be full of it.
    pub before_hz: Option<f64>,
}

/// Multiples of the chosen period that may be the true one, the greatest first.
pub(crate) const MULTIPLES: [usize; 3] = [4, 3, 2];

/// One lag with its window.
struct Lag {
    lag: usize,
    window: usize,
}

/// The search over a range of pitch.
pub(crate) struct Search {
    lags: Vec<Lag>,
    /// For each lag the sums of products over the last `BLOCKS` hops, a ring.
    blocks: Vec<[f32; BLOCKS]>,
    /// Running sum of squares up to each kept sample.
    energy: Energy,
    similarity: Vec<f32>,
    hops: usize,
    paths: Vec<Candidate>,
    fresh: Vec<Candidate>,
    least_lag: f64,
    interpolation: Interpolation,
    course: Course,
    without: Without,
}

impl Search {
    /// A search for pitches from `low_hz` to `high_hz`.
    pub(crate) fn new(low_hz: f64, high_hz: f64) -> Self {
        // Shorter lags than are asked for, so that a peak at the edge can be interpolated.
        let shortest = ((COARSE_RATE / high_hz).floor() as usize).saturating_sub(TAPS + 2).max(1);
        let longest = (COARSE_RATE / low_hz).ceil() as usize + 2;
        let lags: Vec<Lag> = (shortest..=longest)
            .map(|lag| Lag {
                lag,
                window: ((WINDOW_LAGS * lag as f64).round() as usize).max(SHORTEST_WINDOW),
            })
            .collect();
        Self {
            blocks: vec![[0.0; BLOCKS]; lags.len()],
            similarity: vec![0.0; lags.len()],
            energy: Energy::new(),
            hops: 0,
            paths: Vec::with_capacity(lags.len()),
            fresh: Vec::with_capacity(lags.len()),
            least_lag: 0.98 * COARSE_RATE / high_hz,
            interpolation: Interpolation::new(),
            course: Course::default(),
            without: Without::new(longest),
            lags,
        }
    }

    /// How long after an instant the longest period can be told, in seconds.
    pub(crate) fn longest_delay_secs(&self) -> f64 {
        self.lags.last().map_or(0.0, |last| (last.window + last.lag) as f64 / 2.0 / COARSE_RATE)
    }

    /// Moves on by so many hops of silence, as the sound does.
    pub(crate) fn jump(&mut self, hops: i64) {
        self.energy.first += hops * COARSE_HOP as i64;
    }

    /// Looks at the newest hop of `sound`; `None` where nothing repeats.
    ///
    /// `audible` says whether the level lets a pitch be looked for at all; the sums are kept up
    /// either way. `allowed` is the aperiodicity, 0 to 1, that is no sign against a period, for something
    /// else may sound along.
    pub(crate) fn step(&mut self, sound: &Stretch, audible: bool, allowed: f64) -> Option<Found> {
        self.energy.extend(sound);
        self.correlate(sound);
        self.hops += 1;
        self.course.go_on();
        self.without.used = false;
        if !audible {
            self.course = Course::default();
            self.paths.clear();
            return None;
        }
        self.gather(allowed);
        if allowed == 0.0
            && let Some(before) = self.course.before(self.fresh.first().map(|best| best.log2_hz))
        {
            self.gather(allowed + TAIL_ALLOWED);
            self.take_out(sound, before, allowed);
        }
        self.choose(sound.end())
    }

    /// Takes the note before, which may still ring in the room, out of the sound, and scores the candidates anew by
    /// what is left: with its remains the new note has a low period in common, which nobody plays.
    fn take_out(&mut self, sound: &Stretch, before_log2_hz: f64, allowed: f64) {
        let lag = COARSE_RATE / before_log2_hz.exp2();
        let without = &mut self.without;
        if !without.fill(sound, lag, &self.interpolation) {
            self.gather(allowed);
            return;
        }
        let best = |all: &[Candidate]| all.iter().fold(0.0, |most: f64, c| most.max(c.similarity));
        let with_it = best(&self.fresh);
        for c in &mut self.fresh {
            c.similarity = without.similarity(c.lag, &self.interpolation);
        }
        if best(&self.fresh) < LEAST_LIKE * with_it {
            // What is left repeats too badly to be a note: the edge of an attack.
            without.used = false;
            self.gather(allowed);
            return;
        }
        self.score(allowed);
    }

    /// Fills `similarity` with `2 Σ y[q] y[q+L] / Σ (y[q]² + y[q+L]²)`, the sums over `window`
    /// samples `q`, the last pair ending at the newest sample.
    ///
    /// Source: P. McLeod and G. Wyvill, "A smarter way to find pitch", Proc. ICMC 2005, eq. 9,
    /// with a window that grows with the lag. The sum is kept in blocks of one hop, so that each
    /// product is computed once.
    fn correlate(&mut self, sound: &Stretch) {
        let end = sound.end();
        let slot = self.hops % BLOCKS;
        for ((lag, blocks), out) in self.lags.iter().zip(&mut self.blocks).zip(&mut self.similarity)
        {
            let shift = lag.lag as i64;
            let whole = lag.window / COARSE_HOP;
            let rest = (lag.window % COARSE_HOP) as i64;
            // The newest whole block ends where the window ends; the rest lies before the blocks.
            let late = end - shift;
            let newest = sound.part(late - COARSE_HOP as i64, late);
            blocks[slot] = dot(newest, sound.part(end - COARSE_HOP as i64, end));
            let mut products: f32 =
                (0..whole).map(|back| blocks[(slot + BLOCKS - back) % BLOCKS]).sum();
            let start = late - lag.window as i64;
            products += dot(
                sound.part(start, start + rest),
                sound.part(start + shift, start + shift + rest),
            );
            let squares =
                self.energy.between(start, late) + self.energy.between(start + shift, end);
            *out = (2.0 * f64::from(products) / (squares + 1e-12)) as f32;
        }
    }

    /// Collects the peaks of `similarity` into `fresh` with their emission scores.
    fn gather(&mut self, allowed: f64) {
        self.fresh.clear();
        let mut highest = 0.0_f64;
        for (i, &[before, here, after]) in self.similarity.array_windows::<3>().enumerate() {
            if here < before || here <= after || here < LEAST_PEAK {
                continue;
            }
            let (shift, height) = top([before, here, after].map(f64::from));
            let mut similarity = height.min(1.0);
            let mut lag = self.lags[i + 1].lag as f64 + shift;
            if self.lags[i + 1].lag <= SHORT {
                let at = (i + 1) as f64 + shift;
                let (shift, value) = self.interpolation.peak(&self.similarity, at);
                (lag, similarity) = (self.lags[0].lag as f64 + shift, value.min(1.0));
            }
            if lag < self.least_lag {
                continue;
            }
            highest = highest.max(similarity);
            self.fresh.push(Candidate {
                log2_hz: (COARSE_RATE / lag).log2(),
                lag,
                similarity,
                score: 0.0,
            });
        }
        let least = (LEAST_SHARE - allowed) * highest;
        self.fresh.retain(|c| c.similarity > least);
        self.score(allowed);
        self.fresh.truncate(CANDIDATES);
    }

    /// Scores the candidates by their similarity, the best first.
    fn score(&mut self, allowed: f64) {
        let best = self.fresh.iter().max_by(|a, b| a.similarity.total_cmp(&b.similarity));
        let (best_log2_hz, highest) =
            best.map_or((0.0, 0.0), |best| (best.log2_hz, best.similarity));
        for c in &mut self.fresh {
            let one = 1.0 + APERIODICITY_FLOOR + allowed;
            let against_best = (one - c.similarity) / (one - highest);
            c.score = -against_best.ln() + preference(c.log2_hz - best_log2_hz);
        }
        // The best by score, not by height: a high note has dozens of equally high multiples.
        self.fresh.sort_unstable_by(|a, b| b.score.total_cmp(&a.score));
    }

    /// Carries the paths one hop on and returns the end of the best one.
    fn choose(&mut self, end: i64) -> Option<Found> {
        let (least, most, per_octave) = LEAP_PRICE;
        if !self.paths.is_empty() {
            for c in &mut self.fresh {
                let carried = self.paths.iter().map(|p| {
                    let leap = (c.log2_hz - p.log2_hz).abs();
                    let price = if leap < STEP_OCTAVES {
                        0.0
                    } else {
                        (least + per_octave * leap).min(most)
                    };
                    MEMORY * p.score - price
                });
                c.score += carried.fold(f64::NEG_INFINITY, f64::max);
            }
        }
        let best = self.fresh.iter().copied().reduce(|a, b| if b.score > a.score { b } else { a });
        for c in &mut self.fresh {
            c.score -= best.map_or(0.0, |best| best.score);
        }
        std::mem::swap(&mut self.paths, &mut self.fresh);
        let best = best?;
        self.course.follow(best.log2_hz);
        let window = (WINDOW_LAGS * best.lag).max(SHORTEST_WINDOW as f64);
        let centre = end as f64 - 1.0 - (window + best.lag - 1.0) / 2.0;
        Some(Found {
            secs: centre / COARSE_RATE,
            hz: COARSE_RATE / best.lag,
            similarity: best.similarity,
            gain: MULTIPLES.map(|multiple| self.gain(&best, multiple)),
            before_hz: self.without.used.then(|| COARSE_RATE / self.without.lag),
        })
    }

    /// Aperiodicity of a candidate over that around a multiple of its lag.
    fn gain(&mut self, best: &Candidate, multiple: usize) -> f64 {
        let lag = best.lag * multiple as f64;
        let first = self.lags.first().map_or(0, |lag| lag.lag);
        let (from, to) = ((0.98 * lag) as usize - first, (1.02 * lag).ceil() as usize - first);
        let Some(around) = self.similarity.get(from..=to) else {
            return 0.0;
        };
        let most = if self.without.used {
            self.without.similarity(lag, &self.interpolation)
        } else {
            f64::from(around.iter().fold(0.0_f32, |most, s| most.max(*s)))
        };
        let aperiodic = |similarity: f64| 1.0 + 0.2 * APERIODICITY_FLOOR - similarity.min(1.0);
        aperiodic(best.similarity) / aperiodic(most)
    }
}

/// The course of the chosen pitch: which note sounds, and which one sounded before.
#[derive(Default)]
struct Course {
    /// Mean and newest pitch of the note that sounds, in octaves, and for how many hops it does.
    mean: f64,
    newest: f64,
    hops: usize,
    /// Pitch of the note before, and how many hops ago it ended.
    before: Option<(f64, usize)>,
}

impl Course {
    /// One hop later.
    fn go_on(&mut self) {
        self.before = self
            .before
            .map(|(log2_hz, ago)| (log2_hz, ago + 1))
            .filter(|(_, ago)| *ago <= TAIL_HOPS);
    }

    /// The note before, unless `best`, what repeats best now, has come back to it.
    fn before(&self, best: Option<f64>) -> Option<f64> {
        let back = |before: f64| best.is_some_and(|best| (best - before).abs() < STEP_OCTAVES);
        self.before.map(|(log2_hz, _)| log2_hz).filter(|before| !back(*before))
    }

    /// This is the pitch by now.
    fn follow(&mut self, log2_hz: f64) {
        if self.hops > 0 && (log2_hz - self.newest).abs() < STEP_OCTAVES {
            self.hops += 1;
            self.mean += MEAN_RATE.max(1.0 / self.hops as f64) * (log2_hz - self.mean);
        } else {
            let least = if self.before.is_some() { REPLACES_HOPS } else { SETTLED_HOPS };
            if self.hops >= least {
                self.before = Some((self.mean, 0));
            }
            (self.mean, self.hops) = (log2_hz, 1);
        }
        self.newest = log2_hz;
    }
}

/// The newest sound without what repeats at the period of the note before.
struct Without {
    /// `y[n] − y[n − lag]`, the newest last; its squares summed up to each.
    left: Vec<f32>,
    squares: Vec<f64>,
    lag: f64,
    /// Whether it is used at this hop.
    used: bool,
    /// Samples that are looked at, and the longest lag.
    count: usize,
    longest: usize,
    around: Vec<f32>,
}

/// The newest samples by which is judged whether something new has begun: 16 ms.
const NEW_SAMPLES: usize = 256;

impl Without {
    fn new(longest: usize) -> Self {
        let most = ((1.0 + WINDOW_LAGS) * longest as f64) as usize + 2 * TAPS + 8;
        Self {
            left: Vec::with_capacity(most),
            squares: Vec::with_capacity(most + 1),
            lag: 1.0,
            used: false,
            count: most,
            longest,
            around: Vec::with_capacity(2 * TAPS + 3),
        }
    }

    /// Takes the note with this period out of the newest sound; says whether enough is left to be another note.
    fn fill(&mut self, sound: &Stretch, lag: f64, interpolation: &Interpolation) -> bool {
        let count = self.count;
        let end = sound.end();
        let from = end - count as i64;
        let whole = lag.floor();
        // A fraction of a sample earlier is a fraction later than the whole sample before.
        let fraction = ((1.0 - (lag - whole)) * FRACTIONS as f64).round() as usize;
        let taps = &interpolation.sincs[fraction];
        let first = from - whole as i64 - 1 - (TAPS as i64 - 1);
        self.left.clear();
        self.squares.clear();
        self.squares.push(0.0);
        let past = sound.part(first, first + (count + 2 * TAPS) as i64);
        let now = sound.part(from, end);
        let (mut sum, mut power, mut all) = (0.0, 0.0, 0.0);
        for (i, y) in now.iter().enumerate() {
            let left = y - dot(taps, &past[i..i + 2 * TAPS]);
            sum += f64::from(left) * f64::from(left);
            let square = f64::from(*y) * f64::from(*y);
            all += square;
            if i + NEW_SAMPLES >= count {
                power += square;
            }
            self.left.push(left);
            self.squares.push(sum);
        }
        let newest = sum - self.squares[count - NEW_SAMPLES.min(count)];
        self.lag = lag;
        let falls = power * (count as f64) < LEAST_LEVEL * all * NEW_SAMPLES as f64;
        self.used = !falls && newest > LEAST_LEFT * power;
        self.used
    }

    /// How similar what is left is to itself around this lag.
    fn similarity(&mut self, lag: f64, interpolation: &Interpolation) -> f64 {
        let nearest = (lag.round() as usize).clamp(1, self.longest);
        let reach = if nearest <= SHORT { (TAPS + 1).min(nearest - 1) } else { 1 };
        self.around.clear();
        for lag in nearest - reach..=nearest + reach {
            let window = ((WINDOW_LAGS * lag as f64).round() as usize).max(SHORTEST_WINDOW);
            let end = self.left.len();
            let late = end - lag;
            let start = late - window;
            let products = dot(&self.left[start..late], &self.left[start + lag..end]);
            let squares = self.squares[late] - self.squares[start] + self.squares[end]
                - self.squares[start + lag];
            self.around.push((2.0 * f64::from(products) / (squares + 1e-12)) as f32);
        }
        if nearest <= SHORT {
            let at = reach as f64 + lag - nearest as f64;
            return interpolation.peak(&self.around, at).1.min(1.0);
        }
        top([0, 1, 2].map(|i| f64::from(self.around[i]))).1.min(1.0)
    }
}

/// Band-limited interpolation of the similarity over lags: for short periods a parabola through whole lags
/// misses the height of a peak.
struct Interpolation {
    /// Windowed sincs for fractions of a lag, each of `2 · TAPS` values.
    sincs: Vec<[f32; 2 * TAPS]>,
}

/// Lags on either side that are used; fractions of a lag that are kept.
const TAPS: usize = 5;
const FRACTIONS: usize = 32;
/// Lags up to this are interpolated so.
const SHORT: usize = 64;

impl Interpolation {
    fn new() -> Self {
        let sinc = |fraction: usize| {
            let shift = fraction as f64 / FRACTIONS as f64;
            let mut taps: [f64; 2 * TAPS] = std::array::from_fn(|i| {
                let x = i as f64 - (TAPS - 1) as f64 - shift;
                let window = (0.5 * PI * x / (TAPS as f64 + 0.5)).cos().powi(2);
                if x.abs() < 1e-9 { 1.0 } else { window * (PI * x).sin() / (PI * x) }
            });
            let sum: f64 = taps.iter().sum();
            taps.iter_mut().for_each(|tap| *tap /= sum);
            taps.map(|tap| tap as f32)
        };
        Self { sincs: (0..=FRACTIONS).map(sinc).collect() }
    }

    /// The value at index `at` of `values`, between its grid points; ends count as the last value.
    fn value(&self, values: &[f32], index: usize, fraction: usize) -> f64 {
        let taps = &self.sincs[fraction];
        let sum: f32 = taps
            .iter()
            .enumerate()
            .map(|(i, tap)| {
                let at = (index + i).saturating_sub(TAPS - 1).min(values.len() - 1);
                tap * values[at]
            })
            .sum();
        f64::from(sum)
    }

    /// Position and height of the peak near index `at`.
    fn peak(&self, values: &[f32], at: f64) -> (f64, f64) {
        let mut step = (at * FRACTIONS as f64).round() as usize;
        let value = |step: usize| self.value(values, step / FRACTIONS, step % FRACTIONS);
        let mut here = value(step);
        for _ in 0..FRACTIONS {
            let (below, above) = (value(step - 1), value(step + 1));
            if here >= below && here >= above {
                let (shift, height) = top([below, here, above]);
                return ((step as f64 + shift) / FRACTIONS as f64, height);
            }
            (step, here) = if below > above { (step - 1, below) } else { (step + 1, above) };
        }
        (step as f64 / FRACTIONS as f64, here)
    }
}

/// Running sums of squares over the kept part of a stretch.
struct Energy {
    sums: Vec<f64>,
    /// Index in the stream of the sample before which `sums[0]` stands.
    first: i64,
}

/// Sums kept, and the room in which they move; more than any window needs.
const SUMS_KEPT: usize = 4_096;

impl Energy {
    fn new() -> Self {
        Self { sums: Vec::with_capacity(4 * SUMS_KEPT), first: 0 }
    }

    fn extend(&mut self, sound: &Stretch) {
        if self.sums.is_empty() {
            self.first = sound.end() - COARSE_HOP as i64 - SUMS_KEPT as i64;
            self.sums.resize(SUMS_KEPT + 1, 0.0);
        }
        if self.sums.len() + COARSE_HOP > 4 * SUMS_KEPT {
            let drop = self.sums.len() - SUMS_KEPT;
            let base = self.sums[drop];
            self.sums.drain(..drop);
            // Counted anew from here, so that an hour of sound costs no precision.
            self.sums.iter_mut().for_each(|sum| *sum -= base);
            self.first += drop as i64;
        }
        let mut sum = self.sums.last().copied().unwrap_or(0.0);
        for &y in sound.part(sound.end() - COARSE_HOP as i64, sound.end()) {
            sum += f64::from(y) * f64::from(y);
            self.sums.push(sum);
        }
    }

    /// `Σ y[q]²` for `q` in `from..to`.
    fn between(&self, from: i64, to: i64) -> f64 {
        let at = |index: i64| self.sums[usize::try_from(index - self.first).unwrap_or(0)];
        (at(to) - at(from)).max(0.0)
    }
}
