//! What both ends say of the light between them: the loss of each lane, in and out.

use crate::calc::path_loss::{self, Loss};
use crate::chain::far;
use crate::diagnose::view::View;
use crate::quantity::Milliwatts;
use crate::snapshot::Fact;

/// Which way the light goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// From the far end to here.
    In,
    /// From here to the far end.
    Out,
}

/// The light of one lane in one direction, as the two ends read it.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    /// Direction.
    pub way: Way,
    /// Lane, by the number at the receiving end.
    pub lane: u8,
    /// What is sent.
    pub sent: Milliwatts,
    /// What arrives.
    pub received: Milliwatts,
    /// What is lost; none where one of them is not known to be light.
    pub loss: Option<Loss>,
}

/// Every lane whose two readings are known, the way in first. Lanes are paired by their order.
pub fn paths(view: &View<'_>) -> Vec<Path> {
    let Some(module) = view.optical_module() else { return Vec::new() };
    let mut all = Vec::new();
    for (near, far) in module.used_lanes().zip(&view.far.lanes) {
        let ways =
            [(Way::In, &far.tx_power, &near.rx_power), (Way::Out, &near.tx_power, &far.rx_power)];
        for (way, sent, received) in ways {
            if let (Fact::Known(sent), Fact::Known(received)) = (sent, received) {
                let (here, there) =
                    if way == Way::In { (received, sent) } else { (sent, received) };
                let both = [view.lit(&Fact::Known(*here)), far::lit(&Fact::Known(*there))];
                let loss = path_loss::between(*sent, *received)
                    .filter(|_| both.iter().all(|lit| *lit == Fact::Known(true)));
                all.push(Path { way, lane: near.number, sent: *sent, received: *received, loss });
            }
        }
    }
    all.sort_by_key(|path| path.way == Way::Out);
    all
}
