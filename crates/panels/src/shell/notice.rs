//! What the player should know now: why nothing is heard, and what the program has to say.

use crate::shell::Shell;
use crate::shell::action::Action;
use crate::theme::Theme;
use crate::widgets::pen;
use egui::{Id, Rect, Role, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, pos2, vec2};

/// The caution that is shown once, before the first note.
pub(crate) const CAUTION: &str = "Start loose. Stop at pain, numbness or tingling, and rest often. \
     Ask a teacher; for symptoms that stay, ask a clinician who knows musicians.";

/// Size of the notice of a trouble, if there is room, at the usual size of type.
const TROUBLE: Vec2 = vec2(640.0, 168.0);
/// Lines of a message at least, and at most; a longer one has smaller type.
const LINES: (usize, usize) = (2, 5);
/// Width of the button that dismisses it, as a share of the type size.
const BUTTON: f32 = 3.6;

/// What keeps the sound from being heard, over the middle of `sheet`, and what to do.
pub(crate) fn trouble_ui(ui: &mut Ui, sheet: Rect, shell: &Shell, theme: &Theme) {
    let Some(trouble) = shell.source.trouble() else {
        return;
    };
    let said = shell.source.wording();
    let sizes = &theme.sizes;
    let wished = TROUBLE * sizes.grown.text.max(sizes.grown.figures);
    let patch = Rect::from_center_size(sheet.center(), wished.min(sheet.size()));
    let response = ui.interact(patch, Id::unique("trouble"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Alert, true, format!("{trouble}: {said}")));
    let painter = ui.painter_at(patch);
    painter.rect_filled(patch, 4.0, theme.patch);
    painter.rect_stroke(patch, 4.0, theme.rule_stroke(), StrokeKind::Inside);
    let text = patch.shrink(sizes.margin);
    let title = theme.figure_font(sizes.big_word);
    let title = pen::fitting(&painter, trouble, title, text.width());
    let foot = pos2(text.left(), text.top() + 0.75 * title.size);
    pen::write(&painter, foot, trouble, title, theme.attention);
    let under = Rect::from_min_max(pos2(text.left(), foot.y + 0.7 * sizes.word), text.max);
    let font = theme.word_font(sizes.word);
    pen::write_lines(&painter, under, &said, font, 0.8 * sizes.scale, theme.ink);
}

/// What the program has to say, as it is written.
fn wording(shell: &Shell) -> Option<String> {
    let word = shell.words.first()?;
    Some(match shell.words.len() {
        1 => word.clone(),
        count => format!("{word} (1 of {count})"),
    })
}

/// How high what the program has to say is on a slip so wide; `None` where it has nothing to say.
pub(crate) fn word_height(ui: &Ui, wide: f32, shell: &Shell, theme: &Theme) -> Option<f32> {
    let size = theme.sizes.caption;
    let font = theme.word_font(size);
    let text = wide - (BUTTON + 1.8) * size;
    let painter = ui.painter();
    let lines = painter.layout(wording(shell)?, font, theme.ink, text).rows.len();
    Some((lines.clamp(LINES.0, LINES.1) as f32 * 1.35 + 0.8) * size)
}

/// What the program has to say, over the top of `sheet`, until it was read.
pub(crate) fn word_ui(ui: &mut Ui, sheet: Rect, shell: &Shell, theme: &Theme) -> Vec<Action> {
    let needed = word_height(ui, sheet.width(), shell, theme);
    let (Some(said), Some(height)) = (wording(shell), needed) else {
        return Vec::new();
    };
    let sizes = &theme.sizes;
    let size = sizes.caption;
    let font = theme.word_font(size);
    let slip = Rect::from_min_size(sheet.min, vec2(sheet.width(), height.min(sheet.height())));
    let response = ui.interact(slip, Id::unique("word"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Alert, true, &said));
    // The button is as high as that of a short message.
    let foot = slip.top() + (LINES.0 as f32 * 1.35 + 0.4) * size;
    let place = Rect::from_min_max(
        pos2(slip.right() - BUTTON * size - 0.4 * size, slip.top() + 0.4 * size),
        pos2(slip.right() - 0.4 * size, foot.min(slip.bottom() - 0.4 * size)),
    );
    let read = ui.interact(place, Id::unique("read"), Sense::click());
    read.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Close"));
    let painter = ui.painter_at(slip.expand(2.0));
    painter.rect_filled(slip, 3.0, theme.patch);
    painter.rect_stroke(slip, 3.0, theme.rule_stroke(), StrokeKind::Inside);
    let text = Rect::from_min_max(
        slip.min + vec2(0.7 * size, 0.4 * size),
        pos2(place.left() - 0.7 * size, slip.bottom() - 0.3 * size),
    );
    pen::write_lines(&painter, text, &said, font.clone(), 0.7 * sizes.scale, theme.ink);
    let edge = match (read.has_focus(), read.hovered()) {
        (true, _) => Stroke::new(sizes.value, theme.ink),
        (false, true) => Stroke::new(sizes.rule, theme.ink),
        (false, false) => theme.rule_stroke(),
    };
    painter.rect_filled(place, 3.0, theme.paper);
    painter.rect_stroke(place, 3.0, edge, StrokeKind::Inside);
    painter.text(place.center(), egui::Align2::CENTER_CENTER, "Close", font, theme.ink);
    if read.clicked() { vec![Action::Dismiss] } else { Vec::new() }
}
