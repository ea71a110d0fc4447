//! Reports in the window: written by a thread of their own, opened by the system's browser.

use std::thread;

use panels::shell::report::ReportState;
use panels::stand::Heard;

use super::{Window, teller};
use crate::report::order::ReportOrder;

impl Window {
    /// Writes the report that is asked for.
    pub(super) fn write_report(&mut self) {
        match self.report_order() {
            Ok(order) => {
                let tell = teller(&self.tell, &self.context);
                let work = move || tell(Heard::Report(order.write()));
                let writer = thread::Builder::new().name("write report".to_owned());
                if let Err(error) = writer.spawn(work) {
                    self.no_report(format!("no thread can be started to write it ({error})"));
                }
            }
            Err(words) => self.no_report(words.to_owned()),
        }
    }

    fn report_order(&self) -> Result<ReportOrder, &'static str> {
        let report = self.stand.shell.report.as_ref();
        let of = &report.ok_or("choose what is to be reported")?.of;
        let options = self.options();
        let journal = self.opening.journal(&self.in_force);
        let into = self.opening.reports(options);
        let practice = self.drill.room.practice();
        ReportOrder::new(
            of,
            practice.map(|practice| (practice, options.hints)),
            journal
                .ok_or("there is no folder of takes on this system; name one in the settings")?,
            into.ok_or("there is no folder of documents on this system; name one")?,
            options.naming,
        )
        .ok_or("the drill of this round is closed; play a round again")
    }

    fn no_report(&self, words: String) {
        let state = ReportState::Trouble(words);
        self.tell.send(Heard::Report(state)).ok();
        self.context.request_repaint();
    }

    /// Opens the report that was written last.
    pub(super) fn open_report(&mut self) {
        let report = self.stand.shell.report.as_ref();
        let Some(ReportState::Written(path)) = report.map(|report| &report.state) else {
            return;
        };
        if let Err(error) = open::that_detached(path) {
            self.no_report(format!(
                "no browser can be opened ({error}); open the file yourself: {}",
                path.display()
            ));
        }
    }
}
