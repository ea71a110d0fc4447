//! A drill that is open: figure, pace and count in large figures, what can be changed, when a round
//! holds.

use super::commands::{CALIBRATE, COUNT_DOWN, COUNT_UP, FASTER, FEWER_A_BEAT, MORE_A_BEAT, SLOWER};
use super::limits::{may_count, may_pace, per_beats};
use super::{DrillAction, RoomContext, wording};
use crate::shell::keys::Entry;
use crate::shell::notice;
use crate::widgets::form::Form;
use crate::widgets::paging::{HOME_END, tell_scrolled, turn_pages};
use crate::widgets::pen;
use coach::{BESIDE_CENTS, BPM, Count, Drill, GapLimit, Kind, OSCILLATIONS, Pace};
use egui::{Id, Rect, Role, ScrollArea, Sense, Ui, UiBuilder, WidgetInfo, pos2, vec2};
use tuning::{figure, pitch_name};

/// What a rule starts with when it is asked for anew: as drill files have it by default.
const PACE_OFF: f64 = 10.0;
const POINTS: f64 = 10.0;
/// What the figure takes of the width where pace and count stand beside it.
const FIGURE: f32 = 0.44;
const PACE: f32 = 0.34;
/// A page so narrow for its type has pace and count under the figure.
const NARROW: f32 = 36.0;
/// A turn of the page, as a share of the height that is seen.
const PAGE: f32 = 0.6;

/// Draws the page into `area`.
pub(super) fn ready_ui(
    ui: &mut Ui,
    area: Rect,
    context: &RoomContext,
    actions: &mut Vec<DrillAction>,
) {
    let Some(drill) = context.room.drill() else {
        return;
    };
    let form = Form { theme: context.theme };
    let mut inner = ui.new_child(UiBuilder::new().max_rect(area));
    form.dress(&mut inner);
    ScrollArea::vertical().id_salt("ready").auto_shrink(false).show(&mut inner, |ui| {
        tell_scrolled(ui);
        head_ui(ui, drill, context, &form);
        figures_ui(ui, drill, context);
        holds_ui(ui, drill, context);
        travel_ui(ui, context, &form);
        ui.add_space(0.5 * context.theme.sizes.between);
        changes_ui(ui, drill, context, &form, actions);
        rules_ui(ui, drill, context, &form, actions);
        hints_ui(ui, context, &form, actions);
    });
}

/// Title, what to do, and what became of the last round.
fn head_ui(ui: &mut Ui, drill: &Drill, context: &RoomContext, form: &Form) {
    let theme = context.theme;
    let text = egui::RichText::new(&drill.title)
        .font(theme.figure_font(theme.sizes.big_word))
        .color(theme.ink);
    ui.add(egui::Label::new(text).wrap());
    form.note(ui, &format!("{} {}", drill.about, notice::CAUTION));
    if let Some(task) = context.room.task.as_ref().filter(|task| task.drill == drill.name) {
        form.status(ui, &task.said());
    }
    if let Some(remark) = context.room.remark() {
        form.trouble(ui, remark);
    }
}

/// Fingers, pace and count, to be read from the chair.
fn figures_ui(ui: &mut Ui, drill: &Drill, context: &RoomContext) {
    let sizes = &context.theme.sizes;
    let width = ui.available_width();
    let narrow = width < NARROW * sizes.word;
    let one = 1.05 * sizes.figure_height + 1.9 * sizes.caption + sizes.between;
    let height = if narrow { 2.0 * one } else { one };
    let (area, _) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    let (figure, beside) = if narrow {
        area.split_top_bottom_at_fraction(0.5)
    } else {
        area.split_left_right_at_fraction(FIGURE)
    };
    fingers_ui(ui, figure, context);
    let share = if narrow { 0.6 } else { PACE / (1.0 - FIGURE) };
    let (pace, count) = beside.split_left_right_at_fraction(share);
    pace_ui(ui, pace, drill, context);
    count_ui(ui, count, drill, context);
}

/// The figure with the note under each finger.
fn fingers_ui(ui: &Ui, area: Rect, context: &RoomContext) {
    let Some(place) = context.room.practice().map(coach::Practice::place) else {
        return;
    };
    let theme = context.theme;
    let sizes = &theme.sizes;
    let naming = context.shell.naming();
    let fingers = &place.fingers;
    let note = |finger: &u8| {
        let midi = place.hand.get(finger).copied();
        midi.map_or_else(String::new, |midi| pitch_name(midi, naming))
    };
    let response = ui.interact(area, Id::unique("figure"), Sense::hover());
    response.widget_info(|| {
        let notes: Vec<String> = fingers.iter().map(note).collect();
        let said = format!(
            "fingers {}, notes {}, {}",
            wording::figure(fingers),
            notes.join(" "),
            place.place
        );
        WidgetInfo::labeled(Role::Label, true, said)
    });
    let painter = ui.painter_at(area.expand(3.0));
    let wide = ((area.width() - sizes.between) / fingers.len().max(1) as f32)
        .min(1.15 * sizes.figure_height.max(2.6 * sizes.caption));
    let font = theme.figure_font(sizes.figure.min(1.5 * wide));
    let foot = area.top() + 1.05 * sizes.figure_height;
    for (number, finger) in fingers.iter().enumerate() {
        let middle = area.left() + (number as f32 + 0.5) * wide;
        let sign = wording::sign(*finger);
        let left = middle - pen::width(&painter, &sign, font.clone()) / 2.0;
        pen::write(&painter, pos2(left, foot), &sign, font.clone(), theme.ink);
        if number > 0 {
            let x = middle - wide / 2.0;
            let dash = 0.09 * wide;
            let stroke = egui::Stroke::new(sizes.value, theme.rule);
            painter.hline(x - dash..=x + dash, foot - 0.3 * font.size, stroke);
        }
        let name = note(finger);
        let small = theme.word_font(sizes.caption);
        let small = pen::fitting(&painter, &name, small, 0.94 * wide);
        let left = middle - pen::width(&painter, &name, small.clone()) / 2.0;
        let under = foot + 1.25 * sizes.caption;
        pen::write(&painter, pos2(left, under), &name, small, theme.soft_ink);
    }
}

fn pace_ui(ui: &Ui, area: Rect, drill: &Drill, context: &RoomContext) {
    let theme = context.theme;
    let sizes = &theme.sizes;
    let response = ui.interact(area, Id::unique("pace"), Sense::hover());
    let spoken = wording::pace(drill);
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("pace: {spoken}")));
    let painter = ui.painter_at(area.expand(3.0));
    let foot = area.top() + 1.05 * sizes.figure_height;
    let (large, caption, size) = match drill.pace {
        // Its first letter rises above the figures.
        Pace::Free => ("free".to_owned(), "pace", 0.85 * sizes.figure),
        Pace::Beat { bpm, .. } => (format!("{bpm:.0}"), "beats a minute", sizes.figure),
    };
    let font = theme.figure_font(size);
    let at = pos2(area.left(), foot);
    let right = pen::write(&painter, at, &large, font, theme.ink) + 0.5 * sizes.word;
    let small = theme.word_font(sizes.caption);
    let space = area.right() - right - sizes.between;
    let small = pen::fitting(&painter, caption, small, space.max(1.0));
    pen::write(&painter, pos2(right, foot), caption, small, theme.soft_ink);
    let rate = wording::rate(drill);
    let under = pos2(area.left(), foot + 1.35 * sizes.caption);
    let small = theme.word_font(1.1 * sizes.caption);
    let small = pen::fitting(&painter, &rate, small, area.width() - sizes.between);
    pen::write(&painter, under, &rate, small, theme.ink);
}

fn count_ui(ui: &Ui, area: Rect, drill: &Drill, context: &RoomContext) {
    let theme = context.theme;
    let sizes = &theme.sizes;
    let first = context.room.fingers().first().copied().unwrap_or_default();
    let beats = drill
        .turn_length(first)
        .zip(drill.pace.beat())
        .map(|(turn, beat)| (turn.0 / beat.0).round());
    let counts = context.room.practice().map(coach::Practice::asked);
    let (large, caption) = match (counts.and_then(wording::counts), beats) {
        (Some((least, most)), _) if least == most => {
            (least.to_string(), "oscillations on each finger")
        }
        (Some((least, most)), _) if matches!(drill.kind, Kind::OneBow { .. }) => {
            (format!("{least}–{most}"), "oscillations, one bow")
        }
        (Some((least, most)), _) => (format!("{least}–{most}"), "oscillations on each finger"),
        (None, Some(beats)) => (format!("{beats:.0}"), "beats on each finger"),
        (None, None) => return,
    };
    let response = ui.interact(area, Id::unique("asked count"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("{large} {caption}")));
    let painter = ui.painter_at(area.expand(3.0));
    let foot = pos2(area.left(), area.top() + 1.05 * sizes.figure_height);
    pen::write(&painter, foot, &large, theme.figure_font(sizes.figure), theme.ink);
    let under = pos2(area.left(), foot.y + 1.35 * sizes.caption);
    let small = theme.word_font(sizes.caption);
    let small = pen::fitting(&painter, caption, small, area.width());
    pen::write(&painter, under, caption, small, theme.soft_ink);
}

/// When a round holds, in words.
fn holds_ui(ui: &mut Ui, drill: &Drill, context: &RoomContext) {
    let said = format!(
        "A round is secure when {}.",
        wording::rules(drill, context.room.fingers()).join("; ")
    );
    let text = egui::RichText::new(said).color(context.theme.ink);
    ui.add(egui::Label::new(text).wrap());
}

/// How far the finger goes for the widths that are asked for, on the instrument that was chosen.
fn travel_ui(ui: &mut Ui, context: &RoomContext, form: &Form) {
    let Some(practice) = context.room.practice() else {
        return;
    };
    let Ok(Some(instrument)) = context.shell.options().instrument() else {
        return;
    };
    if let Some(said) = wording::travel(practice.asked(), practice.tuning(), &instrument) {
        form.note(ui, &said);
    }
}

/// What can be changed: pace, count, fingers.
fn changes_ui(
    ui: &mut Ui,
    drill: &Drill,
    context: &RoomContext,
    form: &Form,
    actions: &mut Vec<DrillAction>,
) {
    let keys = |name: &str, first: &Entry, second: &Entry| {
        let map = &context.shell.options().keys;
        let shown = |entry| map.shown(entry).unwrap_or("");
        format!("{name}: {}, {}", shown(first), shown(second))
    };
    if let (Pace::Beat { bpm, .. }, true) = (drill.pace, may_pace(drill)) {
        let name = keys("beats a minute", &FASTER.entry, &SLOWER.entry);
        form.row(ui, &name, |ui, _| {
            let shown = bpm.round() as u32;
            let mut now = shown;
            let range = BPM.0 as u32..=BPM.1 as u32;
            form.bare_number(ui, "beats a minute", &mut now, range, "");
            if now != shown {
                actions.push(DrillAction::Pace(f64::from(now)));
            }
            let (below, above) = context.room.levels();
            for (level, word) in [(below, "down to"), (above, "up to")] {
                if let Some(level) = level {
                    let text = format!("{word} {level:.0}");
                    if form.button(ui, &text, &format!("{word} level {level:.0}"), true) {
                        actions.push(DrillAction::Level(level));
                    }
                }
            }
            if context.room.moves() {
                ui.label("the level moves with the rounds");
            }
        });
    }
    let choices = per_beats(drill);
    if let (Pace::Beat { per_beat, .. }, false) = (drill.pace, choices.is_empty()) {
        let name = keys("on a beat", &FEWER_A_BEAT.entry, &MORE_A_BEAT.entry);
        form.row(ui, &name, |ui, _| {
            for each in choices {
                let said = wording::per_beat(each);
                let response = ui.radio(each == per_beat, &said);
                let response = response.accessible_name(format!("{said} oscillations a beat"));
                if form.mark(ui, response).clicked() {
                    actions.push(DrillAction::PerBeat(each));
                }
            }
            ui.label("oscillations");
        });
    }
    let first = context.room.fingers().first().copied().unwrap_or_default();
    if let Some(count) = drill.oscillations(first).filter(|_| may_count(drill)) {
        let name = keys("on each finger", &COUNT_UP.entry, &COUNT_DOWN.entry);
        form.row(ui, &name, |ui, _| {
            let mut now = count;
            let range = OSCILLATIONS.0..=OSCILLATIONS.1;
            form.bare_number(ui, "oscillations on each finger", &mut now, range, "oscillations");
            if now != count {
                actions.push(DrillAction::Count(now));
            }
            if matches!(drill.count, Count::Fingers(_)) {
                ui.label("each finger has its own; a change sets all");
            }
        });
    }
    fingers_row(ui, context, form, actions);
}

fn fingers_row(ui: &mut Ui, context: &RoomContext, form: &Form, actions: &mut Vec<DrillAction>) {
    let Some(place) = context.room.practice().map(coach::Practice::place) else {
        return;
    };
    form.row(ui, "fingers: number keys", |ui, _| {
        for finger in place.hand.keys() {
            let text = format!("+ {}", wording::sign(*finger));
            if form.button(ui, &text, &format!("add {}", wording::finger(*finger)), true) {
                let mut fingers = place.fingers.clone();
                fingers.push(*finger);
                actions.push(DrillAction::Fingers(fingers));
            }
        }
        let many = place.fingers.len() > 1;
        if form.button(ui, "remove last finger", "remove the last finger", many) {
            let fingers = place.fingers[..place.fingers.len() - 1].to_vec();
            actions.push(DrillAction::Fingers(fingers));
        }
        ui.label(&place.place);
    });
}

/// The rules by which a round holds, and what can be changed of them.
fn rules_ui(
    ui: &mut Ui,
    drill: &Drill,
    context: &RoomContext,
    form: &Form,
    actions: &mut Vec<DrillAction>,
) {
    let mut rules = drill.rules;
    let moves = !matches!(drill.kind, Kind::Straight { .. } | Kind::Bloom { .. });
    let fingers = context.room.fingers();
    if !moves && !wording::may_gap(drill, fingers) && !wording::note_is_asked(drill) {
        return;
    }
    form.part(ui, "What counts as secure");
    if moves && drill.counts() {
        rule_ui(ui, form, "the count", &mut rules.count_off, 0, |ui, off| {
            form.bare_number(ui, "oscillations a count may be off", off, 0..=8, "off at most");
        });
    }
    if wording::may_gap(drill, fingers) {
        let rate = drill.pace.rate();
        rule_ui(ui, form, "gaps", &mut rules.gap_below, GapLimit::Usual, |ui, gap| {
            let was = wording::gap_pct(*gap, rate);
            let mut pct = was;
            form.bare_number(ui, "gaps shorter than", &mut pct, 10..=800, "% of an oscillation");
            if pct != was {
                *gap = GapLimit::Oscillations(0.01 * f64::from(pct));
            }
        });
    }
    if moves && wording::several(fingers) {
        let spread = &mut rules.spread_above_best;
        rule_ui(ui, form, "evenness", spread, POINTS, |ui, points| {
            let name = "points of spread above the best finger’s";
            whole_ui(ui, form, name, points, 1..=60, "points");
        });
    }
    if moves && wording::rate_is_asked(drill) {
        rule_ui(ui, form, "pace", &mut rules.pace_off_pct, PACE_OFF, |ui, most| {
            let name = "percent the rate may lie off the beat’s";
            whole_ui(ui, form, name, most, 2..=100, "%");
        });
    }
    if wording::note_is_asked(drill) {
        rule_ui(ui, form, "intonation", &mut rules.beside_cents, BESIDE_CENTS, |ui, most| {
            let name = "cents a finger may lie beside its note";
            whole_ui(ui, form, name, most, 2..=50, "cents");
        });
    }
    if rules != drill.rules {
        actions.push(DrillAction::Rules(rules));
    }
}

/// A number that is set in whole steps; what a file says more exactly stays until it is set.
fn whole_ui(
    ui: &mut Ui,
    form: &Form,
    name: &str,
    value: &mut f64,
    range: std::ops::RangeInclusive<u32>,
    unit: &str,
) {
    let mut whole = value.round() as u32;
    form.bare_number(ui, name, &mut whole, range, unit);
    if f64::from(whole) != value.round() {
        *value = f64::from(whole);
    }
}

/// A rule that can be asked for or not.
fn rule_ui<T: Copy>(
    ui: &mut Ui,
    form: &Form,
    name: &str,
    value: &mut Option<T>,
    usual: T,
    body: impl FnOnce(&mut Ui, &mut T),
) {
    form.row(ui, name, |ui, _| {
        let mut on = value.is_some();
        let response = ui.checkbox(&mut on, "asked for");
        let response = response.accessible_name(format!("{name}: asked for"));
        form.mark(ui, response);
        *value = on.then(|| value.unwrap_or(usual));
        if let Some(value) = value {
            body(ui, value);
        }
    });
}

/// Cautions, and what the beat needs to be judged by.
fn hints_ui(ui: &mut Ui, context: &RoomContext, form: &Form, actions: &mut Vec<DrillAction>) {
    form.part(ui, "Before you start");
    form.note(
        ui,
        "Click and guide tone start quiet. Use headphones, so that only you are heard, and check their level first.",
    );
    form.row(ui, "delay of the sound", |ui, _| {
        actions.extend(CALIBRATE.button_ui(ui, form, context.room, context.shell));
        let said = match (context.room.calibration(), context.shell.options().delay()) {
            (Some(words), _) => figure::sentence(words),
            (None, Some(delay)) => format!("{:.0} ms, measured", delay.0 * 1000.0),
            (None, None) => {
                "not measured: counts and rates are judged, not whether they fall on the beat"
                    .to_owned()
            }
        };
        ui.add(egui::Label::new(said).wrap());
    });
    turn_pages(ui, PAGE * ui.clip_rect().height(), HOME_END);
}
