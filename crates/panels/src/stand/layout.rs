//! Where the parts of the Stand lie.

use crate::gauge::Gauge;
use crate::measures_strip::ROW;
use crate::theme::Theme;
use egui::{Rect, pos2};

/// The least width at which all parts have room, in points; a narrower window scrolls.
pub const LEAST_WIDTH: f32 = 640.0;
/// From this inner width on, the level and the words stand beside the note, not below it.
const HEAD_IN_ONE: f32 = 740.0;
/// From this inner width on, the measures of a note stand in one row.
const STRIP_IN_ONE: f32 = 840.0;
/// Width of the note's name with its centre.
const NOTE_WIDTH: f32 = 450.0;
/// Height of the level and of the words about it.
const WORDS_HEIGHT: f32 = 100.0;
/// The least height of the trace.
const TRACE_LEAST: f32 = 180.0;
/// Room for the key that opens the list of keys.
const KEYS_WIDTH: f32 = 74.0;

/// The parts of the Stand, none over another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layout {
    /// The note's name and its centre.
    pub note: Rect,
    /// Level, and words about microphone and sound.
    pub words: Rect,
    /// The trace: all the room that is left.
    pub trace: Rect,
    /// The gauge of the rate.
    pub rate: Rect,
    /// The gauge of the width.
    pub width: Rect,
    /// The measures of the last note, or a line of words.
    pub strip: Rect,
    /// The key that opens the list of keys.
    pub keys: Rect,
}

impl Layout {
    /// The least height at which all parts have room in a window of this width, in points.
    pub fn least_height(width: f32, theme: &Theme) -> f32 {
        let sizes = &theme.sizes;
        let inner = width - 2.0 * sizes.margin;
        head_height(inner, theme)
            + TRACE_LEAST
            + Gauge::height(theme)
            + strip_height(inner)
            + 2.5 * sizes.between
            + 2.0 * sizes.margin
    }

    /// Lays the parts out in `area`, which is at least [`LEAST_WIDTH`] wide and
    /// [`Self::least_height`] tall.
    pub fn of(area: Rect, theme: &Theme) -> Self {
        let sizes = &theme.sizes;
        let inner = area.shrink(sizes.margin);
        let head_foot = inner.top() + head_height(inner.width(), theme);
        let words_top = head_foot - WORDS_HEIGHT;
        let (note, words) = if inner.width() >= HEAD_IN_ONE {
            let across = inner.left() + NOTE_WIDTH;
            (
                Rect::from_min_max(inner.min, pos2(across, head_foot)),
                Rect::from_min_max(
                    pos2(across + sizes.between, words_top),
                    pos2(inner.right(), head_foot),
                ),
            )
        } else {
            (
                Rect::from_min_max(inner.min, pos2(inner.right(), words_top)),
                Rect::from_min_max(
                    pos2(inner.left(), words_top),
                    pos2(inner.right(), head_foot),
                ),
            )
        };
        let strip_top = inner.bottom() - strip_height(inner.width());
        let gauges_foot = strip_top - sizes.between;
        let gauges_top = gauges_foot - Gauge::height(theme);
        let gap = 2.0 * sizes.between;
        let half = (inner.width() - gap) / 2.0;
        Self {
            note,
            words,
            trace: Rect::from_min_max(
                pos2(inner.left(), head_foot + sizes.between / 2.0),
                pos2(inner.right(), gauges_top - sizes.between),
            ),
            rate: Rect::from_min_max(
                pos2(inner.left(), gauges_top),
                pos2(inner.left() + half, gauges_foot),
            ),
            width: Rect::from_min_max(
                pos2(inner.right() - half, gauges_top),
                pos2(inner.right(), gauges_foot),
            ),
            strip: Rect::from_min_max(
                pos2(inner.left(), strip_top),
                pos2(inner.right() - KEYS_WIDTH - sizes.between, inner.bottom()),
            ),
            keys: Rect::from_min_max(
                pos2(inner.right() - KEYS_WIDTH, strip_top + 12.0),
                pos2(inner.right(), strip_top + 44.0),
            ),
        }
    }
}

fn head_height(inner_width: f32, theme: &Theme) -> f32 {
    let note_height = theme.sizes.figure_height + 24.0;
    if inner_width >= HEAD_IN_ONE {
        note_height.max(WORDS_HEIGHT)
    } else {
        note_height + WORDS_HEIGHT
    }
}

fn strip_height(inner_width: f32) -> f32 {
    if inner_width >= STRIP_IN_ONE {
        ROW
    } else {
        2.0 * ROW
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theme::Paper;
    use egui::{Pos2, vec2};

    #[test]
    fn no_part_lies_over_another_or_beyond_the_window() {
        let theme = &Paper::Light.theme();
        let least = |width| vec2(width, Layout::least_height(width, theme));
        for size in [
            least(LEAST_WIDTH),
            least(800.0),
            vec2(900.0, 600.0),
            vec2(1280.0, 800.0),
            vec2(2560.0, 1440.0),
        ] {
            assert!(size.y >= Layout::least_height(size.x, theme), "{size}");
            let area = Rect::from_min_size(Pos2::ZERO, size);
            let l = Layout::of(area, theme);
            assert!(
                l.trace.height() >= TRACE_LEAST - 0.01,
                "{size}: {}",
                l.trace
            );
            let parts = [
                ("note", l.note),
                ("words", l.words),
                ("trace", l.trace),
                ("rate", l.rate),
                ("width", l.width),
                ("strip", l.strip),
                ("keys", l.keys),
            ];
            for (i, (name, part)) in parts.iter().enumerate() {
                assert!(area.contains_rect(*part), "{name} at {size}: {part}");
                assert!(part.is_positive(), "{name} at {size}: {part}");
                for (other, its) in &parts[i + 1..] {
                    let over = part.intersect(*its);
                    assert!(
                        over.width() <= 0.01 || over.height() <= 0.01,
                        "{name} and {other} at {size}"
                    );
                }
            }
        }
    }

    #[test]
    fn the_trace_has_the_most_room_from_900_by_600_on() {
        for size in [vec2(900.0, 600.0), vec2(1280.0, 800.0)] {
            let area = Rect::from_min_size(Pos2::ZERO, size);
            let l = Layout::of(area, &Paper::Light.theme());
            for other in [l.note, l.words, l.rate, l.strip] {
                assert!(l.trace.area() > 2.0 * other.area(), "at {size}");
            }
        }
    }
}
