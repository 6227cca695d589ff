//! The truth beside each photograph: what a person could read, and where, through the perspective.

use crate::back::Back;
use crate::camera::{Map, Shot, apply};
use crate::piece::{Item, Lay, Piece};
use crate::sheet::{Rendered, SeenLine};
use serde_json::{Value, json};

/// A line as a person could read it.
struct Told {
    text: String,
    whole: String,
    legible: bool,
    /// Height of its x on the photograph, px.
    x_height: f64,
    y: f32,
    x: f32,
}

/// A mark on one photograph.
pub struct MarkTruth {
    pub json: Value,
    /// For each line its letters that show: whether there is ink (else a space), and its cell's corners, px.
    pub bands: Value,
    pub lines: Vec<String>,
    /// What it names: list and entry.
    pub names: Vec<[String; 2]>,
    /// The line by which it is told from the others of the photograph; empty where there is none.
    pub words: String,
    /// Key of the mark, the same on every photograph of its back.
    pub of: String,
    top: f64,
    left: f64,
}

/// Below this x-height in px nobody reads a line.
const LEAST_X_HEIGHT: f32 = 5.5;
/// A letter with less than this share of its ink doesn't show.
const LEAST_CELL: f32 = 0.12;
/// Below this share of its ink a letter is lost.
const LEAST_LEFT: f32 = 0.22;

/// Of a mark whose middle lies outside the photograph at least this share must show, and so many letters.
const LEAST_PART: f64 = 0.15;
const LEAST_LETTERS: usize = 3;

/// The lists of firms, of which a firm on no list is on none.
const FIRMS: &str = "colourmen|exhibitions|framers|retailers|sale_rooms";

/// A photograph and what is known of it.
pub struct Scene<'a> {
    pub back: &'a Back,
    /// The marks as they came out.
    pub made: &'a [Option<Rendered>],
    pub shot: &'a Shot,
    /// Listed people: entry, and a way in which the name is written.
    pub people: &'a [(String, String)],
    /// Whether a mark counts of which less than the middle shows.
    pub cuts: bool,
}

pub fn of(scene: &Scene<'_>) -> Vec<MarkTruth> {
    let shot = scene.shot;
    let map = shot.map();
    let pieces = scene.back.pieces.iter().enumerate();
    let mut marks: Vec<MarkTruth> = pieces
        .filter_map(|(i, piece)| mark(scene, i, piece, &map))
        .collect();
    // Reading order: rows from top to bottom, then left to right.
    let band = shot.h as f64 / 14.0;
    marks.sort_by(|a, b| {
        ((a.top / band).floor(), a.left)
            .partial_cmp(&((b.top / band).floor(), b.left))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    for (n, m) in marks.iter_mut().enumerate() {
        m.json["mark"] = json!(format!("t{}", n + 1));
    }
    tell_apart(&mut marks);
    marks
}

/// Hidden by a later mark that covers the place.
fn covered(back: &Back, i: usize, made: &[Option<Rendered>], at: [f32; 2]) -> bool {
    back.pieces.iter().enumerate().skip(i + 1).any(|(j, over)| {
        let (Some(sheet), Some(r)) = (&over.sheet, made[j].as_ref()) else {
            return false;
        };
        let q = over.local_of(at);
        let (x, y) = (
            (q[0] + crate::sheet::MARGIN) * r.scale,
            (q[1] + crate::sheet::MARGIN) * r.scale,
        );
        let inside = x >= 0.0 && y >= 0.0 && (x as usize) < r.w && (y as usize) < r.h;
        inside && sheet.cover > 0.9 && r.alpha[y as usize * r.w + x as usize] > 0.6
    })
}

fn in_picture(shot: &Shot, p: [f64; 2]) -> bool {
    p[0] >= 1.0 && p[1] >= 1.0 && p[0] < shot.w as f64 - 1.0 && p[1] < shot.h as f64 - 1.0
}

fn mark(scene: &Scene<'_>, i: usize, piece: &Piece, map: &Map) -> Option<MarkTruth> {
    let Scene {
        back,
        made,
        shot,
        people,
        cuts,
    } = *scene;
    let r = made[i].as_ref()?;
    if r.lines.is_empty() {
        return None;
    }
    let place = |p: [f32; 2]| {
        let q = piece.to_back(p);
        apply(map, [f64::from(q[0]), f64::from(q[1])])
    };
    let settings: Vec<_> = piece
        .items
        .iter()
        .filter_map(|item| match item {
            Item::Line(s) => Some(s),
            Item::Art(..) => None,
        })
        .collect();
    let mut told: Vec<Told> = Vec::new();
    let mut shown = 0usize;
    for (line, s) in r.lines.iter().zip(&settings) {
        let strength = piece.inks[s.ink].strength;
        // Broad strokes of chalk and brush need more of themselves left than a printed letter does.
        let broad = matches!(piece.inks[s.ink].lay, Lay::Chalk | Lay::Brush);
        let least = if broad { LEAST_LEFT + 0.16 } else { LEAST_LEFT };
        // What is faded as well as rubbed needs more of itself left.
        let least = (least / strength.clamp(0.3, 1.0)).min(0.62);
        let read = readable(line, least, |at| {
            let q = place(at);
            in_picture(shot, q) && !covered(back, i, made, piece.to_back(at))
        });
        let x_px = line.letters.first().map_or(0.0, |l| l.letter.x_height) * shot.px_per_mm();
        let whole: String = line.letters.iter().map(|l| l.letter.c).collect();
        let (kept, all) = (
            read.chars().filter(|c| !c.is_whitespace()).count(),
            whole.chars().filter(|c| !c.is_whitespace()).count().max(1),
        );
        let blurred = shot.blur + shot.defocus * 0.5 + shot.shake * 0.35;
        let legible = kept * 10 >= all * 3
            && kept > 0
            && x_px >= LEAST_X_HEIGHT + 1.6 * (blurred - 0.7).max(0.0)
            && strength >= 0.18;
        shown += kept;
        told.push(Told {
            text: read,
            whole,
            legible,
            x_height: x_height(line, place),
            y: s.y,
            x: s.x,
        });
    }
    if shown == 0 {
        return None;
    }
    let joined = join(told);
    let (uncut, centre) = outline(piece, r, &place);
    let part = part_in_picture(&uncut, shot);
    let enough = cuts && part >= LEAST_PART && shown >= LEAST_LETTERS;
    if !in_picture(shot, centre) && !enough {
        return None;
    }
    let corners: Vec<[f64; 2]> = uncut
        .iter()
        .map(|p| {
            [
                (p[0].clamp(0.0, shot.w as f64) * 10.0).round() / 10.0,
                (p[1].clamp(0.0, shot.h as f64) * 10.0).round() / 10.0,
            ]
        })
        .collect();
    // The way the lines run on the photograph, and the quarter turn that sets them upright.
    let (a, b) = (corners[0], corners[1]);
    let run = (b[1] - a[1]).atan2(b[0] - a[0]).to_degrees();
    let turn = ((-run / 90.0).round() as i64).rem_euclid(4) * 90;
    let standing = &piece.standing;
    let lines: Vec<Value> = joined
        .iter()
        .map(|t| json!({"text": if t.legible { t.text.clone() } else { t.whole.clone() }, "legible": t.legible, "as_made": t.whole, "x_height": (t.x_height * 10.0).round() / 10.0}))
        .collect();
    let bands: Vec<Vec<Value>> = r
        .lines
        .iter()
        .map(|line| {
            let cells = line.letters.iter().filter_map(|l| {
                let b = l.letter.bounds;
                let seen = b.is_none_or(|b| {
                    let middle = [(b[0] + b[2]) / 2.0, (b[1] + b[3]) / 2.0];
                    l.left >= LEAST_CELL && !covered(back, i, made, piece.to_back(middle))
                });
                let cell = l.letter.cell.map(place);
                seen.then(|| json!([b.is_some(), cell]))
            });
            cells.collect()
        })
        .collect();
    let whole: Vec<&str> = joined
        .iter()
        .filter(|t| t.legible)
        .map(|t| t.whole.as_str())
        .collect();
    let people = borne(&whole, people);
    let mut names: Vec<[String; 2]> = Vec::new();
    if standing.names {
        let list = if standing.entry.is_empty() {
            FIRMS.to_owned()
        } else {
            standing.list.clone()
        };
        names.push([list, standing.entry.clone()]);
    }
    for entry in &people {
        let row = ["artists".to_owned(), entry.clone()];
        if !names.contains(&row) {
            names.push(row);
        }
    }
    let of = format!("p{}", i + 1);
    let mut told = json!({
            "mark": "",
            "of": of,
            "kind": standing.kind,
            "outline": corners,
            "turn": turn,
            "bearer": standing.bearer,
            "bridges": standing.bridges,
            "lines": lines,
            "list": standing.list,
            "entry": standing.entry,
            "names": standing.names,
            "people": people,
    });
    if part < 0.995 {
        told["part"] = json!((part * 1000.0).round() / 1000.0);
        told["uncut"] = json!(uncut.map(|p| p.map(|v| (v * 10.0).round() / 10.0)));
    }
    if piece.moved {
        told["moved"] = json!(true);
    }
    Some(MarkTruth {
        bands: json!(bands),
        json: told,
        lines: joined
            .into_iter()
            .filter(|t| t.legible)
            .map(|t| t.text)
            .collect(),
        names,
        words: String::new(),
        of,
        top: corners.iter().map(|p| p[1]).fold(f64::MAX, f64::min),
        left: corners.iter().map(|p| p[0]).fold(f64::MAX, f64::min),
    })
}

/// The listed people whom the lines name. `people` are entries with the ways in which they are
/// written; a way that two of them share tells neither.
fn borne(lines: &[&str], people: &[(String, String)]) -> Vec<String> {
    let plain = |t: &str| {
        let t: String = t
            .to_lowercase()
            .chars()
            .map(|c| if c.is_alphanumeric() { c } else { ' ' })
            .collect();
        format!(" {} ", t.split_whitespace().collect::<Vec<_>>().join(" "))
    };
    let mut out = Vec::new();
    for line in lines.iter().map(|l| plain(l)) {
        // "T. Wrenfield junr" is the longer way, and hides "T. Wrenfield".
        let longest = people
            .iter()
            .map(|(_, style)| plain(style))
            .filter(|s| line.contains(s.as_str()))
            .max_by_key(String::len);
        let mut meant: Vec<&String> = people
            .iter()
            .filter(|(_, style)| Some(plain(style)) == longest)
            .map(|(entry, _)| entry)
            .collect();
        meant.dedup();
        if let ([entry], true) = (meant.as_slice(), longest.is_some())
            && !out.contains(*entry)
        {
            out.push((*entry).clone());
        }
    }
    out
}

/// Gives each mark the line by which it is told from the others of the photograph: the longest that a
/// person could read and that no other mark bears.
fn tell_apart(marks: &mut [MarkTruth]) {
    let lines: Vec<Vec<String>> = marks.iter().map(|m| m.lines.clone()).collect();
    for (i, m) in marks.iter_mut().enumerate() {
        let own = lines[i].iter().filter(|l| {
            let mut others = lines.iter().enumerate().filter(|(j, _)| *j != i);
            !others.any(|(_, o)| o.contains(l))
        });
        let longest = own.max_by_key(|l| l.chars().count());
        m.words = longest.cloned().unwrap_or_default();
    }
}

/// The letters that are left; one lost letter inside a word is still read from its neighbours.
fn readable(line: &SeenLine, least: f32, visible: impl Fn([f32; 2]) -> bool) -> String {
    let there: Vec<bool> = line
        .letters
        .iter()
        .map(|l| match l.letter.bounds {
            None => true,
            Some(b) => l.left >= least && visible([(b[0] + b[2]) / 2.0, (b[1] + b[3]) / 2.0]),
        })
        .collect();
    let n = there.len();
    let mut out = String::new();
    for (i, l) in line.letters.iter().enumerate() {
        let lone = i > 0 && i + 1 < n && there[i - 1] && there[i + 1] && l.left > 0.05;
        if there[i] || lone {
            out.push(l.letter.c);
        } else if !out.ends_with(' ') {
            out.push(' ');
        }
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Height of an x in the middle of a line, as the photograph shows it, px.
fn x_height(line: &SeenLine, place: impl Fn([f32; 2]) -> [f64; 2]) -> f64 {
    let drawn: Vec<_> = line
        .letters
        .iter()
        .filter_map(|l| Some((l.letter.bounds?, l.letter.x_height)))
        .collect();
    let Some(&([left, top, right, bottom], tall)) = drawn.get(drawn.len() / 2) else {
        return 0.0;
    };
    let (x, y) = ((left + right) / 2.0, (top + bottom) / 2.0);
    let (foot, head) = (place([x, y + tall / 2.0]), place([x, y - tall / 2.0]));
    (foot[0] - head[0]).hypot(foot[1] - head[1])
}

/// Prompts and what is filled in beside them make one line.
fn join(told: Vec<Told>) -> Vec<Told> {
    let mut out: Vec<Told> = Vec::new();
    for t in told {
        match out.last_mut() {
            Some(last) if (last.y - t.y).abs() < 0.9 && (last.x - t.x).abs() > 1.0 => {
                let pair = |a: &str, b: &str| format!("{a} {b}").trim().to_owned();
                last.text = match (last.legible, t.legible) {
                    (true, true) => pair(&last.text, &t.text),
                    (false, true) => t.text.clone(),
                    _ => last.text.clone(),
                };
                last.whole = pair(&last.whole, &t.whole);
                last.x_height = last.x_height.min(t.x_height);
                last.legible |= t.legible;
            }
            _ => out.push(t),
        }
    }
    out
}

/// Share of an outline that lies in the photograph, 0 to 1.
fn part_in_picture(c: &[[f64; 2]; 4], shot: &Shot) -> f64 {
    const SIDE: usize = 40;
    let places = (0..SIDE * SIDE).filter(|k| {
        let at = |k: usize| (k as f64 + 0.5) / SIDE as f64;
        let (u, v) = (at(k % SIDE), at(k / SIDE));
        let p = std::array::from_fn(|i| {
            (1.0 - v) * ((1.0 - u) * c[0][i] + u * c[1][i])
                + v * ((1.0 - u) * c[3][i] + u * c[2][i])
        });
        in_picture(shot, p)
    });
    places.count() as f64 / (SIDE * SIDE) as f64
}

/// Corners in reading order on the photograph, and the middle.
fn outline(
    piece: &Piece,
    r: &Rendered,
    place: &impl Fn([f32; 2]) -> [f64; 2],
) -> ([[f64; 2]; 4], [f64; 2]) {
    let mut b = [f32::MAX, f32::MAX, f32::MIN, f32::MIN];
    let mut grow = |x0: f32, y0: f32, x1: f32, y1: f32| {
        b = [b[0].min(x0), b[1].min(y0), b[2].max(x1), b[3].max(y1)];
    };
    if piece.sheet.is_some() {
        for y in (0..r.h).step_by(2) {
            for x in (0..r.w).step_by(2) {
                if r.alpha[y * r.w + x] > 0.5 {
                    let (mx, my) = (
                        x as f32 / r.scale - crate::sheet::MARGIN,
                        y as f32 / r.scale - crate::sheet::MARGIN,
                    );
                    grow(mx, my, mx, my);
                }
            }
        }
    } else {
        for l in r.lines.iter().flat_map(|l| &l.letters) {
            if let Some(k) = l.letter.bounds {
                grow(k[0], k[1], k[2], k[3]);
            }
        }
        for item in &piece.items {
            if let Item::Art(path, _) = item
                && let Some(k) = path.bounds()
            {
                grow(k[0], k[1], k[2], k[3]);
            }
        }
        b = [b[0] - 1.0, b[1] - 1.0, b[2] + 1.0, b[3] + 1.0];
    }
    let corners = [
        place([b[0], b[1]]),
        place([b[2], b[1]]),
        place([b[2], b[3]]),
        place([b[0], b[3]]),
    ];
    (corners, place([(b[0] + b[2]) / 2.0, (b[1] + b[3]) / 2.0]))
}

/// Degrees by which level lines on the back run down to the right on the photograph, nearest quarter
/// turn taken away.
pub fn skew(shot: &Shot) -> f64 {
    let map = shot.map();
    let (x, y) = (f64::from(shot.aim[0]), f64::from(shot.aim[1]));
    let d = f64::from(shot.across) * 0.2;
    let (a, b) = (apply(&map, [x - d, y]), apply(&map, [x + d, y]));
    let run = (b[1] - a[1]).atan2(b[0] - a[0]).to_degrees();
    let left = run - (run / 90.0).round() * 90.0;
    (left * 100.0).round() / 100.0
}

/// Back (mm) to photograph (px), row by row, the last number 1.
pub fn map(shot: &Shot) -> Map {
    let m = shot.map();
    m.map(|v| v / m[8])
}
