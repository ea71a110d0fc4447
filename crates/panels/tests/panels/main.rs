//! The rooms of the window as a player meets them: what is said, what keys and clicks do, how it looks. Without a
//! window system.

mod drill;
mod journal;
mod lesson;
mod passage;
mod places;
mod scenes;
mod stand;
