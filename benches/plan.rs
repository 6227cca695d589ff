//! Photographs placed on a ground, beside OpenCV's SIFT or ORB with RANSAC on the same photographs in
//! the same run.
//!
//! `cargo bench --bench plan -- FOLDER...`, FOLDER as `make_samples --seed N --pictures M --out FOLDER`
//! writes it: a folder for each picture. The peer runs in Python (`benches/matcher.py`, by the interpreter in
//! PYTHON or `python3`); where it can't be run the bench says so and prints its own figures alone.
//!
//! The ground is the picture's whole view with most px that is upright in an even light (the first of the
//! picture, where it is a whole view); each other photograph is to be placed on it. Wrong: more than 2% of
//! the ground's width off (root of the mean square over what the ground shows). Seconds are those of
//! features and fit, without decoding; processor seconds count all cores.

use dorso::back::plan::{Features, Plan, features, lay};
use dorso::geometry::{Homography, Point};
use dorso::photograph;
use serde_json::{Value, json};
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::Instant;

/// Error, of the ground's width, from which a photograph is wrongly placed.
const WRONG: f64 = 0.02;

struct Photo {
    file: PathBuf,
    whole: bool,
    map: Homography,
}

/// What was placed.
#[derive(Default)]
struct Tally {
    errors: Vec<f64>,
    wrong: usize,
    none: usize,
    wall: f64,
    processor: f64,
}

impl Tally {
    fn add(
        &mut self,
        photo: &Photo,
        size: (u32, u32),
        ground: (&Photo, (u32, u32)),
        told: Option<Homography>,
    ) {
        let Some(told) = told else {
            self.none += 1;
            return;
        };
        match error(photo, size, ground, &told) {
            Some(e) if e <= WRONG => self.errors.push(e),
            _ => self.wrong += 1,
        }
    }

    fn line(&self, name: &str) -> String {
        let mut e = self.errors.clone();
        e.sort_by(f64::total_cmp);
        let at = |part: f64| {
            e.get(((e.len() as f64 - 1.0) * part) as usize)
                .copied()
                .unwrap_or(f64::NAN)
        };
        format!(
            "| {name} | {} | {} | {} | {:.3}% | {:.3}% |",
            e.len() + self.wrong,
            self.wrong,
            self.none,
            100.0 * at(0.5),
            100.0 * at(0.95)
        )
    }
}

fn error(
    photo: &Photo,
    size: (u32, u32),
    ground: (&Photo, (u32, u32)),
    told: &Homography,
) -> Option<f64> {
    let true_map = ground.0.map.after(&photo.map.inverse()?)?;
    let (w, h) = (f64::from(ground.1.0), f64::from(ground.1.1));
    let (mut sum, mut n) = (0.0, 0.0);
    for k in 0..441 {
        let (u, v) = (f64::from(k % 21) / 20.0, f64::from(k / 21) / 20.0);
        let p = Point::new(u * f64::from(size.0), v * f64::from(size.1));
        let q = true_map.apply(p);
        if q.x >= 0.0 && q.y >= 0.0 && q.x <= w && q.y <= h {
            sum += (told.apply(p).distance(q) / w).powi(2);
            n += 1.0;
        }
    }
    (n > 0.0).then(|| (sum / n).sqrt())
}

fn sorted(folder: &Path) -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = fs::read_dir(folder)
        .map(|d| d.flatten().map(|e| e.path()).collect())
        .unwrap_or_default();
    all.sort();
    all
}

fn photo(file: &Path) -> Option<Photo> {
    if file.extension()? != "json" {
        return None;
    }
    let truth: Value = serde_json::from_str(&fs::read_to_string(file).ok()?).ok()?;
    let map: Vec<f64> = truth["map"]
        .as_array()?
        .iter()
        .filter_map(Value::as_f64)
        .collect();
    Some(Photo {
        file: file.with_extension("jpg"),
        whole: truth["whole_back"].as_bool()?,
        map: Homography(map.try_into().ok()?),
    })
}

/// The peer, asked line by line.
struct Peer {
    child: Child,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
    tallies: [Tally; 2],
}

impl Peer {
    fn start(what: &str) -> Option<Peer> {
        let python = std::env::var_os("PYTHON").unwrap_or_else(|| "python3".into());
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/matcher.py");
        let mut child = Command::new(&python)
            .arg(script)
            .arg(what)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .ok()?;
        let (to, mut from) = (child.stdin.take()?, BufReader::new(child.stdout.take()?));
        let mut version = String::new();
        from.read_line(&mut version).ok()?;
        if version.is_empty() {
            println!(
                "(no peer: {} can't run it; name another interpreter in PYTHON)",
                python.display()
            );
            return None;
        }
        println!("Peer: OpenCV {}, {what}", version.trim().trim_matches('"'));
        Some(Peer {
            child,
            to,
            from,
            tallies: Default::default(),
        })
    }

    fn ask(&mut self, files: &[&Path]) -> Option<Value> {
        writeln!(self.to, "{}", json!(files)).ok()?;
        let mut line = String::new();
        self.from.read_line(&mut line).ok()?;
        serde_json::from_str(&line).ok()
    }
}

fn main() {
    let folders: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| !a.starts_with("--"))
        .collect();
    if folders.is_empty() {
        println!(
            "cargo bench --bench plan -- FOLDER... (from make_samples --seed N --pictures M --out FOLDER)"
        );
        return;
    }
    let which = std::env::var("PEERS").unwrap_or_else(|_| "sift orb".into());
    let mut peers: Vec<(String, Peer)> = which
        .split_whitespace()
        .filter_map(|p| Some((p.to_string(), Peer::start(p)?)))
        .collect();
    // Close-ups, and other whole or part views.
    let mut own: [Tally; 2] = Default::default();
    let (mut laid, mut large) = (Laid::default(), Vec::new());
    for folder in folders.iter().flat_map(|f| sorted(f.as_ref())) {
        let photos: Vec<Photo> = sorted(&folder).iter().filter_map(|f| photo(f)).collect();
        if photos.len() > 1 {
            picture(&photos, &mut own, &mut peers, &mut laid, &mut large);
        }
    }
    report(&own, &mut peers, &laid, &mut large);
}

/// Whole plans: of all photographs of a picture at once.
#[derive(Default)]
struct Laid {
    tally: Tally,
    pictures: usize,
    seconds: f64,
    /// Chance told, and whether it is right.
    told: Vec<(f64, bool)>,
}

fn picture(
    photos: &[Photo],
    own: &mut [Tally; 2],
    peers: &mut [(String, Peer)],
    laid: &mut Laid,
    large: &mut Vec<f64>,
) {
    let mut found: Vec<Features> = Vec::new();
    let (mut wall, mut spent) = (Vec::new(), Vec::new());
    for p in photos {
        let Ok(seen) = photograph::open(&p.file) else {
            println!("{}: can't be opened", p.file.display());
            return;
        };
        let (start, before) = (Instant::now(), processor());
        found.push(features(&seen.picture));
        wall.push(start.elapsed().as_secs_f64());
        spent.push(processor() - before);
    }
    let size = |f: &Features| (f.width, f.height);
    if photos[0].whole {
        let ground = (&photos[0], size(&found[0]));
        for (i, p) in photos.iter().enumerate().skip(1) {
            let tally = &mut own[usize::from(p.whole)];
            let (start, before) = (Instant::now(), processor());
            let pair = lay(&[found[0].clone(), found[i].clone()]);
            let took = start.elapsed().as_secs_f64();
            tally.processor += processor() - before + spent[i];
            tally.wall += took + wall[i];
            if f64::from(found[i].width) * f64::from(found[i].height) >= 11e6 {
                large.push(took + wall[i]);
            }
            tally.add(p, size(&found[i]), ground, on_first(&pair));
        }
        own[1].wall += wall[0];
        own[1].processor += spent[0];
        let files: Vec<&Path> = photos.iter().map(|p| p.file.as_path()).collect();
        for (name, peer) in peers.iter_mut() {
            let Some(said) = peer.ask(&files) else {
                println!("({name} stopped)");
                continue;
            };
            for (i, p) in photos.iter().enumerate().skip(1) {
                let map: Option<Vec<f64>> = said["maps"][i - 1]
                    .as_array()
                    .map(|m| m.iter().filter_map(Value::as_f64).collect());
                let map = map.and_then(|m| Some(Homography(m.try_into().ok()?)));
                peer.tallies[usize::from(p.whole)].add(p, size(&found[i]), ground, map);
            }
            peer.tallies[0].wall += said["wall"].as_f64().unwrap_or(0.0);
            peer.tallies[0].processor += said["processor"].as_f64().unwrap_or(0.0);
        }
    }
    all_at_once(photos, &found, laid);
}

/// Where the second lies on the first, if both lie on one plan.
fn on_first(plan: &Plan) -> Option<Homography> {
    match (&plan.places[0], &plan.places[1]) {
        (Some(a), Some(b)) if a.chance.min(b.chance) >= 0.5 => {
            a.to_plan.inverse()?.after(&b.to_plan)
        }
        _ => None,
    }
}

fn all_at_once(photos: &[Photo], found: &[Features], laid: &mut Laid) {
    let start = Instant::now();
    let plan = lay(found);
    laid.seconds += start.elapsed().as_secs_f64();
    laid.pictures += 1;
    let Some(ground) = plan.ground else {
        laid.tally.none += photos.len();
        return;
    };
    let base = (&photos[ground], (found[ground].width, found[ground].height));
    for (i, place) in plan.places.iter().enumerate().filter(|(i, _)| *i != ground) {
        let (p, size) = (&photos[i], (found[i].width, found[i].height));
        let told = place.as_ref().filter(|p| p.face == 0);
        laid.tally.add(p, size, base, told.map(|t| t.to_plan));
        if let Some(t) = told {
            let e = error(p, size, base, &t.to_plan);
            laid.told.push((t.chance, e.is_some_and(|e| e <= WRONG)));
            if e.is_none_or(|e| e > WRONG) {
                println!(
                    "wrong: {} on {}, chance {:.3}",
                    p.file.display(),
                    base.0.file.display(),
                    t.chance
                );
            }
        } else {
            println!("unplaced: {}", p.file.display());
        }
    }
}

fn report(own: &[Tally; 2], peers: &mut [(String, Peer)], laid: &Laid, large: &mut [f64]) {
    println!(
        "\n| | placed | of these wrong | not placed | median error | 95% |\n|---|---|---|---|---|---|"
    );
    for (k, what) in ["close-ups and parts", "other whole views"]
        .into_iter()
        .enumerate()
    {
        println!("{}", own[k].line(&format!("{what}, here")));
        for (name, p) in peers.iter() {
            println!("{}", p.tallies[k].line(&format!("{what}, {name}")));
        }
    }
    println!("{}", laid.tally.line("all of a picture at once, here"));
    let (wall, spent) = (
        own[0].wall + own[1].wall,
        own[0].processor + own[1].processor,
    );
    println!("\nHere {wall:.1} s, {spent:.1} s of processor");
    for (name, p) in peers.iter() {
        let t = &p.tallies[0];
        println!(
            "{name} {:.1} s, {:.1} s of processor: here {:.2} and {:.2} times that",
            t.wall,
            t.processor,
            wall / t.wall,
            spent / t.processor
        );
    }
    large.sort_by(f64::total_cmp);
    if let (Some(most), Some(median)) = (large.last(), large.get(large.len() / 2)) {
        println!("12 megapixels placed in {median:.2} s (median), {most:.2} s (most)");
    }
    println!(
        "{} pictures laid, {:.2} s each with features known",
        laid.pictures,
        laid.seconds / laid.pictures.max(1) as f64
    );
    for (low, high) in [(0.0, 0.5), (0.5, 0.9), (0.9, 0.98), (0.98, 1.01)] {
        let of: Vec<&(f64, bool)> = laid
            .told
            .iter()
            .filter(|t| t.0 >= low && t.0 < high)
            .collect();
        if !of.is_empty() {
            let n = of.len() as f64;
            println!(
                "chance {low:.2} to {:.2}: {} placed, said {:.3}, right {:.3}",
                f64::min(high, 1.0),
                of.len(),
                of.iter().map(|t| t.0).sum::<f64>() / n,
                of.iter().filter(|t| t.1).count() as f64 / n
            );
        }
    }
    for (_, p) in peers.iter_mut() {
        // The pipe closes with the bench; the peer then ends by itself.
        let _ = p.child.try_wait();
    }
}

/// Seconds of processor that this program has used, all cores together (proc(5), fields 14 and 15, in
/// hundredths); 0 where the system doesn't tell.
fn processor() -> f64 {
    let text = fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after = text.rsplit(')').next().unwrap_or("");
    let ticks = after.split_whitespace().skip(11).take(2);
    ticks.filter_map(|t| t.parse::<f64>().ok()).sum::<f64>() / 100.0
}
