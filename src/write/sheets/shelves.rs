//! Boxes on pages: rows, the tallest first.

/// Where a box lies: its page, and its upper left corner from the page's upper left corner, mm, down and right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spot {
    /// From 0.
    pub page: usize,
    /// From the left.
    pub x: f64,
    /// From the top.
    pub y: f64,
}

struct Row {
    page: usize,
    y: f64,
    height: f64,
    filled: f64,
}

/// A spot for every box (width, height) on pages of `room`, each in the first row that takes it; `taken` is the height
/// already used at the top of the first page. Known as first fit by decreasing height (Coffman, Garey, Johnson and
/// Tarjan, 1980). Boxes larger than a page get a page of their own.
pub(super) fn shelves(sizes: &[[f64; 2]], room: [f64; 2], taken: f64) -> Vec<Spot> {
    let mut order: Vec<usize> = (0..sizes.len()).collect();
    let height = |i: usize| sizes.get(i).map_or(0.0, |s| s[1]);
    order.sort_by(|&i, &j| height(j).total_cmp(&height(i)).then(i.cmp(&j)));
    let mut rows: Vec<Row> = Vec::new();
    let mut depths = vec![taken];
    let mut spots = vec![Spot { page: 0, x: 0.0, y: 0.0 }; sizes.len()];
    for i in order {
        let Some((&[w, h], spot)) = sizes.get(i).zip(spots.get_mut(i)) else { continue };
        if let Some(row) = rows.iter_mut().find(|r| h <= r.height && r.filled + w <= room[0]) {
            *spot = Spot { page: row.page, x: row.filled, y: row.y };
            row.filled += w;
            continue;
        }
        let page = depths.iter().position(|d| d + h <= room[1]).unwrap_or(depths.len());
        if page == depths.len() {
            depths.push(0.0);
        }
        if let Some(depth) = depths.get_mut(page) {
            *spot = Spot { page, x: 0.0, y: *depth };
            rows.push(Row { page, y: *depth, height: h, filled: w });
            *depth += h;
        }
    }
    spots
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn boxes_lie_apart_and_on_their_page(
            sizes in proptest::collection::vec((5.0f64..180.0, 5.0f64..240.0), 0..60),
        ) {
            let sizes: Vec<[f64; 2]> = sizes.into_iter().map(|(w, h)| [w, h]).collect();
            let spots = shelves(&sizes, [186.0, 250.0], 60.0);
            let all: Vec<_> = sizes.iter().zip(&spots).collect();
            for (i, (s, at)) in all.iter().enumerate() {
                let top = if at.page == 0 { 60.0 } else { 0.0 };
                prop_assert!(at.x >= 0.0 && at.x + s[0] <= 186.0 + 1e-9);
                prop_assert!(at.y >= top && at.y + s[1] <= 250.0 + 1e-9);
                for (t, other) in all.iter().skip(i + 1).filter(|(_, o)| o.page == at.page) {
                    let apart = at.x + s[0] <= other.x + 1e-9 || other.x + t[0] <= at.x + 1e-9
                        || at.y + s[1] <= other.y + 1e-9 || other.y + t[1] <= at.y + 1e-9;
                    prop_assert!(apart);
                }
            }
        }
    }

    #[test]
    fn small_boxes_share_a_page() {
        let spots = shelves(&[[60.0, 40.0]; 18], [186.0, 250.0], 0.0);
        assert!(spots.iter().all(|s| s.page == 0));
    }
}
