//! Characters that steer what shows them instead of being shown: control characters, and marks that turn the
//! direction of writing or take no room. Names of files and readings may hold them; they are shown as signs where
//! a text leaves the program, and kept as they are within.

use std::borrow::Cow;
use std::fmt::Write;

/// Whether a character steers a terminal or page. Direction: Unicode Standard Annex 9, section 2; the others have
/// the general category Cc, or no width (U+200B, U+2060 to U+2064, U+FEFF, tags).
fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{61c}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{2069}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

fn with<'a>(text: &'a str, kept: &[char], sign: impl Fn(char, &mut String)) -> Cow<'a, str> {
    let signed = |c: char| steers(c) && !kept.contains(&c);
    let Some(first) = text.find(signed) else {
        return Cow::Borrowed(text);
    };
    let mut out = String::with_capacity(text.len() + 16);
    out.push_str(&text[..first]);
    for c in text[first..].chars() {
        match signed(c) {
            true => sign(c, &mut out),
            false => out.push(c),
        }
    }
    Cow::Owned(out)
}

/// Control Pictures (U+2400) for control characters, the number in brackets for others.
fn sign(c: char, out: &mut String) {
    match u32::from(c) {
        n @ 0..=0x1f => out.extend(char::from_u32(0x2400 + n)),
        0x7f => out.push('\u{2421}'),
        n => drop(write!(out, "⟨U+{n:04X}⟩")),
    }
}

/// A text of several lines.
pub fn shown(text: &str) -> Cow<'_, str> {
    with(text, &['\n', '\t'], sign)
}

/// A table whose lines may end as spreadsheets end them.
pub fn table(text: &str) -> Cow<'_, str> {
    with(text, &['\n', '\t', '\r'], sign)
}

/// A page of HTML whose texts are escaped. Within tags and where a person writes, texts come back as they were sent:
/// there the number stands for the character (HTML, section 13.2.5.80), but where HTML gives that number to another.
pub fn page(html: &str) -> String {
    const WRITTEN: [&str; 2] = ["<textarea", "</textarea"];
    let mut out = String::with_capacity(html.len());
    let mut writes = false;
    for piece in html.split_inclusive('>') {
        let (text, tag) = piece.split_at(piece.find('<').unwrap_or(piece.len()));
        match writes {
            true => out.push_str(&numbered(text)),
            false => out.push_str(&shown(text)),
        }
        out.push_str(&numbered(tag));
        match WRITTEN.map(|w| tag.starts_with(w)) {
            [true, _] => writes = true,
            [_, true] => writes = false,
            _ => (),
        }
    }
    out
}

fn numbered(text: &str) -> Cow<'_, str> {
    with(text, &['\n', '\t', '\r'], |c, out| match u32::from(c) {
        0 | 0x7f..=0x9f => out.push(c),
        n => drop(write!(out, "&#x{n:x};")),
    })
}

/// A text on one line; what would end it becomes a blank.
pub fn line(text: &str) -> Cow<'_, str> {
    with(text, &[], |c, out| match c {
        '\n' | '\r' | '\t' => out.push(' '),
        c => sign(c, out),
    })
}

/// A JSON document: the same text to who reads it, without such a character in it (RFC 8259, section 7).
pub fn json(text: &str) -> Cow<'_, str> {
    with(text, &['\n', '\t', '\r'], |c, out| {
        let mut units = [0; 2];
        for unit in c.encode_utf16(&mut units) {
            let _ = write!(out, "\\u{unit:04x}");
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_is_shown_and_what_is_written_stays() {
        assert_eq!(
            line("a\u{1b}[31mb\u{7}\n\u{202e}gpj"),
            "a␛[31mb␇ ⟨U+202E⟩gpj"
        );
        assert_eq!(shown("a\nb\tc\r\u{9b}2J"), "a\nb\tc␍⟨U+009B⟩2J");
        assert_eq!(table("a\r\n"), "a\r\n");
        for plain in ["Ḷ̣ été [---] ‘Orme’ 〈〉 العربية", ""] {
            assert!(matches!(shown(plain), Cow::Borrowed(same) if same == plain));
        }
    }

    #[test]
    fn what_a_page_shows_is_signed_and_what_it_sends_back_stays() {
        let raw = "<p title=\"a\u{202e}\">a\u{202e}</p><textarea>b\u{202e}\u{7}</textarea>c\u{7}";
        assert_eq!(
            page(raw),
            "<p title=\"a&#x202e;\">a⟨U+202E⟩</p><textarea>b&#x202e;&#x7;</textarea>c␇"
        );
    }

    #[test]
    fn json_says_the_same_without_them() {
        let said = "a\u{202e}b\u{e0041}\u{9b}";
        let text = serde_json::to_string(said).expect("text");
        let told = json(&text);
        assert!(told.is_ascii(), "{told}");
        assert_eq!(serde_json::from_str::<String>(&told).expect("JSON"), said);
    }
}
