//! For tests: the kernel's headers as they are installed here (linux-libc-dev, which a C
//! compiler brings along).

use std::collections::HashMap;
use std::fs;

/// Text of a header.
pub(super) fn header(name: &str) -> String {
    let path = format!("/usr/include/linux/{name}");
    fs::read_to_string(&path).unwrap_or_else(|error| {
        panic!("{path}: {error}. These tests check against it: install linux-libc-dev")
    })
}

/// Value of a member of an `enum`: a number, another member of the same `enum`, or one more
/// than the member before.
pub(super) fn enumerated(text: &str, member: &str) -> u32 {
    let mut known: HashMap<String, u32> = HashMap::new();
    let mut value = 0;
    for line in text.lines() {
        let line = line.trim();
        if line.starts_with("enum") {
            known.clear();
            value = 0;
            continue;
        }
        let name: String =
            line.chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').collect();
        if name.is_empty()
            || !name.chars().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit() || c == '_')
        {
            continue;
        }
        if let Some((_, told)) = line.split_once('=') {
            let told = told.split([',', '/']).next().unwrap_or_default().trim();
            value = told.parse().ok().or_else(|| known.get(told).copied()).unwrap_or(value);
        }
        if name == member {
            return value;
        }
        known.insert(name, value);
        value += 1;
    }
    panic!("{member} is not in the header");
}

/// Members of an `enum` or `struct` in order, from the line that opens it.
pub(super) fn members(text: &str, opening: &str) -> Vec<String> {
    let (_, rest) = text.split_once(opening).unwrap_or_else(|| panic!("no {opening} in header"));
    let (inner, _) = rest.split_once("};").unwrap_or_else(|| panic!("{opening} does not end"));
    let mut comment = false;
    let mut names = Vec::new();
    for line in inner.lines() {
        comment |= line.contains("/*") && !line.contains("*/");
        let line = line.split("/*").next().unwrap_or_default();
        let words = line.split([' ', '\t', ',', ';', '=']).filter(|word| !word.is_empty());
        if !comment {
            names.extend(words.filter(|word| !word.starts_with("__")).take(1).map(str::to_owned));
        }
        comment &= !line.contains("*/");
    }
    names
}

/// Text of a `#define`.
pub(super) fn define(text: &str, name: &str) -> String {
    text.lines()
        .filter_map(|line| line.strip_prefix("#define "))
        .find_map(|rest| rest.strip_prefix(name))
        .map(|rest| rest.trim().to_owned())
        .unwrap_or_else(|| panic!("{name} is not in the header"))
}
