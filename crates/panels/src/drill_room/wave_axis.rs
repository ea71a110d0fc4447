//! Where time lies on the pace wave, and which shape is wanted: geometry alone, no painting.

use super::DrillRoom;
use super::guide::USUAL_WIDTH;
use coach::{Asked, Beat, Drill, Kind, Wanted, bloom_width};
use egui::Rangef;
use pictures::sheet::Times;
use tuning::{Cents, Hz, Secs};
use vibrato::median;

/// Where now is, as a share of the width from the left.
const NOW: f64 = 0.36;
/// An oscillation is so wide at least, in sizes of captions; as much time as this is shown at most, and at
/// least, in seconds.
const OSCILLATION: f32 = 2.6;
const SPAN: (f64, f64) = (1.8, 8.0);
/// Rate at which oscillations lie ahead while none is known; invented.
const USUAL_RATE: Hz = Hz(4.0);
/// How far up and down the sheet reaches, from close to wide.
const REACHES: [Cents; 5] = [Cents(15.0), Cents(30.0), Cents(60.0), Cents(130.0), Cents(300.0)];
/// The motion may fill this share of it.
const FULL: f64 = 0.85;
/// A wave whose width is known takes this share of the sheet; where that is too little, the sheet reaches so much further.
const KNOWN: f64 = 0.7;
const STEP: f64 = 1.5;
/// Where no width is known the wave takes this share of the sheet.
const WAVE: f64 = 0.5;

/// The axis of time of a picture so wide, at this instant. Where nothing is to flow it is turned over like
/// pages, which begin at `origin`.
pub(super) fn times(
    x: Rangef,
    now: Secs,
    rate: Hz,
    caption: f32,
    still: bool,
    origin: Secs,
) -> Times {
    let wide = f64::from(x.span().max(1.0));
    let per_sec = f64::from(OSCILLATION * caption) * rate.0;
    let span = (wide / per_sec).clamp(SPAN.0, SPAN.1);
    let newest = if still {
        let page = ((now.0 - origin.0) / span).floor() + 1.0;
        origin.0 + page * span
    } else {
        now.0 + (1.0 - NOW) * span
    };
    Times { x, newest: Secs(newest), span: Secs(span) }
}

/// The turn that is played or comes next.
pub(super) fn turn(room: &DrillRoom) -> usize {
    let Some(practice) = room.practice() else {
        return 0;
    };
    let last = practice.asked().len().saturating_sub(1);
    let turn = match practice.pacer().map(|pacer| pacer.at(room.now())) {
        Some(Beat::Turn(turn)) => turn.turn,
        Some(Beat::After) => last,
        Some(Beat::Before | Beat::CountIn { .. }) => 0,
        None => room.known().turn,
    };
    turn.min(last)
}

/// The rate at which oscillations lie ahead.
pub(super) fn rate(room: &DrillRoom) -> Hz {
    let Some(practice) = room.practice() else {
        return USUAL_RATE;
    };
    if let Some(pacer) = practice.pacer() {
        return pacer.rate(turn(room));
    }
    if let Some(rate) = practice.drill().pace.rate() {
        return rate;
    }
    let asked = practice.asked().get(turn(room)).and_then(|asked| asked.rate);
    let middle = asked.map(|(low, high)| Hz((low.0 + high.0) / 2.0));
    room.known().rate.or(middle).unwrap_or(USUAL_RATE)
}

/// The oscillations that lie between two times: the pacer's, or, at a free pace, those that are left of
/// the turn, at the player's own rate.
pub(super) fn wanted(room: &DrillRoom, from: Secs, to: Secs) -> Vec<Wanted> {
    let Some(practice) = room.practice() else {
        return Vec::new();
    };
    let drill = practice.drill();
    if matches!(drill.kind, Kind::Straight { .. }) {
        return Vec::new();
    }
    if let Some(pacer) = practice.pacer() {
        return pacer.between(from, to);
    }
    if drill.pace.rate().is_some() {
        return Vec::new();
    }
    let (known, now) = (room.known(), room.now());
    let period = 1.0 / rate(room).0;
    // The next one begins where the last was counted, or waits for the player.
    let counted = room.counted().last().map_or(now.0, |counted| counted.at.0);
    let mut start = counted.max(now.0 - 0.9 * period);
    let mut all = Vec::new();
    for (number, asked) in practice.asked().iter().enumerate().skip(known.turn) {
        let made = known.counts.get(number).copied().unwrap_or(0);
        for oscillation in made + 1..=asked.count.unwrap_or(0) {
            if start > to.0 {
                return all;
            }
            all.push(Wanted {
                turn: number,
                oscillation,
                start: Secs(start),
                end: Secs(start + period),
            });
            start += period;
        }
        if drill.stops() {
            break;
        }
    }
    all
}

/// Half the width that is wanted at `into` a turn; `None` where no width is asked for.
pub(super) fn half_width(drill: &Drill, asked: &Asked, into: Secs) -> Option<Cents> {
    let length = drill.turn_length(asked.finger);
    if let (Kind::Bloom { width, beats }, Some(length)) = (&drill.kind, length) {
        let full = bloom_width(*width, beats, into.0 / length.0);
        return Some(Cents(full.0 / 2.0));
    }
    let middle = |(low, high): (Cents, Cents)| Cents((low.0 + high.0) / 4.0);
    asked.width.map(middle)
}

/// Half the width on which the wave is drawn: what is asked for, else what the player made in the last round; `None`
/// before there was one.
pub(super) fn known_half(room: &DrillRoom) -> Option<Cents> {
    let practice = room.practice()?;
    let asked = practice.asked().get(turn(room))?;
    let full = match &practice.drill().kind {
        Kind::Bloom { width, .. } => Some(Cents(width.0 / 2.0)),
        _ => half_width(practice.drill(), asked, Secs(0.0)),
    };
    full.or_else(|| {
        let turns = &practice.done().last()?.turns;
        let made = turns.iter().filter_map(|turn| Some(turn.width?.value.0));
        Some(Cents(0.5 * median(made.collect())?))
    })
}

/// How far up and down the sheet reaches: room for what is asked for and for what was heard.
pub(super) fn reach(room: &DrillRoom) -> Cents {
    let Some(practice) = room.practice() else {
        return REACHES[2];
    };
    let widest = practice
        .asked()
        .iter()
        .filter_map(|asked| asked.width)
        .fold(0.0_f64, |most, (_, high)| most.max(high.0 / 2.0));
    let straight = match practice.drill().kind {
        Kind::Straight { within, .. } => 1.5 * within.0,
        _ => 0.0,
    };
    let usual = if straight > 0.0 { straight } else { USUAL_WIDTH.0 / 2.0 };
    if let Some(half) = known_half(room).filter(|_| straight == 0.0) {
        // As high as is asked for; a motion that is far wider makes room for itself by steps.
        let mut reach = half.0.max(widest) / KNOWN;
        while reach * FULL < room.reach().0 && reach < REACHES[4].0 {
            reach *= STEP;
        }
        return Cents(reach);
    }
    let needs = widest.max(usual).max(room.reach().0) / FULL;
    let fits = |reach: &&Cents| reach.0 >= needs;
    *REACHES.iter().find(fits).unwrap_or(&REACHES[4])
}

/// What is written beside the sheet: how far above and below the note.
pub(super) fn mark(reach: Cents) -> Cents {
    // Two thirds of each of [`REACHES`], rounded.
    const MARKS: [f64; 5] = [10.0, 20.0, 40.0, 100.0, 200.0];
    let place = REACHES.iter().position(|each| *each >= reach);
    Cents(MARKS[place.unwrap_or(MARKS.len() - 1)])
}

/// Half the width of the wave where none is asked for: what can be seen well.
pub(super) fn usual_half(reach: Cents) -> Cents {
    Cents(WAVE * reach.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const X: Rangef = Rangef { min: 100.0, max: 900.0 };

    #[test]
    fn now_stands_still_while_time_flows() {
        for now in [0.0, 3.3, 71.25] {
            let times = times(X, Secs(now), Hz(2.0), 18.0, false, Secs(0.0));
            let x = times.x_from_secs(Secs(now));
            assert!((x - (100.0 + 0.36 * 800.0)).abs() < 0.01, "{x}");
        }
    }

    #[test]
    fn nothing_flows_where_it_is_not_to() {
        let at = |now| times(X, Secs(now), Hz(2.0), 18.0, true, Secs(0.5));
        let span = at(1.0).span.0;
        assert_eq!(at(0.6), at(0.4 + span));
        assert_ne!(at(0.6), at(0.6 + span));
        let times = at(0.6);
        let x = times.x_from_secs(Secs(0.6));
        assert!((100.0..200.0).contains(&x), "a page begins at its left: {x}");
    }

    #[test]
    fn a_quick_oscillation_has_room_for_its_number() {
        for hz in [0.3, 1.0, 4.0, 8.0] {
            let times = times(X, Secs(0.0), Hz(hz), 18.0, false, Secs(0.0));
            let wide = 800.0 / times.span.0 / hz;
            assert!(wide >= 40.0, "{wide} at {hz} Hz");
        }
    }
}
