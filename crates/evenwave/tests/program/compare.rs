//! `evenwave compare` seen from outside: sound files, takes, and what is told when they cannot be read.

use std::path::Path;

use crate::common::{done, fails, folder, keep_take, objects, printed, samples, spec, write_sound};
use journal::{Context, Journal};
use serde_json::Value;
use tone::{NoteSpec, VibratoSpec};
use tuning::{Cents, Hz, Secs};

fn sound_of(rate: f64, width: f64) -> Vec<f32> {
    let vibrato = VibratoSpec::regular(Hz(rate), Cents(width));
    samples(&spec(vec![NoteSpec::straight(Secs(0.3), Secs(2.2), Hz(220.0)).with(vibrato)]))
}

fn sound(folder: &Path, name: &str, rate: f64, width: f64) {
    write_sound(&folder.join(name), &sound_of(rate, width));
}

/// Keeps a take in the journal at `folder` and says what it is called.
fn take(folder: &Path, rate: f64, width: f64) -> String {
    let journal = Journal::open(folder).expect("a writable folder").journal;
    keep_take(&journal, &Context::default(), &sound_of(rate, width)).to_string()
}

fn object(folder: &Path, line: &[&str]) -> Value {
    objects(&done(folder, line)).remove(0)
}

#[test]
fn two_sound_files_are_compared_as_a_table_and_as_json() {
    let folder = folder("compare-files");
    sound(&folder, "model.wav", 5.5, 40.0);
    sound(&folder, "echo.wav", 5.5, 24.0);
    let table = printed(&done(&folder, &["compare", "model.wav", "echo.wav"]));
    assert!(table.contains("narrower"), "{table}");
    let json =
        object(&folder, &["compare", "--json", "--align", "cycles", "model.wav", "echo.wav"]);
    assert_eq!(json["schema"], "evenwave.comparison/2");
    let pair = &json["pairs"][0];
    let width = pair["difference"]["width_cents"].as_f64().expect("known");
    assert!((width + 16.0).abs() < 1.0, "{width}");
    assert_eq!(pair["course"]["align"], "cycles");
    assert!(pair["course"]["points"].as_array().expect("points").len() > 6);
    assert!(json["words"][0].as_str().expect("words").contains("narrower"));
}

#[test]
fn takes_are_compared_by_folder_and_by_name() {
    let folder = folder("compare-takes");
    let journal = folder.join("takes");
    let (model, echo) = (take(&journal, 5.0, 30.0), take(&journal, 6.2, 30.0));
    let by_name = object(&folder, &["compare", "--json", "--journal", "takes", &model, &echo]);
    let rate = by_name["pairs"][0]["difference"]["rate_hz"].as_f64().expect("known");
    assert!((rate - 1.2).abs() < 0.05, "{rate}");
    let folders = [format!("takes/{model}"), format!("takes/{echo}")];
    let by_folder = object(&folder, &["compare", "--json", &folders[0], &folders[1]]);
    assert_eq!(by_folder["pairs"], by_name["pairs"]);
}

#[test]
fn what_cannot_be_compared_is_told_in_words() {
    let folder = folder("compare-faults");
    sound(&folder, "model.wav", 5.5, 40.0);
    write_sound(&folder.join("silent.wav"), &[0.0; 48_000]);
    std::fs::create_dir(folder.join("empty")).expect("a writable folder");
    for (echo, due, words) in [
        ("silent.wav", 1, "no notes were heard"),
        ("not-there.wav", 1, "not-there.wav"),
        ("empty", 1, "no take is in this folder"),
        ("2026-11-25/17-41-09", 2, "--journal"),
    ] {
        fails(&folder, &["compare", "model.wav", echo], due, words);
    }
}
