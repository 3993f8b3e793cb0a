//! Colours and patterns. The colours differ in lightness as well as in hue, so that they part for colour-blind eyes
//! and on a black-and-white print; the patterns part them where ink is poor.

/// Red, green, blue.
pub type Rgb = [u8; 3];

/// A hatching, drawn in pixels of the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "each is its look")]
pub enum Pattern {
    Plain,
    Dots,
    Upright,
    Slanting,
    Crossed,
}

impl Pattern {
    /// Whether a pixel is inked.
    #[must_use]
    pub const fn inks(self, x: usize, y: usize) -> bool {
        match self {
            Self::Plain => false,
            Self::Dots => x % 10 < 2 && (y + 5 * ((x / 10) % 2)) % 10 < 2,
            Self::Upright => x % 10 < 2,
            Self::Slanting => (x + y) % 12 < 2,
            Self::Crossed => (x + y) % 12 < 2 || (x + 12_000_000 - y) % 12 < 2,
        }
    }
}

/// A way to show one kind of face.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tint {
    /// Its colour in full light.
    pub rgb: Rgb,
    /// Its pattern.
    pub pattern: Pattern,
}

const fn tint(rgb: Rgb, pattern: Pattern) -> Tint {
    Tint { rgb, pattern }
}

/// The five classes, then bare.
pub const CLASSES: [Tint; 6] = [
    tint([0xF4, 0xE6, 0xB4], Pattern::Plain),
    tint([0xE3, 0xA6, 0x57], Pattern::Dots),
    tint([0x4E, 0xA3, 0xA6], Pattern::Upright),
    tint([0x2F, 0x62, 0xAE], Pattern::Slanting),
    tint([0x5E, 0x2A, 0x60], Pattern::Crossed),
    BARE,
];

/// Modelled but not coated.
pub const BARE: Tint = tint([0xC6, 0xC6, 0xC6], Pattern::Plain);
/// Coated, where nothing else is told.
pub const COATED: Tint = tint([0xC4, 0x7F, 0x3A], Pattern::Dots);

/// One lift, two, three and more.
pub const LIFTS: [Tint; 3] = [
    tint([0xF4, 0xE6, 0xB4], Pattern::Plain),
    tint([0x4E, 0xA3, 0xA6], Pattern::Slanting),
    tint([0x5E, 0x2A, 0x60], Pattern::Crossed),
];

/// Coated and without lath.
pub const NO_LATH: Tint = tint([0xF4, 0xE6, 0xB4], Pattern::Plain);
/// Under lath: a mesh.
pub const LATH: Tint = tint([0x4E, 0x76, 0x8A], Pattern::Crossed);

/// Straight through the piece: no foam, thin foam, then thicker and thicker.
pub const THICKNESS: [Tint; 5] = [CLASSES[4], CLASSES[3], CLASSES[2], CLASSES[1], CLASSES[0]];

/// As in the older revision.
pub const SAME: Tint = BARE;
/// Not as in the older revision.
pub const CHANGED: Tint = tint([0xC4, 0x4A, 0x1F], Pattern::Crossed);

/// How light a colour looks, 0 to 1 (relative luminance, ITU-R BT.709 weights, gamma taken as 2.2).
#[must_use]
pub fn lightness(rgb: Rgb) -> f64 {
    let [r, g, b] = rgb.map(|c| (f64::from(c) / 255.0).powf(2.2));
    0.2126 * r + 0.7152 * g + 0.0722 * b
}

#[cfg(test)]
mod tests {
    use super::*;

    // WCAG 2.x contrast, (lighter + 0.05) / (darker + 0.05). Neighbouring classes part by 1.3 at least in grey alone,
    // and all five have a pattern of their own.
    #[test]
    fn classes_part_in_grey_and_by_pattern() {
        for pair in CLASSES[..5].windows(2) {
            let [lighter, darker] = [lightness(pair[0].rgb), lightness(pair[1].rgb)];
            assert!((lighter + 0.05) / (darker + 0.05) > 1.3, "{pair:?}");
        }
        for (k, a) in CLASSES[..5].iter().enumerate() {
            assert!(CLASSES[..k].iter().all(|b| a.pattern != b.pattern));
        }
    }
}
