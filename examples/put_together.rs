//! Measures what the sightings of made marks come to together, and writes what `training/fit_together.py` fits on.
//!
//! `cargo run --release --example put_together -- read FOLDER KEPT`: reads the photographs of a made folder and
//! keeps each reading as KEPT/NAME.json; those that are there already stay.
//! `-- dump FOLDER KEPT [--map none|true]`: for each mark with several sightings each row of evidence, with the
//! true line, one JSON value a line.
//! `-- measure FOLDER KEPT [--map ...] [--show]`: errors of the best sighting alone and of all together, by the
//! number of sightings; calibration; words over each picture.
//!
//! The truth beside a photograph (NAME.json) names the picture and, where it can, the mark (`of`), the same over
//! photographs. Which read mark is which true one is told by their outlines.

use dorso::back::once::{self, OnPlan};
use dorso::back::together::{self, View};
use dorso::gazetteer::Gazetteer;
use dorso::geometry::{Homography, Point, Quad, Rect};
use dorso::measure::chances::{Stated, calibration_error};
use dorso::measure::text::{self, Edits};
use dorso::proposals::Index;
use dorso::readings::{Character, Reading};
use dorso::run::ReadPhotograph;
use dorso::{photograph, readings, run};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::Path;

#[allow(dead_code)]
mod backs;

use backs::{Fallible, photographs};

fn main() -> Fallible<()> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let has = |flag: &str| args.iter().any(|a| a == flag);
    let [what, folder, kept] = args
        .get(..3)
        .ok_or("see the head of examples/put_together.rs")?
    else {
        return Err("see the head of examples/put_together.rs".into());
    };
    let (folder, kept) = (Path::new(folder), Path::new(kept));
    match what.as_str() {
        "read" => read(folder, kept),
        "dump" => dump(&marks(folder, kept)?, !has("none")),
        "measure" => measure(&marks(folder, kept)?, !has("none"), has("--show")),
        _ => Err("see the head of examples/put_together.rs".into()),
    }
}

fn read(folder: &Path, kept: &Path) -> Fallible<()> {
    std::fs::create_dir_all(kept)?;
    let recognisers = readings::recognisers()?;
    let index = Index::new(Gazetteer::default());
    for file in photographs(folder)? {
        let to = kept
            .join(file.file_stem().unwrap_or_default())
            .with_extension("json");
        if to.exists() {
            continue;
        }
        let photo = photograph::open(&file)?;
        let read = run::read_photograph(&photo, &recognisers, &index)?;
        std::fs::write(&to, serde_json::to_string(&read)?)?;
        eprintln!("{}", to.display());
    }
    Ok(())
}

/// What one photograph shows of a true mark, as read.
struct Sighting {
    photo: String,
    reading: Reading,
    outline: Quad,
    truth: Quad,
    /// From px of the photograph to the back, tenths of a mm.
    to_back: Option<Homography>,
}

/// A true mark with its sightings.
struct Mark {
    picture: String,
    name: String,
    lines: Vec<String>,
    /// Those that the maker calls illegible on every photograph, as they were made.
    illegible: Vec<String>,
    sightings: Vec<Sighting>,
}

impl Mark {
    /// The sightings as they are put together; `mapped`: with their places known.
    fn views(&self, mapped: bool) -> Vec<View<'_>> {
        let first = self.sightings[0].truth;
        let view = |s: &'_ Sighting| {
            let map = Homography::between(&s.truth, &first).filter(|_| mapped);
            (s.outline, map)
        };
        let all = self.sightings.iter().map(|s| {
            let (outline, to_first) = view(s);
            View {
                reading: &s.reading,
                outline,
                to_first,
            }
        });
        all.collect()
    }
}

fn quad(value: &Value) -> Fallible<Quad> {
    let corner = |k: usize| -> Option<Point> {
        Some(Point::new(value[k][0].as_f64()?, value[k][1].as_f64()?))
    };
    let corners: Option<Vec<Point>> = (0..4).map(corner).collect();
    let corners: [Point; 4] = corners
        .and_then(|c| c.try_into().ok())
        .ok_or("an outline without four corners")?;
    Ok(Quad(corners))
}

/// The map from px to the back, tenths of a mm, of the one from mm to px that the truth tells.
fn to_back(map: &Value) -> Option<Homography> {
    let numbers: Option<Vec<f64>> = map.as_array()?.iter().map(Value::as_f64).collect();
    let map = Homography(numbers?.try_into().ok()?);
    let back = Rect::new(0, 0, 500, 500).quad();
    let tenths = Rect::new(0, 0, 5000, 5000).quad();
    Homography::between(&Quad(back.0.map(|p| map.apply(p))), &tenths)
}

/// What the sightings of each mark come to together, each line told once on a picture.
fn put_together(marks: &[Mark], mapped: bool) -> Vec<Reading> {
    let mut all: Vec<Reading> = marks
        .iter()
        .map(|m| together::together(&m.views(mapped)))
        .collect();
    let mut pictures: BTreeMap<&str, Vec<OnPlan<'_>>> = BTreeMap::new();
    for (mark, reading) in marks.iter().zip(&mut all) {
        if let Some(to_plan) = mark.sightings[0].to_back.filter(|_| mapped) {
            pictures
                .entry(&mark.picture)
                .or_default()
                .push(OnPlan { reading, to_plan });
        }
    }
    for mut marks in pictures.into_values() {
        once::once(&mut marks);
    }
    all
}

/// Every true mark of a folder with the sightings that were read.
fn marks(folder: &Path, kept: &Path) -> Fallible<Vec<Mark>> {
    let mut all: BTreeMap<(String, String), (Vec<Seen>, Vec<Sighting>)> = BTreeMap::new();
    for file in photographs(folder)? {
        let name = file
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let Ok(read) = std::fs::read_to_string(kept.join(&name).with_extension("json")) else {
            continue;
        };
        let read: ReadPhotograph = serde_json::from_str(&read)?;
        let truth: Value =
            serde_json::from_str(&std::fs::read_to_string(file.with_extension("json"))?)?;
        let to_back = to_back(&truth["map"]);
        let picture = truth["picture"].as_str().unwrap_or(&name).to_string();
        for m in truth["marks"].as_array().ok_or("a truth without marks")? {
            let lines = m["lines"].as_array().ok_or("a mark without lines")?;
            let seen: Vec<Seen> = lines.iter().map(Seen::of).collect();
            let made: Vec<&str> = seen.iter().map(|s| s.made.as_str()).collect();
            let of = m["of"].as_str().map_or(made.join("/"), str::to_string);
            let outline = quad(&m["outline"])?;
            // A mark cut off by the edge of the photograph lies by its whole outline
            let whole = m.get("uncut").map_or(Ok(outline), quad)?;
            let entry = all.entry((picture.clone(), of)).or_default();
            entry.0.extend(seen);
            let share = |o: &Quad| o.overlap(&outline) / o.area().max(1.0);
            let best = read
                .marks
                .iter()
                .filter(|r| share(&r.outline) >= 0.6 && r.outline.iou(&outline) >= 0.3)
                .max_by(|a, b| {
                    a.outline
                        .overlap(&outline)
                        .total_cmp(&b.outline.overlap(&outline))
                });
            if let Some(best) = best {
                entry.1.push(Sighting {
                    photo: name.clone(),
                    reading: best.reading.clone(),
                    outline: best.outline,
                    truth: whole,
                    to_back,
                });
            }
        }
    }
    let marks = all
        .into_iter()
        .map(|((picture, name), (seen, sightings))| Mark {
            picture,
            name,
            illegible: never(&seen),
            lines: shown(seen),
            sightings,
        });
    Ok(marks.filter(|m| !m.sightings.is_empty()).collect())
}

/// A true line as one photograph shows it.
struct Seen {
    made: String,
    text: String,
    legible: bool,
}

impl Seen {
    fn of(line: &Value) -> Seen {
        let get = |key: &str| line[key].as_str().unwrap_or_default().to_string();
        Seen {
            made: get("as_made"),
            text: get("text"),
            legible: line["legible"].as_bool().unwrap_or(true),
        }
    }
}

/// The lines that no photograph shows legibly.
fn never(seen: &[Seen]) -> Vec<String> {
    let legible = |made: &str| seen.iter().any(|s| s.legible && s.made == made);
    let mut all: Vec<String> = seen.iter().map(|s| s.made.clone()).collect();
    all.sort_unstable();
    all.dedup();
    all.retain(|made| !legible(made));
    all
}

/// What the photographs of a mark show of its lines together: of each line all that any of them shows.
fn shown(seen: Vec<Seen>) -> Vec<String> {
    let mut lines: Vec<(String, Vec<bool>)> = Vec::new();
    for s in seen.iter().filter(|s| s.legible) {
        let made: Vec<char> = s.made.chars().collect();
        let at = match lines.iter().position(|l| l.0 == s.made) {
            Some(at) => at,
            None => {
                lines.push((s.made.clone(), vec![false; made.len()]));
                lines.len() - 1
            }
        };
        common(&made, &s.text.chars().collect::<Vec<_>>(), &mut lines[at].1);
    }
    let told = |(made, there): (String, Vec<bool>)| {
        let signs = made.chars().zip(there);
        let text: String = signs
            .map(|(c, there)| if there { c } else { ' ' })
            .collect();
        text::normal(&text)
    };
    lines
        .into_iter()
        .map(told)
        .filter(|l| !l.is_empty())
        .collect()
}

/// Marks the signs of `made` that stand in `text`, in order (longest common subsequence).
fn common(made: &[char], text: &[char], there: &mut [bool]) {
    let (n, m) = (made.len(), text.len());
    let mut best = vec![vec![0usize; m + 1]; n + 1];
    for i in (0..n).rev() {
        for j in (0..m).rev() {
            best[i][j] = match made[i] == text[j] {
                true => best[i + 1][j + 1] + 1,
                false => best[i + 1][j].max(best[i][j + 1]),
            };
        }
    }
    let (mut i, mut j) = (0, 0);
    while i < n && j < m {
        if made[i] == text[j] {
            there[i] = true;
            (i, j) = (i + 1, j + 1);
        } else if best[i + 1][j] >= best[i][j + 1] {
            i += 1;
        } else {
            j += 1;
        }
    }
}

fn dump(marks: &[Mark], mapped: bool) -> Fallible<()> {
    for (m, mark) in marks.iter().enumerate() {
        if mark.sightings.len() < 2 {
            continue;
        }
        let rows = together::evidence(&mark.views(mapped));
        let texts: Vec<String> = rows.iter().map(best).collect();
        let pairs = text::pair_lines(&mark.lines, &texts);
        let beside = marks
            .iter()
            .enumerate()
            .filter(|(o, b)| *o != m && b.picture == mark.picture);
        let beside: Vec<&String> = beside
            .flat_map(|(_, b)| b.lines.iter().chain(&b.illegible))
            .chain(&mark.illegible)
            .collect();
        for (r, row) in rows.iter().enumerate() {
            let line = pairs.iter().position(|p| *p == Some(r));
            let line = line.map(|l| mark.lines[l].clone());
            let out = json!({
                "picture": mark.picture,
                "mark": mark.name,
                "truth": line,
                "elsewhere": beside.iter().any(|l| said(&texts[r], l)),
                "row": row
            });
            println!("{out}");
        }
    }
    Ok(())
}

/// The likeliest signs of a row, as any sighting reads them.
fn best(row: &together::Evidence) -> String {
    let sign = |slot: &Vec<Option<Vec<(String, f64)>>>| {
        let all = slot.iter().flatten().flatten();
        let best = all.max_by(|a, b| a.1.total_cmp(&b.1));
        best.map_or(String::new(), |s| s.0.clone())
    };
    row.slots.iter().map(sign).collect()
}

/// Whether most of a text stands, in order, in a true line.
fn said(text: &str, line: &str) -> bool {
    let letters = |s: &str| {
        s.chars()
            .filter(|c| c.is_alphanumeric())
            .collect::<Vec<_>>()
    };
    let (own, line) = (letters(text), letters(line));
    let mut there = vec![false; own.len()];
    common(&own, &line, &mut there);
    there.iter().filter(|t| **t).count() as f64 >= 0.7 * own.len() as f64
}

fn texts(reading: &Reading) -> Vec<String> {
    reading.lines.iter().map(|l| l.text.clone()).collect()
}

fn letters(reading: &Reading) -> impl Iterator<Item = &Character> {
    let signs = reading.lines.iter().flat_map(|l| &l.characters);
    signs.filter(|c| c.text != " " && !c.is_stretch())
}

fn mean_chance(reading: &Reading) -> f64 {
    let (sum, n) = letters(reading).fold((0.0, 0), |(s, n), c| (s + c.confidence, n + 1));
    sum / f64::from(n.max(1))
}

/// Errors over marks with so many sightings.
#[derive(Default)]
struct Sums {
    marks: usize,
    surest: Edits,
    most: Edits,
    best: Edits,
    mean: f64,
    together: Edits,
    stated: Vec<Stated>,
    alone: Vec<Stated>,
}

fn measure(marks: &[Mark], mapped: bool, show: bool) -> Fallible<()> {
    let mut sums: BTreeMap<String, Sums> = BTreeMap::new();
    let put = put_together(marks, mapped);
    let several = marks
        .iter()
        .zip(&put)
        .filter(|(m, _)| m.sightings.len() > 1);
    for (mark, all) in several {
        let errors = |r: &Reading| {
            let read = backs::counted(texts(r), &mark.lines, &mark.illegible);
            text::characters_by_line(&mark.lines, &read)
        };
        let single: Vec<Edits> = mark.sightings.iter().map(|s| errors(&s.reading)).collect();
        let of = |key: &dyn Fn(&Reading) -> f64| {
            let scored = mark.sightings.iter().zip(&single);
            let best = scored.max_by(|a, b| key(&a.0.reading).total_cmp(&key(&b.0.reading)));
            best.map(|b| (b.0, *b.1)).ok_or("a mark without sightings")
        };
        let (surest, surest_errors) = of(&mean_chance)?;
        let (_, most) = of(&|r| letters(r).map(|c| (c.confidence - 0.3).max(0.0)).sum())?;
        let best = single
            .iter()
            .copied()
            .min_by_key(Edits::errors)
            .unwrap_or_default();
        let joint = errors(all);
        let n = mark.sightings.len();
        for key in [format!("{n} sightings"), "all".into()] {
            let sum = sums.entry(key).or_default();
            sum.marks += 1;
            sum.surest = sum.surest.plus(surest_errors);
            sum.most = sum.most.plus(most);
            sum.best = sum.best.plus(best);
            sum.together = sum.together.plus(joint);
            sum.mean += single.iter().map(|e| e.errors() as f64).sum::<f64>() / n as f64;
            sum.stated.extend(stated(&mark.lines, all));
            sum.alone.extend(stated(&mark.lines, &surest.reading));
        }
        if show {
            println!(
                "== {} {} best {} surest {} ({}) together {}",
                mark.picture,
                mark.name,
                best.errors(),
                surest_errors.errors(),
                surest.photo,
                joint.errors()
            );
            println!("truth    {}", mark.lines.join(" / "));
            for (s, e) in mark.sightings.iter().zip(&single) {
                let all: Vec<&str> = s.reading.lines.iter().map(|l| l.leiden.as_str()).collect();
                println!(
                    "{:8.3} {} | {} ({})",
                    mean_chance(&s.reading),
                    all.join(" / "),
                    s.photo,
                    e.errors()
                );
            }
            let lines: Vec<&str> = all.lines.iter().map(|l| l.leiden.as_str()).collect();
            println!("together {}", lines.join(" / "));
        }
    }
    for (key, s) in &sums {
        let error = |stated: &[Stated]| calibration_error(stated, 10).unwrap_or(f64::NAN);
        println!(
            "{key}: {} marks, {} letters; errors surest {} most {} best {} mean {:.0} together {} = {:.3} of surest, {:.3} of most; calibration {:.3} (alone {:.3})",
            s.marks,
            s.surest.length,
            s.surest.errors(),
            s.most.errors(),
            s.best.errors(),
            s.mean,
            s.together.errors(),
            s.together.errors() as f64 / s.surest.errors().max(1) as f64,
            s.together.errors() as f64 / s.most.errors().max(1) as f64,
            error(&s.stated),
            error(&s.alone),
        );
    }
    pictures(marks, &put)
}

/// F1 over the words of each picture: of its best photograph alone, and of all together.
fn pictures(marks: &[Mark], put: &[Reading]) -> Fallible<()> {
    let mut by: BTreeMap<&str, Vec<(&Mark, &Reading)>> = BTreeMap::new();
    for (mark, all) in marks.iter().zip(put) {
        by.entry(&mark.picture).or_default().push((mark, all));
    }
    let (mut alone, mut all) = (0.0, 0.0);
    for marks in by.values() {
        let truth: Vec<String> = marks.iter().flat_map(|m| m.0.lines.clone()).collect();
        let truth = truth.join("\n");
        let mut photos: BTreeMap<&str, String> = BTreeMap::new();
        for s in marks.iter().flat_map(|m| &m.0.sightings) {
            let text = photos.entry(&s.photo).or_default();
            *text += &(texts(&s.reading).join("\n") + "\n");
        }
        let best = photos
            .values()
            .map(|t| text::word_f1(&truth, t))
            .fold(0.0, f64::max);
        let joint = marks.iter().flat_map(|m| texts(m.1));
        alone += best;
        all += text::word_f1(&truth, &joint.collect::<Vec<_>>().join("\n"));
    }
    let n = by.len().max(1) as f64;
    println!(
        "{} pictures; words F1 of the best photograph {:.3}, together {:.3}",
        by.len(),
        alone / n,
        all / n
    );
    Ok(())
}

/// The chance of each letter read, and whether it is right by the least edits of its line against the truth.
fn stated(truth: &[String], reading: &Reading) -> Vec<Stated> {
    let read = texts(reading);
    let pairs = text::pair_lines(truth, &read);
    let mut out = Vec::new();
    for (l, line) in reading.lines.iter().enumerate() {
        let of = pairs.iter().position(|p| *p == Some(l));
        let of: Vec<char> = of.map_or(Vec::new(), |t| text::normal(&truth[t]).chars().collect());
        let signs: Vec<&Character> = line.characters.iter().filter(|c| !c.is_lost()).collect();
        let right = right(&of, &signs);
        let said = signs.iter().zip(right).filter(|(c, _)| c.text != " ");
        out.extend(said.map(|(c, right)| Stated {
            chance: c.confidence,
            right,
        }));
    }
    out
}

/// Which signs are right in a least-cost alignment with the truth.
fn right(truth: &[char], read: &[&Character]) -> Vec<bool> {
    let (n, m) = (truth.len(), read.len());
    let same = |i: usize, j: usize| read[j].text.chars().eq([truth[i]]);
    let mut cost = vec![vec![0usize; m + 1]; n + 1];
    for i in 0..=n {
        for j in 0..=m {
            cost[i][j] = match (i, j) {
                (0, j) => j,
                (i, 0) => i,
                (i, j) => (cost[i - 1][j - 1] + usize::from(!same(i - 1, j - 1)))
                    .min(cost[i - 1][j] + 1)
                    .min(cost[i][j - 1] + 1),
            };
        }
    }
    let mut out = vec![false; m];
    let (mut i, mut j) = (n, m);
    while i > 0 && j > 0 {
        let fits = same(i - 1, j - 1);
        if cost[i][j] == cost[i - 1][j - 1] + usize::from(!fits) {
            out[j - 1] = fits;
            (i, j) = (i - 1, j - 1);
        } else if cost[i][j] == cost[i - 1][j] + 1 {
            i -= 1;
        } else {
            j -= 1;
        }
    }
    out
}
