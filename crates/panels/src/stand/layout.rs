//! Where the parts of the Stand lie: head, trace and what shares its axis of time at one side, figures at the other, one
//! sentence and the buttons at the foot.
//!
//! All grows with the window. Where larger type leaves no room for all, parts fold away in the order of [`FOLDS`]:
//! first the field, then the bow line, the older of the two past notes, the newer, the oscillation strip. The note,
//! the trace, the figures, the sentence and the buttons never do, and nothing scrolls.

use crate::shell::options::Side;
use crate::theme::Theme;
use crate::widgets::button_row;
use egui::{Rect, Vec2, pos2, vec2};
use pictures::gauge;

/// A part that folds away where there is no room for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FoldingPart {
    /// The rate-width field.
    Field,
    /// The bow line.
    Bow,
    /// The older of the two notes before.
    OlderNote,
    /// The newer of them.
    NewerNote,
    /// The oscillation strip.
    Strip,
}

/// In which order parts fold away.
pub const FOLDS: [FoldingPart; 5] = [
    FoldingPart::Field,
    FoldingPart::Bow,
    FoldingPart::OlderNote,
    FoldingPart::NewerNote,
    FoldingPart::Strip,
];

/// Width of the column of figures, of the column of labels, and the room between trace and figures; these and all that
/// follow in a window of 1280 by 800 points.
const COLUMN: f32 = 376.0;
const LABELS: f32 = 80.0;
const GUTTER: f32 = 40.0;
/// The least size of the trace between its scales.
const PLOT: Vec2 = vec2(260.0, 150.0);
/// Height of the line of a past note, of the oscillation strip and of the bow line.
const PAST: f32 = 60.0;
const STRIP: f32 = 70.0;
const BOW: f32 = 52.0;
/// A trace lower than this is called low.
const LOW: f32 = 210.0;
/// Room above the head and below the buttons.
const EDGE: f32 = 12.0;
/// Gauges grow by so much at most where a field stands under them.
const GAUGE_GROWS: f32 = 1.3;

/// What the layout depends on beside the size of the window.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Needs {
    /// A band is wanted: gauges need room for it.
    pub wanted: bool,
    /// A note without vibrato: offset and drift stand in the place of the gauges, and no oscillations are drawn.
    pub straight: bool,
    /// On which side of the trace the figures stand.
    pub side: Side,
}

/// The parts of the Stand, none over another.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// The note's name, its centre and what it is measured against.
    pub note: Rect,
    /// One sentence, the beat and the level.
    pub words: Rect,
    /// All that shares the axis of time: past notes, trace, strip, bow line, axis.
    pub sheet: Rect,
    /// The lines of the notes before, the older one first.
    pub past: Vec<Rect>,
    /// The trace.
    pub trace: Rect,
    /// The oscillation strip.
    pub strip: Option<Rect>,
    /// The bow line.
    pub bow: Option<Rect>,
    /// The axis of time.
    pub time: Rect,
    /// The gauge of the rate, or the offset.
    pub rate: Rect,
    /// The gauge of the width, or the drift.
    pub width: Rect,
    /// The rate-width field, or the last notes without vibrato.
    pub field: Option<Rect>,
    /// Beside the trace, where there are no gauges: what a note without vibrato can be aimed at.
    pub marks: Option<Rect>,
    /// The buttons.
    pub bar: Rect,
}

/// Room for the labels at the left of the trace.
pub fn labels_width(theme: &Theme) -> f32 {
    (LABELS * theme.sizes.grown.strokes).max(3.4 * theme.sizes.caption)
}

/// Room at the right of the trace for the numbers of strip and bow line.
pub fn beside_width(theme: &Theme) -> f32 {
    3.4 * theme.sizes.scale
}

/// Height of the axis of time.
fn axis_height(theme: &Theme) -> f32 {
    6.0 + 1.3 * theme.sizes.scale
}

/// Height of the line of a past note.
fn past_height(theme: &Theme) -> f32 {
    (PAST * theme.sizes.grown.strokes).max(1.9 * theme.sizes.caption)
}

/// Height of the one sentence.
fn words_height(theme: &Theme) -> f32 {
    1.7 * theme.sizes.word
}

/// Height of the head: a figure, or a word and a caption beside it.
fn head_height(theme: &Theme) -> f32 {
    let sizes = &theme.sizes;
    sizes.figure_height.max(1.3 * sizes.word + 1.3 * sizes.caption) + 0.4 * sizes.caption
}

impl Layout {
    /// Lays the parts out in `area` with as few of them folded as may be.
    pub fn of(area: Rect, theme: &Theme, needs: Needs) -> Self {
        let with = |count: usize| Self::with_folded(area, theme, needs, &FOLDS[..count]);
        let fits = |layout: &Self| layout.fits(theme, needs);
        (0..FOLDS.len()).map(with).find(fits).unwrap_or_else(|| with(FOLDS.len()))
    }

    fn with_folded(area: Rect, theme: &Theme, needs: Needs, folded: &[FoldingPart]) -> Self {
        let (sizes, k) = (&theme.sizes, theme.sizes.grown.strokes);
        let inner = area.shrink2(vec2(sizes.margin, EDGE * k));
        let slot = |from: f32, to: f32| {
            Rect::from_min_max(pos2(inner.left(), from), pos2(inner.right(), to.max(from)))
        };
        let bar = slot(inner.bottom() - button_row::height(inner.height(), theme), inner.bottom());
        let words_foot = bar.top() - 0.5 * sizes.between;
        let words = slot(words_foot - words_height(theme), words_foot);
        let body = slot(inner.top(), words.top());
        let least = gauge::least_size(sizes, needs.wanted);
        let across = (COLUMN * k).max(least.x).min(0.45 * body.width());
        let (column, left) = split(body, across, GUTTER * k, needs.side);
        let (note, sheet) = left.split_top_bottom_at_y(left.top() + head_height(theme));
        let shown = |part| !folded.contains(&part);
        let mut foot = sheet.bottom() - axis_height(theme);
        let time = sheet.with_min_y(foot);
        let mut up = |height: f32| {
            let rect =
                Rect::from_min_max(pos2(sheet.left(), foot - height), pos2(sheet.right(), foot));
            foot = rect.top() - sizes.between / 2.0;
            rect
        };
        let bow = shown(FoldingPart::Bow).then(|| up((BOW * k).max(2.0 * sizes.scale)));
        let strip = shown(FoldingPart::Strip).then(|| up((STRIP * k).max(2.0 * sizes.scale)));
        let lines = [FoldingPart::OlderNote, FoldingPart::NewerNote].into_iter();
        let mut top = sheet.top();
        let past = lines.filter(|&part| shown(part)).map(|_| {
            let line = Rect::from_min_size(
                pos2(sheet.left(), top),
                vec2(sheet.width(), past_height(theme)),
            );
            top = line.bottom();
            line
        });
        let past: Vec<Rect> = past.collect();
        let mut trace =
            Rect::from_min_max(pos2(sheet.left(), top), pos2(sheet.right(), foot.max(top)));
        // No oscillations are drawn without vibrato: a low trace takes their room.
        if let Some(strip) = strip.filter(|_| needs.straight && trace.height() < LOW * k) {
            trace.max.y = strip.bottom();
        }
        let mut layout = Self {
            note,
            words,
            sheet,
            past,
            trace,
            strip: strip.filter(|_| !needs.straight),
            bow,
            time,
            rate: column,
            width: column,
            field: None,
            marks: None,
            bar,
        };
        let field = shown(FoldingPart::Field);
        if needs.straight {
            layout.straight_column(column, field, theme);
        } else {
            layout.column(column, field, least, theme);
        }
        layout
    }

    /// Two gauges, and the field under them.
    fn column(&mut self, column: Rect, field: bool, least: Vec2, theme: &Theme) {
        let between = theme.sizes.between;
        let least_field = pictures::field::least_size(&theme.sizes).y;
        let height = if field {
            let spare = column.height() - 2.0 * between - least_field;
            (spare / 2.0).clamp(least.y, GAUGE_GROWS * least.y)
        } else {
            (column.height() - between) / 2.0
        };
        let slot =
            |top: f32| Rect::from_min_size(pos2(column.left(), top), vec2(column.width(), height));
        self.rate = slot(column.top());
        self.width = slot(self.rate.bottom() + between);
        let top = self.width.bottom() + between;
        self.field = (field && column.bottom() > top).then(|| column.with_min_y(top));
    }

    /// Offset and drift above the trace, what can be aimed at beside it, and the last notes below.
    fn straight_column(&mut self, column: Rect, field: bool, theme: &Theme) {
        let between = theme.sizes.between;
        let upper = column.with_max_y(self.trace.top() - between);
        let tall = theme.sizes.figure_height + 0.6 * theme.sizes.caption;
        if upper.height() >= 2.0 * tall {
            let middle = upper.top() + (upper.height() / 2.0).min(1.7 * theme.sizes.figure_height);
            self.rate = upper.with_max_y(middle);
            self.width = upper.with_min_y(middle).with_max_y(2.0 * middle - upper.top());
        } else {
            let upper = column.with_max_y(column.top() + tall);
            let (rate, width) = upper.split_left_right_at_fraction(0.5);
            (self.rate, self.width) = (rate, width);
        }
        let beside = column.with_min_y(self.trace.top().max(self.width.bottom() + between / 2.0));
        self.marks = Some(beside.with_max_y(self.trace.bottom()));
        let pins = column.with_min_y(self.trace.bottom() + between);
        let enough = pins.height() >= 5.4 * theme.sizes.scale;
        self.field = (field && enough).then_some(pins);
    }

    /// Whether what never folds has room, and the field.
    fn fits(&self, theme: &Theme, needs: Needs) -> bool {
        let k = theme.sizes.grown.strokes;
        let field = pictures::field::least_size(&theme.sizes).y;
        let gauges =
            needs.straight || self.rate.height() >= gauge::least_size(&theme.sizes, needs.wanted).y;
        self.trace.height() >= PLOT.y * k
            && gauges
            && (needs.straight || self.field.is_none_or(|rect| rect.height() >= field))
            && self.field.is_none_or(|field| field.bottom() <= self.words.top() + 0.01)
    }
}

/// A column of this width at one side of `room`, and the rest.
fn split(room: Rect, across: f32, gap: f32, side: Side) -> (Rect, Rect) {
    match side {
        Side::Left => {
            let (column, rest) = room.split_left_right_at_x(room.left() + across);
            (column, rest.with_min_x(rest.left() + gap))
        }
        Side::Right => {
            let (rest, column) = room.split_left_right_at_x(room.right() - across);
            (column, rest.with_max_x(rest.right() - gap))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shell::options::TEXT_SCALES;
    use crate::theme::Paper;

    const SIZES: [Vec2; 8] = [
        vec2(800.0, 500.0),
        vec2(900.0, 600.0),
        vec2(1024.0, 640.0),
        vec2(1180.0, 760.0),
        vec2(1280.0, 800.0),
        vec2(1366.0, 768.0),
        vec2(1920.0, 1080.0),
        vec2(2560.0, 1440.0),
    ];

    /// The Stand in a window of this size, under the strip of the rooms.
    fn laid(window: Vec2, text_scale: f32, needs: Needs) -> (Rect, Layout) {
        let theme = Theme::in_window(Paper::Light, text_scale, window);
        let strip = (44.0 * theme.sizes.grown.strokes).max(1.6 * theme.sizes.caption);
        let area = Rect::from_min_max(pos2(0.0, strip), window.to_pos2());
        (area, Layout::of(area, &theme, needs))
    }

    fn parts(l: &Layout) -> Vec<(String, Rect)> {
        let always = [
            ("note", l.note),
            ("words", l.words),
            ("trace", l.trace),
            ("time", l.time),
            ("rate", l.rate),
            ("width", l.width),
            ("bar", l.bar),
        ];
        let folding = [("strip", l.strip), ("bow", l.bow), ("field", l.field), ("marks", l.marks)];
        let shown = folding.into_iter().filter_map(|(name, rect)| Some((name.to_owned(), rect?)));
        let past =
            l.past.iter().enumerate().map(|(number, rect)| (format!("past {number}"), *rect));
        always
            .into_iter()
            .map(|(name, rect)| (name.to_owned(), rect))
            .chain(shown)
            .chain(past)
            .collect()
    }

    #[test]
    fn no_part_lies_over_another_or_beyond_the_window() {
        for window in SIZES {
            for text_scale in TEXT_SCALES {
                for (wanted, side) in [(false, Side::Left), (true, Side::Right)] {
                    for straight in [false, true] {
                        let needs = Needs { wanted, side, straight };
                        let (area, l) = laid(window, text_scale, needs);
                        let at = format!("{window} at {text_scale}, {needs:?}");
                        let parts = parts(&l);
                        for (i, (name, part)) in parts.iter().enumerate() {
                            assert!(area.contains_rect(*part), "{name}, {at}: {part}");
                            assert!(part.is_positive(), "{name}, {at}: {part}");
                            for (other, its) in &parts[i + 1..] {
                                let over = part.intersect(*its);
                                let apart = over.width() <= 0.01 || over.height() <= 0.01;
                                assert!(apart, "{name} and {other}, {at}");
                            }
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn all_parts_are_there_from_1024_by_640_on_at_the_usual_size_of_type() {
        for window in &SIZES[2..] {
            for wanted in [false, true] {
                let (_, l) = laid(*window, 1.0, Needs { wanted, ..Needs::default() });
                assert_eq!(parts(&l).len(), 12, "{window}: {l:?}");
            }
        }
    }

    #[test]
    fn the_trace_has_room_at_every_size_of_type_and_the_field_folds_first() {
        for window in SIZES {
            for text_scale in TEXT_SCALES {
                let (_, l) = laid(window, text_scale, Needs::default());
                let k = (window.x / 1280.0).min(window.y / 800.0);
                assert!(l.trace.height() >= 0.8 * PLOT.y * k, "{window} at {text_scale}: {l:?}");
                assert!(l.trace.width() >= PLOT.x * k, "{window} at {text_scale}: {l:?}");
                let all = l.bow.is_some() && l.past.len() == 2 && l.strip.is_some();
                assert!(all || l.field.is_none(), "{window} at {text_scale}: {l:?}");
            }
        }
    }
}
