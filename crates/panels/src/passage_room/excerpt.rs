//! The sheet on which it is chosen what of a score becomes a passage: a part, a voice, from bar to bar.

use super::{Excerpt, PassageAction, RoomContext};
use crate::widgets::form::Form;
use crate::widgets::paging::{HOME_END, tell_scrolled, turn_pages};
use egui::{Rect, ScrollArea, Ui, UiBuilder};

/// A turn of the page, as a share of the height that is seen.
const PAGE: f32 = 0.85;

/// Draws it and says what was chosen.
pub(super) fn excerpt_ui(ui: &mut Ui, area: Rect, context: &RoomContext) -> Option<PassageAction> {
    let (score, chosen) = context.room.score()?;
    let form = Form { theme: context.theme };
    let mut side = ui.new_child(UiBuilder::new().max_rect(area));
    form.dress(&mut side);
    let mut wanted = *chosen;
    ScrollArea::vertical().auto_shrink(false).show(&mut side, |ui| {
        tell_scrolled(ui);
        turn_pages(ui, PAGE * area.height(), HOME_END);
        form.heading(ui, &format!("What of {} do you want to practise?", score.name));
        let parts: Vec<_> =
            score.parts.iter().enumerate().map(|(at, part)| (at, part.name.clone())).collect();
        form.choice(ui, "part", &mut wanted.part, &parts);
        if wanted.part != chosen.part {
            wanted = score.whole(wanted.part);
        }
        let part = &score.parts[wanted.part];
        if !part.voices.is_empty() {
            let voices: Vec<_> = part.voices.iter().cloned().enumerate().collect();
            form.choice(ui, "voice", &mut wanted.voice, &voices);
        }
        if let (Some((least, most)), Some((from, to))) = (part.bars, &mut wanted.bars) {
            form.row(ui, "bars", |ui, _| {
                form.bare_number(ui, "from bar", from, least..=*to, "");
                ui.label("to");
                form.bare_number(ui, "to bar", to, *from..=most, "");
            });
        }
    });
    (wanted != *chosen).then_some(PassageAction::Excerpt(wanted))
}

impl super::Score {
    /// All of this part, or of the last one.
    pub(super) fn whole(&self, part: usize) -> Excerpt {
        let part = part.min(self.parts.len().saturating_sub(1));
        Excerpt { part, voice: 0, bars: self.parts.get(part).and_then(|part| part.bars) }
    }
}
