//! Bowed-string-like sound of exactly known pitch: harmonics that follow an exact phase, bow noise,
//! body resonances, a room. Deterministic by seed.
//!
//! ```
//! use tone::{Line, NoteSpec, Spec, VibratoSpec};
//! use tuning::{Cents, Hz, Secs};
//!
//! let vibrato = VibratoSpec::regular(Hz(5.5), Cents(40.0));
//! let note = NoteSpec::straight(Secs(0.1), Secs(0.8), Hz(220.0)).with(vibrato);
//! let spec = Spec { lines: vec![Line { notes: vec![note], level_db: 0.0 }], ..Spec::default() };
//! let sound = spec.render()?;
//! assert_eq!(sound.sample_rate_hz, 48_000);
//! assert!(sound.truth.lines[0].notes[0].mean_rate().is_some());
//! # Ok::<(), tone::SpecError>(())
//! ```

mod beat;
mod body;
mod bow;
mod chance;
mod check;
mod chirp;
mod drone;
mod follow;
mod guide;
mod line;
mod phase;
mod render;
mod room;
mod run;
mod spec;
mod swing;
mod truth;

pub use beat::{Beat, BeatWish, Beaten};
pub use check::SpecError;
pub use chirp::{CHIRP_SECS, Chirp, FoundChirp, chirp, find_chirp};
pub use drone::{Drone, DroneWish};
pub use follow::{FollowPoint, follow};
pub use guide::{GuideTurn, GuideWish};
pub use phase::Phase;
pub use render::Rendering;
pub use run::{Run, RunBeat, RunWish};
pub use spec::{
    Body, Bow, Clicks, Factor, Hum, Join, Line, NoteSpec, OpenString, Room, Shape, Spec, VERSION,
    VibratoSpec,
};
pub use truth::{HOP_SECS, TrueLine, TrueNote, TrueOscillation, TrueTurn, Truth};
