//! The rate-width field: the vibrato as one point that wanders in a plane, with a tail, among the
//! regions the player has named.

mod regions;

use crate::shell::options::Region;
use crate::stand::gauges::{Motions, motions};
use crate::stand::picture::Picture;
use crate::stand::{Action, Stand};
use crate::theme::Theme;
use crate::widgets::painter;
use crate::widgets::terms::explained;
use egui::{Rect, Role, Sense, Ui, WidgetInfo};
use pictures::field::{Field, FieldPoint, Plane, Spot, field};
use pictures::{FIELD_RATE, RATE, Scale, WIDTH};
use vibrato::Motion;

/// The vibrato of now, or of the last note.
fn now(picture: &Picture) -> Option<Spot> {
    let (motion, live) = match motions(picture) {
        Motions::Silent => return None,
        Motions::Live(motion) => (motion, true),
        Motions::Last(motion) => (motion, false),
    };
    match motion {
        Motion::Vibrato { rate, width } => Some(Spot { rate, width, live }),
        _ => None,
    }
}

/// From slow practice on, unless something slower is wanted or was played: nothing is drawn where it is not.
fn rates(stand: &Stand) -> Scale {
    let (picture, options) = (stand.picture(), stand.shell.options());
    let wanted = options.wanted.rate.map(|(slowest, _)| slowest);
    let regions = options.regions.iter().map(|region| region.rate.0);
    let played = picture.tail.iter().map(|(_, place)| place.rate);
    let played = played.chain(now(picture).map(|now| now.rate.value));
    let mut all = wanted.into_iter().chain(regions).chain(played);
    if all.any(|rate| rate.0 < FIELD_RATE.from) { RATE } else { FIELD_RATE }
}

/// Draws the field into `area` and says what became of the regions.
pub(super) fn field_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) -> Vec<Action> {
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(stand)));
    explained(response, "field", theme);
    let rates = rates(stand);
    let plane = Plane::of(area, &theme.sizes, rates, WIDTH);
    let actions = regions::drag(ui, &plane, stand);
    if !ui.is_rect_visible(area) {
        return actions;
    }
    let (picture, options) = (stand.picture(), stand.shell.options());
    let shown = stand.revealed();
    let tail: Vec<FieldPoint> = picture.tail.iter().map(|(_, place)| *place).collect();
    let tail = if shown { &tail[..] } else { &[] };
    let now = now(picture).filter(|_| shown);
    let still = match motions(picture) {
        Motions::Live(motion) | Motions::Last(motion) => match motion {
            Motion::Straight => Some("without vibrato"),
            Motion::Glides(_) => Some("the pitch glides"),
            Motion::Moves => Some("the pitch moves"),
            _ => None,
        },
        Motions::Silent => None,
    };
    let words = if !shown {
        Some("hidden while you listen")
    } else if now.is_some() || !tail.is_empty() {
        None
    } else {
        still.or(Some("your vibrato is a point here"))
    };
    let drawn = Field {
        rates,
        regions: &options.regions,
        wanted_rate: options.wanted.rate,
        wanted_width: options.wanted.width,
        tail,
        now,
        words,
        ..Field::EMPTY
    };
    let clip = ui.clip_rect();
    painter::show(ui, area, clip, theme, |picture| field(picture, area, &drawn));
    actions
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shell::options::shipped_regions;
    use egui::{pos2, vec2};
    use pictures::{Meaning, Picture, Shape, Sizes};

    #[test]
    fn names_lie_on_the_plane_and_over_no_other_name_or_outline() {
        // As large as on the Stand of a small window, and twice that.
        for size in [vec2(295.0, 166.0), vec2(545.0, 284.0)] {
            let area = Rect::from_min_size(pos2(100.0, 50.0), size);
            let regions = shipped_regions(None);
            let mut picture = Picture::new(area, &Sizes::USUAL);
            let drawn = Field { rates: FIELD_RATE, regions: &regions, ..Field::EMPTY };
            field(&mut picture, area, &drawn);
            let plane = Plane::of(area, &picture.sizes, FIELD_RATE, WIDTH);
            let grounds: Vec<Rect> = picture
                .marks
                .iter()
                .filter(|mark| mark.meaning == Meaning::RegionGround)
                .filter_map(|mark| match mark.shape {
                    Shape::Rect(rect) => Some(rect.shrink(2.0)),
                    _ => None,
                })
                .collect();
            assert_eq!(grounds.len(), regions.len(), "there is room for all");
            for (number, name) in grounds.iter().enumerate() {
                assert!(plane.rect.contains_rect(*name), "{name}");
                for (other, region) in regions.iter().enumerate() {
                    let outline = plane.region(region);
                    let clear = outline.contains_rect(*name) && other == number;
                    assert!(clear || !outline.intersects(*name), "{name} over {outline}");
                    assert!(other == number || !grounds[other].intersects(*name), "{name}");
                }
            }
        }
    }
}
