use super::*;

fn trial(test: ExactTest, sides: Sides) -> ProportionsTrial {
    ProportionsTrial { test, significance: 0.05, sides }
}

fn close(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-10, "{found} is not {expected}");
}

#[test]
fn the_power_of_fishers_test_agrees_with_r() {
    // R 4.2.2: dbinom(x, n1, p1) dbinom(y, n2, p2) summed over all tables with fisher.test(...)$p.value <= 0.05
    let two = trial(ExactTest::Fisher, Sides::Two);
    close(two.power(12, 15, [0.2, 0.7]).unwrap(), 0.686506012422962);
    // alternative = "greater"
    let upper = trial(ExactTest::Fisher, Sides::Upper);
    close(upper.power(14, 9, [0.8, 0.3]).unwrap(), 0.65076563932862);
}

#[test]
fn the_power_of_boschloos_test_agrees_with_scipy() {
    // scipy 1.17.1: binom.pmf(x, 9, .8) binom.pmf(y, 8, .2) summed over all tables with boschloo_exact([[x, y], [9 - x, 8 - y]], alternative="greater",
    // n=64).pvalue <= 0.05
    let upper = trial(ExactTest::Boschloo, Sides::Upper);
    close(upper.power(9, 8, [0.8, 0.2]).unwrap(), 0.7843915952553988);
}

#[test]
fn no_test_raises_more_false_alarms_than_its_level() {
    for test in [ExactTest::Fisher, ExactTest::Boschloo] {
        for sides in [Sides::Two, Sides::Upper] {
            for share in [0.03, 0.2, 0.41, 0.5, 0.77] {
                let found = trial(test, sides).power(11, 16, [share; 2]).unwrap();
                assert!(found <= 0.05 + 1e-9, "{test:?} {sides:?} {share} {found}");
            }
        }
    }
}

#[test]
fn boschloo_is_never_weaker_than_fisher() {
    for shares in [[0.1, 0.5], [0.9, 0.6], [0.3, 0.8]] {
        let fisher = trial(ExactTest::Fisher, Sides::Two).power(13, 17, shares).unwrap();
        let boschloo = trial(ExactTest::Boschloo, Sides::Two).power(13, 17, shares).unwrap();
        assert!(boschloo >= fisher, "{shares:?} {fisher} {boschloo}");
    }
}

#[test]
fn both_sides_do_not_mind_which_arm_is_which() {
    let two = trial(ExactTest::Fisher, Sides::Two);
    let (a, b) = (two.power(10, 20, [0.2, 0.6]), two.power(20, 10, [0.6, 0.2]));
    close(a.unwrap(), b.unwrap());
}

#[test]
fn certain_shares_have_certain_tables() {
    // 4 of 4 against 0 of 4: Fisher's p is 2 / 70 with two sides; 3 against 0 of 3: 2 / 20
    let two = trial(ExactTest::Fisher, Sides::Two);
    close(two.power(4, 4, [1.0, 0.0]).unwrap(), 1.0);
    close(two.power(3, 3, [1.0, 0.0]).unwrap(), 0.0);
}

#[test]
fn the_size_found_and_those_after_it_suffice() {
    for test in [ExactTest::Fisher, ExactTest::Boschloo] {
        let trial = trial(test, Sides::Two);
        let size = trial.size(0.8, [0.15, 0.65]).unwrap();
        let power = |n: usize| trial.power(n, n, [0.15, 0.65]).unwrap();
        assert!((size..size + RUN).all(|n| power(n) >= 0.8));
        // no smaller size does as much
        assert!(
            (1..size).all(|from| (from..from + RUN).any(|n| power(n) < 0.8)),
            "{test:?} {size}"
        );
    }
}

#[test]
fn impossible_trials_are_refused() {
    let two = trial(ExactTest::Fisher, Sides::Two);
    assert!(matches!(two.power(0, 5, [0.1, 0.2]), Err(StatsError::Empty { .. })));
    assert!(two.power(5, 5, [0.1, 1.2]).is_err());
    assert!(two.power(5, 5, [f64::NAN, 0.2]).is_err());
    assert!(two.power(5, 2001, [0.1, 0.2]).is_err());
    assert!(trial(ExactTest::Boschloo, Sides::Two).power(5, 301, [0.1, 0.2]).is_err());
    assert!(two.size(0.8, [0.3, 0.3]).is_err());
    assert!(two.size(0.8, [0.3, 0.300001]).is_err());
    assert!(two.size(1.0, [0.3, 0.6]).is_err());
    assert!(trial(ExactTest::Fisher, Sides::Upper).size(0.8, [0.3, 0.6]).is_err());
}
