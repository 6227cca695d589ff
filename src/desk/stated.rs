//! What a mark states, and the form in which a person says what some of its words are.

use super::page::guarded;
use super::words as w;
use super::{Desk, item};
use crate::decisions::{KeptMark, NOTHING};
use crate::statements::Role;
use maud::{Markup, html};

/// Each statement with its chance, or that a person said so, and the way to put it right.
pub fn states(mark: &KeptMark) -> Markup {
    let all = mark.states();
    html! {
        @if !all.is_empty() {
            h3 { (w::STATES) }
            dl.states {
                @for (s, by) in all.iter().map(|s| (&s.statement, s.by)) {
                    dt { (s.role.told()) }
                    dd {
                        (s.value) " "
                        @match by {
                            Some(decision) => span.hint { (w::said_by_you(&decision.to_string())) },
                            None => span.hint { (item::chance(s.chance)) },
                        }
                        " "
                        button.small type="button" data-words=(s.words) data-role=(s.role.as_str())
                            aria-label=(w::not_so(&s.role.told(), &s.value)) { (w::NOT_SO) }
                    }
                }
            }
        }
    }
}

/// The form: words, what they are, and their value where it isn't the words themselves.
///
/// * `newest`: the last entry of the journal that the page saw; `only`: the picture that is gone through alone.
pub fn form(desk: &Desk, mark: &KeptMark, newest: i64, only: Option<i64>) -> Markup {
    let lines = item::lines(mark);
    html! {
        details.entry id="says" {
            summary { (w::SAYS) " " kbd { "f" } }
            form method="post" action=(format!("/mark/{}/decide", mark.id)) {
                (guarded(desk, newest))
                input type="hidden" name="picture" value=[only];
                input type="hidden" name="act" value="says";
                p {
                    label for="says-words" { (w::SAYS_WORDS) } " "
                    input id="says-words" name="words" maxlength="300" required list="says-lines" autocomplete="off" spellcheck="false";
                    datalist id="says-lines" { @for line in &lines { option value=(line) {} } }
                }
                p {
                    label for="says-role" { (w::SAYS_ROLE) } " "
                    select id="says-role" name="role" {
                        @for (role, name) in Role::ALL { option value=(name) { (role.told()) } }
                        option value=(NOTHING) { (w::SAYS_NOTHING) }
                    }
                }
                p {
                    label for="says-value" { (w::SAYS_VALUE) } " "
                    input id="says-value" name="value" maxlength="300" autocomplete="off" aria-describedby="says-how";
                    " " span.hint id="says-how" { (w::SAYS_HOW) }
                }
                button { (w::SAYS_KEEP) }
            }
        }
    }
}
