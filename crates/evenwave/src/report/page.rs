//! The page itself: head, style, what it is of, cautions.

use maud::{DOCTYPE, Markup, PreEscaped, html};
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
const POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; form-action 'none'; base-uri 'none'";

const STYLE: &str = include_str!("style.css");

/// A report before it is written.
pub struct Page {
    /// What it is, in a few words.
    pub title: String,
    /// Whose, when, with what: name and value.
    pub about: Vec<(String, String)>,
    /// All between that and the cautions.
    pub body: Markup,
}

impl Page {
    /// The whole document.
    pub fn written(&self) -> String {
        let mut page = self.drawn().into_string();
        // No page may hold these, whatever a player wrote (HTML standard, 3.2.5 "Text").
        page.retain(|sign| !sign.is_control() || sign == '\n');
        page
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
                        h1 { (self.title) }
                        @if !self.about.is_empty() {
                            dl class="about" {
                                @for (name, value) in &self.about {
                                    div { dt { (name) } dd { (value) } }
                                }
                            }
                        }
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
    fn what_a_player_wrote_is_text_and_nothing_else() {
        let hostile = "\u{7}<script>alert(1)</script>\"'><img src=x onerror=alert(2)>&amp;</title>";
        let page = Page {
            title: hostile.to_owned(),
            about: vec![("player".to_owned(), hostile.to_owned())],
            body: html! { p title=(hostile) { (hostile) } },
        };
        let written = page.written();
        assert!(!written.contains("<script") && !written.contains("<img"), "{written}");
        assert!(!written.contains('\u{7}'));
        assert_eq!(written.matches("</title>").count(), 1);
        // The head, the heading, the value, the attribute and the text.
        assert_eq!(written.matches("&lt;script&gt;").count(), 5);
        assert!(!written.contains("title=\"<") && written.contains("&quot;"));
    }
}
