//! The player's named regions of the field: outlines that differ in their dashes as well as in their
//! names, to be moved and resized by the mouse (on the sheet of settings, by keyboard too).

use super::Plane;
use crate::shell::options::Region;
use crate::stand::{Action, Stand};
use egui::{CursorIcon, Id, Rect, Sense, Ui, Vec2, pos2, vec2};
use tuning::{Cents, Hz};

/// How near to an edge it is taken hold of, in points.
const EDGE: f32 = 6.0;
/// The least size of a region.
const LEAST_RATE: Hz = Hz(0.3);
const LEAST_WIDTH: Cents = Cents(4.0);

/// What of a region is taken hold of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Hold {
    /// The left edge (−1), the right one (1), or neither.
    along: i8,
    /// The lower edge (−1), the upper one (1), or neither.
    up: i8,
}

/// The whole of it first, so that edges and corners lie over it.
const HOLDS: [Hold; 9] = {
    const fn hold(along: i8, up: i8) -> Hold {
        Hold { along, up }
    }
    [
        hold(0, 0),
        hold(-1, 0),
        hold(1, 0),
        hold(0, -1),
        hold(0, 1),
        hold(-1, -1),
        hold(-1, 1),
        hold(1, -1),
        hold(1, 1),
    ]
};

impl Hold {
    /// Where it is taken hold of.
    fn rect(self, region: Rect) -> Rect {
        let side = |step: i8, least: f32, most: f32| match step {
            -1 => least - EDGE..=least + EDGE,
            1 => most - EDGE..=most + EDGE,
            _ => least..=most,
        };
        Rect::from_x_y_ranges(
            side(self.along, region.left(), region.right()),
            side(-self.up, region.top(), region.bottom()),
        )
    }

    fn cursor(self) -> CursorIcon {
        match (self.along, self.up) {
            (0, 0) => CursorIcon::Grab,
            (_, 0) => CursorIcon::ResizeHorizontal,
            (0, _) => CursorIcon::ResizeVertical,
            (1, 1) | (-1, -1) => CursorIcon::ResizeNeSw,
            _ => CursorIcon::ResizeNwSe,
        }
    }

    /// The region after it was drawn by `by`, in points.
    fn drawn(self, region: &Region, plane: &Plane, by: Vec2) -> Region {
        let whole = plane.rect;
        let before = plane.region(region);
        let whole_moves = self == HOLDS[0];
        let by = if whole_moves {
            vec2(
                by.x.clamp(whole.left() - before.left(), whole.right() - before.right()),
                by.y.clamp(whole.top() - before.top(), whole.bottom() - before.bottom()),
            )
        } else {
            by
        };
        let moves = |edge: i8, step: i8| whole_moves || edge == step;
        let shifted = |x: f32, y: f32| plane.at(pos2(x + by.x, y + by.y));
        let (left, foot) = shifted(before.left(), before.bottom());
        let (right, top) = shifted(before.right(), before.top());
        let mut after = region.clone();
        let (rate, width) = (&mut after.rate, &mut after.width);
        if moves(self.along, -1) {
            rate.0 = left;
        }
        if moves(self.along, 1) {
            rate.1 = right;
        }
        if moves(self.up, -1) {
            width.0 = foot;
        }
        if moves(self.up, 1) {
            width.1 = top;
        }
        if rate.1.0 - rate.0.0 < LEAST_RATE.0 || width.1.0 - width.0.0 < LEAST_WIDTH.0 {
            return region.clone();
        }
        after
    }
}

/// Bounds as they are kept: to a tenth of a hertz and a cent.
fn rounded(region: &Region) -> Region {
    let rate = |rate: Hz| Hz((10.0 * rate.0).round() / 10.0);
    let width = |width: Cents| Cents(width.0.round());
    Region {
        name: region.name.clone(),
        rate: (rate(region.rate.0), rate(region.rate.1)),
        width: (width(region.width.0), width(region.width.1)),
    }
}

/// Lets regions be moved and resized by the mouse.
pub(super) fn drag(ui: &mut Ui, plane: &Plane, stand: &Stand) -> Vec<Action> {
    let regions = &stand.shell.options().regions;
    let mut changed = None;
    for (index, region) in regions.iter().enumerate() {
        let rect = plane.region(region);
        for hold in HOLDS {
            let id = Id::unique(("region", index, hold));
            // Not to be reached by Tab: the sheet of settings has every bound as a number.
            let response = ui.interact(hold.rect(rect), id, Sense::DRAG);
            if response.hovered() || response.dragged() {
                ui.ctx().set_cursor_icon(hold.cursor());
            }
            if response.dragged() && response.drag_delta() != Vec2::ZERO {
                changed = Some((index, hold.drawn(region, plane, response.drag_delta())));
            }
            if response.drag_stopped() {
                changed = Some((index, rounded(region)));
            }
        }
    }
    let Some((index, region)) = changed.filter(|(index, region)| regions[*index] != *region) else {
        return Vec::new();
    };
    let mut options = stand.shell.options().clone();
    options.regions[index] = region;
    vec![Action::Set(Box::new(options))]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shell::options::shipped_regions;
    use pictures::{RATE, WIDTH};

    fn plane() -> Plane {
        Plane::at_rect(Rect::from_min_size(pos2(100.0, 50.0), vec2(300.0, 200.0)), RATE, WIDTH)
    }

    #[test]
    fn drawn_by_its_body_a_region_keeps_its_size_on_the_plane() {
        let region = &shipped_regions(None)[1];
        let plane = plane();
        let before = plane.region(region);
        let after = plane.region(&HOLDS[0].drawn(region, &plane, vec2(20.0, -15.0)));
        assert!((after.center() - before.center() - vec2(20.0, -15.0)).length() < 0.01);
        assert!((after.size() - before.size()).length() < 0.01);
        let far = plane.region(&HOLDS[0].drawn(region, &plane, vec2(900.0, 900.0)));
        assert!((far.size() - before.size()).length() < 0.01, "stays on the plane: {far}");
        assert!((far.right() - plane.rect.right()).abs() < 0.01);
    }

    #[test]
    fn drawn_by_an_edge_it_changes_there_alone() {
        let region = &shipped_regions(None)[1];
        let plane = plane();
        let right = Hold { along: 1, up: 0 }.drawn(region, &plane, vec2(30.0, 30.0));
        assert!((right.rate.1.0 - region.rate.1.0 - 1.0).abs() < 1e-3);
        assert_eq!(right.rate.0, region.rate.0);
        assert_eq!(right.width, region.width);
        let corner = Hold { along: -1, up: 1 }.drawn(region, &plane, vec2(-15.0, -10.0));
        assert!(corner.rate.0 < region.rate.0 && corner.width.1 > region.width.1);
        assert_eq!((corner.rate.1, corner.width.0), (region.rate.1, region.width.0));
    }

    #[test]
    fn it_is_never_turned_inside_out() {
        let region = &shipped_regions(None)[0];
        for hold in HOLDS {
            for by in [vec2(500.0, 500.0), vec2(-500.0, -500.0)] {
                let after = hold.drawn(region, &plane(), by);
                assert!(after.rate.1.0 - after.rate.0.0 >= LEAST_RATE.0);
                assert!(after.width.1.0 - after.width.0.0 >= LEAST_WIDTH.0);
                assert!(after.rate.1.0 <= RATE.to && after.width.1.0 <= WIDTH.to);
            }
        }
    }
}
