//! For tests: the kernel's headers as they are installed here (linux-libc-dev, which a C
//! compiler brings along).

use std::fs;

/// Text of a header.
pub(super) fn header(name: &str) -> String {
    let path = format!("/usr/include/linux/{name}");
    fs::read_to_string(&path).unwrap_or_else(|error| {
        panic!("{path}: {error}. These tests check against it: install linux-libc-dev")
    })
}

/// Value of a member of an `enum` in which every member follows from the one before.
pub(super) fn enumerated(text: &str, member: &str) -> u32 {
    let mut value = 0;
    for line in text.lines() {
        let line = line.trim();
        if line.starts_with("enum") {
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
        if let Some((_, number)) = line.split_once('=') {
            value = number.trim().trim_end_matches(',').parse().unwrap_or(value);
        }
        if name == member {
            return value;
        }
        value += 1;
    }
    panic!("{member} is not in the header");
}

/// Text of a `#define`.
pub(super) fn define(text: &str, name: &str) -> String {
    text.lines()
        .filter_map(|line| line.strip_prefix("#define "))
        .find_map(|rest| rest.strip_prefix(name))
        .map(|rest| rest.trim().to_owned())
        .unwrap_or_else(|| panic!("{name} is not in the header"))
}
