//! Keeps a decoding library that panics on a damaged file from taking the program down.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};

thread_local! {
    static INSIDE: Cell<bool> = const { Cell::new(false) };
}

/// Whether this thread is inside a decoding library. A panic there is caught and told as damage to the file, so that
/// a panic hook has nothing to say of it.
pub fn is_decoding() -> bool {
    INSIDE.get()
}

/// What `work` returns; `None` if it panicked.
pub(crate) fn guarded<T>(work: impl FnOnce() -> T) -> Option<T> {
    let before = INSIDE.replace(true);
    let done = catch_unwind(AssertUnwindSafe(work));
    INSIDE.set(before);
    done.ok()
}
