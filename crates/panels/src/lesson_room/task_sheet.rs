//! Writing the task that goes home.

use super::action::{LessonAction, TaskDraft};
use super::state::LessonRoom;
use crate::shell::notice;
use crate::widgets::form::Form;
use coach::{BPM, OSCILLATIONS, PER_BEAT, RATES_HZ, TIMES, WIDTHS, Work};
use egui::{ComboBox, Ui};
use tuning::{Cents, Hz};

/// Draws the sheet and says what was changed.
pub(super) fn task_sheet_ui(
    ui: &mut Ui,
    room: &LessonRoom,
    player: &str,
    form: &Form,
) -> Option<LessonAction> {
    let before = room.draft()?;
    let mut draft = before.clone();
    form.heading(
        ui,
        &match player {
            "" => "The task to take home".to_owned(),
            player => format!("The task for {player} to take home"),
        },
    );
    form.note(ui, notice::CAUTION);
    work(ui, room, form, &mut draft);
    pace(ui, form, &mut draft);
    count(ui, form, &mut draft);
    form.number(ui, "how often", &mut draft.task.times, TIMES.0..=TIMES.1, "times");
    bands(ui, form, &mut draft);
    form.row(ui, "a line of words", |ui, _| {
        if let Some(words) = form.field(ui, "a line of words", &draft.task.words, "") {
            draft.task.words = words;
        }
    });
    (draft != *before).then(|| LessonAction::Draft(Box::new(draft)))
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
            if let Some(passage) = form.field(ui, "passage", &draft.passage, "which bars of what") {
                draft.passage = passage;
            }
        });
        draft.task.work = Work::Passage(draft.passage.clone());
    }
}

fn pace(ui: &mut Ui, form: &Form, draft: &mut TaskDraft) {
    form.row(ui, "pace", |ui, _| {
        let mut paced = draft.task.pace.is_some();
        form.check(ui, "with the beat", &mut paced);
        if !paced {
            draft.task.pace = None;
            return;
        }
        let (mut bpm, mut per_beat) = draft.task.pace.unwrap_or((60.0, 4.0));
        form.bare_number(ui, "beats a minute", &mut bpm, BPM.0..=BPM.1, "beats a minute");
        for each in PER_BEAT {
            let said = if each < 1.0 { "1/2".to_owned() } else { format!("{each:.0}") };
            let response = ui.radio(each == per_beat, &said);
            let response = response.accessible_name(format!("oscillations a beat: {said}"));
            if form.mark(ui, response).clicked() {
                per_beat = each;
            }
        }
        ui.label("a beat");
        draft.task.pace = Some((bpm, per_beat));
    });
}

fn count(ui: &mut Ui, form: &Form, draft: &mut TaskDraft) {
    form.row(ui, "count", |ui, _| {
        let mut counted = draft.task.count.is_some();
        form.check(ui, "oscillations of each finger", &mut counted);
        if !counted {
            draft.task.count = None;
            return;
        }
        let mut count = draft.task.count.unwrap_or(4);
        let (least, most) = OSCILLATIONS;
        form.bare_number(ui, "oscillations of each finger, how many", &mut count, least..=most, "");
        draft.task.count = Some(count);
    });
}

fn bands(ui: &mut Ui, form: &Form, draft: &mut TaskDraft) {
    let task = &mut draft.task;
    form.row(ui, "rate", |ui, _| {
        let mut wanted = task.rate.is_some();
        form.check(ui, "a wanted rate", &mut wanted);
        let (low, high) = task.rate.unwrap_or((Hz(4.5), Hz(6.0)));
        let (mut low, mut high) = (low.0, high.0);
        if wanted {
            let range = RATES_HZ.0..=RATES_HZ.1;
            form.band(ui, "rate", (&mut low, &mut high), range, "Hz");
        }
        task.rate = wanted.then_some((Hz(low), Hz(high)));
    });
    form.row(ui, "width", |ui, _| {
        let mut wanted = task.width.is_some();
        form.check(ui, "a wanted width", &mut wanted);
        let (low, high) = task.width.unwrap_or((Cents(20.0), Cents(40.0)));
        let (mut low, mut high) = (low.0, high.0);
        if wanted {
            let range = WIDTHS.0..=WIDTHS.1;
            form.band(ui, "width", (&mut low, &mut high), range, "cents");
        }
        task.width = wanted.then_some((Cents(low), Cents(high)));
    });
}
