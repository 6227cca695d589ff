//! A firm or a society with several addresses is met at that of the year stated.
//!
//! A list has one row for each address with its years. A year that a mark states (it is dated, or it is the
//! label of a show of that year) speaks for the row whose years hold it and against the others.

use super::clues::wording::tokens;
use super::edtf::Edtf;
use super::kinds::{Told, YearKind, dated};

/// How far old stock goes on after the last year of a row, and how much earlier a firm may have come than
/// the directory says (J. Simon, National Portrait Gallery, 2006 and later), in years.
const STOCK: i64 = 5;
const EARLIER: i64 = 1;
/// What is left to a row whose years exclude the year stated: our own choice, a year may be misread or be
/// of something else.
const EXCLUDED: f64 = 0.04;
/// What is left to a row between its last year and the end of old stock.
const OLD_STOCK: f64 = 0.4;

/// A year that a mark states of itself or of the show whose label it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Stated {
    /// First year that it may be.
    pub from: i64,
    /// Last year that it may be.
    pub to: i64,
    /// Chance that it is read right and means the year of the mark, 0 to 1.
    pub chance: f64,
}

/// The years that a text states of the mark itself.
///
/// * `chance`: that the text is read right; a year in words counts nine in ten of it (our own choice).
/// * `told`: what is known of stretches of the text.
pub fn stated(text: &str, chance: f64, told: &[Told]) -> Vec<Stated> {
    let all = tokens(text);
    let found = dated(text, &all, false, told);
    let own = found.iter().filter(|d| d.kind == YearKind::Mark);
    own.filter_map(|d| {
        let year = |t: &str, last: bool| {
            let e = Edtf::parse(t).ok()?;
            let day = if last { e.latest() } else { e.earliest() };
            Some(day?.year)
        };
        // A year of two figures settles no address
        let [(from, to)] = d.written.spans.as_slice() else {
            return None;
        };
        Some(Stated {
            from: year(from, false)?,
            to: year(to, true)?,
            chance: chance * 0.9,
        })
    })
    .collect()
}

/// How much of the weight of a list's row is left beside the years stated, above 0 and up to 1.
///
/// * `from`, `to`: years of the row, EDTF; empty where not known.
/// * `show`: whether the row is of a society or a show, which has no old stock.
///
/// ```
/// use dorso::dating::premises::{stated, weight};
/// let years = stated("Royal Academy 1877", 1.0, &[]);
/// assert!(weight(&years, "1837", "1868", true) < 0.2);
/// assert!(weight(&years, "1869", "", true) > 0.99);
/// ```
pub fn weight(stated: &[Stated], from: &str, to: &str, show: bool) -> f64 {
    let day = |t: &str| Edtf::parse(t.trim()).ok();
    let first = day(from).and_then(|e| e.earliest()).map(|d| d.year);
    let last = day(to).and_then(|e| e.latest()).map(|d| d.year);
    let (earlier, stock) = if show { (0, 0) } else { (EARLIER, STOCK) };
    // "About" is given the width that dates in words have
    let loose = |t: &str| {
        if t.contains('~') {
            i64::from(super::dress::ABOUT_YEARS)
        } else {
            0
        }
    };
    let one = |s: &Stated| {
        let before = first.is_some_and(|f| s.to < f - earlier - loose(from));
        let after = |more: i64| last.is_some_and(|l| s.from > l + loose(to) + more);
        let left = if before || after(stock) {
            EXCLUDED
        } else if after(0) {
            OLD_STOCK
        } else {
            1.0
        };
        1.0 - s.chance * (1.0 - left)
    };
    // Years that say the same are one witness: the one that leaves least
    stated.iter().map(one).fold(1.0, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Houses of the Royal Academy by year: S. Hutchison, The History of the Royal Academy, 1968 (from
    /// memory).
    const HOUSES: [(&str, &str, &str); 4] = [
        ("Pall Mall", "1769", "1779"),
        ("Somerset House", "1780", "1836"),
        ("Trafalgar Square", "1837", "1868"),
        ("Burlington House", "1869", ""),
    ];

    #[test]
    fn a_society_is_met_at_the_house_of_the_year_stated() {
        for (year, house) in [
            (1775, "Pall Mall"),
            (1790, "Somerset House"),
            (1868, "Trafalgar Square"),
            (1877, "Burlington House"),
        ] {
            let years = stated(&format!("ROYAL ACADEMY {year} / No. 3"), 0.95, &[]);
            let best = HOUSES.iter().max_by(|a, b| {
                weight(&years, a.1, a.2, true).total_cmp(&weight(&years, b.1, b.2, true))
            });
            assert_eq!(best.map(|h| h.0), Some(house), "{year}");
            for h in HOUSES.iter().filter(|h| h.0 != house) {
                assert!(weight(&years, h.1, h.2, true) < 0.25, "{year} {}", h.0);
            }
        }
    }

    #[test]
    fn a_founding_or_an_event_told_later_excludes_no_address() {
        for text in [
            "Established 1790",
            "Exhibited at the Academy 1836",
            "Prize Medal 1851",
            "'98",
        ] {
            let years = stated(text, 1.0, &[]);
            assert_eq!(
                weight(&years, "1869", "1880", true),
                1.0,
                "{text}: {years:?}"
            );
        }
    }

    #[test]
    fn a_firms_old_stock_counts_less_and_what_is_about_is_loose() {
        let years = stated("framed 3 May 1879", 1.0, &[]);
        let stock = weight(&years, "1868", "1875", false);
        assert!((0.4..0.6).contains(&stock), "{stock}");
        assert!(weight(&years, "1868", "1875", true) < 0.2);
        assert_eq!(weight(&years, "1868", "1875~", true), 1.0);
        assert_eq!(weight(&years, "", "", true), 1.0);
    }
}
