//! Time of each stage on generated rocks of three sizes. How to run and what the figures mean: `benches/README.md`.

use cragskin_fixtures::rock;
use cragskin_geom::drawing::{Axis, Drawing, Model, Placing};
use cragskin_geom::intake::{self, Soup};
use cragskin_geom::lean::{ClassLimits, lean_of};
use cragskin_geom::measure::area_by;
use cragskin_geom::skin::{Accuracy, Coat, Face, skin};
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

fn model(triangles: usize) -> Model {
    let placing = Placing { unit: ModelUnit::Metre, up: Axis::PLUS_Z, front: Axis::MINUS_Y };
    Drawing::from_soup(soup(triangles, "binary")).expect("triangles").place(placing).expect("two axes")
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

/// 19 mm on a rock 2 m high, to half a per cent.
#[divan::bench(args = sizes(), max_time = 10, sample_count = 3)]
fn skin_19_mm(bencher: Bencher, n: usize) {
    let model = model(n);
    let coat = Coat::everywhere(Face::Core, Length::from_millimetres(19.0));
    bencher.counter(ItemsCount::new(n)).bench_local(|| skin(model.mesh(), &coat, Accuracy::USUAL, None));
}
