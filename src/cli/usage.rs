//! What was most likely meant by arguments that do not fit, beside the parser's own words.

use std::path::Path;

use clap::CommandFactory as _;
use clap::builder::StyledStr;
use clap::error::{ContextKind, ContextValue, Error, ErrorKind};

use crate::cli::Arguments;
use crate::render::clean;

/// The error, with a tip where one can be given.
pub fn advised(mut error: Error) -> Error {
    if let Some(tip) = tip(&error) {
        let tip = StyledStr::from(clean(&tip).into_owned());
        error.insert(ContextKind::Suggested, ContextValue::StyledStrs(vec![tip]));
    }
    error
}

fn tip(error: &Error) -> Option<String> {
    let named = |kind| match error.get(kind) {
        Some(ContextValue::String(text)) => Some(text.as_str()),
        _ => None,
    };
    match error.kind() {
        ErrorKind::InvalidSubcommand => file_tip(named(ContextKind::InvalidSubcommand)?),
        ErrorKind::ArgumentConflict
            if named(ContextKind::InvalidArg)?.starts_with("--from")
                && named(ContextKind::PriorArg).is_none_or(|prior| prior.starts_with("--from")) =>
        {
            Some(
                "--from takes one capture; for several put them into one folder, and give that"
                    .into(),
            )
        }
        ErrorKind::UnknownArgument => {
            let option = named(ContextKind::InvalidArg)?;
            let words: Vec<String> = std::env::args().collect();
            let command = Arguments::command();
            let here = |name: &str| words.iter().any(|word| word == name);
            if option == "--from" && here("compare") {
                return Some(
                    "compare takes its captures by name: linkwright compare THEN.json NOW.json"
                        .into(),
                );
            }
            let long = option.strip_prefix("--")?;
            let has = |one: &&clap::Command| {
                one.get_arguments().any(|argument| argument.get_long() == Some(long))
            };
            let names: Vec<&str> =
                command.get_subcommands().filter(has).map(clap::Command::get_name).collect();
            (!names.is_empty()).then(|| format!("{option} is an option of: {}", names.join(", ")))
        }
        _ => None,
    }
}

/// What a word that is a file, or a folder, was most likely meant for.
fn file_tip(word: &str) -> Option<String> {
    let path = Path::new(word);
    let kind = if path.is_dir() { "folder" } else { "file" };
    path.exists().then(|| format!("{word} is a {kind}: linkwright survey --from {word}"))
}
