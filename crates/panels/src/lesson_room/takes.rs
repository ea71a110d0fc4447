//! The takes of a lesson, as far as they were kept.

use crate::shell::report::ReportOf;
use journal::TakeId;

/// The takes of a lesson that were kept.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Takes {
    /// That of the model.
    pub model: Option<TakeId>,
    /// Those of the echoes, in the order in which they were played.
    pub echoes: Vec<TakeId>,
}

impl Takes {
    /// What a report of them is of; `None` where that of the model or of an echo is missing.
    pub(super) fn report(&self) -> Option<ReportOf> {
        let Self { model, echoes } = self.clone();
        let model = model.filter(|_| !echoes.is_empty())?;
        Some(ReportOf::Lesson { model, echoes })
    }
}
