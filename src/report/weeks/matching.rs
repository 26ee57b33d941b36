//! Which sources of different nights are one: by their traits, as known noises are recognised, whatever their
//! strength. Two that one night tells apart stay apart.

use crate::contrast::Character;
use crate::findings::known_noise::{Signature, resembling};

use super::night::{HeardSource, Night};

/// What is kept of how a source sounded, besides the first time. Chosen: it may change slowly through the year, and
/// each takes its time to be compared.
const KEPT: usize = 3;

/// A source of the weeks: which source of which night it is.
pub(super) struct Matched {
    /// Places of the night and of the source in it.
    pub(super) heard: Vec<(usize, usize)>,
    pub(super) known: Option<String>,
    /// Places of other sources that it resembled as well.
    pub(super) may_be: Vec<usize>,
    signatures: Vec<Signature>,
}

/// The sources of all nights, in the order in which they first came, and how many could not be known by anything.
pub(super) fn matched(nights: &[Night]) -> (Vec<Matched>, usize) {
    let mut all: Vec<Matched> = Vec::new();
    let mut untold = 0;
    for (place, night) in nights.iter().enumerate() {
        let mut taken = vec![None; night.sources.len()];
        let mut wishes: Vec<(f64, usize, usize)> = Vec::new();
        let known: Vec<Vec<Signature>> = all.iter().map(|one| one.signatures.clone()).collect();
        for (at, source) in night.sources.iter().enumerate() {
            if let Some(name) = &source.known
                && let Some(group) = all.iter().position(|one| one.known.as_ref() == Some(name))
            {
                // By name before any by traits.
                wishes.push((2.0, at, group));
            }
            let Some(signature) = &source.signature else { continue };
            let named = resembling(signature, &known);
            let may = named.named().iter().filter(|one| may_be_one(source, &all[one.known]));
            wishes.extend(may.map(|one| (one.resemblance, at, one.known)));
        }
        wishes.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
        for (_, at, group) in &wishes {
            if taken[*at].is_none() && !taken.contains(&Some(*group)) {
                taken[*at] = Some(*group);
            }
        }
        for (at, source) in night.sources.iter().enumerate() {
            if !source.character.is_a_noise() && source.known.is_none() {
                continue;
            }
            let group = match taken[at] {
                Some(group) => group,
                None if source.signature.is_none() && source.known.is_none() => {
                    untold += 1;
                    continue;
                }
                None => {
                    all.push(Matched {
                        heard: Vec::new(),
                        known: None,
                        may_be: Vec::new(),
                        signatures: Vec::new(),
                    });
                    all.len() - 1
                }
            };
            let others = wishes.iter().filter(|wish| wish.0 < 2.0 && wish.1 == at && wish.2 != group);
            // One that this night tells apart is another one.
            let others: Vec<usize> = others.map(|wish| wish.2).filter(|g| !taken.contains(&Some(*g))).collect();
            let one = &mut all[group];
            one.heard.push((place, at));
            one.known = one.known.take().or_else(|| source.known.clone());
            others.into_iter().for_each(|other| {
                if !one.may_be.contains(&other) {
                    one.may_be.push(other);
                }
            });
            one.signatures.extend(source.signature.clone());
            if one.signatures.len() > 1 + KEPT {
                one.signatures.remove(1);
            }
        }
    }
    (all, untold)
}

/// Names keep apart what traits would join.
fn may_be_one(source: &HeardSource, group: &Matched) -> bool {
    source.known.as_ref().zip(group.known.as_ref()).is_none_or(|(a, b)| a == b)
}

impl Matched {
    /// Whether it is even hash throughout.
    pub(super) fn is_plain(&self) -> bool {
        !self.signatures.is_empty() && self.known.is_none() && self.signatures.iter().all(Signature::is_plain)
    }

    /// The kind that most nights have; the first of those that are equal.
    pub(super) fn character(&self, nights: &[Night]) -> Character {
        let kinds: Vec<Character> =
            self.heard.iter().map(|(night, at)| nights[*night].sources[*at].character).collect();
        let count = |kind: Character| kinds.iter().filter(|other| **other == kind).count();
        let most = kinds.iter().map(|kind| count(*kind)).max().unwrap_or(0);
        kinds.iter().copied().find(|kind| count(*kind) == most).unwrap_or(Character::Unclear)
    }
}
