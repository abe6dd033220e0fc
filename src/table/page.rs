//! The page's own files, carried in the program.

/// A file of the page: its name, its media type and its text.
pub type PageFile = (&'static str, &'static str, &'static str);

macro_rules! files {
    ($($name:literal),* $(,)?) => {
        &[$(($name, kind($name), include_str!(concat!("page/", $name)))),*]
    };
}

/// The page itself and its modules.
pub const FILES: &[PageFile] = files![
    "index.html",
    "api.js",
    "bed_scene.js",
    "board.js",
    "cloth_place.js",
    "cutting_place.js",
    "dom.js",
    "drawing_place.js",
    "geometry.js",
    "job_forms.js",
    "lay_scene.js",
    "main.js",
    "marks_form.js",
    "measures.js",
    "photo.js",
    "plan_standing.js",
    "schema_form.js",
    "sewing_place.js",
    "size_check.js",
    "start.js",
    "store.js",
    "table.css",
    "tile.js",
    "view.js",
    "words.js",
];

/// The media type of a file of the page, by its ending.
const fn kind(name: &str) -> &'static str {
    match name.as_bytes() {
        [.., b'j', b's'] => "text/javascript; charset=utf-8",
        [.., b'c', b's', b's'] => "text/css; charset=utf-8",
        [.., b's', b'v', b'g'] => "image/svg+xml",
        _ => "text/html; charset=utf-8",
    }
}

/// The file of this name.
pub fn file(name: &str) -> Option<&'static PageFile> {
    FILES.iter().find(|f| f.0 == name)
}
