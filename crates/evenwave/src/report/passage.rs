//! The report of a passage: its staff, what was planned of each note and what was played, and each note's findings.

use coach::follow::How;
use coach::plan::{Passage, Pitch};
use coach::played::{Checked, PlayedNote};
use emath::{Pos2, Rangef, Rect, pos2};
use maud::{Markup, html};
use pictures::{Meaning, POINTS_A_CENT, Picture, Staff, planned_ribbons};

use super::figure::{figure, over_all, sized};
use super::page::{Page, details};
use super::playing::Playing;
use crate::formats::{PASSAGE_HEAD, passage_cells};

/// Points between two lines of the staff, and heights of what stands under it.
const SPACE: f32 = 5.5;
const RIBBONS: f32 = 62.0;
const NAMES: f32 = 14.0;
const MARGIN: f32 = 8.0;

/// The page.
pub fn passage_page(passage: &Passage, checked: &Checked, playing: &Playing) -> Page {
    let title = match passage.title.trim() {
        "" => format!("A passage in {}", playing.called()),
        title => format!("{title}: {}", playing.called()),
    };
    // What is said of single notes comes last.
    let of_notes = checked.notes.iter().filter(|note| !note.differences.is_empty()).count();
    let (whole, notes) =
        checked.said.split_at(checked.said.len() - of_notes.min(checked.said.len()));
    let (sentence, lead) =
        whole.split_first().map_or((String::new(), &[][..]), |(first, rest)| (first.clone(), rest));
    let body = html! {
        (over_all(|width| systems(passage, checked, width)))
        p class="note" {
            "Above: the notes. Below them, as thick as the vibrato is wide: what was planned, and what was played. A stroke is straight; a gap was left out."
        }
        @if !notes.is_empty() {
            section { h2 { "Note by note" } ul { @for words in notes { li { (words) } } } }
        }
        (details("All notes", checked.notes.len(), &table(passage, checked)))
    };
    let damaged = playing.damaged.clone().into_iter().collect();
    let remarks = playing.remarks.iter().map(|words| tuning::figure::sentence(words));
    let lead = lead.iter().cloned().chain(remarks).collect();
    Page { title, sentence, lead, to_try: None, about: playing.about(), body, damaged }
}

/// Bars that stand in one line of the page, by their places in the staff's own length.
fn lines_of(staff: &Staff, room: f32) -> Vec<Rangef> {
    let mut starts: Vec<f32> = staff.bar_lines().map(|(_, x)| x).collect();
    starts.push(staff.widths().1);
    let mut lines = Vec::new();
    let mut first = 0;
    while first + 1 < starts.len() {
        let fits = (first + 1..starts.len()).take_while(|end| starts[*end] - starts[first] <= room);
        let end = fits.last().unwrap_or(first + 1);
        lines.push(Rangef::new(starts[first], starts[end]));
        first = end;
    }
    lines
}

/// The passage, as many lines as it needs on a page of this width.
fn systems(passage: &Passage, checked: &Checked, width: f32) -> Markup {
    let staff = Staff::new(passage);
    let head = staff.widths().0;
    let starts: Vec<f32> = staff.bar_lines().map(|(_, x)| x).chain([staff.widths().1]).collect();
    let longest = starts.windows(2).map(|two| two[1] - two[0]).fold(0.0, f32::max);
    let space = SPACE.min((width - 2.0 * MARGIN) / (head + longest));
    let room = (width - 2.0 * MARGIN) / space - head;
    let lines = lines_of(&staff, room);
    html! {
        @for (number, line) in lines.iter().enumerate() {
            (system(passage, checked, &staff, (width, space, *line, number)))
        }
    }
}

fn system(
    passage: &Passage,
    checked: &Checked,
    staff: &Staff,
    (width, space, line, number): (f32, f32, Rangef, usize),
) -> Markup {
    let reach = staff.reach();
    let top = MARGIN - reach.min.min(-1.0) * space;
    let under = top + reach.max.max(5.0) * space + MARGIN;
    let mut picture = sized(width, under + 2.0 * RIBBONS + NAMES + MARGIN);
    let left = MARGIN + staff.widths().0 * space;
    let origin = pos2(left - line.min * space, top);
    staff.draw(
        &mut picture,
        origin,
        space,
        Rangef::new(line.min * space, (line.max - 0.01) * space),
        true,
    );
    let x_of = |at: f32| origin.x + at * space;
    let right = x_of(line.max);
    let planned = Rect::from_min_max(pos2(left, under), pos2(right, under + RIBBONS));
    let played = planned.translate(emath::vec2(0.0, RIBBONS + NAMES));
    for (bar, x) in staff.bar_lines().filter(|(_, x)| *x >= line.min && *x < line.max) {
        let y = Rangef::new(planned.top(), played.bottom());
        picture.vline(Meaning::Guide, x_of(x), y);
        picture.write(
            Meaning::ScaleNumber,
            pos2(x_of(x) + 2.0, planned.top() - 1.0),
            &bar.to_string(),
        );
    }
    let time_of = |note: usize| {
        let time =
            staff.time_of(note).filter(|time| time.min >= line.min && time.min < line.max)?;
        Some(Rangef::new(x_of(time.min), x_of(time.max)))
    };
    planned_ribbons(&mut picture, passage, planned, time_of);
    let mut shown = 0;
    for (at, note) in passage.notes().iter().enumerate().filter(|(_, note)| !note.tie) {
        let (Pitch::Single(pitch), Some(x)) = (note.pitch, time_of(at)) else { continue };
        shown += 1;
        picture.write(
            Meaning::ScaleNumber,
            pos2(x.min + 2.0, planned.bottom() + 0.8 * NAMES),
            &pitch.to_string(),
        );
        let all = at..at + 1 + passage.notes()[at + 1..].iter().take_while(|next| next.tie).count();
        let end = time_of(all.end - 1).map_or(x.max, |time| time.max);
        let one = checked.notes.iter().find(|one| one.aligned.note == Some(at));
        if let Some(one) = one {
            played_ribbon(
                &mut picture,
                one,
                Rangef::new(x.min + 2.0, end - 2.0),
                played.center().y,
            );
        }
    }
    picture.says = format!("line {}: {shown} notes", number + 1);
    figure(&format!("Line {} of the passage", number + 1), &picture, "")
}

/// What was played of one note: a band as thick as its vibrato was wide, a stroke where it was straight, nothing where it was
/// left out.
fn played_ribbon(picture: &mut Picture, one: &PlayedNote, x: Rangef, y: f32) {
    if matches!(one.aligned.how, How::LeftOut | How::Extra | How::Unheard) {
        return;
    }
    let meaning = if one.differences.is_empty() { Meaning::Planned } else { Meaning::Trace };
    if one.course.len() < 2 {
        picture.hline(meaning, x, y);
        return;
    }
    let (start, secs) = (one.aligned.start.get(), length(one));
    let place = |time: f64| x.min + x.span() * ((time - start) / secs).clamp(0.0, 1.0) as f32;
    let tall = POINTS_A_CENT * f64::from(picture.sizes.grown.strokes);
    let edge = |side: f64| -> Vec<Pos2> {
        let points = one.course.iter();
        let half = |width: f64| (side * 0.5 * width * tall) as f32;
        points.map(|point| pos2(place(point.time.get()), y - half(point.width.get()))).collect()
    };
    let (upper, lower) = (edge(1.0), edge(-1.0));
    for i in 1..upper.len() {
        let corners = vec![upper[i - 1], upper[i], lower[i], lower[i - 1]];
        picture.polygon(Meaning::MiddleHalf, corners);
    }
    picture.line(meaning, upper);
    picture.line(meaning, lower);
    for (from, to) in [
        (x.min, place(one.course[0].time.get())),
        (place(one.course[one.course.len() - 1].time.get()), x.max),
    ] {
        if to > from + 1.0 {
            picture.hline(meaning, Rangef::new(from, to), y);
        }
    }
}

fn length(one: &PlayedNote) -> f64 {
    (one.aligned.end.get() - one.aligned.start.get()).max(1e-3)
}

fn table(passage: &Passage, checked: &Checked) -> Markup {
    html! {
        table {
            caption { "All notes, with the margin of each measure" }
            thead { tr { @for name in PASSAGE_HEAD { th scope="col" { (name) } } } }
            tbody {
                @for one in &checked.notes {
                    tr { @for cell in passage_cells(passage, one) { td { (cell) } } }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_are_parted_into_lines_that_hold_whole_bars_and_none_is_lost() {
        let bars: String =
            (1..=9).map(|bar| format!("bar {bar} A3 1, B3 1, C4 1, D4 1\n")).collect();
        let passage = Passage::from_text(&format!("instrument cello\n{bars}")).expect("read");
        let staff = Staff::new(&passage);
        let whole = staff.widths().1;
        for room in [1.0, 0.3 * whole, 0.7 * whole, 2.0 * whole] {
            let lines = lines_of(&staff, room);
            assert!((lines[0].min, lines[lines.len() - 1].max) == (0.0, whole), "{lines:?}");
            assert!(lines.windows(2).all(|two| two[0].max == two[1].min), "{lines:?}");
            assert!(room < 2.0 || lines.iter().all(|line| line.span() <= room), "{lines:?}");
        }
    }
}
