//! Straight practice: how true and how still a note without vibrato is held.

use crate::stand::Stand;
use crate::stand::picture::{Sounding, Straight};
use crate::theme::Theme;
use crate::widgets::pen;
use egui::{Align2, Painter, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2};
use pictures::OFFSET;
use pictures::gauge::{Gauge, MARKS, Reading};
use tuning::{Cents, figure, pitch_name};
use vibrato::Measure;

/// Height of a figure, as a share of its type size.
const FIGURE: f32 = 0.64;
/// How far the picture of the past notes may reach, in cents: the least that holds them all.
const REACHES: [f64; 3] = [15.0, 30.0, 50.0];

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

/// Draws drift and spread into `area`, in the place of the width's gauge.
pub(crate) fn steadiness_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) {
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, &stand.spoken_summary().width));
    if !ui.is_rect_visible(area) {
        return;
    }
    let painter = ui.painter_at(area);
    let live = stand.picture().sounding != Sounding::Silence;
    let steady = stand.steady().filter(|_| stand.revealed());
    let sizes = &theme.sizes;
    let words = match &steady {
        Some(steady) => format!("over {:.1} s, without the attack", steady.length.0),
        None if !stand.revealed() => "hidden while you listen".to_owned(),
        None if live => "too short to tell yet".to_owned(),
        None => "hold a note without vibrato".to_owned(),
    };
    let foot = 1.5 * sizes.scale;
    let fits = area.height() > 1.5 * sizes.caption + sizes.figure_height + foot;
    if fits || steady.is_none() {
        let font = pen::fitting(&painter, &words, theme.word_font(sizes.scale), area.width());
        let at = pos2(area.left(), area.bottom() - 0.5 * sizes.scale);
        pen::write(&painter, at, &words, font, theme.soft_ink);
    }
    let mut upper = area;
    upper.max.y -= if fits { foot } else { 0.0 };
    let columns = columns(upper, theme);
    let said = steady.map(|steady| {
        [
            (
                format!("drift, cents {}", figure::doubt(steady.drift.se.map(Cents::get), 1)),
                figure::signed(steady.drift.value.0, 1),
            ),
            ("spread, cents".to_owned(), format!("{:.1}", steady.spread.0)),
        ]
    });
    match said {
        Some(said) => figures(&painter, &columns, &said, live, theme),
        None => {
            for (column, caption) in columns.iter().zip(["drift", "spread"]) {
                let at = pos2(column.left(), column.top() + sizes.caption);
                pen::write(&painter, at, caption, theme.word_font(sizes.caption), theme.soft_ink);
            }
        }
    }
}

/// The places of drift and spread.
fn columns(area: Rect, theme: &Theme) -> [Rect; 2] {
    let middle = area.left() + 0.56 * area.width();
    let left = pos2(middle - theme.sizes.between, area.bottom());
    [Rect::from_min_max(area.min, left), Rect::from_min_max(pos2(middle, area.top()), area.max)]
}

/// Under each caption its figure, all of one size.
fn figures(
    painter: &Painter,
    columns: &[Rect; 2],
    said: &[(String, String); 2],
    live: bool,
    theme: &Theme,
) {
    let sizes = &theme.sizes;
    let mut small = theme.word_font(sizes.caption);
    let room = columns[0].height() - 1.5 * small.size - 4.0;
    let mut large = theme.figure_font((room / FIGURE).clamp(small.size, sizes.figure));
    for (column, (caption, figure)) in columns.iter().zip(said) {
        large = pen::fitting(painter, figure, large, 0.88 * column.width());
        small = pen::fitting(painter, caption, small, column.width());
    }
    let ink = if live { theme.ink } else { theme.soft_ink };
    for (column, (caption, figure)) in columns.iter().zip(said) {
        let foot = column.top() + sizes.caption;
        pen::write(painter, pos2(column.left(), foot), caption, small.clone(), theme.soft_ink);
        let foot = foot + 0.5 * sizes.caption + FIGURE * large.size;
        pen::write(painter, pos2(column.left(), foot), figure, large.clone(), ink);
    }
}

/// How far the picture reaches.
fn reach<'a>(notes: impl IntoIterator<Item = &'a Straight>) -> f64 {
    let most = notes.into_iter().fold(0.0, |most: f64, note| most.max(note.offset.value.0.abs()));
    let fits = |reach: &f64| most <= *reach;
    REACHES.into_iter().find(fits).unwrap_or(REACHES[2])
}

/// Draws the offsets of the last straight notes into `area`, in the place of the field.
pub(crate) fn past_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) {
    let notes = &stand.picture().straights;
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| {
        let offsets: Vec<String> = notes
            .iter()
            .map(|note| {
                let name = pitch_name(note.midi, stand.shell.naming());
                format!("{name} {}", figure::signed(note.offset.value.0, 0))
            })
            .collect();
        let said = if !stand.revealed() || offsets.is_empty() {
            "the last straight notes".to_owned()
        } else {
            format!("the last straight notes, in cents: {}", offsets.join(", "))
        };
        WidgetInfo::labeled(Role::Image, true, said)
    });
    if !ui.is_rect_visible(area) {
        return;
    }
    let small = theme.word_font(theme.sizes.scale);
    let size = theme.sizes.scale;
    let plane = Rect::from_min_max(
        pos2(area.left() + 2.4 * size, area.top() + 0.6 * size),
        pos2(area.right() - 0.6 * size, area.bottom() - 4.0 * size),
    );
    let painter = ui.painter();
    let reach = reach(notes);
    let y = |cents: f64| {
        let share = (cents / reach).clamp(-1.0, 1.0) as f32;
        plane.center().y - share * plane.height() / 2.0
    };
    let third = if reach == 50.0 { 25.0 } else { reach / 3.0 };
    for cents in [-reach, -third, 0.0, third, reach] {
        let stroke = if cents == 0.0 { theme.rule_stroke() } else { theme.hairline_stroke() };
        painter.hline(plane.x_range(), y(cents), stroke);
        let at = pos2(plane.left() - 5.0, y(cents));
        let said = figure::signed(cents, 0);
        painter.text(at, Align2::RIGHT_CENTER, said, small.clone(), theme.soft_ink);
    }
    let foot = pos2(area.left(), area.bottom() - 0.3 * size);
    let said = "your straight notes, in cents";
    let font = pen::fitting(painter, said, small.clone(), area.width());
    pen::write(painter, foot, said, font, theme.soft_ink);
    if notes.is_empty() || !stand.revealed() {
        return;
    }
    let step = plane.width() / MARKS as f32;
    for (index, note) in notes.iter().rev().enumerate() {
        let x = plane.right() - (index as f32 + 0.5) * step;
        mark(painter, x, note.offset, reach, y, index == 0, theme);
        let lower = if index % 2 == 0 { 0.0 } else { 1.2 * size };
        let at = pos2(x, plane.bottom() + 0.3 * size + lower);
        let name = pitch_name(note.midi, stand.shell.naming());
        let ink = if index == 0 { theme.ink } else { theme.soft_ink };
        painter.text(at, Align2::CENTER_TOP, name, small.clone(), ink);
    }
}

/// One note: its doubt, and a dot; a triangle at the edge where it lies beyond. The newest is full.
fn mark(
    painter: &Painter,
    x: f32,
    offset: Measure<Cents>,
    reach: f64,
    y: impl Fn(f64) -> f32,
    newest: bool,
    theme: &Theme,
) {
    let value = offset.value.0;
    let radius = 1.5 * theme.sizes.mark;
    if let Some(se) = offset.se {
        let range = y(value + se.0)..=y(value - se.0);
        let stroke = Stroke::new(2.0 * radius, theme.doubt);
        painter.vline(x, range, stroke);
    }
    let stroke = Stroke::new(theme.sizes.rule, theme.ink);
    let fill = if newest { theme.ink } else { theme.paper };
    let at = pos2(x, y(value));
    if value.abs() > reach {
        let up = if value > 0.0 { -1.0 } else { 1.0 };
        let corners = vec![
            at + egui::vec2(-radius, 0.0),
            at + egui::vec2(radius, 0.0),
            at + egui::vec2(0.0, 1.6 * up * radius),
        ];
        painter.add(Shape::convex_polygon(corners, fill, stroke));
    } else {
        painter.circle(at, radius, fill, stroke);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_past_reaches_as_far_as_its_notes() {
        let note = |cents| Straight { midi: 57, offset: Measure { value: Cents(cents), se: None } };
        assert_eq!(reach(&[]), 15.0);
        assert_eq!(reach(&[note(3.0), note(-15.0)]), 15.0);
        assert_eq!(reach(&[note(3.0), note(-16.0)]), 30.0);
        assert_eq!(reach(&[note(70.0)]), 50.0);
    }
}
