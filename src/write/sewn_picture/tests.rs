use super::*;
use crate::cloth::look::Look;
use crate::shape::{Point, distance};
use crate::write::lay_picture::lay_picture;
use crate::write::sample::{sample_cloths, sample_job, sample_plan};

/// The sample work as pixels, and how many a unit.
static SHOWN: std::sync::LazyLock<(resvg::tiny_skia::Pixmap, f64)> = std::sync::LazyLock::new(|| {
    let (job, plan, cloths) = (sample_job(), sample_plan(), sample_cloths());
    paint::pixels(&sewn_picture(&job, &plan, &cloths)).unwrap()
});

/// Points well inside the pieces on top: clear of every border by `clear_mm`.
fn inner_points(picture: &SewnPicture, clear_mm: f64, wanted: usize) -> Vec<(Point, usize)> {
    let work = &picture.work;
    let edges: Vec<(Point, Point)> =
        work.pieces.iter().flat_map(|p| p.drawn.rings()).flat_map(|r| r.sides()).collect();
    let near = |p: Point, (a, b): (Point, Point)| {
        let d = b - a;
        let t = ((p.x - a.x) * d.x + (p.y - a.y) * d.y) / (d.x * d.x + d.y * d.y).max(1e-12);
        distance(p, a + d * t.clamp(0.0, 1.0)) < clear_mm
    };
    let mut points = Vec::new();
    // A sequence that fills a square evenly (golden ratio), piece by piece.
    for (n, piece) in work.pieces.iter().enumerate() {
        let b = piece.drawn.bounds();
        let tries = (1..400u32).map(|k| {
            let share = |by: f64| (f64::from(k) * by).fract();
            b.min + pt(b.width() * share(0.754_877_666_2), b.height() * share(0.569_840_291))
        });
        let good = tries.filter(|p| {
            work.top_at(*p).is_some_and(|top| top.index == piece.index) && !edges.iter().any(|e| near(*p, *e))
        });
        points.extend(good.take(wanted).map(|p| (p, n)));
    }
    points
}

/// The bar: every pixel of the work shows what the cloth has at the point the piece is cut from.
#[test]
fn a_pixel_shows_the_cloth_that_is_sewn_there() {
    let (job, plan, cloths) = (sample_job(), sample_plan(), sample_cloths());
    let picture = sewn_picture(&job, &plan, &cloths);
    let (canvas, zoom) = &*SHOWN;
    let zoom = *zoom;
    let looks: Vec<Look> = cloths.iter().map(|c| Look::new(c, 1.0 / (picture.sheet.scale * zoom))).collect();
    let points = inner_points(&picture, job.cutter.border_mm / 2.0 + 3.0, 40);
    assert!(points.len() > 300, "{}", points.len());
    for (p, n) in points {
        let piece = &picture.work.pieces[n];
        let on = picture.sheet.at(p) * zoom;
        let (column, row) = (on.x as u32, on.y as u32);
        let at = paint::middle(&picture, column, row, zoom);
        assert!(distance(at, p) < 1.0 / (picture.sheet.scale * zoom));
        let shown = canvas.pixel(column, row).unwrap();
        let cloth = looks[piece.cloth.unwrap()].colour(piece.pose.apply(at));
        assert_eq!([shown.red(), shown.green(), shown.blue()], cloth, "{p:?} of piece {n}");
    }
}

/// And what the lay's own picture has there, which is painted another way (a tile repeated): the mean of a small
/// patch, since the two have pixels of different sizes.
#[test]
fn the_work_and_the_lay_show_the_same_patch_of_cloth() {
    let (job, plan, cloths) = (sample_job(), sample_plan(), sample_cloths());
    let picture = sewn_picture(&job, &plan, &cloths);
    let (sewn, zoom) = &*SHOWN;
    let zoom = *zoom;
    let lay = lay_picture(&plan, &cloths);
    let (mut ground, lay_zoom) = crate::write::png::canvas(lay.width, lay.height).unwrap();
    for (outline, fill) in &lay.grounds {
        fill.paint(&mut ground.as_mut(), outline, lay_zoom);
    }
    let sheets: Vec<Sheet> = plan
        .cloths
        .iter()
        .zip(&lay.grounds)
        .map(|(c, (outline, _))| Sheet::of(c).at_corner(outline.bounds().min))
        .collect();
    let offsets: Vec<Point> =
        (-4..=4).flat_map(|i| (-4..=4).map(move |j| pt(f64::from(i), f64::from(j)) * 0.9)).collect();
    let mean = |canvas: &resvg::tiny_skia::Pixmap, at: &dyn Fn(Point) -> Point| {
        let mut sum = [0.0; 3];
        for d in &offsets {
            let q = at(*d);
            let c = canvas.pixel(q.x as u32, q.y as u32).unwrap();
            for (s, v) in sum.iter_mut().zip([c.red(), c.green(), c.blue()]) {
                *s += f64::from(v) / offsets.len() as f64;
            }
        }
        sum
    };
    let apart = |a: [f64; 3], b: [f64; 3]| a.iter().zip(b).map(|(x, y)| (x - y).abs()).fold(0.0, f64::max);
    let points = inner_points(&picture, job.cutter.border_mm / 2.0 + 8.0, 12);
    assert!(points.len() > 60);
    let mut others = 0.0f64;
    let mut last: Option<[f64; 3]> = None;
    for (p, n) in points {
        let piece = &picture.work.pieces[n];
        let sheet = &sheets[piece.cloth.unwrap()];
        let here = mean(sewn, &|d| picture.sheet.at(p + d) * zoom);
        let there = mean(&ground, &|d| sheet.at(piece.pose.apply(p + d)) * lay_zoom);
        assert!(apart(here, there) < 14.0, "{p:?} of piece {n}: {here:?}, {there:?}");
        if let Some(before) = last {
            others = others.max(apart(before, here));
        }
        last = Some(here);
    }
    assert!(others > 40.0, "patches differ from place to place: {others}");
}

/// The SVG lays the tile of a cloth by the pose as well: a pixel of the tile comes out where the work shows that
/// point of the cloth.
#[test]
fn the_svg_lays_the_tile_where_the_work_has_it() {
    let (job, plan, cloths) = (sample_job(), sample_plan(), sample_cloths());
    let picture = sewn_picture(&job, &plan, &cloths);
    let file = picture.svg();
    let read = usvg::roxmltree::Document::parse(&file).unwrap();
    for (n, piece) in picture.work.pieces.iter().enumerate() {
        let id = fabric::laid_id(n);
        let pattern = read.descendants().find(|e| e.attribute("id") == Some(id.as_str())).unwrap();
        let numbers = pattern.attribute("patternTransform").unwrap();
        let numbers: Vec<f64> =
            numbers[7..numbers.len() - 1].split(' ').map(|v| v.parse().unwrap()).collect();
        let cloth = &cloths[piece.cloth.unwrap()];
        let tile = fabric::tile_of(cloth, &picture.sheet);
        let map = crate::shape::Affine(numbers.try_into().unwrap());
        let origin = cloth.pattern.as_ref().map_or(pt(0.0, 0.0), |p| p.lattice.origin);
        let (w, h) = (f64::from(tile.width_px), f64::from(tile.height_px));
        for (u, v) in [(0.3, 0.8), (0.11, 0.42), (3.7, -2.4)] {
            let shown = map.apply(pt(u * w, v * h));
            let drawn = drawn_at(&picture.sheet, shown);
            let want = origin + tile.sides[0] * u + tile.sides[1] * (1.0 - v);
            assert!(distance(piece.pose.apply(drawn), want) < 0.01, "piece {n}");
        }
    }
}

#[test]
fn the_picture_can_be_read_and_is_the_same_every_time() {
    let (job, mut plan, cloths) = (sample_job(), sample_plan(), sample_cloths());
    plan.pieces[0].slender = vec![crate::plan::PlanSlender {
        axis: plan.pieces[0].drawn.outline.clone(),
        length_mm: 80.0,
        width_mm: 7.0,
        least_width_mm: 6.0,
        off_bias_deg: 3.0,
        verdict: "back it".into(),
        turn_deg: None,
    }];
    let file = sewn_svg(&job, &plan, &cloths);
    assert_eq!(file, sewn_svg(&job, &plan, &cloths));
    usvg::Tree::from_str(&file, &usvg::Options::default()).unwrap();
    // Ids are its own: it stands on a page with the picture of the lay.
    let lay = crate::write::lay_svg(&plan, &cloths);
    let ids = |file: &str| -> Vec<String> {
        let read = usvg::roxmltree::Document::parse(file).unwrap();
        read.descendants().filter_map(|e| e.attribute("id").map(String::from)).collect()
    };
    let of_lay = ids(&lay);
    assert!(ids(&file).iter().all(|id| !of_lay.contains(id)));
    assert!(!file.contains("NaN") && !file.contains("<text"));
}

#[test]
fn a_work_of_nothing_still_gives_a_picture() {
    let mut plan = sample_plan();
    plan.pieces.clear();
    for page in [[0.0, 0.0], [f64::NAN, 1.0], [f64::INFINITY, 10.0], [1e9, 1e-9], [1e5, 1.0]] {
        plan.page_mm = page;
        let (job, cloths) = (sample_job(), Vec::new());
        let picture = sewn_picture(&job, &plan, &cloths);
        assert!(paint::pixels(&picture).is_ok(), "{page:?}");
        usvg::Tree::from_str(&picture.svg(), &usvg::Options::default()).unwrap();
    }
    // Pieces of a cloth nobody knows are shown unbleached.
    assert!(sewn_svg(&sample_job(), &sample_plan(), &[]).contains("#cfc4ae"));
}
