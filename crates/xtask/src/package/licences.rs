//! The licences of all packages that a program for some system is made of, with their texts, as one file.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::shell::{Fault, Step, root};

/// How the files begin that packages keep their licences in, in capitals.
const NAMES: &[&str] =
    &["LICENSE", "LICENCE", "COPYING", "COPYRIGHT", "NOTICE", "UNLICENSE", "OFL", "UFL"];
/// Where in a package they lie: at its top, and beside fonts.
const FOLDERS: &[&str] = &["", "fonts", "protocols"];
/// What is in the program besides packages.
const BESIDES: &str = "\
The Rust standard library - MIT OR Apache-2.0 - The Rust Project contributors (texts below)
Fonts of the window: Andika, Gentium Book Plus, EvenwaveStaff (a cut of Bravura) - OFL-1.1 (texts below)
";

/// A package of others.
struct Package {
    name: String,
    version: String,
    licence: String,
    authors: String,
    /// Name and text of each file on its licence.
    texts: Vec<(String, String)>,
}

impl Package {
    fn titled(&self) -> String {
        format!("{} {}", self.name, self.version)
    }
}

/// All of it as one text, for the program built for `triple`.
pub(super) fn gathered(triple: &str) -> Result<String, Fault> {
    let mut packages = packages(triple)?;
    give_standard_texts(&mut packages)?;
    let mut text = String::from("evenwave is made with the work of others. With thanks:\n\n");
    for package in &packages {
        let _ = writeln!(text, "{} - {} - {}", package.titled(), package.licence, package.authors);
    }
    text += BESIDES;
    // Many share a text, which stands here once.
    let mut by_text: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for package in &packages {
        for (_, said) in &package.texts {
            by_text.entry(said.trim().to_owned()).or_default().insert(package.titled());
        }
    }
    for name in ["LICENSE-MIT", "LICENSE-APACHE"] {
        by_text.entry(ours(name)?.trim().to_owned()).or_default().insert("evenwave".to_owned());
    }
    for name in ["OFL-Andika.txt", "OFL-Gentium.txt", "OFL-Staff.txt"] {
        let said = ours(&format!("assets/fonts/{name}"))?;
        by_text.entry(said.trim().to_owned()).or_default().insert("fonts of the window".to_owned());
    }
    for (said, names) in by_text {
        let names: Vec<String> = names.into_iter().collect();
        let _ = write!(text, "\n{}\n{}\n\n{said}\n", "=".repeat(100), names.join(", "));
    }
    Ok(text)
}

fn ours(name: &str) -> Result<String, Fault> {
    let path = root().join(name);
    fs::read_to_string(&path).map_err(Fault::at(&path))
}

/// The packages of others that are part of the program, by name.
fn packages(triple: &str) -> Result<Vec<Package>, Fault> {
    let told = |step: Step| -> Result<String, Fault> {
        let output = step.listen()?;
        if !output.status.success() {
            return Err(Fault::Tool(String::from_utf8_lossy(&output.stderr).into_owned()));
        }
        Ok(String::from_utf8_lossy(&output.stdout).into_owned())
    };
    let tree = told(
        Step::cargo(["tree", "--locked", "--package", "evenwave", "--edges", "normal"]).args([
            "--prefix",
            "none",
            "--no-dedupe",
            "--format",
            "{p}",
            "--target",
            triple,
        ]),
    )?;
    // `name v1.2.3`, and behind it `(proc-macro)` or a path.
    let parts: BTreeSet<(&str, &str)> = tree
        .lines()
        .filter_map(|line| {
            let mut words = line.split_whitespace();
            Some((words.next()?, words.next()?.strip_prefix('v')?))
        })
        .collect();
    let all = told(Step::cargo(["metadata", "--format-version", "1", "--locked"]))?;
    let all: Value = serde_json::from_str(&all).map_err(|error| Fault::Tool(error.to_string()))?;
    let all = all["packages"].as_array().map_or(&[][..], Vec::as_slice);
    let is_part = |each: &&Value| {
        let word = |name: &str| each[name].as_str().unwrap_or_default();
        each["source"].is_string() && parts.contains(&(word("name"), word("version")))
    };
    all.iter().filter(is_part).map(package).collect()
}

fn package(told: &Value) -> Result<Package, Fault> {
    let word = |name: &str| told[name].as_str().unwrap_or_default().to_owned();
    let manifest = PathBuf::from(word("manifest_path"));
    let folder = manifest.parent().unwrap_or(Path::new(""));
    let mut texts = Vec::new();
    let mut files: Vec<PathBuf> =
        FOLDERS.iter().flat_map(|each| files_of(&folder.join(each))).collect();
    files.extend(told["license_file"].as_str().map(|name| folder.join(name)));
    files.sort();
    files.dedup();
    for path in files {
        let name = path.file_name().unwrap_or_default().to_string_lossy().to_uppercase();
        if NAMES.iter().any(|begin| name.starts_with(begin)) && !name.ends_with(".RS") {
            let bytes = fs::read(&path).map_err(Fault::at(&path))?;
            texts.push((name, String::from_utf8_lossy(&bytes).replace("\r\n", "\n")));
        }
    }
    let authors: Vec<&str> =
        told["authors"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    let name = word("name");
    let authors =
        if authors.is_empty() { format!("the authors of {name}") } else { authors.join(", ") };
    Ok(Package { name, version: word("version"), licence: word("license"), authors, texts })
}

/// The files of a folder; none where there is none.
fn files_of(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries.map(|entry| entry.path()).filter(|path| path.is_file()).collect()
}

/// Some packages name a licence and leave its text out: it is taken from where it stands word for word.
fn give_standard_texts(packages: &mut [Package]) -> Result<(), Fault> {
    let unlicense = packages
        .iter()
        .flat_map(|package| &package.texts)
        .find(|(name, _)| name.starts_with("UNLICENSE"))
        .map(|(_, text)| text.clone());
    for package in packages.iter_mut().filter(|package| package.texts.is_empty()) {
        let offers = |licence: &str| package.licence.split([' ', '/']).any(|each| each == licence);
        let text = if offers("MIT") {
            let holders = format!("Copyright (c) {}", package.authors);
            Some(ours("LICENSE-MIT")?.replace("Copyright (c) 2026 the evenwave authors", &holders))
        } else if offers("Apache-2.0") {
            Some(ours("LICENSE-APACHE")?)
        } else if offers("Unlicense") {
            unlicense.clone()
        } else {
            None
        };
        let Some(text) = text else {
            let which = package.titled();
            return Err(Fault::Tool(format!(
                "{which} ({}) has no text of its licence",
                package.licence
            )));
        };
        package.texts.push((String::new(), text));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn without_text(name: &str, licence: &str) -> Package {
        Package {
            name: name.to_owned(),
            version: "1.0.0".to_owned(),
            licence: licence.to_owned(),
            authors: "Ada".to_owned(),
            texts: Vec::new(),
        }
    }

    #[test]
    fn a_package_without_a_text_gets_that_of_the_licence_it_names() {
        let mut packages =
            [without_text("one", "MIT OR Apache-2.0"), without_text("two", "Apache-2.0")];
        give_standard_texts(&mut packages).expect("both are known");
        assert!(packages[0].texts[0].1.contains("Copyright (c) Ada"), "{}", packages[0].texts[0].1);
        assert!(packages[1].texts[0].1.contains("Apache License"), "{}", packages[1].texts[0].1);
    }

    #[test]
    fn a_licence_whose_text_is_nowhere_is_told() {
        let fault = give_standard_texts(&mut [without_text("odd", "Zlib")]).expect_err("no text");
        assert_eq!(fault.to_string(), "odd 1.0.0 (Zlib) has no text of its licence");
    }
}
