//! The sheet on which a report is asked for: what it is of, where it goes, what became of it.

use crate::shell::Shell;
use crate::shell::action::{Action, Sought};
use crate::shell::report::ReportState;
use crate::widgets::form::Form;
use egui::{Button, Label, Ui};
use tuning::figure;

/// Draws it.
pub(super) fn report_ui(
    ui: &mut Ui,
    shell: &Shell,
    opened: bool,
    form: &Form,
    actions: &mut Vec<Action>,
) {
    let Some(report) = &shell.report else { return };
    ui.add(Label::new(report.of.in_words()).wrap());
    form.note(
        ui,
        "One page of HTML that needs nothing but itself: read it in any browser, print it, send it. The report of \
         a student is the student's: send it to nobody else.",
    );
    form.row(ui, "folder", |ui, _| {
        let options = shell.options();
        let value = options.reports.as_deref().unwrap_or("");
        let hint = "that of your documents";
        let (path, sought) = form.place(ui, "folder of the reports", value, hint);
        if let Some(path) = path {
            let mut options = options.clone();
            options.reports = (!path.is_empty()).then_some(path);
            actions.push(Action::Set(Box::new(options)));
        }
        actions.extend(sought.then_some(Action::Find(Sought::Reports)));
    });
    let (text, action) = match &report.state {
        ReportState::Coming => {
            form.status(ui, "It is being written.");
            return;
        }
        ReportState::Written(path) => {
            form.status(ui, &format!("Written: {}", path.display()));
            ("Open it", Action::OpenReport)
        }
        ReportState::Trouble(words) => {
            form.trouble(ui, &figure::sentence(words));
            ("Write it", Action::WriteReport)
        }
        ReportState::Asked => ("Write it", Action::WriteReport),
    };
    let button = ui.add(Button::new(text));
    let button = form.mark(ui, button.accessible_name(text.to_lowercase()));
    // What was pressed to get here is gone.
    if opened || ui.memory(|memory| memory.focused().is_none()) {
        button.request_focus();
    }
    if button.clicked() {
        actions.push(action);
    }
}
