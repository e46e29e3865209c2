//! Paths in the tokens of macro calls and attributes, as far as they can be seen there.

use proc_macro2::{Delimiter, TokenStream, TokenTree};

/// A path found among tokens: its segments, whether it began with `::`, and its line.
pub(super) struct TokenPath {
    pub(super) segments: Vec<String>,
    pub(super) leading: bool,
    pub(super) line: usize,
}

/// All paths of two or more segments, those in groups of a `use` among them.
pub(super) fn paths(tokens: TokenStream) -> Vec<TokenPath> {
    let mut found = Vec::new();
    scan(tokens, &[], &mut found);
    found
}

/// Scans tokens; `prefix` is what stood before the braces they stand in.
fn scan(tokens: TokenStream, prefix: &[String], found: &mut Vec<TokenPath>) {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    let mut at = 0;
    while at < tokens.len() {
        let leading = prefix.is_empty() && colons(&tokens, at);
        let first = if leading { at + 2 } else { at };
        let Some(TokenTree::Ident(ident)) = tokens.get(first) else {
            if let TokenTree::Group(group) = &tokens[at] {
                scan(group.stream(), prefix, found);
            }
            at += 1;
            continue;
        };
        let line = ident.span().start().line;
        let mut segments = prefix.to_vec();
        segments.push(ident.to_string());
        let mut next = first + 1;
        while colons(&tokens, next) {
            match tokens.get(next + 2) {
                Some(TokenTree::Ident(ident)) => segments.push(ident.to_string()),
                Some(TokenTree::Group(group)) if group.delimiter() == Delimiter::Brace => scan(group.stream(), &segments, found),
                // A turbofish or a star ends what can be seen.
                _ => break,
            }
            next += 3;
        }
        if segments.len() > 1 {
            found.push(TokenPath { segments, leading, line });
        }
        at = next;
    }
}

fn colons(tokens: &[TokenTree], at: usize) -> bool {
    let colon = |at: usize| matches!(tokens.get(at), Some(TokenTree::Punct(punct)) if punct.as_char() == ':');
    colon(at) && colon(at + 1)
}
