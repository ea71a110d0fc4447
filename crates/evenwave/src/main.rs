//! The evenwave program.

mod memory;

use std::process::ExitCode;

#[global_allocator]
static MEMORY: memory::Memory = memory::Memory;

fn main() -> ExitCode {
    memory::enough_to_begin();
    evenwave::run()
}
