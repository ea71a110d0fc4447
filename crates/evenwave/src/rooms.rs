//! The program's side of the rooms: threads that do what a room orders.

pub mod journal;
pub mod lesson;
pub mod report;
