//! The true width of a vibrato that was heard in a room.
//!
//! Late sound lags behind the string, so a pitch that is heard in a room swings less than the finger did. But the room
//! does not change while a note sounds: each harmonic is what the string plays, and older copies of it, each with one
//! gain for the whole note. So a motion can be tried: the one is right that with a few gains explains every cycle of
//! every harmonic. Nothing need be known of the room beforehand, and the direct sound alone is what is sought.
//!
//! Harmonic k, turned back along the pitch that was told, is y(t) = c [ s(t) + Σ h s(t − l d) ] + noise with
//! s(t) = E(t) exp(i k u(t)), where u is the phase of a motion tried: the told one times a size, a little earlier. The
//! gains h are complex normal, with a variance that decays as a room's does; they are integrated out, and the strength c
//! is left open. Where the told motion is wrong in its form too, its form is found anew from the direct sound that is
//! left when the late sound is taken off.
//!
//! A room bends the told motion as well as narrowing it, so the search also starts from a plain sine, and the width is taken
//! from the motion found, not from the told one times a size.
//!
//! Of two strings at once the still one is taken out, and the other heard by itself (`two_strings`).
//!
//! All of this takes its time and makes room as it goes: it is for a thread of its own, once a note has ended.

mod filter;
mod gains;
mod harmonics;
mod recall;
mod refine;
mod search;
mod two_strings;

pub use harmonics::Heard;
pub use recall::{Excerpt, Recall, Settling};
pub use refine::{Refined, refine};
