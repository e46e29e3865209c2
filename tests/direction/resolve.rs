//! From a path in the source to all that it names on the way: through `crate`, `self`, `super`, imports, renames, globs and
//! re-exports.

use super::collect::{Map, Segments};

/// What a path leads to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Target {
    /// Something of this crate, from its root.
    Here(Segments),
    /// Something of another crate.
    Elsewhere(Segments),
}

/// Imports that go round in a circle are followed no further.
const DEEPEST: usize = 16;

impl Map {
    /// All that a path standing in `module` touches: where it points, and where re-exports on the way take it.
    pub(super) fn targets(&self, module: &[String], path: &[String], leading: bool) -> Vec<Target> {
        let mut found = Vec::new();
        self.follow(module, path, leading, 0, &mut found);
        found
    }

    fn follow(&self, module: &[String], path: &[String], leading: bool, depth: usize, found: &mut Vec<Target>) {
        let Some((first, rest)) = path.split_first() else { return };
        if depth > DEEPEST {
            return;
        }
        match first.as_str() {
            _ if leading => found.push(Target::Elsewhere(path.to_vec())),
            "crate" | "seedclock" => self.walk(Vec::new(), rest, depth, found),
            "self" => self.walk(module.to_vec(), rest, depth, found),
            "super" => {
                let parent = &module[..module.len().saturating_sub(1)];
                if rest.first().is_some_and(|next| next == "super") {
                    self.follow(parent, rest, false, depth + 1, found);
                } else {
                    self.walk(parent.to_vec(), rest, depth, found);
                }
            }
            _ if self.holds(module, first) => self.walk(module.to_vec(), path, depth, found),
            _ => {
                if !self.through_imports(module, path, depth, found) {
                    found.push(Target::Elsewhere(path.to_vec()));
                }
            }
        }
    }

    /// Goes down from a module; where the next name is none of its own, its imports and globs are followed.
    fn walk(&self, mut module: Segments, path: &[String], depth: usize, found: &mut Vec<Target>) {
        found.push(Target::Here(module.iter().chain(path).cloned().collect()));
        for (at, name) in path.iter().enumerate() {
            let mut child = module.clone();
            child.push(name.clone());
            if self.modules.contains_key(&child) {
                module = child;
            } else {
                self.through_imports(&module, &path[at..], depth, found);
                return;
            }
        }
    }

    /// Follows a name that a module has by an import or a glob; says whether it has it so.
    fn through_imports(&self, module: &[String], path: &[String], depth: usize, found: &mut Vec<Target>) -> bool {
        let Some(here) = self.modules.get(module) else { return false };
        let (Some(name), rest) = (path.first(), path.get(1..).unwrap_or_default()) else { return false };
        if depth > DEEPEST || here.items.contains(name) {
            return false;
        }
        let mut known = false;
        for import in here.imports.iter().filter(|import| import.name == *name) {
            known = true;
            // `use chrono;` brings a name that stands for itself.
            let itself = import.path.len() == 1 && import.path[0] == *name;
            let longer: Segments = import.path.iter().chain(rest).cloned().collect();
            self.follow(module, &longer, import.leading || itself, depth + 1, found);
        }
        for glob in here.globs.iter().filter(|_| !known).collect::<Vec<_>>() {
            let mut bases = Vec::new();
            self.follow(module, glob, false, depth + 1, &mut bases);
            for base in bases {
                if let Target::Here(base) = base
                    && self.modules.contains_key(&base)
                    && base != module
                    && self.offers(&base, name)
                {
                    known = true;
                    self.walk(base, path, depth + 1, found);
                }
            }
        }
        known
    }

    /// A module of its own or an item declares the name.
    fn holds(&self, module: &[String], name: &str) -> bool {
        let child: Segments = module.iter().cloned().chain([name.to_owned()]).collect();
        self.modules.contains_key(&child) || self.modules.get(module).is_some_and(|here| here.items.contains(name))
    }

    /// The name can come out of a module: its own, imported, or perhaps through a glob of its own.
    fn offers(&self, module: &[String], name: &str) -> bool {
        let imported =
            |here: &super::collect::Module| here.imports.iter().any(|import| import.name == name) || !here.globs.is_empty();
        self.holds(module, name) || self.modules.get(module).is_some_and(imported)
    }
}
