//! What the rest of a mark says of a row of the lists: its town, its premises, years and trade.

use super::lexicon::{self, Class};
use super::links::Links;
use super::lists::Kind;
use super::shapes::{self, Shape};
use super::words::Word;

impl Links<'_> {
    /// How rarely a chance word of the lists is met: 1 letter for letter, less with each letter misread.
    fn met(&self, word: u32) -> f32 {
        self.found
            .get(&word)
            .map_or(0.0, |f| (1.0 - f.0 / 8.0).max(0.0))
    }

    /// Share of a row's address that the mark bears, whether its number stands there too, whether another address does.
    fn address_met(&self, row: u32) -> (f32, f32, f32) {
        let (mut all, mut told, mut number) = (0.0, 0.0, 0f32);
        for &w in self.lists.addresses.get(row as usize) {
            let word = &self.lists.vocabulary[w as usize];
            if lexicon::exact(word) & (Class::Street.bit() | Class::Article.bit()) != 0 {
                continue;
            }
            if (26..36).contains(&word[0]) {
                number = self.met(w).max(number);
                continue;
            }
            let rare = self.lists.rare[w as usize];
            (all, told) = (all + rare, told + rare * self.met(w));
        }
        if all == 0.0 {
            return (0.0, number, 0.0);
        }
        let share = told / all;
        let other = f32::from(u8::from(share < 0.3 && self.streets));
        (share, if share > 0.5 { number } else { 0.0 }, other)
    }

    /// What the rest of the mark says of a row: town met, another town, none listed; share of the address met, its
    /// number met, another address; years met, missed, not known; trade met less missed.
    pub(super) fn evidence(&mut self, row: u32) -> [f32; 10] {
        if let Some(e) = self.evidence.get(&row) {
            return *e;
        }
        let r = &self.lists.rows[row as usize];
        let mut e = [0f32; 10];
        let town = self.lists.towns.get(row as usize);
        if town.is_empty() {
            e[2] = 1.0;
        } else {
            let share = town.iter().map(|w| self.met(*w)).fold(1.0, f32::min);
            e[0] = share;
            if share < 0.3 && self.places.iter().any(|p| !town.contains(p)) {
                e[1] = 1.0;
            }
        }
        (e[3], e[4], e[5]) = self.address_met(row);
        let person = r.kind == Kind::Person;
        match (r.years, self.years.is_empty()) {
            ((None, None), _) => e[8] = 1.0,
            (_, true) => {}
            ((a, b), false) => {
                let inside = |y: &i32| {
                    a.is_none_or(|a| *y >= a + if person { 12 } else { 0 })
                        && b.is_none_or(|b| *y <= b)
                };
                if self.years.iter().any(inside) {
                    e[6] = 1.0
                } else {
                    e[7] = 1.0
                }
            }
        }
        if self.trades != 0 && r.trade != 0 {
            e[9] = if self.trades & r.trade != 0 {
                1.0
            } else {
                -1.0
            };
        }
        self.evidence.insert(row, e);
        e
    }
}

/// The year of a word, if it is one.
pub(super) fn year(word: &Word) -> Option<i32> {
    let shape = shapes::shape(word);
    matches!(shape, Shape::Year | Shape::YearRange)
        .then(|| word.core().get(..4)?.parse().ok())
        .flatten()
}
