//! `dorso enhance`: the cleaned pictures that reading works on, as files to look at.

mod choice;

use super::keeping::{AuthorOptions, StoreOption};
use super::{Finished, Outcome, put, put_json};
use crate::decisions::{KeptMark, Store};
use crate::enhance::{self, sheet};
use crate::error::{Error, Kind, Result};
use crate::{marks, photograph, run, signs, written};
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{DynamicImage, ExtendedColorType, ImageEncoder, RgbImage};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// The photograph
    photo: PathBuf,
    /// Another photograph of the same back, in other light or closer: each mark is joined from all
    /// that show it. May be given several times
    #[arg(long = "with", value_name = "PHOTO")]
    with: Vec<PathBuf>,
    /// Join the other photographs that the store knows of the same picture
    #[arg(long)]
    known: bool,
    /// The photographs were lit from different sides: add a relief picture of each mark
    #[arg(long)]
    raking: bool,
    #[command(flatten)]
    store: StoreOption,
    /// A mark: its number on the sheet (m3), or as dorso queue names it (1b)
    #[arg(long, value_name = "MARK", requires = "choose")]
    mark: Option<String>,
    /// Of the mark's pictures the one that you read best: it is kept with the mark, can be undone, and
    /// is read first from then on
    #[arg(long, value_name = "PICTURE", requires = "mark")]
    choose: Option<String>,
    #[command(flatten)]
    author: AuthorOptions,
    /// The folder to write to; made if it isn't there
    #[arg(long, value_name = "DIR", required_unless_present = "choose")]
    out: Option<PathBuf>,
    /// Replace what an earlier run of this command wrote to the folder
    #[arg(long)]
    again: bool,
    /// Print one JSON document instead of lines
    #[arg(long)]
    json: bool,
}

/// The list of what was written, so that a later run knows its own files from others.
const LIST: &str = "enhanced.json";
const SHEET: &str = "index.html";
const FORMAT: &str = "dorso.enhanced/1";

/// Longest side of the overview, px.
const OVERVIEW: u32 = 1100;

#[derive(Debug, Serialize, Deserialize)]
struct Listed {
    format: String,
    photograph: String,
    sha256: String,
    files: Vec<Entry>,
}

#[derive(Debug, Serialize, Deserialize)]
struct Entry {
    file: String,
    sha256: String,
    #[serde(skip_serializing_if = "String::is_empty", default)]
    done: String,
}

/// A picture to be written.
struct Made {
    name: String,
    done: String,
    picture: DynamicImage,
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let photo = photograph::open(&arguments.photo)?;
    let found = marks::find(&photo.picture);
    if let (Some(mark), Some(variant)) = (&arguments.mark, &arguments.choose) {
        let said = choice::choose(&arguments, &photo, &found, mark, variant)?;
        if arguments.out.is_none() {
            put(&said)?;
            return Ok(Finished::Well);
        }
        eprint!("{said}");
    }
    let Some(out) = arguments.out.as_deref() else {
        return Ok(Finished::Well);
    };
    let before = owned(out)?;
    let mut others = arguments.with.clone();
    if arguments.known {
        others.extend(known(&arguments, &photo)?);
    }
    if arguments.raking && others.is_empty() {
        return Err(Error::new(
            Kind::Usage,
            "--raking",
            "a relief needs photographs with light from at least two sides, and only one is named",
            "name the others with --with PHOTO, or add --known",
        ));
    }
    let mut beside = Vec::new();
    for file in &others {
        let other = photograph::open(file)?;
        if other.sha256 != photo.sha256 {
            beside.push(run::crops(&other, &crate::marks::find(&other.picture)));
        }
    }
    let beside: Vec<&[RgbImage]> = beside.iter().map(Vec::as_slice).collect();
    let known = choice::known_marks(&arguments.store, &photo, &found)?;
    let again = arguments.store.again();
    let (made, page) = make(&photo, &found, &known, &again, &beside, arguments.raking);
    let mut files: Vec<(String, String, Vec<u8>)> = Vec::new();
    for m in &made {
        files.push((m.name.clone(), m.done.clone(), png(&m.picture, &m.name)?));
    }
    files.push((SHEET.into(), String::new(), page.into_bytes()));
    let list = Listed {
        format: FORMAT.into(),
        photograph: photo
            .file
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_default(),
        sha256: photo.sha256.clone(),
        files: files
            .iter()
            .map(|(file, done, bytes)| Entry {
                file: file.clone(),
                sha256: digest(bytes),
                done: done.clone(),
            })
            .collect(),
    };
    let names = files.iter().map(|(n, _, _)| n.as_str()).chain([LIST]);
    refuse_others(out, names, &before, arguments.again)?;
    write_all(out, &files, &list, &before)?;

    if arguments.json {
        put_json(&list)?;
    } else {
        let mut text = String::new();
        for (name, done, _) in files.iter().filter(|(_, done, _)| !done.is_empty()) {
            let path = out.join(name);
            text += &format!("{}: {done}\n", path.display());
        }
        text += &format!(
            "{}: all of them side by side, with the one of each mark that is read first\n",
            out.join(SHEET).display()
        );
        put(&text)?;
    }
    Ok(Finished::Well)
}

/// Where the other photographs of the same picture were last seen, as far as they are there.
fn known(arguments: &Arguments, photo: &photograph::Photograph) -> Result<Vec<PathBuf>> {
    let store = arguments.store.open()?;
    let none = || {
        Error::new(
            Kind::Store,
            photo.file.display(),
            "the store knows no other photograph of its picture that is still in its place",
            "read all photographs of the picture together first (dorso read PHOTO...), or name them with --with",
        )
    };
    let id = store
        .picture_with(std::slice::from_ref(&photo.sha256))?
        .ok_or_else(none)?;
    let others: Vec<PathBuf> = store
        .picture(id)?
        .into_iter()
        .flat_map(|p| p.photographs)
        .filter(|p| p.sha256 != photo.sha256)
        .filter_map(|p| p.files.into_iter().find(|f| f.is_file()))
        .collect();
    if others.is_empty() {
        return Err(none());
    }
    Ok(others)
}

/// What is read of a torn label once more: paper drawn over the ground within its outline.
fn papered(
    photograph: &RgbImage,
    mark: &marks::Mark,
    flat: &marks::Flattened,
) -> Vec<(&'static str, String, DynamicImage)> {
    let Some(papered) = marks::without_ground(photograph, mark, flat) else {
        return Vec::new();
    };
    let read = enhance::variants_by(&papered.picture, &enhance::Steps::READ);
    let done = "the mark with paper drawn over the ground that shows within its outline, read too";
    let crop = DynamicImage::ImageRgb8(papered.picture);
    let mut out = vec![("papered-crop", done.to_string(), crop)];
    out.extend(read.into_iter().take(1).map(|v| {
        let done = format!("of the mark papered over: {}", v.done);
        ("papered", done, DynamicImage::ImageLuma8(v.picture))
    }));
    out
}

/// What other photographs add to a mark: the joined picture with what was done, and the relief.
fn joined(
    crop: &RgbImage,
    beside: &[&[RgbImage]],
    raking: bool,
) -> Vec<(&'static str, String, DynamicImage)> {
    let same = run::laid(crop, beside);
    if same.is_empty() {
        return Vec::new();
    }
    let all = enhance::join::join(crop, &same);
    let percent = |share: f64| format!("{:.0}%", 100.0 * share);
    let others: Vec<String> = all.shares.iter().skip(1).map(|s| percent(*s)).collect();
    let done = format!(
        "joined from {} photographs: {} comes mainly from this one, {} from the other{}",
        same.len() + 1,
        percent(all.shares.first().copied().unwrap_or(1.0)),
        others.join(", "),
        if others.len() == 1 { "" } else { "s" }
    );
    let read = enhance::variants_of_joined(&all.picture);
    let mut out = vec![("joined-crop", done, DynamicImage::ImageRgb8(all.picture))];
    out.extend(read.map(|v| {
        let picture = DynamicImage::ImageLuma8(v.picture);
        (enhance::JOINED, v.done, picture)
    }));
    if raking && let Some(r) = enhance::relief(crop, &same) {
        let share = match r.used {
            2 => String::new(),
            _ => format!(", {} of their differences", percent(r.share)),
        };
        let done = format!(
            "slopes of the surface by the light of {} photographs{share}; grooves and ridges may be \
             exchanged",
            r.used
        );
        out.push(("relief", done, DynamicImage::ImageLuma8(r.picture)));
    }
    out
}

/// Every picture and the contact sheet that shows them.
fn make(
    photo: &photograph::Photograph,
    found: &[marks::Mark],
    known: &[Option<KeptMark>],
    again: &str,
    beside: &[&[RgbImage]],
    raking: bool,
) -> (Vec<Made>, String) {
    let picture = &photo.picture;
    let mut made = vec![Made {
        name: "overview.png".into(),
        done: "the photograph upright, made small".into(),
        picture: DynamicImage::ImageRgb8(overview(picture)),
    }];
    let mut blocks = Vec::new();
    let whole = enhance::steps(picture);
    let title = "The whole photograph".into();
    blocks.push(block(&mut made, "whole", title, None, whole, Vec::new()));
    for (i, (mark, known)) in found.iter().zip(known).enumerate() {
        let name = format!("m{}", i + 1);
        let flat = marks::flatten(picture, mark);
        let mut title = format!("{name}, {}", mark.kind.as_str().replace('_', " "));
        if let Some(known) = known {
            title += &format!(", in the store {}", known.id);
        }
        let variants = enhance::variants(&flat.picture);
        let mut more = papered(picture, mark, &flat);
        more.extend(joined(&flat.picture, beside, raking));
        let mut words = choice::why(&variants);
        let mut block = block(&mut made, &name, title, Some(flat.picture), variants, more);
        if let Some(known) = known {
            words.extend(choice::words(known, photo, again));
            let chosen = known.settled.variant.as_ref();
            block.chosen = chosen.map(|h| h.value.clone());
            if let Some(read) = choice::read_from(known) {
                block.best = Some(read.into());
                block.was_read = true;
            }
        }
        block.words = words;
        blocks.push(block);
    }
    let outlines: Vec<(String, [(f64, f64); 4])> = found
        .iter()
        .enumerate()
        .map(|(i, m)| (format!("m{}", i + 1), m.outline.0.map(|p| (p.x, p.y))))
        .collect();
    let page = sheet::page(&sheet::Sheet {
        photograph: &photo.file.display().to_string(),
        size: (photo.width(), photo.height()),
        overview: "overview.png",
        outlines: &outlines,
        blocks: &blocks,
    });
    (made, signs::shown(&page).into_owned())
}

/// One crop's pictures, added to `made`, and how the sheet shows them.
fn block(
    made: &mut Vec<Made>,
    name: &str,
    title: String,
    crop: Option<RgbImage>,
    variants: Vec<enhance::Variant>,
    more: Vec<(&'static str, String, DynamicImage)>,
) -> sheet::Block {
    let mut shown = Vec::new();
    let mut add = |suffix: &str, done: &str, picture: DynamicImage| {
        let file = format!("{name}-{suffix}.png");
        shown.push(sheet::Shown {
            name: suffix.into(),
            file: file.clone(),
            done: done.into(),
            size: (picture.width(), picture.height()),
        });
        made.push(Made {
            name: file,
            done: done.into(),
            picture,
        });
    };
    if let Some(crop) = crop {
        let done = "the mark cut out and flattened, colours as photographed";
        add("crop", done, DynamicImage::ImageRgb8(crop));
    }
    let best = variants.first().map(|v| v.name.clone());
    for v in variants {
        add(&v.name, &v.done, DynamicImage::ImageLuma8(v.picture));
    }
    for (name, done, picture) in more {
        add(name, &done, picture);
    }
    sheet::Block {
        title,
        // The steps of the whole photograph follow each other; only variants compete.
        best: best.filter(|_| name != "whole"),
        was_read: false,
        chosen: None,
        words: Vec::new(),
        shown,
    }
}

fn overview(picture: &RgbImage) -> RgbImage {
    let (w, h) = picture.dimensions();
    let most = w.max(h);
    if most <= OVERVIEW {
        return picture.clone();
    }
    let side = |n: u32| (n * OVERVIEW / most).max(1);
    image::imageops::thumbnail(picture, side(w), side(h))
}

fn png(picture: &DynamicImage, name: &str) -> Result<Vec<u8>> {
    let mut bytes = Vec::new();
    let colour = match picture {
        DynamicImage::ImageLuma8(_) => ExtendedColorType::L8,
        _ => ExtendedColorType::Rgb8,
    };
    PngEncoder::new_with_quality(&mut bytes, CompressionType::Fast, FilterType::Adaptive)
        .write_image(
            picture.as_bytes(),
            picture.width(),
            picture.height(),
            colour,
        )
        .map_err(|e| {
            Error::new(
                Kind::Output,
                name,
                format!("the picture can't be coded ({e})"),
                "report this with the photograph's size",
            )
        })?;
    Ok(bytes)
}

fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect()
}

/// What an earlier run wrote to the folder: file names with their digests.
fn owned(out: &Path) -> Result<BTreeMap<String, String>> {
    if out.exists() && !out.is_dir() {
        return Err(Error::new(
            Kind::Output,
            out.display(),
            "it is a file, not a folder",
            "give a folder with --out",
        ));
    }
    let Ok(bytes) = fs::read(out.join(LIST)) else {
        return Ok(BTreeMap::new());
    };
    let mut known = BTreeMap::new();
    if let Ok(list) = serde_json::from_slice::<Listed>(&bytes)
        && list.format == FORMAT
    {
        known = list.files.into_iter().map(|e| (e.file, e.sha256)).collect();
        known.insert(LIST.into(), digest(&bytes));
    }
    Ok(known)
}

/// Refuses to write over files that an earlier run of this command didn't write, or that were
/// changed since; over its own only if asked.
fn refuse_others<'a>(
    out: &Path,
    names: impl Iterator<Item = &'a str>,
    before: &BTreeMap<String, String>,
    again: bool,
) -> Result<()> {
    let there: Vec<&str> = names.filter(|n| out.join(n).exists()).collect();
    if there.is_empty() {
        return Ok(());
    }
    let others: Vec<&str> = there
        .iter()
        .copied()
        .filter(|n| {
            let now = fs::read(out.join(n)).map(|b| digest(&b)).ok();
            now.is_none() || now.as_ref() != before.get(*n)
        })
        .collect();
    let few = |names: &[&str]| {
        let rest = names.len().saturating_sub(3);
        let first = names[..names.len().min(3)].join(", ");
        if rest > 0 {
            format!("{first} and {rest} more")
        } else {
            first
        }
    };
    if !others.is_empty() {
        return Err(Error::new(
            Kind::Output,
            out.display(),
            format!(
                "it holds files of the same names that aren't this command's own or were changed \
                 ({}), so nothing was written",
                few(&others)
            ),
            "give another folder with --out",
        ));
    }
    if !again {
        return Err(Error::new(
            Kind::Output,
            out.display(),
            format!(
                "it holds pictures of an earlier run ({}), so nothing was written",
                few(&there)
            ),
            "add --again to replace them, or give another folder with --out",
        ));
    }
    Ok(())
}

fn write_all(
    out: &Path,
    files: &[(String, String, Vec<u8>)],
    list: &Listed,
    before: &BTreeMap<String, String>,
) -> Result<()> {
    let failed = |place: &Path, e: std::io::Error| {
        Error::new(
            Kind::Output,
            place.display(),
            format!("it can't be written ({e})"),
            "make room or leave to write there, or give another folder with --out",
        )
    };
    fs::create_dir_all(out).map_err(|e| failed(out, e))?;
    // The list first: after a failure half way the next run still knows what is its own.
    let at = out.join(LIST);
    let mut text = serde_json::to_string_pretty(list).unwrap_or_default();
    text.push('\n');
    written::put(&at, text.as_bytes()).map_err(|e| failed(&at, e))?;
    for (name, _, bytes) in files {
        let at = out.join(name);
        written::put(&at, bytes).map_err(|e| failed(&at, e))?;
    }
    // What the earlier run wrote and this one didn't would mislead, if it is still as written.
    for (name, was) in before {
        let at = out.join(name);
        let kept = name == LIST || files.iter().any(|(n, _, _)| n == name);
        let plain = Path::new(name).components().count() == 1;
        if !kept && plain && fs::read(&at).is_ok_and(|b| digest(&b) == *was) {
            fs::remove_file(&at).map_err(|e| failed(&at, e))?;
        }
    }
    Ok(())
}
