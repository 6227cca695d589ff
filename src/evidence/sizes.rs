//! Sizes of supports against the standard sizes of the trade.
//!
//! British, inches: J. Simon, *"Three-quarters, kit-cats and half-lengths": British portrait
//! painters and their canvas sizes, 1625-1850*, National Portrait Gallery 2013, for three-quarters,
//! half-length and bishop's half-length; the rest from memory of colourmen's lists. French, cm:
//! lists of the 19th century as reprinted since.

use serde::Serialize;

/// A standard size that a support has.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SizeMatch {
    /// `three-quarters (30 x 25 in)`.
    pub name: String,
    /// `British` or `French`.
    pub trade: &'static str,
    /// Greatest difference of a side, mm.
    pub off: f64,
    /// Where the size is from.
    pub source: &'static str,
}

const SIMON: &str = "J. Simon, National Portrait Gallery 2013";
const LISTS: &str = "colourmen's lists (from memory)";
const FRENCH: &str = "French lists of the 19th century, as reprinted";

/// Names of British sizes, inches, the long side first.
const NAMED: [(&str, f64, f64, &str); 11] = [
    ("head", 24.0, 20.0, LISTS),
    ("head", 20.0, 16.0, LISTS),
    ("three-quarters", 30.0, 25.0, SIMON),
    ("kit-cat", 36.0, 28.0, LISTS),
    ("small half-length", 44.0, 34.0, LISTS),
    ("half-length", 50.0, 40.0, SIMON),
    ("bishop's half-length", 56.0, 44.0, SIMON),
    ("bishop's half-length", 56.0, 45.0, SIMON),
    ("whole-length", 94.0, 58.0, LISTS),
    ("bishop's whole-length or king size", 106.0, 70.0, LISTS),
    ("imperial sheet", 30.0, 22.0, LISTS),
];

/// Usual stock of the 19th century, inches.
const STOCK: [(f64, f64); 26] = [
    (8.0, 6.0),
    (9.0, 7.0),
    (10.0, 7.0),
    (10.0, 8.0),
    (12.0, 8.0),
    (12.0, 9.0),
    (12.0, 10.0),
    (14.0, 10.0),
    (14.0, 12.0),
    (16.0, 12.0),
    (18.0, 12.0),
    (18.0, 14.0),
    (20.0, 14.0),
    (20.0, 16.0),
    (21.0, 17.0),
    (24.0, 18.0),
    (24.0, 20.0),
    (27.0, 20.0),
    (30.0, 20.0),
    (30.0, 25.0),
    (36.0, 24.0),
    (36.0, 28.0),
    (40.0, 30.0),
    (44.0, 34.0),
    (48.0, 36.0),
    (50.0, 40.0),
];

/// Number, then figure, paysage and marine: cm, the long side once.
const FRENCH_SIZES: [(u32, f64, [f64; 3]); 20] = [
    (0, 18.0, [14.0, 12.0, 10.0]),
    (1, 22.0, [16.0, 14.0, 12.0]),
    (2, 24.0, [19.0, 16.0, 14.0]),
    (3, 27.0, [22.0, 19.0, 16.0]),
    (4, 33.0, [24.0, 22.0, 19.0]),
    (5, 35.0, [27.0, 24.0, 22.0]),
    (6, 41.0, [33.0, 27.0, 24.0]),
    (8, 46.0, [38.0, 33.0, 27.0]),
    (10, 55.0, [46.0, 38.0, 33.0]),
    (12, 61.0, [50.0, 46.0, 38.0]),
    (15, 65.0, [54.0, 50.0, 46.0]),
    (20, 73.0, [60.0, 54.0, 50.0]),
    (25, 81.0, [65.0, 60.0, 54.0]),
    (30, 92.0, [73.0, 65.0, 60.0]),
    (40, 100.0, [81.0, 73.0, 65.0]),
    (50, 116.0, [89.0, 81.0, 73.0]),
    (60, 130.0, [97.0, 89.0, 81.0]),
    (80, 146.0, [114.0, 97.0, 89.0]),
    (100, 162.0, [130.0, 114.0, 97.0]),
    (120, 195.0, [130.0, 114.0, 97.0]),
];

/// Allowed for restretching: 0.3 inch either way.
const OFF_MM: f64 = 0.3 * 25.4;

/// The standard sizes that a support of this height and width (mm) has, the nearest first. Either
/// way up; an empty list is usual too: sizes were cut to order, and canvases were cut down.
///
/// ```
/// let m = dorso_telling::evidence::standard_sizes(762.0, 635.0);
/// assert_eq!(m[0].name, "three-quarters (30 x 25 in)");
/// ```
pub fn standard_sizes(height: f64, width: f64) -> Vec<SizeMatch> {
    let (long, short) = (height.max(width), height.min(width));
    let mut out: Vec<SizeMatch> = Vec::new();
    let mut add = |name: String, l: f64, s: f64, trade, source| {
        let off = (long - l).abs().max((short - s).abs());
        if off <= OFF_MM {
            out.push(SizeMatch {
                name,
                trade,
                off,
                source,
            });
        }
    };
    for (name, l, s, source) in NAMED {
        let said = format!("{name} ({l} x {s} in)");
        add(said, l * 25.4, s * 25.4, "British", source);
    }
    for (l, s) in STOCK {
        if !NAMED.iter().any(|n| (n.1, n.2) == (l, s)) {
            let said = format!("stock size {l} x {s} in");
            add(said, l * 25.4, s * 25.4, "British", LISTS);
        }
    }
    for (number, l, shorts) in FRENCH_SIZES {
        for (s, kind) in shorts.into_iter().zip(["figure", "paysage", "marine"]) {
            let said = format!("no. {number} {kind} ({l} x {s} cm)");
            add(said, l * 10.0, s * 10.0, "French", FRENCH);
        }
    }
    out.sort_by(|a, b| a.off.total_cmp(&b.off));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_known_either_way_up_and_within_a_third_of_an_inch() {
        let first = |h: f64, w: f64| standard_sizes(h, w).first().map(|m| m.name.clone());
        assert_eq!(first(635.0, 762.0).unwrap(), "three-quarters (30 x 25 in)");
        assert_eq!(
            first(1422.0, 1118.0).unwrap(),
            "bishop's half-length (56 x 44 in)"
        );
        assert_eq!(first(650.0, 540.0).unwrap(), "no. 15 figure (65 x 54 cm)");
        assert_eq!(first(730.0, 500.0).unwrap(), "no. 20 marine (73 x 50 cm)");
        assert_eq!(first(555.0, 333.0).unwrap(), "no. 10 marine (55 x 33 cm)");
        assert!(standard_sizes(612.0 + 8.0, 712.0).is_empty());
        assert_eq!(first(0.0, 0.0), None);
        assert_eq!(first(f64::NAN, 100.0), None);
    }
}
