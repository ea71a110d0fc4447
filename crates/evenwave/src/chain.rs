//! The one way from samples to events: resampler, then ear, and what an ended note is looked at again with. Files,
//! microphone and demo all take it.

use late_sound::{Excerpt, Recall};
use sound::{Resampler, ResamplerError};
use tuning::Hz;
use vibrato::{Ear, Event, Settings};

/// Samples at any rate in, what the ear reports out.
pub struct Chain {
    resampler: Resampler,
    ear: Ear,
    recall: Recall,
    /// What has come out of the resampler and goes to the ear at once.
    resampled: Vec<f32>,
}

impl Chain {
    /// A chain for samples at `rate_hz`, which must lie within [`sound::RATES_HZ`].
    pub fn new(rate_hz: u32, settings: Settings) -> Result<Self, ResamplerError> {
        Ok(Self {
            resampler: Resampler::new(rate_hz, pitch::SAMPLE_RATE)?,
            ear: Ear::new(settings),
            recall: Recall::default(),
            resampled: Vec::new(),
        })
    }

    /// Takes `samples` (full scale = 1.0), before which `lost_before` are missing, and reports all
    /// that has become certain, with the note where one has ended. The numbers do not depend on how the sound is cut
    /// into blocks.
    pub fn push(
        &mut self,
        lost_before: u64,
        samples: &[f32],
        report: &mut impl FnMut(Event, Option<Excerpt>),
    ) {
        if lost_before > 0 {
            self.resampled.clear();
            let missing = self.resampler.skip(lost_before, &mut self.resampled);
            self.hear(&mut *report);
            self.ear.skip(missing);
            self.recall.skip(missing);
        }
        self.resampled.clear();
        self.resampler.push(samples, &mut self.resampled);
        self.hear(report);
    }

    /// Lets the ear hear what came out of the resampler.
    fn hear(&mut self, report: &mut impl FnMut(Event, Option<Excerpt>)) {
        let Self { ear, recall, resampled, .. } = self;
        recall.hear(resampled);
        ear.hear(resampled, |event, ear| report(event, recalled(recall, &event, ear)));
    }

    /// From here on these partials of what the program itself plays may leak in; see [`Ear::expect`].
    pub fn expect(&mut self, partials: &[Hz]) {
        self.ear.expect(partials);
        self.recall.expect(!partials.is_empty());
    }

    /// The sound goes on at another rate, as when another device takes over.
    pub fn change_rate(
        &mut self,
        rate_hz: u32,
        report: &mut impl FnMut(Event, Option<Excerpt>),
    ) -> Result<(), ResamplerError> {
        if rate_hz == self.resampler.from_hz() {
            return Ok(());
        }
        let next = Resampler::new(rate_hz, pitch::SAMPLE_RATE)?;
        self.empty_resampler(report);
        self.resampler = next;
        Ok(())
    }

    /// End of the sound: reports what is still to be said, a sounding note included.
    pub fn finish(mut self, report: &mut impl FnMut(Event, Option<Excerpt>)) {
        self.empty_resampler(report);
        self.ear.finish();
        self.resampled.clear();
        self.hear(report);
    }

    fn empty_resampler(&mut self, report: &mut impl FnMut(Event, Option<Excerpt>)) {
        self.resampled.clear();
        self.resampler.finish(&mut self.resampled);
        self.hear(report);
    }
}

/// Remembers a frame, and recalls what belongs to a note that has ended.
fn recalled(recall: &mut Recall, event: &Event, ear: &Ear) -> Option<Excerpt> {
    if let Event::Frame(frame) = event {
        recall.frame(frame);
    }
    recall.excerpt(ear)
}
