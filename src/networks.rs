//! Networks that several threads ask for at once.

use rten::{RunOptions, ThreadPool};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

/// What a cell holds, loaded by whoever asks first; two may load it side by side, and one of them is dropped. Nobody
/// waits for another: a network runs in part while it is loaded, and a worker that waits for that takes up other
/// work, which may ask for the same network.
///
/// # Errors
/// Those of `load`; nothing is kept then.
pub fn loaded<T, E>(cell: &OnceLock<T>, load: impl FnOnce() -> Result<T, E>) -> Result<&T, E> {
    if let Some(there) = cell.get() {
        return Ok(there);
    }
    let own = load()?;
    Ok(cell.get_or_init(|| own))
}

/// Pools that networks run on, one for each core, of one thread each: a run costs the same whoever asks.
pub struct Pools {
    all: Vec<Arc<ThreadPool>>,
    turn: AtomicUsize,
}

impl Default for Pools {
    fn default() -> Self {
        let pool = |_| Arc::new(ThreadPool::with_num_threads(1));
        Pools {
            all: (0..rayon::current_num_threads().max(1)).map(pool).collect(),
            turn: AtomicUsize::new(0),
        }
    }
}

impl Pools {
    /// For a run on the pool whose turn it is.
    pub fn next(&self) -> RunOptions {
        let turn = self.turn.fetch_add(1, Ordering::Relaxed) % self.all.len();
        RunOptions::default().with_thread_pool(Some(self.all[turn].clone()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rayon::prelude::*;

    #[test]
    fn what_takes_up_work_while_it_loads_may_be_asked_for_by_that_work() {
        let cell = OnceLock::new();
        fn load(cell: &OnceLock<usize>, depth: usize) -> Result<&usize, String> {
            // As a worker that waits takes up work that asks for the same
            loaded(cell, || match depth {
                0 => Ok(7),
                _ => load(cell, depth - 1).copied(),
            })
        }
        let asked = (0..64).into_par_iter().map(|_| load(&cell, 3).copied());
        assert!(asked.collect::<Vec<_>>().iter().all(|n| *n == Ok(7)));
    }

    #[test]
    fn what_could_not_be_loaded_is_tried_again() {
        let cell = OnceLock::new();
        assert_eq!(loaded(&cell, || Err::<usize, _>("no")), Err("no"));
        assert_eq!(loaded(&cell, || Ok::<_, &str>(3)), Ok(&3));
        assert_eq!(loaded(&cell, || Err("not asked")), Ok(&3));
    }
}
