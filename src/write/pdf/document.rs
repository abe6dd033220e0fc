//! Pages as one file.

use std::io::Write;

use flate2::Compression;
use flate2::write::ZlibEncoder;
use pdf_writer::{Filter, Finish, Name, Pdf, Rect, Ref, TextStr};

use super::page::Page;

/// A PDF file of these pages. The same pages give the same bytes.
///
/// # Errors
/// A page that cannot be packed.
pub(crate) fn document(title: &str, pages: Vec<Page>) -> std::io::Result<Vec<u8>> {
    let [catalog, tree, info, regular, bold] = [1, 2, 3, 4, 5].map(Ref::new);
    let mut pdf = Pdf::new();
    let count = i32::try_from(pages.len()).unwrap_or(i32::MAX);
    let ids = |i: i32| (Ref::new(6 + 2 * i), Ref::new(7 + 2 * i));
    pdf.catalog(catalog).pages(tree);
    pdf.pages(tree).kids((0..count).map(|i| ids(i).0)).count(count);
    pdf.document_info(info)
        .title(TextStr(title))
        .creator(TextStr(crate::PROGRAM))
        .producer(TextStr(crate::PROGRAM));
    for (id, name) in [(regular, "Helvetica"), (bold, "Helvetica-Bold")] {
        pdf.type1_font(id).base_font(Name(name.as_bytes())).encoding_predefined(Name(b"WinAnsiEncoding"));
    }
    for (i, page) in (0..count).zip(pages) {
        let (id, content) = ids(i);
        let [width, height] = page.size.map(|mm| (mm * 72.0 / 25.4) as f32);
        let mut entry = pdf.page(id);
        entry.media_box(Rect::new(0.0, 0.0, width, height)).parent(tree).contents(content);
        entry.resources().fonts().pair(Name(b"R"), regular).pair(Name(b"B"), bold);
        entry.finish();
        let mut packer = ZlibEncoder::new(Vec::new(), Compression::new(6));
        packer.write_all(&page.content.finish())?;
        pdf.stream(content, &packer.finish()?).filter(Filter::FlateDecode);
    }
    Ok(pdf.finish())
}
