//! The digest's line on what the noise costs a listener.

use crate::contrast::comparison::ContrastResult;
use crate::findings::listening::result::ListeningCost;
use crate::findings::listening::words::{cost_of, watts};
use crate::text::label;

/// Devices named in the line on what is heard.
const DEVICES: usize = 3;

/// "Without remedy, 100 W is heard as: drill charger 4.1 W; pond pump 40 W"; where none was tried, without the first words.
pub(crate) fn digest(contrasts: &[ContrastResult], costs: &[ListeningCost]) -> Option<String> {
    let mut named: Vec<&str> = Vec::new();
    let mut told = Vec::new();
    for c in contrasts.iter().filter(|c| c.is_sound() && c.remedy.is_none()) {
        let power = cost_of(costs, &c.id).and_then(|cost| cost.heard_100_w_as_w);
        if let Some(power) = power.filter(|_| !named.contains(&c.device.as_str())) {
            named.push(&c.device);
            told.push(format!("{} {}", label(&c.device), watts(power)));
        }
    }
    let more = if told.len() > DEVICES { "; ..." } else { "" };
    told.truncate(DEVICES);
    let any_remedy = contrasts.iter().any(|c| c.remedy.is_some());
    let without = if any_remedy { "Without remedy, " } else { "" };
    (!told.is_empty()).then(|| format!("{without}100 W is heard as: {}{more}", told.join("; ")))
}
