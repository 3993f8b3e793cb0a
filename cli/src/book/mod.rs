//! The shop's material book: what it buys, how thick it works, what its mix stands.
//!
//! A book is TOML. Keys that it leaves out are taken from the default book and named in [`Book::omitted`], so that a
//! page can show every number it rests on.

mod class;

use std::{fmt::Display, ops::RangeInclusive, str::FromStr};

use cragskin_geom::units::{Angle, Area, Coverage, Density, Length, Mass, MassPerArea, Volume};

pub use class::{Class, ClassLimits, PerClass};

use crate::settings::{self, Count, Dilution, Factor, Faults, Reader, Share, Size2, Size3, ValueError, words};

/// The default book as a file: invented values, each with its unit and where such a number comes from.
pub const DEFAULT: &str = include_str!("default.toml");

/// House value for water, 62.4 lb/cu ft (from memory; the usual 1000 kg/m3).
pub const WATER: Density = Density::from_kg_per_m3(1000.0);

/// How the mix is put on; it decides which waste applies.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Placing {
    /// By hand.
    #[default]
    Trowel,
    /// By pump and nozzle.
    Spray,
}

/// What a waste share is a share of. Two customs differ, so the book names its own.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Reckoning {
    /// `w` of the net is added: net x (1 + w).
    #[default]
    Added,
    /// `w` of what is mixed is lost: net / (1 - w).
    Lost,
}

words! {
    Placing { "trowel" = Trowel, "spray" = Spray }
    Reckoning { "added" = Added, "lost" = Lost }
}

/// Water of one bag, written as a volume or a mass.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Water(pub Mass);

impl FromStr for Water {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        let volume = text.parse::<Volume>().map(|v| v * WATER);
        volume.or_else(|_| text.parse::<Mass>()).map(Self).map_err(|_| {
            ValueError(format!("`{text}` is no amount of water; write for example `1.1 gal`, `4.2 L` or `9 lb`"))
        })
    }
}

impl Display for Water {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// Area that one can of foam adhesive covers: `30 sq ft/can`.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct PerCan(pub Area);

impl FromStr for PerCan {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        let area = text.replace(" per ", "/");
        let area = area.trim().strip_suffix("can").and_then(|t| t.trim_end().strip_suffix('/'));
        area.and_then(|t| t.parse().ok())
            .map(Self)
            .ok_or_else(|| ValueError(format!("`{text}` is no area by can; write for example `30 sq ft/can`")))
    }
}

impl Display for PerCan {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} a can", self.0)
    }
}

/// `mix.*` and `waste.*`.
#[derive(Clone, Debug, Default, PartialEq)]
#[expect(missing_docs, reason = "every field is a key of the default book and explained there")]
pub struct Mix {
    pub bag_mass: Mass,
    pub water: Water,
    pub wet_density: Density,
    pub cured_density: Density,
    pub placing: Placing,
    pub waste_trowel: Share,
    pub waste_spray: Share,
    pub waste_reckoned: Reckoning,
}

impl Mix {
    /// The waste of the placing method in use.
    #[must_use]
    pub const fn waste(&self) -> Share {
        match self.placing {
            Placing::Trowel => self.waste_trowel,
            Placing::Spray => self.waste_spray,
        }
    }
}

/// `cover.*`, `carve.*` and `build.*`.
#[derive(Clone, Debug, Default, PartialEq)]
#[expect(missing_docs, reason = "every field is a key of the default book and explained there")]
pub struct Thickness {
    pub cover_min: Length,
    pub cover_spread: Length,
    pub carve_depth: Length,
    pub build_plumb: Length,
    pub build_ceiling: Length,
}

/// `primer.*`, `colour.*`, `sealer.*` and `coating.*`.
#[derive(Clone, Debug, Default, PartialEq)]
#[expect(missing_docs, reason = "every field is a key of the default book and explained there")]
pub struct Coatings {
    pub primer_coverage: Coverage,
    pub primer_dilution: Dilution,
    pub colour_coverage: Coverage,
    pub colour_coats: Count,
    pub sealer_coverage: Coverage,
    pub sealer_coats: Count,
    pub texture: Factor,
}

/// `lath.*`.
#[derive(Clone, Debug, Default, PartialEq)]
#[expect(missing_docs, reason = "every field is a key of the default book and explained there")]
pub struct Lath {
    pub classes: Vec<Class>,
    pub sheet: Size2,
    pub side_lap: Length,
    pub end_lap: Length,
    pub waste: Share,
    pub weight: MassPerArea,
    pub fixing_grid: PerClass<Length>,
    pub min_area: Area,
    pub min_height: Length,
    pub return_past_edge: Length,
}

/// `foam.*`, `core.*`, `glue.*` and `contact.*`.
#[derive(Clone, Debug, Default, PartialEq)]
#[expect(missing_docs, reason = "every field is a key of the default book and explained there")]
pub struct Foam {
    pub density: Density,
    pub billet: Size3,
    pub kerf: Length,
    pub core_min: Length,
    pub glue: PerCan,
    pub contact_gap: Length,
}

/// `zone.*`, `edge.*`, `reach.*` and `joint.*`.
#[derive(Clone, Debug, Default, PartialEq)]
#[expect(missing_docs, reason = "every field is a key of the default book and explained there")]
pub struct Zones {
    pub smooth_radius: Length,
    pub min_area: Area,
    pub close_gap: Length,
    pub sharp_turn: Angle,
    pub reach_trowel: Length,
    pub reach_nozzle: Length,
    pub joint_area_wall: Area,
    pub joint_area_other: Area,
    pub joint_length: Length,
    pub joint_ratio: Factor,
}

/// `scope.*`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[expect(missing_docs, reason = "every field is a key of the default book and explained there")]
pub struct Sides {
    pub within_angle: Angle,
    pub near_floor: Length,
    pub tool_reach: Length,
}

/// A material book, complete.
#[derive(Clone, Debug, Default, PartialEq)]
#[expect(missing_docs, reason = "every field is a key of the default book and explained there")]
pub struct Book {
    pub classes: ClassLimits,
    pub thickness: Thickness,
    pub mix: Mix,
    pub coatings: Coatings,
    pub lath: Lath,
    pub foam: Foam,
    pub zones: Zones,
    pub scope: Sides,
    pub revision_tolerance: Length,
    pub floor_ask_limit: MassPerArea,
    /// Keys that the shop's book left out; the default book's value stands in.
    pub omitted: Vec<&'static str>,
    /// Keys set to another value than the default book's that nothing is reckoned with yet.
    pub unread: Vec<&'static str>,
}

impl Book {
    /// The default book.
    ///
    /// # Errors
    /// None in a released program: a test reads the text that is compiled in.
    pub fn built_in() -> Result<Self, Faults> {
        settings::parse(DEFAULT, "the default book", "material book", |reader| Fill::run(reader, None))
    }

    /// A shop's book; `file` is its name in messages.
    ///
    /// ```
    /// use cragskin::book::Book;
    /// let book = Book::read("[mix]\nbag_mass = \"60 lb\"", "ours.toml")?;
    /// assert!(book.omitted.contains(&"mix.water") && !book.omitted.contains(&"mix.bag_mass"));
    /// let wrong = Book::read("[cover]\nmim = \"3/4 in\"", "ours.toml").unwrap_err().to_string();
    /// assert!(wrong.starts_with("ours.toml:2:1: `cover.mim` is not a key") && wrong.contains("did you mean `cover.min`?"));
    /// # Ok::<(), cragskin::settings::Faults>(())
    /// ```
    ///
    /// # Errors
    /// All faults at once, each with its line: unknown keys, wrong units, values that no shop could mean.
    pub fn read(text: &str, file: &str) -> Result<Self, Faults> {
        let base = Self::built_in()?;
        settings::parse(text, file, "material book", |reader| Fill::run(reader, Some(&base)))
    }
}

/// Fills a book key by key, from the file or else from the base.
struct Fill<'r, 'a> {
    reader: &'r mut Reader<'a>,
    base: Option<&'r Book>,
    omitted: Vec<&'static str>,
}

const fn inches(low: f64, high: f64) -> RangeInclusive<Length> {
    Length::from_inches(low)..=Length::from_inches(high)
}
const fn sq_ft(low: f64, high: f64) -> RangeInclusive<Area> {
    Area::from_square_feet(low)..=Area::from_square_feet(high)
}
const fn pcf(low: f64, high: f64) -> RangeInclusive<Density> {
    Density::from_pcf(low)..=Density::from_pcf(high)
}
const fn spread(low: f64, high: f64) -> RangeInclusive<Coverage> {
    Coverage::from_sq_ft_per_gallon(low)..=Coverage::from_sq_ft_per_gallon(high)
}

/// Keys that the book reads and nothing is reckoned with yet, of those set to another value than the default.
fn unread(foam: &Foam, usual: &Foam) -> Vec<&'static str> {
    let changed = [
        ("foam.billet", foam.billet != usual.billet),
        ("foam.kerf", foam.kerf != usual.kerf),
        ("glue.coverage", foam.glue != usual.glue),
    ];
    changed.into_iter().filter(|(_, changed)| *changed).map(|(key, _)| key).collect()
}

impl<'r, 'a> Fill<'r, 'a> {
    /// A value without limits of its own.
    fn any<T>(&mut self, key: &'static str, from: impl Fn(&Book) -> T) -> T
    where
        T: FromStr<Err: Display> + Default,
    {
        self.checked(key, from, |_| Ok(()))
    }

    /// A value between two ends. The ends are wide: they catch a slip of unit or point, not a choice.
    fn within<T>(&mut self, key: &'static str, from: impl Fn(&Book) -> T, range: RangeInclusive<T>) -> T
    where
        T: FromStr<Err: Display> + Default + PartialOrd + Display,
    {
        self.checked(key, from, |value| {
            if range.contains(value) {
                return Ok(());
            }
            Err(format!("{value} cannot be meant; from {} to {} is taken", range.start(), range.end()))
        })
    }

    fn checked<T>(
        &mut self,
        key: &'static str,
        from: impl Fn(&Book) -> T,
        check: impl Fn(&T) -> Result<(), String>,
    ) -> T
    where
        T: FromStr<Err: Display> + Default,
    {
        let Some((value, span)) = self.reader.get::<T>(key) else { return self.left_out(key, from) };
        if let Err(message) = check(&value) {
            self.reader.fault(span, format!("{key}: {message}"));
        }
        value
    }

    fn left_out<T: Default>(&mut self, key: &'static str, from: impl Fn(&Book) -> T) -> T {
        let Some(base) = self.base else {
            self.reader.fault(0..0, format!("the default book has no `{key}`"));
            return T::default();
        };
        self.omitted.push(key);
        from(base)
    }

    fn run(reader: &'r mut Reader<'a>, base: Option<&'r Book>) -> Book {
        let mut fill = Self { reader, base, omitted: Vec::new() };
        let f = &mut fill;
        let book = Book {
            classes: f.class_limits(),
            thickness: Thickness {
                cover_min: f.within("cover.min", |b| b.thickness.cover_min, inches(0.125, 6.0)),
                cover_spread: f.within("cover.spread", |b| b.thickness.cover_spread, inches(0.0, 2.0)),
                carve_depth: f.within("carve.depth", |b| b.thickness.carve_depth, inches(0.0, 6.0)),
                build_plumb: f.within("build.plumb", |b| b.thickness.build_plumb, inches(0.125, 12.0)),
                build_ceiling: f.within("build.ceiling", |b| b.thickness.build_ceiling, inches(0.125, 12.0)),
            },
            mix: f.mix(),
            coatings: Coatings {
                primer_coverage: f.within("primer.coverage", |b| b.coatings.primer_coverage, spread(10.0, 2000.0)),
                primer_dilution: f.within(
                    "primer.dilution",
                    |b| b.coatings.primer_dilution,
                    Dilution(0.0)..=Dilution(20.0),
                ),
                colour_coverage: f.within("colour.coverage", |b| b.coatings.colour_coverage, spread(10.0, 2000.0)),
                colour_coats: f.within("colour.coats", |b| b.coatings.colour_coats, Count(0)..=Count(10)),
                sealer_coverage: f.within("sealer.coverage", |b| b.coatings.sealer_coverage, spread(10.0, 2000.0)),
                sealer_coats: f.within("sealer.coats", |b| b.coatings.sealer_coats, Count(0)..=Count(10)),
                texture: f.within("coating.texture", |b| b.coatings.texture, Factor(1.0)..=Factor(3.0)),
            },
            lath: f.lath(),
            foam: Foam {
                density: f.within("foam.density", |b| b.foam.density, pcf(0.4, 10.0)),
                billet: f.any("foam.billet", |b| b.foam.billet),
                kerf: f.within("foam.kerf", |b| b.foam.kerf, inches(0.0, 0.5)),
                core_min: f.within("core.min", |b| b.foam.core_min, inches(0.25, 24.0)),
                glue: f.within(
                    "glue.coverage",
                    |b| b.foam.glue,
                    PerCan(Area::from_square_feet(1.0))..=PerCan(Area::from_square_feet(1000.0)),
                ),
                contact_gap: f.within("contact.gap", |b| b.foam.contact_gap, inches(0.0, 2.0)),
            },
            zones: Zones {
                smooth_radius: f.within("zone.smooth_radius", |b| b.zones.smooth_radius, inches(1.0, 60.0)),
                min_area: f.within("zone.min_area", |b| b.zones.min_area, sq_ft(0.0, 100.0)),
                close_gap: f.within("zone.close_gap", |b| b.zones.close_gap, inches(0.0, 36.0)),
                sharp_turn: f.within(
                    "edge.sharp_turn",
                    |b| b.zones.sharp_turn,
                    Angle::from_degrees(5.0)..=Angle::from_degrees(175.0),
                ),
                reach_trowel: f.within("reach.trowel", |b| b.zones.reach_trowel, inches(1.0, 36.0)),
                reach_nozzle: f.within("reach.nozzle", |b| b.zones.reach_nozzle, inches(1.0, 60.0)),
                joint_area_wall: f.within("joint.area_wall", |b| b.zones.joint_area_wall, sq_ft(10.0, 2000.0)),
                joint_area_other: f.within("joint.area_other", |b| b.zones.joint_area_other, sq_ft(10.0, 2000.0)),
                joint_length: f.within("joint.length", |b| b.zones.joint_length, inches(24.0, 1200.0)),
                joint_ratio: f.within("joint.ratio", |b| b.zones.joint_ratio, Factor(1.0)..=Factor(20.0)),
            },
            scope: Sides {
                within_angle: f.within(
                    "scope.within_angle",
                    |b| b.scope.within_angle,
                    Angle::from_degrees(1.0)..=Angle::from_degrees(40.0),
                ),
                near_floor: f.within("scope.near_floor", |b| b.scope.near_floor, inches(0.0, 48.0)),
                tool_reach: f.within("scope.tool_reach", |b| b.scope.tool_reach, inches(1.0, 60.0)),
            },
            revision_tolerance: f.within("revision.tolerance", |b| b.revision_tolerance, inches(0.0, 2.0)),
            floor_ask_limit: f.within(
                "floor.ask_limit",
                |b| b.floor_ask_limit,
                MassPerArea::from_psf(5.0)..=MassPerArea::from_psf(2000.0),
            ),
            omitted: Vec::new(),
            unread: Vec::new(),
        };
        let unread = base.map_or_else(Vec::new, |base| unread(&book.foam, &base.foam));
        Book { omitted: fill.omitted, unread, ..book }
    }

    fn class_limits(&mut self) -> ClassLimits {
        const KEY: &str = "class.limits";
        let Some((list, span)) = self.reader.list::<Angle>(KEY) else { return self.left_out(KEY, |b| b.classes) };
        let angles: Vec<Angle> = list.into_iter().map(|(angle, _)| angle).collect();
        let rising = angles.windows(2).all(|pair| pair[0] < pair[1]);
        match <[Angle; 4]>::try_from(angles) {
            Ok(four) if rising && four[0] > Angle::ZERO && four[3] < Angle::from_degrees(180.0) => ClassLimits(four),
            _ => {
                let message =
                    "four leans are wanted, rising between 0 and 180 deg: the ends of top, slope, wall, undercut";
                self.reader.fault(span, format!("{KEY}: {message}"));
                ClassLimits::default()
            }
        }
    }

    fn mix(&mut self) -> Mix {
        let waste = Share(0.0)..=Share(0.6);
        let mut mix = Mix {
            bag_mass: self.within(
                "mix.bag_mass",
                |b| b.mix.bag_mass,
                Mass::from_pounds(5.0)..=Mass::from_pounds(4000.0),
            ),
            water: self.within(
                "mix.water",
                |b| b.mix.water,
                Water(Mass::from_pounds(0.1))..=Water(Mass::from_pounds(2000.0)),
            ),
            wet_density: self.within("mix.wet_density", |b| b.mix.wet_density, pcf(20.0, 200.0)),
            placing: self.any("mix.placing", |b| b.mix.placing),
            waste_trowel: self.within("waste.trowel", |b| b.mix.waste_trowel, waste.clone()),
            waste_spray: self.within("waste.spray", |b| b.mix.waste_spray, waste),
            waste_reckoned: self.any("waste.reckoned", |b| b.mix.waste_reckoned),
            cured_density: Density::ZERO,
        };
        // Drying only loses water, so a cured figure above the wet one is a swap.
        let wet = mix.wet_density;
        mix.cured_density = self.checked(
            "mix.cured_density",
            |b| b.mix.cured_density,
            |&cured| {
                if !pcf(15.0, 200.0).contains(&cured) {
                    Err(format!("{cured} cannot be meant"))
                } else if wet > Density::ZERO && cured > wet {
                    Err(format!("{cured} is heavier than the wet mix, {wet}; are the two swapped?"))
                } else {
                    Ok(())
                }
            },
        );
        mix
    }

    fn lath(&mut self) -> Lath {
        const CLASSES: &str = "lath.classes";
        let classes = match self.reader.list::<class::Written>(CLASSES) {
            Some((list, _)) => list.into_iter().map(|(written, _)| written.0).collect(),
            None => self.left_out(CLASSES, |b| b.lath.classes.clone()),
        };
        let grid = |class: Class| move |b: &Book| b.lath.fixing_grid[class];
        Lath {
            classes,
            // Laps are held below 6 in, so a sheet of a foot each way always covers something.
            sheet: self.checked(
                "lath.sheet",
                |b| b.lath.sheet,
                |sheet: &Size2| {
                    let wide = sheet.0.iter().all(|&side| side >= Length::from_feet(1.0));
                    if wide { Ok(()) } else { Err("a sheet is at least 1 ft each way".to_string()) }
                },
            ),
            side_lap: self.within("lath.side_lap", |b| b.lath.side_lap, inches(0.0, 6.0)),
            end_lap: self.within("lath.end_lap", |b| b.lath.end_lap, inches(0.0, 6.0)),
            waste: self.within("lath.waste", |b| b.lath.waste, Share(0.0)..=Share(0.6)),
            weight: self.within(
                "lath.weight",
                |b| b.lath.weight,
                MassPerArea::from_lb_per_sq_yd(0.1)..=MassPerArea::from_lb_per_sq_yd(40.0),
            ),
            fixing_grid: PerClass([
                self.within("lath.fixing_grid.top", grid(Class::Top), inches(1.0, 48.0)),
                self.within("lath.fixing_grid.slope", grid(Class::Slope), inches(1.0, 48.0)),
                self.within("lath.fixing_grid.wall", grid(Class::Wall), inches(1.0, 48.0)),
                self.within("lath.fixing_grid.undercut", grid(Class::Undercut), inches(1.0, 48.0)),
                self.within("lath.fixing_grid.soffit", grid(Class::Soffit), inches(1.0, 48.0)),
            ]),
            min_area: self.within("lath.min_area", |b| b.lath.min_area, sq_ft(0.0, 200.0)),
            min_height: self.within("lath.min_height", |b| b.lath.min_height, inches(0.0, 240.0)),
            return_past_edge: self.within("lath.return", |b| b.lath.return_past_edge, inches(0.0, 36.0)),
        }
    }
}

#[cfg(test)]
mod tests;
