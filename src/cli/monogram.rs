//! `dorso monogram`: who may be meant by initials, typed or seen in a photograph.

use super::keeping::{AuthorOptions, StoreOption};
use super::{Finished, Outcome, put, put_json, tell};
use crate::error::{Error, Kind, Result};
use crate::gazetteer;
use crate::geometry::Rect;
use crate::monogram::network::{self, Lies};
use crate::monogram::{Artists, Described, Known, LIST, Letters, Seen, Set};
use crate::photograph::{self, Photograph};
use image::GrayImage;
use std::path::{Path, PathBuf};

mod collection;
mod told;

use told::Told;
pub(crate) use told::sets;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// Its letters, from left to right, and what stands with them: see below
    #[arg(
        value_name = "LETTERS",
        required_unless_present_any = ["picture", "kept", "drop"],
        long_help = "Its letters, from left to right, and what stands with them:\n  \
            JMW       these letters, side by side\n  \
            J+W       drawn into one another, so that the order tells little\n  \
            JW?       a doubtful letter; J* one that can't be told; J(PR) one of two\n  \
            J~N       reversed\n  \
            1887 '87  a date beside it\n  \
            interlaced, ring, shield, device, fecit, pinx, del, inv\n\
            I and J, V and U, VV and W are kept open without being told.\n\
            Your shell may want quotation marks around ( ) * ? ~ and '"
    )]
    letters: Vec<String>,
    /// A photograph of it, the front too, in place of letters
    #[arg(long, value_name = "PHOTO", conflicts_with = "letters")]
    picture: Option<PathBuf>,
    /// Where it is in the photograph, px: left edge, top edge, width, height [default: the whole]
    #[arg(long, value_name = "X,Y,W,H", requires = "picture", value_parser = outline)]
    outline: Option<Rect>,
    /// It may lie at any turn in the photograph; else it is taken to be upright, within some 20 degrees
    #[arg(long, requires = "picture")]
    any_turn: bool,
    /// Keep the picture in your own collection, as a monogram of this artist
    #[arg(long, value_name = "ARTIST", requires_all = ["picture", "source"])]
    keep: Option<String>,
    /// How it is known whose it is: a book with its page, a signed picture, a museum
    #[arg(long, value_name = "TEXT", requires = "keep")]
    source: Option<String>,
    /// List your own collection
    #[arg(long, conflicts_with_all = ["letters", "picture"])]
    kept: bool,
    /// Take a monogram out of your collection, by its number
    #[arg(long, value_name = "NUMBER", conflicts_with_all = ["letters", "picture", "kept"])]
    drop: Option<i64>,
    #[command(flatten)]
    store: StoreOption,
    #[command(flatten)]
    author: AuthorOptions,
    /// When it may have been made: 1868, 1860-1875, 187X, about 1870
    #[arg(long, value_name = "YEARS")]
    years: Option<String>,
    /// A town or country that the artist was born, died or worked in
    #[arg(long)]
    place: Option<String>,
    /// Nationality or school: French
    #[arg(long)]
    nationality: Option<String>,
    /// How many artists to tell
    #[arg(long, value_name = "N", default_value_t = 10)]
    most: usize,
    /// Folder with the lists [default: DORSO_GAZETTEER, gazetteer, or the starter lists]
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

/// What the letters are known by.
enum Sign {
    Typed(Described),
    Seen(Seen),
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    if arguments.kept || arguments.drop.is_some() {
        return collection::run(&arguments);
    }
    let mut alike = Vec::new();
    let sign = match &arguments.picture {
        Some(file) => {
            let found = on_photograph(file, &arguments)?;
            if let Some(artist) = &arguments.keep {
                return collection::keep(found, artist, &arguments);
            }
            alike = collection::likest(&found.seen, &arguments)?;
            Sign::Seen(found.seen)
        }
        None => Sign::Typed(Described::parse(&arguments.letters.join(" "))?),
    };
    let known = known(&arguments, &sign)?;
    let place = gazetteer::locate(arguments.gazetteer.as_deref())?;
    let (lists, faults) = super::read::load(&place)?;
    for f in &faults {
        if f.severity == gazetteer::Severity::Unusable {
            tell(&Error::from(f));
        }
    }
    let list = lists.lists.iter().find(|l| l.name == LIST).ok_or_else(|| {
        Error::new(
            Kind::Gazetteer,
            &place,
            "there is no list of artists",
            "put artists.csv into it, or name another folder with --gazetteer DIR",
        )
    })?;
    let letters = sign.letters_meant()?;
    let who = Artists::new(list).who(&letters, &known, arguments.most);
    let who = who.given(1.0 - sign.other());
    if arguments.json {
        put_json(&Told::new(&sign, list, &who, &known, &alike))?;
    } else {
        put(&told::words(&sign, list, &who, &known, &alike))?;
    }
    Ok(Finished::Well)
}

/// A monogram on a photograph.
struct OnPhotograph {
    photo: Photograph,
    /// The square that the network saw.
    framed: GrayImage,
    seen: Seen,
}

fn on_photograph(file: &Path, arguments: &Arguments) -> Result<OnPhotograph> {
    let photo = photograph::open(file)?;
    let framed = network::framed(&photo.picture, arguments.outline)?;
    let lies = match arguments.any_turn {
        true => Lies::AnyTurn,
        false => Lies::Upright,
    };
    let seen = network::see(&framed, lies)?;
    Ok(OnPhotograph {
        photo,
        framed,
        seen,
    })
}

fn outline(text: &str) -> std::result::Result<Rect, String> {
    let numbers: Option<Vec<u32>> = text.split(',').map(|n| n.trim().parse().ok()).collect();
    match numbers.as_deref() {
        Some(&[x, y, w, h]) if x.max(y) < i32::MAX as u32 => {
            Ok(Rect::new(x as i32, y as i32, w, h))
        }
        _ => Err("four whole numbers are wanted, such as 120,40,300,260".into()),
    }
}

impl Sign {
    fn letters_meant(&self) -> Result<Letters> {
        match self {
            Sign::Typed(described) => Ok(described.letters_meant()),
            Sign::Seen(seen) => seen.letters_meant(),
        }
    }

    /// Chance that it is none of the letters by which artists are weighed.
    fn other(&self) -> f64 {
        match self {
            Sign::Typed(_) => 0.0,
            Sign::Seen(seen) => seen.other(),
        }
    }

    /// Sets that a person is told, the likeliest first.
    fn sets(&self) -> &[Set] {
        match self {
            Sign::Typed(_) => &[],
            Sign::Seen(seen) => seen.told(),
        }
    }

    /// The letters, likeliest each.
    fn told(&self) -> String {
        match self {
            Sign::Typed(described) => described.told(),
            Sign::Seen(seen) => seen
                .sets
                .first()
                .map_or(String::new(), |s| s.letters.clone()),
        }
    }

    /// What stands with them.
    fn devices(&self) -> Vec<&'static str> {
        match self {
            Sign::Typed(described) => described.devices.iter().map(|d| d.told()).collect(),
            Sign::Seen(_) => Vec::new(),
        }
    }
}

/// What is known beside the letters; years that are given count more than a date beside them.
fn known(arguments: &Arguments, sign: &Sign) -> Result<Known> {
    let given = arguments.years.as_deref().map(years).transpose()?;
    let beside = match sign {
        Sign::Typed(described) => described.years,
        Sign::Seen(_) => None,
    };
    Ok(Known {
        years: given.or(beside),
        place: arguments.place.clone(),
        nationality: arguments.nationality.clone(),
    })
}

fn years(text: &str) -> Result<(i32, i32)> {
    crate::dating::typed_years(text).ok_or_else(|| {
        Error::new(
            Kind::Usage,
            format!("--years {text}"),
            "this is no year and no span of years",
            "write 1868, 1868-1875, 187X or \"about 1870\"",
        )
    })
}
