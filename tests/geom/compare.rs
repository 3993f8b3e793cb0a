//! Pairs of revisions with a known difference.

use cragskin_fixtures::pairs::{Pair, Told, pairs};
use cragskin_geom::compare::{Comparison, Fate, Revision, Stance, compare, low_in_file};
use cragskin_geom::drawing::{Axis, Drawing, Placing};
use cragskin_geom::intake::read_obj;
use cragskin_geom::units::{Length, ModelUnit};

const TOLERANCE: Length = Length::from_inches(1.0 / 16.0);

fn drawing(obj: &[u8]) -> Drawing {
    Drawing::from_soup(read_obj(obj).unwrap()).unwrap()
}

fn compared(pair: &Pair) -> Comparison {
    let unit = ModelUnit::ALL.into_iter().find(|unit| unit.symbol() == pair.unit).unwrap();
    let placing = Placing { unit, up: Axis::PLUS_Z, front: Axis::MINUS_Y };
    let placed = [&pair.old, &pair.new].map(|shape| {
        let drawing = drawing(&shape.to_obj());
        let low = low_in_file(&drawing, &placing);
        (drawing.place(placing).unwrap(), low)
    });
    let [old, new] = placed.each_ref().map(|(model, low)| Revision { model, low_in_file: *low });
    compare(&old, &new, TOLERANCE)
}

#[test]
fn every_pair_is_told_for_what_it_is() {
    for pair in pairs() {
        let found = compared(&pair);
        let name = pair.name;
        let stance = found.placement.stance(TOLERANCE);
        let scale = found.placement.scale;
        let fates: Vec<Fate> = found.parts.iter().map(|part| part.fate).collect();
        // The files carry shortest decimals of f64; a turn by an angle is found by moments, good to about 1e-9.
        let (same, near) = (found.same_shape(), |a: f64, b: f64| (a / b - 1.0).abs() < 1e-6);
        match pair.told {
            Told::Same | Told::SameShape => {
                assert!(same && stance == Stance::Same && scale == 1.0, "{name}: {stance:?} {scale}");
                assert!(found.bound.metres() < 1e-9, "{name}: {}", found.bound);
            }
            Told::Scaled(factor) => {
                assert!(same && near(scale, factor), "{name}: {stance:?} {scale} {}", found.changes.len());
                assert!(found.placement.unit_slip().is_some(), "{name}");
            }
            Told::Shifted(by) => {
                assert!(same && stance == Stance::Shifted, "{name}: {stance:?}");
                assert!((0..3).all(|k| (found.placement.moved[k] - by[k]).abs() < 1e-9), "{}", found.placement.moved);
            }
            Told::Turned(degrees) => match stance {
                Stance::Turned(by) => assert!(same && (by - degrees).abs() < 1e-6, "{name}: {by}"),
                other => panic!("{name}: {other:?} {}", found.changes.len()),
            },
            Told::UpChanged => assert!(same && stance == Stance::UpChanged, "{name}: {stance:?}"),
            Told::Mirrored => assert!(same && stance == Stance::Mirrored, "{name}: {stance:?}"),
            Told::Changed => {
                assert!(!same && stance == Stance::Same && scale == 1.0, "{name}: {stance:?} {scale}");
                assert_eq!(fates, [Fate::Changed], "{name}");
            }
            Told::Renamed => {
                assert!(same && stance == Stance::Same, "{name}");
                assert_eq!(fates, [Fate::Same; 3], "{name}");
                assert!(found.parts.iter().all(|part| part.old == part.new), "{name}");
            }
            Told::PartGone => {
                assert!(!same && stance == Stance::Same, "{name}");
                assert_eq!(fates, [Fate::Same, Fate::Same, Fate::Gone], "{name}");
            }
            Told::PartMoved(by) => {
                assert!(!same && stance == Stance::Same, "{name}: {stance:?}");
                let [Fate::Same, Fate::Moved(moved), Fate::Same] = fates[..] else { panic!("{name}: {fates:?}") };
                assert!((0..3).all(|k| (moved[k] - by[k]).abs() < 1e-9), "{name}: {moved:?}");
                // No point of the boulder is farther from where it was than it moved.
                assert!(
                    found.farthest.metres() <= 0.0508 + 1e-9 && found.farthest.metres() > 0.04,
                    "{}",
                    found.farthest
                );
            }
        }
    }
}

/// The block grows by a foot: its top, 36 sq ft, is a foot higher, and a foot more of every wall, 30 sq ft, is new.
#[test]
fn a_higher_wall_is_one_change_of_known_size() {
    for name in ["wall_block", "wall_block_inches", "wall_block_millimetres"] {
        let pair = pairs().into_iter().find(|pair| pair.name == name).unwrap();
        let found = compared(&pair);
        let [change] = found.changes[..] else { panic!("{name}: {} changes", found.changes.len()) };
        // Less a strip of the tolerance's height, 1/192 ft by 30 ft: 65.84. Off at most by half the finest piece, a sixteenth of
        // the smallest, along that edge: 0.1 %.
        let (area, within) = (found.new_area.square_feet(), found.area_within.square_feet());
        assert!((area - 65.843_75).abs() < 0.1, "{name}: {area}");
        assert!((area - 65.843_75).abs() < within && within < 0.005 * 66.0, "{name}: {within}");
        // The old top is off the new walls by more than the tolerance but for a rim of that width.
        let rim = 1.0 / 192.0;
        let old = (12.0 - 2.0 * rim) * (3.0 - 2.0 * rim);
        assert!((found.old_area.square_feet() - old).abs() < within, "{name}: {} {old}", found.old_area.square_feet());
        assert!((change.outward.feet() - 1.0).abs() < 1e-6, "{name}: {}", change.outward);
        assert_eq!(change.inward, Length::ZERO);
        let (low, high) = (change.low / 0.3048, change.high / 0.3048);
        assert!(low.x.abs() < 0.1 && low.y.abs() < 0.1 && (low.z - 8.0).abs() < 0.1, "{name}: {low}");
        assert!((high.x - 12.0).abs() < 0.1 && (high.y - 3.0).abs() < 0.1 && (high.z - 9.0).abs() < 0.1, "{high}");
    }
}

/// A spike inside a large flat face: no corner of either mesh's old triangles is near it.
#[test]
fn interiors_are_looked_at() {
    // The roof of a block, two triangles; the new one has a pyramid 0.2 high on a base of 0.2 in its middle.
    let old = "v 0 0 0\nv 4 0 0\nv 4 4 0\nv 0 4 0\nf 1 2 3\nf 1 3 4\n";
    let new = "v 0 0 0\nv 4 0 0\nv 4 4 0\nv 0 4 0\nv 2.5 1 0\nv 2.7 1 0\nv 2.7 1.2 0\nv 2.5 1.2 0\nv 2.6 1.1 0.2\n\
        f 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\nf 5 6 9\nf 6 7 9\nf 7 8 9\nf 8 5 9\n";
    let placing = Placing { unit: ModelUnit::Metre, up: Axis::PLUS_Z, front: Axis::MINUS_Y };
    let [old, new] = [old, new].map(|text| drawing(text.as_bytes()).place(placing).unwrap());
    let zero = Default::default();
    let [a, b] = [&old, &new].map(|model| Revision { model, low_in_file: zero });
    for (from, to, up) in [(&a, &b, true), (&b, &a, false)] {
        let found = compare(from, to, TOLERANCE);
        // The tip, seen from the roof below it, is 0.2 m off; from the pyramid's side the roof is nearer.
        assert!((found.farthest.metres() - 0.2).abs() < 1e-9, "{}", found.farthest);
        let [change] = found.changes[..] else { panic!("{} changes", found.changes.len()) };
        let (most, least) = if up { (change.outward, change.inward) } else { (change.inward, change.outward) };
        assert!(most.metres() > 0.08 && least == Length::ZERO, "{change:?}");
    }
}

/// The walls of the higher block are cut at the old top: what is marked is what was counted, and the cuts tile the surface.
#[test]
fn marks_are_what_was_counted() {
    for name in ["wall_block", "boulder_moved", "part_deleted"] {
        let pair = pairs().into_iter().find(|pair| pair.name == name).unwrap();
        let found = compared(&pair);
        let unit = ModelUnit::ALL.into_iter().find(|unit| unit.symbol() == pair.unit).unwrap();
        let placing = Placing { unit, up: Axis::PLUS_Z, front: Axis::MINUS_Y };
        let model = drawing(&pair.new.to_obj()).place(placing).unwrap();
        let marked = found.marked(model.mesh());
        let area = |faces: &dyn Fn(usize) -> bool| -> f64 {
            let all = (0..marked.change.len()).filter(|&f| faces(f));
            all.map(|f| marked.mesh.area_vector(f).norm()).sum()
        };
        let whole: f64 = (0..model.mesh().triangles().len()).map(|f| model.mesh().area_vector(f).norm()).sum();
        assert!((area(&|_| true) / whole - 1.0).abs() < 1e-9, "{name}: the pieces tile the surface");
        let changed = found.new_area.square_metres();
        assert!((area(&|f| marked.change[f] != u32::MAX) - changed).abs() < 1e-9 * whole, "{name}");
        // Pieces look where their triangle looks.
        let same = |f: usize| {
            let source = model.mesh().area_vector(marked.source[f] as usize);
            marked.mesh.area_vector(f).dot(&source) >= 0.0
        };
        assert!((0..marked.change.len()).all(same), "{name}");
        if name == "wall_block" {
            let lowest =
                (0..marked.change.len()).filter(|&f| marked.change[f] == 0).flat_map(|f| marked.mesh.corners(f));
            let lowest = lowest.map(|p| p.z).fold(f64::INFINITY, f64::min) / 0.3048;
            assert!((lowest - 8.0).abs() < 0.02, "cut at the old top, 8 ft up: {lowest}");
        }
        let groups = found.groups(&marked);
        assert_eq!(groups.iter().map(|group| group.faces.len()).sum::<usize>(), marked.change.len());
        // A part that is gone has left nothing on the new model to mark.
        let here = found.changes.iter().filter(|change| change.new_area.square_metres() > 0.0).count();
        assert_eq!(groups.len(), here + usize::from(changed < 0.999 * whole), "{name}");
    }
}

/// A large block that grows each way by a multiple of a piece is one change of all its faces, not a place for each strip of pieces;
/// two bumps a foot apart on one face are two.
#[test]
fn a_change_is_as_large_as_it_is() {
    let placing = Placing { unit: ModelUnit::Metre, up: Axis::PLUS_Z, front: Axis::MINUS_Y };
    let place = |shape: &cragskin_fixtures::Shape| drawing(&shape.to_obj()).place(placing).unwrap();
    let block = cragskin_fixtures::solid::block;
    let bump = |x: f64| block(0.2, 0.2, 0.1).translate([x, 1.0, 3.0]);
    let plain = block(6.0, 4.0, 3.0);
    for (old, new, changes, size) in [
        (block(3.0, 2.0, 2.0), plain.clone(), 1, [6.0, 4.0, 3.0]),
        (plain.clone(), plain.append(&bump(1.0)).append(&bump(1.5)), 2, [0.2, 0.2, 0.1]),
    ] {
        let models = [place(&old), place(&new)];
        let [a, b] = models.each_ref().map(|model| Revision { model, low_in_file: Default::default() });
        let found = compare(&a, &b, TOLERANCE);
        assert_eq!(found.changes.len(), changes, "{:?}", found.changes);
        // The bumps are changed from the tolerance up.
        let (first, within) = (found.changes[0], 2.0 * TOLERANCE.metres());
        assert!((0..3).all(|k| (first.high[k] - first.low[k] - size[k]).abs() < within), "{first:?}");
    }
}

/// What is gone stands in the marked model where it was: by its area as counted, and by its box in the file's own coordinates,
/// although the new revision is another size and so stands elsewhere in the room.
#[test]
fn what_is_gone_is_drawn_where_it_was() {
    let all = pairs();
    let deleted = all.iter().find(|pair| pair.name == "part_deleted").unwrap();
    // Without the wall too the low corner of the whole moves by 0.8 m less the boulders' reach.
    let mut only = deleted.clone();
    let of_wall: Vec<bool> = only.new.part_of.iter().map(|&p| only.new.parts[p as usize] == "wall").collect();
    only.new = only.new.delete(|i, _| of_wall[i]);
    let higher = all.iter().find(|pair| pair.name == "wall_block").unwrap();
    for (pair, gone_parts) in [(deleted, &["right boulder"][..]), (&only, &["wall", "right boulder"]), (higher, &[])] {
        let found = compared(pair);
        let unit = ModelUnit::ALL.into_iter().find(|unit| unit.symbol() == pair.unit).unwrap();
        let placing = Placing { unit, up: Axis::PLUS_Z, front: Axis::MINUS_Y };
        let [old, new] = [&pair.old, &pair.new].map(|shape| drawing(&shape.to_obj()));
        let new_low = low_in_file(&new, &placing);
        let [old, new] = [old, new].map(|drawing| drawing.place(placing).unwrap());
        let marked = found.marked(new.mesh());
        let (mesh, groups) = found.with_gone(&marked, old.mesh());
        assert_eq!(groups[..groups.len() - 1], found.groups(&marked)[..], "{}", pair.name);
        let gone = groups.last().unwrap();
        assert_eq!((gone.name.as_str(), gone.number), ("gone", -1), "{}", pair.name);
        let area: f64 = gone.faces.iter().map(|&f| mesh.area_vector(f as usize).norm()).sum();
        assert!((area / found.old_area.square_metres() - 1.0).abs() < 1e-9, "{}: {area} {}", pair.name, found.old_area);
        let corners: Vec<_> =
            gone.faces.iter().flat_map(|&f| mesh.corners(f as usize)).map(|p| p.coords + new_low).collect();
        let shape = &pair.old;
        let of_part = |i: &usize| gone_parts.contains(&shape.parts[shape.part_of[*i] as usize].as_str());
        let wanted: Vec<[f64; 3]> = if gone_parts.is_empty() {
            // The old top, 12 x 3 ft, 8 ft up, less the tolerance where it meets the walls.
            [[0.0, 0.0, 8.0], [12.0, 3.0, 8.0]].map(|p| p.map(|x| x * 0.3048)).to_vec()
        } else {
            let points = (0..shape.triangles.len()).filter(of_part).flat_map(|i| shape.triangles[i]);
            points.map(|v| shape.positions[v as usize]).collect()
        };
        for k in 0..3 {
            let span = |all: &mut dyn Iterator<Item = f64>| {
                all.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], x| [a.min(x), b.max(x)])
            };
            let (a, b) = (span(&mut corners.iter().map(|p| p[k])), span(&mut wanted.iter().map(|p| p[k])));
            // Where a boulder or the wall touches what stays, a rim of the tolerance stays too; a piece more is cut there.
            let within = 4.0 * TOLERANCE.metres();
            assert!((0..2).all(|end| (a[end] - b[end]).abs() < within), "{} {k}: {a:?} {b:?}", pair.name);
        }
    }
}

#[test]
fn threads_change_nothing() {
    let all = pairs();
    for name in ["boulder_moved", "turned"] {
        let pair = all.iter().find(|pair| pair.name == name).unwrap();
        let on =
            |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap().install(|| compared(pair));
        assert_eq!(on(1), on(3), "{name}");
    }
}

#[test]
#[ignore = "a timing, run by hand in release"]
fn a_million_triangles_both_ways() {
    let shape = cragskin_fixtures::rock(3, 1_000_000, 3.0);
    let other = cragskin_fixtures::rock(3, 1_000_000, 3.0).map(|p| {
        let swell = if p[0] > 0.3 && p[2] > 1.0 { 0.02 } else { 0.0 };
        [p[0] + swell, p[1], p[2]]
    });
    let moved = |shape: &cragskin_fixtures::Shape| shape.clone().map(|p| p.map(|c| c + 1e-5 * (c * 1e5).sin()));
    let placing = Placing { unit: ModelUnit::Metre, up: Axis::PLUS_Z, front: Axis::MINUS_Y };
    let place = |shape: &cragskin_fixtures::Shape| {
        let bytes = shape.to_binary_stl();
        let drawing = Drawing::from_soup(cragskin_geom::intake::read_stl(&bytes).unwrap()).unwrap();
        let low = low_in_file(&drawing, &placing);
        (drawing.place(placing).unwrap(), low)
    };
    let old = place(&shape);
    for (name, new) in [
        ("same", place(&shape)),
        ("all corners moved 0.01 mm", place(&moved(&shape))),
        ("a side out by 20 mm", place(&moved(&other))),
        ("all new", place(&cragskin_fixtures::rock(4, 1_000_000, 3.0))),
        ("turned", place(&shape.clone().turn(37.0))),
    ] {
        let start = std::time::Instant::now();
        let [a, b] = [&old, &new].map(|(model, low)| Revision { model, low_in_file: *low });
        let found = compare(&a, &b, TOLERANCE);
        println!(
            "{name}: {:?}, {} changes, {:?}",
            start.elapsed(),
            found.changes.len(),
            found.placement.stance(TOLERANCE)
        );
    }
}

/// A block with a box on its front, 0.5 m square, that stands out this far, or in if negative. Metres.
fn boxed_wall(out: f64) -> cragskin_fixtures::Shape {
    cragskin_fixtures::solid::boxed_wall([2.0, 0.6, 2.0], [0.8, 1.3], [0.8, 1.3], out)
}

/// A dent goes in and nowhere out, a bump out and nowhere in, to the millimetre, both ways round; the sides too.
#[test]
fn a_dent_goes_in_and_a_bump_goes_out() {
    let flat = cragskin_fixtures::solid::block(2.0, 0.6, 2.0);
    // The last goes deeper than half the piece: its bottom lies nearest to the back.
    for depth in [0.05, 0.235, 0.45] {
        let pairs = [
            (flat.clone(), boxed_wall(-depth), false),
            (flat.clone(), boxed_wall(depth), true),
            (boxed_wall(-depth), flat.clone(), true),
            (boxed_wall(depth), flat.clone(), false),
        ];
        for (old, new, out) in pairs {
            let pair = Pair { name: "box", unit: "m", old, new, told: Told::Same };
            let found = compared(&pair);
            let moved = |inward: bool| {
                found
                    .changes
                    .iter()
                    .map(|c| if inward { c.inward.metres() } else { c.outward.metres() })
                    .fold(0.0, f64::max)
            };
            let none = moved(out);
            assert_eq!(none, 0.0, "{depth} m, out {out}: moved {none} m the other way");
            // The flat is nearest to the middle of the box's front, or to its sides where it is deeper than half its width.
            let way = moved(!out);
            assert!((way - depth).abs() < 0.01 || way >= 0.25, "{depth} m, out {out}: {way}");
        }
    }
}
