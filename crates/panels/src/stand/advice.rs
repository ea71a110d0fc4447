//! One sentence about the note that ended: what changed since the note before, then what to do. It says nothing that
//! was not measured, and speaks of playing.

use super::picture::{Picture, Sounding};
use super::state::Stand;
use coach::{Slid, Swing, beyond_doubt};
use tuning::figure;
use vibrato::{Measure, Note, Quantity, Vibrato};

/// A difference that is beyond doubt is told if it is so large: less is hardly heard (own judgement).
const TOLD_HZ: f64 = 0.2;
const TOLD_CENTS: f64 = 4.0;
/// Slides as wide as this become smaller, narrower ones a roll of the finger (own judgement).
const WIDE_CENTS: f64 = 400.0;
/// A note is still below this drift, in cents (own judgement).
const STILL_CENTS: f64 = 2.0;
/// The drills that follow from a first note, by the names of their files.
const SLOW_DRILL: &str = "one-finger";
const NEXT_DRILL: &str = "there-and-back";

/// The sentence, if there is something to say.
pub(super) fn advice(stand: &Stand) -> Option<String> {
    let picture = stand.picture();
    if !stand.revealed() || picture.sounding != Sounding::Silence {
        return None;
    }
    let rest = stand.since_rest.time_to_rest().filter(|_| stand.shell.options().hints.rest);
    if let Some(words) = rest {
        return Some(format!("{words}."));
    }
    if let Some(slid) = stand.slid() {
        return Some(of_slides(&slid));
    }
    let note = picture.last.as_ref()?;
    if note.straight() {
        return straight(stand);
    }
    let now = note.vibrato.as_ref()?;
    if stand.straight {
        let width = now.width.value.0;
        return Some(format!("It swings by {width:.0} cents: once more, with a still hand."));
    }
    match before(picture) {
        Some(before) => Some(out_of_tune(stand, note, now).unwrap_or_else(|| changed(before, now))),
        None => Some(first(stand, note, now)),
    }
}

/// Slides of the hand: how many, how fast and how far, and the way from there to a vibrato (common practice).
fn of_slides(slid: &Slid) -> String {
    let number = |value: f64| figure::number(Some(value), 1, false);
    let (rate, semitones) = (number(slid.rate.value.0), number(slid.width.value.0 / 100.0));
    let next = match slid.width.value.0 >= WIDE_CENTS {
        true => "keep the pace, and let the way grow smaller",
        false => "smaller still, until the finger rolls in one place",
    };
    let times = slid.times;
    format!("Up and back {times} times, {rate} a second, {semitones} semitones wide: {next}.")
}

/// That a note with vibrato lies beside where it is meant to lie, if that is beyond doubt: the pitch comes first.
fn out_of_tune(stand: &Stand, note: &Note, now: &Vibrato) -> Option<String> {
    let options = stand.shell.options();
    let meant_above = match options.swing {
        Swing::Around => 0.0,
        Swing::Below => now.width.value.0 / 2.0,
    };
    let shift = note.reference.cents_above(stand.reference(note.midi).f0).0;
    let offset = now.centre.value.0 + shift + meant_above;
    let beyond = Measure { value: offset.abs() - options.limits.on_it.0, ..now.centre.bare() };
    (beyond.value > 0.0 && beyond_doubt(beyond, 1)).then(|| {
        let (side, by) = (side(offset), figure::signed(offset, 0));
        format!(
            "The hand swings, but {side} ({by} cents): hear the note first, then set the finger."
        )
    })
}

fn side(offset: f64) -> &'static str {
    if offset > 0.0 { "sharp" } else { "flat" }
}

/// The last note with vibrato before this one.
fn before(picture: &Picture) -> Option<&Vibrato> {
    picture.before().filter_map(|note: &Note| note.vibrato.as_ref()).last()
}

/// -1, 0 or 1: how one of two measures changed, as far as that is beyond doubt and large enough.
fn change(before: Measure<f64>, now: Measure<f64>, least: f64) -> i32 {
    let by = now.above(before);
    let told = by.value.abs() >= least && beyond_doubt(by, 2);
    if told { by.value.signum() as i32 } else { 0 }
}

/// What changed, and what to do with it.
fn changed(before: &Vibrato, now: &Vibrato) -> String {
    let rate = change(before.rate.bare(), now.rate.bare(), TOLD_HZ);
    let width = change(before.width.bare(), now.width.bare(), TOLD_CENTS);
    let said = match (rate, width) {
        (0, 0) => "As fast and as wide as the note before: carry this to the next finger.",
        (0, 1) => "Wider than the note before, at the same pace: keep this hand for the next note.",
        (0, _) => "Narrower than the note before: let the finger roll a little further.",
        (1, 0) => "Faster than the note before, as wide: play it once more, a little calmer.",
        (1, 1) => "Faster and wider than the note before: keep the width, and take your time.",
        (1, _) => "Faster and narrower than the note before: give the hand room again.",
        (_, 0) => "Slower than the note before, as wide: keep it so, or let it flow on.",
        (_, 1) => "Slower and wider than the note before: keep it so for the next note.",
        _ => "Slower and narrower than the note before: let the hand swing out again.",
    };
    said.to_owned()
}

/// The first note with vibrato: what it was, and the drill that follows from it.
fn first(stand: &Stand, note: &Note, now: &Vibrato) -> String {
    let uneven_pct = stand.shell.options().limits.uneven_pct;
    let spreads = [Quantity::RateSpread, Quantity::WidthSpread].map(|of| of.read(note, None));
    let uneven = |spread: &Measure<f64>| {
        let over = Measure { value: spread.value - uneven_pct, ..*spread };
        over.value > 0.0 && beyond_doubt(over, spreads.len())
    };
    let uneven = spreads.iter().flatten().any(uneven);
    let even = spreads.iter().all(|spread| spread.is_some_and(|s| s.value < uneven_pct));
    let drill = if uneven { SLOW_DRILL } else { NEXT_DRILL };
    let title = stand.shell.drill_title(drill);
    let how = match (uneven, even) {
        (true, _) => ", not even yet",
        (_, true) => ", an even vibrato",
        _ => "",
    };
    format!(
        "{:.1} Hz, {:.0} cents{how}: “{title}” under Drill follows from it.",
        now.rate.value.0, now.width.value.0
    )
}

/// A note without vibrato: where it lies and whether it is still.
fn straight(stand: &Stand) -> Option<String> {
    let steady = stand.steady()?;
    let offset = steady.offset.value.0;
    let drift = steady.drift;
    let moves = drift.value.0.abs() >= STILL_CENTS && beyond_doubt(drift.bare(), 1);
    let on_it = offset.abs() <= stand.shell.options().limits.on_it.0;
    let by = figure::signed(offset, 0);
    Some(match (on_it, moves) {
        (true, false) => "In tune, and still: the vibrato may begin from here.".to_owned(),
        (false, false) => {
            let side = side(offset);
            format!("Still, but {side} ({by} cents): hear the note first, then set the finger.")
        }
        (_, true) => {
            let way = if drift.value.0 > 0.0 { "rises" } else { "sinks" };
            format!("The pitch {way}: keep finger and bow as they begin, to the end of the note.")
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_is_told_only_where_it_is_sure_and_large_enough() {
        let known = |value, se| Measure { value, se: Some(se) };
        assert_eq!(change(known(30.0, 1.0), known(36.0, 1.0), TOLD_CENTS), 1);
        assert_eq!(change(known(36.0, 1.0), known(30.0, 1.0), TOLD_CENTS), -1);
        assert_eq!(change(known(30.0, 1.0), known(33.0, 0.1), TOLD_CENTS), 0, "too little");
        assert_eq!(change(known(30.0, 4.0), known(36.0, 4.0), TOLD_CENTS), 0, "not sure");
        assert_eq!(
            change(Measure { value: 30.0, se: None }, known(90.0, 1.0), TOLD_CENTS),
            0,
            "a doubt is unknown"
        );
    }
}
