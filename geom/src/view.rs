//! The sides from which a piece is looked at.

use nalgebra::Vector3;

/// A straight view. The visitor stands in front.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// From the visitors' side (-Y).
    Front,
    /// From behind.
    Back,
    /// From the visitors' left (-X).
    Left,
    /// From the visitors' right.
    Right,
    /// From above, visitors at the bottom of the picture.
    Top,
}

impl Side {
    /// All five.
    pub const ALL: [Self; 5] = [Self::Front, Self::Back, Self::Left, Self::Right, Self::Top];

    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        ["front", "back", "left", "right", "top"][self as usize]
    }

    /// Unit vectors to the right, up and towards the viewer; right-handed.
    ///
    /// ```
    /// use cragskin_geom::view::Side;
    /// for side in Side::ALL {
    ///     let [right, up, towards] = side.axes();
    ///     assert_eq!(right.cross(&up), towards);
    /// }
    /// ```
    #[must_use]
    pub fn axes(self) -> [Vector3<f64>; 3] {
        let (x, y, z) = (Vector3::x(), Vector3::y(), Vector3::z());
        match self {
            Self::Front => [x, z, -y],
            Self::Back => [-x, z, y],
            Self::Left => [-y, z, -x],
            Self::Right => [y, z, x],
            Self::Top => [x, y, z],
        }
    }
}

/// Where the viewer stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum View {
    /// Before one side of the piece, a length on the picture true to scale.
    Straight(Side),
    /// Front left, a little above.
    ThreeQuarter,
}

impl View {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Straight(Side::Front),
        Self::Straight(Side::Back),
        Self::Straight(Side::Left),
        Self::Straight(Side::Right),
        Self::Straight(Side::Top),
        Self::ThreeQuarter,
    ];

    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Straight(side) => side.name(),
            Self::ThreeQuarter => "three-quarter",
        }
    }

    /// Unit vectors to the right, up and towards the viewer; right-handed.
    ///
    /// ```
    /// use cragskin_geom::view::View;
    /// let [right, up, towards] = View::ThreeQuarter.axes();
    /// assert!((right.cross(&up) - towards).norm() < 1e-15);
    /// ```
    #[must_use]
    pub fn axes(self) -> [Vector3<f64>; 3] {
        match self {
            Self::Straight(side) => side.axes(),
            // A 7-24-25 and a 3-4-5 triangle: no sine, so the bits are the same on every machine.
            Self::ThreeQuarter => {
                let right = Vector3::new(0.8, -0.6, 0.0);
                let towards = Vector3::new(-0.6 * 0.96, -0.8 * 0.96, 0.28);
                [right, towards.cross(&right), towards]
            }
        }
    }
}
