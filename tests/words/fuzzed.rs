//! What comes from outside, bent at random: nothing it is given ends the program or holds it up.
//!
//! A seed and a fixed number of runs on the stable toolchain; a long run by hand, one target or all:
//! `DORSO_FUZZ=1000000 DORSO_SEED=7 cargo test --release --test words -- fuzzed --nocapture`
//! What ended it once stands among the corpora, so that it is tried first and always.

use dorso::dating::clues::Clues;
use dorso::dating::edtf::Edtf;
use dorso::exports::{Archive, Part, pack};
use dorso::gazetteer::import::Plan;
use dorso::gazetteer::{edit, rows};
use dorso::{dating, measure, photograph, readings};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::io::Cursor;
use std::path::Path;
use std::sync::LazyLock;
use std::time::{Duration, Instant};

fn number(variable: &str) -> Option<u64> {
    std::env::var(variable).ok().and_then(|n| n.parse().ok())
}

/// Pieces that mean something to one target or another.
const PIECES: [&[u8]; 24] = [
    b"\"",
    b"\"\"",
    b",",
    b";",
    b"\t",
    b"\r\n",
    b"\xef\xbb\xbf",
    b"\xff\xfe",
    b"sep=;\n",
    b"|",
    b"[---]",
    b"[..]",
    "\u{323}".as_bytes(),
    b"1868/1875",
    b"187X~",
    b"-9999999999",
    b"..",
    b"{[",
    b"\xff\xd8",
    b"\xff\xc4",
    b"\xff\xda",
    "\u{202e}".as_bytes(),
    b"\0",
    b"99999999999999999999",
];

fn bent(from: &[&[u8]], random: &mut ChaCha8Rng) -> Vec<u8> {
    let mut out = from[random.random_range(0..from.len())].to_vec();
    for _ in 0..random.random_range(1..6) {
        let at = random.random_range(0..=out.len());
        let to = (at + random.random_range(0..24)).min(out.len());
        match random.random_range(0..8) {
            0 if at < out.len() => out[at] ^= 1 << random.random_range(0..8),
            1 if at < out.len() => out[at] = random.random(),
            2 => drop(out.drain(at..to)),
            3 => out.truncate(at),
            4 => {
                let again = out[at..to].repeat(random.random_range(1..4));
                drop(out.splice(at..at, again));
            }
            5 => {
                let other = from[random.random_range(0..from.len())];
                let cut = random.random_range(0..=other.len());
                drop(out.splice(at.., other[cut..].iter().copied()));
            }
            _ => {
                let piece = PIECES[random.random_range(0..PIECES.len())];
                drop(out.splice(at..at, piece.iter().copied()));
            }
        }
    }
    out
}

/// Gives a target its corpus as it stands, then bent; tells runs and the slowest of them.
fn fuzz(name: &str, share: u64, corpus: &[&[u8]], target: impl Fn(&[u8])) {
    /// Far above what the slowest takes on a busy machine.
    const HANGS: Duration = Duration::from_secs(60);
    let runs = number("DORSO_FUZZ").unwrap_or(1_000) / share;
    let mut random = ChaCha8Rng::seed_from_u64(number("DORSO_SEED").unwrap_or(1));
    let mut slowest = (Duration::ZERO, Vec::new());
    for n in 0..corpus.len() as u64 + runs {
        let bytes = match corpus.get(n as usize) {
            Some(whole) => whole.to_vec(),
            None => bent(corpus, &mut random),
        };
        let started = Instant::now();
        let done = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| target(&bytes)));
        let took = started.elapsed();
        assert!(
            done.is_ok(),
            "{name}, run {n}: ended by {:?}",
            String::from_utf8_lossy(&bytes)
        );
        assert!(
            took < HANGS,
            "{name}, run {n}: held up by {:?}",
            String::from_utf8_lossy(&bytes)
        );
        if took > slowest.0 {
            slowest = (took, bytes);
        }
    }
    println!(
        "{name}: {runs} runs, the slowest {} us, {} bytes",
        slowest.0.as_micros(),
        slowest.1.len()
    );
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

const LIST: &[u8] = b"entry,name,variants,trade,address,town,from,to,source,note\n\
    wintle-1,Amos Wintle,A. Wintle|Wintle,carver,\"4 Cross Row, back\",Rothcaster,1850~,186X,invented,\"two\nlines\"\n\
    broke-1,Ellis Broke,,gilder,,Rothcaster,,1880,invented,\n";

#[test]
fn lists() {
    let corpus: [&[u8]; 5] = [
        LIST,
        b"sep=;\nFirm;Street;Years\n\"Orme & Son\";4 Lantern Lane;1868-75\n# a remark\n;;\n",
        b"\xff\xfee\0n\0t\0r\0y\0,\0n\0a\0m\0e\0\n\0a\0,\0b\0\n\0",
        b"entry,name\r\na,\"never closed\r\nb,Orme\r\n",
        "Firm,Years\nOrme,1\u{feff}-75\n".as_bytes(),
    ];
    fuzz("lists", 1, &corpus, |bytes| {
        let sheet = rows::read(Path::new("framers.csv"), bytes);
        let cells = vec![("name".to_owned(), "Orme, \"Son\"".to_owned())];
        if let Ok((now, row)) = edit::appended(Path::new("framers.csv"), bytes, &[cells]) {
            assert!(now.starts_with(bytes) && row >= 1);
        }
        if let Ok(plan) = Plan::new(bytes, &[]) {
            plan.take(Path::new("sheet.csv"), &sheet.entries, None, "invented");
        }
    });
}

#[test]
fn editorial_signs() {
    let corpus: [&[u8]; 4] = [
        "ARTISTS' C\u{323}OLO[..]MAN / [---]SON [abc] 4".as_bytes(),
        "[[[a\u{323}]]] <b> {c} (d) vac.".as_bytes(),
        b"1868 / No 417",
        b"[.]",
    ];
    fuzz("editorial signs", 1, &corpus, |bytes| {
        let said = text(bytes);
        if let Ok(signs) = readings::leiden::parse(&said) {
            drop(signs);
        }
        if let Ok(lines) = readings::from_typed(&said) {
            for line in &lines {
                let again = readings::leiden::print(line);
                assert!(
                    readings::leiden::parse(&again).is_ok(),
                    "{said:?} is printed as {again:?}"
                );
            }
        }
    });
}

#[test]
fn dates_in_normal_form() {
    let corpus: [&[u8]; 6] = [
        b"1868~/1875",
        b"187X",
        b"[..1868, 1870]",
        b"2024-05-08T12:00:00Z",
        b"Y-170000002E3S2",
        b"Y-002E3S6",
    ];
    fuzz("EDTF", 1, &corpus, |bytes| {
        let said = text(bytes);
        if let Ok(date) = Edtf::parse(&said) {
            let again = date.to_string();
            assert_eq!(
                Edtf::parse(&again).as_ref(),
                Ok(&date),
                "{said:?}, {again:?}"
            );
        }
        let _ = (dating::typed(&said), dating::typed_years(&said));
    });
}

#[test]
fn wording_that_dates() {
    static CLUES: LazyLock<Clues> = LazyLock::new(|| Clues::built_in().expect("the clues"));
    let corpus: [&[u8]; 4] = [
        b"ORME & SON LTD / CARVERS & GILDERS / TEL. 417 / LONDON W.C.2",
        b"Printed for Orme, MDCCCLXVIII, 12th May 1868; Registered No 123456, Rd. IV 9",
        b"AN III / 5e ARRt. / Showa 12 / NW1 4AB",
        b"key,kind,words,not_before,not_after,sure,margin,source\nx,form,# & Co,1850,,0.9,2,invented\n",
    ];
    fuzz("dating texts", 1, &corpus, |bytes| {
        let said = text(bytes);
        CLUES.date(&said);
        if bytes.len() % 16 == 0 {
            let mut own = Clues::built_in().expect("the clues");
            own.add("clues.csv", &said);
        }
    });
}

#[test]
fn archives() {
    let mut whole = Cursor::new(Vec::new());
    let parts = [
        ("store.sqlite".to_owned(), Part::Bytes(vec![7; 300])),
        ("lists/framers.csv".to_owned(), Part::Bytes(LIST.to_vec())),
    ];
    pack(&parts, "2024-05-08T12:00:00+01:00", &mut whole).expect("packed");
    let whole = whole.into_inner();
    fuzz("archives", 1, &[&whole, b"PK\x05\x06", b""], |bytes| {
        if let Ok(mut archive) = Archive::open(Cursor::new(bytes)) {
            for name in archive.names() {
                let _ = archive.copy(&name, &mut std::io::sink());
            }
        }
    });
}

#[test]
fn truth_and_settings() {
    let dir = tempfile::tempdir().expect("folder");
    let corpus: [&[u8]; 3] = [
        b"file,list,entry,words,mark\nback.png,framers,wintle-1,AMOS WINTLE,m1\nback.png,,,,\n",
        b"{\"own_reader\":{\"program\":\"/bin/cat\",\"arguments\":[\"{picture}\"],\"seconds\":5},\"language\":{\"share\":0.5}}",
        b"{\"at\":\"2024-05-08\",\"by\":\"A. Carrow\",\"undoes\":1}\n",
    ];
    std::fs::write(dir.path().join("back.png"), b"no picture").expect("file");
    fuzz("truth, settings and what was learnt", 4, &corpus, |bytes| {
        let at = |name: &str| dir.path().join(name);
        for name in ["truth.csv", "back.txt", "settings.json", "learnt.jsonl"] {
            std::fs::write(at(name), bytes).expect("file");
        }
        let _ = measure::evaluate::known(dir.path());
        let _ = readings::settings::from_file(&at("settings.json"));
        let _ = readings::learnt::rows(&at("learnt.jsonl"));
    });
}

#[test]
fn photographs_and_what_they_say_of_themselves() {
    let picture = image::RgbImage::from_fn(40, 24, |x, y| {
        image::Rgb([(x * 6) as u8, (y * 9) as u8, (x * y) as u8])
    });
    let picture = image::DynamicImage::ImageRgb8(picture);
    let coded = |sort| {
        let mut out = Cursor::new(Vec::new());
        picture.write_to(&mut out, sort).expect("coded");
        out.into_inner()
    };
    use image::ImageFormat::{Jpeg, Png, Tiff, WebP};
    let mut turned = coded(Jpeg);
    // An EXIF block that says "turned by a quarter" (tag 274 = 6; CIPA DC-008, 4.5.4)
    let exif = b"\xff\xe1\x00\x22Exif\0\0MM\x00\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0";
    drop(turned.splice(2..2, exif.iter().copied()));
    let all = [coded(Jpeg), turned, coded(Png), coded(Tiff), coded(WebP)];
    let corpus: Vec<&[u8]> = all.iter().map(Vec::as_slice).collect();
    fuzz("photographs and EXIF", 4, &corpus, |bytes| {
        let name = Path::new("back.jpg");
        photograph::sniff(name, bytes);
        if let Ok(photo) = photograph::from_bytes(name, bytes) {
            assert!(photo.width() > 0 && photo.height() > 0);
        }
    });
}
