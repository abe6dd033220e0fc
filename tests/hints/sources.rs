//! The hints that stand in the sources, as they are written there, with `{}` where something is filled in.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use proc_macro2::{Delimiter, TokenStream, TokenTree};

/// One hint, or part of one.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Hint {
    pub file: String,
    pub words: String,
}

/// Parts shorter than this join others and propose nothing.
const LEAST_LETTERS: usize = 8;

/// Every hint given to `.hint(…)`, or to a fault of the job's sense, in a file of `src` outside its tests.
pub fn hints() -> BTreeSet<Hint> {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    walk(&src, &mut files);
    files.sort();
    let mut all = BTreeSet::new();
    for path in files {
        let text = fs::read_to_string(&path).unwrap();
        let stream: TokenStream = text.parse().unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        let trees = without_tests(stream);
        let mut named = BTreeMap::new();
        names(&trees, &mut named);
        let mut words = Vec::new();
        sites(&trees, &named, &mut words);
        let file = path.strip_prefix(&src).unwrap().display().to_string();
        all.extend(words.into_iter().filter(|w| is_long(w)).map(|words| Hint { file: file.clone(), words }));
    }
    all
}

fn walk(folder: &Path, into: &mut Vec<PathBuf>) {
    for path in fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()) {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() {
            walk(&path, into);
        } else if name.ends_with(".rs") && !name.ends_with("tests.rs") {
            into.push(path);
        }
    }
}

/// The trees of a file, flat but for groups, without modules compiled for tests alone.
fn without_tests(stream: TokenStream) -> Vec<TokenTree> {
    let trees: Vec<TokenTree> = stream.into_iter().collect();
    let test_only =
        |t: &TokenTree| matches!(t, TokenTree::Group(g) if g.to_string().replace(' ', "") == "[cfg(test)]");
    let end = trees
        .iter()
        .position(test_only)
        .filter(|at| trees[*at..].iter().take(6).any(|t| matches!(t, TokenTree::Ident(i) if *i == "mod")));
    trees[..end.unwrap_or(trees.len())].to_vec()
}

fn is_ident(t: Option<&TokenTree>, name: &str) -> bool {
    matches!(t, Some(TokenTree::Ident(i)) if *i == name)
}

fn is_punct(t: Option<&TokenTree>, c: char) -> bool {
    matches!(t, Some(TokenTree::Punct(p)) if p.as_char() == c)
}

fn inside(t: &TokenTree) -> Vec<TokenTree> {
    match t {
        TokenTree::Group(g) => g.stream().into_iter().collect(),
        _ => Vec::new(),
    }
}

/// What a name stands for, as far as it is text: constants, variables, functions and what is pushed onto lists.
fn names(trees: &[TokenTree], named: &mut BTreeMap<String, BTreeSet<String>>) {
    for (k, t) in trees.iter().enumerate() {
        let binds = is_ident(Some(t), "let") || is_ident(Some(t), "const");
        if binds && let Some(eq) = trees[k..].iter().position(|t| is_punct(Some(t), '=')) {
            let end = trees[k..].iter().position(|t| is_punct(Some(t), ';')).unwrap_or(trees.len() - k);
            let mut texts = Vec::new();
            if eq < end {
                // A list made of what was named before says what those say.
                resolved(&trees[k + eq..k + end], named, &mut texts);
                for name in idents(&trees[k..k + eq]) {
                    named.entry(name).or_default().extend(texts.clone());
                }
            }
        }
        if is_ident(Some(t), "fn")
            && let Some(TokenTree::Ident(name)) = trees.get(k + 1)
            && let Some(body) = trees[k..]
                .iter()
                .find(|t| matches!(t, TokenTree::Group(g) if g.delimiter() == Delimiter::Brace))
            && name.to_string().contains("hint")
        {
            let mut texts = Vec::new();
            literals(&inside(body), &mut texts);
            named.entry(name.to_string()).or_default().extend(texts);
        }
        if let (TokenTree::Ident(list), Some(arguments)) = (t, trees.get(k + 3))
            && is_punct(trees.get(k + 1), '.')
            && (is_ident(trees.get(k + 2), "push") || is_ident(trees.get(k + 2), "extend"))
        {
            let mut texts = Vec::new();
            literals(&inside(arguments), &mut texts);
            named.entry(list.to_string()).or_default().extend(texts);
        }
        names(&inside(t), named);
    }
}

fn sites(trees: &[TokenTree], named: &BTreeMap<String, BTreeSet<String>>, into: &mut Vec<String>) {
    for (k, t) in trees.iter().enumerate() {
        let called = |name: &str| {
            is_punct(k.checked_sub(1).and_then(|k| trees.get(k)), '.')
                && is_ident(Some(t), name)
                && matches!(trees.get(k + 1), Some(TokenTree::Group(g)) if g.delimiter() == Delimiter::Parenthesis)
        };
        let arguments = || inside(&trees[k + 1]);
        if called("hint") {
            resolved(&arguments(), named, into);
        }
        // A fault of a job: the hint is the last of place, fact and hint.
        if called("value") || called("lacks") || called("say") {
            let all = arguments();
            let parts: Vec<&[TokenTree]> =
                all.split(|t| is_punct(Some(t), ',')).filter(|p| !p.is_empty()).collect();
            if parts.len() >= 3 {
                resolved(parts[parts.len() - 1], named, into);
            }
        }
        sites(&inside(t), named, into);
    }
}

/// The texts of an argument, or those its names stand for.
fn resolved(argument: &[TokenTree], named: &BTreeMap<String, BTreeSet<String>>, into: &mut Vec<String>) {
    let mut said = Vec::new();
    literals(argument, &mut said);
    // What only joins others, as in `join("; or ")`, is not what is said.
    if !said.iter().any(|text| is_long(text)) {
        let known = idents(argument).into_iter().filter_map(|name| named.get(&name));
        said.extend(known.flatten().cloned());
    }
    into.extend(said);
}

fn is_long(words: &str) -> bool {
    words.chars().filter(|c| c.is_alphabetic()).count() >= LEAST_LETTERS
}

fn idents(trees: &[TokenTree]) -> Vec<String> {
    let mut all = Vec::new();
    for t in trees {
        if let TokenTree::Ident(i) = t {
            all.push(i.to_string());
        }
        all.extend(idents(&inside(t)));
    }
    all
}

fn literals(trees: &[TokenTree], into: &mut Vec<String>) {
    for t in trees {
        if let TokenTree::Literal(l) = t
            && let Some(text) = l.to_string().strip_prefix('"').and_then(|l| l.strip_suffix('"'))
        {
            into.push(unescaped(text));
        }
        literals(&inside(t), into);
    }
}

/// A literal's text: escapes undone, lines joined.
fn unescaped(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        match (c, rest.peek()) {
            ('\\', Some('\n')) => while rest.next_if(|c| c.is_whitespace()).is_some() {},
            ('\\', Some('n')) => {
                rest.next();
                out.push('\n');
            }
            ('\\', Some(_)) => out.extend(rest.next()),
            _ => out.push(c),
        }
    }
    out
}

/// True when `said` has the parts of `template` between what is filled in, in order.
pub fn says(said: &str, template: &str) -> bool {
    let mut rest = said;
    let mut parts = Vec::new();
    let mut part = String::new();
    let mut depth = 0;
    for c in template.chars() {
        match c {
            '{' => {
                depth += 1;
                parts.push(std::mem::take(&mut part));
            }
            '}' => depth -= 1,
            c if depth == 0 => part.push(c),
            _ => {}
        }
    }
    parts.push(part);
    parts.iter().all(|p| match rest.find(p.as_str()) {
        Some(at) => {
            rest = &rest[at + p.len()..];
            true
        }
        None => false,
    })
}
