//! A note without vibrato: how true and how still it is held, and what lies near it that can be aimed at.

use crate::stand::Stand;
use crate::stand::layout::Layout;
use crate::stand::picture::{Sounding, Straight};
use crate::stand::trace::midi;
use crate::theme::Theme;
use crate::widgets::pen;
use crate::widgets::terms::explained;
use egui::{Align2, Id, Pos2, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};
use pictures::OFFSET;
use pictures::gauge::{Gauge, Reading};
use pictures::sheet::Sheet;
use tuning::{Cents, Hz, Naming, Temperament, Tuning, figure, pitch_name};

/// How far the pins of the past notes reach, in cents: the least that holds them all.
const REACHES: [f64; 3] = [15.0, 30.0, 50.0];
/// So many pins are shown.
const PINS: usize = 5;
/// A comma: what four pure fifths lie above a pure third and two octaves, 81 : 80.
const COMMA: Cents = Cents(21.506);

/// The gauge of the offset, in the place of the rate's.
pub(crate) fn offset(stand: &Stand) -> Gauge {
    let picture = stand.picture();
    let live = picture.sounding != Sounding::Silence;
    let reading = if !stand.revealed() {
        Reading::Hidden
    } else if let Some(steady) = stand.steady() {
        Reading::Value { value: steady.offset.value.0, se: steady.offset.se.map(Cents::get) }
    } else if live || picture.last.is_some() {
        Reading::Unknown
    } else {
        Reading::Silent
    };
    Gauge {
        name: "offset",
        unit: "cents",
        scale: OFFSET,
        decimals: 0,
        signed: true,
        reading,
        wanted: None,
        marks: Vec::new(),
        live: live || !stand.revealed(),
    }
}

/// What a screen reader says of drift and spread.
pub(crate) fn spoken(stand: &Stand) -> String {
    if !stand.revealed() {
        return "steadiness: hidden while you listen".to_owned();
    }
    match stand.steady() {
        None => "steadiness: no straight note long enough".to_owned(),
        Some(steady) => format!(
            "drift {} cents {}, spread {:.1} cents, over {:.1} s",
            figure::signed(steady.drift.value.0, 1),
            figure::doubt(steady.drift.se.map(Cents::get), 1),
            steady.spread.0,
            steady.length.0
        ),
    }
}

/// Draws offset and drift in the place of the gauges, and the last notes in that of the field.
pub(crate) fn steadiness_ui(ui: &mut Ui, layout: &Layout, stand: &Stand, theme: &Theme) {
    let spoken = stand.spoken_summary();
    let gauge = offset(stand);
    let response = ui.allocate_rect(layout.rate, Sense::hover());
    response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::Meter, true, &spoken.rate);
        if let Reading::Value { value, .. } = gauge.reading {
            info.value = Some(value);
        }
        info
    });
    explained(response, "offset", theme);
    let response = ui.allocate_rect(layout.width, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, &spoken.width));
    explained(response, "drift", theme);
    let steady = stand.steady().filter(|_| stand.revealed());
    let said = steady.map(|steady| {
        let doubt = |se: Option<f64>| figure::doubt(se, 1);
        let drift = steady.drift;
        [
            (
                figure::signed(steady.offset.value.0, 0),
                "offset",
                format!("cents {}", doubt(steady.offset.se.map(Cents::get))),
            ),
            (
                figure::signed(drift.value.0, 1),
                "drift",
                format!("cents {}", doubt(drift.se.map(Cents::get))),
            ),
        ]
    });
    let sounds = stand.picture().sounding != Sounding::Silence;
    match said {
        Some(said) => {
            for (area, said) in [layout.rate, layout.width].into_iter().zip(&said) {
                figure_ui(ui, area, said, sounds, theme);
            }
        }
        None => {
            let words = if !stand.revealed() {
                "hidden while you listen"
            } else if sounds && !stand.picture().swings() {
                "too short to tell yet"
            } else {
                "hold a note without vibrato"
            };
            let (font, ink) = (theme.word_font(theme.sizes.word), theme.soft_ink);
            let least = theme.sizes.scale;
            let area = layout.rate.union(layout.width);
            pen::write_lines(ui.painter(), area, words, font, least, ink);
        }
    }
    if let Some(field) = layout.field {
        pins_ui(ui, field, stand, theme);
    }
}

/// One figure with its name, its unit and its doubt.
fn figure_ui(
    ui: &Ui,
    area: Rect,
    (figure, name, unit): &(String, &str, String),
    live: bool,
    theme: &Theme,
) {
    let (painter, sizes) = (ui.painter(), &theme.sizes);
    let foot = pos2(area.left(), area.top() + sizes.figure_height);
    let ink = if live { theme.ink } else { theme.soft_ink };
    let font = theme.figure_font(sizes.figure);
    let font = pen::fitting(painter, figure, font, 0.5 * area.width());
    let slot = pen::width(painter, "+00", font.clone()).min(0.5 * area.width());
    let right = pen::write(painter, foot, figure, font, ink).max(foot.x + slot);
    let beside = pos2(right + 0.5 * sizes.word, foot.y);
    pen::write_beside(painter, beside, area.right(), (name, unit), theme);
}

/// What a note can be aimed at near where it is written, in cents above what it is held against, highest first.
fn aims(stand: &Stand, midi: i32) -> Vec<(Cents, String)> {
    let reference = stand.reference(midi).f0;
    let tuning = stand.shell.options().tuning;
    let above = |f0: Hz| f0.cents_above(reference);
    let fifths = Tuning { temperament: Temperament::PureFifths, ..tuning };
    let mut all = vec![
        (COMMA, "a comma sharp".to_owned()),
        (Cents(-COMMA.0), "a comma flat".to_owned()),
        (above(fifths.frequency(midi)), "by fifths from A".to_owned()),
    ];
    let root = stand.strings.iter().find(|&&string| (midi - string).rem_euclid(12) == 4);
    if let Some(&string) = root {
        let root = midi - 4;
        let third = Hz(stand.lines().frequency(root).0 * 5.0 / 4.0);
        let name = pitch_name(string, Naming::Scientific);
        let letter = name.trim_end_matches(|sign: char| sign.is_ascii_digit() || sign == '−');
        all.push((above(third), format!("pure third on {letter}")));
    }
    all.retain(|(cents, _)| cents.0.abs() >= 1.0);
    all.sort_by(|a, b| b.0.0.total_cmp(&a.0.0));
    all
}

/// Draws a plumb along the right end of the trace's own axis: where the note lies, with its doubt, the last notes on
/// this pitch as rings, and the names of what it can be aimed at.
pub(super) fn marks_ui(ui: &mut Ui, area: Rect, sheet: &Sheet, stand: &Stand, theme: &Theme) {
    let Some(midi) = midi(stand.picture()) else {
        return;
    };
    let (sizes, k) = (&theme.sizes, theme.sizes.grown.strokes);
    let (painter, size) = (ui.painter(), sizes.caption);
    let x = sheet.times.x.max + 22.0 * k;
    let stroke = Stroke::new(sizes.rule, theme.ink);
    painter.vline(x, sheet.y, stroke);
    let zero = stand.reference(midi).f0.cents_above(stand.shell.options().tuning.a4);
    let y = |cents: Cents| sheet.y_from_cents(Cents(zero.0 + cents.0));
    let mut free_from = sheet.y.min.max(area.top());
    for (number, (cents, name)) in aims(stand, midi).into_iter().enumerate() {
        let at = y(cents);
        if !sheet.y.contains(at) {
            continue;
        }
        painter.hline(x..=x + 14.0 * k, at, stroke);
        let top = at - 0.6 * size;
        if top < free_from || at + 0.6 * size > area.bottom() {
            continue;
        }
        free_from = at + 0.6 * size;
        let place = Rect::from_min_size(pos2(area.left(), top), vec2(area.width(), 1.2 * size));
        let response = ui.interact(place, Id::unique(("aim", number)), Sense::hover());
        let said = format!("{name}: {} cents", figure::signed(cents.0, 1));
        response.widget_info(|| WidgetInfo::labeled(Role::Note, true, &said));
        let font = pen::fitting(painter, &name, theme.word_font(size), area.width());
        painter.text(pos2(area.left(), at), Align2::LEFT_CENTER, name, font, theme.soft_ink);
    }
    for note in stand.picture().straights.iter().filter(|note| note.midi == midi) {
        let at = y(note.offset.value);
        if sheet.y.contains(at) {
            painter.circle(
                pos2(x, at),
                5.0 * k,
                theme.paper,
                Stroke::new(sizes.rule, theme.soft_ink),
            );
        }
    }
    if let Some(steady) = stand.steady() {
        let (value, at) = (steady.offset.value, y(steady.offset.value));
        if let Some(se) = steady.offset.se {
            let band = y(Cents(value.0 + se.0))..=y(Cents(value.0 - se.0));
            painter.vline(x, band, Stroke::new(12.0 * k, theme.doubt));
        }
        if sheet.y.contains(at) {
            let tip = pos2(x + 4.0 * k, at);
            let corners = vec![tip, tip + vec2(16.0, -9.0) * k, tip + vec2(16.0, 9.0) * k];
            painter.add(Shape::convex_polygon(corners, theme.ink, Stroke::NONE));
        }
    }
}

/// How far the pins reach.
fn reach<'a>(notes: impl IntoIterator<Item = &'a Straight>) -> f64 {
    let most = notes.into_iter().fold(0.0, |most: f64, note| most.max(note.offset.value.0.abs()));
    let fits = |reach: &f64| most <= *reach;
    REACHES.into_iter().find(fits).unwrap_or(REACHES[2])
}

/// Draws the last notes without vibrato on this pitch into `area`, as pins above and below a line.
fn pins_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) {
    let Some(midi) = midi(stand.picture()) else {
        return;
    };
    let name = pitch_name(midi, stand.shell.naming());
    let notes: Vec<&Straight> =
        stand.picture().straights.iter().filter(|note| note.midi == midi).collect();
    let notes = &notes[notes.len().saturating_sub(PINS)..];
    let notes = if stand.revealed() { notes } else { &[] };
    let offset = |note: &Straight| figure::signed(note.offset.value.0, 0);
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| {
        let offsets: Vec<String> = notes.iter().map(|note| offset(note)).collect();
        let said = match offsets[..] {
            [] => format!("no note without vibrato on {name} yet"),
            _ => format!(
                "the last notes without vibrato on {name}, in cents: {}",
                offsets.join(", ")
            ),
        };
        WidgetInfo::labeled(Role::Image, true, said)
    });
    if notes.is_empty() {
        return;
    }
    let (painter, sizes) = (ui.painter(), &theme.sizes);
    let size = sizes.scale;
    let caption = format!("Last notes without vibrato on {name}");
    let font = pen::fitting(painter, &caption, theme.word_font(size), area.width());
    pen::write(painter, pos2(area.left(), area.top() + size), &caption, font, theme.soft_ink);
    let plane = Rect::from_min_max(
        pos2(area.left(), area.top() + 1.7 * size),
        pos2(area.right(), area.bottom() - 1.5 * size),
    );
    let middle = plane.center().y;
    painter.hline(plane.x_range(), middle, theme.rule_stroke());
    let reach = reach(notes.iter().copied());
    let step = plane.width() / PINS as f32;
    let radius = 2.0 * sizes.mark;
    for (number, note) in notes.iter().enumerate() {
        let x = plane.left() + (number as f32 + 0.5) * step;
        let up = (note.offset.value.0 / reach).clamp(-1.0, 1.0) as f32;
        let at = Pos2::new(x, middle - up * (plane.height() / 2.0 - radius));
        painter.line_segment([pos2(x, middle), at], theme.rule_stroke());
        let newest = number + 1 == notes.len();
        let fill = if newest { theme.ink } else { theme.paper };
        painter.circle(at, radius, fill, Stroke::new(sizes.rule, theme.ink));
        let ink = if newest { theme.ink } else { theme.soft_ink };
        let foot = pos2(x, area.bottom());
        painter.text(foot, Align2::CENTER_BOTTOM, offset(note), theme.word_font(size), ink);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shell::options::Options;
    use vibrato::Measure;

    #[test]
    fn the_pins_reach_as_far_as_their_notes() {
        let note = |cents| Straight { midi: 57, offset: Measure { value: Cents(cents), se: None } };
        assert_eq!(reach(&[]), 15.0);
        assert_eq!(reach(&[note(3.0), note(-15.0)]), 15.0);
        assert_eq!(reach(&[note(3.0), note(-16.0)]), 30.0);
        assert_eq!(reach(&[note(70.0)]), 50.0);
    }

    #[test]
    fn what_can_be_aimed_at_is_computed_for_the_note() {
        let options = Options { instrument: Some("cello".to_owned()), ..Options::default() };
        let stand = Stand::new(options);
        let said = |midi| -> Vec<String> {
            let aims = aims(&stand, midi).into_iter();
            aims.map(|(cents, name)| format!("{name} {}", figure::signed(cents.0, 1))).collect()
        };
        // F♯3 lies three fifths above A but for octaves, 3 × 1.955 cents, and a third above the D string.
        let comma = ["a comma sharp +21.5", "a comma flat −21.5"];
        let own = ["by fifths from A +5.9", "pure third on D −13.7"];
        assert_eq!(said(54), [comma[0], own[0], own[1], comma[1]]);
        // A itself is where it is written.
        assert_eq!(said(57), comma);
    }
}
