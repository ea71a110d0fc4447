//! A comparison in words: what differs most, one sentence a note; no marks.

use tuning::figure::capital;
use tuning::{Naming, pitch_name};
use vibrato::{PitchCourse, Quantity};

use super::{Comparison, Difference, Motions, Pair};

/// Notes that are more semitones away than this are called by name.
const ANOTHER_NOTE: f64 = 60.0;

impl Comparison {
    /// What differs most comes first; then a sentence for each other note of a phrase, and what is
    /// missing or put in.
    pub fn words(&self, naming: Naming) -> Vec<String> {
        if self.pairs.is_empty() {
            let nothing = match (self.echo.is_empty(), self.model.is_empty()) {
                (true, _) => "No note of the echo was heard.",
                (false, true) => "No note of the model was heard.",
                (false, false) => "No note of the echo answers one of the model.",
            };
            return vec![nothing.to_owned()];
        }
        let phrase = self.model.len() > 1;
        let first = self.foremost();
        let mut words = vec![match first.map(|pair| (pair, self.wording(pair, naming))) {
            None => "No difference can be told: each is too small to be sure of, or too small to matter."
                .to_owned(),
            Some((pair, said)) if phrase => {
                format!("Biggest difference, {}: {said}", self.called(pair, naming))
            }
            Some((_, said)) => capital(&said),
        }];
        if self.transposed != 0 {
            words.push(format!(
                "The echo is played {} the model; centres are compared as if it were not.",
                beside(self.transposed)
            ));
        }
        if let Some(first) = first.filter(|_| phrase) {
            let others = self.pairs.iter().filter(|pair| !std::ptr::eq(first, *pair));
            words.extend(others.map(|pair| {
                let called = capital(&self.called(pair, naming));
                format!("{called}: {}", self.wording(pair, naming))
            }));
        }
        words.extend(self.unpaired(naming));
        if self.pairs.iter().any(|pair| self.doubtful(pair)) {
            words.push(
                "In some notes two strings sound, the room blurs the pitch, or sound is clipped or lost: \
                 their figures are not to be trusted."
                    .to_owned(),
            );
        }
        words
    }

    /// A sentence for each note that is missing, and for each that was put in.
    fn unpaired(&self, naming: Naming) -> Vec<String> {
        let missing = self.missing.iter().map(|&missing| {
            let name = pitch_name(self.model[missing].midi, naming);
            format!("Note {} of the model ({name}) was not echoed.", missing + 1)
        });
        let extra = self.extra.iter().map(|&extra| {
            let name = pitch_name(self.echo[extra].midi, naming);
            format!("Note {} of the echo ({name}) answers none of the model.", extra + 1)
        });
        missing.chain(extra).collect()
    }

    /// The pair of which the first sentence speaks: a vibrato where there is to be none, or the other
    /// way round; then another note than the model's; then the largest difference.
    fn foremost(&self) -> Option<&Pair> {
        let turned =
            |pair: &&Pair| matches!(pair.motions, Motions::ModelOnly(_) | Motions::EchoOnly(_));
        let another = |pair: &&Pair| another_note(pair);
        let unlike = |pair: &&Pair| match pair.motions {
            Motions::Neither(model, echo) => does(model) != does(echo),
            _ => false,
        };
        self.pairs
            .iter()
            .find(turned)
            .or_else(|| self.pairs.iter().find(another))
            .or_else(|| self.largest().map(|(pair, _)| pair))
            .or_else(|| self.pairs.iter().find(unlike))
    }

    fn doubtful(&self, pair: &Pair) -> bool {
        [&self.model[pair.model], &self.echo[pair.echo]].iter().any(|note| {
            let remarks = note.remarks;
            remarks.two_strings || remarks.room || remarks.clipped || remarks.lost
        })
    }

    fn called(&self, pair: &Pair, naming: Naming) -> String {
        let name = pitch_name(self.model[pair.model].midi, naming);
        format!("note {} ({name})", pair.model + 1)
    }

    /// What is said of one pair, in a sentence without its first capital.
    fn wording(&self, pair: &Pair, naming: Naming) -> String {
        if let Motions::ModelOnly(_) | Motions::EchoOnly(_) = pair.motions
            && let Some(said) = pair.motions.wording()
        {
            return format!("{said}.");
        }
        if another_note(pair) {
            return format!(
                "the echo plays {} where the model plays {}.",
                pitch_name(self.echo[pair.echo].midi - self.transposed, naming),
                pitch_name(self.model[pair.model].midi, naming)
            );
        }
        let told = pair.told();
        let Some(first) = told.first() else {
            return match pair.motions {
                Motions::Unknown => "too little to tell of its vibrato.".to_owned(),
                Motions::Neither(model, echo) if does(model) != does(echo) => {
                    format!("the model {}, the echo {}.", does(model), does(echo))
                }
                _ => "no difference can be told.".to_owned(),
            };
        };
        let second =
            told.get(1).map_or_else(String::new, |second| format!(", then {}", phrase(second)));
        format!("the echo is {}{second}.", phrase(first))
    }
}

impl Motions {
    /// What is said where not both have vibrato; `None` where both have.
    pub fn wording(self) -> Option<String> {
        Some(match self {
            Self::Both => return None,
            Self::Neither(model, echo) if does(model) == does(echo) => match model {
                PitchCourse::Glides(_) => "both glide".to_owned(),
                PitchCourse::Moves => "both move without vibrato".to_owned(),
                _ => "both are without vibrato".to_owned(),
            },
            Self::Neither(model, echo) => {
                format!("the model {}, the echo {}", does(model), does(echo))
            }
            Self::ModelOnly(echo) => format!("the model has vibrato, the echo {}", does(echo)),
            Self::EchoOnly(model) => format!("the model {}, the echo has vibrato", does(model)),
            Self::Unknown => "one of them is too short or too unclear to tell".to_owned(),
        })
    }
}

/// What a note without vibrato does.
fn does(course: PitchCourse) -> &'static str {
    match course {
        PitchCourse::Glides(_) => "glides",
        PitchCourse::Moves => "moves without vibrato",
        _ => "has no vibrato",
    }
}

fn another_note(pair: &Pair) -> bool {
    pair.astray != 0
        && pair.difference(Quantity::Centre).is_some_and(|centre| centre.value.abs() > ANOTHER_NOTE)
}

/// "12 ±2 cents narrower".
fn phrase(difference: &Difference) -> String {
    let (more, less) = difference.quantity.row().more_less;
    let side = if difference.value < 0.0 { less } else { more };
    side.replace("{}", &amount(difference))
}

/// The size of a difference with its doubt and unit.
pub(crate) fn amount(difference: &Difference) -> String {
    difference.quantity.amount(difference.measure())
}

/// How far so many semitones are, up or down: "an octave", "7 semitones".
pub(crate) fn distance(semitones: i32) -> String {
    let (octaves, rest) = (semitones.abs() / 12, semitones.abs() % 12);
    match (octaves, rest) {
        (1, 0) => "an octave".to_owned(),
        (count, 0) => format!("{count} octaves"),
        (_, _) if semitones.abs() == 1 => "1 semitone".to_owned(),
        (_, _) => format!("{} semitones", semitones.abs()),
    }
}

/// Where what is played so many semitones higher lies: "an octave above", "7 semitones below".
pub(super) fn beside(semitones: i32) -> String {
    format!("{} {}", distance(semitones), if semitones > 0 { "above" } else { "below" })
}

#[cfg(test)]
mod tests {
    use super::super::tests::{straight, vibrated};
    use super::*;
    use tuning::Cents;
    use vibrato::Note;

    fn words(model: &[Note], echo: &[Note]) -> Vec<String> {
        Comparison::new(model, echo).words(Naming::Scientific)
    }

    #[test]
    fn the_largest_difference_is_named_first_with_size_doubt_and_direction() {
        let said = words(&[vibrated(57, 0.0, 5.5, 40.0)], &[vibrated(57, 0.0, 5.5, 25.0)]);
        assert_eq!(said, ["The echo is 15.0 ±0.7 cents narrower."]);
        let said = words(&[vibrated(57, 0.0, 5.0, 40.0)], &[vibrated(57, 0.0, 7.0, 46.0)]);
        assert_eq!(said, ["The echo is 2.0 ±0.1 Hz faster, then 6.0 ±0.7 cents wider."]);
    }

    #[test]
    fn nothing_told_is_said_so_and_no_mark_is_given() {
        let same = [vibrated(57, 0.0, 5.5, 40.0)];
        let said = words(&same, &same);
        assert_eq!(said.len(), 1);
        assert!(said[0].starts_with("No difference can be told"), "{said:?}");
    }

    #[test]
    fn a_phrase_has_a_sentence_a_note_and_tells_what_is_missing() {
        let model = [vibrated(57, 0.0, 5.5, 40.0), vibrated(59, 2.1, 5.5, 40.0), straight(60, 4.2)];
        let mut echo = vec![model[0].clone(), model[1].clone()];
        if let Some(vibrato) = &mut echo[1].vibrato {
            vibrato.centre.value = Cents(14.0);
        }
        let said = words(&model, &echo);
        assert_eq!(
            said[0],
            "Biggest difference, note 2 (B3): the echo is 14.0 ±0.4 cents higher in its centre."
        );
        assert_eq!(said[1], "Note 1 (A3): no difference can be told.");
        assert_eq!(said[2], "Note 3 of the model (C4) was not echoed.");
    }

    #[test]
    fn vibrato_where_none_was_shown_comes_before_any_figure() {
        let said = words(&[straight(57, 0.0)], &[vibrated(57, 0.0, 5.0, 30.0)]);
        assert_eq!(said[0], "The model has no vibrato, the echo has vibrato.");
    }

    #[test]
    fn a_vibrato_is_missed_also_where_the_note_glides_or_moves() {
        let glide = PitchCourse::Glides(vibrato::Measure { value: Cents(-20.0), se: None });
        let of = |course| [Note { course, ..straight(57, 0.0) }];
        let with = [vibrated(57, 0.0, 5.0, 30.0)];
        for (course, does) in [(glide, "glides"), (PitchCourse::Moves, "moves without vibrato")] {
            let said = words(&with, &of(course));
            assert_eq!(said[0], format!("The model has vibrato, the echo {does}."));
            let said = words(&of(course), &with);
            assert_eq!(said[0], format!("The model {does}, the echo has vibrato."));
            let table = Comparison::new(&with, &of(course)).pairs[0].motions.wording();
            assert_eq!(table, Some(format!("the model has vibrato, the echo {does}")));
            let said = words(&of(PitchCourse::Straight), &of(course));
            assert_eq!(said[0], format!("The model has no vibrato, the echo {does}."));
        }
    }

    #[test]
    fn another_note_is_called_by_its_name_and_another_octave_is_told() {
        let phrase = |midi: [i32; 3]| -> Vec<Note> {
            let place = |(i, midi)| straight(midi, 2.1 * i as f64);
            midi.into_iter().enumerate().map(place).collect()
        };
        let said = words(&phrase([57, 59, 60]), &phrase([69, 70, 72]));
        assert!(
            said[0].contains("note 2 (B3): the echo plays B♭3 where the model plays B3"),
            "{said:?}"
        );
        assert!(said[1].contains("an octave above"), "{said:?}");
    }

    #[test]
    fn silence_is_told() {
        assert_eq!(words(&[straight(57, 0.0)], &[]), ["No note of the echo was heard."]);
    }
}
