//! How good a link that runs is, in numbers: what its counters say of bit errors and of FEC, how
//! much it carries, and what light its run costs.
//!
//! In: the [`View`] of a port. Out: [`Numbers`], or why there are none. No verdict rests on them:
//! they tell what was looked at for how long, and what that supports. Arithmetic: [`crate::calc`].
//! Pure.

pub mod correction;
pub mod errors;
pub mod light;
pub mod throughput;

use serde::Serialize;

use crate::diagnose::view::View;
use crate::quantity::BitsPerSecond;
use crate::snapshot::Fact;

pub use correction::Correction;
pub use errors::Errors;
pub use light::Light;
pub use throughput::Throughput;

/// How good a link is. Names are those of the JSON contract (`tests/contract.rs`).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Numbers {
    /// What damaged frames say of the bit-error ratio.
    pub errors: Fact<Errors>,
    /// What FEC counters say of it.
    pub correction: Fact<Correction>,
    /// What the link carries, and what it carries now.
    pub throughput: Throughput,
    /// What the light loses on the way.
    pub light: Fact<Light>,
}

/// The numbers of a link that runs; without carrier or a speed that is known there are none.
pub fn numbers(view: &View<'_>, measured: Option<BitsPerSecond>) -> Fact<Numbers> {
    view.running.clone().map(|running| Numbers {
        errors: errors::look(view, running),
        correction: correction::look(view, running),
        throughput: throughput::look(view, running, measured),
        light: light::look(view),
    })
}

#[cfg(test)]
mod tests;
