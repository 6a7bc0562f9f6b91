//! The three exports, and the two things that the page lends: the only code that is `unsafe`.
//!
//! A request goes in as UTF-8 in memory that `alloc` gave. The answer comes back the same way: four bytes of
//! length, lowest first, then the text; the page gives it back with `free`. Lengths are always those of the whole
//! buffer, so that memory is taken and given back as the same box.

use std::sync::Once;
use std::time::Duration;

use crate::{Surface, answer};

#[expect(
    unsafe_code,
    reason = "what the page lends comes by the foreign interface"
)]
mod lent {
    #[link(wasm_import_module = "page")]
    unsafe extern "C" {
        /// Milliseconds since whenever.
        pub(super) safe fn now() -> f64;
        /// Told how far a long answer is.
        pub(super) safe fn tell(text: *const u8, length: usize);
    }
}

fn clock() -> Duration {
    Duration::try_from_secs_f64(lent::now() / 1000.0).unwrap_or_default()
}

fn tell(text: &str) {
    lent::tell(text.as_ptr(), text.len());
}

/// Memory for a request.
#[expect(unsafe_code, reason = "an export by its name")]
#[unsafe(no_mangle)]
pub extern "C" fn alloc(length: usize) -> *mut u8 {
    Box::into_raw(vec![0_u8; length].into_boxed_slice()).cast()
}

/// Takes a request, and with it its memory; gives the answer.
///
/// # Safety
/// `text` and `length` must be what `alloc` gave and was asked for, and not yet given back.
#[expect(unsafe_code, reason = "a box is made again of what `alloc` took apart")]
#[unsafe(no_mangle)]
pub unsafe extern "C" fn call(text: *mut u8, length: usize) -> *mut u8 {
    // SAFETY: by the caller's promise this is the box that `alloc` gave.
    let request = unsafe { taken(text, length) };
    // What breaks says why before it stops.
    static HEARD: Once = Once::new();
    HEARD.call_once(|| std::panic::set_hook(Box::new(|why| tell(&why.to_string()))));
    let surface = Surface { clock, tell };
    let told = answer(&String::from_utf8_lossy(&request), surface);
    // An answer of 4 GiB would not fit this memory.
    let size = u32::try_from(told.len()).unwrap_or(u32::MAX);
    let mut all = Vec::with_capacity(told.len() + 4);
    all.extend_from_slice(&size.to_le_bytes());
    all.extend_from_slice(told.as_bytes());
    Box::into_raw(all.into_boxed_slice()).cast()
}

/// Takes an answer back.
///
/// # Safety
/// `text` must be what `call` gave, `length` its four bytes and those that they count, and not yet given back.
#[expect(unsafe_code, reason = "a box is made again of what `call` took apart")]
#[unsafe(no_mangle)]
pub unsafe extern "C" fn free(text: *mut u8, length: usize) {
    // SAFETY: by the caller's promise this is the box that `call` gave.
    drop(unsafe { taken(text, length) });
}

#[expect(unsafe_code, reason = "a box is made again of its address and length")]
unsafe fn taken(text: *mut u8, length: usize) -> Box<[u8]> {
    let slice = std::ptr::slice_from_raw_parts_mut(text, length);
    // SAFETY: the callers have the box's own address and length.
    unsafe { Box::from_raw(slice) }
}
