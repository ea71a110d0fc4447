//! What the turns of a round asked for and what was reached, in the plane of rate and width.

use crate::Picture;
use crate::field::{self, Field, Spot};
use coach::{Asked, Drill, Judged, Kind, Region};
use emath::Rect;
use tuning::{Cents, Hz};
use vibrato::Quantity;

/// A step of a ladder is one value, and is reached within so large a share of it (see `coach`).
const RATE_SHARE: f64 = 0.1;
const WIDTH_SHARE: f64 = 0.25;

/// What a turn asks for beside its finger and count: a step of a ladder or a region; empty for others.
pub fn step(drill: &Drill, asked: &Asked) -> String {
    let cents = |(low, high): (Cents, Cents)| Quantity::Width.range((low.0, high.0));
    let hz = |(low, high): (Hz, Hz)| Quantity::Rate.range((low.0, high.0));
    match &drill.kind {
        Kind::WidthLadder { .. } => asked.width.map_or_else(String::new, cents),
        Kind::RateLadder { .. } | Kind::OneBow { .. } => asked.rate.map_or_else(String::new, hz),
        Kind::FieldWalk { regions, .. } => {
            regions.get(asked.step).map_or_else(String::new, |region| region.name.clone())
        }
        Kind::Bloom { width, .. } => format!("up to {}", Quantity::Width.size(width.0)),
        Kind::Straight { beside, .. } => format!("within {}", Quantity::Centre.size(beside.0)),
        _ => String::new(),
    }
}

/// The turns differ by step or region rather than by finger.
pub fn walks(drill: &Drill) -> bool {
    matches!(
        drill.kind,
        Kind::WidthLadder { .. } | Kind::RateLadder { .. } | Kind::FieldWalk { .. }
    )
}

/// What was asked for, outlined, and the turns of a round as points.
#[derive(Clone, Debug, PartialEq)]
pub struct Reached {
    /// What was asked for by its steps or regions, each once.
    pub asked: Vec<Region>,
    /// The turns whose rate and width are known, with their numbers.
    pub turns: Vec<(usize, Spot)>,
    /// The same in words.
    pub says: String,
}

impl Reached {
    /// What a round asked for and reached.
    pub fn of(drill: &Drill, round: &Judged) -> Self {
        let mut asked: Vec<Region> = Vec::new();
        for region in round.asked.iter().filter_map(|one| region(drill, one)) {
            if !asked.contains(&region) {
                asked.push(region);
            }
        }
        let spot = |turn: &coach::Played| {
            let spot = Spot { rate: turn.rate?, width: turn.width?, live: true };
            Some((turn.asked + 1, spot))
        };
        let said = |turn: &coach::Played| {
            let step = step(drill, &round.asked[turn.asked]);
            let name = format!("{} {step}", turn.asked + 1);
            let reached = turn.rate.zip(turn.width).map_or_else(
                || "unknown".to_owned(),
                |(rate, width)| format!("{:.1} Hz, {:.0} cents", rate.value.0, width.value.0),
            );
            format!("{}: {reached}", name.trim_end())
        };
        let all: Vec<String> = round.turns.iter().map(said).collect();
        Self {
            asked,
            turns: round.turns.iter().filter_map(spot).collect(),
            says: format!("asked for and reached: {}", all.join("; ")),
        }
    }

    /// Draws it into `area`, on scales that hold what was asked for and what was reached.
    pub fn draw(&self, picture: &mut Picture, area: Rect) {
        field::field(picture, area, &Field::around(&self.asked, &self.turns));
    }
}

/// What a step or region of a drill takes in of the plane; `None` where a turn asks for less than rate and width.
fn region(drill: &Drill, asked: &Asked) -> Option<Region> {
    let around = |(low, high): (f64, f64), share: f64| {
        if low == high { (low * (1.0 - share), high * (1.0 + share)) } else { (low, high) }
    };
    let (rate, width) = asked.rate.zip(asked.width).filter(|_| walks(drill))?;
    let rate = around((rate.0.0, rate.1.0), RATE_SHARE);
    let width = around((width.0.0, width.1.0), WIDTH_SHARE);
    Some(Region {
        name: step(drill, asked),
        rate: (Hz(rate.0), Hz(rate.1)),
        width: (Cents(width.0), Cents(width.1)),
    })
}
