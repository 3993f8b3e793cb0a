//! What must hold for every file that a reader accepts.

use cragskin_geom::intake::{Corners, ReceiptCode, Soup};

/// Panics if the soup breaks a promise of its type.
pub fn check(soup: &Soup<'_>) {
    let used = match &soup.corners {
        Corners::StlRecords { records, left_out } => {
            assert!(left_out.is_sorted_by(|a, b| a < b));
            records.len() / 50 - left_out.len()
        }
        Corners::Indexed { positions, triangles } => {
            assert!(positions.iter().flatten().all(|x| x.is_finite()));
            triangles.len()
        }
    };
    assert!(used > 0);
    // Fails on an index out of range.
    assert!(soup.triangles().flatten().flatten().all(f64::is_finite));
    assert_eq!(soup.triangles().count(), used);
    let not_numbers = soup.receipt.lines.iter().find(|line| line.code == ReceiptCode::NotANumber);
    assert_eq!(soup.receipt.triangles_in_file, used + not_numbers.map_or(0, |line| line.count));
    assert!(!soup.parts.is_empty());
    assert_eq!(soup.part_of.len(), if soup.parts.len() > 1 { used } else { 0 });
    assert!(soup.part_of.iter().all(|&part| (part as usize) < soup.parts.len()));
}
