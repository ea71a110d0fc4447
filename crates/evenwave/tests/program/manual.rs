//! The README and the manual, held against the program: what they name exists, and what exists is named.

use std::path::Path;

use clap::CommandFactory;
use evenwave::arguments::Arguments;
use evenwave::manual::MANUAL;
use evenwave::session::Session;

use crate::common::{done, folder, printed, write_session};

const ROOT: &str = "../..";

/// The texts by the folder from which their links lead: the README and all pages.
fn texts() -> Vec<(&'static str, String)> {
    let readme = std::fs::read_to_string(Path::new(ROOT).join("README.md")).expect("there");
    let pages = MANUAL.iter().map(|page| ("crates/evenwave/manual", page.text.to_owned()));
    std::iter::once(("", readme)).chain(pages).collect()
}

/// What stands behind a prompt, without the words behind it.
fn typed(text: &str) -> impl Iterator<Item = &str> {
    let typed = text.lines().filter_map(|line| line.strip_prefix("$ "));
    typed.map(|line| line.split(" # ").next().unwrap_or(line).trim())
}

/// What stands between backticks within lines, or behind a prompt.
fn quoted(text: &str) -> Vec<&str> {
    let mut found: Vec<&str> = typed(text).collect();
    let mut is_block = false;
    for line in text.lines() {
        if line.starts_with("```") {
            is_block = !is_block;
        } else if !is_block {
            found.extend(line.split('`').skip(1).step_by(2));
        }
    }
    found
}

/// The command that these words lead to, and the words that are left.
fn led_to<'a>(all: &clap::Command, words: &[&'a str]) -> (clap::Command, Vec<&'a str>) {
    let mut command = all.clone();
    for (at, word) in words.iter().enumerate() {
        match command.find_subcommand(word).cloned() {
            Some(next) => command = next,
            None => return (command, words[at..].to_vec()),
        }
    }
    (command, Vec::new())
}

fn has_option(command: &clap::Command, name: &str) -> bool {
    command.get_arguments().any(|each| each.get_long() == Some(name))
}

/// Whether a command anywhere below this one has it.
fn has_somewhere(command: &clap::Command, name: &str) -> bool {
    name == "help"
        || has_option(command, name)
        || command.get_subcommands().any(|below| has_somewhere(below, name))
}

#[test]
fn every_command_and_option_that_is_written_down_exists() {
    let mut all = Arguments::command();
    all.build();
    let mut seen = 0;
    for (_, text) in texts() {
        for said in quoted(&text) {
            let words: Vec<&str> = said.split_whitespace().collect();
            if words.first() == Some(&"evenwave") {
                let (command, rest) = led_to(&all, &words[1..]);
                let is_command = words.len() == 1 || command.get_name() != "evenwave";
                assert!(is_command, "no such command: {said}");
                for option in rest.iter().filter_map(|word| word.strip_prefix("--")) {
                    assert!(has_option(&command, option), "no such option: {said}");
                }
                seen += 1;
            } else if let Some(option) = said.strip_prefix("--") {
                let name = option.split_whitespace().next().unwrap_or(option);
                assert!(has_somewhere(&all, name), "no such option: {said}");
            }
        }
    }
    assert!(seen > 20, "only {seen} commands were found: is the manual still there?");
}

#[test]
fn lines_behind_a_prompt_are_understood_as_they_stand() {
    for (_, text) in texts() {
        for line in typed(&text).filter(|line| line.starts_with("evenwave")) {
            let words = line.split(" > ").next().unwrap_or(line).split_whitespace();
            let read = <Arguments as clap::Parser>::try_parse_from(words);
            assert!(read.is_ok(), "{line}: {}", read.expect_err("just told"));
        }
    }
}

#[test]
fn every_command_is_in_the_manual() {
    let page = |name: &str| MANUAL.iter().find(|page| page.name == name).expect("a page").text;
    let all = Arguments::command();
    for command in all.get_subcommands() {
        let name = command.get_name();
        assert!(page("commands").contains(&format!("$ evenwave {name}")), "{name} is not there");
    }
    let journal = all.find_subcommand("journal").expect("a command");
    for deed in journal.get_subcommands() {
        let name = deed.get_name();
        let is_there = quoted(page("journal")).iter().any(|said| said.starts_with(name));
        assert!(is_there, "journal {name} is not in the manual");
    }
}

#[test]
fn pages_are_listed_shown_and_linked_and_their_pictures_are_there() {
    let folder = folder("manual");
    let list = printed(&done(&folder, &["manual"]));
    let texts = texts();
    for page in MANUAL {
        assert!(list.contains(&format!("manual {}", page.name)), "{list}");
        let shown = printed(&done(&folder, &["manual", page.name]));
        assert!(shown.starts_with(&format!("# {}", page.title())), "{shown}");
        assert!(!shown.contains("]("), "a link is of no use in a terminal: {shown}");
        assert!(texts[0].1.contains(&format!("manual/{}.md", page.name)), "{}", page.name);
    }
    for (from, text) in texts {
        for link in text.split("](").skip(1) {
            let to = link.split(')').next().expect("closed");
            assert!(Path::new(ROOT).join(from).join(to).exists(), "{from}: {to} is not there");
        }
    }
}

#[test]
fn the_row_that_the_manual_shows_is_the_row_that_is_written() {
    let folder = folder("manual_row");
    write_session(&folder.join("session.wav"), "four-fingers");
    let table = printed(&done(&folder, &["measure", "--instrument=cello", "session.wav"]));
    let page = MANUAL.iter().find(|page| page.name == "numbers").expect("a page");
    let block = page.text.split("```text\n").nth(1).and_then(|rest| rest.split("```").next());
    let lines: Vec<&str> = block.expect("a sample").lines().collect();
    assert!(lines.len() == 4, "{lines:?}");
    for line in lines {
        assert!(table.lines().any(|row| row == line), "{line}\nis not in\n{table}");
    }
}

#[test]
fn a_demo_session_sounds_bowed_to_the_ear() {
    let folder = folder("demo_sounds_bowed");
    for name in Session::names() {
        write_session(&folder.join("session.wav"), name);
        let table = printed(&done(&folder, &["measure", "session.wav"]));
        assert!(table.contains(" notes\n"), "{name}: {table}");
        assert!(!table.contains("does not sound bowed"), "{name}: {table}");
    }
}

#[cfg(feature = "window")]
#[test]
fn every_key_of_a_room_that_is_written_down_is_heard_there() {
    let mut seen = 0;
    for page in ["stand", "drill", "journal", "lesson", "passage", "first-hour"] {
        let text = MANUAL.iter().find(|each| each.name == page).expect("a page").text;
        let rooms = ["drill", "journal", "lesson", "passage"];
        let is_here = |entry: &panels::shell::keys::Entry| {
            let room = entry.scopes.iter().find_map(|place| place.room());
            let room = room.map(|room| room.name().to_lowercase());
            room.filter(|room| rooms.contains(&room.as_str())).is_none_or(|room| room == page)
        };
        let keys: Vec<eframe::egui::Key> = panels::commands::all()
            .into_iter()
            .filter(|entry| is_here(entry))
            .flat_map(|entry| entry.keys.iter().copied())
            .collect();
        for said in quoted(text).into_iter().filter(|said| is_a_key(said)) {
            let key = eframe::egui::Key::from_name(said);
            assert!(key.is_some_and(|key| keys.contains(&key)), "{page}: {said} does nothing");
            seen += 1;
        }
    }
    assert!(seen > 20, "only {seen} keys were found");
}

/// Whether this is written as a key is: a capital, a digit, a sign but that of a sharp, or F with its number.
#[cfg(feature = "window")]
fn is_a_key(said: &str) -> bool {
    let mut signs = said.chars();
    match (signs.next(), signs.as_str()) {
        (Some(sign), "") => !sign.is_lowercase() && sign != '#',
        (Some('F'), number) => number.parse::<u8>().is_ok(),
        _ => false,
    }
}
