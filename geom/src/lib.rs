//! Measures of a designer's triangle model: coated area, lean, skin and core of a foam-cored shell. Pure: bytes and numbers in, values
//! out; no paths, no clock, no printing.
//!
//! # From a file to bags
//!
//! A plinth of 4 x 2 x 3 ft is drawn in feet as what the foam shop cuts. It stands on its floor, which stays bare, and gets 1 in of skin.
//!
//! ```
//! use cragskin_geom::drawing::{Axis, Drawing, Placing};
//! use cragskin_geom::skin::{Accuracy, Coat, Face, skin};
//! use cragskin_geom::soundness::Checked;
//! use cragskin_geom::units::{Length, ModelUnit};
//! use cragskin_geom::{intake, lean, measure};
//!
//! let file = b"v 0 0 0\nv 4 0 0\nv 4 2 0\nv 0 2 0\nv 0 0 3\nv 4 0 3\nv 4 2 3\nv 0 2 3\n\
//!     f 4 3 2 1\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n";
//! // Bytes to a welded drawing in file units. A unit makes it a model in metres, Z up, which can be measured.
//! let drawing = Drawing::from_soup(intake::read(file, None)?)?;
//! let model = drawing.place(Placing { unit: ModelUnit::Foot, up: Axis::PLUS_Z, front: Axis::MINUS_Y })?;
//! // What is wrong with it, and what that makes of each kind of figure.
//! let checked = Checked::new(model, 0);
//! assert!(checked.all_closed() && checked.findings.is_empty());
//! let mesh = checked.model.mesh();
//!
//! // Lean: 0 faces up, 90 is plumb, 180 faces down. All but the underside is coated.
//! let lean_deg = |face: usize| lean::lean_of(&mesh.area_vector(face)).degrees();
//! let coated: Vec<bool> = (0..mesh.triangles().len()).map(|face| lean_deg(face) < 179.0).collect();
//! let area = measure::area(mesh, checked.model.diagonal(), |face| coated[face]);
//! assert!((area.square_feet() - (4.0 * 2.0 + 2.0 * 4.0 * 3.0 + 2.0 * 2.0 * 3.0)).abs() < 1e-6);
//!
//! // Skin: area x thickness and what the arrises and corners add: 24 ft of quarter rods, four eighths of a ball.
//! let inch: f64 = 1.0 / 12.0;
//! let coat = Coat { face: Face::Core, coated: &coated, thickness: Length::from_inches(1.0), thickness_of: &[] };
//! let skin = skin(mesh, &coat, Accuracy::USUAL);
//! let pi = std::f64::consts::PI;
//! let by_hand = 44.0 * inch + 24.0 * pi / 4.0 * inch.powi(2) + 4.0 / 8.0 * 4.0 / 3.0 * pi * inch.powi(3);
//! assert!((skin.volume.cubic_feet() - by_hand).abs() <= skin.bound.cubic_feet());
//!
//! // Bags that yield 0.6 cu ft each, with a tenth for waste: 3.80 x 1.1 / 0.6 = 6.96.
//! assert_eq!((skin.volume.cubic_feet() * 1.1 / 0.6).ceil(), 7.0);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! Where bodies overlap or sheets are open, [`solid::Exposure`] tells what is in the open first. [`zones`] joins what is steep into zones
//! with lath and lifts; [`skin::core_mesh`] cuts the foam; [`compare`] holds two revisions against each other.

pub mod bodies;
pub mod compare;
pub mod display;
mod distance;
pub mod drawing;
pub mod effort;
pub mod export;
pub mod figure;
pub mod footing;
pub mod glimpse;
pub mod intake;
pub mod lean;
pub mod measure;
pub mod mesh;
pub mod numeric;
pub mod picture;
pub mod projected;
pub mod scope;
pub mod sheets;
pub mod skin;
pub mod solid;
pub mod soundness;
pub mod stance;
pub mod topology;
pub mod units;
pub mod view;
mod weld;
mod words;
pub mod zones;
