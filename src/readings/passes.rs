//! Several passes over the cleaned pictures of one mark, and the mark's turn.
//!
//! In: a flattened mark. Out: its reading, voted from the passes. More passes are added only
//! while the vote is unsure.

use super::cuts;
use super::figures;
use super::turns;
use super::vote::{self, Pass, Row};
use super::voted::{Voted, is_text, own_size};
use super::whole;
use super::writing;
use super::{
    Character, Known, Layout, Line, OwnLine, RawLine, Reading, Recogniser, calibration, mean_chance,
};
use crate::enhance::{self, Steps, Variant};
use crate::error::Result;
use crate::geometry::{Point, Quad, Rect, Turn};
use crate::marks::{self, Flattened, LineBox};
use image::{GrayImage, RgbImage, imageops};
use rayon::prelude::*;

/// Passes of which none reaches this expected number of right letters aren't followed by more:
/// there is nothing to read, or nothing that can be.
pub(super) const HOPE: f64 = 0.3;

/// Most px of a picture that is read at once; a label of that size has letters enough.
pub(super) const MOST_PIXELS: f64 = 3e6;

/// Most lines of a mark that are cut out and read one by one.
const MOST_LINES: usize = 24;

/// How far outside of a line's letters one that was hardly seen may stand, mean distances of its letters.
const BESIDE: f64 = 1.5;

/// Letters of fewer px than this on the mark as photographed can't be told apart by eye either:
/// such rows are rules, ornament or grain.
const LEAST_LETTER: f64 = 6.0;

/// A picture to read, with what one px of the turned mark is on it.
pub(super) struct View {
    pub name: String,
    pub picture: GrayImage,
    pub scale: f64,
}

/// Reads one mark: finds its turn (unless a person set it), reads, votes.
pub(super) fn read(
    flat: &Flattened,
    known: &Known,
    recognisers: &[Box<dyn Recogniser>],
) -> Result<(Reading, Quad)> {
    if flat.picture.width() < 4 || flat.picture.height() < 4 || recognisers.is_empty() {
        return Ok((Reading::default(), flat.outline));
    }
    let ground = Ground::of(flat, known);
    let variants = pictures(ground.picture(), known);
    let (turn, passes) = turns::upright(&variants, known.turn_is_set, recognisers)?;
    let Some(first) = variants.first().map(|v| view(v, turn)) else {
        return Ok((Reading::default(), flat.outline));
    };
    let mut best = Voted::of(first, passes, recognisers)?;
    best.sharpen(&variants, turn, recognisers)?;
    if !is_chosen(&variants, known) {
        let others = variants.iter().skip(1);
        for other in others.filter(|v| enhance::CHOICE.contains(&v.name.as_str())) {
            best = best.or_clearer(view(other, turn), recognisers)?;
        }
        if let Some(own) = own_size(&best, ground.picture(), known) {
            best = best.or_clearer(view(&own, turn), recognisers)?;
        }
    }
    let Voted {
        view: first,
        mut passes,
        rows: mut voted,
    } = best;
    if whole::letters(&voted) < whole::FEW {
        let all = Vec::from_iter(whole::line(&first.picture));
        let read = lines_of(&first, &all, recognisers)?;
        let alone = vote::vote(&read);
        if whole::is_text(&alone) {
            passes.extend(read);
            voted = alone;
        }
    }
    let mut own = if recognisers.iter().any(|r| r.is_own()) {
        lines_by(&first, &missed_rows(&first, &voted, &[]), recognisers, true)?
    } else {
        Vec::new()
    };
    own.retain(|p| !p.lines.is_empty());
    for pass in &mut own {
        // its silence is no vote: it may have failed
        pass.shown = Some(pass.lines.iter().map(|l| l.bounds).collect());
    }
    if !own.is_empty() {
        passes.extend(own.iter().cloned());
        voted = vote::lean(vote::vote(&passes), &voted);
    }
    let temper = recognisers.iter().filter(|r| !r.reads());
    let mut reading = Reading {
        lines: Vec::new(),
        turn,
        voters: passes
            .iter()
            .map(|p| p.name.clone())
            .chain(temper.map(|t| t.name().to_string()))
            .collect(),
        own: own
            .iter()
            .flat_map(|p| &p.lines)
            .map(|l| own_line(l, &ground, turn))
            .collect(),
        ..Reading::default()
    };
    for row in &voted {
        let told = row.writing.map(|w| writing::Told::of(&w, known.kind));
        reading
            .lines
            .extend(line(row, told, &ground, turn, recognisers));
    }
    Ok((reading, flat.outline.turned(turn)))
}

/// Whether the first picture is one that a person chose.
fn is_chosen(variants: &[Variant], known: &Known) -> bool {
    let first = variants.first().map(|v| &v.name);
    first.is_some() && first == known.chosen.as_ref()
}

/// The cleaned pictures of a mark, that which a person chose first, else in the usual order.
fn pictures(picture: &RgbImage, known: &Known) -> Vec<Variant> {
    let mut all = match &known.variants {
        Some(given) => given.clone(),
        // The person may have chosen one that is else only looked at
        None if known.chosen.is_some() => enhance::variants(picture),
        None => enhance::variants_by(picture, &known.steps.unwrap_or(Steps::READ)),
    };
    if let Some(at) = all
        .iter()
        .position(|v| Some(&v.name) == known.chosen.as_ref())
    {
        let chosen = all.remove(at);
        all.insert(0, chosen);
    }
    all
}

pub(super) fn view(variant: &Variant, turn: Turn) -> View {
    View {
        picture: rotated(&variant.picture, turn),
        name: variant.name.clone(),
        scale: variant.scale,
    }
    .no_larger_than(MOST_PIXELS)
}

impl View {
    /// The same, made smaller if it has more px.
    pub(super) fn no_larger_than(self, pixels: f64) -> View {
        let (w, h) = self.picture.dimensions();
        let by = (pixels / (f64::from(w) * f64::from(h))).sqrt();
        if by < 1.0 { self.shrunk(by) } else { self }
    }

    /// The same, its sides `by` times as long.
    pub(super) fn shrunk(self, by: f64) -> View {
        let side = |n: u32| ((f64::from(n) * by).round() as u32).max(1);
        let (w, h) = self.picture.dimensions();
        View {
            picture: imageops::resize(
                &self.picture,
                side(w),
                side(h),
                imageops::FilterType::Triangle,
            ),
            scale: self.scale * by,
            ..self
        }
    }
}

pub(super) fn rotated(picture: &GrayImage, turn: Turn) -> GrayImage {
    match turn {
        Turn::None => picture.clone(),
        Turn::Right => imageops::rotate90(picture),
        Turn::Half => imageops::rotate180(picture),
        Turn::Left => imageops::rotate270(picture),
    }
}

/// Reads one picture in each layout with each recogniser, side by side. Bounds come back in px
/// of the turned mark.
pub(super) fn pass(
    view: &View,
    layouts: &[Layout],
    recognisers: &[Box<dyn Recogniser>],
) -> Result<Vec<Pass>> {
    let all: Vec<(&Box<dyn Recogniser>, Layout)> = recognisers
        .iter()
        .filter(|r| r.reads() && !r.lines_only())
        .flat_map(|r| layouts.iter().map(move |&l| (r, l)))
        .collect();
    all.into_par_iter()
        .map(|(recogniser, layout)| {
            let lines = recogniser.read(&view.picture, layout)?;
            let layout = match layout {
                Layout::Block => "block",
                Layout::Scattered => "scattered",
                Layout::Line => "line",
            };
            Ok(Pass {
                name: format!("{}/{}/{layout}", recogniser.name(), view.name),
                lines: lines.into_iter().map(|l| scaled(l, view.scale)).collect(),
                weight: 1.0,
                shown: None,
            })
        })
        .collect()
}

/// Lines of a view, the longest first, at most [`MOST_LINES`].
pub(super) fn line_boxes(view: &View) -> Vec<LineBox> {
    let mut lines = marks::lines(&view.picture);
    let least = LEAST_LETTER * view.scale.max(1.0);
    lines.retain(|l| l.letter_height >= least);
    lines.sort_by_key(|l| std::cmp::Reverse(l.bounds.w));
    lines.truncate(MOST_LINES);
    lines
}

/// Reads lines of a view one by one with the recognisers of single lines, each cut out and level:
/// one pass a recogniser. Bounds come back in px of the turned mark.
pub(super) fn lines_of(
    view: &View,
    lines: &[LineBox],
    recognisers: &[Box<dyn Recogniser>],
) -> Result<Vec<Pass>> {
    lines_by(view, lines, recognisers, false)
}

/// As [`lines_of`], by the readers of the user's own or by all others.
fn lines_by(
    view: &View,
    lines: &[LineBox],
    recognisers: &[Box<dyn Recogniser>],
    own: bool,
) -> Result<Vec<Pass>> {
    let mut out = Vec::new();
    let wanted = |r: &dyn Recogniser| r.reads() && r.lines_only() && r.is_own() == own;
    for recogniser in recognisers.iter().filter(|r| wanted(r.as_ref())) {
        let read: Vec<Vec<RawLine>> = lines
            .par_iter()
            .map(|line| {
                let cut = cuts::cut(&view.picture, line);
                let read = recogniser.read(&cut.picture, Layout::Line)?;
                Ok(read
                    .into_iter()
                    .map(|l| scaled(cut.back(l), view.scale))
                    .collect())
            })
            .collect::<Result<_>>()?;
        if !lines.is_empty() {
            let place = |l: &LineBox| places_scaled(l.bounds, view.scale);
            out.push(Pass {
                name: format!("{}/{}/line", recogniser.name(), view.name),
                lines: read.into_iter().flatten().collect(),
                weight: recogniser.weight(),
                shown: Some(lines.iter().map(place).collect()),
            });
        }
    }
    Ok(out)
}

/// Rows of the vote that are kept as text but that no pass over single lines has seen, as lines to
/// cut, px of the view.
pub(super) fn missed_rows(view: &View, voted: &[Row], passes: &[Pass]) -> Vec<LineBox> {
    let seen: Vec<Rect> = passes
        .iter()
        .filter(|p| p.is_of_lines())
        .flat_map(|p| p.lines.iter().map(|l| l.bounds))
        .collect();
    let mut out: Vec<LineBox> = voted
        .iter()
        .filter(|r| !seen.iter().any(|s| covers(s, &r.bounds)))
        .filter(|r| is_text(r))
        .map(|r| {
            let bounds = places_scaled(r.bounds, 1.0 / view.scale);
            LineBox {
                bounds,
                slope: 0.0,
                bend: 0.0,
                letter_height: f64::from(bounds.h) * 0.8,
            }
        })
        .collect();
    out.sort_by_key(|l| std::cmp::Reverse(l.bounds.w));
    out.truncate(MOST_LINES);
    out
}

/// Whether a row lies on most of a line.
pub(super) fn covers(row: &Rect, line: &Rect) -> bool {
    row.intersect(line).is_some_and(|i| {
        f64::from(i.w) > 0.7 * f64::from(line.w)
            && f64::from(i.h) > 0.5 * f64::from(line.h.min(row.h))
    })
}

fn places_scaled(b: Rect, scale: f64) -> Rect {
    let less = |v: i32| (f64::from(v) / scale).round() as i32;
    let (x, y) = (less(b.x), less(b.y));
    let side = |from: i32, to: i32| (less(to) - from).max(1) as u32;
    Rect::new(x, y, side(x, b.right()), side(y, b.bottom()))
}

/// A line's places divided by the picture's scale.
fn scaled(mut line: RawLine, scale: f64) -> RawLine {
    let less = |v: i32| (f64::from(v) / scale).round() as i32;
    line.bounds = places_scaled(line.bounds, scale);
    for span in &mut line.spans {
        *span = (less(span.0), less(span.1));
    }
    for (_, at) in &mut line.faint {
        *at = less(*at);
    }
    line
}

/// Expected number of right letters in words of two or more, each word's weighted by their share:
/// single letters are often grain, and lettering on its head is read with little certainty.
pub(super) fn legible(pass: &Pass) -> f64 {
    pass.lines
        .iter()
        .flat_map(|l| l.characters.split(|c| c.text == " "))
        .filter(|word| word.len() >= 2)
        .map(|word| vote::sureness(word).powi(2) / word.len() as f64)
        .sum()
}

/// Mean chance of the letters that a pass read.
pub(super) fn clearness(pass: &Pass) -> f64 {
    let read = pass.lines.iter().flat_map(|l| &l.characters);
    mean_chance(read.filter(|c| c.text != " ")).unwrap_or(0.0)
}

fn own_line(line: &RawLine, ground: &Ground, turn: Turn) -> OwnLine {
    OwnLine {
        text: line.characters.iter().map(|c| c.text.as_str()).collect(),
        within: ground.within(turn, &line.bounds),
    }
}

/// A row as a line with calibrated chances; nothing where it isn't text.
fn line(
    row: &Row,
    told: Option<writing::Told>,
    ground: &Ground,
    turn: Turn,
    recognisers: &[Box<dyn Recogniser>],
) -> Option<Line> {
    let (mut characters, middles): (Vec<_>, Vec<_>) = calibration::placed(row)?.into_iter().unzip();
    calibration::believed(&mut characters);
    figures::noughts(&mut characters);
    // Hands run letters together; in print what was hardly seen is worn ornament as often
    let by_hand = told.as_ref().map(|t| t.writing) == Some(writing::Writing::Script);
    let mut characters = match by_hand {
        true => with_faint(characters, &middles, &row.faint),
        false => characters,
    };
    for recogniser in recognisers {
        recogniser.temper(&mut characters);
    }
    characters.retain(|c| !c.is_lost() || c.confidence == 0.0);
    let bounds = ground.on_photograph(turn, &row.bounds);
    let within = ground.within(turn, &row.bounds);
    Some(Line {
        writing: told,
        ..Line::from_characters(characters, bounds, within)
    })
}

/// Puts what was hardly seen between the letters that were read, and at most [`BESIDE`] letters before the first
/// and behind the last: what stands farther out was taken away, rules or grain.
fn with_faint(read: Vec<Character>, middles: &[f64], faint: &[(Character, f64)]) -> Vec<Character> {
    let (Some(&first), Some(&last)) = (middles.first(), middles.last()) else {
        return read;
    };
    let out = BESIDE * (last - first) / (middles.len().max(2) - 1) as f64;
    let mut faint = faint
        .iter()
        .filter(|f| f.1 > first - out && f.1 < last + out)
        .peekable();
    let mut all = Vec::with_capacity(read.len());
    for (c, &middle) in read.into_iter().zip(middles) {
        while let Some((sign, _)) = faint.next_if(|f| f.1 < middle) {
            all.push(sign.clone());
        }
        all.push(c);
    }
    all.extend(faint.map(|f| f.0.clone()));
    all
}

/// The mark's picture as it is read, with the way back.
struct Ground<'a> {
    flat: &'a Flattened,
    /// The picture turned level, its outline in px of the mark's; `None` where it is read as it is.
    level: Option<Flattened>,
}

impl<'a> Ground<'a> {
    /// Pictures that were made before fit the mark only as it is.
    fn of(flat: &'a Flattened, known: &Known) -> Ground<'a> {
        let free = known.variants.is_none();
        Ground {
            flat,
            level: free.then(|| marks::levelled(&flat.picture)).flatten(),
        }
    }

    fn picture(&self) -> &RgbImage {
        self.level
            .as_ref()
            .map_or(&self.flat.picture, |l| &l.picture)
    }

    /// Corners on the flattened mark of a box on the picture that is read, turned.
    fn corners(&self, turn: Turn, place: &Rect) -> [Point; 4] {
        let (w, h) = self.picture().dimensions();
        place.quad().0.map(|p| {
            let p = unturned(p, turn, f64::from(w), f64::from(h));
            self.level.as_ref().map_or(p, |l| l.to_photograph(p))
        })
    }

    /// The upright box on the photograph around a box on the picture that is read, turned.
    fn on_photograph(&self, turn: Turn, place: &Rect) -> Rect {
        let corners = self.corners(turn, place);
        Quad(corners.map(|p| self.flat.to_photograph(p))).bounds()
    }

    /// The same on the flattened mark, turned.
    fn within(&self, turn: Turn, place: &Rect) -> Rect {
        if self.level.is_none() {
            return *place;
        }
        let (w, h) = self.flat.picture.dimensions();
        let corners = self.corners(turn, place);
        Quad(corners.map(|p| turned(p, turn, f64::from(w), f64::from(h)))).bounds()
    }
}

/// The place on the mark turned of a place on the flattened mark (`w` × `h`).
fn turned(p: Point, turn: Turn, w: f64, h: f64) -> Point {
    match turn {
        Turn::None => p,
        Turn::Right => Point::new(h - p.y, p.x),
        Turn::Half => Point::new(w - p.x, h - p.y),
        Turn::Left => Point::new(p.y, w - p.x),
    }
}

/// The place on the flattened mark (`w` × `h`) of a place on it turned.
fn unturned(p: Point, turn: Turn, w: f64, h: f64) -> Point {
    match turn {
        Turn::None => p,
        Turn::Right => Point::new(p.y, h - p.x),
        Turn::Half => Point::new(w - p.x, h - p.y),
        Turn::Left => Point::new(w - p.y, p.x),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_on_a_turned_mark_leads_back_to_the_same_pixel() {
        let mut picture = GrayImage::new(7, 4);
        picture.put_pixel(5, 1, image::Luma([255]));
        for turn in Turn::ALL {
            let turned = rotated(&picture, turn);
            let (x, y, _) = turned.enumerate_pixels().find(|p| p.2.0[0] == 255).unwrap();
            let middle = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
            assert_eq!(
                unturned(middle, turn, 7.0, 4.0),
                Point::new(5.5, 1.5),
                "{turn:?}"
            );
            let back = super::turned(Point::new(5.5, 1.5), turn, 7.0, 4.0);
            assert_eq!(back, middle, "{turn:?}");
        }
    }

    #[test]
    fn what_was_hardly_seen_stands_between_the_letters_and_not_far_outside() {
        let read = ["F", "R", "M"].map(|t| Character::sure(t, 0.9)).to_vec();
        let faint = [-30.0, -10.0, 45.0, 90.0].map(|at| {
            let sign = Character {
                confidence: 0.5,
                ..Character::lost()
            };
            (sign, at)
        });
        let all = with_faint(read.clone(), &[0.0, 20.0, 40.0], &faint);
        let text: Vec<&str> = all.iter().map(|c| c.text.as_str()).collect();
        assert_eq!(text, ["", "F", "R", "M", ""]);
        assert_eq!(with_faint(Vec::new(), &[], &faint), Vec::new());
    }
}
