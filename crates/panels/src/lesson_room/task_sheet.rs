//! Writing the task that goes home.

use super::action::{LessonAction, TaskDraft};
use super::state::LessonRoom;
use crate::shell::notice;
use crate::widgets::form::Form;
use coach::{BPM, Count, Drill, OSCILLATIONS, PER_BEAT, Pace, RATES_HZ, TIMES, WIDTHS, Work};
use egui::{ComboBox, Key, Ui};
use tuning::{Cents, Hz};

/// What is asked of who leaves.
const LEAVING: &str =
    "This task is not given yet. Enter gives it; Escape once more leaves without it.";

/// Draws the sheet and says what was changed.
pub(super) fn task_sheet_ui(
    ui: &mut Ui,
    room: &LessonRoom,
    player: &str,
    form: &Form,
) -> Vec<LessonAction> {
    let Some(before) = room.draft() else { return Vec::new() };
    let mut draft = before.clone();
    form.heading(
        ui,
        &match player {
            "" => "The task to take home".to_owned(),
            player => format!("The task for {player} to take home"),
        },
    );
    if draft.leaving {
        form.trouble(ui, LEAVING);
    }
    form.note(ui, notice::CAUTION);
    work(ui, room, form, &mut draft);
    let drill =
        room.drills().iter().find(|listed| draft.task.work == Work::Drill(listed.name.clone()));
    let drill = drill.and_then(|listed| listed.drill.as_ref().ok());
    pace(ui, form, &mut draft, drill);
    if drill.is_none_or(Drill::counts) {
        count(ui, form, &mut draft, drill);
    }
    form.number(ui, "how often", &mut draft.task.times, TIMES.0..=TIMES.1, "times");
    bands(ui, form, &mut draft, drill);
    let mut given = false;
    form.row(ui, "note to the student", |ui, _| {
        if let Some(words) = form.field(ui, "note to the student", &draft.task.words, "") {
            draft.task.words = words;
            // Enter after the last word gives the task, as its button says.
            given = ui.input(|input| input.key_pressed(Key::Enter));
        }
    });
    let changed = (draft != *before).then(|| LessonAction::Draft(Box::new(draft)));
    changed.into_iter().chain(given.then_some(LessonAction::Give)).collect()
}

/// What a drill asks for by itself.
fn asked(draft: &TaskDraft, drill: Option<&Drill>) -> Option<Hz> {
    drill.and_then(|drill| draft.task.asked_rate(drill))
}

fn work(ui: &mut Ui, room: &LessonRoom, form: &Form, draft: &mut TaskDraft) {
    let mut drill = matches!(draft.task.work, Work::Drill(_));
    if !room.drills().is_empty() {
        let all = [(true, "a drill".to_owned()), (false, "a passage".to_owned())];
        form.choice(ui, "what", &mut drill, &all);
    }
    if drill {
        form.row(ui, "drill", |ui, _| {
            let title = |name: &str| {
                let listed = room.drills().iter().find(|listed| listed.name == name);
                listed.and_then(|listed| listed.title()).unwrap_or(name).to_owned()
            };
            let combo = ComboBox::from_id_salt("drill of the task")
                .width(20.0 * form.size())
                .selected_text(title(&draft.drill))
                .show_ui(ui, |ui| {
                    for listed in room.drills() {
                        if let Some(title) = listed.title() {
                            ui.selectable_value(&mut draft.drill, listed.name.clone(), title);
                        }
                    }
                });
            let response = combo.response.accessible_name("drill of the task");
            form.mark(ui, response);
        });
        draft.task.work = Work::Drill(draft.drill.clone());
    } else {
        form.row(ui, "passage", |ui, _| {
            if let Some(passage) = form.field(ui, "passage", &draft.passage, "piece and bars") {
                draft.passage = passage;
            }
        });
        draft.task.work = Work::Passage(draft.passage.clone());
    }
}

fn pace(ui: &mut Ui, form: &Form, draft: &mut TaskDraft, drill: Option<&Drill>) {
    let own = match drill.map(|drill| drill.pace) {
        Some(Pace::Beat { bpm, per_beat }) => (bpm, per_beat),
        _ => (60.0, 4.0),
    };
    form.row(ui, "pace", |ui, _| {
        let mut paced = draft.task.pace.is_some();
        form.check(ui, "set for this task", &mut paced);
        if !paced {
            draft.task.pace = None;
            if let Some(asked) = asked(draft, drill) {
                ui.label(format!("the drill’s own: {:.1} Hz", asked.0));
            }
            return;
        }
        let (mut bpm, mut per_beat) = draft.task.pace.unwrap_or(own);
        form.bare_number(ui, "beats a minute", &mut bpm, BPM.0..=BPM.1, "beats a minute");
        for each in PER_BEAT {
            let said = if each < 1.0 { "1/2".to_owned() } else { format!("{each:.0}") };
            let response = ui.radio(each == per_beat, &said);
            let response = response.accessible_name(format!("oscillations a beat: {said}"));
            if form.mark(ui, response).clicked() {
                per_beat = each;
            }
        }
        ui.label(format!("a beat: {:.1} Hz", bpm * per_beat / 60.0));
        draft.task.pace = Some((bpm, per_beat));
    });
}

fn count(ui: &mut Ui, form: &Form, draft: &mut TaskDraft, drill: Option<&Drill>) {
    let own = match drill.map(|drill| drill.count) {
        Some(Count::Oscillations(count)) => count,
        _ => 4,
    };
    form.row(ui, "count", |ui, _| {
        let mut counted = draft.task.count.is_some();
        form.check(ui, "oscillations of each finger", &mut counted);
        if !counted {
            draft.task.count = None;
            return;
        }
        let mut count = draft.task.count.unwrap_or(own);
        let (least, most) = OSCILLATIONS;
        form.bare_number(ui, "oscillations of each finger, how many", &mut count, least..=most, "");
        draft.task.count = Some(count);
    });
}

fn bands(ui: &mut Ui, form: &Form, draft: &mut TaskDraft, drill: Option<&Drill>) {
    // A goal lies around what the beat asks for.
    let around = asked(draft, drill).map_or((4.5, 6.0), |asked| {
        let tenths = |hz: f64| (10.0 * hz).round() / 10.0;
        (tenths(0.95 * asked.0 - 0.05), tenths(1.05 * asked.0 + 0.05))
    });
    let task = &mut draft.task;
    form.row(ui, "rate", |ui, _| {
        let mut wanted = task.rate.is_some();
        form.check(ui, "goal for rate", &mut wanted);
        let (low, high) = task.rate.unwrap_or((Hz(around.0), Hz(around.1)));
        let (mut low, mut high) = (low.0, high.0);
        if wanted {
            let range = RATES_HZ.0..=RATES_HZ.1;
            form.band(ui, "rate", (&mut low, &mut high), range, "Hz");
        }
        task.rate = wanted.then_some((Hz(low), Hz(high)));
    });
    form.row(ui, "width", |ui, _| {
        let mut wanted = task.width.is_some();
        form.check(ui, "goal for width", &mut wanted);
        let (low, high) = task.width.unwrap_or((Cents(20.0), Cents(40.0)));
        let (mut low, mut high) = (low.0, high.0);
        if wanted {
            let range = WIDTHS.0..=WIDTHS.1;
            form.band(ui, "width", (&mut low, &mut high), range, "cents");
        }
        task.width = wanted.then_some((Cents(low), Cents(high)));
    });
}
