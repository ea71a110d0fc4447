//! What is said of each change of a plan.

use coach::plan::{Along, Edit, Go, Pitch, PlanNote};

/// What is said where going leads nowhere.
pub(super) fn no_further(to: Go) -> String {
    match to {
        Go::Back | Go::First => "This is the first note.",
        _ => "This is the last note.",
    }
    .to_owned()
}

/// What is said when going begins to choose, and when it stops.
pub(super) fn choosing(extends: bool) -> String {
    if extends { "Go on to choose more." } else { "One note is chosen." }.to_owned()
}

/// What is said when a width is to be typed.
pub(super) fn asked(along: Along) -> String {
    match along {
        Along::Start => "Type a width in cents.",
        Along::Peak => "Type the width at the peak, in cents.",
        Along::End => "Type the width at the end, in cents.",
    }
    .to_owned()
}

/// What is said where a digit is no finger.
pub(super) fn no_such_finger() -> String {
    "Fingers are 0 to 4; for a width, press its key first.".to_owned()
}

/// What was done, now that the note one is at is this one.
pub(super) fn made(edit: &Edit, note: &PlanNote) -> String {
    let said = match edit {
        Edit::InsertBefore | Edit::InsertAfter => "New note.",
        Edit::Delete => "Taken out.",
        Edit::Rest if note.pitch == Pitch::Rest => "A rest.",
        Edit::Rest => "A note again.",
        Edit::Slur if note.slur => "Slurred.",
        Edit::Slur => "No slur.",
        Edit::Tie => "Tie changed.",
        Edit::Copy => "Copied.",
        Edit::Brush => "Brushed.",
        Edit::BarLine => "The bar begins here.",
        Edit::Undo => "Taken back.",
        Edit::Redo => "Made again.",
        Edit::IntendAll(_) => "As it was played.",
        // The note itself says it.
        _ => "",
    };
    said.to_owned()
}
