//! Passages as a player types them: a head, then bar by bar.
//!
//! ```text
//! title From the quiet
//! instrument cello
//! beats 4 of quarter
//! pace 60
//! key D minor
//! clef bass
//! bar 1  D3 2 straight p finger 1, slur E3 1 width 0 to 30 finger 3, slur F3 1 width 30 rate 5
//! bar 2  A3 1+1/2 mf width 20 to 60 to 30 peak 40% finger 4, G3 1/2 straight, rest 1, A2 1 open
//! ```
//!
//! The whole form stands in the manual's page on passages.

mod fault;
mod head;
mod line;
mod marks;
mod read;
mod write;

pub use fault::{TextFault, TextFaults};

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{
        BeatUnit, Beats, Clef, Dynamic, HeadChange, Intention, Key, Meter, Mode, Pace, Passage,
        Pitch, Place, PlanNote, Spelling,
    };
    use tuning::{Cents, Hz};

    const QUIET: &str = "title From the quiet\n\
        instrument cello\n\
        beats 4 of quarter   # four in a bar\n\
        pace 60\n\
        key D minor\n\
        clef bass\n\
        bar 1  D3 2 straight p finger 1, slur E3 1 width 0 to 30 finger 3, slur F#3 1 width 30 rate 5\n\
        \n\
        # the goal\n\
        bar 2  A3 1+1/2 mf width 20 to 60 to 30 peak 40% finger 4, G3 1/2 straight, rest 1, A2 1 open\n";

    fn faults(text: &str) -> Vec<String> {
        let TextFaults(faults) = Passage::from_text(text).expect_err("a fault");
        faults.iter().map(ToString::to_string).collect()
    }

    /// `QUIET` with one part of it changed.
    fn fault_of(from: &str, to: &str) -> String {
        assert!(QUIET.contains(from), "{from}");
        let found = faults(&QUIET.replacen(from, to, 1));
        assert_eq!(found.len(), 1, "{found:#?}");
        found[0].clone()
    }

    #[test]
    fn the_passage_of_the_manual_is_read_as_it_says() {
        let passage = Passage::from_text(QUIET).expect("read");
        assert_eq!(
            (passage.title.as_str(), passage.instrument.as_str()),
            ("From the quiet", "cello")
        );
        assert_eq!(passage.key, Key { sharps: -1, mode: Mode::Minor });
        let notes = passage.notes();
        assert_eq!(notes.len(), 7);
        assert_eq!((notes[0].finger, notes[0].dynamic), (Some(1), Some(Dynamic::P)));
        let rising =
            Intention::Contour { width: [0.0, 30.0, 30.0].map(Cents), rate: None, peak_at: 1.0 };
        assert_eq!((notes[1].intention, notes[1].slur), (rising, true));
        assert_eq!(notes[2].intention, Intention::level(Cents(30.0), Some(Hz(5.0))));
        assert_eq!(notes[3].at, Place { bar: 2, beat: Beats::ZERO });
        assert_eq!(notes[3].beats, Beats::new(3, 2).expect("short"));
        let goal =
            Intention::Contour { width: [20.0, 60.0, 30.0].map(Cents), rate: None, peak_at: 0.4 };
        assert_eq!(notes[3].intention, goal);
        assert_eq!(notes[5].pitch, Pitch::Rest);
        assert_eq!((notes[6].open(), notes[6].intention), (true, Intention::Straight));
    }

    #[test]
    fn an_intention_holds_until_another_is_written_and_an_open_string_has_none() {
        let text = "instrument viola\nbar A4 1 width 30, C4 1 open, B4 1, B4 1 tied\nbar A4 1 as 2, G4 1, F4 1 as 1, E4 1\n";
        let passage = Passage::from_text(text).expect("read");
        let widths: Vec<f64> =
            passage.notes().iter().map(|note| note.intention.mean_width().0).collect();
        assert_eq!(widths, [30.0, 0.0, 30.0, 30.0, 0.0, 0.0, 30.0, 30.0]);
        assert_eq!(passage.clef, Clef::Alto);
    }

    #[test]
    fn what_is_wrong_is_told_with_its_place_and_what_could_stand_there() {
        assert_eq!(
            fault_of("E3 1 width", "H3 1 width"),
            "line 7, column 39: \"H3\" is no note; names run from C0 to B8, with # or b (F#3)"
        );
        let full = fault_of("D3 2", "D3 2+1/2");
        assert!(
            full.starts_with("line 7, column 1: bar 1 holds 4+1/2 beats and 4 are wanted"),
            "{full}"
        );
        assert_eq!(
            fault_of("width 0 to 30", "width 30 to"),
            "line 7, column 44: \"width 30 to\" wants one more number, in cents, 0 to 400"
        );
        assert!(fault_of("D3 2", "slur D3 2").contains("column 8: \"slur\" has no note before it"));
        assert!(fault_of("G3 1/2", "G3 1/2 tied").contains("\"tied\" wants the pitch"));
        assert!(
            fault_of("pace 60", "pase 60").contains("line 4, column 1: \"pase\" begins no line")
        );
        assert!(fault_of("clef bass", "clef base").contains("treble, alto, tenor or bass"));
        assert!(fault_of("key D minor", "key H minor").contains("key D minor"));
        assert!(fault_of("finger 3", "finger 5").contains("0 to 4"));
        assert!(fault_of("peak 40%", "peak 140%").contains("0% to 100%"));
        assert!(fault_of("width 30 rate 5", "width 30 rate 50").contains("a rate of 50 Hz"));
        assert!(fault_of("1/2 straight", "1/2 straight width 3").contains("at one note"));
        assert!(
            fault_of("1/2 straight", "1/2 as 9").contains("names no note before this one; 4 come")
        );
        assert!(fault_of("rest 1", "rest 1 p").contains("behind a rest"));
        assert!(fault_of("rest 1,", "rest 1,,").contains("a comma too many"));
        assert!(fault_of("G3 1/2", "G3 half").contains("no length in beats"));
        assert!(fault_of("1 open", "1 opened").contains("\"opened\" is no mark"));
        assert!(fault_of("instrument cello\n", "\n").contains("instrument cello"));
        assert!(faults("").iter().any(|fault| fault.contains("instrument")));
    }

    #[test]
    fn each_shipped_passage_is_whole_and_its_fingers_lie_on_its_strings() {
        for (name, text, lowest) in [
            ("low-tide", include_str!("../../../../assets/passages/low-tide.passage.txt"), 36),
            (
                "up-the-hill",
                include_str!("../../../../assets/passages/up-the-hill.passage.txt"),
                55,
            ),
            (
                "walking-home",
                include_str!("../../../../assets/passages/walking-home.passage.txt"),
                48,
            ),
        ] {
            let passage = Passage::from_text(text).expect(name);
            // The open strings are fifths apart, and a hand in first position reaches a fifth above each.
            for note in passage.notes() {
                let Pitch::Single(pitch) = note.pitch else { panic!("{name}: {note:?}") };
                let above = (pitch.midi() - lowest).rem_euclid(7);
                match note.finger.expect("a finger") {
                    0 => assert_eq!(above, 0, "{name}: {pitch}"),
                    4 => assert!([5, 0].contains(&above), "{name}: {pitch}"),
                    finger => assert!(
                        (2 * i32::from(finger) - above).abs() <= 2 && above > 0,
                        "{name}: {pitch}"
                    ),
                }
            }
            let widths: Vec<f64> =
                passage.notes().iter().map(|note| note.intention.mean_width().0).collect();
            assert!(widths.contains(&0.0) && widths.iter().any(|width| *width > 35.0), "{name}");
        }
    }

    #[test]
    fn at_most_twenty_faults_are_told_in_their_order() {
        let text = format!("instrument cello\n{}", "bar X1 1, Y1 1, C3 2\n".repeat(40));
        let found = faults(&text);
        assert_eq!(found.len(), 20);
        assert!(found[0].starts_with("line 2, column 5:"), "{}", found[0]);
        assert!(found[1].starts_with("line 2, column 11:"), "{}", found[1]);
    }

    #[test]
    fn a_meter_may_change_and_lengths_are_counted_in_its_beats() {
        let text = "instrument violin\nbar A4 4\nbeats 6 of eighth\nkey D major\nbar A4 3, B4 3\nbar 1 A4 4\n";
        let passage = Passage::from_text(text).expect("read");
        let lengths: Vec<Beats> = passage.notes().iter().map(|note| note.beats).collect();
        let beats = |parts, of| Beats::new(parts, of).expect("short");
        assert_eq!(lengths, [beats(4, 1), beats(3, 2), beats(3, 2), beats(4, 1)]);
        assert_eq!(passage.changes[0].key, Some(Key { sharps: 2, mode: Mode::Major }));
        assert_eq!(Passage::from_text(&passage.to_text()), Ok(passage));
    }

    /// Numbers that look random and are the same each time (a linear congruence of Knuth's, from memory).
    struct Draws(u64);

    impl Draws {
        fn below(&mut self, most: usize) -> usize {
            self.0 = self.0.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            (self.0 >> 33) as usize % most
        }

        fn one_of<T: Clone>(&mut self, all: &[T]) -> T {
            all[self.below(all.len())].clone()
        }

        fn maybe<T>(&mut self, draw: impl Fn(&mut Self) -> T) -> Option<T> {
            (self.below(3) == 0).then(|| draw(self))
        }

        fn three(&mut self, most: usize) -> [f64; 3] {
            match self.below(3) {
                0 => [self.below(most) as f64 / 4.0; 3],
                _ => [(); 3].map(|()| self.below(most) as f64 / 4.0),
            }
        }

        fn intention(&mut self) -> Intention {
            let peak_at = self.one_of(&[0.0, 0.25, 0.4, 0.5, 0.5, 0.07, 0.333, 1.0]);
            let width = self.three(400).map(Cents);
            let rate = self.maybe(|draws| draws.three(44).map(|hz| Hz(hz + 0.5)));
            self.one_of(&[Intention::Straight, Intention::Contour { width, rate, peak_at }])
        }

        fn spelling(&mut self) -> Spelling {
            let letter = self.one_of(&['A', 'B', 'C', 'D', 'E', 'F', 'G']);
            Spelling::new(letter, self.below(5) as i8 - 2, self.below(7) as i8 + 1).expect("a note")
        }

        fn pitch(&mut self) -> Pitch {
            match self.below(9) {
                0 => Pitch::Rest,
                1 => Pitch::Double(self.spelling(), self.spelling()),
                _ => Pitch::Single(self.spelling()),
            }
        }

        fn note(&mut self, at: Place, before: Option<&PlanNote>) -> PlanNote {
            let beats = Beats::new(1 + self.below(7) as u32, self.one_of(&[1, 2, 3, 4, 6, 8]));
            let mut note = PlanNote::plain(at, beats.expect("short"), self.pitch());
            let before = before.filter(|before| before.pitch != Pitch::Rest);
            if let Some(before) = before.filter(|_| self.below(5) == 0) {
                (note.pitch, note.tie) = (before.pitch, true);
            }
            if note.pitch == Pitch::Rest {
                return note;
            }
            note.slur = before.is_some() && self.below(2) == 0;
            note.finger = self.maybe(|draws| draws.below(5) as u8);
            note.string = self.maybe(|draws| draws.one_of(&["A", "D", "G#"]).to_owned());
            note.dynamic =
                self.maybe(|draws| draws.one_of(&[Dynamic::Pp, Dynamic::Fff, Dynamic::Louder]));
            note.grace = (0..self.below(9).saturating_sub(6)).map(|_| self.spelling()).collect();
            note.intention = self.intention();
            note
        }

        fn passage(&mut self) -> Passage {
            let meters = [4, 3, 12].map(|beats| Meter { beats, of: BeatUnit::Quarter });
            let meter = Meter {
                of: self.one_of(&[BeatUnit::Half, BeatUnit::Eighth]),
                ..self.one_of(&meters)
            };
            let free = self.below(2) == 0;
            let pace =
                Pace { bpm: 40.0 + self.below(200) as f64 / 2.0, unit: BeatUnit::Quarter, free };
            let clef = self.one_of(&[Clef::Treble, Clef::Tenor]);
            let mut notes: Vec<PlanNote> = Vec::new();
            for number in 0..1 + self.below(6) as u32 {
                // Now and then a repeat.
                let bar = 3 + number - if self.below(4) == 0 { self.below(3) as u32 } else { 0 };
                let mut beat = Beats::ZERO;
                for _ in 0..1 + self.below(5) {
                    let note = self.note(Place { bar, beat }, notes.last());
                    beat = beat.plus(note.beats).expect("short");
                    notes.push(note);
                }
            }
            let last = 20;
            let pitch = Pitch::Single(self.spelling());
            let whole = Beats::whole(1).expect("short");
            notes.push(PlanNote::plain(Place { bar: last, beat: Beats::ZERO }, whole, pitch));
            let mut made = Passage::new("Made up", "double-bass", (pace, meter, clef), notes)
                .expect("a passage");
            let key = Key {
                sharps: self.below(15) as i8 - 7,
                mode: self.one_of(&[Mode::Major, Mode::Minor]),
            };
            let change = HeadChange {
                bar: last,
                meter: self.maybe(|draws| draws.one_of(&meters)),
                key: Some(key),
                clef: Some(Clef::Bass),
            };
            let a4 = self.maybe(|draws| Hz(430.0 + draws.below(20) as f64));
            (made.key, made.a4, made.changes) = (key, a4, vec![change]);
            made
        }
    }

    #[test]
    fn every_passage_is_read_from_its_text_as_it_was() {
        let mut draws = Draws(1);
        for number in 0..2_000 {
            let passage = draws.passage();
            let text = passage.to_text();
            let read = Passage::from_text(&text);
            assert!(read.as_ref() == Ok(&passage), "passage {number}:\n{text}\n{read:?}");
        }
    }

    #[test]
    fn no_text_whatever_ends_in_more_than_words() {
        let mut draws = Draws(2);
        let signs: Vec<char> = "bar width to peak slur 1/2 C#3+ ,\n#é %as".chars().collect();
        for _ in 0..3_000 {
            let mut text: Vec<char> = draws.passage().to_text().chars().collect();
            for _ in 0..1 + draws.below(4) {
                let at = draws.below(text.len());
                text[at] = draws.one_of(&signs);
            }
            let text: String = text.into_iter().collect();
            if let Err(TextFaults(found)) = Passage::from_text(&text) {
                assert!((1..=20).contains(&found.len()), "{text}");
                let lines = text.lines().count().max(1);
                assert!(
                    found.iter().all(|it| it.column > 0 && (1..=lines).contains(&it.line)),
                    "{found:?}"
                );
            }
        }
    }
}
