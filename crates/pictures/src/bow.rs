//! The bow line: loudness over the axis of time, and where the bow started anew.

use crate::played::{Played, Point};
use crate::sheet::{self, Times};
use crate::{Meaning, Picture};
use emath::{Align2, Rangef, Rect, pos2};
use tuning::figure::signed;

/// The levels at the foot and at the top, in dB below full scale.
const FOOT_DBFS: f64 = -60.0;
const TOP_DBFS: f64 = 0.0;
/// Half the side of the mark of a bow change, as a share of the type size of scales.
const MARK: f32 = 0.3;

/// Where a level lies, in points from the top of the window.
fn y_from_dbfs(lane: Rangef, level: f64) -> f32 {
    let share = (level - FOOT_DBFS) / (TOP_DBFS - FOOT_DBFS);
    lane.max - share.clamp(0.0, 1.0) as f32 * lane.span()
}

/// Draws the bow line into `area`.
pub fn bow_line(picture: &mut Picture, area: Rect, times: &Times, played: &Played) {
    let lane = Rect::from_x_y_ranges(times.x, area.top() + 4.0..=area.bottom() - 2.0);
    let size = picture.sizes.scale;
    let beside = pos2(lane.left() - 0.53 * size, lane.center().y);
    picture.text(Meaning::ScaleNumber, beside, Align2::RIGHT_CENTER, "bow");
    picture.hline(Meaning::Axis, lane.x_range(), lane.bottom());
    let y = y_from_dbfs(lane.y_range(), -20.0);
    picture.hline(Meaning::Axis, lane.right()..=lane.right() + 0.33 * size, y);
    let at = pos2(lane.right() + 0.6 * size, y);
    let said = format!("{} dB", signed(-20.0, 0));
    picture.text(Meaning::ScaleNumber, at, Align2::LEFT_CENTER, said);

    let level = |point: &Point| Some(point.level_dbfs.max(FOOT_DBFS));
    let mut note_at = played.notes_in_order();
    let seen = times.seen(&played.points);
    let lines = sheet::lines(seen, times, level, |time| note_at(time).is_some());
    let room = Rect::from_x_y_ranges(times.x, area.y_range());
    let place = |time, level| pos2(times.x_from_secs(time), y_from_dbfs(lane.y_range(), level));
    picture.lines((Meaning::Loudness, Meaning::FaintLoudness), &lines, room, place);
    let half = MARK * size;
    for &time in &played.rebows {
        let x = times.x_from_secs(time);
        if !times.x.contains(x) {
            continue;
        }
        picture.vline(Meaning::BowChange, x, lane.y_range());
        let top = lane.top();
        let corners = vec![pos2(x - half, top), pos2(x + half, top), pos2(x, top + 1.6 * half)];
        picture.polygon(Meaning::BowHead, corners);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn louder_lies_higher_and_nothing_leaves_the_lane() {
        let lane = Rangef::new(100.0, 160.0);
        assert_eq!(y_from_dbfs(lane, 0.0), 100.0);
        assert_eq!(y_from_dbfs(lane, -30.0), 130.0);
        assert_eq!(y_from_dbfs(lane, -60.0), 160.0);
        assert_eq!(y_from_dbfs(lane, -120.0), 160.0);
        assert_eq!(y_from_dbfs(lane, 6.0), 100.0);
    }
}
