//! Made pictures, each photographed several times, with what is true of them and what was read.

use dorso::back::joins::{Look, Shown};
use dorso::back::plan::{Place, Plan};
use dorso::geometry::{Homography, Point, Quad, Rect};
use dorso::measure::text;
use dorso::run::ReadPhotograph;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

pub type Fallible<T> = Result<T, Box<dyn std::error::Error>>;

/// A true mark as one photograph shows it.
pub struct TrueMark {
    /// Key of the mark, the same on every photograph of the picture.
    pub of: String,
    /// Corners on the photograph, px, within its edges.
    pub outline: Quad,
    /// Its lines as a person could read them here; empty where none.
    pub lines: Vec<String>,
    /// All its lines: as a person could read them here (`None` where not), and as they were made.
    pub all: Vec<(Option<String>, String)>,
    /// Stuck elsewhere than on the first visit.
    pub moved: bool,
}

/// A photograph: what is true of it, and what was read.
pub struct Photo {
    /// File name without its ending.
    pub name: String,
    /// Grade of the picture: easy, medium, hard.
    pub grade: String,
    /// Lines as a person could read them, whole photograph.
    pub lines: Vec<String>,
    /// Back (mm) to photograph (px).
    pub map: Homography,
    /// True marks.
    pub marks: Vec<TrueMark>,
    /// What came out.
    pub read: ReadPhotograph,
    /// How each mark that was read looks.
    pub looks: Vec<Look>,
}

/// A picture with its photographs.
pub struct Picture {
    pub name: String,
    pub photos: Vec<Photo>,
    /// As the program laid them; `None` where that wasn't kept.
    pub laid: Option<Plan>,
}

/// A mark as read on a photograph.
pub struct Sighting {
    pub photo: usize,
    /// Its place among what was read of the photograph.
    pub mark: usize,
    /// The true mark that it shows, if it shows one.
    pub of: Option<String>,
    /// Whether that mark was stuck elsewhere on the first visit.
    pub moved: bool,
    /// Whether its photograph shows more of that mark in another outline.
    pub lesser: bool,
}

/// An outline as the maker writes it: four corners, px.
fn quad(v: &Value) -> Option<Quad> {
    let at = |i: usize, k: usize| v.get(i)?.get(k)?.as_f64();
    let p = |i: usize| Some(Point::new(at(i, 0)?, at(i, 1)?));
    Some(Quad([p(0)?, p(1)?, p(2)?, p(3)?]))
}

/// The photographs of a folder, and of its folders, that have their truth beside them, by name.
pub fn photographs(folder: &Path) -> Fallible<Vec<PathBuf>> {
    let mut files = Vec::new();
    for item in std::fs::read_dir(folder)? {
        let path = item?.path();
        if path.is_dir() {
            files.extend(photographs(&path)?);
        } else if path.extension().is_some_and(|e| e == "jpg")
            && path.with_extension("json").exists()
        {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

/// Every picture of a folder of which something was read into `kept`.
pub fn pictures(folder: &Path, kept: &Path) -> Fallible<Vec<Picture>> {
    let mut all: BTreeMap<String, Vec<Photo>> = BTreeMap::new();
    for file in photographs(folder)? {
        let truth: Value =
            serde_json::from_str(&std::fs::read_to_string(file.with_extension("json"))?)?;
        let name = file
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let Ok(read) = std::fs::read_to_string(kept.join(format!("{name}.json"))) else {
            continue;
        };
        let looks = kept.join(format!("{name}.looks"));
        let looks = match std::fs::read_to_string(looks) {
            Ok(text) => serde_json::from_str(&text)?,
            Err(_) => Vec::new(),
        };
        let picture = truth["picture"].as_str().unwrap_or(&name).to_owned();
        let photo = photo(name, &truth, serde_json::from_str(&read)?, looks)
            .ok_or_else(|| format!("{}: not a truth of the maker's", file.display()))?;
        all.entry(picture).or_default().push(photo);
    }
    let picture = |(name, photos): (String, Vec<Photo>)| {
        let laid = std::fs::read_to_string(kept.join(format!("{name}.plan"))).ok();
        Ok(Picture {
            laid: match laid {
                Some(text) => plan(&serde_json::from_str(&text)?, photos.len()),
                None => None,
            },
            name,
            photos,
        })
    };
    all.into_iter().map(picture).collect()
}

fn photo(name: String, truth: &Value, read: ReadPhotograph, looks: Vec<Look>) -> Option<Photo> {
    let numbers: Vec<f64> = truth["map"]
        .as_array()?
        .iter()
        .filter_map(Value::as_f64)
        .collect();
    let line = |l: &Value| {
        let text = |key: &str| l[key].as_str().map(str::to_owned);
        let seen = text("text").filter(|_| l["legible"] == true);
        Some((seen, text("as_made")?))
    };
    let mark = |m: &Value| {
        let all: Vec<_> = m["lines"].as_array()?.iter().filter_map(line).collect();
        Some(TrueMark {
            of: m["of"].as_str()?.to_owned(),
            outline: quad(&m["outline"])?,
            lines: all.iter().filter_map(|l| l.0.clone()).collect(),
            all,
            moved: m["moved"] == true,
        })
    };
    let marks: Vec<TrueMark> = truth["marks"].as_array()?.iter().filter_map(mark).collect();
    Some(Photo {
        grade: truth["grade"].as_str()?.to_owned(),
        lines: marks.iter().flat_map(|m| m.lines.clone()).collect(),
        map: Homography(numbers.try_into().ok()?),
        name,
        marks,
        read,
        looks,
    })
}

/// A plan as it was kept: ground, and for each photograph nothing or face, nine numbers, error, chance.
fn plan(kept: &Value, photos: usize) -> Option<Plan> {
    let place = |v: &Value| {
        let map: Vec<f64> = v["to_plan"]
            .as_array()?
            .iter()
            .filter_map(Value::as_f64)
            .collect();
        Some(Place {
            face: v["face"].as_u64()? as usize,
            to_plan: Homography(map.try_into().ok()?),
            error_px: v["error_px"].as_f64()?,
            chance: v["chance"].as_f64()?,
        })
    };
    let places: Vec<Option<Place>> = kept["places"].as_array()?.iter().map(place).collect();
    (places.len() == photos).then(|| Plan {
        ground: kept["ground"].as_u64().map(|g| g as usize),
        places,
    })
}

/// The plan as [`plan`] reads it.
pub fn plan_to_keep(plan: &Plan) -> Value {
    let place = |p: &Option<Place>| {
        p.as_ref().map(|p| {
            serde_json::json!({"face": p.face, "to_plan": p.to_plan.0, "error_px": p.error_px, "chance": p.chance})
        })
    };
    serde_json::json!({"ground": plan.ground, "places": plan.places.iter().map(place).collect::<Vec<_>>()})
}

/// Share of a sighting that must lie on the true mark which it shows.
const ON_IT: f64 = 0.6;
/// Joint overlap from which a sighting shows a true mark though less than that of it lies there.
const LIKE_IT: f64 = 0.4;

impl Photo {
    /// The true mark that an outline shows.
    pub fn shown(&self, outline: &Quad) -> Option<&TrueMark> {
        let best = self.marks.iter().max_by(|a, b| {
            outline
                .overlap(&a.outline)
                .total_cmp(&outline.overlap(&b.outline))
        })?;
        let on = outline.overlap(&best.outline) / outline.area().max(1.0);
        (on >= ON_IT || outline.iou(&best.outline) >= LIKE_IT).then_some(best)
    }
}

impl Picture {
    /// Everything that was read on its photographs.
    pub fn sightings(&self) -> Vec<Sighting> {
        let mut all = Vec::new();
        for (i, p) in self.photos.iter().enumerate() {
            for (k, m) in p.read.marks.iter().enumerate() {
                let shown = p.shown(&m.outline);
                all.push(Sighting {
                    photo: i,
                    mark: k,
                    of: shown.map(|t| t.of.clone()),
                    moved: shown.is_some_and(|t| t.moved),
                    lesser: false,
                });
            }
        }
        let area = |s: &Sighting| self.photos[s.photo].read.marks[s.mark].outline.area();
        let lesser = |s: &Sighting| {
            let more = |o: &Sighting| o.photo == s.photo && o.of == s.of && area(o) > area(s);
            s.of.is_some() && all.iter().any(more)
        };
        let lessers: Vec<bool> = all.iter().map(lesser).collect();
        for (s, lesser) in all.iter_mut().zip(lessers) {
            s.lesser = lesser;
        }
        all
    }

    /// The same for the joins.
    pub fn shown<'a>(&'a self, sightings: &[Sighting]) -> Vec<Shown<'a>> {
        let one = |s: &Sighting| {
            let photo = &self.photos[s.photo];
            let m = &photo.read.marks[s.mark];
            Shown {
                photo: s.photo,
                size: (photo.read.width, photo.read.height),
                outline: m.outline,
                kind: m.kind,
                reading: &m.reading,
                look: photo.looks.get(s.mark),
            }
        };
        sightings.iter().map(one).collect()
    }

    /// The plan as it truly is: px of the first photograph, all on one face.
    pub fn true_plan(&self) -> Plan {
        let ground = &self.photos[0];
        let place = |p: &Photo| {
            let size = Rect::new(0, 0, p.read.width, p.read.height).quad();
            let mm = p.map.inverse()?;
            let on_plan = Quad(size.0.map(|c| ground.map.apply(mm.apply(c))));
            Some(Place {
                face: 0,
                to_plan: Homography::between(&size, &on_plan)?,
                error_px: 0.5,
                chance: 1.0,
            })
        };
        Plan {
            ground: Some(0),
            places: self.photos.iter().map(place).collect(),
        }
    }

    /// What a person could read of each true mark, over all photographs: of each line the longest piece that
    /// one shows, or the line as it was made where they show different pieces.
    #[allow(clippy::type_complexity)] // pairs of marks to what the truth says of them
    pub fn truth(&self) -> BTreeMap<String, Vec<String>> {
        let mut out: BTreeMap<String, BTreeMap<usize, (String, String, Vec<String>)>> =
            BTreeMap::new();
        for m in self.photos.iter().flat_map(|p| &p.marks) {
            let own = out.entry(m.of.clone()).or_default();
            for (i, (seen, made)) in m.all.iter().enumerate() {
                let Some(seen) = seen else { continue };
                let line = own.entry(i).or_default();
                line.1.clone_from(made);
                line.2.push(seen.clone());
                if seen.chars().count() > line.0.chars().count() {
                    line.0.clone_from(seen);
                }
            }
        }
        let line = |(longest, made, pieces): (String, String, Vec<String>)| {
            if pieces.iter().all(|p| longest.contains(p.as_str())) {
                longest
            } else {
                made
            }
        };
        let mark =
            |(of, lines): (String, BTreeMap<_, _>)| (of, lines.into_values().map(line).collect());
        let told: BTreeMap<String, Vec<String>> = out.into_iter().map(mark).collect();
        told.into_iter().filter(|m| !m.1.is_empty()).collect()
    }

    /// Lines of true marks, as they were made, that the maker calls illegible on every photograph.
    pub fn illegible(&self) -> Vec<String> {
        let mut out: BTreeMap<(&str, usize), (bool, &str)> = BTreeMap::new();
        for m in self.photos.iter().flat_map(|p| &p.marks) {
            for (i, (seen, made)) in m.all.iter().enumerate() {
                out.entry((&m.of, i)).or_insert((false, made)).0 |= seen.is_some();
            }
        }
        let never = out.into_values().filter(|(seen, _)| !seen);
        never.map(|(_, made)| text::normal(made)).collect()
    }

    /// Whether two sightings lie at one place of the back.
    pub fn same_place(&self, a: &Sighting, b: &Sighting) -> bool {
        let plan = self.true_plan();
        let on = |s: &Sighting| {
            let place = plan.places[s.photo].as_ref()?;
            let outline = &self.photos[s.photo].read.marks[s.mark].outline;
            Some(Quad(outline.0.map(|p| place.to_plan.apply(p))))
        };
        match (on(a), on(b)) {
            (Some(x), Some(y)) => x.overlap(&y) > 0.05 * x.area().min(y.area()),
            _ => false,
        }
    }

    /// Whether two sightings show one mark. `None` where neither answer is wrong: where one shows no true
    /// mark and they lie at one place, where a label was moved in between, and for the lesser pieces of a mark
    /// that was found in several.
    pub fn same(&self, a: &Sighting, b: &Sighting) -> Option<bool> {
        match (&a.of, &b.of) {
            (Some(x), Some(y)) if x == y && (a.moved != b.moved || a.lesser || b.lesser) => None,
            (Some(x), Some(y)) => Some(x == y),
            _ => (!self.same_place(a, b)).then_some(false),
        }
    }
}

/// The lines read, without those that were read of lettering which the truth calls illegible: to read more
/// than the maker thought possible is no error.
pub fn counted(read: Vec<String>, truth: &[String], illegible: &[String]) -> Vec<String> {
    let off = |line: &str, of: &[String]| {
        let rates = of.iter().map(|t| {
            let letters = t.chars().count().max(line.chars().count());
            text::characters(t, line).errors() as f64 / letters.max(1) as f64
        });
        rates.fold(f64::INFINITY, f64::min)
    };
    let kept = read.into_iter().filter(|line| {
        let faint = off(line, illegible);
        faint > 0.7 || faint >= off(line, truth)
    });
    kept.collect()
}
