//! Double stops: two strings told, the moving one followed beside a still one, and no second string where there is none.

use crate::Run;
use crate::sheet::{Sheet, number, signed};
use vibrato::Note;
use whole_chain::corpus::{Condition, Moving, Register, double_stops, living_room, main_cell};
use whole_chain::listening::HeardSound;
use whole_chain::phrases::{PLACES, phrases};
use whole_chain::scoring::{median, percent};

/// Double stops of each kind, and bow noise below them, in dB.
const COUNT: usize = 44;
const NOISE_DB: f64 = 35.0;
/// A width is right within this share, or so many cents.
const NEAR: (f64, f64) = (0.02, 1.0);
/// A shorter note in front of a stretch is a beginning, in seconds.
const BEGINNING_SECS: f64 = 0.45;
/// A still finger wanders by up to 1.5 cents (root mean square), which can look like so wide a vibrato.
const UNREST_CENTS: f64 = 5.0;

/// The moving string of a double stop as it was followed: errors of width (cents and share) and of rate (share), and both
/// over their standard errors.
struct Followed {
    width_cents: f64,
    width: f64,
    rate: f64,
    deviations: [f64; 2],
}

fn told(heard: &HeardSound) -> bool {
    heard.notes.iter().any(|note| note.remarks.two_strings)
}

/// Nothing but the stretch itself, and beginnings, is told.
fn in_one(heard: &HeardSound) -> bool {
    let long = |note: &&Note| note.end.get() - note.start.get() > BEGINNING_SECS;
    told(heard) && heard.notes.iter().filter(long).count() == 1
}

/// A vibrato that was told of one of two strings.
fn vibrato(heard: &HeardSound) -> Option<&Note> {
    let of_two = |note: &&Note| note.remarks.two_strings && note.vibrato.is_some();
    heard.notes.iter().find(of_two)
}

fn is_wide(note: &Note) -> bool {
    note.vibrato.as_ref().is_some_and(|vibrato| vibrato.width.value.get() > UNREST_CENTS)
}

fn followed(heard: &HeardSound, line: usize) -> Option<Followed> {
    let note = vibrato(heard)?;
    let truth = &heard.spec.lines[line].notes[0];
    let played = truth.vibrato.as_ref()?;
    if note.f0.value.cents_above(truth.f0).get().abs() > 50.0 {
        return None;
    }
    let heard = note.vibrato.as_ref()?;
    let width_cents = heard.width.value.get() - played.width.get();
    let rate = heard.rate.value.get() - played.rate.get();
    let over = |error: f64, se: Option<f64>| se.map_or(f64::INFINITY, |se| error / se);
    Some(Followed {
        width_cents,
        width: width_cents / played.width.get(),
        rate: rate / played.rate.get(),
        deviations: [
            over(width_cents, heard.width.se.map(|se| se.get())),
            over(rate, heard.rate.se.map(|se| se.get())),
        ],
    })
}

/// Section 9 of the figures.
pub(crate) fn measure(run: &Run, sheet: &mut Sheet) -> Result<(), tone::SpecError> {
    sheet.head(
        "9 Double stops: seconds to octaves from C3 to A4, 15 to 70 c, 4 to 7 Hz, within 6 dB",
    );
    for (moving, line, name) in
        [(Moving::Low, 0, "lower string moves"), (Moving::High, 1, "higher string moves")]
    {
        let heard = run.hear(&double_stops(run.seed, moving, NOISE_DB, run.count(COUNT)))?;
        let of = format!("{name}, of {}", heard.len());
        sheet.at_least(&format!("{of}: told to be two"), Some(percent(&heard, told)), "%", 85.0);
        sheet.at_least(
            &format!("{name}: in one stretch"),
            Some(percent(&heard, in_one)),
            "%",
            80.0,
        );
        let all: Vec<_> = heard.iter().filter_map(|heard| followed(heard, line)).collect();
        let share = 100.0 * all.len() as f64 / heard.len() as f64;
        sheet.at_least(&format!("{name}: followed"), Some(share), "%", 80.0);
        let widths: Vec<f64> = all.iter().map(|one| 100.0 * one.width).collect();
        sheet.tell(&format!("{name}: width error, median"), &signed(median(&widths), "%"));
        let near = percent(&all, |one| one.width.abs() < NEAR.0 || one.width_cents.abs() < NEAR.1);
        sheet.at_least(&format!("{name}: width within 2 % or 1 c"), Some(near), "%", 90.0);
        let near = percent(&all, |one| one.rate.abs() < 0.005);
        sheet.at_least(&format!("{name}: rate within 0.5 %"), Some(near), "%", 95.0);
        for (i, what) in ["width", "rate"].into_iter().enumerate() {
            let within = |most: f64| percent(&all, |one| one.deviations[i].abs() < most);
            let one = number(Some(within(1.0)), "%");
            sheet.tell(&format!("{name}: {what} within one stated standard error"), &one);
            let what = format!("{name}: {what} within two");
            sheet.at_least(&what, Some(within(2.0)), "%", 93.0);
        }
    }
    let heard = run.hear(&double_stops(run.seed, Moving::Neither, NOISE_DB, run.count(COUNT)))?;
    let what = format!("neither moves, of {}: told to be two", heard.len());
    sheet.at_least(&what, Some(percent(&heard, told)), "%", 85.0);
    let invented = heard.iter().filter_map(vibrato).filter(|note| is_wide(note)).count();
    let what = "neither moves: vibrato wider than the unrest of a finger told";
    sheet.judge(what, &invented.to_string(), "none", invented == 0);
    let heard = run.hear(&double_stops(run.seed, Moving::Both, NOISE_DB, run.count(COUNT)))?;
    let what = format!("both move, of {}: told to be two", heard.len());
    sheet.tell(&what, &number(Some(percent(&heard, told)), "%"));
    one_string(run, sheet)
}

/// One string, in rooms and in phrases, is not two.
fn one_string(run: &Run, sheet: &mut Sheet) -> Result<(), tone::SpecError> {
    let mut specs = Vec::new();
    for register in Register::MAIN {
        for condition in [Condition::Noisy, Condition::Irregular, Condition::Room5] {
            specs.extend(main_cell(run.seed + 1, register, condition, run.count(4)));
        }
        specs.extend(living_room(run.seed + 1, register, 0.0, run.count(4)));
    }
    for place in PLACES {
        specs.extend(phrases(run.seed + 1, place, run.count(4)));
    }
    let heard = run.hear(&specs)?;
    let notes: usize = heard.iter().map(|heard| heard.notes.len()).sum();
    let two = heard.iter().flat_map(|heard| &heard.notes).filter(|note| note.remarks.two_strings);
    let two = two.count();
    let what = format!("one string, notes in noise, rooms and phrases, of {notes}: told to be two");
    sheet.judge(&what, &two.to_string(), "none", two == 0);
    Ok(())
}
