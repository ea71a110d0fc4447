//! The manual: pages of Markdown beside the sources, which the program carries with it.

/// A page of the manual.
#[derive(Clone, Copy, Debug)]
pub struct Page {
    /// What it is asked for by.
    pub name: &'static str,
    /// Its Markdown.
    pub text: &'static str,
}

macro_rules! page {
    ($name:literal) => {
        Page { name: $name, text: include_str!(concat!("../manual/", $name, ".md")) }
    };
}

/// All pages, in the order they are best read.
pub const MANUAL: [Page; 11] = [
    page!("first-hour"),
    page!("stand"),
    page!("drill"),
    page!("journal"),
    page!("lesson"),
    page!("passage"),
    page!("commands"),
    page!("numbers"),
    page!("limits"),
    page!("install"),
    page!("changes"),
];

impl Page {
    /// Its heading.
    pub fn title(&self) -> &'static str {
        self.text.lines().next().unwrap_or_default().trim_start_matches("# ")
    }

    /// As it is read in a terminal: without the pictures.
    pub(crate) fn plain(&self) -> String {
        let mut lines: Vec<&str> =
            self.text.lines().filter(|line| !line.starts_with("![")).collect();
        lines.dedup_by(|line, before| line.is_empty() && before.is_empty());
        lines.join("\n") + "\n"
    }
}
