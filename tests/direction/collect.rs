//! What the source says: modules with what they declare and import, and every path with where it stands.

use std::collections::{BTreeMap, BTreeSet};

use proc_macro2::Span;
use syn::visit::{self, Visit};

use super::{Source, tokens};

/// Segments of a path or the name of a module within the crate.
pub(super) type Segments = Vec<String>;

/// A name that an import brings into a module, and the path it stands for.
pub(super) struct Import {
    pub(super) name: String,
    pub(super) path: Segments,
    pub(super) leading: bool,
}

/// A module: a file, or a `mod … { }` within one.
#[derive(Default)]
pub(super) struct Module {
    pub(super) imports: Vec<Import>,
    pub(super) globs: Vec<Segments>,
    pub(super) items: BTreeSet<String>,
    /// Built for tests only.
    pub(super) for_tests: bool,
}

/// A path as it stands in the source.
pub(super) struct Reference {
    pub(super) file: String,
    pub(super) line: usize,
    pub(super) module: Segments,
    pub(super) path: Segments,
    pub(super) leading: bool,
    /// An import, not a use of one.
    pub(super) import: bool,
}

/// Everything collected.
#[derive(Default)]
pub(super) struct Map {
    pub(super) modules: BTreeMap<Segments, Module>,
    pub(super) references: Vec<Reference>,
    /// Macros called: file, line, module, last segment of the name.
    pub(super) macros: Vec<(String, usize, Segments, String)>,
    /// Items of `lib.rs` that are no `pub mod name;`: line and file.
    pub(super) not_rooms: Vec<(String, usize)>,
}

/// Parses and collects. A source that does not parse fails the test.
pub(super) fn collect(sources: &[Source]) -> Map {
    let mut map = Map::default();
    for (file, text) in sources {
        let parsed = syn::parse_file(text).unwrap_or_else(|error| panic!("{file} does not parse: {error}"));
        let module = module_of(file);
        map.modules.entry(module.clone()).or_default();
        if file == "src/lib.rs" {
            let stray = parsed.items.iter().filter(|item| !is_room(item));
            map.not_rooms.extend(stray.map(|item| (file.clone(), line(syn::spanned::Spanned::span(item)))));
        }
        Collector { map: &mut map, file, module }.visit_file(&parsed);
    }
    map
}

/// The module that a file makes: `src/store/rows.rs` is store::rows; the program's own file is kept apart as `main`.
fn module_of(file: &str) -> Segments {
    let inner = file.trim_start_matches("src/").trim_end_matches(".rs").trim_end_matches("/mod");
    if inner == "lib" { Vec::new() } else { inner.split('/').map(str::to_owned).collect() }
}

fn is_room(item: &syn::Item) -> bool {
    matches!(item, syn::Item::Mod(room) if room.content.is_none() && matches!(room.vis, syn::Visibility::Public(_)))
}

fn line(span: Span) -> usize {
    span.start().line
}

struct Collector<'a> {
    map: &'a mut Map,
    file: &'a str,
    module: Segments,
}

impl Collector<'_> {
    fn here(&mut self) -> &mut Module {
        self.map.modules.entry(self.module.clone()).or_default()
    }

    fn refer(&mut self, path: Segments, leading: bool, line: usize, import: bool) {
        let (file, module) = (self.file.to_owned(), self.module.clone());
        self.map.references.push(Reference { file, line, module, path, leading, import });
    }

    fn import(&mut self, tree: &syn::UseTree, before: &[String], leading: bool) {
        let with = |ident: &syn::Ident| before.iter().cloned().chain([ident.to_string()]).collect::<Segments>();
        match tree {
            syn::UseTree::Path(path) => self.import(&path.tree, &with(&path.ident), leading),
            syn::UseTree::Group(group) => group.items.iter().for_each(|tree| self.import(tree, before, leading)),
            syn::UseTree::Glob(glob) => {
                self.here().globs.push(before.to_vec());
                self.refer(before.to_vec(), leading, line(syn::spanned::Spanned::span(glob)), true);
            }
            syn::UseTree::Name(name) => self.bring(&name.ident, None, before, leading),
            syn::UseTree::Rename(rename) => self.bring(&rename.ident, Some(&rename.rename), before, leading),
        }
    }

    /// `use a::b` and `use a::b as c`; `use a::{self}` brings a.
    fn bring(&mut self, last: &syn::Ident, renamed: Option<&syn::Ident>, before: &[String], leading: bool) {
        let mut path = before.to_vec();
        if last != "self" || path.is_empty() {
            path.push(last.to_string());
        }
        let name = renamed.map_or_else(|| path.last().cloned().unwrap_or_default(), ToString::to_string);
        self.refer(path.clone(), leading, line(last.span()), true);
        self.here().imports.push(Import { name, path, leading });
    }

    fn declare(&mut self, item: &syn::Item) {
        let name = match item {
            syn::Item::Const(item) => &item.ident,
            syn::Item::Enum(item) => &item.ident,
            syn::Item::Fn(item) => &item.sig.ident,
            syn::Item::Static(item) => &item.ident,
            syn::Item::Struct(item) => &item.ident,
            syn::Item::Trait(item) => &item.ident,
            syn::Item::Type(item) => &item.ident,
            syn::Item::Union(item) => &item.ident,
            _ => return,
        };
        let name = name.to_string();
        self.here().items.insert(name);
    }

    /// `<T>::f` and `<T as Trait>::f` name T too; its path goes on with what follows.
    fn qualified(&mut self, qself: Option<&syn::QSelf>, path: &syn::Path) {
        if let Some(syn::QSelf { ty, position: 0, .. }) = qself
            && let syn::Type::Path(inner) = &**ty
        {
            let joined = inner.path.segments.iter().chain(&path.segments).map(|segment| segment.ident.to_string()).collect();
            self.refer(joined, inner.path.leading_colon.is_some(), line(syn::spanned::Spanned::span(path)), false);
        }
    }

    fn tokens(&mut self, tokens: &proc_macro2::TokenStream) {
        for path in tokens::paths(tokens.clone()) {
            self.refer(path.segments, path.leading, path.line, false);
        }
    }
}

fn for_tests(attributes: &[syn::Attribute]) -> bool {
    let is_test = |attribute: &syn::Attribute| {
        attribute.path().is_ident("cfg") && matches!(&attribute.meta, syn::Meta::List(list) if list.tokens.to_string() == "test")
    };
    attributes.iter().any(is_test)
}

impl<'ast> Visit<'ast> for Collector<'_> {
    fn visit_item(&mut self, item: &'ast syn::Item) {
        self.declare(item);
        visit::visit_item(self, item);
    }

    fn visit_item_mod(&mut self, inner: &'ast syn::ItemMod) {
        for attribute in &inner.attrs {
            self.visit_attribute(attribute);
        }
        self.module.push(inner.ident.to_string());
        self.here().for_tests |= for_tests(&inner.attrs);
        for item in inner.content.iter().flat_map(|content| &content.1) {
            self.visit_item(item);
        }
        self.module.pop();
    }

    fn visit_item_use(&mut self, item: &'ast syn::ItemUse) {
        self.import(&item.tree, &[], item.leading_colon.is_some());
    }

    fn visit_item_extern_crate(&mut self, item: &'ast syn::ItemExternCrate) {
        self.bring(&item.ident, item.rename.as_ref().map(|(_, name)| name), &[], true);
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        let segments = path.segments.iter().map(|segment| segment.ident.to_string()).collect();
        self.refer(segments, path.leading_colon.is_some(), line(syn::spanned::Spanned::span(path)), false);
        visit::visit_path(self, path);
    }

    fn visit_expr_path(&mut self, expression: &'ast syn::ExprPath) {
        self.qualified(expression.qself.as_ref(), &expression.path);
        visit::visit_expr_path(self, expression);
    }

    fn visit_type_path(&mut self, path: &'ast syn::TypePath) {
        self.qualified(path.qself.as_ref(), &path.path);
        visit::visit_type_path(self, path);
    }

    fn visit_macro(&mut self, call: &'ast syn::Macro) {
        if let Some(name) = call.path.segments.last() {
            let called = (self.file.to_owned(), line(name.ident.span()), self.module.clone(), name.ident.to_string());
            self.map.macros.push(called);
        }
        self.tokens(&call.tokens);
        visit::visit_macro(self, call);
    }

    fn visit_attribute(&mut self, attribute: &'ast syn::Attribute) {
        if let syn::Meta::List(list) = &attribute.meta {
            self.tokens(&list.tokens);
        }
        visit::visit_attribute(self, attribute);
    }
}
