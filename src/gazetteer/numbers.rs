//! The numbers by which others know an entry, and where these lead.

use super::Entry;

/// A number of an entry in somebody's list of names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Number {
    /// Whose number: "ULAN", "Wikidata", "page".
    pub whose: &'static str,
    /// As it is printed.
    pub text: String,
    /// Address that stands for the entry there.
    pub address: String,
}

/// Columns with a number, and what stands before it in the address (*Union List of Artist Names*, Getty Vocabularies;
/// Wikidata, "Concept URI": from memory).
const COLUMNS: [(&str, &str); 2] = [
    ("ULAN", "http://vocab.getty.edu/ulan/"),
    ("Wikidata", "http://www.wikidata.org/entity/"),
];

impl Entry {
    /// Its numbers in lists of names, and the museum's own page of it.
    pub fn numbers(&self) -> Vec<Number> {
        let cell = |name: &str| {
            let found = self.extra.iter().find(|x| x.0.eq_ignore_ascii_case(name));
            found.map_or("", |x| x.1.trim())
        };
        let plain =
            |text: &&str| !text.is_empty() && text.chars().all(|c| c.is_ascii_alphanumeric());
        let mut out: Vec<Number> = COLUMNS
            .into_iter()
            .filter_map(|(whose, before)| {
                let text = Some(cell(whose)).filter(plain)?;
                Some(Number {
                    whose,
                    text: text.to_owned(),
                    address: format!("{before}{text}"),
                })
            })
            .collect();
        let page = cell("link");
        let web = page.starts_with("http://") || page.starts_with("https://");
        if web
            && !page.contains(|c: char| c.is_whitespace() || c.is_control() || "\"<>".contains(c))
        {
            out.push(Number {
                whose: "page",
                text: page.to_owned(),
                address: page.to_owned(),
            });
        }
        out
    }

    /// The addresses that stand for it elsewhere.
    pub fn same_as(&self) -> Vec<String> {
        self.numbers().into_iter().map(|n| n.address).collect()
    }

    /// Whether two persons of one name are told apart: by a number in the same list of names or of the same museum, or
    /// by both years of their lives.
    pub(super) fn is_another_than(&self, other: &Entry) -> bool {
        let all = |e: &Entry| -> Vec<(String, String)> {
            let museums = e.extra.iter().find(|x| x.0 == "numbers");
            let museums = museums.into_iter().flat_map(|x| x.1.split("; "));
            let museums = museums.filter_map(|n| n.split_once(' '));
            let lists = e.numbers().into_iter().filter(|n| n.whose != "page");
            let lists = lists.map(|n| (n.whose.to_owned(), n.text));
            lists
                .chain(museums.map(|(whose, n)| (whose.to_owned(), n.to_owned())))
                .collect()
        };
        let (own, others) = (all(self), all(other));
        let number = own
            .iter()
            .any(|n| others.iter().any(|o| o.0 == n.0 && o.1 != n.1));
        let differ = |x: &str, y: &str| !x.is_empty() && !y.is_empty() && x != y;
        number || differ(&self.from, &other.from) && differ(&self.to, &other.to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_lead_somewhere_and_what_is_none_is_left_out() {
        let with = |name: &str, value: &str| (name.to_owned(), value.to_owned());
        let e = Entry {
            extra: vec![
                with("ULAN", "500012345"),
                with("Wikidata", "javascript:x"),
                with("link", "ftp://museum.example/1"),
            ],
            ..Entry::default()
        };
        let numbers = e.numbers();
        assert_eq!(numbers.len(), 1, "{numbers:?}");
        assert_eq!(numbers[0].address, "http://vocab.getty.edu/ulan/500012345");
        let e = Entry {
            extra: vec![with("link", "https://museum.example/artists/1")],
            ..Entry::default()
        };
        assert_eq!(e.numbers()[0].whose, "page");
    }
}
