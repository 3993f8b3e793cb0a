//! Still pictures against stored ones that were looked at. `CRAGSKIN_UPDATE_PICTURES=1` stores them anew: look at them.

use crate::common::Folder;
use std::path::{Path, PathBuf};

/// Pixels of a picture that become one of the stored.
const BLOCK: usize = 10;

struct Small {
    width: usize,
    height: usize,
    rgb: Vec<u8>,
}

/// Reads a picture and makes each block one pixel, its mean: a line that moves by a pixel weighs a tenth.
fn small(path: &Path, block: usize) -> Small {
    let mut decoder = png::Decoder::new(std::io::BufReader::new(std::fs::File::open(path).unwrap()));
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().unwrap();
    let mut bytes = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut bytes).unwrap();
    assert_eq!(info.color_type, png::ColorType::Rgb);
    let (wide, high) = (info.width as usize, info.height as usize);
    let (width, height) = (wide / block, high / block);
    let mut rgb = Vec::new();
    for y in 0..height {
        for x in 0..width {
            for channel in 0..3 {
                let pixel = |k: usize| bytes[3 * ((y * block + k / block) * wide + x * block + k % block) + channel];
                let sum: usize = (0..block * block).map(|k| usize::from(pixel(k))).sum();
                rgb.push((sum / (block * block)) as u8);
            }
        }
    }
    Small { width, height, rgb }
}

impl Small {
    fn store(&self, path: &Path) {
        let file = std::fs::File::create(path).unwrap();
        let mut encoder = png::Encoder::new(file, self.width as u32, self.height as u32);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_compression(png::Compression::High);
        encoder.write_header().unwrap().write_image_data(&self.rgb).unwrap();
    }

    /// Pixels that differ by more than a shade, as a share. A step of light is 15 of 255 in the palette.
    fn differs(&self, other: &Self) -> f64 {
        assert_eq!((self.width, self.height), (other.width, other.height));
        let pixels = self.rgb.chunks(3).zip(other.rgb.chunks(3));
        let apart = pixels.filter(|(a, b)| a.iter().zip(*b).any(|(a, b)| a.abs_diff(*b) > 20)).count();
        apart as f64 / (self.width * self.height) as f64
    }
}

#[test]
fn pictures_look_as_they_did_and_each_its_own_way() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let job = root.join("fixtures/demo/grotto_wall.toml");
    let folder = Folder::new();
    let said = folder.run(&["report", job.to_str().unwrap(), "--pictures", "stills"]).exits(0);
    assert_eq!(said.err, "", "without a terminal there is no progress");
    let views = ["front", "back", "left", "right", "top", "three-quarter"];
    let colourings = ["coated", "lath", "lean", "lifts", "thickness", "zones"];
    let mut wanted: Vec<String> =
        views.iter().flat_map(|view| colourings.map(|colouring| format!("{view}-{colouring}.png"))).collect();
    wanted.sort();
    assert_eq!(folder.names("stills"), wanted);

    let stored: PathBuf = root.join("tests/cli/pictures");
    let seen: Vec<Small> =
        ["three-quarter-lean", "front-zones", "front-lifts", "front-lath", "left-thickness", "back-coated"]
            .iter()
            .map(|name| {
                let now = small(&folder.path().join(format!("stills/{name}.png")), BLOCK);
                let path = stored.join(format!("{name}.png"));
                if std::env::var_os("CRAGSKIN_UPDATE_PICTURES").is_some() {
                    now.store(&path);
                }
                // Half a pixel in a hundred: edges and patterns may shift by a pixel, a zone or a colour may not.
                let differs = now.differs(&small(&path, 1));
                assert!(differs < 0.005, "{name}: {:.2} % of it is not as stored", 100.0 * differs);
                now
            })
            .collect();
    for (k, a) in seen.iter().enumerate() {
        assert!(seen[..k].iter().all(|b| a.differs(b) > 0.05), "pictures {k} and an earlier one are the same");
    }
}
