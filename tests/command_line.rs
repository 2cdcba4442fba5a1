//! The command line as a user meets it: what it says of files and words that do not fit, and how
//! it keeps what it says short.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{complaint, run};

/// Each file that is too large is told by what it was taken for.
#[test]
fn a_huge_file_is_told_by_what_it_was_to_be() {
    let folder = tempfile::tempdir().unwrap();
    let huge = folder.path().join("huge");
    std::fs::File::create(&huge).unwrap().set_len(64 * 1024 * 1024 + 1).unwrap();
    let huge = huge.to_str().unwrap();
    let keel = "fixtures/hosts/keel.json";
    for (arguments, word, not) in [
        (["decode", huge].as_slice(), "memory image", "capture"),
        (&["survey", "--from", huge], "capture", "memory image"),
        (&["survey", "--from", keel, "--site", huge], "site file", "capture"),
    ] {
        let output = run(arguments);
        let said = complaint(&output);
        assert_eq!(output.status.code(), Some(1), "{said}");
        assert!(said.contains("larger than 64 MiB"), "{said}");
        assert!(said.contains(word) && !said.contains(not), "{said}");
    }
}
