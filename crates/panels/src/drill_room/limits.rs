//! What of a drill can be changed, and how far.

use crate::shell::options::Options;
use coach::{Count, Drill, Fingering, Kind, PER_BEAT, Pace, Practice, RATES_HZ};
use tuning::Hz;

/// Beats of a bar that is counted, at most.
const LONGEST_BAR: f64 = 12.0;

/// Where `drill` is played with these options.
pub(super) fn place_of<'a>(drill: &'a Drill, options: &Options) -> Option<&'a Fingering> {
    drill.place(options.instrument.as_deref())
}

/// A rate that can be asked for.
pub(super) fn believed(rate: Hz) -> bool {
    (RATES_HZ.0..=RATES_HZ.1).contains(&rate.0)
}

/// Beats of a bar: those of a turn, or, where fingers have counts of their own, as many as go into each turn.
pub(super) fn bar(practice: &Practice) -> u32 {
    let drill = practice.drill();
    let beats = |finger: u8| {
        let beats = drill.turn_length(finger)?.0 / drill.pace.beat()?.0;
        let whole = (beats - beats.round()).abs() < 1e-6 && beats <= LONGEST_BAR;
        whole.then_some((beats.round() as u32).max(1))
    };
    let turns = practice.asked().iter().map(|turn| beats(turn.finger));
    let bar = turns.reduce(|bar, beats| Some(common(bar?, beats?)));
    bar.flatten().unwrap_or(1)
}

/// The greatest number that goes into both.
fn common(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { common(b, a % b) }
}

/// The pace can be changed: a ladder's rate and a region's are its own.
pub(super) fn may_pace(drill: &Drill) -> bool {
    !matches!(
        drill.kind,
        Kind::WidthLadder { .. } | Kind::RateLadder { .. } | Kind::FieldWalk { .. }
    )
}

/// So many oscillations a beat can be asked for.
pub(super) fn per_beats(drill: &Drill) -> Vec<f64> {
    let Pace::Beat { bpm, .. } = drill.pace else {
        return Vec::new();
    };
    let fits = |per_beat: &f64| believed(Hz(bpm * per_beat / 60.0));
    let straight = matches!(drill.kind, Kind::Straight { .. });
    let own = straight || matches!(drill.kind, Kind::OneBow { .. });
    PER_BEAT.into_iter().filter(|per_beat| fits(per_beat) && may_pace(drill) && !own).collect()
}

/// The pace can be made free.
pub(super) fn may_be_free(drill: &Drill) -> bool {
    matches!(drill.kind, Kind::Transfer) && !matches!(drill.count, Count::Beats(_))
}

/// The oscillations of a turn can be changed.
pub(super) fn may_count(drill: &Drill) -> bool {
    drill.counts() && !matches!(drill.count, Count::Beats(_))
}
