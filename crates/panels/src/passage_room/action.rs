//! What can be done in the room, where in a pass the player is, what the room is told, and what is to sound.

use super::pass::Pass;
use coach::follow::Now;
use coach::plan::{Along, Edit, Go, Intention, Passage};
use coach::played::Checked;
use tuning::Cents;

/// A passage that can be chosen.
#[derive(Clone, Debug, PartialEq)]
pub struct PassageFile {
    /// Its name: that of its file.
    pub name: String,
    /// The passage, or what is wrong with its file, in words.
    pub passage: Result<Passage, String>,
    /// It is the player's, and kept as the program writes it: what is edited goes into its file. Of others a copy is edited.
    pub own: bool,
}

/// A score of which one part, one voice and a range of bars are to be chosen.
#[derive(Clone, Debug, PartialEq)]
pub struct Score {
    /// The name of its file.
    pub name: String,
    /// Its parts; at least one.
    pub parts: Vec<ScorePart>,
}

/// A part of a score.
#[derive(Clone, Debug, PartialEq)]
pub struct ScorePart {
    /// Its number in the score, from 1.
    pub number: u32,
    /// What it is called.
    pub name: String,
    /// Its voices; none where it has but one.
    pub voices: Vec<String>,
    /// The numbers of its first and its last bar, where some of them can be chosen.
    pub bars: Option<(u32, u32)>,
}

/// What of a score is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Excerpt {
    /// The part, by its place among those of the score.
    pub part: usize,
    /// The voice, by its place among those of the part.
    pub voice: usize,
    /// The first and the last bar.
    pub bars: Option<(u32, u32)>,
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
    /// So much of the score is wanted.
    Excerpt(Excerpt),
    /// Take it in, as it was chosen. The program does it.
    TakeExcerpt,
    /// Leave the score.
    LeaveScore,
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
    /// The note that was walked to had most vibrato, by ear, or the question is left; then what was found is shown.
    Answer(Option<usize>),
    /// As the player likes, or with the beat again.
    Free(bool),
    /// The beat clicks.
    Click(bool),
    /// Begin a passage of one's own for this instrument, and edit it.
    New(String),
    /// Edit the passage that is open.
    Edit,
    /// Plan each note as it is played in a recording, that of a lesson's model first of all. The program looks for it.
    Model,
    /// A report of the pass is wanted. The program does it.
    Report,
    /// Change its plan, or the place in it.
    Plan(PlanAction),
}

/// What the player did while the plan is edited.
#[derive(Clone, Debug, PartialEq)]
pub enum PlanAction {
    /// Out of it: a number first that is being typed, then the choice of notes, then the sheet of the head, then the plan.
    Done,
    /// This change.
    Make(Edit),
    /// To another note.
    Go(Go),
    /// Whether going chooses more notes.
    Extend,
    /// Type a width, for this place of the note.
    Number(Along),
    /// A digit of the number, or the finger.
    Digit(u8),
    /// Takes back the last digit, or the chosen notes out of the passage.
    Delete,
    /// The next sign of how loud it is from here on, or none.
    Dynamic,
    /// The next string of the instrument, or none.
    OnString,
    /// Title, pace and bar, or back to the notes.
    Head,
    /// Each note as it was played in the pass that was looked at last.
    AsPlayed,
    /// The mouse is held and has been moved so far.
    Drag(Drag),
    /// It was let go.
    Drop,
}

/// How far a mouse that is held has come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drag {
    /// The note on which it was pressed.
    pub from: usize,
    /// The note on which it is now.
    pub to: usize,
    /// How much wider the vibrato is that reaches it.
    pub wider: Cents,
    /// It moves over notes, and not up or down from a ribbon.
    pub over: bool,
}

/// A passage that was edited and is to be kept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edited<'a> {
    /// Each that is edited has another number.
    pub id: u64,
    /// The name of its file, if it has one.
    pub name: Option<&'a str>,
    /// As it stands.
    pub passage: &'a Passage,
}

/// What the room is told.
#[derive(Clone, Debug, PartialEq)]
pub enum PassageHeard {
    /// Where in the plan the player is, in the pass of this number.
    Now(u64, Now),
    /// What was made of the pass of this number, note by note, and as a whole; times count from the start of the pass.
    Judged(u64, Box<Checked>),
    /// The passage that is edited under this number was kept under this name.
    Kept(u64, String),
    /// How each of its notes was played in a recording, as the plan stood after so many changes.
    Model(u64, Vec<Option<Intention>>),
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
    /// Its plan is edited.
    Editing,
    /// A pass is counted in.
    CountIn,
    /// It is played, or waited for.
    Playing,
    /// It is being judged.
    Judging,
    /// Which note had most vibrato is asked before anything is shown.
    Asking,
    /// What was found is shown.
    After,
}
