//! What was made of a passage, in sentences.

use tuning::figure::{number, sentence, with_doubt};
use vibrato::Measure;

use super::Checked;
use super::bow_line::BowLine;
use super::note_findings::{Difference, PlayedNote, What};
use crate::follow::How;
use crate::plan::{Passage, Pitch};
use crate::told::beyond_doubt;

/// Below this share of the planned contrast the vibrato was the same on every note, and so far it is the plan's.
const EVEN: f64 = 0.3;

/// All that is to be said: of the passage, then note by note.
pub(super) fn sentences(passage: &Passage, checked: &Checked) -> Vec<String> {
    let of_notes = checked.notes.iter().filter_map(|note| of_note(passage, note));
    of_passage(passage, checked).into_iter().chain(of_notes.map(|words| sentence(&words))).collect()
}

/// What is to be said of the passage as a whole, in sentences: how far it went, its contrast, the bow's line.
pub fn of_passage(passage: &Passage, checked: &Checked) -> Vec<String> {
    let mut said = vec![counted(checked)];
    said.extend(left_out(passage, checked));
    said.extend(contrast(checked));
    said.extend(checked.bow_line.as_ref().map(|line| bow_line(passage, line)));
    said.iter().map(|words| sentence(words)).collect()
}

fn notes(count: usize) -> String {
    if count == 1 { "1 note".into() } else { format!("{count} notes") }
}

/// A note by its number, name and bar: "note 5 (D4, bar 2)".
pub fn called(passage: &Passage, note: usize) -> String {
    let plan = &passage.notes()[note];
    let name = match plan.pitch {
        Pitch::Single(one) => format!("{one}, "),
        _ => String::new(),
    };
    format!("note {} ({name}bar {})", note + 1, plan.at.bar)
}

fn counted(checked: &Checked) -> String {
    let count = |how: How| checked.notes.iter().filter(|note| note.aligned.how == how).count();
    let (reached, all) = checked.reached;
    let mut words = format!("{reached} of {} reached", notes(all));
    for (how, what) in [
        (How::OtherPitch, "at another pitch"),
        (How::LeftOut, "left out"),
        (How::Repeated, "played twice"),
        (How::Unheard, "on two strings, which are not judged"),
    ] {
        if count(how) > 0 {
            words += &format!(", {} {what}", count(how));
        }
    }
    match count(How::Extra) {
        0 => words,
        extra => format!("{words}, and {} that the plan does not have", notes(extra)),
    }
}

/// Notes left out: of a run of one pitch nobody can hear which.
fn left_out(passage: &Passage, checked: &Checked) -> Vec<String> {
    let planned = passage.notes();
    let missing = checked.notes.iter().filter(|note| note.aligned.how == How::LeftOut);
    let words = missing.filter_map(|note| {
        let at = note.aligned.note?;
        let same = |other: usize| planned.get(other).is_some_and(|o| o.pitch == planned[at].pitch);
        let words = match (at > 0 && same(at - 1), same(at + 1)) {
            (true, _) => format!("one of {} and {} was left out", at, called(passage, at)),
            (_, true) => format!("one of {} and {} was left out", at + 1, called(passage, at + 1)),
            _ => format!("{} was left out", called(passage, at)),
        };
        Some(words.replacen("one of ", "one of notes ", 1).replacen("and note ", "and ", 1))
    });
    words.collect()
}

fn contrast(checked: &Checked) -> Vec<String> {
    let share = |share: Measure<f64>| {
        let pct = Measure { value: 100.0 * share.value, se: share.se.map(|se| 100.0 * se) };
        with_doubt(pct.value, pct.se, 0, false)
    };
    let mut said = Vec::new();
    if let Some(width) = checked.width_contrast {
        let words = share(width);
        said.push(format!("of the contrast in width that you planned, {words} % was to be heard"));
        let even = Measure { value: EVEN - width.value, ..width };
        if let Some(mean) = checked.mean_width.filter(|_| even.value > 0.0 && beyond_doubt(even, 1))
        {
            let mean = number(Some(mean), 0, false);
            said.push(format!("the width was much the same on every note, about {mean} cents"));
        }
    }
    if let Some(rate) = checked.rate_contrast {
        let words = share(rate);
        said.push(format!("of the contrast in speed that you planned, {words} % was to be heard"));
    }
    said
}

fn bow_line(passage: &Passage, line: &BowLine) -> String {
    if line.survived {
        return "the bow's line of the straight pass is still there".into();
    }
    let changed: Vec<String> = line
        .changed()
        .map(|(note, by)| {
            let how = if by.value > 0.0 { "louder" } else { "softer" };
            let by = with_doubt(by.value.abs(), by.se, 0, false);
            format!("{} came out {by} dB {how}", called(passage, *note))
        })
        .collect();
    let lost = beyond_doubt(line.least_loss, 1).then(|| {
        let pct = number(Some(100.0 * line.least_loss.value.clamp(0.0, 1.0)), 0, false);
        format!("at least {pct} % of the bow's line of the straight pass was lost")
    });
    match (changed.is_empty(), lost) {
        (true, None) => "whether the bow's line was kept cannot be told from this take".into(),
        (true, Some(lost)) => lost,
        (false, lost) => {
            let head = lost.map_or_else(String::new, |lost| format!("{lost}: "));
            format!("{head}against its neighbours in the straight pass {}", changed.join(", "))
        }
    }
}

/// What is to be said of one note; `None` where it is as planned.
pub fn of_note(passage: &Passage, note: &PlayedNote) -> Option<String> {
    let at = note.aligned.note?;
    let differences: Vec<String> = note.differences.iter().map(words).collect();
    let joined = differences.join("; ");
    (!joined.is_empty()).then(|| format!("{}: {joined}", called(passage, at)))
}

/// A difference in words: "18 ±4 cents narrower than planned".
pub fn words(difference: &Difference) -> String {
    let Some(by) = difference.by else { return "straight, where you planned a vibrato".into() };
    let told = |scale: f64, decimals: usize| {
        with_doubt(scale * by.value.abs(), by.se.map(|se| scale * se), decimals, false)
    };
    let (cents, ms) = (told(1.0, 0), told(1e3, 0));
    let either = |above: &str, below: &str| {
        if by.value > 0.0 { above.to_owned() } else { below.to_owned() }
    };
    match difference.what {
        What::NotStraight => format!("meant straight, and it moved by {cents} cents"),
        What::NoVibrato => "straight, where you planned a vibrato".into(),
        What::Width => format!("{cents} cents {} than planned", either("wider", "narrower")),
        What::StartWidth => format!("its start {cents} cents {}", either("wider", "narrower")),
        What::EndWidth => format!("its end {cents} cents {}", either("wider", "narrower")),
        What::Rate => format!("{} Hz {} than planned", told(1.0, 1), either("faster", "slower")),
        What::Peak => format!("widest {ms} ms {} than planned", either("later", "earlier")),
        What::Onset => format!("the vibrato set in {ms} ms after the bow"),
        What::EndedEarly => format!("the vibrato ended {ms} ms before the bow"),
        What::Centre => format!("{cents} cents {}", either("sharp", "flat")),
        What::Gap => format!("the hand rested {ms} ms at the change"),
    }
}
