//! Nodes and weights for integrals over a normal distribution.

use nalgebra::DMatrix;

/// Nodes and weights of Gauss-Hermite quadrature for the standard normal: `E f(Z) = sum weight f(node)`, exact for polynomials of degree `2 count - 1`.
///
/// Nodes are the eigenvalues of the polynomials' Jacobi matrix (Golub & Welsch 1969, Mathematics of Computation 23, 221-230), polished by one Newton step;
/// the weights `1 / sum p_k(node)^2` over the orthonormal polynomials keep their relative accuracy where they are tiny, which adaptive quadrature needs.
/// Nodes rise.
pub(crate) fn normal_quadrature(count: usize) -> Vec<(f64, f64)> {
    let mut jacobi = DMatrix::zeros(count, count);
    for place in 1..count {
        let root = (place as f64).sqrt();
        jacobi[(place, place - 1)] = root;
        jacobi[(place - 1, place)] = root;
    }
    let mut nodes: Vec<f64> = jacobi.symmetric_eigenvalues().iter().copied().collect();
    nodes.sort_by(f64::total_cmp);
    for node in &mut nodes {
        let values = hermite(count, *node);
        // derivative of the orthonormal p_n is sqrt(n) p_{n-1}
        *node -= values[count] / ((count as f64).sqrt() * values[count - 1]);
    }
    let weight = |node: f64| 1.0 / hermite(count - 1, node).iter().map(|p| p * p).sum::<f64>();
    nodes.into_iter().map(|node| (node, weight(node))).collect()
}

/// Orthonormal Hermite polynomials `p_0 .. p_degree` for the standard normal: `sqrt(k+1) p_{k+1} = x p_k - sqrt(k) p_{k-1}`.
fn hermite(degree: usize, x: f64) -> Vec<f64> {
    let mut values = vec![1.0];
    for k in 0..degree {
        let before = if k == 0 { 0.0 } else { (k as f64).sqrt() * values[k - 1] };
        values.push((x * values[k] - before) / ((k + 1) as f64).sqrt());
    }
    values
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_nodes_have_a_closed_form() {
        let [low, middle, high] = normal_quadrature(3)[..] else { panic!() };
        assert!((low.0 + 3.0_f64.sqrt()).abs() < 1e-14 && (high.0 - 3.0_f64.sqrt()).abs() < 1e-14);
        assert!(middle.0.abs() < 1e-14 && (middle.1 - 2.0 / 3.0).abs() < 1e-14);
        assert!((low.1 - 1.0 / 6.0).abs() < 1e-14 && (high.1 - 1.0 / 6.0).abs() < 1e-14);
    }

    #[test]
    fn even_moments_are_those_of_the_normal() {
        // 1, 1, 3, 15, 105, ... (2k - 1)!!
        for count in [1, 2, 9, 25, 60] {
            let mut moment = 1.0;
            for half in 0..count {
                let found: f64 =
                    normal_quadrature(count).iter().map(|(x, w)| w * x.powi(2 * half as i32)).sum();
                assert!((found / moment - 1.0).abs() < 1e-11, "{count} {half}");
                moment *= 2.0 * half as f64 + 1.0;
            }
        }
    }

    #[test]
    fn the_smallest_weights_keep_their_digits() {
        // adding exp(x^2/2) back: sum w exp(x^2/4) = sqrt 2 for the normal's E exp(Z^2/4)
        let nodes = normal_quadrature(100);
        let found: f64 = nodes.iter().map(|(x, w)| w * (0.25 * x * x).exp()).sum();
        assert!((found - std::f64::consts::SQRT_2).abs() < 1e-12, "{found}");
    }
}
