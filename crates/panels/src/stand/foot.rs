//! The one sentence at the foot, and how loud the sound is.

use crate::stand::commands::BRING_BACK;
use crate::stand::picture::{Picture, Sounding};
use crate::stand::state::Stand;
use crate::stand::words;
use crate::stand::{advice, beat};
use crate::theme::Theme;
use crate::widgets::pen;
use crate::widgets::terms::explained;
use egui::{Align2, Color32, Id, Rect, Role, Sense, Ui, WidgetInfo};
use tuning::figure;
use vibrato::Remarks;

/// A note whose peaks stay below this is hard to tell from the room: the ear's gate may stand as
/// high as a mean level of −50 dBFS, and the peaks of a bowed string lie some 10 dB above its mean
/// (from memory).
const QUIET_DBFS: f64 = -42.0;
/// Without a note, anything below this is called silence.
const SILENT_DBFS: f64 = -50.0;

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

/// The one sentence that matters most now, and whether it asks for attention.
pub(super) fn sentence(stand: &Stand) -> (String, bool) {
    let picture = stand.live();
    if stand.shell.source.trouble().is_some() {
        // The trace says it in large type.
        return (String::new(), false);
    }
    let remarks = match picture.sounding {
        Sounding::Note(live) if live.two_strings => vec![words::TWO_STRINGS],
        Sounding::Note(_) if picture.tells_room() => vec![words::ROOM],
        Sounding::Silence => picture.last.as_ref().map_or_else(Vec::new, |note| {
            words::remarks(Remarks { room: picture.tells_room(), ..note.remarks })
        }),
        _ => Vec::new(),
    };
    if remarks.is_empty() {
        (stand.shell.source.wording(), stand.shell.source.asks_for_attention())
    } else {
        (remarks.join(" "), true)
    }
}

/// All that is to be said, each with whether it asks for attention; what matters most comes first, and is seen.
fn sentences(stand: &Stand) -> Vec<(String, bool)> {
    let loudspeaker = stand.shell.loudspeaker.as_ref();
    let loudspeaker = loudspeaker.map(|said| (figure::sentence(said), true));
    let mut all: Vec<(String, bool)> = [
        advice::advice(stand).map(|said| (said, false)),
        Some(sentence(stand)),
        loudspeaker,
        words::take(stand.shell.take(), stand.shell.options().keys.shown(&BRING_BACK.entry)),
        words::passage(stand).map(|said| (said, false)),
    ]
    .into_iter()
    .flatten()
    .filter(|(said, _)| !said.is_empty())
    .collect();
    // The sort is stable: what asks for attention goes first.
    all.sort_by_key(|(_, attention)| !attention);
    all
}

/// Draws the sentence into `area`, and at its right end the beat and the level.
pub(super) fn foot_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) {
    let loudness = Loudness::of(stand.live());
    let sizes = &theme.sizes;
    let said = format!("level {}", loudness.wording());
    let painter = ui.painter();
    let font = theme.word_font(sizes.caption);
    let font = pen::fitting(painter, &said, font, 0.4 * area.width());
    let wide = pen::width(painter, &said, font.clone());
    let level = area.with_min_x(area.right() - wide);
    let response = ui.allocate_rect(level, Sense::hover());
    response.widget_info(|| {
        let said = format!("level: {}", loudness.wording());
        let mut info = WidgetInfo::labeled(Role::Meter, true, said);
        info.value = stand.live().level.peak_dbfs;
        info
    });
    explained(response, "level", theme);
    let loud = ink(loudness.needs_attention(), theme);
    ui.painter().text(level.right_center(), Align2::RIGHT_CENTER, said, font, loud);
    let beat = beat::width(stand, theme).min(0.3 * area.width());
    let right = level.left() - sizes.between;
    let beats = Rect::from_x_y_ranges(right - beat..=right, area.y_range());
    beat::beat_ui(ui, beats, stand, theme);
    let words_area = area.with_max_x(beats.left() - sizes.between);
    let sentences = sentences(stand);
    for (index, (said, _)) in sentences.iter().enumerate() {
        let words = ui.interact(words_area, Id::unique(("said", index)), Sense::hover());
        words.widget_info(|| WidgetInfo::labeled(Role::Status, true, said));
    }
    if let Some((said, attention)) = sentences.first() {
        let ink = if *attention { theme.attention } else { theme.ink };
        let font = theme.word_font(sizes.word);
        pen::write_row(ui.painter(), words_area, said, font, sizes.scale, ink);
    }
}

fn ink(attention: bool, theme: &Theme) -> Color32 {
    if attention { theme.attention } else { theme.soft_ink }
}

#[cfg(test)]
mod tests {
    use super::*;

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
