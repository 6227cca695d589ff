//! Sentences that a person put into their own words: each stands where it was written, as theirs, and
//! is held in every later run against what the program writes there.

use super::lengths::page;
use super::{Block, Language, Length, Note, dates};
use crate::decisions::{Observation, Sight, standing};
use crate::error::{Error, Kind, Result};
use sha2::{Digest, Sha256};

/// Longest wording, letters.
const MOST_WORDED: usize = 4000;

/// A person's wording of a passage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Worded {
    /// `o3`.
    pub id: String,
    /// Who.
    pub by: String,
    /// ISO 8601.
    pub at: String,
    /// Length of the note that it stands in.
    pub length: Length,
    /// Language that it is written in.
    pub language: Language,
    /// Key of the passage.
    pub passage: String,
    /// Their words.
    pub words: String,
    /// What the program wrote there then.
    pub before: String,
}

/// What has become of what a person's wording rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stands {
    /// The program would write what it wrote then.
    AsBefore,
    /// It would write something else.
    Changed {
        /// Names and figures of the person's words that it told then and tells no longer.
        against: Vec<String>,
    },
    /// It has nothing to write there any more.
    Gone,
}

/// A passage of a note: a sentence or a paragraph that a person may put otherwise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passage {
    /// Place among the blocks of the page.
    pub at: usize,
    /// What it is about: the part of the note, and the mark or part of the object, else a word that
    /// stands for what it says.
    pub key: String,
    /// What the program writes there; empty where that is nothing.
    pub written: String,
    /// The person's wording that holds, and how it stands.
    pub worded: Option<(Worded, Stands)>,
}

/// A note in one length, with its passages.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Page {
    /// What is set.
    pub blocks: Vec<Block>,
    /// Passages, in order.
    pub passages: Vec<Passage>,
}

impl Page {
    pub(super) fn push(&mut self, block: Block) {
        self.blocks.push(block);
    }

    /// Adds a paragraph or a point that a person may put otherwise.
    ///
    /// * `about`: the mark or the part that it speaks of; `None` where it is known by what it says.
    pub(super) fn passage(&mut self, section: &str, about: Option<&str>, block: Block) {
        if let Block::Paragraph(words) | Block::Point(words) = &block {
            self.passages.push(Passage {
                at: self.blocks.len(),
                key: match about {
                    Some(about) => format!("{section}:{about}"),
                    None => format!("{section}:{}", short(words)),
                },
                written: words.clone(),
                worded: None,
            });
        }
        self.push(block);
    }

    /// Puts the wordings of this length in their places; those whose place is gone come last.
    pub(super) fn reword(&mut self, note: &Note, length: Length) {
        let w = note.entry.language.wording();
        let own = |x: &&Worded| x.length == length && x.language == note.entry.language;
        let mut gone = Vec::new();
        for worded in note.worded.iter().filter(own) {
            let Some(p) = self.passages.iter_mut().find(|p| p.key == worded.passage) else {
                gone.push(worded.clone());
                continue;
            };
            let stands = stands(worded, &p.written);
            if let Block::Paragraph(words) | Block::Point(words) = &mut self.blocks[p.at] {
                *words = told(worded, &stands);
            }
            p.worded = Some((worded.clone(), stands));
        }
        let any = !gone.is_empty() || self.passages.iter().any(|p| p.worded.is_some());
        if !any || length == Length::File && gone.is_empty() {
            return;
        }
        self.push(Block::Heading(w.text("heading.worded").into()));
        for worded in gone {
            self.passages.push(Passage {
                at: self.blocks.len(),
                key: worded.passage.clone(),
                written: String::new(),
                worded: Some((worded.clone(), Stands::Gone)),
            });
            self.push(Block::Point(told(&worded, &Stands::Gone)));
        }
        if length == Length::File {
            return;
        }
        let of = |x: &(Worded, Stands)| {
            let slots = [
                ("by", x.0.by.as_str()),
                ("day", &w.date(x.0.at.get(..10).unwrap_or(&x.0.at))),
                ("said", &beginning(&x.0.words)),
            ];
            let changed = match x.1 {
                Stands::AsBefore => String::new(),
                _ => format!(" {}", w.text("worded.changed")),
            };
            Block::Paragraph(w.plain("worded.by", &slots) + &changed)
        };
        let said: Vec<Block> = self
            .passages
            .iter()
            .filter_map(|p| p.worded.as_ref())
            .map(of)
            .collect();
        self.blocks.extend(said);
    }
}

/// What is to be kept of a person's wording of a passage.
///
/// # Errors
/// `Kind::Usage` if the note has no such passage, or the words are none, too many, or the program's.
pub fn reword(note: &Note, length: Length, key: &str, words: &str) -> Result<Sight> {
    let wrong = |what: &str, next: String| {
        let place = format!("passage \"{key}\" of the {} note", length.as_str());
        Err(Error::new(Kind::Usage, place, what, next))
    };
    let page = page(note, length);
    let Some(p) = page.passages.iter().find(|p| p.key == key) else {
        let known: Vec<&str> = page.passages.iter().map(|p| p.key.as_str()).collect();
        return wrong("there is none", format!("give one of {}", known.join(", ")));
    };
    let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
    let before = match &p.worded {
        Some((x, Stands::Gone)) => x.before.clone(),
        _ => p.written.clone(),
    };
    if words.is_empty() {
        return wrong(
            "there are no words",
            "give the sentence as it is to stand, or undo an earlier wording".into(),
        );
    }
    if words.chars().count() > MOST_WORDED {
        let next = format!("give at most {MOST_WORDED} letters");
        return wrong("these are too many words for one passage", next);
    }
    if words == before && p.worded.is_none() {
        return wrong(
            "the program writes the same words",
            "leave it as it is, or change it".into(),
        );
    }
    Ok(Sight::Wording {
        length: length.as_str().into(),
        language: note.entry.language.as_str().into(),
        passage: key.into(),
        words,
        before,
    })
}

impl Passage {
    /// What a person has to know of their wording; `None` where it rests on what it rested on.
    pub fn notice(&self) -> Option<String> {
        match &self.worded.as_ref()?.1 {
            Stands::AsBefore => None,
            Stands::Gone => Some(
                "What this rests on is gone since: the program would write nothing here.".into(),
            ),
            Stands::Changed { against } if against.is_empty() => {
                Some("What this rests on has changed since.".into())
            }
            Stands::Changed { against } => {
                let all: Vec<String> = against.iter().map(|a| format!("“{a}”")).collect();
                Some(format!(
                    "What this rests on has changed since and now speaks against it: the back no longer tells {}.",
                    super::reasons::and(&all)
                ))
            }
        }
    }
}

/// The words as they are set; the note for the file says whose they are on the spot.
fn told(x: &Worded, stands: &Stands) -> String {
    if x.length != Length::File {
        return x.words.clone();
    }
    let changed = match stands {
        Stands::AsBefore => "",
        _ => "; what it rests on has changed since, see the table of wordings",
    };
    format!(
        "{} [wording by {}, {}{changed}]",
        x.words,
        x.by,
        dates::day(&x.at)
    )
}

/// The wordings that hold, the last one of each passage.
pub(super) fn all(observations: &[Observation]) -> Vec<Worded> {
    let mut out: Vec<Worded> = Vec::new();
    for o in standing(observations) {
        let Sight::Wording {
            length,
            language,
            passage,
            words,
            before,
        } = &o.sight
        else {
            continue;
        };
        let (Some(length), Some(language)) = (Length::parse(length), Language::parse(language))
        else {
            continue;
        };
        out.retain(|x| (x.length, x.language, &x.passage) != (length, language, passage));
        out.push(Worded {
            id: o.id.to_string(),
            by: o.author.by.clone(),
            at: o.author.at.clone(),
            length,
            language,
            passage: passage.clone(),
            words: words.clone(),
            before: before.clone(),
        });
    }
    out
}

/// Rows of the table of wordings of all lengths: where, by whom, the words, what the program wrote
/// then, what it would write now.
pub(super) fn rows(note: &Note, file: &Page) -> Vec<Vec<String>> {
    let others = [Length::Catalogue, Length::Label].map(|l| page(note, l));
    let row = |p: &Passage| {
        let (x, stands) = p.worded.as_ref()?;
        let now = match stands {
            Stands::AsBefore => "the same".into(),
            Stands::Gone => "nothing".into(),
            Stands::Changed { .. } => p.written.clone(),
        };
        let who = format!("{}, {} ({})", x.by, dates::day(&x.at), x.id);
        let place = format!("{}, {}", x.length.as_str(), x.passage);
        Some(vec![place, who, x.words.clone(), x.before.clone(), now])
    };
    let all = std::iter::once(file).chain(&others);
    all.flat_map(|p| &p.passages).filter_map(row).collect()
}

fn stands(x: &Worded, now: &str) -> Stands {
    if says(&x.before) == says(now) {
        return Stands::AsBefore;
    }
    let (before, now) = (telling(&x.before), telling(now));
    let mut against: Vec<String> = telling(&x.words);
    against.retain(|t| before.contains(t) && !now.contains(t));
    against.dedup();
    Stands::Changed { against }
}

/// Names and figures: words that begin with a capital or hold a figure, but for the first.
fn telling(words: &str) -> Vec<String> {
    let bare = |w: &str| {
        let w = w.trim_matches(|c: char| !c.is_alphanumeric());
        let own = w.strip_suffix("'s").or(w.strip_suffix("’s"));
        own.unwrap_or(w).to_owned()
    };
    let tells = |w: &String| {
        w.chars().any(|c| c.is_ascii_digit()) || w.chars().next().is_some_and(char::is_uppercase)
    };
    let all = says(words);
    let all: Vec<String> = all
        .split_whitespace()
        .enumerate()
        .map(|(i, w)| match i {
            // A capital at the beginning of a sentence says nothing
            0 => bare(w).to_lowercase(),
            _ => bare(w),
        })
        .collect();
    all.into_iter().filter(tells).collect()
}

/// What a passage says: its words without the figures of chances and the numbers of notes, which
/// change where nothing else does.
fn says(words: &str) -> String {
    let passes = |w: &&str| {
        let bare = w.trim_matches(|c: char| !c.is_ascii_digit());
        let chance = bare.len() == 4 && (bare.starts_with("0.") || bare == "1.00");
        let numbered = w.trim_end_matches(['.', ';', ',']);
        let note = numbered.starts_with('[')
            && numbered.ends_with(']')
            && bare.len() + 2 == numbered.len();
        !chance && !note
    };
    words
        .split_whitespace()
        .filter(passes)
        .collect::<Vec<_>>()
        .join(" ")
}

/// A short word that stands for what is said.
fn short(words: &str) -> String {
    let hash = Sha256::digest(says(words).as_bytes());
    hash[..3].iter().map(|b| format!("{b:02x}")).collect()
}

fn beginning(words: &str) -> String {
    const MOST: usize = 6;
    let all: Vec<&str> = words.split_whitespace().collect();
    match all.len() > MOST {
        true => all[..MOST].join(" ") + " …",
        false => words.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn worded(words: &str, before: &str) -> Worded {
        Worded {
            id: "o1".into(),
            by: "A. Carrow".into(),
            at: "2024-05-07T09:00:00+01:00".into(),
            length: Length::Catalogue,
            language: Language::British,
            passage: "reverse:1b".into(),
            words: words.into(),
            before: before.into(),
        }
    }

    #[test]
    fn another_chance_of_the_same_word_changes_nothing() {
        let x = worded("Orme's label.", "Probably (0.81) the label of Orme [2].");
        assert_eq!(
            stands(&x, "Probably (0.84) the label of Orme [3]."),
            Stands::AsBefore
        );
        let less = stands(&x, "Perhaps (0.44) the label of Orme [2].");
        assert_eq!(
            less,
            Stands::Changed {
                against: Vec::new()
            }
        );
    }

    #[test]
    fn what_is_told_no_longer_speaks_against_who_repeats_it() {
        let before = "Label of the Rothcaster Society, 1871.";
        let now = "Label of the Rothcaster Society, 1874.";
        let repeats = worded("The society at Rothcaster labelled it in 1871.", before);
        assert_eq!(
            stands(&repeats, now),
            Stands::Changed {
                against: vec!["1871".into()]
            }
        );
        let silent = worded("A label of the society at Rothcaster.", before);
        assert_eq!(
            stands(&silent, now),
            Stands::Changed {
                against: Vec::new()
            }
        );
    }
}
