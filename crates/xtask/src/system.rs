//! The systems that players have, and how the program is built for them.

use std::path::PathBuf;

use clap::ValueEnum;

use crate::shell::{Step, root, target};

/// A system that players have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum System {
    /// A package for Debian, and an archive
    Linux,
    /// The folder of a program, without the program
    Mac,
    /// An archive and an installer
    Windows,
}

impl System {
    /// As compilers name it.
    pub(crate) const fn triple(self) -> &'static str {
        match self {
            Self::Linux => "x86_64-unknown-linux-gnu",
            Self::Mac => "aarch64-apple-darwin",
            Self::Windows => "x86_64-pc-windows-gnu",
        }
    }
}

/// Has `step` build all optimised, in words that name no folder of this machine.
pub(crate) fn released(step: Step) -> Step {
    let cargo = std::env::var_os("CARGO_HOME")
        .map(PathBuf::from)
        .or_else(|| Some(PathBuf::from(std::env::var_os("HOME")?).join(".cargo")));
    let mut flags = String::new();
    // Of those that fit the last one counts, and what is built may lie below the sources.
    for (place, name) in [(cargo, "cargo"), (Some(root()), "evenwave"), (Some(target()), "built")] {
        if let Some(place) = place {
            flags += &format!("--remap-path-prefix={}={name} ", place.display());
        }
    }
    step.arg("--release").env("RUSTFLAGS", flags.trim_end())
}
