//! Many photographs read one after the other, with what is left to do and how long it may take.
//!
//! What waits is kept in the store, so that a run broken off (by the person, a crash or the end of
//! the desk) goes on where it was. Photographs dropped on the page have no place that the desk may
//! know; they are copied, byte for byte, into a folder beside the store.

use super::deciding::usage;
use super::page::{Page, Place, page as lay, token};
use super::web::{Ask, Reply};
use super::words as w;
use super::{Desk, warm};
use crate::decisions::{Run, SeenMark, SeenPhotograph, SqliteStore, Store, now, sides};
use crate::error::{Error, Kind, Result};
use crate::geometry::Quad;
use crate::photograph;
use crate::proposals::Index;
use crate::run;
use crate::written;
use maud::html;
use serde::{Deserialize, Serialize};
use serde_json::json;
use sha2::{Digest, Sha256};
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard, Weak};
use std::time::Instant;

/// The setting that holds what waits.
const SETTING: &str = "desk batch";
/// Photographs that may wait.
const MOST: usize = 20_000;
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
}

/// What is to be done and was done.
#[derive(Debug, Default, Serialize, Deserialize)]
struct Job {
    waiting: VecDeque<Waiting>,
    done: usize,
    faults: Vec<String>,
    groups: u64,
    /// Group and picture (number in the store) of the last photograph read.
    joins: Option<(u64, i64)>,
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

impl Job {
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
        desk.batch.job().joins = Some((next.group, known));
        return Ok(false);
    }
    let index = desk.lists()?;
    let read = run::read_photograph(&photo, desk.recognisers()?, &index)?;
    let outlines: Vec<Quad> = read.marks.iter().map(|m| m.outline).collect();
    desk.album().add(&photo, &outlines);
    let joins = {
        let job = desk.batch.job();
        job.joins.filter(|j| j.0 == next.group).map(|j| j.1)
    };
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
    desk.batch.job().joins = Some((next.group, recorded.picture_id));
    bring_together(desk, recorded.picture_id, &index)?;
    run::hold_dates(&mut desk.store(), &[recorded.picture_id], &desk.clues()?)?;
    desk.warm.changed();
    Ok(true)
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
fn add(
    desk: &Desk,
    files: Vec<PathBuf>,
    picture: &str,
    apart: bool,
    group: Option<u64>,
) -> Result<usize> {
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
        job.groups = job.groups.max(group.unwrap_or(0)) + 1;
        let together = group.unwrap_or(job.groups);
        for file in files {
            if apart {
                job.groups += 1;
            }
            let stem = file.file_stem().map(|s| s.to_string_lossy().into_owned());
            let group = if apart { job.groups } else { together };
            job.waiting.push_back(Waiting {
                suggested: stem,
                picture: Some(picture.to_owned()).filter(|p| !p.is_empty() && !apart),
                group,
                file,
            });
        }
        job.stop = false;
    }
    keep(desk)?;
    go(desk);
    Ok(count)
}

fn go(desk: &Desk) {
    let wake = desk.batch.wake.lock().unwrap_or_else(|e| e.into_inner());
    if let Some(wake) = &*wake {
        // Full: it is awake already.
        let _ = wake.try_send(());
    }
}

/// The folder beside the store that takes what is dropped on the page.
fn folder_for_dropped(desk: &Desk) -> PathBuf {
    let stem = desk.file.file_stem().unwrap_or_default().to_string_lossy();
    desk.file.with_file_name(format!("{stem}-photographs"))
}

/// A file's name without anything that leads elsewhere or that a disk refuses.
fn safe_name(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or("");
    let kept: String = last
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || "-_. ".contains(c) {
                c
            } else {
                '-'
            }
        })
        .collect();
    let kept = kept.trim_matches(['.', ' ']);
    kept.chars()
        .rev()
        .take(80)
        .collect::<Vec<_>>()
        .into_iter()
        .rev()
        .collect()
}

/// Takes in one photograph dropped on the page.
pub fn dropped(desk: &Desk, _what: &str, ask: &Ask) -> Result<Reply> {
    let named = ask.query.get("name");
    use photograph::Format::{Heic, Jpeg, Png, Tiff, Webp};
    let head = &ask.body[..ask.body.len().min(512)];
    let format = photograph::sniff(Path::new(&safe_name(named)), head);
    if !matches!(format, Jpeg | Png | Tiff | Webp | Heic) {
        return Err(Error::new(
            Kind::Photograph,
            safe_name(named),
            w::NO_PICTURE,
            w::DROP_PICTURES,
        ));
    }
    let hash: String = Sha256::digest(&ask.body)
        .iter()
        .take(4)
        .map(|b| format!("{b:02x}"))
        .collect();
    let folder = folder_for_dropped(desk);
    let file = folder.join(format!("{hash}-{}", safe_name(named)));
    let failed = |e: std::io::Error| {
        Error::new(
            Kind::Output,
            file.display(),
            format!("the photograph can't be kept ({e})"),
            "make room or see that you may write there, then drop it again",
        )
    };
    if !file.exists() {
        written::put(&file, &ask.body).map_err(failed)?;
    }
    let apart = ask.query.get("apart") == "1";
    let group = ask
        .query
        .number("group")
        .and_then(|g| u64::try_from(g).ok());
    add(desk, vec![file], ask.query.get("picture"), apart, group)?;
    Ok(Reply::Json(json!({ "taken": 1 })))
}

/// Takes in a folder or a file that the person names.
pub fn folder(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let named = ask.form.get("folder");
    if named.is_empty() {
        return Err(usage(w::FOLDER, w::EMPTY, w::NAME_FOLDER));
    }
    let mut files = Vec::new();
    for found in photograph::expand(&[PathBuf::from(named)]) {
        let file = found?;
        if !file.is_file() {
            return Err(Error::new(
                Kind::Photograph,
                named,
                w::NO_SUCH_FILE,
                w::NAME_FOLDER,
            ));
        }
        files.push(file);
    }
    add(
        desk,
        files,
        ask.form.get("picture"),
        ask.form.get("apart") == "1",
        None,
    )?;
    Ok(Reply::See("/bring".into()))
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

fn told(desk: &Desk) -> serde_json::Value {
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

/// The page.
pub fn page(desk: &Desk) -> Result<Reply> {
    let told = told(desk);
    let number = |key: &str| told[key].as_u64().unwrap_or(0);
    let faults: Vec<&str> = told["faults"]
        .as_array()
        .map(|all| all.iter().filter_map(|f| f.as_str()).collect())
        .unwrap_or_default();
    let (running, waiting) = (told["running"] == true, number("waiting"));
    let body = html! {
        section aria-labelledby="drop-title" {
            h2 id="drop-title" { (w::PHOTOGRAPHS) }
            p {
                label for="picture-name" { (w::PICTURE_NAME) } " "
                input id="picture-name" maxlength="200" autocomplete="off"; " "
                label { input type="checkbox" id="apart"; " " (w::APART) }
            }
            div.drop id="drop" data-token=(desk.token) {
                p { (w::DROP_HERE) }
                p { label for="files" { (w::CHOOSE_FILES) } " " input type="file" id="files" multiple accept="image/*,.heic,.tif,.tiff"; }
                p { label for="camera" { (w::TAKE_ONE) } " " input type="file" id="camera" accept="image/*" capture="environment"; }
            }
            p.ways { a href="/phone" { (w::LET_PHONE_IN) } }
            p { (w::dropped_where(&folder_for_dropped(desk).display().to_string())) }
        }
        section aria-labelledby="folder-title" {
            h2 id="folder-title" { (w::FOLDER) }
            form.row method="post" action="/bring" {
                (token(desk))
                p { label for="folder" { (w::FOLDER_PATH) } " " input.wide id="folder" name="folder" maxlength="1000" required autocomplete="off"; }
                p {
                    label for="folder-picture" { (w::PICTURE_NAME) } " "
                    input id="folder-picture" name="picture" maxlength="200" autocomplete="off"; " "
                    label { input type="checkbox" name="apart" value="1"; " " (w::APART) }
                }
                button { (w::READ_FOLDER) }
            }
        }
        section aria-labelledby="progress-title" {
            h2 id="progress-title" { (w::PROGRESS) }
            progress id="progress" max=(number("all").max(1)) value=(number("done")) aria-labelledby="progress-words" {}
            p id="progress-words" role="status" { (told["words"].as_str().unwrap_or_default()) }
            div.tools {
                form method="post" action="/bring/stop" id="stop" hidden[!running] { (token(desk)) button { (w::STOP) } }
                form method="post" action="/bring/start" id="go-on" hidden[running || waiting == 0] { (token(desk)) button { (w::GO_ON) } }
                a href="/settle" { (w::SETTLE) }
            }
            ul.refused id="faults" { @for f in &faults { li { (f) } } }
        }
    };
    let shown = Page {
        title: w::BRING.into(),
        place: Place::Bring,
        scripts: &["bring.js"],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
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
    fn a_dropped_file_s_name_never_leads_out_of_its_folder() {
        assert_eq!(safe_name("../../etc/passwd"), "passwd");
        assert_eq!(safe_name("C:\\x\\back.jpg"), "back.jpg");
        assert_eq!(safe_name("<img src=x>.jpg"), "-img src-x-.jpg");
        assert_eq!(safe_name(".."), "");
    }

    #[test]
    fn time_left_is_what_a_photograph_took_so_far_for_each_that_waits() {
        let waiting = Waiting {
            file: "a.jpg".into(),
            picture: None,
            suggested: None,
            group: 1,
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
