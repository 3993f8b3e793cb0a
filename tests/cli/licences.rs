//! What the program is built from may be passed on with it.

use serde_json::Value;
use std::process::Command;

/// Licences that ask for no more than that their text goes along (SPDX names).
const ALLOWED: [&str; 4] = ["MIT", "Apache-2.0", "Zlib", "Unicode-3.0"];

/// An expression of names with `OR` and `AND` (SPDX 2.3, annex D), of which some old ones write `/` for `OR`: one name of each part is
/// allowed. Parentheses are those of a part.
fn is_allowed(expression: &str) -> bool {
    let parts = expression.split(" AND ").map(|part| part.trim_matches(['(', ')']).replace('/', " OR "));
    parts.into_iter().all(|part| part.split(" OR ").any(|name| ALLOWED.contains(&name.trim())))
}

#[test]
fn every_package_is_under_a_licence_that_lets_it_be_passed_on() {
    let said = |program: &str, words: &[&str]| {
        let said = Command::new(program).args(words).output().unwrap();
        assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr));
        String::from_utf8(said.stdout).unwrap()
    };
    let rustc = said(&std::env::var("RUSTC").unwrap_or_else(|_| "rustc".to_owned()), &["-vV"]);
    let host = rustc.lines().find_map(|line| line.strip_prefix("host: ")).unwrap();
    // What other platforms need is not on this machine.
    let words = ["metadata", "--format-version", "1", "--locked", "--offline", "--filter-platform", host];
    let all: Value = serde_json::from_str(&said(env!("CARGO"), &words)).unwrap();
    let packages = all["packages"].as_array().unwrap();
    assert!(packages.len() > 100, "{} packages", packages.len());
    for package in packages {
        let licence = package["license"].as_str().unwrap_or("none");
        assert!(is_allowed(licence), "{} is under {licence}", package["name"]);
    }
    for refused in ["GPL-3.0-only", "none", "MIT AND GPL-2.0-only", "(MIT OR Zlib) AND MPL-2.0"] {
        assert!(!is_allowed(refused), "{refused}");
    }
}
