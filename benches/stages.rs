//! Time of each stage on generated rocks of three sizes. How to run and what the figures mean: `benches/README.md`.

use cragskin_fixtures::{rock, rocks_overlapping};
use cragskin_geom::drawing::{Axis, Drawing, Model, Placing};
use cragskin_geom::intake::{self, Soup};
use cragskin_geom::lean::{ClassLimits, lean_of};
use cragskin_geom::measure::area_by;
use cragskin_geom::skin::{Accuracy, Coat, Face, core_mesh, skin};
use cragskin_geom::solid::{Exposure, Solid};
use cragskin_geom::soundness::Checked;
use cragskin_geom::topology::Topology;
use cragskin_geom::units::{Angle, Length, ModelUnit};
use divan::{Bencher, counter::ItemsCount};
use std::collections::BTreeMap;
use std::sync::Mutex;

fn main() {
    divan::main();
}

/// Triangles. The largest needs some gigabytes and a minute, so it must be asked for.
fn sizes() -> Vec<usize> {
    let all = [100_000, 1_000_000, 10_000_000];
    let most = if std::env::var_os("CRAGSKIN_BENCH_10M").is_some() { 3 } else { 2 };
    all[..most].to_vec()
}

/// The two smaller sizes: text of ten million triangles is rarely sent.
fn text_sizes() -> Vec<usize> {
    vec![100_000, 1_000_000]
}

/// A rock 2 m high as the bytes of a file, made once.
fn file(triangles: usize, format: &'static str) -> &'static [u8] {
    static MADE: Mutex<BTreeMap<(usize, &str), &[u8]>> = Mutex::new(BTreeMap::new());
    let make = || {
        let rock = rock(7, triangles, 2.0);
        let bytes = match format {
            "binary" => rock.to_binary_stl(),
            "ascii" => rock.to_ascii_stl(),
            _ => rock.to_obj(),
        };
        &*bytes.leak()
    };
    MADE.lock().expect("no bench panics").entry((triangles, format)).or_insert_with(make)
}

fn soup(triangles: usize, format: &'static str) -> Soup<'static> {
    intake::read(file(triangles, format), None).expect("our own file")
}

fn placed(soup: Soup<'_>) -> Model {
    let placing = Placing { unit: ModelUnit::Metre, up: Axis::PLUS_Z, front: Axis::MINUS_Y };
    Drawing::from_soup(soup).expect("triangles").place(placing).expect("two axes")
}

fn model(triangles: usize) -> Model {
    placed(soup(triangles, "binary"))
}

#[divan::bench(args = sizes(), max_time = 10)]
fn read_binary_stl(bencher: Bencher, n: usize) {
    let bytes = file(n, "binary");
    bencher.counter(ItemsCount::new(n)).bench(|| intake::read(bytes, None));
}

#[divan::bench(args = text_sizes(), max_time = 10)]
fn read_ascii_stl(bencher: Bencher, n: usize) {
    let bytes = file(n, "ascii");
    bencher.counter(ItemsCount::new(n)).bench(|| intake::read(bytes, None));
}

#[divan::bench(args = text_sizes(), max_time = 10)]
fn read_obj(bencher: Bencher, n: usize) {
    let bytes = file(n, "obj");
    bencher.counter(ItemsCount::new(n)).bench(|| intake::read(bytes, None));
}

#[divan::bench(args = sizes(), max_time = 10)]
fn weld(bencher: Bencher, n: usize) {
    bencher.counter(ItemsCount::new(n)).with_inputs(|| soup(n, "binary")).bench_values(Drawing::from_soup);
}

#[divan::bench(args = sizes(), max_time = 10)]
fn adjacency(bencher: Bencher, n: usize) {
    let model = model(n);
    bencher.counter(ItemsCount::new(n)).bench_local(|| Topology::of(model.mesh()));
}

#[divan::bench(args = sizes(), max_time = 10)]
fn check(bencher: Bencher, n: usize) {
    bencher.counter(ItemsCount::new(n)).with_inputs(|| model(n)).bench_values(|model| Checked::new(model, 0));
}

#[divan::bench(args = sizes(), max_time = 10)]
fn measure_by_class(bencher: Bencher, n: usize) {
    let model = model(n);
    let limits = ClassLimits([30.0, 75.0, 100.0, 135.0].map(Angle::from_degrees));
    let class = |face: usize| Some(limits.class(lean_of(&model.mesh().area_vector(face))) as usize);
    bencher.counter(ItemsCount::new(n)).bench_local(|| area_by::<5>(model.mesh(), model.diagonal(), |_| 1.0, class));
}

/// Sizes and accuracies in per cent.
fn skins() -> Vec<(usize, f64)> {
    sizes().into_iter().flat_map(|n| [2.0, 0.5, 0.05].map(|percent| (n, percent))).collect()
}

/// 19 mm on a rock 2 m high.
#[divan::bench(args = skins(), max_time = 10, sample_count = 3)]
fn skin_19_mm(bencher: Bencher, (n, percent): (usize, f64)) {
    let model = model(n);
    let coat = Coat::everywhere(Face::Core, Length::from_millimetres(19.0));
    let accuracy = Accuracy::of(percent / 100.0);
    bencher.counter(ItemsCount::new(n)).bench_local(|| skin(model.mesh(), &coat, accuracy));
}

/// Three rocks that reach into one another.
#[divan::bench(args = sizes(), max_time = 10, sample_count = 3)]
fn exposed_area(bencher: Bencher, n: usize) {
    let bytes = rocks_overlapping(7, 3, n).to_binary_stl();
    let model = placed(intake::read(&bytes, None).expect("our own file"));
    let topology = Topology::of(model.mesh());
    let exposure = || {
        let solid = Solid::of(model.mesh(), &topology, None);
        Exposure::of(&solid, Length::from_millimetres(3.0))
    };
    bencher.counter(ItemsCount::new(n)).bench_local(exposure);
}

/// What is left under 19 mm, on a grid of half of that.
#[divan::bench(args = text_sizes(), max_time = 10, sample_count = 3)]
fn core_mesh_19_mm(bencher: Bencher, n: usize) {
    let model = model(n);
    let coat = Coat::everywhere(Face::Finished, Length::from_millimetres(19.0));
    let grid = Length::from_millimetres(9.5);
    bencher.counter(ItemsCount::new(n)).bench_local(|| core_mesh(model.mesh(), model.mesh(), &coat, grid));
}
