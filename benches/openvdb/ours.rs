//! Our skin on the same file as `skin.cpp`: `skin_time FILE.stl [usual|fine]`, metres. Makes the file, a rock of a million
//! triangles 4 m high, when it is not there.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a bench may")]

use cragskin_fixtures::rock;
use cragskin_geom::drawing::{Axis, Drawing, Placing};
use cragskin_geom::intake;
use cragskin_geom::skin::{Accuracy, Coat, Face, skin};
use cragskin_geom::units::{Length, ModelUnit};
use std::time::Instant;

/// Time of all threads of this process, from the kernel's own count in hundredths of a second.
fn cpu_seconds() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    let fields: Vec<&str> = stat.rsplit(')').next().unwrap().split_whitespace().collect();
    fields[11..13].iter().map(|ticks| ticks.parse::<f64>().unwrap() / 100.0).sum()
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let (file, accuracy) =
        (&words[0], if words.get(1).is_some_and(|w| w == "fine") { Accuracy::FINE } else { Accuracy::USUAL });
    if !std::fs::exists(file).unwrap() {
        std::fs::write(file, rock(7, 1_000_000, 4.0).to_binary_stl()).unwrap();
    }
    let bytes = std::fs::read(file).unwrap();
    let placing = Placing { unit: ModelUnit::Metre, up: Axis::PLUS_Z, front: Axis::MINUS_Y };
    let model = Drawing::from_soup(intake::read(&bytes, None).unwrap()).unwrap().place(placing).unwrap();
    let (start, cpu) = (Instant::now(), cpu_seconds());
    let got = skin(model.mesh(), &Coat::everywhere(Face::Core, Length::from_millimetres(19.0)), accuracy);
    println!(
        "ours    cubes {:5.2} mm  volume {:.6} m3  wall {:6.2} s  cpu {:6.2} s  bound {:.3} %",
        got.grid.metres() * 1e3,
        got.volume.cubic_metres(),
        start.elapsed().as_secs_f64(),
        cpu_seconds() - cpu,
        100.0 * (got.bound / got.volume),
    );
}
