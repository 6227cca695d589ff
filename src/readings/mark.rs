//! One mark read: its turn, its rows on each cleaned picture, and which of those readings stand.
//!
//! In: a flattened mark. Out: its reading. Other pictures than the first are read only where that is unsure.

use super::choice::{self, Hypothesis};
use super::figures;
use super::heard::{Read, View};
use super::network::Row;
use super::turns;
use super::whole;
use super::writing;
use super::{
    Character, HeardRow, Known, Line, OwnLine, RawLine, Reading, Recognisers, calibration, order,
};
use crate::enhance::{self, Steps, Variant};
use crate::error::Result;
use crate::geometry::{Point, Quad, Rect, Turn};
use crate::marks::{self, Flattened, LineBox};
use image::RgbImage;

/// How far outside of a line's letters one that was hardly seen may stand, mean distances of its letters.
const BESIDE: f64 = 1.5;

/// Reads one mark: finds its turn (unless a person set it), reads its rows, chooses.
pub(super) fn read(
    flat: &Flattened,
    known: &Known,
    recognisers: &Recognisers,
) -> Result<(Reading, Quad)> {
    if flat.picture.width() < 4 || flat.picture.height() < 4 || recognisers.readers.is_empty() {
        return Ok((Reading::default(), flat.outline));
    }
    let ground = Ground::of(flat, known);
    let Some(heard) = Hearing::of(ground.picture(), known, recognisers)? else {
        return Ok((Reading::default(), flat.outline));
    };
    let turn = heard.turn;
    let (rows, own, on) = heard.standing()?;
    let rescorers = recognisers.rescorers.iter().map(|r| r.name().to_string());
    let mut reading = Reading {
        turn,
        voters: on.into_iter().chain(rescorers).collect(),
        own: own.iter().map(|l| own_line(l, &ground, turn)).collect(),
        ..Reading::default()
    };
    for row in order::reading_order(rows) {
        let told = row.writing.map(|w| writing::Told::of(&w, known.kind));
        let line = line(&row, told, &ground, turn, recognisers);
        reading.lines.extend(line);
    }
    Ok((reading, flat.outline.turned(turn)))
}

/// Every row of a mark as it was read on each picture.
///
/// # Errors
/// As [`read`].
pub(super) fn rows(flat: &Flattened, recognisers: &Recognisers) -> Result<Vec<HeardRow>> {
    let known = Known::default();
    let ground = Ground::of(flat, &known);
    let Some(heard) = Hearing::of(ground.picture(), &known, recognisers)? else {
        return Ok(Vec::new());
    };
    let rows = heard.hypotheses.iter().map(|h| HeardRow {
        text: h.text(),
        mean: h.mean(),
        picture: h.picture,
        beyond: h.beyond,
        bounds: *h.bounds(),
    });
    Ok(rows.collect())
}

/// What was read of a mark, picture by picture.
struct Hearing<'a> {
    recognisers: &'a Recognisers,
    /// Turn that brought it upright.
    turn: Turn,
    views: Vec<View>,
    hypotheses: Vec<Hypothesis>,
}

impl<'a> Hearing<'a> {
    /// The first picture as it was read when the turn was found, and a second where that is unsure: a third to
    /// fifth brought 0.0013 of words F1 on found marks of 66 made photographs (seed 3101). Nothing of no picture.
    fn of(picture: &RgbImage, known: &Known, recognisers: &'a Recognisers) -> Result<Option<Self>> {
        let variants = pictures(picture, known);
        let Some(first) = variants.first() else {
            return Ok(None);
        };
        let upright = turns::upright(first, known.turn_is_set, recognisers)?;
        let read = upright.lines.into_iter().zip(upright.rows);
        let mut heard = Hearing {
            recognisers,
            turn: upright.turn,
            hypotheses: hypotheses(read, &upright.view, 0),
            views: vec![upright.view],
        };
        let mut others = variants.iter().skip(1);
        let second = others.find(|v| enhance::CHOICE.contains(&v.name.as_str()));
        if let Some(second) = second
            && !is_chosen(&variants, known)
            && heard.is_unsure()
        {
            heard.also(View::of(second, heard.turn))?;
        }
        Ok(Some(heard))
    }

    /// Whether another picture may show more: nothing was read, or a row isn't read clearly.
    fn is_unsure(&self) -> bool {
        let mut rows = self.hypotheses.iter().filter(|h| h.may_stand()).peekable();
        rows.peek().is_none() || !rows.all(Hypothesis::is_clear)
    }

    /// Reads another picture where none before is read clearly.
    fn also(&mut self, view: View) -> Result<()> {
        let clear = self.hypotheses.iter().filter(|h| h.is_clear());
        let clear: Vec<Rect> = clear.map(|h| *h.bounds()).collect();
        let mut lines = view.lines();
        lines.retain(|l| {
            let place = view.on_mark(l.bounds);
            !clear.iter().any(|c| covers(c, &place))
        });
        let rows = view.read(&lines, self.recognisers)?;
        let read = lines.into_iter().zip(rows);
        self.hypotheses
            .extend(hypotheses(read, &view, self.views.len()));
        self.views.push(view);
        Ok(())
    }

    /// The rows that stand, the lines of the user's own readers, and which reader read them on which picture.
    fn standing(self) -> Result<(Vec<Row>, Vec<RawLine>, Vec<String>)> {
        let mut standing = choice::choose(self.hypotheses);
        if standing.iter().map(Hypothesis::signs).sum::<usize>() < whole::FEW {
            let all: Vec<LineBox> = whole::line(&self.views[0].picture).into_iter().collect();
            let rows = self.views[0].read(&all, self.recognisers)?;
            let alone = hypotheses(all.into_iter().zip(rows), &self.views[0], 0);
            if whole::is_text(&alone) {
                standing = alone;
            }
        }
        let mut own = Vec::new();
        let mut rows = Vec::with_capacity(standing.len());
        let mut on: Vec<usize> = standing.iter().map(|h| h.picture).collect();
        for h in standing {
            let heard = self.views[h.picture].read_own(&h.line, self.recognisers)?;
            own.extend(heard.iter().map(|l| l.0.clone()));
            rows.push(h.read.with_own(heard));
        }
        on.push(0);
        on.sort_unstable();
        on.dedup();
        let names = on.iter().flat_map(|&at| {
            let view = &self.views[at].name;
            let readers = self.recognisers.readers.iter();
            readers.map(move |r| format!("{}/{view}/line", r.name()))
        });
        Ok((rows, own, names.collect()))
    }
}

/// Rows that are text, of the picture with this number.
fn hypotheses(
    read: impl Iterator<Item = (LineBox, Option<Read>)>,
    view: &View,
    picture: usize,
) -> Vec<Hypothesis> {
    read.filter_map(|(line, read)| {
        let beyond = view.beyond(&line);
        Hypothesis::of(read?, line, picture, beyond)
    })
    .collect()
}

/// Whether a row lies on most of a line.
fn covers(row: &Rect, line: &Rect) -> bool {
    row.intersect(line).is_some_and(|i| {
        f64::from(i.w) > 0.7 * f64::from(line.w)
            && f64::from(i.h) > 0.5 * f64::from(line.h.min(row.h))
    })
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
    recognisers: &Recognisers,
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
    let asked = recognisers.rescorers.iter();
    for rescorer in asked.filter(|r| r.is_asked(row.writing.as_ref())) {
        rescorer.rescore(&mut characters);
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
    use crate::readings::heard::rotated;
    use image::GrayImage;

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
