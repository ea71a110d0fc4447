//! The Stand as it is drawn: a picture of [`Stand`] that says what the player asked for.

use super::layout::{LEAST_WIDTH, Layout};
use super::picture::{Picture, Sounding};
use super::state::{Action, Stand};
use crate::gauge::{self, Gauge, Reading, gauge_ui};
use crate::{keys, level_meter, measures_strip, note_head, theme, trace};
use egui::{CentralPanel, Frame, Rect, ScrollArea, Ui};
use tuning::{Cents, Hz};
use vibrato::{Measure, Motion};

/// Draws the Stand over the whole window and says what was asked for.
pub fn stand_ui(ui: &mut Ui, stand: &Stand) -> Vec<Action> {
    theme::lay(ui.ctx(), stand.paper);
    let theme = stand.paper.theme();
    let mut asked = keys::pressed(ui);
    CentralPanel::default()
        .frame(Frame::new().fill(theme.paper))
        .show(ui, |ui| {
            let room = ui.available_rect_before_wrap();
            ScrollArea::both()
                .auto_shrink(false)
                .show_viewport(ui, |ui, _| {
                    let width = room.width().max(LEAST_WIDTH);
                    let height = room.height().max(Layout::least_height(width, theme));
                    let size = egui::vec2(width, height);
                    let area = Rect::from_min_size(ui.min_rect().min, size);
                    let layout = Layout::of(area, theme);
                    note_head::note_head_ui(ui, layout.note, stand, theme);
                    level_meter::level_meter_ui(ui, layout.words, stand, theme);
                    trace::trace_ui(ui, layout.trace, stand, theme);
                    gauge_ui(ui, layout.rate, &rate_gauge(stand.picture()), theme);
                    gauge_ui(ui, layout.width, &width_gauge(stand.picture()), theme);
                    measures_strip::measures_strip_ui(ui, layout.strip, stand, theme);
                    asked.extend(keys::keys_key(ui, layout.keys, theme));
                    if size != room.size() {
                        ui.allocate_rect(area, egui::Sense::hover());
                    }
                });
        });
    if stand.keys_shown {
        asked.extend(keys::keys_list(ui, theme));
    }
    asked
}

/// Rate and width of what sounds now or sounded last, and whether it is live.
enum Motions {
    Silent,
    Live(Motion),
    Last(Motion),
}

fn motions(picture: &Picture) -> Motions {
    match picture.sounding {
        Sounding::Note(live) => Motions::Live(live.motion),
        Sounding::Begun(_) => Motions::Live(Motion::Unknown),
        Sounding::Silence => match &picture.last {
            None => Motions::Silent,
            Some(note) => Motions::Last(match &note.vibrato {
                Some(vibrato) => Motion::Vibrato {
                    rate: vibrato.rate,
                    width: vibrato.width,
                },
                None if note.straight => Motion::Straight,
                None => Motion::Unknown,
            }),
        },
    }
}

fn reading(motion: Motion, value: impl Fn(Measure<Hz>, Measure<Cents>) -> Measure<f64>) -> Reading {
    match motion {
        Motion::Unknown => Reading::Unknown,
        Motion::Straight => Reading::Straight,
        Motion::Vibrato { rate, width } => {
            let Measure { value, se } = value(rate, width);
            Reading::Value { value, se }
        }
    }
}

fn read(
    picture: &Picture,
    value: impl Fn(Measure<Hz>, Measure<Cents>) -> Measure<f64>,
) -> (Reading, bool) {
    match motions(picture) {
        Motions::Silent => (Reading::Silent, false),
        Motions::Live(motion) => (reading(motion, value), true),
        Motions::Last(motion) => (reading(motion, value), false),
    }
}

fn rate_gauge(picture: &Picture) -> Gauge {
    let (reading, live) = read(picture, |rate, _| Measure {
        value: rate.value.0,
        se: rate.se.map(Hz::get),
    });
    Gauge {
        name: "rate",
        unit: "Hz",
        scale: gauge::RATE,
        decimals: 1,
        reading,
        marks: picture
            .oscillations
            .iter()
            .map(|oscillation| 1.0 / oscillation.period.0)
            .collect(),
        live,
    }
}

fn width_gauge(picture: &Picture) -> Gauge {
    let (reading, live) = read(picture, |_, width| Measure {
        value: width.value.0,
        se: width.se.map(Cents::get),
    });
    Gauge {
        name: "width",
        unit: "cents",
        scale: gauge::WIDTH,
        decimals: 0,
        reading,
        marks: picture
            .oscillations
            .iter()
            .map(|oscillation| oscillation.crest.0 - oscillation.trough.0)
            .collect(),
        live,
    }
}
