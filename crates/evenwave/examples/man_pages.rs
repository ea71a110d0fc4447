//! Writes the man pages of the program and of each of its commands into a folder: `man_pages FOLDER`.

use std::process::ExitCode;

use clap::CommandFactory;

fn main() -> ExitCode {
    let Some(folder) = std::env::args_os().nth(1) else {
        eprintln!("man_pages: name the folder to write them into");
        return ExitCode::from(2);
    };
    match clap_mangen::generate_to(evenwave::arguments::Arguments::command(), folder) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("man_pages: {error}");
            ExitCode::FAILURE
        }
    }
}
