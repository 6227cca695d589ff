//! `dorso export` and `dorso take-in`: hands on a picture in forms that other programs read, and
//! the whole store as one archive.

use super::keeping::{StoreOption, store_file};
use super::note::{file_name, may_write, only_or_named, own_clues, settle};
use super::{Finished, Outcome, put};
use crate::decisions::{SqliteStore, Store, now};
use crate::error::{Error, Kind, Result};
use crate::evidence::{gather, solve};
use crate::exports::{self, Archive, Export, File, Part, Subject, pack};
use crate::gazetteer::{Place, locate};
use crate::limits::LIST_BYTES;
use crate::note::{Kept, Language};
use crate::readings::learnt;
use crate::written::Beside;
use std::fmt::Write as _;
use std::io::Seek as _;
use std::path::{Path, PathBuf};

/// Arguments of `export`.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// The picture (its name or the beginning of it); may be left out if the store holds only one
    #[arg(value_name = "PICTURE")]
    picture: Option<String>,
    /// In which form: tei, annotations, iiif, linked-art, alto, csv, pdf; or archive for the whole
    /// store with what was learnt and the lists; several parted by commas
    #[arg(
        long = "as",
        value_name = "FORM",
        required = true,
        value_delimiter = ','
    )]
    forms: Vec<String>,
    /// A folder, or a file if there is only one; else standard output
    #[arg(long, value_name = "DIR|FILE")]
    out: Option<PathBuf>,
    /// Beginning of all addresses in IIIF, annotations and Linked Art: where you will serve them
    #[arg(long, value_name = "URL", default_value = "https://dorso.invalid/")]
    base: String,
    /// Write over files that are there already
    #[arg(long)]
    replace: bool,
    /// Folder of the lists
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    #[command(flatten)]
    store: StoreOption,
}

/// Arguments of `take-in`.
#[derive(clap::Args, Debug)]
pub(crate) struct TakeIn {
    /// An archive made by dorso export --as archive
    #[arg(value_name = "ARCHIVE", required_unless_present = "readings")]
    archive: Option<PathBuf>,
    /// Bring what batch/read_backs.py read into the store instead, which may be there
    #[arg(long, value_name = "DIR", conflicts_with_all = ["archive", "lists"])]
    readings: Option<PathBuf>,
    /// Folder of the lists, for readings
    #[arg(long, value_name = "DIR", requires = "readings")]
    gazetteer: Option<PathBuf>,
    /// Where the store is to be; there must be none yet of an archive. Else the one named by DORSO_STORE, else
    /// that of this user
    #[arg(long, value_name = "FILE")]
    store: Option<PathBuf>,
    /// Folder for the lists of the archive; else they are left in it
    #[arg(long, value_name = "DIR")]
    lists: Option<PathBuf>,
}

const ARCHIVE: &str = "archive";
const STORE: &str = "store.sqlite";
/// What was learnt beside the store.
const LEARNT: &str = "learnt.jsonl";
const LISTS: &str = "lists/";
const ROOM: &str = "make room or allow writing there, or name another place";

/// Runs `export`.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let all = exports::all();
    let mut chosen: Vec<&dyn Export> = Vec::new();
    let mut archive = false;
    for form in arguments.forms.iter().map(|f| f.trim()) {
        if form == ARCHIVE {
            archive = true;
            continue;
        }
        let found = all.iter().find(|e| e.name() == form);
        chosen.push(*found.ok_or_else(|| unknown(form, &all))?);
    }
    let base = base(&arguments.base)?;
    let mut store = arguments.store.open()?;
    let mut files: Vec<(String, Body)> = Vec::new();
    if archive {
        let packed = Body::Packed(archived(&store, &arguments)?);
        files.push(("dorso.zip".into(), packed));
    }
    if !chosen.is_empty() {
        let picture = only_or_named(&store, arguments.picture.as_deref())?;
        let clues = own_clues(arguments.gazetteer.as_deref())?;
        super::keeping::hold_changed(&mut store, &clues, Some(picture.id))?;
        let marks = store.marks(Some(picture.id))?;
        let journal = store.journal_of_picture(picture.id)?;
        let seen = store.observations(Some(picture.id))?;
        let gathered = gather(&marks, &seen, &clues)?;
        let solved = solve(&gathered.back);
        let dated = (&gathered, &solved);
        let kept = Kept {
            picture: &picture,
            marks: &marks,
            journal: &journal,
            observations: &seen,
            language: Language::default(),
        };
        let note = kept.write_dated(&clues, dated, &now())?;
        let subject = Subject {
            picture: &picture,
            marks: &marks,
            journal: &journal,
            note: &note,
            back: &gathered.back,
            solved: &solved,
            base: &base,
        };
        let name = file_name(&picture);
        for e in chosen {
            for File { ending, bytes } in e.files(&subject)? {
                files.push((format!("{name}.{ending}"), Body::Bytes(bytes)));
            }
        }
    }
    deliver(&files, &arguments)?;
    Ok(Finished::Well)
}

fn unknown(form: &str, all: &[&dyn Export]) -> Error {
    let mut names: Vec<String> = all
        .iter()
        .map(|e| format!("{} ({})", e.name(), e.about()))
        .collect();
    names.push("archive (the whole store with what was learnt and the lists)".into());
    Error::new(
        Kind::Usage,
        format!("--as {form}"),
        "there is no such form",
        format!("give one of {}", names.join("; ")),
    )
}

/// An address that others can be put behind.
fn base(text: &str) -> Result<String> {
    let plain = text
        .chars()
        .all(|c| c.is_ascii_graphic() && !"\"<>\\^`{|}".contains(c));
    let web = text.starts_with("https://") || text.starts_with("http://");
    if !web || !plain || text.contains(['?', '#']) {
        return Err(Error::new(
            Kind::Usage,
            format!("--base {text}"),
            "this is no beginning of addresses",
            "give one such as https://example.org/pictures/",
        ));
    }
    Ok(if text.ends_with('/') {
        text.to_string()
    } else {
        format!("{text}/")
    })
}

/// What is delivered: bytes, or a file without a name that is read piece by piece.
enum Body {
    Bytes(Vec<u8>),
    Packed(std::fs::File),
}

impl Body {
    fn pour(&self, to: &mut impl std::io::Write) -> std::io::Result<()> {
        match self {
            Body::Bytes(bytes) => to.write_all(bytes)?,
            Body::Packed(file) => {
                let mut file = file;
                file.rewind()?;
                std::io::copy(&mut file, to)?;
            }
        }
        to.flush()
    }
}

fn deliver(files: &[(String, Body)], a: &Arguments) -> Result<()> {
    let Some(out) = &a.out else {
        let [(_, body)] = files else {
            return Err(Error::new(
                Kind::Usage,
                "--as",
                format!("this makes {} files", files.len()),
                "give a folder for them with --out DIR",
            ));
        };
        return body.pour(&mut std::io::stdout().lock()).map_err(|e| {
            Error::new(
                Kind::Output,
                "standard output",
                format!("the result can't be written ({e})"),
                "make room or name a place with --out",
            )
        });
    };
    let one = files.len() == 1 && !out.is_dir() && out.extension().is_some();
    let paths: Vec<(PathBuf, &Body)> = files
        .iter()
        .map(|(name, body)| {
            let path = if one { out.clone() } else { out.join(name) };
            (path, body)
        })
        .collect();
    for (path, _) in &paths {
        may_write(path, a.replace)?;
    }
    let mut told = String::new();
    for (path, body) in &paths {
        let beside = Beside::begin(path).and_then(|mut b| body.pour(&mut b).map(|()| b));
        settle(path, beside, a.replace)?;
        let _ = writeln!(told, "{}", path.display());
    }
    put(&told)
}

fn fault(path: &Path, e: &std::io::Error, next: &'static str) -> Error {
    Error::new(
        Kind::Output,
        path.display(),
        format!("it can't be used ({e})"),
        next,
    )
}

/// The store as it is now, what was learnt beside it, and the user's lists.
fn archived(store: &SqliteStore, a: &Arguments) -> Result<std::fs::File> {
    // A folder that nobody else may look into, gone with all in it when it is let go
    let room = "make room in the folder for temporary files";
    let folder = tempfile::tempdir().map_err(|e| fault(&std::env::temp_dir(), &e, room))?;
    let beside = folder.path().join(STORE);
    store.snapshot(&beside)?;
    let mut files = vec![(STORE.to_string(), Part::File(beside))];
    let learnt = learnt::beside(&a.store.file()?);
    match LIST_BYTES.read(&learnt) {
        Ok(bytes) => files.push((LEARNT.to_string(), Part::Bytes(bytes))),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => {}
        Err(e) => return Err(fault(&learnt, &e, "allow reading what was learnt")),
    }
    if let Place::Folder(dir) = locate(a.gazetteer.as_deref())? {
        let read = |e: std::io::Error| {
            fault(
                &dir,
                &e,
                "allow reading the lists, or name others with --gazetteer",
            )
        };
        let mut names: Vec<PathBuf> = std::fs::read_dir(&dir)
            .map_err(read)?
            .flatten()
            .map(|f| f.path())
            .filter(|p| p.is_file() && p.extension().is_some_and(|e| e == "csv"))
            .collect();
        names.sort();
        for path in names {
            let Some(name) = path.file_name().and_then(|n| n.to_str()) else {
                continue;
            };
            let bytes = LIST_BYTES
                .read(&path)
                .map_err(|e| fault(&path, &e, "allow reading it"))?;
            files.push((format!("{LISTS}{name}"), Part::Bytes(bytes)));
        }
    }
    let mut packed = tempfile::tempfile().map_err(|e| fault(&std::env::temp_dir(), &e, room))?;
    pack(&files, &now(), &mut packed)?;
    Ok(packed)
}

fn refused(archive: &Path, member: &str) -> Error {
    Error::new(
        Kind::Output,
        archive.display(),
        format!(
            "what it holds as \"{member}\" is no list, or would be written over something else"
        ),
        "take only archives made by dorso export --as archive; nothing was written",
    )
}

/// The name of a list in an archive: a CSV file in no folder, nothing hidden.
fn list_name<'a>(name: &'a str, archive: &Path) -> Result<&'a str> {
    let plain = !name.starts_with(['.', '~']) && !name.contains(['/', '\\', ':']);
    let csv = Path::new(name).extension();
    match plain && csv.is_some_and(|e| e.eq_ignore_ascii_case("csv")) {
        true => Ok(name),
        false => Err(refused(archive, &format!("{LISTS}{name}"))),
    }
}

/// Runs `take-in`.
pub(crate) fn take_in(a: TakeIn) -> Outcome {
    let store = store_file(a.store)?;
    match (a.readings, a.archive) {
        (Some(dir), _) => super::seen_run::take_in(&dir, &store, a.gazetteer.as_deref()),
        (None, Some(archive)) => unpack(&archive, store, a.lists.as_deref()),
        (None, None) => Err(Error::new(
            Kind::Usage,
            "take-in",
            "nothing is named that is to be taken in",
            "name an archive, or the folder of a batch with --readings",
        )),
    }
}

/// Puts a store, and what lies beside it, in the place that an archive is taken to.
///
/// * `lists`: folder for its lists.
fn unpack(from: &Path, store: PathBuf, lists: Option<&Path>) -> Outcome {
    let unread = |e: std::io::Error| {
        Error::new(
            Kind::Usage,
            from.display(),
            format!("it can't be read ({e})"),
            "name an archive made by dorso export --as archive",
        )
    };
    let plain = std::fs::metadata(from).map_err(unread)?.is_file();
    if !plain {
        return Err(unread(std::io::ErrorKind::InvalidInput.into()));
    }
    let mut archive = Archive::open(std::fs::File::open(from).map_err(unread)?)?;
    if store.exists() {
        return Err(Error::new(
            Kind::Store,
            store.display(),
            "there is a store already, and it is left as it is",
            "name a new file with --store FILE",
        ));
    }
    let mut goals: Vec<(String, PathBuf)> = Vec::new();
    for name in archive.names() {
        let path = match (name.strip_prefix(LISTS), lists) {
            (Some(list), Some(dir)) => dir.join(list_name(list, from)?),
            _ if name == LEARNT => learnt::beside(&store),
            _ => continue,
        };
        if path == store || goals.iter().any(|g| g.1 == path) {
            return Err(refused(from, &name));
        }
        // What an earlier try put there before it was stopped is in nobody's way
        let same = exports::digest(&path).is_ok_and(|d| archive.sha256(&name) == Some(d.as_str()));
        if !same {
            may_write(&path, false)?;
            goals.push((name, path));
        }
    }
    // The store last: until it is there nothing was taken in
    goals.push((STORE.into(), store.clone()));
    let mut ready = Vec::new();
    for (name, path) in &goals {
        let mut beside = Beside::begin(path).map_err(|e| fault(path, &e, ROOM))?;
        archive.copy(name, &mut beside)?;
        ready.push((path, beside));
    }
    if let Some((_, beside)) = ready.last() {
        // A damaged or newer store is told now, not later
        SqliteStore::open_existing(beside.path())?;
    }
    let mut told = String::new();
    for (path, beside) in ready {
        settle(path, Ok(beside), false)?;
        let _ = writeln!(told, "{}", path.display());
    }
    put(&told)?;
    Ok(Finished::Well)
}
