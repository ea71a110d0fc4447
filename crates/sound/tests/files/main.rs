//! Sound files, good and bad, in one binary, which is linked once.

mod decoding;
mod hostile_files;
