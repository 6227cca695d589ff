//! Many photographs read one after the other, with what is left to do and how long it may take.
//!
//! What waits is kept in the store, so that a run broken off (by the person, a crash or the end of
//! the desk) goes on where it was.

use super::deciding::usage;
use super::web::{Ask, Reply};
use super::words as w;
use super::{Desk, take, warm};
use crate::decisions::{Run, SeenMark, SeenPhotograph, SqliteStore, Store, now, sides};
use crate::error::{Error, Result};
use crate::geometry::Quad;
use crate::photograph;
use crate::proposals::Index;
use crate::run;
use serde::{Deserialize, Serialize};
use serde_json::json;
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard, Weak};
use std::time::Instant;

/// The setting that holds what waits.
const SETTING: &str = "desk batch";
/// Photographs that may wait.
const MOST: usize = 20_000;
/// Groups whose picture is remembered.
const MOST_GROUPS: usize = 500;
/// Faults that are kept.
const MOST_FAULTS: usize = 200;

/// A photograph that waits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Waiting {
    file: PathBuf,
    /// Name that the person gave the picture.
    picture: Option<String>,
    /// Name of a new picture otherwise.
    suggested: Option<String>,
    /// Photographs of one picture that were brought together.
    group: u64,
    /// The visit at which it was taken.
    #[serde(default)]
    visit: Option<i64>,
}

/// What is to be done and was done.
#[derive(Debug, Default, Serialize, Deserialize)]
struct Job {
    waiting: VecDeque<Waiting>,
    done: usize,
    faults: Vec<String>,
    groups: u64,
    /// Groups with their pictures (numbers in the store), the last read last.
    #[serde(default)]
    groups_read: VecDeque<(u64, i64)>,
    #[serde(skip)]
    running: bool,
    #[serde(skip)]
    stop: bool,
    #[serde(skip)]
    current: String,
    /// Seconds that reading took, and for how many photographs.
    #[serde(skip)]
    took: (f64, usize),
    #[serde(skip)]
    since: Option<Instant>,
}

/// How photographs come in.
#[derive(Debug, Default)]
pub struct Coming<'a> {
    /// Name that the person gives the picture; empty: none.
    pub picture: &'a str,
    /// Whether each is a picture of its own.
    pub apart: bool,
    /// Photographs of one picture that come one by one.
    pub group: Option<u64>,
    /// The visit at which they were taken.
    pub visit: Option<i64>,
}

impl Job {
    /// The picture of a group, once the first of its photographs was read.
    fn picture_of(&self, group: u64) -> Option<i64> {
        let mut last_first = self.groups_read.iter().rev();
        last_first.find(|g| g.0 == group).map(|g| g.1)
    }

    fn read(&mut self, group: u64, picture: i64) {
        self.groups_read.retain(|g| g.0 != group);
        self.groups_read.push_back((group, picture));
        if self.groups_read.len() > MOST_GROUPS {
            self.groups_read.pop_front();
        }
    }

    /// Seconds that are left, by those that a photograph took so far; `None`: none was read yet.
    fn left(&self) -> Option<f64> {
        let (seconds, count) = self.took;
        if count == 0 {
            return None;
        }
        let each = seconds / count as f64;
        let begun = self.since.map_or(0.0, |s| s.elapsed().as_secs_f64());
        let running = usize::from(self.running && self.since.is_some());
        Some((each * (self.waiting.len() + running) as f64 - begun).max(1.0))
    }
}

/// The batch of the desk.
#[derive(Debug, Default)]
pub struct Batch {
    job: Mutex<Job>,
    wake: Mutex<Option<SyncSender<()>>>,
}

impl Batch {
    /// As the store kept it; it waits until the person lets it go on.
    ///
    /// # Errors
    /// `Kind::Store` if it can't be read.
    pub fn resumed(store: &SqliteStore) -> Result<Batch> {
        let kept = store.setting(SETTING)?.unwrap_or_default();
        // What can't be understood is from another version: nothing waits then.
        let job: Job = serde_json::from_str(&kept).unwrap_or_default();
        Ok(Batch {
            job: Mutex::new(job),
            wake: Mutex::new(None),
        })
    }

    fn job(&self) -> MutexGuard<'_, Job> {
        self.job.lock().unwrap_or_else(|e| e.into_inner())
    }
}

fn keep(desk: &Desk) -> Result<()> {
    let text = serde_json::to_string(&*desk.batch.job()).unwrap_or_default();
    desk.store().set(SETTING, &text)
}

/// Starts the thread that reads; it ends with the desk.
pub fn start_thread(desk: &Arc<Desk>) {
    let (sender, receiver) = sync_channel(1);
    *desk.batch.wake.lock().unwrap_or_else(|e| e.into_inner()) = Some(sender);
    let weak = Arc::downgrade(desk);
    std::thread::spawn(move || work(&weak, &receiver));
}

fn work(desk: &Weak<Desk>, wake: &Receiver<()>) {
    while wake.recv().is_ok() {
        loop {
            let Some(desk) = desk.upgrade() else { return };
            let next = {
                let mut job = desk.batch.job();
                let next = if job.stop {
                    None
                } else {
                    job.waiting.front().cloned()
                };
                job.running = next.is_some();
                job.since = next.as_ref().map(|_| Instant::now());
                job.current = next.as_ref().map_or_else(String::new, |n| name(&n.file));
                next
            };
            let Some(next) = next else { break };
            let begun = Instant::now();
            let read = one(&desk, &next);
            {
                let mut job = desk.batch.job();
                job.waiting.pop_front();
                job.done += 1;
                match read {
                    Ok(true) => {
                        job.took.0 += begun.elapsed().as_secs_f64();
                        job.took.1 += 1;
                    }
                    Ok(false) => {}
                    Err(e) if job.faults.len() < MOST_FAULTS => job.faults.push(e.to_string()),
                    Err(_) => {}
                }
            }
            // If it can't be kept, the photograph is only looked at once more after a crash.
            let _ = keep(&desk);
        }
    }
}

/// Reads and records one photograph; false: the store knew it.
fn one(desk: &Desk, next: &Waiting) -> Result<bool> {
    let photo = photograph::open(&next.file)?;
    let known = desk
        .store()
        .picture_with(std::slice::from_ref(&photo.sha256))?;
    if let Some(known) = known {
        desk.batch.job().read(next.group, known);
        visited(desk, next, known)?;
        return Ok(false);
    }
    let index = desk.lists()?;
    let read = run::read_photograph(&photo, desk.recognisers()?, &index)?;
    let outlines: Vec<Quad> = read.marks.iter().map(|m| m.outline).collect();
    desk.album().add(&photo, &outlines);
    let joins = desk.batch.job().picture_of(next.group);
    let marks = read.marks.into_iter().map(SeenMark::from);
    let run = Run {
        picture: next.picture.clone(),
        joins,
        suggested: next.suggested.clone(),
        by: desk.by.clone(),
        at: now(),
        program: run::PROGRAM.into(),
        photographs: vec![SeenPhotograph {
            file: next.file.clone(),
            sha256: read.sha256,
            width: read.width,
            height: read.height,
            skew_degrees: read.skew_degrees,
            marks: marks.collect(),
        }],
    };
    let recorded = desk.store().record_run(&run)?;
    desk.batch.job().read(next.group, recorded.picture_id);
    visited(desk, next, recorded.picture_id)?;
    bring_together(desk, recorded.picture_id, &index)?;
    if next.visit.is_some() {
        take::measure(desk, recorded.picture_id)?;
    }
    run::hold_dates(&mut desk.store(), &[recorded.picture_id], &desk.clues()?)?;
    desk.warm.changed();
    Ok(true)
}

/// Keeps at which visit a picture was photographed.
fn visited(desk: &Desk, next: &Waiting, picture: i64) -> Result<()> {
    let Some(visit) = next.visit else {
        return Ok(());
    };
    let author = desk.author("");
    desk.store().add_visited(visit, picture, None, &author)
}

/// Puts the photographs of a picture together.
fn bring_together(desk: &Desk, picture: i64, index: &Index) -> Result<()> {
    let known = {
        let store = desk.store();
        let of = store.picture(picture)?;
        of.map(|of| {
            let sides = sides(&store.observations(Some(of.id))?);
            Ok::<_, Error>((store.marks(Some(of.id))?, sides, of))
        })
        .transpose()?
    };
    let laying = known.and_then(|(marks, sides, of)| {
        run::together::laid(&of, &marks, &sides, &mut desk.album(), &desk.by)
    });
    let mut store = desk.store();
    if let Some(laying) = laying {
        store.keep_laying(picture, &laying)?;
    }
    run::together::read_together(&mut store, picture, index)
}

fn name(file: &Path) -> String {
    file.file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned())
}

/// Puts photographs in the row and lets it go on.
pub fn add(desk: &Desk, files: Vec<PathBuf>, coming: &Coming<'_>) -> Result<usize> {
    let count = files.len();
    {
        let mut job = desk.batch.job();
        if job.waiting.len() + count > MOST {
            return Err(usage(w::BRING, w::TOO_MANY, w::BRING_FEWER));
        }
        if job.waiting.is_empty() && !job.running {
            job.done = 0;
            job.faults.clear();
        }
        job.groups = job.groups.max(coming.group.unwrap_or(0)) + 1;
        let together = coming.group.unwrap_or(job.groups);
        for file in files {
            if coming.apart {
                job.groups += 1;
            }
            let stem = file.file_stem().map(|s| own_name(&s.to_string_lossy()));
            let group = if coming.apart { job.groups } else { together };
            let named = !coming.picture.is_empty() && !coming.apart;
            job.waiting.push_back(Waiting {
                suggested: stem,
                picture: named.then(|| coming.picture.to_owned()),
                group,
                visit: coming.visit,
                file,
            });
        }
        job.stop = false;
    }
    keep(desk)?;
    go(desk);
    Ok(count)
}

/// A file's name without the figures under which what is dropped is kept.
fn own_name(stem: &str) -> String {
    let kept = stem.split_once('-').filter(|(figures, name)| {
        figures.len() == 8 && figures.bytes().all(|b| b.is_ascii_hexdigit()) && !name.is_empty()
    });
    kept.map_or(stem, |(_, name)| name).to_owned()
}

/// The picture of a group once one of its photographs was read, and how many of them still wait.
pub fn of_group(desk: &Desk, group: u64) -> (Option<i64>, usize) {
    let job = desk.batch.job();
    let waiting = job.waiting.iter().filter(|w| w.group == group).count();
    (job.picture_of(group), waiting)
}

fn go(desk: &Desk) {
    let wake = desk.batch.wake.lock().unwrap_or_else(|e| e.into_inner());
    if let Some(wake) = &*wake {
        // Full: it is awake already.
        let _ = wake.try_send(());
    }
}

/// Goes on after a stop.
pub fn start(desk: &Desk, ask: &Ask) -> Result<Reply> {
    desk.batch.job().stop = false;
    go(desk);
    Ok(or_page(desk, ask))
}

/// Stops after the photograph that is being read.
pub fn stop(desk: &Desk, ask: &Ask) -> Result<Reply> {
    desk.batch.job().stop = true;
    Ok(or_page(desk, ask))
}

fn or_page(desk: &Desk, ask: &Ask) -> Reply {
    if ask.by_script {
        Reply::Json(told(desk))
    } else {
        Reply::See("/bring".into())
    }
}

/// How far it is, for a script.
pub fn told(desk: &Desk) -> serde_json::Value {
    let job = desk.batch.job();
    let all = job.done + job.waiting.len();
    let words = match (job.waiting.len(), job.running, job.stop) {
        (0, false, _) if job.done == 0 => w::BRING_NOTHING.to_owned(),
        (0, false, _) => w::brought(job.done),
        (_, true, true) => w::BRING_STOPPING.to_owned(),
        (_, true, false) => w::bringing(job.done + 1, all, &job.current, job.left()),
        (n, false, _) => w::bring_paused(n),
    };
    json!({
        "done": job.done, "all": all, "running": job.running, "waiting": job.waiting.len(),
        "stopping": job.stop, "words": words, "faults": job.faults,
        "seconds_left": job.left(),
    })
}

/// How far it is.
pub fn state(desk: &Desk) -> Result<Reply> {
    Ok(Reply::Json(told(desk)))
}

/// Threads that belong to the desk.
pub fn start_threads(desk: &Arc<Desk>) {
    start_thread(desk);
    warm::start(desk);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_is_named_as_its_photograph_was_before_it_came_here() {
        assert_eq!(own_name("41c47472-ferry-back"), "ferry-back");
        assert_eq!(own_name("ferry-back"), "ferry-back");
        assert_eq!(own_name("41c47472"), "41c47472");
    }

    #[test]
    fn time_left_is_what_a_photograph_took_so_far_for_each_that_waits() {
        let waiting = Waiting {
            file: "a.jpg".into(),
            picture: None,
            suggested: None,
            group: 1,
            visit: None,
        };
        let mut job = Job {
            took: (12.0, 3),
            ..Job::default()
        };
        job.waiting = VecDeque::from(vec![waiting; 5]);
        assert_eq!(job.left(), Some(20.0));
        job.took = (0.0, 0);
        assert_eq!(job.left(), None);
    }
}
