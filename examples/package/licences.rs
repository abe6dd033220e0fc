//! The licences of everything the program is built from, as they ask to be handed on with it.

use std::collections::BTreeMap;
use std::error::Error;
use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

/// A text that names every crate the program is linked with and its licence, then every licence's text once, with whom
/// it is for.
pub fn all(root: &Path) -> Result<String, Box<dyn Error>> {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let host = String::from_utf8(Command::new("rustc").arg("-vV").output()?.stdout)?;
    let host = host.lines().find_map(|l| l.strip_prefix("host: ")).ok_or("rustc does not name its host")?;
    let told = Command::new(cargo)
        .args(["metadata", "--format-version", "1", "--locked", "--filter-platform", host])
        .current_dir(root)
        .output()?;
    if !told.status.success() {
        return Err(String::from_utf8_lossy(&told.stderr).into_owned().into());
    }
    let told: Value = serde_json::from_slice(&told.stdout)?;
    let linked = linked(&told)?;
    let mut list = String::new();
    let mut texts: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let packages = told["packages"].as_array().ok_or("no packages")?;
    for package in
        packages.iter().filter(|p| p["id"].as_str().is_some_and(|id| linked.contains(&id.to_owned())))
    {
        let text = |key: &str| package[key].as_str().unwrap_or_default().to_owned();
        let name = format!("{} {}", text("name"), text("version"));
        if package["source"].is_null() {
            continue;
        }
        list.push_str(&format!("{name}: {}\n", text("license")));
        let folder = Path::new(package["manifest_path"].as_str().unwrap_or_default());
        for licence in texts_in(folder.parent().unwrap_or(root))? {
            texts.entry(licence).or_default().push(name.clone());
        }
    }
    let mut out = format!(
        "settlay is built from these works of others, each under its own licence. The licences' texts follow.\n\n{list}"
    );
    let mut by_name: Vec<(Vec<String>, String)> = texts.into_iter().map(|(t, n)| (n, t)).collect();
    by_name.sort();
    for (names, text) in by_name {
        out.push_str(&format!("\n{}\n{}\n\n{}\n", "=".repeat(78), names.join(", "), text.trim_end()));
    }
    Ok(out)
}

/// Ids of the packages the program is linked with: what its own dependencies lead to, without those of its tests.
fn linked(told: &Value) -> Result<Vec<String>, Box<dyn Error>> {
    let nodes = told["resolve"]["nodes"].as_array().ok_or("no tree of packages")?;
    let mut found = vec![told["resolve"]["root"].as_str().ok_or("no root")?.to_owned()];
    let mut next = 0;
    while let Some(id) = found.get(next).cloned() {
        next += 1;
        let Some(node) = nodes.iter().find(|n| n["id"].as_str() == Some(&id)) else { continue };
        for dep in node["deps"].as_array().into_iter().flatten() {
            let normal = dep["dep_kinds"].as_array().is_some_and(|k| k.iter().any(|k| k["kind"].is_null()));
            let id = dep["pkg"].as_str().unwrap_or_default().to_owned();
            if normal && !found.contains(&id) {
                found.push(id);
            }
        }
    }
    Ok(found)
}

/// Texts of licences and notices in a package's folder and, one deeper, of what it carries along.
fn texts_in(folder: &Path) -> Result<Vec<String>, Box<dyn Error>> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            folders.push(path);
        }
    }
    folders.sort();
    for folder in folders {
        let mut paths: Vec<_> = fs::read_dir(folder)?.filter_map(Result::ok).map(|e| e.path()).collect();
        paths.sort();
        for path in paths {
            let name = path.file_name().unwrap_or_default().to_string_lossy().to_uppercase();
            let ours = ["LICENSE", "LICENCE", "COPYING", "NOTICE", "COPYRIGHT", "UNLICENSE"];
            if path.is_file() && ours.iter().any(|o| name.starts_with(o)) {
                let text = String::from_utf8_lossy(&fs::read(path)?).replace("\r\n", "\n");
                if !found.contains(&text) {
                    found.push(text);
                }
            }
        }
    }
    Ok(found)
}
