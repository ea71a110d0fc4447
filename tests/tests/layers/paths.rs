//! Reads which files of a crate use which: a plain reader of `use` lines and of paths in the code.
//!
//! It follows `crate::`, `super::`, `self::` and the names of child modules, through re-exports, to the file where the
//! name is written. It does not see what a macro writes, nor a method called on a value whose type is named elsewhere.
//! Two things do not count: unit tests at the foot of a file, which may look up; and what the file of a module takes from
//! the files in its folder, for it is their door (one `impl` may be spread over them). They make circles among
//! themselves all the same.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// A path through modules, from the root of the crate.
type Module = Vec<String>;

/// A file that is a module, as far as its arrows go.
struct Source {
    file: String,
    /// What its `use` lines bring in: the name it goes by, and the whole path.
    uses: Vec<Use>,
    /// The paths in its code.
    paths: Vec<Vec<String>>,
}

struct Use {
    name: String,
    path: Vec<String>,
    /// It hands the name on to others.
    handed_on: bool,
}

/// The files of one crate, and which of them each uses.
#[derive(Debug, PartialEq)]
pub(crate) struct Arrows(pub BTreeMap<String, BTreeSet<String>>);

impl Arrows {
    /// Those of the crate whose `src` this is; files are named as they lie below it.
    pub(crate) fn of_folder(src: &Path) -> Self {
        let files: Vec<PathBuf> = super::sources(src);
        let read = |path: &PathBuf| {
            let name = path.strip_prefix(src).expect("it lies below").display().to_string();
            (name.replace('\\', "/"), fs::read_to_string(path).expect("a readable source"))
        };
        Self::of_texts(&files.iter().map(read).collect::<Vec<_>>())
    }

    /// Those of files with these names and texts.
    pub(crate) fn of_texts(files: &[(String, String)]) -> Self {
        let modules: BTreeMap<Module, Source> =
            files.iter().map(|(file, text)| (module(file), Source::read(file, text))).collect();
        let mut all = BTreeMap::new();
        for (here, source) in &modules {
            let used = source.uses.iter().filter(|each| !each.handed_on).map(|each| &each.path);
            let targets = used.chain(&source.paths).filter_map(|path| {
                let target = &modules[&found(&modules, here, path, 0)?].file;
                (*target != source.file && !is_door(&source.file, target)).then(|| target.clone())
            });
            all.insert(source.file.clone(), targets.collect());
        }
        Self(all)
    }

    /// The circles: files that all reach each other.
    pub(crate) fn circles(&self) -> Vec<Vec<&str>> {
        let mut circles = Vec::new();
        let reach: BTreeMap<&str, BTreeSet<&str>> =
            self.0.keys().map(|file| (file.as_str(), self.reached(file))).collect();
        let mut seen = BTreeSet::new();
        for (&file, ahead) in &reach {
            if ahead.contains(file) && seen.insert(file) {
                let back = |other: &&&str| reach[**other].contains(file);
                let circle: Vec<&str> = ahead.iter().filter(back).copied().collect();
                seen.extend(&circle);
                circles.push(circle);
            }
        }
        circles
    }

    /// Every file that can be reached from this one.
    fn reached(&self, from: &str) -> BTreeSet<&str> {
        let mut reached = BTreeSet::new();
        let mut ahead = vec![from];
        while let Some(file) = ahead.pop() {
            for next in &self.0[file] {
                if reached.insert(next.as_str()) {
                    ahead.push(next);
                }
            }
        }
        reached
    }

    /// The arrows from one top folder (or file beside the folders) to another that do not go down, in a crate whose
    /// folders stand on these floors, from the lowest up. One that is not listed stands nowhere, and no arrow from it
    /// or to it is told.
    pub(crate) fn upward(&self, floors: &[&[&str]]) -> Vec<String> {
        let floor = |file: &str| {
            let folder = top(file);
            floors.iter().position(|floor| floor.contains(&folder))
        };
        let mut told = Vec::new();
        for (from, targets) in &self.0 {
            for to in targets.iter().filter(|to| top(to) != top(from)) {
                if let (Some(above), Some(below)) = (floor(from), floor(to))
                    && above <= below
                {
                    told.push(format!("{from} uses {to}"));
                }
            }
        }
        told
    }
}

/// The folder below `src` in which a file lies, or the file's own name without its ending.
pub(crate) fn top(file: &str) -> &str {
    let top = file.split('/').next().unwrap_or(file);
    top.strip_suffix(".rs").unwrap_or(top)
}

/// Whether the first file is the module in whose folder the second lies.
fn is_door(file: &str, within: &str) -> bool {
    let folder = file.trim_end_matches(".rs").trim_end_matches("mod");
    within.strip_prefix(folder).is_some_and(|rest| folder.ends_with('/') || rest.starts_with('/'))
}

/// The module that a file is.
fn module(file: &str) -> Module {
    let mut parts: Module = file.trim_end_matches(".rs").split('/').map(str::to_owned).collect();
    let root = parts.len() == 1 && parts[0] == "lib";
    if root || parts.last().is_some_and(|last| last == "mod") {
        parts.pop();
    }
    parts
}

/// The module in which a path, read in the module `here`, is written; `None` where it leads out of the crate.
fn found(
    modules: &BTreeMap<Module, Source>,
    here: &Module,
    path: &[String],
    depth: usize,
) -> Option<Module> {
    let mut at = here.clone();
    let mut rest = path;
    match path.first()?.as_str() {
        "crate" => (at, rest) = (Module::new(), &path[1..]),
        "self" => rest = &path[1..],
        "super" => {
            while rest.first().is_some_and(|first| first == "super") {
                at.pop()?;
                rest = &rest[1..];
            }
        }
        first => {
            let child = [here.as_slice(), &[first.to_owned()]].concat();
            if !modules.contains_key(&child) {
                return None;
            }
        }
    }
    for (number, name) in rest.iter().enumerate() {
        let child = [at.as_slice(), std::slice::from_ref(name)].concat();
        if modules.contains_key(&child) {
            at = child;
            continue;
        }
        let named = modules.get(&at)?.uses.iter().find(|each| each.name == *name);
        return match named {
            // A name that is brought in here is written elsewhere, if that is in this crate.
            Some(brought) if depth < 8 => {
                let whole = [brought.path.as_slice(), &rest[number + 1..]].concat();
                found(modules, &at, &whole, depth + 1)
            }
            _ => Some(at),
        };
    }
    modules.contains_key(&at).then_some(at)
}

impl Source {
    fn read(file: &str, text: &str) -> Self {
        let code = code(text);
        let mut uses = Vec::new();
        let mut rest = String::new();
        for statement in code.split_inclusive(';') {
            let Some((before, after)) = split_use(statement) else {
                rest.push_str(statement);
                continue;
            };
            rest.push_str(before);
            let handed_on = before.trim_end().rsplit(['}', ';', ']']).next();
            let handed_on = handed_on.is_some_and(|word| word.trim_start().starts_with("pub"));
            for (path, name) in spread(after.trim_end_matches(';')) {
                uses.push(Use { name, path, handed_on });
            }
        }
        Self { file: file.to_owned(), uses, paths: paths(&rest) }
    }
}

/// What stands before a `use` and what it brings in.
fn split_use(statement: &str) -> Option<(&str, &str)> {
    let at = statement.match_indices("use ").map(|(at, _)| at).find(|&at| {
        let before = statement[..at].trim_end_matches(' ');
        before.is_empty() || before.ends_with(['\n', '{', '}', ')']) || before.ends_with("pub")
    })?;
    Some((&statement[..at], &statement[at + 4..]))
}

/// `a::{b, c::d as e}` as the paths `a::b` and `a::c::d`, each with the name it goes by.
fn spread(tree: &str) -> Vec<(Vec<String>, String)> {
    let tree = tree.trim();
    if let Some((head, inner)) = tree.split_once('{') {
        let inner = inner.trim_end().trim_end_matches('}');
        let head: Vec<String> = segments(head.trim_end().trim_end_matches("::"));
        let (mut parts, mut depth) = (vec![String::new()], 0);
        for sign in inner.chars() {
            match sign {
                ',' if depth == 0 => parts.push(String::new()),
                '{' => depth += 1,
                '}' => depth -= 1,
                _ => {}
            }
            if (sign, depth) != (',', 0) {
                parts.last_mut().expect("one at least").push(sign);
            }
        }
        let parts = parts.iter().filter(|part| !part.trim().is_empty());
        let whole = |(path, name): (Vec<String>, String)| match path.as_slice() {
            [own] if own == "self" => (head.clone(), head.last().cloned().unwrap_or_default()),
            _ => ([head.as_slice(), path.as_slice()].concat(), name),
        };
        return parts.flat_map(|part| spread(part)).map(whole).collect();
    }
    let (path, name) = match tree.split_once(" as ") {
        Some((path, name)) => (segments(path), Some(name.trim().to_owned())),
        None => (segments(tree), None),
    };
    let name = name.or_else(|| path.last().cloned()).unwrap_or_default();
    vec![(path, name)]
}

fn segments(path: &str) -> Vec<String> {
    path.split("::").map(|part| part.trim().to_owned()).filter(|part| !part.is_empty()).collect()
}

/// Every path of two or more names in the code.
fn paths(code: &str) -> Vec<Vec<String>> {
    let sign = |sign: char| sign.is_alphanumeric() || sign == '_' || sign == ':';
    let words = code.split(|c| !sign(c)).filter(|word| word.contains("::"));
    words.map(segments).filter(|path| path.len() > 1).collect()
}

/// The text without comments, strings and the unit tests at its foot.
fn code(text: &str) -> String {
    let tests = text.find("\n#[cfg(test)]\nmod ").unwrap_or(text.len());
    let mut code = String::new();
    let mut rest = &text[..tests];
    while let Some(sign) = rest.chars().next() {
        let skipped = if rest.starts_with("//") {
            rest.find('\n').unwrap_or(rest.len())
        } else if rest.starts_with("/*") {
            rest.find("*/").map_or(rest.len(), |end| end + 2)
        } else if rest.starts_with("r#\"") {
            rest.find("\"#").map_or(rest.len(), |end| end + 2)
        } else if rest.starts_with("'\"'") || rest.starts_with("'\\\"'") {
            rest[1..].find('\'').map_or(rest.len(), |end| end + 2)
        } else if sign == '"' {
            string_length(rest)
        } else {
            code.push(sign);
            sign.len_utf8()
        };
        rest = &rest[skipped..];
    }
    code
}

/// How long the string is that begins here, with its marks.
fn string_length(text: &str) -> usize {
    let mut escaped = false;
    for (at, sign) in text.char_indices().skip(1) {
        match sign {
            '"' if !escaped => return at + 1,
            '\\' => escaped = !escaped,
            _ => escaped = false,
        }
    }
    text.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arrows(files: &[(&str, &str)]) -> Arrows {
        let owned = |(file, text): &(&str, &str)| ((*file).to_owned(), (*text).to_owned());
        Arrows::of_texts(&files.iter().map(owned).collect::<Vec<_>>())
    }

    #[test]
    fn a_planted_circle_is_seen_and_its_tests_are_not() {
        let mut files = vec![
            ("lib.rs", "mod a;\nmod b;\nmod c;\n"),
            ("a.rs", "use crate::b::{\n    self,\n    Thing,\n};\nfn f() { b::g() }\n"),
            ("b.rs", "use super::c;\n"),
            (
                "c.rs",
                "// use crate::a;\nconst A: &str = \"crate::a::f\";\n#[cfg(test)]\nmod tests {\n    use crate::a::f;\n}\n",
            ),
        ];
        assert_eq!(arrows(&files).circles(), Vec::<Vec<&str>>::new());
        files[3].1 = "fn h() { crate::a::f() }\n";
        assert_eq!(arrows(&files).circles(), [["a.rs", "b.rs", "c.rs"]]);
    }

    #[test]
    fn a_name_that_is_handed_on_is_found_where_it_is_written() {
        let files = [
            ("lib.rs", "mod room;\n"),
            ("room.rs", "mod state;\nmod view;\npub use state::{Room as Hall, Door};\n"),
            ("room/state.rs", "pub struct Room;\npub struct Door;\n"),
            ("room/view.rs", "use super::Hall;\nfn open(door: &super::Door) {}\n"),
        ];
        let arrows = arrows(&files);
        assert_eq!(arrows.0["room/view.rs"], BTreeSet::from(["room/state.rs".to_owned()]));
        assert!(arrows.0["room.rs"].is_empty(), "a name handed on is no use of one's own");
        assert_eq!(arrows.circles(), Vec::<Vec<&str>>::new());
    }

    #[test]
    fn a_door_may_use_its_folder_but_the_files_in_it_make_circles() {
        let door = "mod view;\nmod page;\npub const PAGE: f32 = 1.0;\nfn f() { view::g() }\n";
        let mut files = [
            ("lib.rs", "mod room;\n"),
            ("room.rs", door),
            ("room/view.rs", "use super::{PAGE, page};\n"),
            ("room/page.rs", "const MARK: char = '\"';\nconst TOLD: &str = \"a \\\n  b\";\n"),
        ];
        assert_eq!(arrows(&files).circles(), Vec::<Vec<&str>>::new());
        let page = format!("{}fn f() {{ super::view::g() }}\n", files[3].1);
        files[3].1 = &page;
        assert_eq!(arrows(&files).circles(), [["room/page.rs", "room/view.rs"]]);
    }

    #[test]
    fn a_planted_arrow_up_or_across_is_seen() {
        let floors: &[&[&str]] = &[&["theme"], &["shell"], &["stand", "drill"]];
        let files = |shell: &'static str, drill: &'static str| {
            [
                ("lib.rs", "mod theme;\nmod shell;\nmod stand;\nmod drill;\n"),
                ("theme.rs", ""),
                ("shell/mod.rs", shell),
                ("stand/mod.rs", "use crate::{shell, theme};\n"),
                ("drill/mod.rs", drill),
            ]
        };
        let down = arrows(&files("use crate::theme;\n", "use crate::shell;\n"));
        assert_eq!(down.upward(floors), Vec::<String>::new());
        let up = arrows(&files("use crate::stand::Stand;\n", "use crate::stand::Stand;\n"));
        let told = ["drill/mod.rs uses stand/mod.rs", "shell/mod.rs uses stand/mod.rs"];
        assert_eq!(up.upward(floors), told);
    }
}
