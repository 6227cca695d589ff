//! Whoever photographs waits for advice, whoever reads doesn't: what is looked at goes first.

use crate::error::{Error, Kind, Result};
use std::sync::{Condvar, Mutex, MutexGuard, OnceLock};

/// How many photographs are being looked at just now.
static LOOKING: Mutex<usize> = Mutex::new(0);
static DONE: Condvar = Condvar::new();

fn looking() -> MutexGuard<'static, usize> {
    LOOKING.lock().unwrap_or_else(|e| e.into_inner())
}

/// Held while a photograph is looked at.
struct Held;

impl Held {
    fn new() -> Held {
        *looking() += 1;
        Held
    }
}

impl Drop for Held {
    fn drop(&mut self) {
        *looking() -= 1;
        DONE.notify_all();
    }
}

/// Waits while a photograph is being looked at: called between two marks by whoever reads in the background. Looking
/// has threads of its own, so it never waits for those that wait here.
pub fn make_way() {
    let mut count = looking();
    while *count > 0 {
        count = DONE.wait(count).unwrap_or_else(|e| e.into_inner());
    }
}

/// Does something before everything that makes way, on threads of its own.
///
/// # Errors
/// `Kind::Recogniser` if no threads can be started.
pub(super) fn first<T: Send>(does: impl FnOnce() -> T + Send) -> Result<T> {
    static THREADS: OnceLock<std::result::Result<rayon::ThreadPool, String>> = OnceLock::new();
    let threads = THREADS.get_or_init(|| {
        let pool = rayon::ThreadPoolBuilder::new().build();
        pool.map_err(|e| e.to_string())
    });
    let threads = threads.as_ref().map_err(|e| {
        Error::new(
            Kind::Recogniser,
            "advice on a photograph",
            format!("its threads can't be started ({e})"),
            "close other programs and try again",
        )
    })?;
    let _held = Held::new();
    Ok(threads.install(does))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::channel;
    use std::time::Duration;

    #[test]
    fn who_reads_waits_while_somebody_looks_and_goes_on_after_it() {
        let (begun, wait) = channel();
        let (end, ended) = channel::<()>();
        let looks = std::thread::spawn(move || {
            first(move || {
                begun.send(()).unwrap();
                ended.recv().unwrap();
            })
        });
        wait.recv().unwrap();
        let (passed, went_on) = channel();
        std::thread::spawn(move || {
            make_way();
            passed.send(()).unwrap();
        });
        assert!(went_on.recv_timeout(Duration::from_millis(50)).is_err());
        end.send(()).unwrap();
        looks.join().unwrap().unwrap();
        went_on.recv_timeout(Duration::from_secs(5)).unwrap();
    }
}
