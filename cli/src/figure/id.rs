//! The one table of figures: what each is called, in which section it stands and in which unit it is reckoned.

use super::Unit;
use crate::book::Class;

/// Where a figure stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "each is its section")]
pub enum Section {
    Area,
    Class,
    Part,
    Skin,
    Core,
    Order,
    Weight,
    Steep,
    /// A measure that others are reckoned from.
    Measure,
    /// A step of a sum.
    Step,
}

impl Section {
    /// Its word in a flat table.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Area => "area",
            Self::Class => "class",
            Self::Part => "part",
            Self::Skin => "skin",
            Self::Core => "core",
            Self::Order => "order",
            Self::Weight => "weight",
            Self::Steep => "steep",
            Self::Measure => "measure",
            Self::Step => "step",
        }
    }
}

/// The mix fresh from the mixer or cured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "two states")]
pub enum State {
    Wet,
    Cured,
}

impl State {
    const fn either(self, wet: &'static str, cured: &'static str) -> &'static str {
        match self {
            Self::Wet => wet,
            Self::Cured => cured,
        }
    }
}

/// A row of the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Row {
    /// Where it stands.
    pub section: Section,
    /// What it is called there.
    pub name: &'static str,
    /// Of a step, what stands before it in a sum.
    pub label: &'static str,
    /// What a limit calls it, if a limit may watch it.
    pub limit: Option<&'static str>,
    /// The unit that it is reckoned in.
    pub unit: Unit,
    /// What stands after the result of its sum.
    pub said: &'static str,
    /// Decimals of its sum.
    pub decimals: usize,
    /// Bought by the piece: rounded up to whole packages once for the job.
    pub packed: bool,
}

impl Row {
    const fn new(section: Section, name: &'static str, unit: Unit) -> Self {
        Self { section, name, label: "", limit: None, unit, said: unit.word(), decimals: 0, packed: false }
    }

    const fn limit(self, limit: &'static str) -> Self {
        Self { limit: Some(limit), ..self }
    }

    const fn sum(self, said: &'static str, decimals: usize) -> Self {
        Self { said, decimals, ..self }
    }

    const fn packed(self) -> Self {
        Self { packed: true, ..self }
    }

    const fn step(self, label: &'static str, said: &'static str) -> Self {
        Self { label, said, ..self }
    }
}

macro_rules! figures {
    ($($id:ident $(($($of:ident: $kind:ty),+))? => $row:expr;)+) => {
        /// A figure. Feet are counted from 0, from left to right.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        #[expect(missing_docs, reason = "each has its name in `FigureId::row`")]
        pub enum FigureId { $($id $(($($kind),+))?),+ }

        impl FigureId {
            /// Its row of the table.
            #[must_use]
            pub const fn row(self) -> Row {
                match self { $(Self::$id $(($($of),+))? => $row),+ }
            }
        }
    };
}

use Section::{Area, Core, Measure, Part, Skin, Steep, Weight};

figures! {
    AsModelledArea => Row::new(Area, "as modelled", Unit::SqFt);
    CoatedArea => Row::new(Area, "coated", Unit::SqFt).limit("coated area");
    BareArea => Row::new(Area, "bare", Unit::SqFt).limit("bare area");
    LeftOutArea => Row::new(Area, "left out", Unit::SqFt);
    ElevationArea => Row::new(Area, "front elevation", Unit::SqFt);
    ClassArea(class: Class) => Row::new(Section::Class, class.name(), Unit::SqFt).limit(CLASS_AREAS[class as usize]);
    PartArea => Row::new(Part, "coated area of a part", Unit::SqFt);
    AppliedThickness => Row::new(Skin, "applied thickness", Unit::In);
    ThicknessByBook => Row::new(Measure, "thickness by the book", Unit::In).sum("in", 3);
    CoverAtLowPins => Row::new(Measure, "cover at the low pins", Unit::In).sum("in left at the low pins", 2);
    SkinVolume => Row::new(Skin, "volume", Unit::CuFt).limit("skin volume");
    SkinBound => Row::new(Skin, "volume known to", Unit::CuFt);
    AreaTimesSkin => Row::new(Skin, "area x thickness", Unit::CuFt);
    CoreVolume => Row::new(Core, "volume", Unit::CuFt).limit("core volume");
    Mix => Row::new(Section::Order, "mix", Unit::Bag).sum("bags", 2).packed().limit("bags");
    MixingWater => Row::new(Section::Order, "mixing water", Unit::Gal).sum("gal", 1);
    Primer => Row::new(Section::Order, "primer concentrate", Unit::Gal).sum("gal of concentrate", 2);
    Colour => Row::new(Section::Order, "colour", Unit::Gal).sum("gal", 2);
    Sealer => Row::new(Section::Order, "sealer", Unit::Gal).sum("gal", 2);
    Lath => Row::new(Section::Order, "lath", Unit::Sheet).sum("sheets", 2).packed().limit("sheets");
    LathFixings => Row::new(Section::Order, "lath fixings", Unit::Each).sum("fixings", 2).packed();
    Foam => Row::new(Section::Order, "foam", Unit::CuFt).sum("cu ft", 1);
    SkinWeight(state: State) => Row::new(Weight, state.either("skin, wet", "skin, cured"), Unit::Lb);
    FoamWeight => Row::new(Weight, "foam core", Unit::Lb);
    LathWeight => Row::new(Weight, "lath as hung", Unit::Lb);
    TotalWeight(state: State) => Row::new(Weight, state.either("total, wet on the day", "total, cured"), Unit::Lb)
        .limit(state.either("wet mass", "cured mass"));
    FloorLoad(state: State) => {
        let name = state.either("floor load, wet on the day", "floor load, cured");
        let row = Row::new(Weight, name, Unit::Psf).sum("lb per sq ft", 1);
        if matches!(state, State::Wet) { row.limit("floor load") } else { row }
    };
    LathArea => Row::new(Steep, "under lath", Unit::SqFt).limit("lath area");
    TwoLiftArea => Row::new(Steep, "two lifts or more", Unit::SqFt).limit("two-lift area");
    NearLimitArea => Row::new(Measure, "near a class limit", Unit::SqFt).limit("near-limit area");
    OpenEdgeLength => Row::new(Measure, "open edges", Unit::Ft).limit("open edge length");
    Height => Row::new(Measure, "height", Unit::Ft).limit("height");
    AreaChange => Row::new(Measure, "change of the coated area", Unit::Share).limit("area change");
    ChangedArea => Row::new(Measure, "surface that is new or gone", Unit::SqFt).limit("changed area");
    WholeVolume => Row::new(Measure, "volume of the finished piece", Unit::CuFt);
    TakenBySkin => Row::new(Measure, "volume that the skin takes of it", Unit::CuFt);
    PrimedArea => Row::new(Measure, "area that takes primer", Unit::SqFt);
    UnderLath(class: Class) => Row::new(Measure, UNDER_LATH[class as usize], Unit::SqFt);
    LathPieces => Row::new(Measure, "length of lath laid", Unit::Ft);
    LathOffcuts => Row::new(Measure, "of that, from strips and offcuts", Unit::Ft);
    EdgeFixings => Row::new(Measure, "fixings along the edges of zones", Unit::Each);
    WaterWeight => Row::new(Measure, "water that stands in pools", Unit::Lb);
    FootArea(_foot: usize) => Row::new(Measure, "contact", Unit::SqFt);
    FootOfSkin(_foot: usize) => Row::new(Measure, "share of skin and lath", Unit::One);
    FootOfFoam(_foot: usize) => Row::new(Measure, "share of foam", Unit::One);
    BagYield => Row::new(Section::Step, "yield of a bag", Unit::CuFt).step("yield", "cu ft a bag");
    ThinnedPrimer => Row::new(Section::Step, "primer as it goes on", Unit::Gal).step("", "gal as it goes on");
    NetSheet => Row::new(Section::Step, "net sheet", Unit::SqFt).step("net sheet", "sq ft");
    LaidLength => Row::new(Section::Step, "new lath laid", Unit::Ft).step("laid out on the unrolled zones", "ft of sheet");
    SheetsByArea => Row::new(Section::Step, "sheets by area", Unit::Sheet).step("", "sheets");
    SheetsByLaying => Row::new(Section::Step, "sheets by laying", Unit::Sheet).step("", "sheets");
    FootLoad(state: State, _foot: usize) => {
        let name = state.either("load wet on the day", "load cured");
        Row::new(Section::Step, name, Unit::Psf).step("", "lb per sq ft")
    };
}

const CLASS_AREAS: [&str; 5] = ["top area", "slope area", "wall area", "undercut area", "soffit area"];
const UNDER_LATH: [&str; 5] =
    ["under lath, top", "under lath, slope", "under lath, wall", "under lath, undercut", "under lath, soffit"];

impl FigureId {
    /// What a limit may watch, in the order in which they are told.
    pub const WATCHED: [Self; 21] = [
        Self::CoatedArea,
        Self::BareArea,
        Self::ClassArea(Class::Top),
        Self::ClassArea(Class::Slope),
        Self::ClassArea(Class::Wall),
        Self::ClassArea(Class::Undercut),
        Self::ClassArea(Class::Soffit),
        Self::TwoLiftArea,
        Self::LathArea,
        Self::NearLimitArea,
        Self::SkinVolume,
        Self::CoreVolume,
        Self::TotalWeight(State::Wet),
        Self::TotalWeight(State::Cured),
        Self::FloorLoad(State::Wet),
        Self::OpenEdgeLength,
        Self::Height,
        Self::Mix,
        Self::Lath,
        Self::AreaChange,
        Self::ChangedArea,
    ];

    /// The unit that it is reckoned in.
    #[must_use]
    pub const fn unit(self) -> Unit {
        self.row().unit
    }

    /// A step of a sum: written out before the sum that it serves.
    #[must_use]
    pub const fn is_step(self) -> bool {
        matches!(self.row().section, Section::Step)
    }

    /// Follows from the measures by the book's rates alone.
    #[must_use]
    pub const fn is_reckoned(self) -> bool {
        matches!(self.row().section, Section::Order | Section::Weight)
    }

    /// Known to a comparison of two revisions alone.
    #[must_use]
    pub const fn is_compared(self) -> bool {
        matches!(self, Self::AreaChange | Self::ChangedArea)
    }

    /// What it is called where its section does not stand beside it.
    #[must_use]
    pub fn title(self) -> String {
        let Row { name, limit, .. } = self.row();
        match self {
            Self::FootArea(foot) | Self::FootOfSkin(foot) | Self::FootOfFoam(foot) | Self::FootLoad(_, foot) => {
                format!("foot {}, {name}", foot + 1)
            }
            _ => limit.unwrap_or(name).to_owned(),
        }
    }
}
