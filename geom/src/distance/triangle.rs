use super::V3;

/// The point of triangle `abc` nearest to `p`.
///
/// By the region of the plane that `p` falls in (C. Ericson, *Real-Time Collision Detection*, 2005, section 5.1.5).
#[inline]
pub(crate) fn closest(p: &V3, [a, b, c]: &[V3; 3]) -> V3 {
    let (ab, ac, ap) = (b - a, c - a, p - a);
    let (d1, d2) = (ab.dot(&ap), ac.dot(&ap));
    if d1 <= 0.0 && d2 <= 0.0 {
        return *a;
    }
    let bp = p - b;
    let (d3, d4) = (ab.dot(&bp), ac.dot(&bp));
    if d3 >= 0.0 && d4 <= d3 {
        return *b;
    }
    let vc = d1 * d4 - d3 * d2;
    // Where the two corners are one there is no edge to be on.
    if vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0 && d1 > d3 {
        return a + ab * (d1 / (d1 - d3));
    }
    let cp = p - c;
    let (d5, d6) = (ab.dot(&cp), ac.dot(&cp));
    if d6 >= 0.0 && d5 <= d6 {
        return *c;
    }
    let vb = d5 * d2 - d1 * d6;
    if vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0 {
        return a + ac * (d2 / (d2 - d6));
    }
    let va = d3 * d6 - d5 * d4;
    if va <= 0.0 && d4 - d3 >= 0.0 && d5 - d6 >= 0.0 {
        return b + (c - b) * ((d4 - d3) / ((d4 - d3) + (d5 - d6)));
    }
    let sum = va + vb + vc;
    a + ab * (vb / sum) + ac * (vc / sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A triangle with two corners or all three in one place is a line or a point, whichever two they are: 3 along the line of 4, 2 off it.
    #[test]
    fn a_triangle_without_area_is_a_line() {
        let (a, c, p) = (V3::zeros(), V3::new(4.0, 0.0, 0.0), V3::new(3.0, 2.0, 0.0));
        for line in [[a, a, c], [a, c, a], [c, a, a], [a, c, c], [c, a, c], [c, c, a]] {
            assert_eq!(closest(&p, &line), V3::new(3.0, 0.0, 0.0));
        }
        assert_eq!(closest(&p, &[a; 3]), a);
    }
}
