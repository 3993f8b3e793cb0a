//! Changed pieces of both surfaces gathered into numbered changes.

use super::deviation::{Side, Spot};
use super::{Change, Placement, V3};
use crate::bodies::Forest;
use crate::units::{Area, Length};
use nalgebra::Point3;
use std::collections::BTreeMap;

/// Pieces nearer than this, or than a few tolerances, are one change.
const TOGETHER: f64 = 0.0762; // 3 in

/// Groups, largest first; and for each spot its change.
pub(crate) fn gather(spots: &[Spot], placement: &Placement, tolerance: f64) -> (Vec<Change>, Vec<u32>) {
    let side = TOGETHER.max(4.0 * tolerance);
    let cell = |p: &V3| [0, 1, 2].map(|k| (p[k] / side).floor() as i64);
    let mut cells: BTreeMap<[i64; 3], u32> = BTreeMap::new();
    // By their corners, which neighbours share: pieces of a large change are themselves larger than a cell.
    let mut last = None;
    let mut number = |corner: V3| {
        let cell = cell(&corner);
        // Neighbours mostly share a cell.
        if let Some((same, number)) = last
            && same == cell
        {
            return number;
        }
        let next = cells.len() as u32;
        let number = *cells.entry(cell).or_insert(next);
        last = Some((cell, number));
        number
    };
    let of_corners: Vec<[u32; 3]> = spots.iter().map(|spot| spot.corners.map(&mut number)).collect();
    let mut forest = Forest::new(cells.len());
    for [a, b, c] in &of_corners {
        forest.join(*a, *b);
        forest.join(*b, *c);
    }
    for ([x, y, z], &number) in &cells {
        for step in 0..27 {
            let (i, j, k) = (step % 3 - 1, step / 3 % 3 - 1, step / 9 - 1);
            if let Some(&other) = cells.get(&[x + i, y + j, z + k]) {
                forest.join(number, other);
            }
        }
    }
    let (group_of, count) = forest.numbered();
    let group: Vec<usize> = of_corners.iter().map(|corners| group_of[corners[0] as usize] as usize).collect();
    let far = V3::repeat(f64::INFINITY);
    let mut changes = vec![Change::default(); count];
    let mut boxes = vec![[far, -far]; count];
    for (spot, &group) in spots.iter().zip(&group) {
        let (change, [low, high]) = (&mut changes[group], &mut boxes[group]);
        for corner in &spot.corners {
            let at = placement.back(corner);
            *low = low.inf(&at);
            *high = high.sup(&at);
        }
        let area = Area::from_square_metres(spot.area);
        match spot.side {
            Side::Old => change.old_area += area,
            Side::New => change.new_area += area,
        }
        let moved = Length::from_metres(spot.movement.abs());
        let most = if spot.movement < 0.0 { &mut change.inward } else { &mut change.outward };
        *most = most.max(moved);
    }
    for (change, [low, high]) in changes.iter_mut().zip(boxes) {
        (change.low, change.high) = (Point3::from(low), Point3::from(high));
    }
    let mut order: Vec<usize> = (0..count).collect();
    let size = |k: usize| changes[k].new_area.max(changes[k].old_area).square_metres();
    order.sort_by(|&a, &b| size(b).total_cmp(&size(a)).then(a.cmp(&b)));
    let mut rank = vec![0; count];
    order.iter().enumerate().for_each(|(place, &k)| rank[k] = place as u32);
    let of_spot = group.into_iter().map(|group| rank[group]).collect();
    (order.into_iter().map(|k| changes[k]).collect(), of_spot)
}
