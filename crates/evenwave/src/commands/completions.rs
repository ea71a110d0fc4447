//! `evenwave completions SHELL`.

use std::io::Write;

use clap::CommandFactory;

use crate::arguments::Arguments;
use crate::fault::Fault;

/// Writes the completions to the standard output.
pub(super) fn run(shell: clap_complete::Shell) -> Result<(), Fault> {
    // Into memory first: the generator panics on a closed pipe.
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), "evenwave", &mut script);
    std::io::stdout().write_all(&script)?;
    Ok(())
}
