//! Is the model fit to be measured? Everything found is said, everything repaired is said, and each kind of number gets a
//! grade.

mod counts;
mod doubled;
mod drawn;
mod finding;
mod quality;
mod repair;

pub use counts::{Counts, OpenRun, open_length, open_runs};
pub use finding::{Code, Finding};
pub use quality::{Grade, Quality, QualityTable};
pub use repair::Body;

use crate::bodies::Bodies;
use crate::drawing::Model;
use crate::mesh::Mesh;
use crate::topology::Topology;
use crate::units::Length;
use doubled::Doubled;
use nalgebra::Vector3;

/// A model as sent and as repaired. Measures take this, so nothing unchecked is ever measured.
#[derive(Clone, Debug)]
pub struct Checked {
    /// The repaired model.
    pub model: Model,
    /// Who touches whom in it.
    pub topology: Topology,
    /// Its bodies.
    pub bodies: Bodies,
    /// Facts of each body.
    pub body_facts: Vec<Body>,
    /// Counts of the mesh as sent.
    pub counts: Counts,
    /// Open edges as sent, longest run first; lengths in metres.
    pub open_runs: Vec<OpenRun>,
    /// Area of all triangles as sent, repeated ones included, in square metres.
    pub area_as_sent: f64,
    /// Everything found, worst first.
    pub findings: Vec<Finding>,
    /// How far each kind of number can be trusted.
    pub quality: QualityTable,
    /// The side to coat of a triangle is a guess; empty when none is.
    guessed: Vec<bool>,
    /// A sheet no farther than this off a body is drawn on it.
    gap: Length,
}

/// The contact gap where no book is at hand: that of the default book.
pub const CONTACT: Length = Length::from_inches(0.125);

/// Which way open sheets are taken to face. A closed body has an outside, and is turned over when it is drawn inside out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sheets {
    /// Nobody has said: a sheet that faces inward or away from the visitor is turned over, and lean and skin are not defined.
    #[default]
    Ask,
    /// As drawn: none is turned over.
    AsDrawn,
    /// Outward, and toward the visitor: one that faces inward or away is turned over.
    Outward,
}
crate::words::written! { Sheets { "ask" = Ask, "as drawn" = AsDrawn, "outward" = Outward } }

/// Topology and counts of a mesh that need no unit.
#[derive(Clone, Debug)]
pub struct Survey {
    /// Who touches whom.
    pub topology: Topology,
    /// Bodies.
    pub bodies: Bodies,
    /// Counts.
    pub counts: Counts,
}

impl Survey {
    /// Looks at a mesh in any unit. Linear.
    #[must_use]
    pub fn of(mesh: &Mesh) -> Self {
        let topology = Topology::of(mesh);
        let bodies = Bodies::of(mesh, &topology);
        let counts = Counts::of(mesh, &topology, &bodies);
        Self { topology, bodies, counts }
    }
}

impl Checked {
    /// As [`Checked::with_sheets`] while nobody has said which way open sheets face.
    #[must_use]
    pub fn new(model: Model, left_out: usize) -> Self {
        Self::with_sheets(model, left_out, Sheets::Ask, CONTACT)
    }

    /// Surveys, repairs what is unambiguous, and grades. Linear, but for bodies inside one another's boxes.
    ///
    /// `left_out` is the number of triangles that the reader had to leave out. An open sheet that lies flat on a body, no farther
    /// off than `gap`, is drawn on it: it faces as that does, and is no body of its own.
    #[must_use]
    pub fn with_sheets(model: Model, left_out: usize, sheets: Sheets, gap: Length) -> Self {
        let Survey { mut topology, mut bodies, counts } = Survey::of(model.mesh());
        let area_as_sent = crate::measure::area(model.mesh(), model.diagonal(), |_| true).square_metres();
        let mut model = model;
        if counts.collapsed + counts.repeated > 0 {
            let mesh = without_repeats(model.mesh().clone());
            topology = Topology::of(&mesh);
            bodies = Bodies::of(&mesh, &topology);
            model = model.with_mesh(mesh);
        }
        let mut told = counts.clone();
        let doubled = if counts.back_to_back > 0 { Doubled::find(model.mesh(), &bodies) } else { Doubled::default() };
        if doubled.pairs > 0 {
            model = model.map_mesh(|mesh| mesh.keeping(&doubled.keep));
            let one_side = Survey::of(model.mesh());
            (topology, bodies) = (one_side.topology, one_side.bodies);
            // What one side leaves is told; what the two made of each other's edges is not.
            told =
                Counts { collapsed: told.collapsed, slivers: told.slivers, repeated: told.repeated, ..one_side.counts };
        }
        let open_runs = open_runs(model.mesh(), &topology, &bodies);
        let turn = if told.twisted_edges > 0 { repair::same_way(model.mesh(), &topology, &bodies) } else { Vec::new() };
        // Of a pair the side is taken that fits its neighbours: nothing is turned that is drawn this way too.
        let is_pair = |face: usize| doubled.kept_of_pair.get(face).copied().unwrap_or(false);
        let turned_neighbours = turn.iter().enumerate().filter(|(face, t)| **t && !is_pair(*face)).count();
        if turn.contains(&true) {
            topology = topology.turned_over(&turn);
            model = model.map_mesh(|mesh| mesh.turned_over(&turn));
        }
        let mut body_facts = repair::facts(model.mesh(), &topology, &bodies);
        for (_, body) in bodies.by_face().iter().enumerate().filter(|(face, _)| is_pair(*face)) {
            body_facts[*body as usize].both_sides = true;
        }
        let hosts = drawn::find(model.mesh(), &bodies, &body_facts, gap);
        repair::face_outward(model.mesh(), &bodies, &mut body_facts, sheets);
        drawn::mark(&mut body_facts, &hosts);
        if body_facts.iter().any(|body| body.turned) {
            let turn: Vec<bool> = bodies.by_face().iter().map(|&b| body_facts[b as usize].turned).collect();
            topology = topology.turned_over(&turn);
            model = model.map_mesh(|mesh| mesh.turned_over(&turn));
        }
        let mut guessed = Vec::new();
        if body_facts.iter().any(|body| body.guessed) {
            guessed = bodies.by_face().iter().map(|&b| body_facts[b as usize].guessed).collect();
        }
        let unpaired = if told.many_edges > 0 { repair::unpaired_edges(model.mesh(), &topology).len() } else { 0 };
        let repairs = finding::Repairs { turned_neighbours, left_out, pairs: doubled.pairs, unpaired };
        let findings = finding::all(&model, &told, &body_facts, &open_runs, &repairs, area_as_sent);
        let quality = QualityTable::of(&findings, &body_facts);
        Self { model, topology, bodies, body_facts, counts, open_runs, area_as_sent, findings, quality, guessed, gap }
    }

    /// The same model without the triangles not marked: parts that are not ours. Counts and findings stay those of the file; bodies
    /// and grades are those of what is left.
    #[must_use]
    ///
    /// The model gets a box of its own; also where the low corner of that lay before.
    pub fn keeping(self, keep: &[bool]) -> (Self, Vector3<f64>) {
        if keep.iter().all(|k| *k) {
            return (self, Vector3::zeros());
        }
        let area = |model: &Model| crate::measure::area(model.mesh(), model.diagonal(), |_| true).square_metres();
        let before = area(&self.model);
        let (model, low) = self.model.keeping(keep);
        let area_as_sent = self.area_as_sent - before + area(&model);
        let topology = Topology::of(model.mesh());
        let bodies = Bodies::of(model.mesh(), &topology);
        let mut body_facts = repair::facts(model.mesh(), &topology, &bodies);
        repair::find_cavities(model.mesh(), &bodies, &mut body_facts);
        let mut marks = keep.iter();
        let mut guessed = self.guessed;
        guessed.retain(|_| marks.next().copied().unwrap_or(true));
        for (_, body) in guessed.iter().zip(bodies.by_face()).filter(|(guessed, _)| **guessed) {
            body_facts[*body as usize].guessed = true;
        }
        let hosts = drawn::find(model.mesh(), &bodies, &body_facts, self.gap);
        drawn::mark(&mut body_facts, &hosts);
        let quality = QualityTable::of(&self.findings, &body_facts);
        (Self { model, topology, bodies, body_facts, quality, area_as_sent, guessed, ..self }, low)
    }

    /// Every body is closed, so inside and outside are known everywhere.
    #[must_use]
    pub fn all_closed(&self) -> bool {
        self.body_facts.iter().all(|body| body.closed && body.one_sided || body.drawn_on)
    }

    /// The triangles of what is drawn on a face of a body; empty when nothing is.
    #[must_use]
    pub fn drawn_faces(&self) -> Vec<bool> {
        if self.body_facts.iter().all(|body| !body.drawn_on) {
            return Vec::new();
        }
        self.bodies.by_face().iter().map(|&body| self.body_facts[body as usize].drawn_on).collect()
    }

    /// Sum of the bodies' volumes in cubic metres, inner walls subtracted; none when a body is open. Where bodies overlap the
    /// overlap is counted twice.
    #[must_use]
    pub fn sum_of_parts_m3(&self) -> Option<f64> {
        self.all_closed().then(|| self.body_facts.iter().filter(|body| !body.drawn_on).map(|body| body.volume).sum())
    }
}

fn without_repeats(mesh: Mesh) -> Mesh {
    let repeats = counts::repeats(mesh.triangles());
    let keep: Vec<bool> = mesh
        .triangles()
        .iter()
        .enumerate()
        .map(|(face, t)| {
            let collapsed = t[0] == t[1] || t[1] == t[2] || t[2] == t[0];
            !collapsed && repeats.get(face) != Some(&counts::Repeat::SameWay)
        })
        .collect();
    mesh.keeping(&keep)
}
