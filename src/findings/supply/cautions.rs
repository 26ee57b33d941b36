//! What to be careful with, told from the words of devices and remedies that were compared.

use crate::cautions;
use crate::findings::basis::Basis;
use crate::findings::supply::result::Caution;

/// The cautions of every device with comparisons, in their order, each once.
pub fn cautions(basis: &Basis<'_>) -> Vec<Caution> {
    let mut found: Vec<Caution> = Vec::new();
    for contrast in basis.results {
        for about in cautions::called_for(&contrast.device, contrast.remedy.as_deref()) {
            let (device, about, Some(text)) = (&contrast.device, about.word(), about.in_report()) else { continue };
            if !found.iter().any(|one| one.device == *device && one.about == about) {
                found.push(Caution { device: device.clone(), about: about.to_owned(), text: text.to_owned() });
            }
        }
    }
    found
}
