//! Makes the pictures of the marks that come next while the person looks at this one.

use super::{Desk, today};
use crate::decisions::{MarkId, Store};
use crate::error::Result;
use crate::run;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, Weak};

/// Marks that are made ready ahead.
const AHEAD: usize = 2;

/// The ways to the threads that make ready.
#[derive(Debug, Default)]
pub struct Warm {
    marks: Mutex<Option<SyncSender<Vec<MarkId>>>>,
    changes: Mutex<Option<SyncSender<()>>>,
}

impl Warm {
    /// Asks for the pictures of these marks; nothing happens while others are still being made.
    pub fn ahead(&self, marks: &[MarkId]) {
        let sender = self.marks.lock().unwrap_or_else(|e| e.into_inner());
        if let Some(sender) = &*sender {
            let marks: Vec<MarkId> = marks.iter().take(AHEAD).copied().collect();
            // Full: the next page asks again.
            let _ = sender.try_send(marks);
        }
    }

    /// Says that something changed: the marks of that picture are weighed beside each other anew.
    pub fn changed(&self) {
        let sender = self.changes.lock().unwrap_or_else(|e| e.into_inner());
        if let Some(sender) = &*sender {
            // Full: the thread looks for all that changed anyway.
            let _ = sender.try_send(());
        }
    }
}

/// Starts the thread; it ends with the desk. The first marks of the queue and the lists are made
/// ready at once.
pub fn start(desk: &Arc<Desk>) {
    let (sender, receiver) = sync_channel(2);
    *desk.warm.marks.lock().unwrap_or_else(|e| e.into_inner()) = Some(sender);
    let weak = Arc::downgrade(desk);
    std::thread::spawn(move || work(&weak, &receiver));
    let (sender, receiver) = sync_channel(1);
    *desk.warm.changes.lock().unwrap_or_else(|e| e.into_inner()) = Some(sender);
    let weak = Arc::downgrade(desk);
    std::thread::spawn(move || {
        loop {
            let Some(desk) = weak.upgrade() else { return };
            // A fault is told where a page needs the same; what is left stays due.
            let _ = weigh(&desk);
            drop(desk);
            if receiver.recv().is_err() {
                return;
            }
        }
    });
}

/// Weighs the marks of each picture that changed beside each other; the store is free while their
/// dates are solved.
fn weigh(desk: &Desk) -> Result<()> {
    while desk.store().rank_some()? > 0 {}
    let clues = desk.clues()?;
    let changed = desk.store().unweighed()?;
    for picture in &changed {
        desk.store().count_taken(&[*picture])?;
    }
    for picture in changed {
        let together = desk.store().together(picture)?;
        let weighed = run::weights(&together, &clues)?;
        desk.store().keep_weights(vec![weighed])?;
    }
    Ok(())
}

fn work(desk: &Weak<Desk>, receiver: &Receiver<Vec<MarkId>>) {
    if let Some(desk) = desk.upgrade() {
        let first = desk.store().due(&today(), None).unwrap_or_default();
        for mark in first.into_iter().take(1) {
            one(&desk, mark);
        }
        // A fault in the lists is told where they are used.
        let _ = desk.lists();
        // One picture at a time, so that no page waits for all of them.
        let clues = desk.clues();
        let changed = desk.store().unheld().unwrap_or_default();
        for picture in changed {
            if let Ok(clues) = &clues {
                let _ = run::hold_dates(&mut desk.store(), &[picture], clues);
            }
        }
    }
    while let Ok(marks) = receiver.recv() {
        let Some(desk) = desk.upgrade() else { return };
        for mark in marks {
            one(&desk, mark);
        }
    }
}

/// The pictures of one mark; what can't be made is told when it is asked for.
fn one(desk: &Desk, id: MarkId) {
    let Ok(mark) = desk.store().mark(id) else {
        return;
    };
    let Ok(picture) = desk.picture_of(mark.photograph) else {
        return;
    };
    let own = picture.photographs.iter().find(|p| p.id == mark.photograph);
    if let Some(photograph) = own {
        for variant in ["colour", "flat"] {
            let sighting = mark.look().id;
            let _ = desk.photos.crop(photograph, &mark, sighting, variant);
        }
        let _ = desk.photos.whole(photograph, super::item::SMALL);
    }
}
