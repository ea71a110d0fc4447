//! The order in which the bars of a part are played: repeats, endings, and leaps to the start or the sign.

use crate::error::ScoreError;
use crate::written::{Leap, Part};

/// Bars that are played; repeats within repeats could ask for any number.
const MOST_PLAYED: usize = 20_000;

impl Part {
    /// Its bars by their places in it, in the order in which they are played.
    pub fn played(&self) -> Result<Vec<usize>, ScoreError> {
        order(self)
    }
}

fn order(part: &Part) -> Result<Vec<usize>, ScoreError> {
    let mut order = Vec::new();
    let mut walk =
        Walk { part, at: 0, start: 0, time: 1, leapt: None, done: vec![0; part.bars.len()] };
    while walk.at < part.bars.len() {
        if walk.is_played() {
            order.push(walk.at);
        }
        if order.len() > MOST_PLAYED {
            return Err(ScoreError::TooLarge {
                what: "this part with its repeats",
                most: format!("{MOST_PLAYED} bars"),
                mend: "choose fewer bars",
            });
        }
        if !walk.on() {
            break;
        }
    }
    Ok(order)
}

struct Walk<'p> {
    part: &'p Part,
    at: usize,
    /// Where the repeat began.
    start: usize,
    /// The how manieth time this repeat is played, from 1.
    time: u32,
    /// A leap back was made: repeats are not played again, and only the last ending is.
    leapt: Option<Leap>,
    /// How often the repeat at the end of a bar was taken.
    done: Vec<u32>,
}

impl Walk<'_> {
    /// Whether the bar belongs to this time: its endings name it, or it has none.
    fn is_played(&self) -> bool {
        let endings = &self.part.bars[self.at].repeat.endings;
        if endings.is_empty() {
            return true;
        }
        match self.leapt {
            Some(_) => self.is_last_ending(),
            None => endings.contains(&self.time),
        }
    }

    /// No ending of a later time follows directly.
    fn is_last_ending(&self) -> bool {
        let endings = &self.part.bars[self.at].repeat.endings;
        let mut following = self.part.bars[self.at..].iter().map(|bar| &bar.repeat.endings);
        let next = following.find(|next| *next != endings);
        next.is_none_or(|next| next.is_empty())
    }

    /// Goes to the bar that is played next; false at the end.
    fn on(&mut self) -> bool {
        let bar = &self.part.bars[self.at];
        let played = self.is_played();
        if bar.repeat.begins && self.at != self.start {
            (self.start, self.time) = (self.at, 1);
        }
        if let (Some(times), None, true) = (bar.repeat.ends, self.leapt, played) {
            // With endings, it goes back as often as one of them names a later time.
            let later = self.endings_after(self.at);
            let times = later.unwrap_or(times);
            if self.done[self.at] + 1 < times && self.time < times {
                self.done[self.at] += 1;
                self.time += 1;
                self.at = self.start;
                return true;
            }
        }
        if self.leapt.is_some() && played {
            if bar.repeat.fine {
                return false;
            }
            if bar.repeat.to_coda
                && let Some(coda) = self.place_of(|repeat| repeat.coda)
            {
                self.at = coda;
                return true;
            }
        }
        if let (Some(leap), None, true) = (bar.repeat.leap, self.leapt, played) {
            self.leapt = Some(leap);
            self.at = match leap {
                Leap::DaCapo => 0,
                Leap::DalSegno => self.place_of(|repeat| repeat.segno).unwrap_or(0),
            };
            return true;
        }
        // Behind the last ending, or a repeat without endings, a new stretch begins.
        let next_has_ending =
            self.part.bars.get(self.at + 1).is_some_and(|next| !next.repeat.endings.is_empty());
        if !next_has_ending && (!bar.repeat.endings.is_empty() || bar.repeat.ends.is_some()) {
            (self.start, self.time) = (self.at + 1, 1);
        }
        self.at += 1;
        true
    }

    /// The last time that the endings name, of which the one at `at` is one; `None` without endings.
    fn endings_after(&self, at: usize) -> Option<u32> {
        let has = |bar: &&crate::written::Bar| !bar.repeat.endings.is_empty();
        if !has(&&self.part.bars[at]) {
            return None;
        }
        let following = self.part.bars[at..].iter().take_while(has);
        following.flat_map(|bar| bar.repeat.endings.iter().copied()).max()
    }

    fn place_of(&self, is: impl Fn(&crate::written::Repeat) -> bool) -> Option<usize> {
        self.part.bars.iter().position(|bar| is(&bar.repeat))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::written::{Bar, Repeat};

    /// Bars by signs: `|:` begins, `:|` ends, digits are endings, D C S F T K leap, sign, fine, to coda and coda.
    fn played(signs: &str) -> String {
        let bar = |sign: &str| {
            let endings = sign.chars().filter_map(|sign| sign.to_digit(10)).collect();
            let leap = match sign {
                _ if sign.contains('C') => Some(Leap::DaCapo),
                _ if sign.contains('D') => Some(Leap::DalSegno),
                _ => None,
            };
            let repeat = Repeat {
                begins: sign.contains("|:"),
                ends: sign.contains(":|").then_some(if sign.contains('x') { 3 } else { 2 }),
                endings,
                leap,
                segno: sign.contains('S'),
                coda: sign.contains('K'),
                fine: sign.contains('F'),
                to_coda: sign.contains('T'),
            };
            Bar { repeat, ..Bar::default() }
        };
        let part = Part { bars: signs.split_whitespace().map(bar).collect(), ..Part::default() };
        let order = order(&part).expect("short");
        order.into_iter().map(|at| char::from(b'a' + at as u8)).collect()
    }

    #[test]
    fn bars_are_played_as_a_reader_plays_them() {
        for (signs, expected) in [
            ("- - -", "abc"),
            ("- :| -", "ababc"),
            ("- |: :| -", "abcbcd"),
            ("- x:| -", "abababc"),
            ("- 1:| 2 -", "abacd"),
            ("|: - 12:| 3 -", "abcabcabde"),
            ("- 1:| 2:| 3 -", "abacade"),
            ("- :| - :|", "ababcdcd"),
            ("F - C", "abca"),
            ("- S - D -", "abcdbcde"),
            ("- T - C K -", "abcdabef"),
            ("- 1:| 2 C", "abacdacd"),
        ] {
            assert_eq!(played(signs), expected, "{signs}");
        }
    }

    #[test]
    fn repeats_without_end_are_refused() {
        let repeat = Repeat { begins: true, ends: Some(100), ..Repeat::default() };
        let bars = vec![Bar { repeat, ..Bar::default() }; 300];
        assert!(order(&Part { bars, ..Part::default() }).is_err());
    }
}
