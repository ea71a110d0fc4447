//! Passages as they are kept: RON, version 1. Nothing is lost in it, while the typed form rounds and does not say where the
//! notes come from.

use super::passage::Passage;
use super::text::TextFault;

impl Passage {
    /// Reads a passage as it is kept.
    pub fn from_ron(text: &str) -> Result<Self, TextFault> {
        let read: Result<Self, _> = ron::from_str(text);
        let passage = read.map_err(|error| TextFault {
            line: error.span.start.line,
            column: error.span.start.col,
            what: format!("{}; compare with the manual's page on passages", error.code),
        })?;
        match passage.head_fault() {
            Some(what) => Err(TextFault { line: 1, column: 1, what }),
            None => Ok(passage),
        }
    }

    /// Writes the passage as it is kept, a line for each note.
    pub fn to_ron(&self) -> String {
        let pretty =
            ron::ser::PrettyConfig::new().depth_limit(2).indentor("    ").struct_names(false);
        // Numbers and words alone: what cannot be written is not in it.
        ron::ser::to_string_pretty(self, pretty).unwrap_or_default() + "\n"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TIDE: &str = include_str!("../../../../assets/passages/low-tide.passage.txt");

    #[test]
    fn a_passage_that_is_kept_comes_back_whole() {
        let mut passage = Passage::from_text(TIDE).expect("shipped");
        passage.parts_from = crate::plan::Origin::Take("2026-11-25/17-41-09".into());
        let text = passage.to_ron();
        assert!(text.lines().count() < 10 + 2 * passage.notes().len(), "{text}");
        assert!(Passage::from_ron(&text) == Ok(passage), "{text}");
    }

    #[test]
    fn what_is_wrong_in_it_is_told_with_its_place() {
        let text = Passage::from_text(TIDE).expect("shipped").to_ron();
        let told = |from: &str, to: &str| {
            assert!(text.contains(from), "{from}: {text}");
            Passage::from_ron(&text.replacen(from, to, 1)).expect_err("wrong")
        };
        assert!(told("version: 1", "version: 7").what.contains("version 7 is not known"));
        assert_eq!(told("instrument:", "instrumemt:").line, 4);
        assert!(told("bpm: 52.0", "bpm: 5200.0").what.contains("beats a minute"));
        assert!(told("finger: Some(2)", "finger: Some(7)").what.contains("no such finger"));
    }
}
