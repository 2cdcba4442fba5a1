//! Published limits as typed tables, each row with its source.

pub mod accuracy;
pub mod attenuation;
pub mod cages;
pub mod mau;
pub mod media;
pub mod names;
pub mod private_counters;
pub mod sources;
