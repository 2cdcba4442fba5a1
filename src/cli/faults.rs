//! `faults`: the catalogue, readable offline.

use anyhow::bail;
use clap::Args;

use crate::cli::common::nearest;
use crate::cli::{Out, Outcome};
use crate::faults::{CATALOGUE, find};
use crate::render::page;

/// The faults that Linkwright knows: a list, or one fault's page
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  linkwright faults peer-port-limited")]
pub struct Arguments {
    /// Fault to read about
    #[arg(value_name = "NAME")]
    name: Option<String>,
}

/// Runs it.
///
/// # Errors
/// No fault has that name.
pub fn run(arguments: &Arguments, out: &mut Out) -> anyhow::Result<Outcome> {
    match &arguments.name {
        None => out.write(&page::list())?,
        Some(name) => {
            // Names are written with hyphens, in small letters.
            let word = name.trim().to_lowercase().replace([' ', '_'], "-");
            match find(&word) {
                Some(fault) => out.write(&page::on_terminal(fault, out.style))?,
                None => {
                    let near = alike(&word).join(", or ");
                    let near =
                        if near.is_empty() { near } else { format!("Did you mean {near}? ") };
                    bail!("there is no fault {name:?}. {near}List them with: linkwright faults")
                }
            }
        }
    }
    Ok(Outcome::NOTHING)
}

/// The faults most likely meant: the one that is spelt nearly so; else those with most of the
/// word's parts in their names.
fn alike(word: &str) -> Vec<&'static str> {
    const FEW: usize = 3;
    let names = || CATALOGUE.iter().map(|fault| fault.name);
    if let Some(near) = nearest(word, names().map(|name| (name, name))) {
        return vec![near];
    }
    let common = |name: &str| {
        name.split('-').filter(|part| part.len() > 2 && word.split('-').any(|w| w == *part)).count()
    };
    let most = names().map(common).max().filter(|most| *most > 0);
    names().filter(|name| Some(common(name)) == most).take(FEW).collect()
}
