//! The rate-width field: the vibrato as one point that wanders in a plane, with a tail, among the
//! regions the player has named.

mod regions;

use crate::shell::options::Region;
use crate::stand::gauges::{self, Motions};
use crate::stand::picture::Picture;
use crate::stand::{Action, Stand};
use crate::theme::Theme;
use crate::widgets::gauge::{RATE, WIDTH};
use crate::widgets::pen;
use egui::{
    Align2, Painter, Pos2, Rect, Role, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, pos2, vec2,
};
use tuning::{Cents, Hz};
use vibrato::Motion;

/// The least size of the plane between its axes, in points and in heights of its numbers.
const PLANE: Vec2 = vec2(190.0, 104.0);
const PLANE_NUMBERS: Vec2 = vec2(9.0, 7.0);
/// How much larger than a mark the point is, and its halo of paper.
const POINT: f32 = 2.4;
const HALO: f32 = 1.2;
/// A length of the corners that show a wanted band.
const CORNER: f32 = 9.0;
/// Corners of the ellipse of doubt.
const ELLIPSE: usize = 32;

/// The least size of the field.
pub(super) fn least_size(theme: &Theme) -> Vec2 {
    PLANE.max(PLANE_NUMBERS * theme.sizes.scale) + axes(theme)
}

/// Room for the numbers at the left and at the foot.
fn axes(theme: &Theme) -> Vec2 {
    vec2(2.4 * theme.sizes.scale, 2.7 * theme.sizes.scale)
}

/// A plane of rate (rightwards) and width (upwards), on the scales of the gauges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Plane {
    /// Where it is drawn.
    pub rect: Rect,
}

impl Plane {
    fn of(area: Rect, theme: &Theme) -> Self {
        let axes = axes(theme);
        Self {
            rect: Rect::from_min_max(
                pos2(area.left() + axes.x, area.top() + 0.5 * theme.sizes.scale),
                pos2(area.right() - 0.6 * theme.sizes.scale, area.bottom() - axes.y),
            ),
        }
    }

    fn x(&self, rate: Hz) -> f32 {
        self.rect.left() + RATE.share(rate.0) * self.rect.width()
    }

    fn y(&self, width: Cents) -> f32 {
        self.rect.bottom() - WIDTH.share(width.0) * self.rect.height()
    }

    /// Where rate and width meet.
    pub(super) fn place(&self, rate: Hz, width: Cents) -> Pos2 {
        pos2(self.x(rate), self.y(width))
    }

    /// What lies at this place; beyond the plane, what lies at its edge.
    pub(super) fn at(&self, place: Pos2) -> (Hz, Cents) {
        let along = (place.x - self.rect.left()) / self.rect.width();
        let up = (self.rect.bottom() - place.y) / self.rect.height();
        (Hz(RATE.value(along)), Cents(WIDTH.value(up)))
    }

    /// Where a region lies.
    pub(super) fn region(&self, region: &Region) -> Rect {
        Rect::from_min_max(
            self.place(region.rate.0, region.width.1),
            self.place(region.rate.1, region.width.0),
        )
    }
}

/// The vibrato of now, or of the last note.
struct Now {
    rate: vibrato::Measure<Hz>,
    width: vibrato::Measure<Cents>,
    live: bool,
}

fn now(picture: &Picture) -> Option<Now> {
    let (motion, live) = match gauges::motions(picture) {
        Motions::Silent => return None,
        Motions::Live(motion) => (motion, true),
        Motions::Last(motion) => (motion, false),
    };
    match motion {
        Motion::Vibrato { rate, width } => Some(Now { rate, width, live }),
        _ => None,
    }
}

/// Draws the field into `area` and says what became of the regions.
pub(super) fn field_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) -> Vec<Action> {
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(stand)));
    let plane = Plane::of(area, theme);
    let asked = regions::drag(ui, &plane, stand);
    if !ui.is_rect_visible(area) {
        return asked;
    }
    let painter = ui.painter();
    scales(painter, area, &plane, theme);
    regions::outlines(painter, &plane, &stand.shell.options().regions, theme);
    let wanted = wanted(painter, &plane, stand, theme);
    let names = |painter: &Painter| {
        regions::names(painter, &plane, &stand.shell.options().regions, wanted, theme);
    };
    let picture = stand.picture();
    if !stand.revealed() {
        names(painter);
        words(painter, &plane, "hidden while you listen", theme);
        return asked;
    }
    let inside = ui.painter_at(plane.rect.expand(theme.sizes.mark));
    match now(picture) {
        Some(now) => {
            tail(&inside, &plane, picture, theme);
            names(painter);
            point(&inside, &plane, &now, theme);
        }
        None if picture.tail.is_empty() => {
            let said = match gauges::motions(picture) {
                Motions::Live(motion) | Motions::Last(motion) => match motion {
                    Motion::Straight => "straight: no place here",
                    Motion::Glides(_) => "glides: no place here",
                    Motion::Moves => "moves: no place here",
                    _ => "your vibrato is a point here",
                },
                Motions::Silent => "your vibrato is a point here",
            };
            names(painter);
            words(painter, &plane, said, theme);
        }
        None => {
            tail(&inside, &plane, picture, theme);
            names(painter);
        }
    }
    asked
}

/// What a screen reader says of it, as calmly as the gauges.
fn spoken(stand: &Stand) -> String {
    let mut said = "field of rate and width".to_owned();
    if !stand.revealed() {
        return said + ": hidden while you listen";
    }
    if let Some(now) = now(stand.picture()).filter(|now| !now.live) {
        let holds = |region: &&Region| {
            (region.rate.0..=region.rate.1).contains(&now.rate.value)
                && (region.width.0..=region.width.1).contains(&now.width.value)
        };
        let names: Vec<&str> = stand
            .shell
            .options()
            .regions
            .iter()
            .filter(holds)
            .map(|region| region.name.as_str())
            .collect();
        said += &match names[..] {
            [] => ": the last note lay in no region".to_owned(),
            _ => format!(": the last note lay in {}", names.join(" and ")),
        };
    }
    said
}

/// The axes with their numbers and names.
fn scales(painter: &Painter, area: Rect, plane: &Plane, theme: &Theme) {
    let rect = plane.rect;
    let small = theme.word_font(theme.sizes.scale);
    let line = 1.2 * theme.sizes.scale;
    painter.hline(rect.x_range(), rect.bottom(), theme.rule_stroke());
    painter.vline(rect.left(), rect.y_range(), theme.rule_stroke());
    let mut free_from = f32::NEG_INFINITY;
    for &rate in RATE.written {
        let x = plane.x(Hz(rate));
        painter.vline(x, rect.bottom() - 4.0..=rect.bottom(), theme.rule_stroke());
        if x >= free_from {
            let at = pos2(x, rect.bottom() + 2.0);
            let said = format!("{rate:.0}");
            painter.text(at, Align2::CENTER_TOP, said, small.clone(), theme.soft_ink);
            free_from = x + 1.6 * theme.sizes.scale;
        }
    }
    let mut free_below = f32::INFINITY;
    for &width in WIDTH.written {
        let y = plane.y(Cents(width));
        painter.hline(rect.left()..=rect.left() + 4.0, y, theme.rule_stroke());
        if y <= free_below && width > 0.0 {
            let at = pos2(rect.left() - 5.0, y);
            let said = format!("{width:.0}");
            painter.text(at, Align2::RIGHT_CENTER, said, small.clone(), theme.soft_ink);
            free_below = y - line;
        }
    }
    let foot = area.bottom() - 0.3 * theme.sizes.scale;
    pen::write(painter, pos2(area.left(), foot), "width, cents", small.clone(), theme.soft_ink);
    let said = "rate, Hz";
    let left = rect.right() - pen::width(painter, said, small.clone());
    pen::write(painter, pos2(left, foot), said, small, theme.soft_ink);
}

/// The wanted bands: corners around what is wanted; says where that is.
fn wanted(painter: &Painter, plane: &Plane, stand: &Stand, theme: &Theme) -> Option<Rect> {
    let wanted = stand.shell.options().wanted;
    if wanted.rate.is_none() && wanted.width.is_none() {
        return None;
    }
    let rate = wanted.rate.unwrap_or((Hz(0.0), Hz(RATE.top)));
    let width = wanted.width.unwrap_or((Cents(0.0), Cents(WIDTH.top)));
    let rect = Rect::from_min_max(plane.place(rate.0, width.1), plane.place(rate.1, width.0));
    let length = CORNER.min(0.3 * rect.width()).min(0.3 * rect.height());
    let stroke = Stroke::new(theme.sizes.value, theme.ink);
    for (corner, along, down) in [
        (rect.left_top(), 1.0, 1.0),
        (rect.right_top(), -1.0, 1.0),
        (rect.left_bottom(), 1.0, -1.0),
        (rect.right_bottom(), -1.0, -1.0),
    ] {
        let ends = [corner + vec2(along * length, 0.0), corner, corner + vec2(0.0, down * length)];
        painter.add(Shape::line(ends.to_vec(), stroke));
    }
    Some(rect)
}

/// Where the point came from, ever thinner and fainter.
fn tail(painter: &Painter, plane: &Plane, picture: &Picture, theme: &Theme) {
    let count = picture.tail.len().max(1) as f32;
    let places: Vec<Pos2> =
        picture.tail.iter().map(|place| plane.place(place.rate, place.width)).collect();
    for (index, pair) in places.windows(2).enumerate() {
        let share = (index + 1) as f32 / count;
        let ink = theme.faded(theme.oscillation, 0.25 + 0.75 * share);
        let stroke = Stroke::new(theme.sizes.pen * (0.4 + 0.6 * share), ink);
        painter.line_segment([pair[0], pair[1]], stroke);
    }
}

/// The point with its doubt: full while it is live, a ring afterwards.
fn point(painter: &Painter, plane: &Plane, now: &Now, theme: &Theme) {
    let (rate, width) = (now.rate.value, now.width.value);
    let at = plane.place(rate, width);
    if let (Some(rate_se), Some(width_se)) = (now.rate.se, now.width.se) {
        let corners = (0..ELLIPSE)
            .map(|corner| {
                let turn = std::f64::consts::TAU * corner as f64 / ELLIPSE as f64;
                plane.place(
                    Hz(rate.0 + rate_se.0 * turn.cos()),
                    Cents((width.0 + width_se.0 * turn.sin()).max(0.0)),
                )
            })
            .collect();
        painter.add(Shape::convex_polygon(
            corners,
            theme.doubt,
            Stroke::new(theme.sizes.hairline, theme.oscillation),
        ));
    }
    let radius = POINT * theme.sizes.mark;
    let ink = if now.live { theme.ink } else { theme.soft_ink };
    painter.circle_filled(at, radius + HALO, theme.paper);
    if now.live {
        painter.circle_filled(at, radius, ink);
    } else {
        let stroke = Stroke::new(theme.sizes.value, ink);
        painter.circle_stroke(at, radius - theme.sizes.value / 2.0, stroke);
    }
}

/// Words at the top of an empty plane, above all usual regions.
fn words(painter: &Painter, plane: &Plane, said: &str, theme: &Theme) {
    let rect = plane.rect;
    let font = pen::fitting(painter, said, theme.word_font(theme.sizes.scale), 0.94 * rect.width());
    let at = pos2(rect.center().x, rect.top());
    painter.text(at, Align2::CENTER_TOP, said, font, theme.soft_ink);
}

#[cfg(test)]
mod tests {
    use super::*;

    pub(super) fn plane() -> Plane {
        Plane { rect: Rect::from_min_size(pos2(100.0, 50.0), vec2(300.0, 200.0)) }
    }

    #[test]
    fn rate_runs_rightwards_and_width_upwards() {
        let plane = plane();
        assert_eq!(plane.place(Hz(0.0), Cents(0.0)), pos2(100.0, 250.0));
        assert_eq!(plane.place(Hz(5.0), Cents(62.5)), pos2(250.0, 150.0));
        assert_eq!(plane.place(Hz(12.0), Cents(400.0)), pos2(400.0, 50.0));
    }

    #[test]
    fn a_place_and_what_lies_there_are_one() {
        let plane = plane();
        for (rate, width) in [(0.5, 4.0), (5.6, 33.0), (9.5, 220.0)] {
            let (r, w) = plane.at(plane.place(Hz(rate), Cents(width)));
            assert!((r.0 - rate).abs() < 1e-3, "{rate}: {r:?}");
            assert!((w.0 - width).abs() < 1e-2, "{width}: {w:?}");
        }
        assert_eq!(plane.at(pos2(0.0, 900.0)), (Hz(0.0), Cents(0.0)));
    }
}
