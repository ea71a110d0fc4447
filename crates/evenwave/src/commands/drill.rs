//! `evenwave drill NAME FILE`: judges a recorded round as the window judges a played one.

use std::io::Write;
use std::path::Path;

use coach::{Drill, Fingering, Hints, Practice};
use journal::{Shelf, TakeFile};
use tuning::Tuning;

use crate::arguments::DrillArguments;
use crate::drills;
use crate::fault::Fault;
use crate::formats::{RoundRecord, round_lines};
use crate::heard_file::judge_file;
use crate::named_takes::{harm, place_of_take};
use crate::outputs::{json_line, lines};
use crate::words::{aside, counted, on_one_line, say};

/// Lists the drills, copies one, or judges a recording.
pub(crate) fn run(arguments: &DrillArguments) -> Result<(), Fault> {
    if arguments.list {
        return list(arguments);
    }
    if let (true, Some(name)) = (arguments.copy, &arguments.name) {
        return copy(name);
    }
    let (Some(name), Some(file)) = (&arguments.name, &arguments.file) else {
        return Err(Fault::Usage(
            "name a drill and the recording of a round: evenwave drill there-and-back round.wav; --list shows the drills"
                .to_owned(),
        ));
    };
    let drill = changed(drills::find(name, drills::own().as_deref())?, arguments)?;
    let place = place(&drill, arguments)?;
    let tuning = arguments.ear.tuning(Tuning::default());
    let hints = Hints { tiring: !arguments.no_tiring, rest: !arguments.no_rest };
    let mut practice =
        Practice::new(drill.clone(), place, tuning, hints).shuffled_by(shuffles(file, &drill));
    practice.aim(arguments.meant.aim());
    let drill = practice.drill().clone();
    let rounds = judge_file(file, &arguments.ear.whole_file(), practice)?;
    let damaged = harm(file);
    if rounds.is_empty() {
        let why = damaged.unwrap_or_else(|| file.display().to_string());
        return Err(Fault::Failed(format!(
            "no round of the drill {} was heard; check the recording, the drill and --instrument: {why}",
            drill.name
        )));
    }
    let mut out = std::io::stdout().lock();
    let naming = arguments.ear.naming();
    for (number, round) in rounds.iter().enumerate() {
        let record =
            RoundRecord::new(&drill, round, file.display().to_string(), naming, number + 1);
        if arguments.json {
            json_line(&mut out, &record)?;
        } else {
            if number > 0 {
                writeln!(out)?;
            }
            lines(&mut out, round_lines(&record, &drill, rounds.len()))?;
        }
    }
    out.flush()?;
    damaged.map_or(Ok(()), |harm| {
        Err(Fault::Failed(format!("what is left of the sound was judged: {harm}")))
    })
}

/// What the rounds were shuffled by, where `file` is the sound of a take of this drill; any other file is judged in
/// the order of the drill's own seed.
fn shuffles(file: &Path, drill: &Drill) -> Vec<u64> {
    let take = || {
        let whole = file.canonicalize().ok()?;
        let (journal, id) = place_of_take(whole.parent()?)?;
        Shelf::open(&journal).ok()?.take(&id).ok()
    };
    let of_drill = |take: &TakeFile| take.drill.as_deref() == Some(drill.name.as_str());
    take().filter(of_drill).map_or_else(Vec::new, |take| take.shuffles())
}

/// The drill with what was asked for in its place.
fn changed(drill: Drill, arguments: &DrillArguments) -> Result<Drill, Fault> {
    if arguments.count.is_some() && !drill.counts() {
        return Err(Fault::Usage(format!(
            "no oscillations are counted in drill {}; leave --count out",
            drill.name
        )));
    }
    let drill = drill.paced(arguments.pace, arguments.per_beat).counted(arguments.count);
    if let Some(rate) = drill.pace.rate() {
        let (low, high) = coach::RATES_HZ;
        if !(low..=high).contains(&rate.get()) {
            return Err(Fault::Usage(format!(
                "this pace makes {:.2} oscillations a second, outside {low} to {high}; change --pace or --per-beat",
                rate.get()
            )));
        }
    }
    Ok(drill)
}

fn place(drill: &Drill, arguments: &DrillArguments) -> Result<Fingering, Fault> {
    let instrument = arguments.ear.instrument.as_ref().map(|chosen| chosen.asked.as_str());
    let Some(place) = drill.place(instrument) else {
        return Err(Fault::Failed(format!("drill {} has no place to be played at", drill.name)));
    };
    let mut place = place.clone();
    if let Some(fingers) = &arguments.fingers {
        if let Some(unknown) = fingers.iter().find(|finger| !place.hand.contains_key(finger)) {
            let known: Vec<String> = place.hand.keys().map(u8::to_string).collect();
            return Err(Fault::Usage(format!(
                "drill {} has no note for finger {unknown}; choose among {}",
                drill.name,
                known.join(", ")
            )));
        }
        place.fingers.clone_from(fingers);
    }
    Ok(place)
}

fn copy(name: &str) -> Result<(), Fault> {
    let Some(own) = drills::own() else {
        return Err(Fault::Failed(
            "there is no folder for drills of your own: no home folder is set".to_owned(),
        ));
    };
    let path = drills::copy(name, &own)?;
    say(path.display());
    Ok(())
}

fn list(arguments: &DrillArguments) -> Result<(), Fault> {
    let mut out = std::io::stdout().lock();
    let mut bad = 0;
    for (name, drill) in drills::all(drills::own().as_deref()) {
        let drill = match drill {
            Ok(drill) => drill,
            Err(words) => {
                aside(format_args!("{name} cannot be used: {words}"));
                bad += 1;
                continue;
            }
        };
        let place = place(&drill, &DrillArguments { fingers: None, ..arguments.clone() })?;
        let fingers: Vec<String> = place.fingers.iter().map(u8::to_string).collect();
        let title = on_one_line(&drill.title);
        writeln!(out, "{name:<26} {:<12} {title}", fingers.join("-"))?;
    }
    out.flush()?;
    match bad {
        0 => Ok(()),
        bad => Err(Fault::Failed(format!(
            "{} cannot be used; the others are listed",
            counted(bad, "drill file")
        ))),
    }
}
