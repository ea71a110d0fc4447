//! The whole chain under test: sounds of known pitch, what the ear says of them, and the scores.

pub mod corpus;
pub mod drill_corpus;
pub mod drill_scoring;
pub mod habit_takes;
pub mod listening;
pub mod passage_contours;
pub mod passage_scoring;
pub mod passages;
pub mod phrases;
pub mod scoring;
