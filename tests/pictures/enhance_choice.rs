//! What a person chooses among the cleaned pictures of a mark, and pictures joined from several
//! photographs: `dorso enhance` on a real store.

use dorso::decisions::{SqliteStore, Store};
use image::{Rgb, RgbImage};
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

/// A label with letters on a ground, seen under this much light on the left and on the right.
fn label_under(left: f64, right: f64, moved: u32) -> RgbImage {
    RgbImage::from_fn(900, 640, |x, y| {
        let light = left + (right - left) * f64::from(x) / 900.0;
        let (u, v) = (x.wrapping_sub(180 + moved), y.wrapping_sub(150));
        let grain = f64::from((x.wrapping_mul(31) ^ y.wrapping_mul(17)) % 13);
        let own = if u < 540 && v < 330 {
            let (a, b) = (u % 54, v % 82);
            let stroke = (12..18).contains(&a) || (a < 44 && matches!(b, 22..=27 | 38..=42));
            let ink = stroke && a >= 12 && (22..62).contains(&b) && (u / 54 + v / 82) % 4 != 3;
            if ink { 40.0 } else { 215.0 - grain }
        } else {
            95.0 + grain
        };
        Rgb([1.0, 0.95, 0.85].map(|c| (own * light * c).round().clamp(0.0, 255.0) as u8))
    })
}

struct Scene {
    folder: tempfile::TempDir,
}

impl Scene {
    fn new() -> Scene {
        let folder = tempfile::tempdir().unwrap();
        let scene = Scene { folder };
        label_under(1.0, 0.5, 0).save(scene.at("left.png")).unwrap();
        label_under(0.5, 1.0, 24)
            .save(scene.at("right.png"))
            .unwrap();
        scene
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn dorso(&self, args: &[&OsStr]) -> std::process::Output {
        let mut c = assert_cmd::Command::cargo_bin("dorso").unwrap();
        c.current_dir(self.folder.path());
        c.env("DORSO_STORE", self.at("store.sqlite"));
        c.env("DORSO_BY", "A. Carrow");
        c.args(args).output().unwrap()
    }

    /// Runs a command that must go well and gives what it printed.
    fn well(&self, line: &str) -> String {
        let args: Vec<&OsStr> = line.split(' ').map(OsStr::new).collect();
        let out = self.dorso(&args);
        assert!(out.status.success(), "{line}: {out:?}");
        String::from_utf8(out.stdout).unwrap()
    }

    /// Runs a command that must be refused and gives what it said.
    fn refused(&self, line: &str) -> String {
        let args: Vec<&OsStr> = line.split(' ').map(OsStr::new).collect();
        let out = self.dorso(&args);
        assert!(!out.status.success(), "{line}: {out:?}");
        String::from_utf8(out.stderr).unwrap()
    }

    fn store(&self) -> SqliteStore {
        SqliteStore::open_existing(&self.at("store.sqlite")).unwrap()
    }

    /// Who voted when the one mark was last read.
    fn voters(&self) -> Vec<String> {
        let marks = self.store().marks(None).unwrap();
        assert_eq!(marks.len(), 1);
        marks[0].latest().reading.voters.clone()
    }
}

fn page(out: &Path) -> String {
    std::fs::read_to_string(out.join("index.html")).unwrap()
}

#[test]
fn the_chosen_picture_is_kept_shown_read_first_and_can_be_undone() {
    let scene = Scene::new();
    let early = scene.refused("enhance left.png --mark m1 --choose threshold");
    assert!(early.contains("dorso read"), "{early}");
    scene.well("read left.png");
    let by_measurement = scene.voters();
    assert!(
        !by_measurement.iter().any(|v| v.contains("/threshold/")),
        "{by_measurement:?}"
    );

    scene.well("enhance left.png --out sheet");
    let before = page(&scene.at("sheet"));
    assert!(
        before.contains("First in the usual order: ") && before.contains("; measured: lettering ")
    );
    // nothing could be read of it, so no picture was read most clearly
    assert!(
        before.contains(", first in the usual order:") && !before.contains("read most clearly")
    );
    assert!(before.contains("--choose PICTURE") && !before.contains("class=\"chosen\""));

    let wrong = scene.refused("enhance left.png --mark m1 --choose sepia");
    assert!(
        wrong.contains("flat") && wrong.contains("threshold"),
        "{wrong}"
    );
    let absent = scene.refused("enhance left.png --mark m99 --choose flat");
    assert!(absent.contains("m1"), "{absent}");
    assert!(scene.store().journal().unwrap().is_empty());

    let said = scene.well("enhance left.png --mark m1 --choose threshold --why crisper");
    assert!(said.contains("d1") && said.contains("undo"), "{said}");
    let kept = scene.store().marks(None).unwrap();
    let held = kept[0].settled.variant.as_ref().expect("a choice");
    assert_eq!(held.value, "threshold");
    assert_eq!(scene.store().journal().unwrap()[0].author.why, "crisper");

    scene.well("enhance left.png --out sheet --again");
    let after = page(&scene.at("sheet"));
    assert_eq!(after.matches("class=\"chosen\"").count(), 1);
    assert!(after.contains("Chosen by a person: threshold (d1)"));

    scene.well("read left.png");
    let chosen = scene.voters();
    assert!(
        chosen.iter().any(|v| v.contains("/threshold/")),
        "{chosen:?}"
    );

    let id = kept[0].id;
    scene.well(&format!("settle {id} undo"));
    scene.well("read left.png");
    assert_eq!(scene.voters(), by_measurement);
    assert_eq!(scene.store().journal().unwrap().len(), 2);
    // By its number in the store too.
    scene.well(&format!("enhance left.png --mark {id} --choose grey"));
    assert!(
        scene.store().marks(None).unwrap()[0]
            .settled
            .variant
            .is_some()
    );
}

#[test]
fn photographs_under_other_light_are_joined_and_a_relief_wants_two_of_them() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    label_under(1.0, 0.5, 0).save(at("left.png")).unwrap();
    label_under(0.5, 1.0, 24).save(at("right.png")).unwrap();
    let run = |more: &[&std::ffi::OsStr]| {
        let mut c = assert_cmd::Command::cargo_bin("dorso").unwrap();
        c.arg("enhance").arg(at("left.png")).args(more);
        c.output().unwrap()
    };
    let out = at("out");
    let (other, raking) = (at("right.png"), std::ffi::OsStr::new("--raking"));
    let args = [
        "--out".as_ref(),
        out.as_os_str(),
        "--with".as_ref(),
        other.as_os_str(),
    ];
    let joined = run(&[&args[..], &[raking]].concat());
    assert!(joined.status.success(), "{joined:?}");
    let text = String::from_utf8(joined.stdout).unwrap();
    assert!(
        text.contains("m1-joined-crop.png: joined from 2 photographs"),
        "{text}"
    );
    assert!(text.contains("m1-joined.png"), "{text}");
    let page = std::fs::read_to_string(out.join("index.html")).unwrap();
    assert!(page.contains("m1-joined.png"));

    let alone = run(&["--out".as_ref(), at("alone").as_os_str(), raking]);
    assert_eq!(alone.status.code(), Some(2));
    assert!(String::from_utf8(alone.stderr).unwrap().contains("--with"));
    assert!(!at("alone").exists());
}
