//! The likeliest course of a motion: a chain of half cycles and rests that explains the pitch best.
//!
//! Every chain of crests, troughs and rests is weighed at once, by dynamic programming over its pieces: half
//! a cycle between two turns, a quarter between a turn and rest, a rest in the middle or at a turn, and what the edges
//! of the sound cut off. A piece costs what it leaves unexplained, and how far its length, width and middle are from what
//! is usual around it; so noise that would need an odd piece makes none, and a real one is not
//! lost. Costs are negative logarithms of likelihoods (of a normal noise; lengths are log-normal).

use crate::expectation::Expectation;
use crate::motion::{Chain, ChainPoint, CycleShape, PointKind, half_cycle};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// Cells in half a cycle of the fastest motion of the stretch.
const CELLS_A_HALF: f64 = 12.0;
/// Frames that share so much sound that they count as one.
const FRAMES_PER_VALUE: f64 = 4.0;
/// Shortest and longest half cycle, and its spread, in logarithms of the usual length; and of a quarter.
const HALF_BOUNDS_SPREAD: (f64, f64, f64) = (0.42, 2.0, 0.27);
const QUARTER_BOUNDS_SPREAD: (f64, f64, f64) = (0.36, 1.9, 0.32);
/// Spread of the half width as a share of the usual one; no piece has less than this share of it.
const WIDTH_SPREAD: f64 = 0.32;
const LEAST_WIDTH_SHARE: f64 = 0.2;
/// Spread of the middle: a share of the half width, and cents.
const MIDDLE_SPREAD_SHARE_CENTS: (f64, f64) = (0.16, 1.0);
/// A step that was taken out may be wrong by so much, in cents.
const STEP_SPREAD_CENTS: f64 = 8.0;
/// Cost of a rest, of one near a change of finger, where it is rather expected, and of one without length.
const REST_COST: f64 = 6.0;
const REST_AT_CHANGE_COST: f64 = -1.0;
const TURN_BACK_COST: f64 = 4.0;
/// A rest at a turn lies as high as the turn is expected, give or take this share of the half width; it costs so much more
/// than one in the middle, and one with which the sound begins or ends costs so much.
const HELD_SPREAD_SHARE: f64 = 0.15;
const HELD_COST: f64 = 4.0;
const HELD_AT_EDGE_COST: f64 = 7.0;
/// To set out from a rest costs so much.
const SETTING_OUT_COST: f64 = 0.7;
/// To set out, turn once and come to rest again is odd, and costs so much.
const LONE_SWING_COST: f64 = 6.0;
/// A rest belongs to a change that lies within so many half cycles.
const NEAR_CHANGE_HALVES: f64 = 0.6;
/// Shortest rest, in half cycles and in frames.
const LEAST_REST_HALVES_FRAMES: (f64, f64) = (0.2, 8.0);
/// Longest piece of rest, in cells; longer ones are chains.
const MOST_REST_CELLS: usize = 60;

/// What is known of a stretch.
pub(crate) struct ChainInput<'a> {
    /// Cents with the steps taken out.
    pub flat: &'a [f64],
    /// Frames that count.
    pub heard: &'a [bool],
    /// Changes of finger, in frames.
    pub cuts: &'a [usize],
    /// Noise of an independent value, in cents.
    pub noise: f64,
    /// Shape of a half cycle.
    pub shape: CycleShape,
    /// Frames of a cell, the grain of the search.
    pub cell: usize,
    /// The turn it starts at; `None` where the sound starts.
    pub start: Option<PointKind>,
}

#[derive(Clone, Copy)]
struct Fit {
    cost: f64,
    middle: f64,
    height: f64,
    left: f64,
}

#[derive(Clone, Copy)]
struct ChainStep {
    cost: f64,
    from: (usize, usize),
    cycles: f64,
    fit: Fit,
}

const NONE: ChainStep = ChainStep {
    cost: f64::INFINITY,
    from: (0, 0),
    cycles: 0.0,
    fit: Fit { cost: 0.0, middle: 0.0, height: 0.0, left: 0.0 },
};

/// Rows of the programme, in the order of [`KINDS`].
const CREST: usize = 0;
const TROUGH: usize = 1;
const REST: usize = 2;
const READY: usize = 3;
const CREST_HELD: usize = 4;
const TROUGH_HELD: usize = 5;
const KINDS: [PointKind; ROWS] = [
    PointKind::Crest,
    PointKind::Trough,
    PointKind::Rest,
    PointKind::Ready,
    PointKind::CrestHeld,
    PointKind::TroughHeld,
];
const ROWS: usize = 6;
/// Each kind of turn, the same once the motion has rested there, and on which side of the middle it lies.
const TURNS: [(usize, usize, f64); 2] = [(CREST, CREST_HELD, 1.0), (TROUGH, TROUGH_HELD, -1.0)];

struct Grid {
    cell: usize,
    count: usize,
    y: Vec<f64>,
    w: Vec<f64>,
    /// Running sums of w, wy, wyy; y against the usual middle.
    sums: Vec<[f64; 3]>,
    expected: Vec<Expectation>,
    /// One over the variance of the level of a rest in the middle, and at a turn, for each cell.
    levels: Vec<[f64; 2]>,
    /// The first cell behind each at which the finger changes; [`NO_CUT`] behind the last.
    next_cut: Vec<usize>,
    /// What lies so near to each cell belongs to it, in cells; and the first change of finger from there on.
    reach: Vec<(f64, f64)>,
}

const NO_CUT: usize = usize::MAX;

/// Frames of a cell for what is usual at each frame.
pub(crate) fn cell_of(expected: &[Expectation]) -> usize {
    let fastest = expected
        .iter()
        .map(|expected| expected.up.min(expected.down))
        .fold(f64::INFINITY, f64::min);
    ((fastest / CELLS_A_HALF).round() as usize).max(1)
}

impl Grid {
    fn new(known: &ChainInput, expected: &[Expectation]) -> Self {
        let cell = known.cell;
        let count = known.flat.len() / cell;
        let (mut y, mut w, mut of) = (Vec::new(), Vec::new(), Vec::new());
        let mut sums = vec![[0.0; 3]];
        let value = 1.0 / (known.noise * known.noise * FRAMES_PER_VALUE);
        for k in 0..count {
            let span = k * cell..(k + 1) * cell;
            let here = expected[k * cell + cell / 2];
            let (mut sum, mut heard) = (0.0, 0.0);
            for i in span {
                if known.heard[i] {
                    sum += known.flat[i];
                    heard += 1.0;
                }
            }
            let value = value * heard;
            let mean = if heard > 0.0 { sum / heard - here.middle } else { 0.0 };
            y.push(mean);
            w.push(value);
            of.push(here);
            let last: [f64; 3] = sums[k];
            sums.push([last[0] + value, last[1] + value * mean, last[2] + value * mean * mean]);
        }
        let cuts: Vec<usize> = known.cuts.iter().map(|cut| (cut + cell / 2) / cell).collect();
        let first = |from: &dyn Fn(usize) -> bool| cuts.iter().copied().find(|cut| from(*cut));
        let next_cut = (0..=count).map(|i| first(&|cut| cut > i).unwrap_or(NO_CUT)).collect();
        let reach = (0..=count).map(|i| {
            let expected = &of[i.min(count.saturating_sub(1))];
            let reach = NEAR_CHANGE_HALVES * 0.5 * (expected.up + expected.down) / cell as f64;
            let cut = first(&|cut| cut as f64 >= i as f64 - reach);
            (reach, cut.map_or(f64::INFINITY, |cut| cut as f64))
        });
        let reach = if count > 0 { reach.collect() } else { Vec::new() };
        let levels = of.iter().map(|expected| {
            [0.0, 1.0].map(|side| {
                let share = MIDDLE_SPREAD_SHARE_CENTS.0 * expected.height;
                let so = (share + MIDDLE_SPREAD_SHARE_CENTS.1)
                    .hypot(side * HELD_SPREAD_SHARE * expected.height);
                1.0 / (so * so)
            })
        });
        let levels = levels.collect();
        Self { cell, count, y, w, sums, expected: of, levels, next_cut, reach }
    }

    /// The change of finger between cells `i` and `j`.
    fn cut_within(&self, i: usize, j: usize) -> Option<usize> {
        Some(self.next_cut[i]).filter(|cut| *cut < j)
    }

    /// Fits `height` times `basis`, which is 1 at a crest, over cells `i` to before `j`. `basis` holds a
    /// value for each cell. Nothing if that costs `worth` or more.
    fn fit(
        &self,
        (i, j): (usize, usize),
        sign: f64,
        basis: &[f64],
        whole: f64,
        worth: f64,
    ) -> Option<Fit> {
        if !is_worth(worth, 0.0) {
            return None;
        }
        let middle = (i + j) / 2;
        let expected = &self.expected[middle.min(self.count - 1)];
        let (so, sa) = (
            MIDDLE_SPREAD_SHARE_CENTS.0 * expected.height + MIDDLE_SPREAD_SHARE_CENTS.1,
            WIDTH_SPREAD * expected.height,
        );
        let s0 = self.sums[j][0] - self.sums[i][0];
        let sy = self.sums[j][1] - self.sums[i][1];
        let syy = self.sums[j][2] - self.sums[i][2];
        let (mut sb, mut sbb, mut sby) = (0.0, 0.0, 0.0);
        for (b, (y, w)) in basis.iter().zip(self.y[i..j].iter().zip(&self.w[i..j])) {
            let wb = w * b;
            sb += wb;
            sbb += wb * b;
            sby += wb * y;
        }
        let a0 = sign * expected.height;
        let zz = syy - 2.0 * a0 * sby + a0 * a0 * sbb;
        let z = sy - a0 * sb;
        let zb = sby - a0 * sbb;
        // The height may differ more where less than half a cycle shows it.
        let (p, q) = (1.0 / (so * so), 1.0 / (sa * sa));
        let Some(cut) = self.cut_within(i, j) else {
            let (m00, m11) = (s0 + p, sbb + q);
            let det = m00 * m11 - sb * sb;
            let o = (z * m11 - zb * sb) / det;
            let a = (zb * m00 - z * sb) / det;
            let left = (zz - o * z - a * zb).max(0.0);
            let height = sign * (a0 + a);
            let low = height < LEAST_WIDTH_SHARE * expected.height * whole;
            return (!low && is_worth(worth, left)).then(|| Fit {
                cost: 0.5 * left + 0.5 * (det / (p * q)).ln(),
                middle: expected.middle + o,
                height,
                left,
            });
        };
        let (mut c0, mut cb, mut cy) = (0.0, 0.0, 0.0);
        for k in cut..j {
            c0 += self.w[k];
            cb += self.w[k] * basis[k - i];
            cy += self.w[k] * (self.y[k] - a0 * basis[k - i]);
        }
        let r = 1.0 / (STEP_SPREAD_CENTS * STEP_SPREAD_CENTS);
        let m = [[s0 + p, sb, c0], [sb, sbb + q, cb], [c0, cb, c0 + r]];
        let x = crate::least_squares::solve_normal(m, [z, zb, cy], 3).unwrap_or([0.0; 3]);
        let left = (zz - x[0] * z - x[1] * zb - x[2] * cy).max(0.0);
        let height = sign * (a0 + x[1]);
        if height < LEAST_WIDTH_SHARE * expected.height * whole || !is_worth(worth, left) {
            return None;
        }
        let det = m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[1][2])
            - m[0][1] * (m[0][1] * m[2][2] - m[1][2] * m[0][2])
            + m[0][2] * (m[0][1] * m[1][2] - m[1][1] * m[0][2]);
        let cost = 0.5 * left + 0.5 * (det / (p * q * r)).max(1.0).ln();
        Some(Fit { cost, middle: expected.middle + x[0], height, left })
    }

    /// A rest from cell `i` to before `j`: in the middle, or with `side` 1 or −1 at a crest or a trough. Nothing if that
    /// costs `worth` or more.
    fn still(&self, (i, j): (usize, usize), side: f64, worth: f64) -> Option<Fit> {
        if !is_worth(worth, 0.0) {
            return None;
        }
        let middle = ((i + j) / 2).min(self.count - 1);
        let expected = &self.expected[middle];
        let level = side * expected.height;
        let p = self.levels[middle][usize::from(side != 0.0)];
        // Sums of w, wy and wyy with y against the level of the rest.
        let sums = |from: usize| {
            let (s, t) = (self.sums[j], self.sums[from]);
            let (w, y, yy) = (s[0] - t[0], s[1] - t[1], s[2] - t[2]);
            (w, y - level * w, yy - 2.0 * level * y + level * level * w)
        };
        let (s0, sy, syy) = sums(i);
        // What it leaves; how much more is known by it than before, as a ratio; and how far it lies from its level.
        let (left, known, o) = match self.cut_within(i, j) {
            None => {
                let m = s0 + p;
                (syy - sy * sy / m, m / p, sy / m)
            }
            Some(cut) => {
                let (c0, cy, _) = sums(cut);
                let r = 1.0 / (STEP_SPREAD_CENTS * STEP_SPREAD_CENTS);
                let (a, b, c) = (s0 + p, c0, c0 + r);
                let det = a * c - b * b;
                let o = (sy * c - cy * b) / det;
                let d = (cy * a - sy * b) / det;
                (syy - o * sy - d * cy, det / (p * r), o)
            }
        };
        let left = left.max(0.0);
        is_worth(worth, left).then(|| Fit {
            cost: 0.5 * left + 0.5 * known.ln(),
            middle: expected.middle + level + o,
            height: 0.0,
            left,
        })
    }

    /// Whether a change of finger lies within cells `i` to `j` or near them.
    fn changes(&self, i: usize, j: usize) -> bool {
        let (reach, cut) = self.reach[i];
        cut <= j as f64 + reach
    }
}

/// Whether a piece that leaves so much unexplained can cost less than `worth`, which may be no number where nothing leads to
/// it: what a piece costs beside what it leaves is never less than nothing.
fn is_worth(worth: f64, left: f64) -> bool {
    0.5 * left < worth
}

/// What the length of a piece costs. The search asks for it at every cell for every length: so the logarithms of all
/// lengths are taken once.
struct LengthCost {
    /// Logarithm of so many cells, and of the frames of a cell.
    cells: Vec<f64>,
    cell: f64,
}

/// Where lengths around a usual one are tried.
#[derive(Clone, Copy)]
struct Around {
    /// Logarithm of the usual length, in cells.
    usual: f64,
    /// Half of one over the variance, and what does not hang on the length.
    weight: f64,
    fixed: f64,
}

impl LengthCost {
    fn new(cell: usize, most: usize) -> Self {
        Self {
            cells: (0..=most).map(|length| (length as f64).ln()).collect(),
            cell: (cell as f64).ln(),
        }
    }

    /// Where `frames` are usual, give or take `spread` as a logarithm; `stride` lengths are tried as one.
    fn around(&self, frames: f64, spread: f64, stride: usize) -> Around {
        Around {
            usual: frames.ln() - self.cell,
            weight: 0.5 / (spread * spread),
            fixed: (spread * TAU.sqrt() / stride as f64).ln(),
        }
    }

    /// Cost of a piece of `length` cells.
    fn of(&self, length: usize, around: &Around) -> f64 {
        let off = self.cells[length] - around.usual;
        around.weight * off * off + self.cells[length] + around.fixed
    }
}

/// Bases by their length in cells.
struct Bases {
    half: Vec<Vec<f64>>,
    fall: Vec<Vec<f64>>,
    gentle: Vec<Vec<f64>>,
    sharp: Vec<Vec<f64>>,
}

impl Bases {
    fn new(shape: CycleShape, most: usize, quarter: usize) -> Self {
        let table = |most: usize, of: &dyn Fn(f64) -> f64| {
            (0..=most)
                .map(|d| (0..d).map(|k| of((k as f64 + 0.5) / d as f64)).collect())
                .collect::<Vec<Vec<f64>>>()
        };
        Self {
            half: table(most, &|x| half_cycle(shape, x)),
            fall: table(quarter, &|x| half_cycle(shape, 0.5 * x)),
            gentle: table(quarter, &|x| 0.5 * (1.0 - (PI * x).cos())),
            sharp: table(quarter, &|x| (FRAC_PI_2 * x).sin()),
        }
    }
}

/// The likeliest chain through what is `known`, where `expected` says for each frame what is usual there.
pub(crate) fn likeliest_chain(known: &ChainInput, expected: &[Expectation]) -> Chain {
    let grid = Grid::new(known, expected);
    if grid.count < 2 {
        return Chain::default();
    }
    let mut search = Search::new(known, grid, expected);
    for j in 1..=search.grid.count {
        let mut now = [NONE; ROWS];
        search.half_cycles(j, &mut now);
        search.quarters(j, &mut now);
        search.rests(j, &mut now);
        search.best[j] = now;
    }
    search.traced(search.end())
}

impl ChainStep {
    /// Becomes this step, if that costs less.
    fn take(&mut self, cost: f64, from: (usize, usize), cycles: f64, fit: Fit) {
        if cost < self.cost {
            *self = Self { cost, from, cycles, fit };
        }
    }
}

/// The search, cell by cell: the cheapest chain to each place at each cell.
struct Search<'a> {
    known: &'a ChainInput<'a>,
    grid: Grid,
    bases: Bases,
    lengths: LengthCost,
    /// Longest piece of motion, in cells.
    most: usize,
    /// The last step of the cheapest chain that ends before each cell, for each of [`KINDS`].
    best: Vec<[ChainStep; ROWS]>,
}

impl<'a> Search<'a> {
    fn new(known: &'a ChainInput<'a>, grid: Grid, expected: &[Expectation]) -> Self {
        let slowest = expected.iter().map(|u| u.up.max(u.down)).fold(0.0, f64::max);
        let most = (HALF_BOUNDS_SPREAD.1 * (slowest / grid.cell as f64)).ceil() as usize + 1;
        let mut best = vec![[NONE; ROWS]; grid.count + 1];
        match known.start {
            Some(PointKind::Crest) => best[0][CREST].cost = 0.0,
            Some(PointKind::Trough) => best[0][TROUGH].cost = 0.0,
            _ => {
                best[0][REST].cost = REST_AT_CHANGE_COST;
                best[0][READY].cost = 0.0;
                best[0][CREST_HELD].cost = HELD_AT_EDGE_COST;
                best[0][TROUGH_HELD].cost = HELD_AT_EDGE_COST;
            }
        }
        let lengths = LengthCost::new(grid.cell, most);
        let quarter = QUARTER_BOUNDS_SPREAD.1 * 0.5 * slowest / grid.cell as f64;
        let bases = Bases::new(known.shape, most, quarter.ceil() as usize);
        Self { known, grid, bases, lengths, most, best }
    }

    fn cells(&self, frames: f64) -> f64 {
        frames / self.grid.cell as f64
    }

    /// So many lengths are tried as one, where the motion is slower than the grain of the search.
    fn stride(&self, here: &Expectation) -> usize {
        ((self.cells(here.up.min(here.down)) / CELLS_A_HALF) as usize).max(1)
    }

    /// Half cycles that end before cell `j`, and what the start of the sound leaves of one.
    fn half_cycles(&self, j: usize, now: &mut [ChainStep; ROWS]) {
        let here = self.grid.expected[j - 1];
        let stride = self.stride(&here);
        for (row, from, held, sign, length) in [
            (CREST, TROUGH, TROUGH_HELD, -1.0, here.up),
            (TROUGH, CREST, CREST_HELD, 1.0, here.down),
        ] {
            let least = ((HALF_BOUNDS_SPREAD.0 * self.cells(length)).ceil() as usize).max(1);
            let longest = (HALF_BOUNDS_SPREAD.1 * self.cells(length)) as usize;
            let around = self.lengths.around(length, HALF_BOUNDS_SPREAD.2, stride);
            for d in (least..=longest.min(j)).step_by(stride) {
                let i = j - d;
                let [moving, rested] = [from, held].map(|from| self.best[i][from].cost);
                let (before, from) = if rested < moving { (rested, held) } else { (moving, from) };
                let least = before + self.lengths.of(d, &around);
                let worth = now[row].cost - least;
                if let Some(fit) = self.grid.fit((i, j), sign, &self.bases.half[d], 1.0, worth) {
                    now[row].take(least + fit.cost, (i, from), 0.5, fit);
                }
            }
            for share in [0.3, 0.5, 0.7, 0.85, 1.0, 1.25] {
                let whole = (share * self.cells(length)).round() as usize;
                if self.known.start.is_some() || j > longest || whole < j || whole > self.most {
                    continue;
                }
                let around = self.lengths.around(length, HALF_BOUNDS_SPREAD.2, 1);
                let odd = self.lengths.of(whole, &around) + EDGE_COST;
                let cycles = 0.5 * j as f64 / whole as f64;
                let (basis, worth) = (&self.bases.half[whole][whole - j..], now[row].cost - odd);
                if let Some(fit) = self.grid.fit((0, j), sign, basis, 0.0, worth) {
                    now[row].take(odd + fit.cost, (0, EDGE), cycles, fit);
                }
            }
        }
    }

    /// Quarters to or from rest that end before cell `j`.
    fn quarters(&self, j: usize, now: &mut [ChainStep; ROWS]) {
        let here = self.grid.expected[j - 1];
        let usual_half = 0.5 * (here.up + here.down);
        let stride = self.stride(&here);
        let least =
            ((QUARTER_BOUNDS_SPREAD.0 * 0.5 * self.cells(usual_half)).ceil() as usize).max(1);
        let longest = (QUARTER_BOUNDS_SPREAD.1 * 0.5 * self.cells(usual_half)).ceil() as usize;
        let around = self.lengths.around(0.5 * usual_half, QUARTER_BOUNDS_SPREAD.2, stride);
        for d in (least..=longest.min(j)).step_by(stride) {
            let i = j - d;
            let odd = self.lengths.of(d, &around);
            for (row, sign) in [(CREST, 1.0), (TROUGH, -1.0)] {
                let out = self.best[i][READY].cost + odd + SETTING_OUT_COST;
                for basis in [&self.bases.gentle[d], &self.bases.sharp[d]] {
                    let worth = now[row].cost - out;
                    if let Some(fit) = self.grid.fit((i, j), sign, basis, 1.0, worth) {
                        now[row].take(out + fit.cost, (i, READY), 0.25, fit);
                    }
                }
                let lone = self.best[i][row].from.1 == READY;
                let home = self.best[i][row].cost + odd + if lone { LONE_SWING_COST } else { 0.0 };
                let worth = now[REST].cost - home;
                if let Some(fit) = self.grid.fit((i, j), sign, &self.bases.fall[d], 1.0, worth) {
                    now[REST].take(home + fit.cost, (i, row), 0.25, fit);
                }
            }
        }
    }

    /// Rests that end before cell `j`.
    fn rests(&self, j: usize, now: &mut [ChainStep; ROWS]) {
        let here = self.grid.expected[j - 1];
        let usual_half = 0.5 * (here.up + here.down);
        let least = (LEAST_REST_HALVES_FRAMES.0 * usual_half).max(LEAST_REST_HALVES_FRAMES.1)
            / self.grid.cell as f64;
        let least = (least.round() as usize).max(1);
        let length = (MOST_REST_CELLS as f64).ln();
        for d in least..=MOST_REST_CELLS.min(j) {
            let i = j - d;
            let cost = if self.grid.changes(i, j) { REST_AT_CHANGE_COST } else { REST_COST };
            for (turn, held, side) in TURNS {
                let [moving, rested] = [turn, held].map(|row| self.best[i][row].cost);
                let (begun, gone_on) = (moving + cost + HELD_COST + length, rested + length);
                let worth = now[held].cost - begun.min(gone_on);
                if let Some(fit) = self.grid.still((i, j), side, worth) {
                    now[held].take(begun + fit.cost, (i, turn), 0.0, fit);
                    now[held].take(gone_on + fit.cost, (i, held), 0.0, fit);
                }
            }
            let [moving, rested] = [REST, READY].map(|row| self.best[i][row].cost);
            let (begun, gone_on) = (moving + cost + length, rested + length);
            let worth = now[READY].cost - begun.min(gone_on);
            if let Some(fit) = self.grid.still((i, j), 0.0, worth) {
                now[READY].take(begun + fit.cost, (i, REST), 0.0, fit);
                now[READY].take(gone_on + fit.cost, (i, READY), 0.0, fit);
            }
        }
        let still = NONE.fit;
        let back = now[REST].cost + REST_COST + TURN_BACK_COST;
        if back < now[READY].cost {
            now[READY].take(back, (j, REST), 0.0, still);
        }
    }

    /// The last step of all: what the end of the sound leaves of a piece.
    fn end(&self) -> ChainStep {
        let n = self.grid.count;
        let mut end = NONE;
        let here = self.grid.expected[n - 1];
        for (row, sign, length) in [(CREST, 1.0, here.down), (TROUGH, -1.0, here.up)] {
            for share in [0.5, 0.7, 0.85, 1.0, 1.25] {
                let whole = (share * self.cells(length)).round() as usize;
                let around = self.lengths.around(length, HALF_BOUNDS_SPREAD.2, 1);
                for d in 1..=whole.min(n).min(self.most) {
                    let odd = self.lengths.of(whole, &around) + EDGE_COST;
                    let least = self.best[n - d][row].cost + odd;
                    let (basis, worth) = (&self.bases.half[whole][..d], end.cost - least);
                    if let Some(fit) = self.grid.fit((n - d, n), sign, basis, 0.0, worth) {
                        let cycles = 0.5 * d as f64 / whole as f64;
                        end.take(least + fit.cost, (n - d, row), cycles, fit);
                    }
                }
            }
        }
        for d in 0..=MOST_REST_CELLS.min(n) {
            let edge = if d > 0 { EDGE_COST } else { 0.0 };
            let mut rest = |side: f64, rows: [(usize, f64); 2]| {
                let still = |d| self.grid.still((n - d, n), side, f64::INFINITY);
                let fit = Some(d).filter(|d| *d > 0).and_then(still).unwrap_or(NONE.fit);
                for (row, more) in rows {
                    let cost = self.best[n - d][row].cost + more + fit.cost + edge;
                    end.take(cost, (n - d, row), 0.0, fit);
                }
            };
            rest(0.0, [(REST, 0.0), (READY, 0.0)]);
            for (turn, held, side) in TURNS {
                // Without length it is a motion that ends at a turn.
                rest(side, [(turn, if d > 0 { HELD_AT_EDGE_COST } else { 0.0 }), (held, 0.0)]);
            }
        }
        end
    }

    /// The chain that ends with the step `end`, followed back to its start.
    fn traced(&self, end: ChainStep) -> Chain {
        let n = self.grid.count;
        let mut points = Vec::new();
        let mut left = 0.0;
        let mut at = n;
        let mut kind = PointKind::Edge;
        let mut step = end;
        loop {
            points.push(ChainPoint {
                at: (at * self.grid.cell) as f64,
                kind,
                cycles: step.cycles,
                middle: step.fit.middle,
                height: step.fit.height,
            });
            left += step.fit.left;
            let (i, row) = step.from;
            if at == n && i < n && kind == PointKind::Edge {
                // The last cell need not be a whole one.
                let (end, begin) = (self.known.flat.len() as f64, (i * self.grid.cell) as f64);
                let share = (end - begin) / ((n - i) * self.grid.cell) as f64;
                if let Some(last) = points.last_mut() {
                    (last.at, last.cycles) = (end, share * last.cycles);
                }
            }
            if row == EDGE || step.cost.is_infinite() {
                points.push(ChainPoint {
                    at: 0.0,
                    kind: PointKind::Edge,
                    cycles: 0.0,
                    middle: 0.0,
                    height: 0.0,
                });
                break;
            }
            if i == 0 {
                points.push(ChainPoint {
                    at: 0.0,
                    kind: KINDS[row],
                    cycles: 0.0,
                    middle: 0.0,
                    height: 0.0,
                });
                break;
            }
            (at, kind) = (i, KINDS[row]);
            step = self.best[i][row];
        }
        points.reverse();
        let values = self.grid.sums[n][0];
        Chain {
            points,
            cost: end.cost,
            shape: self.known.shape,
            left: (left / values.max(1e-9) * (self.grid.cell as f64 / FRAMES_PER_VALUE).max(1.0))
                .sqrt(),
        }
    }
}

/// Cost of a piece that the edge of the sound cuts off, and the row of the start.
const EDGE_COST: f64 = 1.5;
const EDGE: usize = 9;
