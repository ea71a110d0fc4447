//! How loud the sound is, in a bar and in words, and what is listened to.

use crate::pen;
use crate::stand::picture::{Picture, Sounding};
use crate::stand::state::Stand;
use crate::theme::Theme;
use crate::words;
use egui::{Align2, Rect, Role, Sense, Ui, WidgetInfo, pos2};

/// The bar reaches from here to full scale.
const FLOOR_DBFS: f64 = -60.0;
/// A note whose peaks stay below this is hard to tell from the room: the ear's gate may stand as
/// high as a mean level of −50 dBFS, and the peaks of a bowed string lie some 10 dB above its mean
/// (from memory).
const QUIET_DBFS: f64 = -42.0;
/// Without a note, anything below this is called silence.
const SILENT_DBFS: f64 = -50.0;
const BAR_HEIGHT: f32 = 9.0;

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

    fn said(self) -> &'static str {
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
pub fn sentence(stand: &Stand) -> (String, bool) {
    let picture = stand.live();
    if stand.source.trouble().is_some() {
        // The trace says it in large type.
        return (String::new(), false);
    }
    let remarks = match picture.sounding {
        Sounding::Note(live) if live.two_strings => vec![words::TWO_STRINGS],
        Sounding::Note(live) if live.room => vec![words::ROOM],
        Sounding::Silence => picture
            .last
            .as_ref()
            .map_or_else(Vec::new, |note| words::remarks(note.remarks)),
        _ => Vec::new(),
    };
    if remarks.is_empty() {
        (stand.source.said(), stand.source.asks_for_attention())
    } else {
        (remarks.join(" "), true)
    }
}

/// Draws the level and the sentence into `area`.
pub fn level_meter_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) {
    let loudness = Loudness::of(stand.live());
    let (said, attention) = sentence(stand);
    let level_area = Rect::from_min_max(area.min, pos2(area.right(), area.top() + 36.0));
    let level = ui.allocate_rect(level_area, Sense::hover());
    level.widget_info(|| {
        let said = format!("level: {}", loudness.said());
        let mut info = WidgetInfo::labeled(Role::Meter, true, said);
        info.value = stand.live().level.peak_dbfs;
        info
    });
    let words_area = Rect::from_min_max(pos2(area.left(), level_area.bottom() + 1.0), area.max);
    let words = ui.allocate_rect(words_area, Sense::hover());
    words.widget_info(|| WidgetInfo::labeled(Role::Status, true, &said));
    if !ui.is_rect_visible(area) {
        return;
    }
    let painter = ui.painter_at(area);
    let sizes = &theme.sizes;
    let ink = |attention| {
        if attention {
            theme.attention
        } else {
            theme.soft_ink
        }
    };
    let bar = Rect::from_min_size(
        pos2(area.left(), area.top() + 25.0),
        egui::vec2(area.width(), BAR_HEIGHT),
    );
    let caption = theme.word_font(sizes.caption);
    let foot = pos2(area.left(), area.top() + 17.0);
    let after = pen::write(&painter, foot, "level  ", caption.clone(), theme.soft_ink);
    let loud = ink(loudness.needs_attention());
    pen::write(
        &painter,
        pos2(after, foot.y),
        loudness.said(),
        caption.clone(),
        loud,
    );
    if let Some(dbfs) = stand.live().level.peak_dbfs {
        painter.text(
            pos2(bar.right(), foot.y + 4.0),
            Align2::RIGHT_BOTTOM,
            format!("{} dBFS", words::signed(dbfs.max(FLOOR_DBFS), 0)),
            theme.word_font(sizes.scale),
            theme.soft_ink,
        );
        let mut full = bar;
        full.set_right(bar.left() + filled(dbfs) * bar.width());
        painter.rect_filled(full, 0.0, theme.soft_ink);
    }
    painter.hline(bar.x_range(), bar.bottom(), theme.rule_stroke());
    for dbfs in [FLOOR_DBFS, QUIET_DBFS, 0.0] {
        let x = bar.left() + filled(dbfs) * bar.width();
        painter.vline(x, bar.top()..=bar.bottom() + 3.0, theme.rule_stroke());
    }
    pen::write_lines(
        &painter,
        words_area,
        &said,
        caption,
        sizes.scale,
        ink(attention),
    );
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
