//! Who may import whom, and which words may stand where. The order of the rooms is read from
//! `src/lib.rs`; the list there is the rule.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use oystermark::findings::Fault;

/// Words of the trade that have no business on the floor.
const TRADE_WORDS: &[&str] = &[
    "fog",
    "collodion",
    "comet",
    "veil",
    "pinhole",
    "developer",
    "fixer",
    "silver",
    "tintype",
    "ambrotype",
    "oyster",
];

fn src() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

/// The rooms of `lib.rs` in their order, and how many of them are the floor.
struct Rooms {
    names: Vec<String>,
    floor: usize,
}

impl Rooms {
    fn of(lib: &str) -> Rooms {
        let mut names = Vec::new();
        let mut floor = 0;
        let mut on_the_floor = false;
        for line in lib.lines().map(str::trim) {
            if line.starts_with("//") {
                on_the_floor =
                    line.contains("The floor:") || (on_the_floor && line.starts_with("//!"));
            }
            let name = line
                .strip_prefix("pub mod ")
                .or_else(|| line.strip_prefix("mod "))
                .and_then(|rest| rest.strip_suffix(';'));
            if let Some(name) = name {
                names.push(name.to_owned());
                floor += usize::from(on_the_floor);
            }
        }
        Rooms { names, floor }
    }

    fn rank(&self, name: &str) -> Option<usize> {
        self.names.iter().position(|room| room == name)
    }
}

/// A source file: its path within `src`, and its text without comments.
struct Source {
    path: String,
    text: String,
    code: String,
}

impl Source {
    fn new(path: &str, text: &str) -> Source {
        Source {
            path: path.to_owned(),
            text: text.to_owned(),
            code: without_comments(text),
        }
    }

    /// `measures/tone.rs` lies in the room `measures`.
    fn room(&self) -> &str {
        let first = self.path.split('/').next().unwrap_or("");
        first.trim_end_matches(".rs")
    }

    /// The file is the room's door (`units.rs`, `plate/mod.rs`), where `super` is the crate's root.
    fn is_door(&self) -> bool {
        !self.path.contains('/') || self.path == format!("{}/mod.rs", self.room())
    }

    /// The part of a room the file belongs to: `tone` of `measures/tone.rs`, `specks` of
    /// `measures/specks/find.rs`.
    fn part(&self) -> Option<&str> {
        let rest = self.path.split('/').nth(1)?;
        (rest != "mod.rs").then(|| rest.trim_end_matches(".rs"))
    }

    /// What stands behind each `crate::` (and behind `super::` where it means the same), with its
    /// line.
    fn paths_from(&self, start: &str) -> Vec<(usize, Vec<String>)> {
        let mut found = Vec::new();
        let mut at = 0;
        while let Some(next) = self.code[at..].find(start) {
            let begin = at + next;
            at = begin + start.len();
            let glued =
                self.code[..begin].ends_with(|c: char| c.is_alphanumeric() || "_:$".contains(c));
            if glued {
                continue;
            }
            let line = self.code[..begin].matches('\n').count() + 1;
            for path in paths(&self.code[at..]) {
                found.push((line, path));
            }
        }
        found
    }
}

/// The paths at the start of some code: one, or those of a `{...}` group.
fn paths(code: &str) -> Vec<Vec<String>> {
    let code = code.trim_start();
    let Some(group) = code.strip_prefix('{') else {
        let end = code
            .find(|c: char| !(c.is_alphanumeric() || c == '_' || c == ':'))
            .unwrap_or(code.len());
        let mut path: Vec<String> = code[..end]
            .split("::")
            .filter(|part| !part.is_empty())
            .map(str::to_owned)
            .collect();
        // `plate::{Edge, Part}`: the heads of the group are of interest too.
        if code[..end].ends_with("::") && code[end..].starts_with('{') {
            return paths(&code[end..])
                .into_iter()
                .map(|rest| path.iter().cloned().chain(rest).collect())
                .collect();
        }
        path.truncate(4);
        return vec![path];
    };
    let mut depth = 0;
    let mut items = vec![String::new()];
    for c in group.chars() {
        match c {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                items.push(String::new());
                continue;
            }
            _ => {}
        }
        if let Some(item) = items.last_mut() {
            item.push(c);
        }
    }
    items
        .iter()
        .filter(|item| !item.trim().is_empty())
        .flat_map(|item| paths(item))
        .collect()
}

/// Code with line comments blanked out; line breaks stay, so that lines can be counted.
fn without_comments(text: &str) -> String {
    text.lines()
        .map(|line| {
            let mut in_text = false;
            let mut last = ' ';
            for (at, c) in line.char_indices() {
                match c {
                    '"' if last != '\\' && last != '\'' => in_text = !in_text,
                    '/' if last == '/' && !in_text => return &line[..at - 1],
                    _ => {}
                }
                last = c;
            }
            line
        })
        .collect::<Vec<_>>()
        .join("\n")
}

/// Names of code without texts in quotes.
fn without_texts(code: &str) -> String {
    code.split('"').step_by(2).collect::<Vec<_>>().join("\"")
}

/// Every breach of the house's rules, as `file:line: what`, and how many imports were looked at.
fn breaches(rooms: &Rooms, sources: &[Source]) -> (Vec<String>, usize) {
    let mut found = Vec::new();
    let mut imports = 0;
    for source in sources {
        for (line, _) in source.paths_from("super::super") {
            found.push(format!("{}:{line}: super::super is not used", source.path));
        }
        let Some(rank) = rooms.rank(source.room()) else {
            continue;
        };
        let mut paths = source.paths_from("crate::");
        if source.is_door() {
            // `use super::*` of a test module means the door itself.
            let named = source.paths_from("super::");
            paths.extend(
                named.into_iter().filter(|(_, path)| {
                    path.first().is_some_and(|head| rooms.rank(head).is_some())
                }),
            );
        }
        for (line, path) in paths {
            let Some(other) = path.first().and_then(|head| rooms.rank(head)) else {
                continue;
            };
            imports += 1;
            if other > rank {
                found.push(format!(
                    "{}:{line}: {} imports {}, which is listed after it",
                    source.path, rooms.names[rank], rooms.names[other]
                ));
            }
        }
    }
    found.extend(sideways(sources));
    // One `use` may name several things of one room.
    found.dedup();
    (found, imports)
}

/// Imports from one measure to another, straight or through the door of `measures`.
fn sideways(sources: &[Source]) -> Vec<String> {
    let of_measures: Vec<&Source> = sources.iter().filter(|s| s.room() == "measures").collect();
    let parts: BTreeSet<&str> = of_measures.iter().filter_map(|s| s.part()).collect();
    // What the door hands on, and from which measure.
    let mut handed_on = BTreeMap::new();
    for door in of_measures.iter().filter(|source| source.is_door()) {
        for (_, path) in door
            .paths_from("pub use ")
            .into_iter()
            .chain(door.paths_from("pub use self::"))
        {
            if let [part, .., name] = &path[..] {
                handed_on.insert(name.clone(), part.clone());
            }
        }
    }
    let mut found = Vec::new();
    for source in &of_measures {
        let Some(own) = source.part() else { continue };
        let mut paths = source.paths_from("crate::measures::");
        if source.path.matches('/').count() == 1 {
            paths.extend(source.paths_from("super::"));
        }
        for (line, path) in paths {
            let Some(head) = path.first() else { continue };
            let target = handed_on.get(head).map_or(head.as_str(), String::as_str);
            if parts.contains(target) && target != own {
                found.push(format!(
                    "{}:{line}: the measure {own} imports the measure {target}",
                    source.path
                ));
            }
        }
    }
    found
}

fn walk(folder: &Path, sources: &mut Vec<Source>) {
    let mut entries: Vec<_> = fs::read_dir(folder)
        .expect("a folder of sources")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            walk(&path, sources);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            let text = fs::read_to_string(&path).expect("a source");
            let within = path.strip_prefix(src()).expect("a path within src");
            let parts: Vec<_> = within.iter().map(|part| part.to_string_lossy()).collect();
            sources.push(Source::new(&parts.join("/"), &text));
        }
    }
}

fn house() -> (Rooms, Vec<Source>) {
    let lib = fs::read_to_string(src().join("lib.rs")).expect("src/lib.rs");
    let mut sources = Vec::new();
    walk(&src(), &mut sources);
    (Rooms::of(&lib), sources)
}

#[test]
fn a_room_stands_only_on_rooms_listed_before_it() {
    let (rooms, sources) = house();
    let (found, imports) = breaches(&rooms, &sources);
    assert!(
        rooms.names.len() >= 10,
        "saw only the rooms {:?}",
        rooms.names
    );
    assert!(
        rooms.floor >= 3,
        "saw a floor of only {} rooms",
        rooms.floor
    );
    assert!(imports >= 10, "saw only {imports} imports");
    assert!(found.is_empty(), "\n{}", found.join("\n"));
}

#[test]
fn every_room_is_in_the_list_and_says_what_it_is_for() {
    let (rooms, sources) = house();
    for source in sources.iter().filter(|source| source.is_door()) {
        let room = source.room();
        if ["lib", "main", "cli"].contains(&room) {
            continue;
        }
        assert!(
            rooms.rank(room).is_some(),
            "{} is not in lib.rs",
            source.path
        );
        // Line breaks fall anywhere.
        let said = source.text.replace("//!", "");
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        for words in ["Comes in:", "Goes out:", "Not here:"] {
            assert!(said.contains(words), "{}: no `{words}`", source.path);
        }
    }
}

#[test]
fn the_guide_for_developers_lists_the_rooms_in_their_order() {
    let (rooms, _) = house();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md");
    let guide = fs::read_to_string(path).expect("DEVELOPERS.md");
    let listed: Vec<String> = guide
        .lines()
        .skip_while(|line| !line.starts_with("## The rooms"))
        .take_while(|line| !line.starts_with("## Who"))
        .filter_map(|line| line.strip_prefix("| `")?.split_once('`'))
        .map(|(room, _)| {
            room.trim_end_matches(".rs")
                .trim_end_matches('/')
                .to_owned()
        })
        .filter(|room| room != "main")
        .collect();
    assert_eq!(listed, rooms.names);
}

#[test]
fn the_guide_for_developers_says_why_each_crate_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |name| fs::read_to_string(root.join(name)).expect(name);
    let manifest: toml::Table = toml::from_str(&read("Cargo.toml")).expect("Cargo.toml");
    let guide = read("DEVELOPERS.md");
    let mut seen = 0;
    for kind in ["dependencies", "dev-dependencies"] {
        let Some(crates) = manifest.get(kind).and_then(toml::Value::as_table) else {
            continue;
        };
        for name in crates.keys() {
            seen += 1;
            let named = format!("`{name}`");
            let row = guide
                .lines()
                .any(|l| l.starts_with('|') && l.contains(&named));
            assert!(row, "DEVELOPERS.md does not say why {name} is there");
        }
    }
    assert!(seen > 0, "saw no crates");
}

#[test]
fn the_floor_knows_nothing_of_the_trade() {
    let (rooms, sources) = house();
    let mut looked_at = 0;
    for source in &sources {
        let Some(rank) = rooms.rank(source.room()).filter(|rank| *rank < rooms.floor) else {
            continue;
        };
        looked_at += 1;
        // The texts of the doubts speak to the maker; their names do not.
        let text = match rooms.names[rank].as_str() {
            "doubts" => without_texts(&source.code),
            _ => source.text.clone(),
        };
        for (at, line) in text.lines().enumerate() {
            let line = line.to_lowercase();
            for word in TRADE_WORDS {
                let bare = line.replace("oystermark", "");
                assert!(!bare.contains(word), "{}:{}: `{word}`", source.path, at + 1);
            }
        }
    }
    assert!(looked_at >= 4, "saw only {looked_at} files of the floor");
}

#[test]
fn every_fault_has_a_name_and_texts() {
    let names: BTreeSet<_> = Fault::ALL.iter().map(|fault| fault.name()).collect();
    assert!(!names.is_empty());
    assert_eq!(names.len(), Fault::ALL.len(), "two faults share a name");
    for fault in Fault::ALL {
        let name = fault.name();
        assert!(
            name.chars().all(|c| c.is_ascii_lowercase() || c == '_'),
            "{name}"
        );
        assert!(
            !fault.short().is_empty() && !fault.short().ends_with('.'),
            "{name}"
        );
        assert!(
            fault.long().ends_with('.') && fault.long().len() > 10,
            "{name}"
        );
        assert_eq!(serde_json::to_value(fault).expect("a name"), name);
    }
}

#[test]
fn the_rules_notice_a_breach() {
    let rooms = Rooms::of(
        "// The floor: any picture.\npub mod raster;\n// The way.\npub mod plate;\npub mod measures;\npub mod report;\n",
    );
    assert_eq!((rooms.names.len(), rooms.floor), (4, 1));
    let sources = [
        Source::new(
            "raster/mod.rs",
            "use std::io;\n// crate::plate may be named here\nlet x = crate::plate::Plate;",
        ),
        Source::new(
            "plate/mod.rs",
            "use super::report::Report;\nmod tests { use super::*; }",
        ),
        Source::new(
            "plate/find.rs",
            "use crate::{\n raster::Grid,\n report::{Report, line},\n};\nuse super::super::raster;",
        ),
        Source::new(
            "measures/mod.rs",
            "mod tone;\npub use tone::{Histogram, Tone};",
        ),
        Source::new(
            "measures/tone.rs",
            "use crate::raster::Grid;\nuse super::fog::Fog;",
        ),
        Source::new(
            "measures/fog.rs",
            "use super::Tone;\nuse crate::measures::{fog, tone};\nlet s = \"//\"; crate::report::x();",
        ),
        Source::new(
            "report/mod.rs",
            "use crate::{measures::Tone, plate::Plate};",
        ),
    ];
    let (mut found, imports) = breaches(&rooms, &sources);
    found.sort();
    assert_eq!(
        found,
        [
            "measures/fog.rs:1: the measure fog imports the measure tone",
            "measures/fog.rs:2: the measure fog imports the measure tone",
            "measures/fog.rs:3: measures imports report, which is listed after it",
            "measures/tone.rs:2: the measure tone imports the measure fog",
            "plate/find.rs:1: plate imports report, which is listed after it",
            "plate/find.rs:5: super::super is not used",
            "plate/mod.rs:1: plate imports report, which is listed after it",
            "raster/mod.rs:3: raster imports plate, which is listed after it",
        ]
    );
    assert_eq!(imports, 11);
}
