use usvg::roxmltree::Document;

use super::*;
use crate::drawing::family::Family;

const FILE: &str = "<svg><g id='a' class='x y'><rect id='b'/><path id='c'/><rect id='d' class='x'/></g>\
                        <rect id='e' data-k='One-two'/><a href='#b'><rect id='f'/></a></svg>";

fn meant(text: &str) -> String {
    let doc = Document::parse(FILE).unwrap();
    let family = Family::of(&doc);
    let list = read(text).unwrap_or_else(|| panic!("{text}"));
    let all: Vec<Vec<bool>> = list.iter().map(|s| family.meant(s)).collect();
    let ids = family.nodes().enumerate().filter(|(k, _)| all.iter().any(|m| m[*k]));
    ids.map(|(_, n)| n.attribute("id").unwrap_or("-")).collect()
}

#[test]
fn selectors_mean_the_elements_they_should() {
    for (text, wanted) in [
        ("*", "-abcde-f"),
        ("svg rect", "bdef"),
        ("svg>rect , path", "ce"),
        ("g + rect", "e"),
        ("#b ~ *", "cd"),
        (".x.y", "a"),
        ("rect.x,:ROOT", "-d"),
        ("rect:nth-child(3)", "d"),
        ("rect:nth-of-type(2n + 1)", "bef"),
        ("g>:nth-last-child(-n+2)", "cd"),
        ("rect:nth-child(even)", "e"),
        ("path:only-of-type", "c"),
        ("rect:only-child", "f"),
        ("rect:not(.x, #e):not(a *)", "b"),
        (":is(g,a)>rect:first-child", "bf"),
        (":where(g) path:empty", "c"),
        ("[data-k]", "e"),
        ("[data-k|=One][data-k$='two'][data-k*=\"e-t\"][data-k^='one' i]", "e"),
        ("[class ~= 'y']", "a"),
        ("a:link", "-"),
        ("rect:hover, rect::before", ""),
        ("#\\62, #\\65 ", "be"),
        ("g:first-of-type:last-child", ""),
    ] {
        assert_eq!(meant(text), wanted, "{text}");
    }
}

#[test]
fn what_cannot_be_read_is_known_for_it() {
    for text in [
        "",
        ",",
        "g,",
        "g,,g",
        ">g",
        "g>",
        "g >> g",
        "svg|g",
        ":has(g)",
        ":lang(en)",
        ":nth-child(2 of g)",
        "g:",
        "#",
        "[",
        "[a",
        "[a='\\62']",
        "g&",
        "3g",
        ":is()",
        ":not",
        "g!",
        "\\",
    ] {
        assert_eq!(read(text), None, "{text}");
    }
    let deep = format!("{}g{}", ":is(".repeat(5000), ")".repeat(5000));
    assert_eq!(read(&deep), None);
}

#[test]
fn weights_are_counted_as_css_counts_them() {
    for (text, wanted) in [
        ("#a .b c", [1, 1, 1]),
        ("*:not(#a, .b)", [1, 0, 0]),
        (":where(#a) g:first-child", [0, 1, 1]),
        ("[x]:is(g g)", [0, 1, 2]),
    ] {
        assert_eq!(read(text).unwrap()[0].weight, wanted, "{text}");
    }
}
