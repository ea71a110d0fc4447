//! What can be done in the room, where in a pass the player is, what the room is told, and what is to sound.

use super::pass::Pass;
use coach::follow::Now;
use coach::plan::Passage;
use coach::played::Checked;

/// A passage that can be chosen.
#[derive(Clone, Debug, PartialEq)]
pub struct PassageFile {
    /// Its name: that of its file.
    pub name: String,
    /// The passage, or what is wrong with its file, in words.
    pub passage: Result<Passage, String>,
}

/// What the player did.
#[derive(Clone, Debug, PartialEq)]
pub enum PassageAction {
    /// Go so many places down the list, up if negative.
    Move(i32),
    /// Open the passage at this place of the list.
    Choose(usize),
    /// Back to the list.
    Back,
    /// Read the files anew. The program does it.
    Reread,
    /// Take in a file of a passage or a score. The program asks for it.
    File,
    /// Go to this pass: what was found in it, or what comes before it.
    Pass(Pass),
    /// Count in, or, without a beat, listen.
    Start,
    /// End the pass here.
    End,
    /// Begin the pass again.
    Again,
    /// Go so many notes on, back if negative; each tells what is planned of it, or was found.
    Walk(i32),
    /// So many beats a minute in this pass.
    Bpm(f64),
    /// As the player likes, or with the beat again.
    Free(bool),
    /// The beat clicks.
    Click(bool),
}

/// What the room is told.
#[derive(Clone, Debug, PartialEq)]
pub enum PassageHeard {
    /// Where in the plan the player is, in the pass of this number.
    Now(u64, Now),
    /// What was made of the pass of this number, note by note, and as a whole; times count from the start of the pass.
    Judged(u64, Box<Checked>),
}

/// What the loudspeaker is to play during a pass with a beat. There is a run even where no click sounds: it counts in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sounds {
    /// Beats a minute.
    pub bpm: f64,
    /// So many beats come before the first one that is stressed.
    pub count_in: u32,
    /// Each so manyth beat is stressed.
    pub bar: u32,
    /// The beats click.
    pub click: bool,
}

/// Where in a pass the player is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Phase {
    /// Looking for a passage.
    #[default]
    Choosing,
    /// A passage is open.
    Ready,
    /// A pass is counted in.
    CountIn,
    /// It is played, or waited for.
    Playing,
    /// It is being judged.
    Judging,
    /// What was found is shown.
    After,
}
