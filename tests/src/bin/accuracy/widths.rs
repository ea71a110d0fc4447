//! Width, rate and centre of whole notes.

use crate::sheet::{Sheet, number, signed};
use crate::{Cell, Run};
use tone::TrueNote;
use vibrato::Motion;
use whole_chain::corpus::{Condition, ROOM_WIDTH, Register, bass, high, living_room, six_cycles};
use whole_chain::listening::HeardSound;
use whole_chain::scoring::{fitted_note, mean, median, percent, quantile};

/// Notes narrower than this are not judged by width here.
const LEAST_WIDTH: f64 = 10.0;
/// The fit over the pitch track leaves out so much of start and end, in seconds.
const FIT_EDGES: (f64, f64) = (0.3, 0.1);

/// Share of rates within 0.5 % by now.
const RATE_HELD_PCT: f64 = 92.0;
/// Rooms with direct sound so many dB above the late one: which share of widths is to be near and how large the median
/// error in percent may be. No share is asked of the strongest.
const ROOMS: [(f64, Option<[f64; 2]>); 4] =
    [(3.0, Some([93.0, 0.5])), (0.0, Some([80.0, 1.5])), (-3.0, Some([80.0, 1.5])), (-6.0, None)];
/// Which share of them is to lie within two stated standard errors, in percent.
const ROOMS_COVERED_PCT: f64 = 90.0;
/// At half the distance the sheet of the sound foretells about 0.7 of the doubt; "about" is a seventh more at most.
const HALF_WAY: f64 = 0.8;
/// Live widths are looked at until so long before the end of a note.
const LIVE_EDGE_SECS: f64 = 0.1;

/// Errors of one note; infinite where the ear found no vibrato.
pub(crate) struct NoteError {
    /// True width, and the error in cents against it.
    pub width: f64,
    pub width_error: f64,
    /// The width against the whole true note instead of the oscillations the ear counted.
    pub whole_width_error: f64,
    /// In percent.
    pub rate_error_pct: f64,
    /// In cents.
    pub centre_error: f64,
    /// Width and rate of a sine fitted to the pitch track, against the same fit to the true track.
    pub fit_width_error: f64,
    /// Whether the ear spoke of a room.
    pub room: bool,
    /// Standard error stated for the width, in cents.
    pub doubt: f64,
    /// Error over the standard error stated for it, of width, rate, centre.
    pub deviations: [f64; 3],
}

impl NoteError {
    /// Whether the width is within 1 cent or 2 %.
    fn near(&self) -> bool {
        self.width_error.abs() <= f64::max(1.0, 0.02 * self.width)
    }
}

/// Compares note number `number` with what was heard of it. True values are taken over the very
/// oscillations the ear counted, for an uneven player's width depends on which are.
pub(crate) fn compare(heard: &HeardSound, number: usize) -> NoteError {
    let truth = &heard.true_notes()[number];
    let lost = f64::INFINITY;
    let mut error = NoteError {
        width: heard.nominal_width(number),
        width_error: lost,
        whole_width_error: lost,
        rate_error_pct: lost,
        centre_error: lost,
        fit_width_error: fit_error(heard, truth).unwrap_or(lost),
        room: false,
        doubt: lost,
        deviations: [lost; 3],
    };
    let Some(note) = heard.heard_note(truth) else {
        return error;
    };
    error.room = note.remarks.room;
    let Some(vibrato) = &note.vibrato else {
        return error;
    };
    let (Some(first), Some(last)) = (vibrato.oscillations.first(), vibrato.oscillations.last())
    else {
        return error;
    };
    let (from, to) = (first.start.get(), last.start.get() + last.period.get());
    let counted = truth.oscillations.iter().filter(|o| {
        let middle = o.start.get() + 0.5 * o.period.get();
        middle > from && middle < to
    });
    let widths: Vec<f64> = counted.clone().map(|o| o.width.get()).collect();
    let periods: Vec<f64> = counted.map(|o| o.period.get()).collect();
    let (Some(width), Some(period)) = (mean(&widths), mean(&periods)) else {
        return error;
    };
    error.width = width;
    error.width_error = vibrato.width.value.get() - width;
    let whole = truth.mean_width().map_or(lost, |width| width.get());
    error.whole_width_error = vibrato.width.value.get() - whole;
    error.doubt = vibrato.width.se.map_or(lost, |se| se.get());
    error.rate_error_pct = 100.0 * (vibrato.rate.value.get() * period - 1.0);
    if let Some(centre) = heard.true_mean(from, to, note.reference) {
        error.centre_error = vibrato.centre.value.get() - centre;
    }
    let stated = |error: f64, se: Option<f64>| se.map_or(lost, |se| error / se);
    error.deviations = [
        stated(error.width_error, vibrato.width.se.map(|se| se.get())),
        stated(vibrato.rate.value.get() - 1.0 / period, vibrato.rate.se.map(|se| se.get())),
        stated(error.centre_error, vibrato.centre.se.map(|se| se.get())),
    ];
    error
}

fn fit_error(heard: &HeardSound, note: &TrueNote) -> Option<f64> {
    let (from, to) = (note.start.get() + FIT_EDGES.0, note.end.get() - FIT_EDGES.1);
    let [estimate, truth] = heard.tracks(note).map(|track| fitted_note(&track, from, to));
    Some(estimate?.width - truth?.width)
}

/// How far the width lies beside the nominal one that is told while the note sounds, in percent, each half second from the
/// second on, and that over the standard error told with it.
fn live_errors(heard: &HeardSound) -> Vec<(f64, f64)> {
    let note = &heard.true_notes()[0];
    let width = heard.nominal_width(0);
    let looks = (2..).map(|half| note.start.get() + 0.5 * f64::from(half));
    let looks = looks.take_while(|at| *at < note.end.get() - LIVE_EDGE_SECS);
    let at = |secs: f64| {
        let live = heard.live.iter().find(|live| live.time.get() >= secs)?;
        let Motion::Vibrato { width: told, .. } = live.motion else { return None };
        let off = told.value.get() - width;
        Some((100.0 * off / width, off / told.se?.get()))
    };
    looks.map(|secs| at(secs).unwrap_or((f64::INFINITY, f64::INFINITY))).collect()
}

/// All notes of `heard` that are at least [`LEAST_WIDTH`] wide.
pub(crate) fn errors(heard: &[HeardSound]) -> Vec<NoteError> {
    let wide = |heard: &HeardSound| {
        let count = heard.true_notes().len();
        (0..count)
            .filter(|&i| heard.nominal_width(i) >= LEAST_WIDTH)
            .map(|i| compare(heard, i))
            .collect::<Vec<_>>()
    };
    heard.iter().flat_map(wide).collect()
}

fn list(errors: &[NoteError], of: impl Fn(&NoteError) -> f64) -> Vec<f64> {
    errors.iter().map(of).collect()
}

fn judge_register(register: Register, errors: &[NoteError], sheet: &mut Sheet) {
    let name = register.name();
    let notes = format!("{} notes", errors.len());
    sheet.around(
        &format!("{name} width, median of {notes}"),
        median(&list(errors, |e| e.width_error)),
        "c",
        0.3,
    );
    for (what, share) in shares(errors) {
        sheet.tell(&format!("{name} {what}"), &number(Some(share), "%"));
    }
}

/// Shares of notes whose width, rate and centre are near enough, in percent.
fn shares(errors: &[NoteError]) -> [(&'static str, f64); 3] {
    [
        ("width within 1 c or 2 %", percent(errors, NoteError::near)),
        ("rate within 0.5 %", percent(errors, |e| e.rate_error_pct.abs() <= 0.5)),
        ("centre within 1 c", percent(errors, |e| e.centre_error.abs() <= 1.0)),
    ]
}

fn cell_line(errors: &[NoteError]) -> String {
    let width = list(errors, |e| e.width_error);
    let sizes = list(errors, |e| e.width_error.abs());
    let whole = list(errors, |e| e.whole_width_error);
    let fit = list(errors, |e| e.fit_width_error);
    let fit_near = percent(errors, |e| e.fit_width_error.abs() <= f64::max(1.0, 0.02 * e.width));
    format!(
        "{:>3} notes, width {} ({:.0} % near, 90 % within {}), whole note {}, fit {} ({fit_near:.0} %), \
         rate {:.0} %, centre {:.0} %",
        errors.len(),
        signed(median(&width), "c"),
        percent(errors, NoteError::near),
        number(quantile(&sizes, 0.9), "c"),
        signed(median(&whole), "c"),
        signed(median(&fit), "c"),
        percent(errors, |e| e.rate_error_pct.abs() <= 0.5),
        percent(errors, |e| e.centre_error.abs() <= 1.0),
    )
}

/// How far the doubts hold that are told with width, rate and centre. The width's in rooms is judged below.
fn doubts(run: &Run, corpus: &[Cell], sheet: &mut Sheet) -> Result<(), tone::SpecError> {
    sheet.head("1 Doubts: within 1 / 2 stated standard errors");
    for condition in Condition::ALL {
        let cells = corpus.iter().filter(|cell| cell.condition == condition);
        let all: Vec<NoteError> = cells.flat_map(|cell| errors(&cell.heard)).collect();
        judge_doubts(condition.name(), &all, Condition::DRY.contains(&condition), sheet);
    }
    for (uneven, name) in [(false, "six cycles, even"), (true, "six cycles, uneven")] {
        let mut all = Vec::new();
        for register in Register::MAIN {
            for snr_db in [40.0, 20.0] {
                let specs = six_cycles(run.seed, register, uneven, snr_db, run.count(12));
                all.extend(errors(&run.hear(&specs)?));
            }
        }
        judge_doubts(name, &all, true, sheet);
    }
    Ok(())
}

fn judge_doubts(name: &str, errors: &[NoteError], dry: bool, sheet: &mut Sheet) {
    for (i, what) in ["width", "rate", "centre"].into_iter().enumerate() {
        let within = |most: f64| percent(errors, |e| e.deviations[i].abs() <= most);
        let (what, value) = (
            format!("{name}: {what}, {} notes", errors.len()),
            format!("{:.0} % / {:.0} %", within(1.0), within(2.0)),
        );
        if !dry && i == 0 {
            sheet.tell(&what, &value);
            continue;
        }
        sheet.judge(&what, &value, "two at least 93 %", within(2.0) >= 93.0);
    }
}

/// Section 1 of the figures, and the widths of bass, high notes and living rooms.
pub(crate) fn measure(
    run: &Run,
    corpus: &[Cell],
    sheet: &mut Sheet,
) -> Result<(), tone::SpecError> {
    let of = |register: Register, conditions: &[Condition]| -> Vec<NoteError> {
        let cells =
            corpus.iter().filter(|c| c.register == register && conditions.contains(&c.condition));
        cells.flat_map(|cell| errors(&cell.heard)).collect()
    };
    sheet.head("1 Width, rate and centre of notes, without a room");
    for register in Register::MAIN {
        judge_register(register, &of(register, &Condition::DRY), sheet);
    }
    sheet.head("  by cell (signed medians; shares within 1 c or 2 %, 0.5 %, 1 c; 'fit' is the pitch track alone)");
    for cell in corpus {
        let name = format!("{} {}", cell.register.name(), cell.condition.name());
        println!("  {name:<18} {}", cell_line(&errors(&cell.heard)));
    }
    let dry: Vec<NoteError> =
        Register::MAIN.into_iter().flat_map(|r| of(r, &Condition::DRY)).collect();
    for (what, share) in shares(&dry) {
        let what = format!("all registers: {what}");
        let why = "an uneven beat is counted between two turns, each off by a few ms";
        let verdict = (share >= 95.0, share >= RATE_HELD_PCT && what.contains("rate"));
        sheet.judge_known(&what, &number(Some(share), "%"), "at least 95 %", verdict, why);
    }
    for (i, what) in ["width", "rate", "centre"].into_iter().enumerate() {
        let within = |most: f64| percent(&dry, |e| e.deviations[i].abs() <= most);
        let value = format!("{:.0} % / {:.0} %", within(1.0), within(2.0));
        sheet.tell(&format!("{what} within 1 / 2 stated standard errors"), &value);
    }
    doubts(run, corpus, sheet)?;

    sheet.head("1 Rooms: mean width error at 40 cents");
    for (condition, c2, others) in [(Condition::Room10, 2.0, 2.0), (Condition::Room5, 6.0, 2.5)] {
        let mut flags = Vec::new();
        for register in Register::MAIN {
            let cells =
                corpus.iter().filter(|c| c.register == register && c.condition == condition);
            let firsts: Vec<NoteError> =
                cells.flat_map(|c| &c.heard).map(|h| compare(h, 0)).collect();
            let most = if register == Register::C2 { c2 } else { others };
            let what = format!(
                "{} {}, {} notes of {ROOM_WIDTH} c",
                register.name(),
                condition.name(),
                firsts.len()
            );
            sheet.around(&what, mean(&list(&firsts, |e| e.width_error)), "c", most);
            let fits = list(&firsts, |e| e.fit_width_error);
            sheet.tell("  the pitch track alone", &signed(mean(&fits), "c"));
            flags.extend(firsts.iter().map(|e| e.room));
        }
        let flagged = percent(&flags, |room| *room);
        sheet.tell(&format!("{}: in doubt", condition.name()), &number(Some(flagged), "%"));
    }
    sheet.at_most("without a room: said to be one", Some(percent(&dry, |e| e.room)), "%", 5.0);
    let mut known_to = Vec::new();
    for (drr_db, asked) in ROOMS {
        let (mut all, mut live) = (Vec::new(), Vec::new());
        for register in Register::MAIN {
            let heard = run.hear(&living_room(run.seed, register, drr_db, run.count(24)))?;
            let errors = errors(&heard);
            let off = list(&errors, |e| 100.0 * e.width_error / e.width);
            let doubtful = percent(&errors, |e| e.room);
            let value = format!("{}, {doubtful:.0} % in doubt", signed(median(&off), "%"));
            sheet.tell(&format!("living room {drr_db} dB, {}: width", register.name()), &value);
            all.extend(errors);
            live.extend(heard.iter().flat_map(live_errors));
        }
        let room = format!("living room {drr_db} dB");
        if let Some([near, bias]) = asked {
            let share = percent(&all, NoteError::near);
            sheet.at_least(&format!("{room}: width within 1 c or 2 %"), Some(share), "%", near);
            let off = median(&list(&all, |e| 100.0 * e.width_error / e.width));
            sheet.around(&format!("{room}: width error, median"), off, "%", bias);
        }
        let covered = percent(&all, |e| e.deviations[0].abs() <= 2.0);
        let what = format!("{room}: within 2 stated standard errors");
        sheet.at_least(&what, Some(covered), "%", ROOMS_COVERED_PCT);
        let off: Vec<f64> = live.iter().map(|(pct, _)| *pct).collect();
        let within = |most: f64| percent(&live, |(_, errors)| errors.abs() <= most);
        let value =
            format!("{}; {:.0} %, {:.0} %", signed(median(&off), "%"), within(1.0), within(2.0));
        sheet.tell(&format!("{room}, live: median error; within 1, 2 standard errors"), &value);
        known_to.push((drr_db, median(&list(&all, |e| 100.0 * e.doubt / e.width))));
    }
    for pair in [(0, 2), (1, 3)] {
        let ((near_db, near), (far_db, far)) = (known_to[pair.0], known_to[pair.1]);
        let share = near.zip(far).map(|(near, far)| near / far);
        let what = format!("doubt of the width at {near_db} dB over that at {far_db} dB");
        sheet.at_most(&what, share, "", HALF_WAY);
    }

    sheet.head("5 Bass and above E6");
    let low = errors(&run.hear(&bass(run.seed, run.count(32)))?);
    let near = percent(&low, |e| e.width_error.abs() <= f64::max(2.0, 0.05 * e.width));
    sheet.at_least("E1-B1 width within 2 c or 5 %", Some(near), "%", 95.0);
    sheet.tell("E1-B1 width, median", &signed(median(&list(&low, |e| e.width_error)), "c"));
    sheet.tell(
        "E1-B1 the pitch track alone, median",
        &signed(median(&list(&low, |e| e.fit_width_error)), "c"),
    );
    let heard = run.hear(&high(run.seed, run.count(32)))?;
    let top = errors(&heard);
    let named = percent(&heard, |h| {
        let truth = &h.true_notes()[0];
        h.heard_note(truth).is_some_and(|note| note.midi == crate::notes::midi_of(truth.nominal))
    });
    sheet.at_least("F6-E7 named right", Some(named), "%", 100.0);
    let centres = percent(&top, |e| e.centre_error.abs() <= 1.0);
    sheet.at_least("F6-E7 centre within 1 c", Some(centres), "%", 95.0);
    let near = percent(&top, |e| e.width_error.abs() <= f64::max(1.0, 0.05 * e.width));
    sheet.at_least("F6-E7 width within 5 % (or 1 c)", Some(near), "%", 95.0);
    Ok(())
}
