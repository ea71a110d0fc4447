//! The page itself: head, style, what it is of, cautions.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use base64::prelude::{BASE64_STANDARD as STANDARD, Engine as _};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use pictures::Face;
use tuning::figure;
use vibrato::Measure;

/// What stands in every report.
const CAUTION: &str = "Start loose. Stop at pain, numbness or tingling. Rest often. Ask a teacher about the motion, \
     and for symptoms that stay a clinician who knows musicians. This page gives no medical advice.";

/// What the numbers are.
const NUMBERS: &str = "± is one standard error: of ten such values, about seven lie within it of the truth. What is \
     not known is shown as ?, never as 0. Width is crest to trough. Nothing here is a grade: vibrato is \
     personal, and the comparison that counts is with your own intention, your own best finger, your own \
     straight note, or your teacher's model.";

/// Nothing may be fetched and nothing run, whatever stood in a name.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; font-src data:; form-action 'none'; base-uri 'none'";

const STYLE: &str = include_str!("style.css");

/// A report before it is written.
pub struct Page {
    /// What it is, in a few words.
    pub title: String,
    /// What was measured, in one sentence.
    pub sentence: String,
    /// What stands beside that, a sentence each.
    pub lead: Vec<String>,
    /// What to try next.
    pub to_try: Option<String>,
    /// Whose, when, with what: name and value.
    pub about: Vec<(String, String)>,
    /// All between that and the cautions.
    pub body: Markup,
    /// Takes in it whose sound is damaged, and how, in words.
    pub damaged: Vec<String>,
}

impl Page {
    /// The whole document.
    pub fn written(&self) -> String {
        let mut page = self.drawn().into_string();
        // No page may hold these, whatever a player wrote (HTML standard, 3.2.5 "Text").
        page.retain(|sign| !sign.is_control() || sign == '\n');
        // What a player wrote has no such tag.
        let style = format!("<style>{}", faces(&page));
        page.replacen("<style>", &style, 1)
    }

    fn drawn(&self) -> Markup {
        html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta http-equiv="Content-Security-Policy" content=(POLICY);
                    meta name="referrer" content="no-referrer";
                    meta name="color-scheme" content="light";
                    title { (self.title) }
                    style { (PreEscaped(STYLE)) }
                }
                body {
                    header {
                        p class="title" { (self.title) }
                        @if !self.about.is_empty() {
                            dl class="about" {
                                @for (name, value) in &self.about {
                                    div { dt { (name) } dd { (value) } }
                                }
                            }
                        }
                        h1 { (self.sentence) }
                        @for words in &self.lead { p class="lead" { (words) } }
                        @if let Some(words) = &self.to_try { p class="lead try" { (words) } }
                    }
                    main { (self.body) }
                    footer {
                        section class="care" aria-label="Care" {
                            h2 { "Care for your hands" }
                            p { (CAUTION) }
                        }
                        p { (NUMBERS) }
                        p class="made" { "Made by evenwave " (env!("CARGO_PKG_VERSION")) ". This page holds all it needs and fetches nothing." }
                    }
                }
            }
        }
    }
}

/// The two faces with the signs of this page.
fn faces(page: &str) -> String {
    let signs: BTreeSet<char> = page.chars().collect();
    let mut rules = String::new();
    for face in [Face::Words, Face::Figures] {
        if let Some(file) = face.cut_to(&signs) {
            let (family, weight) = (face.family(), face.weight());
            let _: std::fmt::Result = write!(
                rules,
                "@font-face{{font-family:\"{family}\";font-weight:{weight};src:url(data:font/ttf;base64,{})}}",
                STANDARD.encode(&file)
            );
        }
    }
    rules
}

/// All that a page has to say, which is open where there is little of it: what is closed is not printed.
pub(super) fn details(name: &str, rows: usize, body: &Markup) -> Markup {
    /// So many rows of a table have room on the sheet that the rest of a page fills.
    const ROOM: usize = 9;
    html! {
        details open[rows <= ROOM] {
            summary { (name) }
            (body)
        }
    }
}

/// A number with its sign if that is its direction, and its doubt; `?` if it is not known.
pub(super) fn measure(measure: Option<Measure<f64>>, decimals: usize, signed: bool) -> String {
    match measure {
        Some(Measure { value, se: se @ Some(_) }) => {
            figure::with_doubt(value, se, decimals, signed)
        }
        other => figure::number(other.map(|one| one.value), decimals, signed),
    }
}

/// What someone wrote, within a sentence: signs in it that turn the direction of reading turn it there only
/// (Unicode Standard Annex 9, isolates).
pub(super) fn isolated(words: &str) -> String {
    format!("\u{2068}{words}\u{2069}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_carries_its_type_and_stays_small() {
        let page = Page {
            title: "Mira".to_owned(),
            sentence: "F♯3: 5.4 Hz, 38 cents wide.".to_owned(),
            lead: Vec::new(),
            to_try: None,
            about: Vec::new(),
            body: html! {},
            damaged: Vec::new(),
        };
        let written = page.written();
        assert_eq!(written.matches("src:url(data:font/ttf;base64,").count(), 2);
        assert!(written.len() < 100_000, "{} bytes", written.len());
    }

    #[test]
    fn what_a_player_wrote_is_text_and_nothing_else() {
        let hostile = "\u{7}<script>alert(1)</script>\"'><img src=x onerror=alert(2)>&amp;</title>";
        let page = Page {
            title: hostile.to_owned(),
            sentence: hostile.to_owned(),
            lead: Vec::new(),
            to_try: None,
            about: vec![("player".to_owned(), hostile.to_owned())],
            body: html! { p title=(hostile) { (hostile) } },
            damaged: Vec::new(),
        };
        let written = page.written();
        assert!(!written.contains("<script") && !written.contains("<img"), "{written}");
        assert!(!written.contains('\u{7}'));
        assert_eq!(written.matches("</title>").count(), 1);
        // The head, the title, the sentence, the value, the attribute and the text.
        assert_eq!(written.matches("&lt;script&gt;").count(), 6);
        assert!(!written.contains("title=\"<") && written.contains("&quot;"));
    }
}
