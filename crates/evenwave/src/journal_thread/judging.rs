//! A part of a take, judged as rounds of a drill or as a passage, and kept with it.

use coach::follow::{Heard, How};
use coach::plan::Passage;
use coach::played::{Checked, check, of_passage};
use coach::{Aim, Drill, FindingKind, Hints, Judged, Practice, breaks_rule};
use journal::{Journal, Pace, PassNote, PassOf, TakeFile, TakeId};
use panels::journal_room::JudgedBy;
use panels::passage_room::found;
use tuning::figure::sentence;
use tuning::{Instrument, Secs, Tuning};
use vibrato::{Event, Note};

use crate::arguments::{settings, settings_of_take};
use crate::fault::Fault;
use crate::heard_file::{Wanted, hear_file};
use crate::takes::{TurnOf, rounded};
use crate::words::counted;

/// Where in a take to listen, and who is told how far that is, from 0 to 1.
struct Part<'a> {
    journal: &'a Journal,
    id: &'a TakeId,
    file: &'a TakeFile,
    ends: (Secs, Secs),
    share: &'a mut dyn FnMut(f64),
}

impl Part<'_> {
    /// Lets the ear hear it; the time in the take from which events count.
    fn hear(
        self,
        wanted: &Wanted,
        look: &mut impl FnMut(&Event, Option<&Note>),
    ) -> Result<Secs, Fault> {
        let (from, to) = self.ends;
        let wanted = Wanted { from, to: Some(to), ..*wanted };
        let length = (to.0 - from.0).max(1e-3);
        let mut look = |event: &Event, note: Option<&Note>, _| look(event, note);
        let heard =
            hear_file(&self.journal.sound(self.id), &wanted, &mut look, &mut |recording| {
                (self.share)(((recording.place_secs() - from.0) / length).clamp(0.0, 1.0));
                true
            })?;
        Ok(heard.zero)
    }
}

/// Judges it and says in words what was found.
pub(super) fn judge(
    journal: &Journal,
    id: &TakeId,
    ends: (Secs, Secs),
    by: JudgedBy,
    share: &mut dyn FnMut(f64),
) -> Result<String, Fault> {
    let file = journal.take(id)?;
    let part = Part { journal, id, file: &file, ends, share };
    let words = match by {
        JudgedBy::Drill { drill, aim, hints } => as_round(part, *drill, aim, hints)?,
        JudgedBy::Passage { name, passage } => as_passage(part, &name, &passage)?,
    };
    Ok(match journal.check_sound(id, &file) {
        Ok(()) => words,
        Err(harm) => format!("what is left of the sound was judged ({harm}): {words}"),
    })
}

fn as_round(part: Part, drill: Drill, aim: Aim, hints: Hints) -> Result<String, Fault> {
    let (journal, id, file) = (part.journal, part.id, part.file);
    let title = drill.title.clone();
    let place = drill.place(file.instrument.as_deref()).cloned().ok_or_else(|| {
        Fault::Failed(format!("the drill “{title}” has no place to be played at"))
    })?;
    let mut practice = Practice::new(drill, place, file.tuning(), hints);
    practice.aim(aim);
    let wanted = Wanted::whole(settings_of_take(file));
    let zero = part.hear(&wanted, &mut |event, note| {
        practice.hear(event, note);
    })?;
    practice.finish();
    let Some(last) = practice.done().last() else {
        return Err(Fault::Failed(format!(
            "no round of “{title}” was heard in this part; is it another drill, or another instrument?"
        )));
    };
    let turns = practice.done().iter().flat_map(|round| TurnOf::all(round, None));
    let turns: Vec<_> = turns.map(|turn| turn.written(Secs(-zero.0))).collect();
    let pace = match last.pace {
        coach::Pace::Free => None,
        coach::Pace::Beat { bpm, per_beat } => {
            Some(Pace { bpm, oscillations_per_beat: Some(per_beat) })
        }
    };
    journal.judged_as_round(id, (&practice.drill().name, pace), &turns)?;
    Ok(said(practice.drill(), practice.done().len(), last))
}

/// What was made of the last of so many rounds.
fn said(drill: &Drill, rounds: usize, last: &Judged) -> String {
    let verdict = if last.holds { "secure" } else { "not secure yet" };
    let of = match rounds {
        1 => String::new(),
        rounds => format!("{}; the last one: ", counted(rounds, "round")),
    };
    let broken = last.findings.iter().find(|finding| breaks_rule(drill, finding));
    let to_try = last.findings.iter().find(|finding| finding.kind == FindingKind::Try);
    let more = broken.map(|finding| sentence(&finding.words));
    let more = more.into_iter().chain(to_try.map(|finding| format!("To try: {}", finding.words)));
    let more: String = more.map(|words| format!(" {}", sentence(&words))).collect();
    format!("{}: {of}{verdict}.{more}", drill.title)
}

fn as_passage(part: Part, name: &str, passage: &Passage) -> Result<String, Fault> {
    let (journal, id, file) = (part.journal, part.id, part.file);
    let usual = file.tuning();
    let tuning = Tuning { a4: passage.a4.unwrap_or(usual.a4), ..usual };
    // A passage may be for an instrument that is not known here: then any bowed string may be heard.
    let instrument = Instrument::find(&passage.instrument).ok();
    let wanted = Wanted::whole(settings(tuning, instrument.as_ref()));
    let mut heard = Heard::default();
    let zero = part.hear(&wanted, &mut |event, note| heard.push(event, note))?;
    let checked = check(passage, &mut heard, None, &tuning);
    if checked.notes.iter().all(|note| matches!(note.aligned.how, How::LeftOut | How::Extra)) {
        return Err(Fault::Failed(format!(
            "no note of “{}” was heard in this part; is it another passage?",
            passage.title
        )));
    }
    let pass = pass_of((name, 0), passage, &checked, zero);
    let words = format!("{}: {}", passage.title, pass.said.join(" "));
    journal.judged_as_pass(id, &passage.title, pass)?;
    Ok(words)
}

/// What is kept of pass number `number` through the passage in the file `plan`, whose times count from `zero` in its take.
pub(crate) fn pass_of(
    (plan, number): (&str, u8),
    passage: &Passage,
    checked: &Checked,
    zero: Secs,
) -> PassOf {
    let notes = checked.notes.iter().map(|note| {
        let one = note.aligned;
        let of_plan = one.note.and_then(|note| u32::try_from(note + 1).ok());
        let at = |time: Secs| rounded(time, Secs(-zero.0));
        let (start_s, end_s) = (at(one.start), at(one.end));
        PassNote { note: of_plan, start_s, end_s, how: one.how.word().to_owned() }
    });
    let said = std::iter::once(found(passage, checked));
    PassOf {
        plan: plan.to_owned(),
        number,
        said: said.chain(of_passage(passage, checked)).collect(),
        notes: notes.collect(),
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use journal::{Context, Ended, Kept};
    use tone::{Join, Line, NoteSpec, Spec, VibratoSpec};
    use tuning::{Cents, Hz};

    use super::super::tests::folder;
    use super::*;
    use crate::drills;
    use crate::session::Session;

    /// A take of this sound of a cello, made in free playing.
    fn kept(journal: &Journal, samples: &[f32]) -> Kept {
        let context = Context { instrument: Some("cello".to_owned()), ..Context::default() };
        let mut take = journal.begin(&context, 48_000).expect("a journal");
        take.sound(samples).expect("room on the disk");
        take.finish().expect("room on the disk")
    }

    fn by_drill(name: &str) -> JudgedBy {
        let drill = Box::new(drills::find(name, None).expect("shipped"));
        JudgedBy::Drill { drill, aim: Aim::default(), hints: Hints::default() }
    }

    #[test]
    fn a_take_of_free_playing_becomes_rounds_of_a_drill_and_another_judgement_replaces_it() {
        let folder = folder("judged-round");
        let journal = Journal::open(&folder).expect("free").journal;
        let session = Session::named("stop-and-press").expect("shipped");
        let Kept { id, length_s, .. } = kept(&journal, session.samples());
        let mut shares = Vec::new();
        let ends = (Secs(0.0), Secs(length_s));
        let words = judge(&journal, &id, ends, by_drill("all-in-a-row"), &mut |share| {
            shares.push(share);
        });
        let words = words.expect("a round is in it");
        assert!(
            words.starts_with("All fingers in a row: not secure yet. ")
                && words.contains("To try: "),
            "{words}"
        );
        assert!(shares.is_sorted() && shares.last().is_some_and(|last| *last > 0.9));
        let file = journal.take(&id).expect("kept");
        let made: Vec<(u8, u32)> = file.turns.iter().map(|turn| (turn.finger, turn.made)).collect();
        assert_eq!(made, [(1, 4), (2, 4), (3, 4), (4, 4)]);
        assert_eq!((file.drill.as_deref(), file.pace_bpm), (Some("all-in-a-row"), Some(60.0)));
        let ended = || journal.entry(&id).expect("listed").ended;
        assert_eq!(ended(), Some(Ended::NotYet));
        // The wrong drill: nothing is said, and what stood stays.
        let error = judge(&journal, &id, (Secs(0.0), Secs(0.3)), by_drill("straight"), &mut |_| {});
        assert!(error.expect_err("nothing sounds there").to_string().starts_with("no round of"));
        assert_eq!(journal.take(&id).expect("kept"), file);
        // Of its second half alone: the times still count from the start of the take.
        let (half, end) = (file.turns[2].start_s - 0.1, file.turns[3].end_s + 0.5);
        judge(&journal, &id, (Secs(half), Secs(end)), by_drill("one-finger"), &mut |_| {})
            .expect("a note is in it");
        let again = journal.take(&id).expect("kept");
        assert_eq!(again.drill.as_deref(), Some("one-finger"));
        assert!(again.turns.iter().all(|turn| turn.start_s > half), "{:?}", again.turns);
        fs::remove_dir_all(&folder).ok();
    }

    #[test]
    fn a_take_of_free_playing_becomes_a_passage_with_what_was_found() {
        let folder = folder("judged-passage");
        let journal = Journal::open(&folder).expect("free").journal;
        let text = "title Three\ninstrument cello\nbeats 3 of quarter\npace 60\nclef bass\n\n\
                    bar 1  F3 1 width 30 finger 2, G3 1 width 30 finger 4, E3 1 width 30 finger 1\n";
        let passage = Passage::from_text(text).expect("well written");
        let note = |(number, midi): (usize, i32)| {
            let (f0, start) = (Tuning::default().frequency(midi), Secs(1.0 + number as f64));
            let note = NoteSpec::straight(start, Secs(1.0), f0);
            let join = if number == 0 { Join::Detached } else { Join::Legato };
            // The last one without what was planned.
            let width = if number == 2 { 0.0 } else { 30.0 };
            NoteSpec { join, ..note.with(VibratoSpec::regular(Hz(5.5), Cents(width))) }
        };
        let notes = [53, 55, 52].into_iter().enumerate().map(note).collect();
        let spec = Spec { lines: vec![Line { notes, level_db: 0.0 }], ..Spec::default() };
        let samples = spec.render().expect("a sound").samples;
        let Kept { id, length_s, .. } = kept(&journal, &samples);
        let by =
            || JudgedBy::Passage { name: "three".to_owned(), passage: Box::new(passage.clone()) };
        let ends = (Secs(0.0), Secs(length_s));
        let words = judge(&journal, &id, ends, by(), &mut |_| {}).expect("it is in it");
        let pass = journal.take(&id).expect("kept").pass.expect("judged");
        assert_eq!((pass.plan.as_str(), pass.number), ("three", 0));
        assert_eq!(words, format!("Three: {}", pass.said.join(" ")));
        assert!(pass.said[0].starts_with("E3 in bar 1: "), "{:?}", pass.said);
        let starts: Vec<f64> = pass.notes.iter().map(|note| note.start_s).collect();
        for (start, due) in starts.iter().zip([1.0, 2.0, 3.0]) {
            assert!((start - due).abs() < 0.1, "{starts:?}");
        }
        assert_eq!(journal.entry(&id).expect("listed").passage.as_deref(), Some("Three"));
        let error = judge(&journal, &id, (Secs(0.0), Secs(0.4)), by(), &mut |_| {});
        assert!(error.expect_err("nothing sounds there").to_string().starts_with("no note of"));
        fs::remove_dir_all(&folder).ok();
    }
}
