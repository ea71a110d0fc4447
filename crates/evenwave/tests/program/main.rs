//! The program seen from outside, in one binary, which is linked once.

mod batch;
mod command_line;
mod common;
mod compare;
mod drills;
mod hostile;
mod journal_command;
mod kept_files;
mod manual;
mod passages;
mod report;
mod streams;
