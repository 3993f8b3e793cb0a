//! A small model made of any bytes, through a look and the takeoff: an answer or a refusal, and no figure that cannot be.
//!
//! `cargo fuzz run -s none takeoff -- -timeout=10 -rss_limit_mb=1024 -max_len=512`
#![no_main]

use arbitrary::{Result, Unstructured};
use clap::Parser;
use cragskin::args::{Arguments, Command};
use cragskin::failure::Failure;
use cragskin::load;
use cragskin::report::takeoff::TakeoffReport;
use cragskin::request::Request;
use cragskin::takeoff::Takeoff;
use cragskin_fixtures::Shape;
use cragskin_geom::drawing::{Axis, Drawing};
use cragskin_geom::intake;
use cragskin_geom::skin::Accuracy;
use cragskin_geom::glimpse::Glimpse;
use std::path::Path;

/// Most corners and triangles of a model.
const CORNERS: usize = 32;
const TRIANGLES: usize = 60;

/// Rough, so that a skin takes no longer than the rest.
const ROUGH: Accuracy = Accuracy::of(0.2);

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let mut input = Unstructured::new(bytes);
    let Ok((flags, shape, as_obj)) = case(&mut input) else { return };
    let model = if as_obj { shape.to_obj() } else { shape.to_binary_stl() };
    look(&model);
    if let Ok(takeoff) = takeoff(&model, &flags) {
        check(&takeoff);
    }
});

fn case(input: &mut Unstructured<'_>) -> Result<(Vec<&'static str>, Shape, bool)> {
    let flags = flags(input)?;
    let as_obj = input.arbitrary()?;
    Ok((flags, shape(input)?, as_obj))
}

fn flags(input: &mut Unstructured<'_>) -> Result<Vec<&'static str>> {
    let choices: [&[&[&str]]; 6] = [
        &[&["--units", "ft"], &["--units", "m"], &["--units", "in"], &["--units", "mm"], &["--control", "x=5 ft"], &[]],
        &[&["--face", "core"], &["--face", "finished"]],
        &[&[], &["--floor", "bare"], &["--floor", "coated"]],
        &[&[], &["--back", "bare"], &["--back", "coated"]],
        &[&[], &["--close", "back"], &["--close", "floor"]],
        &[&[], &["--skin", "1/4 in"], &["--skin", "3 in"], &["--up", "y"]],
    ];
    let mut flags = Vec::new();
    for choice in choices {
        flags.extend(*input.choose(choice)?);
    }
    Ok(flags)
}

/// Corners on a grid of nine each way, now and then any number instead; triangles in a fan, a strip or anyhow.
fn shape(input: &mut Unstructured<'_>) -> Result<Shape> {
    let size = f64::from(*input.choose(&[1u16, 3, 12, 48, 1000])?) / 8.0;
    let corners = input.int_in_range(3..=CORNERS)?;
    let mut positions = Vec::with_capacity(corners);
    for _ in 0..corners {
        let packed: u16 = input.arbitrary()?;
        let mut place = [packed % 9, packed / 9 % 9, packed / 81 % 9].map(|step| size * f64::from(step));
        if packed / 729 == 89 {
            place[usize::from(input.int_in_range(0..=2u8)?)] = f64::from(f32::from_bits(input.arbitrary()?));
        }
        positions.push(place);
    }
    let mut triangles = Vec::new();
    while triangles.len() < TRIANGLES && !input.is_empty() {
        let mut corner = || Ok(u32::from(input.arbitrary::<u8>()?) % corners as u32);
        triangles.push([corner()?, corner()?, corner()?]);
    }
    Ok(Shape::new("model", positions, triangles))
}

/// Without a unit, as `look` does.
fn look(model: &[u8]) {
    let Ok(soup) = intake::read(model, None) else { return };
    let Ok(drawing) = Drawing::from_soup(soup) else { return };
    let up = Axis { index: 2, negative: false };
    let front = Axis { index: 1, negative: true };
    // Refused when it is too large to be placed.
    let _ = Glimpse::new(drawing, up, front, cragskin_geom::soundness::Sheets::Ask);
}

fn takeoff(model: &[u8], flags: &[&str]) -> std::result::Result<Takeoff, Failure> {
    let words = ["cragskin", "takeoff", "model", "--quiet", "--no-store"].into_iter().chain(flags.iter().copied());
    let Command::Takeoff(args) = Arguments::parse_from(words).command else { unreachable!("the command is written above") };
    let path = Path::new("model");
    let mut request = Request::new(path, &args.job)?;
    request.accuracy = ROUGH;
    let takeoff = Takeoff::new(load::parse(path, model, &request.rules(), &request.placing)?, &request)?;
    assert!(!TakeoffReport::new(&takeoff, &request).text().contains("NaN"));
    Ok(takeoff)
}

/// Nothing is less than nothing or no number, and no more is coated than there is.
fn check(takeoff: &Takeoff) {
    let skin = &takeoff.skin;
    let figures = [
        takeoff.coated_area.square_metres(),
        takeoff.bare_area.square_metres(),
        skin.volume.cubic_metres(),
        skin.bound.cubic_metres(),
        skin.far_area.square_metres(),
        takeoff.core.map_or(0.0, |core| core.cubic_metres()),
    ];
    assert!(figures.iter().all(|figure| figure.is_finite() && *figure >= 0.0), "{figures:?}");
    assert!(figures[0] <= takeoff.checked.area_as_sent * (1.0 + 1e-9), "{figures:?}");
}
