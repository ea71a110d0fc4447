//! The whole chain, in one binary, which is linked once.

mod arbitrary_samples;
mod comparison;
mod contours;
mod double_stops;
mod drill_kinds;
mod edges;
mod leaps;
mod new_bows;
mod not_bowed;
mod other_notes;
mod played_back;
mod published_values;
mod recorded_rounds;
mod rounds_in_rooms;
mod slides;
mod sound_leak;
