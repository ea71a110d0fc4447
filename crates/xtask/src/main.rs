//! stub

fn main() {}
