use cragskin_geom::units::{Mass, Volume};
use proptest::prelude::*;

use super::*;

fn faults(text: &str) -> String {
    Book::read(text, "ours.toml").expect_err(text).to_string()
}

#[test]
fn the_default_book_reads_and_names_nothing_as_left_out() {
    let book = Book::built_in().unwrap_or_else(|e| panic!("{e}"));
    assert!(book.omitted.is_empty());
    // Read as a shop's book it is the same book: nothing falls through to a value that is not written.
    assert_eq!(Book::read(DEFAULT, "copy.toml").unwrap(), book);
}

#[test]
fn an_empty_book_is_the_default_with_every_key_named() {
    let book = Book::read("", "ours.toml").unwrap();
    // One key for each `name = value` line of the default book.
    let keys = DEFAULT.lines().filter(|l| !l.starts_with('#') && l.contains(" = ")).count();
    assert_eq!(book.omitted.len(), keys);
    assert_eq!(Book { omitted: Vec::new(), ..book }, Book::built_in().unwrap());
}

#[test]
fn every_key_alone_changes_the_book_or_is_the_same_value() {
    // Guards a key read into the wrong field: leaving one key out must name that key alone.
    for line in DEFAULT.lines().filter(|l| !l.starts_with('#') && l.contains(" = ")) {
        let without = DEFAULT.replacen(&format!("\n{line}\n"), "\n\n", 1);
        let book = Book::read(&without, "ours.toml").unwrap_or_else(|e| panic!("{e}"));
        let key = line.split(" = ").next().unwrap();
        assert!(matches!(book.omitted[..], [one] if one.ends_with(key)), "{line}: {:?}", book.omitted);
    }
}

#[test]
fn a_misspelt_key_gets_the_nearest_right_one() {
    assert_eq!(
        faults("[cover]\nmim = \"3/4 in\"\n"),
        "ours.toml:2:1: `cover.mim` is not a key of the material book\n  \
         2 | mim = \"3/4 in\"\n    | ^^^\n  did you mean `cover.min`?\n"
    );
    assert!(faults("[mixx]\nwater = \"1 gal\"").contains("did you mean `mix.water`?"));
    assert!(faults("[mix]\ncured-density = \"90 pcf\"").contains("did you mean `mix.cured_density`?"));
    assert!(!faults("[zebra]\nqqqq = 1").contains("did you mean"));
    assert!(faults("[zebra]\n").contains("`zebra` is not a key"));
}

#[test]
fn wrong_units_point_at_the_value() {
    assert_eq!(
        faults("# ours\n[mix]\n  bag_mass = \"50 ft\"\n"),
        "ours.toml:3:14: mix.bag_mass: `ft` is not a unit of mass; write for example `50 lb` or `22.7 kg`\n  \
         3 |   bag_mass = \"50 ft\"\n    |              ^^^^^^^\n"
    );
    assert!(faults("[cover]\nmin = 0.75").contains("`0.75` has no unit"));
    assert!(faults("[cover]\nmin = true").contains("a boolean stands here"));
}

#[test]
fn values_no_shop_could_mean_are_refused() {
    for (text, words) in [
        ("[cover]\nmin = \"3 ft\"", "cover.min: 3 ft (914 mm) cannot be meant; from 1/8 in (3.2 mm) to 6 in (152 mm)"),
        ("[cover]\nmin = \"0 in\"", "cannot be meant"),
        ("[cover]\nmin = \"-3/4 in\"", "below zero"),
        ("[waste]\ntrowel = \"1000 %\"", "waste.trowel: 1000 % cannot be meant; from 0 % to 60 %"),
        ("[waste]\ntrowel = 0.1", "no percent sign"),
        ("[mix]\nwet_density = \"0 lb/ft3\"", "cannot be meant"),
        ("[mix]\ncured_density = \"120 lb/ft3\"", "heavier than the wet mix"),
        ("[class]\nlimits = [\"75 deg\", \"30 deg\", \"100 deg\", \"135 deg\"]", "rising"),
        ("[class]\nlimits = [\"30 deg\"]", "four leans"),
        ("[class]\nlimits = [\"30 deg\", \"75\", \"100 deg\", \"135 deg\"]", "`75` has no unit"),
        ("[class]\nlimits = \"30 deg\"", "a list in square brackets"),
        ("[lath]\nsheet = \"2 in x 96 in\"", "at least 1 ft"),
        ("[lath]\nclasses = [\"cliff\"]", "`cliff` is no class"),
        ("[primer]\ncoverage = \"200 sq ft\"", "not a unit of coverage"),
        ("[mix]\nplacing = \"hand\"", "none of: trowel, spray"),
        ("[mix\n", "not TOML"),
        ("[mix]\nwater = \"1 gal\"\nwater = \"2 gal\"", "not TOML"),
    ] {
        let shown = faults(text);
        assert!(shown.contains(words), "{text}\n{shown}");
        assert!(shown.contains('^'), "{shown}");
    }
}

#[test]
fn all_faults_come_at_once_by_line() {
    let shown =
        Book::read("[waste]\nspray = \"-1 %\"\n[cover]\nmim = \"1 in\"\nmin = \"9 kg\"", "ours.toml").unwrap_err();
    let lines: Vec<usize> = shown.list.iter().map(|f| shown.place(f).0).collect();
    assert_eq!(lines, [2, 4, 5]);
}

#[test]
fn the_hand_check_book_says_what_it_says() {
    let book = Book::read(include_str!("../../../fixtures/books/hand_check.toml"), "hand_check.toml").unwrap();
    assert_eq!(book.mix.water.0, Mass::from_pounds(10.0));
    assert_eq!(book.lath.sheet, "27 in x 96 in".parse().unwrap());
    approx::assert_relative_eq!(book.foam.billet.0[0].feet(), 2.0, max_relative = 1e-15);
    assert!(book.omitted.contains(&"cover.min"));
}

#[test]
fn water_by_volume_or_by_mass() {
    let water = |text: &str| text.parse::<Water>().unwrap().0;
    // 1 US gal of water at 1000 kg/m3 is 8.345 lb (from memory: 8.342 at 62.4 lb/cu ft).
    approx::assert_relative_eq!(water("1.1 gal").pounds(), 9.18, max_relative = 5e-4);
    assert_eq!(water("4.2 L"), Volume::from_litres(4.2) * WATER);
    assert!("3 ft".parse::<Water>().is_err());
}

proptest! {
    #[test]
    fn any_text_is_a_book_or_a_list_of_faults(text in "(\\[[a-z.]{1,8}\\]\n|[a-z_]{1,8} = (\"[0-9 a-z/%]{0,9}\"|[0-9.]{1,4}|\\[\\])\n|\\PC{0,9}\n){0,6}") {
        match Book::read(&text, "any.toml") {
            Ok(_) => {}
            Err(e) => prop_assert!(!e.list.is_empty() && !e.to_string().is_empty()),
        }
    }
}
