//! Scores as they come from elsewhere: what is in them becomes a passage, and what is made to harm is refused in words, in
//! little time and memory.

mod hostile;
mod midi;
mod passages;
