//! Amplitude distribution of the noise, device off and on, on Rayleigh paper: Gaussian noise is a straight line.

use plotters::prelude::Color;

use crate::plot::axis::{self, Axis};
use crate::plot::chart::{self, Chart};
use crate::plot::page::{Drawn, Frame, HPos, Hand, Mark, Page, Single, VPos};
use crate::plot::theme::{self, Sizes};

/// How often the noise exceeds each level.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ApdFigure {
    /// The finding.
    pub title: String,
    /// What was compared.
    pub subtitle: String,
    /// What the levels are over, with the unit.
    pub level_caption: String,
    /// Device off: probability (0..1) that the level (dB) is exceeded.
    pub off: Vec<(f64, f64)>,
    /// Device on.
    pub on: Vec<(f64, f64)>,
    /// Share of the time in which the on state has bursts, 0..1: marked.
    pub bursts: Option<f64>,
    /// Mean level of Gaussian noise with the lowest values of the on state, dB: its line is drawn.
    pub on_gaussian: Option<f64>,
}

/// Ends of the axis: rarer than this few recordings tell, and more often is the noise's own business.
const RAREST: f64 = 5e-5;
const MOST_OFTEN: f64 = 0.95;
/// Places marked, percent, each with more room to the next than its words take.
const TICKS: [f64; 11] = [0.01, 0.1, 1.0, 5.0, 10.0, 30.0, 50.0, 70.0, 80.0, 90.0, 95.0];

/// Where the names of the curves stand, as a share of the axis. Chosen by eye.
const NAMES_AT: f64 = 0.06;

/// Where a probability lies on the paper: −lg(−ln P), so that Gaussian noise, whose power exceeds −ln P times its
/// mean with probability P, falls by 10 dB a unit. Source: derived; the paper of ITU-R SM.1753-2, § 10.6.
fn paper(probability: f64) -> f64 {
    -(-probability.ln()).log10()
}

impl Single for ApdFigure {
    fn paint(&self, page: &Page<'_>, frame: Frame, sizes: &Sizes) -> Drawn {
        let frame = page.heading(frame, &self.title, &self.subtitle, sizes)?;
        let frame = page.legend(frame, &self.legend(), sizes)?;
        let (off, on) = (on_paper(&self.off), on_paper(&self.on));
        let Some((low, high)) = extent(off.iter().chain(&on)) else {
            return page.no_data(frame, "no amplitudes to show", sizes);
        };
        let (left, right) = (paper(RAREST), paper(MOST_OFTEN));
        let mut x = Axis::new(left, right, 2, "Share of the time in which the level is exceeded (%)");
        x.ticks = TICKS.iter().map(|percent| (paper(percent / 100.0), percent.to_string())).collect();
        let ticks = chart::ticks_down(frame.height() - chart::room_below(sizes), sizes);
        let y = Axis::new(low, high, ticks, &self.level_caption);
        let chart = Chart::inside(page, frame, x, y, sizes);
        let bursts = self.bursts.filter(|share| (RAREST..MOST_OFTEN).contains(share));
        if let Some(share) = bursts {
            chart.bar((left, paper(share)), (low, high), theme::SHADE)?;
        }
        chart.grid()?;
        if bursts.is_some() {
            let at = (chart.plot.left + sizes.text * 0.5, chart.plot.bottom - sizes.text * 0.6);
            page.text("bursts", at, Hand::plain(sizes.text, theme::INK), HPos::Left, VPos::Bottom)?;
        }
        chart.curve(&off, theme::OFF, sizes.curve)?;
        chart.curve(&on, theme::ON, sizes.curve * 1.4)?;
        // Their names near the left end, above the higher and below the lower one.
        let beside = left + NAMES_AT * (right - left);
        let near = |curve: &[(f64, f64)]| {
            curve.iter().copied().min_by(|a, b| (a.0 - beside).abs().total_cmp(&(b.0 - beside).abs()))
        };
        for (curve, colour, word, side, by) in [
            (&off, theme::OFF, "off", VPos::Top, sizes.text * 0.6),
            (&on, theme::ON, "on", VPos::Bottom, -sizes.text * 0.6),
        ] {
            if let Some(point) = near(curve) {
                let (x, y) = chart.place(point.0, point.1);
                page.text(word, (x, y + by), Hand::bold(sizes.text, colour), HPos::Left, side)?;
            }
        }
        if let Some(level) = self.gaussian() {
            let line = [left, right].map(|x| (x, level - 10.0 * x));
            chart.dashes(&line, theme::INK, sizes.curve * 0.8)?;
        }
        Ok(())
    }
}

impl ApdFigure {
    fn gaussian(&self) -> Option<f64> {
        self.on_gaussian.filter(|level| axis::is_sound(*level))
    }

    fn legend(&self) -> Vec<(Mark, String)> {
        let mut entries = Vec::new();
        for (curve, colour, words) in [(&self.on, theme::ON, "on"), (&self.off, theme::OFF, "off")] {
            if !curve.is_empty() {
                entries.push((Mark::Curve(colour.to_rgba()), words.to_owned()));
            }
        }
        if self.gaussian().is_some() {
            entries.push((
                Mark::Dashes(theme::INK.to_rgba()),
                "plain noise as strong as on is between its bursts".to_owned(),
            ));
        }
        entries
    }
}

/// The points that lie on the paper.
fn on_paper(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let shown = |(p, level): &&(f64, f64)| (RAREST..=MOST_OFTEN).contains(p) && axis::is_sound(*level);
    points.iter().filter(shown).map(|(p, level)| (paper(*p), *level)).collect()
}

/// The levels to show, with a little air.
fn extent<'a>(points: impl Iterator<Item = &'a (f64, f64)>) -> Option<(f64, f64)> {
    let (low, high) = points.fold((f64::MAX, f64::MIN), |(low, high), (_, y)| (low.min(*y), high.max(*y)));
    (low <= high).then_some((low - 1.0, high + 1.0 + 0.03 * (high - low)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Source: power of Gaussian noise exceeded with probability P is −ln P times its mean (derived): 50 % −1.59
    /// dB, 1/e 0 dB, 1 % +6.63 dB, 0.01 % +9.64 dB; on the paper a straight line of −10 dB a unit.
    #[test]
    fn gaussian_noise_is_straight() {
        for (share, level_db) in [(0.5, -1.592), ((-1f64).exp(), 0.0), (0.01, 6.632), (1e-4, 9.643)] {
            assert_abs_diff_eq!(-10.0 * paper(share), level_db, epsilon = 0.001);
        }
    }

    #[test]
    fn what_is_off_the_paper_is_left_out() {
        let points = [(0.0, 3.0), (1.0, -3.0), (f64::NAN, 1.0), (0.5, f64::INFINITY), (0.5, -1.0)];
        assert_eq!(on_paper(&points), [(paper(0.5), -1.0)]);
        assert_eq!(extent([].iter()), None);
    }
}
