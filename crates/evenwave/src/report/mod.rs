//! Reports: one page of HTML that needs nothing but itself, to be read on any screen, printed or sent.
//!
//! Pictures are SVG within the page. There is no script, and nothing is fetched from anywhere: a policy in the
//! page's head forbids it. All that a player wrote is escaped by `maud`.

mod drill;
mod figure;
mod lesson;
mod library;
mod measures;
#[cfg(feature = "window")]
pub mod order;
mod page;
mod passage;
mod playing;
mod span;
mod take;
mod traced;

pub use drill::drill_page;
pub use lesson::lesson_page;
pub use library::{DrillIn, Library, PageOf, PassageIn};
pub use page::Page;
pub use passage::passage_page;
pub use playing::Playing;
pub use span::span_page;
pub use take::take_page;
