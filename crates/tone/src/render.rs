//! From the specification to samples: strings, body, room, and what else is heard.

use crate::body::Resonances;
use crate::bow::{Harmonics, power, scratch_noise, steady_noise};
use crate::chance::{Chance, Use};
use crate::check::{SpecError, check};
use crate::line::{Course, decibels};
use crate::room;
use crate::spec::{Clicks, Hum, OpenString, Spec};
use crate::truth::Truth;
use std::f64::consts::TAU;
use tuning::Secs;

/// What follows the last note if no length is given, in seconds.
const AFTER_SECS: f64 = 0.5;
/// An open string has this many harmonics at most.
const OPEN_HARMONICS: usize = 8;
/// An open string follows the bowed ones with this time constant, in seconds.
const SYMPATHY_SECS: f64 = 0.3;
/// A click decays with this time constant, in seconds, at this pitch, in Hz.
const CLICK: (f64, f64) = (0.004, 1_800.0);

/// A sound and what is known of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Rendering {
    /// One channel, full scale = 1; may exceed it unless clipping was asked for.
    pub samples: Vec<f32>,
    /// Samples per second.
    pub sample_rate_hz: u32,
    /// What is known.
    pub truth: Truth,
}

/// What leaves the body, part by part, at the level asked for.
pub(crate) struct Parts {
    pub tone: Vec<f64>,
    pub noise: Vec<f64>,
    pub scratch: Vec<f64>,
    pub open: Vec<f64>,
}

impl Spec {
    /// Reads a specification from RON.
    pub fn from_ron(text: &str) -> Result<Self, SpecError> {
        Ok(ron::from_str(text)?)
    }

    /// Writes it as RON.
    pub fn to_ron(&self) -> Result<String, SpecError> {
        Ok(ron::ser::to_string_pretty(self, ron::ser::PrettyConfig::default())?)
    }

    /// Plays it. Same specification, same samples.
    pub fn render(&self) -> Result<Rendering, SpecError> {
        check(self)?;
        let courses = self.courses();
        let parts = self.parts(&courses);
        let samples = parts.tone.len();
        let rate = f64::from(self.sample_rate_hz);
        let mut heard: Vec<f64> = (0..samples)
            .map(|n| parts.tone[n] + parts.noise[n] + parts.scratch[n] + parts.open[n])
            .collect();
        if let Some(clicks) = &self.clicks {
            add_clicks(clicks, rate, &mut heard);
        }
        if let Some(around) = &self.room {
            heard = room::heard_in(&heard, &room::response(around, rate, self.seed));
        }
        if let Some(hum) = &self.hum {
            add_hum(hum, rate, &mut heard);
        }
        if let Some(floor) = self.floor_dbfs {
            let mut chance = Chance::new(self.seed, Use::Floor);
            for value in &mut heard {
                *value += decibels(floor) * chance.noise();
            }
        }
        let most = self.clip_dbfs.map_or(f64::INFINITY, decibels);
        Ok(Rendering {
            samples: heard.iter().map(|value| value.clamp(-most, most) as f32).collect(),
            sample_rate_hz: self.sample_rate_hz,
            truth: Truth::new(&courses, rate),
        })
    }

    pub(crate) fn courses(&self) -> Vec<Course<'_>> {
        let ends = self.lines.iter().flat_map(|line| &line.notes).map(|note| note.end().get());
        let length = self.length.map_or(ends.fold(0.0, f64::max) + AFTER_SECS, Secs::get);
        let samples = (length * f64::from(self.sample_rate_hz)).round() as usize;
        self.lines.iter().enumerate().map(|(i, line)| Course::new(self, i, line, samples)).collect()
    }

    pub(crate) fn parts(&self, courses: &[Course]) -> Parts {
        let rate = f64::from(self.sample_rate_hz);
        let samples = courses[0].f0.len();
        let body = self.body.as_ref().map(|body| Resonances::new(body, rate, self.seed));
        let through =
            |x: Vec<f64>| body.as_ref().map_or_else(|| x.clone(), |body| body.filtered(&x));
        let lowest = courses.iter().flat_map(|c| &c.f0).copied().fold(f64::INFINITY, f64::min);
        let harmonics = Harmonics::new(&self.bow, rate, lowest, self.seed);
        let mut tone = vec![0.0; samples];
        for course in courses {
            harmonics.add_tone(course, &mut tone);
        }
        let mut tone = through(tone);
        let bowed = (0..samples).filter(|&n| courses.iter().any(|c| c.on[n]));
        let (sum, count) =
            bowed.fold((0.0, 0usize), |(sum, count), n| (sum + tone[n] * tone[n], count + 1));
        if count > 0 && sum > 0.0 {
            scale(&mut tone, decibels(self.level_dbfs) / (sum / count as f64).sqrt());
        }
        let tone_power = power(&tone);

        let mut noise = vec![0.0; samples];
        if let Some(snr_db) = self.bow.snr_db {
            noise = through(steady_noise(courses, &self.bow, rate, self.seed));
            let is = power(&noise);
            if is > 0.0 {
                scale(&mut noise, (tone_power / is).sqrt() * decibels(-snr_db));
            }
        }
        let mut scratch = through(scratch_noise(courses, &self.bow, rate, self.seed));
        let is = power(&scratch) * samples as f64;
        let wanted: f64 = courses.iter().flat_map(|c| &c.scratch).map(|level| level * level).sum();
        if is > 0.0 {
            let per_sample = decibels(self.level_dbfs + self.bow.scratch_db);
            scale(&mut scratch, per_sample * (wanted / is).sqrt());
        }
        let mut open = vec![0.0; samples];
        for string in &self.open_strings {
            let mut one = through(open_string(string, courses, rate));
            let is = power(&one);
            if is > 0.0 {
                scale(&mut one, (tone_power / is).sqrt() * decibels(string.level_db));
            }
            for (sum, value) in open.iter_mut().zip(&one) {
                *sum += value;
            }
        }
        Parts { tone, noise, scratch, open }
    }
}

fn scale(x: &mut [f64], by: f64) {
    for value in x {
        *value *= by;
    }
}

fn open_string(string: &OpenString, courses: &[Course], rate: f64) -> Vec<f64> {
    let hz = string.f0.get();
    let count = OPEN_HARMONICS.min((0.45 * rate / hz) as usize).max(1);
    let follow = 1.0 - (-1.0 / (SYMPATHY_SECS * rate)).exp();
    let mut level = 0.0;
    (0..courses[0].f0.len())
        .map(|n| {
            let driven: f64 = courses.iter().map(|course| course.bowed[n]).sum();
            level += follow * (driven - level);
            let turns = hz * n as f64 / rate;
            let tone: f64 = (1..=count).map(|k| (TAU * k as f64 * turns).sin() / k as f64).sum();
            level * tone
        })
        .collect()
}

fn add_hum(hum: &Hum, rate: f64, out: &mut [f64]) {
    // Powers 1, 1/4, 1/9 of the first three harmonics.
    let amplitude = decibels(hum.level_dbfs) * (2.0f64 / (1.0 + 0.25 + 1.0 / 9.0)).sqrt();
    for (n, value) in out.iter_mut().enumerate() {
        let turns = hum.f0.get() * n as f64 / rate;
        *value += amplitude
            * (1..=3).map(|k| (TAU * f64::from(k) * turns).sin() / f64::from(k)).sum::<f64>();
    }
}

fn add_clicks(clicks: &Clicks, rate: f64, out: &mut [f64]) {
    let (decay, hz) = CLICK;
    let beat = 60.0 / clicks.bpm;
    for (n, value) in out.iter_mut().enumerate() {
        let since = (n as f64 / rate) % beat;
        if since < 12.0 * decay {
            *value +=
                decibels(clicks.peak_dbfs) * (-since / decay).exp() * (TAU * hz * since).cos();
        }
    }
}
