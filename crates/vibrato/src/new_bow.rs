//! Where the bow starts anew without leaving the pitch: the level dips between two louder stretches.
//!
//! The level above 2 kHz tells most of these places, for there neither string nor room rings on for long. Where noise
//! covers it, the whole level still shows a deep dip.

/// The whole level lies this much below both sides, of so many frames each...
const WHOLE_DB: f64 = 8.0;
const WHOLE_REACH_FRAMES: usize = 30;
/// ...or, where the new bow speaks slowly, so many behind it...
const SLOW_REACH_FRAMES: usize = 50;
/// ...and this much below all that came before these.
const WHOLE_BELOW_DB: f64 = 3.0;
/// The level above 2 kHz lies this much further below both sides, of so many frames each, than its own small dips do...
const UPPER_DB: f64 = 3.5;
const UPPER_REACH_FRAMES: usize = 20;
/// ...of which the middle one counts this much, for a vibrato makes the level swing, and not alike each time...
const USUAL_SHARE: f64 = 1.2;
/// ...and which are the lowest of so many frames on either side. Shallower ones than this are none.
const SMALL_REACH_FRAMES: usize = 5;
const LEAST_SMALL_DB: f64 = 0.3;
/// A dip this deep is a new bow, whatever the others are.
const SURE_DB: f64 = 10.0;
/// Frames before a dip that say what is usual: 0.6 s.
const MEMORY_FRAMES: usize = 120;
/// A bow that was told counts among what is usual only for so long: 0.3 s. The next one may dip just as deep, but a vibrato
/// swings faster.
const BOW_FRAMES: usize = 60;
/// Small dips that are compared, at most: more than fit into the frames looked at.
const MOST_SMALL: usize = 32;

/// The frame in which a new bow began, if the newest frames of a note make that certain; 0.15 s behind it, or 0.25 s. `level` is the
/// whole level of each frame of the note, `upper` that above 2 kHz, both in dB; `told` says in which frames a new bow was
/// told before.
pub(crate) fn heard_by_now(
    level: &[f64],
    upper: &[f64],
    told: impl Fn(usize) -> bool,
) -> Option<usize> {
    let found = |behind: usize, before: usize, dips: &dyn Fn(usize) -> bool| {
        let at = level.len().checked_sub(behind + 1).filter(|at| *at >= before)?;
        // Both levels may tell the same bow, in frames beside each other.
        let is_told = (at - UPPER_REACH_FRAMES..level.len()).any(&told);
        (!is_told && dips(at)).then_some(at)
    };
    let soon = |at| dips_above(upper, at, &told) || dips_whole(level, at, WHOLE_REACH_FRAMES);
    found(WHOLE_REACH_FRAMES, WHOLE_REACH_FRAMES, &soon).or_else(|| {
        let slow = |at| dips_whole(level, at, SLOW_REACH_FRAMES);
        found(SLOW_REACH_FRAMES, 2 * WHOLE_REACH_FRAMES, &slow)
    })
}

fn most(part: &[f64]) -> f64 {
    part.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

fn least(part: &[f64]) -> f64 {
    part.iter().copied().fold(f64::INFINITY, f64::min)
}

/// How far `level` dips at frame `at`, if that is the lowest of `lowest_of` frames before and behind it: the lesser of its
/// fall and its rise within `reach` frames.
fn dip(level: &[f64], at: usize, lowest_of: (usize, usize), reach: (usize, usize)) -> Option<f64> {
    let before = |frames: usize| &level[at.saturating_sub(frames)..at];
    let after = |frames: usize| &level[at + 1..(at + 1 + frames).min(level.len())];
    let lowest = least(before(lowest_of.0)) > level[at] && least(after(lowest_of.1)) >= level[at];
    lowest.then(|| most(before(reach.0)).min(most(after(reach.1))) - level[at])
}

/// Whether the whole level says that the bow began anew, by so many frames behind that.
fn dips_whole(level: &[f64], at: usize, behind: usize) -> bool {
    let reach = (WHOLE_REACH_FRAMES, behind);
    let deep = dip(level, at, reach, reach);
    // A vibrato swings the level too, but as deep each time.
    let from = at - WHOLE_REACH_FRAMES;
    let usual = least(&level[at.saturating_sub(MEMORY_FRAMES)..from]);
    deep.is_some_and(|db| db > WHOLE_DB) && usual > level[at] + WHOLE_BELOW_DB
}

/// Whether the level above 2 kHz says that the bow began anew.
fn dips_above(upper: &[f64], at: usize, told: impl Fn(usize) -> bool) -> bool {
    let reach = (UPPER_REACH_FRAMES, UPPER_REACH_FRAMES);
    let deep = dip(upper, at, reach, reach);
    let Some(deep) = deep.filter(|db| *db > UPPER_DB) else { return false };
    if deep >= SURE_DB {
        return true;
    }
    let (mut small, mut count) = ([0.0; MOST_SMALL], 0);
    let frames = at.saturating_sub(MEMORY_FRAMES).max(1)..upper.len() - SMALL_REACH_FRAMES;
    let compared =
        |i: &usize| i.abs_diff(at) > SMALL_REACH_FRAMES && !(i + BOW_FRAMES <= at && told(*i));
    for i in frames.filter(compared) {
        if let Some(db) = dip(upper, i, (SMALL_REACH_FRAMES, SMALL_REACH_FRAMES), reach)
            && (LEAST_SMALL_DB..SURE_DB).contains(&db)
            && count < MOST_SMALL
        {
            small[count] = db;
            count += 1;
        }
    }
    let small = &mut small[..count];
    small.sort_unstable_by(f64::total_cmp);
    let usual = small.get(count / 2).map_or(0.0, |upper| 0.5 * (upper + small[(count - 1) / 2]));
    deep - USUAL_SHARE * usual > UPPER_DB
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Frames in which a new bow is told as the note goes on.
    fn told(level: &[f64], upper: &[f64]) -> Vec<usize> {
        let mut told: Vec<usize> = Vec::new();
        for n in 1..=level.len() {
            let bow = heard_by_now(&level[..n], &upper[..n], |i| told.contains(&i));
            told.extend(bow);
        }
        told
    }

    /// A dip of 60 ms in frame `at`.
    fn bow(frame: usize, at: usize, db: f64) -> f64 {
        let apart = frame.abs_diff(at) as f64 / 6.0;
        if apart < 1.0 { -0.5 * db * (1.0 + (0.5 * TAU * apart).cos()) } else { 0.0 }
    }

    fn note(of: impl Fn(usize) -> f64) -> Vec<f64> {
        (0..300).map(of).collect()
    }

    #[test]
    fn two_bows_in_a_row_are_told_and_so_is_one_soon_after_a_soft_attack() {
        let attack = |i: usize| -60.0 * 0.8_f64.powi(i as i32);
        let whole = note(|i| attack(i) + bow(i, 70, 4.5) + bow(i, 140, 4.5));
        let upper = note(|i| attack(i) + bow(i, 70, 6.0) + bow(i, 140, 6.0));
        assert_eq!(told(&whole, &upper), [70, 140]);
    }

    #[test]
    fn a_bow_that_both_levels_tell_is_told_once() {
        let (whole, upper) = (note(|i| bow(i, 151, 14.0)), note(|i| bow(i, 150, 14.0)));
        assert_eq!(told(&whole, &upper), [150]);
    }

    #[test]
    fn a_bow_that_noise_covers_above_is_told_by_a_deep_dip_of_the_whole_level() {
        let flat = note(|_| -40.0);
        assert_eq!(told(&note(|i| bow(i, 150, 9.0)), &flat), [150]);
        assert!(told(&note(|i| bow(i, 150, 7.0)), &flat).is_empty());
    }

    #[test]
    fn a_bow_that_speaks_slowly_is_told_by_the_whole_level_and_a_swell_is_none() {
        let flat = note(|_| -40.0);
        // It sinks by 10 dB within 60 ms and comes back within 0.25 s.
        let slow = |i: usize| match i {
            ..138 => 0.0,
            138..150 => -10.0 * (i - 138) as f64 / 12.0,
            _ => -10.0 + (0.2 * (i - 150) as f64).min(10.0),
        };
        assert_eq!(told(&note(slow), &flat), [150]);
        // As slowly on both sides.
        let swell = |i: usize| -10.0 + (0.2 * i.abs_diff(150) as f64).min(10.0);
        assert!(told(&note(swell), &flat).is_empty());
    }

    #[test]
    fn a_level_that_swings_with_the_vibrato_is_no_new_bow_but_one_within_it_is_told() {
        for rate in [2.0, 4.0, 6.0, 8.0] {
            let swing = |i: usize| 2.5 * (TAU * rate * i as f64 * 0.005).cos();
            assert!(told(&note(swing), &note(swing)).is_empty(), "{rate} Hz");
            // Where the swing is at its lowest, too.
            let low = ((1.5 / rate + 0.5 / rate * (rate / 2.0).floor()) / 0.005).round() as usize;
            let bowed = note(|i| swing(i) + bow(i, low, 12.0));
            let found = told(&bowed, &bowed);
            assert!(found.len() == 1 && found[0].abs_diff(low) < 8, "{rate} Hz: {found:?}, {low}");
        }
    }

    #[test]
    fn a_note_that_fades_or_swells_has_no_new_bow() {
        for slope in [-0.1, 0.1] {
            // A slow unevenness of the bow rides on it.
            let level = note(|i| slope * i as f64 + 3.0 * (TAU * i as f64 / 200.0).sin());
            assert!(told(&level, &level).is_empty(), "{slope} dB a frame");
        }
    }
}
