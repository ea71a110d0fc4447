//! The row of buttons at the foot of the Stand, each with the key that does the same.

use crate::keys::Command;
use crate::pen;
use crate::stand::{Action, Stand, Take};
use crate::theme::Theme;
use coach::Showing;
use egui::{FontId, Id, Painter, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};
use tuning::pitch_name;

/// Height of a button, as a share of the type size of captions.
const BUTTON: f32 = 2.0;
/// Room at both sides of what stands in a button, between that and its key, and between buttons, as
/// shares of the type size.
const PAD: f32 = 0.32;
const APART: f32 = 0.3;
const BETWEEN: f32 = 0.3;
/// The mark that says on or off, as a share of the type size.
const MARK: f32 = 0.62;
/// A button may grow by so much where there is room to spare, as a share of the type size.
const GROWS: f32 = 1.4;
/// How wide the letters of these words are on average, as a share of the type size; see the test.
const LETTER: f32 = 0.45;
/// Size of the key's name, as a share of the type size.
const KEY: f32 = 0.8;
/// There are never more rows than this.
const MOST_ROWS: usize = 3;
/// What may stand in each button at most, mark and key included; for the height before there is ink.
const WIDEST: [(&str, bool); 10] = [
    ("after the round V", false),
    ("straight S", true),
    ("reference R", true),
    ("drone Fis3 D", true),
    ("beat 200 B", true),
    ("takes T", true),
    ("16 s W", false),
    ("Sound O", false),
    ("Settings E", false),
    ("Keys ?", false),
];
/// So many buttons at the end stand at the right: they open sheets.
const SHEETS: usize = 3;

/// How high the row is in a window of this inner width: one line of buttons, or more if they need it.
pub fn height(width: f32, theme: &Theme) -> f32 {
    let size = theme.sizes.caption;
    let widths = WIDEST.map(|(text, mark)| {
        let letters = text.chars().count() as f32 * LETTER;
        let mark = if mark { MARK + APART } else { 0.0 };
        (letters + 2.0 * (PAD + APART) + mark) * size
    });
    // The type may shrink a little before a line is broken.
    let shrunk = theme.sizes.scale.min(size) / size;
    let rows = (1..MOST_ROWS)
        .find(|&rows| fits(&widths, rows, width / shrunk, BETWEEN * size))
        .unwrap_or(MOST_ROWS);
    rows_height(rows, size)
}

fn rows_height(rows: usize, size: f32) -> f32 {
    rows as f32 * BUTTON * size + (rows - 1) as f32 * BETWEEN * size
}

/// One button.
struct Item {
    command: Command,
    /// What stands in it.
    text: String,
    /// The longest that may stand in it, so that nothing moves when it changes.
    longest: String,
    /// What a screen reader calls it.
    name: String,
    /// On or off, where it is a switch.
    on: Option<bool>,
    enabled: bool,
}

fn items(stand: &Stand) -> [Item; 10] {
    let options = stand.options();
    let item = |command, text: &str, longest: &str, name: String| Item {
        command,
        text: text.to_owned(),
        longest: longest.to_owned(),
        name,
        on: None,
        enabled: true,
    };
    let switch = |item: Item, on| Item {
        on: Some(on),
        ..item
    };
    let showing = match options.showing {
        Showing::Live => "live",
        Showing::AfterNote => "after the note",
        Showing::AfterRound => "after the round",
    };
    let drone = pitch_name(options.drone.midi, options.naming);
    let secs = stand.span().0;
    let sheet = |command, name: &str| item(command, name, name, name.to_owned());
    [
        item(
            Command::Showing,
            showing,
            "after the round",
            format!("way of showing: {showing}"),
        ),
        switch(
            item(
                Command::Straight,
                "straight",
                "",
                "straight practice".to_owned(),
            ),
            stand.straight,
        ),
        Item {
            enabled: stand.can_take_reference(),
            ..switch(
                item(Command::TakeReference, "reference", "", reference(stand)),
                stand.own().is_some(),
            )
        },
        switch(
            item(
                Command::Drone,
                &format!("drone {drone}"),
                "drone B♭3",
                format!("drone {drone}"),
            ),
            stand.drone_on,
        ),
        switch(
            item(
                Command::Beat,
                &format!("beat {}", options.beat.bpm),
                "beat 200",
                format!("metronome, {} beats a minute", options.beat.bpm),
            ),
            stand.beat_on,
        ),
        switch(
            item(Command::Take, "takes", "", takes(stand.take())),
            options.take.kept,
        ),
        item(
            Command::Span,
            &format!("{secs:.0} s"),
            "16 s",
            format!("span of the trace: {secs:.0} seconds"),
        ),
        sheet(Command::Sound, "Sound"),
        sheet(Command::Settings, "Settings"),
        sheet(Command::Keys, "Keys"),
    ]
}

fn reference(stand: &Stand) -> String {
    match stand.own() {
        Some(own) => format!(
            "take the last note as reference; now your own {}",
            pitch_name(own.midi, stand.naming())
        ),
        None => "take the last note as reference".to_owned(),
    }
}

fn takes(take: &Take) -> String {
    let state = match take {
        Take::Off => return "keep takes".to_owned(),
        Take::Ready => "the next note starts one".to_owned(),
        Take::Running => "one is being written".to_owned(),
        Take::Kept { name, .. } => format!("{name} was kept"),
        Take::Trouble(words) => words.clone(),
    };
    format!("keep takes: {state}")
}

/// Draws the row into `area` and says what was asked for.
pub fn bar_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) -> Vec<Action> {
    let items = items(stand);
    let keys = items
        .iter()
        .map(|item| stand.options().keys.shown(item.command).unwrap_or(""))
        .collect::<Vec<_>>();
    let caption = theme.sizes.caption;
    let rows = (1..MOST_ROWS)
        .find(|&rows| rows_height(rows + 1, caption) > area.height() + 1.0)
        .unwrap_or(MOST_ROWS);
    let (size, widths) = fitting(ui.painter(), &items, &keys, rows, area.width(), theme);
    let places = places(area, &widths, rows, size, BUTTON * caption);
    let mut asked = Vec::new();
    for ((item, key), place) in items.iter().zip(keys).zip(places) {
        if button_ui(ui, place, item, key, size, theme) {
            asked.push(Action::Do(item.command));
        }
    }
    asked
}

/// The largest type in which the buttons fit into so many rows, with their widths in it.
fn fitting(
    painter: &Painter,
    items: &[Item],
    keys: &[&str],
    rows: usize,
    room: f32,
    theme: &Theme,
) -> (f32, Vec<f32>) {
    let mut size = theme.sizes.caption;
    loop {
        let font = theme.word_font(size);
        let widths: Vec<f32> = items
            .iter()
            .zip(keys)
            .map(|(item, key)| {
                let text = pen::width(painter, &item.text, font.clone());
                let longest = pen::width(painter, &item.longest, font.clone());
                let key = pen::width(painter, key, theme.word_font(KEY * size));
                let mark = item.on.map_or(0.0, |_| (MARK + APART) * size);
                text.max(longest) + mark + key + (2.0 * PAD + 2.0 * APART) * size
            })
            .collect();
        if fits(&widths, rows, room, BETWEEN * size) || size <= 0.7 * theme.sizes.scale {
            return (size, widths);
        }
        size -= 0.5;
    }
}

/// Whether pieces of these widths can be laid out in so many rows.
fn fits(widths: &[f32], rows: usize, room: f32, between: f32) -> bool {
    broken(widths, room, between).len() <= rows
}

/// How many pieces stand in each row.
fn broken(widths: &[f32], room: f32, between: f32) -> Vec<usize> {
    let mut rows = vec![0];
    let mut right = 0.0;
    for &width in widths {
        if right > 0.0 && right + width > room {
            rows.push(0);
            right = 0.0;
        }
        right += width + between;
        if let Some(last) = rows.last_mut() {
            *last += 1;
        }
    }
    rows
}

/// Where each button lies: from the left, the sheets at the right end of the last row.
fn places(area: Rect, widths: &[f32], rows: usize, size: f32, height: f32) -> Vec<Rect> {
    let between = BETWEEN * size;
    // The narrowest room in which they still take no more rows: so the rows are about equally long.
    let mut room = area.width();
    while rows > 1 && room > size && fits(widths, rows, room - size, between) {
        room -= size;
    }
    let mut places = Vec::with_capacity(widths.len());
    let mut top = area.top();
    let mut from = 0;
    let rows = broken(widths, room, between);
    for (row, &count) in rows.iter().enumerate() {
        let widths = &widths[from..from + count];
        let used = widths.iter().sum::<f32>() + between * (count.max(1) - 1) as f32;
        let spare = (area.width() - used).max(0.0);
        // Several rows end where the window does; a single one is not drawn out.
        let most = if rows.len() > 1 { spare } else { GROWS * size };
        let each = (spare / count.max(1) as f32).min(most);
        let last = row + 1 == rows.len();
        let mut left = area.left();
        for (index, width) in widths.iter().enumerate() {
            if last && count > SHEETS && index == count - SHEETS {
                left += spare - each * count as f32;
            }
            let place = Rect::from_min_size(pos2(left, top), vec2(width + each, height));
            left = place.right() + between;
            places.push(place);
        }
        from += count;
        top += height + between;
    }
    places
}

/// One button; whether it was pressed.
fn button_ui(ui: &mut Ui, place: Rect, item: &Item, key: &str, size: f32, theme: &Theme) -> bool {
    let sense = if item.enabled {
        Sense::click()
    } else {
        Sense::hover()
    };
    let response = ui.interact(place, Id::unique(("bar", item.command)), sense);
    response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::Button, item.enabled, &item.name);
        info.selected = item.on;
        info
    });
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_keyboard_shortcut(key);
    });
    if ui.is_rect_visible(place) {
        let painter = ui.painter();
        if response.hovered() && item.enabled {
            painter.rect_filled(place, ROUND, theme.patch);
        }
        let edge = if response.has_focus() {
            Stroke::new(theme.sizes.value, theme.ink)
        } else {
            theme.hairline_stroke()
        };
        painter.rect_stroke(place, ROUND, edge, egui::StrokeKind::Inside);
        let font = theme.word_font(size);
        write(painter, place, item, key, font, theme);
    }
    response.clicked()
}

/// How round the corners of a button are.
const ROUND: f32 = 3.0;

/// The mark, the words, and the key.
fn write(painter: &Painter, place: Rect, item: &Item, key: &str, font: FontId, theme: &Theme) {
    let size = font.size;
    let ink = match (item.enabled, item.on) {
        (false, _) => theme.faded(theme.soft_ink, 0.6),
        (true, Some(false)) => theme.soft_ink,
        (true, _) => theme.ink,
    };
    let foot = place.center().y + 0.35 * size;
    let mut left = place.left() + PAD * size;
    if let Some(on) = item.on {
        let radius = MARK * size / 2.0;
        let centre = pos2(left + radius, place.center().y);
        painter.circle_stroke(centre, radius - 1.0, Stroke::new(theme.sizes.rule, ink));
        if on {
            painter.circle_filled(centre, radius - 1.0, ink);
        }
        left += (MARK + APART) * size;
    }
    pen::write(painter, pos2(left, foot), &item.text, font, ink);
    let font = theme.word_font(KEY * size);
    let width = pen::width(painter, key, font.clone());
    let right = place.right() - PAD * size;
    let ink = if item.enabled { theme.soft_ink } else { ink };
    pen::write(painter, pos2(right - width, foot), key, font, ink);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_hold_what_fits_and_lose_nothing() {
        let widths = [100.0, 80.0, 60.0, 90.0];
        assert_eq!(broken(&widths, 400.0, 10.0), [4]);
        assert_eq!(broken(&widths, 260.0, 10.0), [3, 1]);
        assert_eq!(broken(&widths, 50.0, 10.0), [1, 1, 1, 1]);
    }

    #[test]
    fn no_button_lies_over_another_or_beyond_the_row() {
        let widths = [
            150.0, 100.0, 110.0, 120.0, 90.0, 70.0, 60.0, 80.0, 100.0, 70.0,
        ];
        for (room, rows) in [(2524.0, 1), (988.0, 1), (604.0, 2), (420.0, 3)] {
            let area = Rect::from_min_size(pos2(18.0, 900.0), vec2(room, rows_height(rows, 18.0)));
            let places = places(area, &widths, rows, 10.0, 36.0);
            assert_eq!(places.len(), widths.len());
            for (i, place) in places.iter().enumerate() {
                assert!(
                    area.expand(0.01).contains_rect(*place),
                    "{room}: {i} {place}"
                );
                assert!(place.width() >= widths[i] - 0.01);
                for other in &places[i + 1..] {
                    let over = place.intersect(*other);
                    assert!(over.width() <= 0.01 || over.height() <= 0.01, "{room}: {i}");
                }
            }
        }
    }

    #[test]
    fn the_height_leaves_room_for_all_that_may_stand_in_the_buttons() {
        let theme = &crate::theme::Paper::Light.theme();
        let ctx = egui::Context::default();
        crate::theme::dress(&ctx);
        let mut sizes = Vec::new();
        for width in [604.0, 988.0, 1244.0, 2524.0] {
            let output = ctx.run_ui(egui::RawInput::default(), |ui| {
                let mut stand = Stand::new(crate::options::Options::default());
                stand.drone_on = true;
                let items = items(&stand);
                let keys = ["V", "S", "R", "D", "B", "T", "W", "O", "E", "F1"];
                let caption = theme.sizes.caption;
                let rows = (height(width, theme) / (BUTTON * caption)) as usize;
                let (size, widths) = fitting(ui.painter(), &items, &keys, rows, width, theme);
                assert!(fits(&widths, rows, width, BETWEEN * size), "{width}");
                sizes.push((width, rows, size));
            });
            output.drop_without_applying_deltas();
        }
        let smallest = theme.sizes.scale - 0.01;
        assert!(
            sizes.iter().all(|(.., size)| *size >= smallest),
            "{sizes:?}"
        );
        // The window of a small laptop has room for one row.
        assert_eq!(sizes[1].1, 1, "{sizes:?}");
    }
}
