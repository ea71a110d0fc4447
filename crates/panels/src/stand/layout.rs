//! Where the parts of the Stand lie.
//!
//! In a wide window the gauges and the field stand in a column beside the trace, in a narrow one the
//! gauges lie side by side under it. Where there is no room for all, parts fold away in the order of
//! [`FOLDS`]: first the measures of the last note, then the field, the oscillation strip, the bow
//! line. The note, the level, the trace, the gauges and the buttons never do; a window too small even
//! for them scrolls.

use super::measures_strip;
use crate::shell::options::Side;
use crate::theme::Theme;
use crate::widgets::button_row;
use egui::{Pos2, Rect, Vec2, pos2, vec2};
use pictures::gauge;

/// A part that folds away where there is no room for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FoldingPart {
    /// The measures of the last note.
    Measures,
    /// The rate-width field.
    Field,
    /// The oscillation strip.
    Strip,
    /// The bow line.
    Bow,
}

/// In which order parts fold away.
pub const FOLDS: [FoldingPart; 4] =
    [FoldingPart::Measures, FoldingPart::Field, FoldingPart::Strip, FoldingPart::Bow];

/// The least width of a window that does not scroll, at the usual size of type.
const LEAST_WIDTH: f32 = 640.0;
/// Room for the note's name and its centre, and for the words beside them.
const NOTE_FIGURES: f32 = 310.0;
const NOTE_WORDS: f32 = 130.0;
const WORDS_WIDTH: f32 = 190.0;
/// The least size of the trace between its scales.
const PLOT: Vec2 = vec2(260.0, 150.0);
/// What strip and bow line take of the height of all that shares the axis of time, and their bounds.
const STRIP_SHARE: f32 = 0.13;
const STRIP_BOUNDS: (f32, f32) = (40.0, 96.0);
const BOW_SHARE: f32 = 0.1;
const BOW_BOUNDS: (f32, f32) = (34.0, 76.0);
/// What the column beside the trace takes of the width.
const COLUMN_SHARE: f32 = 0.3;
/// What a field under the gauges of a narrow window takes of the height.
const UNDER_SHARE: f32 = 0.26;
/// Gauges grow by so much at most where a field stands under them, once that is this tall.
const GAUGE_GROWS: f32 = 1.3;
const FIELD_FIRST: f32 = 200.0;
/// The field is not taller than this share of its width, if the gauges can use the rest.
const FIELD_TALL: f32 = 1.1;
/// By how much a window that is too small is taken for taller, until all has room.
const STEP: f32 = 4.0;

/// What the layout depends on beside the size of the window.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Needs {
    /// A band is wanted: gauges need room for it.
    pub wanted: bool,
    /// Straight practice: there are no oscillations to be drawn in a strip.
    pub straight: bool,
    /// On which side of the trace the field stands.
    pub side: Side,
}

/// The parts of the Stand, none over another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layout {
    /// The note's name, its centre and what it is measured against.
    pub note: Rect,
    /// Level, beat, and words about microphone, takes and sound.
    pub words: Rect,
    /// All that shares the axis of time: trace, strip, bow line, axis.
    pub sheet: Rect,
    /// The trace.
    pub trace: Rect,
    /// The oscillation strip.
    pub strip: Option<Rect>,
    /// The bow line.
    pub bow: Option<Rect>,
    /// The axis of time.
    pub time: Rect,
    /// The gauge of the rate.
    pub rate: Rect,
    /// The gauge of the width.
    pub width: Rect,
    /// The rate-width field.
    pub field: Option<Rect>,
    /// The measures of the last note.
    pub measures: Option<Rect>,
    /// The buttons.
    pub bar: Rect,
}

/// Lengths that depend on the type alone.
struct Lengths {
    between: f32,
    gauge: Vec2,
    field: Vec2,
    names: f32,
    cents: f32,
    axis: f32,
    lane: f32,
    straight: bool,
}

impl Lengths {
    fn of(theme: &Theme, needs: Needs) -> Self {
        Self {
            between: theme.sizes.between,
            gauge: gauge::least_size(&theme.sizes, needs.wanted),
            field: pictures::field::least_size(&theme.sizes),
            names: names_width(theme),
            cents: cents_width(theme),
            axis: axis_height(theme),
            lane: lane_height(theme),
            straight: needs.straight,
        }
    }

    fn plot_width(&self) -> f32 {
        self.names + PLOT.x + self.cents
    }
}

/// Room for the names of notes at the left of the trace.
pub fn names_width(theme: &Theme) -> f32 {
    3.0 * theme.sizes.caption
}

/// Room for the cents at the right of the trace.
pub fn cents_width(theme: &Theme) -> f32 {
    3.4 * theme.sizes.scale
}

/// Height of the axis of time.
fn axis_height(theme: &Theme) -> f32 {
    6.0 + 1.3 * theme.sizes.scale
}

/// Room for the names of notes above the trace.
pub fn lane_height(theme: &Theme) -> f32 {
    6.0 + theme.sizes.caption
}

impl Layout {
    /// The size of what is drawn in a window of size `room`: the same, or more if the parts that never
    /// fold need more; then the window scrolls.
    pub fn size(room: Vec2, theme: &Theme, needs: Needs) -> Vec2 {
        let lengths = Lengths::of(theme, needs);
        let margins = 2.0 * theme.sizes.margin;
        let least_width = (LEAST_WIDTH)
            .max(2.0 * lengths.gauge.x + 2.0 * lengths.between + margins)
            .max(note_width(theme) + margins)
            .max(WORDS_WIDTH * theme.sizes.grown.text + margins);
        let mut size = vec2(room.x.max(least_width), room.y);
        let fits = |size| {
            let area = Rect::from_min_size(Pos2::ZERO, size);
            Self::arranged(area, theme, needs).is_some()
        };
        while !fits(size) {
            size.y += STEP;
        }
        size
    }

    /// Lays the parts out in `area`, whose size is that of [`Self::size`].
    pub fn of(area: Rect, theme: &Theme, needs: Needs) -> Self {
        let mut area = area;
        loop {
            if let Some(layout) = Self::arranged(area, theme, needs) {
                return layout;
            }
            // Smaller than was asked for: what does not fit reaches beyond the foot.
            area.max.y += STEP;
        }
    }

    /// With as few parts folded as may be; `None` where even the rest has no room.
    fn arranged(area: Rect, theme: &Theme, needs: Needs) -> Option<Self> {
        (0..=FOLDS.len()).find_map(|count| {
            let folded = &FOLDS[..count];
            let frame = Frame::of(area, theme, folded);
            frame
                .with_column(theme, needs, folded)
                .or_else(|| frame.with_rows(theme, needs, folded))
        })
    }
}

fn note_width(theme: &Theme) -> f32 {
    let grown = theme.sizes.grown;
    NOTE_FIGURES * grown.figures + NOTE_WORDS * grown.text
}

/// Head, measures and buttons, and the room between them.
struct Frame {
    note: Rect,
    words: Rect,
    room: Rect,
    measures: Option<Rect>,
    bar: Rect,
}

impl Frame {
    fn of(area: Rect, theme: &Theme, folded: &[FoldingPart]) -> Self {
        let sizes = &theme.sizes;
        let inner = area.shrink(sizes.margin);
        let note_height = sizes.figure_height + 10.0 + 1.5 * sizes.caption;
        let words_height = 1.6 * sizes.caption + 2.6 * sizes.scale;
        let beside = note_width(theme) + sizes.between;
        let in_one = inner.width() >= beside + WORDS_WIDTH * sizes.grown.text;
        let (note, words) = if in_one {
            let height = note_height.max(words_height);
            let across = inner.left() + beside;
            (
                Rect::from_min_size(inner.min, vec2(beside - sizes.between, height)),
                Rect::from_min_max(
                    pos2(across, inner.top()),
                    pos2(inner.right(), inner.top() + height),
                ),
            )
        } else {
            let note = Rect::from_min_size(inner.min, vec2(inner.width(), note_height));
            let words =
                Rect::from_min_size(note.left_bottom(), vec2(inner.width(), words_height + 4.0));
            (note, words)
        };
        let bar_height = button_row::height(inner.height(), theme);
        let bar = Rect::from_min_max(pos2(inner.left(), inner.bottom() - bar_height), inner.max);
        let mut foot = bar.top() - sizes.between;
        let measures = (!folded.contains(&FoldingPart::Measures)).then(|| {
            let height = measures_strip::height(inner.width(), theme);
            let rect =
                Rect::from_min_max(pos2(inner.left(), foot - height), pos2(inner.right(), foot));
            foot = rect.top() - sizes.between / 2.0;
            rect
        });
        let room = Rect::from_min_max(
            pos2(inner.left(), words.bottom().max(note.bottom()) + sizes.between / 2.0),
            pos2(inner.right(), foot),
        );
        Self { note, words, room, measures, bar }
    }

    /// Gauges and field in a column beside the sheet.
    fn with_column(&self, theme: &Theme, needs: Needs, folded: &[FoldingPart]) -> Option<Layout> {
        let lengths = Lengths::of(theme, needs);
        let (room, gap) = (self.room, 2.0 * lengths.between);
        let least = lengths.gauge.x;
        let across = (COLUMN_SHARE * room.width()).max(least);
        if room.width() - across - gap < lengths.plot_width() {
            return None;
        }
        let (column, sheet) = split(room, across, gap, needs.side);
        let shown = !folded.contains(&FoldingPart::Field);
        let parts = if shown { 3.0 } else { 2.0 };
        let spare = column.height() - (parts - 1.0) * lengths.between;
        let least = 2.0 * lengths.gauge.y + if shown { lengths.field.y } else { 0.0 };
        if spare < least {
            return None;
        }
        let gauge = if shown {
            let first = FIELD_FIRST.max(lengths.field.y);
            let grown = ((spare - first) / 2.0).min(GAUGE_GROWS * lengths.gauge.y);
            let rest = (spare - FIELD_TALL * column.width()) / 2.0;
            grown.max(rest).max(lengths.gauge.y)
        } else {
            spare / 2.0
        };
        let slot = |top: f32, height: f32| {
            Rect::from_min_size(pos2(column.left(), top), vec2(column.width(), height))
        };
        let rate = slot(column.top(), gauge);
        let width = slot(rate.bottom() + lengths.between, gauge);
        let under = width.bottom() + lengths.between;
        let field = shown.then(|| slot(under, column.bottom() - under));
        self.with_sheet(sheet, rate, width, field, &lengths, folded)
    }

    /// Gauges side by side under the sheet; the field beside the sheet, or under all in a window that
    /// is narrow and tall.
    fn with_rows(&self, theme: &Theme, needs: Needs, folded: &[FoldingPart]) -> Option<Layout> {
        let lengths = Lengths::of(theme, needs);
        let (mut room, gap) = (self.room, 2.0 * lengths.between);
        if room.width() < 2.0 * lengths.gauge.x + gap {
            return None;
        }
        let shown = !folded.contains(&FoldingPart::Field);
        let across = (COLUMN_SHARE * room.width()).max(lengths.field.x);
        let beside = room.width() - across - gap >= lengths.plot_width();
        let mut field = None;
        if shown && !beside {
            let height = (UNDER_SHARE * room.height()).max(lengths.field.y);
            let rect = Rect::from_min_max(pos2(room.left(), room.bottom() - height), room.max);
            room.max.y = rect.top() - lengths.between;
            field = Some(rect);
        }
        let top = room.bottom() - lengths.gauge.y;
        let half = (room.width() - gap) / 2.0;
        let size = vec2(half, lengths.gauge.y);
        let rate = Rect::from_min_size(pos2(room.left(), top), size);
        let width = Rect::from_min_size(pos2(room.right() - half, top), size);
        room.max.y = top - lengths.between;
        let mut sheet = room;
        if shown && beside {
            let (column, rest) = split(room, across, gap, needs.side);
            (field, sheet) = (Some(column), rest);
        }
        if field.is_some_and(|field| field.height() < lengths.field.y) {
            return None;
        }
        self.with_sheet(sheet, rate, width, field, &lengths, folded)
    }

    /// All of it, if the trace has room.
    fn with_sheet(
        &self,
        sheet: Rect,
        rate: Rect,
        width: Rect,
        field: Option<Rect>,
        lengths: &Lengths,
        folded: &[FoldingPart],
    ) -> Option<Layout> {
        let mut foot = sheet.bottom() - lengths.axis;
        let time = Rect::from_min_max(pos2(sheet.left(), foot), sheet.max);
        let mut slot = |part, share: f32, bounds: (f32, f32)| {
            (!folded.contains(&part)).then(|| {
                let height = (share * sheet.height()).clamp(bounds.0, bounds.1);
                let rect = Rect::from_min_max(
                    pos2(sheet.left(), foot - height),
                    pos2(sheet.right(), foot),
                );
                foot = rect.top() - lengths.between / 2.0;
                rect
            })
        };
        let bow = slot(FoldingPart::Bow, BOW_SHARE, BOW_BOUNDS);
        let strip = slot(FoldingPart::Strip, STRIP_SHARE, STRIP_BOUNDS);
        let mut trace = Rect::from_min_max(sheet.min, pos2(sheet.right(), foot));
        if trace.height() < lengths.lane + PLOT.y || trace.width() < lengths.plot_width() {
            return None;
        }
        // Nothing else moves from one practice to the other.
        let strip = strip.filter(|strip| {
            if lengths.straight {
                trace.max.y = strip.bottom();
            }
            !lengths.straight
        });
        Some(Layout {
            note: self.note,
            words: self.words,
            sheet,
            trace,
            strip,
            bow,
            time,
            rate,
            width,
            field,
            measures: self.measures,
            bar: self.bar,
        })
    }
}

/// A column of this width at one side of `room`, and the rest.
fn split(room: Rect, across: f32, gap: f32, side: Side) -> (Rect, Rect) {
    let at = |left: f32, right: f32| {
        Rect::from_min_max(pos2(left, room.top()), pos2(right, room.bottom()))
    };
    match side {
        Side::Left => {
            (at(room.left(), room.left() + across), at(room.left() + across + gap, room.right()))
        }
        Side::Right => {
            (at(room.right() - across, room.right()), at(room.left(), room.right() - across - gap))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shell::options::TEXT_SCALES;
    use crate::theme::Paper;

    const SIZES: [Vec2; 12] = [
        vec2(480.0, 360.0),
        vec2(640.0, 480.0),
        vec2(800.0, 1200.0),
        vec2(900.0, 600.0),
        vec2(1024.0, 640.0),
        vec2(1080.0, 1920.0),
        vec2(1180.0, 760.0),
        vec2(1280.0, 800.0),
        vec2(1366.0, 768.0),
        vec2(1920.0, 1080.0),
        vec2(2560.0, 1440.0),
        vec2(3440.0, 1440.0),
    ];

    fn theme(window: Vec2, text_scale: f32) -> Theme {
        Theme::in_window(Paper::Light, text_scale, window)
    }

    fn parts(l: &Layout) -> Vec<(&'static str, Rect)> {
        let always = [
            ("note", l.note),
            ("words", l.words),
            ("trace", l.trace),
            ("time", l.time),
            ("rate", l.rate),
            ("width", l.width),
            ("bar", l.bar),
        ];
        let folding =
            [("strip", l.strip), ("bow", l.bow), ("field", l.field), ("measures", l.measures)];
        let shown = folding.into_iter().filter_map(|(name, rect)| Some((name, rect?)));
        always.into_iter().chain(shown).collect()
    }

    /// The window as it is drawn: it scrolls if it is too small.
    fn laid(window: Vec2, text_scale: f32, needs: Needs) -> (Rect, Layout) {
        let theme = theme(window, text_scale);
        let size = Layout::size(window, &theme, needs);
        let area = Rect::from_min_size(Pos2::ZERO, size);
        (area, Layout::of(area, &theme, needs))
    }

    #[test]
    fn no_part_lies_over_another_or_beyond_the_window() {
        for window in SIZES {
            for text_scale in TEXT_SCALES {
                for (wanted, side) in [(false, Side::Left), (true, Side::Right)] {
                    let needs = Needs { wanted, side, straight: wanted && text_scale == 1.0 };
                    let (area, l) = laid(window, text_scale, needs);
                    let at = format!("{window} at {text_scale}, {needs:?}");
                    let parts = parts(&l);
                    for (i, (name, part)) in parts.iter().enumerate() {
                        assert!(area.contains_rect(*part), "{name}, {at}: {part}");
                        assert!(part.is_positive(), "{name}, {at}: {part}");
                        for (other, its) in &parts[i + 1..] {
                            let over = part.intersect(*its);
                            assert!(
                                over.width() <= 0.01 || over.height() <= 0.01,
                                "{name} and {other}, {at}"
                            );
                        }
                    }
                    for inside in [Some(l.trace), l.strip, l.bow, Some(l.time)] {
                        assert!(inside.is_none_or(|part| l.sheet.contains_rect(part)), "{at}");
                    }
                }
            }
        }
    }

    #[test]
    fn nothing_scrolls_in_the_windows_it_is_made_for() {
        for window in [vec2(1024.0, 640.0), vec2(2560.0, 1440.0)] {
            for text_scale in [1.0, 1.5, 2.0] {
                for wanted in [false, true] {
                    let needs = Needs { wanted, ..Needs::default() };
                    let (area, l) = laid(window, text_scale, needs);
                    assert_eq!(area.size(), window, "at {text_scale}: {l:?}");
                }
            }
        }
    }

    #[test]
    fn parts_fold_away_in_the_stated_order() {
        let mut seen = Vec::new();
        for height in (360..1200).step_by(8) {
            for width in [700.0, 1024.0, 1180.0, 1600.0] {
                let (_, l) = laid(vec2(width, height as f32), 1.0, Needs::default());
                let shown =
                    [l.measures.is_some(), l.field.is_some(), l.strip.is_some(), l.bow.is_some()];
                let folded = shown.iter().take_while(|shown| !**shown).count();
                assert!(
                    shown[folded..].iter().all(|shown| *shown),
                    "{width} x {height}: {shown:?}"
                );
                seen.push(folded);
            }
        }
        for count in 0..=FOLDS.len() {
            assert!(seen.contains(&count), "{count} folded: never");
        }
    }

    #[test]
    fn all_parts_are_there_in_an_ordinary_window() {
        for window in [vec2(1180.0, 760.0), vec2(1366.0, 768.0), vec2(2560.0, 1440.0)] {
            let (_, l) = laid(window, 1.0, Needs::default());
            assert_eq!(parts(&l).len(), 11, "{window}: {l:?}");
        }
    }

    #[test]
    fn the_trace_has_the_most_room_from_1024_by_640_on() {
        for window in &SIZES[4..] {
            let (_, l) = laid(*window, 1.0, Needs::default());
            for (name, other) in parts(&l) {
                let times = l.trace.area() / other.area();
                let least = if name == "field" { 1.3 } else { 2.0 };
                assert!(name == "trace" || times > least, "{name} at {window}: {times}");
            }
        }
    }
}
