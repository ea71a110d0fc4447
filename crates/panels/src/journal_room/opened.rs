//! The take that is open, and how it is played.

use journal::{NoteMeasures, TakeFile, TakeId};
use pictures::played::Played as Drawn;
use pitch::Frame;
use std::sync::Arc;
use tuning::Secs;
use vibrato::Note;

/// The pitch of the open take.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum TraceOf {
    /// It is being measured.
    #[default]
    Coming,
    /// It is there.
    Here,
    /// There is none, for this reason.
    None(String),
}

/// The take that is open.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// Which.
    pub id: TakeId,
    /// What stands in its file, once that is read.
    pub file: Option<Arc<TakeFile>>,
    /// Why it cannot be read.
    pub trouble: Option<String>,
    /// Its pitch.
    pub trace: TraceOf,
    /// What is drawn of it: its notes, and its pitch once that is here.
    pub drawn: Arc<Drawn>,
    /// How it is played.
    pub played: Played,
}

/// How a take is played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Played {
    /// It sounds.
    pub sounds: bool,
    /// What is heard now or next.
    pub at: Secs,
    /// The part that is played.
    pub part: (Secs, Secs),
    /// Again and again.
    pub looped: bool,
    /// At half speed.
    pub half: bool,
}

impl Opened {
    /// It was read, and has a sound: a lesson can have it.
    pub(super) fn may_be_used(&self) -> bool {
        self.file.is_some() && !matches!(self.trace, TraceOf::None(_))
    }

    /// Draws what is known anew, with these frames, or without any.
    pub(super) fn draw(&mut self, frames: &[Frame]) {
        let Some(file) = &self.file else { return };
        self.drawn = Arc::new(drawn(file, frames));
    }
}

/// What is drawn of a take with these frames, or without any.
fn drawn(file: &TakeFile, frames: &[Frame]) -> Drawn {
    let notes: Vec<Note> = file.notes.iter().map(NoteMeasures::note).collect();
    let lost: Vec<(f64, f64)> = file.lost.iter().map(|lost| (lost.at_s, lost.length_s)).collect();
    Drawn::of(frames, &notes, &lost, file.tuning().a4)
}

/// A take that is compared with another.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Compared {
    /// What stands in its file.
    pub(crate) file: Arc<TakeFile>,
    /// What is drawn of it.
    pub(crate) drawn: Arc<Drawn>,
}

impl Compared {
    pub(super) fn of(file: Arc<TakeFile>, frames: &[Frame]) -> Self {
        let drawn = Arc::new(drawn(&file, frames));
        Self { file, drawn }
    }
}
