//! How different two colours look: CIEDE2000, relative luminance, and what a
//! dichromat sees. Used by the palette's tests only.

use super::palette::Rgb;

pub type Matrix = [[f64; 3]; 3];

/// Machado, Oliveira & Fernandes 2009 (IEEE Transactions on Visualization and
/// Computer Graphics 15(6)), severity 1.0; applied to linear RGB.
pub const DICHROMACIES: [(&str, Matrix); 4] = [
    ("normal vision", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
    (
        "protanopia",
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ],
    ),
    (
        "deuteranopia",
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ],
    ),
    (
        "tritanopia",
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ],
    ),
];

/// sRGB (IEC 61966-2-1) to linear RGB, 0 to 1.
pub fn linear(colour: Rgb) -> [f64; 3] {
    colour.map(|channel| {
        let value = f64::from(channel) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    })
}

/// Contrast ratio of WCAG 2.2: (L1 + 0.05) / (L2 + 0.05), the lighter above.
pub fn contrast(one: [f64; 3], other: [f64; 3]) -> f64 {
    let [a, b] = [one, other].map(|c| 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2] + 0.05);
    a.max(b) / a.min(b)
}

/// CIE L*a*b* (D65) of a colour as seen through `matrix`.
pub fn lab_seen_with(matrix: Matrix, colour: Rgb) -> [f64; 3] {
    lab(times(matrix, linear(colour)).map(|value| value.clamp(0.0, 1.0)))
}

fn times(matrix: Matrix, vector: [f64; 3]) -> [f64; 3] {
    matrix.map(|row| row.iter().zip(vector).map(|(a, b)| a * b).sum())
}

/// Linear sRGB to L*a*b*: the matrix of IEC 61966-2-1 with white D65.
fn lab(rgb: [f64; 3]) -> [f64; 3] {
    const TO_XYZ: Matrix = [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ];
    const WHITE: [f64; 3] = [0.95047, 1.0, 1.08883];
    let [x, y, z] = times(TO_XYZ, rgb);
    let [fx, fy, fz] = [x / WHITE[0], y / WHITE[1], z / WHITE[2]].map(compressed);
    [116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)]
}

fn compressed(t: f64) -> f64 {
    if t > 216.0 / 24389.0 { t.cbrt() } else { (24389.0 / 27.0 * t + 16.0) / 116.0 }
}

/// CIEDE2000 with kL = kC = kH = 1 (Sharma, Wu & Dalal 2005, Color Research
/// and Application 30(1), equations 2 to 22).
pub fn ciede2000([l1, a1, b1]: [f64; 3], [l2, a2, b2]: [f64; 3]) -> f64 {
    let mean_chroma = (a1.hypot(b1) + a2.hypot(b2)) / 2.0;
    let stretch = 1.0 + 0.5 * (1.0 - chroma_weight(mean_chroma));
    let (c1, h1) = chroma_and_hue(a1 * stretch, b1);
    let (c2, h2) = chroma_and_hue(a2 * stretch, b2);
    let is_grey = c1 * c2 == 0.0;
    let hue_step = if is_grey { 0.0 } else { (h2 - h1 + 540.0).rem_euclid(360.0) - 180.0 };
    // the turn by exactly half a circle has the sign that the paper's equation 10 gives it
    let hue_step = if hue_step == -180.0 { 180.0 } else { hue_step };
    let hue = mean_hue(h1, h2, is_grey);
    let (light, chroma) = ((l1 + l2) / 2.0, (c1 + c2) / 2.0);
    let difference_of_hue = 2.0 * (c1 * c2).sqrt() * sin(hue_step / 2.0);
    let t = 1.0 - 0.17 * cos(hue - 30.0) + 0.24 * cos(2.0 * hue) + 0.32 * cos(3.0 * hue + 6.0)
        - 0.20 * cos(4.0 * hue - 63.0);
    let offset = (light - 50.0).powi(2);
    let in_lightness = (l2 - l1) / (1.0 + 0.015 * offset / (20.0 + offset).sqrt());
    let in_chroma = (c2 - c1) / (1.0 + 0.045 * chroma);
    let in_hue = difference_of_hue / (1.0 + 0.015 * chroma * t);
    let turn = 30.0 * (-((hue - 275.0) / 25.0).powi(2)).exp();
    let rotation = -sin(2.0 * turn) * 2.0 * chroma_weight(chroma);
    (in_lightness.powi(2) + in_chroma.powi(2) + in_hue.powi(2) + rotation * in_chroma * in_hue)
        .sqrt()
}

fn chroma_weight(chroma: f64) -> f64 {
    (chroma.powi(7) / (chroma.powi(7) + 25f64.powi(7))).sqrt()
}

fn chroma_and_hue(a: f64, b: f64) -> (f64, f64) {
    let hue = if a == 0.0 && b == 0.0 { 0.0 } else { b.atan2(a).to_degrees().rem_euclid(360.0) };
    (a.hypot(b), hue)
}

fn mean_hue(h1: f64, h2: f64, is_grey: bool) -> f64 {
    match () {
        () if is_grey => h1 + h2,
        () if (h1 - h2).abs() <= 180.0 => (h1 + h2) / 2.0,
        () if h1 + h2 < 360.0 => (h1 + h2 + 360.0) / 2.0,
        () => (h1 + h2 - 360.0) / 2.0,
    }
}

fn sin(degrees: f64) -> f64 {
    degrees.to_radians().sin()
}

fn cos(degrees: f64) -> f64 {
    degrees.to_radians().cos()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sharma, Wu & Dalal 2005, Table 1, pairs 1 to 4, 7, 9, 11, 13, 15, 17, 25 and 34:
    /// L*, a*, b* of both colours and their CIEDE2000, to four decimals.
    const PUBLISHED: [([f64; 3], [f64; 3], f64); 12] = [
        ([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485], 2.0425),
        ([50.0, 3.1571, -77.2803], [50.0, 0.0, -82.7485], 2.8615),
        ([50.0, 2.8361, -74.0200], [50.0, 0.0, -82.7485], 3.4412),
        ([50.0, -1.3802, -84.2814], [50.0, 0.0, -82.7485], 1.0000),
        ([50.0, 0.0, 0.0], [50.0, -1.0, 2.0], 2.3669),
        ([50.0, 2.4900, -0.0010], [50.0, -2.4900, 0.0009], 7.1792),
        ([50.0, 2.4900, -0.0010], [50.0, -2.4900, 0.0011], 7.2195),
        ([50.0, -0.0010, 2.4900], [50.0, 0.0009, -2.4900], 4.8045),
        ([50.0, -0.0010, 2.4900], [50.0, 0.0011, -2.4900], 4.7461),
        ([50.0, 2.5, 0.0], [73.0, 25.0, -18.0], 27.1492),
        ([60.2574, -34.0099, 36.2677], [60.4626, -34.1751, 39.4387], 1.2644),
        ([2.0776, 0.0795, -1.1350], [0.9033, -0.0636, -0.5514], 0.9082),
    ];

    #[test]
    fn ciede2000_agrees_with_the_published_pairs_either_way_round() {
        for (one, other, published) in PUBLISHED {
            for difference in [ciede2000(one, other), ciede2000(other, one)] {
                assert!((difference - published).abs() < 5e-5, "{difference} for {published}");
            }
        }
    }

    #[test]
    fn white_on_black_has_the_contrast_that_wcag_gives() {
        assert!((contrast(linear([255; 3]), linear([0; 3])) - 21.0).abs() < 1e-9);
    }

    #[test]
    fn the_simulations_leave_grey_as_it_is() {
        for (vision, matrix) in DICHROMACIES {
            let [_, a, b] = lab_seen_with(matrix, [128; 3]);
            assert!(a.abs() < 0.05 && b.abs() < 0.05, "{vision}");
        }
    }
}
