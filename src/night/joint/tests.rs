use super::solve::{Cell, not_negative, solve};
use approx::assert_abs_diff_eq;

/// Reference values: SciPy 1.10.1, `scipy.optimize.nnls(A, b)` of these matrices (the normal equations here are AᵀA
/// and Aᵀb).
#[test]
fn least_squares_without_negative_values() {
    for (a, b, expected) in REFERENCE {
        let rows: Vec<&[f64]> = a.chunks(3).collect();
        let normal: Vec<Vec<f64>> =
            (0..3).map(|i| (0..3).map(|j| rows.iter().map(|row| row[i] * row[j]).sum()).collect()).collect();
        let right: Vec<f64> = (0..3).map(|i| rows.iter().zip(b).map(|(row, b)| row[i] * b).sum()).collect();
        let found = not_negative(&normal, &right).unwrap();
        found.iter().zip(expected).for_each(|(found, value)| assert_abs_diff_eq!(*found, value, epsilon = 1e-9));
    }
}

/// Matrices of four rows of three, right sides, solutions.
const REFERENCE: [([f64; 12], [f64; 4], [f64; 3]); 4] = [
    (
        [-0.66, -0.05, 2.21, 1.33, -0.62, 0.73, 0.92, -0.36, 1.94, -0.55, 0.56, 1.07],
        [0.58, 1.52, 2.43, 3.74],
        [3.162004228120, 6.781367835166, 1.293700423339],
    ),
    (
        [0.14, 1.59, 1.78, 0.17, -0.99, 2.89, 0.19, 0.26, 2.57, 1.34, 0.89, 2.09],
        [-1.82, 2.24, 0.25, -1.45],
        [0.0, 0.0, 0.037610865361],
    ),
    (
        [1.64, 2.73, -0.17, 1.52, 0.19, 1.97, 1.89, -0.13, 2.32, 1.63, 1.73, 2.28],
        [0.57, 2.55, 3.27, -1.39],
        [0.554917409399, 0.0, 0.230588751743],
    ),
    (
        [2.4, 0.58, 0.92, -0.41, 1.79, 0.17, 2.48, 0.1, 1.25, 0.6, 1.45, -0.21],
        [-0.92, 2.48, 2.51, 1.4],
        [0.0, 1.012161806903, 0.706028714427],
    ),
];

/// A noise that adds 4 and, over its end, one that adds 3, upon a band of 1: least squares of levels and of a band
/// that walks, all in one system. Reference values: NumPy 1.x, `numpy.linalg.lstsq` of the stacked rows
/// (level − band − noises)/sd and step/√(1e-4·seconds·band²), three rounds as here, and `inv(MᵀM)`.
#[test]
fn powers_and_band_are_those_of_the_whole_system() {
    let at_s = [6.0, 18.0, 30.0, 46.0, 58.0, 70.0, 86.0, 98.0, 110.0, 126.0, 138.0];
    let power = [1.0, 1.02, 1.05, 5.1, 5.08, 5.05, 8.0, 8.1, 8.05, 4.0, 0.99];
    let cells: Vec<Cell> = (0..11)
        .map(|k| Cell {
            at_s: at_s[k],
            power: power[k],
            sd: 0.02 * power[k],
            on: vec![(3..9).contains(&k), (6..10).contains(&k)],
        })
        .collect();
    let found = solve(&cells, 2, 1e-4).unwrap();
    assert_abs_diff_eq!(found.powers[0], 4.04771478, epsilon = 1e-6);
    assert_abs_diff_eq!(found.powers[1], 2.99895919, epsilon = 1e-6);
    assert_abs_diff_eq!(found.band[3], 1.0343323, epsilon = 1e-6);
    assert_abs_diff_eq!(found.power_variance(0, 0).sqrt(), 0.06530578, epsilon = 1e-6);
    assert_abs_diff_eq!(found.power_variance(0, 1), -0.0011498043833, epsilon = 1e-9);
    // Of the mean of two cells' bands and the first power.
    let of_band: Vec<f64> = (0..11).map(|k| if k == 3 || k == 4 { 0.5 } else { 0.0 }).collect();
    assert_abs_diff_eq!(found.variance(&of_band, &[1.0, 0.0]), 0.003002364322987, epsilon = 1e-9);
}

/// A noise that is on in every cell is a part of the band.
#[test]
fn what_is_always_on_is_not_told() {
    let cells: Vec<Cell> =
        (0..5).map(|k| Cell { at_s: 12.0 * f64::from(k), power: 5.0, sd: 0.1, on: vec![true] }).collect();
    assert!(solve(&cells, 1, 1e-4).is_none());
}
