//! `report`: the takeoff for people: page, print, workbook, pictures.

use super::measured;
use crate::args::Report as Args;
use crate::failure::{Failure, Outcome};
use crate::load;
use crate::output::Files;
use crate::report::page::{self, Stamp};
use crate::report::picture::{Colouring, Labels, Scene};
use crate::report::takeoff::TakeoffReport;
use crate::report::{pdf, xlsx};
use crate::request::Request;
use cragskin_geom::picture::View;
use rayon::prelude::*;
use sha2::{Digest, Sha256};

/// Pixels of a still picture.
pub(super) const STILL: [usize; 2] = [1400, 1000];

/// Runs it.
pub(super) fn run(args: &Args) -> Result<Outcome, Failure> {
    if args.out.is_none() && args.pdf.is_none() && args.xlsx.is_none() && args.pictures.is_none() {
        return Err(
            Failure::new("nothing to write").hint("say --out page.html, --pdf, --xlsx or --pictures, or several")
        );
    }
    let request = Request::new(&args.model, &args.job)?;
    let stamp = Stamp { date: args.date.clone(), key: content_key(&load::bytes(&request.model)?) };
    let takeoff = measured(&request)?;
    let report = TakeoffReport::new(&takeoff, &request);
    let labels = Labels::of(&takeoff, &request.book.classes);
    let scene = Scene::of(&takeoff, &labels);
    let mut files = Files::default();
    if let Some(path) = &args.out {
        files.add(path, page::html(&report, &scene, &stamp)?);
    }
    if let Some(path) = &args.pdf {
        files.add(path, pdf::print(&report, &scene, &stamp, args.paper)?);
    }
    if let Some(path) = &args.xlsx {
        files.add(path, xlsx::workbook(&report, &takeoff.order, &takeoff.weights, &stamp)?);
    }
    if let Some(folder) = &args.pictures {
        let colourings = Colouring::of(&labels);
        let stills: Vec<_> = View::ALL.into_par_iter().map(|view| scene.stills(view, &colourings, STILL)).collect();
        for (view, stills) in View::ALL.iter().zip(stills) {
            for (colouring, still) in colourings.iter().zip(stills) {
                files.add(folder.join(format!("{}-{}.png", view.name(), colouring.name())), still.png()?);
            }
        }
    }
    files.write()?;
    Ok(if report.limit_passed() { Outcome::LimitPassed } else { Outcome::Done })
}

/// The first 16 digits of the file's SHA-256: the same file has the same key, another file another one.
fn content_key(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().take(8).map(|byte| format!("{byte:02x}")).collect()
}
