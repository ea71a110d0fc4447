//! From what was heard of a note to how much wider the string swung.

use crate::harmonics::{CENT, Harmonics, Heard};
use crate::search::{self, Search};
use vibrato::Measure;

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Refined {
    /// The width of the string's motion over that told; its standard error belongs to it.
    pub factor: Measure<f64>,
    /// Direct sound over late sound, in dB, known to some 3 dB; above 8 the place is dry.
    pub ratio_db: f64,
    /// Whether direct sound and copies explain what was heard; where they do not, the factor is a first guess.
    pub explained: bool,
    /// Whether late sound shows at all: whether without any what was heard would be much less likely, or is not explained.
    pub shows: bool,
}

/// Unexplained share of the power from which on the form of the motion is sought, and above which nothing was explained.
const FORM_SHARE: f64 = 0.008;
const EXPLAINED_SHARE: f64 = 0.2;
/// Late sound shows where it makes each value of each harmonic likelier by so much of a logarithm. In dry notes under noise,
/// and in uneven ones, copies explain a little of what is none of theirs; that came to 0.54 at most in made notes, and in
/// living rooms to 0.5 and more in 95 of 100.
const SHOWS: f64 = 0.5;
/// The form is sought so often at most, as long as that makes what was heard more likely.
const MOST_FORMS: usize = 3;
/// A middling dry harmonic strays by this share of the swing.
const DRY_SMEAR: f64 = 0.01;
/// The filters round off a jerky motion. How far they changed the told width, as a share of it, goes into the doubt with
/// this weight, in percent.
const BENT_DOUBT_PCT: f64 = 50.0;
/// What the ratio of the copies found says of the room: slope and offset in dB, from rooms of known ratio.
const RATIO_SLOPE: f64 = 0.75;
const RATIO_OFFSET_DB: f64 = -3.75;

/// Finds how much wider the string moved than was told. `None` where there is too little of the note.
pub fn refine(heard: &Heard) -> Option<Refined> {
    if heard.width.get() <= 0.0 {
        return None;
    }
    let mut harmonics = Harmonics::new(heard)?;
    let smear = harmonics.smear();
    let bent = harmonics.width(&harmonics.track()) / heard.width.get() - 1.0;
    let without_room = Search::without_room(&harmonics);
    let mut best = Search::new(&harmonics).solve();
    let mut plain = harmonics.clone();
    plain.follow(&plain.plainest());
    let found = Search::new(&plain).solve();
    if found.likelihood > best.likelihood {
        (harmonics, best) = (plain, found);
    }
    let mut motion = harmonics.moved(best.tried);
    let mut tried = best.tried;
    for _ in 0..MOST_FORMS {
        if best.unexplained <= FORM_SHARE {
            break;
        }
        search::find_form(&mut harmonics, tried);
        let again = Search::new(&harmonics).solve();
        tried = again.tried;
        if again.likelihood <= best.likelihood {
            break;
        }
        motion = harmonics.moved(again.tried);
        best = again;
    }
    // The width of the motion itself: the told track is bent, so that its crests say little of how much it was narrowed.
    let factor = harmonics.width(&motion) / heard.width.get();

    let highest = harmonics.orders.last().copied().unwrap_or(1.0);
    let index = highest * 0.5 * heard.width.get() * CENT * harmonics.middle_hz / harmonics.rate_hz;
    let explained = best.unexplained <= EXPLAINED_SHARE;
    let values = (harmonics.orders.len() * harmonics.within.len()) as f64;
    let shows = !explained || best.likelihood - without_room > SHOWS * values;
    let simple = 1.0 + (smear - DRY_SMEAR).max(0.0);
    // A swing too narrow for its pitch tells hardly anything, and what is weak is drawn to the simple guess.
    let sharp = 0.15_f64.powi(2) / (0.15_f64.powi(2) + (8.0 * best.error).powi(2));
    let trust = if explained { ((index - 0.8) / 0.5).clamp(0.0, 1.0) * sharp } else { 0.0 };
    let value = trust * factor + (1.0 - trust) * simple;
    // Each in percent; sizes from notes in rooms of which all was known.
    let parts = [
        5.0 * best.unexplained.sqrt(),
        600.0 * best.error,
        8.0 * (value - 1.0),
        BENT_DOUBT_PCT * bent,
        0.5,
        (1.0 - trust) * (4.0 + 50.0 * (simple - 1.0)),
    ];
    let percent = parts.iter().map(|part| part * part).sum::<f64>().sqrt();
    let percent = if explained { percent } else { percent.max(20.0) };
    Some(Refined {
        factor: Measure { value, se: Some(value * percent / 100.0) },
        ratio_db: RATIO_SLOPE * best.ratio_db + RATIO_OFFSET_DB,
        explained,
        shows,
    })
}
