//! The room as it is drawn.

use super::action::LessonAction;
use super::state::LessonRoom;
use super::{commands, gauges, overlay, rows, task_sheet, wording};
use crate::shell::notice;
use crate::shell::room::Room;
use crate::shell::row;
use crate::stand::{Sought, Stand};
use crate::theme::{self, Theme};
use crate::widgets::button_row;
use crate::widgets::form::Form;
use crate::widgets::gauge::gauge_ui;
use crate::widgets::paging::{HOME_END, tell_scrolled, turn_pages};
use egui::{
    CentralPanel, Frame, Label, Rect, RichText, Role, ScrollArea, Ui, UiBuilder, WidgetInfo, pos2,
    vec2,
};
use std::collections::BTreeSet;
use tuning::figure;
use vibrato::Quantity;

/// A turn of the page, as a share of the height that is seen.
const PAGE: f32 = 0.85;
/// The trace is at least so high and so wide, as shares of the type size of captions.
const LEAST_SHEET: (f32, f32) = (11.0, 22.0);

/// Draws the room and says what the player asked for.
pub fn lesson_ui(ui: &mut Ui, room: &LessonRoom, stand: &Stand) -> Vec<LessonAction> {
    let options = stand.shell.options();
    theme::lay(ui.ctx(), options.paper);
    let window = ui.ctx().content_rect().size();
    let theme = &Theme::in_window(options.paper, options.text_scale, window);
    let form = Form { theme };
    let place = commands::place(room);
    let mut actions = row::pressed(ui, &commands::ROWS, &[place], room, &stand.shell);
    CentralPanel::default().frame(Frame::new().fill(theme.paper)).show(ui, |ui| {
        // Sheet, gauges and table have just room in the window of a small laptop.
        let margin = theme.sizes.margin;
        let inner = ui.available_rect_before_wrap().shrink2(vec2(margin, margin / 3.0));
        let buttons = row::buttons(&commands::ROWS, place, room, &stand.shell);
        let (page, foot) = button_row::under(inner, theme);
        let mut page_side = ui.new_child(UiBuilder::new().max_rect(page));
        form.dress(&mut page_side);
        ScrollArea::vertical().auto_shrink(false).show(&mut page_side, |ui| {
            tell_scrolled(ui);
            turn_pages(ui, PAGE * page.height(), HOME_END);
            if room.draft().is_some() {
                let written =
                    task_sheet::task_sheet_ui(ui, room, &stand.shell.options().player, &form);
                // What was written counts before the key that leaves its field.
                actions.splice(0..0, written);
            } else {
                page_ui(ui, page.size(), room, stand, theme, &form, &mut actions);
            }
        });
        let name = Room::Lesson.name();
        actions.extend(button_row::button_row_ui(ui, foot, name, &buttons, theme));
    });
    actions
}

fn page_ui(
    ui: &mut Ui,
    page: egui::Vec2,
    room: &LessonRoom,
    stand: &Stand,
    theme: &Theme,
    form: &Form,
    actions: &mut Vec<LessonAction>,
) {
    let top = ui.cursor().top();
    if room.lesson().model().is_none() && room.lesson().current().is_none() {
        waiting_ui(ui, room, stand, form, actions);
        return;
    }
    said_ui(ui, &wording::state(room, stand), theme, Role::Status);
    let revealed = room.revealed(stand.shell.options().showing);
    let words = if revealed { told(room, stand) } else { Vec::new() };
    ui.spacing_mut().item_spacing.y = 0.15 * form.size();
    let used = ui.cursor().top() - top;
    let below = rows::height(room, theme)
        + words_height(ui, &words, theme)
        + 3.0 * ui.spacing().item_spacing.y;
    actions.extend(picture_ui(ui, page.y - used - below, room, stand, theme));
    let mut sentences = words.iter();
    let say = |ui: &mut Ui, sentence: &String, ink| {
        let text = RichText::new(sentence).size(theme.sizes.caption).color(ink);
        ui.add(Label::new(text).wrap());
    };
    if let Some(first) = sentences.next() {
        say(ui, first, theme.ink);
    }
    if revealed {
        rows::rows_ui(ui, room, theme);
    }
    for sentence in sentences {
        say(ui, sentence, theme.soft_ink);
    }
}

/// How high the first sentence is; what follows the table is reached by scrolling.
fn words_height(ui: &Ui, words: &[String], theme: &Theme) -> f32 {
    let font = theme.word_font(theme.sizes.caption);
    let wide = ui.available_width();
    words.first().map_or(0.0, |sentence| {
        let galley = ui.painter().layout(sentence.clone(), font, theme.ink, wide);
        galley.rect.height() + ui.spacing().item_spacing.y
    })
}

/// What is said of the echo that is looked at, and of the way to it.
fn told(room: &LessonRoom, stand: &Stand) -> Vec<String> {
    let Some(echo) = room.shown_echo() else {
        return Vec::new();
    };
    let mut words = echo.comparison.words(stand.shell.naming());
    if let (Some(way), Some(first)) = (room.lesson().way_said(), words.first_mut()) {
        *first = format!("{first} {way}");
    }
    if let (Some(_), Some(number), Some(first)) =
        (room.lesson().current(), room.echo_number(), words.first_mut())
    {
        // Another sounds already.
        *first = format!("Echo {}. {first}", number + 1);
    }
    words
}

/// The sheet, with the gauges beside it or, where it is too narrow, below it.
fn picture_ui(
    ui: &mut Ui,
    height: f32,
    room: &LessonRoom,
    stand: &Stand,
    theme: &Theme,
) -> Option<LessonAction> {
    let between = theme.sizes.between;
    let gauges = gauges::gauges(room, stand);
    let wanted = gauges.iter().any(|gauge| gauge.wanted.is_some());
    let least = pictures::gauge::least_size(&theme.sizes, wanted);
    let wide = ui.available_width();
    let beside = wide - least.x - 2.0 * between >= LEAST_SHEET.1 * theme.sizes.caption;
    let sheet_height = LEAST_SHEET.0 * theme.sizes.caption;
    let (sheet, places) = if beside {
        let height = height.max(sheet_height).max(2.0 * least.y + between);
        let (area, _) = ui.allocate_exact_size(vec2(wide, height), egui::Sense::hover());
        let left = area.right() - least.x;
        let half = 0.5 * (height - between);
        let places = [0.0, half + between]
            .map(|down| Rect::from_min_size(pos2(left, area.top() + down), vec2(least.x, half)));
        (area.with_max_x(left - 2.0 * between), places)
    } else {
        let side_by_side = 2.0 * least.x + between <= wide;
        let below = if side_by_side { least.y } else { 2.0 * least.y + between };
        let height = (height - below - between).max(sheet_height);
        let (area, _) =
            ui.allocate_exact_size(vec2(wide, height + between + below), egui::Sense::hover());
        let top = area.top() + height + between;
        let places = if side_by_side {
            let width = 0.5 * (wide - between);
            [0.0, width + between].map(|right| {
                Rect::from_min_size(pos2(area.left() + right, top), vec2(width, least.y))
            })
        } else {
            [0.0, least.y + between]
                .map(|down| Rect::from_min_size(pos2(area.left(), top + down), vec2(wide, least.y)))
        };
        (area.with_max_y(area.top() + height), places)
    };
    let actions = overlay::overlay_ui(ui, sheet, room, stand, theme);
    for (gauge, place) in gauges.iter().zip(places) {
        gauge_ui(ui, place, gauge, theme);
    }
    actions
}

/// What to do now, large; a word that was left for the player stands over it.
fn first_ui(ui: &mut Ui, room: &LessonRoom, stand: &Stand, form: &Form) {
    let theme = form.theme;
    let state = wording::state(room, stand);
    if state != wording::PLAY {
        said_ui(ui, &state, theme, Role::Status);
    }
    let (large, rest) = wording::PLAY.split_once(": ").unwrap_or((wording::PLAY, ""));
    let text = RichText::new(format!("{large}."))
        .font(theme.figure_font(theme.sizes.big_word))
        .color(theme.ink);
    let response = ui.add(Label::new(text).wrap());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, wording::PLAY));
    let text = RichText::new(figure::sentence(rest)).size(theme.sizes.word);
    ui.add(Label::new(text.color(theme.ink)).wrap());
    form.note(ui, notice::CAUTION);
}

/// Before the model: what to do, the task of the lesson before and what became of it, and what a lesson is.
fn waiting_ui(
    ui: &mut Ui,
    room: &LessonRoom,
    stand: &Stand,
    form: &Form,
    actions: &mut Vec<LessonAction>,
) {
    first_ui(ui, room, stand, form);
    if let Some(task) = room.given() {
        form.part(ui, "The task that was given");
        ui.add(
            Label::new(figure::sentence(&task.wording(|name| stand.shell.drill_title(name))))
                .wrap(),
        );
    }
    if let Some(standing) = room.standing() {
        form.part(ui, &format!("The task of {}", standing.given));
        ui.add(
            Label::new(figure::sentence(
                &standing.task.wording(|name| stand.shell.drill_title(name)),
            ))
            .wrap(),
        );
        if !standing.task.words.is_empty() {
            ui.add(Label::new(format!("“{}”", standing.task.words)).wrap());
        }
        form.part(ui, "Since the last lesson");
        let words = standing.outcome.words(&standing.task).join(" ");
        ui.add(Label::new(words).wrap());
        if form.button(ui, "done with this task", "done with this task", true) {
            actions.push(LessonAction::Done);
        }
    }
    whose_ui(ui, room, stand, form, actions);
    task_file_ui(ui, room, form, actions);
    form.part(ui, "How a lesson goes");
    let steps = [
        "The teacher plays the model: a straight note, one vibrato, a change of finger, a phrase.",
        "The student echoes it, in any octave. Both are laid over each other; what differs most is said, \
         with its margin. No marks are given.",
        "More echoes show the way from the first to the last. “Model and echo in turn” plays both equally loud.",
        "A task goes home with the bands of the model. The next lesson opens with what became of it.",
    ];
    for step in steps {
        form.note(ui, step);
    }
    let mut named: Vec<&str> = Quantity::compared().map(Quantity::name).collect();
    named.dedup();
    form.note(ui, &format!("Compared are: {}.", named.join(", ")));
}

/// Who learns and who teaches: takes and task are the student's, models the teacher's.
fn whose_ui(
    ui: &mut Ui,
    room: &LessonRoom,
    stand: &Stand,
    form: &Form,
    actions: &mut Vec<LessonAction>,
) {
    let options = stand.shell.options();
    form.part(ui, "Student and teacher");
    let known = |now: &String, other: &String| {
        let names = room.players().iter().chain(&options.players).filter(|name| *name != other);
        let names: BTreeSet<&String> = names.chain([now]).collect();
        let said = |name: &String| match name.as_str() {
            "" => "no name".to_owned(),
            name => name.to_owned(),
        };
        names.into_iter().map(|name| (name.clone(), said(name))).collect::<Vec<_>>()
    };
    let mut student = options.player.clone();
    form.choice(ui, "student", &mut student, &known(&options.player, &options.teacher));
    form.row(ui, "or a new student", |ui, _| {
        if let Some(name) = form.field(ui, "new student", "", "a name") {
            student = name.trim().to_owned();
        }
    });
    if student != options.player {
        actions.push(LessonAction::Student(student));
    }
    form.row(ui, "teacher", |ui, _| {
        if let Some(name) = form.field(ui, "teacher", &options.teacher, "a name") {
            actions.push(LessonAction::Teacher(name.trim().to_owned()));
        }
    });
    form.note(ui, "Echoes and task are the student’s, models the teacher’s.");
}

/// The task as one small file.
fn task_file_ui(ui: &mut Ui, room: &LessonRoom, form: &Form, actions: &mut Vec<LessonAction>) {
    form.part(ui, "Hand the task over");
    form.row(ui, "file", |ui, _| {
        if let Some(file) = form.field(ui, "file of the task", room.task_file(), "mira-task.ron") {
            actions.push(LessonAction::TaskFile(file));
        }
        for (text, name, sought) in [
            ("New file …", "choose a new file to export to", Sought::NewTask),
            ("File …", "choose the file of a task", Sought::Task),
        ] {
            if form.button(ui, text, name, true) {
                actions.push(LessonAction::Find(sought));
            }
        }
    });
    if !room.task_file().is_empty() {
        ui.horizontal_wrapped(|ui| {
            if form.button(ui, "Export the task", "export the task", true) {
                actions.push(LessonAction::ExportTask);
            }
            if form.button(ui, "Import a task", "import a task", true) {
                actions.push(LessonAction::ImportTask);
            }
        });
    }
}

fn said_ui(ui: &mut Ui, said: &str, theme: &Theme, role: Role) {
    let text = RichText::new(said).size(theme.sizes.word).color(theme.ink);
    let response = ui.add(Label::new(text).wrap());
    response.widget_info(|| WidgetInfo::labeled(role, true, said));
}
