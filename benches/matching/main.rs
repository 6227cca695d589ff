//! Weighing on lists of 1,000, 10,000, 100,000 and 1,000,000 confusable invented rows: how often the true
//! row stands first and "on none" is known, whether the chances keep their promise, milliseconds a mark
//! of six lines; beside Jaro-Winkler, normalised Levenshtein and the scorers of the rapidfuzz library on
//! the same questions in the same run.
//!
//! ```sh
//! PYTHON=python3 cargo bench --bench matching -- [PHOTOS=READINGS ...] [rows=1000,10000] [seed=N] [each=N]
//! ```
//! Questions: typed readings damaged in known ways, names that nothing was fitted on; and, where given,
//! marks as the program read them (kept readings, see `examples/weigh_readings`) against the demo's
//! lists filled up with confusable rows. One thread each. At 1,000,000 rows: time and memory only.

#[path = "../../examples/weigh_readings/fill.rs"]
mod fill;
#[allow(dead_code)]
#[path = "../../examples/trial_weighing/firms.rs"]
mod firms;
#[allow(dead_code)]
#[path = "../../examples/weigh_readings/marks.rs"]
mod marks;
mod rivals;

use dorso::gazetteer;
use dorso::measure::chances::{self, Stated};
use dorso::proposals::Index;
use dorso::readings::{Line, from_typed};
use fill::FIRMS;
use firms::{Damage, Firms, HARD, Names, USUAL};
use rivals::{Did, Texts, folded, rapidfuzz, scikit_learn, strsim};
use std::alloc::{GlobalAlloc, Layout, System};
use std::path::Path;
use std::sync::atomic::{AtomicIsize, Ordering::Relaxed};
use std::time::Instant;

/// What else may stand on a label, to fill a mark up to six lines.
const FILLING: [&str; 4] = [
    "Old frames re-gilt",
    "Prints and drawings mounted",
    "Ornaments of every description",
    "Established many years",
];

/// Questions put to the rivals, by number of rows.
fn asked_of_rivals(rows: usize) -> usize {
    (1_000_000 / rows.max(1)).clamp(30, 200)
}

/// A mark with the row that it truly names; `None`: on no list.
struct Question {
    lines: Vec<Line>,
    truth: Option<usize>,
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let set = |name: &str| arguments.iter().find_map(|a| a.strip_prefix(name));
    let number =
        |name: &str, default: usize| set(name).and_then(|n| n.parse().ok()).unwrap_or(default);
    let (seed, each) = (number("seed=", 2024) as u64, number("each=", 600));
    let sizes: Vec<usize> = set("rows=")
        .unwrap_or("1000,10000,100000,1000000")
        .split(',')
        .filter_map(|n| n.parse().ok())
        .collect();
    let mut asked = Vec::new();
    for a in &arguments {
        if let Some((truth, readings)) = a.split_once('=')
            && Path::new(truth).is_dir()
        {
            asked.extend(marks::open(Path::new(truth), Path::new(readings)).expect("readings"));
        }
    }
    let mut best = None;
    for &rows in &sizes {
        let began = Instant::now();
        let mut firms = Firms::new(Names::Trial, rows, seed);
        println!(
            "{rows} rows (made up in {:.1} s)",
            began.elapsed().as_secs_f64()
        );
        let index = made_ready(&firms, rows);
        time(&mut firms, &index, rows);
        if rows > 100_000 {
            continue;
        }
        for (label, damage) in [("usual", USUAL), ("hard", HARD)] {
            let questions = typed(&mut firms, damage, each);
            let list = &index.gazetteer.lists[0];
            let title = format!("typed, {label} damage");
            report(&title, &index, &list.name, &questions, rows, &mut best);
        }
        drop(index);
        if !asked.is_empty() {
            rendered(&asked, rows, &mut best);
        }
    }
}

/// Writes the list as its user would keep it.
fn written(firms: &Firms, folder: &Path) {
    let file = folder.join("framers.csv");
    let mut out = csv::Writer::from_path(file).expect("a file");
    out.write_record(gazetteer::rows::COLUMNS).expect("header");
    for e in &firms.listed {
        let variants = e.variants.join("|");
        let row = [
            &e.entry, &e.name, &variants, &e.trade, &e.address, &e.town, &e.from, &e.to, &e.source,
            &e.note,
        ];
        out.write_record(row).expect("a row");
    }
    out.flush().expect("written");
}

/// Makes the list ready as at a first and at a later start, and tells what that takes; then what a whole call
/// of `dorso match` takes, program start and list included.
fn made_ready(firms: &Firms, rows: usize) -> Index {
    let (lists, data) = (tempfile::tempdir(), tempfile::tempdir());
    let (lists, data) = (lists.expect("a folder"), data.expect("a folder"));
    written(firms, lists.path());
    let folder = data.path().join("dorso/index");
    let place = gazetteer::Place::Folder(lists.path().to_path_buf());
    let start = || {
        let (before, began) = (memory(), Instant::now());
        let (gazetteer, faults, rows_told) = place.load_kept(&folder).expect("the list");
        let (index, told) = Index::kept(gazetteer, &folder);
        let quiet = faults.is_empty() && rows_told.is_empty() && told.is_empty();
        assert!(quiet, "{faults:?} {rows_told:?} {told:?}");
        (began.elapsed().as_secs_f64(), memory() - before, index)
    };
    let (first, first_held, index) = start();
    drop(index);
    let (later, later_held, index) = start();
    let files = std::fs::read_dir(&folder).expect("the folder");
    let kept: u64 = files
        .flatten()
        .filter_map(|f| Some(f.metadata().ok()?.len()))
        .sum();
    println!(
        "  read, made ready and kept in {first:.2} s, at a later start in {:.0} ms; a row takes {:.0} and {:.0} bytes of memory and {:.0} of the files",
        later * 1e3,
        first_held / rows as f64,
        later_held / rows as f64,
        kept as f64 / rows as f64
    );
    let call = || {
        let began = Instant::now();
        let done = std::process::Command::new(env!("CARGO_BIN_EXE_dorso"))
            .args(["match", "--json", "--gazetteer"])
            .arg(lists.path())
            .arg(&firms.listed[rows / 2].name)
            .env("XDG_DATA_HOME", data.path())
            .env_remove("DORSO_STORE")
            .output()
            .expect("the program");
        assert!(done.status.success(), "{done:?}");
        began.elapsed().as_secs_f64()
    };
    let whole = (0..5).map(|_| call()).fold(f64::MAX, f64::min);
    println!("  a whole call of `dorso match`: {whole:.3} s, best of five");
    index
}

fn typed(firms: &mut Firms, damage: Damage, count: usize) -> Vec<Question> {
    (0..count)
        .filter_map(|i| {
            let q = firms.question(i % 3 != 2, damage);
            let truth = q
                .entry
                .map(|k| firms.listed.iter().position(|e| e.entry == k));
            Some(Question {
                lines: from_typed(&q.text).ok()?,
                truth: truth.flatten(),
            })
        })
        .collect()
}

/// Marks as read, by grade, each against the list that it names (on none: framers), filled up.
fn rendered(asked: &[marks::Asked], rows: usize, best: &mut Option<String>) {
    let (mut gazetteer, _) =
        gazetteer::load(Path::new("samples/gazetteer")).expect("the demo's lists");
    fill::fill(&mut gazetteer, rows, 5);
    gazetteer.lists.retain(|l| FIRMS.contains(&l.name.as_str()));
    let index = Index::new(gazetteer);
    for (label, grades) in [
        ("easy and medium", &["easy", "medium"][..]),
        ("hard", &["hard"]),
    ] {
        let mut all = Tally::default();
        for list in &index.gazetteer.lists {
            let questions: Vec<Question> = asked
                .iter()
                .filter(|a| a.names && grades.contains(&a.grade.as_str()))
                .filter(|a| a.list == list.name || a.list.is_empty() && list.name == FIRMS[0])
                .map(|a| Question {
                    lines: a.lines.clone(),
                    truth: list.entries.iter().position(|e| e.entry == a.entry),
                })
                .collect();
            all.add(&index, &list.name, &questions, asked_of_rivals(rows), best);
        }
        all.print(&format!("as read, {label}"), rows);
    }
}

fn report(
    title: &str,
    index: &Index,
    list: &str,
    questions: &[Question],
    rows: usize,
    best: &mut Option<String>,
) {
    let mut tally = Tally::default();
    tally.add(index, list, questions, asked_of_rivals(rows), best);
    tally.print(title, rows);
}

#[derive(Default)]
struct Tally {
    listed: usize,
    first: usize,
    off: usize,
    off_known: usize,
    /// Right and asked among the questions that the rivals are asked too.
    same: (f64, f64),
    stated: Vec<Stated>,
    /// Name, right, asked.
    others: Vec<(String, f64, f64)>,
    missing: Option<String>,
}

impl Tally {
    fn add(
        &mut self,
        index: &Index,
        list: &str,
        questions: &[Question],
        rivals: usize,
        best: &mut Option<String>,
    ) {
        let entries = index
            .gazetteer
            .lists
            .iter()
            .find(|l| l.name == list)
            .map(|l| l.entries.clone())
            .unwrap_or_default();
        let mut texts = Texts {
            rows: Vec::new(),
            names: Vec::new(),
            questions: Vec::new(),
        };
        let mut rights = Vec::new();
        for q in questions {
            let weighed = index.weigh(&q.lines, Some(list));
            let (proposed, unlisted) = match weighed.first() {
                Some(r) => (r.proposals.first(), r.unlisted),
                None => (None, 1.0),
            };
            let truth = q.truth.map(|t| entries[t].entry.as_str());
            let right = proposed.is_some_and(|p| Some(p.entry.as_str()) == truth);
            if let Some(p) = proposed {
                self.stated.push(Stated {
                    chance: p.probability,
                    right,
                });
            }
            self.stated.push(Stated {
                chance: unlisted,
                right: truth.is_none(),
            });
            match q.truth {
                Some(t) => {
                    self.listed += 1;
                    self.first += usize::from(right);
                    rights.push(right);
                    let lines = q.lines.iter().map(|l| folded(&l.text));
                    let lines: Vec<String> = lines.filter(|l| !l.is_empty()).collect();
                    texts.questions.push((lines, t));
                }
                None => {
                    self.off += 1;
                    self.off_known +=
                        usize::from(proposed.is_none_or(|p| unlisted > p.probability));
                }
            }
        }
        texts.questions.truncate(rivals);
        rights.truncate(rivals);
        self.same.0 += rights.iter().filter(|r| **r).count() as f64;
        self.same.1 += rights.len() as f64;
        if texts.questions.is_empty() {
            return;
        }
        for e in &entries {
            texts
                .rows
                .push(folded(&format!("{} {} {}", e.name, e.address, e.town)));
            texts.names.push(folded(&e.name));
        }
        let mut did = vec![
            strsim("Jaro-Winkler", &texts, strsim::jaro_winkler),
            strsim(
                "normalised Levenshtein",
                &texts,
                strsim::normalized_levenshtein,
            ),
        ];
        match rapidfuzz(&texts, best.as_deref()) {
            Ok((_, theirs)) => {
                let top = theirs
                    .into_iter()
                    .max_by(|a, b| a.first.total_cmp(&b.first));
                if let Some(top) = top {
                    let scorer = top.name.split(',').next().unwrap_or_default().to_string();
                    best.get_or_insert(scorer);
                    did.push(Did {
                        name: format!("rapidfuzz ({})", top.name),
                        ..top
                    });
                }
            }
            Err(why) => self.missing = Some(why),
        }
        let count = texts.questions.len() as f64;
        for d in did {
            match self.others.iter_mut().find(|o| o.0 == d.name) {
                Some(o) => (o.1, o.2) = (o.1 + d.first * count, o.2 + count),
                None => self.others.push((d.name, d.first * count, count)),
            }
        }
    }

    fn print(&self, title: &str, rows: usize) {
        let share = |a: usize, b: usize| a as f64 / b.max(1) as f64;
        let first = share(self.first, self.listed);
        println!("  {title}, {rows} rows:");
        println!(
            "    right row first {first:.3} of {}; on none, known as such {:.3} of {}",
            self.listed,
            share(self.off_known, self.off),
            self.off
        );
        if let (Some(brier), Some(ece), Some((rel, res, unc)), Some((luck, most))) = (
            chances::brier(&self.stated),
            chances::calibration_error(&self.stated, 10),
            chances::murphy(&self.stated, 10),
            chances::by_luck(&self.stated, 10),
        ) {
            let pairs: Vec<(f64, bool)> = self.stated.iter().map(|s| (s.chance, s.right)).collect();
            match scikit_learn(&pairs) {
                Ok((theirs, error)) => println!(
                    "    scikit-learn on the same numbers: calibration error {error:.3}, Brier {theirs:.4}"
                ),
                Err(why) => println!("    {why}"),
            }
            let sure: Vec<_> = self.stated.iter().filter(|s| s.chance >= 0.95).collect();
            println!(
                "    calibration error {ece:.3} (by luck alone {luck:.3}, 19 times in 20 under {most:.3}); Brier {brier:.4} (reliability {rel:.4}, resolution {res:.4}, uncertainty {unc:.4}); at 0.95 and above wrong {} of {}",
                sure.iter().filter(|s| !s.right).count(),
                sure.len()
            );
        }
        for (name, right, asked) in &self.others {
            let other = right / asked;
            println!(
                "    {name} first {other:.3} of {asked}; errors here beside its errors {:.2}",
                (1.0 - self.same.0 / self.same.1) / (1.0 - other).max(1e-9)
            );
        }
        if let Some(why) = &self.missing {
            println!("    {why}");
        }
    }
}

/// Milliseconds a mark of six lines, one thread, beside the rivals on the same text.
fn time(firms: &mut Firms, index: &Index, rows: usize) {
    let count = if rows > 10_000 { 10 } else { 40 };
    let questions: Vec<String> = (0..count)
        .map(|i| {
            let mut text = firms.question(i % 3 != 2, USUAL).text;
            for line in FILLING {
                if text.lines().count() < 6 {
                    text = format!("{text}\n{line}");
                }
            }
            text
        })
        .collect();
    let lines: Vec<Vec<Line>> = questions
        .iter()
        .filter_map(|q| from_typed(q).ok())
        .collect();
    let began = Instant::now();
    let found: usize = lines.iter().map(|l| index.weigh(l, None).len()).sum();
    let ours = began.elapsed().as_secs_f64() * 1e3 / lines.len() as f64;
    assert_eq!(found, lines.len(), "every mark is weighed");
    let list = &index.gazetteer.lists[0].entries;
    let texts = Texts {
        rows: list
            .iter()
            .map(|e| folded(&format!("{} {} {}", e.name, e.address, e.town)))
            .collect(),
        names: Vec::new(),
        questions: questions
            .iter()
            .take(if rows > 10_000 { 3 } else { 10 })
            .map(|q| (q.lines().map(folded).collect(), 0))
            .collect(),
    };
    print!("  a mark of six lines {ours:.2} ms");
    match rapidfuzz(&texts, Some("WRatio")) {
        Ok((version, did)) => {
            for d in did {
                print!(
                    "; rapidfuzz {version} process.extract ({}) {:.1} ms, ratio {:.3}",
                    d.name,
                    d.ms,
                    ours / d.ms
                );
            }
            println!();
        }
        Err(why) => println!("; {why}"),
    }
}

/// Counts the bytes that are asked for and not given back.
struct Counting;

static HELD: AtomicIsize = AtomicIsize::new(0);

// SAFETY: every call goes to the system's allocator as it came; only a number is kept beside.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        HELD.fetch_add(layout.size() as isize, Relaxed);
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        HELD.fetch_sub(layout.size() as isize, Relaxed);
        unsafe { System.dealloc(at, layout) }
    }

    // Handed through as well, since allocating anew and copying takes longer
    unsafe fn realloc(&self, at: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        HELD.fetch_add(size as isize - layout.size() as isize, Relaxed);
        unsafe { System.realloc(at, layout, size) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        HELD.fetch_add(layout.size() as isize, Relaxed);
        unsafe { System.alloc_zeroed(layout) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;

/// Bytes of memory held.
fn memory() -> f64 {
    HELD.load(Relaxed) as f64
}
