//! What was told of rounds, beside what is true of them.

use coach::Played;
use whole_chain::drill_scoring::Hearing;

use super::playing::{Round, Turn};

/// A turn told to begin so far from where it does, in seconds, is another one.
const BESIDE_SECS: f64 = 0.25;

/// The turns of the one round that `round` is; none if it was taken for several.
pub(super) fn judged(round: &Round) -> Vec<Played> {
    let done = Hearing::of_samples(&round.samples).judge(&round.drill(), |_, _| {});
    <[_; 1]>::try_from(done).map_or(Vec::new(), |[only]| only.turns)
}

/// The figures of some rounds, turn by turn.
#[derive(Default)]
pub(super) struct Sheet {
    /// Rounds, and those whose turns were not told apart.
    pub rounds: usize,
    /// See `rounds`.
    pub torn: usize,
    /// Told oscillations less true ones, whole and exact.
    pub made: Vec<f64>,
    /// See `made`.
    pub cycles: Vec<f64>,
    /// Told rate less the true one, in percent.
    pub rates_pct: Vec<f64>,
    /// The same, in stated standard errors.
    pub rates_se: Vec<f64>,
    /// Told width less the true one, in percent.
    pub widths_pct: Vec<f64>,
    /// Cycles told of turns with an attack, less those that are likely.
    pub attacks: Vec<f64>,
    /// Told centre less the expected one, in its tolerances.
    pub centres: Vec<f64>,
    /// Told gaps less true ones, in ms.
    pub gaps_ms: Vec<f64>,
    /// Gaps told where there was none, in ms.
    pub no_gaps_ms: Vec<f64>,
    rows: Vec<String>,
}

impl Sheet {
    /// Adds one round.
    pub(super) fn add(&mut self, round: &Round, played: &[Played]) {
        self.rounds += 1;
        let near = |(played, turn): (&Played, &Turn)| {
            (played.start.get() - turn.start).abs() < BESIDE_SECS
        };
        let told_apart =
            played.len() == round.turns.len() && played.iter().zip(&round.turns).all(near);
        let list = |one: &dyn Fn(&Played) -> String| -> String {
            played.iter().map(one).collect::<Vec<_>>().join(" ")
        };
        let order: Vec<String> = round.turns.iter().map(|t| t.finger.to_string()).collect();
        let truth: Vec<String> = round
            .turns
            .iter()
            .map(|t| format!("{:.4}", t.cycles).trim_end_matches(['0', '.']).to_owned())
            .collect();
        self.rows.push(format!(
            "{:<23} {:<13} {:<10} {:>5}   {:<10} {:<25} {:<25}{}",
            round.name,
            format!("{:?}", round.change),
            order.join(" "),
            round.asked,
            list(&|played| played.made.to_string()),
            list(&|played| format!("{:.2}", played.made_cycles)),
            truth.join(" "),
            if told_apart { "" } else { " TORN" },
        ));
        if !told_apart {
            self.torn += 1;
            return;
        }
        for (played, turn) in played.iter().zip(&round.turns) {
            let gap = 1_000.0 * played.gap.map_or(0.0, |gap| gap.value.get());
            match turn.gap {
                Some(secs) => self.gaps_ms.push(gap - 1_000.0 * secs),
                None => self.no_gaps_ms.push(gap),
            }
            if !turn.sure {
                self.attacks.push(played.made_cycles - turn.cycles);
                continue;
            }
            self.made.push(f64::from(played.made) - turn.cycles.round());
            self.cycles.push(played.made_cycles - turn.cycles);
            let centre = played.centre.map_or(f64::INFINITY, |c| c.value.get());
            self.centres.push((centre - round.centre.0) / round.centre.1);
            if turn.rate_hz > 0.0 {
                let rate = played.rate.map_or(0.0, |rate| rate.value.get());
                self.rates_pct.push(100.0 * (rate / turn.rate_hz - 1.0));
                let se = played.rate.and_then(|rate| rate.se);
                let se = se.map_or(0.0, |se| se.get());
                self.rates_se.push((rate - turn.rate_hz) / se);
            }
            if let Some(exact) = round.width {
                let width = played.width.map_or(0.0, |width| width.value.get());
                self.widths_pct.push(100.0 * (width / exact - 1.0));
            }
        }
    }

    /// Prints the table.
    pub(super) fn print(&self, what: &str) {
        println!(
            "\n{what}\n{:<23} {:<13} {:<10} {:>5}   {:<10} {:<25} true cycles",
            "recording", "change", "order", "asked", "made", "made_cycles"
        );
        for row in &self.rows {
            println!("{row}");
        }
        println!("{} rounds, {} not told apart", self.rounds, self.torn);
    }
}

/// What is reached of a bar that is missed: so many errors are larger than it, and none than the other.
pub(super) struct Reached(pub usize, pub f64);

/// Prints how some errors stand to their bar, and fails where they miss it, or are worse than what is known to be
/// reached of it.
pub(super) fn hold(what: &str, errors: &[f64], bar: f64, known: Option<Reached>) {
    let beyond = errors.iter().filter(|error| error.abs() > bar).count();
    let most = sizes(what, errors).last().copied().unwrap_or(f64::NAN);
    let figures =
        format!("{what}: most {most:.2}, {beyond} of {} beyond the bar of {bar}", errors.len());
    println!("{figures}{}", if beyond > 0 { ", MISSED" } else { "" });
    let Reached(count, worst) = known.unwrap_or(Reached(0, bar));
    assert!(
        beyond <= count && most <= worst.max(bar),
        "{figures}; known are {count}, and {worst} at most"
    );
}

/// Prints and asserts which share of some errors, in their stated standard errors, lies within so many.
pub(super) fn hold_share(what: &str, errors: &[f64], within: f64, least: f64) {
    let sizes = sizes(what, errors);
    let share = sizes.partition_point(|size| *size <= within) as f64 / sizes.len() as f64;
    let figures = format!("{what}: {share:.2} within {within} standard errors, the bar is {least}");
    println!("{figures}");
    assert!(share >= least, "{figures}");
}

/// The same of the middle one of some errors, whatever their signs.
pub(super) fn hold_median(what: &str, errors: &[f64], bar: f64, known: Option<f64>) {
    let sizes = sizes(what, errors);
    let median = sizes[sizes.len() / 2];
    let figures = format!("{what}: median {median:.2} beside the bar of {bar}");
    println!("{figures}{}", if median > bar { ", MISSED" } else { "" });
    assert!(median <= known.unwrap_or(bar), "{figures}; known is {known:?}");
}

fn sizes(what: &str, errors: &[f64]) -> Vec<f64> {
    assert!(!errors.is_empty(), "{what}: nothing was measured");
    let mut sizes: Vec<f64> = errors.iter().map(|error| error.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    sizes
}
