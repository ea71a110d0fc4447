//! A gauge: a large figure, and below it a scale with the live value, its doubt as a soft band and
//! the last oscillations as fading marks.

use crate::theme::Theme;
use crate::widgets::pen;
use egui::{Align2, Painter, Rect, Role, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, pos2, vec2};
use tuning::figure;

/// How many past oscillations the gauges show.
pub(crate) const MARKS: usize = 12;

/// How values lie along the rail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scale {
    /// The value at the left end.
    pub foot: f64,
    /// The value at the right end.
    pub top: f64,
    /// Values lie by their square root, so that small ones have room; the left end is 0 then.
    pub by_root: bool,
    /// Where strokes stand.
    pub strokes: &'static [f64],
    /// Which of them are written out.
    pub written: &'static [f64],
}

/// Oscillations per second: what is measured reaches from 0.5 to 10 Hz.
pub(crate) const RATE: Scale = Scale {
    foot: 0.0,
    top: 10.0,
    by_root: false,
    strokes: &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0],
    written: &[0.0, 2.0, 4.0, 6.0, 8.0, 10.0],
};

/// Cents from crest to trough: what is measured reaches from 4 to 250 cents.
pub(crate) const WIDTH: Scale = Scale {
    foot: 0.0,
    top: 250.0,
    by_root: true,
    strokes: &[0.0, 5.0, 10.0, 20.0, 30.0, 40.0, 60.0, 80.0, 100.0, 150.0, 200.0, 250.0],
    written: &[0.0, 10.0, 20.0, 40.0, 60.0, 100.0, 150.0, 250.0],
};

impl Scale {
    /// Where `value` lies, from 0 at the left end to 1 at the right; what lies beyond stays there.
    pub(crate) fn share(&self, value: f64) -> f32 {
        let share = ((value - self.foot) / (self.top - self.foot)).clamp(0.0, 1.0);
        (if self.by_root { share.sqrt() } else { share }) as f32
    }

    /// The value that lies there.
    pub(crate) fn value(&self, share: f32) -> f64 {
        let share = f64::from(share.clamp(0.0, 1.0));
        self.foot + (self.top - self.foot) * if self.by_root { share * share } else { share }
    }
}

/// What a gauge shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Reading {
    /// Nothing sounds and nothing has sounded.
    Silent,
    /// The ear comes before the eye.
    Hidden,
    /// A note sounds, and it is too early to tell.
    Unknown,
    /// No vibrato, but something else: "straight".
    Said(&'static str),
    /// A value with its standard error.
    Value {
        /// The value.
        value: f64,
        /// Its standard error, if it can be told.
        se: Option<f64>,
    },
}

/// One gauge with what it shows.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Gauge {
    /// What is measured.
    pub name: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// How values lie along the rail.
    pub scale: Scale,
    /// Decimals of the large figure.
    pub decimals: usize,
    /// The figure has a sign: it is a distance upwards or downwards.
    pub signed: bool,
    /// What is shown.
    pub reading: Reading,
    /// The band the player wants to stay in.
    pub wanted: Option<(f64, f64)>,
    /// The values of the last oscillations, oldest first.
    pub marks: Vec<f64>,
    /// It belongs to the note that sounds now; otherwise to the last one.
    pub live: bool,
}

/// The least height of the lane above the rail (past oscillations, doubt, live value), and by how
/// much it grows where there is room.
const LANE: f32 = 20.0;
const LANE_GROWS: f32 = 30.0;
/// The head of the live value: half its width, and its height.
const HEAD: f32 = 7.0;
/// Room between figure and lane.
const UNDER_FIGURE: f32 = 7.0;
/// What the widest figure and its unit need.
const FIGURE_WIDTH: f32 = 152.0;
const UNIT_WIDTH: f32 = 6.0;

/// The least size of a gauge, with room for a wanted band if one is.
pub(crate) fn least_size(theme: &Theme, wanted: bool) -> Vec2 {
    let sizes = &theme.sizes;
    let bracket = if wanted { bracket_height(theme) } else { 0.0 };
    let strokes = sizes.grown.strokes;
    vec2(
        FIGURE_WIDTH * sizes.grown.figures + UNIT_WIDTH * sizes.word,
        sizes.figure_height + UNDER_FIGURE + bracket + (HEAD + LANE) * strokes + foot(theme),
    )
}

/// The bounds of a wanted band are written no larger than this, at the usual size of pens.
const WANTED: f32 = 20.0;

fn wanted_size(theme: &Theme) -> f32 {
    theme.sizes.scale.min(WANTED * theme.sizes.grown.strokes)
}

/// Height of the mark of a wanted band.
fn bracket_height(theme: &Theme) -> f32 {
    1.2 * wanted_size(theme)
}

/// Room for strokes and numbers under the rail.
fn foot(theme: &Theme) -> f32 {
    9.0 + 1.15 * theme.sizes.scale
}

/// Where the parts of a gauge lie.
struct Places {
    /// Foot of the large figure.
    figure: f32,
    /// Height of the lane above the rail.
    lane: f32,
    /// The rail.
    rail: Rect,
}

impl Places {
    fn of(area: Rect, gauge: &Gauge, theme: &Theme) -> Self {
        let wanted = gauge.wanted.is_some();
        let sizes = &theme.sizes;
        let strokes = sizes.grown.strokes;
        let spare = (area.height() - least_size(theme, wanted).y).max(0.0);
        let grown = spare.min(LANE_GROWS * strokes);
        let lane = LANE * strokes + grown;
        let figure = area.top() + (spare - grown) / 2.0 + sizes.figure_height;
        let bracket = if wanted { bracket_height(theme) } else { 0.0 };
        let top = figure + UNDER_FIGURE + bracket + HEAD * strokes + lane;
        // Half of the number at each end, of two and three signs.
        let (left, right) =
            (if gauge.signed { 0.95 } else { 0.4 } * sizes.scale, 0.95 * sizes.scale);
        Self {
            figure,
            lane,
            rail: Rect::from_min_max(
                pos2(area.left() + left, top),
                pos2(area.right() - right, top + 1.0),
            ),
        }
    }
}

impl Gauge {
    /// The value as it is written.
    fn said(&self, value: f64) -> String {
        figure::number(Some(value), self.decimals, self.signed)
    }

    /// What a screen reader says.
    pub(crate) fn spoken(&self) -> String {
        let of =
            if self.live || self.reading == Reading::Silent { "" } else { " of the last note" };
        let name = self.name;
        match self.reading {
            Reading::Silent => format!("{name}: no note"),
            Reading::Hidden => format!("{name}: hidden while you listen"),
            Reading::Unknown => format!("{name}{of}: unknown"),
            Reading::Said(word) => format!("{name}{of}: {word}"),
            Reading::Value { value, se } => {
                format!(
                    "{name}{of}: {} {} {}",
                    self.said(value),
                    self.unit,
                    figure::doubt(se, self.decimals)
                )
            }
        }
    }

    /// The band of one standard error to either side, as x from left to right.
    fn band(&self, rail: Rect) -> Option<(f32, f32)> {
        match self.reading {
            Reading::Value { value, se: Some(se) } => {
                Some((self.x(rail, (value - se).max(0.0)), self.x(rail, value + se)))
            }
            _ => None,
        }
    }

    fn x(&self, rail: Rect, value: f64) -> f32 {
        rail.left() + self.scale.share(value) * rail.width()
    }
}

/// How strongly a mark is drawn: the newest (`age` 0) fully, older ones ever less.
fn strength(age: usize) -> f32 {
    0.82f32.powi(i32::try_from(age).unwrap_or(i32::MAX))
}

/// Draws `gauge` into `area`.
pub(crate) fn gauge_ui(ui: &mut Ui, area: Rect, gauge: &Gauge, theme: &Theme) {
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::Meter, true, gauge.spoken());
        if let Reading::Value { value, .. } = gauge.reading {
            info.value = Some(value);
        }
        info
    });
    if !ui.is_rect_visible(area) {
        return;
    }
    // The feet of the numbers reach a little into the room between the parts.
    let painter = ui.painter_at(area.expand(theme.sizes.between / 2.0));
    let places = Places::of(area, gauge, theme);
    figure(&painter, area, places.figure, gauge, theme);
    scale(&painter, places.rail, gauge, theme);
    reading(&painter, &places, gauge, theme);
    wanted(&painter, &places, gauge, theme);
}

/// The figure with its unit and doubt, or the word in its place.
fn figure(painter: &Painter, area: Rect, foot: f32, gauge: &Gauge, theme: &Theme) {
    let sizes = &theme.sizes;
    let ink = if gauge.live { theme.ink } else { theme.soft_ink };
    let figures = theme.figure_font(sizes.figure);
    let small = theme.word_font(sizes.word);
    let caption = if gauge.live || gauge.reading == Reading::Silent {
        gauge.name.to_owned()
    } else {
        format!("{}, last note", gauge.name)
    };
    let at = pos2(area.left(), foot);
    let word = theme.figure_font(sizes.big_word);
    let beside = 0.5 * sizes.word;
    let right = match gauge.reading {
        Reading::Value { value, se } => {
            let said = gauge.said(value);
            let slot = area.left() + pen::width(painter, "00", figures.clone());
            let right = pen::write(painter, at, &said, figures, ink).max(slot);
            let unit = format!("{} {}", gauge.unit, figure::doubt(se, gauge.decimals));
            let at = pos2(right + beside, foot);
            pen::write_beside(painter, at, area.right(), (&caption, &unit), theme);
            return;
        }
        Reading::Said(said) => pen::write(painter, at, said, word, ink),
        Reading::Unknown => pen::write(painter, at, "unknown", word, theme.soft_ink),
        Reading::Hidden => pen::write(painter, at, "hidden", word, theme.soft_ink),
        Reading::Silent => area.left() - beside,
    };
    let at = pos2(right + beside, foot);
    let font = pen::fitting(painter, &caption, small, area.right() - at.x);
    pen::write(painter, at, &caption, font, theme.soft_ink);
}

/// The rail with its strokes and numbers.
fn scale(painter: &Painter, rail: Rect, gauge: &Gauge, theme: &Theme) {
    painter.hline(rail.x_range(), rail.top(), theme.rule_stroke());
    let font = theme.word_font(theme.sizes.scale);
    let mut free_from = f32::NEG_INFINITY;
    for &value in gauge.scale.strokes {
        let x = gauge.x(rail, value);
        let written = gauge.scale.written.contains(&value);
        let long = if written { 8.0 } else { 5.0 };
        painter.vline(x, rail.top()..=rail.top() + long, theme.rule_stroke());
        if !written {
            continue;
        }
        let said = figure::number(Some(value), 0, gauge.signed);
        let half = pen::width(painter, &said, font.clone()) / 2.0;
        if x - half >= free_from {
            let at = pos2(x, rail.top() + 8.0);
            painter.text(at, Align2::CENTER_TOP, said, font.clone(), theme.soft_ink);
            free_from = x + half + 0.3 * theme.sizes.scale;
        }
    }
}

/// The doubt, the value and the past oscillations: the newest just above the rail, older ones ever
/// higher and fainter, so that the trail shows where the motion comes from.
fn reading(painter: &Painter, places: &Places, gauge: &Gauge, theme: &Theme) {
    let rail = places.rail;
    let foot = rail.top() - 1.0;
    let lane = foot - places.lane..=foot;
    if let Some((left, right)) = gauge.band(rail) {
        let band = Rect::from_x_y_ranges(left..=right, lane.clone());
        painter.rect_filled(band, 3.0, theme.doubt);
    }
    // Without a value the cycles found so far may be chance.
    let Reading::Value { value, .. } = gauge.reading else {
        return;
    };
    let x = gauge.x(rail, value);
    let ink = if gauge.live { theme.ink } else { theme.soft_ink };
    painter.vline(x, lane, Stroke::new(theme.sizes.value, ink));
    let head = HEAD * theme.sizes.grown.strokes;
    let top = foot - places.lane;
    painter.add(Shape::convex_polygon(
        vec![pos2(x - head, top - head), pos2(x + head, top - head), pos2(x, top + head / 2.0)],
        ink,
        Stroke::NONE,
    ));
    let rise = rise(places.lane, theme);
    for (age, &value) in gauge.marks.iter().rev().enumerate().rev() {
        let up = theme.sizes.mark + rise * age as f32;
        painter.circle_filled(
            pos2(gauge.x(rail, value), foot - up),
            theme.sizes.mark,
            theme.faded(theme.oscillation, strength(age)),
        );
    }
}

/// How much higher each older oscillation is drawn than the next one, so that all lie in the lane.
fn rise(lane: f32, theme: &Theme) -> f32 {
    (lane - 2.0 * theme.sizes.mark) / MARKS as f32
}

/// The wanted band: a bracket over the lane with its bounds in words, open below, so that nobody
/// takes it for the doubt.
fn wanted(painter: &Painter, places: &Places, gauge: &Gauge, theme: &Theme) {
    let Some((from, to)) = gauge.wanted else {
        return;
    };
    let rail = places.rail;
    let (left, right) = (gauge.x(rail, from), gauge.x(rail, to));
    let top = rail.top() - places.lane - HEAD * theme.sizes.grown.strokes - 2.0;
    let stroke = Stroke::new(theme.sizes.rule, theme.ink);
    let foot = rail.top();
    let corners = [pos2(left, foot), pos2(left, top), pos2(right, top), pos2(right, foot)];
    painter.add(Shape::line(corners.to_vec(), stroke));
    let decimals = gauge.decimals;
    let said = format!("wanted {from:.decimals$}–{to:.decimals$}");
    let small = theme.word_font(wanted_size(theme));
    let half = pen::width(painter, &said, small.clone()) / 2.0;
    let middle = ((left + right) / 2.0)
        .clamp(rail.left() + half, (rail.right() - half).max(rail.left() + half));
    let at = pos2(middle, top - 1.0);
    painter.text(at, Align2::CENTER_BOTTOM, said, small, theme.ink);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rail() -> Rect {
        Rect::from_min_size(pos2(100.0, 50.0), vec2(400.0, 1.0))
    }

    fn gauge(scale: Scale, reading: Reading) -> Gauge {
        Gauge {
            name: "width",
            unit: "cents",
            scale,
            decimals: 0,
            signed: false,
            reading,
            wanted: None,
            marks: Vec::new(),
            live: true,
        }
    }

    #[test]
    fn values_lie_where_the_scale_says() {
        let rate = gauge(RATE, Reading::Silent);
        assert_eq!(rate.x(rail(), 0.0), 100.0);
        assert_eq!(rate.x(rail(), 5.0), 300.0);
        assert_eq!(rate.x(rail(), 10.0), 500.0);
        let width = gauge(WIDTH, Reading::Silent);
        assert_eq!(width.x(rail(), 62.5), 300.0, "a quarter of the top lies halfway");
        assert_eq!(width.x(rail(), 900.0), 500.0, "what lies beyond stays at the end");
        assert_eq!(width.x(rail(), -3.0), 100.0);
    }

    #[test]
    fn the_doubt_is_one_standard_error_to_either_side() {
        let reading = Reading::Value { value: 5.0, se: Some(0.5) };
        let (left, right) = gauge(RATE, reading).band(rail()).expect("a band");
        assert!((left - 280.0).abs() < 0.01 && (right - 320.0).abs() < 0.01);
        let unsure = Reading::Value { value: 5.0, se: None };
        assert_eq!(gauge(RATE, unsure).band(rail()), None);
    }

    #[test]
    fn marks_fade_with_age_and_never_vanish_within_the_dozen() {
        let all: Vec<f32> = (0..MARKS).map(strength).collect();
        let theme = &crate::theme::Paper::Light.theme();
        let highest = theme.sizes.mark + rise(LANE, theme) * (MARKS - 1) as f32;
        assert!(highest < LANE, "{highest} is beyond the lane");
        assert!((all[0] - 1.0).abs() < f32::EPSILON);
        assert!(all.windows(2).all(|pair| pair[1] < pair[0]));
        assert!(all.iter().all(|&strength| strength > 0.1), "{all:?}");
    }

    #[test]
    fn every_written_number_has_a_stroke_and_room() {
        for scale in [RATE, WIDTH] {
            assert!(scale.written.iter().all(|v| scale.strokes.contains(v)));
            // The narrowest gauge is about 300 points wide, three figures about 27.
            let places: Vec<f32> = scale.written.iter().map(|&v| scale.share(v)).collect();
            assert!(places.windows(2).all(|pair| (pair[1] - pair[0]) * 280.0 > 22.0), "{places:?}");
        }
    }

    #[test]
    fn words_stand_where_there_is_no_value() {
        assert_eq!(gauge(WIDTH, Reading::Unknown).spoken(), "width: unknown");
        assert_eq!(gauge(WIDTH, Reading::Said("straight")).spoken(), "width: straight");
        let value = Reading::Value { value: 31.4, se: Some(2.2) };
        assert_eq!(gauge(WIDTH, value).spoken(), "width: 31 cents ±2");
    }
}
