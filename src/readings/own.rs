//! A reader of the user's own: any program that takes the path of a picture and prints what it reads.
//!
//! The settings name it; without them no program is started and nothing leaves the machine. It
//! is shown cut-out lines as PNG files in a folder of its own that goes when Dorso ends. What it
//! prints is never more than one voice: where nobody else sees the same letter, the chance stays
//! below that of a clear one ([`super::network::lean`]). A program that hangs, fails, prints markup or
//! too much has read nothing; after `PATIENCE` such faults in a row it is asked no more, and
//! what was wrong is told.

use super::{Character, LineReader, RawLine};
use crate::error::{Error, Kind, Result};
use crate::geometry::Rect;
use image::GrayImage;
use serde::{Deserialize, Serialize};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use unicode_normalization::UnicodeNormalization;

/// Faults in a row after which the program is asked no more.
const PATIENCE: usize = 3;

/// Most bytes that one line may print.
const MOST_BYTES: u64 = 2000;

/// Most characters of a line's reading.
const MOST_CHARACTERS: usize = 200;

/// Chance that a letter it prints is right: it tells none itself. Set by judgement.
const CHANCE: f64 = 0.7;

/// Weight of its vote until the person's decisions have taught another. Set by judgement.
const WEIGHT: f64 = 1.0;

/// How the user's own reader is run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OwnSettings {
    /// The program; run without a shell.
    pub program: PathBuf,
    /// Given before the picture's path.
    #[serde(default)]
    pub arguments: Vec<String>,
    /// Time for one line, s.
    #[serde(default = "five")]
    pub seconds: f64,
}

fn five() -> f64 {
    5.0
}

/// The user's own program as a recogniser.
pub struct OwnReader {
    settings: OwnSettings,
    name: String,
    weight: f64,
    folder: tempfile::TempDir,
    asked: AtomicUsize,
    faults: AtomicUsize,
    complaint: Mutex<Option<String>>,
}

impl OwnReader {
    /// Makes it ready. `weight`: as learnt from the person's decisions, if it was.
    ///
    /// # Errors
    /// `Kind::Recogniser` if there is no place for the pictures that it is to be shown.
    pub fn new(settings: OwnSettings, weight: Option<f64>) -> Result<Self> {
        let folder = tempfile::tempdir().map_err(|e| {
            Error::new(
                Kind::Recogniser,
                "own reader",
                format!("there is no place for the pictures that it is to read ({e})"),
                "make room in the folder for temporary files",
            )
        })?;
        let short = settings
            .program
            .file_name()
            .map_or_else(|| "program".into(), |n| n.to_string_lossy().into_owned());
        Ok(OwnReader {
            name: format!("own reader {short}"),
            weight: weight.unwrap_or(WEIGHT),
            settings,
            folder,
            asked: AtomicUsize::new(0),
            faults: AtomicUsize::new(0),
            complaint: Mutex::new(None),
        })
    }

    /// What the program prints for a picture, or what is wrong with it.
    fn ask(&self, picture: &GrayImage) -> std::result::Result<String, String> {
        let n = self.asked.fetch_add(1, Ordering::Relaxed);
        let file = self.folder.path().join(format!("line-{n}.png"));
        picture
            .save(&file)
            .map_err(|e| format!("the picture for it can't be written ({e})"))?;
        let printed = self.run(&file);
        let _ = std::fs::remove_file(&file);
        understood(&printed?)
    }

    fn run(&self, file: &Path) -> std::result::Result<Vec<u8>, String> {
        let mut command = Command::new(&self.settings.program);
        command
            .args(&self.settings.arguments)
            .arg(file)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null());
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let mut child = command
            .spawn()
            .map_err(|e| format!("it can't be started ({e})"))?;
        let (send, receive) = std::sync::mpsc::channel();
        if let Some(out) = child.stdout.take() {
            // What it started itself may hold the pipe open: nobody waits for this thread.
            std::thread::spawn(move || {
                let mut bytes = Vec::new();
                let whole = out.take(MOST_BYTES + 1).read_to_end(&mut bytes);
                let _ = send.send(whole.map(|_| bytes));
            });
        }
        let until = Instant::now() + Duration::from_secs_f64(self.settings.seconds);
        let printed = receive.recv_timeout(until.saturating_duration_since(Instant::now()));
        let Ok(printed) = printed else {
            end(&mut child);
            return Err(format!(
                "it took longer than {} s for a line",
                self.settings.seconds
            ));
        };
        let bytes = printed.map_err(|e| format!("what it prints can't be read ({e})"));
        if bytes.as_ref().is_ok_and(|b| b.len() as u64 > MOST_BYTES) {
            end(&mut child);
            return Err(format!(
                "it printed more than {MOST_BYTES} bytes for a line"
            ));
        }
        loop {
            match child.try_wait() {
                Ok(Some(status)) if status.success() => return bytes,
                Ok(Some(status)) => return Err(format!("it failed ({status})")),
                Ok(None) if Instant::now() < until => std::thread::sleep(Duration::from_millis(5)),
                _ => {
                    end(&mut child);
                    return Err("it printed but didn't end in time".into());
                }
            }
        }
    }
}

/// Ends a program and, where the system knows groups, all that it started.
fn end(child: &mut Child) {
    #[cfg(unix)]
    let _ = Command::new("kill")
        .args(["-KILL", "--", &format!("-{}", child.id())])
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    let _ = child.kill();
    let _ = child.wait();
}

/// One line of text from what was printed; empty where it read nothing.
fn understood(bytes: &[u8]) -> std::result::Result<String, String> {
    let text = std::str::from_utf8(bytes).map_err(|_| "it printed what is no UTF-8 text")?;
    if text.chars().any(|c| c.is_control() && !c.is_whitespace()) {
        return Err("it printed control signs".into());
    }
    if has_markup(text) {
        return Err("it printed markup instead of plain text".into());
    }
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if line.chars().count() > MOST_CHARACTERS {
        return Err(format!(
            "it printed more than {MOST_CHARACTERS} characters for one line"
        ));
    }
    Ok(line.nfc().collect())
}

/// Whether a tag stands in it: `<`, a letter or `/`, and a `>` later.
fn has_markup(text: &str) -> bool {
    text.match_indices('<').any(|(i, _)| {
        let rest = &text[i + 1..];
        rest.starts_with(|c: char| c.is_ascii_alphabetic() || "/!?".contains(c))
            && rest.contains('>')
    })
}

impl LineReader for OwnReader {
    fn name(&self) -> &str {
        &self.name
    }

    fn is_own(&self) -> bool {
        true
    }

    fn weight(&self) -> f64 {
        self.weight
    }

    fn complaint(&self) -> Option<String> {
        self.complaint
            .lock()
            .unwrap_or_else(|e| e.into_inner())
            .clone()
    }

    fn read(&self, picture: &GrayImage) -> Result<Option<RawLine>> {
        if self.faults.load(Ordering::Relaxed) >= PATIENCE {
            return Ok(None);
        }
        let text = match self.ask(picture) {
            Ok(text) => {
                self.faults.store(0, Ordering::Relaxed);
                text
            }
            Err(what) => {
                self.faults.fetch_add(1, Ordering::Relaxed);
                *self.complaint.lock().unwrap_or_else(|e| e.into_inner()) = Some(what);
                String::new()
            }
        };
        let characters: Vec<Character> = text
            .chars()
            .map(|c| Character::sure(&c.to_string(), CHANCE))
            .collect();
        if characters.is_empty() {
            return Ok(None);
        }
        Ok(Some(RawLine {
            characters,
            bounds: Rect::new(0, 0, picture.width(), picture.height()),
            spans: Vec::new(),
            faint: Vec::new(),
            writing: None,
            by_ink: None,
        }))
    }
}
