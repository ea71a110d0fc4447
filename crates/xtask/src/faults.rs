//! Gate: `evenwave hear` under a virtual microphone that is missing, pulled out, stalled, brought
//! back; and a recorded note heard through it against the same note measured from its file.

use std::path::{Path, PathBuf};
use std::process::Output;

use serde_json::Value;

use crate::checks::{Checks, number};
use crate::shell::{Fault, Step, built, root, target, tool};

/// A recorded note with vibrato, and what is played for the faults.
const RECORDED: &str = "tests/recordings/fluid-cello-067-l.wav";
const PLAYED: &str = "tests/reference/tones/two-cello-notes.ron";

/// When the microphone goes and comes back, and how long evenwave listens, in seconds.
const GOES_SECS: f64 = 4.0;
const BACK_SECS: f64 = 7.0;
const LISTENS_SECS: f64 = 16.0;

/// Runs all faults, or says that the virtual microphone is not there.
pub(crate) fn run() -> Result<(), Fault> {
    let Some(virtual_mic) = tool("virtual-mic") else {
        return Ok(());
    };
    let program = built("evenwave")?;
    let played = target().join("faults.wav");
    Step::new(&program)
        .args(["tone".into(), root().join(PLAYED).into_os_string()])
        .args(["--replace".into(), "-o".into(), played.clone().into_os_string()])
        .listen()?;
    let bench = Bench { virtual_mic, program, played };
    let mut checks = Checks::default();
    bench.no_device(&mut checks)?;
    bench.goes_and_comes_back(
        &mut checks,
        "pulled out and plugged in",
        ["--unplug-after", "--replug-after"],
    )?;
    bench.goes_and_comes_back(
        &mut checks,
        "stalled and resumed",
        ["--stall-after", "--resume-after"],
    )?;
    bench.hears_what_the_file_holds(&mut checks)?;
    checks.end("faults")
}

struct Bench {
    virtual_mic: PathBuf,
    program: PathBuf,
    played: PathBuf,
}

/// What `hear` said.
struct Said {
    code: Option<i32>,
    notes: Vec<Value>,
    words: String,
}

impl Bench {
    fn hear(&self, microphone: &[&str], wav: Option<&Path>, secs: f64) -> Result<Said, Fault> {
        let output = Step::new(&self.virtual_mic)
            .args(microphone)
            .args(wav)
            .arg("--")
            .arg(&self.program)
            .args(["hear", "--json", "--seconds", &secs.to_string()])
            .listen()?;
        Ok(said(&output))
    }

    fn no_device(&self, checks: &mut Checks) -> Result<(), Fault> {
        println!("\nno microphone at all");
        let said = self.hear(&["--none"], None, 3.0)?;
        checks.that(said.code == Some(1), "status 1", &format!("{:?}", said.code));
        checks.that(said.has("no microphone"), "says that there is none", said.last());
        checks.that(!said.has("panicked"), "no panic", "");
        Ok(())
    }

    fn goes_and_comes_back(
        &self,
        checks: &mut Checks,
        what: &str,
        [goes, back]: [&str; 2],
    ) -> Result<(), Fault> {
        println!("\nmicrophone {what}");
        let (goes_secs, back_secs) = (GOES_SECS.to_string(), BACK_SECS.to_string());
        let microphone = ["--loop", "--after", "0.5", goes, &goes_secs, back, &back_secs];
        let said = self.hear(&microphone, Some(&self.played), LISTENS_SECS)?;
        checks.that(said.code == Some(0), "status 0", &format!("{:?}", said.code));
        checks.that(!said.has("panicked"), "no panic", "");
        let told = said.states();
        let trouble = told.iter().position(|line| line.contains("microphone is"));
        let again = told.iter().rposition(|line| line.contains("listening to"));
        checks.that(
            trouble.is_some(),
            "says that the microphone is gone or silent",
            trouble.map_or("", |i| told[i]),
        );
        checks.that(again > trouble, "says that it listens again", "");
        let (before, after): (Vec<&Value>, Vec<&Value>) =
            said.notes.iter().partition(|note| number(&note["start_s"]) < GOES_SECS);
        // The looped sound holds two notes; each of them is whole at least once after the return.
        checks.that(!before.is_empty(), "notes heard before", &before.len().to_string());
        for midi in [36, 55] {
            let whole =
                after.iter().find(|note| note["midi"] == midi && !note["vibrato"].is_null());
            checks.that(
                whole.is_some_and(|note| number(&note["start_s"]) > BACK_SECS - 1.0),
                &format!("the note of MIDI {midi} heard with its vibrato after the return"),
                &whole.map_or(String::new(), |note| {
                    format!(
                        "at {:.2} s, {:.2} Hz",
                        number(&note["start_s"]),
                        number(&note["vibrato"]["rate_hz"])
                    )
                }),
            );
        }
        checks.that(said.has("were lost"), "says what was lost", said.line_with("were lost"));
        Ok(())
    }

    fn hears_what_the_file_holds(&self, checks: &mut Checks) -> Result<(), Fault> {
        println!("\na recorded note through the microphone and from its file");
        let wav = root().join(RECORDED);
        let heard = self.hear(&["--after", "1"], Some(&wav), 5.0)?;
        let output = Step::new(&self.program).args(["measure", "--json"]).arg(&wav).listen()?;
        let file = said(&output);
        let (Some(heard), Some(file)) = (longest(&heard.notes), longest(&file.notes)) else {
            checks.that(false, "a note is heard", &heard.words);
            return Ok(());
        };
        checks.that(heard["midi"] == file["midi"], "the same note", &heard["name"].to_string());
        let (v, w) = (&heard["vibrato"], &file["vibrato"]);
        for (what, heard, file, doubt) in [
            (
                "offset, cents",
                number(&heard["offset_cents"]),
                number(&file["offset_cents"]),
                number(&file["offset_se_cents"]),
            ),
            ("rate, Hz", number(&v["rate_hz"]), number(&w["rate_hz"]), number(&w["rate_se_hz"])),
            (
                "width, cents",
                number(&v["width_cents"]),
                number(&w["width_cents"]),
                number(&w["width_se_cents"]),
            ),
        ] {
            checks.that(
                (heard - file).abs() <= doubt,
                &format!("{what}: the same within one standard error"),
                &format!("{heard:.3} heard, {file:.3} in the file, doubt {doubt:.3}"),
            );
        }
        Ok(())
    }
}

impl Said {
    fn has(&self, words: &str) -> bool {
        self.words.contains(words)
    }

    fn line_with(&self, words: &str) -> &str {
        self.words.lines().find(|line| line.contains(words)).unwrap_or("")
    }

    fn last(&self) -> &str {
        self.words.lines().last().unwrap_or("")
    }

    /// What the program itself said, line by line.
    fn states(&self) -> Vec<&str> {
        let lines = self.words.lines();
        lines.filter_map(|line| line.strip_prefix("evenwave: ")).collect()
    }
}

fn said(output: &Output) -> Said {
    let notes = String::from_utf8_lossy(&output.stdout)
        .lines()
        .filter_map(|line| serde_json::from_str::<Value>(line).ok())
        .flat_map(|record| record["notes"].as_array().cloned().unwrap_or_default())
        .collect();
    Said {
        code: output.status.code(),
        notes,
        words: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

fn longest(notes: &[Value]) -> Option<&Value> {
    let length = |note: &&Value| number(&note["end_s"]) - number(&note["start_s"]);
    notes.iter().max_by(|a, b| length(a).total_cmp(&length(b)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_longest_note_is_found() {
        let notes = [
            serde_json::json!({"start_s": 0.0, "end_s": 0.2}),
            serde_json::json!({"start_s": 0.3, "end_s": 1.2}),
        ];
        assert_eq!(longest(&notes), Some(&notes[1]));
    }

    #[test]
    fn what_is_missing_is_no_number() {
        let straight = serde_json::json!({"vibrato": null});
        assert!(number(&straight["vibrato"]["rate_hz"]).is_nan());
    }
}
