//! Files as they arrive: hostile ones are read or refused with a place, damaged ones are counted, open ones are told, and files made by
//! others measure as another library says.

use crate::common::{checked, drawing};
use approx::assert_relative_eq;
use cragskin_fixtures::{Format, Owes, broken, hostile, open_shapes, reference};
use cragskin_geom::drawing::{Axis, Drawing, Placing};
use cragskin_geom::intake::{self, FileKind, ReadError, Soup};
use cragskin_geom::soundness::{Checked, Code, Grade, Survey, open_length};
use cragskin_geom::units::ModelUnit;
use cragskin_geom::units::ModelUnit::Metre;

fn read(format: Format, bytes: &[u8]) -> Result<Soup<'_>, ReadError> {
    intake::read(bytes, Some(if format == Format::Stl { FileKind::Stl } else { FileKind::Obj }))
}

fn area(soup: &Soup<'_>) -> f64 {
    let size = |v: [f64; 3]| v.iter().map(|c| c * c).sum::<f64>().sqrt();
    let sub = |a: [f64; 3], b: [f64; 3]| [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
    let cross =
        |a: [f64; 3], b: [f64; 3]| [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
    soup.triangles().map(|[a, b, c]| 0.5 * size(cross(sub(b, a), sub(c, a)))).sum()
}

#[test]
fn hostile_files_get_what_they_are_owed() {
    let all = hostile();
    let mut ran = [0; 3];
    for h in &all {
        let answer = read(h.format, &h.bytes);
        match h.owes {
            Owes::Read => {
                let soup = answer.unwrap_or_else(|error| panic!("{} ({}): {error}", h.name, h.trap));
                ran[0] += 1;
                let count = soup.triangles().count();
                assert!(count > 0 && h.triangles.is_none_or(|n| n == count), "{}: {count} triangles", h.name);
                // f32 rounds each coordinate by 6e-8 of itself, and the cubes here are exact anyway.
                assert!(h.area.is_none_or(|a| (area(&soup) / a - 1.0).abs() < 1e-6), "{}: {}", h.name, area(&soup));
            }
            Owes::Word => {
                ran[1] += 1;
                match answer {
                    Ok(soup) => {
                        assert!(says_a_word(soup.clone()), "{} was read without a word ({})", h.name, h.trap);
                        assert!(h.triangles.is_none_or(|n| n == soup.triangles().count()), "{}", h.name);
                        assert!(h.area.is_none_or(|a| (area(&soup) / a - 1.0).abs() < 1e-6), "{}", h.name);
                        assert!(soup.receipt.lines.iter().all(|line| line.count > 0 && !line.text.is_empty()));
                    }
                    Err(error) => tells_place(h.name, &error),
                }
            }
            Owes::Refusal => {
                ran[2] += 1;
                let error = answer.map(|_| ()).expect_err(h.name);
                tells_place(h.name, &error);
            }
        }
    }
    assert!(ran[0] >= 24 && ran[1] >= 20 && ran[2] >= 3, "{ran:?} of {}", all.len());
}

/// The reader's receipt or the check that follows tells of it.
fn says_a_word(soup: Soup<'_>) -> bool {
    let placing = Placing { unit: Metre, up: Axis::PLUS_Z, front: Axis::MINUS_Y };
    !soup.receipt.lines.is_empty()
        || Drawing::from_soup(soup).map_or(true, |drawing| {
            let findings = Checked::new(drawing.place(placing).expect("two axes"), 0).findings;
            findings.iter().any(|finding| finding.code == Code::ZeroArea)
        })
}

/// One message: a byte, a line or a count of what is there, and what to ask the designer for.
fn tells_place(name: &str, error: &ReadError) {
    let text = error.to_string();
    assert!(!text.contains('\n'), "{name}: one message, not several: {text}");
    assert!(
        ["byte", "line", "begins", "bytes"].iter().any(|word| text.contains(word)) || text.contains("triangle"),
        "{name}: {text}"
    );
    assert!(text.contains("ask the designer"), "{name}: {text}");
    assert!(!text.chars().any(char::is_control), "{name}: {text:?}");
}

/// Where a fault lies is known by construction: the number must be in the message.
#[test]
fn messages_name_the_very_place() {
    let find = |name: &str| hostile().into_iter().find(|h| h.name == name).unwrap_or_else(|| panic!("{name}"));
    for (name, words) in [
        ("stl_header_only", &["80 bytes", "84-byte"][..]),
        ("stl_cut_in_triangle", &["triangle 8 of 12", "byte 447 of 684"]),
        ("stl_count_high", &["13 triangles", "after exactly 12"]),
        ("stl_count_low", &["says 5 triangles", "7 would be lost"]),
        ("stl_count_huge", &["4294967295"]),
        ("obj_index_zero", &["line 4"]),
        ("obj_index_too_high", &["line 4", "vertex 4"]),
        ("obj_short_v", &["line 1"]),
    ] {
        let h = find(name);
        let error = read(h.format, &h.bytes).map(|_| ()).expect_err(name).to_string();
        words.iter().for_each(|word| assert!(error.contains(word), "{name}: `{word}` in {error}"));
    }
}

/// Cutting a sound file short anywhere never passes for the whole, and never panics.
#[test]
fn files_cut_anywhere_are_never_taken_for_the_whole() {
    let shape = cragskin_fixtures::solid::block(1.0, 2.0, 3.0).named("block");
    let mut ran = 0;
    for (format, bytes, step) in [
        (Format::Stl, shape.to_binary_stl(), 1),
        (Format::Stl, shape.to_ascii_stl(), 7),
        (Format::Obj, shape.to_obj(), 1),
    ] {
        // The last byte may be a newline that nobody needs.
        for end in (0..bytes.len() - 1).step_by(step) {
            ran += 1;
            if let Ok(soup) = read(format, &bytes[..end]) {
                let told = !soup.receipt.lines.is_empty();
                let count = soup.triangles().count();
                // OBJ has neither count nor end mark: a cut between two lines, or inside a number, cannot be known. Inside the name
                // after `endsolid` nothing is lost.
                assert!(
                    told || count == 12 || format == Format::Obj,
                    "{format:?} cut at {end}: {count} triangles and no word"
                );
            }
        }
    }
    assert!(ran > 1000);
}

#[test]
fn damage_is_counted_as_by_hand() {
    let all = broken();
    assert!(all.len() >= 12);
    for b in &all {
        let n = Survey::of(drawing(&b.shape).mesh()).counts;
        let found = [n.open_edges, n.many_edges, n.twisted_edges, n.collapsed + n.slivers, n.repeated + n.back_to_back];
        assert_eq!(
            found,
            [b.open_edges, b.crowded_edges, b.clashing_edges, b.flat, b.repeated],
            "{}: open, shared by three, twisted, flat, repeated ({})",
            b.name,
            b.damage
        );
    }
}

/// What can be repaired without a guess measures as the body that was meant; the rest says that it does not know.
#[test]
fn damage_is_repaired_or_said() {
    let mut repaired = 0;
    for b in broken() {
        let sound = checked(&b.shape, Metre);
        // In f64 the far place costs nothing worth a word; the others are no damage once equal points are joined.
        let silent = ["unused_points", "soup", "point_contact", "far_away"].contains(&b.name);
        assert!(silent || !sound.findings.is_empty(), "{}: no word", b.name);
        let Some(volume) = sound.sum_of_parts_m3() else {
            assert_ne!(sound.quality.core_volume.grade, Grade::Good, "{}", b.name);
            continue;
        };
        repaired += 1;
        // Far from its origin a point keeps 2^-52 of four million units.
        let within = if b.name == "far_away" { 1e-8 } else { 1e-12 };
        assert_relative_eq!(volume, b.meant_volume, max_relative = within);
        let mesh = sound.model.mesh();
        let area: f64 = (0..mesh.triangles().len()).map(|f| mesh.area_vector(f).norm()).sum();
        assert_relative_eq!(area, b.meant_area, max_relative = within);
    }
    assert!(repaired >= 8, "{repaired}");
}

#[test]
fn open_shapes_are_told_with_number_and_length() {
    let all = open_shapes();
    assert!(all.len() >= 4);
    for o in &all {
        let sound = checked(&o.shape, Metre);
        assert_eq!(sound.counts.open_edges, o.open_edges, "{}", o.name);
        assert_relative_eq!(open_length(&sound.open_runs), o.open_length, max_relative = 1e-12);
        assert_relative_eq!(sound.area_as_sent, o.area, max_relative = 1e-12);
        assert_eq!(sound.sum_of_parts_m3(), None, "{}", o.name);
        let finding = sound.findings.iter().find(|f| f.code == Code::OpenEdges).unwrap_or_else(|| panic!("{}", o.name));
        assert_eq!(finding.count, o.open_edges);
        assert_ne!(sound.quality.core_volume.grade, Grade::Good, "{}", o.name);
    }
}

// Three meshes of the numpy-stl source package, measured by trimesh; version and date in fixtures/reference/values.tsv.
#[test]
fn files_by_others_measure_as_another_library_says() {
    let mut ran = 0;
    for r in reference() {
        let soup = intake::read(r.bytes, None).unwrap();
        let placing = Placing { unit: ModelUnit::Metre, up: Axis::PLUS_Z, front: Axis::MINUS_Y };
        let sound = Checked::new(Drawing::from_soup(soup).unwrap().place(placing).unwrap(), 0);
        let n = &sound.counts;
        assert_eq!(
            (n.triangles, n.vertices, n.edges, n.bodies, n.euler, n.open_edges, n.many_edges),
            (r.triangles, r.vertices, r.edges, r.bodies, r.euler, 0, 0),
            "{}",
            r.file
        );
        // Both libraries sum the same f32 corners in f64: anything past rounding would be a fault, but another library's order of
        // operations is not ours, so 1e-6.
        assert_relative_eq!(sound.area_as_sent, r.area, max_relative = 1e-6);
        assert_relative_eq!(sound.sum_of_parts_m3().unwrap(), r.volume, max_relative = 1e-6);
        ran += 1;
    }
    assert_eq!(ran, 3);
}
