//! A round that is judged.

use crate::drill::{Asked, Pace};
use crate::finding::Finding;
use crate::on_beat::OnBeat;
use crate::turns::Played;

/// One round, judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// The pace it was asked at.
    pub pace: Pace,
    /// The turns asked for.
    pub asked: Vec<Asked>,
    /// The turns played, in order.
    pub turns: Vec<Played>,
    /// Whether it holds by the drill's rules.
    pub holds: bool,
    /// What was found.
    pub findings: Vec<Finding>,
    /// How the oscillations lay beside the beat; `None` where that cannot be judged.
    pub on_beat: Option<OnBeat>,
}
