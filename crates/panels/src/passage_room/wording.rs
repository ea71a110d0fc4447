//! The room's words.

use super::editing::Editing;
use super::{Opened, Pass, PassageRoom, Phase};
use coach::follow::How;
use coach::plan::{BeatUnit, Clef, Dynamic, Intention, Key, Mode, Passage, Pitch, PlanNote};
use coach::played::{Checked, PlayedNote, Widest, called, of_note, words};
use tuning::{Cents, figure};
use vibrato::Measure;

/// What a beat is.
pub(super) fn unit(unit: BeatUnit) -> &'static str {
    match unit {
        BeatUnit::Half => "half",
        BeatUnit::Quarter => "quarter",
        BeatUnit::Eighth => "eighth",
    }
}

/// "quarter = 52", or "in your own time".
pub(super) fn pace(room: &PassageRoom) -> String {
    match room.free() {
        true => "in your own time".to_owned(),
        false => format!("{} = {:.0}", unit(room.beat_unit()), room.bpm()),
    }
}

/// A passage in the list: "cello · 8 bars · 26 notes · quarter = 52".
pub(super) fn about(passage: &Passage) -> String {
    let bars = passage.bars().len();
    let sounds = |note: &&PlanNote| note.pitch != Pitch::Rest && !note.tie;
    let notes = passage.notes().iter().filter(sounds).count();
    let s = |count: usize| if count == 1 { "" } else { "s" };
    format!(
        "{} · {bars} bar{} · {notes} note{} · {} = {:.0}",
        passage.instrument,
        s(bars),
        s(notes),
        unit(passage.pace.unit),
        passage.pace.bpm
    )
}

/// What a note is called: "D4".
pub(super) fn name(note: &PlanNote) -> String {
    match note.pitch {
        Pitch::Rest => "rest".to_owned(),
        Pitch::Single(one) => one.to_string(),
        Pitch::Double(low, high) => format!("{low} + {high}"),
    }
}

/// What is planned of a note: "straight", "15 to 50 to 25 cents, 5 Hz".
pub(super) fn planned(note: &PlanNote) -> String {
    match note.intention {
        Intention::Straight if note.open() => "open string".to_owned(),
        Intention::Straight => "straight".to_owned(),
        Intention::Contour { width, rate, peak_at } => {
            let width = course(width.map(|width| width.0), peak_at, 0);
            let rate = rate.map(|rate| course(rate.map(|rate| rate.0), peak_at, 1));
            let rate = rate.map(|rate| format!(", {rate} Hz"));
            format!("{width} cents{}", rate.unwrap_or_default())
        }
    }
}

/// Three numbers as few as they need: "25", "15 to 50 to 25".
fn course([start, peak, end]: [f64; 3], peak_at: f64, decimals: usize) -> String {
    let say = |value: f64| {
        let text = figure::number(Some(value), decimals, false);
        text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
    };
    let even = |a: f64, b: f64| (a - b).abs() < 1e-9;
    match (even(start, peak), even(peak, end)) {
        (true, true) => say(peak),
        (false, true) if even(peak_at, 1.0) => format!("{} to {}", say(start), say(end)),
        (true, false) if even(peak_at, 0.0) => format!("{} to {}", say(start), say(end)),
        _ => format!("{} to {} to {}", say(start), say(peak), say(end)),
    }
}

/// What a clef is called.
pub(super) fn clef(clef: Clef) -> &'static str {
    match clef {
        Clef::Treble => "treble",
        Clef::Alto => "alto",
        Clef::Tenor => "tenor",
        Clef::Bass => "bass",
    }
}

/// What a key is called: "D minor".
pub(super) fn key(key: Key) -> String {
    const BY_FIFTHS: [&str; 18] = [
        "C♭", "G♭", "D♭", "A♭", "E♭", "B♭", "F", "C", "G", "D", "A", "E", "B", "F♯", "C♯", "G♯",
        "D♯", "A♯",
    ];
    let (up, mode) = match key.mode {
        Mode::Major => (0, "major"),
        Mode::Minor => (3, "minor"),
    };
    let place = usize::try_from(i32::from(key.sharps) + 7 + up).unwrap_or(0);
    format!("{} {mode}", BY_FIFTHS.get(place).unwrap_or(&"?"))
}

/// The head of a passage: "cello · 4/4 · quarter = 60 · D minor · bass clef".
pub(super) fn head(passage: &Passage) -> String {
    let Passage { instrument, meter, pace, .. } = passage;
    format!(
        "{instrument} · {}/{} · {} = {:.0} · {} · {} clef",
        meter.beats,
        meter.of.lower_figure(),
        unit(pace.unit),
        pace.bpm,
        key(passage.key),
        clef(passage.clef)
    )
}

fn dynamic(sign: Dynamic) -> &'static str {
    match sign {
        Dynamic::Ppp => "ppp",
        Dynamic::Pp => "pp",
        Dynamic::P => "p",
        Dynamic::Mp => "mp",
        Dynamic::Mf => "mf",
        Dynamic::F => "f",
        Dynamic::Ff => "ff",
        Dynamic::Fff => "fff",
        Dynamic::Louder => "growing louder",
        Dynamic::Softer => "growing softer",
    }
}

/// A note while it is edited: "G3, 1+1/2 beats, slurred, finger 4: 20 to 60 to 30 cents, peak at 40 %, 5 Hz".
fn edited(passage: &Passage, number: usize) -> String {
    let notes = passage.notes();
    let note = &notes[number];
    let mut tied = notes[number + 1..].iter().take_while(|next| next.tie);
    let beats = tied.try_fold(note.beats, |sum, next| sum.plus(next.beats));
    let beats = beats.unwrap_or(note.beats);
    let s = if beats.get() > 1.0 { "s" } else { "" };
    let mut parts = vec![name(note), format!("{beats} beat{s}")];
    parts.extend(note.slur.then(|| "slurred".to_owned()));
    parts.extend(note.finger.filter(|finger| *finger > 0).map(|it| format!("finger {it}")));
    parts.extend(note.string.as_ref().map(|string| format!("{string} string")));
    parts.extend(note.dynamic.map(|sign| dynamic(sign).to_owned()));
    let meant = match note.pitch {
        Pitch::Rest => String::new(),
        _ => format!(": {}", planned_with_peak(note)),
    };
    format!("{}{meant}", parts.join(", "))
}

/// What is planned of a note, with the place of a peak that does not lie in the middle.
fn planned_with_peak(note: &PlanNote) -> String {
    let planned = planned(note);
    match note.intention {
        Intention::Contour { width: [start, peak, end], peak_at, .. }
            if start != peak && peak != end && (peak_at - 0.5).abs() > 1e-6 =>
        {
            format!("{planned}, peak at {:.0} %", 100.0 * peak_at)
        }
        _ => planned,
    }
}

/// The sentence while a plan is edited: what was done last, then the note one is at.
fn of_plan(editing: &Editing) -> String {
    let (passage, chosen) = (editing.passage(), editing.chosen());
    let heads = passage.notes()[chosen].iter().filter(|note| !note.tie).count();
    let many = if heads > 1 { format!("{heads} notes chosen. ") } else { String::new() };
    let said = editing.said();
    let blank = if said.is_empty() { "" } else { " " };
    format!("{said}{blank}{many}{}", edited(passage, editing.note()))
}

/// What a pass is for.
fn purpose(pass: Pass) -> &'static str {
    match pass {
        Pass::Straight => "Slow and straight: let the bow alone carry the line.",
        Pass::Vibrated => "Still slow: add the vibrato that you planned.",
        Pass::AtTempo => "At tempo: keep the same contrast.",
        Pass::Unseen => "By ear alone: what you did is shown at the end.",
    }
}

/// The one sentence at the foot.
pub(super) fn sentence(room: &PassageRoom) -> String {
    let Some(opened) = room.opened() else { return String::new() };
    let plan = |note: usize| {
        let note = &opened.passage.notes()[note];
        format!("{}: {}", name(note), planned(note))
    };
    match room.phase() {
        Phase::Choosing => String::new(),
        Phase::Editing => room.editing().map(of_plan).unwrap_or_default(),
        Phase::Ready => match (room.note(), room.remark()) {
            (Some(note), _) if room.pass() == Pass::Straight => straight_first(opened, note),
            (Some(note), _) => plan(note),
            (None, Some(remark)) => remark.to_owned(),
            (None, None) => purpose(room.pass()).to_owned(),
        },
        Phase::CountIn => "Counting in.".to_owned(),
        Phase::Playing if room.pass() == Pass::Unseen => purpose(Pass::Unseen).to_owned(),
        Phase::Playing => match (room.place(), room.pass()) {
            (Some((now, _)), Pass::Straight) => {
                format!("{}: straight", name(&opened.passage.notes()[now.note]))
            }
            (Some((now, _)), _) => plan(now.note),
            (None, _) => "Play when you are ready.".to_owned(),
        },
        Phase::Judging => "Looking at what you played.".to_owned(),
        Phase::Asking => match room.note() {
            Some(note) => format!("{ASKED} {}?", place(&opened.passage, note)),
            None => ASKED.to_owned(),
        },
        Phase::After => match (room.note(), room.checked(room.pass())) {
            (Some(note), Some(checked)) => of_one(opened, checked, note),
            (None, Some(checked)) => {
                let found = found(&opened.passage, checked);
                match answer_said(room) {
                    Some(answer) => format!("{answer} {found}"),
                    None => found,
                }
            }
            (_, None) => String::new(),
        },
    }
}

/// A note before the straight pass: "G3: straight first, then 0 to 25 cents".
fn straight_first(opened: &Opened, note: usize) -> String {
    let note = &opened.passage.notes()[note];
    let first = match note.intention {
        Intention::Straight => "",
        Intention::Contour { .. } => "straight first, then ",
    };
    format!("{}: {first}{}", name(note), planned(note))
}

/// What is asked before a pass without looking is shown.
const ASKED: &str = "Which note had most vibrato?";

/// What is said to a player who has named the note that had most vibrato.
pub fn answer_said(room: &PassageRoom) -> Option<String> {
    let (named, widest) = room.answered()?;
    Some(answer(&room.opened()?.passage, *named, widest))
}

fn answer(passage: &Passage, named: usize, widest: &Widest) -> String {
    let cents = |width: Measure<Cents>| figure::number(Some(width.value.0), 0, false);
    let said = format!("You said {}", place(passage, named));
    let most = format!("{} had", place(passage, widest.note));
    let width = cents(widest.width);
    match widest.named.map(cents) {
        _ if named == widest.note => format!("{said}, and so it was: {width} cents."),
        Some(own) if widest.wider => format!("{said}, {own} cents; {most} most: {width}."),
        Some(own) => format!("{said}, {own} cents; {most} {width}: too close to tell apart."),
        None => format!("{said}, where no vibrato was measured; {most} most: {width} cents."),
    }
}

/// The one thing to know of a pass.
pub fn found(passage: &Passage, checked: &Checked) -> String {
    let left_out = checked.notes.iter().find(|note| note.aligned.how == How::LeftOut);
    if let Some(note) = left_out.and_then(|note| note.aligned.note) {
        return figure::sentence(&format!("{} was left out", place(passage, note)));
    }
    match checked.worst().first() {
        Some((at, difference)) => {
            let note = checked.notes[*at].aligned.note;
            let who = note.map_or_else(String::new, |note| format!("{}: ", place(passage, note)));
            figure::sentence(&format!("{who}{}", words(difference)))
        }
        None if checked.reached.0 < checked.reached.1 => {
            "As planned so far, as far as can be told.".to_owned()
        }
        None => "All notes as planned, as far as can be told.".to_owned(),
    }
}

/// "D4 in bar 2".
fn place(passage: &Passage, note: usize) -> String {
    let plan = &passage.notes()[note];
    format!("{} in bar {}", name(plan), plan.at.bar)
}

/// What was found of one note.
fn of_one(opened: &Opened, checked: &Checked, note: usize) -> String {
    let passage = &opened.passage;
    let of_note_here = |one: &&PlayedNote| one.aligned.note == Some(note);
    let played = checked.notes.iter().rev().filter(of_note_here);
    let Some(one) = played.max_by_key(|one| one.aligned.how == How::Played) else {
        return figure::sentence(&format!("{}: not reached", called(passage, note)));
    };
    let plain = match one.aligned.how {
        How::Played if one.too_short => "too short for a vibrato to be told",
        How::Played => "as planned, as far as can be told",
        How::OtherPitch => "another pitch was played",
        How::Repeated => "played twice",
        How::LeftOut => "left out",
        How::Extra => "not in the plan",
        How::Unheard => "on two strings, which are not judged",
    };
    let said = of_note(passage, one);
    figure::sentence(&said.unwrap_or_else(|| format!("{}: {plain}", called(passage, note))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_planned_is_said_in_as_few_numbers_as_it_needs() {
        let text = "instrument cello\nbeats 6 of quarter\npace 60\nbar 1 A3 1 straight, B3 1 width 25, C4 1 \
                    width 15 to 50 to 25 rate 5, D4 1 width 0 to 30, A3 1 open, A3+E4 1\n";
        let passage = Passage::from_text(text).expect("a passage");
        let said: Vec<String> = passage
            .notes()
            .iter()
            .map(|note| format!("{} {}", name(note), planned(note)))
            .collect();
        assert_eq!(said[0], "A3 straight");
        assert_eq!(said[1], "B3 25 cents");
        assert_eq!(said[2], "C4 15 to 50 to 25 cents, 5 Hz");
        assert_eq!(said[3], "D4 0 to 30 cents");
        assert_eq!(said[4], "A3 open string");
        assert!(said[5].starts_with("A3 + E4"), "{}", said[5]);
    }
}
