//! `dorso evaluate`: measures the program on a folder of the user's own.

use super::{Finished, Outcome, put, put_json, tell};
use crate::error::{Error, Kind, Result};
use crate::geometry::Quad;
use crate::measure::evaluate::{
    Measured, Summary, known, measure, once_a_mark, pictures, summarise,
};
use crate::measure::report::{self, figure};
use crate::photograph;
use crate::proposals::Index;
use crate::run::together::{self, Album};
use crate::run::{self, ReadPhotograph};
use crate::written;
use serde::Serialize;
use std::path::PathBuf;
use std::time::Instant;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// Folder with images, each beside a .txt of the same name with the true lines, and where
    /// known truth.csv (file, list, entry; words: a line of the mark that is meant; mark: its name,
    /// the same over all photographs that show it)
    dir: PathBuf,
    /// Folder of the lists
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    /// Write the reliability diagram (SVG) and the worst cases (HTML) here
    #[arg(long, value_name = "DIR")]
    report: Option<PathBuf>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Out<'a> {
    cer: Option<f64>,
    wer: Option<f64>,
    cer_in_order: Option<f64>,
    word_f1: Option<f64>,
    images: usize,
    top1: Option<f64>,
    top3: Option<f64>,
    mrr: Option<f64>,
    listed_first: Option<f64>,
    unlisted_first: Option<f64>,
    brier: Option<f64>,
    ece: Option<f64>,
    ece_by_luck: Option<(f64, f64)>,
    seconds_per_photo: Option<f64>,
    per_image: Vec<Image<'a>>,
}

#[derive(Serialize)]
struct Image<'a> {
    file: String,
    cer: f64,
    wer: f64,
    cer_in_order: f64,
    word_f1: f64,
    true_characters: usize,
    seconds: f64,
    read: &'a [String],
    answers: Vec<AnswerOut<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fault: Option<&'a str>,
}

#[derive(Serialize)]
struct AnswerOut<'a> {
    list: &'a str,
    entry: &'a str,
    mark: Option<&'a str>,
    rank: Option<usize>,
    first: &'a str,
    chance: Option<f64>,
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let folder = known(&arguments.dir)?;
    let (index, faults) = super::read::lists(arguments.gazetteer.as_deref(), None)?;
    faults.iter().for_each(tell);
    let recognisers = crate::readings::voices(None)?;
    let bar = super::read::progress(folder.len());
    let picture = pictures(&folder);
    let shares = |at: usize| picture.iter().filter(|p| **p == picture[at]).count() > 1;
    let mut album = Album::default();
    let mut done: Vec<(Result<ReadPhotograph>, f64)> = Vec::new();
    for (at, photo) in folder.iter().enumerate() {
        bar.set_message(photo.file.display().to_string());
        let start = Instant::now();
        let read = photograph::open(&photo.file).and_then(|opened| {
            let read = run::read_photograph(&opened, &recognisers, &index)?;
            if shares(at) {
                let outlines: Vec<Quad> = read.marks.iter().map(|m| m.outline).collect();
                album.add(&opened, &outlines);
            }
            Ok(read)
        });
        if let Err(e) = &read {
            tell(e);
        }
        done.push((read, start.elapsed().as_secs_f64()));
        bar.inc(1);
    }
    bar.finish_and_clear();
    put_together(&mut done, &picture, &album, &index);
    let measured = folder
        .into_iter()
        .zip(&done)
        .map(|(known, (read, seconds))| {
            let read = read.as_ref().map_err(ToString::to_string);
            measure(known, read, *seconds)
        });
    let mut all: Vec<Measured> = measured.collect();
    once_a_mark(&mut all);
    let summary = summarise(&all);
    if let Some(dir) = &arguments.report {
        write_report(dir, &summary, &all)?;
    }
    if arguments.json {
        put_json(&shape(&summary, &all))?;
    } else {
        put(&words(&summary, &all))?;
    }
    Ok(if all.iter().any(|m| m.fault.is_some()) {
        Finished::WithFaults
    } else {
        Finished::Well
    })
}

/// Gives each sighting what its mark names by all photographs of the picture.
fn put_together(
    done: &mut [(Result<ReadPhotograph>, f64)],
    picture: &[usize],
    album: &Album,
    index: &Index,
) {
    for first in 0..done.len() {
        let own: Vec<usize> = (first..done.len())
            .filter(|i| picture[*i] == first && done[*i].0.is_ok())
            .collect();
        if own.len() < 2 {
            continue;
        }
        let read = own.iter().filter_map(|i| done[*i].0.as_ref().ok().cloned());
        let back = together::put_together(read.collect(), album, index);
        for m in &back.marks {
            for (photo, n, _) in &m.sightings {
                if let Ok(p) = &mut done[own[*photo]].0 {
                    p.marks[*n].rivals.clone_from(&m.seen.rivals);
                }
            }
        }
    }
}

fn write_report(dir: &std::path::Path, summary: &Summary, all: &[Measured]) -> Result<()> {
    let fault = |e: std::io::Error| {
        Error::new(
            Kind::Output,
            dir.display(),
            format!("the report can't be written ({e})"),
            "make room or name another folder with --report",
        )
    };
    std::fs::create_dir_all(dir).map_err(fault)?;
    let svg = report::reliability_svg(&summary.stated, "Do the chances keep their promise?");
    written::put(&dir.join("reliability.svg"), svg.as_bytes()).map_err(fault)?;
    written::put(
        &dir.join("worst.html"),
        report::html(summary, all).as_bytes(),
    )
    .map_err(fault)
}

fn shape<'a>(s: &Summary, all: &'a [Measured]) -> Out<'a> {
    Out {
        cer: s.cer,
        wer: s.wer,
        cer_in_order: s.cer_in_order,
        word_f1: s.word_f1,
        images: s.images,
        top1: s.top1,
        top3: s.top3,
        mrr: s.mrr,
        listed_first: s.listed_first,
        unlisted_first: s.unlisted_first,
        brier: s.brier,
        ece: s.ece,
        ece_by_luck: s.ece_by_luck,
        seconds_per_photo: s.seconds_per_photo,
        per_image: all
            .iter()
            .map(|m| Image {
                file: m
                    .known
                    .file
                    .file_name()
                    .map(|n| n.to_string_lossy().into_owned())
                    .unwrap_or_default(),
                cer: m.characters.rate(),
                wer: m.words.rate(),
                cer_in_order: m.in_order.rate(),
                word_f1: m.word_f1,
                true_characters: m.characters.length,
                seconds: m.seconds,
                read: &m.read,
                answers: m
                    .answers
                    .iter()
                    .map(|a| AnswerOut {
                        list: &a.named.list,
                        entry: &a.named.entry,
                        mark: a.mark.as_deref(),
                        rank: a.rank,
                        first: &a.first,
                        chance: a.stated.map(|c| c.chance),
                    })
                    .collect(),
                fault: m.fault.as_deref(),
            })
            .collect(),
    }
}

fn words(s: &Summary, all: &[Measured]) -> String {
    let mut out = String::new();
    for m in all {
        out += &format!(
            "{}: character errors {:.3}, words found {:.3}, {:.1} s\n",
            m.known.file.display(),
            m.characters.rate(),
            m.word_f1,
            m.seconds
        );
        for a in m.answers.iter().filter(|a| a.rank != Some(1)) {
            let truth = if a.named.entry.is_empty() {
                "on none of the lists".into()
            } else {
                format!("{}/{}", a.named.list, a.named.entry)
            };
            out += &format!("    true: {truth}; first: {}\n", a.first);
        }
    }
    out + &format!(
        "\n{} photographs: CER {} ({} in printed order), WER {}, words found {}\n\
         lists: first {}, among three {}, MRR {}; listed first {}, unlisted first {}\n\
         chances: Brier {}, calibration error {} (by luck alone {}, 19 times in 20 under {}); {} s a photograph\n",
        s.images,
        figure(s.cer),
        figure(s.cer_in_order),
        figure(s.wer),
        figure(s.word_f1),
        figure(s.top1),
        figure(s.top3),
        figure(s.mrr),
        figure(s.listed_first),
        figure(s.unlisted_first),
        figure(s.brier),
        figure(s.ece),
        figure(s.ece_by_luck.map(|l| l.0)),
        figure(s.ece_by_luck.map(|l| l.1)),
        figure(s.seconds_per_photo),
    )
}
