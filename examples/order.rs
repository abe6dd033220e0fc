//! How good the burn order is on towns with a known shortest tour, and how long finding it takes.
//!
//! `cargo run --release --example order -- FILE.tsp [KNOWN_LENGTH]` reads a TSPLIB file (Reinelt, Heidelberg;
//! EUC_2D) and goes round its towns by the search that orders burns.

#![allow(clippy::print_stdout, missing_docs)]

use std::time::Instant;

use settlay::burn::round_trip;
use settlay::shape::{Point, distance, pt};

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let Some(path) = args.first() else {
        eprintln!("usage: order FILE.tsp [KNOWN_LENGTH]");
        std::process::exit(2);
    };
    let text = match std::fs::read_to_string(path) {
        Ok(text) => text,
        Err(e) => {
            eprintln!("{path}: {e}");
            std::process::exit(2);
        }
    };
    let towns: Vec<Point> = text
        .lines()
        .skip_while(|l| !l.starts_with("NODE_COORD_SECTION"))
        .filter_map(|l| {
            let numbers: Vec<f64> = l.split_whitespace().filter_map(|w| w.parse().ok()).collect();
            (numbers.len() == 3).then(|| pt(numbers[1], numbers[2]))
        })
        .collect();
    let known: Option<f64> = args.get(1).and_then(|k| k.parse().ok());
    let begun = Instant::now();
    let met = round_trip(&towns);
    let seconds = begun.elapsed().as_secs_f64();
    let way: Vec<Point> = met.iter().map(|&i| towns[i]).collect();
    // Every edge rounded to a whole number, as the library's rules have it.
    let closed: f64 =
        (0..way.len()).map(|i| (distance(way[i], way[(i + 1) % way.len()]) + 0.5).floor()).sum();
    print!("{path}: {} towns, {closed} in {seconds:.2} s", towns.len());
    match known {
        Some(k) => println!(", {:+.2} % of {k}", 100.0 * (closed / k - 1.0)),
        None => println!(),
    }
}
