//! How loud the sound is, in a bar and in words, and what is listened to.

use crate::stand::beat;
use crate::stand::picture::{Picture, Sounding};
use crate::stand::state::Stand;
use crate::stand::words;
use crate::theme::Theme;
use crate::widgets::pen;
use egui::{Color32, Id, Painter, Rect, Role, Sense, Ui, WidgetInfo, pos2};
use tuning::figure;
use vibrato::Remarks;

/// The bar reaches from here to full scale.
const FLOOR_DBFS: f64 = -60.0;
/// A note whose peaks stay below this is hard to tell from the room: the ear's gate may stand as
/// high as a mean level of −50 dBFS, and the peaks of a bowed string lie some 10 dB above its mean
/// (from memory).
const QUIET_DBFS: f64 = -42.0;
/// Without a note, anything below this is called silence.
const SILENT_DBFS: f64 = -50.0;

/// No sentence is written smaller, in points.
const LEAST_TYPE: f32 = 13.0;

/// What the level means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Loudness {
    Unknown,
    Silent,
    TooQuiet,
    Good,
    Clipping,
}

impl Loudness {
    fn of(picture: &Picture) -> Self {
        let note = picture.sounding != Sounding::Silence;
        match picture.level.peak_dbfs {
            None => Self::Unknown,
            Some(_) if picture.level.clipped() => Self::Clipping,
            Some(level) if note && level < QUIET_DBFS => Self::TooQuiet,
            Some(level) if !note && level < SILENT_DBFS => Self::Silent,
            Some(_) => Self::Good,
        }
    }

    fn wording(self) -> &'static str {
        match self {
            Self::Unknown => "none",
            Self::Silent => "silence",
            Self::TooQuiet => "too quiet: come closer",
            Self::Good => "good",
            Self::Clipping => "clipping: turn it down",
        }
    }

    fn needs_attention(self) -> bool {
        matches!(self, Self::TooQuiet | Self::Clipping)
    }
}

/// How far the bar is filled, from 0 to 1.
fn filled(level_dbfs: f64) -> f32 {
    (1.0 - level_dbfs / FLOOR_DBFS).clamp(0.0, 1.0) as f32
}

/// The one sentence that matters most now, and whether it asks for attention.
pub(super) fn sentence(stand: &Stand) -> (String, bool) {
    let picture = stand.live();
    if stand.shell.source.trouble().is_some() {
        // The trace says it in large type.
        return (String::new(), false);
    }
    let remarks = match picture.sounding {
        Sounding::Note(live) if live.two_strings => vec![words::TWO_STRINGS],
        Sounding::Note(live) if live.room && picture.tells_room() => vec![words::ROOM],
        Sounding::Silence => picture.last.as_ref().map_or_else(Vec::new, |note| {
            let room = note.remarks.room && picture.tells_room();
            words::remarks(Remarks { room, ..note.remarks })
        }),
        _ => Vec::new(),
    };
    if remarks.is_empty() {
        (stand.shell.source.wording(), stand.shell.source.asks_for_attention())
    } else {
        (remarks.join(" "), true)
    }
}

/// All that is to be said, each with whether it asks for attention.
fn sentences(stand: &Stand) -> Vec<(String, bool)> {
    let loudspeaker = stand.shell.loudspeaker.as_ref();
    let loudspeaker = loudspeaker.map(|said| (figure::sentence(said), true));
    [
        Some(sentence(stand)),
        loudspeaker,
        words::take(stand.shell.take()),
        words::passage(stand).map(|said| (said, false)),
    ]
    .into_iter()
    .flatten()
    .filter(|(said, _)| !said.is_empty())
    .collect()
}

/// Draws the level, the beat and the sentences into `area`.
pub(super) fn level_meter_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) {
    let loudness = Loudness::of(stand.live());
    let sizes = &theme.sizes;
    let head = area.top() + 1.6 * sizes.caption;
    let beat = beat::width(stand, theme).min(0.5 * area.width());
    let right = if beat > 0.0 { area.right() - beat - sizes.between } else { area.right() };
    let beats = Rect::from_min_max(pos2(area.right() - beat, area.top()), pos2(area.right(), head));
    beat::beat_ui(ui, beats, stand, theme);
    let level_area = Rect::from_min_max(area.min, pos2(right, head));
    let level = ui.allocate_rect(level_area, Sense::hover());
    level.widget_info(|| {
        let said = format!("level: {}", loudness.wording());
        let mut info = WidgetInfo::labeled(Role::Meter, true, said);
        info.value = stand.live().level.peak_dbfs;
        info
    });
    let words_area = Rect::from_min_max(pos2(area.left(), head + 0.2 * sizes.scale), area.max);
    let sentences = sentences(stand);
    for (index, (said, _)) in sentences.iter().enumerate() {
        let words = ui.interact(words_area, Id::unique(("said", index)), Sense::hover());
        words.widget_info(|| WidgetInfo::labeled(Role::Status, true, said));
    }
    if !ui.is_rect_visible(area) {
        return;
    }
    level_bar(&ui.painter_at(level_area.expand(2.0)), level_area, loudness, stand, theme);
    let pieces: Vec<(&str, Color32)> =
        sentences.iter().map(|(said, attention)| (said.as_str(), ink(*attention, theme))).collect();
    let font = theme.word_font(sizes.caption);
    let least = (0.6 * sizes.scale).max(LEAST_TYPE);
    pen::write_pieces(&ui.painter_at(area), words_area, &pieces, font, least);
}

fn ink(attention: bool, theme: &Theme) -> Color32 {
    if attention { theme.attention } else { theme.soft_ink }
}

/// The level in words and figures, and under them the bar.
fn level_bar(painter: &Painter, area: Rect, loudness: Loudness, stand: &Stand, theme: &Theme) {
    let sizes = &theme.sizes;
    let height = 0.3 * sizes.caption;
    let bar = Rect::from_min_max(
        pos2(area.left(), area.bottom() - 3.0 - height),
        pos2(area.right(), area.bottom() - 3.0),
    );
    let foot = area.top() + 0.85 * sizes.caption;
    let peak = stand.live().level.peak_dbfs;
    let mut room = area.right();
    if let Some(dbfs) = peak {
        let said = format!("{} dBFS", figure::signed(dbfs.max(FLOOR_DBFS), 0));
        let small = theme.word_font(sizes.scale);
        let slot = pen::width(painter, "−00 dBFS", small.clone());
        room -= slot + sizes.between;
        let left = area.right() - pen::width(painter, &said, small.clone());
        pen::write(painter, pos2(left, foot), &said, small, theme.soft_ink);
        let mut full = bar;
        full.set_right(bar.left() + filled(dbfs) * bar.width());
        painter.rect_filled(full, 0.0, theme.soft_ink);
    }
    let caption = theme.word_font(sizes.caption);
    let all = format!("level  {}", loudness.wording());
    let caption = pen::fitting(painter, &all, caption, room - area.left());
    let at = pos2(area.left(), foot);
    let after = pen::write(painter, at, "level  ", caption.clone(), theme.soft_ink);
    let loud = ink(loudness.needs_attention(), theme);
    pen::write(painter, pos2(after, foot), loudness.wording(), caption, loud);
    painter.hline(bar.x_range(), bar.bottom(), theme.rule_stroke());
    for dbfs in [FLOOR_DBFS, QUIET_DBFS, 0.0] {
        let x = bar.left() + filled(dbfs) * bar.width();
        painter.vline(x, bar.top()..=bar.bottom() + 3.0, theme.rule_stroke());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bar_is_empty_at_the_floor_and_full_at_full_scale() {
        assert_eq!(filled(FLOOR_DBFS), 0.0);
        assert_eq!(filled(-30.0), 0.5);
        assert_eq!(filled(0.0), 1.0);
        assert_eq!(filled(-200.0), 0.0);
        assert_eq!(filled(6.0), 1.0);
    }

    #[test]
    fn quiet_is_a_fault_only_while_a_note_sounds() {
        let mut picture = Picture::default();
        picture.level.peak_dbfs = Some(-45.0);
        assert_eq!(Loudness::of(&picture), Loudness::Good);
        picture.sounding = Sounding::Begun(crate::stand::picture::Placed {
            start: tuning::Secs(0.0),
            end: None,
            midi: 57,
            reference: tuning::Hz(220.0),
            straight: false,
        });
        assert_eq!(Loudness::of(&picture), Loudness::TooQuiet);
        picture.level.peak_dbfs = Some(-1.0);
        assert_eq!(Loudness::of(&picture), Loudness::Good);
        picture.level.take(0.0, true);
        assert_eq!(Loudness::of(&picture), Loudness::Clipping);
    }
}
