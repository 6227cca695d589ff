//! The variants of a crop, each measured, and the steps of a whole photograph.

use super::{Variant, contrast, denoise, ink, letters, merits, resample, skew, threshold, unmix};
use image::imageops;
use image::{GrayImage, RgbImage};

/// Height of letters that recognisers like, px.
const WANTED_HEIGHT: f64 = 34.0;

/// Parting of ink and ground below which ink counts as faded, deviations.
const FADED: f64 = 6.0;

/// Largest picture handed out, px.
const LARGEST: f64 = 8e6;

/// Name of the picture that is joined from several photographs.
pub const JOINED: &str = "joined";

/// The first picture without the choice of colours, without dividing out light, and without both.
const FLAT_GREY: &str = "flat-grey";
const COLOURS: &str = "colours";
const STRETCHED: &str = "stretched";

/// Names of the cleaned pictures among which the reading chooses, that first which is read first.
pub const CHOICE: [&str; 4] = ["flat", FLAT_GREY, COLOURS, STRETCHED];

/// Which steps of cleaning are taken; all of them but where their shares are measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Steps {
    /// Uneven light is divided out.
    pub light: bool,
    /// The mixture of colours that shows the lettering best, not the plain grey.
    pub colour: bool,
    /// Brought to the size of letters that recognisers like.
    pub size: bool,
    /// Also without one of these steps (by the plain grey, or without dividing out light), for the reading to choose
    /// rows from: what helps one mark spoils another.
    pub choice: bool,
    /// Also pictures that are read only where a person chooses them (each without the one or the other step, contrast
    /// raised, black and white, stain parted, faded ink drawn out, grey), and what is measured of all.
    pub shown: bool,
}

impl Steps {
    /// All that there is to look at and to choose from.
    pub const ALL: Steps = Steps {
        light: true,
        colour: true,
        size: true,
        choice: true,
        shown: true,
    };
    /// What is read where no person chose.
    pub const READ: Steps = Steps {
        shown: false,
        ..Steps::ALL
    };
}

/// The cleaned pictures of one upright crop in their usual order: the flattened one first, then
/// others where the colours call for them, the grey values last. Their merits are told and order
/// nothing yet.
///
/// * `crop`: RGB, any size.
///
/// Returns at least one variant, also for a blank crop; all are dark lettering on light ground
/// and of one size, so that lettering is about 34 px high where its size could be measured.
pub fn variants(crop: &RgbImage) -> Vec<Variant> {
    variants_by(crop, &Steps::ALL)
}

/// The best variant of a picture joined from several photographs, named [`JOINED`].
pub fn variants_of_joined(joined: &RgbImage) -> Option<Variant> {
    let steps = Steps {
        choice: false,
        ..Steps::READ
    };
    let best = variants_by(joined, &steps).into_iter().next()?;
    Some(Variant {
        done: format!("joined from several photographs: {}", best.done),
        name: JOINED.into(),
        ..best
    })
}

/// As [`variants`], by these steps only.
pub fn variants_by(crop: &RgbImage, steps: &Steps) -> Vec<Variant> {
    let (w, h) = crop.dimensions();
    if w < 3 || h < 3 {
        return vec![Variant {
            name: "grey".into(),
            done: "grey values as photographed, too small to do more".into(),
            picture: grey_of(crop),
            scale: 1.0,
            merit: None,
        }];
    }
    let seen = look(crop, steps);
    let scale = match steps.size {
        true => scale_for(seen.letters.map(|l| l.height), w, h),
        false => 1.0,
    };
    let turned = if seen.inks.light_on_dark {
        ", light lettering turned dark"
    } else {
        ""
    };
    let sized = match scale {
        s if s > 1.0 => format!(", made {s:.1} times larger"),
        s if s < 1.0 => format!(", made {:.1} times smaller", 1.0 / s),
        _ => String::new(),
    };
    let mut all = Vec::new();
    let mut add = |name: &str, done: String, picture: GrayImage| {
        all.push(Variant {
            name: name.into(),
            done: format!("{done}{turned}{sized}"),
            picture,
            scale,
            merit: None,
        });
    };
    add(
        "flat",
        format!(
            "uneven light divided out on {}, where the ink stands {:.1} deviations off the ground",
            axis_words(seen.axis.name),
            seen.axis.parting
        ),
        contrast::stretch(&resized(&seen.flat, scale), 0.005, 0.9),
    );
    let height = seen.letters.map_or(WANTED_HEIGHT, |l| l.height * scale);
    if steps.shown {
        shown(crop, &seen, scale, height, &mut add);
    }
    if steps.choice {
        others(crop, &seen, steps, scale, &mut add);
    }
    if !steps.shown {
        return all;
    }
    let mut grey = grey_of(crop);
    if seen.inks.light_on_dark {
        imageops::invert(&mut grey);
    }
    add(
        "grey",
        "grey values as photographed".into(),
        resized(&grey, scale),
    );
    let pictures: Vec<&GrayImage> = all.iter().map(|v| &v.picture).collect();
    let measured = merits(&pictures, height);
    for (v, m) in all.iter_mut().zip(measured.into_iter().flatten()) {
        v.merit = Some(m);
    }
    all
}

/// The first picture without some of its steps.
fn others(
    crop: &RgbImage,
    seen: &Seen,
    steps: &Steps,
    scale: f64,
    add: &mut impl FnMut(&str, String, GrayImage),
) {
    let grey = seen.inks.axes.iter().find(|a| a.name == "grey").copied();
    let grey = grey.filter(|g| steps.colour && seen.axis.name != g.name);
    let mut put = |name: &str, done: String, picture: &GrayImage| {
        let picture = contrast::stretch(&resized(picture, scale), 0.005, 0.9);
        add(name, done, picture);
    };
    if let Some(grey) = grey {
        let picture = seen.inks.picture(crop, &grey);
        let done = format!("uneven light divided out on {}", axis_words(grey.name));
        put(FLAT_GREY, done, &picture);
        if !steps.shown {
            return;
        }
    }
    if steps.light {
        let inks = seen.inks.clone().evenly_lit();
        let axes = [(COLOURS, Some(seen.axis)), (STRETCHED, grey)];
        for (name, axis) in axes {
            let Some(axis) = axis else { continue };
            let done = format!(
                "{}, light as photographed, contrast stretched",
                axis_words(axis.name)
            );
            put(name, done, &inks.picture(crop, &axis));
        }
    }
}

/// Pictures to look at and to choose from, beside those that are read.
///
/// * `height`: of letters, px of the pictures.
/// * `add`: takes name, what was done, and picture.
fn shown(
    crop: &RgbImage,
    seen: &Seen,
    scale: f64,
    height: f64,
    add: &mut impl FnMut(&str, String, GrayImage),
) {
    let smooth = resized(&smoothed(&seen.flat), scale);
    if let Ok(local) = local_contrast(&smooth, height) {
        add(
            "local-contrast",
            "flattened, smoothed between the strokes, contrast raised place by place".into(),
            local,
        );
    }
    let window = ((height * 2.0) as u32 | 1).clamp(15, 255);
    if let Ok(mut mask) = threshold::sauvola(&smooth, window, 0.2) {
        imageops::invert(&mut mask);
        add(
            "threshold",
            format!("flattened, then black and white by a local threshold ({window} px window)"),
            mask,
        );
    }
    if let Some(stain) = unmix::stain(&seen.inks, crop) {
        add(
            "unmixed",
            format!(
                "ink parted from a stain of another colour ({:.0} degrees apart), the stain left out",
                stain.degrees
            ),
            contrast::stretch(
                &resized(&stain.picture(&seen.inks, crop), scale),
                0.005,
                0.9,
            ),
        );
    }
    if seen.axis.parting < FADED {
        let stroke = seen.letters.map_or(3.0, |l| l.stroke);
        let drawn = imageops::blur(&seen.flat, (0.4 * stroke).clamp(0.6, 3.0) as f32);
        add(
            "faded",
            format!(
                "flattened, then smoothed over {:.1} px, most of a stroke, so that faint strokes \
                 outweigh the grain",
                (0.8 * stroke).clamp(1.2, 6.0)
            ),
            contrast::stretch(&resized(&drawn, scale), 0.005, 0.9),
        );
    }
}

/// The steps that lead from a whole photograph to black and white, each made from the one before
/// it, for a person to look at.
///
/// * `photograph`: RGB, any size. The scale is 1 throughout, but for `level`, whose picture is
///   larger by the corners that turning needs.
pub fn steps(photograph: &RgbImage) -> Vec<Variant> {
    let mut all = Vec::new();
    let mut add = |name: &str, done: String, picture: GrayImage| {
        all.push(Variant {
            name: name.into(),
            done,
            picture,
            scale: 1.0,
            merit: None,
        });
    };
    let grey = grey_of(photograph);
    if photograph.width() < 3 || photograph.height() < 3 {
        add("grey", "grey values as photographed".into(), grey);
        return all;
    }
    let seen = look(photograph, &Steps::ALL);
    let best = seen.axis;
    let turned = if seen.inks.light_on_dark {
        ", light lettering turned dark"
    } else {
        ""
    };
    add("grey", "grey values as photographed".into(), grey);
    add(
        "flat",
        format!(
            "uneven light divided out on {}, where the ink stands {:.1} deviations off the ground{turned}",
            axis_words(best.name),
            best.parting
        ),
        seen.flat.clone(),
    );
    let height = seen.letters.map_or(WANTED_HEIGHT, |l| l.height);
    let smooth = smoothed(&seen.flat);
    if let Ok(local) = local_contrast(&smooth, height) {
        add(
            "local-contrast",
            "smoothed between the strokes, contrast raised place by place".into(),
            local,
        );
    }
    let window = ((height * 2.0) as u32 | 1).clamp(15, 255);
    if let Ok(mut mask) = threshold::sauvola(&smooth, window, 0.2) {
        imageops::invert(&mut mask);
        add(
            "threshold",
            format!("black and white by a local threshold ({window} px window)"),
            mask,
        );
    }
    let lean = skew(&seen.flat);
    if lean.sure > 0.0 && lean.degrees.abs() >= 0.05 {
        add(
            "level",
            format!(
                "the flattened picture turned by {:.2} degrees, so that its lettering is level",
                -lean.degrees
            ),
            resample::turned(&seen.flat, -lean.degrees, 255),
        );
    }
    all
}

/// What is known of a crop before it is enhanced.
struct Seen {
    inks: ink::Inks,
    axis: ink::Axis,
    flat: GrayImage,
    letters: Option<letters::Letters>,
}

fn look(crop: &RgbImage, steps: &Steps) -> Seen {
    let mut reach = 0;
    loop {
        let mut inks = ink::measure(crop, reach);
        if !steps.light {
            inks = inks.evenly_lit();
        }
        let mut axes = inks.axes.iter();
        let grey = axes.find(|a| !steps.colour && a.name == "grey");
        let axis = *grey.unwrap_or(&inks.axes[0]);
        let flat = inks.picture(crop, &axis);
        let letters = letters::letters(&threshold::at_level(&flat, threshold::otsu(&flat)));
        let (w, h) = crop.dimensions();
        let tile = f64::from(super::light::tile_for(w, h));
        let wanted = letters.map_or(0, |l| (l.stroke * 0.75 / tile).round() as usize);
        // Strokes that fill a tile would pass for ground: look again, over their width.
        if reach == 0 && wanted > 0 {
            reach = wanted.min(4);
            continue;
        }
        return Seen {
            inks,
            axis,
            flat,
            letters,
        };
    }
}

fn axis_words(name: &str) -> String {
    match name {
        "mixture" => "the mixture of colours that parts them best".into(),
        "grey" => "the grey values".into(),
        one => format!("the {one} channel"),
    }
}

/// Paper grain smoothed as far as its noise goes; strokes kept.
fn smoothed(flat: &GrayImage) -> GrayImage {
    let noise = denoise::noise(flat);
    if noise < 1.0 {
        return flat.clone();
    }
    denoise::bilateral(flat, 1, 1.0, (2.5 * noise).clamp(4.0, 40.0))
        .unwrap_or_else(|_| flat.clone())
}

/// Local contrast over tiles about six letters high.
fn local_contrast(grey: &GrayImage, height: f64) -> crate::Result<GrayImage> {
    let tiles = |n: u32| ((f64::from(n) / (6.0 * height)).round() as u32).clamp(1, 32);
    contrast::clahe(grey, tiles(grey.width()), tiles(grey.height()), 3.0)
}

fn scale_for(height: Option<f64>, w: u32, h: u32) -> f64 {
    let wanted = height.map_or(1.0, |l| WANTED_HEIGHT / l);
    let most = (LARGEST / (f64::from(w) * f64::from(h))).sqrt();
    let scale = wanted.clamp(0.25, 4.0).min(most);
    // Resampling costs sharpness, so near enough stays as it is.
    if (0.75..=1.3).contains(&scale) {
        1.0
    } else {
        scale
    }
}

fn resized(grey: &GrayImage, scale: f64) -> GrayImage {
    resample::lanczos(grey, scale).unwrap_or_else(|_| grey.clone())
}

/// Grey values; a picture without pixels stays one.
fn grey_of(picture: &RgbImage) -> GrayImage {
    let (w, h) = picture.dimensions();
    if w == 0 || h == 0 {
        return GrayImage::new(w, h);
    }
    imageops::grayscale(picture)
}
