//! `evenwave report`: a page of HTML of a take, a drill, a lesson or some weeks.

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use coach::{Care, Practice};
use journal::Entry;

use super::drill::judge_file;
use super::journal::{folder, read};
use crate::arguments::{ReportArguments, ReportOf, WantedTakes};
use crate::drills;
use crate::fault::Fault;
use crate::report::{Page, Playing, drill_page, lesson_page, span_page, take_page};

/// Writes the report.
pub fn run(arguments: &ReportArguments) -> Result<(), Fault> {
    if arguments.out.exists() && !arguments.replace {
        return Err(Fault::Failed(format!(
            "this is there already; choose a new name, or say --replace: {}",
            arguments.out.display()
        )));
    }
    let naming = arguments.ear.naming();
    let page = match &arguments.of {
        ReportOf::Take { take } => take_page(&open(take, arguments)?, naming),
        ReportOf::Drill { name, take } => of_drill(name, take, arguments)?,
        ReportOf::Lesson { model, echoes } => {
            let model = open(model, arguments)?;
            let echoes = echoes
                .iter()
                .map(|echo| open(echo, arguments))
                .collect::<Result<Vec<Playing>, Fault>>()?;
            lesson_page(&model, &echoes, naming)
        }
        ReportOf::Weeks { wanted } => of_weeks(wanted, arguments)?,
    };
    write(&page.written(), &arguments.out)?;
    println!("{}", arguments.out.display());
    Ok(())
}

fn open(named: &str, arguments: &ReportArguments) -> Result<Playing, Fault> {
    let journal = || folder(arguments.journal.as_deref());
    let playing = Playing::open(named, journal, &arguments.ear)?;
    if playing.notes.is_empty() {
        return Err(Fault::Failed(format!(
            "no notes were heard, so there is nothing to report; check the recording: {named}"
        )));
    }
    Ok(playing)
}

fn of_drill(name: &str, named: &str, arguments: &ReportArguments) -> Result<Page, Fault> {
    let playing = open(named, arguments)?;
    let Some(sound) = &playing.sound else {
        return Err(Fault::Failed(format!(
            "the rounds are judged from the sound, and there is none any more; its notes are reported by: evenwave report take {named}"
        )));
    };
    let mut drill = drills::find(name)?;
    if let Some(take) = &playing.take
        && take.drill.as_deref() == Some(drill.name.as_str())
    {
        drill = drill.paced(take.pace_bpm, take.oscillations_per_beat);
    }
    let chosen = arguments.ear.instrument.as_ref();
    let instrument = chosen
        .map(|chosen| chosen.asked.as_str())
        .or_else(|| playing.take.as_ref()?.instrument.as_deref());
    let Some(place) = drill.place(instrument).cloned() else {
        return Err(Fault::Failed(format!(
            "drill {name} has no place to be played at"
        )));
    };
    let practice = Practice::new(
        drill.clone(),
        place,
        playing.settings.tuning,
        Care::default(),
    );
    let rounds = judge_file(sound, playing.settings, arguments.ear.channel, practice)?;
    if rounds.is_empty() {
        return Err(Fault::Failed(format!(
            "there is no round of the drill in it: {named}"
        )));
    }
    Ok(drill_page(
        &drill,
        &rounds,
        &playing,
        arguments.ear.naming(),
    ))
}

fn of_weeks(wanted: &WantedTakes, arguments: &ReportArguments) -> Result<Page, Fault> {
    let shelf = read(&folder(arguments.journal.as_deref())?)?;
    let filter = wanted.filter();
    let ready = filter.ready();
    let entries: Vec<Arc<Entry>> = shelf
        .entries()
        .iter()
        .filter(|entry| wanted.wants_day(entry) && ready.wants(entry))
        .cloned()
        .collect();
    if entries.is_empty() {
        return Err(Fault::Failed(
            "no take is wanted by that; `evenwave journal list` shows what there is".to_owned(),
        ));
    }
    let asked = [
        ("player", filter.player.clone()),
        ("instrument", filter.instrument.clone()),
        ("drill", filter.drill.clone()),
        ("passage", filter.passage.clone()),
        ("finger", filter.finger.map(|finger| finger.to_string())),
        ("words", wanted.text.clone()),
    ];
    let about = asked
        .into_iter()
        .filter_map(|(name, value)| Some((name.to_owned(), value?)))
        .collect();
    Ok(span_page(&entries, &filter, about))
}

/// Writes the page, which is there whole or not at all.
fn write(page: &str, path: &Path) -> Result<(), Fault> {
    let mut fresh = path.as_os_str().to_owned();
    fresh.push(".new");
    let fresh = PathBuf::from(fresh);
    let written = File::create(&fresh)
        .and_then(|mut file| {
            file.write_all(page.as_bytes())?;
            file.sync_all()
        })
        .and_then(|()| fs::rename(&fresh, path));
    written.map_err(|error| {
        fs::remove_file(&fresh).ok();
        Fault::Failed(format!(
            "the report cannot be written ({error}); make room or choose another place: {}",
            path.display()
        ))
    })
}
