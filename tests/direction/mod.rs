//! Who may know whom: the source is parsed, every path in it is followed to what it names, and the rules of `DEVELOPERS.md`
//! are held. That the test itself can fail is shown by planted faults.

mod collect;
mod planted;
mod resolve;
mod rules;
mod tokens;

use std::path::Path;

/// A source file: its path from the package's root, and its text.
type Source = (String, String);

/// All faults of a set of source files, as `file:line: sentence`.
fn faults(sources: &[Source]) -> Vec<String> {
    let map = collect::collect(sources);
    let mut faults = rules::faults(&map);
    faults.sort();
    faults.dedup();
    faults
}

fn read(folder: &Path, root: &Path, sources: &mut Vec<Source>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            read(&path, root, sources);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            let name = path.strip_prefix(root).unwrap().to_str().unwrap().replace('\\', "/");
            sources.push((name, std::fs::read_to_string(&path).unwrap()));
        }
    }
}

#[test]
fn every_room_knows_only_the_rooms_it_may() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut sources = Vec::new();
    read(&root.join("src"), root, &mut sources);
    assert!(sources.len() > 20, "only {} source files were found", sources.len());
    let faults = faults(&sources);
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}
