//! What was found in the round that is over: whether it holds, in words what to look at, the measures of
//! each turn, and pictures of the round.

use super::changes::changes_ui;
use super::measures::{against_best_ui, turns_ui};
use super::plane::plane_ui;
use super::{RoomContext, wording};
use crate::shell::Shell;
use crate::widgets::paging::tell_scrolled;
use coach::{Drill, Finding, FindingKind, Judged, Next, breaks_rule};
use egui::style::ScrollAnimation;
use egui::text::LayoutJob;
use egui::{
    Id, Key, Label, Modifiers, Rect, RichText, ScrollArea, TextFormat, Ui, UiBuilder, vec2,
};
use tuning::figure;

/// A turn of the page, as a share of the height that is seen.
const PAGE: f32 = 0.45;

/// Draws the page into `area`.
pub(super) fn findings_ui(ui: &mut Ui, area: Rect, context: &RoomContext) {
    let (Some(round), Some(drill)) = (context.room.judged(), context.room.drill()) else {
        return;
    };
    let mut inner = ui.new_child(UiBuilder::new().max_rect(area));
    inner.spacing_mut().item_spacing = vec2(0.0, 0.35 * context.theme.sizes.caption);
    // That there is more below must be seen.
    inner.spacing_mut().scroll.floating = false;
    inner.spacing_mut().scroll.bar_width = 0.5 * context.theme.sizes.caption;
    let scrolled = ScrollArea::vertical().id_salt("findings").auto_shrink(false);
    let scrolled = scrolled.show(&mut inner, |ui| {
        tell_scrolled(ui);
        let page = PAGE * area.height();
        let down = ui.data(|data| data.get_temp::<f32>(scroll_id())).unwrap_or(0.0);
        if down != 0.0 {
            ui.scroll_with_delta_animation(vec2(0.0, -down * page), ScrollAnimation::none());
            ui.data_mut(|data| data.remove::<f32>(scroll_id()));
        }
        let all = context.room.all_measures();
        head_ui(ui, drill, round, context);
        words_ui(ui, drill, round, &FIRST, context);
        changes_ui(ui, drill, round, context);
        turns_ui(ui, drill, round, all, context);
        plane_ui(ui, drill, round, context);
        words_ui(ui, drill, round, &THEN, context);
        if all {
            against_best_ui(ui, round, context);
        }
    });
    let above = scrolled.state.clamped_offset().y > 1.0;
    let left =
        scrolled.content_size.y - scrolled.inner_rect.height() - scrolled.state.clamped_offset().y;
    ui.data_mut(|data| data.insert_temp(more_id(), (above, left > 1.0)));
}

/// Whether there is more of the page above and below what is seen.
fn more_id() -> Id {
    Id::unique("more of the findings")
}

fn scroll_id() -> Id {
    Id::unique("findings turned")
}

/// Up and Down turn the page; so do Page Up and Page Down, the keys of a pedal, as long as there is more of it.
pub(super) fn scroll_keys(ui: &Ui, shell: &Shell) {
    if shell.overlay.is_some() || ui.memory(|memory| memory.focused().is_some()) {
        return;
    }
    let (above, below) = ui.data(|data| data.get_temp(more_id())).unwrap_or((false, false));
    for (key, down, turns) in [
        (Key::ArrowDown, 1.0_f32, true),
        (Key::ArrowUp, -1.0, true),
        (Key::PageDown, 1.0, below),
        (Key::PageUp, -1.0, above),
    ] {
        if turns && ui.input_mut(|input| input.consume_key(Modifiers::NONE, key)) {
            ui.data_mut(|data| data.insert_temp(scroll_id(), down));
        }
    }
}

/// Whether it holds, and what was played.
fn head_ui(ui: &mut Ui, drill: &Drill, round: &Judged, context: &RoomContext) {
    let theme = context.theme;
    let said = if round.holds { "Secure." } else { "Not secure yet." };
    let text = RichText::new(said).font(theme.figure_font(theme.sizes.big_word)).color(theme.ink);
    ui.add(Label::new(text).wrap());
    let number = context.room.practice().map_or(0, |p| p.done().len());
    let mut facts = vec![format!("round {number}"), drill.title.clone(), wording::pace(drill)];
    match context.room.next() {
        Some(Next::Up(level)) => facts.push(format!("the ladder goes up to {level:.0}")),
        Some(Next::Down(level)) => facts.push(format!("the ladder goes down to {level:.0}")),
        Some(Next::Stay(level)) => facts.push(format!("the ladder stays at {level:.0}")),
        None => {}
    }
    let text = RichText::new(facts.join(" · "))
        .font(theme.word_font(theme.sizes.caption))
        .color(theme.soft_ink);
    ui.add(Label::new(text).wrap());
}

/// What comes first of the findings, with a word before those of a kind.
fn rank(drill: &Drill, finding: &Finding) -> (u8, &'static str) {
    match finding.kind {
        FindingKind::Tiring => (0, "take care"),
        FindingKind::Rest => (0, "rest"),
        FindingKind::Changed => (2, "changed"),
        FindingKind::Try => (3, "to try"),
        _ if breaks_rule(drill, finding) => (1, "what stopped it"),
        _ => (4, ""),
    }
}

/// Ranks of what is read first, before the picture of the round, and of what is read then.
const FIRST: [u8; 3] = [0, 1, 3];
const THEN: [u8; 2] = [2, 4];

/// The findings of these ranks, each a sentence; those that keep the round from holding together.
fn words_ui(ui: &mut Ui, drill: &Drill, round: &Judged, ranks: &[u8], context: &RoomContext) {
    let theme = context.theme;
    let sizes = &theme.sizes;
    let mut all: Vec<(u8, &str, String)> = Vec::new();
    let mut broken: Vec<&str> = Vec::new();
    for finding in &round.findings {
        let (rank, name) = rank(drill, finding);
        match (rank, finding.kind) {
            // What lies beside the beat is told with all its numbers, below.
            (_, FindingKind::Beat) => {}
            (1, _) => broken.push(&finding.words),
            _ => all.push((rank, name, finding.words.clone())),
        }
    }
    if !broken.is_empty() {
        // The first has the word before it, the others stand below.
        let names = std::iter::once("what stopped it").chain(std::iter::repeat(""));
        all.extend(broken.into_iter().zip(names).map(|(words, name)| (1, name, words.to_owned())));
    }
    if let Some(found) = round.on_beat {
        all.push((4, "", found.wording()));
    }
    all.sort_by_key(|(rank, ..)| *rank);
    // What changed says nothing of this round by itself.
    if ranks == FIRST && all.iter().all(|(rank, ..)| *rank == 2) {
        let said = if wording::walks(drill) {
            "Nothing stood out: each was reached."
        } else {
            "Nothing stood out: the notes are alike."
        };
        let text = RichText::new(said).font(theme.word_font(sizes.word));
        ui.add(Label::new(text.color(theme.ink)).wrap());
    }
    for (rank, name, words) in all.into_iter().filter(|(rank, ..)| ranks.contains(rank)) {
        let mut job = LayoutJob::default();
        job.wrap.max_width = ui.available_width();
        let sentence = figure::sentence(&words);
        if name.is_empty() {
            let ink = TextFormat::simple(theme.word_font(0.9 * sizes.word), theme.ink);
            job.append(&format!("·  {sentence}"), 0.0, ink);
        } else {
            let ink = if matches!(rank, 0 | 3) { theme.attention } else { theme.soft_ink };
            let caption = TextFormat::simple(theme.word_font(0.9 * sizes.word), ink);
            job.append(&format!("{name}:  "), 0.0, caption);
            let ink = TextFormat::simple(theme.word_font(sizes.word), theme.ink);
            job.append(&sentence, 0.0, ink);
        }
        ui.add(Label::new(job).wrap());
    }
}
