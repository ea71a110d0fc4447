//! Opens the window without a console beside it, which Windows would give a program of the command line: starts `evenwave`,
//! which lies beside this, with the same words.

#![windows_subsystem = "windows"]

use std::process::{Command, ExitCode};

fn main() -> ExitCode {
    let beside = std::env::current_exe().map(|this| this.with_file_name("evenwave"));
    let started = beside.and_then(|program| {
        let mut command = Command::new(program);
        command.args(std::env::args_os().skip(1));
        #[cfg(windows)]
        {
            /// `CREATE_NO_WINDOW`: the console of the process has no window.
            const NO_CONSOLE: u32 = 0x0800_0000;
            std::os::windows::process::CommandExt::creation_flags(&mut command, NO_CONSOLE);
        }
        command.status()
    });
    if started.is_ok_and(|status| status.success()) { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
