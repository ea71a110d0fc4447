//! The four ways in which a passage is gone through, one after the other or any alone.

/// Slow passes are played at this share of the pace that the plan says (no source: a proposal), until another is set.
const SLOW: f64 = 2.0 / 3.0;

/// One way of going through a passage.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pass {
    /// Without vibrato, slowly: the bow alone carries the line.
    #[default]
    Straight,
    /// With the vibrato that is planned, slowly.
    Vibrated,
    /// At the pace that is planned.
    AtTempo,
    /// The same, with nothing shown until the end.
    Unseen,
}

impl Pass {
    /// All of them, in order.
    pub const ALL: [Self; 4] = [Self::Straight, Self::Vibrated, Self::AtTempo, Self::Unseen];

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            Self::Straight => "Straight and slow",
            Self::Vibrated => "Vibrated, slow",
            Self::AtTempo => "At tempo",
            Self::Unseen => "Without looking",
        }
    }

    /// Its place in the row, from 0.
    pub fn place(self) -> usize {
        self as usize
    }

    /// Its number, from 1.
    pub fn number(self) -> u8 {
        self as u8 + 1
    }

    /// The one that comes after it; `None` after the last.
    pub fn next(self) -> Option<Self> {
        Self::ALL.get(self.place() + 1).copied()
    }

    /// How fast it is at first, beside the plan.
    pub(super) fn share_of_pace(self) -> f64 {
        match self {
            Self::Straight | Self::Vibrated => SLOW,
            Self::AtTempo | Self::Unseen => 1.0,
        }
    }
}
