//! The rooms of the window.

/// A room of the window.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Room {
    /// Play and watch.
    #[default]
    Stand,
    /// Counted oscillations, carried from finger to finger.
    Drill,
    /// The takes that were kept.
    Journal,
    /// Model and echo.
    Lesson,
    /// A passage, note by note as it is planned.
    Passage,
}

impl Room {
    /// All of them, in the order of the strip.
    pub const ALL: [Self; 5] =
        [Self::Stand, Self::Drill, Self::Journal, Self::Lesson, Self::Passage];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Stand => "Stand",
            Self::Drill => "Drill",
            Self::Journal => "Journal",
            Self::Lesson => "Lesson",
            Self::Passage => "Passage",
        }
    }
}
