//! The sheet on which title, instrument, bar, pace, key and clef of a passage are written.

use super::{PassageAction, PlanAction, RoomContext, wording};
use crate::widgets::form::Form;
use crate::widgets::paging::{HOME_END, tell_scrolled, turn_pages};
use coach::plan::{BeatUnit, Clef, Edit, Key, Mode, PACES, Passage};
use egui::{Id, Rect, ScrollArea, Ui, UiBuilder};
use tuning::SHIPPED_INSTRUMENTS;

/// A turn of the page, as a share of the height that is seen.
const PAGE: f32 = 0.85;
/// Beats of a bar that can be chosen.
const BEATS: std::ops::RangeInclusive<u32> = 1..=64;
/// Signs before the staff.
const SHARPS: std::ops::RangeInclusive<i8> = -7..=7;

/// Draws it and says what was changed.
pub(super) fn head_sheet_ui(ui: &mut Ui, area: Rect, context: &RoomContext) -> Vec<PassageAction> {
    let Some(editing) = context.room.editing() else { return Vec::new() };
    let passage = editing.passage();
    let form = Form { theme: context.theme };
    let mut side = ui.new_child(UiBuilder::new().max_rect(area));
    form.dress(&mut side);
    let mut changes = Vec::new();
    let mut entered = false;
    ScrollArea::vertical().auto_shrink(false).show(&mut side, |ui| {
        tell_scrolled(ui);
        turn_pages(ui, PAGE * area.height(), HOME_END);
        form.heading(ui, "Title, pace and bar");
        form.row(ui, "title", |ui, _| {
            let first = first_seen(ui);
            let (title, done) = form.first_field(ui, "title", &passage.title, first);
            changes.extend(title.map(Edit::Title));
            entered = done;
        });
        changes.extend(rows(ui, &form, passage));
        if !editing.said().is_empty() {
            form.status(ui, editing.said());
        }
    });
    let changes = changes.into_iter().map(PlanAction::Make);
    // Enter after the last word goes back to the notes, as the button says.
    changes.chain(entered.then_some(PlanAction::Done)).map(PassageAction::Plan).collect()
}

/// Whether the sheet was not there in the picture before.
fn first_seen(ui: &Ui) -> bool {
    let (id, now) = (Id::unique("passage head sheet"), ui.ctx().cumulative_pass_nr());
    let before = ui.data(|data| data.get_temp::<u64>(id));
    ui.data_mut(|data| data.insert_temp(id, now));
    before.is_none_or(|before| before + 1 < now)
}

/// What is chosen beside the title.
fn rows(ui: &mut Ui, form: &Form, passage: &Passage) -> Vec<Edit> {
    let (mut instrument, mut clef) = (passage.instrument.clone(), passage.clef);
    let (mut meter, mut pace, mut key) = (passage.meter, passage.pace, passage.key);
    let shipped = SHIPPED_INSTRUMENTS.iter().map(|name| (*name).to_owned());
    let own = Some(instrument.clone()).filter(|own| shipped.clone().all(|name| name != *own));
    let all: Vec<_> = shipped.chain(own).map(|name| (name.clone(), name)).collect();
    form.choice(ui, "instrument", &mut instrument, &all);
    form.number(ui, "beats of a bar", &mut meter.beats, BEATS, "");
    form.choice(ui, "a beat is a", &mut meter.of, &units());
    form.number(ui, "pace", &mut pace.bpm, PACES, "beats a minute");
    form.choice(ui, "the pace counts a", &mut pace.unit, &units());
    form.row(ui, "metronome", |ui, _| {
        form.check(ui, "none: in your own time", &mut pace.free);
    });
    form.number(ui, "sharps, or flats below 0", &mut key.sharps, SHARPS, "");
    let modes = [Mode::Major, Mode::Minor].map(|mode| {
        let said = wording::key(Key { mode, ..key });
        (mode, said)
    });
    form.choice(ui, "key", &mut key.mode, &modes);
    let clefs = [Clef::Treble, Clef::Alto, Clef::Tenor, Clef::Bass];
    form.choice(ui, "clef", &mut clef, &clefs.map(|each| (each, wording::clef(each).to_owned())));
    if instrument != passage.instrument && clef == Clef::usual(&passage.instrument) {
        clef = Clef::usual(&instrument);
    }
    let mut changes = Vec::new();
    changes.extend((instrument != passage.instrument).then_some(Edit::Instrument(instrument)));
    changes.extend((meter != passage.meter).then_some(Edit::Meter(meter)));
    changes.extend((pace != passage.pace).then_some(Edit::Pace(pace)));
    changes.extend((key != passage.key).then_some(Edit::Key(key)));
    changes.extend((clef != passage.clef).then_some(Edit::Clef(clef)));
    changes
}

fn units() -> [(BeatUnit, String); 3] {
    [BeatUnit::Half, BeatUnit::Quarter, BeatUnit::Eighth]
        .map(|unit| (unit, wording::unit(unit).to_owned()))
}
