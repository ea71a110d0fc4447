//! The evenwave program.

use std::process::ExitCode;

fn main() -> ExitCode {
    evenwave::run()
}
