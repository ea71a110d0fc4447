//! What can be done in the room, where in a drill the player is, and what is to sound.

use coach::{Drill, Rules};

/// A drill that can be chosen.
#[derive(Clone, Debug, PartialEq)]
pub struct DrillFile {
    /// Its name: that of its file.
    pub name: String,
    /// The drill, or what is wrong with its file, in words.
    pub drill: Result<Drill, String>,
}

impl DrillFile {
    /// What it is called; `None` where its file cannot be used.
    pub fn title(&self) -> Option<&str> {
        Some(&self.drill.as_ref().ok()?.title)
    }
}

/// What the player did.
#[derive(Clone, Debug, PartialEq)]
pub enum DrillAction {
    /// Go so many places down the list, up if negative.
    Move(i32),
    /// Open the drill at this place of the list.
    Choose(usize),
    /// Back to what was before.
    Back,
    /// The player is ready: count in, or, at a free pace, listen.
    Ready,
    /// End the round, or the counting in, here.
    Stop,
    /// What did not sound bowed is a round all the same.
    BringBack,
    /// So many beats a minute.
    Pace(f64),
    /// So many oscillations a beat.
    PerBeat(f64),
    /// So many oscillations a turn.
    Count(u32),
    /// These fingers in this order.
    Fingers(Vec<u8>),
    /// As the player likes, or with the beat again.
    FreePace(bool),
    /// The beat clicks.
    Click(bool),
    /// The guide tone sounds.
    Guide(bool),
    /// A round holds by these rules.
    Rules(Rules),
    /// Go to this level of a ladder, in beats per minute.
    Level(f64),
    /// All measures of the round, or only what matters most again.
    AllMeasures,
    /// The next way of showing. The program changes the options.
    Showing,
    /// The player has rested.
    Rested,
    /// Read the drill files anew. The program does it.
    Reread,
    /// Measure the delay from loudspeaker to microphone. The program does it.
    Calibrate,
    /// A report of the round is wanted. The program does it.
    Report,
}

/// What the loudspeaker is to play while a round is counted in or played. Of a paced round there is one
/// even where neither sounds: the beat is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sounds {
    /// Beats per minute.
    pub bpm: f64,
    /// Each so manyth beat is stressed; 1 stresses none.
    pub bar: u32,
    /// The beats click.
    pub click: bool,
    /// The guide tone sounds: [`super::DrillRoom::guide`].
    pub guide: bool,
}

/// Where in a drill the player is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Phase {
    /// Looking for a drill.
    #[default]
    Choosing,
    /// A drill is open.
    Ready,
    /// It is counted in.
    CountIn,
    /// A round is played, or waited for at a free pace.
    Round,
    /// The round is over.
    Findings,
}
