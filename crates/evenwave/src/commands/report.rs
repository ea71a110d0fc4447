//! `evenwave report`: a page of HTML of a take, a drill, a lesson, a passage or some weeks.

use coach::Hints;

use crate::arguments::{ReportArguments, ReportOf};
use crate::drills;
use crate::fault::Fault;
use crate::outputs::{only_new, only_over};
use crate::passages::find;
use crate::report::{DrillIn, Library, PageOf, PassageIn};
use crate::words::say;

/// Writes the report.
pub(super) fn run(arguments: &ReportArguments) -> Result<(), Fault> {
    only_new(&arguments.out, arguments.replace)?;
    only_over(&arguments.out, "<!DOCTYPE html", "page")?;
    let of = match arguments.of.clone() {
        ReportOf::Take { take } => PageOf::Take(take),
        ReportOf::Drill { name, take, meant } => PageOf::Drill(Box::new(DrillIn {
            drill: drills::find(&name, drills::own().as_deref())?,
            place: None,
            hints: Hints::default(),
            tuning: None,
            aim: meant.aim(),
            take,
        })),
        ReportOf::Lesson { model, echoes } => PageOf::Lesson { model, echoes },
        ReportOf::Passage { plan, take, straight } => {
            PageOf::Passage(Box::new(PassageIn { passage: find(&plan)?, take, straight }))
        }
        ReportOf::Weeks { wanted } => PageOf::Weeks(wanted),
    };
    let library = Library { journal: arguments.journal.as_deref(), ear: &arguments.ear };
    let page = library.page(&of)?;
    page.write(&arguments.out)?;
    say(arguments.out.display());
    match page.damaged.is_empty() {
        true => Ok(()),
        false => Err(Fault::Failed(format!(
            "the report is of what is left of the sound: {}",
            page.damaged.join("; ")
        ))),
    }
}
