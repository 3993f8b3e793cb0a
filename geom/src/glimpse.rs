//! What can be said of a file whose unit nobody knows.

use crate::drawing::{Axis, Drawing, PlacingError};
use crate::figure::{self, Figure};
use crate::soundness::{CONTACT, Checked, Counts, Finding, OpenRun, QualityTable, Sheets};
use crate::stance::{self, OtherUp};

/// Counts, findings, grades and shapes, and no quantity.
#[derive(Clone, Debug)]
pub struct Glimpse {
    /// Counts of the mesh as sent.
    pub counts: Counts,
    /// Open edges as sent, longest run first; lengths in file units.
    pub open_runs: Vec<OpenRun>,
    /// Everything found, worst first; lengths in file units.
    pub findings: Vec<Finding>,
    /// How far each kind of number will be trusted.
    pub quality: QualityTable,
    /// Bodies in the shape of a standing person; lengths in file units.
    pub figures: Vec<Figure>,
    /// Another direction that fits far better than the one called up.
    pub other_up: Option<OtherUp>,
}

impl Glimpse {
    /// Looks at a file without a unit; `sheets` says which side of open sheets is coated. Cost as [`Checked::new`].
    ///
    /// # Errors
    /// When up and front are the same axis.
    pub fn new(drawing: Drawing, up: Axis, front: Axis, sheets: Sheets) -> Result<Self, PlacingError> {
        let left_out = drawing.left_out();
        Ok(Self::of(Checked::with_sheets(drawing.place_in_file_units(up, front)?, left_out, sheets, CONTACT)))
    }

    /// The same of a model whose unit is known; lengths in metres.
    #[must_use]
    pub fn of(checked: Checked) -> Self {
        let (figures, other_up) = (figure::slender(&checked), stance::other_up(&checked));
        let Checked { counts, open_runs, findings, quality, .. } = checked;
        Self { counts, open_runs, findings, quality, figures, other_up }
    }
}
