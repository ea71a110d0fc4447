//! A model and an echo whose pitch is known exactly: what is said of their difference holds within the
//! doubt it is said with, and the words name the difference that was made.
//!
//! Truth comes from crate tone: the turning points that were played, not the figures asked for.

use coach::Comparison;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tone::{Bow, Factor, Line, NoteSpec, Spec, TrueNote, VibratoSpec};
use tuning::{Cents, Hz, Naming, Secs};
use vibrato::{Quantity, Settings};
use whole_chain::listening::{HeardSound, listen};

/// Pairs that are played.
const PAIRS: usize = 96;
/// Share of the true differences that have to lie within two standard errors of what is said. Two standard
/// errors hold 95 of 100 chance errors; with 96 pairs, 86 of them (90 %) or more are found in 98 of 100 such
/// tests (binomial), so that what lies below is no bad luck.
const COVERED: f64 = 0.90;
/// ...and the doubt may not be bought by being large: its root mean square stays below this, in the order of
/// rate (Hz), width (cents), centre (cents) and onset (s).
const DOUBT_BELOW: [f64; 4] = [0.25, 3.0, 0.6, 0.25];
/// Share of the pairs whose made difference the first sentence has to name.
const NAMED: f64 = 0.95;

/// The one thing in which the echo of a pair differs from its model on purpose.
const MADE: [Quantity; 6] = [
    Quantity::Rate,
    Quantity::Width,
    Quantity::Centre,
    Quantity::Onset,
    Quantity::RateSpread,
    Quantity::Growth,
];

struct Player {
    rng: ChaCha8Rng,
}

impl Player {
    fn even(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.rng.random::<f64>()
    }

    fn sign(&mut self) -> f64 {
        if self.rng.random::<bool>() { 1.0 } else { -1.0 }
    }

    /// A model, and an echo that differs in `made`.
    fn pair(&mut self, made: Quantity) -> [Spec; 2] {
        let (low, high) = (48.0, 76.0);
        let midi = self.even(low, high).round();
        let f0 = Hz(440.0 * ((midi - 69.0) / 12.0).exp2()).raised(Cents(self.even(-10.0, 10.0)));
        let vibrato = VibratoSpec {
            rate_jitter_pct: 3.0,
            width_jitter_pct: 5.0,
            delay: Secs(self.even(0.25, 0.35)),
            ..VibratoSpec::regular(Hz(self.even(4.5, 6.5)), Cents(self.even(25.0, 70.0)))
        };
        let model = NoteSpec::straight(Secs(0.3), Secs(3.0), f0).with(vibrato.clone());
        let mut echo = model.clone();
        let mut other = vibrato;
        match made {
            Quantity::Rate => other.rate.0 *= 1.0 + self.sign() * self.even(0.18, 0.3),
            Quantity::Width => other.width.0 *= 1.0 + self.sign() * self.even(0.4, 0.6),
            Quantity::Centre => echo.f0 = f0.raised(Cents(self.sign() * self.even(18.0, 35.0))),
            Quantity::Onset => other.delay.0 += self.even(0.5, 0.9),
            Quantity::RateSpread => other.rate_jitter_pct = self.even(20.0, 26.0),
            Quantity::Growth => {
                let factor = |time, width| Factor { time: Secs(time), width, rate: 1.0 };
                other.contour = vec![factor(0.0, 0.35), factor(3.0, 1.65)];
            }
            _ => {}
        }
        echo.vibrato = Some(other);
        [model, echo].map(|note| Spec {
            seed: self.rng.random(),
            lines: vec![Line { notes: vec![note], level_db: 0.0 }],
            bow: Bow { snr_db: Some(30.0), ..Bow::default() },
            floor_dbfs: Some(-78.0),
            ..Spec::default()
        })
    }
}

/// What is true of a note, by quantity; `None` where the truth has no such figure.
fn truth(note: &TrueNote, nominal: Hz, quantity: Quantity) -> Option<f64> {
    let all = &note.oscillations;
    match quantity {
        Quantity::Rate => Some(note.mean_rate()?.0),
        Quantity::Width => Some(note.mean_width()?.0),
        Quantity::Centre => Some(note.centre.0 + note.nominal.cents_above(nominal).0),
        Quantity::Onset => Some(all.first()?.start.0 - note.start.0),
        _ => None,
    }
}

fn heard(spec: &Spec) -> HeardSound {
    listen(spec.clone(), Settings::default()).expect("the specification is within its bounds")
}

#[test]
fn differences_hold_within_their_doubt_and_the_words_name_the_one_that_was_made() {
    let mut player = Player { rng: ChaCha8Rng::seed_from_u64(20_261_125) };
    let told = [Quantity::Rate, Quantity::Width, Quantity::Centre, Quantity::Onset];
    let mut within = [0; 4];
    let mut squares = [(0.0, 0.0); 4];
    let mut named = 0;
    let mut misnamed = Vec::new();
    for number in 0..PAIRS {
        let made = MADE[number % MADE.len()];
        let [model, echo] = player.pair(made).map(|spec| heard(&spec));
        let comparison = Comparison::new(&model.notes, &echo.notes);
        assert_eq!(comparison.pairs.len(), 1, "pair {number}: one note, one answer");
        let pair = &comparison.pairs[0];
        let nominal = model.true_notes()[0].nominal;
        for (place, &quantity) in told.iter().enumerate() {
            let true_of = |heard: &HeardSound| truth(&heard.true_notes()[0], nominal, quantity);
            let due = true_of(&echo).expect("it vibrates") - true_of(&model).expect("it vibrates");
            let said = pair.difference(quantity).expect("both vibrate");
            let se = said.se.expect("both doubts are known");
            squares[place].0 += (said.value - due).powi(2) / PAIRS as f64;
            squares[place].1 += se * se / PAIRS as f64;
            if (said.value - due).abs() <= 2.0 * se {
                within[place] += 1;
            } else {
                println!(
                    "pair {number}, {}: said {:.3} ±{se:.3}, true {due:.3}",
                    quantity.name(),
                    said.value
                );
            }
        }
        let (_, largest) = comparison.largest().expect("a difference was made");
        let words = comparison.words(Naming::Scientific);
        let its_word = words[0].contains(word_of(made, largest.value));
        if largest.quantity == made && its_word {
            named += 1;
        } else {
            misnamed.push(format!("pair {number}, {}: {}", made.name(), words[0]));
        }
    }
    println!("{PAIRS} pairs; true difference within two standard errors of what is said:");
    for (place, quantity) in told.iter().enumerate() {
        println!(
            "  {:<7} {:3} of {PAIRS} ({:.0} %); error {:.3} {unit}, stated doubt {:.3} {unit} (root mean squares)",
            quantity.name(),
            within[place],
            100.0 * f64::from(within[place]) / PAIRS as f64,
            squares[place].0.sqrt(),
            squares[place].1.sqrt(),
            unit = quantity.unit()
        );
    }
    println!("first sentence names what was made: {named} of {PAIRS}");
    println!("{}", misnamed.join("\n"));
    for (place, quantity) in told.iter().enumerate() {
        let share = f64::from(within[place]) / PAIRS as f64;
        assert!(share >= COVERED, "{}: {share}", quantity.name());
        let doubt = squares[place].1.sqrt();
        assert!(doubt < DOUBT_BELOW[place], "{}: {doubt}", quantity.name());
    }
    assert!(f64::from(named) >= NAMED * PAIRS as f64, "{misnamed:?}");
}

/// The word the first sentence has to have.
fn word_of(quantity: Quantity, value: f64) -> &'static str {
    let more = value > 0.0;
    match quantity {
        Quantity::Rate => ["slower", "faster"][usize::from(more)],
        Quantity::Width => ["narrower", "wider"][usize::from(more)],
        Quantity::Centre => ["lower in its centre", "higher in its centre"][usize::from(more)],
        Quantity::Onset => ["earlier", "later"][usize::from(more)],
        Quantity::RateSpread => ["more even in rate", "less even in rate"][usize::from(more)],
        Quantity::Growth => ["widening less", "widening more"][usize::from(more)],
        _ => "?",
    }
}

/// Two notes slurred, the echo with a stop in its motion at the change, an octave higher.
#[test]
fn a_gap_is_told_between_the_notes_of_a_phrase_in_another_octave() {
    let phrase = |octave: f64, stop: f64| {
        let note = |start: f64, hz: f64, delay: f64| {
            let vibrato =
                VibratoSpec { delay: Secs(delay), ..VibratoSpec::regular(Hz(5.5), Cents(36.0)) };
            NoteSpec {
                join: if start > 1.0 { tone::Join::Legato } else { tone::Join::Detached },
                ..NoteSpec::straight(Secs(start), Secs(2.0), Hz(hz * octave)).with(vibrato)
            }
        };
        Spec {
            lines: vec![Line {
                notes: vec![note(0.3, 146.83, 0.0), note(2.3, 164.81, stop)],
                level_db: 0.0,
            }],
            floor_dbfs: Some(-78.0),
            ..Spec::default()
        }
    };
    let (model, echo) = (heard(&phrase(1.0, 0.0)), heard(&phrase(2.0, 0.5)));
    let comparison = Comparison::new(&model.notes, &echo.notes);
    assert_eq!(comparison.transposed, 12);
    assert_eq!(comparison.pairs.len(), 2);
    let gap = |heard: &HeardSound| {
        let [first, second] = heard.true_notes() else {
            panic!("two notes were played");
        };
        let last = first.oscillations.last().expect("it vibrates");
        let next = second.oscillations.first().expect("it vibrates");
        next.start.0 - last.start.0 - last.period.0
    };
    let due = gap(&echo) - gap(&model);
    let said = comparison.pairs[1].difference(Quantity::Gap).expect("the notes follow each other");
    let se = said.se.expect("both are known");
    println!("gap: said {:.3} ±{se:.3} s longer, true {due:.3} s", said.value);
    assert!((said.value - due).abs() <= 2.0 * se, "said {said:?}, true {due}");
    let words = comparison.words(Naming::Scientific);
    assert!(words[0].contains("note 2 (E3)") && words[0].contains("without motion"), "{words:?}");
}
