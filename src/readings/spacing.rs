//! Spaces told by the gaps in the ink: those that a reader of lines writes after a stop out of habit,
//! though the letters stand close ("U.C." read as "U. C."), and those that it leaves out.

use image::GrayImage;

/// Signs after which print mostly has a space, whether this line has one or not.
const STOPS: [&str; 4] = [".", ",", ":", ";"];

/// A gap wider than the usual one between letters by less than this share of the picture's height
/// is no space. Word spaces are a fifth to a third of an em (common practice of typesetting); an em
/// is about the height of a line's cut.
const LEAST: f64 = 0.105;

/// A gap wider than this share of the picture's height parts two words, whatever lies in it. Display
/// type is spaced by up to about half an em (common practice).
const WIDE: f64 = 1.0;

/// Where the letters of a line are all about as far apart, deviation over mean, it is typewritten or
/// printed by a machine that gives each sign the same room.
const EVEN: f64 = 0.16;

/// There a space takes the room of one more sign.
const ROOM: f64 = 1.5;

/// Share of the darkest ink from which a column has ink, and from which a stroke joins two letters:
/// blur fills the room between printed letters in part.
const INK: f64 = 0.4;
const STROKE: f64 = 0.65;

/// Letters with fewer px than this between them are joined; so many pairs after a space are asked.
const APART: f64 = 2.0;
const BESIDE: usize = 5;

/// A word of so many letters and more is set off by a space however tight it is set, but for a name
/// that stands no farther from its initials than they from each other; initials and figures need not be
/// (common practice).
const WORD: usize = 3;

/// A gap wider than another by less than this share of the picture's height is as wide. Set by judgement.
const NARROW: f64 = 0.04;

/// Pairs of letters wanted to judge a line.
const PAIRS: usize = 4;

/// Whether each sign stands: `false` for spaces after a stop where the ink leaves no room for one.
///
/// * `picture`: the line, dark on light, about as high as its letters
/// * `middles`: where each sign stands, px
pub(super) fn standing(picture: &GrayImage, signs: &[&str], middles: &[f64]) -> Vec<bool> {
    let mut stands = vec![true; signs.len()];
    let is_space = |i: usize| signs[i] == " ";
    let (words, suspects): (Vec<usize>, Vec<usize>) = (1..signs.len().saturating_sub(1))
        .filter(|&i| is_space(i) && STOPS.contains(&signs[i - 1]))
        .partition(|&i| word_after(signs, i) >= WORD);
    let named = |i: &usize| initials(signs, &stands, *i).is_some();
    if suspects.is_empty() && !words.iter().any(named) {
        return stands;
    }
    let [ink, strokes] = inked(picture, [INK, STROKE]);
    let pairs: Vec<usize> = (1..signs.len())
        .filter(|&i| !is_space(i) && !is_space(i - 1))
        .filter(|&i| !STOPS.contains(&signs[i - 1]))
        .collect();
    if pairs.len() < PAIRS {
        return stands;
    }
    let mut gaps: Vec<f64> = pairs
        .iter()
        .map(|&i| gap(&ink, middles[i - 1], middles[i]))
        .collect();
    gaps.sort_by(f64::total_cmp);
    let usual = gaps[gaps.len() / 2];
    let steps: Vec<f64> = pairs.iter().map(|&i| middles[i] - middles[i - 1]).collect();
    let mean = steps.iter().sum::<f64>() / steps.len() as f64;
    let spread =
        (steps.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / steps.len() as f64).sqrt();
    let even = steps.len() >= 2 * PAIRS && spread < EVEN * mean;
    for i in suspects {
        // Where letters are joined, as a hand or script joins them, words stand close too.
        let after: Vec<&usize> = pairs.iter().filter(|&&p| p > i + 1).take(BESIDE).collect();
        let joined = after
            .iter()
            .filter(|&&&p| gap(&strokes, middles[p - 1], middles[p]) < APART)
            .count();
        if 2 * joined > after.len() {
            continue;
        }
        let close = if even {
            middles[i + 1] - middles[i - 1] < ROOM * mean
        } else {
            let own = gap(&ink, middles[i - 1], middles[i + 1]);
            own - usual < LEAST * f64::from(picture.height())
        };
        stands[i] = !close;
    }
    for i in words {
        // a name set as closely to its last initial as that is to the one before: "H.A.Brandreth"
        if let Some((stop, letter)) = initials(signs, &stands, i) {
            let before = gap(&ink, middles[stop], middles[letter]);
            let own = gap(&ink, middles[i - 1], middles[i + 1]);
            stands[i] = own > before + NARROW * f64::from(picture.height());
        }
    }
    stands
}

/// Of a space after two initials that stand without one between them: the first stop and the second
/// letter.
fn initials(signs: &[&str], stands: &[bool], space: usize) -> Option<(usize, usize)> {
    let letter = space.checked_sub(2)?;
    let capital = |i: usize| signs[i].chars().all(char::is_uppercase);
    let before = letter.checked_sub(1)?;
    let stop = match signs[before] {
        " " if !stands[before] => before.checked_sub(1)?,
        _ => before,
    };
    let first = stop.checked_sub(1)?;
    (signs[space - 1] == "." && signs[stop] == "." && capital(letter) && capital(first))
        .then_some((stop, letter))
}

/// Whether a space is missing before each sign: figures on a scale, columns of a table stand so far
/// apart that no spacing of letters reaches it, yet a reader of lines trained on words joins them.
///
/// * as [`standing`]
pub(super) fn missing(picture: &GrayImage, signs: &[&str], middles: &[f64]) -> Vec<bool> {
    let wide = WIDE * f64::from(picture.height());
    let far = |i: usize| i > 0 && middles[i] - middles[i - 1] > wide;
    if !(0..signs.len()).any(far) {
        return vec![false; signs.len()];
    }
    let [ink] = inked(picture, [INK]);
    let parted = |i: usize| signs[i] != " " && signs[i - 1] != " ";
    (0..signs.len())
        .map(|i| far(i) && parted(i) && gap(&ink, middles[i - 1], middles[i]) > wide)
        .collect()
}

/// Letters that follow a place up to the first sign that is none.
fn word_after(signs: &[&str], place: usize) -> usize {
    let letters = signs[place + 1..].iter();
    letters
        .take_while(|s| s.chars().all(char::is_alphabetic))
        .count()
}

/// Whether each column has ink: darker than paper by each of the shares of the darkest ink.
fn inked<const N: usize>(picture: &GrayImage, shares: [f64; N]) -> [Vec<bool>; N] {
    let mut values = picture.as_raw().clone();
    values.sort_unstable();
    let at = |share: f64| f64::from(values[(share * (values.len() - 1) as f64) as usize]);
    let (dark, paper) = (at(0.02), at(0.75));
    // Margins above and below may hold a neighbour's ink.
    let (top, bottom) = (picture.height() / 10, picture.height() * 9 / 10);
    shares.map(|share| {
        let least = paper - share * (paper - dark);
        let has = |x| (top..bottom).any(|y| f64::from(picture.get_pixel(x, y).0[0]) < least);
        (0..picture.width()).map(has).collect()
    })
}

/// Widest run of columns without ink between two places, px.
fn gap(ink: &[bool], from: f64, to: f64) -> f64 {
    let (mut widest, mut run) = (0, 0);
    let (from, to) = (
        from.max(0.0) as usize,
        (to.max(0.0) as usize).min(ink.len()),
    );
    for &inked in &ink[from.min(to)..to] {
        run = if inked { 0 } else { run + 1 };
        widest = widest.max(run);
    }
    f64::from(widest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Luma;

    /// Letters as blocks 14 px wide, 4 px apart; a stop is 4 px wide; a space is `space` px more.
    fn line(text: &str, space: u32) -> (GrayImage, Vec<&str>, Vec<f64>) {
        let mut picture =
            GrayImage::from_pixel(60 + (20 + space) * text.len() as u32, 48, Luma([230]));
        let (mut x, mut middles, mut signs) = (10, Vec::new(), Vec::new());
        for (at, c) in text.char_indices() {
            let (wide, tall) = match c {
                ' ' => (0, 0),
                '.' => (4, 5),
                _ => (14, 30),
            };
            for px in x..x + wide {
                for py in 40 - tall..40 {
                    picture.put_pixel(px, py, Luma([20]));
                }
            }
            middles.push(f64::from(x) + f64::from(if c == ' ' { space } else { wide }) / 2.0);
            x += if c == ' ' { space } else { wide + 4 };
            signs.push(&text[at..at + c.len_utf8()]);
        }
        (picture, signs, middles)
    }

    #[test]
    fn a_space_after_a_stop_stands_only_where_the_ink_leaves_room() {
        let read = "HARBOUR U. C. B.";
        let left = |space: u32| {
            let (picture, signs, middles) = line(read, space);
            let stands = standing(&picture, &signs, &middles);
            read.chars()
                .zip(stands)
                .filter(|c| c.1)
                .map(|c| c.0)
                .collect::<String>()
        };
        assert_eq!(left(1), "HARBOUR U.C.B.");
        assert_eq!(left(14), read);
    }

    #[test]
    fn before_a_word_the_space_after_a_stop_stands_however_narrow() {
        let (picture, signs, middles) = line("Loc. between U. C.", 2);
        let stands = standing(&picture, &signs, &middles);
        let left: String = signs
            .iter()
            .zip(stands)
            .filter(|s| s.1)
            .map(|s| *s.0)
            .collect();
        assert_eq!(left, "Loc. between U.C.");
    }

    #[test]
    fn a_name_is_as_close_to_its_initials_as_they_are_to_each_other() {
        let left = |text: &'static str, space: u32| {
            let (picture, signs, middles) = line(text, space);
            let stands = standing(&picture, &signs, &middles);
            let left = signs.iter().zip(stands).filter(|s| s.1);
            left.map(|s| *s.0).collect::<String>()
        };
        assert_eq!(left("H.A. Brandreth", 1), "H.A.Brandreth");
        assert_eq!(left("H. A. Brandreth", 1), "H.A.Brandreth");
        assert_eq!(left("H.A. Brandreth", 9), "H.A. Brandreth");
        assert_eq!(left("H. A. Brandreth", 14), "H. A. Brandreth");
    }

    #[test]
    fn a_space_is_missing_where_signs_stand_farther_apart_than_any_letters() {
        let absent = |apart: u32| {
            let (picture, mut signs, mut middles) = line("7 8 9 10", apart);
            let (mut i, spaces) = (0, signs.clone());
            middles.retain(|_| (spaces[i] != " ", i += 1).0);
            signs.retain(|s| *s != " ");
            missing(&picture, &signs, &middles)
        };
        assert_eq!(absent(60), [false, true, true, true, false]);
        assert_eq!(absent(14), [false; 5]);
    }

    #[test]
    fn a_space_between_words_is_never_taken_away() {
        let (picture, signs, middles) = line("ABCD EFGH", 0);
        assert!(standing(&picture, &signs, &middles).iter().all(|&s| s));
    }
}
