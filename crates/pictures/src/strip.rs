//! The oscillation strip: every cycle one bar, as long as its period and as tall as its width.

use crate::played::Played;
use crate::sheet::Times;
use crate::{Meaning, Picture};
use emath::{Align2, Rect, pos2};
use tuning::{Cents, Secs};
use vibrato::Oscillation;

/// What the full height may stand for, in cents: the least that all cycles of the sheet fit into, so
/// that it changes seldom.
const TOPS: [f64; 6] = [20.0, 40.0, 80.0, 150.0, 300.0, 500.0];
/// Paper between two bars, in points.
const APART: f32 = 1.0;

/// Width of one cycle.
fn width(oscillation: &Oscillation) -> Cents {
    Cents(oscillation.crest.0 - oscillation.trough.0)
}

/// The cycles that belong to a vibrato.
fn cycles(played: &Played) -> impl Iterator<Item = &Oscillation> {
    let mut note_at = played.notes_in_order();
    played.oscillations.iter().filter(move |oscillation| {
        let middle = Secs(oscillation.start.0 + oscillation.period.0 / 2.0);
        note_at(middle).is_none_or(|note| !note.straight)
    })
}

/// What the full height stands for: what has left the sheet counts no more.
fn top(times: &Times, played: &Played) -> Cents {
    let (from, to) = (times.oldest(), times.newest);
    let seen = cycles(played)
        .filter(|cycle| cycle.start <= to && Secs(cycle.start.0 + cycle.period.0) >= from);
    let widest = seen.fold(0.0, |most: f64, cycle| most.max(width(cycle).0));
    let fits = |top: &f64| widest <= *top;
    Cents(TOPS.into_iter().find(fits).unwrap_or(TOPS[TOPS.len() - 1]))
}

/// The bar of one cycle in `lane`, whose full height stands for `top`; `None` off the sheet.
fn bar(oscillation: &Oscillation, lane: Rect, times: &Times, top: Cents) -> Option<Rect> {
    let left = times.x_from_secs(oscillation.start);
    let right = times.x_from_secs(Secs(oscillation.start.0 + oscillation.period.0));
    let (left, right) = (left.max(times.x.min), (right - APART).min(times.x.max));
    let share = (width(oscillation).0 / top.0).clamp(0.0, 1.0) as f32;
    let height = (share * lane.height()).max(1.0);
    (right > left)
        .then(|| Rect::from_min_max(pos2(left, lane.bottom() - height), pos2(right, lane.bottom())))
}

/// Draws the strip into `area`.
pub fn oscillation_strip(picture: &mut Picture, area: Rect, times: &Times, played: &Played) {
    let lane = Rect::from_x_y_ranges(times.x, area.top() + 2.0..=area.bottom() - 2.0);
    let (top, size) = (top(times, played), picture.sizes.scale);
    let beside = pos2(lane.left() - 0.53 * size, lane.center().y);
    picture.text(Meaning::ScaleNumber, beside, Align2::RIGHT_CENTER, "width");
    picture.hline(Meaning::Axis, lane.x_range(), lane.bottom());
    picture.hline(Meaning::Guide, lane.x_range(), lane.top());
    picture.hline(Meaning::Axis, lane.right()..=lane.right() + 0.33 * size, lane.top());
    let at = pos2(lane.right() + 0.6 * size, lane.top());
    picture.text(Meaning::ScaleNumber, at, Align2::LEFT_CENTER, format!("{:.0}", top.0));
    for cycle in cycles(played) {
        if let Some(bar) = bar(cycle, lane, times, top) {
            picture.rect(Meaning::OscillationBar, bar);
        }
    }
}

/// How many oscillations the strip shows.
pub fn oscillations_seen(times: &Times, played: &Played) -> usize {
    let seen = times.oldest()..=times.newest;
    cycles(played).filter(|cycle| seen.contains(&cycle.start)).count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use emath::{Rangef, vec2};

    fn cycle(start: f64, period: f64, width: f64) -> Oscillation {
        Oscillation {
            start: Secs(start),
            period: Secs(period),
            crest: Cents(width / 2.0),
            trough: Cents(-width / 2.0),
        }
    }

    fn times() -> Times {
        Times { x: Rangef::new(100.0, 900.0), newest: Secs(18.0), span: Secs(8.0) }
    }

    #[test]
    fn a_bar_is_as_long_as_its_period_and_as_tall_as_its_width() {
        let lane = Rect::from_min_size(pos2(100.0, 500.0), vec2(800.0, 60.0));
        let of = |cycle| bar(&cycle, lane, &times(), Cents(40.0));
        let half = of(cycle(14.0, 0.2, 20.0)).expect("on the sheet");
        assert!((half.left() - 500.0).abs() < 0.01 && (half.width() - 20.0 + APART).abs() < 0.01);
        assert!((half.height() - 30.0).abs() < 0.01 && half.bottom() == lane.bottom());
        let taller = of(cycle(14.0, 0.2, 90.0)).expect("on the sheet");
        assert_eq!(taller.height(), 60.0, "never beyond the strip");
        assert_eq!(of(cycle(9.0, 0.2, 20.0)), None, "before the left edge");
        let cut = of(cycle(9.9, 0.2, 20.0)).expect("half of it");
        assert_eq!(cut.left(), 100.0);
    }

    #[test]
    fn the_height_stands_for_the_least_that_holds_all_on_the_sheet() {
        let mut played = Played::default();
        assert_eq!(top(&times(), &played), Cents(20.0));
        played.oscillations.push_back(cycle(11.0, 0.2, 35.0));
        assert_eq!(top(&times(), &played), Cents(40.0));
        played.oscillations.push_back(cycle(11.2, 0.2, 199.0));
        assert_eq!(top(&times(), &played), Cents(300.0));
        // The wide one has left the sheet.
        let later = Times { newest: Secs(19.5), ..times() };
        assert_eq!(top(&later, &played), Cents(20.0));
        played.oscillations.push_back(cycle(12.0, 0.2, 35.0));
        assert_eq!(top(&later, &played), Cents(40.0));
    }
}
