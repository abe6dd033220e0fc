//! The cloths and how they look.

use serde::Deserialize;
use serde_json::{Value, json};

use super::ask::Answer;
use super::drawing::point;
use crate::cloth::{self, Cloth, Photo, look};
use crate::job::ClothSpec;
use crate::say::json as words;
use crate::say::{Note, Trouble};
use crate::shape::{Point, Ring};
use crate::table::problem::{Problem, troubles};
use crate::table::surface::Table;
use crate::table::{disk, names};
use crate::write;

/// How fine a tile is when nothing is said.
const PX_PER_MM: f64 = 4.0;

/// Words of a tile's address.
#[derive(Debug, Deserialize)]
pub struct Side {
    #[serde(default)]
    side: Option<String>,
    #[serde(default)]
    px_per_mm: Option<f64>,
}

/// A cloth, or its name and why it makes no sense yet.
type Made = Result<(Cloth, Vec<Note>), (String, Value)>;

/// The cloths as far as each by itself makes sense.
fn all(table: &Table) -> Result<Vec<Made>, Problem> {
    let (job, folder) = {
        let store = table.store();
        (store.copy.work.job.clone(), store.folder.clone())
    };
    let job = job.ok_or_else(|| Problem::none("There is no job yet").hint("begin with a drawing"))?;
    let specs = job.get("cloths").and_then(Value::as_array).cloned().unwrap_or_default();
    let one = |(k, value): (usize, Value)| {
        let name = value.get("name").and_then(Value::as_str).unwrap_or_default().to_owned();
        match words::typed::<ClothSpec>(&value) {
            Ok(spec) => match cloth::understand(&spec, &format!("cloths[{k}]")) {
                // A photograph that cannot be read is told with the job's troubles; the cloth shows its repeats.
                Ok((mut cloth, mut notes)) => {
                    notes.extend(cloth::take_up(&mut cloth, &spec, &folder, "").unwrap_or_default());
                    Ok((cloth, notes))
                }
                Err(t) => Err((name, troubles(&t))),
            },
            Err(wrong) => {
                let place = format!("cloths[{k}].{}", wrong.place);
                Err((name, json!([{"about": place, "what": wrong.what, "hint": "", "place": place}])))
            }
        }
    };
    Ok(specs.into_iter().enumerate().map(one).collect())
}

fn ring(r: &Ring) -> Vec<Value> {
    r.points.iter().map(|p| point(*p)).collect()
}

/// `GET api/cloths`.
pub fn get(table: &Table) -> Result<Value, Problem> {
    let tell = |(k, cloth): (usize, Made)| match cloth {
        Ok((cloth, notes)) => one(k, &cloth, &notes),
        Err((name, troubles)) => json!({"cloth": k, "name": name, "troubles": troubles}),
    };
    Ok(all(table)?.into_iter().enumerate().map(tell).collect::<Vec<_>>().into())
}

fn one(k: usize, cloth: &Cloth, notes: &[Note]) -> Value {
    let b = cloth.outline.bounds();
    let vector = |v: Option<Point>| v.map(|v| json!([v.x, v.y]));
    let pattern = cloth.pattern.as_ref().map(|p| {
        json!({
            "a": vector(p.lattice.a), "b": vector(p.lattice.b),
            "origin": [p.lattice.origin.x, p.lattice.origin.y], "half_turn": p.half_turn,
        })
    });
    // Only its sizes are wanted: the coarsest will do, but repeats and sides follow the fineness asked for.
    let tile = look::tile(cloth, PX_PER_MM);
    let at = cloth.pattern.as_ref().map_or([0.0, 0.0], |p| [p.lattice.origin.x, p.lattice.origin.y]);
    let weave = serde_json::to_value(cloth.weave).unwrap_or_default();
    json!({
        "cloth": k, "name": cloth.name, "stock": cloth.stock, "weave": weave, "nap": cloth.nap,
        "width_mm": cloth.width_mm(), "open_length": cloth.open_length,
        "length_mm": (!cloth.open_length).then(|| b.height()),
        "outline": (!cloth.open_length).then(|| ring(&cloth.outline)),
        "notes": notes.iter().map(|n| json!({"level": n.level, "text": n.text})).collect::<Vec<_>>(),
        "flaws": cloth.flaws.iter().map(ring).collect::<Vec<_>>(), "edge_mm": cloth.edge_mm, "pattern": pattern,
        "tile": {
            "w_mm": tile.size_mm[0], "h_mm": tile.size_mm[1], "at": at,
            "px_per_mm": f64::from(tile.width_px) / tile.size_mm[0],
            "sides": tile.sides.map(|s| [s.x, s.y]), "w_px": tile.width_px, "h_px": tile.height_px,
        },
        "colour": format!("#{:02x}{:02x}{:02x}", cloth.colour[0], cloth.colour[1], cloth.colour[2]),
    })
}

/// `GET api/cloths/I/tile.png`. From the back the tile is mirrored left to right, and a twill leans the other way.
pub fn tile(table: &Table, cloth: usize, side: &Side) -> Result<Answer, Problem> {
    let back = match side.side.as_deref() {
        None | Some("face") => false,
        Some("back") => true,
        Some(_) => return Err(Problem::bad("side: expected face or back")),
    };
    let fine = side.px_per_mm.unwrap_or(PX_PER_MM);
    if !(0.05..=40.0).contains(&fine) {
        return Err(Problem::bad("px_per_mm: expected from 0.05 to 40"));
    }
    let mut all = all(table)?;
    if cloth >= all.len() {
        return Err(Problem::none(format!("there is no cloth {cloth}")));
    }
    let (cloth, _) = all.swap_remove(cloth).map_err(|(name, wrong)| {
        Problem::clash(format!("cloth {name} makes no sense yet")).with("troubles", wrong)
    })?;
    let mut tile = look::tile(&cloth, fine);
    if back {
        let row = 4 * tile.width_px as usize;
        for line in tile.rgba.chunks_exact_mut(row) {
            let mirrored: Vec<u8> = line.chunks_exact(4).rev().flatten().copied().collect();
            line.copy_from_slice(&mirrored);
        }
    }
    let png = write::png_of(tile.width_px, tile.height_px, &tile.rgba)?;
    Ok(Answer::File("image/png", png, None))
}

/// Words of the address a photograph is sent to.
#[derive(Debug, Deserialize)]
pub struct PhotoOf {
    cloth: usize,
    name: String,
    w_mm: f64,
    h_mm: f64,
    #[serde(default)]
    symmetrical: bool,
    #[serde(default)]
    over: u8,
}

/// `POST api/photo`: a picture of one repeat, a PNG, kept beside the job and named in the cloth's pattern.
pub fn photo(table: &Table, of: &PhotoOf, revision: u64, bytes: &[u8]) -> Result<Value, Problem> {
    let name = names::plain(&of.name, &[".png"])?;
    let sane = |v: f64| (0.5..=20_000.0).contains(&v);
    if !(sane(of.w_mm) && sane(of.h_mm)) {
        return Err(Problem::bad("w_mm, h_mm: expected the size of one repeat, mm"));
    }
    let size_mm = [of.w_mm, of.h_mm];
    Photo::parse(bytes, size_mm, crate::shape::pt(0.0, 0.0))
        .map_err(|what| Problem::from(Trouble::bad_input(&name, what)))?;
    {
        let store = table.store();
        store.expect(revision)?;
        let cloths = store.copy.work.job.as_ref().and_then(|j| j.get("cloths")?.as_array().map(Vec::len));
        if cloths.is_none_or(|n| of.cloth >= n) {
            return Err(Problem::none(format!("there is no cloth {}", of.cloth)));
        }
    }
    table.heavy.idle()?;
    let path = table.folder().join(&name);
    let same = disk::read_limited(&path, super::LARGEST_PICTURE as u64).is_ok_and(|there| there == bytes);
    if path.symlink_metadata().is_ok() && !same && of.over != 1 {
        return Err(Problem::clash(format!("there is another picture {name} in this folder already"))
            .hint("give yours another name, or say that it takes the other's place")
            .with("exists", name));
    }
    if !same {
        disk::write_whole(&path, bytes)?;
    }
    let (revision, ()) = table.change("photo", revision, |work| {
        let cloth = work.job.as_mut().and_then(|j| j.get_mut("cloths")?.get_mut(of.cloth));
        let cloth = cloth.and_then(Value::as_object_mut);
        let cloth = cloth.ok_or_else(|| Problem::none(format!("there is no cloth {}", of.cloth)))?;
        let pattern = cloth.entry("pattern").or_insert(Value::Null);
        if !pattern.is_object() {
            *pattern = json!({});
        }
        // With a thread count, that says it.
        if ["warp", "weft"].iter().all(|order| pattern.get(order).is_none_or(Value::is_null)) {
            pattern["symmetrical"] = of.symmetrical.into();
        }
        pattern["photo"] = json!({"file": name, "size_mm": size_mm});
        Ok(())
    })?;
    Ok(json!({"revision": revision, "file": name, "size_mm": size_mm}))
}
