//! Words that not every player knows, each in plain words: said where it stands, and all in one list.

use egui::{Response, RichText};

use crate::theme::Theme;

/// A word and what it means.
pub struct Term {
    /// As it stands in the rooms.
    pub name: &'static str,
    /// In plain words.
    pub means: &'static str,
}

const fn term(name: &'static str, means: &'static str) -> Term {
    Term { name, means }
}

/// All of them, in the order of the list.
pub const TERMS: [Term; 28] = [
    term("rate", "How many times a second the pitch swings up and down, in hertz (Hz)."),
    term(
        "width",
        "From the lowest to the highest point of one swing, in cents: a semitone has 100.",
    ),
    term("centre", "The pitch in the middle of the swing, and how far it lies from the note."),
    term("crest", "The highest point of a swing."),
    term("trough", "The lowest point of a swing."),
    term("rate spread", "How much the speed changes from swing to swing: small is even."),
    term("width spread", "How much the width changes from swing to swing: small is even."),
    term("out of round", "How far the motion is from a smooth wave: 0 is perfectly round."),
    term("time rising", "How much of each swing goes upwards: 50 % is as long up as down."),
    term("onset", "How long after the start of the note the vibrato begins."),
    term("width growth", "How much wider the vibrato is at the end of the note than at its start."),
    term("rate growth", "How much faster the vibrato is at the end of the note than at its start."),
    term("finger travel", "How far the fingertip rolls along the string, in millimetres."),
    term("gap", "How long the motion stops between two notes."),
    term(
        "offset",
        "How far a note without vibrato lies above or below what it is measured against.",
    ),
    term("drift", "How far the pitch rises or sinks through the note, apart from the vibrato."),
    term("unsteadiness", "How far the pitch of a note without vibrato wavers, in cents."),
    term("±", "The margin: two of three times the true value lies within it."),
    term(
        "reference",
        "The pitch that notes are held against: the tuning, a drone or a note of yours.",
    ),
    term("take", "A stretch of your playing, kept with its sound and its measures."),
    term("secure", "A round that keeps every rule of its drill."),
    term("free pace", "No click: your own oscillations carry the count."),
    term("guide tone", "A tone that swings at the asked rate and width, to play along with."),
    term("ribbon", "The vibrato you plan for a note: as tall as it is to be wide."),
    term("field", "Rate from left to right, width upwards: your vibrato is one point in it."),
    term("oscillation strip", "A bar for each swing, as high as the swing is wide."),
    term("bow line", "How loud the note is through the bow."),
    term("level", "How loud the sound arrives at the microphone."),
];

/// Says what `name` means to whoever points at what answers with `response`, and to a screen reader.
pub(crate) fn explained(response: Response, name: &str, theme: &Theme) -> Response {
    let Some(term) = TERMS.iter().find(|term| term.name == name) else {
        return response;
    };
    response.ctx.accesskit_node_builder(response.id, |node| node.set_description(term.means));
    response.on_hover_ui(|ui| {
        let size = theme.sizes.caption;
        ui.set_max_width(20.0 * size);
        let said = format!("{}: {}", term.name, term.means);
        ui.label(RichText::new(said).size(size).color(theme.ink));
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use vibrato::{Quantity, Shown};

    #[test]
    fn the_name_of_every_measure_that_rooms_show_is_explained() {
        for quantity in Quantity::all().filter(|of| of.row().shown != Shown::InFiles) {
            let name = quantity.name();
            assert!(TERMS.iter().any(|term| term.name == name), "{name}");
        }
    }

    #[test]
    fn every_word_is_explained_once_in_one_sentence() {
        for (number, term) in TERMS.iter().enumerate() {
            assert!(TERMS[..number].iter().all(|other| other.name != term.name), "{}", term.name);
            assert!(term.means.ends_with('.') && term.means.len() < 90, "{}", term.means);
        }
    }
}
