//! What was made of a passage, as a table.

use coach::follow::How;
use coach::plan::{Intention, Passage, Pitch};
use coach::played::{Checked, PlayedNote};
use tuning::figure::with_doubt;
use vibrato::Measure;

/// What stands in each column of the table.
pub(crate) const PASSAGE_HEAD: [&str; 8] =
    ["note", "bar", "", "from, s", "planned, c", "width, c", "rate, Hz", "centre, c"];

/// The sentences, and below them a line a note.
pub(crate) fn passage_lines(passage: &Passage, checked: &Checked) -> Vec<String> {
    let mut lines = checked.said.clone();
    lines.push(String::new());
    lines.push(row(PASSAGE_HEAD));
    lines.extend(checked.notes.iter().map(|note| row(passage_cells(passage, note))));
    lines
}

fn row<T: AsRef<str>>(cells: [T; 8]) -> String {
    let [note, bar, name, from, planned, width, rate, centre] = cells.each_ref().map(AsRef::as_ref);
    format!("{note:>4} {bar:>3}  {name:<18}{from:>8}{planned:>13}{width:>11}{rate:>12}{centre:>13}")
        .trim_end()
        .to_owned()
}

/// What stands in the row of a note.
pub(crate) fn passage_cells(passage: &Passage, note: &PlayedNote) -> [String; 8] {
    let one = &note.aligned;
    let plan = one.note.map(|number| &passage.notes()[number]);
    let name = match plan.map(|plan| plan.pitch) {
        Some(Pitch::Single(pitch)) => pitch.to_string(),
        Some(Pitch::Double(low, high)) => format!("{low}+{high}"),
        Some(Pitch::Rest) | None => String::new(),
    };
    let how = if one.how == How::Played { "" } else { one.how.word() };
    let straight = one.how == How::Played && !note.too_short && note.width.is_none();
    let figure = |measure: Option<Measure<f64>>, decimals, signed| {
        let told = measure.map(|known| with_doubt(known.value, known.se, decimals, signed));
        told.unwrap_or_default()
    };
    let width = match straight {
        true => "straight".to_owned(),
        false => figure(note.width.map(Measure::bare), 0, false),
    };
    [
        one.note.map_or_else(String::new, |number| (number + 1).to_string()),
        plan.map_or_else(String::new, |plan| plan.at.bar.to_string()),
        format!("{name} {how}").trim().to_owned(),
        format!("{:.2}", one.start.get()),
        plan.map_or_else(String::new, |plan| planned(plan.intention)),
        width,
        figure(note.rate.map(Measure::bare), 1, false),
        figure(note.centre.map(Measure::bare), 0, true),
    ]
}

/// `straight`, `30`, `20–60–30`.
fn planned(intention: Intention) -> String {
    match intention {
        Intention::Straight => "straight".to_owned(),
        Intention::Contour { width: [start, peak, end], .. } => {
            let all = [start, peak, end].map(|width| format!("{:.0}", width.get()));
            if all.iter().all(|one| *one == all[0]) { all[0].clone() } else { all.join("–") }
        }
    }
}
