//! Which episodes of a night are one noise, told once as a source.
//!
//! One noise is what resembles one known noise; else what is alike in itself and equally strong at the antenna: a
//! device has one power all night, however the band moves, and can't be on twice at once. What always comes and
//! goes together is one as well. What a touched control may have made is none of others. What is not claimed to be a
//! noise of some kind has no source. Not here: what the noises are like (`findings::known_noise`), how strong each is
//! (`joint`), periods (`recurrence`).

use crate::contrast::Character;
use crate::contrast::excess::is_too_wide;
use crate::findings::known_noise::{Signature, resemblance};
use crate::night::compared::Compared;
use crate::night::joint::Ratio;
use crate::night::recurrence::pattern::{Pattern, Period, Span, pattern};
use crate::night::result::{Regularity, Source, covered_s};
use crate::signal::spectrum::statistics::median;
use crate::units::{SIGMAS_OF_95, ratio_of_db};
use crate::warning::Trust;

/// A device's own power varies by this share from coming to coming (chosen: 0.3 dB: warm or cold, mains high or
/// low).
const POWER_VARIES: f64 = 0.07;
/// A power that is known no better tells of no device (chosen: 1.5 dB).
const KNOWN_SD_LN: f64 = 0.35;
/// Comings are one noise whose power and traits (−2 ln of their resemblance) differ by no more than so many standard
/// deviations, squared. Chosen: three, common practice.
const ONE_NOISE: f64 = 9.0;
/// What traits that tell nothing count for, and what one trait counts for at most (chosen): twice what a device
/// varies by itself; and as much as parts two groups whatever else is alike.
const UNKNOWN: f64 = 4.0;
const MOST_APART: f64 = 36.0;
/// What a power is known to where only the comparison tells it (chosen).
const USUAL_SD_LN: f64 = 0.12;
/// However often it was measured, its excess is known no nearer than so many dB (chosen: what the level's own
/// estimate is off by, as in `compared::over_quiet`).
const LEAST_REACH_DB: f64 = 0.1;
/// Starts and ends nearer than this are at once: each is known to a second or two.
const AT_ONCE_S: f64 = 4.0;

/// An episode that is claimed to be a noise.
struct Coming<'a> {
    place: usize,
    one: &'a Compared,
    /// Natural logarithm of its own power, and its standard deviation.
    ln_power: Option<(f64, f64)>,
}

/// The sources in the order in which they first came.
pub(crate) fn sources(episodes: &[Compared], searched_s: f64) -> Vec<Source> {
    let claimed = episodes.iter().enumerate().filter(|(_, one)| is_claimed(one));
    let comings: Vec<Coming<'_>> = claimed.map(|(place, one)| Coming::of(place, one)).collect();
    let mut groups = together(alike(comings));
    groups.sort_by_key(|group| group[0].place);
    let spans: Vec<Vec<(f64, f64)>> = groups.iter().map(|group| spans(group)).collect();
    let overlap = |a: &[(f64, f64)], b: &[(f64, f64)]| a.iter().any(|x| b.iter().any(|y| x.0 < y.1 && y.0 < x.1));
    let id = |at: usize| format!("n{}", at + 1);
    let all = groups.iter().enumerate().filter_map(|(at, group)| {
        let beside = (0..groups.len()).filter(|&other| other != at && overlap(&spans[at], &spans[other])).map(id);
        source(id(at), group, beside.collect(), searched_s)
    });
    all.collect()
}

/// Whether an episode is told to be a noise of some kind.
fn is_claimed(one: &Compared) -> bool {
    let c = &one.contrast;
    let is_wide = one.over_quiet.map_or(c.is_too_wide(), |excess| is_too_wide([excess.ci95.0, excess.ci95.1]));
    !c.is_void() && c.character.is_a_noise() && !is_wide
}

impl<'a> Coming<'a> {
    fn of(place: usize, one: &'a Compared) -> Self {
        let by_level = one.own.map(|Ratio { value, sd_ln }| (value.ln(), sd_ln));
        let of_lines = || Some((ratio_of_db(one.contrast.added_level_db?).ln(), USUAL_SD_LN));
        let ln_power = if one.stands_in_lines() { of_lines() } else { by_level.or_else(of_lines) };
        Self { place, one, ln_power }
    }

    fn known(&self) -> Option<&str> {
        Some(self.one.contrast.known_noise.as_ref()?.one()?.name.as_str())
    }

    fn span(&self) -> (f64, f64) {
        (self.one.spotted.start_s, self.one.spotted.end_s)
    }

    fn overlaps(&self, other: &Self) -> bool {
        let ((a, b), (c, d)) = (self.span(), other.span());
        a < d && c < b
    }

    /// How far apart two comings are, as a squared distance in standard deviations; `None` for those that can't be
    /// one noise.
    fn apart(&self, other: &Self) -> Option<f64> {
        let is_open_ended = self.one.is_open_ended() || other.one.is_open_ended();
        if self.overlaps(other) || self.known() != other.known() || is_open_ended {
            return None;
        }
        if self.known().is_some() {
            return Some(0.0);
        }
        let ((a, a_sd), (b, b_sd)) = (self.ln_power?, other.ln_power?);
        if a_sd.max(b_sd) > KNOWN_SD_LN {
            return None;
        }
        let sigmas = (a - b).abs() / a_sd.hypot(b_sd).hypot(POWER_VARIES);
        let kinds = [self.one.contrast.character, other.one.contrast.character];
        let both = self.one.signature.as_ref().zip(other.one.signature.as_ref());
        // Where the traits tell nothing, the kind has to.
        let unlike = match both.and_then(|(a, b)| resemblance(a, b)) {
            Some(found) if kinds[0] == kinds[1] || kinds.contains(&Character::Mixed) => {
                -2.0 * found.value.max(f64::MIN_POSITIVE).ln()
            }
            None if kinds[0] == kinds[1] => UNKNOWN,
            _ => MOST_APART,
        };
        Some((sigmas * sigmas).min(MOST_APART) + unlike.min(MOST_APART))
    }
}

/// Comings grouped: the nearest groups are joined first, by the mean distance of their members, as long as those are
/// one noise on the whole and none of them can't be (average linkage; common practice). Found by chains from neighbour
/// to nearest neighbour, which join the same groups in quadratic time. Source: F. Murtagh, The Computer Journal 26,
/// 354, 1983.
fn alike(comings: Vec<Coming<'_>>) -> Vec<Vec<Coming<'_>>> {
    let count = comings.len();
    let apart = |a: usize, b: usize| comings[a].apart(&comings[b]).unwrap_or(f64::INFINITY);
    let mut distance: Vec<Vec<f64>> = (0..count).map(|a| (0..count).map(|b| apart(a, b)).collect()).collect();
    let mut groups: Vec<Vec<Coming<'_>>> = comings.into_iter().map(|coming| vec![coming]).collect();
    // Groups that may still be joined.
    let mut open: Vec<usize> = (0..count).collect();
    let mut chain: Vec<usize> = Vec::new();
    while let Some(tip) = chain.pop().or_else(|| open.first().copied()) {
        let before = chain.last().copied();
        // Of equally near ones that before it, or the chain would go in circles.
        let rank = |other: usize| (distance[tip][other], before != Some(other));
        let others = open.iter().copied().filter(|&other| other != tip);
        let nearest = others.min_by(|&a, &b| {
            let ((near_a, new_a), (near_b, new_b)) = (rank(a), rank(b));
            near_a.total_cmp(&near_b).then(new_a.cmp(&new_b))
        });
        match nearest.filter(|&near| distance[tip][near] <= ONE_NOISE) {
            None => open.retain(|&group| group != tip),
            Some(near) if before == Some(near) => {
                chain.pop();
                let (to, from) = (tip.min(near), tip.max(near));
                let (here, there) = (groups[to].len() as f64, groups[from].len() as f64);
                let moved = std::mem::take(&mut groups[from]);
                groups[to].extend(moved);
                open.retain(|&group| group != from);
                for &other in open.iter().filter(|&&other| other != to) {
                    let mean = (here * distance[to][other] + there * distance[from][other]) / (here + there);
                    (distance[to][other], distance[other][to]) = (mean, mean);
                }
            }
            Some(near) => chain.extend([tip, near]),
        }
    }
    groups.retain(|group| !group.is_empty());
    groups.iter_mut().for_each(|group| group.sort_by_key(|coming| coming.place));
    groups
}

/// What comes and goes together each time is one.
fn together(mut groups: Vec<Vec<Coming<'_>>>) -> Vec<Vec<Coming<'_>>> {
    let near = |a: f64, b: f64| (a - b).abs() <= AT_ONCE_S;
    let alike = |a: &[Coming<'_>], b: &[Coming<'_>]| {
        a.len() == b.len()
            && a.iter().zip(b).all(|(a, b)| near(a.span().0, b.span().0) && near(a.span().1, b.span().1))
    };
    let mut at = 0;
    while at < groups.len() {
        while let Some(other) = (at + 1..groups.len()).find(|&other| alike(&groups[at], &groups[other])) {
            let moved = groups.remove(other);
            groups[at].extend(moved);
            groups[at].sort_by_key(|coming| coming.place);
        }
        at += 1;
    }
    groups
}

/// Its comings: what is there at once counts once.
fn spans(group: &[Coming<'_>]) -> Vec<(f64, f64)> {
    let mut spans: Vec<(f64, f64)> = Vec::new();
    for (from, to) in group.iter().map(Coming::span) {
        match spans.last_mut().filter(|last| from < last.1) {
            Some(last) => last.1 = last.1.max(to),
            None => spans.push((from, to)),
        }
    }
    spans
}

fn source(id: String, group: &[Coming<'_>], beside: Vec<String>, searched_s: f64) -> Option<Source> {
    // The surest coming tells what the noise is like.
    let sure = |coming: &Coming<'_>| (coming.one.contrast.trust, coming.ln_power.map_or(f64::MAX, |power| power.1));
    let best = group.iter().min_by(|a, b| {
        let ((trust_a, sd_a), (trust_b, sd_b)) = (sure(a), sure(b));
        trust_a.cmp(&trust_b).then(sd_a.total_cmp(&sd_b))
    })?;
    let kinds: Vec<Character> = group.iter().map(|coming| coming.one.contrast.character).collect();
    let times = |kind: Character| kinds.iter().filter(|other| **other == kind).count();
    let character =
        kinds.iter().copied().reduce(|best, kind| if times(kind) > times(best) { kind } else { best })?;
    let own = || group.iter().filter(|coming| coming.one.contrast.character == character);
    let confidence = own().map(|coming| coming.one.contrast.confidence).sum::<f64>() / group.len() as f64;
    let mut trusts: Vec<Trust> = group.iter().map(|coming| coming.one.contrast.trust).collect();
    trusts.sort_unstable();
    let (excess_db, excess_ci_db) = excess(own().map(|coming| coming.one).collect());
    let seen = spans(group).into_iter().map(|(start_s, end_s)| {
        let open = |is_open: fn(&Compared) -> bool, at_s: f64, edge: fn(&Coming<'_>) -> f64| {
            group.iter().any(|coming| edge(coming) == at_s && is_open(coming.one))
        };
        Span {
            start_s,
            end_s,
            start_seen: !open(|one| one.spotted.from_before, start_s, |coming| coming.span().0),
            end_seen: !open(|one| one.spotted.until_after, end_s, |coming| coming.span().1),
        }
    });
    let found = pattern(&seen.collect::<Vec<_>>(), searched_s)?;
    let source = Source {
        id,
        character,
        confidence,
        known: best.known().map(str::to_owned),
        logged: None,
        signature: best.one.signature.clone().map(Signature::rounded),
        episodes: group.iter().map(|coming| coming.place + 1).collect(),
        excess_db,
        excess_ci_db,
        trust: trusts[trusts.len() / 2],
        beside,
        on_s: covered_s(spans(group)),
        duty: found.duty,
        length_s: found.length_s.map(|length| length.0),
        length_sd_s: found.length_s.map(|length| length.1),
        told: Regularity::TooFew,
        period_s: None,
        period_ci_s: None,
        even_from_s: None,
        missed: None,
        chance: None,
    };
    Some(with_pattern(source, &found))
}

fn with_pattern(source: Source, found: &Pattern) -> Source {
    match &found.period {
        Period::TooFew => source,
        Period::Chance(chance) => Source { told: Regularity::Chance, chance: Some(*chance), ..source },
        Period::Even(even) => Source {
            told: Regularity::Even,
            period_s: Some(even.period_s),
            period_ci_s: Some([even.period_s - even.reach_s, even.period_s + even.reach_s]),
            even_from_s: Some(even.first_s),
            missed: Some(even.missed),
            chance: Some(even.chance),
            ..source
        },
    }
}

/// Over the quiet band of all comings: their middle, with what the mean of as many scatters, at least as their own
/// intervals have it. Of lines all that came counts, noise or not.
fn excess(own: Vec<&Compared>) -> (Option<f64>, Option<[f64; 2]>) {
    if own.iter().all(|one| one.stands_in_lines()) {
        let mut told: Vec<f64> = own.iter().filter_map(|one| one.contrast.total_excess_db).collect();
        return ((!told.is_empty()).then(|| median(&mut told)), None);
    }
    let told: Vec<_> = own.iter().filter_map(|one| one.over_quiet).collect();
    if told.is_empty() {
        return (None, None);
    }
    let middle = median(&mut told.iter().map(|excess| excess.value).collect::<Vec<_>>());
    let count = told.len() as f64;
    let apart = told.iter().map(|excess| (excess.value - middle).powi(2)).sum::<f64>() / (count - 1.0).max(1.0);
    let own = told.iter().map(|e| ((e.ci95.1 - e.ci95.0) / 2.0 / SIGMAS_OF_95).powi(2)).sum::<f64>() / count;
    let reach = (SIGMAS_OF_95 * (apart.max(own) / count).sqrt()).max(LEAST_REACH_DB);
    (Some(middle), Some([middle - reach, middle + reach]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contrast::Part;
    use crate::contrast::comparison::BandExcess;
    use crate::night::compared::pieces::Sides;
    use crate::night::episodes::runs::Spotted;
    use crate::report::sample::contrast;
    use crate::units::Estimate;

    /// A noise of this kind and power, dB.
    fn one(start_s: f64, end_s: f64, kind: Character, power_db: f64) -> Compared {
        Compared {
            spotted: Spotted {
                run: 0,
                start_s,
                end_s,
                jump_db: Some(3.0),
                from_before: false,
                until_after: false,
                of_clicks: false,
                beat: None,
                unsure_s: [0.0; 2],
            },
            sides: Sides::default(),
            own: Some(Ratio { value: ratio_of_db(power_db), sd_ln: 0.03 }),
            over_quiet: Some(Estimate { value: 7.0, ci95: (6.8, 7.2) }),
            or_end_s: None,
            contrast: contrast("e1", "x", None, kind, 7.0, &["r2"]),
            signature: None,
        }
    }

    fn told(episodes: &[Compared]) -> Vec<(Character, Vec<usize>)> {
        sources(episodes, 7200.0).into_iter().map(|source| (source.character, source.episodes)).collect()
    }

    #[test]
    fn one_kind_and_one_power_is_one_source() {
        use Character::{Buzz, Hash};
        let night = [
            one(100.0, 200.0, Buzz, -60.0),
            one(300.0, 400.0, Hash, -60.0),
            one(500.0, 600.0, Buzz, -60.3),
            one(700.0, 800.0, Buzz, -55.0),
            one(900.0, 1000.0, Buzz, -59.8),
        ];
        assert_eq!(told(&night), [(Buzz, vec![1, 3, 5]), (Hash, vec![2]), (Buzz, vec![4])]);
    }

    #[test]
    fn what_is_on_at_once_is_two_unless_it_comes_and_goes_together() {
        use Character::{Buzz, Hash};
        let by_chance = [one(100.0, 200.0, Buzz, -60.0), one(101.0, 260.0, Buzz, -60.0)];
        assert_eq!(told(&by_chance), [(Buzz, vec![1]), (Buzz, vec![2])]);
        let always = [
            one(100.0, 200.0, Buzz, -60.0),
            one(101.0, 200.0, Hash, -57.0),
            one(500.0, 600.0, Hash, -57.0),
            one(501.0, 601.0, Buzz, -60.0),
        ];
        let found = sources(&always, 7200.0);
        assert_eq!((found.len(), found[0].on_s), (1, 201.0));
    }

    #[test]
    fn what_is_not_claimed_has_no_source() {
        let mut void = one(100.0, 200.0, Character::Buzz, -60.0);
        void.contrast.trust = Trust::Void;
        assert!(told(&[void, one(300.0, 400.0, Character::None, -60.0)]).is_empty());
    }
    /// Powers that lie as near as two comings of one device.
    #[test]
    fn what_a_touched_control_makes_as_well_is_none_of_others() {
        let hash = |start_s, end_s| one(start_s, end_s, Character::Hash, -60.0);
        let mut open = hash(500.0, 900.0);
        open.spotted.until_after = true;
        let level = open.contrast.excess_db.unwrap();
        let band = |freq_hz: f64, excess_db: f64| BandExcess {
            freq_hz,
            excess_db,
            excess_ci_db: [excess_db - 0.3, excess_db + 0.3],
        };
        open.contrast.bands = vec![band(500.0, level), band(1500.0, level + 0.4)];
        assert!(open.is_open_ended());
        let night = [hash(100.0, 200.0), open];
        assert_eq!(told(&night), [(Character::Hash, vec![1]), (Character::Hash, vec![2])]);
        // It stands in a part of the passband, or has an end.
        let [first, mut open] = night;
        open.contrast.bands[1] = band(1500.0, 0.0);
        assert!(!open.is_open_ended());
        assert_eq!(told(&[first, open]), [(Character::Hash, vec![1, 2])]);
    }

    /// A mixture of lines alone rises in all, as lines do: the noise between them tells nothing of it.
    #[test]
    fn a_mixture_of_lines_is_told_in_all() {
        let mut mixed = one(100.0, 200.0, Character::Mixed, -60.0);
        let part = |character, share| Part { character, share };
        mixed.contrast.parts = vec![part(Character::Comb, 0.6), part(Character::Carriers, 0.4)];
        let in_all = mixed.contrast.total_excess_db;
        let found = &sources(&[mixed], 7200.0)[0];
        assert_eq!((found.excess_db, found.excess_ci_db), (in_all, None));
    }
}
