use cragskin_geom::units::Area;
use proptest::prelude::*;

use super::*;
use crate::figure::Quantity;

const WALL: &str = r#"
[job]
name = "Otter cliff, north wall"
model = "models/wall.stl"
units = "in"
up = "+y"
front = "+z"
control = "x = 13 ft 9 in"
book = "book.toml"

[model]
face = "core"
skin = "3/4 in"

[scope]
floor = "bare"
back = "coated"

[[scope.plane]]
facing = "-x"
at = "-6 in"
is = "bare"

[[scope.part]]
name = "BACK"
is = "left out"

[[scope.box]]
from = ["0 in", "-1 ft", "0 mm"]
to = ["2 ft", "2 ft", "6 in"]
is = "bare"

[limits]
rules = ["undercut area > 20 sq ft", "two-lift area > 0", "bags >= 100"]
"#;

fn faults(text: &str) -> String {
    Job::read(text, "wall.toml").expect_err(text).to_string()
}

#[test]
fn a_full_job_reads_into_types() {
    let job = Job::read(WALL, "wall.toml").unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(job.units, Some(ModelUnit::Inch));
    assert_eq!((job.up, job.front), (Some(SignedAxis::plus(Axis::Y)), Some(SignedAxis::plus(Axis::Z))));
    assert_eq!(job.control, Some(Control { axis: Axis::X, length: "13 ft 9 in".parse().unwrap() }));
    assert_eq!((job.face, job.skin), (Face::Core, Some(Length::from_inches(0.75))));
    assert_eq!((job.scope.floor, job.scope.back), (Settled::Bare, Settled::Coated));
    let inches = Length::from_inches;
    let rules = [
        Rule {
            faces: Faces::Plane { facing: SignedAxis::minus(Axis::X).into(), at: inches(-6.0), within: inches(0.25) },
            is: State::Bare,
        },
        Rule { faces: Faces::Part("BACK".to_string()), is: State::LeftOut },
        Rule {
            faces: Faces::Box {
                from: [Length::ZERO, Length::from_feet(-1.0), Length::ZERO],
                to: [Length::from_feet(2.0), Length::from_feet(2.0), inches(6.0)],
            },
            is: State::Bare,
        },
    ];
    assert_eq!(job.scope.rules, rules);
    assert_eq!(job.limits.len(), 3);
    assert_eq!(job.limits[1].is_hit(Quantity::Area(Area::ZERO)), Some(false));
    assert_eq!(job.limits[2].is_hit(Quantity::Count(100.0)), Some(true));
    assert_eq!(job.limits[2].is_hit(Quantity::Area(Area::ZERO)), None);
    assert_eq!(job.limits[0].to_string(), "undercut area > 20.0 sq ft (1.86 m2)");
}

#[test]
fn faults_point_at_their_line() {
    for (text, words) in [
        ("[job]\nnamee = \"x\"\nmodel = \"a.stl\"", "wall.toml:2:1: `job.namee` is not a key of the job file"),
        ("[job]\nname = \"x\"", "`job.model` is missing"),
        ("[job]\nmodel = \"a\"\nunits = \"yard\"", "wall.toml:3:9: job.units: `yard` is no model unit"),
        ("[job]\nmodel = \"a\"\nup = \"w\"", "job.up: `w` is no direction"),
        ("[job]\nmodel = \"a\"\nfront = \"-z\"", "job.front: -z lies along up (+z)"),
        ("[job]\nmodel = \"a\"\ncontrol = \"13 ft\"", "is no control length"),
        ("[job]\nmodel = \"a\"\ncontrol = \"x = 13\"", "`13` has no unit"),
        ("[job]\nmodel = \"a\"\n[model]\nskin = \"3 ft\"", "a skin of 3 ft (914 mm) cannot be meant"),
        ("[job]\nmodel = \"a\"\n[scope]\nfloor = \"barre\"", "none of: ask, bare, coated"),
        ("[job]\nmodel = \"a\"\n[[scope.plane]]\nat = \"1 in\"", "wall.toml:3:1: `scope.plane.facing` is missing"),
        ("[job]\nmodel = \"a\"\n[[scope.part]]\nname = \"B\"\nis = \"gone\"", "none of: coated, bare, left out"),
        ("[job]\nmodel = \"a\"\n[[scope.part]]\nnam = \"B\"\nis = \"bare\"", "did you mean `scope.part.name`?"),
        ("[job]\nmodel = \"a\"\n[scope]\nplane = 3", "headed [[scope.plane]]"),
        ("[job]\nmodel = \"a\"\n[[scope.box]]\nfrom = [\"1 in\"]\nis = \"bare\"", "three places are wanted"),
        (
            "[job]\nmodel = \"a\"\n[limits]\nrules = [\"undercut are > 2 sq ft\"]",
            "wall.toml:4:10: limits.rules: `undercut are` cannot be watched; did you mean `undercut area`?",
        ),
        ("[job]\nmodel = \"a\"\n[limits]\nrules = [\"undercut area > 20\"]", "`20` has no unit"),
        ("[job]\nmodel = \"a\"\n[limits]\nrules = [\"undercut area > 20 lb\"]", "not a unit of area"),
        ("[job]\nmodel = \"a\"\n[limits]\nrules = [\"undercut area\"]", "is no limit"),
    ] {
        let shown = faults(text);
        assert!(shown.contains(words), "{text}\n{shown}");
        assert!(shown.contains('^'), "{shown}");
    }
}

#[test]
fn rules_keep_the_order_of_the_file_across_kinds() {
    let text = "[job]\nmodel = \"a\"\n[[scope.part]]\nname = \"A\"\nis = \"bare\"\n\
                [[scope.plane]]\nfacing = \"+y\"\nat = \"1 m\"\nis = \"coated\"\n\
                [[scope.part]]\nname = \"B\"\nis = \"bare\"\n";
    let states: Vec<State> = Job::read(text, "job.toml").unwrap().scope.rules.iter().map(|rule| rule.is).collect();
    assert_eq!(states, [State::Bare, State::Coated, State::Bare]);
}

#[test]
fn a_starter_reads_back_and_so_does_every_comment_in_it() {
    let parts = ["rock \"A\"\\1\n".to_string(), "BACK".to_string()];
    let start = Starter {
        name: "Grotto \"east\"",
        model: "g\\wall.stl",
        units: Some(ModelUnit::Foot),
        parts: &parts,
        ..Starter::default()
    };
    let text = starter_job(&start);
    let job = Job::read(&text, "job.toml").unwrap_or_else(|e| panic!("{e}"));
    assert_eq!((job.name.as_str(), job.model.as_str()), (start.name, start.model));
    assert_eq!((job.units, job.scope.floor), (Some(ModelUnit::Foot), Settled::Ask));
    assert!(job.limits.is_empty() && job.scope.rules.is_empty());
    // Taken out of their comments, the examples are a job too.
    let live: String = text
        .lines()
        .map(|line| {
            let bare = line.trim_start().strip_prefix("# ").unwrap_or(line);
            let is_toml = bare.starts_with("[[") || bare.trim_start().starts_with('"') || bare.contains(" = ");
            format!("{}\n", if is_toml { bare } else { line })
        })
        .collect();
    let job = Job::read(&live, "job.toml").unwrap_or_else(|e| panic!("{e}\n{live}"));
    let named = |name: &String| job.scope.rules.iter().any(|rule| rule.faces == Faces::Part(name.clone()));
    assert!(parts.iter().all(named));
    assert_eq!((job.limits.len(), job.scope.rules.len()), (2, 4));
    assert!(job.control.is_some() && job.skin.is_some() && job.book.is_some());
}

#[test]
fn without_units_the_starter_leaves_them_open() {
    let text = starter_job(&Starter { name: "x", model: "x.stl", ..Starter::default() });
    assert_eq!(Job::read(&text, "job.toml").unwrap().units, None);
}

#[test]
fn up_along_y_turns_the_front() {
    let job = Job::read("[job]\nmodel = \"a\"\nup = \"+y\"", "job.toml").unwrap();
    let words = crate::load::PlacingWords::from(&job);
    assert_ne!(words.front().index, words.up().index);
    assert_eq!(SignedAxis::minus(Axis::Y).vector(), [0.0, -1.0, 0.0]);
}

proptest! {
    #[test]
    fn control_lengths_print_and_read_back(sixteenths in 1_u32..100_000) {
        let control = Control { axis: Axis::Z, length: Length::from_inches(f64::from(sixteenths) / 16.0) };
        let back: Control = control.to_string().parse().unwrap();
        prop_assert_eq!(back.to_string(), control.to_string());
    }

    #[test]
    fn no_text_panics(text in "\\PC{0,40}") {
        let _ = (text.parse::<Limit>(), text.parse::<Control>(), Job::read(&text, "any.toml").is_ok());
    }
}
