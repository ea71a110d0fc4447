//! What happens when the system gives no more memory: one sentence and the usual status, where Rust would abort.

use std::alloc::{GlobalAlloc, Layout, System};
use std::hint::black_box;
use std::io::{self, Write};
use std::process;
use std::ptr;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread;
use std::time::Duration;

/// Nothing may be made in memory to say it.
const WORDS: &[u8] = b"evenwave: the system has no more memory to give, so evenwave ends here; what was kept or written so \
    far stays: close other programs and try again\n";
/// What every command needs but for a long sound. Where there is less none begins, so that it leaves nothing half done.
const TO_BEGIN: usize = 32 << 20;
/// Longer than the end of a process takes.
const END: Duration = Duration::from_secs(5);

/// The system's memory. Whoever asks gets what was asked for, or the program ends in words.
pub(crate) struct Memory;

static ENDING: AtomicBool = AtomicBool::new(false);

// SAFETY: each call is handed on to `System` as it came. Where that gives nothing, the process ends; only what fails while it
// ends is told so, by null.
#[allow(
    unsafe_code,
    reason = "only the allocator sees that there is no memory, before Rust aborts"
)]
unsafe impl GlobalAlloc for Memory {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        given(unsafe { System.alloc(layout) })
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        given(unsafe { System.alloc_zeroed(layout) })
    }

    unsafe fn realloc(&self, memory: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        given(unsafe { System.realloc(memory, layout, size) })
    }

    unsafe fn dealloc(&self, memory: *mut u8, layout: Layout) {
        unsafe { System.dealloc(memory, layout) }
    }
}

/// Ends in words where there is too little to begin with.
pub(crate) fn enough_to_begin() {
    // It is asked for and given back; untouched, it costs nothing.
    drop(black_box(Vec::<u8>::with_capacity(TO_BEGIN)));
}

fn given(memory: *mut u8) -> *mut u8 {
    if memory.is_null() { ended() } else { memory }
}

#[cold]
fn ended() -> *mut u8 {
    if ENDING.swap(true, Relaxed) {
        // Another thread was first and ends the process; or this one cannot even end.
        thread::sleep(END);
        return ptr::null_mut();
    }
    io::stderr().write_all(WORDS).ok();
    process::exit(1)
}
