//! What is solid, and which part of the surface is exposed.
//!
//! `Mesh + Topology -> Solid (closed, caps marked) -> Exposure (what is coated, what is buried, the union's volume)`
//!
//! A point is solid where the surfaces wrap around it at least once: stacked and overlapping blocks are their union, a
//! closed cavity with inward-facing walls is empty. Pieces that cannot be closed by small or flat caps are *sheets*: they
//! have an area and no volume.

mod caps;
mod contact;
mod cut;
mod exposure;
mod fate;
mod field;
mod settle;
mod survey;
pub(crate) mod tree;
mod winding;

pub use exposure::{Common, Exposure, Facet, Overlap, Piece};
pub use winding::WindingField;

use crate::bodies::Forest;
use crate::mesh::Mesh;
use crate::topology::Topology;
use crate::units::{Area, Length};
use caps::{Doubt, Form};
use nalgebra::{Point3, Unit, Vector3};
use std::borrow::Cow;

/// A plane to close open sheets against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plane {
    /// A point in it.
    pub point: Point3<f64>,
    /// Points away from the model, into the wall or the ground.
    pub outward: Unit<Vector3<f64>>,
}

impl Plane {
    /// The plane that touches the model where it reaches farthest in a direction: `-Z` gives the floor under it, the
    /// direction away from the visitor gives the wall behind it.
    #[must_use]
    pub fn behind(mesh: &Mesh, outward: Unit<Vector3<f64>>) -> Self {
        let far = mesh.positions().iter().max_by(|a, b| a.coords.dot(&outward).total_cmp(&b.coords.dot(&outward)));
        Self { point: far.copied().unwrap_or_else(Point3::origin), outward }
    }
}

/// Openings that were closed. Caps are bare.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Holes {
    /// How many.
    pub count: usize,
    /// Length of the edge of the largest.
    pub longest: Length,
    /// Area of all caps.
    pub area: Area,
    /// Doubled or turned triangles that were balanced by an added triangle; nothing is open there.
    pub mended: usize,
}

/// A piece with an opening too large and too bent to be closed without being told how.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// The piece.
    pub piece: u32,
    /// Length of its open edges.
    pub open_edge: Length,
    /// Its area.
    pub area: Area,
}

/// A mesh with its holes closed: signed crossings of the triangles that [`bound`](Self::bounds) count how often a point is inside.
#[derive(Clone, Debug)]
pub struct Solid<'a> {
    mesh: Cow<'a, Mesh>,
    modelled: usize,
    piece: Vec<u32>,
    sheet: Vec<bool>,
    /// Sheets that lie flat on a closed piece; empty when there are none.
    drawn: Vec<bool>,
    /// Pieces that were closed against the plane.
    drawn_back: Vec<bool>,
    doubt: Vec<Doubt>,
    copy_of: Vec<Option<u32>>,
    /// Triangles that are there already, facing the same way; ascending.
    again: Vec<u32>,
    holes: Holes,
    sheets: Vec<Sheet>,
    /// A plane was given to close against.
    asked: bool,
    /// For each added triangle, its place in `rims` if it closes a small hole.
    rim_of: Vec<Option<u32>>,
    /// The triangles round each small hole.
    rims: Vec<Vec<u32>>,
}

/// An opening is capped whatever its form when its area is at most this share of the piece's.
const SMALL: f64 = 0.01;
/// A piece is a sheet when the caps it needs are larger than this share of its own area: a cube without its floor has
/// 0.2, a half ball 0.5, a facade seen from the front 0.6 and more.
const SHEET: f64 = 0.6;

impl<'a> Solid<'a> {
    /// Closes what can be closed. With a plane, sheets are closed too: their open edges are drawn straight back to it.
    ///
    /// A piece stays open, a [`Sheet`], when a large opening is bent (off its plane by more than 2 % of its length), or when
    /// its caps would be larger than 0.6 of its own area; openings of at most 1 % of its area are always capped.
    ///
    /// Pieces should face outward (cavities inward). Single triangles that face the wrong way, or are there twice, are
    /// balanced. Linear; a closed mesh is not copied.
    #[must_use]
    pub fn of(mesh: &'a Mesh, topology: &Topology, against: Option<Plane>) -> Self {
        Self::with_drawn(mesh, topology, against, &[])
    }

    /// The same of a mesh of which some triangles are `drawn` on faces of others: open sheets that lie flat on a body. They
    /// close nothing and are not closed; what of them lies exposed takes the place of the face below. Empty for none.
    #[must_use]
    pub fn with_drawn(mesh: &'a Mesh, topology: &Topology, against: Option<Plane>, drawn_faces: &[bool]) -> Self {
        let many = topology.many_edges(mesh);
        let (piece, mut doubt) = caps::pieces(mesh, topology, &many);
        let count = doubt.len();
        let copy_of = caps::copies(mesh, &piece, count, &many);
        let mut again: Vec<u32> = caps::ranks(mesh, &many).into_keys().collect();
        again.sort_unstable();
        let loops = caps::loops(mesh, topology, &many);
        for l in loops.iter().filter(|l| !l.hole) {
            let it = &mut doubt[piece[l.face() as usize] as usize];
            if *it == Doubt::None {
                *it = Doubt::Edges;
            }
        }
        let modelled = mesh.triangles().len();
        let mut drawn = Vec::new();
        for (face, _) in drawn_faces.iter().enumerate().filter(|(_, drawn)| **drawn) {
            drawn.resize(count, false);
            drawn[piece[face] as usize] = true;
        }
        let mut it = Self {
            mesh: Cow::Borrowed(mesh),
            modelled,
            piece,
            sheet: vec![false; count],
            drawn,
            drawn_back: vec![false; count],
            doubt,
            copy_of,
            again,
            holes: Holes::default(),
            sheets: Vec::new(),
            asked: against.is_some(),
            rim_of: Vec::new(),
            rims: Vec::new(),
        };
        if !loops.is_empty() {
            it.close(mesh, &loops, count, against);
        }
        it
    }

    fn close(&mut self, mesh: &Mesh, loops: &[caps::Loop], count: usize, against: Option<Plane>) {
        let mut own = vec![0.0; count];
        for face in 0..self.modelled {
            own[self.piece[face] as usize] += mesh.area_vector(face).norm();
        }
        let place = |v: &u32| mesh.positions()[*v as usize];
        let points: Vec<Vec<Point3<f64>>> = loops.iter().map(|l| l.vertices.iter().map(place).collect()).collect();
        let forms: Vec<Form> = points.iter().map(|p| Form::of(p)).collect();
        let home: Vec<usize> = loops.iter().map(|l| self.piece[l.face() as usize] as usize).collect();
        let large: Vec<bool> = (0..loops.len()).map(|k| forms[k].area.norm() > SMALL * own[home[k]]).collect();
        // A piece as flat as its rim encloses nothing with whatever lies in that rim.
        let nest: Vec<bool> =
            (0..loops.len()).map(|k| large[k] && forms[k].area.norm() < 0.999 * own[home[k]]).collect();
        let openings = caps::openings(&points, &forms, &nest);

        // Pieces that share an opening are one shape: the inner and the outer wall of a barrel.
        let mut joined = Forest::new(count);
        openings.iter().for_each(|o| o.iter().for_each(|&k| joined.join(home[o[0]] as u32, home[k] as u32)));
        let (shape, shapes) = joined.numbered();
        let (mut area, mut need, mut bent) = (vec![0.0; shapes], vec![0.0; shapes], vec![false; shapes]);
        (0..count).for_each(|p| area[shape[p] as usize] += own[p]);
        for opening in &openings {
            let s = shape[home[opening[0]]] as usize;
            if large[opening[0]] {
                need[s] += opening.iter().map(|&k| forms[k].area).sum::<Vector3<f64>>().norm();
                bent[s] |= !forms[opening[0]].flat();
            }
        }
        let open = |s: usize| bent[s] || need[s] > SHEET * area[s];
        let is_sheet: Vec<bool> = (0..count).map(|p| open(shape[p] as usize) && !self.is_drawn(p)).collect();

        let mut positions = mesh.positions().to_vec();
        let mut added: Vec<([u32; 3], u32)> = Vec::new();
        let mut backs: Vec<usize> = Vec::new();
        for opening in &openings {
            let first = opening[0];
            if self.is_drawn(home[first]) {
                continue;
            }
            if is_sheet[home[first]] && large[first] {
                backs.extend(opening);
                continue;
            }
            let rings: Vec<&[u32]> = opening.iter().map(|&k| &loops[k].vertices[..]).collect();
            let places: Vec<&[Point3<f64>]> = opening.iter().map(|&k| &points[k][..]).collect();
            let normal = opening.iter().map(|&k| forms[k].area).sum();
            added.extend(caps::triangulate(&rings, &places, normal).into_iter().map(|t| (t, loops[first].face())));
            if !large[first] {
                self.rims.push(opening.iter().flat_map(|&k| loops[k].faces.iter().copied()).collect());
            }
            let rim = (!large[first]).then(|| self.rims.len() as u32 - 1);
            self.rim_of.resize(added.len(), rim);
            if opening.iter().any(|&k| loops[k].hole) {
                self.holes.count += 1;
                self.holes.longest = self.holes.longest.max(Length::from_metres(forms[first].length));
            } else {
                self.holes.mended += 1;
            }
        }
        match against {
            Some(plane) => {
                extrude(plane, loops, &backs, &mut positions, &mut added);
                self.drawn_back = is_sheet;
            }
            None => {
                self.sheet.clone_from(&is_sheet);
                let mut edge = vec![0.0; count];
                (0..loops.len()).for_each(|k| edge[home[k]] += forms[k].length);
                self.sheets = (0..count)
                    .filter(|&p| is_sheet[p])
                    .map(|p| Sheet {
                        piece: p as u32,
                        open_edge: Length::from_metres(edge[p]),
                        area: Area::from_square_metres(own[p]),
                    })
                    .collect();
            }
        }
        (0..self.drawn.len()).for_each(|p| self.sheet[p] |= self.drawn[p]);
        self.rim_of.resize(added.len(), None);
        let mut triangles = mesh.triangles().to_vec();
        let mut parts: Vec<u32> = (0..self.modelled).map(|f| mesh.part_of(f)).collect();
        for (t, face) in added {
            triangles.push(t);
            parts.push(mesh.part_of(face as usize));
            self.piece.push(self.piece[face as usize]);
        }
        let closed = Mesh::new(positions, triangles, parts);
        let area = (self.modelled..closed.triangles().len()).fold(0.0, |sum, f| sum + closed.area_vector(f).norm());
        self.holes.area = Area::from_square_metres(area);
        self.mesh = Cow::Owned(closed);
    }

    /// The model's triangles under their own numbers, then the added ones.
    #[must_use]
    pub fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    /// The triangles that say what is inside: all but those drawn on faces of others. Not a copy where nothing is drawn.
    #[must_use]
    pub fn inside(&self) -> Cow<'_, Mesh> {
        if !self.drawn.contains(&true) {
            return Cow::Borrowed(&self.mesh);
        }
        let keep: Vec<bool> = self.piece.iter().map(|&p| !self.is_drawn(p as usize)).collect();
        Cow::Owned(self.mesh.as_ref().clone().keeping(&keep))
    }

    fn is_drawn(&self, piece: usize) -> bool {
        self.drawn.get(piece).copied().unwrap_or(false)
    }

    /// The number of triangles that come from the model; those from here on were added and are bare.
    #[must_use]
    pub fn modelled(&self) -> usize {
        self.modelled
    }

    /// The triangle was added to close an opening.
    #[must_use]
    pub fn is_added(&self, face: usize) -> bool {
        face >= self.modelled
    }

    /// An added triangle is coated when it closes a small hole and every triangle round the hole is coated: a pinhole in a
    /// coat gets the coat. All other added triangles are bare.
    #[must_use]
    pub fn coats_added(&self, face: usize, coated: impl Fn(u32) -> bool) -> bool {
        let rim = face.checked_sub(self.modelled).and_then(|k| self.rim_of.get(k).copied().flatten());
        rim.is_some_and(|rim| self.rims[rim as usize].iter().all(|&face| coated(face)))
    }

    /// The triangle was added across a large opening without being asked for: a guess of where the solid ends.
    #[must_use]
    pub fn is_guessed(&self, face: usize) -> bool {
        !self.asked && face.checked_sub(self.modelled).is_some_and(|k| self.rim_of[k].is_none())
    }

    /// Nothing is left open, and no large opening was closed on a guess.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.is_closed() && (self.asked || self.rim_of.iter().all(Option::is_some))
    }

    /// The triangle bounds a solid; those of sheets do not.
    #[must_use]
    pub fn bounds(&self, face: usize) -> bool {
        !self.sheet[self.piece[face] as usize]
    }

    /// The piece of a triangle: a surface closed by itself, or a sheet.
    #[must_use]
    pub fn piece(&self, face: usize) -> u32 {
        self.piece[face]
    }

    /// How many pieces there are.
    #[must_use]
    pub fn pieces(&self) -> usize {
        self.sheet.len()
    }

    /// The openings that were closed.
    #[must_use]
    pub fn holes(&self) -> Holes {
        self.holes
    }

    /// Pieces without a solid.
    #[must_use]
    pub fn sheets(&self) -> &[Sheet] {
        &self.sheets
    }

    /// Nothing is left open: the volume is defined.
    #[must_use]
    pub fn is_closed(&self) -> bool {
        self.sheets.is_empty()
    }
}

/// Walls from the loops straight to the plane, and a back in it.
fn extrude(
    plane: Plane,
    loops: &[caps::Loop],
    backs: &[usize],
    positions: &mut Vec<Point3<f64>>,
    added: &mut Vec<([u32; 3], u32)>,
) {
    let distance = |p: Point3<f64>| (plane.point - p).dot(&plane.outward);
    let mut feet: Vec<Vec<u32>> = Vec::with_capacity(backs.len());
    for &k in backs {
        let rim = &loops[k].vertices;
        let foot: Vec<u32> = rim
            .iter()
            .map(|&v| {
                let p = positions[v as usize];
                if distance(p) == 0.0 {
                    return v;
                }
                positions.push(p + plane.outward.into_inner() * distance(p));
                (positions.len() - 1) as u32
            })
            .collect();
        for i in 0..rim.len() {
            let j = (i + 1) % rim.len();
            let quad = [[rim[i], rim[j], foot[i]], [rim[j], foot[j], foot[i]]];
            added.extend(
                quad.into_iter().filter(|t| t[0] != t[1] && t[1] != t[2] && t[2] != t[0]).map(|t| (t, loops[k].face())),
            );
        }
        feet.push(foot);
    }
    let points: Vec<Vec<Point3<f64>>> =
        feet.iter().map(|f| f.iter().map(|&v| positions[v as usize]).collect()).collect();
    let forms: Vec<Form> = points.iter().map(|p| Form::of(p)).collect();
    let large: Vec<bool> = forms.iter().map(|f| f.area.norm() > 0.0).collect();
    for opening in caps::openings(&points, &forms, &large) {
        let rings: Vec<&[u32]> = opening.iter().map(|&k| &feet[k][..]).collect();
        let places: Vec<&[Point3<f64>]> = opening.iter().map(|&k| &points[k][..]).collect();
        let normal = opening.iter().map(|&k| forms[k].area).sum();
        added.extend(
            caps::triangulate(&rings, &places, normal).into_iter().map(|t| (t, loops[backs[opening[0]]].face())),
        );
    }
}
