//! Measures what became of whole pictures: whether what shows one mark was joined, and whether each mark
//! is told once and well read.
//!
//! ```text
//! score_backs FOLDER KEPT [--true-plan] [--show]   what `dump_joins read` kept is joined and put together here
//! score_backs FOLDER KEPT --bears                  a row for each mark, for fitting whether it bears anything
//! score_backs FOLDER KEPT --told DIR               DIR/PICTURE.json is what `dorso read --json` printed of FOLDER/PICTURE
//! ```
//!
//! FOLDER as made by `make_samples --pictures`. KEPT is used for the best single photographs either way.

use dorso::back::bears;
use dorso::back::group::{self, Pair, Said};
use dorso::back::joins::{self, Join};
use dorso::back::plan::Plan;
use dorso::back::together::{View, together};
use dorso::geometry::{Homography, Point, Quad, Rect};
use dorso::measure::chances::{Stated, by_luck, calibration_error};
use dorso::measure::text::{self, Edits};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

#[allow(dead_code)]
mod backs;

use backs::{Fallible, Picture, Sighting};

const BINS: usize = 10;

/// A mark as told: its sightings by their places in the picture's list, and its lines.
struct Told {
    sightings: Vec<usize>,
    lines: Vec<String>,
    /// Greatest chance of lettering, how much is read, photographs that show the place bare.
    measures: [f64; 3],
}

impl Told {
    fn bears(&self) -> f64 {
        let [lettering, read, bare_on] = self.measures;
        bears::chance(lettering, read, bare_on as u32)
    }
}

/// What is counted over pictures.
#[derive(Default)]
struct Counts {
    pictures: usize,
    photos: usize,
    sightings: usize,
    /// Pairs that show one mark; of these joined; all joined; of these rightly.
    pairs: [usize; 4],
    moved: [usize; 2],
    told: usize,
    told_of_none: usize,
    unlikely: usize,
    marks: usize,
    stated: Vec<Stated>,
    /// Words F1: of the picture, of its best photograph by the picture's words, by that photograph's own.
    words: Vec<[f64; 3]>,
    /// Character errors of marks with three sightings or more: together, of the best alone, of the mean one.
    characters: [Edits; 2],
    alone: Vec<f64>,
    often: usize,
}

fn main() -> Fallible<()> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [folder, kept] = args
        .get(..2)
        .ok_or("score_backs FOLDER KEPT [--true-plan] [--show] [--told DIR]")?
    else {
        return Err("score_backs FOLDER KEPT".into());
    };
    let has = |flag: &str| args.iter().any(|a| a == flag);
    let told = args
        .iter()
        .position(|a| a == "--told")
        .and_then(|i| args.get(i + 1));
    let (mut all, mut clear) = (Counts::default(), Counts::default());
    for picture in backs::pictures(Path::new(folder), Path::new(kept))? {
        if picture.photos.len() < 2 {
            continue;
        }
        let truly = picture.true_plan();
        let plan = match (&picture.laid, has("--true-plan")) {
            (_, true) => &truly,
            (Some(laid), _) => laid,
            (None, _) => {
                eprintln!("{}: not laid yet, passed over", picture.name);
                continue;
            }
        };
        let sightings = picture.sightings();
        let found = joins::joins(&picture.shown(&sightings), plan);
        let marks = match told {
            None => grouped(&picture, &sightings, &found, plan),
            Some(dir) => from_document(
                &picture,
                &sightings,
                &Path::new(dir).join(format!("{}.json", picture.name)),
            )?,
        };
        if has("--bears") {
            for m in &marks {
                let shows = m.sightings.iter().any(|&i| sightings[i].of.is_some());
                let [lettering, read, bare_on] = m.measures;
                println!(
                    "{},{},{lettering:.5},{read:.3},{bare_on}",
                    picture.name,
                    u8::from(shows)
                );
            }
            continue;
        }
        let all_found = marks.len();
        let marks: Vec<Told> = marks
            .into_iter()
            .filter(|m| bears::is_told(m.bears(), !m.lines.is_empty()))
            .collect();
        let mut sets = vec![&mut all];
        if picture.photos[0].grade != "hard" {
            sets.push(&mut clear);
        }
        for set in sets {
            set.unlikely += all_found - marks.len();
            set.count(&picture, &sightings, &found, &marks);
        }
        if has("--show") {
            compare(&picture, &sightings, &marks);
            show(&picture, &sightings, &found, &marks);
        }
    }
    if has("--bears") {
        return Ok(());
    }
    all.print("all");
    clear.print("easy and medium");
    Ok(())
}

/// Sightings put together by the joins, each mark read from all of its own.
fn grouped(picture: &Picture, sightings: &[Sighting], joins: &[Join], plan: &Plan) -> Vec<Told> {
    let shown: Vec<group::Shown> = (0i64..)
        .zip(sightings)
        .map(|(id, s)| group::Shown {
            id,
            photograph: s.photo as i64,
        })
        .collect();
    let pairs = joins.iter().map(|j| j.clone().told_by(|n| n as i64));
    let pairs: Vec<Pair> = pairs.collect();
    let mut marks = group::group(&shown, &pairs, &Said::default()).marks;
    let pieces = joins::pieces(&picture.shown(sightings), plan, joins);
    // A piece is told with its mark.
    marks.retain(|m| match m.members[..] {
        [(only, _)] => pieces.iter().all(|p| p.piece as i64 != only),
        _ => true,
    });
    let sizes: Vec<(u32, u32)> = picture
        .photos
        .iter()
        .map(|p| (p.read.width, p.read.height))
        .collect();
    let bare_on = joins::bare_on(&picture.shown(sightings), &sizes, plan);
    let told = |mark: &group::Group| {
        let members: Vec<usize> = mark.members.iter().map(|m| m.0 as usize).collect();
        let first = sightings[members[0]].photo;
        let views: Vec<View<'_>> = members
            .iter()
            .map(|&m| {
                let (s, read) = (&sightings[m], &picture.photos[sightings[m].photo].read);
                View {
                    reading: &read.marks[s.mark].reading,
                    outline: read.marks[s.mark].outline,
                    to_first: to_first(plan, s.photo, first, (read.width, read.height)),
                }
            })
            .collect();
        let seen = |m: &usize| {
            picture.photos[sightings[*m].photo].read.marks[sightings[*m].mark].lettering
        };
        let reading = together(&views);
        let bare = members.iter().map(|m| bare_on[*m]).min().unwrap_or(0);
        Told {
            measures: [
                members.iter().map(seen).fold(0.0, f64::max),
                bears::read(&reading),
                f64::from(bare),
            ],
            lines: lines(&reading.lines),
            sightings: members,
        }
    };
    marks.iter().map(told).collect()
}

fn lines(of: &[dorso::readings::Line]) -> Vec<String> {
    let texts = of.iter().map(|l| text::normal(&l.text));
    texts.filter(|t| !t.is_empty()).collect()
}

/// From px of a photograph to those of another, by the plan.
fn to_first(plan: &Plan, of: usize, first: usize, size: (u32, u32)) -> Option<Homography> {
    let (a, b) = (plan.places[of].as_ref()?, plan.places[first].as_ref()?);
    if a.face != b.face {
        return None;
    }
    let frame = Rect::new(0, 0, size.0, size.1).quad();
    let on_plan = |q: &Quad, map: &Homography| Quad(q.0.map(|p| map.apply(p)));
    let back = Homography::between(&on_plan(&frame, &b.to_plan), &frame)?;
    Homography::between(&frame, &on_plan(&on_plan(&frame, &a.to_plan), &back))
}

/// The marks of a document of format `dorso.readings/2`; its sightings are found among those kept by
/// their outlines.
fn from_document(picture: &Picture, sightings: &[Sighting], file: &Path) -> Fallible<Vec<Told>> {
    let text = std::fs::read_to_string(file).map_err(|e| format!("{}: {e}", file.display()))?;
    let told: Value = serde_json::from_str(&text)?;
    let mut of: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for photo in told["photos"].as_array().into_iter().flatten() {
        let name = Path::new(photo["file"].as_str().unwrap_or_default());
        let name = name.file_stem().unwrap_or_default().to_string_lossy();
        for m in photo["marks"].as_array().into_iter().flatten() {
            let corner = |k: usize| {
                Some(Point::new(
                    m["outline"][k][0].as_f64()?,
                    m["outline"][k][1].as_f64()?,
                ))
            };
            let corners: Option<Vec<Point>> = (0..4).map(corner).collect();
            let corners: [Point; 4] = corners
                .and_then(|c| c.try_into().ok())
                .ok_or("an outline without corners")?;
            let outline = Quad(corners);
            let own = sightings
                .iter()
                .enumerate()
                .filter(|(_, s)| picture.photos[s.photo].name == name);
            let likeness = |s: &Sighting| {
                picture.photos[s.photo].read.marks[s.mark]
                    .outline
                    .iou(&outline)
            };
            let best = own.max_by(|a, b| likeness(a.1).total_cmp(&likeness(b.1)));
            if let (Some((i, _)), Some(mark)) = (best, m["mark"].as_str()) {
                of.entry(mark).or_default().push(i);
            }
        }
    }
    let marks = told["marks"]
        .as_array()
        .ok_or_else(|| format!("{}: no list of marks", file.display()))?;
    let mark = |m: &Value| {
        let texts = m["lines"].as_array().into_iter().flatten();
        Told {
            sightings: of
                .get(m["mark"].as_str().unwrap_or_default())
                .cloned()
                .unwrap_or_default(),
            lines: texts
                .filter_map(|l| Some(text::normal(l["text"].as_str()?)))
                .collect(),
            measures: [1.0, 1.0, 0.0],
        }
    };
    Ok(marks.iter().map(mark).collect())
}

impl Counts {
    fn count(&mut self, picture: &Picture, sightings: &[Sighting], joins: &[Join], marks: &[Told]) {
        let truth = picture.truth();
        self.pictures += 1;
        self.photos += picture.photos.len();
        self.sightings += sightings.len();
        self.marks += truth.len();
        self.told += marks.len();
        let shows = |m: &&Told| m.sightings.iter().any(|&i| sightings[i].of.is_some());
        self.told_of_none += marks.len() - marks.iter().filter(shows).count();
        self.pairs(picture, sightings, marks);
        for j in joins {
            if let Some(right) = picture.same(&sightings[j.a], &sightings[j.b]) {
                self.stated.push(Stated {
                    chance: j.chance,
                    right,
                });
            }
        }
        self.reading(picture, sightings, marks, &truth);
    }

    fn pairs(&mut self, picture: &Picture, sightings: &[Sighting], marks: &[Told]) {
        let mut of = vec![usize::MAX; sightings.len()];
        for (n, m) in marks.iter().enumerate() {
            m.sightings.iter().for_each(|&i| of[i] = n);
        }
        for a in 0..sightings.len() {
            for b in a + 1..sightings.len() {
                let (x, y) = (&sightings[a], &sightings[b]);
                let joined = of[a] == of[b] && of[a] != usize::MAX;
                if x.photo == y.photo {
                    continue;
                }
                let lesser = x.lesser || y.lesser;
                if x.of.is_some() && x.of == y.of && x.moved != y.moved && !lesser {
                    self.moved[0] += 1;
                    self.moved[1] += usize::from(joined);
                    continue;
                }
                let Some(same) = picture.same(x, y) else {
                    continue;
                };
                self.pairs[0] += usize::from(same);
                self.pairs[1] += usize::from(same && joined);
                self.pairs[2] += usize::from(joined);
                self.pairs[3] += usize::from(joined && same);
            }
        }
    }

    fn reading(
        &mut self,
        picture: &Picture,
        sightings: &[Sighting],
        marks: &[Told],
        truth: &BTreeMap<String, Vec<String>>,
    ) {
        let joined =
            |lines: &mut dyn Iterator<Item = &String>| lines.cloned().collect::<Vec<_>>().join(" ");
        let legible: Vec<String> = truth.values().flatten().cloned().collect();
        let faint = picture.illegible();
        let counted = |read: Vec<String>, of: &[String]| backs::counted(read, of, &faint);
        let all = joined(&mut legible.iter());
        let said = marks.iter().flat_map(|m| m.lines.clone()).collect();
        let said = joined(&mut counted(said, &legible).iter());
        let single = picture.photos.iter().map(|p| {
            let read: Vec<String> = p
                .read
                .marks
                .iter()
                .flat_map(|m| lines(&m.reading.lines))
                .collect();
            let read = counted(read, &legible).join(" ");
            [
                text::word_f1(&all, &read),
                text::word_f1(&p.lines.join(" "), &read),
            ]
        });
        let best = single.fold([0.0f64; 2], |b, s| [b[0].max(s[0]), b[1].max(s[1])]);
        self.words
            .push([text::word_f1(&all, &said), best[0], best[1]]);
        for (of, true_lines) in truth {
            let Some((told, mine)) = telling(marks, sightings, of) else {
                continue;
            };
            let photos: BTreeSet<usize> = mine.iter().map(|&i| sightings[i].photo).collect();
            if photos.len() < 3 {
                continue;
            }
            let alone = mine.iter().map(|&i| {
                let read = &picture.photos[sightings[i].photo].read.marks[sightings[i].mark];
                let read = counted(lines(&read.reading.lines), true_lines);
                text::characters_by_line(true_lines, &read)
            });
            let alone: Vec<Edits> = alone.collect();
            let Some(best) = alone.iter().min_by(|a, b| a.rate().total_cmp(&b.rate())) else {
                continue;
            };
            self.often += 1;
            let told = counted(told.lines.clone(), true_lines);
            let together = text::characters_by_line(true_lines, &told);
            self.characters[0] = self.characters[0].plus(together);
            self.characters[1] = self.characters[1].plus(*best);
            self.alone
                .push(alone.iter().map(Edits::rate).sum::<f64>() / alone.len() as f64);
        }
    }

    fn print(&self, name: &str) {
        let share = |a: usize, b: usize| a as f64 / b.max(1) as f64;
        let [pairs, found, joined, right] = self.pairs;
        println!(
            "{name}: {} pictures, {} photographs, {} sightings",
            self.pictures, self.photos, self.sightings
        );
        println!(
            "  pairs of one mark {pairs}: recall {:.3}, precision {:.3} of {joined} joined; of {} pairs with the label moved {} joined",
            share(found, pairs),
            share(right, joined),
            self.moved[0],
            self.moved[1]
        );
        println!(
            "  marks told {} ({} of them no true mark; {} more that bear nothing, likely) for {} true ones: {:.2}",
            self.told,
            self.told_of_none,
            self.unlikely,
            self.marks,
            share(self.told, self.marks)
        );
        if let Some(error) = calibration_error(&self.stated, BINS) {
            let luck = by_luck(&self.stated, BINS).map_or(0.0, |l| l.0);
            println!(
                "  calibration error of {} joins {error:.3} (by luck alone {luck:.3})",
                self.stated.len()
            );
        }
        let mean = |k: usize| {
            self.words.iter().map(|w| w[k]).sum::<f64>() / self.words.len().max(1) as f64
        };
        println!(
            "  words F1 over a picture {:.3}; of its best photograph {:.3}, by that photograph's own words {:.3}",
            mean(0),
            mean(1),
            mean(2)
        );
        let [together, best] = self.characters.map(|e| e.rate());
        let alone = self.alone.iter().sum::<f64>() / self.alone.len().max(1) as f64;
        println!(
            "  character errors of {} marks with three sightings: together {together:.4}, the best alone {best:.4} ({:.2} of it), one alone {alone:.4}",
            self.often,
            together / best.max(1e-9)
        );
    }
}

/// The told mark that holds most of the sightings of a true one, and those sightings.
fn telling<'a>(
    marks: &'a [Told],
    sightings: &[Sighting],
    of: &str,
) -> Option<(&'a Told, Vec<usize>)> {
    let mine: Vec<usize> = (0..sightings.len())
        .filter(|&i| sightings[i].of.as_deref() == Some(of))
        .collect();
    let held = |m: &&Told| m.sightings.iter().filter(|i| mine.contains(i)).count();
    Some((marks.iter().max_by_key(held)?, mine))
}

/// Prints the marks that are told worse than their best sighting tells them alone.
fn compare(picture: &Picture, sightings: &[Sighting], marks: &[Told]) {
    for (of, true_lines) in picture.truth() {
        let Some((told, mine)) = telling(marks, sightings, &of) else {
            continue;
        };
        let together = text::characters_by_line(&true_lines, &told.lines);
        for i in mine {
            let read = &picture.photos[sightings[i].photo].read.marks[sightings[i].mark];
            let alone = lines(&read.reading.lines);
            let errors = text::characters_by_line(&true_lines, &alone);
            if errors.errors() + 2 < together.errors() {
                println!(
                    "  worse {} {of}: {} | alone, {}: {} | truth {}",
                    picture.name,
                    told.lines.join(" / "),
                    picture.photos[sightings[i].photo].name,
                    alone.join(" / "),
                    true_lines.join(" / ")
                );
            }
        }
    }
}

/// Prints what went wrong.
fn show(picture: &Picture, sightings: &[Sighting], joins: &[Join], marks: &[Told]) {
    let label = |i: usize| {
        let s = &sightings[i];
        let photo = &picture.photos[s.photo];
        format!(
            "{}:{}:{}",
            photo.name,
            photo.read.marks[s.mark].mark,
            s.of.as_deref().unwrap_or("-")
        )
    };
    for j in joins {
        let same = picture.same(&sightings[j.a], &sightings[j.b]);
        if same.is_some_and(|s| s != (j.chance >= 0.5)) {
            println!("  {:.3} {} {}: {}", j.chance, label(j.a), label(j.b), j.why);
        }
    }
    for m in marks {
        let names: Vec<String> = m.sightings.iter().map(|&i| label(i)).collect();
        println!("  told {} | {}", names.join(" "), m.lines.join(" / "));
    }
}
