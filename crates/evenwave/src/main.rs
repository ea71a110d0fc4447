//! The evenwave program.

fn main() {}
