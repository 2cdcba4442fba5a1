//! How far a module's word can be taken: what each contradiction makes doubtful.
//!
//! In: nothing; data. Out: kinds of doubt and the part of the module's word that each taints.
//! [`crate::diagnose`] lowers the certainty of whatever rests on a tainted part, and calls no link
//! healthy whose readings are tainted. A doubt is shown wherever the module is.

use serde::{Serialize, Serializer};

/// A part of what a module says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Word {
    /// What it is: interface types, rates, medium, wavelength.
    Identity,
    /// The limits that it stores.
    Limits,
    /// What it measures and reports now.
    Readings,
}

impl Word {
    /// Plain English, for a sentence.
    pub fn text(self) -> &'static str {
        match self {
            Self::Identity => "what the module says it is",
            Self::Limits => "the module's own limits",
            Self::Readings => "the module's readings",
        }
    }
}

/// What is wrong with a module's word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DoubtKind {
    /// A checksum over the identity does not match.
    ChecksumWrong,
    /// A checksum over the limits does not match.
    LimitsChecksumWrong,
    /// The interface type is for multimode fibre, the wavelength is a long one.
    ShortReachTypeWithLongWavelength,
    /// The interface type is for single-mode fibre, the wavelength is a short one.
    LongReachTypeWithShortWavelength,
    /// The nominal rate is too low for the interface type.
    NominalRateContradictsType,
    /// Two copies of the identifier differ.
    IdentifiersDiffer,
    /// A module for copper claims diagnostics of light.
    CopperTypeWithDiagnostics,
    /// Limits that cannot be. They are not used; those beside them are doubted.
    ThresholdsImpossible,
    /// A reading that cannot be.
    ReadingImpossible,
    /// A transmitter that is said to be switched off, and to send.
    SendsThoughSwitchedOff,
    /// Calibration makes a reading less than nothing.
    ReadingBelowZero,
    /// Calibrated both ways or neither.
    CalibrationContradictory,
    /// Calibration constants that cannot be used; no reading is.
    CalibrationUnusable,
    /// Pages that read alike: the driver or module ignores page numbers.
    PagesIdentical,
    /// A page that nothing answered for; nothing of it is used.
    PageSilent,
    /// The loss-of-signal pin has both senses; its state is not used.
    LossOfSignalSenseContradictory,
}

impl DoubtKind {
    /// Name in JSON, and the parts of the module's word that cannot be relied on.
    const fn row(self) -> (&'static str, &'static [Word]) {
        use Word::{Identity, Limits, Readings};
        match self {
            Self::ChecksumWrong => ("checksum-wrong", &[Identity]),
            Self::LimitsChecksumWrong => ("limits-checksum-wrong", &[Limits]),
            Self::ShortReachTypeWithLongWavelength => {
                ("short-reach-type-with-long-wavelength", &[Identity])
            }
            Self::LongReachTypeWithShortWavelength => {
                ("long-reach-type-with-short-wavelength", &[Identity])
            }
            Self::NominalRateContradictsType => ("nominal-rate-contradicts-type", &[Identity]),
            Self::IdentifiersDiffer => ("identifiers-differ", &[Identity]),
            Self::CopperTypeWithDiagnostics => ("copper-type-with-diagnostics", &[Identity]),
            Self::ThresholdsImpossible => ("thresholds-impossible", &[Limits]),
            Self::ReadingImpossible => ("reading-impossible", &[Readings]),
            Self::SendsThoughSwitchedOff => ("sends-though-switched-off", &[Readings]),
            Self::ReadingBelowZero => ("reading-below-zero", &[Readings]),
            Self::CalibrationContradictory => ("calibration-contradictory", &[Limits, Readings]),
            Self::CalibrationUnusable => ("calibration-unusable", &[Limits, Readings]),
            // What would stand on such pages is taken out, readings too, and lacking readings keep
            // a link from being healthy by themselves; readings in lower memory are not paged.
            Self::PagesIdentical => ("pages-identical", &[Limits]),
            Self::PageSilent => ("page-silent", &[Limits]),
            Self::LossOfSignalSenseContradictory => ("loss-of-signal-sense-contradictory", &[]),
        }
    }

    /// Name in JSON (`checksum-wrong`).
    pub fn name(self) -> &'static str {
        self.row().0
    }

    /// What cannot be relied on.
    pub fn taints(self) -> &'static [Word] {
        self.row().1
    }
}

impl Serialize for DoubtKind {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

/// A reason not to take a module at its word.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Doubt {
    /// What is wrong.
    pub kind: DoubtKind,
    /// One sentence for people.
    pub text: String,
    /// Where the contradicting fields stand.
    pub source: &'static str,
}
