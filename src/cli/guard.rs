//! A fault of the program itself costs one scan, not the evening.

use std::panic::{self, AssertUnwindSafe};
use std::sync::Mutex;

/// Where the last panic happened; a panic hook can hand it over only through something global.
static LAST_PANIC: Mutex<Option<String>> = Mutex::new(None);

/// Runs `work`; a panic inside becomes `Err` with the place in the source where it happened.
///
/// Decoders of other people's file formats are large; a file that trips one must not stop the rest.
pub fn guarded<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    let usual_hook = panic::take_hook();
    panic::set_hook(Box::new(|info| {
        let place = info.location().map(ToString::to_string);
        if let Ok(mut last) = LAST_PANIC.lock() {
            *last = place;
        }
    }));
    // What `work` borrowed is not used again after a panic, so nothing half-done can be seen.
    let result = panic::catch_unwind(AssertUnwindSafe(work));
    panic::set_hook(usual_hook);
    result.map_err(|_| {
        LAST_PANIC
            .lock()
            .ok()
            .and_then(|mut last| last.take())
            .unwrap_or_else(|| "an unknown place".to_owned())
    })
}

#[cfg(test)]
mod tests {
    use super::guarded;

    #[test]
    fn a_panic_becomes_a_place_in_the_source() {
        assert_eq!(guarded(|| 2), Ok(2));
        let place = guarded(|| [1, 2].iter().map(|n| 2 / (n - 1)).sum::<i32>()).unwrap_err();
        assert!(place.contains("guard.rs"), "{place}");
    }
}
