//! The report that a room orders: which page it is, what its file is called, and its writing.

use std::path::PathBuf;

use coach::{Hints, Practice};
use jiff::civil::Date;
use journal::{Day, TakeId};
use panels::shell::report::{ReportOf, ReportState};
use tuning::Naming;

use super::{DrillIn, Library, PageOf, PassageIn};
use crate::arguments::{EarArguments, WantedTakes};

/// A report to be written.
#[derive(Clone, Debug)]
pub struct ReportOrder {
    page: PageOf,
    name: String,
    /// The folder of the takes.
    pub journal: PathBuf,
    /// The folder in which the page is written.
    pub into: PathBuf,
    /// How notes are named.
    pub naming: Naming,
}

impl ReportOrder {
    /// What is asked for, to be written into `into`. A round is judged again from its take, by the drill of
    /// `practice` and with this care; `None` where there is no practice.
    pub fn new(
        of: &ReportOf,
        practice: Option<(&Practice, Hints)>,
        journal: PathBuf,
        into: PathBuf,
        naming: Naming,
    ) -> Option<Self> {
        let (page, name) = match of {
            ReportOf::Take(id) => (PageOf::Take(id.to_string()), named("take", id)),
            ReportOf::Round(id) => {
                let (practice, hints) = practice?;
                let of = DrillIn {
                    drill: practice.drill().clone(),
                    place: Some(practice.place().clone()),
                    hints,
                    tuning: Some(*practice.tuning()),
                    aim: practice.aimed(),
                    take: id.to_string(),
                };
                (PageOf::Drill(Box::new(of)), named("drill", id))
            }
            ReportOf::Pass { passage, take, straight } => {
                let of = PassageIn {
                    passage: passage.as_ref().clone(),
                    take: take.to_string(),
                    straight: straight.as_ref().map(TakeId::to_string),
                };
                (PageOf::Passage(Box::new(of)), named("passage", take))
            }
            ReportOf::Lesson { model, echoes } => {
                let of = PageOf::Lesson {
                    model: model.to_string(),
                    echoes: echoes.iter().map(TakeId::to_string).collect(),
                };
                (of, named("lesson", model))
            }
            ReportOf::Weeks { filter, since } => {
                let of = PageOf::Weeks(WantedTakes::of(filter, since.and_then(date)));
                (of, format!("weeks-{}", jiff::Zoned::now().date()))
            }
        };
        Some(Self { page, name, journal, into, naming })
    }

    /// Writes it; takes as long as measuring its takes does.
    pub fn write(&self) -> ReportState {
        let ear = EarArguments { names: Some(self.naming), ..EarArguments::default() };
        let library = Library { journal: Some(&self.journal), ear: &ear };
        let page = library.page(&self.page);
        match page.and_then(|page| page.write_beside(&self.into, &self.name)) {
            Ok(path) => ReportState::Written(path),
            Err(fault) => ReportState::Trouble(fault.to_string()),
        }
    }
}

fn named(what: &str, id: &TakeId) -> String {
    format!("{what}-{}-{}", id.day(), id.time())
}

/// The date of a day that is counted from 1970 on.
fn date(day: Day) -> Option<Date> {
    let span = jiff::Span::new().try_days(i64::from(day)).ok()?;
    jiff::civil::date(1970, 1, 1).checked_add(span).ok()
}
