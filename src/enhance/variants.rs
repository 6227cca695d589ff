//! The variants of a crop, chosen by measurement, and the steps of a whole photograph.

use super::{Variant, contrast, denoise, ink, letters, resample, skew, threshold};
use image::imageops;
use image::{GrayImage, RgbImage};

/// Height of letters that recognisers like, px.
const WANTED_HEIGHT: f64 = 34.0;

/// Largest picture handed out, px.
const LARGEST: f64 = 8e6;

/// The cleaned pictures of one upright crop that the readings stage votes over, best first.
///
/// * `crop`: RGB, any size.
///
/// Returns at least one variant, also for a blank crop; all are dark lettering on light ground
/// and of one size, so that lettering is about 34 px high where its size could be measured.
pub fn variants(crop: &RgbImage) -> Vec<Variant> {
    let (w, h) = crop.dimensions();
    if w < 3 || h < 3 {
        return vec![Variant {
            name: "grey".into(),
            done: "grey values as photographed, too small to do more".into(),
            picture: grey_of(crop),
            scale: 1.0,
        }];
    }
    let seen = look(crop);
    let scale = scale_for(seen.letters.map(|l| l.height), w, h);
    let best = seen.inks.axes[0];
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
    let plain = resized(&seen.flat, scale);
    let smooth = resized(&smoothed(&seen.flat), scale);
    let mut all = Vec::new();
    let mut add = |name: &str, done: String, picture: GrayImage| {
        all.push(Variant {
            name: name.into(),
            done: format!("{done}{turned}{sized}"),
            picture,
            scale,
        });
    };
    add(
        "flat",
        format!(
            "uneven light divided out on {}, where the ink stands {:.1} deviations off the ground",
            axis_words(best.name),
            best.parting
        ),
        contrast::stretch(&plain, 0.005, 0.9),
    );
    let height = seen.letters.map_or(WANTED_HEIGHT, |l| l.height * scale);
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
    let mut grey = grey_of(crop);
    if seen.inks.light_on_dark {
        imageops::invert(&mut grey);
    }
    add(
        "grey",
        "grey values as photographed".into(),
        resized(&grey, scale),
    );
    all
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
        });
    };
    let grey = grey_of(photograph);
    if photograph.width() < 3 || photograph.height() < 3 {
        add("grey", "grey values as photographed".into(), grey);
        return all;
    }
    let seen = look(photograph);
    let best = seen.inks.axes[0];
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
    flat: GrayImage,
    letters: Option<letters::Letters>,
}

fn look(crop: &RgbImage) -> Seen {
    let mut reach = 0;
    loop {
        let inks = ink::measure(crop, reach);
        let flat = inks.picture(crop, &inks.axes[0]);
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
