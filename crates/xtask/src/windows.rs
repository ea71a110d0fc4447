//! Gate: the program for Windows, installed and used under wine, beside the one for this system.
//!
//! What wine cannot show: microphones and loudspeakers of Windows, its trash, its dialog for files, its screen reader, its
//! own drawing, and its warning about a program from an unknown maker.

mod deeds;
mod window;

use std::ffi::OsStr;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Output};

use crate::checks::Checks;
use crate::package;
use crate::packages;
use crate::shell::{Fault, Step, empty, root, target};

/// Where the installer puts the program, below the drive of a player whom wine names as the system does.
const PLACE: &str = "AppData/Local/Programs/evenwave";
/// A library of Windows that wine 8 lacks, of which Rust's library uses one function; its meaning is that of an older one.
const RANDOM: &str = "#include <windows.h>\n#include <ntsecapi.h>\n\
    __declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE bytes, SIZE_T count) { return RtlGenRandom(bytes, (ULONG)count); }\n";

/// Reads a file as office programs do, and lets nobody else write it meanwhile: says so, and ends when its input does.
const OFFICE: &str = "#include <stdio.h>\n#include <windows.h>\n\
    int main(int count, char **words) {\n\
    HANDLE file = CreateFileA(words[1], GENERIC_READ, FILE_SHARE_READ, NULL, OPEN_EXISTING, 0, NULL);\n\
    puts(file == INVALID_HANDLE_VALUE ? \"no\" : \"held\"); fflush(stdout);\n\
    getchar(); return 0; }\n";

/// Builds, packs, installs, uses and removes it.
pub(crate) fn run() -> Result<(), Fault> {
    let mut checks = Checks::default();
    package::windows::run(&mut checks)?;
    packages::install(&[packages::WINDOW, packages::DISPLAY])?;
    let ours = package::linux_program()?;
    let bench = Bench::new(ours)?;
    println!("\ninstalled under wine");
    let said = bench.wine(&package::windows::installer(), &["/S"])?;
    checks.that(
        said.status.success() && bench.installed("evenwave.exe").is_file(),
        "the installer installs it without a question",
        PLACE,
    );
    bench.lend_what_wine_lacks()?;
    deeds::run(&bench, &mut checks)?;
    window::run(&bench, &mut checks)?;
    bench.is_removed(&mut checks)?;
    checks.end("windows")
}

/// A Windows that is empty, and the program for this system to compare with.
struct Bench {
    /// Where all is written.
    folder: PathBuf,
    ours: PathBuf,
}

impl Bench {
    fn new(ours: PathBuf) -> Result<Self, Fault> {
        let folder = target().join("wine");
        empty(&folder)?;
        let bench = Self { folder, ours };
        Step::new("wineboot").arg("--init").envs(&bench.environment()).listen()?;
        Ok(bench)
    }

    /// What wine is told: where its Windows lies, to say little, and to offer nothing to install.
    fn environment(&self) -> [(&'static str, String); 3] {
        [
            ("WINEPREFIX", self.folder.join("windows").display().to_string()),
            ("WINEDEBUG", "-all".to_owned()),
            ("WINEDLLOVERRIDES", "mscoree,mshtml=".to_owned()),
        ]
    }

    /// The folder of a file that was installed.
    fn installed(&self, name: &str) -> PathBuf {
        let users = self.folder.join("windows/drive_c/users");
        let mut player =
            fs::read_dir(&users).into_iter().flatten().flatten().map(|entry| entry.path());
        let player = player.find(|path| !path.ends_with("Public")).unwrap_or(users);
        player.join(PLACE).join(name)
    }

    /// A program for Windows with these words, to be run.
    fn step(&self, program: &Path, words: &[impl AsRef<OsStr>]) -> Step {
        Step::new("wine").arg(program).args(words).within(&self.folder).envs(&self.environment())
    }

    fn wine(&self, program: &Path, words: &[impl AsRef<OsStr>]) -> Result<Output, Fault> {
        self.step(program, words).listen()
    }

    /// What the installed program says to these words.
    fn theirs(&self, words: &[impl AsRef<OsStr>]) -> Result<Output, Fault> {
        self.wine(&self.installed("evenwave.exe"), words)
    }

    /// What the program for this system says to them.
    fn ours(&self, words: &[impl AsRef<OsStr>]) -> Result<Output, Fault> {
        Step::new(&self.ours).args(words).within(&self.folder).listen()
    }

    fn lend_what_wine_lacks(&self) -> Result<(), Fault> {
        let library = self.installed("bcryptprimitives.dll");
        self.compile("random.c", RANDOM, &library, &["-shared", "-ladvapi32"])
    }

    /// Another program that holds a file open until its input ends; `None` if it could not.
    fn office(&self, file: &Path) -> Result<Option<Child>, Fault> {
        let program = self.folder.join("office.exe");
        self.compile("office.c", OFFICE, &program, &[])?;
        let mut office = self.step(&program, &[self.as_windows_names(file)]).start_fed()?;
        let mut said = String::new();
        if let Some(output) = office.stdout.as_mut() {
            BufReader::new(output).read_line(&mut said).ok();
        }
        if said.trim() == "held" {
            return Ok(Some(office));
        }
        drop(office.stdin.take());
        office.wait().ok();
        Ok(None)
    }

    fn compile(&self, name: &str, text: &str, made: &Path, words: &[&str]) -> Result<(), Fault> {
        let source = self.folder.join(name);
        fs::write(&source, text).map_err(Fault::at(&source))?;
        Step::new("x86_64-w64-mingw32-gcc").arg("-o").arg(made).arg(source).args(words).run()
    }

    /// Uninstalls it: what is the player's stays, and nothing else.
    fn is_removed(&self, checks: &mut Checks) -> Result<(), Fault> {
        let lent = self.installed("bcryptprimitives.dll");
        fs::remove_file(&lent).map_err(Fault::at(&lent))?;
        // By `_?=` the uninstaller does not copy itself elsewhere first, which could not be waited for.
        let place = format!("_?={}", self.as_windows_names(&self.installed("")));
        self.wine(&self.installed("uninstall.exe"), &["/S", &place])?;
        let left: Vec<PathBuf> = fs::read_dir(self.installed(""))
            .into_iter()
            .flatten()
            .flatten()
            .map(|entry| entry.path())
            .collect();
        checks.that(
            left.iter().all(|path| path.ends_with("uninstall.exe")),
            "the uninstaller leaves nothing of the program",
            &format!("{left:?}"),
        );
        Ok(())
    }

    /// A path of this system as programs for Windows write it.
    fn as_windows_names(&self, path: &Path) -> String {
        format!("Z:{}", path.display().to_string().trim_end_matches('/').replace('/', "\\"))
    }

    /// A file of the project.
    fn file(&self, name: &str) -> String {
        root().join(name).display().to_string()
    }
}
