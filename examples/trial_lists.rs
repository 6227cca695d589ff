//! Trial of the weighing on lists as they are used: labels that name artists of a list, and others of it that were
//! taken off it before, so that real-looking names stand on no list.
//!
//! ```sh
//! cargo run --release --example trial_lists -- FOLDER [LIST artists] [LABELS 300] [SEED 1] [tell]
//! ```
//! A third of the labels name initials or the surname alone, half bear a year, two in three name someone on the list;
//! one letter in fifty is misread. Prints how often the right row stands first, how often "on none" is the likeliest
//! for those taken off, the calibration error over ten bins, and the times. `tell` prints what goes wrong.

use dorso::gazetteer::{Entry, Gazetteer, List, Place};
use dorso::measure::chances::{self, Stated};
use dorso::proposals::Index;
use rand::{Rng, SeedableRng, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;
use std::path::Path;
use std::time::Instant;

/// One row in this many is taken off the list.
const OFF: usize = 10;

const TITLES: [&str; 12] = [
    "The Mill at Dusk",
    "Boats at Low Tide",
    "Portrait of a Lady",
    "Harvest near Wexcombe",
    "Still Life with Pears",
    "The Old Bridge",
    "A Winter Road",
    "Cattle in a Landscape",
    "Study of a Head",
    "Evening, Sallow Bay",
    "The Market Place",
    "Interior with a Lamp",
];

/// How a label names its artist.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Form {
    Full,
    Initials,
    Surname,
}

/// A label and the key of whom it names.
struct Label {
    text: String,
    form: Form,
    key: Option<String>,
}

fn named(entry: &Entry, form: Form) -> String {
    let words: Vec<&str> = entry.name.split(' ').collect();
    let small = |w: &str| w.chars().next().is_some_and(char::is_lowercase);
    let from = words.iter().position(|w| small(w));
    let last = from
        .filter(|i| *i > 0)
        .unwrap_or(words.len().saturating_sub(1));
    let surname = words[last..].join(" ");
    match form {
        Form::Full => entry.name.clone(),
        Form::Surname => surname,
        Form::Initials => {
            let initials = words[..last].iter().filter_map(|w| w.chars().next());
            let initials: Vec<String> = initials.map(|c| format!("{c}.")).collect();
            format!("{} {surname}", initials.join(" "))
        }
    }
}

fn misread(text: &str, rng: &mut ChaCha8Rng) -> String {
    let other = |c: char, rng: &mut ChaCha8Rng| {
        let x = char::from(b'a' + rng.random_range(0..26));
        if c.is_uppercase() {
            x.to_ascii_uppercase()
        } else {
            x
        }
    };
    let letter =
        |c: char, rng: &mut ChaCha8Rng| match c.is_ascii_alphabetic() && rng.random_bool(0.02) {
            true => other(c, rng),
            false => c,
        };
    text.chars().map(|c| letter(c, rng)).collect()
}

fn label(entry: &Entry, listed: bool, rng: &mut ChaCha8Rng) -> Label {
    let form = match rng.random_range(0..6) {
        0 => Form::Initials,
        1 => Form::Surname,
        _ => Form::Full,
    };
    let mut name = named(entry, form);
    if rng.random_bool(0.3) {
        name = name.to_uppercase();
    }
    let title = TITLES.choose(rng).copied().unwrap_or_default();
    let mut lines = match rng.random_range(0..4) {
        0 => vec![name, title.to_string()],
        1 => vec![format!("Artist: {name}"), format!("Title: {title}")],
        2 => vec![format!("\"{title}\""), format!("by {name}")],
        _ => vec![title.to_string(), name],
    };
    if rng.random_bool(0.5)
        && let (Some(born), died) = entry.years()
    {
        let until = died.unwrap_or(born + 60).max(born + 21);
        lines.push(rng.random_range(born + 20..=until).to_string());
    }
    Label {
        text: misread(&lines.join("\n"), rng),
        form,
        key: listed.then(|| entry.entry.clone()),
    }
}

/// The lists without every [`OFF`]th row of one, and the rows taken off.
fn parted(all: &Gazetteer, list: &str) -> (Gazetteer, Vec<Entry>, Vec<Entry>) {
    let (mut on, mut off) = (Vec::new(), Vec::new());
    let mut lists = Vec::new();
    for l in &all.lists {
        if l.name != list {
            lists.push(l.clone());
            continue;
        }
        let rows = l.entries.iter().cloned().enumerate();
        let (away, stay): (Vec<_>, Vec<_>) = rows.partition(|(i, _)| i % OFF == OFF - 1);
        on = stay.into_iter().map(|r| r.1).collect();
        off = away.into_iter().map(|r| r.1).collect();
        lists.push(List {
            entries: on.clone().into(),
            digest: None,
            ..l.clone()
        });
    }
    (Gazetteer { lists }, on, off)
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let Some(folder) = arguments.first() else {
        eprintln!("name the folder of the lists");
        std::process::exit(2);
    };
    let list = arguments.get(1).map_or("artists", String::as_str);
    let number = |i: usize, default: u64| {
        arguments
            .get(i)
            .and_then(|a| a.parse().ok())
            .unwrap_or(default)
    };
    let (count, seed) = (number(2, 300), number(3, 1));
    let tell = arguments.iter().any(|a| a == "tell");
    let all = match Place::Folder(Path::new(folder).to_path_buf()).load() {
        Ok((all, _)) => all,
        Err(e) => {
            eprintln!("{e}");
            std::process::exit(1);
        }
    };
    let (lists, on, off) = parted(&all, list);
    let began = Instant::now();
    let index = Index::new(lists);
    println!(
        "{} rows on, {} off; made ready in {:.1} s",
        on.len(),
        off.len(),
        began.elapsed().as_secs_f64()
    );
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut trial = Trial {
        tell,
        ..Trial::default()
    };
    for i in 0..count {
        let listed = i % 3 != 2;
        let Some(entry) = if listed { &on } else { &off }.choose(&mut rng) else {
            continue;
        };
        trial.ask(&index, list, &label(entry, listed, &mut rng), &entry.entry);
    }
    trial.print();
}

/// What came of the labels of one form.
#[derive(Default)]
struct Tally {
    listed: usize,
    first: usize,
    /// First, and likelier than "on none".
    said: usize,
    off: usize,
    known: usize,
    stated: Vec<Stated>,
}

#[derive(Default)]
struct Trial {
    tell: bool,
    seconds: f64,
    /// By [`Form`].
    forms: [Tally; 3],
}

impl Trial {
    /// * `truth`: key of the row that the label was made of, on the list or off it.
    fn ask(&mut self, index: &Index, list: &str, label: &Label, truth: &str) {
        let Ok(lines) = dorso::readings::from_typed(&label.text) else {
            return;
        };
        let began = Instant::now();
        let weighed = index.weigh(&lines, None);
        self.seconds += began.elapsed().as_secs_f64();
        let of = weighed.iter().find(|r| r.list == list);
        let best = of.and_then(|r| r.proposals.first());
        let unlisted = of.map_or(1.0, |r| r.unlisted);
        let listed = label.key.is_some();
        let right = best.is_some_and(|b| Some(&b.entry) == label.key.as_ref());
        let said = best.is_some_and(|b| b.probability > unlisted);
        let t = &mut self.forms[label.form as usize];
        t.listed += usize::from(listed);
        t.first += usize::from(right);
        t.said += usize::from(right && said);
        t.off += usize::from(!listed);
        t.known += usize::from(!listed && !said);
        t.stated.extend(best.map(|b| Stated {
            chance: b.probability,
            right,
        }));
        t.stated.push(Stated {
            chance: unlisted,
            right: !listed,
        });
        if self.tell && (listed && !right || !listed && said) {
            let text = label.text.replace('\n', " / ");
            let best = best.map_or("nobody".to_string(), |b| {
                format!("{} {:.2}", b.entry, b.probability)
            });
            println!("  {text} | true {truth} | said {best}, none {unlisted:.2}");
        }
    }

    fn print(&self) {
        let mut all = Tally::default();
        for (name, t) in ["full name", "initials", "surname alone"]
            .iter()
            .zip(&self.forms)
        {
            println!("{name}: {}", told(t));
            all.listed += t.listed;
            all.first += t.first;
            all.said += t.said;
            all.off += t.off;
            all.known += t.known;
            all.stated.extend(&t.stated);
        }
        let each = self.seconds * 1e3 / (all.listed + all.off).max(1) as f64;
        println!("all: {}; {each:.1} ms a label", told(&all));
    }
}

fn told(t: &Tally) -> String {
    let share = |a: usize, b: usize| a as f64 / b.max(1) as f64;
    let error = chances::calibration_error(&t.stated, 10);
    format!(
        "first {:.3} of {}, and likelier than none {:.3}; on none known {:.3} of {}; calibration error {}",
        share(t.first, t.listed),
        t.listed,
        share(t.said, t.listed),
        share(t.known, t.off),
        t.off,
        error.map_or("-".into(), |e| format!("{e:.3}"))
    )
}
