//! The field: the plane of rate and width, each note a cross as large as its doubt.

use maud::{Markup, html};

use super::figure::{Scale, WIDTH, figure, place, tick};

/// A note in the field.
pub struct Spot {
    /// Its number, which stands beside it.
    pub number: usize,
    /// What it is called there.
    pub name: String,
    /// Rate and its doubt, in Hz.
    pub rate: (f64, Option<f64>),
    /// Width and its doubt, in cents.
    pub width: (f64, Option<f64>),
}

/// So many notes have their names beside them; of more the names would hide each other.
const MOST_NAMED: usize = 24;

/// Room around the notes, so that small differences are not blown up: in Hz, in cents.
const RATE_ROOM: f64 = 0.6;
const WIDTH_ROOM: f64 = 8.0;

fn roomy(values: impl Iterator<Item = f64> + Clone, room: f64, at_from: f64, at_to: f64) -> Scale {
    let known = values.filter(|value| value.is_finite());
    let low = known.clone().fold(f64::INFINITY, f64::min);
    let high = known.fold(f64::NEG_INFINITY, f64::max);
    if low > high {
        return Scale::new(0.0, 1.0, at_from, at_to);
    }
    Scale::new((low - room).max(0.0), high + room, at_from, at_to)
}

/// Draws it; the notes are joined in the order in which they were played.
pub fn field(spots: &[Spot]) -> Markup {
    let (left, right, top, bottom) = (38.0, WIDTH - 8.0, 8.0, 226.0);
    let rates = roomy(spots.iter().map(|spot| spot.rate.0), RATE_ROOM, left, right);
    let widths = roomy(spots.iter().map(|spot| spot.width.0), WIDTH_ROOM, bottom, top);
    let (along, along_decimals) = rates.ticks(6);
    let (up, up_decimals) = widths.ticks(6);
    let way: Vec<(f64, f64)> =
        spots.iter().map(|spot| (rates.at(spot.rate.0), widths.at(spot.width.0))).collect();
    let drawn = html! {
        @for at in &along {
            @let x = place(rates.at(*at));
            line class="hair" x1=(x) x2=(x) y1=(top) y2=(bottom) {}
            text x=(x) y=(bottom + 14.0) text-anchor="middle" { (tick(*at, along_decimals)) }
        }
        @for at in &up {
            @let y = place(widths.at(*at));
            line class="hair" x1=(left) x2=(right) y1=(y) y2=(y) {}
            text x=(left - 5.0) y=(place(widths.at(*at) + 4.0)) text-anchor="end" { (tick(*at, up_decimals)) }
        }
        path class="rule" d=(super::figure::path(&way)) stroke-opacity="0.6" {}
        @for (spot, (x, y)) in spots.iter().zip(&way) {
            @if let Some(se) = spot.rate.1 {
                line class="osc" x1=(place(rates.at(spot.rate.0 - se))) x2=(place(rates.at(spot.rate.0 + se))) y1=(place(*y)) y2=(place(*y)) {}
            }
            @if let Some(se) = spot.width.1 {
                line class="osc" x1=(place(*x)) x2=(place(*x)) y1=(place(widths.at(spot.width.0 - se))) y2=(place(widths.at(spot.width.0 + se))) {}
            }
            circle class="dot" cx=(place(*x)) cy=(place(*y)) r="2.6" {}
        }
        @if spots.len() <= MOST_NAMED {
            @for (spot, (x, y, anchor)) in spots.iter().zip(numbers(&way, right)) {
                text class="name" x=(place(x)) y=(place(y)) text-anchor=(anchor) { (spot.number) }
            }
        }
        text x=(right) y=(bottom + 28.0) text-anchor="end" { "rate, Hz" }
        text x=(left) y=(bottom + 28.0) { "up: width, cents" }
    };
    let says: Vec<String> = spots
        .iter()
        .take(MOST_NAMED)
        .map(|spot| format!("{}: {:.2} Hz, {:.0} cents", spot.name, spot.rate.0, spot.width.0))
        .collect();
    figure(
        "Rate and width",
        &says.join("; "),
        bottom + 32.0,
        drawn,
        "Each note, or turn, by its rate and width, numbered as played; the arms of a cross are its doubt.",
    )
}

/// Where the number of each spot stands and its anchor: beside the spot and over no number before it, if it can.
fn numbers(way: &[(f64, f64)], right: f64) -> Vec<(f64, f64, &'static str)> {
    let mut written: Vec<(f64, f64, &'static str)> = Vec::new();
    for &(x, y) in way {
        let after = |down: f64| (x + 5.0, y + down, "start");
        let before = |down: f64| (x - 5.0, y + down, "end");
        let places = [after(-4.0), after(12.0), before(-4.0), before(12.0)];
        let free = |place: &&(f64, f64, &str)| {
            let inside = place.2 == "end" || x <= right - 30.0;
            // Two digits are some 14 wide, a line 12 high.
            let apart = |other: &(f64, f64, &str)| {
                (other.0 - place.0).abs() > 15.0
                    || (other.1 - place.1).abs() > 11.0
                    || (other.2 != place.2 && (other.0 > place.0) == (other.2 == "start"))
            };
            inside && written.iter().all(apart)
        };
        let usual = if x > right - 30.0 { 2 } else { 0 };
        let place = places.iter().find(free).unwrap_or(&places[usual]);
        written.push(*place);
    }
    written
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spots_that_lie_on_each_other_have_their_numbers_apart() {
        let placed = numbers(&[(100.0, 50.0), (100.5, 51.0), (99.5, 50.5), (100.0, 50.2)], 352.0);
        let corners: std::collections::BTreeSet<(bool, &str)> =
            placed.iter().map(|(_, y, anchor)| (*y > 51.0, *anchor)).collect();
        assert_eq!(corners.len(), 4, "one at each side: {placed:?}");
        let edge = numbers(&[(350.0, 50.0)], 352.0);
        assert_eq!(edge[0].2, "end", "within the picture");
    }
}
